// Protects reading the target's reference file, in the shapes such files come in.
#include "target/reference.hpp"

#include <fstream>
#include <functional>

#include <catch2/catch.hpp>

#include <inkwane/error.hpp>

#include "tests/support.hpp"

using namespace inkwane;
using namespace inkwane::target;
using Catch::Matchers::Contains;
using Catch::Matchers::WithinAbs;

namespace {

struct Shape {
  std::string format = "SAMPLE_ID LAB_L LAB_A LAB_B", separator = " ", end = "\n", before, extra;
  std::function<std::string(int)> id = [](int i) { return patch_id(i / 3, i % 3); };
  std::function<std::string(int)> values = [](int i) {
    return std::to_string(30 + i) + ".5" + " " + std::to_string(i - 3) + " " + std::to_string(-i);
  };
  int sets = 6;
  std::vector<int> order;
};

std::filesystem::path write(const test::TemporaryFolder& folder, const Shape& s) {
  std::string text = "CGATS.17" + s.end + s.before;
  text += "NUMBER_OF_FIELDS " +
          std::to_string(1 + std::count(s.format.begin(), s.format.end(), ' ')) + s.end;
  text += "BEGIN_DATA_FORMAT" + s.end + s.format + s.end + "END_DATA_FORMAT" + s.end;
  text += "NUMBER_OF_SETS " + std::to_string(s.sets) + s.end + "BEGIN_DATA" + s.end;
  for (int k = 0; k < s.sets; ++k) {
    const int i = s.order.empty() ? k : s.order[k];
    std::string line = s.id(i) + " " + s.values(i) + s.extra;
    for (std::size_t at = 0; (at = line.find(' ', at)) != std::string::npos;) {
      line.replace(at, 1, s.separator);
      at += s.separator.size();
    }
    text += line + s.end;
  }
  text += "END_DATA" + s.end;
  const auto file = folder / "target.txt";
  std::ofstream(file, std::ios::binary) << text;
  return file;
}

void check_read(const Shape& shape) {
  const test::TemporaryFolder folder;
  const Reference r = read_reference(write(folder, shape), 2, 3);
  REQUIRE(r.patches.size() == 6);
  for (int i = 0; i < 6; ++i) {
    CHECK(r.patches[i].id == patch_id(i / 3, i % 3));
    CHECK_THAT(r.patches[i].lab.L, WithinAbs(30.5 + i, 1e-9));
    CHECK_THAT(r.patches[i].lab.a, WithinAbs(i - 3, 1e-9));
    CHECK_THAT(r.patches[i].lab.b, WithinAbs(-i, 1e-9));
  }
  CHECK(r.at(1, 2).id == "B3");
}

void check_refused(const Shape& shape, const std::string& words, int rows = 2, int columns = 3) {
  const test::TemporaryFolder folder;
  try {
    (void)read_reference(write(folder, shape), rows, columns);
    FAIL("not refused");
  } catch (const Error& e) {
    CHECK(e.code() == ExitCode::scan);
    CHECK_THAT(e.what(), Contains("target.txt") && Contains(words));
  }
}

}  // namespace

TEST_CASE("plain file") {
  check_read({});
}

TEST_CASE("tabs, Windows line ends, comments, blank lines, quoted keywords, further columns") {
  Shape s;
  s.separator = "\t";
  s.end = "\r\n";
  s.before =
      "# measured on one card\r\n\r\nORIGINATOR \"somebody\"\r\nKEYWORD \"OWN\"\r\nOWN \"x y\"\r\n";
  s.format = "SAMPLE_ID LAB_L LAB_A LAB_B STDEV_DE";
  s.extra = " 0.12";
  check_read(s);
}

TEST_CASE("patches in any order, ids with zeros or in small letters") {
  Shape s;
  s.order = {4, 0, 2, 5, 1, 3};
  s.id = [](int i) { return std::string(1, "ab"[i / 3]) + "0" + std::to_string(i % 3 + 1); };
  check_read(s);
}

