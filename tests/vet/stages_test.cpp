// Protects: what must be alike between scans is told where it is not, on either side of each limit.
#include "vet/stages.hpp"

#include <catch2/catch.hpp>

#include <inkwane/error.hpp>

using namespace inkwane;
using Catch::Matchers::Contains;
using Catch::Matchers::WithinAbs;

namespace {

const vet::Between kScans{"BT", "AT", "at.tif"};

/// Six greys and a red, rows by columns of no interest here.
target::Reference chart() {
  target::Reference reference;
  reference.rows = 1;
  reference.columns = 7;
  for (const double L : {96.0, 81.0, 66.0, 51.0, 36.0, 20.0})
    reference.patches.push_back({"G" + std::to_string(static_cast<int>(L)), {L, 0, 0}});
  reference.patches.push_back({"R", {42, 53, 28}});
  return reference;
}

/// A scan that reads every patch as its reference, moved.
target::TargetReadings readings(double dL, double db) {
  target::TargetReadings out{{}, colour::Linearisation::from_profile({}, "made"), "scan.tif"};
  const Eigen::Matrix3d to_rgb = out.linearisation.to_xyz().inverse();
  for (const auto& patch : chart().patches) {
    const XyzD50 xyz = to_xyz({patch.lab.L + dL, patch.lab.a, patch.lab.b + db});
    target::PatchReading reading;
    reading.linear = to_rgb * Eigen::Vector3d(xyz.X, xyz.Y, xyz.Z);
    reading.standard_error = reading.spread = Eigen::Vector3d::Zero();
    out.patches.push_back(reading);
  }
  return out;
}

vet::NeutralDrift drift(double dL, double db) {
  const auto found = vet::neutral_drift(chart(), readings(0, 0), readings(dL, db));
  REQUIRE(found);
  return *found;
}

/// A fit whose patch `off` misses its reference by `by` along b*, left out by `left_out`.
target::Fit fit_missing(std::size_t off, double by, double left_out) {
  target::Fit fit;
  const target::Reference reference = chart();
  for (const auto& patch : reference.patches) {
    fit.fitted.push_back({patch.lab.L + 0.1, patch.lab.a, patch.lab.b});
    fit.left_out_dE00.push_back(0.4);
    fit.used.push_back(true);
  }
  fit.fitted[off].b += by;
  fit.left_out_dE00[off] = left_out;
  fit.left_out_median = 0.4;
  return fit;
}

/// 60 × 80 mm at 0.5 mm.
align::Warp warp(double stretch_x, double stretch_y, double wave_mm) {
  align::Warp out;
  out.stretch_x = stretch_x;
  out.stretch_y = stretch_y;
  out.to_later.create(160, 120, CV_32FC2);
  out.valid = cv::Mat(160, 120, CV_8UC1, cv::Scalar(255));
  for (int y = 0; y < 160; ++y) {
    for (int x = 0; x < 120; ++x) {
      const double wave = 2 * wave_mm * std::sin(0.2 * x);  // rms √2 wave, in cells of 0.5 mm
      out.to_later.at<cv::Vec2f>(y, x) = {static_cast<float>(stretch_x * x + wave),
                                          static_cast<float>(stretch_y * y)};
    }
  }
  return out;
}

}  // namespace

TEST_CASE("greys that move by more than 1 are noted, by more than 8 refused") {
  CHECK_THAT(drift(-2, 0).dL, WithinAbs(2, 1e-6));
  CHECK_THAT(drift(0, 3).dab, WithinAbs(3, 1e-6));
  for (const bool lightness : {true, false}) {
    const auto moved = [lightness](double by) { return lightness ? drift(-by, 0) : drift(0, by); };
    CHECK(vet::judge_drift(moved(0.9), kScans).empty());
    const vet::Findings noted = vet::judge_drift(moved(1.1), kScans);
    REQUIRE(noted.size() == 1);
    CHECK(noted[0].verdict == vet::Verdict::note);
    CHECK_THAT(vet::sentence(noted[0]), Contains("since BT") && Contains("warm up"));
    CHECK(vet::judge_drift(moved(7.9), kScans).size() == 1);
    try {
      (void)vet::judge_drift(moved(8.1), kScans);
      FAIL("not refused");
    } catch (const Error& error) {
      CHECK(error.code() == ExitCode::scan);
      CHECK_THAT(error.what(), Contains("at.tif") && Contains("scan stage AT again"));
    }
  }
}

TEST_CASE("a grey that is soiled or clipped in either scan says nothing of the scanner") {
  auto later = readings(0, 0);
  later.patches[1].linear *= 0.5;
  CHECK(vet::neutral_drift(chart(), readings(0, 0), later)->dL > 2);
  later.patches[1].usable = false;
  CHECK(vet::neutral_drift(chart(), readings(0, 0), later)->dL < 1e-6);
  later.patches[1].usable = true;
  later.patches[1].clipped = 0.5;
  CHECK(vet::neutral_drift(chart(), readings(0, 0), later)->dL < 1e-6);
}

TEST_CASE("a profile that was stripped, added or changed is told by its bytes") {
  const std::vector<std::uint8_t> none, one{1, 2, 3}, other{1, 2, 4};
  const vet::Profile bare{&none, "none", ""}, scanner{&one, "Flatbed", "0123456789"},
      second{&other, "Flatbed", "9876543210"};
  CHECK(vet::judge_profiles(scanner, scanner, kScans).empty());
  CHECK(vet::judge_profiles(bare, bare, kScans).empty());
  CHECK_THAT(vet::judge_profiles(scanner, bare, kScans)[0].what,
             Contains("stripped") && Contains("01234567"));
  CHECK_THAT(vet::judge_profiles(bare, scanner, kScans)[0].what, Contains("added"));
  CHECK_THAT(vet::judge_profiles(scanner, second, kScans)[0].what, Contains("98765432"));
}

TEST_CASE("the same patch off in every scan, the same way, is the target's or the reference's") {
  const target::Reference reference = chart();
  const auto said = [&](const target::Fit& one, const target::Fit& two) {
    const std::vector<const target::Fit*> fits{&one, &two};
    return vet::patches_off(reference, fits);
  };
  const target::Fit off = fit_missing(2, 4, 4);
  const vet::Findings found = said(off, fit_missing(2, 4.2, 3.8));
  REQUIRE(found.size() == 1);
  CHECK_THAT(found[0].what, Contains("G66") && Contains("edition"));
  CHECK(said(off, fit_missing(2, 2.5, 2.5)).empty());  // below the limit in one
  CHECK(said(off, fit_missing(2, -4, 4)).empty());     // the other way: chance
  CHECK(said(off, fit_missing(3, 4, 4)).empty());      // another patch
  const std::vector<const target::Fit*> alone{&off};
  CHECK(vet::patches_off(reference, alone).empty());
}

TEST_CASE("expansion is told from another resolution, and cockle from both") {
  CHECK(vet::judge_shape(warp(1.004, 0.999, 0), 0.5, kScans).empty());
  CHECK_THAT(vet::judge_shape(warp(1.006, 1.001, 0), 0.5, kScans)[0].what,
             Contains("+0.6 % across") && Contains("water"));
  CHECK_THAT(vet::judge_shape(warp(1.010, 1.0095, 0), 0.5, kScans)[0].advice,
             Contains("resolution"));
  CHECK(vet::judge_shape(warp(1, 1, 0.25), 0.5, kScans).empty());  // rms 0.18 mm
  CHECK_THAT(vet::judge_shape(warp(1, 1, 0.35), 0.5, kScans)[0].what, Contains("cockled"));
}
