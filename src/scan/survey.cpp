#include <algorithm>

#include <fmt/format.h>

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

  void add(const cv::Mat& strip) {
    for (int row = 0; row < strip.rows;) {
      const int end = std::min(row + factor_ - rows_, strip.rows);
      add_rows(strip.rowRange(row, end));
      rows_ += end - row;
      row = end;
      if (rows_ == factor_) finish_row();
    }
  }

  cv::Mat finish() {
    if (rows_ > 0) finish_row();
    return picture_;
  }

 private:
  /// Piece by piece across, so that the sums stay in the nearest cache from row to row.
  void add_rows(const cv::Mat& rows) {
    constexpr std::size_t kPiece = 4096;
    for (std::size_t first = 0; first < sums_.size(); first += kPiece) {
      const std::size_t last = std::min(first + kPiece, sums_.size());
      for (int r = 0; r < rows.rows; ++r) {
        const auto* const row = rows.ptr<std::uint16_t>(r);
        for (std::size_t i = first; i < last; ++i) sums_[i] += row[i];
      }
    }
  }

  void finish_row() {
    auto* const out = picture_.ptr<std::uint16_t>(next_++);
    for (int column = 0; column < picture_.cols; ++column) {
      const int first = column * factor_, last = std::min(first + factor_, width_);
      const double share = 1.0 / (static_cast<double>(last - first) * rows_);
      std::array<std::uint64_t, 3> sum{};
      for (int x = first; x < last; ++x) {
        for (int c = 0; c < 3; ++c) sum[c] += sums_[3 * static_cast<std::size_t>(x) + c];
      }
      for (int c = 0; c < 3; ++c) {
        out[3 * column + c] = static_cast<std::uint16_t>(static_cast<double>(sum[c]) * share + 0.5);
      }
    }
    std::fill(sums_.begin(), sums_.end(), 0);
    rows_ = 0;
  }

  int factor_;
  std::vector<std::uint32_t> sums_;  // of up to 60,000 rows of 16 bits each
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
  scan.read([&](int, const cv::Mat& strip) { blocks.add(strip); });
  return {blocks.finish(), used};
}

}  // namespace inkwane::scan
