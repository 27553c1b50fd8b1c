// What the report says, by key: words/en.toml, built into the program. A translation is one such
// file.
#pragma once

#include <string>
#include <string_view>
#include <vector>

#include <fmt/format.h>

namespace inkwane::report {

/// The words under a key, "front.summary". Throws std::logic_error where there are none.
[[nodiscard]] const std::string& say(std::string_view key);
/// Whether there are any.
[[nodiscard]] bool says(std::string_view key);
/// A list of lists: "reading.terms".
[[nodiscard]] std::vector<std::vector<std::string>> say_rows(std::string_view key);

/// The words with what is filled in: say("common.to", fmt::arg("low", …), …).
template <typename... Arguments>
[[nodiscard]] std::string say(std::string_view key, const Arguments&... arguments) {
  return fmt::format(fmt::runtime(say(key)), arguments...);
}

/// All keys there are, for the tests.
[[nodiscard]] std::vector<std::string> all_keys();

}  // namespace inkwane::report
