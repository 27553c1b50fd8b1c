// Protects the fit to the target: it recovers a scanner's colours, says how well, names soiled and
// clipped patches, and refuses what cannot be.
#include "target/fit.hpp"

#include <cmath>
#include <limits>
#include <random>

#include <catch2/catch.hpp>

#include <inkwane/error.hpp>

#include "charts.hpp"

using namespace inkwane;
using namespace inkwane::target;
using namespace inkwane::test;
using Catch::Matchers::Contains;

namespace {

/// Colours the fit has not seen, inside what the chart spans.
std::vector<LabD50> other_colours() {
  std::mt19937 random(3);
  std::uniform_real_distribution<double> l(25, 90), hue(0, 6.28), c(0, 40);
  std::vector<LabD50> colours;
  for (int i = 0; i < 300; ++i) {
    const double h = hue(random), chroma = c(random);
    colours.push_back({l(random), chroma * std::cos(h), chroma * std::sin(h)});
  }
  return colours;
}

double worst_error(const Fit& fit) {
  double worst = 0;
  for (const LabD50& lab : other_colours()) {
    const auto light = fit.colour.light_of(scanner_linear(lab));
    worst = std::max(worst, ciede2000(to_lab(fit.colour.to_xyz(light)), lab));
  }
  return worst;
}

}  // namespace

TEST_CASE("a scanner of other primaries and tone is corrected on colours it has not seen") {
  const Reference reference = chart();
  const Fit fit = fit_target(reference, readings_of(reference), profile(), "scan.tif");
  CHECK(fit.colour.calibrated());
  CHECK(fit.left_out_median < 0.1);
  // The model holds this scanner, so only its priors and the chart's 24 colours limit it.
  CHECK(worst_error(fit) < 0.5);
  CHECK(fit.warnings.empty());
  CHECK_FALSE(fit.doubtful);
}

TEST_CASE("without the fit the same scanner is far off") {
  const auto colour = ScanColour::uncalibrated(profile());
  CHECK_FALSE(colour.calibrated());
  CHECK(colour.covariance().size() == 0);
  const LabD50 red{50, 40, 20};
  CHECK(ciede2000(to_lab(colour.to_xyz(colour.light_of(scanner_linear(red)))), red) > 3);
}

TEST_CASE("targets of other sizes") {
  for (const auto& [rows, columns] : {std::pair{3, 4}, {10, 14}}) {
    const Reference reference = chart(rows, columns);
    const Fit fit = fit_target(reference, readings_of(reference), profile(), "scan.tif");
    CAPTURE(rows, fit.colour.model());
    CHECK(fit.left_out_median < 0.3);
    if (rows == 3) CHECK_THAT(fit.colour.model(), Contains("matrix"));  // too few for more
  }
}

TEST_CASE("a soiled patch is named and left out, and does not spoil the others") {
  const Reference reference = chart();
  for (const int patch : {2, 9, 16, 20}) {
    auto readings = readings_of(reference);
    readings[patch].linear = readings[patch].linear.cwiseProduct(Eigen::Vector3d(0.75, 0.7, 0.5));
    const Fit fit = fit_target(reference, readings, profile(), "scan.tif");
    CAPTURE(patch);
    CHECK_FALSE(fit.used[patch]);
    REQUIRE(fit.warnings.size() == 1);
    CHECK_THAT(fit.warnings[0],
               Contains("Patch " + reference.patches[patch].id) && Contains("soiled"));
    CHECK(fit.left_out_dE00[patch] > 3);
    CHECK(worst_error(fit) < 0.6);
  }
}

TEST_CASE("no patch is called soiled on readings with noise alone") {
  const Reference reference = chart();
  std::mt19937 random(17);
  std::normal_distribution<double> noise(0, 0.002);
  for (int draw = 0; draw < 20; ++draw) {
    auto readings = readings_of(reference);
    for (auto& r : readings) {
      for (int c = 0; c < 3; ++c) r.linear[c] *= 1 + noise(random);
    }
    const Fit fit = fit_target(reference, readings, profile(), "scan.tif");
    CHECK(std::count(fit.used.begin(), fit.used.end(), false) == 0);
  }
}

TEST_CASE("clipped and unusable patches are left out, clipped ones with a warning") {
  const Reference reference = chart();
  auto readings = readings_of(reference);
  readings[18].linear.setConstant(0.8);  // a blown white would bend the whole fit
  readings[18].clipped = 0.9;
  readings[3].usable = false;
  const Fit fit = fit_target(reference, readings, profile(), "scan.tif");
  CHECK_FALSE(fit.used[18]);
  CHECK_FALSE(fit.used[3]);
  REQUIRE(fit.warnings.size() == 1);
  CHECK_THAT(fit.warnings[0], Contains("D1") && Contains("clipped") && Contains("exposure"));
  CHECK(worst_error(fit) < 1.0);
}

