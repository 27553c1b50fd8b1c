// Protects: the report tells all that was found, with its doubts, to a person who has only this
// file.
#include "report/report.hpp"

#include <algorithm>
#include <fstream>
#include <set>

#include <catch2/catch.hpp>

#include <inkwane/error.hpp>

#include "report/html/pictures.hpp"
#include "tests/map/read_back.hpp"
#include "tests/report/demo_results.hpp"
#include "tests/support.hpp"

using namespace inkwane;
using Catch::Contains;

namespace {

std::string report_of(const results::Results& results, const report::Options& options = {}) {
  const test::TemporaryFolder folder;
  report::write_report(test::drawn_demo(), results, options, folder.path());
  return test::bytes_of(folder / "report.html");
}

bool has(const std::string& text, const std::string& what) {
  return text.find(what) != std::string::npos;
}

std::size_t count(const std::string& text, const std::string& what) {
  std::size_t found = 0;
  for (auto at = text.find(what); at != std::string::npos; at = text.find(what, at + what.size()))
    ++found;
  return found;
}

/// The report without its pictures' bytes, which searches would crawl through.
std::string without_pictures(const std::string& html) {
  std::string text;
  std::size_t at = 0;
  for (;;) {
    const auto start = html.find(";base64,", at);
    if (start == std::string::npos) return text + html.substr(at);
    text += html.substr(at, start - at);
    at = html.find('"', start);
  }
}

/// The report without what the script alone reads.
std::string as_read(const std::string& html) {
  std::string text = without_pictures(html);
  for (auto at = text.find("<script"); at != std::string::npos; at = text.find("<script", at)) {
    const std::string end = "</script>";
    text.erase(at, text.find(end, at) + end.size() - at);
  }
  return text;
}

/// Elements opened and closed, in order; what is wrong, or nothing.
std::string unbalanced(const std::string& html) {
  static const std::set<std::string> kVoid{"!DOCTYPE", "meta", "img", "br", "hr", "link", "input"};
  std::vector<std::string> open;
  for (auto at = html.find('<'); at != std::string::npos; at = html.find('<', at + 1)) {
    const bool closes = html[at + 1] == '/';
    const auto start = at + (closes ? 2 : 1);
    const std::string name = html.substr(start, html.find_first_of(" >\n", start) - start);
    if (kVoid.contains(name)) continue;
    if (!closes) {
      open.push_back(name);
    } else {
      if (open.empty() || open.back() != name)
        return "</" + name + "> closes " + (open.empty() ? "nothing" : open.back());
      open.pop_back();
    }
  }
  return open.empty() ? "" : open.back() + " stays open";
}

/// The values of all attributes of that name.
std::vector<std::string> attributes(const std::string& html, const std::string& name) {
  std::vector<std::string> values;
  const std::string start = " " + name + "=\"";
  for (auto at = html.find(start); at != std::string::npos; at = html.find(start, at + 1)) {
    const auto from = at + start.size();
    values.push_back(html.substr(from, html.find('"', from) - from));
  }
  return values;
}

results::Results uncalibrated() {
  results::Results results = test::demo_results();
  results.calibrated = false;
  for (results::Scan& scan : results.scans) scan.target.reset();
  return results;
}

}  // namespace

TEST_CASE("the report names every region, scan, stage, finding and warning") {
  const results::Results results = test::demo_results();
  const std::string html = as_read(report_of(results));
  for (const std::string& text :
       {results.object.title, results.object.identifier, results.object.client,
        results.object.description, results.object.marks, results.record.purpose,
        results.record.plan, results.record.consent_by, results.spot_tests[0].seen_on_blotter,
        results.findings.suspects[0].reason, results.findings.blotters[0].sentence,
        results.findings.inks[0].name, results.course->advice->reason,
        results.course->decays[0].note, results.course->forecast->note})
    CHECK(has(html, text));
  for (const results::Region& region : results.regions) {
    CHECK(count(html, region.name) >= 3);  // the overview, its own heading, its pictures
    CHECK(has(html, "place-" + region.id));
    for (const std::string& warning : region.warnings) CHECK(count(html, warning) == 2);
    for (const results::RegionChange& change : region.changes)
      for (const std::string& warning : change.warnings) CHECK(count(html, warning) == 2);
  }
  for (const results::Scan& scan : results.scans) {
    CHECK(has(html, scan.file));
    CHECK(has(html, scan.sha256));
    for (const std::string& warning : scan.warnings) CHECK(has(html, warning));
  }
  for (const std::string& warning : results.warnings) CHECK(has(html, warning));
  for (const auto& [side, result] : results.sides)
    for (const results::SideChange& change : result.changes)
      for (const std::string& warning : change.warnings) CHECK(count(html, warning) == 2);
  CHECK(has(html, "2 March 2026"));
  CHECK(has(html, "calcium hydroxide"));
  CHECK(has(html, "Dried between blotters for six days."));
  CHECK(has(html, "inkwane 0.1.0"));
}

