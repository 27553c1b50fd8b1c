#include "change/screens.hpp"

#include <algorithm>
#include <cmath>

#include <Eigen/LU>

#include "change/colour_space.hpp"

namespace inkwane::change {
namespace {

/// Of a scan whose target does not tell: half a pixel, give or take a third of that. Common
/// practice, no source.
constexpr target::PointSpread kUsualSpread{{0.45, 0.45}, 0.15, 0};
/// Reflectance against the paper, in its own channel, below which a place without a screen is a
/// solid and not a screen too fine to be seen. Common practice, no source.
constexpr double kLightestSolid = 0.25;
constexpr double kMmPerInch = 25.4;

std::optional<Eigen::Vector3d> sharp_at(const RegionColours& colours, int kind, std::size_t stage) {
  const auto& spot = colours.spots[static_cast<std::size_t>(kind)][stage];
  if (!spot) return std::nullopt;
  return Eigen::Vector3d(sharpening() * spot->colour.xyz);
}

/// The first stage's lattices as they lie in this scan: frequencies turn and shrink as lengths
/// grow.
std::vector<Lattice> carried(const std::vector<Lattice>& lattices, const Eigen::Matrix2d& stretch) {
  const Eigen::Matrix2d to_here = stretch.inverse().transpose();
  std::vector<Lattice> result;
  for (const Lattice& l : lattices) result.push_back({{to_here * l.k[0], to_here * l.k[1]}});
  return result;
}

RegionScreens read_region_screens(const SideInput& side, std::size_t region,
                                  const RegionColours& colours) {
  using Kind = RegionScreens::Kind;
  RegionScreens result;
  if (side.regions[region].region->role != Role::ink) return result;
  for (std::size_t s = 0; s < side.layers.size(); ++s) {
    const ScanPixels& scan = side.layers[s].pixels;
    if (scan.scan == nullptr) return result;
    const auto paper = sharp_at(colours, RegionColours::paper, s);
    const auto place = sharp_at(colours, RegionColours::place, s);
    const auto pixels =
        place && paper ? read_region(side.regions[region], side.geometry, scan) : std::nullopt;
    result.stages.emplace_back();
    if (!pixels && s == 0) return result;
    if (!pixels) continue;
    const bool jpeg = scan.scan->info().format == scan::Format::jpeg;
    result.compressed = result.compressed || jpeg;
    const ScreenSpectrum spectrum(*pixels);
    if (s == 0) {
      result.resolution_dpi = scan.resolution_dpi;
      result.fine_enough = kMostLpi / scan.resolution_dpi < kFinest;
      const Lattices lattices = spectrum.find(scan.resolution_dpi, jpeg);
      result.lattices = lattices.found;
      result.kind = lattices.more            ? Kind::too_many
                    : lattices.found.empty() ? Kind::no_screen
                                             : Kind::screened;
      if (result.kind != Kind::screened) return result;
    }
    const target::PointSpread spread = scan.point_spread.value_or(kUsualSpread);
    result.stages.back() =
        ScreenStage{spectrum.read(carried(result.lattices, pixels->stretch), spread), *paper,
                    spread.u_sigma_px, spread.overshoot};
  }
  return result;
}

}  // namespace

ScreenVerdict RegionScreens::kept(int from, int to) const {
  if (compressed) {
    return {std::nullopt,
            {"A scan is a JPEG, which stores colour at half its resolution, too coarse for the "
             "screen's dots, so its strength could not be measured; scan as TIFF."}};
  }
  const auto &a = stages[static_cast<std::size_t>(from)], &b = stages[static_cast<std::size_t>(to)];
  if (!a || !b || !model) {
    return {std::nullopt,
            {"The screen's pixels could not be read at both stages, so its strength could not be "
             "measured."}};
  }
  return model->kept(*a, *b);
}

std::vector<RegionScreens> read_screens(const SideContext& context,
                                        const std::vector<RegionColours>& colours) {
  using Kind = RegionScreens::Kind;
  const SideInput& side = *context.side;
  std::vector<RegionScreens> result(side.regions.size());
  cv::parallel_for_({0, static_cast<int>(result.size())}, [&](const cv::Range& range) {
    for (int i = range.start; i < range.end; ++i) {
      const auto r = static_cast<std::size_t>(i);
      result[r] = read_region_screens(side, r, colours[r]);
    }
  });

  std::vector<FirstLook> looks;
  std::vector<Eigen::Vector3d> solids;
  std::vector<std::size_t> which;
  for (std::size_t r = 0; r < result.size(); ++r) {
    const RegionScreens& screens = result[r];
    if (screens.kind == Kind::no_screen) {
      const Eigen::Vector3d solid =
          sharp_at(colours[r], RegionColours::place, 0)
              ->cwiseQuotient(*sharp_at(colours[r], RegionColours::paper, 0));
      if (screens.fine_enough || solid.minCoeff() < kLightestSolid) solids.push_back(solid);
    } else if (screens.kind == Kind::screened) {
      FirstLook look{*screens.stages[0], {}};
      for (const Lattice& l : screens.lattices)
        look.period_mm.push_back(kMmPerInch / (l.frequency() * screens.resolution_dpi));
      looks.push_back(std::move(look));
      which.push_back(r);
    }
  }
  if (looks.empty()) return result;
  const LearntSheet learnt = learn_sheet(looks, solids);
  for (std::size_t i = 0; i < looks.size(); ++i) {
    result[which[i]].model.emplace(looks[i].stage, looks[i].period_mm, learnt.spread,
                                   learnt.of_region[i]);
  }
  return result;
}

}  // namespace inkwane::change
