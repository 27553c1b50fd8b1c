// Suspects that a person looked at and rejected: remembered beside the treatment file, which is
// left alone (docs/formats.md, "NAME-desk.json").
#pragma once

#include <filesystem>
#include <vector>

#include "desk/drawn_json.hpp"

namespace inkwane::desk {

/// A place of one side; `outline` in pixels of that side's first scan.
struct Rejected {
  Side side = Side::recto;
  std::vector<Point> outline;
};

/// `treatment-desk.json` beside `treatment.toml`.
[[nodiscard]] std::filesystem::path rejected_file(const std::filesystem::path& treatment);

/// None where there is no file. Throws Error(usage), naming it, where it holds something else.
[[nodiscard]] std::vector<Rejected> read_rejected(const std::filesystem::path& file);

/// Whole or not at all; no file stays where nothing is rejected. Throws Error(output).
void write_rejected(const std::filesystem::path& file, const std::vector<Rejected>& rejected);

/// Whether at least half of `suspect` lies in the rejected place. A suspect's number and outline
/// change from one assessment to the next; its place does not. One that grew far beyond what was
/// rejected is offered again.
[[nodiscard]] bool is_of(const Rejected& rejected, const Rejected& suspect);

}  // namespace inkwane::desk
