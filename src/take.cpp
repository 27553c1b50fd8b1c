#include "take.hpp"

#include <algorithm>
#include <atomic>
#include <cmath>
#include <exception>
#include <functional>
#include <map>
#include <mutex>
#include <thread>

#include <fmt/format.h>

#include <inkwane/error.hpp>

#include "target/find.hpp"
#include "target/reference.hpp"

namespace inkwane {
namespace {

// Assumed where neither the file nor the treatment tells (docs/formats.md, "Pixels").
constexpr double kAssumedDpi = 300;
// Sheet sizes in the file and by the scan's resolution that differ by more are worth a word.
constexpr double kSizeTolerance = 0.05;

results::Target record_target(const target::Located& located, const target::Reference& reference,
                              const target::Fit& fit) {
  results::Target out;
  out.corners_px = located.corners;
  out.model = fit.colour.model();
  for (std::size_t i = 0; i < reference.patches.size(); ++i) {
    out.patches.push_back(
        {reference.patches[i].id, reference.patches[i].lab, fit.fitted[i], fit.left_out_dE00[i]});
  }
  out.left_out_dE00_median = fit.left_out_median;
  out.left_out_dE00_p95 = fit.left_out_p95;
  out.left_out_dE00_max = fit.left_out_max;
  return out;
}

void append(std::vector<std::string>& to, const std::vector<std::string>& from) {
  to.insert(to.end(), from.begin(), from.end());
}

/// Takes in one scan of a treatment: read_target(), then calibrate() with the fit, then average().
class Intake {
 public:
  Intake(const Treatment& treatment, const std::optional<target::Reference>& reference,
         const Stage& stage, Side side)
      : treatment_(treatment),
        reference_(reference),
        scan_(scan::Scan::open(stage.scans.at(side))) {
    taken_.stage = &stage;
    taken_.side = side;
    taken_.info = scan_.info();
    append(taken_.warnings, taken_.info.warnings);
    readings_.file = taken_.file();
    readings_.linearisation = colour::Linearisation::from_profile(taken_.info.icc, taken_.file());
    taken_.profile = readings_.linearisation.description();
  }

  /// Finds the target, if one was asked for, and reads its patches.
  void read_target() {
    if (!reference_) return;
    const auto& given = treatment_.target->corners;
    const auto corners = given.find({taken_.stage->id, taken_.side});
    located_ = corners == given.end()
                   ? target::find_target(scan_, *reference_)
                   : target::locate_from_corners(scan_, *reference_, corners->second);
    readings_.patches = target::read_patches(scan_, readings_.linearisation, located_);
    append(taken_.warnings, located_.warnings);
  }
  [[nodiscard]] const target::TargetReadings& readings() const { return readings_; }

  void calibrate(target::Fit fit) {
    taken_.fit = std::move(fit);
    taken_.point_spread = target::measure_point_spread(scan_, taken_.fit.colour, located_);
    taken_.target = record_target(located_, *reference_, taken_.fit);
    append(taken_.warnings, taken_.fit.warnings);
    if (taken_.fit.doubtful) {
      taken_.doubts.push_back(fmt::format(
          "the target fits badly (median left-out error of CIEDE2000 {:.1f}); check that the "
          "reference file belongs to this target, and that it is clean.",
          taken_.fit.left_out_median));
    }
  }
  void leave_uncalibrated() {
    taken_.fit.colour = target::ScanColour::uncalibrated(readings_.linearisation);
  }

  /// Averages the scan onto its grid and finds the sheet.
  void average() {
    const auto& resolution = taken_.info.resolution_dpi;
    grid_at(resolution.value_or(kAssumedDpi));
    const auto measured = size_ratio();
    if (!resolution && measured) {
      // What was taken for 300 dpi shows the sheet `measured` times its true size.
      grid_at(kAssumedDpi * *measured);
      taken_.doubts.push_back(
          fmt::format("the scan carries no resolution; {:.0f} dpi follow from the sheet's size in "
                      "the treatment "
                      "file.",
                      taken_.resolution_dpi));
    } else if (!resolution) {
      taken_.doubts.push_back(
          "the scan carries no resolution and the treatment no size of the sheet, so 300 dpi are "
          "assumed; lengths and areas may be wrong.");
    } else if (measured && std::abs(*measured - 1) > kSizeTolerance) {
      taken_.warnings.push_back(fmt::format(
          "The sheet measures {:.0f} × {:.0f} mm in the scan, {:+.0f} % against the size in the "
          "treatment file; check that size and the scan's resolution.",
          taken_.outline.width_mm, taken_.outline.height_mm, 100 * (*measured - 1)));
    }
    append(taken_.warnings, taken_.outline.warnings);
  }
  Taken take() {
    taken_.scan = std::move(scan_);
    return std::move(taken_);
  }