TEST_CASE("numbers stand with their intervals, and those not had as a dash") {
  results::Results results = test::demo_results();
  results.regions[0].changes[0].dE00 = 4.068;
  results.regions[0].changes[0].dE00_ci95 = {{3.713, 4.466}};
  results.regions[0].changes[0].strength_kept = 0.826;
  results.regions[0].changes[0].strength_kept_ci95 = {{0.781, 0.868}};
  const std::string html = as_read(report_of(results));
  CHECK(count(html, ">4.07</td><td class=\"r\">3.71 to 4.47<") == 2);  // overview and its own table
  CHECK(has(html, ">83\u00a0%</td><td class=\"r\">78 to 87\u00a0%<"));
  CHECK(has(html, ">46.20</td><td class=\"r\"><span class=\"soft\">0.38<"));
  CHECK(has(html, ">–</td><td class=\"r\">–<"));  // the title's strength
  CHECK_FALSE(has(html, ">nan<"));
  CHECK_FALSE(has(html, ">inf<"));
}

TEST_CASE("page one says what was gained and what it cost, with numbers, ranges and colours") {
  const std::string html = as_read(report_of(test::demo_results()));
  const std::string front = html.substr(0, html.find("<h2"));
  CHECK(has(front, "<strong>87\u00a0%</strong>"));
  CHECK(has(front, "87\u00a0% has gone (83 to 91\u00a0%)"));
  CHECK(has(front, "<strong>12\u00a0%</strong>"));
  CHECK(has(front, "was lost (9 to 16\u00a0%)"));
  CHECK(has(front, "17\u00a0% (13 to 22\u00a0%), went at “red of the left dahlia”"));
  CHECK(has(front, "<strong>4.4\u00a0%</strong>"));
  CHECK(count(front, "class=\"swatches\"") == 3);
  CHECK(count(front, "<img") == 4);
  CHECK(has(front, "What these scans cannot tell"));
  for (const char* jargon : {"CIELAB", "L*", "K/S", "p95"}) CHECK_FALSE(has(front, jargon));
}

TEST_CASE("without a course page one tells the places apart") {
  results::Results results = test::demo_results();
  results.course.reset();
  const std::string html = as_read(report_of(results));
  CHECK(has(html, "<strong>79 to 93\u00a0%</strong>"));
  CHECK(has(html,
            "79\u00a0% (73 to 83\u00a0%) has gone where most of it is left (“blue wax crayon”)"));
  CHECK(has(html, "The course over the stages was not worked out."));
}

TEST_CASE("a search that found nothing says what it would have found; one not made says so") {
  results::Results results = test::demo_results();
  results.findings.suspects.clear();
  results.findings.tidelines.clear();
  std::erase_if(results.findings.limits,
                [](const auto& limit) { return limit.what == "tidelines"; });
  const std::string html = as_read(report_of(results));
  const auto part = [&](const std::string& id) {
    const auto from = html.find("id=\"" + id + "\"");
    return html.substr(from, html.find("<h3", from) - from);
  };
  CHECK(has(part("suspects"), "Nothing was found."));
  CHECK(has(part("suspects"), "ΔE00 2.4 over 1.5 mm²"));
  CHECK(has(part("tidelines"), "This was not searched for."));
}

TEST_CASE("the words for a change follow the interval over the thresholds") {
  results::Results results = test::demo_results();
  results::RegionChange& change = results.regions[0].changes[0];
  const auto words = [&](double low, double value, double high) {
    change.dE00 = value;
    change.dE00_ci95 = {{low, high}};
    const std::string html = as_read(report_of(results));
    const auto at =
        html.find("<strong>", html.find("In words", html.find("id=\"place-petals-left\"")));
    return html.substr(at + 8, html.find('<', at + 8) - at - 8);
  };
  change.detectable = true;
  CHECK(words(0.5, 1, 1.6) == "slight");
  CHECK(words(1.2, 1.8, 2.2) == "slight to noticeable");
  CHECK(words(1.8, 3, 4.9) == "noticeable");
  CHECK(words(4.2, 5.5, 6) == "noticeable to strong");
  CHECK(words(6, 8, 9) == "strong");
  change.detectable = false;
  CHECK(words(0, 1, 2.5) == "not detectable");
  change.detectable.reset();
  CHECK(words(0, 1, 2.5) == "not known");
}

