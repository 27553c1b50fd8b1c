// Protects the joint covariance: shared errors cancel between stages, own ones do not, and it can
// always be drawn from.
#include "target/uncertainty.hpp"

#include <cmath>
#include <random>

#include <Eigen/Eigenvalues>
#include <catch2/catch.hpp>

#include "charts.hpp"
#include "target/metric.hpp"

using namespace inkwane;
using namespace inkwane::target;
using namespace inkwane::test;
using Catch::Matchers::WithinAbs;

namespace {

Fit noisy_fit(const Reference& reference, double noise, unsigned seed) {
  auto readings = readings_of(chart());
  std::mt19937 random(seed);
  std::normal_distribution<double> n(0, noise);
  for (auto& r : readings) {
    for (int c = 0; c < 3; ++c) r.linear[c] *= 1 + n(random);
  }
  return fit_target(reference, readings, profile(), "scan.tif");
}

/// A chart whose true colours differ from the reference: an error that all scans share.
Reference misprinted(const Reference& reference) {
  Reference other = reference;
  std::mt19937 random(41);
  std::normal_distribution<double> off(0, 0.5);
  for (auto& p : other.patches)
    p.lab = {p.lab.L + off(random), p.lab.a + off(random), p.lab.b + off(random)};
  return other;
}

Eigen::Matrix3d difference(const Eigen::MatrixXd& v, int i, int j) {
  return v.block<3, 3>(3 * i, 3 * i) + v.block<3, 3>(3 * j, 3 * j) - v.block<3, 3>(3 * i, 3 * j) -
         v.block<3, 3>(3 * j, 3 * i);
}

}  // namespace

TEST_CASE(
    "equal colours of two equal scans differ by their noise alone, though each is uncertain") {
  const Reference reference = misprinted(chart());
  const Fit bt = noisy_fit(reference, 0, 1);
  REQUIRE(bt.colour.misfit_scale() > 0.2);
  const std::vector<const Fit*> scans{&bt, &bt};
  const Eigen::Vector3d grey = bt.colour.light_of(scanner_linear({50, 2, 3}));
  const Eigen::Vector3d red = bt.colour.light_of(scanner_linear({45, 50, 25}));
  const std::vector<ColourAt> colours{{0, grey}, {1, grey}, {1, red}};
  const Eigen::MatrixXd v = joint_covariance(scans, colours);
  REQUIRE(v.rows() == 9);
  const double alone = std::sqrt(v(0, 0));
  CHECK(alone > 0.05);
  CHECK(std::sqrt(difference(v, 0, 1)(0, 0)) < 0.3 * alone);  // the readings' own noise
  // Another colour has its own error of reference and model.
  CHECK(std::sqrt(difference(v, 0, 2)(1, 1)) > 0.5 * std::sqrt(v(1, 1)));
}

TEST_CASE("scans that repeat badly are less alike") {
  const Reference reference = chart();
  const Fit bt = noisy_fit(reference, 0.001, 1), at = noisy_fit(reference, 0.001, 2);
  const Fit poor = noisy_fit(reference, 0.03, 3);
  const Eigen::Vector3d light = bt.colour.light_of(scanner_linear({50, 2, 3}));
  const auto between = [&light](const Fit& one, const Fit& two) {
    const std::vector<const Fit*> scans{&one, &two};
    const std::vector<ColourAt> colours{{0, light}, {1, light}};
    return difference(joint_covariance(scans, colours), 0, 1).trace();
  };
  CHECK(between(bt, poor) > 20 * between(bt, at));
  CHECK(repeatability(bt, poor).rms_dE00 > 5 * repeatability(bt, at).rms_dE00);
  CHECK(repeatability(bt, bt).rms_dE00 == 0);
  CHECK(repeatability(bt, at).patch_dE00.size() == 24);
}

TEST_CASE("the covariance is symmetric and has no negative direction") {
  const Reference reference = misprinted(chart());
  const Fit bt = noisy_fit(reference, 0.01, 1), at = noisy_fit(reference, 0.01, 2);
  const Fit none(ScanColour::uncalibrated(profile()));
  const std::vector<const Fit*> scans{&bt, &at, &none};
  std::mt19937 random(6);
  std::uniform_real_distribution<double> light(0.01, 0.95);
  std::vector<ColourAt> colours;
  for (int i = 0; i < 30; ++i) {
    colours.push_back({i % 3, {light(random), light(random), light(random)}});
    colours.push_back({(i + 1) % 3, colours.back().light});
  }
  const Eigen::MatrixXd v = joint_covariance(scans, colours);
  CHECK((v - v.transpose()).norm() == 0);
  const Eigen::SelfAdjointEigenSolver<Eigen::MatrixXd> eigen(v);
  CHECK(eigen.eigenvalues().minCoeff() > -1e-9 * eigen.eigenvalues().maxCoeff());
}

