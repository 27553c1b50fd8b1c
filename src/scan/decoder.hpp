// What each file format must do: say what its header holds, and stream its pixels as stored.
#pragma once

#include <cstdint>
#include <functional>
#include <memory>
#include <optional>
#include <string>
#include <vector>

#include <opencv2/core.hpp>

#include "scan/file.hpp"
#include "scan/orientation.hpp"

namespace inkwane::scan {

/// Pixels per unit along the stored columns and rows.
struct Resolution {
  double x = 0, y = 0;
  double units_per_inch = 0;  ///< 0: the unit is not known, only the shape of a pixel
};

/// What a file's header says of its first picture, before it is turned for display.
struct Header {
  cv::Size stored;
  int bit_depth = 0;
  Orientation orientation = Orientation::upright;
  std::optional<Resolution> resolution;
  std::vector<std::uint8_t> icc;
  bool declares_srgb = false;         ///< says that it is sRGB without a profile
  bool whole_only = false;            ///< can only be decoded whole, in memory
  std::vector<std::string> warnings;  ///< of this format alone
};

/// Strips have about this many rows: enough to share a strip's cost, few enough to stay in cache.
inline constexpr int kStripRows = 128;

class Decoder {
 public:
  using Sink = std::function<void(int first_row, const cv::Mat& strip)>;

  virtual ~Decoder() = default;
  [[nodiscard]] const Header& header() const { return header_; }

  /// Streams `window` of the stored picture from top to bottom: rows counted from the window's top,
  /// strips CV_16UC3 as wide as the window, their memory reused. May be called from several
  /// threads, each with its own `input`. Throws Error(scan), naming the stored row, where the file
  /// is cut off or damaged.
  virtual void decode(const InputFile& input, const cv::Rect& window, const Sink& sink) const = 0;

 protected:
  Header header_;
};

/// Each reads the header and throws Error(scan) for anything but RGB of 8 or 16 bits.
[[nodiscard]] std::unique_ptr<Decoder> open_tiff(const InputFile& input);
[[nodiscard]] std::unique_ptr<Decoder> open_png(const InputFile& input);
[[nodiscard]] std::unique_ptr<Decoder> open_jpeg(const InputFile& input);

/// Widens 8-bit values to the 16-bit scale: 255 becomes 65535.
inline void widen(const std::uint8_t* from, std::uint16_t* to, std::size_t values) {
  for (std::size_t i = 0; i < values; ++i) to[i] = static_cast<std::uint16_t>(from[i] * 257);
}

}  // namespace inkwane::scan
