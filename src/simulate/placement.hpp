// Where sheet and target lie on the scanner's bed, and how the sheet is deformed there.
#pragma once

#include <array>

#include "simulate/chart.hpp"
#include "simulate/scene.hpp"

namespace inkwane::simulate {

/// Displacement of paper that dried unevenly: a few sine waves of 30 to 90 mm.
class Cockle {
 public:
  Cockle() = default;
  Cockle(double amplitude_mm, std::uint64_t seed);
  [[nodiscard]] cv::Point2d at(cv::Point2d mm) const;

 private:
  struct Wave {
    cv::Point2d per_mm;  // radians a mm
    cv::Point2d push_mm;
    double phase = 0;
  };
  std::vector<Wave> waves_;
};

/// One side of the sheet in one scan. Millimetres on the sheet are those of the undeformed sheet;
/// millimetres on the bed count from the scan's top left corner.
class Placement {
 public:
  Placement(const Scene& scene, const std::string& stage, const std::string& side);

  [[nodiscard]] cv::Point2d to_bed(cv::Point2d sheet_mm) const;
  /// The inverse, to 1e-6 mm.
  [[nodiscard]] cv::Point2d to_sheet(cv::Point2d bed_mm) const;
  /// The same in pixels; the centre of the top left pixel is (0, 0).
  [[nodiscard]] cv::Point2d to_pixel(cv::Point2d sheet_mm) const {
    return bed_to_pixel(to_bed(sheet_mm));
  }
  [[nodiscard]] cv::Point2d from_pixel(cv::Point2d pixel) const {
    return to_sheet(pixel_to_bed(pixel));
  }

  /// A place on the target's card, mm from its top left, in the scan.
  [[nodiscard]] cv::Point2d card_to_pixel(cv::Point2d card_mm) const {
    return bed_to_pixel(card_to_bed(card_mm));
  }
  /// A place on the target's card, mm from its top left, on the bed, and back.
  [[nodiscard]] cv::Point2d card_to_bed(cv::Point2d card_mm) const;
  [[nodiscard]] cv::Point2d bed_to_card(cv::Point2d bed_mm) const;

  [[nodiscard]] cv::Size scan_size() const { return scan_size_; }
  [[nodiscard]] const ChartLayout& chart() const { return chart_; }

 private:
  [[nodiscard]] cv::Point2d bed_to_pixel(cv::Point2d mm) const {
    return mm / pixel_mm_ - cv::Point2d(0.5, 0.5);
  }
  [[nodiscard]] cv::Point2d pixel_to_bed(cv::Point2d px) const {
    return (px + cv::Point2d(0.5, 0.5)) * pixel_mm_;
  }

  double pixel_mm_ = 1;
  cv::Point2d sheet_centre_;  // of the undeformed sheet, on itself
  cv::Point2d bed_centre_;    // where it lies on the bed
  cv::Point2d stretch_{1, 1};
  double cos_ = 1, sin_ = 0;
  Cockle cockle_;
  ChartLayout chart_;
  cv::Point2d card_centre_;
  double card_cos_ = 1, card_sin_ = 0;
  cv::Size scan_size_;
};

}  // namespace inkwane::simulate
