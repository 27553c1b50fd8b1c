// The plots of the report: drawn once, set as SVG in the page and as they are in the PDF. Their
// scales are fixed, so that two reports compare.
#pragma once

#include "report/document.hpp"

namespace inkwane::report {

struct IntervalRow {
  std::string name;
  double dE00 = 0;
  results::Interval ci95;
};
/// ΔE00 of places with their intervals, 0 to 10; values beyond are told in figures.
[[nodiscard]] Plot interval_chart(const std::vector<IntervalRow>& rows);

struct TradeOffPoint {
  std::string stage;
  results::Estimate removed, lost;
};
/// Share removed to the right, share lost upwards.
[[nodiscard]] Plot trade_off_curve(const std::vector<TradeOffPoint>& points);

/// One place over the stages: share left, or kept, since the first.
struct ShareLine {
  std::string name;
  std::vector<std::pair<std::string, results::Estimate>> points;  ///< by stage
};
struct SharePanel {
  std::string title;
  std::vector<ShareLine> lines;
};
/// Two panels of one scale, 0 to 110 %, the stages in order.
[[nodiscard]] Plot shares_chart(const std::vector<std::string>& stages, const SharePanel& left,
                                const SharePanel& right);

/// What the colours of a map of this kind mean (docs/formats.md, "Maps").
[[nodiscard]] Plot map_legend(const std::string& kind);

/// A plot as an SVG file's bytes.
[[nodiscard]] std::string to_svg(const Plot& plot);

}  // namespace inkwane::report
