// Protects: whatever is not a whole RGB scan is refused with exit code 3 and one sentence that
// names the file, and no damage, however made, does worse than that.
#include <functional>

#include <catch2/catch.hpp>
#include <sys/stat.h>
#include <unistd.h>

#include <inkwane/error.hpp>

#include "images.hpp"
#include "scan/scan.hpp"
#include "tests/support.hpp"

using namespace inkwane;
using namespace inkwane::test;
using Catch::Matchers::Contains;
using Catch::Matchers::EndsWith;
using Catch::Matchers::Matches;
using Catch::Matchers::StartsWith;

namespace {

/// What opening and reading says, checked to be a refusal of this file.
std::string refusal(const std::filesystem::path& file) {
  try {
    const auto scan = scan::Scan::open(file);
    scan.read([](int, const cv::Mat&) {});
  } catch (const Error& error) {
    CHECK(error.code() == ExitCode::scan);
    const std::string text = error.what();
    CHECK_THAT(text, StartsWith(file.string()) && EndsWith("."));
    CHECK(text.find('\n') == std::string::npos);
    return text;
  }
  FAIL("not refused: " << file);
  return {};
}

void cut(const std::filesystem::path& file, double share) {
  auto bytes = read_bytes(file);
  bytes.resize(static_cast<std::size_t>(static_cast<double>(bytes.size()) * share));
  write_bytes(file, bytes);
}

/// Catches what goes to stderr meanwhile: the libraries must not chatter there.
class Quiet {
 public:
  Quiet() : before_(::dup(2)), file_(std::tmpfile()) { ::dup2(::fileno(file_), 2); }
  Quiet(const Quiet&) = delete;
  Quiet& operator=(const Quiet&) = delete;
  ~Quiet() {
    ::dup2(before_, 2);
    ::close(before_);
    std::fclose(file_);
  }
  [[nodiscard]] std::string said() const {
    std::rewind(file_);
    std::string text(2000, ' ');
    text.resize(std::fread(text.data(), 1, text.size(), file_));
    return text;
  }

 private:
  int before_;
  std::FILE* file_;
};

}  // namespace

TEST_CASE("what is no image file is refused, each with its own words", "[scan]") {
  const TemporaryFolder folder;
  CHECK_THAT(refusal(folder / "missing.tif"), Contains("does not exist"));
  CHECK_THAT(refusal(folder / "no folder/missing.tif"), Contains("does not exist"));
  std::filesystem::create_directory(folder / "folder.tif");
  CHECK_THAT(refusal(folder / "folder.tif"), Contains("folder"));
  write_bytes(folder / "empty.tif", {});
  CHECK_THAT(refusal(folder / "empty.tif"), Contains("is empty"));
  write_bytes(folder / "text.tif", {'N', 'o', ' ', 's', 'c', 'a', 'n'});
  CHECK_THAT(refusal(folder / "text.tif"), Contains("not a TIFF, PNG or JPEG"));
  REQUIRE(::mkfifo((folder / "pipe.tif").c_str(), 0600) == 0);
  CHECK_THAT(refusal(folder / "pipe.tif"), Contains("regular file"));
  if (::geteuid() != 0) {  // root may read everything
    write_png(folder / "closed.png", pattern(20, 20, 8), {});
    REQUIRE(::chmod((folder / "closed.png").c_str(), 0) == 0);
    CHECK_THAT(refusal(folder / "closed.png"), Contains("may not be read"));
  }
}

TEST_CASE("the format is told by the bytes, not by the name", "[scan]") {
  const TemporaryFolder folder;
  write_png(folder / "a.tif", pattern(20, 20, 16), {});
  CHECK(scan::Scan::open(folder / "a.tif").info().format == scan::Format::png);
}