TEST_CASE("how sure it is: repeats, untouched places, stray light, and when places were outlined") {
  results::Results results = test::demo_results();
  const std::string html = as_read(report_of(results));
  const std::string part = html.substr(html.find("id=\"sure\""));
  CHECK(has(part, "within ΔE00 0.07"));
  CHECK(has(part, "6 degrees of freedom"));
  CHECK(has(part, "“bare paper, verso” ΔE00 0.09 (95 %: 0.00 to 0.49)"));
  CHECK(has(part, "κ = 0.26 ± 0.03, reach 4.0 ± 0.7 mm, measured with a card"));
  CHECK(has(part, "last changed on 2 March 2026 09:30 UTC"));
  CHECK_FALSE(has(part, "changed after a first assessment"));
  CHECK(has(html, "untouched, nothing was done here"));

  results.regions_stamp.earlier = {{"77aa", "2026-03-01T08:00:00Z"}};
  results.repeatability.reset();
  results.stray_light = {};
  results.stray_light.u_kappa = 0.26;
  results.regions.back().untouched = false;
  const std::string other = as_read(report_of(results));
  CHECK(has(other, "1 March 2026 08:00): the places were changed after a first assessment"));
  CHECK(has(other, "no side was scanned twice"));
  CHECK(has(other, "No place was named as untouched."));
  CHECK(has(other, "was not taken off"));
  CHECK(has(other, "κ of 0.26"));
}

TEST_CASE("where things were found is shown on the sheet, under the names of the lists") {
  results::Results results = test::demo_results();
  const std::string html = as_read(report_of(results));
  for (const char* label : {"C1", "T1", "S1"}) {
    CAPTURE(label);
    CHECK(count(html, std::string(">") + label + "</text>") == 1);
    CHECK(count(html, std::string("<strong>") + label + "</strong>") == 1);
  }
  // A place that an earlier stage alone showed is not what the sheet shows now.
  results.findings.still_shows[0].stage = "BT";
  const std::string earlier = as_read(report_of(results));
  CHECK_FALSE(has(earlier, "C1"));
  CHECK(has(earlier, "1 more at earlier stages"));
}

TEST_CASE("added colours and inks stand apart over the stages") {
  results::Results results = test::demo_results();
  results.course->decays.push_back(results.course->decays[0]);
  results.course->decays[1].region = "petals-left";
  results.course->decays[1].role = Role::ink;
  const std::string html = as_read(report_of(results));
  const auto added = html.find("How fast the added colours go"),
             inks = html.find("How fast the inks fade");
  REQUIRE(inks != std::string::npos);
  CHECK(html.find("blue wax crayon", added) < inks);
  CHECK(html.find("red of the left dahlia", inks) != std::string::npos);
}

TEST_CASE("the client's copy holds no path and no hash") {
  results::Results results = test::demo_results();
  results.scans[0].warnings = {"/home/me/" + results.scans[0].file + ": has 8 bits a channel."};
  results.repeatability->files = {{"scans/other.tif", "0a0b0c"}};
  const std::string html = without_pictures(report_of(results, {true}));
  for (const results::Scan& scan : results.scans) {
    CHECK_FALSE(has(html, scan.file));
    CHECK_FALSE(has(html, scan.sha256));
  }
  CHECK(has(html, ">scan BT recto: has 8 bits a channel."));
  CHECK_FALSE(has(html, "/home/me"));
  CHECK_FALSE(has(html, "bt-recto.tif"));
  for (const std::string& hidden :
       {results.findings.blotters[0].file, results.findings.blotters[0].sha256,
        results.regions_stamp.sha256, results.treatment_sha256, results.stray_light.file,
        results.repeatability->files[0].first, results.repeatability->files[0].second})
    CHECK_FALSE(has(html, hidden));
  for (const results::Map& map : results.maps) CHECK_FALSE(has(html, map.tiff));
  CHECK(has(html, "client’s copy"));
}

