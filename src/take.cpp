#include "take.hpp"

#include <algorithm>
#include <array>
#include <atomic>
#include <cmath>
#include <exception>
#include <functional>
#include <map>
#include <mutex>
#include <thread>
#include <tuple>

#include <fmt/format.h>

#include <inkwane/error.hpp>

#include "scan/hash.hpp"
#include "scanner/scanner.hpp"
#include "target/find.hpp"
#include "target/reference.hpp"
#include "target/stray_light.hpp"
#include "vet/stages.hpp"
#include "vet/target.hpp"

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

/// One scan that the treatment names.
struct Wanted {
  const Stage* stage;
  Side side;
  int repeat;
  std::filesystem::path file;
};

/// Scans of [measure] repeat belong to no stage.
const Stage& no_stage() {
  static const Stage stage = [] {
    Stage made;
    made.id = "repeat";
    return made;
  }();
  return stage;
}

std::vector<Wanted> all_scans(const Treatment& treatment) {
  std::vector<Wanted> out;
  for (const Stage& stage : treatment.stages) {
    for (const auto& [side, file] : stage.scans) {
      const auto more = stage.repeats.find(side);
      int repeat = more == stage.repeats.end() ? 0 : 1;
      out.push_back({&stage, side, repeat, file});
      if (repeat == 0) continue;
      for (const auto& again : more->second) out.push_back({&stage, side, ++repeat, again});
    }
  }
  int repeat = 0;
  for (const auto& file : treatment.measure.repeat)
    out.push_back({&no_stage(), Side::recto, ++repeat, file});
  return out;
}

/// Takes in one scan of a treatment: read_target(), then correct() for stray light, then
/// calibrate() with the fit, then average().
class Intake {
 public:
  Intake(const Treatment& treatment, const std::optional<target::Reference>& reference,
         const Wanted& wanted)
      : treatment_(treatment), reference_(reference), scan_(scan::Scan::open(wanted.file)) {
    taken_.stage = wanted.stage;
    taken_.side = wanted.side;
    taken_.repeat = wanted.repeat;
    taken_.info = scan_.info();
    append(taken_.warnings, taken_.info.warnings);
    readings_.file = taken_.file();
    readings_.linearisation = colour::Linearisation::from_profile(taken_.info.icc, taken_.file());
    taken_.profile = readings_.linearisation.description();
    if (!taken_.info.icc.empty()) taken_.profile_sha256 = scan::sha256_of(taken_.info.icc);
  }

  /// Finds the target, if one was asked for, and reads its patches.
  void read_target() {
    if (!reference_) return;
    const auto& given = treatment_.target->corners;
    const auto corners = given.find({taken_.stage->id, taken_.side});
    located_ = corners == given.end() || taken_.repeat > 1
                   ? target::find_target(scan_, *reference_)
                   : target::locate_from_corners(scan_, *reference_, corners->second);
    readings_.patches = target::read_patches(scan_, readings_.linearisation, located_);
    append(taken_.warnings, located_.warnings);
    const scanner::CoarseLight light = target::survey_light(
        located_, readings_.linearisation, taken_.info.resolution_dpi.value_or(kAssumedDpi));
    located_.survey.encoded.release();
    seen_ = scanner::coarse_light(light);
    if (!treatment_.measure.scanner) paper_ = scanner::look_at_paper(light, located_.card);
  }
  [[nodiscard]] target::TargetView view() const { return {&readings_, &located_, &seen_, &paper_}; }
  [[nodiscard]] const target::TargetReadings& readings() const { return readings_; }
  [[nodiscard]] const Taken& taken() const { return taken_; }

  /// Judges the drift of the target's greys since another scan of this side.
  void check_drift(const Intake& first) {
    auto drift = vet::neutral_drift(*reference_, first.readings_, readings_);
    if (first.taken_.info.icc != taken_.info.icc) {
      // A profile that was stripped or exchanged moves what it claims, not what was scanned.
      target::TargetReadings by_first = readings_;
      by_first.linearisation = first.readings_.linearisation;
      by_first.patches = target::read_patches(scan_, by_first.linearisation, located_);
      const auto other = vet::neutral_drift(*reference_, first.readings_, by_first);
      if (drift && other && other->largest() < drift->largest()) drift = other;
    }
    if (!drift) return;
    vet::warn(vet::judge_drift(*drift, {first.taken_.stage->id, taken_.stage->id, taken_.file()}),
              taken_.warnings, taken_.doubts);
  }

