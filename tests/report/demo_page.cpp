// Writes the made-up assessment of the tests and its report into a folder, for the browser.
#include "report/report.hpp"
#include "tests/report/demo_results.hpp"

int main(int, char** argv) {
  const inkwane::results::Results results = inkwane::test::demo_results();
  inkwane::test::draw_demo(argv[1], results);
  inkwane::report::write_report(argv[1], results, {}, argv[1]);
}
