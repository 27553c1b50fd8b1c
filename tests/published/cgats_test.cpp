// Target reference files in the published text form.
//
// Source: CGATS.17 (ANSI CGATS.17-2009, also ISO 28178): the keywords and their order, from memory,
// as read by LittleCMS's cmsIT8 functions. The values are the neutral row of the 24-patch chart of
// McCamy, Marcus, Davidson, J. Appl. Photogr. Eng. 2(3), 1976, nominal Y .9001 .5910 .3620 .1977
// .0900 .0313 under illuminant C; neutral patches keep their lightness under D50.
#include <fstream>

#include <catch2/catch.hpp>

#include <inkwane/error.hpp>

#include "target/reference.hpp"
#include "tests/support.hpp"

using namespace inkwane;
using Catch::Matchers::Contains;
using Catch::Matchers::WithinAbs;

namespace {

target::Reference read(const std::string& text, int rows, int columns) {
  const test::TemporaryFolder folder;
  std::ofstream(folder / "target.txt") << text;
  return target::read_reference(folder / "target.txt", rows, columns);
}

const std::string kHead =
    "CGATS.17\n"
    "ORIGINATOR \"made for this test\"\n"
    "NUMBER_OF_FIELDS 4\n";

}  // namespace

TEST_CASE("CGATS.17: Lab by patch id, whatever the order of the lines") {
  const auto reference =
      read(kHead +
               "BEGIN_DATA_FORMAT\nSAMPLE_ID LAB_L LAB_A LAB_B\nEND_DATA_FORMAT\n"
               "NUMBER_OF_SETS 4\nBEGIN_DATA\n"
               "B2 51.57 0 0\nA1 96.00 -0.4 1.2\nB1 66.67 0 0\nA2 81.34 0 0\n"
               "END_DATA\n",
           2, 2);
  REQUIRE(reference.patches.size() == 4);
  CHECK(reference.at(0, 0).id == "A1");
  CHECK_THAT(reference.at(0, 0).lab.b, WithinAbs(1.2, 1e-9));
  CHECK_THAT(reference.at(0, 1).lab.L, WithinAbs(81.34, 1e-9));
  CHECK_THAT(reference.at(1, 0).lab.L, WithinAbs(66.67, 1e-9));
  CHECK_THAT(reference.at(1, 1).lab.L, WithinAbs(51.57, 1e-9));
}

TEST_CASE("CGATS.17: XYZ on the scale of 100, against D50") {
  // X and Z of a neutral: Y times the white's (0.9642, 0.8249).
  const auto reference =
      read(kHead +
               "BEGIN_DATA_FORMAT\nSAMPLE_ID XYZ_X XYZ_Y XYZ_Z\nEND_DATA_FORMAT\n"
               "NUMBER_OF_SETS 3\nBEGIN_DATA\n"
               "A1 86.7876 90.01 74.2492\nA2 19.0624 19.77 16.3083\n"
               "A3 3.0179 3.13 2.5819\nEND_DATA\n",
           1, 3);
  // L* = 116 Y^(1/3) − 16: worked by hand from ISO/CIE 11664-4.
  CHECK_THAT(reference.at(0, 0).lab.L, WithinAbs(96.00, 0.005));
  CHECK_THAT(reference.at(0, 1).lab.L, WithinAbs(51.58, 0.005));
  CHECK_THAT(reference.at(0, 2).lab.L, WithinAbs(20.56, 0.005));
  for (const auto& patch : reference.patches) {
    CHECK_THAT(patch.lab.a, WithinAbs(0, 0.01));
    CHECK_THAT(patch.lab.b, WithinAbs(0, 0.01));
  }
}

TEST_CASE("CGATS.17: a table without colour, or with a patch missing, is refused") {
  for (const char* columns : {"SAMPLE_ID RGB_R RGB_G RGB_B", "SAMPLE_ID LAB_L LAB_A RGB_B"}) {
    try {
      static_cast<void>(
          read(kHead + "BEGIN_DATA_FORMAT\n" + columns +
                   "\nEND_DATA_FORMAT\nNUMBER_OF_SETS 1\nBEGIN_DATA\nA1 1 2 3\nEND_DATA\n",
               1, 1));
      FAIL("not refused: " << columns);
    } catch (const Error& error) {
      CHECK(error.code() == ExitCode::scan);
      CHECK_THAT(error.what(), Contains("target.txt"));
    }
  }
  try {
    static_cast<void>(read(kHead +
                               "BEGIN_DATA_FORMAT\nSAMPLE_ID LAB_L LAB_A LAB_B\nEND_DATA_FORMAT\n"
                               "NUMBER_OF_SETS 1\nBEGIN_DATA\nA1 50 0 0\nEND_DATA\n",
                           1, 2));
    FAIL("a missing patch was not noticed");
  } catch (const Error& error) {
    CHECK(error.code() == ExitCode::scan);
    CHECK_THAT(error.what(), Contains("A2"));
  }
}
