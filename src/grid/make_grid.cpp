#include <algorithm>
#include <cmath>

#include <opencv2/core/hal/intrin.hpp>
#include <opencv2/imgproc.hpp>

#include "grid/grid.hpp"
#include "grid/window.hpp"

namespace inkwane::grid {
namespace {

// Alignment needs finer detail than colour: 0.2 mm still averages the dots of a 133-lpi screen, yet
// keeps the edges of type. Never finer than two cells or 1.4 pixels, where sampling would alias.
constexpr double kStructureFwhmMm = 0.2;
constexpr double kLeastFwhmCells = 2.0;
constexpr double kLeastFwhmPx = 1.4;

// A cell's mean is spoilt where more than this share of its aperture was clipped: at white, 5 % of
// pixels cut by 5 % of their light shift the mean by 0.25 %, or 0.1 L*.
constexpr double kClippedShare = 0.05;

/// Averages rows of pixels onto the cells as they arrive.
class Averager {
 public:
  Averager(const Geometry& geometry, const cv::Size& scan, double fwhm_px)
      : geometry_(geometry),
        columns_(make_windows(geometry.columns, geometry.origin_px.x, geometry.pitch_px,
                              sigma_of_fwhm(fwhm_px), scan.width)),
        rows_(make_windows(geometry.rows, geometry.origin_px.y, geometry.pitch_px,
                           sigma_of_fwhm(fwhm_px), scan.height)),
        light_(geometry.size(), CV_32FC3, cv::Scalar::all(0)),
        clipped_px_(geometry.size(), CV_32FC1, cv::Scalar::all(0)),
        line_(3 * static_cast<std::size_t>(geometry.columns) + 1) {}

  /// The light of a row of pixels, R G B interleaved; one more float after its end is read, and has
  /// no weight.
  void add_light(int row, const float* pixels) {
    while (first_open_ < geometry_.rows && last_row(first_open_) < row) ++first_open_;
    if (first_open_ == geometry_.rows || rows_[first_open_].first > row) return;
    // A pixel's three channels, and the next one's first, go as one vector.
    float* line = line_.data();
    for (const Window& window : columns_) {
      cv::v_float32x4 sum = cv::v_setzero_f32();
      const float* pixel = pixels + 3 * static_cast<std::ptrdiff_t>(window.first);
      for (const float weight : window.weights) {
        sum += cv::v_setall_f32(weight) * cv::v_load(pixel);
        pixel += 3;
      }
      cv::v_store(line, sum);  // the fourth is overwritten by the next cell
      line += 3;
    }
    for (int j = first_open_; j < geometry_.rows && rows_[j].first <= row; ++j) {
      if (last_row(j) < row) continue;
      const float weight = rows_[j].weights[static_cast<std::size_t>(row - rows_[j].first)];
      auto* cells = light_.ptr<float>(j);
      const float* values = line_.data();
      for (int i = 0; i < 3 * geometry_.columns; ++i) cells[i] += weight * values[i];
    }
  }

  /// Counts the row's pixels at either end of the scale. There are few: blocks without are passed
  /// over.
  void add_clipped(int row, const std::uint16_t* values, int width) {
    constexpr int kBlock = 64;  // pixels
    const int j = std::clamp(cell_of(row, geometry_.origin_px.y), 0, geometry_.rows - 1);
    auto* cells = clipped_px_.ptr<float>(j);
    for (int x = 0; x < width; x += kBlock) {
      const int end = std::min(x + kBlock, width);
      unsigned some = 0;
      for (int i = 3 * x; i < 3 * end; ++i) some |= is_clipped(values[i]);
      if (some == 0) continue;
      for (int at = x; at < end; ++at) {
        const std::uint16_t* p = values + 3 * static_cast<std::ptrdiff_t>(at);
        if ((is_clipped(p[0]) | is_clipped(p[1]) | is_clipped(p[2])) != 0)
          cells[std::clamp(cell_of(at, geometry_.origin_px.x), 0, geometry_.columns - 1)] += 1;
      }
    }
  }

  [[nodiscard]] cv::Mat& light() { return light_; }

  /// Share of clipped pixels in a square of this side around each cell.
  [[nodiscard]] cv::Mat clipped_share(double side_px) const {
    const int cells = std::max(1, static_cast<int>(std::lround(side_px / geometry_.pitch_px)));
    cv::Mat sum;
    cv::boxFilter(clipped_px_, sum, CV_32F, {cells, cells}, {-1, -1}, false, cv::BORDER_REPLICATE);
    return sum / (cells * cells * geometry_.pitch_px * geometry_.pitch_px);
  }

