// CIEDE2000: planes of float with the widest vectors, the scalar formula, and LittleCMS's.
#include <benchmark/benchmark.h>
#include <lcms2.h>

#include "colour/planes.hpp"
#include "tests/colour/pairs.hpp"

using namespace inkwane;

namespace {

constexpr std::size_t kPairs = 1 << 14;  // what stays in the second cache, as rows of cells do

const test::Pairs& pairs() {
  static const test::Pairs made = test::make_pairs("uniform", kPairs);
  return made;
}

void count(benchmark::State& state) {
  state.SetItemsProcessed(static_cast<std::int64_t>(state.iterations() * kPairs));
}

void ciede2000_planes(benchmark::State& state) {
  std::vector<float> out(kPairs);
  for ([[maybe_unused]] auto round : state) {
    colour::ciede2000_planes(pairs().ones(), pairs().twos(), kPairs, out.data());
    benchmark::DoNotOptimize(out.data());
    benchmark::ClobberMemory();
  }
  count(state);
}
BENCHMARK(ciede2000_planes);

void ciede2000_scalar(benchmark::State& state) {
  for ([[maybe_unused]] auto round : state) {
    double sum = 0;
    for (std::size_t i = 0; i < kPairs; ++i) sum += ciede2000(pairs().one(i), pairs().two(i));
    benchmark::DoNotOptimize(sum);
  }
  count(state);
}
BENCHMARK(ciede2000_scalar);

void ciede2000_littlecms(benchmark::State& state) {
  for ([[maybe_unused]] auto round : state) {
    double sum = 0;
    for (std::size_t i = 0; i < kPairs; ++i) {
      const LabD50 one = pairs().one(i), two = pairs().two(i);
      const cmsCIELab a{one.L, one.a, one.b}, b{two.L, two.a, two.b};
      sum += cmsCIE2000DeltaE(&a, &b, 1, 1, 1);
    }
    benchmark::DoNotOptimize(sum);
  }
  count(state);
}
BENCHMARK(ciede2000_littlecms);

void lab_planes(benchmark::State& state) {
  std::array<std::vector<float>, 3> light, lab;
  for (std::size_t c = 0; c < 3; ++c) {
    for (const float L : pairs().planes[3 * (c % 2)]) light[c].push_back(L / 100);
    lab[c].resize(kPairs);
  }
  for ([[maybe_unused]] auto round : state) {
    colour::to_lab_planes({1, 0, 0, 0, 1, 0, 0, 0, 1},
                          {light[0].data(), light[1].data(), light[2].data()}, kPairs,
                          {lab[0].data(), lab[1].data(), lab[2].data()});
    benchmark::DoNotOptimize(lab[0].data());
    benchmark::ClobberMemory();
  }
  count(state);
}
BENCHMARK(lab_planes);

}  // namespace
