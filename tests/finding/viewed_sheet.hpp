// A painted sheet, assessed and ready to be searched.
#pragma once

#include "finding/finding.hpp"
#include "tests/change/painted_sheet.hpp"

namespace inkwane::test {

/// The recto of a painted sheet (cells of 0.1 mm from its top left) after its changes are known.
class ViewedRecto {
 public:
  explicit ViewedRecto(const PaintedSheet& sheet)
      : output_(change::assess_side(sheet.recto, nullptr)) {
    const double w = sheet.recto.geometry.columns - 0.5, h = sheet.recto.geometry.rows - 0.5;
    view = {&sheet.recto, &output_, {{-0.5, -0.5}, {w, -0.5}, {w, h}, {-0.5, h}}, nullptr, {}};
  }
  finding::SheetView view;

 private:
  change::SideOutput output_;
};

}  // namespace inkwane::test
