// What the templates are filled with.
#pragma once

#include "report/pictures.hpp"

namespace inkwane::report {

struct Pair {
  std::string from, to;
  bool whole = false;  ///< from the first stage to the last
  auto operator<=>(const Pair&) const = default;
};

/// The pairs of stages that were compared; the whole treatment first, then in the record's order.
[[nodiscard]] std::vector<Pair> compared_pairs(const results::Results& results);

/// Adds a pair and its table's rows to `pairs`, unless there are none.
void add_pair(data& pairs, const Pair& pair, const data& rows);

[[nodiscard]] data region_view(const results::Results& results);
[[nodiscard]] data side_view(const results::Results& results);
[[nodiscard]] data scan_view(const results::Results& results);
/// Everything. The pictures are read from `folder`.
[[nodiscard]] data page_view(const results::Results& results, const std::filesystem::path& folder);

/// Sets `recto` and `verso`, one of them true.
void set_side(data& into, Side side);

}  // namespace inkwane::report
