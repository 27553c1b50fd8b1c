#include "align/sides.hpp"

#include <algorithm>
#include <array>
#include <cmath>

#include <fmt/core.h>

#include <inkwane/error.hpp>

#include "align/agreement.hpp"
#include "align/features.hpp"
#include "align/showthrough.hpp"

namespace inkwane::align {
namespace {

/// Lattices for the search and for the refinement (mm): a letter's and a stroke's size.
constexpr double kSearchMm = 1.0, kRefineMm = 0.5;
/// How far show-through may lie from where the outlines put it (mm).
constexpr double kOutlineReachMm = 2;
/// Tilt that is searched through where no outline tells, and its step (degrees).
constexpr double kMostTilt = 3, kTiltStep = 0.5;
/// Robust standard deviations above which a match is no chance. Over all shifts and tilts of unlike
/// pairs the highest of many thousand places was 5.8 (own trials on real sheets and made ones).
constexpr double kEvidence = 8;
/// Where the outlines leave a few places only, chance reaches 3 (own trials); more is asked of what
/// contradicts the treatment file.
constexpr double kEvidenceAtOutline = 4, kContradiction = 5.5;
/// And the right turn must stand out from the other, and from any other place, by this factor.
constexpr double kStandOut = 1.4;
/// A single block is looked at near one place only, so that less is needed.
constexpr double kBlockEvidence = 5;
constexpr double kBlockMm = 24;
/// The blocks lie side by side at first, then overlap (mm), and are sought within less (mm).
struct RefineRound {
  double step_mm, reach_mm;
};
constexpr std::array<RefineRound, 2> kRounds{{{24, 3}, {16, 1.5}}};
/// Print against print of the two scans: beyond this they show one side (unlike prints: below 8).
constexpr double kSameSide = 25;
/// An affine map through fewer blocks than this runs off at the sheet's corners (own trials).
constexpr int kEnoughBlocks = 20;
/// Outlines of one sheet agree within this (mm), seen from both sides.
constexpr double kSameSizeMm = 3;
/// Standard uncertainty of pairing by the outline alone: edges are fuzzy, corners rounded (mm).
constexpr double kOutlinePairingMm = 0.5;
/// Show-through betters the outline if its map is known to this (mm).
constexpr double kBetterThanOutlineMm = 0.3;
/// Nothing pairs two sides better than this (mm): show-through is a blur of half a millimetre.
constexpr double kLeastPairingMm = 0.08;

constexpr std::array<Turn, 2> kTurns{Turn::side, Turn::top};

/// Cells of a lattice of `factor` cells to cells of the grid.
cv::Matx23d lattice_to_grid(int factor) {
  const double f = factor;
  return {f, 0, (f - 1) / 2, 0, f, (f - 1) / 2};
}

/// A map between grids as one between lattices.
cv::Matx23d on_lattice(const cv::Matx23d& map, int factor) {
  const cv::Matx23d up = lattice_to_grid(factor);
  return compose(inverse(up), compose(map, up));
}

int factor_for(const View& view, double mm) {
  return std::max(1, cvRound(mm / view.grid->geometry.pitch_mm));
}

/// Verso to recto: the two corners that lie on each other.
std::optional<cv::Matx23d> by_outlines(const Outline& verso, const Outline& recto, Turn turn) {
  static constexpr std::array<std::size_t, 4> kSideways{1, 0, 3, 2}, kOver{3, 2, 1, 0};
  const auto& partner = turn == Turn::side ? kSideways : kOver;
  std::vector<Match> corners;
  for (std::size_t i = 0; i < 4; ++i) {
    const Point a = verso.quad[i], b = recto.quad[partner[i]];
    corners.push_back({{a.x, a.y}, {b.x, b.y}});
  }
  return least_squares_affine(corners);
}

/// Verso to recto about the middles of the two scans, tilted.
cv::Matx23d by_middles(const grid::Geometry& verso, const grid::Geometry& recto, Turn turn,
                       double tilt) {
  const double c = std::cos(tilt * CV_PI / 180), s = std::sin(tilt * CV_PI / 180);
  const double scale = verso.pitch_mm / recto.pitch_mm;
  const double x = turn == Turn::side ? -scale : scale, y = -x;
  const cv::Point2d from((verso.columns - 1) / 2.0, (verso.rows - 1) / 2.0),
      to((recto.columns - 1) / 2.0, (recto.rows - 1) / 2.0);
  cv::Matx23d map(x * c, -x * s, 0, y * s, y * c, 0);
  map(0, 2) = to.x - map(0, 0) * from.x - map(0, 1) * from.y;
  map(1, 2) = to.y - map(1, 0) * from.x - map(1, 1) * from.y;
  return map;
}

cv::Matx23d shifted(cv::Point2d shift) {
  return {1, 0, shift.x, 0, 1, shift.y};
}

struct Evidence {
  cv::Matx23d map;  ///< verso's grid to recto's grid
  double z = 0;
  bool stands_out = false;
};

/// Looks for show-through about a map (verso's grid to recto's), within `reach_mm` (0: anywhere).
Evidence look(const Face& verso, const Face& recto, const cv::Matx23d& map, int factor,
              double pitch_mm, double reach_mm) {
  const cv::Matx23d start = on_lattice(map, factor);
  // Anywhere: the recto's lattice must be there as a whole, moved so that it begins at its corner.
  const cv::Size size = reach_mm > 0 ? verso.print.value.size() : recto.print.value.size();
  cv::Point2d offset;
  if (reach_mm <= 0) {
    const cv::Point2d middle((recto.print.value.cols - 1) / 2.0,
                             (recto.print.value.rows - 1) / 2.0);
    offset = apply(inverse(start), middle) - middle;
  }
  const cv::Matx23d canvas = compose(start, shifted(offset));
  const Correlation found = correlate(verso, recto.pulled(canvas, size), 0.3);
  const int reach = cvRound(reach_mm / pitch_mm / factor);
  const Peak peak = find_peak(
      found, reach_mm > 0 ? cv::Rect(-reach, -reach, 2 * reach + 1, 2 * reach + 1) : cv::Rect(),
      5 / kSearchMm);
  const cv::Matx23d best = compose(canvas, shifted(peak.shift));
  const cv::Matx23d up = lattice_to_grid(factor);
  return {compose(up, compose(best, inverse(up))), peak.z, peak.z > kStandOut * peak.runner_up};
}

struct Refined {
  cv::Matx23d map;
  double sigma_mm = 0;  ///< of a block, along one axis
  int blocks = 0;
};

/// Blocks of the sheet that find their own place, and the affine map through them.
Refined refine_pairing(const View& verso, const View& recto, cv::Matx23d map) {
  const int factor = factor_for(verso, kRefineMm);
  const double pitch = verso.grid->geometry.pitch_mm * factor;
  const Face here = make_face(verso, factor, kWriting), there = make_face(recto, factor, kWriting);
  const int side = cvRound(kBlockMm / pitch);
  const cv::Rect frame({}, here.print.value.size());
  const cv::Matx23d up = lattice_to_grid(factor);
  Refined result{map, 0, 0};
  for (const auto& [step_mm, reach_mm] : kRounds) {
    const Face pulled = there.pulled(on_lattice(result.map, factor), frame.size());
    const int reach = std::max(2, cvRound(reach_mm / pitch)), step = cvRound(step_mm / pitch);
    std::vector<cv::Rect> blocks;
    for (int row = 0; row + side / 2 < frame.height; row += step) {
      for (int column = 0; column + side / 2 < frame.width; column += step) {
        const cv::Rect block = cv::Rect(column, row, side, side) & frame;
        if (4 * cv::countNonZero(here.print.weight(block)) > block.area()) blocks.push_back(block);
      }
    }
    std::vector<Peak> peaks(blocks.size());
    cv::parallel_for_({0, static_cast<int>(blocks.size())}, [&](const cv::Range& some) {
      for (int i = some.start; i < some.end; ++i) {
        const auto n = static_cast<std::size_t>(i);
        peaks[n] = find_peak(correlate(here.part(blocks[n]), pulled.part(blocks[n]), 0.3),
                             {-reach, -reach, 2 * reach + 1, 2 * reach + 1}, reach);
      }
    });
    std::vector<Match> found;
    for (std::size_t i = 0; i < blocks.size(); ++i) {
      const cv::Point2d shift = peaks[i].shift;
      // At the rim of the window the slope of something further off is seen, not a place.
      if (peaks[i].z < kBlockEvidence || std::max(std::abs(shift.x), std::abs(shift.y)) > reach - 1)
        continue;
      const cv::Rect& block = blocks[i];
      const cv::Point2d middle(block.x + (block.width - 1) / 2.0,
                               block.y + (block.height - 1) / 2.0);
      found.push_back({apply(up, middle), apply(result.map, apply(up, middle + shift))});
    }
    // Affine through most: the far ones go, twice.
    for (int round = 0; round < 3 && found.size() >= 6; ++round) {
      const auto affine = least_squares_affine(found);
      if (!affine) break;
      std::vector<double> off;
      for (const Match& match : found)
        off.push_back(cv::norm(apply(*affine, match.first) - match.second));
      result.map = *affine;
      result.blocks = static_cast<int>(found.size());
      // Median length of a two-dimensional normal deviate is 1.1774 of its standard deviation.
      const double sigma = quantile(off, 0.5) / 1.1774;
      result.sigma_mm = sigma * recto.grid->geometry.pitch_mm;
      std::vector<Match> near;
      for (std::size_t i = 0; i < found.size(); ++i) {
        if (off[i] <= 3.5 * sigma + 0.5) near.push_back(found[i]);
      }
      if (near.size() == found.size()) break;
      found = std::move(near);
    }
  }
  return result;
}

cv::Mat map_of(const cv::Matx23d& map, cv::Size size) {
  cv::Mat cells(size, CV_32FC2);
  for (int row = 0; row < size.height; ++row) {
    for (int column = 0; column < size.width; ++column) {
      const cv::Point2d p = apply(map, cv::Point2d(column, row));
      cells.at<cv::Vec2f>(row, column) = {static_cast<float>(p.x), static_cast<float>(p.y)};
    }
  }
  return cells;
}

Pairing pair(const View& recto, const View& verso, Turn turn) {
  Pairing pairing;
  const Outline& front = *recto.outline;
  const Outline& back = *verso.outline;
  const bool outlines =
      !front.whole_frame && !back.whole_frame && front.quad.size() == 4 && back.quad.size() == 4;
  const double off_mm = std::max(std::abs(front.width_mm - back.width_mm),
                                 std::abs(front.height_mm - back.height_mm));
  const bool same_size = outlines && off_mm <= kSameSizeMm;

  const double pitch_mm = verso.grid->geometry.pitch_mm;
  const int factor = factor_for(verso, kSearchMm);
  const Face here = make_face(verso, factor, kWriting), there = make_face(recto, factor, kWriting);

  Face verso_solids, recto_solids;
  if (same_size) {
    verso_solids = make_face(verso, factor, kSolids);
    recto_solids = make_face(recto, factor, kSolids);
  }
  std::array<Evidence, 2> evidence;
  for (std::size_t i = 0; i < 2; ++i) {
    if (same_size) {
      const auto start = by_outlines(back, front, kTurns[i]);
      if (!start) continue;
      const Evidence writing = look(here, there, *start, factor, pitch_mm, kOutlineReachMm);
      const Evidence solids =
          look(verso_solids, recto_solids, *start, factor, pitch_mm, kOutlineReachMm);
      evidence[i] = writing.z > solids.z ? writing : solids;
    } else {
      const int steps = cvRound(2 * kMostTilt / kTiltStep) + 1;
      std::vector<Evidence> found(static_cast<std::size_t>(steps));
      cv::parallel_for_({0, steps}, [&](const cv::Range& some) {
        for (int k = some.start; k < some.end; ++k) {
          const auto start = by_middles(verso.grid->geometry, recto.grid->geometry, kTurns[i],
                                        -kMostTilt + k * kTiltStep);
          found[static_cast<std::size_t>(k)] = look(here, there, start, factor, pitch_mm, 0);
        }
      });
      for (const Evidence& one : found) {
        if (one.z > evidence[i].z) evidence[i] = one;
      }
    }
  }
  const std::size_t best = evidence[0].z >= evidence[1].z ? 0 : 1;
  const double asked = !same_size             ? kEvidence
                       : kTurns[best] == turn ? kEvidenceAtOutline
                                              : kContradiction;
  const bool seen = evidence[best].z >= asked &&
                    evidence[best].z >= kStandOut * evidence[1 - best].z &&
                    (same_size || evidence[best].stands_out);

  const Peak same = find_peak(correlate_prints(here, there, 0.3), {}, 5 / kSearchMm);
  if (same.z > kSameSide && same.z > 2 * evidence[best].z) {
    pairing.warnings.push_back(
        fmt::format("{}: shows the same side as {}, not the other one; the sides are not paired "
                    "and no bleed-through is attributed.",
                    verso.file, recto.file));
    return pairing;
  }

  std::optional<cv::Matx23d> map;
  if (seen) {
    pairing.turn_seen = kTurns[best];
    const auto outline = same_size ? by_outlines(back, front, kTurns[best]) : std::nullopt;
    const Refined refined = refine_pairing(verso, recto, outline.value_or(evidence[best].map));
    // Three pairs of parameters are fitted; the blur of show-through remains.
    const double known_mm = std::hypot(
        refined.sigma_mm * std::sqrt(3.0 / std::max(refined.blocks, 1)), kLeastPairingMm);
    if (refined.blocks >= kEnoughBlocks && (!outline || known_mm < kBetterThanOutlineMm)) {
      map = refined.map;
      pairing.pairing_mm = std::hypot(refined.sigma_mm, kLeastPairingMm);
    } else if (outline) {
      map = outline;
      pairing.pairing_mm = std::hypot(kOutlinePairingMm, off_mm / 2);
    } else {
      map = evidence[best].map;
      pairing.pairing_mm = kSearchMm / 2;
    }
    if (kTurns[best] != turn) {
      pairing.warnings.push_back(
          fmt::format("{}: what shows through tells that the sheet was turned {}, not {} as the "
                      "treatment file says; the sides are paired as seen.",
                      verso.file, to_string(kTurns[best]), to_string(turn)));
    }
  } else if (same_size) {
    map = by_outlines(back, front, turn);
    pairing.pairing_mm = std::hypot(kOutlinePairingMm, off_mm / 2);
    pairing.warnings.push_back(
        fmt::format("{}: paired with {} by the sheet's outline alone, turned {}: too little shows "
                    "through to check it.",
                    verso.file, recto.file, to_string(turn)));
  } else if (outlines) {
    pairing.warnings.push_back(fmt::format(
        "{}: not paired with {}: the outlines differ by {:.1f} mm and nothing shows through that "
        "would tell; no bleed-through is attributed. Check that both are the same sheet.",
        verso.file, recto.file, off_mm));
  } else {
    pairing.warnings.push_back(
        fmt::format("{}: not paired with {}: neither an outline nor anything showing through tells "
                    "where the two sides lie on each other; no bleed-through is attributed.",
                    verso.file, recto.file));
  }
  if (map) pairing.to_recto = map_of(*map, verso.grid->geometry.size());
  return pairing;
}

}  // namespace

Pairing pair_sides(const View& recto, const View& verso, Turn turn) {
  try {
    return pair(recto, verso, turn);
  } catch (const cv::Exception& e) {
    throw Error(
        ExitCode::scan,
        fmt::format(
            "{}: could not be paired with {} ({}); check that both are whole scans of the sheet.",
            verso.file, recto.file, e.err));
  }
}

}  // namespace inkwane::align
