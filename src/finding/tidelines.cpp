#include "finding/tidelines.hpp"

#include <algorithm>
#include <cmath>

#include <opencv2/imgproc.hpp>

#include "finding/coarse.hpp"
#include "finding/ridge.hpp"

namespace inkwane::finding {
namespace {

/// What is called a tideline: at least this long, standing out by this much, no wider than this.
/// Common practice, no source, but for the contrast: twice the 50:50 threshold of perception.
constexpr double kLeastMm = 10, kLeastContrast = 1.6, kWidestMm = 4;
/// Edges of the print: Lab moves by more than this over 0.4 mm, on average over this far about.
/// Misfit and colour that runs show along them.
constexpr double kEdge = 4;
constexpr double kBesideEdgeMm = 0.6;
/// A line that came through the paper: Σ K/S of a line that lies behind this share of it.
constexpr double kBehind = 0.1, kThrough = 0.5;

cv::Mat in_blocks(const cv::Mat& map, int block, cv::Size size) {
  cv::Mat known = map == map, filled = map.clone();  // NaN is not equal to itself
  filled.setTo(0, ~known);
  cv::Mat sum, weight;
  known.convertTo(known, CV_32F, 1.0 / 255);
  const cv::Size whole(size.width * block, size.height * block);
  cv::copyMakeBorder(filled, filled, 0, whole.height - map.rows, 0, whole.width - map.cols,
                     cv::BORDER_CONSTANT, cv::Scalar(0));
  cv::copyMakeBorder(known, known, 0, whole.height - map.rows, 0, whole.width - map.cols,
                     cv::BORDER_CONSTANT, cv::Scalar(0));
  cv::resize(filled, sum, size, 0, 0, cv::INTER_AREA);
  cv::resize(known, weight, size, 0, 0, cv::INTER_AREA);
  return sum / cv::max(weight, 0.25);
}

/// Structure tensor of the print's colours (Di Zenzo, Comput. Vis. Graph. Image Process. 33, 1986,
/// from memory), 1 where an edge counts.
cv::Mat print_edges(const cv::Mat& lab, double block_mm) {
  cv::Mat known = lab.clone();
  cv::patchNaNs(known, 0);
  cv::Mat tensor(lab.size(), CV_32FC3, cv::Scalar::all(0));
  for (int y = 1; y < lab.rows - 1; ++y) {
    for (int x = 1; x < lab.cols - 1; ++x) {
      const cv::Vec3f dx = known.at<cv::Vec3f>(y, x + 1) - known.at<cv::Vec3f>(y, x - 1),
                      dy = known.at<cv::Vec3f>(y + 1, x) - known.at<cv::Vec3f>(y - 1, x);
      tensor.at<cv::Vec3f>(y, x) = cv::Vec3f(dx.dot(dx), dy.dot(dy), dx.dot(dy));
    }
  }
  const int reach = static_cast<int>(std::ceil(kBesideEdgeMm / block_mm));
  cv::blur(tensor, tensor, {2 * reach + 1, 2 * reach + 1});
  return tensor / (kEdge * kEdge);
}

/// Heights across a line, at steps of a tenth of a millimetre.
struct Profile {
  double crest = 0, flank = 0, higher_flank = 0, width_mm = 0;
};

class Measure {
 public:
  Measure(const cv::Mat& height, double block_mm) : height_(height), mm_(block_mm) {}

  [[nodiscard]] Profile across(cv::Point2f at, cv::Point2f along) const {
    constexpr double kStepMm = 0.1, kCrestMm = 0.4, kFlankMm = 1.6, kFlankEndMm = 2.4;
    const cv::Point2f normal(-along.y, along.x);
    const auto value = [&](double mm) {
      return sample(at + normal * static_cast<float>(mm / mm_));
    };
    Profile p;
    for (double mm = -kCrestMm; mm <= kCrestMm; mm += kStepMm)
      p.crest = std::max(p.crest, value(mm));
    double left = 0, right = 0;
    int n = 0;
    for (double mm = kFlankMm; mm <= kFlankEndMm; mm += kStepMm, ++n)
      left += value(-mm), right += value(mm);
    p.flank = (left + right) / (2 * n);
    p.higher_flank = std::max(left, right) / n;
    const double half = (p.crest + p.flank) / 2;
    for (const double way : {-1.0, 1.0}) {
      double mm = 0;
      while (mm < kWidestMm && value(way * mm) > half) mm += kStepMm;
      p.width_mm += mm;
    }
    return p;
  }

 private:
  const cv::Mat& height_;
  double mm_;

  [[nodiscard]] double sample(cv::Point2f p) const {
    const float x = std::clamp(p.x, 0.0F, static_cast<float>(height_.cols - 2)),
                y = std::clamp(p.y, 0.0F, static_cast<float>(height_.rows - 2));
    const int i = static_cast<int>(x), j = static_cast<int>(y);
    const float fx = x - static_cast<float>(i), fy = y - static_cast<float>(j);
    const auto at = [&](int dj, int di) { return height_.at<float>(j + dj, i + di); };
    return static_cast<double>((at(0, 0) * (1 - fx) + at(0, 1) * fx) * (1 - fy) +
                               (at(1, 0) * (1 - fx) + at(1, 1) * fx) * fy);
  }
};

double median_of(std::vector<double> values) {
  const auto middle = values.begin() + static_cast<std::ptrdiff_t>(values.size() / 2);
  std::nth_element(values.begin(), middle, values.end());
  return *middle;
}

class Search {
 public:
  Search(const SheetView& view, int to)
      : view_(view), to_(to), block_(block_of(view)), mm_(block_ * view.input->geometry.pitch_mm) {}