TEST_CASE("what people wrote cannot become part of the page") {
  const std::string evil = "</script><script>alert(\"1\")</script> & 'more'";
  results::Results results = test::demo_results();
  results.object.title = results.object.identifier = results.object.client = evil;
  results.object.description = results.warnings[0] = evil;
  results.record.purpose = results.spot_tests[0].note = evil;
  results.stages[1].note = evil;
  results.stages[1].steps[0].kind = evil;
  results.stages[1].steps[0].details[0] = {"solution", evil};
  results.regions[0].name = evil;
  results.regions[0].warnings = {evil};
  results.findings.suspects[0].reason = results.course->advice->reason = evil;
  results.scans[0].file = results.scans[0].profile = results.scans[0].target->model = evil;
  const std::string html = without_pictures(report_of(results));
  CHECK_FALSE(has(html, "<script>alert"));
  CHECK_FALSE(has(html, "\"1\")<"));
  CHECK(count(html, "&lt;script&gt;") >= 18);
  CHECK(unbalanced(as_read(html)) == "");
}

TEST_CASE("an uncalibrated report marks the numbers that rest on colour") {
  const std::string html = as_read(report_of(uncalibrated()));
  const std::string mark = "<span class=\"uncal\">uncal.</span>";
  // Of each region: ΔE00 twice, kept or left, contrast, and L*, a*, b* at two stages at the least.
  CHECK(count(html, mark) > 100);
  const auto from = html.find("id=\"place-petals-left\"");
  const std::string region = html.substr(from, html.find("<h3", from) - from);
  CHECK(count(region, mark) == 2 + 6 + 3);
  CHECK(has(html, "No colour target was used: every number marked"));
  CHECK_FALSE(has(as_read(report_of(test::demo_results())), "uncal.<"));
}

TEST_CASE("doubtful results are called doubtful on page one") {
  results::Results results = test::demo_results();
  CHECK_FALSE(has(as_read(report_of(results)), "Some numbers are doubtful"));
  results.doubtful = true;
  CHECK(has(as_read(report_of(results)), "Some numbers are doubtful"));
}

TEST_CASE("the report needs nothing beside itself") {
  const std::string html = without_pictures(report_of(test::demo_results()));
  for (const std::string& source : attributes(html, "src"))
    CHECK(source.starts_with("data:image/"));
  const std::string read = as_read(html);
  for (const std::string& target : attributes(read, "href")) CHECK(target.starts_with("#"));
  // Four sides, three crops a region, eight maps with their legends, the charts, and the recto with
  // what was found and with the suspect.
  CHECK(attributes(read, "src").size() == 4 + 3 * 10 + 2 * 8 + 3 + 2);
  CHECK_FALSE(has(read, "http:"));
  CHECK_FALSE(has(read, "https:"));
  CHECK_FALSE(has(read, "url("));
  CHECK_FALSE(has(read, "@import"));
  CHECK_FALSE(has(html, "fetch("));
  CHECK_FALSE(has(html, "XMLHttpRequest"));
}

TEST_CASE("only the report's own script may run") {
  const std::string html = without_pictures(report_of(test::demo_results()));
  const auto from = html.rfind("<script>") + 8;
  const std::string script = html.substr(from, html.rfind("</script>") - from);
  CHECK(has(html, "script-src '" + report::policy_hash(script) + "'"));
  // Source: FIPS 180-4, SHA-256 of "abc", as base64.
  CHECK(report::policy_hash("abc") == "sha256-ungWv48Bz+pBQUDeXa4iI7ADYaOWF3qctBD/YfIAFa0=");
}

TEST_CASE("every link inside the page leads somewhere") {
  const std::string html = as_read(report_of(test::demo_results()));
  const std::vector<std::string> ids = attributes(html, "id");
  const std::vector<std::string> links = attributes(html, "href");
  CHECK(links.size() >= 12 + 10);
  for (const std::string& link : links)
    CHECK(std::find(ids.begin(), ids.end(), link.substr(1)) != ids.end());
  CHECK(std::set<std::string>(ids.begin(), ids.end()).size() == ids.size());
}

