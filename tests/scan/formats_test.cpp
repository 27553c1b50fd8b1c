// Protects: every way in which RGB of 8 or 16 bits can lie in a file comes out bit for bit, whole
// and in windows.
#include <catch2/catch.hpp>

#include "images.hpp"
#include "scan/scan.hpp"
#include "tests/support.hpp"

using namespace inkwane;
using namespace inkwane::test;
using Catch::Matchers::WithinAbs;

namespace {

cv::Mat read_all(const scan::Scan& scan) {
  cv::Mat whole(scan.info().height_px, scan.info().width_px, CV_16UC3, cv::Scalar::all(7));
  int next = 0;
  scan.read([&](int first_row, const cv::Mat& strip) {
    REQUIRE(first_row == next);
    REQUIRE(strip.type() == CV_16UC3);
    REQUIRE(strip.cols == whole.cols);
    strip.copyTo(whole.rowRange(first_row, first_row + strip.rows));
    next += strip.rows;
  });
  REQUIRE(next == whole.rows);
  return whole;
}

bool same(const cv::Mat& one, const cv::Mat& two, double within = 0) {
  return one.size() == two.size() && cv::norm(one, two, cv::NORM_INF) <= within;
}

/// The scan's pixels, streamed and in windows at the corners and within, are `truth`.
void check_pixels(const scan::Scan& scan, const cv::Mat& truth, double within = 0) {
  REQUIRE(scan.info().width_px == truth.cols);
  REQUIRE(scan.info().height_px == truth.rows);
  CHECK(same(read_all(scan), truth, within));
  CHECK(same(read_all(scan), truth, within));  // a second time: nothing is used up
  const int w = truth.cols, h = truth.rows;
  for (const cv::Rect window :
       {cv::Rect(0, 0, w, h), cv::Rect(0, 0, 1, 1), cv::Rect(w - 1, h - 1, 1, 1),
        cv::Rect(3, 5, w - 9, h - 8), cv::Rect(w / 2, 0, 2, h), cv::Rect(0, h / 2, w, 2)}) {
    CAPTURE(window);
    CHECK(same(scan.read_window(window), truth(window), within));
  }
}

}  // namespace

TEST_CASE("TIFF: every layout, byte order and compression is read bit for bit", "[scan][tiff]") {
  const TemporaryFolder folder;
  const int depth = GENERATE(8, 16);
  const int compression = GENERATE(COMPRESSION_NONE, COMPRESSION_LZW, COMPRESSION_ADOBE_DEFLATE,
                                   COMPRESSION_DEFLATE, COMPRESSION_PACKBITS, COMPRESSION_ZSTD);
  if (TIFFIsCODECConfigured(static_cast<std::uint16_t>(compression)) == 0) return;
  const cv::Mat truth = pattern(301, 77, depth);
  Tiff how;
  how.depth = depth;
  how.compression = compression;
  for (const char* mode : {"wl", "wb", "wl8", "wb8"}) {
    for (const bool planar : {false, true}) {
      for (const int samples : {3, 4}) {
        for (const int rows : {1, 7, 64, 200, 301}) {
          for (const int predictor : {1, 2}) {
            if (predictor == 2 &&
                (compression == COMPRESSION_NONE || compression == COMPRESSION_PACKBITS))
              continue;
            how.mode = mode, how.planar = planar, how.samples = samples, how.rows_per_strip = rows,
            how.predictor = predictor;
            how.tile = 0;
            CAPTURE(depth, compression, mode, planar, samples, rows, predictor);
            write_tiff(folder / "strips.tif", truth, how);
            CHECK(same(read_all(scan::Scan::open(folder / "strips.tif")), truth));
          }
        }
        how.predictor = 1;
        for (const int tile : {16, 64, 320}) {
          how.tile = tile;
          CAPTURE(depth, compression, mode, planar, samples, tile);
          write_tiff(folder / "tiles.tif", truth, how);
          CHECK(same(read_all(scan::Scan::open(folder / "tiles.tif")), truth));
        }
      }
    }
  }
  how.planar = false;
  how.tile = 48;
  write_tiff(folder / "tiles.tif", truth, how);
  check_pixels(scan::Scan::open(folder / "tiles.tif"), truth);
  how.tile = 0;
  how.rows_per_strip = 10;
  write_tiff(folder / "strips.tif", truth, how);
  check_pixels(scan::Scan::open(folder / "strips.tif"), truth);
}

TEST_CASE("TIFF: one strip too large to be held is read row by row, alike", "[scan][tiff]") {
  const TemporaryFolder folder;
  const int compression = GENERATE(COMPRESSION_NONE, COMPRESSION_LZW);
  const bool planar = GENERATE(false, true);
  const char* mode = GENERATE("wl", "wb");
  const int width = planar ? 4100 : 1400;
  const cv::Mat truth = pattern(4200, width, 16);
  Tiff how;
  how.mode = mode, how.compression = compression, how.planar = planar;
  how.rows_per_strip = truth.rows;
  REQUIRE(static_cast<double>(truth.total()) * (planar ? 2 : 6) > 32 << 20);
  write_tiff(folder / "one.tif", truth, how);
  const auto scan = scan::Scan::open(folder / "one.tif");
  CHECK(same(read_all(scan), truth));
  const cv::Rect window(100, 4000, 900, 150);
  CHECK(same(scan.read_window(window), truth(window)));
}

