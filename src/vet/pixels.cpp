#include "vet/pixels.hpp"

#include <algorithm>
#include <cmath>
#include <numeric>

#include <Eigen/Dense>
#include <opencv2/imgproc.hpp>

#include <inkwane/colour.hpp>

namespace inkwane::vet {
namespace {

/// Values this close to the end of the scale are clipped: scanners do not all reach the end.
constexpr int kAlmostWhite = 65535 - 64;
/// Steps beyond this are edges of print, not of compression.
constexpr int kSmallStep = 65535 / 25;

/// Sums of the pixels of one row of cells.
class CellRow {
 public:
  explicit CellRow(int width)
      : width_(width), columns_((width + kCellPx - 1) / kCellPx), sums_(columns_) {}

  void add(const std::uint16_t* row) {
    for (int cell = 0; cell < columns_; ++cell) {
      const int end = std::min((cell + 1) * kCellPx, width_);
      Sums& sums = sums_[cell];
      for (int x = cell * kCellPx; x < end; ++x) {
        const std::uint16_t* const pixel = row + 3 * static_cast<std::ptrdiff_t>(x);
        for (int c = 0; c < 3; ++c) {
          sums.value[c] += pixel[c];
          sums.square[c] += static_cast<std::uint64_t>(pixel[c]) * pixel[c];
        }
        sums.dark += std::min({pixel[0], pixel[1], pixel[2]}) == 0 ? 1 : 0;
        sums.bright += std::max({pixel[0], pixel[1], pixel[2]}) >= kAlmostWhite ? 1 : 0;
      }
    }
    ++rows_;
  }
  [[nodiscard]] bool full() const { return rows_ == kCellPx; }
  [[nodiscard]] bool empty() const { return rows_ == 0; }

  /// Writes row `row` of the facts and starts anew.
  void finish(PixelFacts& facts, int row) {
    for (int cell = 0; cell < columns_; ++cell) {
      const Sums& sums = sums_[cell];
      const double n =
          static_cast<double>(rows_) * (std::min((cell + 1) * kCellPx, width_) - cell * kCellPx);
      cv::Vec3f mean, deviation;
      for (int c = 0; c < 3; ++c) {
        const double m = static_cast<double>(sums.value[c]) / n;
        const double variance = static_cast<double>(sums.square[c]) / n - m * m;
        mean[c] = static_cast<float>(m / 65535);
        deviation[c] = static_cast<float>(std::sqrt(std::max(0.0, variance)) / 65535);
      }
      facts.mean.at<cv::Vec3f>(row, cell) = mean;
      facts.deviation.at<cv::Vec3f>(row, cell) = deviation;
      facts.dark.at<float>(row, cell) = static_cast<float>(sums.dark / n);
      facts.bright.at<float>(row, cell) = static_cast<float>(sums.bright / n);
    }
    std::fill(sums_.begin(), sums_.end(), Sums{});
    rows_ = 0;
  }

 private:
  struct Sums {
    std::array<std::uint64_t, 3> value{}, square{};
    int dark = 0, bright = 0;
  };
  int width_, columns_, rows_ = 0;
  std::vector<Sums> sums_;
};

/// Small steps of green, by place modulo 8.
class Steps {
 public:
  explicit Steps(int width) : above_(width) {}

  void add(const std::uint16_t* row, int y) {
    const int width = static_cast<int>(above_.size());
    for (int x = 1; x < width; ++x) count(row[3 * x + 1] - row[3 * x - 2], 0, x % 8);
    for (int x = 0; x < width; ++x) {
      if (y > 0) count(row[3 * x + 1] - above_[x], 1, y % 8);
      above_[x] = row[3 * x + 1];
    }
  }
  void finish(PixelFacts& facts) const {
    for (int axis = 0; axis < 2; ++axis) {
      for (int phase = 0; phase < 8; ++phase) {
        const auto n = static_cast<double>(std::max<std::uint64_t>(1, number_[axis][phase]));
        facts.steps[axis][phase] = static_cast<double>(sum_[axis][phase]) / n;
      }
    }
  }

