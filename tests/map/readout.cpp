// Protects: a read-out holds each place's numbers to half a step of its format, and says which
// places were not measured.
#include <cmath>
#include <limits>
#include <vector>

#include <catch2/catch.hpp>
#include <zlib.h>

#include "map/picture.hpp"
#include "tests/map/read_back.hpp"
#include "tests/support.hpp"

using namespace inkwane;

namespace {

constexpr int kColumns = 37, kRows = 23, kCells = kColumns * kRows;

/// Read as docs/formats.md says, by other means than those that wrote it.
struct ReadBack {
  std::vector<unsigned char> bytes = std::vector<unsigned char>(kCells * (1 + 2 * 9));
  explicit ReadBack(const std::string& packed) {
    uLongf size = bytes.size();
    const int code = uncompress(bytes.data(), &size, reinterpret_cast<const Bytef*>(packed.data()),
                                packed.size());
    if (code != Z_OK || size != bytes.size()) throw std::runtime_error("not a read-out");
  }
  [[nodiscard]] bool measured(int row, int column) const {
    return bytes[static_cast<std::size_t>(row * kColumns + column)] == 1;
  }
  [[nodiscard]] int at(int plane, int row, int column) const {
    unsigned sum = 0;
    for (int i = 0; i <= column; ++i) {
      const auto cell = static_cast<std::size_t>(kCells * (1 + 2 * plane) + row * kColumns + i);
      sum += bytes[cell] + 256U * bytes[cell + kCells];
    }
    sum &= 0xFFFFU;
    return sum < 0x8000U ? static_cast<int>(sum) : static_cast<int>(sum) - 0x10000;
  }
};

}  // namespace

TEST_CASE("a read-out's numbers come back") {
  cv::Mat from(kRows, kColumns, CV_32FC3), to = from.clone(), difference = from.clone();
  cv::RNG random(7);
  random.fill(from, cv::RNG::UNIFORM, -90, 100);
  random.fill(to, cv::RNG::UNIFORM, -90, 100);
  random.fill(difference, cv::RNG::UNIFORM, 0, 120);
  const auto none = std::numeric_limits<float>::quiet_NaN();
  for (cv::Mat* plane : {&from, &to, &difference}) plane->at<cv::Vec3f>(4, 9) = {none, none, none};
  const test::TemporaryFolder folder;
  map::write_readout(folder / "r.bin", from, to, difference);
  const ReadBack read(test::bytes_of(folder / "r.bin"));
  double worst_lab = 0, worst_difference = 0;
  for (int row = 0; row < kRows; ++row) {
    for (int column = 0; column < kColumns; ++column) {
      const bool known = row != 4 || column != 9;
      CHECK(read.measured(row, column) == known);
      if (!known) continue;
      for (int c = 0; c < 3; ++c) {
        const auto off = [&](const cv::Mat& plane, int first, double steps) {
          return std::abs(read.at(first + c, row, column) / steps -
                          double{plane.at<cv::Vec3f>(row, column)[c]});
        };
        worst_lab = std::max({worst_lab, off(from, 0, 10), off(to, 3, 10)});
        worst_difference = std::max(worst_difference, off(difference, 6, 20));
      }
    }
  }
  CHECK(worst_lab < 0.0501);
  CHECK(worst_lab > 0.04);
  CHECK(worst_difference < 0.0251);
}

TEST_CASE("an even sheet packs to next to nothing") {
  const cv::Mat even(400, 300, CV_32FC3, cv::Scalar(90, 0, 12));
  const test::TemporaryFolder folder;
  map::write_readout(folder / "r.bin", even, even, even);
  CHECK(std::filesystem::file_size(folder / "r.bin") < 20'000);  // of 2.3 MB
}
