// A scan file: opened, checked, read as strips of encoded RGB. The file is never written to.
#pragma once

#include <cstdint>
#include <filesystem>
#include <functional>
#include <memory>
#include <optional>
#include <string>
#include <vector>

#include <opencv2/core.hpp>

#include <inkwane/treatment.hpp>

namespace inkwane::scan {

/// Larger scans are refused before anything is allocated: 60,000 px a side and 1.2 thousand million
/// pixels hold an A2 sheet at 1200 dpi.
inline constexpr int kMaxSidePx = 60'000;
inline constexpr std::int64_t kMaxPixels = 1'200'000'000;

enum class Format { tiff, png, jpeg };

struct Info {
  std::filesystem::path file;
  std::string sha256;  ///< of the file's bytes, lower-case hexadecimal
  Format format = Format::tiff;
  int width_px = 0, height_px = 0;  ///< as displayed, after EXIF orientation
  int bit_depth = 8;                ///< 8 or 16
  std::optional<double> resolution_dpi;
  std::vector<std::uint8_t> icc;  ///< the embedded profile's bytes; empty: none
  /// One sentence each: JPEG, 8 bit, alpha ignored, no profile, no resolution, several pages.
  std::vector<std::string> warnings;
};

/// An opened scan. Values are unsigned 16 bit, R G B interleaved; 8-bit files are scaled by 257.
class Scan {
 public:
  /// Reads the header, the profile and the hash, and refuses what is not an RGB scan of 8 or 16
  /// bits. Throws Error(scan) with a sentence that names the file.
  static Scan open(const std::filesystem::path& file);

  Scan(Scan&&) noexcept;
  Scan& operator=(Scan&&) noexcept;
  ~Scan();

  [[nodiscard]] const Info& info() const;

  /// Streams the whole scan top to bottom. `sink` gets the number of the strip's first row and the
  /// strip, CV_16UC3, rows × width_px; its memory is reused for the next strip. Throws Error(scan)
  /// where the file is cut off or damaged, naming the row.
  void read(const std::function<void(int first_row, const cv::Mat& strip)>& sink) const;

  /// A copy of the pixels of `window` (must lie inside the scan), CV_16UC3.
  [[nodiscard]] cv::Mat read_window(const cv::Rect& window) const;

 private:
  struct Opened;
  explicit Scan(std::unique_ptr<Opened> opened);
  std::unique_ptr<Opened> opened_;
};

/// A reduced picture of a scan: each pixel the mean of factor × factor encoded values (blocks cut
/// at the right and lower edge are averaged over what there is). Pixel (i, j) is centred on the
/// scan's pixel ((i + .5) factor − .5, (j + .5) factor − .5).
struct Survey {
  cv::Mat encoded;  ///< CV_16UC3
  int factor = 1;
  [[nodiscard]] Point to_scan(Point p) const {
    return {(p.x + 0.5) * factor - 0.5, (p.y + 0.5) * factor - 0.5};
  }
  [[nodiscard]] Point from_scan(Point p) const {
    return {(p.x + 0.5) / factor - 0.5, (p.y + 0.5) / factor - 0.5};
  }
};

/// One streaming pass. `factor` ≥ 1.
[[nodiscard]] Survey survey(const Scan& scan, int factor);

}  // namespace inkwane::scan