TEST_CASE("PNG: both depths, alpha and interlacing are read bit for bit", "[scan][png]") {
  const TemporaryFolder folder;
  const int depth = GENERATE(8, 16);
  const bool alpha = GENERATE(false, true);
  const bool interlaced = GENERATE(false, true);
  CAPTURE(depth, alpha, interlaced);
  const cv::Mat truth = pattern(301, 77, depth);
  Png how;
  how.depth = depth, how.alpha = alpha, how.interlaced = interlaced;
  write_png(folder / "a.png", truth, how);
  const auto scan = scan::Scan::open(folder / "a.png");
  CHECK(scan.info().bit_depth == depth);
  check_pixels(scan, truth);
}

TEST_CASE("JPEG: baseline and progressive give what libjpeg gives, less its rounding",
          "[scan][jpeg]") {
  const TemporaryFolder folder;
  Jpeg how;
  how.progressive = GENERATE(false, true);
  const cv::Mat smooth = ramps(301, 77);
  write_jpeg(folder / "a.jpg", smooth, how);
  const auto scan = scan::Scan::open(folder / "a.jpg");
  CHECK(scan.info().bit_depth == 8);
  check_pixels(scan, decode_jpeg(folder / "a.jpg"), kJpegRounding);
  // And that is the picture: channels in their places.
  CHECK(cv::norm(read_all(scan), smooth, cv::NORM_L1) / (3.0 * smooth.rows * smooth.cols) < 500);
}

TEST_CASE("JPEG: a flat patch keeps its colour to a fraction of a step", "[scan][jpeg]") {
  // Rounding each of Y, Cb and Cr to whole steps on the way out would cost up to 1.4.
  const TemporaryFolder folder;
  double worst = 0;
  for (int grey = 40; grey < 60; ++grey) {
    const cv::Vec3d colour(grey + 0.4, grey + 0.1, grey - 0.3);
    cv::Mat patch(64, 64, CV_16UC3);
    cv::RNG noise(7);
    for (auto& pixel : cv::Mat_<cv::Vec3w>(patch)) {
      // What the scanner's noise does before 8 bits are made of it.
      for (int c = 0; c < 3; ++c)
        pixel[c] = static_cast<std::uint16_t>(257 * std::lround(colour[c] + noise.gaussian(0.6)));
    }
    write_jpeg(folder / "a.jpg", patch, {});
    const cv::Scalar mean = cv::mean(read_all(scan::Scan::open(folder / "a.jpg")));
    const cv::Scalar truth = cv::mean(patch);
    for (int c = 0; c < 3; ++c) worst = std::max(worst, std::abs(mean[c] - truth[c]) / 257);
  }
  CHECK(worst < 0.5);
}

TEST_CASE("SHA-256 is that of the file", "[scan]") {
  const TemporaryFolder folder;
  write_png(folder / "a.png", pattern(20, 20, 8), {});
  const auto digest = scan::Scan::open(folder / "a.png").info().sha256;
  // sha256sum of coreutils on the same file.
  const std::string command = "sha256sum " + (folder / "a.png").string();
  const std::unique_ptr<std::FILE, int (*)(std::FILE*)> pipe(::popen(command.c_str(), "r"),
                                                             ::pclose);
  char text[65] = {};
  REQUIRE(std::fread(text, 1, 64, pipe.get()) == 64);
  CHECK(digest == text);
}

TEST_CASE("survey takes the mean of each block, partial ones at the edge too", "[scan]") {
  const TemporaryFolder folder;
  const cv::Mat truth = pattern(301, 77, 16);
  write_tiff(folder / "a.tif", truth, {});
  const auto scan = scan::Scan::open(folder / "a.tif");
  const int factor = GENERATE(1, 2, 5, 64, 400);
  const auto small = scan::survey(scan, factor);
  REQUIRE(small.encoded.cols == (truth.cols + small.factor - 1) / small.factor);
  REQUIRE(small.encoded.rows == (truth.rows + small.factor - 1) / small.factor);
  for (int r = 0; r < small.encoded.rows; ++r) {
    for (int c = 0; c < small.encoded.cols; ++c) {
      const cv::Rect here =
          cv::Rect(c * small.factor, r * small.factor, small.factor, small.factor) &
          cv::Rect(0, 0, truth.cols, truth.rows);
      const cv::Scalar mean = cv::mean(truth(here));
      for (int s = 0; s < 3; ++s) {
        CHECK_THAT(small.encoded.at<cv::Vec3w>(r, c)[s], WithinAbs(mean[s], 0.5001));  // rounding
      }
    }
  }
  const Point there = small.to_scan({2, 3});
  CHECK_THAT(there.x, WithinAbs(2.5 * small.factor - 0.5, 1e-12));
  CHECK_THAT(small.from_scan(there).y, WithinAbs(3, 1e-12));
}
