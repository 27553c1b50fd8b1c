#include <algorithm>

#include <fmt/format.h>

#include <inkwane/error.hpp>

#include "scan/scan.hpp"

namespace inkwane::scan {
namespace {

/// Sums rows into columns of blocks; the mean of a block is taken once all its rows are there.
class Blocks {
 public:
  Blocks(int width, int height, int factor)
      : factor_(factor),
        sums_(3 * static_cast<std::size_t>(width)),
        width_(width),
        picture_((height + factor - 1) / factor, (width + factor - 1) / factor, CV_16UC3) {}

  void add(const std::uint16_t* row) {
    for (std::size_t i = 0; i < sums_.size(); ++i) sums_[i] += row[i];
    if (++rows_ == factor_) finish_row();
  }

  cv::Mat finish() {
    if (rows_ > 0) finish_row();
    return picture_;
  }

 private:
  void finish_row() {
    auto* const out = picture_.ptr<std::uint16_t>(next_++);
    for (int column = 0; column < picture_.cols; ++column) {
      const int first = column * factor_, last = std::min(first + factor_, width_);
      const std::uint64_t count = static_cast<std::uint64_t>(last - first) * rows_;
      for (int c = 0; c < 3; ++c) {
        std::uint64_t sum = 0;
        for (int x = first; x < last; ++x) sum += sums_[3 * static_cast<std::size_t>(x) + c];
        out[3 * column + c] = static_cast<std::uint16_t>((sum + count / 2) / count);
      }
    }
    std::fill(sums_.begin(), sums_.end(), 0);
    rows_ = 0;
  }

  int factor_;
  std::vector<std::uint32_t> sums_;  // factor rows of 16 bits: room for factors up to 65,536
  int width_;
  cv::Mat picture_;
  int rows_ = 0, next_ = 0;
};

}  // namespace

Survey survey(const Scan& scan, int factor) {
  const Info& info = scan.info();
  // A factor beyond the picture's longer side changes nothing and would only overflow the sums.
  const int used = std::clamp(factor, 1, std::max(info.width_px, info.height_px));
  Blocks blocks(info.width_px, info.height_px, used);
  scan.read([&](int, const cv::Mat& strip) {
    for (int r = 0; r < strip.rows; ++r) blocks.add(strip.ptr<std::uint16_t>(r));
  });
  return {blocks.finish(), used};
}

}  // namespace inkwane::scan
