// What results say of each scan.
#pragma once

#include "align/stages.hpp"
#include "take.hpp"

namespace inkwane {

/// The sheet of a scan, less what lies under the target's card.
[[nodiscard]] cv::Mat clear_sheet(const Taken& taken);

/// `warp`: how the scan lies on the first stage's; null for that stage itself. `pitch_mm`: of the
/// first stage's grid. `doubts`: gets what makes the numbers doubtful.
[[nodiscard]] results::Scan record_scan(const Taken& taken, const align::Warp* warp,
                                        const std::string& first_stage, double pitch_mm,
                                        std::vector<std::string>& doubts);
/// Of a scan that was averaged into another.
[[nodiscard]] results::Scan record_repeat(const Taken& taken);

/// "BT recto", "BT recto, repeat 2".
[[nodiscard]] std::string name_of(const Taken& taken);

}  // namespace inkwane
