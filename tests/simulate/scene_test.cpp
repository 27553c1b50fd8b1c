#include <algorithm>
#include <cmath>
#include <cstdint>
#include <fstream>
#include <iterator>
#include <memory>
#include <set>

#include <catch2/catch.hpp>
#include <lcms2.h>
#include <opencv2/core.hpp>
#include <tiffio.h>

#include <inkwane/error.hpp>
#include <inkwane/treatment.hpp>

#include "simulate/chart.hpp"
#include "simulate/forms.hpp"
#include "simulate/scanner.hpp"
#include "simulate/simulate.hpp"
#include "tests/support.hpp"

namespace inkwane::simulate {
namespace {

using Catch::WithinAbs;

struct Tiff {
  cv::Mat pixels;  // CV_16UC3
  int bits = 0;
  float dpi = 0;
  std::vector<std::uint8_t> icc;
};

Tiff read_tiff(const std::filesystem::path& file) {
  const std::unique_ptr<TIFF, decltype(&TIFFClose)> tiff(TIFFOpen(file.c_str(), "r"), TIFFClose);
  REQUIRE(tiff);
  Tiff result;
  std::uint32_t width = 0, height = 0, size = 0;
  std::uint16_t bits = 0;
  void* icc = nullptr;
  TIFFGetField(tiff.get(), TIFFTAG_IMAGEWIDTH, &width);
  TIFFGetField(tiff.get(), TIFFTAG_IMAGELENGTH, &height);
  TIFFGetField(tiff.get(), TIFFTAG_BITSPERSAMPLE, &bits);
  TIFFGetField(tiff.get(), TIFFTAG_XRESOLUTION, &result.dpi);
  if (TIFFGetField(tiff.get(), TIFFTAG_ICCPROFILE, &size, &icc) != 0) {
    const auto* bytes = static_cast<const std::uint8_t*>(icc);
    result.icc.assign(bytes, bytes + size);
  }
  result.bits = bits;
  const int type = bits == 16 ? CV_16UC3 : CV_8UC3;
  result.pixels.create(static_cast<int>(height), static_cast<int>(width), type);
  for (std::uint32_t row = 0; row < height; ++row) {
    REQUIRE(TIFFReadScanline(tiff.get(), result.pixels.ptr(static_cast<int>(row)), row) == 1);
  }
  return result;
}

std::string bytes_of(const std::filesystem::path& file) {
  std::ifstream in(file, std::ios::binary);
  return {std::istreambuf_iterator<char>(in), {}};
}

/// A plain sheet seen by a perfect scanner: nothing random but the target.
Scene plain_scene() {
  Scene scene;
  scene.title = "Test";
  scene.paper = {40, 30, 0, 0, 0.4, 0.6, 0.05, {}, {}, {}};
  scene.scanner.dpi = 150;
  scene.scanner.noise = 0;
  scene.recto = {solid(box(5, 5, 12, 20), "red", 0.8), solid(box(20, 5, 12, 20), "added-red", 0.5)};
  scene.fates["red"].kept["AT"] = 0.7;
  scene.fates["added-red"].kept["AT"] = 0.25;
  scene.fates["added-red"].bleeds_through["AT"] = 0.02;
  scene.regions = {{"red", "red", "recto", "ink", "", box(7, 7, 8, 16)},
                   {"touch", "touch", "recto", "added", "paper", box(22, 7, 8, 16)},
                   {"bare", "bare", "verso", "paper", "", box(33, 12, 5, 5)}};
  return scene;
}

/// Mean linear light about a pixel, through the scanner's tone curve.
std::array<double, 3> linear_at(const cv::Mat& pixels, cv::Point2d place) {
  std::array<double, 3> mean{};
  for (int j = -3; j <= 3; ++j) {
    for (int i = -3; i <= 3; ++i) {
      const auto& rgb = pixels.at<cv::Vec3w>(cvRound(place.y) + j, cvRound(place.x) + i);
      for (int c = 0; c < 3; ++c) mean[c] += std::pow(rgb[c] / 65535.0, 2.2) / 49;
    }
  }
  return mean;
}

Spectrum red_spectrum(double amount) {
  Spectrum some = strength(InkLaw::kubelka_munk, standard_inks().at("red"));
  for (double& value : some) value *= amount;
  return inked(InkLaw::kubelka_munk, paper_reflectance(0), some);
}

void check_seen(const std::array<double, 3>& seen, const Spectrum& reflectance, double tolerance) {
  for (int c = 0; c < 3; ++c) {
    double expected = 0;
    for (int i = 0; i < kBands; ++i) expected += sensor_weights()[c][i] * reflectance[i];
    CHECK_THAT(seen[c], WithinAbs(expected, tolerance));
  }
}

}  // namespace

TEST_CASE("Scans are what the inks' spectra say, and so is the truth") {
  const test::TemporaryFolder folder;
  const Truth truth = write_scene(plain_scene(), folder.path());
  const Tiff before = read_tiff(folder / "scans/bt-recto.tif");
  const Tiff after = read_tiff(folder / "scans/at-recto.tif");
  CHECK(before.bits == 16);
  CHECK(before.dpi == 150);

  const Lab red = xyz_to_lab(spectrum_to_xyz(red_spectrum(0.8)));
  const Lab faded = xyz_to_lab(spectrum_to_xyz(red_spectrum(0.8 * 0.7)));
  CHECK(ciede2000(truth.lab.at("red").at("BT"), red) < 0.01);
  CHECK(ciede2000(truth.lab.at("red").at("AT"), faded) < 0.01);
  CHECK_THAT(truth.strength_kept.at("red").at("AT"), WithinAbs(0.7, 1e-6));
  CHECK_THAT(truth.residual.at("touch").at("AT"), WithinAbs(0.25, 1e-6));

  // Half of a mask's 1/255, and the encoding's 16 bits.
  const cv::Point2d middle =
      truth.sheet_corners.at("BT.recto")[0] + cv::Point2d(11, 15) * (150 / 25.4);
  check_seen(linear_at(before.pixels, middle), red_spectrum(0.8), 2e-4);
  check_seen(linear_at(after.pixels, truth.position.at("AT.recto")(middle)),
             red_spectrum(0.8 * 0.7), 2e-4);
}

TEST_CASE("Patches lie where the truth says, in the order of the reference") {
  for (const double turn : {0.0, 92.0, 180.0}) {
    CAPTURE(turn);
    Scene scene = plain_scene();
    scene.target_turn_deg = turn;
    scene.soiled_patch = 9;
    scene.has_verso = false;
    const test::TemporaryFolder folder;
    const Truth truth = write_scene(scene, folder.path());
    const Tiff scan = read_tiff(folder / "scans/bt-recto.tif");
    const auto& corners = truth.target_corners.at("BT.recto");
    const auto chart = make_chart(4, 6, scene.seed);
    for (int row = 0; row < 4; ++row) {
      for (int column = 0; column < 6; ++column) {
        // Centres: 4.5 mm of 61.5 and 40.5 in, then every 10.5.
        const double u = (4.5 + 10.5 * column) / 61.5, v = (4.5 + 10.5 * row) / 40.5;
        const cv::Point2d centre =
            corners[0] + u * (corners[1] - corners[0]) + v * (corners[3] - corners[0]);
        const int i = 6 * row + column;
        if (i == scene.soiled_patch) {
          const auto seen = linear_at(scan.pixels, centre);
          double clean = 0;
          for (int b = 0; b < kBands; ++b)
            clean += sensor_weights()[1][b] * chart[i].reflectance[b];
          CHECK(seen[1] < 0.9 * clean);
        } else {
          check_seen(linear_at(scan.pixels, centre), chart[i].reflectance, 2e-4);
        }
      }
    }
  }
}

TEST_CASE("Marks on a deformed sheet lie where the position field says") {
  Scene scene = plain_scene();
  scene.has_verso = false;
  scene.scanner.dpi = 300;
  scene.deformation["BT"] = {1, 1, 0, 0.5, 0.3, 0.2};
  scene.deformation["AT"] = {1.01, 0.995, 0.6, -1.2, 0.7, -0.6};
  scene.recto.clear();
  std::vector<cv::Point2d> marks{{6, 5}, {20, 15.3}, {33.1, 24.7}, {8.4, 23}};
  for (const cv::Point2d& mark : marks)
    scene.recto.push_back(solid(ellipse(mark, 0.6, 0.6), "black"));
  scene.regions.clear();
  const test::TemporaryFolder folder;
  const Truth truth = write_scene(scene, folder.path());
  const auto centroid = [](const cv::Mat& pixels, cv::Point2d about) {
    cv::Point2d sum(0, 0);
    double weight = 0;
    const double paper =
        std::pow(pixels.at<cv::Vec3w>(cvRound(about.y) - 12, cvRound(about.x))[1] / 65535.0, 2.2);
    for (int j = -12; j <= 12; ++j) {
      for (int i = -12; i <= 12; ++i) {
        const cv::Point2d p(cvRound(about.x) + i, cvRound(about.y) + j);
        const double dark =
            paper - std::pow(pixels.at<cv::Vec3w>(static_cast<int>(p.y), static_cast<int>(p.x))[1] /
                                 65535.0,
                             2.2);
        sum += dark * p;
        weight += dark;
      }
    }
    return sum / weight;
  };
  const Tiff before = read_tiff(folder / "scans/bt-recto.tif"),
             after = read_tiff(folder / "scans/at-recto.tif");
  const auto& corners = truth.sheet_corners.at("BT.recto");
  for (const cv::Point2d& mark : marks) {
    const cv::Point2d first = corners[0] + mark.x / 40 * (corners[1] - corners[0]) +
                              mark.y / 30 * (corners[3] - corners[0]);
    CHECK(cv::norm(centroid(before.pixels, first) - first) < 0.02);
    const cv::Point2d later = truth.position.at("AT.recto")(first);
    CHECK(cv::norm(later - first) > 2);
    CHECK(cv::norm(centroid(after.pixels, later) - later) < 0.02);  // pixels: 0.002 mm
  }
}

TEST_CASE("Truth maps show what came through, what changed and what was lost") {
  const Scene scene = plain_scene();
  const test::TemporaryFolder folder;
  const Truth truth = write_scene(scene, folder.path());
  const auto value = [&](const cv::Mat& map, const std::string& side, double x, double y) {
    const cv::Point2d px =
        truth.sheet_corners.at("BT." + side)[0] + cv::Point2d(x, y) * (150 / 25.4);
    const double step = truth.truth_pitch_mm * 150 / 25.4;
    return static_cast<double>(map.at<float>(cvRound(px.y / step), cvRound(px.x / step)));
  };
  // 0.02 of half a solid of the added red, added to the K/S of the verso's bare paper.
  Spectrum trace = strength(scene.law, scene.inks.at("added-red"));
  for (double& v : trace) v *= 0.5 * 0.02;
  const Spectrum paper = paper_reflectance(0);
  const double expected = ciede2000(xyz_to_lab(spectrum_to_xyz(paper)),
                                    xyz_to_lab(spectrum_to_xyz(inked(scene.law, paper, trace))));
  REQUIRE(expected > 2);
  const cv::Mat& bleed = truth.bleed_through.at("verso.AT");
  CHECK_THAT(value(bleed, "verso", 40 - 26, 15), WithinAbs(expected, 0.05));
  CHECK(value(bleed, "verso", 40 - 11, 15) == 0);
  CHECK(std::isnan(bleed.at<float>(0, 0)));

  CHECK_THAT(
      value(truth.difference.at("recto.AT"), "recto", 11, 15),
      WithinAbs(ciede2000(truth.lab.at("red").at("BT"), truth.lab.at("red").at("AT")), 0.02));
  CHECK(value(truth.difference.at("recto.AT"), "recto", 36, 15) == 0);
  CHECK_THAT(value(truth.lost_ink.at("recto.AT"), "recto", 11, 15), WithinAbs(0.3, 1e-4));
  CHECK(
      std::isnan(value(truth.lost_ink.at("recto.AT"), "recto", 26, 15)));  // added colour is no ink
}

TEST_CASE("A seed gives the same files on any number of threads, another seed others") {
  Scene scene = screens_scene(3);
  scene.paper.height_mm = 35;
  scene.recto.resize(14);
  scene.regions.clear();
  scene.has_verso = false;
  scene.stages = {"BT"};
  const test::TemporaryFolder one, two, three;
  (void)write_scene(scene, one.path());
  const int threads = cv::getNumThreads();
  cv::setNumThreads(1);
  (void)write_scene(scene, two.path());
  cv::setNumThreads(threads);
  CHECK(bytes_of(one / "scans/bt-recto.tif") == bytes_of(two / "scans/bt-recto.tif"));
  CHECK(bytes_of(one / "treatment.toml") == bytes_of(two / "treatment.toml"));
  scene.seed = 4;
  (void)write_scene(scene, three.path());
  CHECK(bytes_of(one / "scans/bt-recto.tif") != bytes_of(three / "scans/bt-recto.tif"));
}

TEST_CASE("The embedded profile leads close to the colours, not all the way") {
  Scene scene = plain_scene();
  const std::vector<std::uint8_t> icc = scanner_profile(scene);
  const std::unique_ptr<void, decltype(&cmsCloseProfile)> profile(
      cmsOpenProfileFromMem(icc.data(), static_cast<cmsUInt32Number>(icc.size())), cmsCloseProfile);
  REQUIRE(profile);
  std::array<char, 64> description{};
  cmsGetProfileInfoASCII(profile.get(), cmsInfoDescription, "en", "GB", description.data(), 64);
  CHECK(std::string(description.data()) == "Simulated flatbed");

  const auto matrix = profile_matrix(scene);
  std::vector<double> errors;
  for (const Patch& patch : make_chart(4, 6, scene.seed)) {
    Xyz xyz{};
    for (int c = 0; c < 3; ++c) {
      double rgb = 0;
      for (int i = 0; i < kBands; ++i)
        rgb += sensor_weights()[c][i] * patch.reflectance[i] / kExposure;
      for (int axis = 0; axis < 3; ++axis) xyz[axis] += matrix[axis][c] * rgb;
    }
    errors.push_back(ciede2000(xyz_to_lab(xyz), xyz_to_lab(spectrum_to_xyz(patch.reflectance))));
  }
  std::sort(errors.begin(), errors.end());
  // A sensor that met the Luther condition would be right everywhere.
  CHECK(errors[12] > 0.2);
  CHECK(errors[12] < 2);
  CHECK(errors.back() < 5);
}

TEST_CASE("Scans of 8 bits, JPEG and without a profile") {
  Scene scene = plain_scene();
  scene.has_verso = false;
  scene.stages = {"BT"};
  scene.scanner.bit_depth = 8;
  scene.scanner.embed_profile = false;
  const test::TemporaryFolder folder;
  (void)write_scene(scene, folder.path());
  const Tiff tiff = read_tiff(folder / "scans/bt-recto.tif");
  CHECK(tiff.bits == 8);
  CHECK(tiff.icc.empty());
  scene.scanner.jpeg = true;
  scene.scanner.embed_profile = true;
  (void)write_scene(scene, folder.path());
  const std::string jpeg = bytes_of(folder / "scans/bt-recto.jpg");
  CHECK(jpeg.substr(0, 2) == "\xff\xd8");
  CHECK(jpeg.find("ICC_PROFILE") != std::string::npos);
}

TEST_CASE("Stray light lifts what lies beside light paper, and drift leaves the first scan alone") {
  Scene scene = plain_scene();
  const cv::Mat bed = [] {
    cv::Mat light(300, 300, CV_32FC3, cv::Scalar::all(0.05));
    light(cv::Rect(0, 0, 150, 300)).setTo(cv::Scalar::all(0.8));
    return light;
  }();
  const ScanState first = scan_state(scene, "BT", "recto");
  const auto at = [](const cv::Mat& m, int x) {
    return std::pow(m.at<cv::Vec3w>(150, x)[1] / 65535.0, 2.2);
  };
  const cv::Mat clean = record(bed.clone(), scene, first);
  scene.scanner.veil = 0.05;
  const cv::Mat veiled = record(bed.clone(), scene, first);
  CHECK(at(veiled, 160) > at(clean, 160) + 0.005);
  CHECK(at(veiled, 160) > at(veiled, 290) + 0.003);
  scene.scanner.veil = 0;
  scene.scanner.flare_kappa = 0.266;
  const cv::Mat flared = record(bed.clone(), scene, first);
  // m = t (1 + κ (t ⊗ h)) / (1 + κ r0) with r0 = ½, far inside each half.
  CHECK_THAT(at(flared, 20), WithinAbs(0.8 * (1 + 0.266 * 0.8) / 1.133, 0.005));
  CHECK_THAT(at(flared, 280), WithinAbs(0.05 * (1 + 0.266 * 0.05) / 1.133, 0.001));

  scene.scanner.drift = 1;
  CHECK(scan_state(scene, "BT", "recto").gain == std::array<double, 3>{1, 1, 1});
  CHECK(scan_state(scene, "AT", "recto").gain != std::array<double, 3>{1, 1, 1});
}

TEST_CASE("Noise is as strong as asked for at white and weaker below") {
  Scene scene = plain_scene();
  scene.scanner.noise = 0.01;
  const auto deviation = [&](double level) {
    const cv::Mat light(200, 200, CV_32FC3, cv::Scalar::all(level));
    const cv::Mat scan = record(light.clone(), scene, scan_state(scene, "BT", "recto"));
    double sum = 0, square = 0;
    for (const auto& rgb : cv::Mat_<cv::Vec3w>(scan)) {
      const double v = std::pow(rgb[1] / 65535.0, 2.2);
      sum += v;
      square += v * v;
    }
    const double mean = sum / 40000;
    CHECK_THAT(mean, WithinAbs(level, 3e-4));
    return std::sqrt(square / 40000 - mean * mean);
  };
  CHECK_THAT(deviation(0.9), Catch::WithinRel(0.01 * std::sqrt(0.04 + 0.96 * 0.9), 0.03));
  CHECK(deviation(0.1) < 0.5 * deviation(0.9));
}

TEST_CASE("A scene that cannot be is refused in words") {
  Scene scene = plain_scene();
  scene.recto[0].ink = "purple";
  const test::TemporaryFolder folder;
  try {
    (void)write_scene(scene, folder.path());
    FAIL("was not refused");
  } catch (const Error& error) {
    CHECK(error.code() == ExitCode::usage);
    CHECK(std::string(error.what()).find("purple") != std::string::npos);
  }
}

TEST_CASE("The demo is whole: regions of every role on both sides, each over what it names") {
  const Scene scene = demo_scene();
  CHECK_NOTHROW(check(scene));
  std::set<std::string> roles, sides, ids;
  for (const NamedRegion& region : scene.regions) {
    roles.insert(region.role);
    sides.insert(region.side);
    CHECK(ids.insert(region.id).second);
  }
  CHECK(roles == std::set<std::string>{"added", "ink", "paper", "watch"});
  CHECK(sides.size() == 2);
  for (const NamedRegion& region : scene.regions) {
    if (region.role == "added") CHECK((region.under == "paper" || ids.contains(region.under)));
  }
}

TEST_CASE("Every scene's treatment file is one that the program reads") {
  std::vector<Scene> scenes{demo_scene(), solids_scene(1), screens_scene(2), unchanged_scene(3)};
  for (Scene& scene : scenes) {
    CAPTURE(scene.title);
    scene.scanner.dpi = 75;
    scene.recto.clear();
    scene.verso.clear();
    const test::TemporaryFolder folder;
    (void)write_scene(scene, folder.path());
    const Treatment treatment = read_treatment(folder / "treatment.toml");
    CHECK(treatment.stages.size() == scene.stages.size());
    CHECK(treatment.regions.size() == scene.regions.size());
    CHECK(treatment.object.title == scene.title);
    for (const Stage& stage : treatment.stages) {
      for (const auto& [side, file] : stage.scans) CHECK(std::filesystem::exists(file));
    }
  }
}

}  // namespace inkwane::simulate