  void find(const cv::Mat& edges, std::vector<results::Tideline>& found) const {
    const std::string &from = view_.layer(0).stage, &to = view_.layer(to_).stage;
    const cv::Mat gained = view_.map("gained-colour", from, to);
    if (gained.empty()) return;
    const cv::Mat height = in_blocks(gained, block_, edges.size());
    const RidgeSearch search{
        {0.3 / mm_, 0.6 / mm_}, 0.4 * kLeastContrast, 0.7 * kLeastContrast, 2 / mm_, 10 / mm_};
    for (const Crest& crest : find_crests(height, edges, search)) {
      if (length_of(crest) * mm_ >= kLeastMm) measure(crest, height, from, to, found);
    }
  }

 private:
  const SheetView& view_;
  int to_, block_;
  double mm_;

  /// Σ K/S above the paper, of the first stage, that lies behind a place.
  [[nodiscard]] double behind(cv::Point2f at) const {
    const Point here = cell(at);
    const cv::Point on(cvRound(here.x), cvRound(here.y));
    if (!cv::Rect({}, view_.to_behind.size()).contains(on)) return 0;
    const auto& there = view_.to_behind.at<cv::Vec2f>(on);
    const cv::Mat& xyz = view_.behind->layers.front().xyz;
    if (!(there[0] >= 0 && there[1] >= 0 && there[0] < static_cast<float>(xyz.cols - 1) &&
          there[1] < static_cast<float>(xyz.rows - 1)))
      return 0;
    const auto& v = xyz.at<cv::Vec3f>(cvRound(there[1]), cvRound(there[0]));
    const Eigen::Vector3f sharp =
        change::sharpening().cast<float>() * Eigen::Vector3f(v[0], v[1], v[2]);
    const float sum = change::ks(sharp[0]) + change::ks(sharp[1]) + change::ks(sharp[2]);
    return sum == sum ? static_cast<double>(sum) : 0;
  }
  /// Whether a line runs behind this place.
  [[nodiscard]] bool line_behind(cv::Point2f at, cv::Point2f along) const {
    if (view_.behind == nullptr) return false;
    const cv::Point2f aside =
        cv::Point2f(-along.y, along.x) * static_cast<float>(kWidestMm / 2 / mm_);
    return behind(at) - std::max(behind(at + aside), behind(at - aside)) > kBehind;
  }

  void measure(const Crest& crest, const cv::Mat& height, const std::string& from,
               const std::string& to, std::vector<results::Tideline>& found) const {
    const Measure gained(height, mm_);
    std::vector<double> contrast, width, sided;
    double through = 0;
    for (std::size_t i = 2; i + 2 < crest.size(); ++i) {
      const cv::Point2f d = crest[i + 2] - crest[i - 2];
      const cv::Point2f along = d / std::max(1e-6, cv::norm(d));
      const Profile p = gained.across(crest[i], along);
      contrast.push_back(p.crest - p.flank);
      sided.push_back(p.crest - p.higher_flank);
      width.push_back(p.width_mm);
      if (line_behind(crest[i], along)) through += 1;
    }
    if (contrast.size() < 5) return;
    results::Tideline line;
    line.contrast_dE00 = median_of(contrast);
    line.width_mm = median_of(width);
    if (line.contrast_dE00 < kLeastContrast || line.width_mm > kWidestMm) return;
    if (median_of(sided) < line.contrast_dE00 / 2) return;  // the edge of a wider stain
    if (through > kThrough * static_cast<double>(contrast.size())) return;
    line.from = from;
    line.to = to;
    line.side = view_.input->side;
    line.length_mm = length_of(crest) * mm_;
    Crest simple;
    cv::approxPolyDP(crest, simple, 0.5, false);
    for (const cv::Point2f& p : simple) line.line.push_back(view_.input->geometry.to_px(cell(p)));
    line.at_mm = view_.to_mm(cell(crest[crest.size() / 2]));
    found.push_back(std::move(line));
  }

  [[nodiscard]] Point cell(cv::Point2f p) const {
    return {(static_cast<double>(p.x) + 0.5) * block_ - 0.5,
            (static_cast<double>(p.y) + 0.5) * block_ - 0.5};
  }
};

}  // namespace

void find_tidelines(const SheetView& view, results::Findings& findings) {
  const int stages = static_cast<int>(view.input->layers.size());
  if (stages < 2) return;
  const cv::Mat lab = block_lab(block_sharp(view, 0));
  const cv::Mat edges = print_edges(lab, block_of(view) * view.input->geometry.pitch_mm);
  for (int to = 1; to < stages; ++to) {
    Search(view, to).find(edges, findings.tidelines);
    findings.limits.push_back({"tidelines", view.input->side, view.layer(0).stage,
                               view.layer(to).stage, kLeastContrast, 0, kLeastMm});
  }
}

}  // namespace inkwane::finding
