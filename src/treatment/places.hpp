// Points and polygons of a treatment file.
#pragma once

#include <inkwane/treatment.hpp>

#include "treatment/toml_table.hpp"

namespace inkwane::treatment {

/// [x, y]. All throw Error(usage) that names the key and what was expected.
[[nodiscard]] Point read_point(const Table& table, std::string_view key, const toml::node& node);
[[nodiscard]] const toml::array& read_array(const Table& table, std::string_view key,
                                            const toml::node& node, const std::string& form);
/// A polygon that encloses something and does not cross itself; `id`: whose it is.
[[nodiscard]] std::vector<Point> read_polygon(const Table& table, std::string_view key,
                                              const std::string& id);

}  // namespace inkwane::treatment