TEST_CASE("ids that are numbers, and ids of no known form, go row by row") {
  Shape numbers;
  numbers.order = {4, 0, 2, 5, 1, 3};
  numbers.id = [](int i) { return std::to_string(i + 1); };
  check_read(numbers);
  Shape names;
  names.id = [](int i) { return std::string("patch-") + "xyzuvw"[i]; };
  check_read(names);
}

TEST_CASE("XYZ on a scale of 0 to 100") {
  Shape s;
  s.format = "SAMPLE_ID XYZ_X XYZ_Y XYZ_Z";
  s.values = [](int) { return std::string("48.21 50.00 41.245"); };
  const test::TemporaryFolder folder;
  const Reference r = read_reference(write(folder, s), 2, 3);
  // L* of Y = 0.5: 116 · 0.5^(1/3) − 16 = 76.069, and a grey of the D50 white's hue.
  CHECK_THAT(r.patches[0].lab.L, WithinAbs(76.069, 1e-3));
  CHECK_THAT(r.patches[0].lab.a, WithinAbs(0, 1e-9));
  CHECK_THAT(r.patches[0].lab.b, WithinAbs(0, 1e-9));
}

TEST_CASE("what is missing or wrong is named") {
  Shape missing;
  missing.sets = 5;
  check_refused(missing, "patch B3 is missing");
  Shape twice;
  twice.id = [](int i) { return patch_id(0, i % 3); };
  check_refused(twice, "stands twice");
  check_refused({}, "patch A4 is missing", 2, 4);
  check_refused({}, "beyond", 1, 3);
  Shape columns;
  columns.format = "SAMPLE_ID RGB_R RGB_G RGB_B";
  check_refused(columns, "LAB_L");
  Shape comma;
  comma.values = [](int) { return std::string("50,5 1 2"); };
  check_refused(comma, "not a number");
  Shape number;
  number.id = [](int i) { return std::to_string(i + 1); };
  number.sets = 5;
  check_refused(number, "has 5 patches");
  Shape unit;
  unit.format = "SAMPLE_ID XYZ_X XYZ_Y XYZ_Z";
  unit.values = [](int) { return std::string("0.48 0.50 0.41"); };
  check_refused(unit, "0 to 100");
  Shape d65;
  d65.before = "KEYWORD \"WEIGHTING_FUNCTION\"\nWEIGHTING_FUNCTION \"ILLUMINANT, D65\"\n";
  check_refused(d65, "D50");
  Shape wild;
  wild.values = [](int) { return std::string("500 1 2"); };
  check_refused(wild, "no printed patch");
}

TEST_CASE("files that are no table are refused") {
  const test::TemporaryFolder folder;
  const auto check = [&folder](const std::string& name, const std::string& words) {
    try {
      (void)read_reference(folder / name, 2, 3);
      FAIL("not refused");
    } catch (const Error& e) {
      CHECK(e.code() == ExitCode::scan);
      CHECK_THAT(e.what(), Contains(name) && Contains(words));
    }
  };
  check("absent.txt", "cannot be read");
  std::ofstream(folder / "empty.txt").flush();
  check("empty.txt", "empty");
  std::ofstream(folder / "letter.txt") << "Dear conservator,\nhere are the values.\n";
  check("letter.txt", "SAMPLE_ID");
  std::ofstream(folder / "cut.txt")
      << "CGATS.17\nNUMBER_OF_FIELDS 4\nBEGIN_DATA_FORMAT\nSAMPLE_ID LAB_L LAB_A LAB_B\n"
         "END_DATA_FORMAT\nNUMBER_OF_SETS 6\nBEGIN_DATA\nA1 50 0 0\nA2 60";
  check("cut.txt", "cut.txt");
  std::filesystem::create_directory(folder / "folder");
  check("folder", "cannot be read");
}

TEST_CASE("ids of large targets go on after Z") {
  CHECK(patch_id(0, 0) == "A1");
  CHECK(patch_id(25, 13) == "Z14");
  CHECK(patch_id(26, 0) == "AA1");
}
