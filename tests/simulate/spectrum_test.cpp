#include "simulate/spectrum.hpp"

#include <cmath>

#include <catch2/catch.hpp>

#include <inkwane/error.hpp>

#include "simulate/chart.hpp"

namespace inkwane::simulate {
namespace {

using Catch::WithinAbs;

struct Pair {
  Lab one, two;
  double difference;
};

// Sharma, Wu, Dalal, Color Res. Appl. 30(1), 2005, Table 1, as the general-purpose library
// scikit-image 0.19.3 has it in ciede2000_test_data.txt.
constexpr std::array<Pair, 34> kPublished{{
    {{50.0000, 2.6772, -79.7751}, {50.0000, 0.0000, -82.7485}, 2.0425},
    {{50.0000, 3.1571, -77.2803}, {50.0000, 0.0000, -82.7485}, 2.8615},
    {{50.0000, 2.8361, -74.0200}, {50.0000, 0.0000, -82.7485}, 3.4412},
    {{50.0000, -1.3802, -84.2814}, {50.0000, 0.0000, -82.7485}, 1.0000},
    {{50.0000, -1.1848, -84.8006}, {50.0000, 0.0000, -82.7485}, 1.0000},
    {{50.0000, -0.9009, -85.5211}, {50.0000, 0.0000, -82.7485}, 1.0000},
    {{50.0000, 0.0000, 0.0000}, {50.0000, -1.0000, 2.0000}, 2.3669},
    {{50.0000, -1.0000, 2.0000}, {50.0000, 0.0000, 0.0000}, 2.3669},
    {{50.0000, 2.4900, -0.0010}, {50.0000, -2.4900, 0.0009}, 7.1792},
    {{50.0000, 2.4900, -0.0010}, {50.0000, -2.4900, 0.0010}, 7.1792},
    {{50.0000, 2.4900, -0.0010}, {50.0000, -2.4900, 0.0011}, 7.2195},
    {{50.0000, 2.4900, -0.0010}, {50.0000, -2.4900, 0.0012}, 7.2195},
    {{50.0000, -0.0010, 2.4900}, {50.0000, 0.0009, -2.4900}, 4.8045},
    {{50.0000, -0.0010, 2.4900}, {50.0000, 0.0010, -2.4900}, 4.8045},
    {{50.0000, -0.0010, 2.4900}, {50.0000, 0.0011, -2.4900}, 4.7461},
    {{50.0000, 2.5000, 0.0000}, {50.0000, 0.0000, -2.5000}, 4.3065},
    {{50.0000, 2.5000, 0.0000}, {73.0000, 25.0000, -18.0000}, 27.1492},
    {{50.0000, 2.5000, 0.0000}, {61.0000, -5.0000, 29.0000}, 22.8977},
    {{50.0000, 2.5000, 0.0000}, {56.0000, -27.0000, -3.0000}, 31.9030},
    {{50.0000, 2.5000, 0.0000}, {58.0000, 24.0000, 15.0000}, 19.4535},
    {{50.0000, 2.5000, 0.0000}, {50.0000, 3.1736, 0.5854}, 1.0000},
    {{50.0000, 2.5000, 0.0000}, {50.0000, 3.2972, 0.0000}, 1.0000},
    {{50.0000, 2.5000, 0.0000}, {50.0000, 1.8634, 0.5757}, 1.0000},
    {{50.0000, 2.5000, 0.0000}, {50.0000, 3.2592, 0.3350}, 1.0000},
    {{60.2574, -34.0099, 36.2677}, {60.4626, -34.1751, 39.4387}, 1.2644},
    {{63.0109, -31.0961, -5.8663}, {62.8187, -29.7946, -4.0864}, 1.2630},
    {{61.2901, 3.7196, -5.3901}, {61.4292, 2.2480, -4.9620}, 1.8731},
    {{35.0831, -44.1164, 3.7933}, {35.0232, -40.0716, 1.5901}, 1.8645},
    {{22.7233, 20.0904, -46.6940}, {23.0331, 14.9730, -42.5619}, 2.0373},
    {{36.4612, 47.8580, 18.3852}, {36.2715, 50.5065, 21.2231}, 1.4146},
    {{90.8027, -2.0831, 1.4410}, {91.1528, -1.6435, 0.0447}, 1.4441},
    {{90.9257, -0.5406, -0.9208}, {88.6381, -0.8985, -0.7239}, 1.5381},
    {{6.7747, -0.2908, -2.4247}, {5.8714, -0.0985, -2.2286}, 0.6377},
    {{2.0776, 0.0795, -1.1350}, {0.9033, -0.0636, -0.5514}, 0.9082},
}};

}  // namespace

TEST_CASE("The observer and D50 tables give the white of the profile connection space") {
  // 10 nm sums differ from the ICC's rounded figures in the fourth place.
  const Xyz white = tabulated_white();
  CHECK_THAT(white[0], WithinAbs(0.9642, 1e-3));
  CHECK_THAT(white[2], WithinAbs(0.8249, 1e-3));
}

TEST_CASE("A neutral reflectance has no chroma") {
  for (const double reflectance : {0.02, 0.2, 1.0}) {
    Spectrum flat{};
    flat.fill(reflectance);
    const Lab lab = xyz_to_lab(spectrum_to_xyz(flat));
    CHECK_THAT(lab[1], WithinAbs(0, 1e-9));
    CHECK_THAT(lab[2], WithinAbs(0, 1e-9));
    CHECK_THAT(spectrum_to_xyz(flat)[1], WithinAbs(reflectance, 1e-12));
  }
}

TEST_CASE("Lab of a middle grey and back") {
  // ISO/CIE 11664-4: L* = 116 · 0.18^(1/3) − 16.
  CHECK_THAT(xyz_to_lab({0.18 * 0.9642, 0.18, 0.18 * 0.8249})[0], WithinAbs(49.4961, 1e-4));
  const Lab dark{3, 2, -4};  // on the linear branch
  const Lab back = xyz_to_lab(lab_to_xyz(dark));
  for (int i = 0; i < 3; ++i) CHECK_THAT(back[i], WithinAbs(dark[i], 1e-9));
}

TEST_CASE("CIEDE2000 of the simulator agrees with the published pairs") {
  for (const Pair& pair : kPublished) {
    CHECK_THAT(ciede2000(pair.one, pair.two), WithinAbs(pair.difference, 1e-4));
    CHECK_THAT(ciede2000(pair.two, pair.one), WithinAbs(pair.difference, 1e-4));
  }
  CHECK(ciede2000({50, 10, 10}, {50, 10, 10}) == 0);
}

TEST_CASE("A chart's patches have the colours asked for, as reflectances that can be") {
  for (const Patch& patch : make_chart(4, 6, 1)) {
    for (const double r : patch.reflectance) CHECK((r > 0 && r < 1));
  }
  const Lab aim{42.1, 53.4, 28.2};
  const Lab got = xyz_to_lab(spectrum_to_xyz(reflectance_of(aim)));
  for (int i = 0; i < 3; ++i) CHECK_THAT(got[i], WithinAbs(aim[i], 1e-6));
  CHECK_THROWS_AS(reflectance_of({50, 150, 0}), Error);
}

TEST_CASE("Charts of other layouts and of other seeds are other charts") {
  CHECK(make_chart(3, 4, 1).size() == 12);
  CHECK(make_chart(3, 4, 1).back().id == "C4");
  const auto one = make_chart(4, 6, 1), two = make_chart(4, 6, 2);
  const Lab a = xyz_to_lab(spectrum_to_xyz(one[0].reflectance));
  const Lab b = xyz_to_lab(spectrum_to_xyz(two[0].reflectance));
  CHECK(ciede2000(a, b) > 0.05);
  CHECK(ciede2000(a, b) < 6);
}

}  // namespace inkwane::simulate