TEST_CASE("a reference of another target is doubtful or refused") {
  const Reference reference = chart();
  Reference drifted = reference;
  std::mt19937 random(23);
  std::normal_distribution<double> off(0, 4);
  for (auto& p : drifted.patches) {
    p.lab.L = std::min(p.lab.L + off(random), 99.0);
    p.lab.a += off(random);
    p.lab.b += off(random);
  }
  const Fit fit = fit_target(drifted, readings_of(reference), profile(), "scan.tif");
  CHECK(fit.doubtful);
  REQUIRE_FALSE(fit.warnings.empty());
  CHECK_THAT(fit.warnings.back(), Contains("doubtful"));

  Reference shuffled = reference;
  std::shuffle(shuffled.patches.begin(), shuffled.patches.end(), random);
  CHECK_THROWS_WITH(fit_target(shuffled, readings_of(reference), profile(), "scan.tif"),
                    Contains("scan.tif") && Contains("reference"));
  auto blown = readings_of(reference);
  for (std::size_t i = 0; i < 20; ++i) blown[i].clipped = 1;
  CHECK_THROWS_WITH(fit_target(reference, blown, profile(), "scan.tif"), Contains("exposure"));
}

TEST_CASE("several scans share one rung and one set of patches") {
  const Reference reference = chart();
  TargetReadings clean{readings_of(reference), profile(), "bt.tif"};
  TargetReadings noisy = clean;
  std::mt19937 random(5);
  std::normal_distribution<double> noise(0, 0.05);
  for (auto& r : noisy.patches) {
    for (int c = 0; c < 3; ++c) r.linear[c] *= 1 + noise(random);
  }
  noisy.patches[7].usable = false;
  const std::vector scans{clean, noisy};
  const auto fits = fit_targets(reference, scans);
  REQUIRE(fits.size() == 2);
  CHECK(fits[0].colour.model() == fits[1].colour.model());
  CHECK(fits[0].used == fits[1].used);
  CHECK_FALSE(fits[0].used[7]);
}

TEST_CASE("pictures, single colours and the written profile agree") {
  const Reference reference = chart();
  const Fit fit = fit_target(reference, readings_of(reference), profile(), "scan.tif");
  std::mt19937 random(29);
  std::uniform_int_distribution<int> code(0, 65535);
  cv::Mat encoded(20, 100, CV_16UC3);
  for (int i = 0; i < 2000; ++i) {
    for (int c = 0; c < 3; ++c) {
      encoded.at<cv::Vec3w>(i / 100, i % 100)[c] = static_cast<std::uint16_t>(code(random));
    }
  }
  cv::Mat light, xyz;
  fit.colour.linearise(encoded, light);
  fit.colour.to_xyz(light, xyz);
  std::vector<std::array<double, 3>> unit;
  for (const auto& e : cv::Mat_<cv::Vec3w>(encoded)) {
    unit.push_back({e[0] / 65535.0, e[1] / 65535.0, e[2] / 65535.0});
  }
  const auto through = colour::lab_through_profile(fit.colour.profile("BT recto"), unit);
  double worst_single = 0, worst_profile = 0;
  int compared = 0;
  for (int i = 0; i < 2000; ++i) {
    const cv::Vec3f p = xyz.at<cv::Vec3f>(i / 100, i % 100);
    const LabD50 lab = to_lab({double(p[0]), double(p[1]), double(p[2])});
    worst_single = std::max(worst_single, ciede2000(lab, fit.colour.lab_of_encoded(unit[i])));
    // Colours that a print can have; between them and the imaginary ones the lattice cuts corners.
    const float least = std::min({p[0], p[1], p[2]});
    if (lab.L > 99 || std::abs(lab.a) > 90 || std::abs(lab.b) > 90 || least < 0.006f) continue;
    ++compared;
    worst_profile = std::max(worst_profile, ciede2000(lab, through[i]));
  }
  CAPTURE(worst_single, worst_profile);
  CHECK(worst_single < 0.01);  // single precision
  CHECK(worst_profile < 0.2);
  CHECK(compared > 400);
}

TEST_CASE("what was not measured stays so") {
  const auto colour = ScanColour::uncalibrated(profile());
  cv::Mat light(1, 2, CV_32FC3, cv::Scalar::all(0.5)), xyz;
  light.at<cv::Vec3f>(0, 1)[1] = std::numeric_limits<float>::quiet_NaN();
  colour.to_xyz(light, xyz);
  CHECK_FALSE(std::isnan(xyz.at<cv::Vec3f>(0, 0)[0]));
  for (int c = 0; c < 3; ++c) CHECK(std::isnan(xyz.at<cv::Vec3f>(0, 1)[c]));
}