 private:
  void count(int step, int axis, int phase) {
    const int size = std::abs(step);
    if (size >= kSmallStep) return;
    sum_[axis][phase] += static_cast<std::uint64_t>(size);
    ++number_[axis][phase];
  }
  std::vector<std::uint16_t> above_;
  std::array<std::array<std::uint64_t, 8>, 2> sum_{}, number_{};
};

/// Cells of `mask` in areas that touch the frame's edge.
cv::Mat touching_edge(const cv::Mat& mask) {
  cv::Mat labels;
  const int count = cv::connectedComponents(mask, labels, 8, CV_32S);
  std::vector<bool> at_edge(static_cast<std::size_t>(count), false);
  for (int r = 0; r < labels.rows; ++r) {
    for (int c = 0; c < labels.cols; ++c) {
      if (r == 0 || c == 0 || r == labels.rows - 1 || c == labels.cols - 1) {
        at_edge[labels.at<int>(r, c)] = true;
      }
    }
  }
  at_edge[0] = false;  // what is not in the mask
  cv::Mat out(mask.size(), CV_8UC1, cv::Scalar(0));
  for (int r = 0; r < labels.rows; ++r) {
    for (int c = 0; c < labels.cols; ++c) {
      if (at_edge[labels.at<int>(r, c)]) out.at<std::uint8_t>(r, c) = 255;
    }
  }
  return out;
}

/// The largest connected area of `mask`, which has one.
cv::Mat largest_piece(const cv::Mat& mask) {
  cv::Mat labels, stats, centres;
  const int count = cv::connectedComponentsWithStats(mask, labels, stats, centres, 8, CV_32S);
  int largest = 1;
  for (int i = 2; i < count; ++i) {
    if (stats.at<int>(i, cv::CC_STAT_AREA) > stats.at<int>(largest, cv::CC_STAT_AREA)) largest = i;
  }
  return labels == largest;
}

LabD50 lab_of(const colour::Linearisation& linearisation, const cv::Vec3f& encoded) {
  std::array<std::uint16_t, 3> values;
  for (int c = 0; c < 3; ++c) values[c] = cv::saturate_cast<std::uint16_t>(encoded[c] * 65535.0F);
  std::array<float, 3> linear;
  linearisation.apply(values, linear);
  const Eigen::Vector3d xyz =
      linearisation.to_xyz() * Eigen::Vector3f(linear[0], linear[1], linear[2]).cast<double>();
  return to_lab({xyz[0], xyz[1], xyz[2]});
}

float largest(const cv::Vec3f& v) {
  return std::max({v[0], v[1], v[2]});
}

/// Value below which `share` of `values` lie. Reorders them.
template <typename T>
T quantile(std::vector<T>& values, double share) {
  const auto place =
      values.begin() + static_cast<std::ptrdiff_t>(share * static_cast<double>(values.size() - 1));
  std::nth_element(values.begin(), place, values.end());
  return *place;
}

/// Cells wholly within the scale, with the deviation of their pixels.
std::vector<std::pair<cv::Point, float>> open_cells(const PixelFacts& facts) {
  std::vector<std::pair<cv::Point, float>> cells;
  for (int r = 0; r < facts.mean.rows; ++r) {
    for (int c = 0; c < facts.mean.cols; ++c) {
      if (facts.dark.at<float>(r, c) > 0 || facts.bright.at<float>(r, c) > 0) continue;
      cells.emplace_back(cv::Point(c, r), largest(facts.deviation.at<cv::Vec3f>(r, c)));
    }
  }
  return cells;
}

/// Level below which `share` of a histogram lies.
int percentile(const std::vector<double>& histogram, double share) {
  const double all = std::accumulate(histogram.begin(), histogram.end(), 0.0);
  double sum = 0;
  for (std::size_t i = 0; i < histogram.size(); ++i) {
    sum += histogram[i];
    if (sum >= share * all) return static_cast<int>(i);
  }
  return static_cast<int>(histogram.size()) - 1;
}

}  // namespace

PixelFacts look_at_pixels(const scan::Scan& scan) {
  const scan::Info& info = scan.info();
  PixelFacts facts;
  const cv::Size size((info.width_px + kCellPx - 1) / kCellPx,
                      (info.height_px + kCellPx - 1) / kCellPx);
  facts.mean.create(size, CV_32FC3);
  facts.deviation.create(size, CV_32FC3);
  facts.dark.create(size, CV_32FC1);
  facts.bright.create(size, CV_32FC1);
  for (auto& channel : facts.histogram) channel.assign(65536, 0);

  CellRow cells(info.width_px);
  Steps steps(info.width_px);
  int cell_row = 0;
  scan.read([&](int first_row, const cv::Mat& strip) {
    for (int r = 0; r < strip.rows; ++r) {
      const auto* const row = strip.ptr<std::uint16_t>(r);
      for (int x = 0; x < strip.cols; ++x) {
        for (int c = 0; c < 3; ++c) ++facts.histogram[c][row[3 * x + c]];
      }
      steps.add(row, first_row + r);
      cells.add(row);
      if (cells.full()) cells.finish(facts, cell_row++);
    }
  });
  if (!cells.empty()) cells.finish(facts, cell_row);
  steps.finish(facts);
  return facts;
}

Clipping clipping(const PixelFacts& facts) {
  const auto share = [](const cv::Mat& ends, bool& backing) {
    const cv::Mat clipped = ends > 0.5F;
    const cv::Mat edge = touching_edge(clipped);
    backing = backing || cv::countNonZero(edge) > 0.01 * static_cast<double>(edge.total());
    cv::Mat inside = ends.clone();
    cv::Mat beyond;  // and the cells that it only just reaches into
    cv::dilate(edge, beyond, cv::Mat());
    inside.setTo(0, beyond);
    return cv::mean(inside)[0];
  };
  Clipping out;
  out.dark = share(facts.dark, out.backing);
  out.bright = share(facts.bright, out.backing);
  return out;
}

Comb comb(const PixelFacts& facts, int bit_depth) {
  constexpr double kFull = 100;  // pixels of a level that is certainly in use
  Comb worst;
  worst.levels = 65536;
  for (const auto& channel : facts.histogram) {
    const auto levels = static_cast<int>(
        std::count_if(channel.begin(), channel.end(), [](std::uint32_t n) { return n > 0; }));
    worst.levels = std::min(worst.levels, levels);
    // By the 256 levels of 8 bits, whether the file holds 8 or 16.
    std::vector<double> coarse(256, 0.0);
    for (int i = 0; i < 65536; ++i) coarse[(i + 128) / 257] += channel[i];
    const int low = std::max(1, percentile(coarse, 0.01));
    const int high = std::min(254, percentile(coarse, 0.99));
    int gaps = 0;
    for (int i = low; i <= high; ++i) {
      const double beside = std::min(coarse[i - 1], coarse[i + 1]);
      if (beside >= kFull && coarse[i] < 0.2 * beside) ++gaps;
    }
    if (high > low) worst.gaps = std::max(worst.gaps, gaps / static_cast<double>(high - low));
  }
  worst.sparse = bit_depth == 16 && worst.levels <= 256 &&
                 facts.mean.total() > 64;  // small pictures have few values anyway
  return worst;
}

double block_grid(const PixelFacts& facts) {
  double least = 1e9;  // blocks show both ways
  for (const auto& steps : facts.steps) {
    const auto top = std::max_element(steps.begin(), steps.end());
    const double others = (std::accumulate(steps.begin(), steps.end(), 0.0) - *top) / 7;
    least = std::min(least, others > 0 ? *top / others - 1 : 0);
  }
  return least;
}

std::optional<double> flat_noise(const PixelFacts& facts,
                                 const colour::Linearisation& linearisation) {
  // The flattest tenth holds little but noise; its upper end stands for it.
  constexpr double kFlattest = 0.1;
  constexpr std::size_t kLeastCells = 100;
  auto cells = open_cells(facts);
  if (cells.size() < kLeastCells) return std::nullopt;
  std::sort(cells.begin(), cells.end(),
            [](const auto& a, const auto& b) { return a.second < b.second; });
  cells.resize(static_cast<std::size_t>(kFlattest * static_cast<double>(cells.size())));
  std::vector<double> noise;
  for (const auto& [cell, ignored] : cells) {
    const cv::Vec3f mean = facts.mean.at<cv::Vec3f>(cell);
    const cv::Vec3f deviation = facts.deviation.at<cv::Vec3f>(cell);
    double variance = 0;  // channels err independently
    for (int c = 0; c < 3; ++c) {
      cv::Vec3f up = mean, down = mean;
      const float step = 0.005F;
      up[c] += step, down[c] -= step;
      const double slope = (lab_of(linearisation, up).L - lab_of(linearisation, down).L) /
                           (2.0 * static_cast<double>(step));
      variance += slope * slope * static_cast<double>(deviation[c] * deviation[c]);
    }
    noise.push_back(std::sqrt(variance));
  }
  return quantile(noise, 0.9);
}

std::optional<Slope> light_slope(const PixelFacts& facts,
                                 const colour::Linearisation& linearisation) {
  constexpr double kLeastSpan = 0.4;    // of the frame, either way
  constexpr double kLeastShare = 0.05;  // of the cells, for a colour to be an area
  constexpr float kFlat = 0.03F;        // deviation of pixels, encoded: noise and texture, no print
  constexpr double kHalfWidth = 6;      // L* about the area's own
  struct Sample {
    cv::Point cell;
    double x, y, lightness;
  };
  std::vector<Sample> samples;
  std::array<int, 104> by_lightness{};
  const auto cells = open_cells(facts);
  for (const auto& [cell, deviation] : cells) {
    if (deviation > kFlat) continue;
    const double L = lab_of(linearisation, facts.mean.at<cv::Vec3f>(cell)).L;
    samples.push_back(
        {cell, 2.0 * cell.x / facts.mean.cols - 1, 2.0 * cell.y / facts.mean.rows - 1, L});
    ++by_lightness[static_cast<std::size_t>(std::clamp(L, 0.0, 103.0))];
  }
  // The lightest colour that enough cells have, within a window of 4 L*.
  int window = 100;
  const auto in_window = [&](int first) {
    return std::accumulate(by_lightness.begin() + first, by_lightness.begin() + first + 4, 0);
  };
  while (window > 20 && in_window(window) < kLeastShare * static_cast<double>(cells.size())) {
    --window;
  }
  if (window <= 20) return std::nullopt;
  while (window > 20 && in_window(window - 1) > in_window(window)) --window;
  std::erase_if(samples,
                [&](const Sample& s) { return std::abs(s.lightness - window - 2) > kHalfWidth; });
  // Of those the largest piece: a white patch elsewhere has its own lightness.
  cv::Mat mask(facts.mean.size(), CV_8UC1, cv::Scalar(0));
  for (const Sample& s : samples) mask.at<std::uint8_t>(s.cell) = 255;
  const cv::Mat piece = largest_piece(mask);
  std::erase_if(samples, [&](const Sample& s) { return piece.at<std::uint8_t>(s.cell) == 0; });

  std::vector<double> xs, ys;
  for (const Sample& s : samples) xs.push_back(s.x), ys.push_back(s.y);
  if (samples.size() < 100) return std::nullopt;
  const double left = quantile(xs, 0.02), right = quantile(xs, 0.98);
  const double top = quantile(ys, 0.02), bottom = quantile(ys, 0.98);
  if (right - left < 2 * kLeastSpan || bottom - top < 2 * kLeastSpan) return std::nullopt;

  // ln Y as a polynomial of second order, by least squares that forgive stains and print (Tukey's
  // biweight at 4.685 robust standard deviations: Beaton and Tukey, Technometrics 16, 1974).
  const auto n = static_cast<Eigen::Index>(samples.size());
  Eigen::MatrixXd terms(n, 6);
  Eigen::VectorXd light(n), weights = Eigen::VectorXd::Ones(n), fit(6);
  for (Eigen::Index i = 0; i < n; ++i) {
    const Sample& s = samples[static_cast<std::size_t>(i)];
    terms.row(i) << 1, s.x, s.y, s.x * s.x, s.x * s.y, s.y * s.y;
    light[i] = std::log(to_xyz({s.lightness, 0, 0}).Y);
  }
  for (int round = 0; round < 8; ++round) {
    const Eigen::MatrixXd weighted = terms.array().colwise() * weights.array();
    fit = (weighted.transpose() * terms).ldlt().solve(weighted.transpose() * light);
    const Eigen::VectorXd residual = (light - terms * fit).cwiseAbs();
    std::vector<double> sizes(residual.data(), residual.data() + n);
    const double scale = std::max(1e-6, 4.685 * 1.4826 * quantile(sizes, 0.5));
    for (Eigen::Index i = 0; i < n; ++i) {
      const double u = residual[i] / scale;
      weights[i] = u < 1 ? (1 - u * u) * (1 - u * u) : 0;
    }
  }
  const auto ratio = [&](bool across) {
    double least = 1e9, most = -1e9;
    for (int k = 0; k <= 20; ++k) {
      const double x = across ? left + (right - left) * k / 20 : (left + right) / 2;
      const double y = across ? (top + bottom) / 2 : top + (bottom - top) * k / 20;
      Eigen::RowVectorXd at(6);
      at << 1, x, y, x * x, x * y, y * y;
      const double value = at.dot(fit);
      least = std::min(least, value), most = std::max(most, value);
    }
    return std::exp(most - least) - 1;
  };
  return Slope{ratio(true), ratio(false)};
}

}  // namespace inkwane::vet
