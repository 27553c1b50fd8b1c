// Windows of screens made in the test: dots drawn in a fine picture, light spread in the paper,
// blurred and averaged to pixels, with known inks. Nothing of the room under test is used.
#pragma once

#include <vector>

#include "change/region_pixels.hpp"

namespace inkwane::test {

/// One screen: round dots that grow into each other, or lozenges (a chess-board at a half).
struct PaintedScreen {
  double lpi = 85, degrees = 30, coverage = 0.4;
  bool lozenge = false;
  cv::Vec3d ks{3, 1.2, 0.3};  ///< K/S of its solid above the paper, by channel
};

struct ScreenPainting {
  double dpi = 300;
  int side_px = 150;
  std::vector<PaintedScreen> screens;
  cv::Vec3d paper{0.74, 0.70, 0.58};
  double stain = 0;   ///< share of light that was lost between the dots, beyond the paper's own
  bool film = false;  ///< clear films on the paper, as dark as `ks` would be
  double kept = 1;    ///< of every ink: of K/S, or of the film's density
  double spread_mm = 0.05;
  double blur_px = 0.35;
  double noise = 0.003;
  double texture = 0.005;  ///< of the paper, relative
  unsigned seed = 1;
};

[[nodiscard]] change::RegionPixels paint_screens(const ScreenPainting& painting);
/// A picture (CV_32FC3) as a region: weight 1 inside, falling to 0 within a quarter of the side.
[[nodiscard]] change::RegionPixels region_of(const cv::Mat& picture);

}  // namespace inkwane::test
