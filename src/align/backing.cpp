#include "align/backing.hpp"

#include <algorithm>
#include <cmath>

#include <Eigen/Dense>
#include <opencv2/imgproc.hpp>

#include <inkwane/colour.hpp>

#include "grid/disc.hpp"

namespace inkwane::align {
namespace {

/// Cells of the overview (mm): fine enough for a margin, coarse enough to average paper and noise
/// away.
constexpr double kOverviewMm = 0.4;
/// Width of the strip along the frame's edge that tells the backing's colours (mm).
constexpr double kRimMm = 1.6;
/// Colours of the rim that lie within this ΔE*ab of each other are one.
constexpr float kOneColour = 5;
/// A colour of the rim must hold this share of it.
constexpr double kLeastShare = 0.03;
constexpr std::size_t kMostColours = 3;
/// ΔE*ab from the backing above which a cell is not backing, between these; in between it follows
/// the backing's own spread. Cream paper on a white lid differs by 3 to 5.
constexpr float kLeastThreshold = 1.2F, kMostThreshold = 6;
/// Links between sheet and rim narrower than this are dust or a hair (mm).
constexpr double kLinkMm = 1.0;

float distance(const cv::Vec3f& a, const cv::Vec3f& b) {
  const cv::Vec3f d = a - b;
  return std::sqrt(d.dot(d));
}

/// Light falls off across the bed: each of L*, a*, b* of the backing as a quadratic of the place.
class Surface {
 public:
  Surface(const cv::Mat& lab, const cv::Mat& where) {
    Eigen::Matrix<double, 6, 6> normal = Eigen::Matrix<double, 6, 6>::Zero();
    Eigen::Matrix<double, 6, 3> right = Eigen::Matrix<double, 6, 3>::Zero();
    size_ = lab.size();
    for (int row = 0; row < lab.rows; row += 2) {
      for (int column = 0; column < lab.cols; column += 2) {
        if (where.at<uchar>(row, column) == 0) continue;
        const auto b = basis(column, row);
        const cv::Vec3f v = lab.at<cv::Vec3f>(row, column);
        normal += b * b.transpose();
        right += b * Eigen::RowVector3d(v[0], v[1], v[2]);
      }
    }
    // Hardly any curvature is expected; the ridge keeps it from running wild over the sheet.
    const double cells = std::max(normal(0, 0), 1.0);
    for (int i = 1; i < 6; ++i) normal(i, i) += 1e-3 * cells;
    normal(0, 0) += 1e-9;
    coefficients_ = normal.ldlt().solve(right);
  }

  [[nodiscard]] cv::Vec3f at(int column, int row) const {
    const Eigen::RowVector3d v = basis(column, row).transpose() * coefficients_;
    return {static_cast<float>(v(0)), static_cast<float>(v(1)), static_cast<float>(v(2))};
  }

