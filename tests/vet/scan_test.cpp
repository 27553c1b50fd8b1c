// Protects: vet finds each fault that a simulated scan was given, and none in the scan as it was.
#include <algorithm>

#include <catch2/catch.hpp>
#include <opencv2/imgcodecs.hpp>
#include <opencv2/imgproc.hpp>

#include "simulate/simulate.hpp"
#include "tests/support.hpp"
#include "vet/pixels.hpp"
#include "vet/vet.hpp"

namespace fs = std::filesystem;
using namespace inkwane;
using vet::Finding;
using vet::Verdict;

namespace {

simulate::Scene scene_of_one_stage() {
  auto scene = simulate::solids_scene(1);
  scene.stages = {"BT"};
  scene.has_verso = false;
  return scene;
}

/// A simulated scan at 300 dpi, 16 bits, its profile embedded; made once.
struct Simulated {
  explicit Simulated(const simulate::Scene& scene) {
    write_scene(scene, folder.path());
    file = folder / "scans/bt-recto.tif";
    picture = cv::imread(file.string(), cv::IMREAD_UNCHANGED);
    reference = target::read_reference(folder / "target.txt", 4, 6);
  }
  test::TemporaryFolder folder;
  fs::path file;
  cv::Mat picture;  ///< B G R, 16 bit
  target::Reference reference;

  /// The findings on a changed picture, saved without a profile.
  [[nodiscard]] std::vector<Finding> vet(const cv::Mat& changed, int dpi = 300) const {
    const fs::path other = folder / "changed.tif";
    cv::imwrite(
        other.string(), changed,
        {cv::IMWRITE_TIFF_RESUNIT, 2, cv::IMWRITE_TIFF_XDPI, dpi, cv::IMWRITE_TIFF_YDPI, dpi});
    return vet::vet_scan(other, &reference);
  }
};

const Simulated& plain() {
  static const Simulated scan(scene_of_one_stage());
  return scan;
}

/// The verdict of the finding that says `words`; none: nothing says so.
std::optional<Verdict> verdict(const std::vector<Finding>& findings, const std::string& words) {
  for (const Finding& finding : findings) {
    if (finding.what.find(words) != std::string::npos) return finding.verdict;
  }
  return std::nullopt;
}

Verdict worst(const std::vector<Finding>& findings) {
  Verdict out = Verdict::good;
  for (const Finding& finding : findings) out = std::max(out, finding.verdict);
  return out;
}

cv::Mat sharpened(const cv::Mat& picture, double amount) {
  cv::Mat blurred, out;
  cv::GaussianBlur(picture, blurred, {}, 1.2);
  cv::addWeighted(picture, 1 + amount, blurred, -amount, 0, out);
  return out;
}

}  // namespace

TEST_CASE("a good scan has no fault but that 600 dpi would be better") {
  const auto findings = vet::vet_scan(plain().file, &plain().reference);
  for (const Finding& finding : findings) {
    CAPTURE(finding.what);
    CHECK((finding.verdict == Verdict::good || finding.what.find("300 dpi") == 0));
  }
  CHECK(verdict(findings, "target found") == Verdict::good);
  CHECK(verdict(findings, "left-out error") == Verdict::good);
  CHECK(verdict(findings, "grey patches darken in order") == Verdict::good);
}

TEST_CASE("sharpening shows as overshoot, and blur alone does not") {
  CHECK(verdict(plain().vet(plain().picture), "overshoot") == Verdict::good);
  CHECK(verdict(plain().vet(sharpened(plain().picture, 0.1)), "overshoot") == Verdict::good);
  for (const double amount : {0.2, 0.5})
    CHECK(verdict(plain().vet(sharpened(plain().picture, amount)), "was sharpened") ==
          Verdict::note);
  CHECK(verdict(plain().vet(sharpened(plain().picture, 1.5)), "was sharpened") ==
        Verdict::doubtful);
  cv::Mat soft;
  cv::GaussianBlur(plain().picture, soft, {}, 1.5);
  CHECK(verdict(plain().vet(soft), "overshoot") == Verdict::good);
}

TEST_CASE("8-bit values are seen, in 8 bits, in 16, and stretched") {
  cv::Mat eight, wide, stretched;
  plain().picture.convertTo(eight, CV_8U, 1 / 257.0);
  CHECK(verdict(plain().vet(eight), "8 bits a channel") == Verdict::note);
  CHECK(!verdict(plain().vet(eight), "gaps in the histogram"));
  eight.convertTo(wide, CV_16U, 257);
  CHECK(verdict(plain().vet(wide), "8-bit data in a 16-bit file") == Verdict::note);
  eight.convertTo(stretched, CV_8U, 1.2, -10);
  CHECK(verdict(plain().vet(stretched), "gaps in the histogram") == Verdict::note);
}

TEST_CASE("a JPEG once shows in its blocks, wherever it was cut since") {
  cv::Mat eight;
  plain().picture.convertTo(eight, CV_8U, 1 / 257.0);
  CHECK(!verdict(plain().vet(eight), "JPEG once"));
  for (const int quality : {75, 95}) {
    std::vector<unsigned char> bytes;
    cv::imencode(".jpg", eight, bytes, {cv::IMWRITE_JPEG_QUALITY, quality});
    const cv::Mat again = cv::imdecode(bytes, cv::IMREAD_COLOR);
    const cv::Mat cut = again(cv::Rect(3, 5, again.cols - 3, again.rows - 5));
    CHECK(verdict(plain().vet(cut), "JPEG once") == Verdict::note);
  }
}