TEST_CASE("colours that are not RGB of 8 or 16 bits are refused", "[scan]") {
  const TemporaryFolder folder;
  const cv::Mat picture = pattern(32, 32, 8);
  const auto tiff = [&](int photometric, int samples, int depth, int format = SAMPLEFORMAT_UINT) {
    Tiff how;
    how.photometric = photometric, how.samples = samples, how.depth = depth, how.format = format;
    write_tiff(folder / "a.tif", picture, how);
    return refusal(folder / "a.tif");
  };
  CHECK_THAT(tiff(PHOTOMETRIC_MINISBLACK, 1, 8), Contains("grey"));
  CHECK_THAT(tiff(PHOTOMETRIC_MINISBLACK, 1, 16), Contains("grey"));
  CHECK_THAT(tiff(PHOTOMETRIC_MINISWHITE, 1, 1), Contains("black and white"));
  CHECK_THAT(tiff(PHOTOMETRIC_SEPARATED, 4, 8), Contains("CMYK"));
  CHECK_THAT(tiff(PHOTOMETRIC_PALETTE, 1, 8), Contains("palette"));
  CHECK_THAT(tiff(PHOTOMETRIC_RGB, 3, 32, SAMPLEFORMAT_IEEEFP), Contains("floating-point"));
  CHECK_THAT(tiff(PHOTOMETRIC_RGB, 3, 16, SAMPLEFORMAT_INT), Contains("signed"));
  CHECK_THAT(tiff(PHOTOMETRIC_CIELAB, 3, 8), Contains("Lab"));
  CHECK_THAT(tiff(PHOTOMETRIC_YCBCR, 3, 8), Contains("YCbCr"));
  Tiff lossy;
  lossy.depth = 8, lossy.compression = COMPRESSION_JPEG, lossy.rows_per_strip = 16;
  write_tiff(folder / "a.tif", picture, lossy);
  CHECK_THAT(refusal(folder / "a.tif"), Contains("compressed with JPEG"));

  const auto png = [&](const Png& how) {
    write_png(folder / "a.png", picture, how);
    return refusal(folder / "a.png");
  };
  Png how;
  how.depth = 16, how.grey = true;
  CHECK_THAT(png(how), Contains("grey"));
  how.depth = 1;
  CHECK_THAT(png(how), Contains("black and white"));
  how.depth = 8, how.grey = false, how.palette = true;
  CHECK_THAT(png(how), Contains("palette"));

  Jpeg jpeg;
  jpeg.components = 1;
  write_jpeg(folder / "a.jpg", picture, jpeg);
  CHECK_THAT(refusal(folder / "a.jpg"), Contains("grey"));
  jpeg.components = 4;
  write_jpeg(folder / "a.jpg", picture, jpeg);
  CHECK_THAT(refusal(folder / "a.jpg"), Contains("CMYK"));
}

