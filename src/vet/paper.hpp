// What the bare paper tells between stages: a sheet that was damp, a backing that was another.
#pragma once

#include <map>
#include <optional>

#include "change/change.hpp"
#include "vet/finding.hpp"

namespace inkwane::vet {

/// Bare paper of one side at one stage.
struct PaperLook {
  std::string stage;
  double L = 0;  ///< L* of its common tone
  /// How much of the other side's print shows through, as a share of its absorption, and the
  /// standard uncertainty; none where the other side is not known or hardly printed.
  std::optional<double> shown;
  double u_shown = 0;
};

/// By side and layer. `to_recto`: for each cell of the verso's grid the recto's cell behind it
/// (align::Pairing); empty: not paired. Either side may be null.
[[nodiscard]] std::map<Side, std::vector<PaperLook>> look_at_paper(const change::SideInput* recto,
                                                                   const change::SideInput* verso,
                                                                   const cv::Mat& to_recto);

/// The sheet's length at the later stage ÷ at the one before, along either axis: the larger.
/// `said_damp`: the treatment file says so already.
[[nodiscard]] Findings judge_paper(const PaperLook& before, const PaperLook& later, double growth,
                                   bool said_damp);

}  // namespace inkwane::vet
