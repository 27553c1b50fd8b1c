#include "change/region_colour.hpp"

#include <algorithm>
#include <cmath>
#include <limits>

#include "change/colour_space.hpp"
#include "colour/strength.hpp"

namespace inkwane::change {
namespace {

/// d Lab / d XYZ at a colour, by the formulas of ISO/CIE 11664-4.
Eigen::Matrix3d lab_by_xyz(const Eigen::Vector3d& xyz) {
  const std::array<double, 3> white{kWhiteD50.X, kWhiteD50.Y, kWhiteD50.Z};
  Eigen::Vector3d slope;
  for (int i = 0; i < 3; ++i) {
    const double t = xyz[i] / white[static_cast<std::size_t>(i)];
    slope[i] = (t > 216.0 / 24389.0 ? 1 / (3 * std::cbrt(t) * std::cbrt(t)) : 841.0 / 108.0) /
               white[static_cast<std::size_t>(i)];
  }
  Eigen::Matrix3d j;
  j << 0, 116 * slope[1], 0, 500 * slope[0], -500 * slope[1], 0, 0, 200 * slope[1], -200 * slope[2];
  return j;
}

/// d Lab / d ln R of sharpened RGB.
Eigen::Matrix3d lab_by_log_sharp(const Eigen::Vector3d& xyz) {
  const Eigen::Vector3d sharp = sharpening() * xyz;
  return lab_by_xyz(xyz) * unsharpening() * sharp.asDiagonal();
}

Spot spot(const Colour& colour) {
  return {colour, to_lab({colour.xyz[0], colour.xyz[1], colour.xyz[2]})};
}

/// Absorption above the paper, in K/S and as density of sharpened RGB.
std::array<Eigen::Vector3d, 2> absorption_above(const Spot& paper, const Spot& place) {
  const Eigen::Vector3d under = sharpening() * paper.colour.xyz,
                        here = sharpening() * place.colour.xyz;
  return {
      here.unaryExpr(&colour::ks_from_reflectance) - under.unaryExpr(&colour::ks_from_reflectance),
      here.unaryExpr(&colour::density) - under.unaryExpr(&colour::density)};
}

cv::Point2d centre(const cv::Rect& r) {
  return {r.x + 0.5 * (r.width - 1), r.y + 0.5 * (r.height - 1)};
}

/// Gap between two windows, in cells.
double gap(const cv::Rect& a, const cv::Rect& b) {
  const double dx = std::max({0, a.x - b.br().x, b.x - a.br().x}),
               dy = std::max({0, a.y - b.br().y, b.y - a.br().y});
  return std::hypot(dx, dy);
}

int nearest_paper(const SideContext& context, int region, std::size_t stage) {
  const auto& regions = context.side->regions;
  int best = -1;
  double least = std::numeric_limits<double>::max();
  for (std::size_t i = 0; i < regions.size(); ++i) {
    if (regions[i].region->role != Role::paper || !context.usable[i][stage] ||
        static_cast<int>(i) == region)
      continue;
    const double d = gap(regions[i].bounds, regions[static_cast<std::size_t>(region)].bounds);
    if (d < least) least = d, best = static_cast<int>(i);
  }
  return best;
}

Colour mean_colour(const SideContext& context, int region, std::size_t stage) {
  const Layer& layer = context.side->layers[stage];
  const RegionWeights& w = context.weights[static_cast<std::size_t>(region)];
  return {weighted_mean(layer.xyz, w), weighted_mean(layer.light, w)};
}

/// Half of the variance of a cell's noise between this stage and another.
CellNoise noise_of(const SideContext& context, std::size_t stage) {
  if (context.drift.size() < 2) return {};
  return context.drift[stage == 0 ? 1 : stage].noise;
}

double misfit_within(const Layer& layer, const cv::Rect& bounds) {
  if (layer.misfit_mm.empty()) return 0;
  const cv::Mat window = layer.misfit_mm(bounds);
  const double mean = cv::mean(window, window >= 0)[0];  // NaN fails the comparison
  return std::isfinite(mean) ? mean : 0;
}

/// Lab covariance of a region's mean from what belongs to this region and stage alone: noise, light
/// exchanged across its edge, and the position's uncertainty times the change of the mean when the
/// region moves.
Eigen::Matrix3d own_covariance(const SideContext& context, int region, std::size_t stage,
                               const Colour& colour) {
  const SideInput& side = *context.side;
  const RegionWeights& w = context.weights[static_cast<std::size_t>(region)];
  const Eigen::Vector3d sharp = sharpening() * colour.xyz;
  const CellNoise noise = noise_of(context, stage);
  Eigen::Vector3d variance;
  for (int c = 0; c < 3; ++c)
    variance[c] =
        0.5 * static_cast<double>(noise.variance(static_cast<float>(sharp[c]))) * w.noise_gain;
  const Eigen::Matrix3d to_lab_ = lab_by_xyz(colour.xyz) * unsharpening();
  Eigen::Matrix3d covariance = to_lab_ * variance.asDiagonal() * to_lab_.transpose();

  const Layer& layer = side.layers[stage];
  const Eigen::Vector3d edge = lab_by_xyz(colour.xyz) * edge_error(layer.xyz, w);
  covariance += edge * edge.transpose();
  const double misfit = misfit_within(layer, w.bounds) / side.geometry.pitch_mm;
  if (stage > 0 && misfit > 0) {
    for (const cv::Point step : {cv::Point(1, 0), cv::Point(0, 1)}) {
      const Eigen::Vector3d there = weighted_mean(layer.xyz, w, step),
                            back = weighted_mean(layer.xyz, w, -step);
      const Eigen::Vector3d slope = lab_by_xyz(colour.xyz) * (0.5 * misfit * (there - back));
      if (slope.allFinite()) covariance += slope * slope.transpose();
    }
  }
  return covariance;
}

/// What errors of the scanner's stray light, which all stages share, do to ln light of a region, or
/// (−1) of the sheet's own paper at a place: 3 × errors, a mean over some of its cells.
Eigen::MatrixXd stray_errors(const SideContext& context, int region, std::size_t stage,
                             cv::Point2d place) {
  constexpr int kAcross = 8;  // cells each way: stray light varies over millimetres
  const ScanPixels& pixels = context.side->layers[stage].pixels;
  if (pixels.stray_light == nullptr) return {};
  Eigen::MatrixXd sum;
  double weights = 0;
  const auto add = [&](cv::Point2d cell, double weight) {
    const auto px = pixel_at(pixels, cell);
    if (!px || weight <= 0) return;
    const Eigen::MatrixXd here = weight * pixels.stray_light->log_errors({px->x, px->y});
    if (sum.size() == 0) sum = Eigen::MatrixXd::Zero(here.rows(), here.cols());
    sum += here;
    weights += weight;
  };
  if (region < 0) {
    add(place, 1);
  } else {
    const RegionWeights& w = context.weights[static_cast<std::size_t>(region)];
    const int dx = std::max(1, w.bounds.width / kAcross),
              dy = std::max(1, w.bounds.height / kAcross);
    for (int j = dy / 2; j < w.weight.rows; j += dy) {
      for (int i = dx / 2; i < w.weight.cols; i += dx) {
        add(cv::Point2d(w.bounds.x + i, w.bounds.y + j),
            static_cast<double>(w.weight.at<float>(j, i)));
      }
    }
    if (weights == 0) add(centre(w.bounds), 1);
  }
  return weights > 0 ? Eigen::MatrixXd(sum / weights) : sum;
}

}  // namespace

int find_region(const SideInput& side, const std::string& id) {
  for (std::size_t i = 0; i < side.regions.size(); ++i) {
    if (side.regions[i].region->id == id) return static_cast<int>(i);
  }
  return -1;
}

SideContext make_context(const SideInput& side) {
  SideContext context;
  context.side = &side;
  context.paper = survey_paper(side);
  for (int s = 0; s < static_cast<int>(side.layers.size()); ++s) {
    context.drift.push_back(s == 0 ? Drift{} : measure_drift(side, context.paper, 0, s));
  }
  for (const region::Mask& mask : side.regions) {
    std::vector<const Layer*> layers;
    std::vector<bool> usable;
    double misfit = 0;
    const int cells = cv::countNonZero(mask.inside);
    for (const Layer& layer : side.layers) {
      const int seen = cv::countNonZero(mask.inside & layer.valid(mask.bounds));
      usable.push_back(cells > 0 && 2 * seen >= cells);
      if (!usable.back()) continue;
      layers.push_back(&layer);
      misfit = std::max(misfit, misfit_within(layer, mask.bounds));
    }
    context.weights.push_back(
        layers.empty() ? RegionWeights{}
                       : region_weights(mask, side.geometry, layers, misfit, side.aperture_mm));
    if (context.weights.back().weight.empty()) usable.assign(usable.size(), false);
    context.usable.push_back(std::move(usable));
  }
  return context;
}

RegionColours measure_region(const SideContext& context, int region) {
  const SideInput& side = *context.side;
  const Region& record = *side.regions[static_cast<std::size_t>(region)].region;
  const std::size_t stages = side.layers.size();
  const int under =
      record.role == Role::added && record.under != "paper" ? find_region(side, record.under) : -1;
  const cv::Point2d here = centre(side.regions[static_cast<std::size_t>(region)].bounds);

  RegionColours result;
  std::vector<const target::Fit*> fits;
  std::vector<target::ColourAt> colours;
  std::vector<std::pair<int, std::size_t>> which;  // kind and stage of each spot
  std::vector<int> region_of_spot;                 // −1: the sheet's own paper
  for (auto& spots : result.spots) spots.resize(stages);
  for (auto& row : result.row) row.assign(stages, -1);
  for (std::size_t s = 0; s < stages; ++s) {
    fits.push_back(side.layers[s].fit);
    auto add = [&](int kind, const Colour& colour, int from_region) {
      if (!colour.xyz.allFinite() || !colour.light.allFinite()) return;
      const auto k = static_cast<std::size_t>(kind);
      result.spots[k][s] = spot(colour);
      result.row[k][s] = 3 * static_cast<int>(colours.size());
      colours.push_back({.scan = static_cast<int>(s),
                         .light = colour.light,
                         .place = kind,
                         .log_errors = stray_errors(context, from_region, s, here)});
      which.emplace_back(kind, s);
      region_of_spot.push_back(from_region);
    };
    if (!context.usable[static_cast<std::size_t>(region)][s]) continue;
    add(RegionColours::place, mean_colour(context, region, s), region);
    const int paper = nearest_paper(context, region, s);
    if (paper >= 0) {
      add(RegionColours::paper, mean_colour(context, paper, s), paper);
    } else if (context.paper.found) {
      add(RegionColours::paper, context.paper.at(static_cast<int>(s), here), -1);
    }
    if (under >= 0 && context.usable[static_cast<std::size_t>(under)][s])
      add(RegionColours::under, mean_colour(context, under, s), under);
  }
  if (colours.empty()) return result;
  for (std::size_t i = 0; i < colours.size(); ++i) {
    const auto [kind, s] = which[i];
    const auto& paper = result.spots[RegionColours::paper][s];
    if (!paper || kind == RegionColours::paper) continue;
    colours[i].absorption =
        absorption_above(*paper, *result.spots[static_cast<std::size_t>(kind)][s]);
  }

  result.covariance = target::joint_covariance(fits, colours);
  const auto n = static_cast<Eigen::Index>(colours.size());
  for (Eigen::Index i = 0; i < n; ++i) {
    const auto [kind, s] = which[static_cast<std::size_t>(i)];
    const Spot& own = *result.spots[static_cast<std::size_t>(kind)][s];
    const Eigen::Matrix3d relative = lab_by_log_sharp(own.colour.xyz);
    const int from_region = region_of_spot[static_cast<std::size_t>(i)];
    if (from_region >= 0)
      result.covariance.block<3, 3>(3 * i, 3 * i) +=
          own_covariance(context, from_region, s, own.colour);
    for (Eigen::Index j = 0; j < n; ++j) {
      const auto [other_kind, t] = which[static_cast<std::size_t>(j)];
      const Eigen::Matrix3d other =
          lab_by_log_sharp(result.spots[static_cast<std::size_t>(other_kind)][t]->colour.xyz);
      // Drift of this stage at this place moves all that lies here alike.
      if (s == t && s > 0)
        result.covariance.block<3, 3>(3 * i, 3 * j) +=
            relative * context.drift[s].place * other.transpose();
      // Paper is not the same everywhere, but it is the same paper at every stage.
      if (kind == RegionColours::paper && other_kind == kind) {
        result.covariance.block<3, 3>(3 * i, 3 * j) +=
            relative * context.paper.unevenness.cwiseAbs2().asDiagonal() * other.transpose();
      }
    }
  }
  return result;
}

}  // namespace inkwane::change
