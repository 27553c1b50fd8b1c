// ICC tables: encoded pixels to linear light, and the writing of a scan's profile.
#include <cmath>
#include <random>

#include <benchmark/benchmark.h>

#include "colour/icc.hpp"

using namespace inkwane;

namespace {

void linearise(benchmark::State& state) {
  const auto linearisation = colour::Linearisation::from_profile({}, "none");
  std::mt19937 bits(1931);
  std::vector<std::uint16_t> encoded(3 * 6000);  // a row of a page at 600 dpi
  for (auto& value : encoded) value = static_cast<std::uint16_t>(bits());
  std::vector<float> linear(encoded.size());
  for ([[maybe_unused]] auto round : state) {
    linearisation.apply(encoded, linear);
    benchmark::DoNotOptimize(linear.data());
    benchmark::ClobberMemory();
  }
  state.SetItemsProcessed(static_cast<std::int64_t>(state.iterations() * encoded.size() / 3));
}
BENCHMARK(linearise);

void write_profile(benchmark::State& state) {
  const auto lab_of = [](const std::array<double, 3>& e) {
    return to_lab({e[0] * e[0], e[1] * e[1], e[2] * e[2]});
  };
  const auto shape = [](double e) { return std::cbrt(e * e); };
  for ([[maybe_unused]] auto round : state) {
    auto bytes = colour::build_scan_profile("benchmark", lab_of, {shape, shape, shape});
    benchmark::DoNotOptimize(bytes.data());
  }
}
BENCHMARK(write_profile)->Unit(benchmark::kMillisecond);

}  // namespace
