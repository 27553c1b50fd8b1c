// Protects: the report's pictures say they are sRGB, keep their colour, and fit the size asked for.
#include <cstdio>
#include <cstdlib>

#include <catch2/catch.hpp>
#include <jpeglib.h>

#include <inkwane/error.hpp>

#include "colour/icc.hpp"
#include "map/picture.hpp"
#include "tests/map/read_back.hpp"
#include "tests/support.hpp"

using namespace inkwane;
using Catch::WithinAbs;

namespace {

struct Jpeg {
  cv::Mat picture;
  std::vector<std::uint8_t> profile;
};

Jpeg read_jpeg(const std::filesystem::path& file) {
  Jpeg result;
  jpeg_decompress_struct state;
  jpeg_error_mgr errors;  // the default one ends the test program on a damaged file
  state.err = jpeg_std_error(&errors);
  jpeg_create_decompress(&state);
  std::FILE* stream = std::fopen(file.c_str(), "rb");
  REQUIRE(stream != nullptr);
  jpeg_stdio_src(&state, stream);
  jpeg_save_markers(&state, JPEG_APP0 + 2, 0xFFFF);
  jpeg_read_header(&state, TRUE);
  JOCTET* profile = nullptr;
  unsigned size = 0;
  if (jpeg_read_icc_profile(&state, &profile, &size) != 0)
    result.profile.assign(profile, profile + size);
  std::free(profile);
  state.out_color_space = JCS_RGB;
  jpeg_start_decompress(&state);
  result.picture.create(static_cast<int>(state.output_height), static_cast<int>(state.output_width),
                        CV_8UC3);
  while (state.output_scanline < state.output_height) {
    JSAMPROW row = result.picture.ptr(static_cast<int>(state.output_scanline));
    jpeg_read_scanlines(&state, &row, 1);
  }
  jpeg_finish_decompress(&state);
  jpeg_destroy_decompress(&state);
  std::fclose(stream);
  return result;
}

}  // namespace

TEST_CASE("a picture carries the sRGB profile and its colours") {
  const test::TemporaryFolder folder;
  const cv::Mat red(300, 200, CV_8UC3, cv::Scalar(200, 40, 60));
  CHECK(map::write_jpeg(folder / "red.jpg", red, 400) == 1);
  const Jpeg jpeg = read_jpeg(folder / "red.jpg");
  CHECK(jpeg.profile == colour::srgb_profile());
  REQUIRE(jpeg.picture.size() == red.size());
  CHECK(cv::norm(jpeg.picture, red, cv::NORM_INF) <= 3);  // quality 90 on a flat patch
}

TEST_CASE("a picture is scaled down to the longest side asked for, averaging light") {
  const test::TemporaryFolder folder;
  cv::Mat lines(1200, 900, CV_8UC3, cv::Scalar::all(0));
  for (int row = 0; row < lines.rows; row += 2) lines.row(row).setTo(cv::Scalar::all(255));
  CHECK_THAT(map::write_jpeg(folder / "lines.jpg", lines, 600), WithinAbs(2, 1e-6));
  const Jpeg jpeg = read_jpeg(folder / "lines.jpg");
  CHECK(jpeg.picture.size() == cv::Size(450, 600));
  // Half the light is sRGB 188 (IEC 61966-2-1); the mean of the code values would be 128.
  CHECK_THAT(cv::mean(jpeg.picture)[0], WithinAbs(188, 1));
}

TEST_CASE("a JPEG that does not fit on the disk is an error and leaves nothing") {
  const test::TemporaryFolder folder;
  cv::Mat noise(400, 400, CV_8UC3);
  cv::RNG random(7);
  random.fill(noise, cv::RNG::UNIFORM, 0, 256);
  {
    const test::SmallDisk disk(5'000);
    CHECK_THROWS_AS(map::write_jpeg(folder / "noise.jpg", noise, 400), Error);
  }
  CHECK(std::filesystem::is_empty(folder.path()));
}
