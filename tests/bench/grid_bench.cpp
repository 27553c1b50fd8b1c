// Averaging onto the measuring grid, decoding of an uncompressed file included, at the resolutions
// that sheets are scanned with: the work grows with the pixels, what follows it does not.
#include <filesystem>
#include <random>
#include <vector>

#include <benchmark/benchmark.h>
#include <fmt/format.h>
#include <tiffio.h>
#include <unistd.h>

#include "grid/grid.hpp"

using namespace inkwane;

namespace {

/// 60 × 60 mm of noise about a grey.
std::filesystem::path write_noise(int dpi) {
  const int side = 60 * dpi * 10 / 254;
  const auto file = std::filesystem::temp_directory_path() /
                    fmt::format("inkwane-bench-{}-{}.tif", getpid(), dpi);
  TIFF* const tiff = TIFFOpen(file.c_str(), "w");
  TIFFSetField(tiff, TIFFTAG_IMAGEWIDTH, side);
  TIFFSetField(tiff, TIFFTAG_IMAGELENGTH, side);
  TIFFSetField(tiff, TIFFTAG_BITSPERSAMPLE, 16);
  TIFFSetField(tiff, TIFFTAG_SAMPLESPERPIXEL, 3);
  TIFFSetField(tiff, TIFFTAG_PHOTOMETRIC, PHOTOMETRIC_RGB);
  TIFFSetField(tiff, TIFFTAG_PLANARCONFIG, PLANARCONFIG_CONTIG);
  TIFFSetField(tiff, TIFFTAG_ROWSPERSTRIP, 64);
  TIFFSetField(tiff, TIFFTAG_XRESOLUTION, static_cast<double>(dpi));
  TIFFSetField(tiff, TIFFTAG_YRESOLUTION, static_cast<double>(dpi));
  std::mt19937 bits(1931);
  std::vector<std::uint16_t> row(3 * static_cast<std::size_t>(side));
  for (int y = 0; y < side; ++y) {
    for (auto& value : row) value = static_cast<std::uint16_t>(20'000 + bits() % 20'000);
    TIFFWriteScanline(tiff, row.data(), static_cast<std::uint32_t>(y));
  }
  TIFFClose(tiff);
  return file;
}

void average(benchmark::State& state) {
  const int dpi = static_cast<int>(state.range(0));
  const auto file = write_noise(dpi);
  const auto scan = scan::Scan::open(file);
  const auto colour = target::ScanColour::uncalibrated(
      colour::Linearisation::from_profile(scan.info().icc, file.string()));
  const auto geometry = grid::make_geometry(scan.info().width_px, scan.info().height_px, dpi, 0.1);
  for ([[maybe_unused]] auto round : state) {
    const auto grid = grid::make_grid(scan, colour, geometry, 0.5, {});
    benchmark::DoNotOptimize(grid.light.data);
  }
  state.SetItemsProcessed(state.iterations() * scan.info().width_px * scan.info().height_px);
  std::filesystem::remove(file);
}
BENCHMARK(average)->Arg(300)->Arg(600)->Arg(1200)->Unit(benchmark::kMillisecond);

}  // namespace
