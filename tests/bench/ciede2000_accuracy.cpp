// Largest error of the fast CIEDE2000 against the scalar formula, for each kind of pairs and each
// kind of vectors that this processor has.
//
//   bench_accuracy [PAIRS]      pairs of each kind, 10 million unless told
#include <algorithm>
#include <cstdlib>
#include <map>

#include <fmt/format.h>
#include <hwy/targets.h>

#include "colour/planes.hpp"
#include "tests/colour/pairs.hpp"

using namespace inkwane;

int main(int argc, char** argv) {
  constexpr std::size_t kAtOnce = 1'000'000;
  const std::size_t wanted = argc > 1 ? std::strtoull(argv[1], nullptr, 10) : 10'000'000;
  double worst = 0;
  for (const std::string& kind : test::kPairKinds) {
    std::map<std::string, double> by_target;
    std::uint64_t seed = 2005;
    for (std::size_t done = 0; done < wanted; done += kAtOnce) {
      const test::Pairs pairs = test::make_pairs(kind, std::min(kAtOnce, wanted - done), seed++);
      const std::vector<double> truth = test::truth_of(pairs);
      for (auto rest = hwy::SupportedTargets(); rest != 0; rest &= rest - 1) {
        const std::string name = hwy::TargetName(rest & -rest);
        if (name == "SCALAR" || name == "EMU128") continue;
        hwy::SetSupportedTargetsForTest(rest & -rest);
        std::vector<float> fast(pairs.size());
        colour::ciede2000_planes(pairs.ones(), pairs.twos(), pairs.size(), fast.data());
        double& largest = by_target[name];
        largest = std::max(largest, test::largest_error(truth, fast));
      }
      hwy::SetSupportedTargetsForTest(0);
    }
    for (const auto& [name, error] : by_target) {
      fmt::print("| {} | {} | {:.1e} |\n", kind, name, error);
      worst = std::max(worst, error);
    }
  }
  return worst < 1e-4 ? 0 : 1;
}
