#include "simulate/scan.hpp"

#include <algorithm>
#include <cmath>

#include <opencv2/imgproc.hpp>

#include "simulate/scanner.hpp"

namespace inkwane::simulate {
namespace {

constexpr int kStripRows = 64;  // scan rows composed at a time
constexpr int kNodeStep = 8;    // places on the sheet are worked out every so many fine pixels

Spectrum flat(double reflectance) {
  Spectrum result{};
  result.fill(reflectance);
  return result;
}

/// A brownish stain over a patch, about ΔE00 8 on a middle tone.
Spectrum soiled(Spectrum patch) {
  for (int i = 0; i < kBands; ++i) patch[i] *= 0.86 - 0.26 * std::exp(-(band_nm(i) - 400) / 80);
  return patch;
}

/// Catmull–Rom weights of four neighbours.
std::array<float, 4> cubic(float t) {
  const float t2 = t * t, t3 = t2 * t;
  return {-0.5F * t3 + t2 - 0.5F * t, 1.5F * t3 - 2.5F * t2 + 1, -1.5F * t3 + 2 * t2 + 0.5F * t,
          0.5F * t3 - 0.5F * t2};
}

/// The target's card as the sensor sees it.
class Card {
 public:
  Card(const Scene& scene, const Placement& placement, const std::vector<Patch>& chart)
      : placement_(placement), layout_(placement.chart()) {
    constexpr double kDark = 0.045, kGrey = 0.18;
    ground_ = seen_by_sensor(flat(scene.target_on_grey ? kGrey : kDark));
    for (std::size_t i = 0; i < chart.size(); ++i) {
      const bool stained = static_cast<int>(i) == scene.soiled_patch;
      patches_.push_back(
          seen_by_sensor(stained ? soiled(chart[i].reflectance) : chart[i].reflectance));
    }
    const double w = layout_.width_mm(), h = layout_.height_mm();
    for (const cv::Point2d& corner :
         {cv::Point2d(0, 0), cv::Point2d(w, 0), cv::Point2d(w, h), cv::Point2d(0, h)}) {
      const cv::Point2d bed = placement.card_to_bed(corner);
      low_ = {std::min(low_.x, bed.x), std::min(low_.y, bed.y)};
      high_ = {std::max(high_.x, bed.x), std::max(high_.y, bed.y)};
    }
  }

  /// Paints what of the card covers a fine pixel of width `pitch`.
  void paint(cv::Point2d bed, double pitch, float* rgb) const {
    if (bed.x < low_.x || bed.x > high_.x || bed.y < low_.y || bed.y > high_.y) return;
    const cv::Point2d mm = placement_.bed_to_card(bed);
    mix(edge(mm.x, layout_.width_mm(), pitch) * edge(mm.y, layout_.height_mm(), pitch), ground_,
        rgb);
    const double step = layout_.patch_mm + layout_.gap_mm;
    const double x = mm.x - layout_.border_mm, y = mm.y - layout_.border_mm;
    const int column = static_cast<int>(std::floor((x + layout_.gap_mm / 2) / step));
    const int row = static_cast<int>(std::floor((y + layout_.gap_mm / 2) / step));
    if (column < 0 || row < 0 || column >= layout_.columns || row >= layout_.rows) return;
    const double share = edge(x - column * step, layout_.patch_mm, pitch) *
                         edge(y - row * step, layout_.patch_mm, pitch);
    mix(share, patches_[static_cast<std::size_t>(row) * layout_.columns + column], rgb);
  }

 private:
  /// Soft edges of a length that begins at 0.
  static double edge(double at, double length, double pitch) {
    return std::clamp(at / pitch + 0.5, 0.0, 1.0) *
           std::clamp((length - at) / pitch + 0.5, 0.0, 1.0);
  }
  static void mix(double share, const std::array<float, 3>& colour, float* rgb) {
    for (int c = 0; c < 3; ++c) rgb[c] += static_cast<float>(share) * (colour[c] - rgb[c]);
  }

