// Protects: the colour scales keep their order in grey, and no step of them is larger than another.
#include "map/scale.hpp"

#include <algorithm>
#include <vector>

#include <catch2/catch.hpp>
#include <lcms2.h>

using namespace inkwane;
using namespace inkwane::map;

namespace {

/// What a screen shows, through LittleCMS's own sRGB profile and not through ours.
std::vector<LabD50> seen(const Scale& scale) {
  const cmsHPROFILE from = cmsCreate_sRGBProfile();
  const cmsHPROFILE to = cmsCreateLab4Profile(nullptr);
  const cmsHTRANSFORM transform = cmsCreateTransform(
      from, TYPE_RGB_DBL, to, TYPE_Lab_DBL, INTENT_RELATIVE_COLORIMETRIC, cmsFLAGS_NOCACHE);
  std::vector<LabD50> labs;
  for (const Rgb& colour : scale) {
    const double rgb[3] = {colour[0] / 255.0, colour[1] / 255.0, colour[2] / 255.0};
    cmsCIELab lab;
    cmsDoTransform(transform, rgb, &lab, 1);
    labs.push_back({lab.L, lab.a, lab.b});
  }
  cmsDeleteTransform(transform);
  cmsCloseProfile(from);
  cmsCloseProfile(to);
  return labs;
}

void require_even(const std::vector<LabD50>& labs) {
  // Rounding to 8 bit moves each colour by up to 0.3 ΔE00; over four steps that no longer hides
  // an uneven scale.
  constexpr std::size_t kStride = 4;
  std::vector<double> steps;
  for (std::size_t i = kStride; i < labs.size(); ++i)
    steps.push_back(ciede2000(labs[i - kStride], labs[i]));
  const auto [least, most] = std::minmax_element(steps.begin(), steps.end());
  INFO("least " << *least << ", most " << *most);
  CHECK(*most / *least < 1.25);
}

}  // namespace

TEST_CASE("the scale for amounts darkens at every step") {
  const std::vector<LabD50> labs = seen(sequential_scale());
  for (std::size_t i = 1; i < labs.size(); ++i) CHECK(labs[i].L < labs[i - 1].L);
  CHECK(labs.front().L - labs.back().L > 60);  // a grey copy keeps most of the range
}

TEST_CASE("the scale for amounts has even steps") {
  require_even(seen(sequential_scale()));
}

TEST_CASE("the scale for signed values darkens to both sides, and evenly") {
  const std::vector<LabD50> labs = seen(diverging_scale());
  const std::size_t half = labs.size() / 2;
  for (std::size_t i = 1; i < half; ++i) CHECK(labs[i].L > labs[i - 1].L);
  for (std::size_t i = half + 1; i < labs.size(); ++i) CHECK(labs[i].L < labs[i - 1].L);
  require_even({labs.begin(), labs.begin() + half});
  require_even({labs.begin() + half, labs.end()});
  CHECK(std::abs(labs.front().L - labs.back().L) < 2);  // neither sign looks the heavier
}

TEST_CASE("a value beyond the scale is drawn as its end") {
  CHECK(scale_step(-1, 0, 10) == 0);
  CHECK(scale_step(0, 0, 10) == 0);
  CHECK(scale_step(5, 0, 10) == kScaleSteps / 2);
  CHECK(scale_step(10, 0, 10) == kScaleSteps - 1);
  CHECK(scale_step(1000, 0, 10) == kScaleSteps - 1);
}
