// Protects: dose, photons, lux and hazard of the worked exposure, and that a bare emitter, a dry
// sheet and a slip of units are spoken of.
#include "bath/light.hpp"

#include <algorithm>
#include <cmath>

#include <catch2/catch.hpp>

#include <inkwane/error.hpp>

using namespace inkwane;
using bath::expose;
using bath::Light;
using bath::LightInput;
using Catch::Matchers::Contains;
using Catch::Matchers::WithinAbs;
using Catch::Matchers::WithinRel;

namespace {

/// 50 W/m² at 455 nm for 4 h.
LightInput worked() {
  LightInput input;
  input.w_per_m2 = 50;
  input.peak_nm = 455;
  input.seconds = 4 * 3600;
  return input;
}

bool warned(const Light& light, const std::string& words) {
  return std::any_of(light.warnings.begin(), light.warnings.end(), [&](const std::string& warning) {
    return warning.find(words) != std::string::npos;
  });
}

}  // namespace

TEST_CASE("energy and number of photons") {
  struct Row {
    double nm, ev, umol_per_j, lux_per_w;
  };
  for (const Row& row :
       {Row{450, 2.755, 3.762, 26.0}, Row{455, 2.725, 3.804, 32.8}, Row{460, 2.695, 3.845, 41.0}}) {
    CHECK_THAT(bath::photon_ev(row.nm), WithinAbs(row.ev, 5e-4));
    CHECK_THAT(bath::photons_umol_per_j(row.nm), WithinAbs(row.umol_per_j, 6e-4));
    LightInput input = worked();
    input.w_per_m2 = 1;
    input.peak_nm = row.nm;
    CHECK_THAT(expose(input).lux.value, WithinAbs(row.lux_per_w, 0.06));
  }
}

TEST_CASE("50 W/m² for 4 h at 455 nm is 72 J/cm², and only 6,557 lx·h") {
  const Light light = expose(worked());
  CHECK_THAT(light.j_per_m2.value().value, WithinRel(720'000.0, 1e-12));
  CHECK_THAT(light.j_per_cm2.value().value, WithinRel(72.0, 1e-12));
  CHECK_THAT(light.lux_hours.value().value, WithinAbs(6557, 1));
  CHECK_THAT(light.mol_per_m2.value().value, WithinAbs(0.72 * 3.804, 1e-3));
  CHECK_THAT(light.j_per_cm2->high, WithinRel(79.2, 1e-9));
  CHECK(warned(light, "Lux misleads"));
  CHECK_FALSE(light.doubtful);
}

TEST_CASE("a lit white sheet: 11.5 W/(m² sr), under the long-viewing limit") {
  const Light light = expose(worked());
  CHECK(light.reflectance == 0.8);
  CHECK_THAT(light.sheet.w_per_m2_sr.value, WithinAbs(11.46, 0.01));
  CHECK_FALSE(light.sheet.limit_seconds);
  CHECK_FALSE(light.emitter);
  CHECK(warned(light, "no radiance of the emitter was given"));
}

TEST_CASE("a bare emitter of 20,000 W/(m² sr) reaches the limit within a minute") {
  LightInput input = worked();
  input.emitter_w_per_m2_sr = 20'000;
  const Light light = expose(input);
  CHECK_THAT(light.emitter.value().w_per_m2_sr.value, WithinRel(18'000.0, 1e-9));
  CHECK_THAT(light.emitter->limit_seconds.value().value, WithinRel(1e6 / 18'000, 1e-9));
  CHECK(light.emitter->limit_seconds->low < light.emitter->limit_seconds->value);
  CHECK(warned(light, "shield it"));
}

TEST_CASE("time to repeat an earlier dose") {
  LightInput input = worked();
  input.reach = {36, 0};
  const Light light = expose(input);
  CHECK_THAT(light.reach_seconds.value().value, WithinRel(7200.0, 1e-12));
  CHECK(light.reach_seconds->low < 7200 * 0.91);
  CHECK(warned(light, "reciprocity"));
}

TEST_CASE("a wide band is weighed over its width, and one too wide is doubtful") {
  LightInput input = worked();
  input.width_nm = 20;
  // V rises so steeply that the band's mean lies above the peak's value.
  CHECK(expose(input).lux.value > 1.03 * expose(worked()).lux.value);
  CHECK_FALSE(expose(input).doubtful);
  input.width_nm = 120;
  CHECK(expose(input).doubtful);
}

TEST_CASE("a sheet lit dry and a slip of units are spoken of") {
  LightInput input = worked();
  input.wet = false;
  CHECK(warned(expose(input), "lit dry reverted more"));
  input.wet = true;
  CHECK_FALSE(warned(expose(input), "lit dry reverted more"));
  input.w_per_m2 = 50'000;
  CHECK(expose(input).doubtful);
  CHECK(warned(expose(input), "Is the unit right?"));
}

TEST_CASE("values out of range are refused") {
  const auto refused = [](auto change, const char* words) {
    LightInput input = worked();
    change(input);
    CHECK_THROWS_WITH(expose(input), Contains(words));
    CHECK_THROWS_AS(expose(input), Error);
  };
  refused([](LightInput& i) { i.w_per_m2 = 0; }, "irradiance");
  refused([](LightInput& i) { i.peak_nm = 300; }, "peak of 300 nm");
  refused([](LightInput& i) { i.width_nm = -1; }, "width");
  refused([](LightInput& i) { i.seconds = std::nan(""); }, "time");
  refused([](LightInput& i) { i.reflectance = 1.2; }, "reflectance");
  refused([](LightInput& i) { i.reach = {0, 0}; }, "earlier dose");
}
