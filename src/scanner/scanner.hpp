// What one scanner does to every scan: the record behind scanner.toml (docs/formats.md).
#pragma once

#include <filesystem>
#include <string>
#include <vector>

#include <Eigen/Core>

#include "scan/scan.hpp"
#include "scanner/stray_light.hpp"

namespace inkwane::scanner {

/// Gaussian standard deviation, mm, of what optics and sensor do beyond the width of a pixel; the
/// edge's own raggedness is in it, so it is an upper bound.
struct PointSpread {
  double x_mm = 0, y_mm = 0;      ///< along rows, along columns
  double u_x_mm = 0, u_y_mm = 0;  ///< standard uncertainty
};

/// Standard deviation of one pixel's linear light m, a channel: √(floor² + slope² m).
struct Noise {
  Eigen::Vector3d floor = Eigen::Vector3d::Zero(), slope = Eigen::Vector3d::Zero();
};

struct Scanner {
  std::string file, sha256;  ///< the scan of the card
  double resolution_dpi = 0;
  std::string profile;  ///< its description; "none": sRGB was assumed
  StrayLightEstimate stray_light;
  PointSpread point_spread;
  Noise noise;
  std::vector<std::string> warnings;  ///< one sentence each
  bool doubtful = false;
};

/// Reads and checks scanner.toml. Throws Error(scan) where the file cannot be read, Error(usage)
/// naming file, line and key for what is wrong in it.
[[nodiscard]] Scanner read_scanner(const std::filesystem::path& file);
/// The text of scanner.toml.
[[nodiscard]] std::string to_toml(const Scanner& scanner);

/// Measures a scanner on a scan of its card. Throws Error(scan), naming the file, where the card is
/// not there, not whole, mirrored, clipped, or its chips of a kind differ.
[[nodiscard]] Scanner measure_card(const scan::Scan& scan);

}  // namespace inkwane::scanner
