#include "align/agreement.hpp"

#include <algorithm>
#include <cmath>

#include <opencv2/imgproc.hpp>

namespace inkwane::align {
namespace {

/// A block has structure where its mean square, in local standard deviations, exceeds this; bare
/// paper stays far below, since its contrast is divided by the floor (see normalise).
constexpr double kStructured = 0.25;
/// Blocks agree above this correlation.
constexpr double kAgree = 0.4;
/// Share of the structured blocks that must agree. Sheets bleached to a fifth of their colour and
/// recoloured prints reached .98 and more; other prints of one series, whose frame and title fall
/// on each other, and mirrored ones stayed below .52 (own trials).
constexpr double kSameObject = 0.7;
/// Blocks below which nothing can be said.
constexpr int kFewBlocks = 12;
/// Places held out cover at most this share of the sheet.
constexpr double kHeldOutShare = 0.04;
constexpr int kMostHeldOut = 150;
/// Best correlation below which a place is not recognised.
constexpr float kRecognised = 0.6F;

/// Correlation of two patches over the cells both have; negative where too few are shared.
double correlation(const Signal& first, const Signal& second, const cv::Rect& at,
                   double& energy_first, double& energy_second) {
  double n = 0, a = 0, b = 0, aa = 0, bb = 0, ab = 0;
  for (int row = at.y; row < at.y + at.height; ++row) {
    const auto* x = first.value.ptr<float>(row);
    const auto* y = second.value.ptr<float>(row);
    const auto* wx = first.weight.ptr<float>(row);
    const auto* wy = second.weight.ptr<float>(row);
    for (int column = at.x; column < at.x + at.width; ++column) {
      if (wx[column] < 0.99F || wy[column] < 0.99F) continue;
      const auto u = static_cast<double>(x[column]), v = static_cast<double>(y[column]);
      n += 1;
      a += u;
      b += v;
      aa += u * u;
      bb += v * v;
      ab += u * v;
    }
  }
  if (n < 0.5 * at.area()) return -2;
  energy_first = aa / n - a * a / (n * n);
  energy_second = bb / n - b * b / (n * n);
  return (ab / n - a * b / (n * n)) / std::sqrt(std::max(energy_first * energy_second, 1e-12));
}

/// Vertex of the parabola through three values, −½ … ½.
double vertex(float left, float middle, float right) {
  const double bend =
      static_cast<double>(left) - 2 * static_cast<double>(middle) + static_cast<double>(right);
  return bend < 0 ? std::clamp(0.5 * static_cast<double>(left - right) / bend, -0.5, 0.5) : 0.0;
}

}  // namespace

Verdict judge(const Agreement& print, const Agreement& faint) {
  if (print.structured >= kFewBlocks) {
    return print.share() >= kSameObject ? Verdict::same : Verdict::different;
  }
  if (faint.structured >= kFewBlocks && faint.share() >= kSameObject) return Verdict::same;
  // Fibres may look different after a bath; print on one of the two alone may not.
  return print.lone >= 2 * kFewBlocks ? Verdict::different : Verdict::untold;
}

Agreement compare(const Signal& first, const Signal& second, int block) {
  Agreement result;
  for (int row = 0; row + block <= first.value.rows; row += block) {
    for (int column = 0; column + block <= first.value.cols; column += block) {
      double one = 0, two = 0;
      const double r = correlation(first, second, {column, row, block, block}, one, two);
      if (r < -1.5) continue;
      if ((one < kStructured) != (two < kStructured)) ++result.lone;
      if (one < kStructured || two < kStructured) continue;
      ++result.structured;
      if (r > kAgree) ++result.agreeing;
    }
  }
  return result;
}

std::vector<cv::Point> choose_held_out(const Signal& first, int radius) {
  cv::Mat response;
  cv::cornerMinEigenVal(first.value, response, 2 * (radius / 2) + 1, 3);
  // Not where the window would leave the sheet.
  cv::Mat whole;
  cv::threshold(first.weight, whole, 0.99, 1, cv::THRESH_BINARY);
  whole.convertTo(whole, CV_8U);
  const double sheet = cv::countNonZero(whole);
  cv::erode(whole, whole, cv::Mat::ones(4 * radius + 1, 4 * radius + 1, CV_8U), {-1, -1}, 1,
            cv::BORDER_CONSTANT, cv::Scalar(0));
  const int most = std::clamp(static_cast<int>(kHeldOutShare * sheet / (CV_PI * radius * radius)),
                              0, kMostHeldOut);
  if (most == 0) return {};
  // One place a bucket: spread over the sheet rather than where the print is boldest.
  const int bucket = std::max(6 * radius, static_cast<int>(std::sqrt(sheet / most)));
  std::vector<std::pair<float, cv::Point>> best;
  for (int row = 0; row < response.rows; row += bucket) {
    for (int column = 0; column < response.cols; column += bucket) {
      const cv::Rect part = cv::Rect(column, row, bucket, bucket) & cv::Rect({}, response.size());
      double peak = 0;
      cv::Point place;
      cv::minMaxLoc(response(part), nullptr, &peak, nullptr, &place, whole(part));
      if (peak > 0) best.emplace_back(static_cast<float>(peak), place + part.tl());
    }
  }
  if (best.empty()) return {};
  // A place counts as a feature if it is at least a tenth as distinct as the typical one.
  std::vector<double> peaks;
  for (const auto& [peak, place] : best) peaks.push_back(static_cast<double>(peak));
  const auto least = static_cast<float>(0.1 * quantile(peaks, 0.75));
  std::vector<cv::Point> places;
  for (const auto& [peak, place] : best) {
    if (peak >= least) places.push_back(place);
  }
  return places;
}

std::vector<double> held_out_shifts(const Signal& first, const Signal& second,
                                    const std::vector<cv::Point>& places, int radius) {
  std::vector<double> shifts;
  const cv::Rect frame({}, first.value.size());
  for (const cv::Point place : places) {
    const cv::Rect patch(place.x - radius, place.y - radius, 2 * radius + 1, 2 * radius + 1);
    const cv::Rect around(place.x - 2 * radius, place.y - 2 * radius, 4 * radius + 1,
                          4 * radius + 1);
    if ((around & frame) != around) continue;
    double off_sheet = 0;
    cv::minMaxLoc(second.weight(around), &off_sheet);
    if (off_sheet < 0.5) continue;
    cv::Mat score;
    cv::matchTemplate(second.value(around), first.value(patch), score, cv::TM_CCOEFF_NORMED);
    double peak = 0;
    cv::Point at;
    cv::minMaxLoc(score, nullptr, &peak, nullptr, &at);
    if (peak < static_cast<double>(kRecognised) || at.x == 0 || at.y == 0 ||
        at.x == score.cols - 1 || at.y == score.rows - 1) {
      continue;
    }
    const double x = at.x - radius +
                     vertex(score.at<float>(at.y, at.x - 1), score.at<float>(at),
                            score.at<float>(at.y, at.x + 1));
    const double y = at.y - radius +
                     vertex(score.at<float>(at.y - 1, at.x), score.at<float>(at),
                            score.at<float>(at.y + 1, at.x));
    shifts.push_back(std::hypot(x, y));
  }
  return shifts;
}

double quantile(std::vector<double> values, double q) {
  const auto nth = values.begin() +
                   static_cast<std::ptrdiff_t>(q * static_cast<double>(values.size() - 1) + 0.5);
  std::nth_element(values.begin(), nth, values.end());
  return *nth;
}

}  // namespace inkwane::align
