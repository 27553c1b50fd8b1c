#include "scan/scan.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <string_view>

#include <fmt/format.h>

#include "scan/decoder.hpp"
#include "scan/limits.hpp"
#include "scan/refuse.hpp"

namespace inkwane::scan {

struct Scan::Opened {
  Info info;
  FileStamp stamp;
  std::unique_ptr<Decoder> decoder;
};

namespace {

/// Formats are told by their first bytes, never by the file's name.
std::optional<Format> format_of(const InputFile& input) {
  using namespace std::string_view_literals;
  std::array<char, 8> bytes{};
  const std::string_view head(bytes.data(), input.read_at(0, bytes.data(), bytes.size()));
  for (const auto mark : {"II*\0"sv, "MM\0*"sv, "II+\0"sv, "MM\0+"sv}) {
    if (head.starts_with(mark)) return Format::tiff;
  }
  if (head.starts_with("\x89PNG\r\n\x1a\n"sv)) return Format::png;
  if (head.starts_with("\xff\xd8\xff"sv)) return Format::jpeg;
  return std::nullopt;
}

std::unique_ptr<Decoder> open_decoder(const InputFile& input, Format format) {
  switch (format) {
    case Format::tiff:
      return open_tiff(input);
    case Format::png:
      return open_png(input);
    case Format::jpeg:
      return open_jpeg(input);
  }
  return nullptr;
}

/// Sets the resolution, or says why there is none.
void read_resolution(const InputFile& input, const Header& header, Info& info) {
  // What flatbeds can do lies well inside; beyond are counters and placeholders.
  constexpr double kLeastDpi = 10, kMostDpi = 20'000, kUsualPlaceholder = 100;
  const Resolution stated = header.resolution.value_or(Resolution{});
  const bool usable =
      std::isfinite(stated.x) && std::isfinite(stated.y) && stated.x > 0 && stated.y > 0;
  if (usable && std::abs(stated.x - stated.y) > 0.01 * std::min(stated.x, stated.y)) {
    const double unit = stated.units_per_inch > 0 ? stated.units_per_inch : 1;
    refuse(
        input.path(),
        fmt::format(
            "has a resolution of {:.6g} along its rows and {:.6g} along its columns, more than 1 % "
            "apart; scan with the same resolution both ways",
            stated.x * unit, stated.y * unit));
  }
  const double dpi = (stated.x + stated.y) / 2 * stated.units_per_inch;
  if (!usable || stated.units_per_inch == 0) {
    info.warnings.push_back("The file states no resolution in pixels per inch or centimetre.");
  } else if (dpi < kLeastDpi || dpi > kMostDpi) {
    info.warnings.push_back(fmt::format(
        "The file states a resolution of {:.6g} dpi, which cannot be; it is taken as stating none.",
        dpi));
  } else {
    info.resolution_dpi = dpi;
    if (dpi < kUsualPlaceholder) {
      info.warnings.push_back(
          fmt::format("The file states a resolution of only {:.6g} dpi, often a placeholder; check "
                      "it against the sheet's size.",
                      dpi));
    }
  }
}

void add_warnings(const Header& header, Info& info) {
  if (info.format == Format::jpeg) {
    info.warnings.push_back(
        "The scan is a JPEG, whose lossy compression alters colour; TIFF of 16 bits keeps it.");
  }
  if (info.bit_depth == 8) {
    info.warnings.push_back("The scan has 8 bits a channel, coarse in the darks; 16 are better.");
  }
  info.warnings.insert(info.warnings.end(), header.warnings.begin(), header.warnings.end());
  if (info.icc.empty() && !header.declares_srgb) {
    info.warnings.push_back("The file has no ICC profile; sRGB is assumed.");
  }
}

}  // namespace

Scan::Scan(std::unique_ptr<Opened> opened) : opened_(std::move(opened)) {}
Scan::Scan(Scan&&) noexcept = default;
Scan& Scan::operator=(Scan&&) noexcept = default;
Scan::~Scan() = default;

const Info& Scan::info() const {
  return opened_->info;
}

Scan Scan::open(const std::filesystem::path& file) {
  const InputFile input(file);
  const auto format = format_of(input);
  if (!format) {
    refuse(file, "is not a TIFF, PNG or JPEG image; name the scan itself");
  }
  auto opened = std::make_unique<Opened>();
  opened->stamp = input.stamp();
  opened->decoder = open_decoder(input, *format);
  const Header& header = opened->decoder->header();
  check_whole(input, header);

  Info& info = opened->info;
  info.file = file;
  info.format = *format;
  info.bit_depth = header.bit_depth;
  info.width_px = swaps_sides(header.orientation) ? header.stored.height : header.stored.width;
  info.height_px = swaps_sides(header.orientation) ? header.stored.width : header.stored.height;
  info.icc = header.icc;
  add_warnings(header, info);
  read_resolution(input, header, info);
  info.sha256 = input.sha256();
  input.check_unchanged();
  return Scan(std::move(opened));
}

void Scan::read(const std::function<void(int first_row, const cv::Mat& strip)>& sink) const {
  const Header& header = opened_->decoder->header();
  if (!keeps_rows(header.orientation)) {
    const cv::Mat whole = read_window({0, 0, info().width_px, info().height_px});
    for (int row = 0; row < whole.rows; row += kStripRows) {
      sink(row, whole.rowRange(row, std::min(row + kStripRows, whole.rows)));
    }
    return;
  }
  const InputFile input(info().file, opened_->stamp);
  const cv::Rect all({0, 0}, header.stored);
  if (header.orientation == Orientation::upright) {
    opened_->decoder->decode(input, all, sink);
  } else {
    cv::Mat shown;
    opened_->decoder->decode(input, all, [&](int first_row, const cv::Mat& strip) {
      cv::flip(strip, shown, 1);
      sink(first_row, shown);
    });
  }
  input.check_unchanged();
}

cv::Mat Scan::read_window(const cv::Rect& window) const {
  const Header& header = opened_->decoder->header();
  if ((window & cv::Rect(0, 0, info().width_px, info().height_px)) != window || window.empty()) {
    refuse(info().file,
           fmt::format("has {} x {} pixels and no window of {} x {} at ({}, {})", info().width_px,
                       info().height_px, window.width, window.height, window.x, window.y));
  }
  const InputFile input(info().file, opened_->stamp);
  cv::Mat shown = allocate(info().file, window.height, window.width);
  const cv::Rect stored = to_stored(window, header.stored, header.orientation);
  opened_->decoder->decode(input, stored, [&](int first_row, const cv::Mat& strip) {
    place_rows(strip, first_row, stored.height, header.orientation, shown);
  });
  input.check_unchanged();
  return shown;
}

}  // namespace inkwane::scan
