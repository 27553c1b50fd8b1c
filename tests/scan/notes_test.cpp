// Protects: what a file says about itself (orientation, resolution, profile) is honoured in every
// format, and what is doubtful about it becomes a warning.
#include <algorithm>
#include <numeric>

#include <catch2/catch.hpp>

#include <inkwane/error.hpp>

#include "images.hpp"
#include "scan/scan.hpp"
#include "tests/support.hpp"

using namespace inkwane;
using namespace inkwane::test;
using Catch::Matchers::Contains;
using Catch::Matchers::WithinAbs;

namespace {

/// Exif 2.3, tag 274: on which side of the displayed picture the stored row 0 and column 0 lie.
cv::Mat displayed(const cv::Mat& stored, int orientation) {
  const bool turned = orientation >= 5;
  cv::Mat shown(turned ? stored.cols : stored.rows, turned ? stored.rows : stored.cols, CV_16UC3);
  const int right = shown.cols - 1, bottom = shown.rows - 1;
  for (int r = 0; r < stored.rows; ++r) {
    for (int c = 0; c < stored.cols; ++c) {
      cv::Point to;
      switch (orientation) {
        case 1:
          to = {c, r};
          break;  // row 0 top, column 0 left
        case 2:
          to = {right - c, r};
          break;  // top, right
        case 3:
          to = {right - c, bottom - r};
          break;  // bottom, right
        case 4:
          to = {c, bottom - r};
          break;  // bottom, left
        case 5:
          to = {r, c};
          break;  // left, top
        case 6:
          to = {right - r, c};
          break;  // right, top
        case 7:
          to = {right - r, bottom - c};
          break;  // right, bottom
        case 8:
          to = {r, bottom - c};
          break;  // left, bottom
      }
      shown.at<cv::Vec3w>(to) = stored.at<cv::Vec3w>(r, c);
    }
  }
  return shown;
}

void check_shown(const std::filesystem::path& file, const cv::Mat& truth, double within = 0) {
  const auto scan = scan::Scan::open(file);
  REQUIRE(scan.info().width_px == truth.cols);
  REQUIRE(scan.info().height_px == truth.rows);
  cv::Mat whole(truth.size(), CV_16UC3);
  scan.read(
      [&](int row, const cv::Mat& strip) { strip.copyTo(whole.rowRange(row, row + strip.rows)); });
  CHECK(cv::norm(whole, truth, cv::NORM_INF) <= within);
  const cv::Rect window(2, 9, truth.cols - 7, truth.rows - 20);
  CHECK(cv::norm(scan.read_window(window), truth(window), cv::NORM_INF) <= within);
}

std::vector<std::uint8_t> profile(std::size_t length) {
  // The header fields that libpng checks (ICC.1, clause 7.2); the rest is filling.
  std::vector<std::uint8_t> bytes(length);
  for (std::size_t i = 132; i < length; ++i) bytes[i] = static_cast<std::uint8_t>(i * 31);
  const auto put = [&](std::size_t at, std::uint32_t value) {
    for (int i = 0; i < 4; ++i) bytes[at + i] = static_cast<std::uint8_t>(value >> (24 - 8 * i));
  };
  put(0, static_cast<std::uint32_t>(length));
  put(8, 0x04300000);
  put(12, 0x73636E72);  // scnr
  put(16, 0x52474220);  // RGB
  put(20, 0x4C616220);  // Lab
  put(36, 0x61637370);  // acsp
  put(68, 0x0000F6D6), put(72, 0x00010000), put(76, 0x0000D32D);
  put(128, 0);
  return bytes;
}

bool warns(const scan::Info& info, const std::string& of) {
  return std::any_of(info.warnings.begin(), info.warnings.end(),
                     [&](const std::string& text) { return text.find(of) != std::string::npos; });
}

std::string refusal(const std::filesystem::path& file) {
  try {
    static_cast<void>(scan::Scan::open(file));
  } catch (const Error& error) {
    CHECK(error.code() == ExitCode::scan);
    return error.what();
  }
  return "not refused";
}

}  // namespace