  const Placement& placement_;
  ChartLayout layout_;
  std::array<float, 3> ground_{};
  std::vector<std::array<float, 3>> patches_;
  cv::Point2d low_{1e9, 1e9}, high_{-1e9, -1e9};
};

/// Places on the sheet's raster (pixels) of every eighth fine pixel, CV_32FC2.
cv::Mat raster_places(const Placement& placement, const SheetRaster& sheet, cv::Point first,
                      cv::Size size, double fine_mm) {
  cv::Mat nodes((size.height - 1) / kNodeStep + 2, (size.width - 1) / kNodeStep + 2, CV_32FC2);
  for (int j = 0; j < nodes.rows; ++j) {
    for (int i = 0; i < nodes.cols; ++i) {
      const cv::Point2d bed((first.x + i * kNodeStep + 0.5) * fine_mm,
                            (first.y + j * kNodeStep + 0.5) * fine_mm);
      nodes.at<cv::Point2f>(j, i) =
          (placement.to_sheet(bed) - sheet.origin_mm()) / sheet.pitch_mm() - cv::Point2d(0.5, 0.5);
    }
  }
  return nodes;
}

}  // namespace

std::array<float, 3> seen_by_sensor(const Spectrum& reflectance) {
  std::array<float, 3> rgb{};
  for (int c = 0; c < 3; ++c) {
    double sum = 0;
    for (int i = 0; i < kBands; ++i) sum += sensor_weights()[c][i] * reflectance[i];
    rgb[c] = static_cast<float>(sum);
  }
  return rgb;
}

Spectrum backing_reflectance(const Scene& scene) {
  return flat(scene.dark_backing ? 0.035 : 0.88);
}

cv::Mat look(const Scene& scene, const Placement& placement, const std::vector<Patch>& chart,
             SheetRaster& sheet) {
  const double pixel_mm = 25.4 / scene.scanner.dpi;
  const int over =
      std::max(2, static_cast<int>(std::ceil(pixel_mm / 0.05)));  // fine pixels a pixel
  const double fine_mm = pixel_mm / over;
  const double sigma = scene.scanner.point_spread_mm / fine_mm;
  const int halo = static_cast<int>(std::ceil(4 * sigma)) + 1;
  const cv::Size size = placement.scan_size();
  const int columns = size.width * over + 2 * halo;
  const std::array<float, 3> backing = seen_by_sensor(backing_reflectance(scene));
  const Card card(scene, placement, chart);
  cv::Mat light(size, CV_32FC3);

  for (int first = 0; first < size.height; first += kStripRows) {
    const int strip_rows = std::min(kStripRows, size.height - first);
    const int rows = strip_rows * over + 2 * halo;
    const int first_fine = first * over - halo;
    const cv::Mat nodes =
        raster_places(placement, sheet, {-halo, first_fine}, {columns, rows}, fine_mm);
    std::vector<cv::Mat> axes;
    cv::split(nodes, axes);
    double top = 0, bottom = 0;
    cv::minMaxLoc(axes[1], &top, &bottom);
    sheet.need(std::clamp(static_cast<int>(top) - 4, 0, sheet.size().height),
               std::clamp(static_cast<int>(bottom) + 5, 0, sheet.size().height));

    cv::Mat fine(rows, columns, CV_32FC3);
    cv::parallel_for_({0, rows}, [&](const cv::Range& range) {
      for (int j = range.start; j < range.end; ++j) {
        auto* out = fine.ptr<float>(j);
        const int nj = j / kNodeStep;
        const float tj = static_cast<float>(j % kNodeStep) / kNodeStep;
        const auto* low = nodes.ptr<cv::Point2f>(nj);
        const auto* high = nodes.ptr<cv::Point2f>(nj + 1);
        for (int i = 0; i < columns; ++i, out += 3) {
          const int ni = i / kNodeStep;
          const float ti = static_cast<float>(i % kNodeStep) / kNodeStep;
          const cv::Point2f left = low[ni] + tj * (high[ni] - low[ni]);
          const cv::Point2f right = low[ni + 1] + tj * (high[ni + 1] - low[ni + 1]);
          const cv::Point2f at = left + ti * (right - left);
          const int x = static_cast<int>(std::floor(at.x)), y = static_cast<int>(std::floor(at.y));
          if (x < 1 || y < 1 || x + 2 >= sheet.size().width || y + 2 >= sheet.size().height) {
            for (int c = 0; c < 3; ++c) out[c] = backing[c];
            const cv::Point2d bed((i - halo + 0.5) * fine_mm, (first_fine + j + 0.5) * fine_mm);
            if (scene.target) card.paint(bed, fine_mm, out);
            continue;
          }
          const auto wx = cubic(at.x - static_cast<float>(x)),
                     wy = cubic(at.y - static_cast<float>(y));
          float sum[3] = {};
          for (int dy = 0; dy < 4; ++dy) {
            const float* row = sheet.row(y - 1 + dy) + 3 * (x - 1);
            for (int c = 0; c < 3; ++c) {
              sum[c] += wy[dy] * (wx[0] * row[c] + wx[1] * row[3 + c] + wx[2] * row[6 + c] +
                                  wx[3] * row[9 + c]);
            }
          }
          for (int c = 0; c < 3; ++c) out[c] = std::max(0.0F, sum[c]);
        }
      }
    });
    if (sigma > 0) cv::GaussianBlur(fine, fine, {}, sigma, sigma, cv::BORDER_REPLICATE);
    const cv::Mat inner = fine(cv::Rect(halo, halo, size.width * over, strip_rows * over));
    cv::resize(inner, light.rowRange(first, first + strip_rows), {size.width, strip_rows}, 0, 0,
               cv::INTER_AREA);
  }
  sheet.finish();
  return light;
}

}  // namespace inkwane::simulate
