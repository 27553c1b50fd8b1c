// Protects: scanner.toml is read as it was written, and a slip in it is named with its line.
#include <fstream>

#include <catch2/catch.hpp>

#include <inkwane/error.hpp>

#include "scanner/scanner.hpp"
#include "tests/support.hpp"

using Catch::Matchers::Contains;
using Catch::Matchers::WithinAbs;
using namespace inkwane;

namespace {

scanner::Scanner example() {
  scanner::Scanner scanner;
  scanner.file = "card \"one\".tif";
  scanner.sha256 = "00ff";
  scanner.resolution_dpi = 600;
  scanner.profile = "none";
  scanner.stray_light = {{0.26, 4.1}, 0.03, 0.7, -0.2};
  scanner.point_spread = {0.03, 0.04, 0.001, 0.002};
  scanner.noise = {{0.001, 0.002, 0.003}, {0.004, 0.005, 0.006}};
  return scanner;
}

scanner::Scanner read_back(const std::string& text) {
  const test::TemporaryFolder folder;
  std::ofstream(folder / "scanner.toml") << text;
  return scanner::read_scanner(folder / "scanner.toml");
}

std::string with(const std::string& from, const std::string& to) {
  std::string text = scanner::to_toml(example());
  const auto at = text.find(from);
  REQUIRE(at != std::string::npos);
  return text.replace(at, from.size(), to);
}

void check_refused(const std::string& text, const std::string& why) {
  try {
    (void)read_back(text);
    FAIL("not refused: " << why);
  } catch (const Error& error) {
    CHECK(error.code() == ExitCode::usage);
    CHECK_THAT(error.what(), Contains("scanner.toml") && Contains("line") && Contains(why));
  }
}

}  // namespace

TEST_CASE("scanner.toml is read as it was written", "[scanner-file]") {
  const scanner::Scanner wrote = example(), read = read_back(scanner::to_toml(wrote));
  CHECK(read.file == wrote.file);
  CHECK_THAT(read.stray_light.value.kappa, WithinAbs(0.26, 1e-4));
  CHECK_THAT(read.stray_light.value.length_mm, WithinAbs(4.1, 1e-3));
  CHECK_THAT(read.stray_light.u_kappa, WithinAbs(0.03, 1e-4));
  CHECK_THAT(read.stray_light.u_length_mm, WithinAbs(0.7, 1e-3));
  CHECK_THAT(read.stray_light.correlation, WithinAbs(-0.2, 1e-3));
  CHECK_THAT(read.point_spread.y_mm, WithinAbs(0.04, 1e-4));
  CHECK_THAT(read.noise.slope[2], WithinAbs(0.006, 1e-6));
}

TEST_CASE("A slip in scanner.toml is named", "[scanner-file]") {
  check_refused(with("kappa = 0.2600", "kappa = 2.6"), "kappa");
  check_refused(with("u_kappa", "sigma_kappa"), "sigma_kappa");
  check_refused(with("x_mm = 0.0300\n", ""), "x_mm");
  check_refused(with("inkwane_scanner = 1\n", ""), "inkwane_scanner");
  check_refused(with("kappa = 0.2600", "kappa = = 0.2600"), "line");
}

TEST_CASE("A scanner's file that is not there is refused", "[scanner-file]") {
  CHECK_THROWS_WITH(scanner::read_scanner("nowhere/scanner.toml"), Contains("cannot be read"));
}
