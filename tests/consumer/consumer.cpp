// Protects: what is installed can be used by others: every header alone, and the library behind it.
#include <cmath>
#include <cstdio>

#include <inkwane/assess.hpp>
#include <inkwane/colour.hpp>
#include <inkwane/course.hpp>
#include <inkwane/error.hpp>
#include <inkwane/findings.hpp>
#include <inkwane/results.hpp>
#include <inkwane/treatment.hpp>

#if defined(CV_VERSION) || defined(LCMS_VERSION)
#error "a public header brought in OpenCV or LittleCMS"
#endif

namespace {

/// The whole job, linked: a scan that is not there is refused by name.
bool refuses_what_is_missing() {
  inkwane::Treatment treatment;
  treatment.file = "treatment.toml";
  treatment.object.title = "nothing";
  inkwane::Stage stage;
  stage.id = "BT";
  stage.scans[inkwane::Side::recto] = "nowhere.tif";
  treatment.stages = {stage};
  inkwane::AssessOptions options;
  options.output = "assessment";
  try {
    (void)inkwane::assess(treatment, options);
  } catch (const inkwane::Error& error) {
    return error.code() == inkwane::ExitCode::scan &&
           std::string(error.what()).find("nowhere.tif") != std::string::npos;
  }
  return false;
}

}  // namespace

int main() {
  // Pair 1 of Sharma, Wu, Dalal, Color Res. Appl. 30(1), 2005, Table 1.
  const double dE = inkwane::ciede2000({50, 2.6772, -79.7751}, {50, 0, -82.7485});
  if (std::abs(dE - 2.0425) > 1e-4) return 1;
  if (!refuses_what_is_missing()) return 2;
  std::puts("the installed library works");
  return 0;
}
