#include "scan/exif.hpp"

#include <memory>
#include <vector>

#include <libexif/exif-data.h>

namespace inkwane::scan {
namespace {

std::optional<double> number(ExifData* data, ExifTag tag) {
  const ExifEntry* entry = exif_content_get_entry(data->ifd[EXIF_IFD_0], tag);
  if (entry == nullptr || entry->components < 1) return std::nullopt;
  const ExifByteOrder order = exif_data_get_byte_order(data);
  if (entry->format == EXIF_FORMAT_SHORT && entry->size >= 2) {
    return exif_get_short(entry->data, order);
  }
  if (entry->format == EXIF_FORMAT_RATIONAL && entry->size >= 8) {
    const ExifRational ratio = exif_get_rational(entry->data, order);
    if (ratio.denominator != 0) return static_cast<double>(ratio.numerator) / ratio.denominator;
  }
  return std::nullopt;
}

}  // namespace

Exif read_exif(std::span<const std::uint8_t> tiff) {
  const std::unique_ptr<ExifData, decltype(&exif_data_unref)> data(exif_data_new(),
                                                                   exif_data_unref);
  if (!data) return {};
  // With this option libexif would fill in a resolution of 72 where there is none.
  exif_data_unset_option(data.get(), EXIF_DATA_OPTION_FOLLOW_SPECIFICATION);
  std::vector<std::uint8_t> block{'E', 'x', 'i', 'f', 0, 0};
  block.insert(block.end(), tiff.begin(), tiff.end());
  exif_data_load_data(data.get(), block.data(), static_cast<unsigned int>(block.size()));

  Exif exif;
  if (const auto tag = number(data.get(), EXIF_TAG_ORIENTATION)) {
    exif.orientation = orientation_of(static_cast<long>(*tag));
  }
  const auto x = number(data.get(), EXIF_TAG_X_RESOLUTION);
  const auto y = number(data.get(), EXIF_TAG_Y_RESOLUTION);
  if (x && y) {
    // Exif 2.3, tag 296: 2 inch (also where the tag is missing), 3 centimetre.
    const double unit = number(data.get(), EXIF_TAG_RESOLUTION_UNIT).value_or(2);
    exif.resolution = Resolution{*x, *y, unit == 2 ? 1.0 : unit == 3 ? 2.54 : 0.0};
  }
  return exif;
}

}  // namespace inkwane::scan
