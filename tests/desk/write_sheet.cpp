// Writes a small simulated treatment into a folder, for the tests of the page; beside it
// suspects.json, results of an assessment that found nothing but two suspects.
#include <cstdlib>
#include <filesystem>
#include <fstream>

#include "results/results.hpp"
#include "simulate/simulate.hpp"

namespace {

inkwane::results::Suspect suspect(const char* id, double x) {
  inkwane::results::Suspect found;
  found.id = id;
  found.place = {
      inkwane::Side::recto, {x / 12, 25}, {{x, 300}, {x + 60, 300}, {x + 60, 340}, {x, 340}}, 9.5};
  found.lab = {50, 40, 20};
  found.score = 0.8;
  found.reason = "It faded faster than its like.";
  return found;
}

}  // namespace

int main(int argc, char** argv) {
  if (argc != 2) return EXIT_FAILURE;
  const std::filesystem::path folder = argv[1];
  (void)inkwane::simulate::write_scene(inkwane::simulate::solids_scene(3), folder);
  inkwane::results::Results results;
  results.findings.suspects = {suspect("suspect-1", 300), suspect("suspect-2", 500)};
  std::ofstream(folder / "suspects.json") << inkwane::results::to_json(results);
  return EXIT_SUCCESS;
}
