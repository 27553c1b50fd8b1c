// Writes a small simulated treatment into a folder, for the tests of the page.
#include <cstdlib>

#include "simulate/simulate.hpp"

int main(int argc, char** argv) {
  if (argc != 2) return EXIT_FAILURE;
  (void)inkwane::simulate::write_scene(inkwane::simulate::solids_scene(3), argv[1]);
  return EXIT_SUCCESS;
}
