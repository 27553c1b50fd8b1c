#include "align/stages.hpp"

#include <algorithm>
#include <cmath>
#include <optional>

#include <fmt/core.h>
#include <opencv2/imgproc.hpp>

#include <inkwane/error.hpp>

#include "align/colours.hpp"
#include "align/control.hpp"
#include "align/features.hpp"
#include "align/placed.hpp"

namespace inkwane::align {
namespace {

/// Coarse feature cells within which matches agree; cockle of half a millimetre must pass.
constexpr double kTolerance = 3.0;
constexpr int kLeastMatches = 10;
/// A sheet may lie this much askew; beyond, it was turned.
constexpr double kMostTiltDegrees = 30;
/// Paper stretches by a few per cent and never shears more: an affine map beyond is no sheet.
constexpr double kMostAnisotropy = 1.08;
/// Where the position cannot be known better (mm): the linear interpolation and the pictures'
/// resampling leave about this.
constexpr double kLeastMisfitMm = 0.004;
/// Standard uncertainty where only the sheets' outlines tell (mm).
constexpr double kOutlineMisfitMm = 0.5;
/// Control points bend the map within this distance (mm).
constexpr double kControlReachMm = 15;
/// Beyond the sheet's bounds by this much nothing is aligned (mm).
constexpr double kMarginMm = 3;
/// Alignment is called doubtful above this (docs/formats.md, exit codes).
constexpr double kDoubtfulMm = 0.3;

double tilt_degrees(const cv::Matx23d& map) {
  return std::atan2(map(1, 0) - map(0, 1), map(0, 0) + map(1, 1)) * 180 / CV_PI;
}

double longer_side(const View& view) {
  const cv::Rect sheet = cv::boundingRect(view.outline->sheet);
  return std::max(sheet.width, sheet.height);
}

/// Whether a map can be that of a sheet scanned twice, not mirrored.
bool plausible(const cv::Matx23d& map) {
  const cv::Matx22d a = linear(map);
  if (cv::determinant(a) <= 0) return false;
  cv::Vec2d singular;
  cv::SVD::compute(a, singular, cv::SVD::NO_UV);
  return singular[0] < kMostAnisotropy * singular[1] && singular[0] < 4 && singular[1] > 0.25;
}

std::optional<cv::Matx23d> by_features(const Features& first, const Features& later,
                                       double later_side) {
  const double tolerance = kTolerance * std::max(1.0, later_side / 720);
  const auto fit = fit_affine(match_features(first, later), tolerance, kLeastMatches);
  if (!fit || !plausible(fit->map)) return std::nullopt;
  return fit->map;
}

std::optional<cv::Matx23d> by_outline(const View& first, const View& later) {
  if (first.outline->whole_frame || later.outline->whole_frame) return std::nullopt;
  if (first.outline->quad.size() != 4 || later.outline->quad.size() != 4) return std::nullopt;
  std::vector<Match> corners;
  for (std::size_t i = 0; i < 4; ++i) {
    const Point a = first.outline->quad[i], b = later.outline->quad[i];
    corners.push_back({{a.x, a.y}, {b.x, b.y}});
  }
  const auto map = least_squares_affine(corners);
  if (!map || !plausible(*map) || std::abs(tilt_degrees(*map)) > kMostTiltDegrees)
    return std::nullopt;
  return map;
}

bool same_object(const View& first, const View& later, const cv::Matx23d& map) {
  const Placed placed(first, later, map);
  return placed.verdict(placed.coarse(Field::zero(first.grid->geometry.size()))) == Verdict::same;
}

/// Says why the later scan does not fit: turned, mirrored or another object.
[[noreturn]] void refuse(const View& first, const View& later, const Features& features,
                         const std::optional<cv::Matx23d>& found) {
  if (found && std::abs(tilt_degrees(*found)) > kMostTiltDegrees &&
      same_object(first, later, *found)) {
    const double tilt = tilt_degrees(*found);
    const int quarters = (static_cast<int>(std::lround(tilt / 90)) + 4) % 4;
    const std::string turn = quarters == 2   ? "by 180°"
                             : quarters == 1 ? "by 90° clockwise"
                             : quarters == 3 ? "by 90° anticlockwise"
                                             : fmt::format("by {:.0f}°", tilt);
    throw Error(
        ExitCode::scan,
        fmt::format(
            "{}: this scan of stage {} is turned {} against {}; turn it back and save it, or scan "
            "the sheet again the way it lay at stage {}.",
            later.file, later.stage, turn, first.file, first.stage));
  }
  grid::Grid mirror;
  mirror.geometry = later.grid->geometry;
  cv::flip(later.grid->structure, mirror.structure, 1);
  Outline outline;
  cv::flip(later.outline->sheet, outline.sheet, 1);
  const View mirrored{&mirror, &outline, later.file, later.stage};
  const Features other = find_features(mirror.structure, outline.sheet);
  const auto map = by_features(features, other, longer_side(later));
  if (map && same_object(first, mirrored, *map)) {
    throw Error(
        ExitCode::scan,
        fmt::format(
            "{}: this scan of stage {} is mirrored against {}; mirror it back and save it, or scan "
            "the sheet again.",
            later.file, later.stage, first.file));
  }
  throw Error(
      ExitCode::scan,
      fmt::format(
          "{}: this scan of stage {} does not show the same side of the same sheet as {}; check "
          "which scan the treatment file names, or give control_points if it is the same.",
          later.file, later.stage, first.file));
}

/// Refuses a scan whose structure fits but whose colours fit the other way round.
void check_colours(const View& first, const View& later, const cv::Matx23d& map) {
  const Lies how = lies(first, later, map);
  if (how == Lies::alike) return;
  throw Error(
      ExitCode::scan,
      fmt::format("{}: the colours of this scan of stage {} lie {} against {}; {} it back and save "
                  "it, or scan the sheet again; if it lies as it should, give control_points.",
                  later.file, later.stage, how == Lies::mirrored ? "mirrored" : "turned by 180°",
                  first.file, how == Lies::mirrored ? "mirror" : "turn"));
}

std::vector<Match> control_cells(const View& first, const View& later,
                                 const std::vector<ControlPoint>& control) {
  std::vector<Match> pairs;
  for (const auto& [there, here] : control) {
    const Point a = first.grid->geometry.to_cell(here), b = later.grid->geometry.to_cell(there);
    const auto outside = [](Point p, const grid::Geometry& g) {
      return !(p.x >= -0.5 && p.y >= -0.5 && p.x <= g.columns - 0.5 && p.y <= g.rows - 0.5);
    };
    if (outside(a, first.grid->geometry) || outside(b, later.grid->geometry)) {
      throw Error(
          ExitCode::usage,
          fmt::format(
              "{}: the control point ({:.1f}, {:.1f}) to ({:.1f}, {:.1f}) of stage {} lies outside "
              "its scan; give pixels of this scan first, then of {}.",
              later.file, there.x, there.y, here.x, here.y, later.stage, first.file));
    }
    for (const Match& other : pairs) {
      if (cv::norm(other.first - cv::Point2d(a.x, a.y)) < 5) {
        throw Error(
            ExitCode::usage,
            fmt::format(
                "{}: two control points of stage {} lie on the same place ({:.1f}, {:.1f}) of {}; "
                "remove one.",
                later.file, later.stage, here.x, here.y, first.file));
      }
    }
    pairs.push_back({{a.x, a.y}, {b.x, b.y}});
  }
  return pairs;
}

/// Adds to the field what makes the map meet the control points; returns how far it moved the
/// nodes.
cv::Mat meet(Field& field, const cv::Matx23d& map, const std::vector<Match>& control,
             double reach) {
  cv::Mat moved(field.nodes.size(), CV_32FC2, cv::Scalar(0, 0));
  const cv::Matx23d back = inverse(map);
  // The field is linear between nodes and the correction is not: three rounds meet to 1e-5 cells.
  for (int round = 0; round < 3 && !control.empty(); ++round) {
    std::vector<cv::Point2d> places, shifts;
    for (const Match& pair : control) {
      places.push_back(pair.first);
      shifts.push_back(apply(back, pair.second) - pair.first - field.at(pair.first));
    }
    const cv::Mat correction =
        interpolate(places, shifts, reach, field.nodes.size(), Field::kBlock);
    field.nodes += correction;
    moved += correction;
  }
  return moved;
}

/// `cells`: displacement of every cell, CV_32FC2; overwritten.
cv::Mat to_later_of(cv::Mat cells, const cv::Matx23d& map) {
  cv::parallel_for_({0, cells.rows}, [&](const cv::Range& rows) {
    for (int row = rows.start; row < rows.end; ++row) {
      auto* d = cells.ptr<cv::Vec2f>(row);
      for (int column = 0; column < cells.cols; ++column) {
        const cv::Point2d place = apply(map, {column + static_cast<double>(d[column][0]),
                                              row + static_cast<double>(d[column][1])});
        d[column] = {static_cast<float>(place.x), static_cast<float>(place.y)};
      }
    }
  });
  return cells;
}

cv::Mat valid_of(const cv::Mat& to_later, const grid::Geometry& later) {
  cv::Mat valid(to_later.size(), CV_8U);
  const auto right = static_cast<float>(later.columns - 1),
             bottom = static_cast<float>(later.rows - 1);
  for (int row = 0; row < valid.rows; ++row) {
    const auto* to = to_later.ptr<cv::Vec2f>(row);
    auto* inside = valid.ptr<uchar>(row);
    for (int column = 0; column < valid.cols; ++column) {
      const cv::Vec2f p = to[column];
      inside[column] = p[0] >= 0 && p[1] >= 0 && p[0] <= right && p[1] <= bottom ? 255 : 0;
    }
  }
  return valid;
}

/// Standard uncertainty of the position along any one direction, in cells, on the lattice: half-way
/// disagreement of forward and backward field, with the fit's own formal variance.
cv::Mat misfit_of(const Field& forward, const Field& backward) {
  cv::Mat square(forward.nodes.size(), CV_32F);
  for (int row = 0; row < square.rows; ++row) {
    for (int column = 0; column < square.cols; ++column) {
      const cv::Vec2f d = forward.nodes.at<cv::Vec2f>(row, column);
      const cv::Point2d here((column + 0.5) * Field::kBlock - 0.5,
                             (row + 0.5) * Field::kBlock - 0.5);
      const cv::Point2d there(here.x + static_cast<double>(d[0]),
                              here.y + static_cast<double>(d[1]));
      const cv::Point2d closed = there + backward.at(there) - here;
      square.at<float>(row, column) = static_cast<float>(0.5 * closed.dot(closed));
    }
  }
  cv::GaussianBlur(square, square, {}, 2.5, 2.5, cv::BORDER_REPLICATE);
  return square + forward.variance;
}

void measure_stretch(Warp& warp, const View& first, const View& later) {
  std::vector<Match> samples;
  const int step = Field::kBlock;
  for (int row = step / 2; row < warp.to_later.rows; row += step) {
    for (int column = step / 2; column < warp.to_later.cols; column += step) {
      if (first.outline->sheet.at<uchar>(row, column) == 0) continue;
      const cv::Vec2f to = warp.to_later.at<cv::Vec2f>(row, column);
      samples.push_back({cv::Point2d(column, row),
                         cv::Point2d(static_cast<double>(to[0]), static_cast<double>(to[1]))});
    }
  }
  const auto map = least_squares_affine(samples);
  if (!map) return;
  const double mm = later.grid->geometry.pitch_mm / first.grid->geometry.pitch_mm;
  warp.stretch_x = mm * std::hypot((*map)(0, 0), (*map)(1, 0));
  warp.stretch_y = mm * std::hypot((*map)(0, 1), (*map)(1, 1));
}

/// The part of a view that holds its sheet and a few millimetres about it; shares the pictures.
struct Cropped {
  Cropped(const View& whole, double margin_mm) {
    const grid::Geometry& g = whole.grid->geometry;
    const int margin = cvRound(margin_mm / g.pitch_mm);
    const cv::Rect sheet = cv::boundingRect(whole.outline->sheet);
    window = (sheet + cv::Size(2 * margin, 2 * margin) - cv::Point(margin, margin)) &
             cv::Rect({}, g.size());
    grid.geometry = g;
    grid.geometry.origin_px =
        g.to_px({static_cast<double>(window.x), static_cast<double>(window.y)});
    grid.geometry.columns = window.width;
    grid.geometry.rows = window.height;
    grid.structure = whole.grid->structure(window);
    outline.sheet = whole.outline->sheet(window);
    outline.whole_frame = whole.outline->whole_frame;
    for (const Point p : whole.outline->quad)
      outline.quad.push_back({p.x - window.x, p.y - window.y});
    view = {&grid, &outline, whole.file, whole.stage};
  }
  Cropped(const Cropped&) = delete;
  Cropped& operator=(const Cropped&) = delete;

