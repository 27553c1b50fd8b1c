// What any program must spend: libtiff decodes the files, on one thread, strip by strip into one
// buffer, and nothing is done with the pixels.
//
//   bench_decode SCAN…
#include <cstdint>
#include <cstdio>
#include <vector>

#include <tiffio.h>

int main(int argc, char** argv) {
  std::vector<std::uint8_t> strip;
  for (int i = 1; i < argc; ++i) {
    TIFF* const tiff = TIFFOpen(argv[i], "rm");
    if (tiff == nullptr) return 1;
    strip.resize(static_cast<std::size_t>(TIFFStripSize(tiff)));
    const std::uint32_t strips = TIFFNumberOfStrips(tiff);
    for (std::uint32_t s = 0; s < strips; ++s) {
      if (TIFFReadEncodedStrip(tiff, s, strip.data(), static_cast<tmsize_t>(strip.size())) < 0) {
        std::fprintf(stderr, "%s: strip %u cannot be read\n", argv[i], s);
        TIFFClose(tiff);
        return 1;
      }
    }
    TIFFClose(tiff);
  }
  return 0;
}
