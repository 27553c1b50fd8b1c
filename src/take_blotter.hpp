// A blotter's scan taken in: opened, calibrated, averaged, its outline found.
#pragma once

#include "finding/blotters.hpp"
#include "take.hpp"

namespace inkwane {

/// One blotter, and the fit that its view refers to.
struct TakenBlotter {
  target::Fit fit;
  finding::BlotterView view;  ///< `fit` is set by the reader: the record may have moved
};

/// `same_scanner`: a scan of the blotter's stage, whose calibration serves a blotter without
/// target. Throws Error(scan) as for the sheet's own scans.
[[nodiscard]] TakenBlotter take_blotter(const Treatment& treatment, const BlotterScan& record,
                                        const target::Fit& same_scanner);

}  // namespace inkwane