  cv::Rect window;
  grid::Grid grid;
  Outline outline;
  View view;
};

/// From the window to the whole grid: what lies beyond goes on as at the window's rim.
cv::Mat widened(const cv::Mat& part, const cv::Rect& window, cv::Size whole) {
  cv::Mat all;
  cv::copyMakeBorder(part, all, window.y, whole.height - window.y - window.height, window.x,
                     whole.width - window.x - window.width, cv::BORDER_REPLICATE);
  return all;
}

Warp align(const View& whole_first, const View& later, const std::vector<ControlPoint>& control) {
  const std::vector<Match> given_whole = control_cells(whole_first, later, control);
  const Cropped cropped(whole_first, kMarginMm);
  const View& first = cropped.view;
  const cv::Rect& window = cropped.window;
  const grid::Geometry& geometry = first.grid->geometry;
  std::vector<Match> given;
  for (const Match& m : given_whole)
    given.push_back({m.first - cv::Point2d(window.tl()), m.second});
  const Features here = find_features(first.grid->structure, first.outline->sheet);
  const Features there = find_features(later.grid->structure, later.outline->sheet);
  const auto found = by_features(here, there, longer_side(later));

  std::vector<cv::Matx23d> candidates;
  if (given.size() >= 3) candidates.push_back(map_through(given, 1));
  if (found && std::abs(tilt_degrees(*found)) <= kMostTiltDegrees) candidates.push_back(*found);
  if (!given.empty() && given.size() < 3) {
    candidates.push_back(map_through(given, geometry.pitch_mm / later.grid->geometry.pitch_mm));
  }
  if (const auto outline = by_outline(first, later)) candidates.push_back(*outline);

  std::optional<Placed> placed;
  Field field;
  bool bare = false;
  const double reach = kControlReachMm / geometry.pitch_mm;
  for (const cv::Matx23d& candidate : candidates) {
    placed.emplace(first, later, candidate);
    field = Field::zero(geometry.size());
    meet(field, candidate, given, reach);
    field = placed->coarse(field);
    const Verdict verdict = placed->verdict(field);
    // Hardly any print on either: nothing speaks against it, nothing for it but the outline.
    bare = verdict == Verdict::untold;
    if (verdict != Verdict::different) break;
    placed.reset();
  }
  if (!placed) refuse(first, later, here, found);
  const cv::Matx23d map = compose(placed->map(), cv::Matx23d(1, 0, -window.x, 0, 1, -window.y));
  if (given.empty()) check_colours(whole_first, later, map);

  Warp warp;
  const auto held_out = placed->held_out();
  field = placed->fine(field, placed->without(held_out));
  const auto shifts = placed->shifts(field, held_out);
  field = placed->finish(field);
  cv::Mat variance = misfit_of(field, placed->backward());
  const cv::Mat moved = meet(field, placed->map(), given, reach);

  // Too few places say nothing about one in twenty.
  const bool checked = !bare && shifts.size() >= 8;
  if (checked) {
    warp.residual_mm_median = quantile(shifts, 0.5) * geometry.pitch_mm;
    warp.residual_mm_p95 = quantile(shifts, 0.95) * geometry.pitch_mm;
  } else {
    warp.residual_mm_median = warp.residual_mm_p95 = kOutlineMisfitMm;
    warp.warnings.push_back(
        fmt::format("{}: no distinct print to check the alignment with {} on; its uncertainty is "
                    "taken as {} mm.",
                    later.file, first.file, kOutlineMisfitMm));
  }
  // Where the control points had to pull, the field had been wrong by that much.
  for (int row = 0; row < variance.rows; ++row) {
    for (int column = 0; column < variance.cols; ++column) {
      const cv::Vec2f m = moved.at<cv::Vec2f>(row, column);
      auto& v = variance.at<float>(row, column);
      v += 0.25F * m.dot(m);
      if (bare)
        v = std::max(v, static_cast<float>(std::pow(kOutlineMisfitMm / geometry.pitch_mm, 2)));
      v = static_cast<float>(
          std::hypot(std::sqrt(static_cast<double>(v)) * geometry.pitch_mm, kLeastMisfitMm));
    }
  }
  const cv::Size whole = whole_first.grid->geometry.size();
  warp.misfit_mm = widened(Field{geometry.size(), variance, {}}.at_cells(), window, whole);
  warp.to_later = to_later_of(widened(field.at_cells(), window, whole), map);
  warp.valid = valid_of(warp.to_later, later.grid->geometry);
  measure_stretch(warp, whole_first, later);
  warp.doubtful = warp.residual_mm_p95 > kDoubtfulMm;
  if (warp.doubtful && checked) {
    warp.warnings.push_back(
        fmt::format("{}: one place in twenty lies {:.2f} mm or more off {} after alignment; "
                    "colours near edges are doubtful.",
                    later.file, warp.residual_mm_p95, first.file));
  }
  return warp;
}

}  // namespace

Warp align_stage(const View& first, const View& later, const std::vector<ControlPoint>& control) {
  try {
    return align(first, later, control);
  } catch (const cv::Exception& e) {
    throw Error(
        ExitCode::scan,
        fmt::format(
            "{}: could not be aligned with {} ({}); check that both are whole scans of the sheet.",
            later.file, first.file, e.err));
  }
}

}  // namespace inkwane::align
