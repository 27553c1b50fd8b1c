#include "simulate/card.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <numbers>

#include <opencv2/imgproc.hpp>

#include "simulate/picture_file.hpp"
#include "simulate/random.hpp"
#include "simulate/scan.hpp"
#include "simulate/scanner.hpp"

namespace inkwane::simulate {
namespace {

/// Where the print lies on the page, and what of it matters here, mm.
constexpr double kPrintTop = 14, kPrintWidth = 180;

/// An office printer's black toner on bright paper: spectra invented, near enough to grey.
Spectrum bare_paper() {
  Spectrum paper{};
  for (int i = 0; i < kBands; ++i) paper[i] = 0.86 - 0.05 * std::exp(-(band_nm(i) - 400) / 40);
  return paper;
}
Spectrum full_black() {
  Spectrum black{};
  for (int i = 0; i < kBands; ++i) black[i] = 0.035 + 0.01 * (band_nm(i) - 400) / 300;
  return black;
}

/// A tint by Yule and Nielsen with n = 2: √R mixes by area.
std::array<float, 3> tint(double coverage) {
  const Spectrum paper = bare_paper(), black = full_black();
  Spectrum mixed{};
  for (int i = 0; i < kBands; ++i) {
    const double root = (1 - coverage) * std::sqrt(paper[i]) + coverage * std::sqrt(black[i]);
    mixed[i] = root * root;
  }
  return seen_by_sensor(mixed);
}

/// A turned box or a disc of one tint; later ones lie over earlier ones.
struct Shape {
  cv::Point2d centre;
  double half_width = 0, half_height = 0;  // 0 height: a disc of that radius
  double cos = 1, sin = 0;                 // of its turn
  double reach = 0;                        // nothing of it lies farther from its centre
  std::array<float, 3> light{};
};

class CardDrawing {
 public:
  explicit CardDrawing(const CardPrint& print) {
    const auto black = tint(1), white = tint(0);
    // Fields: black, white / white, black, 90 by 80 mm each, below a strip of 14 mm.
    box({45, 54}, 45, 40, 0, black);
    box({135, 134}, 45, 40, 0, black);
    // Chips of 10 mm, 25 mm apart: W bare, G and D tints; three in each of two rows a field.
    const char* order[4] = {"WGDDWG", "DGWGWD", "WGDDWG", "DGWGWD"};
    Random random(print.seed, 11);
    int index = 0;
    for (int field = 0; field < 4; ++field) {
      const double left = field % 2 == 0 ? 0 : 90, top = field < 2 ? 14 : 94;
      for (int k = 0; k < 6; ++k, ++index) {
        const char kind = order[field][k];
        const double x = left + 20 + 25 * (k % 3), y = top + (k < 3 ? 20 : 60);
        auto light = tint(kind == 'W' ? 0 : kind == 'G' ? 0.45 : 0.8);
        // Bare paper is not printed, so it differs only by the paper's texture.
        const double spread = kind == 'W' ? 0 : print.unlike;
        const double factor = 1 + spread * static_cast<double>(random.normal()) -
                              (index == print.smudged_chip ? print.smudge : 0);
        for (float& v : light) v *= static_cast<float>(factor);
        const bool on_white = field == 1 || field == 2;
        if (kind == 'W' && on_white && index != print.smudged_chip) continue;
        box({x, y}, 5, 5, 0, light);
      }
    }
    const cv::Point2d marks[4] = {{7, 7}, {173, 7}, {173, 181}, {7, 181}};
    for (int i = 0; i < 4; ++i) {
      disc(marks[i], 4.5, black);
      disc(marks[i], i == 0 ? 2.6 : 3.4, white);
      disc(marks[i], i == 0 ? 1.2 : 1.8, black);
    }
    const double turns[3] = {5, -5, 9};
    for (int i = 0; i < 3; ++i) {
      box({50.0 + 40 * i, 181}, 4.5, 4.5, turns[i] * std::numbers::pi / 180, black);
    }
  }

  /// Light at a place of the print for cells of `pitch` mm.
  void paint(cv::Point2d mm, double pitch, float* rgb) const {
    for (const Shape& shape : shapes_) {
      const cv::Point2d off = mm - shape.centre;
      if (std::max(std::abs(off.x), std::abs(off.y)) > shape.reach + pitch) continue;
      double inside;  // depth below the edge
      if (shape.half_height == 0) {
        inside = shape.half_width - std::hypot(off.x, off.y);
      } else {
        inside = std::min(shape.half_width - std::abs(shape.cos * off.x + shape.sin * off.y),
                          shape.half_height - std::abs(shape.cos * off.y - shape.sin * off.x));
      }
      if (inside < -pitch) continue;
      const auto share = static_cast<float>(std::clamp(inside / pitch + 0.5, 0.0, 1.0));
      for (int c = 0; c < 3; ++c) rgb[c] += share * (shape.light[c] - rgb[c]);
    }
  }