TEST_CASE("the eight orientations are shown as the standard says", "[scan]") {
  const TemporaryFolder folder;
  const int orientation = GENERATE(1, 2, 3, 4, 5, 6, 7, 8);
  const bool big_endian = GENERATE(false, true);
  CAPTURE(orientation);
  const cv::Mat stored = pattern(301, 77, 16);
  const auto exif = exif_block(orientation, 0, big_endian);

  Tiff tiff;
  tiff.orientation = orientation;
  write_tiff(folder / "a.tif", stored, tiff);
  check_shown(folder / "a.tif", displayed(stored, orientation));
  tiff.tile = 32;
  write_tiff(folder / "tiles.tif", stored, tiff);
  check_shown(folder / "tiles.tif", displayed(stored, orientation));

  Png png;
  png.exif = exif;
  write_png(folder / "a.png", stored, png);
  check_shown(folder / "a.png", displayed(stored, orientation));

  Jpeg jpeg;
  jpeg.exif = exif;
  write_jpeg(folder / "a.jpg", ramps(301, 77), jpeg);
  check_shown(folder / "a.jpg", displayed(decode_jpeg(folder / "a.jpg"), orientation),
              kJpegRounding);
}

TEST_CASE("resolution is read in every unit", "[scan]") {
  const TemporaryFolder folder;
  const cv::Mat picture = pattern(20, 30, 16);
  const auto dpi = [&](const char* name) {
    return scan::Scan::open(folder / name).info().resolution_dpi;
  };
  Tiff tiff;
  tiff.x_resolution = tiff.y_resolution = 600;
  write_tiff(folder / "inch.tif", picture, tiff);
  CHECK_THAT(dpi("inch.tif").value(), WithinAbs(600, 1e-9));
  tiff.unit = RESUNIT_CENTIMETER;
  tiff.x_resolution = tiff.y_resolution = 118.11F;
  write_tiff(folder / "cm.tif", picture, tiff);
  CHECK_THAT(dpi("cm.tif").value(), WithinAbs(300, 0.01));
  tiff.unit = RESUNIT_NONE;
  write_tiff(folder / "none.tif", picture, tiff);
  CHECK(!dpi("none.tif"));
  CHECK(warns(scan::Scan::open(folder / "none.tif").info(), "no resolution"));
  tiff.x_resolution = 0;
  write_tiff(folder / "missing.tif", picture, tiff);
  CHECK(!dpi("missing.tif"));

  Png png;
  write_png(folder / "metre.png", picture, png);
  CHECK_THAT(dpi("metre.png").value(), WithinAbs(300, 0.01));
  png.metres = false;
  write_png(folder / "none.png", picture, png);
  CHECK(!dpi("none.png"));
  png.x_metre = 0;
  png.exif = exif_block(1, 400);
  write_png(folder / "exif.png", picture, png);
  CHECK_THAT(dpi("exif.png").value(), WithinAbs(400, 1e-9));

  Jpeg jpeg;
  write_jpeg(folder / "inch.jpg", picture, jpeg);
  CHECK_THAT(dpi("inch.jpg").value(), WithinAbs(300, 1e-9));
  jpeg.unit = 2, jpeg.x_density = jpeg.y_density = 118;
  write_jpeg(folder / "cm.jpg", picture, jpeg);
  CHECK_THAT(dpi("cm.jpg").value(), WithinAbs(299.72, 1e-9));
  jpeg.unit = 0, jpeg.x_density = jpeg.y_density = 1;
  write_jpeg(folder / "none.jpg", picture, jpeg);
  CHECK(!dpi("none.jpg"));
  jpeg.exif = exif_block(1, 400, true);
  write_jpeg(folder / "exif.jpg", picture, jpeg);
  CHECK_THAT(dpi("exif.jpg").value(), WithinAbs(400, 1e-9));
  jpeg.exif = exif_block(1, 0);  // Exif without a resolution does not stand for 72
  write_jpeg(folder / "bare.jpg", picture, jpeg);
  CHECK(!dpi("bare.jpg"));
}

TEST_CASE("pixels that are not square are refused from 1 % on, in every format", "[scan]") {
  const TemporaryFolder folder;
  const cv::Mat picture = pattern(20, 30, 16);
  Tiff tiff;
  tiff.y_resolution = 304;
  write_tiff(folder / "a.tif", picture, tiff);
  CHECK_THAT(refusal(folder / "a.tif"), Contains("a.tif") && Contains("300") && Contains("304"));
  tiff.y_resolution = 302;
  write_tiff(folder / "near.tif", picture, tiff);
  CHECK(scan::Scan::open(folder / "near.tif").info().resolution_dpi.has_value());
  tiff.unit = RESUNIT_NONE, tiff.x_resolution = 1, tiff.y_resolution = 2;
  write_tiff(folder / "shape.tif", picture, tiff);
  CHECK_THAT(refusal(folder / "shape.tif"), Contains("resolution"));
  Png png;
  png.y_metre = 12500;
  write_png(folder / "a.png", picture, png);
  CHECK_THAT(refusal(folder / "a.png"), Contains("resolution"));
  Jpeg jpeg;
  jpeg.y_density = 310;
  write_jpeg(folder / "a.jpg", picture, jpeg);
  CHECK_THAT(refusal(folder / "a.jpg"), Contains("resolution"));
}