TEST_CASE("without a target colours are wide, and changes narrower") {
  const Fit none(ScanColour::uncalibrated(profile()));
  const std::vector<const Fit*> scans{&none, &none};
  const Eigen::Vector3d light(0.4, 0.3, 0.2);
  const std::vector<ColourAt> colours{{0, light}, {1, light}};
  const Eigen::MatrixXd v = joint_covariance(scans, colours);
  const Eigen::Matrix3d metric = ciede2000_metric(to_lab(none.colour.to_xyz(light)));
  const auto in_dE00 = [&metric](const Eigen::Matrix3d& s) {
    return std::sqrt((metric * s * metric.transpose()).trace() / 3);
  };
  // 3.1 shared and 1.0 own, a component; the difference of two carries 1.0 · √2.
  CHECK_THAT(in_dE00(v.topLeftCorner<3, 3>()), WithinAbs(std::hypot(3.1, 1.0), 1e-6));
  CHECK_THAT(in_dE00(difference(v, 0, 1)), WithinAbs(std::sqrt(2.0), 1e-6));
}

TEST_CASE("stated uncertainty holds the truth, of colours and of changes") {
  // Charts misprinted and readings noisy in many ways; colours the fit has not seen.
  const Reference truth = chart();
  int inside = 0, inside_change = 0, all = 0;
  std::mt19937 random(77);
  std::normal_distribution<double> off(0, 0.6);
  for (unsigned draw = 0; draw < 25; ++draw) {
    Reference reference = truth;
    for (auto& p : reference.patches)
      p.lab = {p.lab.L + off(random), p.lab.a + off(random), p.lab.b + off(random)};
    std::vector<TargetReadings> readings;
    for (int k = 0; k < 2; ++k) {
      TargetReadings r{readings_of(truth), profile(), "scan.tif"};
      std::normal_distribution<double> noise(0, 0.006);
      for (auto& p : r.patches) {
        for (int c = 0; c < 3; ++c) p.linear[c] *= 1 + noise(random);
      }
      readings.push_back(r);
    }
    const auto fits = fit_targets(reference, readings);
    const std::vector<const Fit*> scans{&fits[0], &fits[1]};
    for (const LabD50 lab :
         {LabD50{50, 2, 3}, {60, 30, 30}, {40, -20, 20}, {45, 5, -30}, {80, 0, 15}}) {
      const Eigen::Vector3d linear = scanner_linear(lab);
      const std::vector<ColourAt> colours{{0, fits[0].colour.light_of(linear)},
                                          {1, fits[1].colour.light_of(linear)}};
      const Eigen::MatrixXd v = joint_covariance(scans, colours);
      const Eigen::Vector3d one = vector_of(to_lab(fits[0].colour.to_xyz(colours[0].light)));
      const Eigen::Vector3d two = vector_of(to_lab(fits[1].colour.to_xyz(colours[1].light)));
      const Eigen::Matrix3d change = difference(v, 0, 1);
      for (int c = 0; c < 3; ++c) {
        inside += std::abs(one[c] - vector_of(lab)[c]) <= 2 * std::sqrt(v(c, c));
        inside_change += std::abs(one[c] - two[c]) <= 2 * std::sqrt(change(c, c));
        ++all;
      }
    }
  }
  // Without a model's misfit the term for it makes both too wide, so the upper end is open.
  CAPTURE(inside, inside_change, all);
  CHECK(inside >= 0.93 * all);
  CHECK(inside_change >= 0.93 * all);
}