 private:
  /// 0 and 65535 alike: one less, the lowest bit aside, both are all ones.
  static unsigned is_clipped(std::uint16_t value) {
    return static_cast<std::uint16_t>((value - 1) | 1) == 0xFFFF ? 1 : 0;
  }
  [[nodiscard]] int cell_of(int pixel, double origin) const {
    return static_cast<int>(std::lround((pixel - origin) / geometry_.pitch_px));
  }
  [[nodiscard]] int last_row(int j) const {
    return rows_[j].first + static_cast<int>(rows_[j].weights.size()) - 1;
  }

  Geometry geometry_;
  std::vector<Window> columns_, rows_;
  cv::Mat light_, clipped_px_;
  std::vector<float> line_;  // one row of pixels on the columns of cells
  int first_open_ = 0;       // cells above have all their rows
};

/// A lightness-like signal: the cube root of the channels' mean, which spreads the darks.
cv::Mat structure_of(const cv::Mat& light) {
  cv::Mat structure(light.size(), CV_32FC1);
  for (int j = 0; j < light.rows; ++j) {
    const auto* in = light.ptr<cv::Vec3f>(j);
    auto* out = structure.ptr<float>(j);
    for (int i = 0; i < light.cols; ++i) {
      out[i] = std::cbrt(std::max(0.0F, 0.25F * in[i][0] + 0.5F * in[i][1] + 0.25F * in[i][2]));
    }
  }
  return structure;
}

cv::Mat card_mask(const std::vector<Point>& card, const Geometry& geometry) {
  cv::Mat mask(geometry.size(), CV_8UC1, cv::Scalar(0));
  if (card.empty()) return mask;
  std::vector<cv::Point> cells;
  for (const Point& px : card) {
    const Point cell = geometry.to_cell(px);
    cells.emplace_back(cv::saturate_cast<int>(cell.x), cv::saturate_cast<int>(cell.y));
  }
  cv::fillPoly(mask, std::vector<std::vector<cv::Point>>{cells}, cv::Scalar(255));
  return mask;
}

}  // namespace

Grid make_grid(const scan::Scan& scan, const target::ScanColour& colour, const Geometry& geometry,
               double aperture_mm, const std::vector<Point>& card,
               const scanner::StrayLightEstimate& stray_light) {
  const double px_per_mm = geometry.pitch_px / geometry.pitch_mm;
  const double fine_mm = std::min(
      aperture_mm,
      std::max({kStructureFwhmMm, kLeastFwhmCells * geometry.pitch_mm, kLeastFwhmPx / px_per_mm}));

  Averager averager(geometry, {scan.info().width_px, scan.info().height_px}, fine_mm * px_per_mm);
  // Row by row, so that its light is still in the nearest cache when it is averaged.
  cv::Mat line(1, scan.info().width_px + 1, CV_32FC3, cv::Scalar::all(0));
  cv::Mat light = line.colRange(0, scan.info().width_px);
  scan.read([&](int first_row, const cv::Mat& strip) {
    for (int y = 0; y < strip.rows; ++y) {
      colour.linearise(strip.row(y), light);
      averager.add_light(first_row + y, line.ptr<float>());
      averager.add_clipped(first_row + y, strip.ptr<std::uint16_t>(y), strip.cols);
    }
  });

  Grid grid;
  grid.geometry = geometry;
  grid.structure = structure_of(averager.light());
  // Gaussians add in variance: what the fine window lacks of the aperture is done on the cells.
  const double rest_cells =
      sigma_of_fwhm(std::sqrt(aperture_mm * aperture_mm - fine_mm * fine_mm)) / geometry.pitch_mm;
  if (rest_cells > 0) {
    cv::GaussianBlur(averager.light(), grid.light, {}, rest_cells, rest_cells,
                     cv::BORDER_REPLICATE);
  } else {
    grid.light = averager.light();
  }
  grid.stray_light.emplace(
      scanner::coarse_light({grid.light, geometry.pitch_mm, geometry.pitch_px, geometry.origin_px}),
      stray_light);
  grid.stray_light->remove(grid.light, geometry.origin_px, geometry.pitch_px);
  colour.to_xyz(grid.light, grid.xyz);
  grid.clipped = averager.clipped_share(aperture_mm * px_per_mm) > kClippedShare;
  grid.target = card_mask(card, geometry);
  return grid;
}

}  // namespace inkwane::grid