TEST_CASE("the embedded profile comes out byte for byte", "[scan]") {
  const TemporaryFolder folder;
  const cv::Mat picture = pattern(20, 30, 16);
  const auto icc = profile(GENERATE(400, 150'000));  // the longer takes three segments of a JPEG
  Tiff tiff;
  tiff.icc = icc;
  write_tiff(folder / "a.tif", picture, tiff);
  Png png;
  png.icc = icc;
  write_png(folder / "a.png", picture, png);
  Jpeg jpeg;
  jpeg.icc = icc;
  write_jpeg(folder / "a.jpg", picture, jpeg);
  for (const char* name : {"a.tif", "a.png", "a.jpg"}) {
    CAPTURE(name);
    const auto info = scan::Scan::open(folder / name).info();
    CHECK(info.icc == icc);
    CHECK(!warns(info, "profile"));
  }
}

TEST_CASE("a damaged profile is refused, not dropped", "[scan]") {
  const TemporaryFolder folder;
  const cv::Mat picture = pattern(20, 30, 16);
  const auto icc = profile(150'000);
  Png png;
  png.icc = icc;
  write_png(folder / "a.png", picture, png);
  auto bytes = read_bytes(folder / "a.png");
  const std::string mark = "iCCP";
  const auto at = std::search(bytes.begin(), bytes.end(), mark.begin(), mark.end());
  *(at + 60) ^= 0x55;
  write_bytes(folder / "a.png", bytes);
  CHECK_THAT(refusal(folder / "a.png"), Contains("a.png") && Contains("profile"));

  Jpeg jpeg;
  jpeg.icc = icc;
  write_jpeg(folder / "a.jpg", picture, jpeg);
  bytes = read_bytes(folder / "a.jpg");
  const std::string icc_mark = "ICC_PROFILE";
  const auto segment = std::search(bytes.begin(), bytes.end(), icc_mark.begin(), icc_mark.end());
  *(segment + 12) = 3;  // a second third segment: the first is missing
  write_bytes(folder / "a.jpg", bytes);
  CHECK_THAT(refusal(folder / "a.jpg"), Contains("a.jpg") && Contains("profile"));
}

TEST_CASE("what is doubtful about a file is a warning, once", "[scan]") {
  const TemporaryFolder folder;
  const cv::Mat picture = pattern(20, 30, 16);
  Tiff tiff;
  tiff.icc = profile(400);
  write_tiff(folder / "good.tif", picture, tiff);
  CHECK(scan::Scan::open(folder / "good.tif").info().warnings.empty());

  tiff.icc.clear();
  tiff.samples = 4;
  tiff.depth = 8;
  write_tiff(folder / "a.tif", picture, tiff);
  const auto info = scan::Scan::open(folder / "a.tif").info();
  CHECK(warns(info, "alpha"));
  CHECK(warns(info, "8 bits"));
  CHECK(warns(info, "sRGB is assumed"));
  CHECK(info.warnings.size() == 3);

  write_jpeg(folder / "a.jpg", picture, {});
  CHECK(warns(scan::Scan::open(folder / "a.jpg").info(), "JPEG"));

  Png png;
  png.srgb = true;
  write_png(folder / "a.png", picture, png);
  CHECK(scan::Scan::open(folder / "a.png").info().warnings.empty());
}

TEST_CASE("of several pages the first is read; thumbnails are no pages", "[scan][tiff]") {
  const TemporaryFolder folder;
  const cv::Mat first = pattern(40, 30, 16), second = pattern(50, 60, 16);
  write_tiff(folder / "pages.tif", first, {});
  write_tiff(folder / "pages.tif", second, {}, true);
  check_shown(folder / "pages.tif", first);
  CHECK(warns(scan::Scan::open(folder / "pages.tif").info(), "more than one page"));

  Tiff thumbnail;
  thumbnail.subfile = FILETYPE_REDUCEDIMAGE;
  write_tiff(folder / "thumb.tif", first, thumbnail);
  write_tiff(folder / "thumb.tif", second, {}, true);
  check_shown(folder / "thumb.tif", second);
  CHECK(!warns(scan::Scan::open(folder / "thumb.tif").info(), "more than one page"));
}
