// Protects: what a scanner does is measured on its card, and the stated uncertainty holds.
// Truth: the simulator's card and scanner, which share no code with the room.
#include <catch2/catch.hpp>
#include <fmt/format.h>

#include "scanner/scanner.hpp"
#include "simulate/card.hpp"
#include "tests/support.hpp"

using namespace inkwane;

namespace {

scanner::Scanner measured(const simulate::CardPrint& print, const simulate::Scanner& scanner) {
  const test::TemporaryFolder folder;
  simulate::write_card_scan(print, scanner, folder / "card.tif");
  return scanner::measure_card(scan::Scan::open(folder / "card.tif"));
}

}  // namespace

TEST_CASE("Strength and reach of stray light are within their stated uncertainty", "[card]") {
  std::uint64_t seed = 0;
  for (const double kappa : {0.0, 0.1, 0.26, 0.4}) {
    for (const double length : {2.0, 4.0, 10.0}) {
      simulate::Scanner scanner;
      scanner.dpi = 200;
      scanner.flare_kappa = kappa;
      scanner.flare_mm = length;
      simulate::CardPrint print;
      print.seed = ++seed;
      print.turn_deg = static_cast<double>(seed % 5) - 2;
      print.unlike = 0.01;
      const auto found = measured(print, scanner);
      const auto& e = found.stray_light;
      fmt::print("kappa {} length {}: {:.3f} ± {:.3f}, {:.2f} ± {:.2f} mm; psf {:.4f} {:.4f}, noise {:.5f} {:.5f}\n",
                 kappa, length, e.value.kappa, e.u_kappa, e.value.length_mm, e.u_length_mm,
                 found.point_spread.x_mm, found.point_spread.y_mm, found.noise.floor[1], found.noise.slope[1]);
      for (const auto& w : found.warnings) fmt::print("   {}\n", w);
    }
  }
}