TEST_CASE("sizes beyond reason are refused before memory is taken", "[scan]") {
  const TemporaryFolder folder;
  write_png(folder / "dot.png", pattern(1, 1, 16), {});
  CHECK_THAT(refusal(folder / "dot.png"), Contains("1 x 1"));

  // The header's size is overwritten: PNG holds it at bytes 16 to 23, big-endian (ISO/IEC 15948).
  const auto lie = [&](std::uint32_t width, std::uint32_t height) {
    write_png(folder / "lie.png", pattern(64, 64, 16), {});
    auto bytes = read_bytes(folder / "lie.png");
    for (int i = 0; i < 4; ++i) {
      bytes[16 + i] = static_cast<std::uint8_t>(width >> (24 - 8 * i));
      bytes[20 + i] = static_cast<std::uint8_t>(height >> (24 - 8 * i));
    }
    // CRC of IHDR by libpng's own rule: left wrong, it would be refused for that alone.
    std::uint32_t crc = 0xFFFFFFFF;
    for (std::size_t i = 12; i < 29; ++i) {
      crc ^= bytes[i];
      for (int k = 0; k < 8; ++k) crc = (crc >> 1) ^ ((crc & 1U) != 0 ? 0xEDB88320U : 0U);
    }
    crc ^= 0xFFFFFFFF;
    for (int i = 0; i < 4; ++i) bytes[29 + i] = static_cast<std::uint8_t>(crc >> (24 - 8 * i));
    write_bytes(folder / "lie.png", bytes);
    return refusal(folder / "lie.png");
  };
  CHECK_THAT(lie(60'001, 64), Contains("60001 x 64"));
  CHECK_THAT(lie(50'000, 50'000), Contains("50000 x 50000"));
  CHECK_THAT(lie(0x7FFFFFFF, 0x7FFFFFFF), Contains("2147483647"));
  CHECK_THAT(lie(30'000, 30'000), Contains("too short to hold them"));
  CHECK_THAT(lie(64, 0), Contains("header") || Contains("no pixels"));
  CHECK_THAT(lie(64, 80), Contains("cut off or damaged"));
}

TEST_CASE("a TIFF that is shorter than its size says is refused at once", "[scan][tiff]") {
  const TemporaryFolder folder;
  const int compression = GENERATE(COMPRESSION_NONE, COMPRESSION_LZW, COMPRESSION_ADOBE_DEFLATE);
  Tiff how;
  how.compression = compression;
  write_tiff(folder / "a.tif", pattern(64, 64, 16), how);
  TIFF* const tiff = TIFFOpen((folder / "a.tif").c_str(), "r+");
  TIFFSetField(tiff, TIFFTAG_IMAGEWIDTH, 50'000);
  TIFFSetField(tiff, TIFFTAG_IMAGELENGTH, 20'000);
  TIFFRewriteDirectory(tiff);
  TIFFClose(tiff);
  CHECK_THAT(refusal(folder / "a.tif"), Contains("50000 x 20000") && Contains("too short"));
}

TEST_CASE("a file that is cut off is found out, and from which row on", "[scan]") {
  const TemporaryFolder folder;
  const cv::Mat picture = pattern(400, 90, 16);
  for (const int compression : {COMPRESSION_NONE, COMPRESSION_LZW, COMPRESSION_ADOBE_DEFLATE}) {
    Tiff how;
    how.compression = compression, how.rows_per_strip = 20, how.directory_first = true;
    write_tiff(folder / "a.tif", picture, how);
    cut(folder / "a.tif", 0.6);
    // Without compression the length alone tells, before anything is read.
    CHECK_THAT(
        refusal(folder / "a.tif"),
        Matches(compression == COMPRESSION_NONE ? ".*too short.*cut off.*"
                                                : ".*cut off or damaged from row 2[0-9]0 on.*"));
  }
  write_tiff(folder / "a.tif", picture, {});  // with its directory at the end
  cut(folder / "a.tif", 0.6);
  CHECK_THAT(refusal(folder / "a.tif"), Contains("header cannot be read"));
  write_png(folder / "a.png", picture, {});
  cut(folder / "a.png", 0.6);
  CHECK_THAT(refusal(folder / "a.png"), Matches(".*cut off or damaged from row 2[0-9][0-9] on.*"));
  write_png(folder / "a.png", picture, {});
  auto bytes = read_bytes(folder / "a.png");
  bytes.erase(bytes.end() - 12, bytes.end());  // IEND alone is missing
  write_bytes(folder / "a.png", bytes);
  CHECK_THAT(refusal(folder / "a.png"), Contains("after its last row"));

  Jpeg jpeg;
  write_jpeg(folder / "a.jpg", picture, jpeg);
  cut(folder / "a.jpg", 0.6);
  CHECK_THAT(refusal(folder / "a.jpg"),
             Matches(".*cut off or damaged from row [12][0-9][0-9] on.*"));
  jpeg.progressive = true;
  write_jpeg(folder / "a.jpg", picture, jpeg);
  cut(folder / "a.jpg", 0.6);
  CHECK_THAT(refusal(folder / "a.jpg"), Contains("progressive rows"));
}

TEST_CASE("pixels of a TIFF that were overwritten are found out, by row", "[scan][tiff]") {
  const TemporaryFolder folder;
  Tiff how;
  how.compression = COMPRESSION_ADOBE_DEFLATE, how.rows_per_strip = 20;
  write_tiff(folder / "a.tif", pattern(400, 90, 16), how);
  TIFF* const tiff = TIFFOpen((folder / "a.tif").c_str(), "r");
  const std::uint64_t offset = TIFFGetStrileOffset(tiff, 11);
  TIFFClose(tiff);
  auto bytes = read_bytes(folder / "a.tif");
  std::fill_n(bytes.begin() + static_cast<std::ptrdiff_t>(offset), 100, 0);
  write_bytes(folder / "a.tif", bytes);
  CHECK_THAT(refusal(folder / "a.tif"), Contains("from row 220 on"));
}

TEST_CASE("a file that changes between two readings is refused", "[scan]") {
  const TemporaryFolder folder;
  write_png(folder / "a.png", pattern(40, 40, 16), {});
  const auto scan = scan::Scan::open(folder / "a.png");
  scan.read([](int, const cv::Mat&) {});
  auto bytes = read_bytes(folder / "a.png");
  bytes.push_back(0);
  write_bytes(folder / "a.png", bytes);
  try {
    scan.read([](int, const cv::Mat&) {});
    FAIL("not noticed");
  } catch (const Error& error) {
    CHECK(error.code() == ExitCode::scan);
    CHECK_THAT(error.what(), Contains("a.png") && Contains("changed"));
  }
}

TEST_CASE("a window outside the scan is refused", "[scan]") {
  const TemporaryFolder folder;
  write_png(folder / "a.png", pattern(40, 40, 16), {});
  const auto scan = scan::Scan::open(folder / "a.png");
  CHECK_THROWS_AS(scan.read_window({30, 30, 11, 5}), Error);
  CHECK_THROWS_AS(scan.read_window({-1, 0, 5, 5}), Error);
  CHECK_THROWS_AS(scan.read_window({0, 0, 0, 5}), Error);
}

TEST_CASE("no damage does more than a refusal", "[scan]") {
  const TemporaryFolder folder;
  const cv::Mat picture = pattern(120, 50, 16);
  std::vector<std::filesystem::path> files;
  for (const int compression :
       {COMPRESSION_NONE, COMPRESSION_LZW, COMPRESSION_ADOBE_DEFLATE, COMPRESSION_ZSTD}) {
    for (const bool tiled : {false, true}) {
      Tiff how;
      how.compression = compression, how.tile = tiled ? 32 : 0, how.orientation = 6;
      how.mode = tiled ? "wb" : "wl8";
      how.planar = tiled;
      files.push_back(folder / ("base" + std::to_string(files.size()) + ".tif"));
      write_tiff(files.back(), picture, how);
    }
  }
  for (const bool odd : {false, true}) {
    Png png;
    png.interlaced = odd, png.alpha = odd, png.exif = exif_block(6, 300);
    files.push_back(folder / (odd ? "odd.png" : "even.png"));
    write_png(files.back(), picture, png);
    Jpeg jpeg;
    jpeg.progressive = odd, jpeg.exif = exif_block(8, 300, odd);
    files.push_back(folder / (odd ? "odd.jpg" : "even.jpg"));
    write_jpeg(files.back(), picture, jpeg);
  }
  const Quiet quiet;
  cv::RNG random(4711);
  int read = 0, refused = 0;
  for (const auto& file : files) {
    const auto whole = read_bytes(file);
    const auto changed = folder / ("changed" + file.extension().string());
    for (int round = 0; round < 60; ++round) {
      auto bytes = whole;
      const int length = static_cast<int>(bytes.size());
      // Half of the changes hit the head or the tail, where the structure lies.
      const auto place = [&] {
        const int reach = std::min(length, 300);
        switch (random.uniform(0, 4)) {
          case 0:
            return random.uniform(0, reach);
          case 1:
            return length - 1 - random.uniform(0, reach);
          default:
            return random.uniform(0, length);
        }
      };
      if (round % 3 == 0) bytes.resize(place() + 1);
      if (round % 3 != 0) {
        for (int k = random.uniform(1, 6); k > 0; --k) {
          bytes[place()] = static_cast<std::uint8_t>(random.uniform(0, 256));
        }
      }
      write_bytes(changed, bytes);
      try {
        const auto scan = scan::Scan::open(changed);
        scan.read([](int, const cv::Mat&) {});
        static_cast<void>(scan.read_window({0, 0, 5, 5}));
        ++read;
      } catch (const Error& error) {
        CAPTURE(file, round, error.what());
        CHECK(error.code() == ExitCode::scan);
        CHECK_THAT(error.what(), Contains(changed.string()));
        ++refused;
      }
    }
  }
  CHECK(quiet.said() == "");
  CHECK(refused > 200);
  CHECK(read > 20);
}