TEST_CASE("a place that fades errs alike at both stages, unlike one whose inks change") {
  const Reference reference = misprinted(chart());
  const Fit bt = noisy_fit(reference, 0, 1);
  const std::vector<const Fit*> scans{&bt, &bt};
  const Eigen::Vector3d strong = bt.colour.light_of(scanner_linear({45, 50, 25}));
  const Eigen::Vector3d faded = bt.colour.light_of(scanner_linear({49, 44, 21}));
  const Eigen::Vector3d absorption(0.1, 0.9, 0.5);
  const auto change = [&](int place, const Eigen::Vector3d& after) {
    std::vector<ColourAt> colours{{0, strong}, {1, faded}};
    for (ColourAt& c : colours) {
      c.place = place;
      c.absorption.fill(absorption);
    }
    colours[1].absorption.fill(after);
    return difference(joint_covariance(scans, colours), 0, 1).trace();
  };
  const double of_one_ink = change(0, 0.8 * absorption);
  CHECK(of_one_ink < 0.5 * change(-1, absorption));
  CHECK(change(0, {0.3, 0.6, 0.5}) > 3 * of_one_ink);  // one of two inks went
  // The colour itself is less sure than those of the target's own inks.
  std::vector<ColourAt> own{{0, strong}}, other{{0, strong}};
  other[0].place = 0;
  CHECK(joint_covariance(scans, other).trace() > joint_covariance(scans, own).trace());
}

TEST_CASE("an error that all readings share moves the fit as a fit to such readings moves") {
  const Reference reference = misprinted(chart());
  TargetReadings readings{readings_of(chart()), profile(), "scan.tif", {}};
  readings.log_errors.resize(72, 1);
  std::mt19937 random(17);
  std::normal_distribution<double> off(0, 0.004);
  for (Eigen::Index i = 0; i < 72; ++i) readings.log_errors(i, 0) = off(random);
  TargetReadings erring = readings;
  for (std::size_t i = 0; i < 24; ++i) {
    erring.patches[i].linear.array() *=
        readings.log_errors.col(0).segment<3>(3 * static_cast<Eigen::Index>(i)).array().exp();
  }
  const std::vector<TargetReadings> both{readings, erring};
  const std::vector<Fit> fits = fit_targets(reference, both);  // of one model
  const Fit &fit = fits[0], &other = fits[1];
  const Eigen::Vector3d here(0.006, -0.004, 0.01);  // what the error does to a region's light
  for (const LabD50& lab : {LabD50{50, 2, 3}, LabD50{45, 40, 25}, LabD50{70, -20, 30}}) {
    const Eigen::Vector3d linear = scanner_linear(lab);
    const Eigen::Vector3d light = fit.colour.light_of(linear);
    const LabD50 was = to_lab(fit.colour.to_xyz(light));
    const LabD50 is = to_lab(
        other.colour.to_xyz(other.colour.light_of((linear.array() * here.array().exp()).matrix())));
    const Eigen::Vector3d moved(is.L - was.L, is.a - was.a, is.b - was.b);
    const Eigen::Vector3d told = fit.colour.lab_jacobian(light) * fit.parameter_errors.col(0) +
                                 fit.colour.lab_by_log_light(light) * here;
    CAPTURE(moved.transpose(), told.transpose());
    REQUIRE(moved.norm() > 0.2);
    CHECK((moved - told).norm() < 0.25 * moved.norm());  // to first order
  }
}

TEST_CASE("an error that all scans share cancels where it is alike, and only there") {
  const Reference reference = chart();
  TargetReadings readings{readings_of(reference), profile(), "scan.tif", {}};
  readings.log_errors = Eigen::MatrixXd::Constant(72, 1, 0.02);
  const Fit bt = fit_targets(reference, {&readings, 1}).front();
  const std::vector<const Fit*> scans{&bt, &bt};
  const Eigen::Vector3d light = bt.colour.light_of(scanner_linear({50, 2, 3}));
  const auto u_L = [&](double at_first, double at_second) {
    const std::vector<ColourAt> colours{
        {.scan = 0, .light = light, .log_errors = Eigen::MatrixXd::Constant(3, 1, at_first)},
        {.scan = 1, .light = light, .log_errors = Eigen::MatrixXd::Constant(3, 1, at_second)}};
    const Eigen::MatrixXd v = joint_covariance(scans, colours);
    return std::pair(std::sqrt(v(0, 0)), std::sqrt(difference(v, 0, 1)(0, 0)));
  };
  const auto [alone, between] = u_L(0.02, 0.02);  // as on the patches: the fit takes it up
  const auto [bare, none] = u_L(0, 0);
  CHECK(alone < 0.12);
  CHECK(bare > 0.3);   // the fit moved, the region did not
  CHECK(none < 0.12);  // the readings' own noise
  CHECK(between < 0.12);
  // 1 % of light is 0.25 L* at L* 50: 116/3 · 0.01 · (Y/Yn)^(1/3).
  const auto [first, changed] = u_L(0.02, 0.03);
  CHECK_THAT(changed, WithinAbs(0.25, 0.06));
}
