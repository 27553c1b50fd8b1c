#include "scanner/card_layout.hpp"

namespace inkwane::scanner::card {

const char* name_of(Kind kind) {
  switch (kind) {
    case Kind::white:
      return "white";
    case Kind::grey:
      return "grey";
    case Kind::dark:
      return "dark";
  }
  return "";
}

const std::array<Field, 4>& fields() {
  static const std::array<Field, 4> all = [] {
    const double left = 0, right = kFieldWidthMm;
    const double top = kFieldsTopMm, bottom = kFieldsTopMm + kFieldHeightMm;
    const auto at = [](double x, double y) {
      return cv::Rect2d(x, y, kFieldWidthMm, kFieldHeightMm);
    };
    return std::array<Field, 4>{{{at(left, top), true, "top left"},
                                 {at(right, top), false, "top right"},
                                 {at(left, bottom), false, "bottom left"},
                                 {at(right, bottom), true, "bottom right"}}};
  }();
  return all;
}

const std::vector<Chip>& chips() {
  static const std::vector<Chip> all = [] {
    // Each kind comes once in each row, and on black as often at each place of a row as on white.
    using enum Kind;
    constexpr Kind kOrder[4][2][3] = {{{white, grey, dark}, {dark, white, grey}},
                                      {{dark, grey, white}, {grey, white, dark}},
                                      {{white, grey, dark}, {dark, white, grey}},
                                      {{dark, grey, white}, {grey, white, dark}}};
    constexpr double kStepMm = kChipMm + kReachMm;
    std::vector<Chip> chips;
    for (int f = 0; f < 4; ++f) {
      const cv::Rect2d& mm = fields()[static_cast<std::size_t>(f)].mm;
      for (int row = 0; row < 2; ++row) {
        const double from_edge = kReachMm + kChipMm / 2;
        const double y = row == 0 ? mm.y + from_edge : mm.br().y - from_edge;
        for (int column = 0; column < 3; ++column) {
          chips.push_back(
              {kOrder[f][row][column], f, {mm.x + kReachMm + kChipMm / 2 + column * kStepMm, y}});
        }
      }
    }
    return chips;
  }();
  return all;
}

const std::array<cv::Point2d, 4>& marks() {
  constexpr double kFromEdgeMm = 7;
  constexpr double kLowY = kFieldsTopMm + 2 * kFieldHeightMm + kFromEdgeMm;
  static const std::array<cv::Point2d, 4> all{{{kFromEdgeMm, kFromEdgeMm},
                                               {kWidthMm - kFromEdgeMm, kFromEdgeMm},
                                               {kWidthMm - kFromEdgeMm, kLowY},
                                               {kFromEdgeMm, kLowY}}};
  return all;
}

const std::array<Square, 3>& squares() {
  static const double y = marks()[2].y;
  static const std::array<Square, 3> all{{{{50, y}, 5}, {{90, y}, -5}, {{130, y}, 9}}};
  return all;
}

}  // namespace inkwane::scanner::card
