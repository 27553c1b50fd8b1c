// Per-cell values → a float TIFF, and a PNG over the faded scan with legend and scale bar.
#pragma once

#include <filesystem>
#include <optional>
#include <string>
#include <vector>

#include "grid/grid.hpp"

namespace inkwane::map {

/// How a kind of map is shown: fixed scale, so that two reports compare.
struct Style {
  std::string title;          ///< in the client's words
  std::string legend;         ///< what the numbers are, with the unit
  double low = 0, high = 1;   ///< ends of the colour scale; values beyond are drawn as the end
  double see_through = 0;     ///< values up to here leave the scan visible (`diverging`: ± this)
  bool percent = false;       ///< legend figures as per cent
  bool diverging = false;     ///< signed about 0 (else a sequential scale)
  bool hatch_missing = true;  ///< hatch cells without a value; else they are left as the faded scan
  std::string missing;        ///< what a cell without a value means
};

/// The step of the colour scale that a value is painted with; none where the scan stays visible.
[[nodiscard]] std::optional<int> painted_step(double value, const Style& style);

/// The kinds of docs/formats.md that have a picture: all but `position`. Throws std::out_of_range
/// for any other.
[[nodiscard]] const Style& style_of(const std::string& kind);

/// 32-bit float TIFF, one or two channels (CV_32FC1, CV_32FC2), NaN kept. Throws Error(output).
void write_tiff(const std::filesystem::path& file, const cv::Mat& values);

struct Caption {
  std::string object;  ///< title of the sheet
  std::string what;    ///< e.g. "recto, BT → AT"
  bool calibrated = true;
};

/// A line or an outline over the sheet, in pixels of the scan that the geometry is of.
struct Mark {
  std::vector<Point> points_px;
  bool closed = false;
  std::string label;
};

/// `values` CV_32FC1 and `srgb` CV_8UC3 (R G B; the same side at an earlier stage) on the same
/// grid. An sRGB picture of at most `kLongestPx` a side. Throws Error(output).
void write_png(const std::filesystem::path& file, const cv::Mat& values, const cv::Mat& srgb,
               const grid::Geometry& geometry, const Style& style, const Caption& caption,
               const std::vector<Mark>& marks = {});

/// Marks alone over the faded scan. Throws Error(output).
void write_marks(const std::filesystem::path& file, const cv::Mat& srgb,
                 const grid::Geometry& geometry, const std::vector<Mark>& marks,
                 const std::string& title, const std::string& note, const Caption& caption);

inline constexpr int kLongestPx = 1600;

/// The same without words or legend, for a report that sets them itself: over the faded scan, each
/// grid cell one pixel or less, at most `longest_px` a side. Returns the factor by which the grid
/// was scaled down. Throws Error(output).
double write_plain(const std::filesystem::path& file, const cv::Mat& values, const cv::Mat& srgb,
                   const Style& style, int longest_px);

/// What is painted alone, on nothing, to be laid over a picture. Otherwise as write_plain.
double write_overlay(const std::filesystem::path& file, const cv::Mat& values, const Style& style,
                     int longest_px);

/// The read-out of docs/formats.md: Lab at two stages, and CIEDE2000 with the ends of its interval,
/// all CV_32FC3 of one size, NaN where there is none. Throws Error(output).
void write_readout(const std::filesystem::path& file, const cv::Mat& lab_from,
                   const cv::Mat& lab_to, const cv::Mat& difference);

/// The bytes of an sRGB picture (CV_8UC3, R G B) as JPEG with its profile embedded. Throws
/// Error(output).
[[nodiscard]] std::vector<unsigned char> encode_jpeg(const cv::Mat& srgb);
/// An sRGB picture (CV_8UC3, R G B) as JPEG with its profile embedded, at most `longest_px` a side.
/// Returns the factor by which it was scaled down. Throws Error(output).
double write_jpeg(const std::filesystem::path& file, const cv::Mat& srgb, int longest_px);

}  // namespace inkwane::map
