// Where everything lies on the scanner's card, in millimetres from the top left of its print.
//
// Four fields, black and white in turn like a chessboard, so that a slope of the lamp across the
// bed cannot look like stray light. Each holds two chips of each kind; chips of a kind are printed
// alike, so that what makes them read differently is what surrounds them.
#pragma once

#include <array>
#include <vector>

#include <opencv2/core.hpp>

namespace inkwane::scanner::card {

inline constexpr double kWidthMm = 180, kHeightMm = 240;

/// Grey of a fill as PDF has it: 0 black ink in full, 1 bare paper.
inline constexpr double kBlack = 0, kBare = 1;

enum class Kind { white, grey, dark };
inline constexpr std::array<Kind, 3> kKinds{Kind::white, Kind::grey, Kind::dark};
/// White chips are bare paper, so that nothing of them depends on the printer.
[[nodiscard]] constexpr double fill_of(Kind kind) {
  return kind == Kind::white ? kBare : kind == Kind::grey ? 0.55 : 0.2;
}
[[nodiscard]] const char* name_of(Kind kind);

struct Field {
  cv::Rect2d mm;
  bool black = false;
  const char* place = "";  ///< in words, for messages
};
inline constexpr double kFieldWidthMm = 90, kFieldHeightMm = 80, kFieldsTopMm = 14;
[[nodiscard]] const std::array<Field, 4>& fields();

/// Every chip has at least kReachMm of its field on all sides to the field's edge.
inline constexpr double kChipMm = 10, kReachMm = 15;
struct Chip {
  Kind kind = Kind::white;
  int field = 0;  ///< index into fields()
  cv::Point2d centre_mm;
};
[[nodiscard]] const std::vector<Chip>& chips();

/// Marks by which the card is found: rings about a dot. The first, at the top left, has a thick
/// ring and a small dot, the others (clockwise) a thin ring and a large dot.
struct Mark {
  double outer_mm, inner_mm, dot_mm;  ///< radii
};
inline constexpr Mark kFirstMark{4.5, 2.6, 1.2}, kOtherMark{4.5, 3.4, 1.8};
[[nodiscard]] const std::array<cv::Point2d, 4>& marks();

/// Black squares on bare paper, turned by a few degrees, whose edges tell the point spread. Their
/// turns differ, so that however the card lies, some edge crosses the rows and columns of pixels.
struct Square {
  cv::Point2d centre_mm;
  double turn_degrees = 0;
};
inline constexpr double kSquareMm = 9;
[[nodiscard]] const std::array<Square, 3>& squares();

/// Where the instructions stand.
inline const cv::Rect2d kTextMm{0, 192, kWidthMm, kHeightMm - 192};

}  // namespace inkwane::scanner::card
