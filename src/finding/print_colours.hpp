// Which colours the sheet's own print explains, as far as its named inks tell.
#pragma once

#include <optional>
#include <unordered_map>

#include "finding/coarse.hpp"

namespace inkwane::finding {

/// A named region's colour at the first stage, as absorption above what lies under it.
struct NamedColour {
  const Region* region = nullptr;
  cv::Vec3f absorption;  ///< K/S of sharpened RGB
};

/// cos of the angle between two absorptions; 0 where one is nothing.
[[nodiscard]] float likeness(const cv::Vec3f& a, const cv::Vec3f& b);

class PrintColours {
 public:
  explicit PrintColours(const SheetView& view);

  [[nodiscard]] const std::vector<NamedColour>& inks() const { return inks_; }
  [[nodiscard]] const std::vector<NamedColour>& added() const { return added_; }

  /// A colour on this paper is one of the named inks in about the amount it has there, two of them
  /// over each other, or black.
  [[nodiscard]] bool is_printed(const cv::Vec3f& lab);
  /// Angle in degrees by which an absorption lies outside all mixtures of the inks and black.
  [[nodiscard]] double outside_mixtures(const cv::Vec3f& absorption) const;
  /// The ink, or the added colour, whose absorption is most like this one.
  [[nodiscard]] static const NamedColour* most_like(const std::vector<NamedColour>& colours,
                                                    const cv::Vec3f& absorption);

 private:
  std::vector<NamedColour> inks_, added_;
  std::vector<LabD50> printed_;
  std::unordered_map<int, bool> known_;  // by bin of Lab
};

}  // namespace inkwane::finding