 private:
  void box(cv::Point2d centre, double half_width, double half_height, double turn,
           const std::array<float, 3>& light) {
    shapes_.push_back({centre, half_width, half_height, std::cos(turn), std::sin(turn),
                       std::hypot(half_width, half_height), light});
  }
  void disc(cv::Point2d centre, double radius, const std::array<float, 3>& light) {
    shapes_.push_back({centre, radius, 0, 1, 0, radius, light});
  }
  std::vector<Shape> shapes_;
};

cv::Mat paper_texture(const CardPrint& print, const cv::Size& size) {
  cv::Mat texture(size, CV_32FC1);
  for (int j = 0; j < size.height; ++j) {
    Random random(print.seed, 12, static_cast<std::uint64_t>(j));
    for (int i = 0; i < size.width; ++i) texture.at<float>(j, i) = random.normal();
  }
  cv::GaussianBlur(texture, texture, {}, 1, 1, cv::BORDER_REPLICATE);
  const double rms = cv::norm(texture) / std::sqrt(static_cast<double>(texture.total()));
  return texture * (print.texture / rms) + 1;
}

}  // namespace

cv::Mat card_light(const CardPrint& print, const Scanner& scanner) {
  constexpr double kTextureMm = 2;
  const CardDrawing drawing(print);
  const double pixel = 25.4 / scanner.dpi;
  const int over = std::max(2, static_cast<int>(std::ceil(pixel / 0.04)));
  const double fine = pixel / over;
  // A quarter turn lies on the bed the other way round.
  const bool across = std::abs(std::remainder(print.turn_deg, 180.0)) > 45;
  const cv::Size2d bed =
      across ? cv::Size2d(print.bed_mm.height, print.bed_mm.width) : print.bed_mm;
  const cv::Size size(static_cast<int>(bed.width / pixel), static_cast<int>(bed.height / pixel));
  const double sigma = scanner.point_spread_mm / fine;
  const int halo = static_cast<int>(std::ceil(4 * sigma)) + 1;
  const cv::Mat texture =
      paper_texture(print, cv::Size(cvCeil(print.page_mm.width / kTextureMm) + 2,
                                    cvCeil(print.page_mm.height / kTextureMm) + 2));
  Spectrum flat{};
  flat.fill(print.dark_backing ? 0.035 : 0.88);
  const auto backing = seen_by_sensor(flat), paper = tint(0);
  const double angle = print.turn_deg * std::numbers::pi / 180;
  const double cos = std::cos(angle), sin = std::sin(angle);
  const cv::Point2d middle(bed.width / 2 + print.shift_x_mm, bed.height / 2 + print.shift_y_mm);

  cv::Mat light(size, CV_32FC3);
  constexpr int kStrip = 64;
  const int strips = (size.height + kStrip - 1) / kStrip;
  cv::parallel_for_({0, strips}, [&](const cv::Range& range) {
    for (int strip = range.start; strip < range.end; ++strip) {
      const int first = strip * kStrip, rows = std::min(kStrip, size.height - first);
      cv::Mat picture(rows * over + 2 * halo, size.width * over + 2 * halo, CV_32FC3);
      for (int j = 0; j < picture.rows; ++j) {
        for (int i = 0; i < picture.cols; ++i) {
          float* rgb = picture.ptr<float>(j) + 3 * i;
          const cv::Point2d on_bed((i - halo + 0.5) * fine, (first * over + j - halo + 0.5) * fine);
          const cv::Point2d off = on_bed - middle;
          cv::Point2d page(cos * off.x + sin * off.y, cos * off.y - sin * off.x);
          if (print.mirrored) page.x = -page.x;
          page += cv::Point2d(print.page_mm.width / 2, print.page_mm.height / 2);
          const bool on_page = page.x >= 0 && page.y >= 0 && page.x < print.page_mm.width &&
                               page.y < print.page_mm.height;
          for (int c = 0; c < 3; ++c) rgb[c] = on_page ? paper[c] : backing[c];
          if (!on_page) continue;
          const cv::Point2d mm =
              (page -
               cv::Point2d((print.page_mm.width - kPrintWidth * print.scale) / 2, kPrintTop)) /
              print.scale;
          drawing.paint(mm, fine, rgb);
          const float grain = texture.at<float>(static_cast<int>(page.y / kTextureMm),
                                                static_cast<int>(page.x / kTextureMm));
          for (int c = 0; c < 3; ++c) rgb[c] *= grain;
        }
      }
      if (sigma > 0) cv::GaussianBlur(picture, picture, {}, sigma, sigma, cv::BORDER_REPLICATE);
      const cv::Mat core = picture(cv::Rect(halo, halo, size.width * over, rows * over));
      cv::resize(core, light.rowRange(first, first + rows), {size.width, rows}, 0, 0,
                 cv::INTER_AREA);
    }
  });
  return light;
}

void write_card_scan(const CardPrint& print, const Scanner& scanner,
                     const std::filesystem::path& file) {
  Scene scene;
  scene.seed = print.seed;
  scene.scanner = scanner;
  ScanState state;
  state.tone = scanner.tone;
  const cv::Mat encoded = record(card_light(print, scanner), scene, state);
  write_tiff(file, encoded, scanner.bit_depth, scanner.dpi,
             scanner.embed_profile ? scanner_profile(scene) : std::vector<std::uint8_t>{});
}

}  // namespace inkwane::simulate
