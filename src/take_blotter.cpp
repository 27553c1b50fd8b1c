#include "take_blotter.hpp"

#include "target/reference.hpp"

namespace inkwane {
namespace {

constexpr double kAssumedDpi = 300;  // as for the sheet's scans

}  // namespace

TakenBlotter take_blotter(const Treatment& treatment, const BlotterScan& record,
                          const target::Fit& same_scanner) {
  TakenBlotter taken;
  const scan::Scan scan = scan::Scan::open(record.scan);
  const scan::Info& info = scan.info();
  finding::BlotterView& view = taken.view;
  view.record = &record;
  view.file = info.file.string();
  view.sha256 = info.sha256;
  view.warnings = info.warnings;
  target::Located located;
  if (treatment.target && record.has_target) {
    const target::Reference reference = target::read_reference(
        treatment.target->reference, treatment.target->rows, treatment.target->columns);
    const auto linearisation = colour::Linearisation::from_profile(info.icc, view.file);
    located = target::find_target(scan, reference);
    taken.fit = target::fit_target(reference, target::read_patches(scan, linearisation, located),
                                   linearisation, view.file);
    view.warnings.insert(view.warnings.end(), taken.fit.warnings.begin(), taken.fit.warnings.end());
  } else {
    taken.fit = same_scanner;
    if (treatment.target) {
      view.warnings.emplace_back(
          "No target lies in this scan: it is taken by the calibration of its stage's own scan, "
          "which holds only if the scanner and its settings were the same.");
    }
  }
  view.geometry =
      grid::make_geometry(info.width_px, info.height_px, info.resolution_dpi.value_or(kAssumedDpi),
                          treatment.measure.grid_mm);
  grid::Grid grid = grid::make_grid(scan, taken.fit.colour, view.geometry,
                                    treatment.measure.aperture_mm, located.card);
  view.usable = align::find_outline(grid, view.file).sheet & ~grid.target & ~grid.clipped;
  view.light = grid.light;
  taken.fit.colour.to_xyz(grid.light, view.xyz);
  return taken;
}

}  // namespace inkwane
