#include "vet/stages.hpp"

#include <algorithm>
#include <cmath>

#include <Eigen/Dense>
#include <fmt/format.h>
#include <fmt/ranges.h>

#include <inkwane/error.hpp>

#include "vet/target.hpp"

namespace inkwane::vet {
namespace {

// Limits are common practice, no source.
constexpr double kDriftNote = 1, kDriftRefused = 8;  // L*, or a* b*
constexpr double kPatchOff = 3;                      // ΔE00, left out
constexpr double kAgainstOthers = 3;                 // times the median of all patches
constexpr double kSameWay = 0.9;                     // length of the mean of unit vectors
constexpr double kStretched = 0.005;                 // rescans of a dry sheet agree to 0.1 %
constexpr double kUneven = 0.002;   // between x and y: paper, not the scan's resolution
constexpr double kCockledMm = 0.2;  // rms

LabD50 read_by(const target::TargetReadings& scan, std::size_t patch) {
  const Eigen::Vector3d xyz = scan.linearisation.to_xyz() * scan.patches[patch].linear;
  return to_lab({xyz[0], xyz[1], xyz[2]});
}

bool sound(const target::PatchReading& reading) {
  return reading.usable && reading.clipped <= kClippedShare;
}

std::string percent(double stretch) {
  return fmt::format("{:+.1f} %", 100 * (stretch - 1));
}

/// rms distance of a warp from the affine map that is nearest to it, mm.
double unevenness_mm(const align::Warp& warp, double pitch_mm) {
  const int step = std::max(1, static_cast<int>(2 / pitch_mm));
  std::vector<cv::Point> cells;
  for (int y = step / 2; y < warp.valid.rows; y += step) {
    for (int x = step / 2; x < warp.valid.cols; x += step) {
      if (warp.valid.at<std::uint8_t>(y, x) != 0) cells.emplace_back(x, y);
    }
  }
  if (cells.size() < 20) return 0;
  const auto n = static_cast<Eigen::Index>(cells.size());
  Eigen::MatrixXd here(n, 3), there(n, 2);
  for (Eigen::Index i = 0; i < n; ++i) {
    const cv::Point cell = cells[static_cast<std::size_t>(i)];
    const auto& to = warp.to_later.at<cv::Vec2f>(cell);
    here.row(i) << 1, cell.x, cell.y;
    there.row(i) << static_cast<double>(to[0]), static_cast<double>(to[1]);
  }
  const Eigen::MatrixXd map = (here.transpose() * here).ldlt().solve(here.transpose() * there);
  return pitch_mm * std::sqrt((there - here * map).squaredNorm() / static_cast<double>(n));
}

}  // namespace

std::optional<NeutralDrift> neutral_drift(const target::Reference& reference,
                                          const target::TargetReadings& first,
                                          const target::TargetReadings& later) {
  Eigen::Vector3d moved = Eigen::Vector3d::Zero();
  int greys = 0;
  for (std::size_t i = 0; i < reference.patches.size(); ++i) {
    if (chroma(reference.patches[i].lab) >= kNeutral) continue;
    if (!sound(first.patches[i]) || !sound(later.patches[i])) continue;
    const LabD50 before = read_by(first, i), after = read_by(later, i);
    moved += Eigen::Vector3d(after.L - before.L, after.a - before.a, after.b - before.b);
    ++greys;
  }
  if (greys == 0) return std::nullopt;
  moved /= greys;
  return NeutralDrift{std::abs(moved[0]), std::hypot(moved[1], moved[2])};
}

Findings judge_drift(const NeutralDrift& drift, const Between& scans) {
  const std::string what =
      fmt::format("the target's greys moved by ΔL* {:.1f} and Δ(a*b*) {:.1f} since {}", drift.dL,
                  drift.dab, scans.first_stage);
  if (drift.largest() > kDriftRefused) {
    throw Error(ExitCode::scan,
                fmt::format("{}: {}, more than {:.0f}: lamp, exposure or settings are not those of "
                            "that scan; scan stage {} again with the same settings, automatics "
                            "off and the lamp warm.",
                            scans.later_file, what, kDriftRefused, scans.later_stage));
  }
  if (drift.largest() <= kDriftNote) return {};
  return {{Verdict::note,
           what + ": lamp, white balance or exposure drifted; the fit to the target corrects it, "
                  "and what it leaves, as the target shows it, is in the intervals",
           "let the lamp warm up and keep all settings"}};
}

Findings judge_profiles(const Profile& first, const Profile& later, const Between& scans) {
  if (*first.icc == *later.icc) return {};
  const auto named = [](const Profile& profile) {
    return profile.icc->empty()
               ? std::string("none")
               : fmt::format("{}, SHA-256 {}…", profile.name, profile.sha256.substr(0, 8));
  };
  const char* what = later.icc->empty()   ? "its colour profile was stripped"
                     : first.icc->empty() ? "a colour profile was added"
                                          : "its colour profile is another";
  return {{Verdict::note,
           fmt::format("{} ({}; at {}: {})", what, named(later), scans.first_stage, named(first)),
           "scan every stage with the same settings and keep the profile when saving"}};
}

Findings patches_off(const target::Reference& reference, std::span<const target::Fit* const> fits) {
  if (fits.size() < 2) return {};
  std::vector<std::string> off;
  for (std::size_t i = 0; i < reference.patches.size(); ++i) {
    const LabD50& wanted = reference.patches[i].lab;
    Eigen::Vector3d way = Eigen::Vector3d::Zero();
    bool always = true;
    for (const target::Fit* fit : fits) {
      const LabD50& lab = fit->fitted[i];
      way += Eigen::Vector3d(lab.L - wanted.L, lab.a - wanted.a, lab.b - wanted.b).normalized();
      always = always && fit->left_out_dE00[i] > kPatchOff &&
               fit->left_out_dE00[i] > kAgainstOthers * fit->left_out_median;
    }
    if (always && way.norm() > kSameWay * static_cast<double>(fits.size()))
      off.push_back(reference.patches[i].id);
  }
  if (off.empty()) return {};
  return {{Verdict::note,
           fmt::format("patch {} of the target is off its reference in every scan, always the same "
                       "way: it is soiled or faded, or the reference is another edition's",
                       fmt::join(off, ", ")),
           "clean the target, or have this very target measured"}};
}

Findings judge_shape(const align::Warp& warp, double pitch_mm, const Between& scans) {
  Findings out;
  const double x = warp.stretch_x, y = warp.stretch_y;
  if (std::max(std::abs(x - 1), std::abs(y - 1)) > kStretched) {
    const bool uneven = std::abs(x - y) > kUneven;
    out.push_back(
        {Verdict::note,
         fmt::format("the sheet measures {} across and {} along against {}: {}", percent(x),
                     percent(y), scans.first_stage,
                     uneven ? "paper that took up or gave off water" : "another size throughout"),
         uneven ? "let it dry and rest, and scan it again" : "check the scans' resolution"});
  }
  const double cockle = unevenness_mm(warp, pitch_mm);
  if (cockle > kCockledMm) {
    out.push_back({Verdict::note,
                   fmt::format("the sheet lies otherwise than at {}, by {:.2f} mm from place to "
                               "place: it is cockled, and its relief shades it",
                               scans.first_stage, cockle),
                   "flatten it and scan it again under even pressure"});
  }
  return out;
}

}  // namespace inkwane::vet
