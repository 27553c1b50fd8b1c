// Colours in plain words.
#pragma once

#include <string>

#include <inkwane/colour.hpp>

namespace inkwane::finding {

/// "dark red", "pale green", "brown", "black" …: eleven basic words (Berlin and Kay, 1969, from
/// memory), with dark and pale. The bounds are our own.
[[nodiscard]] std::string colour_words(const LabD50& lab);

}  // namespace inkwane::finding
