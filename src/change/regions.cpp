#include "change/regions.hpp"

#include <algorithm>
#include <cmath>
#include <functional>

#include <Eigen/Cholesky>
#include <fmt/core.h>

#include "change/monte_carlo.hpp"
#include "change/screens.hpp"
#include "change/strength.hpp"

namespace inkwane::change {
namespace {

constexpr int kDraws = 4000;
constexpr std::uint64_t kSeed = 1931;
constexpr double kFamilyLevel = 0.01;  // of `detectable`, docs/formats.md

/// Spots and draws of one region.
struct Drawn {
  RegionColours colours;
  Eigen::MatrixXd errors;  // draws × 3 spots

  [[nodiscard]] const Spot* at(int kind, int stage) const {
    const auto& spot =
        colours.spots[static_cast<std::size_t>(kind)][static_cast<std::size_t>(stage)];
    return spot ? &*spot : nullptr;
  }
  [[nodiscard]] int row(int kind, int stage) const {
    return colours.row[static_cast<std::size_t>(kind)][static_cast<std::size_t>(stage)];
  }
  [[nodiscard]] auto draws(int kind, int stage) const {
    return errors.middleCols<3>(row(kind, stage));
  }
};

/// p-value of "nothing changed", from the colour vector's change and its covariance.
double unchanged_p(const Drawn& drawn, int from, int to) {
  const Eigen::MatrixXd& c = drawn.colours.covariance;
  const int i = drawn.row(RegionColours::place, from), j = drawn.row(RegionColours::place, to);
  const Eigen::Matrix3d covariance =
      c.block<3, 3>(i, i) + c.block<3, 3>(j, j) - c.block<3, 3>(i, j) - c.block<3, 3>(j, i);
  const LabD50 a = drawn.at(RegionColours::place, from)->lab,
               b = drawn.at(RegionColours::place, to)->lab;
  const Eigen::Vector3d change(b.L - a.L, b.a - a.a, b.b - a.b);
  return chi2_tail_3(change.dot(covariance.ldlt().solve(change)));
}

std::optional<Colours> colours_of_share(const Drawn& drawn, int under, int from, int to) {
  const std::array<std::pair<int, int>, kParts> parts{
      {{RegionColours::place, from}, {RegionColours::place, to}, {under, from}, {under, to}}};
  Colours colours;
  for (std::size_t p = 0; p < kParts; ++p) {
    const auto [kind, stage] = parts[p];
    if (drawn.at(kind, stage) == nullptr) return std::nullopt;
    colours.lab[p] = drawn.at(kind, stage)->lab;
    colours.errors[p] = drawn.draws(kind, stage);
  }
  return colours;
}

/// How much of a region's colour is still there, by both laws of inks.
struct Shares {
  std::optional<Estimates> estimates;
  std::optional<double> if_screened;  ///< lower end of an ink's strength if it is a screen
  bool solid = false;                 ///< surely no screen, whose channels tell less of the law
};

Shares shares_of_ink(const Drawn& drawn, const RegionScreens& screens, int from, int to,
                     results::RegionChange& change) {
  using Kind = RegionScreens::Kind;
  const auto colours = colours_of_share(drawn, RegionColours::paper, from, to);
  Shares shares;
  if (colours) shares.estimates = estimate_share(*colours);
  if (!shares.estimates) {
    change.warnings.emplace_back(
        colours ? "The ink stands out too little from the paper beside it for its strength to be "
                  "measured."
                : "No bare paper was found to measure the ink's strength against.");
    return {};
  }
  if (screens.kind == Kind::screened) {
    const ScreenVerdict verdict = screens.kept(from, to);
    change.warnings.insert(change.warnings.end(), verdict.warnings.begin(), verdict.warnings.end());
    return {verdict.estimates, {}, false};
  }
  if (screens.kind == Kind::too_many) {
    change.warnings.push_back(fmt::format(
        "More than {} screens are printed over each other, whose strength cannot be told apart; "
        "mark a place where fewer of them meet.",
        kMostLattices));
    return {};
  }
  const bool seen = screens.kind == Kind::no_screen && screens.fine_enough;
  if (!seen) shares.if_screened = share_kept_if_screened(*colours);
  shares.solid = !shares.if_screened;
  return shares;
}

/// Of added colour; fills in its contrast, too.
Shares shares_of_added(const Drawn& drawn, const Region& record, bool under_here, int from, int to,
                       results::RegionChange& change) {
  const bool over_ink = record.under != "paper";
  const int under = over_ink ? RegionColours::under : RegionColours::paper;
  if (over_ink && !under_here) {
    change.warnings.push_back(fmt::format(
        "The ink under it, region \"{}\", is not on this side, so the residual could not be had.",
        record.under));
    return {};
  }
  const auto colours = colours_of_share(drawn, under, from, to);
  Shares shares;
  if (colours) shares = {estimate_share(*colours), {}, true};  // painted by hand: no screen
  if (!shares.estimates) {
    change.warnings.emplace_back(!colours ? "What lies under the added colour was not measured at "
                                            "both stages, so the residual could not be had."
                                          : "The added colour stands out too little from what lies "
                                            "under it for its residual to be measured.");
  }
  const Spot *here = drawn.at(RegionColours::place, to), *beside = drawn.at(under, to);
  if (here != nullptr && beside != nullptr)
    change.contrast_dE00 = ciede2000(here->lab, beside->lab);
  return shares;
}

/// Reports the share, by the odds that its law is that of a film.
void report_share(const Shares& shares, Role role, double odds, results::RegionChange& change) {
  if (!shares.estimates) return;
  const Share share = share_kept(*shares.estimates, odds);
  if (role == Role::ink) {
    change.strength_kept = share.value;
    change.strength_kept_ci95 = share.ci95;
  } else {
    change.residual = std::max(0.0, share.value);
    change.residual_ci95 = {{std::max(0.0, share.ci95[0]), std::max(0.0, share.ci95[1])}};
  }
  if (share.law_open) {
    change.warnings.push_back(fmt::format(
        "The scan's channels cannot tell whether this colour lies in the paper or as a film on it; "
        "the value is for the first ({:.2f}, against {:.2f} for a film) and the interval allows "
        "for both.",
        share.value, shares.estimates->film.value));
  }
  if (shares.if_screened && *shares.if_screened < share.ci95[0]) {
    change.strength_kept_ci95 = {{*shares.if_screened, share.ci95[1]}};
    change.warnings.emplace_back(
        "If this is a screen too fine or too small to be seen, averaging hides part of the fading "
        "of its dots; the interval's lower end allows for that; scan at 600 dpi or more to tell.");
  }
}

/// What a region says for a film, over its changes; `shares` by pair, then by region.
std::optional<double> evidence_of(std::size_t region,
                                  const std::vector<std::vector<Shares>>& shares) {
  double sum = 0;
  int changes = 0;
  for (const auto& pair : shares) {
    const Shares& one = pair[region];
    const auto evidence =
        one.estimates && one.solid ? evidence_of_film(*one.estimates) : std::nullopt;
    if (!evidence) continue;
    sum += *evidence;
    ++changes;
  }
  return changes > 0 ? std::optional(sum / changes) : std::nullopt;
}

/// Decides by which law each region's ink is taken, from the whole sheet, and reports the shares.
/// `sheet` holds what the other side said, and then what both say. Returns the shares of each
/// region against the first stage.
std::vector<std::vector<StageShare>> report_shares(const SideInput& side,
                                                   const std::vector<std::vector<Shares>>& shares,
                                                   SheetEvidence& sheet,
                                                   std::vector<results::Region>& regions) {
  std::vector<std::vector<StageShare>> against_first(regions.size());
  std::vector<std::optional<double>> own(regions.size());
  for (std::size_t i = 0; i < regions.size(); ++i) {
    own[i] = evidence_of(i, shares);
    (regions[i].role == Role::added ? sheet.added : sheet.ink) += own[i].value_or(0);
  }
  for (std::size_t p = 0; p < shares.size(); ++p) {
    for (std::size_t i = 0; i < regions.size(); ++i) {
      const Role role = side.regions[i].region->role;
      const double alike = role == Role::added ? sheet.added : sheet.ink,
                   unlike = role == Role::added ? sheet.ink : sheet.added;
      const double odds = odds_of_film(own[i], alike - own[i].value_or(0), unlike);
      results::RegionChange& change = regions[i].changes[p];
      report_share(shares[p][i], role, odds, change);
      if (!shares[p][i].estimates || change.from != side.layers.front().stage) continue;
      against_first[i].push_back(
          {change.to, *shares[p][i].estimates, law_of(odds), shares[p][i].if_screened});
    }
  }
  return against_first;
}

results::RegionChange change_of(const Drawn& drawn, int from, int to) {
  results::RegionChange change;
  const Spot *a = drawn.at(RegionColours::place, from), *b = drawn.at(RegionColours::place, to);
  if (a == nullptr || b == nullptr) {
    change.warnings.emplace_back("Less than half of the region was measured at both stages.");
    return change;
  }
  change.dE00 = ciede2000(a->lab, b->lab);
  change.dE00_ci95 = delta_e_interval(a->lab, b->lab, drawn.draws(RegionColours::place, from),
                                      drawn.draws(RegionColours::place, to));
  change.dL = b->lab.L - a->lab.L;
  change.da = b->lab.a - a->lab.a;
  change.db = b->lab.b - a->lab.b;
  change.dC = chroma(b->lab) - chroma(a->lab);
  change.dH = delta_hue(a->lab, b->lab);
  return change;
}

/// The target says nothing of colours darker than its darkest patch (docs/method.md, "Target").
void darkness_warning(const SideContext& context, const Drawn& drawn, results::Region& region) {
  for (std::size_t s = 0; s < context.side->layers.size(); ++s) {
    const auto& fitted = context.side->layers[s].fit->fitted;
    const Spot* spot = drawn.at(RegionColours::place, static_cast<int>(s));
    if (fitted.empty() || spot == nullptr) continue;
    const auto darkest = std::min_element(
        fitted.begin(), fitted.end(), [](const LabD50& p, const LabD50& q) { return p.L < q.L; });
    if (spot->lab.L >= darkest->L - 1) continue;
    region.warnings.push_back(
        fmt::format("At stage {} it is darker (L* {:.0f}) than the target's darkest patch (L* "
                    "{:.0f}), so its colour is extrapolated.",
                    context.side->layers[s].stage, spot->lab.L, darkest->L));
  }
}

/// Rulings and coverages, as far as they could be had.
std::vector<results::Screen> describe(const RegionScreens& screens) {
  std::vector<results::Screen> result;
  for (std::size_t j = 0; j < screens.lattices.size(); ++j) {
    const Lattice& lattice = screens.lattices[j];
    results::Screen screen{
        lattice.frequency() * screens.resolution_dpi, lattice.angle_degrees(), {}};
    if (screens.model) screen.coverage = screens.model->coverage()[j];
    result.push_back(screen);
  }
  return result;
}

results::Region describe(const SideContext& context, const Drawn& drawn,
                         const RegionScreens& screens, std::size_t index) {
  const SideInput& side = *context.side;
  const Region& record = *side.regions[index].region;
  results::Region region;
  region.id = record.id;
  region.name = record.name;
  region.side = side.side;
  region.role = record.role;
  region.area_mm2 = side.regions[index].area_mm2;
  region.screens = describe(screens);
  for (std::size_t s = 0; s < side.layers.size(); ++s) {
    const Spot* spot = drawn.at(RegionColours::place, static_cast<int>(s));
    if (spot == nullptr) continue;
    const Eigen::Vector3d u = drawn.colours.covariance.diagonal()
                                  .segment<3>(drawn.row(RegionColours::place, static_cast<int>(s)))
                                  .cwiseMax(0)
                                  .cwiseSqrt();
    region.stages.emplace_back(side.layers[s].stage,
                               results::RegionStage{spot->lab, {u[0], u[1], u[2]}});
  }
  darkness_warning(context, drawn, region);
  return region;
}

}  // namespace

AssessedRegions assess_regions(const SideContext& context,
                               const std::vector<std::pair<int, int>>& pairs,
                               SheetEvidence& sheet) {
  const SideInput& side = *context.side;
  const int dimensions = 3 * RegionColours::kKinds * static_cast<int>(side.layers.size());
  const Eigen::MatrixXd normals =
      side.regions.empty() ? Eigen::MatrixXd() : standard_normals(kDraws, dimensions, kSeed);
  std::vector<results::Region> regions(side.regions.size());
  std::vector<std::vector<double>> p_values(pairs.size(),
                                            std::vector<double>(side.regions.size(), -1));
  std::vector<std::vector<Shares>> shares(pairs.size(), std::vector<Shares>(side.regions.size()));

  const auto each_region = [&side](const std::function<void(std::size_t)>& work) {
    cv::parallel_for_({0, static_cast<int>(side.regions.size())}, [&](const cv::Range& range) {
      for (int i = range.start; i < range.end; ++i) work(static_cast<std::size_t>(i));
    });
  };
  std::vector<RegionColours> colours(side.regions.size());
  each_region([&](std::size_t index) {
    colours[index] = measure_region(context, static_cast<int>(index));
  });
  const std::vector<RegionScreens> screens = read_screens(context, colours);
  each_region([&](std::size_t index) {
    const Region& record = *side.regions[index].region;
    Drawn drawn{std::move(colours[index]), {}};
    if (drawn.colours.covariance.size() > 0)
      drawn.errors = correlated(drawn.colours.covariance, normals);
    regions[index] = describe(context, drawn, screens[index], index);
    for (std::size_t p = 0; p < pairs.size(); ++p) {
      const auto [from, to] = pairs[p];
      results::RegionChange change = change_of(drawn, from, to);
      change.from = side.layers[static_cast<std::size_t>(from)].stage;
      change.to = side.layers[static_cast<std::size_t>(to)].stage;
      if (change.dE00) {
        p_values[p][index] = unchanged_p(drawn, from, to);
        if (record.role == Role::ink) {
          shares[p][index] = shares_of_ink(drawn, screens[index], from, to, change);
        } else if (record.role == Role::added) {
          const int under = find_region(side, record.under);
          shares[p][index] = shares_of_added(drawn, record, under >= 0, from, to, change);
          if (shares[p][index].estimates && under >= 0 &&
              !screens[static_cast<std::size_t>(under)].lattices.empty()) {
            change.warnings.emplace_back(
                "What lies under it is a screen, taken by its averaged colour, which hides part of "
                "its fading; the residual may be off by that.");
          }
        }
      }
      regions[index].changes.push_back(std::move(change));
    }
  });

  const auto against_first = report_shares(side, shares, sheet, regions);

  for (std::size_t p = 0; p < pairs.size(); ++p) {
    std::vector<double> tested;
    for (const double value : p_values[p]) {
      if (value >= 0) tested.push_back(value);
    }
    const std::vector<bool> rejected = holm(tested, kFamilyLevel);
    std::size_t next = 0;
    for (std::size_t i = 0; i < regions.size(); ++i) {
      if (p_values[p][i] < 0) continue;
      results::RegionChange& change = regions[i].changes[p];
      change.detectable = rejected[next++];
      if (!*change.detectable) (*change.dE00_ci95)[0] = 0;
    }
  }

  std::vector<ShareSeries> series;
  for (std::size_t i = 0; i < regions.size(); ++i) {
    if (against_first[i].empty()) continue;
    series.push_back(join_shares(against_first[i]));
    series.back().region = regions[i].id;
    series.back().role = regions[i].role;
    series.back().area_mm2 = regions[i].area_mm2;
    series.back().first = side.layers.front().stage;
  }
  return {std::move(regions), std::move(series)};
}

}  // namespace inkwane::change