TEST_CASE("clipping counts on the sheet and in the target, not in the backing") {
  cv::Mat bright, dark;
  plain().picture.convertTo(bright, CV_16U, 1.4);
  const auto findings = plain().vet(bright);
  CHECK(verdict(findings, "clipped in the lights") == Verdict::doubtful);
  CHECK(verdict(findings, "patches are clipped") == Verdict::doubtful);
  // The dark backing falls to 0 whole, and with it nothing that is measured.
  dark = plain().picture.clone();
  const double backing = 1.4 * cv::mean(dark(cv::Rect(0, 0, 32, 32)))[1];
  for (int r = 0; r < dark.rows; ++r) {
    for (int c = 0; c < dark.cols; ++c) {
      auto& pixel = dark.at<cv::Vec3w>(r, c);
      const bool border = r < 48 || c < 48 || r >= dark.rows - 48 || c >= dark.cols - 48;
      if (border && pixel[0] < backing && pixel[1] < backing && pixel[2] < backing)
        pixel = {0, 0, 0};
    }
  }
  CHECK(verdict(plain().vet(dark), "nothing clipped but the backing") == Verdict::good);
}

TEST_CASE("resolution and profile") {
  const auto bare = plain().vet(plain().picture);
  CHECK(verdict(bare, "no ICC profile") == Verdict::note);
  CHECK(verdict(bare, "300 dpi") == Verdict::note);
  CHECK(verdict(plain().vet(plain().picture, 200), "200 dpi") == Verdict::doubtful);
  CHECK(verdict(plain().vet(plain().picture, 600), "600 dpi") == Verdict::good);
  // Without a target to correct it, a missing profile is a guess.
  CHECK(verdict(vet::vet_scan(plain().folder / "changed.tif", nullptr), "no ICC profile") ==
        Verdict::doubtful);
}

TEST_CASE("uneven light and noise are measured, as they were simulated") {
  auto scene = scene_of_one_stage();
  scene.scanner.gradient = 0.15;
  scene.scanner.noise = 0.06;
  const Simulated uneven(scene);
  const auto findings = vet::vet_scan(uneven.file, &uneven.reference);
  CHECK(verdict(findings, "light over the lightest area") == Verdict::note);
  CHECK(verdict(findings, "more than 1.6") == Verdict::note);
}

TEST_CASE("a target that is not there, or another's, is unusable or doubtful, never guessed") {
  cv::Mat none =
      plain().picture(cv::Rect(0, 0, plain().picture.cols / 2, plain().picture.rows)).clone();
  CHECK(worst(plain().vet(none)) == Verdict::unusable);
  // Two patches exchanged in the reference: not this target's.
  target::Reference other = plain().reference;
  for (std::size_t i = 0; i + 1 < other.patches.size(); i += 2) {
    std::swap(other.patches[i].lab, other.patches[i + 1].lab);
  }
  CHECK(worst(vet::vet_scan(plain().file, &other)) >= Verdict::doubtful);
  CHECK(worst(vet::vet_scan("/nowhere/scan.tif", nullptr)) == Verdict::unusable);
}

TEST_CASE("dots that come near the pixels, or are too coarsely scanned, may be moiré") {
  const auto seen = [](double lpi, double dpi) {
    auto scene = simulate::screens_scene(1, lpi, dpi);
    scene.stages = {"BT"};
    scene.has_verso = false;
    const Simulated scan(scene);
    return vet::vet_scan(scan.file, nullptr);
  };
  const auto said = [](const std::vector<Finding>& findings) {
    for (const Finding& finding : findings) {
      if (finding.what.find("dots at") == 0) return finding;
    }
    return Finding{Verdict::unusable, "nothing", ""};
  };
  const Finding clear = said(seen(85, 300)), near = said(seen(133, 300)),
                coarse = said(seen(65, 200));
  CAPTURE(clear.what, near.what, coarse.what);
  CHECK(clear.verdict == Verdict::good);
  CHECK_THAT(clear.what, Catch::Matchers::Contains("85 lines"));
  CHECK(near.verdict == Verdict::note);
  CHECK_THAT(near.what, Catch::Matchers::Contains("come near the pixels"));
  CHECK(coarse.verdict == Verdict::note);
  CHECK_THAT(coarse.what, Catch::Matchers::Contains("finer screen"));
  CHECK(said(vet::vet_scan(plain().file, nullptr)).what == "nothing");
}

TEST_CASE("a curve that is not monotone shows in the grey ramp") {
  cv::Mat folded = plain().picture.clone();
  for (auto& pixel : cv::Mat_<cv::Vec3w>(folded)) {
    for (int c = 0; c < 3; ++c) {
      if (pixel[c] > 45'000) pixel[c] = static_cast<std::uint16_t>(45'000 - (pixel[c] - 45'000));
    }
  }
  CHECK(worst(plain().vet(folded)) >= Verdict::doubtful);
  // A steep but rising curve is the fit's to follow.
  cv::Mat bent;
  plain().picture.convertTo(bent, CV_32F, 1 / 65535.0);
  cv::pow(bent, 1.4, bent);
  bent.convertTo(bent, CV_16U, 65535);
  CHECK(verdict(plain().vet(bent), "grey patches darken in order") == Verdict::good);
}
