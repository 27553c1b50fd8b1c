#include "scanner/card_find.hpp"

#include <algorithm>
#include <cmath>
#include <optional>
#include <vector>

#include <fmt/format.h>
#include <opencv2/imgproc.hpp>

#include <inkwane/error.hpp>

#include "scanner/card_layout.hpp"

namespace inkwane::scanner {
namespace {

constexpr double kMmPerInch = 25.4;
constexpr double kSurveyDpi = 130;  // rings of 1.1 mm are 5 pixels wide
constexpr int kUsualSide = 1600;    // of the reduced picture where no resolution is stated
constexpr double kLeastDpi = 100;   // below, rings and edges of squares run together
/// Of the smallest circle about an outline: a disc fills it, a square 64 %.
constexpr double kRound = 0.85;
/// Printers that were told 100 % keep it to 1 or 2 %; fitted pages lose 3 to 6 % and still measure.
constexpr double kLeastScale = 0.9, kMostScale = 1.1;
/// How far marks may lie off the places that an even scale and a turn would give them, mm.
constexpr double kMostOffMm = 1.0;

[[noreturn]] void refuse(const scan::Scan& scan, const std::string& what) {
  throw Error(ExitCode::scan, fmt::format("{}: {}.", scan.info().file.string(), what));
}

struct Round {
  cv::Point2d centre;
  double radius = 0;
};

struct Found {
  cv::Point2d px;
  double radius_px = 0;
  bool first = false;
};

/// Outlines of dark and light places that are discs or rings, largest first.
std::vector<Round> round_outlines(const cv::Mat& grey) {
  cv::Mat dark;
  cv::threshold(grey, dark, 0, 255, cv::THRESH_BINARY_INV | cv::THRESH_OTSU);
  std::vector<std::vector<cv::Point>> outlines;
  cv::findContours(dark, outlines, cv::RETR_LIST, cv::CHAIN_APPROX_NONE);
  std::vector<Round> found;
  for (const auto& outline : outlines) {
    const double area = cv::contourArea(outline);
    if (area < 12) continue;
    cv::Point2f centre;
    float radius = 0;
    cv::minEnclosingCircle(outline, centre, radius);
    // Outlines run through the centres of pixels, half a pixel inside what they enclose.
    const double r = std::sqrt(area / CV_PI);
    if (r < kRound * static_cast<double>(radius)) continue;
    const cv::Moments moments = cv::moments(outline);
    found.push_back({{moments.m10 / moments.m00, moments.m01 / moments.m00}, r});
  }
  std::stable_sort(found.begin(), found.end(),
                   [](const Round& a, const Round& b) { return a.radius > b.radius; });
  return found;
}

bool is_near(double value, double wanted) {
  return std::abs(value - wanted) < 0.09;
}

std::optional<bool> kind_of(double inner, double dot) {
  const auto fits = [&](const card::Mark& mark) {
    return is_near(inner, mark.inner_mm / mark.outer_mm) &&
           is_near(dot, mark.dot_mm / mark.outer_mm);
  };
  if (fits(card::kFirstMark)) return true;
  if (fits(card::kOtherMark)) return false;
  return std::nullopt;
}

/// Rings about a dot: three round outlines about one centre.
std::vector<Found> find_marks(const cv::Mat& grey) {
  const std::vector<Round> rounds = round_outlines(grey);
  std::vector<Found> marks;
  for (std::size_t i = 0; i < rounds.size(); ++i) {
    std::vector<double> within;
    for (std::size_t j = i + 1; j < rounds.size(); ++j) {
      if (cv::norm(rounds[j].centre - rounds[i].centre) < 0.12 * rounds[i].radius) {
        within.push_back(rounds[j].radius / rounds[i].radius);
      }
    }
    if (within.size() != 2) continue;
    if (const auto first = kind_of(within[0], within[1])) {
      marks.push_back({rounds[i].centre, rounds[i].radius, *first});
    }
  }
  return marks;
}

double cross(cv::Point2d a, cv::Point2d b) {
  return a.cross(b);
}

/// The marks in the order of the layout: from the first one clockwise, as the card reads.
std::array<cv::Point2d, 4> in_order(const scan::Scan& scan, const std::vector<Found>& marks) {
  const auto first =
      std::find_if(marks.begin(), marks.end(), [](const Found& m) { return m.first; });
  std::vector<cv::Point2d> others;
  cv::Point2d middle;
  for (const Found& m : marks) {
    middle += 0.25 * m.px;
    if (!m.first) others.push_back(m.px);
  }
  // Clockwise as seen (y down): rising angle about the middle, from the first mark on.
  const auto turn = [&](cv::Point2d p) {
    const cv::Point2d a = first->px - middle, b = p - middle;
    const double angle = std::atan2(cross(a, b), a.dot(b));
    return angle < 0 ? angle + 2 * CV_PI : angle;
  };
  std::sort(others.begin(), others.end(),
            [&](cv::Point2d a, cv::Point2d b) { return turn(a) < turn(b); });
  const double across = cv::norm(others[0] - first->px), down = cv::norm(others[2] - first->px);
  const auto& mm = card::marks();
  const double wanted = cv::norm(mm[1] - mm[0]) / cv::norm(mm[3] - mm[0]);
  // The card is a little higher than wide, so a mirrored one is told by its sides.
  if (std::abs(across / down - wanted) > std::abs(down / across - wanted)) {
    refuse(scan, "the scanner's card is mirrored, so the scan is; save it unmirrored");
  }
  return {first->px, others[0], others[1], others[2]};
}

/// Least squares over four points: p = A mm + b.
cv::Matx23d fit_affine(const std::array<cv::Point2d, 4>& px) {
  cv::Matx<double, 4, 3> mm;
  cv::Matx<double, 4, 2> to;
  for (int i = 0; i < 4; ++i) {
    const cv::Point2d from = card::marks()[static_cast<std::size_t>(i)];
    mm(i, 0) = from.x, mm(i, 1) = from.y, mm(i, 2) = 1;
    to(i, 0) = px[static_cast<std::size_t>(i)].x, to(i, 1) = px[static_cast<std::size_t>(i)].y;
  }
  return mm.solve(to, cv::DECOMP_SVD).t();
}

void check_shape(const scan::Scan& scan, const CardPlace& place,
                 const std::array<cv::Point2d, 4>& px) {
  const cv::Matx23d& m = place.to_px_matrix;
  const cv::Point2d x(m(0, 0), m(1, 0)), y(m(0, 1), m(1, 1));
  const double sx = cv::norm(x), sy = cv::norm(y);
  double off = 0;
  for (std::size_t i = 0; i < 4; ++i) {
    off = std::max(off, cv::norm(place.to_px(card::marks()[i]) - px[i]) / place.px_per_mm);
  }
  if (off > kMostOffMm || std::abs(sx / sy - 1) > 0.02 || std::abs(x.dot(y)) > 0.02 * sx * sy) {
    refuse(scan,
           "the scanner's card is out of shape; lay it flat on the glass and scan it, do not "
           "photograph it");
  }
  const auto& dpi = scan.info().resolution_dpi;
  const double scale = dpi ? 0.5 * (sx + sy) / (*dpi / kMmPerInch) : 1;
  if (scale < kLeastScale || scale > kMostScale) {
    refuse(scan, fmt::format("the scanner's card is {:.0f} % of its size; print it at 100 %, not "
                             "fitted to the page",
                             100 * scale));
  }
  const cv::Rect2d frame(-0.5, -0.5, scan.info().width_px, scan.info().height_px);
  for (const card::Field& field : card::fields()) {
    for (const cv::Point2d corner : {field.mm.tl(), cv::Point2d(field.mm.br().x, field.mm.y),
                                     field.mm.br(), cv::Point2d(field.mm.x, field.mm.br().y)}) {
      if (!frame.contains(place.to_px(corner))) {
        refuse(scan, fmt::format("the {} field of the scanner's card is not whole in the frame; "
                                 "scan the whole page",
                                 field.place));
      }
    }
  }
}

}  // namespace

CardPlace find_card(const scan::Scan& scan) {
  const scan::Info& info = scan.info();
  const int longest = std::max(info.width_px, info.height_px);
  if (info.resolution_dpi && *info.resolution_dpi < kLeastDpi) {
    refuse(scan, fmt::format("has {:.0f} dpi, too few for the scanner's card; scan it with the "
                             "resolution of the sheets, at least {:.0f} dpi",
                             *info.resolution_dpi, kLeastDpi));
  }
  const int factor = std::max(
      1, info.resolution_dpi ? static_cast<int>(std::lround(*info.resolution_dpi / kSurveyDpi))
                             : longest / kUsualSide);
  const scan::Survey survey = scan::survey(scan, factor);
  cv::Mat grey;
  cv::transform(survey.encoded, grey, cv::Matx13f(1.0F / 3, 1.0F / 3, 1.0F / 3));
  grey.convertTo(grey, CV_8U, 1.0 / 257);
  const std::vector<Found> marks = find_marks(grey);
  const auto firsts =
      std::count_if(marks.begin(), marks.end(), [](const Found& m) { return m.first; });
  if (marks.empty()) {
    refuse(scan,
           "no scanner's card was found; print it with `inkwane card` and scan the whole page");
  }
  if (marks.size() > 4 || firsts > 1) {
    refuse(scan, "more ring marks than one scanner's card has were found; scan one card alone");
  }
  if (marks.size() < 4 || firsts == 0) {
    refuse(scan, fmt::format("only {} of the four ring marks of the scanner's card {} to be seen; "
                             "scan the whole page, clean and uncovered",
                             marks.size() - (firsts == 0 && marks.size() == 4 ? 1 : 0),
                             marks.size() == 1 ? "is" : "are"));
  }
  std::array<cv::Point2d, 4> px = in_order(scan, marks);
  for (cv::Point2d& p : px) {
    const Point at = survey.to_scan({p.x, p.y});
    p = {at.x, at.y};
  }
  CardPlace place;
  place.to_px_matrix = fit_affine(px);
  const cv::Matx23d& m = place.to_px_matrix;
  place.px_per_mm = info.resolution_dpi
                        ? *info.resolution_dpi / kMmPerInch
                        : std::sqrt(std::abs(m(0, 0) * m(1, 1) - m(0, 1) * m(1, 0)));
  check_shape(scan, place, px);
  return place;
}

}  // namespace inkwane::scanner