TEST_CASE("every element that is opened is closed") {
  results::Results one_stage = test::demo_results();
  one_stage.stages.resize(1);
  one_stage.maps.clear();
  one_stage.sides.clear();
  one_stage.course.reset();
  for (results::Region& region : one_stage.regions) {
    region.changes.clear();
    region.stages.resize(1);
  }
  CHECK(unbalanced(as_read(report_of(test::demo_results()))) == "");
  CHECK(unbalanced(as_read(report_of(uncalibrated()))) == "");
  CHECK(unbalanced(as_read(report_of(one_stage))) == "");
  CHECK(unbalanced(as_read(report_of(results::Results{}))) == "");
  CHECK(unbalanced("<p><b></p></b>") != "");
}

TEST_CASE("the pictures in the page are the files of the folder") {
  const results::Results results = test::demo_results();
  const test::TemporaryFolder folder;
  test::draw_demo(folder.path(), results);
  const std::string html = [&] {
    report::write_report(folder.path(), results, {}, folder.path());
    return test::bytes_of(folder / "report.html");
  }();
  for (const results::Image& image : results.images)
    CHECK(
        has(html, "data:image/jpeg;base64," + report::base64(test::bytes_of(folder / image.file))));
  for (const results::Readout& readout : results.readouts)
    CHECK(has(html, report::base64(test::bytes_of(folder / readout.file))));
  // RFC 4648, section 10.
  CHECK(report::base64("foobar") == "Zm9vYmFy");
  CHECK(report::base64("foob") == "Zm9vYg==");
}

TEST_CASE("of three stages all pairs are reported, the whole treatment first") {
  results::Results results = test::demo_results();
  Stage during = results.stages[1];
  during.id = "DT1";
  results.stages.insert(results.stages.begin() + 1, during);
  for (auto& [side, result] : results.sides) {
    const results::SideChange change = result.changes[0];
    result.changes = {change, change, change};
    result.changes[0].to = result.changes[2].from = "DT1";
  }
  const std::string html = as_read(report_of(results));
  const auto sheet = html.find("id=\"sheet\"");
  const auto whole = html.find("BT → AT", sheet), first = html.find("BT → DT1", sheet),
             second = html.find("DT1 → AT", sheet);
  REQUIRE(second != std::string::npos);
  CHECK(whole < first);
  CHECK(first < second);
}

TEST_CASE("one stage alone is a report of the sheet as it is") {
  results::Results results = test::demo_results();
  results.stages.resize(1);
  results.sides.clear();
  results.maps.clear();
  results.course.reset();
  results.findings = {};
  for (results::Region& region : results.regions) {
    region.changes.clear();
    region.stages.resize(1);
  }
  const std::string html = as_read(report_of(results));
  CHECK(has(html, "scanned once"));
  CHECK(has(html, "red of the left dahlia"));
  CHECK_FALSE(has(html, "BT → AT"));
  CHECK_FALSE(has(html, "id=\"maps\""));
}

TEST_CASE("the page stays below 15 MB, and names what it leaves out") {
  const results::Results results = test::demo_results();
  const test::TemporaryFolder folder;
  test::draw_demo(folder.path(), results);
  // What follows a PNG's end is no part of the picture: large files that can still be read.
  for (const results::Map& map : results.maps)
    if (!map.plain.empty())
      std::ofstream(folder / map.plain, std::ios::app) << std::string(2'000'000, 'x');
  report::write_report(folder.path(), results, {}, folder.path());
  const std::string html = test::bytes_of(folder / "report.html");
  CHECK(html.size() < 15'000'000);
  CHECK(html.size() > 10'000'000);
  CHECK(has(without_pictures(html), "maps/bleed-through-verso-BT-AT-plain.png"));
}

TEST_CASE("a picture that is not there is an error that names it, and nothing is written") {
  const results::Results results = test::demo_results();
  const test::TemporaryFolder folder;
  test::draw_demo(folder.path(), results);
  std::filesystem::remove(folder / results.images[2].file);
  try {
    report::write_report(folder.path(), results, {}, folder.path());
    FAIL("a report without its picture");
  } catch (const Error& error) {
    CHECK(error.code() == ExitCode::output);
    CHECK_THAT(error.what(), Contains(results.images[2].file));
  }
  CHECK_FALSE(std::filesystem::exists(folder / "report.html"));
  CHECK_FALSE(std::filesystem::exists(folder / "report.pdf"));
}

TEST_CASE("a report that does not fit on the disk is an error") {
  const results::Results results = test::demo_results();
  const test::TemporaryFolder folder;
  test::draw_demo(folder.path(), results);
  const test::SmallDisk disk(10'000);
  CHECK_THROWS_AS(report::write_report(folder.path(), results, {}, folder.path()), Error);
}
