#include "scan/limits.hpp"

#include <new>

#include <fmt/format.h>

#include "scan/refuse.hpp"
#include "scan/scan.hpp"

namespace inkwane::scan {

cv::Size checked_size(const InputFile& input, std::uint64_t width, std::uint64_t height) {
  if (width == 0 || height == 0) {
    refuse(input.path(), "says that it has no pixels; scan again or copy it anew");
  }
  if (width > kMaxSidePx || height > kMaxSidePx ||
      width * height > static_cast<std::uint64_t>(kMaxPixels)) {
    refuse(input.path(),
           fmt::format("says that it has {} x {} pixels, more than the {} a side and {} million in "
                       "all that can be read; scan at a lower resolution",
                       width, height, kMaxSidePx, kMaxPixels / 1'000'000));
  }
  if (width < kMinSidePx || height < kMinSidePx) {
    refuse(input.path(),
           fmt::format("has only {} x {} pixels, too few for a scan of a sheet", width, height));
  }
  return {static_cast<int>(width), static_cast<int>(height)};
}

void check_can_hold(const InputFile& input, const cv::Size& size, std::uint64_t bytes,
                    double ratio) {
  if (static_cast<double>(bytes) > ratio * static_cast<double>(input.stamp().size)) {
    refuse(input.path(), fmt::format("says that it has {} x {} pixels, but with {} bytes it is too "
                                     "short to hold them; it is cut off or damaged, copy the "
                                     "original again",
                                     size.width, size.height, input.stamp().size));
  }
}

void check_whole(const InputFile& input, const Header& header) {
  if (header.stored.area() <= kMaxWholePixels) return;
  if (header.whole_only || !keeps_rows(header.orientation)) {
    refuse(
        input.path(),
        fmt::format("has {} x {} pixels and is stored {}, which must be held in memory whole, up "
                    "to {} million pixels; save it upright as TIFF",
                    header.stored.width, header.stored.height,
                    header.whole_only ? "interlaced, as a JPEG or in large pieces" : "turned",
                    kMaxWholePixels / 1'000'000));
  }
}

cv::Mat allocate(const std::filesystem::path& path, int rows, int columns) {
  try {
    return {rows, columns, CV_16UC3};
  } catch (const std::exception&) {  // std::bad_alloc, or OpenCV's own
    throw Error(
        ExitCode::output,
        fmt::format("{}: memory ran out for {} x {} pixels; close other programs or scan at "
                    "a lower resolution.",
                    path.string(), columns, rows));
  }
}

}  // namespace inkwane::scan