  void correct(const scanner::StrayLightEstimate& stray_light) {
    stray_light_ = stray_light;
    if (reference_) target::correct(readings_, scanner::Correction(seen_, stray_light), located_);
  }

  void calibrate(target::Fit fit) {
    taken_.fit = std::move(fit);
    taken_.point_spread = target::measure_point_spread(scan_, taken_.fit.colour, located_);
    taken_.target = record_target(located_, *reference_, taken_.fit);
    vet::warn(vet::judge_target(*reference_, readings_.patches, taken_.fit, taken_.point_spread),
              taken_.warnings, taken_.doubts);
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
                                  treatment_.measure.aperture_mm, located_.card, stray_light_);
    const auto& given = taken_.stage->outlines;
    const auto corners = given.find(taken_.side);
    taken_.outline = corners == given.end() || taken_.repeat > 1
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
  scanner::CoarseLight seen_;
  scanner::PaperEvidence paper_;
  scanner::StrayLightEstimate stray_light_;
  Taken taken_;
};

/// The card's point spread in pixels; none at another resolution, where the sensor may sample
/// otherwise.
std::optional<target::PointSpread> of_card(const scanner::PointSpread& card, double card_dpi,
                                           double dpi) {
  constexpr double kSameResolution = 0.02, kMmPerInch = 25.4;
  if (std::abs(card_dpi / dpi - 1) > kSameResolution) return std::nullopt;
  const double px_per_mm = dpi / kMmPerInch;
  return target::PointSpread{{card.x_mm * px_per_mm, card.y_mm * px_per_mm},
                             std::max(card.u_x_mm, card.u_y_mm) * px_per_mm,
                             0};
}

/// Of two that were told from edges of different prints. A print's own edges only widen it, so
/// where they differ the narrower is nearer the truth.
target::PointSpread narrower(const target::PointSpread& one, const target::PointSpread& other) {
  target::PointSpread both = target::pooled(std::array{one, other});
  const double u = std::hypot(one.u_sigma_px, other.u_sigma_px);
  for (std::size_t axis = 0; axis < 2; ++axis) {
    if (std::abs(one.sigma_px[axis] - other.sigma_px[axis]) > 2 * u)
      both.sigma_px[axis] = std::min(one.sigma_px[axis], other.sigma_px[axis]);
  }
  return both;
}

/// One scanner at one resolution blurs alike in every scan, so all its targets and its card tell it
/// together.
void pool_point_spread(const std::optional<scanner::Scanner>& measured, std::vector<Taken>& scans) {
  std::map<double, std::vector<target::PointSpread>> by_resolution;
  for (const Taken& scan : scans) {
    if (scan.point_spread) by_resolution[scan.resolution_dpi].push_back(*scan.point_spread);
  }
  for (Taken& scan : scans) {
    const auto card =
        measured ? of_card(measured->point_spread, measured->resolution_dpi, scan.resolution_dpi)
                 : std::nullopt;
    if (!scan.point_spread) {
      scan.point_spread = card;
      continue;
    }
    const double overshoot = scan.point_spread->overshoot;
    const target::PointSpread targets = target::pooled(by_resolution.at(scan.resolution_dpi));
    scan.point_spread = card ? narrower(targets, *card) : targets;
    scan.point_spread->overshoot = overshoot;  // sharpening may be switched on for one of them
  }
}

/// Between stages one scanner should have one profile.
void compare_profiles(std::vector<Taken>& scans) {
  const auto profile = [](const Taken& taken) {
    return vet::Profile{&taken.info.icc, taken.profile, taken.profile_sha256};
  };
  for (Taken& later : scans) {
    const auto first = std::find_if(scans.begin(), scans.end(), [&later](const Taken& scan) {
      return scan.side == later.side;
    });
    vet::warn(vet::judge_profiles(profile(*first), profile(later),
                                  {first->stage->id, later.stage->id, later.file()}),
              later.warnings, later.doubts);
  }
}

/// The target's greys of each scan against those of the first scan of its side.
void check_drift(std::vector<std::optional<Intake>>& intakes) {
  for (auto& later : intakes) {
    const auto first = std::find_if(intakes.begin(), intakes.end(), [&later](const auto& intake) {
      return intake->taken().side == later->taken().side;
    });
    if (&*first != &later && later->taken().stage != &no_stage()) later->check_drift(**first);
  }
}

