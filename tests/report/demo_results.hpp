// A made-up assessment of an invented catalogue page, with drawn pictures and maps, for the tests.
#pragma once

#include <filesystem>

#include <inkwane/results.hpp>

namespace inkwane::test {

/// Two stages, both sides, ten regions. Nothing is written.
[[nodiscard]] results::Results demo_results();

/// Draws the pictures and maps that `results` names into `folder`.
void draw_demo(const std::filesystem::path& folder, const results::Results& results);

}  // namespace inkwane::test
