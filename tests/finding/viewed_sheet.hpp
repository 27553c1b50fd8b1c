// A painted sheet, assessed and ready to be searched.
#pragma once

#include "finding/finding.hpp"
#include "tests/change/painted_sheet.hpp"

namespace inkwane::test {

/// A side of a painted sheet, which fills its grid.
[[nodiscard]] inline finding::SheetView whole(const change::SideInput& side,
                                              const change::SideOutput& output) {
  const double w = side.geometry.columns - 0.5, h = side.geometry.rows - 0.5;
  return {&side, &output, {{-0.5, -0.5}, {w, -0.5}, {w, h}, {-0.5, h}}, nullptr, {}};
}

/// The recto of a painted sheet after its changes are known.
class ViewedRecto {
 public:
  explicit ViewedRecto(const PaintedSheet& sheet)
      : output_(change::assess_side(sheet.recto, nullptr)), view(whole(sheet.recto, output_)) {}

 private:
  change::SideOutput output_;

 public:
  finding::SheetView view;
};

}  // namespace inkwane::test
