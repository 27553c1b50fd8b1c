// Protects: what is looked at is the scan, at every reduction and from every format, and memory
// stays within its limit.
#include "desk/shelf.hpp"

#include <thread>

#include <catch2/catch.hpp>
#include <opencv2/imgcodecs.hpp>
#include <opencv2/imgproc.hpp>

#include <inkwane/error.hpp>

#include "tests/support.hpp"

using namespace inkwane;
using desk::Shelf;
namespace fs = std::filesystem;

namespace {

constexpr int kWidth = 1203, kHeight = 1501;  // no multiples of anything
constexpr std::size_t kPlenty = std::size_t{1} << 30U;

/// Smooth colours, 8 bit, and taken as sRGB: what is shown is what is stored.
cv::Mat picture() {
  cv::Mat rgb(kHeight, kWidth, CV_8UC3);
  for (int y = 0; y < rgb.rows; ++y) {
    for (int x = 0; x < rgb.cols; ++x) {
      rgb.at<cv::Vec3b>(y, x) = {static_cast<std::uint8_t>(40 + x * 180 / kWidth),
                                 static_cast<std::uint8_t>(40 + y * 180 / kHeight),
                                 static_cast<std::uint8_t>(200 - x * 150 / kWidth)};
    }
  }
  return rgb;
}

fs::path write(const test::TemporaryFolder& folder, const std::string& name) {
  cv::Mat bgr;
  cv::cvtColor(picture(), bgr, cv::COLOR_RGB2BGR);
  REQUIRE(cv::imwrite((folder / name).string(), bgr));
  return folder / name;
}

double furthest(const cv::Mat& a, const cv::Mat& b) {
  return cv::norm(a, b, cv::NORM_INF);
}

}  // namespace

TEST_CASE("every level of every format shows the scan") {
  const test::TemporaryFolder folder;
  const std::string name = GENERATE("a.tif", "a.png");
  const fs::path file = write(folder, name);
  Shelf shelf(kPlenty);
  CHECK(shelf.info(file).width_px == kWidth);
  for (int level = 0; level <= shelf.coarsest(file); ++level) {
    const int factor = 1 << level;
    const cv::Size size = shelf.size(file, level);
    CHECK(size == cv::Size((kWidth + factor - 1) / factor, (kHeight + factor - 1) / factor));
    const cv::Mat shown = shelf.picture(file, level, {{}, size});
    // The encoded mean differs from that of light only at the second order here.
    cv::Mat expected;
    cv::resize(picture()(cv::Rect(0, 0, kWidth / factor * factor, kHeight / factor * factor)),
               expected, {kWidth / factor, kHeight / factor}, 0, 0, cv::INTER_AREA);
    CHECK(furthest(shown({{}, expected.size()}), expected) <= (level > 5 ? 6 : 2));
  }
  const cv::Rect part(300, 240, 400, 300);  // across bands
  CHECK(furthest(shelf.picture(file, 0, part), picture()(part)) <= 1);
  CHECK(furthest(shelf.picture(file, 0, part),
                 shelf.picture(file, 0, {{}, shelf.size(file, 0)})(part)) == 0);
}

TEST_CASE("no more is kept than the limit, however much is looked at") {
  const test::TemporaryFolder folder;
  const fs::path file = write(folder, GENERATE("a.tif", "a.png"));
  const std::size_t limit = std::size_t{3} * kWidth * Shelf::kBandRows * 2;  // two bands
  Shelf shelf(limit);
  for (int i = 0; i < 3; ++i) (void)shelf.picture(file, 0, {0, 0, kWidth, kHeight});
  CHECK(shelf.kept() <= limit);
  CHECK(shelf.kept() > 0);
}

TEST_CASE("many ask at once and all get the same") {
  const test::TemporaryFolder folder;
  const fs::path file = write(folder, "a.png");
  Shelf shelf(std::size_t{3} * kWidth * Shelf::kBandRows * 3);
  const cv::Mat truth = picture();
  std::vector<std::jthread> threads;
  std::atomic<int> wrong = 0;
  for (int t = 0; t < 8; ++t) {
    threads.emplace_back([&, t] {
      for (int i = 0; i < 20; ++i) {
        const cv::Rect part((t * 97 + i * 31) % 900, (t * 131 + i * 173) % 1200, 300, 300);
        if (furthest(shelf.picture(file, 0, part), truth(part)) > 1) ++wrong;
      }
    });
  }
  threads.clear();
  CHECK(wrong == 0);
}

TEST_CASE("a scan that cannot be read says so each time, until it is mended") {
  const test::TemporaryFolder folder;
  Shelf shelf(kPlenty);
  CHECK_THROWS_AS(shelf.info(folder / "a.tif"), Error);
  CHECK_THROWS_AS(shelf.info(folder / "a.tif"), Error);
  const fs::path file = write(folder, "a.tif");
  CHECK(shelf.info(file).height_px == kHeight);
}