 private:
  [[nodiscard]] Eigen::Matrix<double, 6, 1> basis(int column, int row) const {
    const double x = 2.0 * column / size_.width - 1, y = 2.0 * row / size_.height - 1;
    return (Eigen::Matrix<double, 6, 1>() << 1, x, y, x * x, x * y, y * y).finished();
  }
  cv::Size size_;
  Eigen::Matrix<double, 6, 3> coefficients_ = Eigen::Matrix<double, 6, 3>::Zero();
};

cv::Mat rim_of(const Overview& overview) {
  const int width = std::max(2, cvRound(kRimMm / overview.pitch_mm));
  cv::Mat rim(overview.lab.size(), CV_8U, cv::Scalar(255));
  if (rim.cols > 2 * width && rim.rows > 2 * width) {
    rim(cv::Rect(width, width, rim.cols - 2 * width, rim.rows - 2 * width)).setTo(0);
  }
  rim.setTo(0, overview.target);
  rim.setTo(0, overview.usable == 0);
  return rim;
}

/// The colours that make up the rim, the commonest first.
std::vector<cv::Vec3f> rim_colours(const Overview& overview, const cv::Mat& rim) {
  std::vector<cv::Vec3f> samples;
  for (int row = 0; row < rim.rows; ++row) {
    for (int column = 0; column < rim.cols; ++column) {
      if (rim.at<uchar>(row, column) != 0)
        samples.push_back(overview.lab.at<cv::Vec3f>(row, column));
    }
  }
  // A few hundred samples are enough to find colours of 3 % and more.
  const std::size_t step = std::max<std::size_t>(1, samples.size() / 600);
  std::vector<cv::Vec3f> left;
  for (std::size_t i = 0; i < samples.size(); i += step) left.push_back(samples[i]);
  const auto least = static_cast<std::size_t>(kLeastShare * static_cast<double>(left.size())) + 1;

  std::vector<cv::Vec3f> colours;
  while (left.size() >= least && colours.size() < kMostColours) {
    std::size_t best = 0, most = 0;
    for (std::size_t i = 0; i < left.size(); ++i) {
      const auto near =
          static_cast<std::size_t>(std::count_if(left.begin(), left.end(), [&](const cv::Vec3f& c) {
            return distance(c, left[i]) < kOneColour;
          }));
      if (near > most) {
        most = near;
        best = i;
      }
    }
    if (most < least) break;
    const cv::Vec3f centre = left[best];
    cv::Vec3f sum(0, 0, 0);
    for (const auto& c : left) {
      if (distance(c, centre) < kOneColour) sum += c;
    }
    colours.push_back(sum / static_cast<float>(most));
    std::erase_if(left, [&](const cv::Vec3f& c) { return distance(c, centre) < kOneColour; });
  }
  return colours;
}

/// Cells of `open` that hang together with the rim.
cv::Mat reached_from(const cv::Mat& open, const cv::Mat& rim) {
  cv::Mat labels;
  const int count = cv::connectedComponents(open, labels, 4, CV_32S);
  std::vector<uchar> touches(static_cast<std::size_t>(count), 0);
  for (int row = 0; row < open.rows; ++row) {
    for (int column = 0; column < open.cols; ++column) {
      if (rim.at<uchar>(row, column) != 0 && open.at<uchar>(row, column) != 0) {
        touches[static_cast<std::size_t>(labels.at<int>(row, column))] = 1;
      }
    }
  }
  cv::Mat reached(open.size(), CV_8U, cv::Scalar(0));
  for (int row = 0; row < open.rows; ++row) {
    for (int column = 0; column < open.cols; ++column) {
      if (touches[static_cast<std::size_t>(labels.at<int>(row, column))] != 0 &&
          open.at<uchar>(row, column) != 0) {
        reached.at<uchar>(row, column) = 255;
      }
    }
  }
  return reached;
}

/// The largest piece that is not for the most part the target's card.
cv::Mat largest_piece(const cv::Mat& mask, const cv::Mat& target) {
  cv::Mat labels;
  const int count = cv::connectedComponents(mask, labels, 8, CV_32S);
  std::vector<int> area(static_cast<std::size_t>(count), 0),
      card(static_cast<std::size_t>(count), 0);
  for (int row = 0; row < mask.rows; ++row) {
    for (int column = 0; column < mask.cols; ++column) {
      const auto piece = static_cast<std::size_t>(labels.at<int>(row, column));
      ++area[piece];
      if (target.at<uchar>(row, column) != 0) ++card[piece];
    }
  }
  int best = 0, most = 0;
  for (int i = 1; i < count; ++i) {
    const auto piece = static_cast<std::size_t>(i);
    if (area[piece] > most && 2 * card[piece] <= area[piece]) {
      most = area[piece];
      best = i;
    }
  }
  if (best == 0) return cv::Mat(mask.size(), CV_8U, cv::Scalar(0));
  return labels == best;
}

cv::Mat filled(const cv::Mat& mask) {
  cv::Mat framed, outside;
  cv::copyMakeBorder(mask, framed, 1, 1, 1, 1, cv::BORDER_CONSTANT, cv::Scalar(0));
  cv::floodFill(framed, {0, 0}, cv::Scalar(128), nullptr, {}, {}, 4);
  outside = framed != 128;
  return outside(cv::Rect(1, 1, mask.cols, mask.rows)).clone();
}

/// What the given colours of backing leave. `cut_target`: the card counts as backing, for a card
/// that touches the sheet; else as any other thing that lies on the bed, since how far a card's
/// border reaches is not known for certain.
Guess guess_from(const Overview& overview, const cv::Mat& rim,
                 const std::vector<cv::Vec3f>& colours, bool cut_target) {
  const cv::Mat& lab = overview.lab;
  std::vector<Surface> surfaces;
  for (const auto& colour : colours) {
    cv::Mat own(lab.size(), CV_8U, cv::Scalar(0));
    for (int row = 0; row < lab.rows; ++row) {
      for (int column = 0; column < lab.cols; ++column) {
        if (rim.at<uchar>(row, column) != 0 &&
            distance(lab.at<cv::Vec3f>(row, column), colour) < kOneColour) {
          own.at<uchar>(row, column) = 255;
        }
      }
    }
    surfaces.emplace_back(lab, own);
  }
  cv::Mat backing, rim_or_target;
  cv::bitwise_or(rim, overview.target, rim_or_target);
  float threshold = kOneColour;
  for (int round = 0; round < 3; ++round) {
    cv::Mat nearest(lab.size(), CV_32F);
    cv::Mat which(lab.size(), CV_8U);
    for (int row = 0; row < lab.rows; ++row) {
      for (int column = 0; column < lab.cols; ++column) {
        float least = 1e9F;
        for (std::size_t i = 0; i < surfaces.size(); ++i) {
          const float d = distance(lab.at<cv::Vec3f>(row, column), surfaces[i].at(column, row));
          if (d < least) {
            least = d;
            which.at<uchar>(row, column) = static_cast<uchar>(i);
          }
        }
        nearest.at<float>(row, column) = overview.usable.at<uchar>(row, column) != 0 ? least : 1e9F;
      }
    }
    // Twice the 95th percentile of the backing on the rim.
    std::vector<float> spread;
    for (int row = 0; row < lab.rows; ++row) {
      for (int column = 0; column < lab.cols; ++column) {
        const float d = nearest.at<float>(row, column);
        if (rim.at<uchar>(row, column) != 0 && d < kOneColour) spread.push_back(d);
      }
    }
    if (!spread.empty()) {
      const auto nth = spread.begin() +
                       static_cast<std::ptrdiff_t>(0.95 * static_cast<double>(spread.size() - 1));
      std::nth_element(spread.begin(), nth, spread.end());
      threshold = std::clamp(2 * *nth, kLeastThreshold, kMostThreshold);
    }
    backing = nearest < threshold;
    if (cut_target) backing |= overview.target;
    backing = reached_from(backing, rim_or_target);
    if (round < 2) {
      for (std::size_t i = 0; i < surfaces.size(); ++i) {
        cv::Mat own = backing & (which == static_cast<double>(i)) & (overview.target == 0);
        // Away from the sheet, whose edge is blurred into the backing.
        cv::erode(own, own, grid::disc(1), {-1, -1}, 1, cv::BORDER_CONSTANT, cv::Scalar(255));
        if (cv::countNonZero(own) > 100) surfaces[i] = Surface(lab, own);
      }
    }
  }
  Guess guess;
  guess.sheet = backing == 0;
  const cv::Mat element = grid::disc(std::max(1, cvRound(kLinkMm / 2 / overview.pitch_mm)));
  cv::morphologyEx(guess.sheet, guess.sheet, cv::MORPH_OPEN, element, {-1, -1}, 1,
                   cv::BORDER_REPLICATE);
  guess.sheet = filled(largest_piece(guess.sheet, overview.target));
  if (cut_target) guess.sheet.setTo(0, overview.target);
  const cv::Scalar mean = cv::mean(lab, (guess.sheet == 0) & rim);
  guess.backing = {static_cast<float>(mean[0]), static_cast<float>(mean[1]),
                   static_cast<float>(mean[2])};
  return guess;
}

}  // namespace

Overview make_overview(const grid::Grid& grid) {
  Overview overview;
  const double pitch = grid.geometry.pitch_mm;
  const int longest = std::max(grid.geometry.columns, grid.geometry.rows);
  overview.factor = std::max({1, static_cast<int>(kOverviewMm / pitch + 0.5), longest / 1200});
  overview.pitch_mm = overview.factor * pitch;
  const cv::Size whole(grid.geometry.columns / overview.factor,
                       grid.geometry.rows / overview.factor);
  const cv::Rect part(0, 0, whole.width * overview.factor, whole.height * overview.factor);
  cv::Mat xyz;
  cv::resize(grid.xyz(part), xyz, whole, 0, 0, cv::INTER_AREA);
  overview.lab.create(whole, CV_32FC3);
  overview.usable = cv::Mat(whole, CV_8U, cv::Scalar(255));
  for (int row = 0; row < whole.height; ++row) {
    for (int column = 0; column < whole.width; ++column) {
      const cv::Vec3f v = xyz.at<cv::Vec3f>(row, column);
      const LabD50 lab = to_lab(XyzD50{v[0], v[1], v[2]});
      overview.lab.at<cv::Vec3f>(row, column) = {
          static_cast<float>(lab.L), static_cast<float>(lab.a), static_cast<float>(lab.b)};
      if (!std::isfinite(v[0] + v[1] + v[2])) {
        overview.usable.at<uchar>(row, column) = 0;
        overview.lab.at<cv::Vec3f>(row, column) = {0, 0, 0};
      }
    }
  }
  if (grid.target.empty()) {
    overview.target = cv::Mat(whole, CV_8U, cv::Scalar(0));
  } else {
    cv::resize(grid.target(part), overview.target, whole, 0, 0, cv::INTER_AREA);
    overview.target = overview.target > 0;
  }
  return overview;
}

std::vector<Guess> guess_sheets(const Overview& overview) {
  const cv::Mat rim = rim_of(overview);
  const auto colours = rim_colours(overview, rim);
  std::vector<Guess> guesses;
  const bool card = cv::countNonZero(overview.target) > 0;
  for (unsigned chosen = 1; chosen < (1U << colours.size()); ++chosen) {
    std::vector<cv::Vec3f> some;
    for (std::size_t i = 0; i < colours.size(); ++i) {
      if ((chosen >> i & 1U) != 0) some.push_back(colours[i]);
    }
    guesses.push_back(guess_from(overview, rim, some, false));
    if (card) guesses.push_back(guess_from(overview, rim, some, true));
  }
  return guesses;
}

}  // namespace inkwane::align