/// The card tells of scans that were made as it was.
void compare_with_card(const scanner::Scanner& measured, std::vector<Taken>& scans) {
  for (Taken& scan : scans) {
    if (scan.profile == measured.profile) continue;
    scan.warnings.push_back(fmt::format(
        "Its colour profile ({}) is not that of the scanner's card ({}), so stray light may be "
        "taken off wrongly; scan the card with the same settings.",
        scan.profile, measured.profile));
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

/// Stray light of the scanner, by its card, by its scans, or unknown; and its record.
std::pair<scanner::StrayLightEstimate, results::StrayLight> stray_light_of(
    const std::optional<scanner::Scanner>& measured,
    const std::optional<target::Reference>& reference,
    const std::vector<std::optional<Intake>>& intakes) {
  using Source = results::StrayLight::Source;
  target::StrayLightTold told;
  results::StrayLight record;
  if (measured) {
    told.estimate = measured->stray_light;
    record.source = Source::card;
  } else if (reference) {
    std::vector<target::TargetView> views;
    for (const auto& intake : intakes) views.push_back(intake->view());
    told = target::tell_stray_light(*reference, views);
    record.source = told.significant ? Source::scans : Source::none;
  } else {
    told.estimate = {{0, scanner::kTypical.length_mm}, scanner::kTypical.kappa, 0, 0};
  }
  record.kappa = told.estimate.value.kappa;
  record.u_kappa = told.estimate.u_kappa;
  record.length_mm = told.estimate.value.length_mm;
  record.u_length_mm = told.estimate.u_length_mm;
  return {told.estimate, record};
}

/// One model for all scans: a change of model between stages would look like a change of colour.
void calibrate(const target::Reference& reference, std::vector<std::optional<Intake>>& intakes) {
  std::vector<target::TargetReadings> readings;
  for (const auto& intake : intakes) readings.push_back(intake->readings());
  std::vector<target::Fit> fits = target::fit_targets(reference, readings);
  for (std::size_t i = 0; i < intakes.size(); ++i) intakes[i]->calibrate(std::move(fits[i]));
}

}  // namespace

TakenScans take_scans(const Treatment& treatment, int threads,
                      const std::function<void(double)>& progress) {
  std::optional<scanner::Scanner> measured;
  if (treatment.measure.scanner) measured = scanner::read_scanner(*treatment.measure.scanner);
  std::optional<target::Reference> reference;
  if (treatment.target) {
    reference = target::read_reference(treatment.target->reference, treatment.target->rows,
                                       treatment.target->columns);
  }
  const std::vector<Wanted> wanted = all_scans(treatment);
  std::mutex mutex;
  std::size_t steps = 0;
  const auto step = [&] {
    const std::lock_guard lock(mutex);
    progress(static_cast<double>(++steps) / static_cast<double>(2 * wanted.size()));
  };

  std::vector<std::optional<Intake>> intakes(wanted.size());
  for_each(wanted.size(), threads, [&](std::size_t i) {
    intakes[i].emplace(treatment, reference, wanted[i]);
    intakes[i]->read_target();
    step();
  });
  if (reference) check_drift(intakes);  // of what was scanned, before stray light is taken off
  TakenScans out;
  scanner::StrayLightEstimate stray_light;
  std::tie(stray_light, out.stray_light) = stray_light_of(measured, reference, intakes);
  if (measured) out.stray_light.file = treatment.measure.scanner->string();
  for_each(wanted.size(), threads, [&](std::size_t i) { intakes[i]->correct(stray_light); });
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
  pool_point_spread(measured, scans);
  if (measured) compare_with_card(*measured, scans);
  compare_profiles(scans);

  if (reference) {
    std::vector<const target::Fit*> fits;
    for (const Taken& scan : scans) fits.push_back(&scan.fit);
    std::vector<std::string> doubts;
    vet::warn(vet::patches_off(*reference, fits), out.warnings, doubts);
  }
  for (Taken& scan : scans)
    (scan.stage == &no_stage() ? out.repeat_sheet : out.scans).push_back(std::move(scan));
  return out;
}

}  // namespace inkwane
