#include <algorithm>
#include <array>
#include <cmath>
#include <vector>

#include <zlib.h>

#include "map/output_file.hpp"
#include "map/picture.hpp"

namespace inkwane::map {
namespace {

/// Steps a unit, as docs/formats.md has them: Lab to 0.1, ΔE00 and its interval to 0.05.
constexpr double kLabSteps = 10, kDifferenceSteps = 20;

/// A plane of whole numbers, each as what it adds to the one before it in its row, low bytes first
/// and then all high bytes: near to nothing where a sheet is even, so that it packs well.
void append(const cv::Mat& values, int channel, double steps, std::vector<std::uint8_t>& bytes) {
  const std::size_t cells = values.total(), start = bytes.size();
  bytes.resize(start + 2 * cells);
  std::size_t at = start;
  for (int row = 0; row < values.rows; ++row) {
    int before = 0;
    for (int column = 0; column < values.cols; ++column, ++at) {
      const double value = double{values.at<cv::Vec3f>(row, column)[channel]};
      const int now = std::isnan(value)
                          ? before
                          : static_cast<int>(std::lround(std::clamp(steps * value, -3e4, 3e4)));
      const auto step = static_cast<std::uint16_t>(now - before);
      bytes[at] = static_cast<std::uint8_t>(step & 0xFFU);
      bytes[at + cells] = static_cast<std::uint8_t>(step >> 8U);
      before = now;
    }
  }
}

}  // namespace

void write_readout(const std::filesystem::path& file, const cv::Mat& lab_from,
                   const cv::Mat& lab_to, const cv::Mat& difference) {
  CV_Assert(lab_from.type() == CV_32FC3 && lab_to.type() == CV_32FC3 &&
            difference.type() == CV_32FC3 && lab_from.size() == difference.size() &&
            lab_to.size() == difference.size());
  std::vector<std::uint8_t> planes;
  for (int row = 0; row < difference.rows; ++row) {
    for (int column = 0; column < difference.cols; ++column)
      planes.push_back(std::isnan(difference.at<cv::Vec3f>(row, column)[0]) ? 0 : 1);
  }
  for (int channel = 0; channel < 3; ++channel) append(lab_from, channel, kLabSteps, planes);
  for (int channel = 0; channel < 3; ++channel) append(lab_to, channel, kLabSteps, planes);
  for (int channel = 0; channel < 3; ++channel)
    append(difference, channel, kDifferenceSteps, planes);

  OutputFile output(file);
  uLongf size = compressBound(planes.size());
  std::vector<Bytef> packed(size);
  if (compress2(packed.data(), &size, planes.data(), planes.size(), Z_DEFAULT_COMPRESSION) != Z_OK)
    output.fail("packing failed");
  output.write(std::span<const unsigned char>(packed.data(), size));
  output.commit();
}

}  // namespace inkwane::map
