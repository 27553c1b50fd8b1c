#include "made_sheet.hpp"

#include <algorithm>
#include <cmath>

#include <opencv2/imgproc.hpp>

#include <inkwane/colour.hpp>

namespace inkwane::made {
namespace {

/// Density (natural logarithm) of a full layer of each ink in red, green and blue light.
const double kDensity[4][3] = {
    {2.5, 2.5, 2.4}, {0.15, 1.6, 1.5}, {1.9, 1.0, 0.25}, {0.05, 0.2, 1.7}};

cv::Scalar full() {
  return cv::Scalar(1);
}

class Drawing {
 public:
  Drawing(Sheet& sheet, std::uint64_t seed) : sheet_(sheet), rng_(seed * 7919 + 17) {}

  cv::Point at(double x_mm, double y_mm) const {
    return {cvRound(x_mm / Sheet::kPitchMm), cvRound(y_mm / Sheet::kPitchMm)};
  }
  int px(double mm) const { return std::max(1, cvRound(mm / Sheet::kPitchMm)); }
  double any(double low, double high) { return rng_.uniform(low, high); }
  int which(int low, int high) { return rng_.uniform(low, high); }
  cv::Mat& ink(int i) { return sheet_.inks[static_cast<std::size_t>(i)]; }

  void text(int ink_index, double x_mm, double y_mm, double height_mm, int letters) {
    std::string words;
    for (int i = 0; i < letters; ++i)
      words += static_cast<char>(which(0, 7) == 0 ? ' ' : 'a' + which(0, 26));
    const double scale = height_mm / Sheet::kPitchMm / 22;
    cv::putText(ink(ink_index), words, at(x_mm, y_mm), cv::FONT_HERSHEY_COMPLEX, scale, full(),
                px(height_mm / 9), cv::LINE_AA);
  }

  std::vector<cv::Point> blob(double x, double y, double radius) {
    std::vector<cv::Point> outline;
    const int corners = which(5, 14);
    for (int i = 0; i < corners; ++i) {
      const double r = radius * any(0.5, 1.1), t = 2 * CV_PI * i / corners;
      outline.push_back(at(x + r * std::cos(t), y + r * std::sin(t)));
    }
    return outline;
  }

