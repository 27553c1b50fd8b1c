// Protects: what a scanner does is measured on its card, the stated uncertainty holds, and what is
// not a whole, clean card is refused with its reason.
// Truth: the simulator's card and scanner, which share no code with the room.
#include "simulate/card.hpp"

#include <cmath>

#include <catch2/catch.hpp>

#include <inkwane/error.hpp>

#include "scanner/card_sheet.hpp"
#include "scanner/scanner.hpp"
#include "tests/support.hpp"

using Catch::Matchers::Contains;
using Catch::Matchers::WithinAbs;
using namespace inkwane;

namespace {

simulate::Scanner scanner_with(double kappa, double length_mm) {
  simulate::Scanner scanner;
  scanner.dpi = 150;
  scanner.flare_kappa = kappa;
  scanner.flare_mm = length_mm;
  return scanner;
}

scanner::Scanner measured(const simulate::CardPrint& print, const simulate::Scanner& scanner) {
  const test::TemporaryFolder folder;
  simulate::write_card_scan(print, scanner, folder / "card.tif");
  return scanner::measure_card(scan::Scan::open(folder / "card.tif"));
}

void check_refused(const simulate::CardPrint& print, const simulate::Scanner& scanner,
                   const std::string& why) {
  try {
    (void)measured(print, scanner);
    FAIL("not refused: " << why);
  } catch (const Error& error) {
    CHECK(error.code() == ExitCode::scan);
    CHECK_THAT(error.what(), Contains("card.tif") && Contains(why));
  }
}

}  // namespace

TEST_CASE("Strength and reach of stray light are within their stated uncertainty", "[card]") {
  struct Case {
    double kappa, length_mm;
  };
  const auto truth =
      GENERATE(Case{0, 4}, Case{0.1, 4}, Case{0.26, 4}, Case{0.4, 4}, Case{0.26, 10});
  CAPTURE(truth.kappa, truth.length_mm);
  simulate::CardPrint print;
  print.seed = static_cast<std::uint64_t>(100 * truth.kappa + truth.length_mm);
  print.turn_deg = 1.5;
  print.unlike = 0.01;
  const auto found = measured(print, scanner_with(truth.kappa, truth.length_mm)).stray_light;
  CAPTURE(found.value.kappa, found.u_kappa, found.value.length_mm, found.u_length_mm);
  CHECK_THAT(found.value.kappa, WithinAbs(truth.kappa, 2 * found.u_kappa));
  // An uncertainty that covers everything would pass as well, and be of no use.
  CHECK(found.u_kappa < 0.04 + 0.15 * truth.kappa);
  if (truth.kappa == 0) return;  // without stray light there is no reach
  CHECK_THAT(found.value.length_mm, WithinAbs(truth.length_mm, 2 * found.u_length_mm));
  if (truth.kappa >= 0.2) CHECK(found.u_length_mm < 0.5 * truth.length_mm);
}

TEST_CASE("The card is read at any quarter turn", "[card]") {
  const double turn = GENERATE(90.0, 178.0, 272.0);
  CAPTURE(turn);
  simulate::CardPrint print;
  print.turn_deg = turn;
  const auto found = measured(print, scanner_with(0.26, 4)).stray_light;
  CHECK_THAT(found.value.kappa, WithinAbs(0.26, 2 * found.u_kappa));
}

TEST_CASE("Point spread and noise are those of the scanner", "[card]") {
  simulate::Scanner scanner = scanner_with(0.26, 4);
  scanner.dpi = 300;
  scanner.point_spread_mm = 0.06;
  const auto found = measured({}, scanner);
  CHECK_THAT(found.point_spread.x_mm, WithinAbs(0.06, 0.01));
  CHECK_THAT(found.point_spread.y_mm, WithinAbs(0.06, 0.01));
  // The simulator states noise as a standard deviation at white.
  CHECK_THAT(std::hypot(found.noise.floor[1], found.noise.slope[1]),
             WithinAbs(scanner.noise, 0.5 * scanner.noise));
}

TEST_CASE("A mirrored, cut off or soiled card is refused", "[card]") {
  const simulate::Scanner scanner = scanner_with(0.26, 4);
  simulate::CardPrint mirrored;
  mirrored.mirrored = true;
  check_refused(mirrored, scanner, "mirrored");
  simulate::CardPrint cut;
  cut.shift_x_mm = 40;
  check_refused(cut, scanner, "ring marks");
  simulate::CardPrint smudged;
  smudged.smudged_chip = 1;
  smudged.smudge = 0.3;
  check_refused(smudged, scanner, "not alike");
  simulate::CardPrint shrunk;
  shrunk.scale = 0.85;
  check_refused(shrunk, scanner, "100 %");
  simulate::Scanner coarse = scanner;
  coarse.dpi = 75;
  check_refused({}, coarse, "dpi");
}

TEST_CASE("The card is a PDF of one page", "[card]") {
  const std::string pdf = scanner::card_pdf(scanner::PaperSize::a4);
  CHECK(pdf.starts_with("%PDF"));
  CHECK(pdf.find("/Count 1") != std::string::npos);
}
