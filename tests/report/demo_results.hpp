// A made-up assessment of an invented catalogue page, with drawn pictures and maps, for the tests.
#pragma once

#include <filesystem>

#include <inkwane/results.hpp>

namespace inkwane::test {

/// The drawn pictures' cells, one pixel each.
inline constexpr int kDemoWidth = 800, kDemoHeight = 1088;
inline constexpr double kDemoPitchMm = 0.25;

/// Two stages, both sides, ten regions. Nothing is written.
[[nodiscard]] results::Results demo_results();

/// Draws the pictures and maps that `results` names into `folder`.
void draw_demo(const std::filesystem::path& folder, const results::Results& results);

/// A folder with what demo_results() names, drawn once.
[[nodiscard]] const std::filesystem::path& drawn_demo();

}  // namespace inkwane::test