 private:
  void grid_at(double dpi) {
    taken_.resolution_dpi = dpi;
    const auto geometry = grid::make_geometry(taken_.info.width_px, taken_.info.height_px, dpi,
                                              treatment_.measure.grid_mm);
    taken_.grid = grid::make_grid(scan_, taken_.fit.colour, geometry,
                                  treatment_.measure.aperture_mm, located_.card);
    const auto& given = taken_.stage->outlines;
    const auto corners = given.find(taken_.side);
    taken_.outline = corners == given.end()
                         ? align::find_outline(taken_.grid, taken_.file())
                         : align::outline_from_corners(taken_.grid, corners->second, taken_.file());
  }

  /// The sheet's size in the scan against the treatment file's, where it gives one.
  [[nodiscard]] std::optional<double> size_ratio() const {
    double sum = 0;
    int count = 0;
    const auto& object = treatment_.object;
    if (object.width_mm) sum += taken_.outline.width_mm / *object.width_mm, ++count;
    if (object.height_mm) sum += taken_.outline.height_mm / *object.height_mm, ++count;
    return count == 0 ? std::nullopt : std::optional(sum / count);
  }

  const Treatment& treatment_;
  const std::optional<target::Reference>& reference_;
  scan::Scan scan_;
  target::Located located_;
  target::TargetReadings readings_;
  Taken taken_;
};

/// One scanner at one resolution blurs alike in every scan, so all its targets tell it together.
void pool_point_spread(std::vector<Taken>& scans) {
  std::map<double, std::vector<target::PointSpread>> by_resolution;
  for (const Taken& scan : scans) {
    if (scan.point_spread) by_resolution[scan.resolution_dpi].push_back(*scan.point_spread);
  }
  for (Taken& scan : scans) {
    if (!scan.point_spread) continue;
    const double overshoot = scan.point_spread->overshoot;
    scan.point_spread = target::pooled(by_resolution.at(scan.resolution_dpi));
    scan.point_spread->overshoot = overshoot;  // sharpening may be switched on for one of them
  }
}

/// Between stages one scanner should have one profile.
void compare_profiles(std::vector<Taken>& scans) {
  for (Taken& later : scans) {
    for (const Taken& first : scans) {
      if (first.side != later.side) continue;
      if (&first != &later && first.info.icc != later.info.icc) {
        later.warnings.push_back(
            fmt::format("Its colour profile ({}) is not that of {} ({}); scan every stage with the "
                        "same settings.",
                        later.profile, first.stage->id, first.profile));
      }
      break;
    }
  }
}

/// Does `work(i)` for i from 0 to `count` on several threads; throws what the lowest i threw.
void for_each(std::size_t count, int threads, const std::function<void(std::size_t)>& work) {
  std::vector<std::exception_ptr> errors(count);
  std::atomic<std::size_t> next = 0;
  std::atomic<bool> failed = false;
  const auto take_turns = [&] {
    // Work below a failing i has begun before it, so the lowest error is always met.
    for (std::size_t i = next++; i < count && !failed; i = next++) {
      try {
        work(i);
      } catch (...) {
        errors[i] = std::current_exception();
        failed = true;
      }
    }
  };
  {
    std::vector<std::jthread> workers;
    for (int i = 1; i < threads; ++i) workers.emplace_back(take_turns);
    take_turns();
  }
  for (const std::exception_ptr& error : errors) {
    if (error) std::rethrow_exception(error);
  }
}

/// One model for all scans: a change of model between stages would look like a change of colour.
void calibrate(const target::Reference& reference, std::vector<std::optional<Intake>>& intakes) {
  std::vector<target::TargetReadings> readings;
  for (const auto& intake : intakes) readings.push_back(intake->readings());
  std::vector<target::Fit> fits = target::fit_targets(reference, readings);
  for (std::size_t i = 0; i < intakes.size(); ++i) intakes[i]->calibrate(std::move(fits[i]));
}

}  // namespace

std::vector<Taken> take_scans(const Treatment& treatment, int threads,
                              const std::function<void(double)>& progress) {
  std::optional<target::Reference> reference;
  if (treatment.target) {
    reference = target::read_reference(treatment.target->reference, treatment.target->rows,
                                       treatment.target->columns);
  }
  std::vector<std::pair<const Stage*, Side>> wanted;
  for (const Stage& stage : treatment.stages) {
    for (const auto& [side, file] : stage.scans) wanted.emplace_back(&stage, side);
  }
  std::mutex mutex;
  std::size_t steps = 0;
  const auto step = [&] {
    const std::lock_guard lock(mutex);
    progress(static_cast<double>(++steps) / static_cast<double>(2 * wanted.size()));
  };

  std::vector<std::optional<Intake>> intakes(wanted.size());
  for_each(wanted.size(), threads, [&](std::size_t i) {
    intakes[i].emplace(treatment, reference, *wanted[i].first, wanted[i].second);
    intakes[i]->read_target();
    step();
  });
  if (reference) {
    calibrate(*reference, intakes);
  } else {
    for (auto& intake : intakes) intake->leave_uncalibrated();
  }
  std::vector<Taken> scans(wanted.size());
  for_each(wanted.size(), threads, [&](std::size_t i) {
    intakes[i]->average();
    scans[i] = intakes[i]->take();
    intakes[i].reset();
    step();
  });
  pool_point_spread(scans);
  compare_profiles(scans);
  return scans;
}

}  // namespace inkwane
