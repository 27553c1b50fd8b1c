// Protects: each small file in fixtures/scan, named by its defect, is refused for that defect. The
// files are kept so that they are the same bytes for every library version.
#include <map>

#include <catch2/catch.hpp>

#include <inkwane/error.hpp>

#include "images.hpp"
#include "scan/scan.hpp"

using namespace inkwane;
using namespace inkwane::test;
using Catch::Matchers::Contains;

namespace {

const std::filesystem::path kFolder = std::filesystem::path(INKWANE_FIXTURES) / "scan";

/// File → a word of its refusal; empty: it is read.
const std::map<std::string, std::string> kFixtures{
    {"whole.tif", ""},
    {"whole.png", ""},
    {"whole.jpg", ""},
    {"cut_off.tif", "from row"},
    {"cut_off.png", "from row"},
    {"cut_off.jpg", "from row"},
    {"cut_off_progressive.jpg", "progressive rows"},
    {"cut_off_header.tif", "header cannot be read"},
    {"size_lies.tif", "too short to hold them"},
    {"one_pixel.png", "1 x 1"},
    {"empty.tif", "is empty"},
    {"text.tif", "not a TIFF, PNG or JPEG"},
    {"grey.png", "grey"},
    {"palette.png", "palette"},
    {"bilevel.tif", "black and white"},
    {"cmyk.tif", "CMYK"},
    {"cmyk.jpg", "CMYK"},
    {"float.tif", "floating-point"},
    {"unequal_resolution.tif", "resolution"},
};

}  // namespace

TEST_CASE("fixtures are refused for the defect they are named by", "[scan]") {
  for (const auto& [name, word] : kFixtures) {
    CAPTURE(name);
    try {
      const auto scan = scan::Scan::open(kFolder / name);
      scan.read([](int, const cv::Mat&) {});
      CHECK(word.empty());
    } catch (const Error& error) {
      CHECK(error.code() == ExitCode::scan);
      CHECK_THAT(error.what(), Contains(name) && Contains(word));
      CHECK(!word.empty());
    }
  }
}

TEST_CASE("every file in fixtures/scan is checked", "[scan]") {
  for (const auto& entry : std::filesystem::directory_iterator(kFolder)) {
    CHECK(kFixtures.contains(entry.path().filename().string()));
  }
}

// Run by name alone, to make the files anew: test_scan "[make-fixtures]".
TEST_CASE("write the fixtures", "[.][make-fixtures]") {
  const cv::Mat picture = pattern(48, 32, 8);
  Tiff tiff;
  tiff.depth = 8, tiff.compression = COMPRESSION_LZW, tiff.rows_per_strip = 8;
  tiff.directory_first = true;
  write_tiff(kFolder / "whole.tif", picture, tiff);
  Png png;
  png.depth = 8;
  write_png(kFolder / "whole.png", picture, png);
  write_jpeg(kFolder / "whole.jpg", picture, {});
  const auto cut = [](const char* from, const char* to, double share) {
    auto bytes = read_bytes(kFolder / from);
    bytes.resize(static_cast<std::size_t>(static_cast<double>(bytes.size()) * share));
    write_bytes(kFolder / to, bytes);
  };
  cut("whole.tif", "cut_off.tif", 0.7);
  cut("whole.tif", "cut_off_header.tif", 0.02);
  cut("whole.png", "cut_off.png", 0.7);
  cut("whole.jpg", "cut_off.jpg", 0.9);
  Jpeg jpeg;
  jpeg.progressive = true;
  write_jpeg(kFolder / "cut_off_progressive.jpg", picture, jpeg);
  cut("cut_off_progressive.jpg", "cut_off_progressive.jpg", 0.7);
  jpeg.progressive = false, jpeg.components = 4;
  write_jpeg(kFolder / "cmyk.jpg", picture, jpeg);

  write_png(kFolder / "one_pixel.png", pattern(1, 1, 8), png);
  png.grey = true;
  write_png(kFolder / "grey.png", picture, png);
  png.grey = false, png.palette = true;
  write_png(kFolder / "palette.png", picture, png);
  write_bytes(kFolder / "empty.tif", {});
  write_bytes(kFolder / "text.tif", {'n', 'o', ' ', 's', 'c', 'a', 'n', '\n'});

  Tiff odd = tiff;
  odd.directory_first = false;
  odd.y_resolution = 600;
  write_tiff(kFolder / "unequal_resolution.tif", picture, odd);
  odd.y_resolution = 300;
  odd.photometric = PHOTOMETRIC_MINISWHITE, odd.samples = 1, odd.depth = 1;
  write_tiff(kFolder / "bilevel.tif", picture, odd);
  odd.photometric = PHOTOMETRIC_SEPARATED, odd.samples = 4, odd.depth = 8;
  write_tiff(kFolder / "cmyk.tif", picture, odd);
  odd.photometric = PHOTOMETRIC_RGB, odd.samples = 3, odd.depth = 32;
  odd.format = SAMPLEFORMAT_IEEEFP;
  write_tiff(kFolder / "float.tif", picture, odd);

  std::filesystem::copy_file(kFolder / "whole.tif", kFolder / "size_lies.tif",
                             std::filesystem::copy_options::overwrite_existing);
  TIFF* const lie = TIFFOpen((kFolder / "size_lies.tif").c_str(), "r+");
  TIFFSetField(lie, TIFFTAG_IMAGEWIDTH, 40'000);
  TIFFSetField(lie, TIFFTAG_IMAGELENGTH, 20'000);
  TIFFRewriteDirectory(lie);
  TIFFClose(lie);
}