 private:
  Sheet& sheet_;
  cv::RNG rng_;
};

cv::Mat fibres(cv::Size size, std::uint64_t seed) {
  cv::Mat noise(size, CV_32F), fine;
  cv::RNG rng(seed * 31 + 5);
  rng.fill(noise, cv::RNG::NORMAL, 0, 1);
  cv::GaussianBlur(noise, fine, {}, 3, 3);
  cv::Scalar mean, deviation;
  cv::meanStdDev(fine, mean, deviation);
  return 1 + 0.01 / deviation[0] * fine;
}

Sheet empty(double width_mm, double height_mm, std::uint64_t seed) {
  Sheet sheet;
  sheet.width_mm = width_mm;
  sheet.height_mm = height_mm;
  const cv::Size size(cvRound(width_mm / Sheet::kPitchMm), cvRound(height_mm / Sheet::kPitchMm));
  for (int i = 0; i < 4; ++i) sheet.inks.emplace_back(size, CV_32F, cv::Scalar(0));
  sheet.fibres = fibres(size, seed);
  return sheet;
}

}  // namespace

Sheet draw_sheet(double width_mm, double height_mm, std::uint64_t layout, std::uint64_t picture) {
  Sheet sheet = empty(width_mm, height_mm, picture + 100);
  Drawing shared(sheet, layout), own(sheet, picture);
  const double w = width_mm, h = height_mm;

  // Picture: blobs of colour, some outlined, some screened, some hatched.
  const int blobs = static_cast<int>(w * h / 60);
  for (int i = 0; i < blobs; ++i) {
    const double x = own.any(7, w - 7), y = own.any(14, 0.75 * h), r = own.any(1.5, 7);
    const auto outline = own.blob(x, y, r);
    const int ink = own.which(1, 4);
    cv::Mat area(sheet.fibres.size(), CV_8U, cv::Scalar(0));
    cv::fillPoly(area, std::vector{outline}, cv::Scalar(255), cv::LINE_8);
    switch (own.which(0, 4)) {
      case 0:
      case 1:
        sheet.inks[static_cast<std::size_t>(ink)].setTo(own.any(0.5, 1), area);
        break;
      case 2: {  // a screen of 65 lines an inch at 45°
        const double k = 2 * CV_PI * 65 / 25.4 * Sheet::kPitchMm / std::sqrt(2.0);
        const cv::Rect box = cv::boundingRect(outline) & cv::Rect({}, area.size());
        for (int row = box.y; row < box.y + box.height; ++row) {
          for (int column = box.x; column < box.x + box.width; ++column) {
            if (area.at<uchar>(row, column) == 0) continue;
            const double dots = std::cos(k * (column + row)) + std::cos(k * (column - row));
            sheet.inks[static_cast<std::size_t>(ink)].at<float>(row, column) =
                dots > 0.4 ? 1.0F : 0.0F;
          }
        }
        break;
      }
      default: {
        cv::Mat lines(area.size(), CV_32F, cv::Scalar(0));
        for (double t = -r; t < r; t += 0.9) {
          cv::line(lines, own.at(x + t - r, y + r), own.at(x + t + r, y - r), full(), own.px(0.25),
                   cv::LINE_AA);
        }
        lines.copyTo(sheet.inks[0], area);
      }
    }
    if (own.which(0, 2) == 0)
      cv::polylines(sheet.inks[0], outline, true, full(), own.px(0.35), cv::LINE_AA);
  }
  for (double y = 0.79 * h; y < h - 7; y += 3.2)
    own.text(0, 7, y, 1.6, static_cast<int>((w - 14) / 1.5));

  cv::rectangle(sheet.inks[0], shared.at(5, 5), shared.at(w - 5, h - 5), full(), shared.px(0.6),
                cv::LINE_AA);
  shared.text(1, 9, 11, 4, static_cast<int>((w - 18) / 3.8));
  return sheet;
}

Sheet bare_sheet(double width_mm, double height_mm, std::uint64_t seed) {
  return empty(width_mm, height_mm, seed);
}

cv::Point2d Lay::cockle(cv::Point2d b) const {
  if (cockle_mm == 0) return {0, 0};
  const double phase = 0.7 * static_cast<double>(seed);
  const auto wave = [&](double length, double x, double shift) {
    return std::sin(2 * CV_PI * x / length + shift + phase);
  };
  // Waves of 27 to 61 mm; weights sum to 1 a component.
  return {cockle_mm / std::sqrt(2.0) *
              (0.6 * wave(43, b.x + 0.4 * b.y, 0.3) + 0.4 * wave(27, b.y - 0.3 * b.x, 1.1)),
          cockle_mm / std::sqrt(2.0) *
              (0.6 * wave(61, b.y + 0.5 * b.x, 2.2) + 0.4 * wave(31, b.x - 0.2 * b.y, 0.6))};
}

cv::Point2d Lay::to_sheet(cv::Point2d bed) const {
  const double c = std::cos(tilt_degrees * CV_PI / 180), s = std::sin(tilt_degrees * CV_PI / 180);
  const cv::Point2d d = bed - cv::Point2d(shift_mm[0], shift_mm[1]);
  return cv::Point2d((c * d.x + s * d.y) / stretch_x, (-s * d.x + c * d.y) / stretch_y) +
         cockle(bed);
}

cv::Point2d Lay::to_bed(cv::Point2d sheet) const {
  const double c = std::cos(tilt_degrees * CV_PI / 180), s = std::sin(tilt_degrees * CV_PI / 180);
  cv::Point2d bed(0, 0);
  for (int round = 0; round < 30; ++round) {
    const cv::Point2d p = sheet - cockle(bed);
    const double x = p.x * stretch_x, y = p.y * stretch_y;
    bed = {shift_mm[0] + c * x - s * y, shift_mm[1] + s * x + c * y};
  }
  return bed;
}

grid::Grid grid_of(const cv::Mat& light, double pitch_mm) {
  grid::Grid grid;
  grid.geometry.pitch_mm = pitch_mm;
  grid.geometry.pitch_px = 1;
  grid.geometry.columns = light.cols;
  grid.geometry.rows = light.rows;
  // Full width at half maximum of 0.5 mm for colour, of 0.15 mm for structure.
  const double wide = 0.5 / 2.355 / pitch_mm, narrow = 0.15 / 2.355 / pitch_mm;
  cv::GaussianBlur(light, grid.light, {}, wide, wide, cv::BORDER_REPLICATE);
  cv::Mat fine;
  cv::GaussianBlur(light, fine, {}, narrow, narrow, cv::BORDER_REPLICATE);
  grid.xyz.create(light.size(), CV_32FC3);
  grid.structure.create(light.size(), CV_32F);
  // Linear sRGB to XYZ, adapted to D50 (values of the ICC's sRGB profile, from memory).
  const cv::Matx33f m(0.4361F, 0.3851F, 0.1431F, 0.2225F, 0.7169F, 0.0606F, 0.0139F, 0.0971F,
                      0.7141F);
  for (int row = 0; row < light.rows; ++row) {
    for (int column = 0; column < light.cols; ++column) {
      grid.xyz.at<cv::Vec3f>(row, column) = m * grid.light.at<cv::Vec3f>(row, column);
      const double y = static_cast<double>((m * fine.at<cv::Vec3f>(row, column))[1]);
      grid.structure.at<float>(row, column) = static_cast<float>(to_lab({0, y, 0}).L / 100);
    }
  }
  grid.clipped = cv::Mat(light.size(), CV_8U, cv::Scalar(0));
  grid.target = cv::Mat(light.size(), CV_8U, cv::Scalar(0));
  return grid;
}

cv::Mat shine_through(const Behind& behind) {
  const Sheet& sheet = *behind.sheet;
  cv::Mat absorbed(sheet.fibres.size(), CV_32F), turned;
  for (int row = 0; row < absorbed.rows; ++row) {
    for (int column = 0; column < absorbed.cols; ++column) {
      double density = 0;
      for (std::size_t ink = 0; ink < sheet.inks.size(); ++ink) {
        density += static_cast<double>(sheet.inks[ink].at<float>(row, column)) * kDensity[ink][1];
      }
      absorbed.at<float>(row, column) = static_cast<float>(1 - std::exp(-density));
    }
  }
  cv::GaussianBlur(absorbed, absorbed, {}, 0.4 / Sheet::kPitchMm, 0.4 / Sheet::kPitchMm);
  cv::flip(absorbed, turned, behind.turn == Turn::side ? 1 : 0);
  return 1 - behind.share * turned;
}

grid::Grid scan_sheet(const Sheet& sheet, const State& state, const Lay& lay,
                      const Behind& behind) {
  const cv::Mat through =
      behind.sheet ? shine_through(behind) : cv::Mat(sheet.fibres.size(), CV_32F, cv::Scalar(1));
  // Light of the sheet as drawn; the margin about it holds the backing.
  cv::Mat drawn(sheet.fibres.size(), CV_32FC3);
  for (int row = 0; row < drawn.rows; ++row) {
    for (int column = 0; column < drawn.cols; ++column) {
      cv::Vec3f light;
      for (int channel = 0; channel < 3; ++channel) {
        double density = 0;
        for (std::size_t ink = 0; ink < sheet.inks.size(); ++ink) {
          density += static_cast<double>(sheet.inks[ink].at<float>(row, column)) *
                     kDensity[ink][channel] * state.kept[ink];
        }
        light[channel] = static_cast<float>(state.paper[channel] * std::exp(-density)) *
                         sheet.fibres.at<float>(row, column) * through.at<float>(row, column);
      }
      drawn.at<cv::Vec3f>(row, column) = light;
    }
  }
  const int margin = 40;
  const cv::Scalar backing(lay.backing[0], lay.backing[1], lay.backing[2]);
  if (lay.torn_mm > 0) {
    const int leg = cvRound(lay.torn_mm / Sheet::kPitchMm);
    cv::fillPoly(drawn, std::vector{std::vector<cv::Point>{{0, 0}, {leg, 0}, {0, leg}}}, backing);
  }
  cv::copyMakeBorder(drawn, drawn, margin, margin, margin, margin, cv::BORDER_CONSTANT, backing);
  if (lay.shadow_mm > 0) {
    const int band = cvRound(lay.shadow_mm / Sheet::kPitchMm);
    drawn(cv::Rect(margin + band, drawn.rows - margin, drawn.cols - 2 * margin, band))
        .setTo(0.7 * backing);
    drawn(cv::Rect(drawn.cols - margin, margin + band, band, drawn.rows - 2 * margin))
        .setTo(0.7 * backing);
  }

  // Sampled at half the grid's pitch or finer, then averaged.
  const int fine = std::max(2, cvRound(lay.pitch_mm / Sheet::kPitchMm));
  const double width = lay.frame_mm[0] > 0 ? lay.frame_mm[0] : sheet.width_mm + 16;
  const double height = lay.frame_mm[1] > 0 ? lay.frame_mm[1] : sheet.height_mm + 16;
  const cv::Size cells(cvRound(width / lay.pitch_mm), cvRound(height / lay.pitch_mm));
  cv::Mat map(cells * fine, CV_32FC2);
  for (int row = 0; row < map.rows; ++row) {
    for (int column = 0; column < map.cols; ++column) {
      const cv::Point2d bed((column + 0.5) * lay.pitch_mm / fine,
                            (row + 0.5) * lay.pitch_mm / fine);
      const cv::Point2d p = lay.to_sheet(bed);
      map.at<cv::Vec2f>(row, column) = {static_cast<float>(p.x / Sheet::kPitchMm - 0.5 + margin),
                                        static_cast<float>(p.y / Sheet::kPitchMm - 0.5 + margin)};
    }
  }
  cv::Mat sampled, light;
  cv::remap(drawn, sampled, map, {}, cv::INTER_LINEAR, cv::BORDER_CONSTANT, backing);
  cv::resize(sampled, light, cells, 0, 0, cv::INTER_AREA);
  cv::Mat noise(cells, CV_32FC3);
  cv::RNG rng(lay.seed * 101 + 7);
  rng.fill(noise, cv::RNG::NORMAL, 0, lay.noise);
  light += noise;
  return grid_of(light, lay.pitch_mm);
}

align::Outline true_outline(const Sheet& sheet, const Lay& lay, const grid::Grid& grid) {
  align::Outline outline;
  outline.sheet.create(grid.geometry.size(), CV_8U);
  for (int row = 0; row < outline.sheet.rows; ++row) {
    for (int column = 0; column < outline.sheet.cols; ++column) {
      const cv::Point2d p =
          lay.to_sheet({(column + 0.5) * lay.pitch_mm, (row + 0.5) * lay.pitch_mm});
      outline.sheet.at<uchar>(row, column) =
          p.x >= 0 && p.y >= 0 && p.x <= sheet.width_mm && p.y <= sheet.height_mm ? 255 : 0;
    }
  }
  const double x[4] = {0, sheet.width_mm, sheet.width_mm, 0},
               y[4] = {0, 0, sheet.height_mm, sheet.height_mm};
  for (int i = 0; i < 4; ++i) {
    const cv::Point2d bed = lay.to_bed({x[i], y[i]});
    outline.quad.push_back({bed.x / lay.pitch_mm - 0.5, bed.y / lay.pitch_mm - 0.5});
  }
  // From the corner at the bed's top left, whichever of the sheet's it is.
  const auto first = std::min_element(outline.quad.begin(), outline.quad.end(),
                                      [](Point a, Point b) { return a.x + a.y < b.x + b.y; });
  std::rotate(outline.quad.begin(), first, outline.quad.end());
  outline.width_mm = sheet.width_mm * lay.stretch_x;
  outline.height_mm = sheet.height_mm * lay.stretch_y;
  return outline;
}

grid::Grid mirrored(const grid::Grid& grid) {
  grid::Grid other;
  other.geometry = grid.geometry;
  cv::flip(grid.light, other.light, 1);
  cv::flip(grid.xyz, other.xyz, 1);
  cv::flip(grid.structure, other.structure, 1);
  cv::flip(grid.clipped, other.clipped, 1);
  cv::flip(grid.target, other.target, 1);
  return other;
}

grid::Grid cut(const grid::Grid& grid, const cv::Rect& window) {
  grid::Grid part;
  part.geometry = grid.geometry;
  part.geometry.columns = window.width;
  part.geometry.rows = window.height;
  part.light = grid.light(window).clone();
  part.xyz = grid.xyz(window).clone();
  part.structure = grid.structure(window).clone();
  part.clipped = grid.clipped(window).clone();
  part.target = grid.target(window).clone();
  return part;
}

std::vector<double> errors_mm(const align::Warp& warp, const Sheet& sheet, const Lay& first,
                              const Lay& later) {
  std::vector<double> errors;
  for (int row = 0; row < warp.to_later.rows; row += 3) {
    for (int column = 0; column < warp.to_later.cols; column += 3) {
      const cv::Point2d p =
          first.to_sheet({(column + 0.5) * first.pitch_mm, (row + 0.5) * first.pitch_mm});
      if (p.x < 1 || p.y < 1 || p.x > sheet.width_mm - 1 || p.y > sheet.height_mm - 1) continue;
      const cv::Point2d bed = later.to_bed(p);
      const cv::Vec2f to = warp.to_later.at<cv::Vec2f>(row, column);
      const cv::Point2d found((static_cast<double>(to[0]) + 0.5) * later.pitch_mm,
                              (static_cast<double>(to[1]) + 0.5) * later.pitch_mm);
      errors.push_back(cv::norm(found - bed));
    }
  }
  return errors;
}

}  // namespace inkwane::made
