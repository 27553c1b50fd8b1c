// Protects: a map's numbers reach the file bit for bit, and a full disk leaves no half file.
#include <cstring>
#include <limits>

#include <catch2/catch.hpp>
#include <tiffio.h>

#include <inkwane/error.hpp>

#include "map/picture.hpp"
#include "tests/map/read_back.hpp"
#include "tests/support.hpp"

using namespace inkwane;

namespace {

cv::Mat sample(int type) {
  cv::Mat values(201, 137, type);
  auto* number = values.ptr<float>();
  for (std::size_t i = 0; i < values.total() * values.channels(); ++i)
    number[i] =
        i % 7 == 0 ? std::numeric_limits<float>::quiet_NaN() : 0.37F * static_cast<float>(i) - 50;
  return values;
}

struct Read {
  std::uint16_t bits = 0, format = 0, channels = 0, compression = 0, planar = 0;
  cv::Mat values;
};

Read read_tiff(const std::filesystem::path& file) {
  Read read;
  TIFF* tiff = TIFFOpen(file.c_str(), "r");
  REQUIRE(tiff != nullptr);
  std::uint32_t width = 0, height = 0;
  TIFFGetField(tiff, TIFFTAG_IMAGEWIDTH, &width);
  TIFFGetField(tiff, TIFFTAG_IMAGELENGTH, &height);
  TIFFGetField(tiff, TIFFTAG_BITSPERSAMPLE, &read.bits);
  TIFFGetField(tiff, TIFFTAG_SAMPLEFORMAT, &read.format);
  TIFFGetField(tiff, TIFFTAG_SAMPLESPERPIXEL, &read.channels);
  TIFFGetField(tiff, TIFFTAG_COMPRESSION, &read.compression);
  TIFFGetField(tiff, TIFFTAG_PLANARCONFIG, &read.planar);
  read.values.create(static_cast<int>(height), static_cast<int>(width), CV_32FC(read.channels));
  for (std::uint32_t row = 0; row < height; ++row)
    REQUIRE(TIFFReadScanline(tiff, read.values.ptr(static_cast<int>(row)), row) == 1);
  TIFFClose(tiff);
  return read;
}

}  // namespace

TEST_CASE("float maps come back from libtiff bit for bit") {
  const auto type = GENERATE(CV_32FC1, CV_32FC2);
  const test::TemporaryFolder folder;
  const auto file = folder / "map.tif";
  const cv::Mat values = sample(type);
  map::write_tiff(file, values);
  const Read read = read_tiff(file);
  CHECK(read.bits == 32);
  CHECK(read.format == SAMPLEFORMAT_IEEEFP);
  CHECK(read.channels == values.channels());
  CHECK(read.compression == COMPRESSION_NONE);
  CHECK(read.planar == PLANARCONFIG_CONTIG);
  REQUIRE(read.values.size() == values.size());
  CHECK(std::memcmp(read.values.data, values.data, values.total() * values.elemSize()) == 0);
}

TEST_CASE("part of a larger grid is written as itself") {
  const test::TemporaryFolder folder;
  const cv::Mat values = sample(CV_32FC1)(cv::Rect(11, 5, 40, 90));
  map::write_tiff(folder / "map.tif", values);
  const Read read = read_tiff(folder / "map.tif");
  REQUIRE(read.values.size() == values.size());
  const cv::Mat whole = values.clone();
  CHECK(std::memcmp(read.values.data, whole.data, whole.total() * 4) == 0);
}

TEST_CASE("a TIFF that does not fit on the disk is an error and leaves nothing") {
  const test::TemporaryFolder folder;
  const auto file = folder / "map.tif";
  {
    const test::SmallDisk disk(20'000);
    try {
      map::write_tiff(file, sample(CV_32FC1));
      FAIL("written to a full disk");
    } catch (const Error& error) {
      CHECK(error.code() == ExitCode::output);
      CHECK_THAT(error.what(), Catch::Contains(file.string()));
    }
  }
  CHECK(std::filesystem::is_empty(folder.path()));
}

TEST_CASE("a folder that is not there is named") {
  try {
    map::write_tiff("/nonexistent/map.tif", sample(CV_32FC1));
    FAIL("written to nowhere");
  } catch (const Error& error) {
    CHECK(error.code() == ExitCode::output);
    CHECK_THAT(error.what(),
               Catch::Contains("/nonexistent/map.tif") && Catch::Contains("No such file"));
  }
}
