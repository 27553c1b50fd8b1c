// The colours of one side that could have come through to the other.
#pragma once

#include "change/region_colour.hpp"

namespace inkwane::change {

/// One colour of the print, or one that was added to it.
struct SourceColour {
  LabD50 lab;                 ///< mean, at the first stage
  Eigen::Vector3f direction;  ///< its absorption: K/S of sharpened RGB above the paper, sum 1
};

/// Blocks of a side's grid, for what is diffuse.
struct Coarse {
  int block = 1;   ///< cells
  cv::Mat values;  ///< one pixel a block

  [[nodiscard]] cv::Point2f to_block(float column, float row) const {
    const auto size = static_cast<float>(block);
    return {(column + 0.5F) / size - 0.5F, (row + 0.5F) / size - 0.5F};
  }
};

/// What reflectance is relative to: the paper beside each place, or that of the sheet as a whole
/// (which a large show-through does not pull along).
enum class Against { local_paper, sheet_paper };

/// Sharpened RGB relative to the paper, a block of about 0.5 mm each (CV_32FC3); 1 where not
/// measured.
[[nodiscard]] Coarse relative_reflectance(const SideInput& side, const PaperSurvey& paper,
                                          int stage, Against against);

struct Sources {
  std::vector<SourceColour> colours;
  /// CV_32FC1: Σ K/S of that colour in each block; less of it where it could only be part of an
  /// overprint.
  std::vector<Coarse> presence;
};

/// Added colours of the declared regions first, then their inks, then what else the side is printed
/// with, by direction of absorption; at most kMostSources, none that holds less than 1 % of all
/// absorption.
[[nodiscard]] Sources find_sources(const SideContext& context, const Coarse& first_stage);

inline constexpr int kMostSources = 12;

}  // namespace inkwane::change
