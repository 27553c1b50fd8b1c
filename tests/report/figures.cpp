// Protects: what a reader sees of a number is the number, with its sign, and no more digits than
// asked.
#include "report/figures.hpp"

#include <limits>

#include <catch2/catch.hpp>

using namespace inkwane;
using namespace inkwane::report;

TEST_CASE("numbers carry a true minus, and zero has no sign") {
  CHECK(decimal(-3.456, 2) == "−3.46");
  CHECK(decimal(3.456, 1, true) == "+3.5");
  CHECK(decimal(-0.004, 2, true) == "0.00");
  CHECK(decimal(12, 0) == "12");
}

TEST_CASE("areas set thousands apart and keep a decimal where they are small") {
  CHECK(area(96.24) == "96.2");
  CHECK(area(455.4) == "455");
  CHECK(area(49718) == "49\u202f718");
  CHECK(area(1234567) == "1\u202f234\u202f567");
}

TEST_CASE("dates are written out, and what is no ISO date is left alone") {
  CHECK(date("2026-03-02") == "2 March 2026");
  CHECK(date("2026-12-31T09:30") == "31 December 2026 09:30");
  CHECK(date("spring 1931") == "spring 1931");
  CHECK(date("2026-13-02") == "2026-13-02");
  CHECK(date("") == "");
}

TEST_CASE("a number that could not be had is a dash, not zero") {
  CHECK(decimal(results::Number(0.0), 2) == "0.00");
  CHECK(decimal(results::Number(), 2) == "–");
  CHECK(decimal(results::Number(std::numeric_limits<double>::quiet_NaN()), 2) == "–");
  CHECK(percent(results::Number()) == "–");
  CHECK(interval(std::nullopt, 2) == "–");
}

TEST_CASE("an interval of shares names the per cent once") {
  CHECK(percent(results::Number(0.834)) == "83\u00a0%");
  CHECK(percent_interval({{0.781, 0.872}}) == "78 to 87\u00a0%");
  CHECK(estimate(results::Estimate{0.12, {0.09, 0.16}}) == "12\u00a0% (9 to 16\u00a0%)");
}

TEST_CASE("small shares keep a decimal") {
  CHECK(small_percent(0.0043) == "0.4\u00a0%");
  CHECK(small_percent(0.12) == "12\u00a0%");
}

TEST_CASE("patches of colour are the sRGB of their Lab") {
  // IEC 61966-2-1 against D50, relative colorimetric: LittleCMS's own test bed has 127,127,127 as
  // L* 53.193 and 128,0,0 as 26.165, 48.478, 39.438.
  CHECK(css_colour({53.193, 0, 0}) == "#7f7f7f");
  CHECK(css_colour({26.165, 48.478, 39.438}) == "#800000");
  CHECK(css_colour({100, 0, 0}) == "#ffffff");
}
