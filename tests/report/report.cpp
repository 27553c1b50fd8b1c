// Protects: the report tells all that was found, with its doubts, to a person who has only this
// file.
#include "report/report.hpp"

#include <algorithm>
#include <fstream>
#include <set>

#include <catch2/catch.hpp>

#include <inkwane/error.hpp>

#include "tests/map/read_back.hpp"
#include "tests/report/demo_results.hpp"
#include "tests/support.hpp"

using namespace inkwane;
using Catch::Contains;

namespace {

std::string report_of(const results::Results& results) {
  const test::TemporaryFolder folder;
  test::draw_demo(folder.path(), results);
  report::write_report(folder.path(), results);
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

TEST_CASE("the report names every region, scan, stage and warning") {
  const results::Results results = test::demo_results();
  const std::string html = without_pictures(report_of(results));
  CHECK(has(html, results.object.title));
  CHECK(has(html, results.object.identifier));
  CHECK(has(html, results.object.client));
  CHECK(has(html, results.object.description));
  for (const results::Region& region : results.regions) {
    CHECK(count(html, region.name) >= 3);  // its change, the chart, its colours
    CHECK(has(html, region.id));
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
  const std::string html = without_pictures(report_of(results));
  CHECK(has(html, ">4.07</span><span class=\"ci\">3.71 to 4.47<"));
  CHECK(has(html, ">83\u00a0%</span><span class=\"ci\">78 to 87\u00a0%<"));
  CHECK(has(html, "46.20 <span class=\"u\">±&nbsp;0.38"));
  CHECK(count(html, "<span class=\"none\">–</span>") == 1);  // the title's strength
  CHECK_FALSE(has(html, ">nan<"));
  CHECK_FALSE(has(html, ">inf<"));
}

TEST_CASE("what people wrote cannot become part of the page") {
  const std::string evil = "<script>alert(\"1\")</script> & 'more'";
  results::Results results = test::demo_results();
  results.object.title = results.object.identifier = results.object.client = evil;
  results.object.description = results.warnings[0] = evil;
  results.stages[1].note = evil;
  results.stages[1].steps[0].kind = evil;
  results.stages[1].steps[0].details[0] = {evil, evil};
  results.regions[0].id = results.regions[0].name = evil;
  results.regions[0].warnings = {evil};
  results.scans[0].file = results.scans[0].profile = results.scans[0].target->model = evil;
  const std::string html = without_pictures(report_of(results));
  CHECK_FALSE(has(html, "<script"));
  CHECK_FALSE(has(html, "\"1\")"));
  CHECK(count(html, "&lt;script&gt;") >= 15);
}

TEST_CASE("an uncalibrated report marks every number that rests on colour") {
  const std::string html = without_pictures(report_of(uncalibrated()));
  const std::string mark = "<span class=\"uncal\">uncal.</span>";
  CHECK(has(html, "<strong>Uncalibrated.</strong>"));
  const std::string number = "<span class=\"n\">", end = "</span>";
  std::size_t marked = 0;
  for (auto at = html.find(number); at != std::string::npos; at = html.find(number, at + 1)) {
    auto after = html.find(end, at) + end.size();
    const bool has_uncertainty = html.find("<span class=\"u\">", at) < after;
    if (has_uncertainty) after = html.find(end, after) + end.size();
    INFO(html.substr(at, after - at));
    CHECK(html.compare(after, mark.size(), mark) == 0);
    ++marked;
  }
  CHECK(marked > 100);
  CHECK(count(html, mark) > marked);  // headings and maps too
}

TEST_CASE("a calibrated report has no such mark") {
  const std::string html = without_pictures(report_of(test::demo_results()));
  CHECK(has(html, "<strong>Calibrated.</strong>"));
  CHECK_FALSE(has(html, "uncal.<"));
}

TEST_CASE("doubtful results are called doubtful") {
  results::Results results = test::demo_results();
  CHECK_FALSE(has(without_pictures(report_of(results)), "report are doubtful"));
  results.doubtful = true;
  CHECK(has(without_pictures(report_of(results)), "report are doubtful"));
}

TEST_CASE("the report needs nothing beside itself") {
  const std::string html = without_pictures(report_of(test::demo_results()));
  int pictures = 0;
  for (const std::string& source : attributes(html, "src")) {
    CHECK(source.starts_with("data:image/"));
    ++pictures;
  }
  for (const std::string& target : attributes(html, "href")) CHECK(target.starts_with("#"));
  CHECK(pictures == 4 + 8);  // both sides twice, and every map that has a picture
  CHECK_FALSE(has(html, "http:"));
  CHECK_FALSE(has(html, "https:"));
  CHECK_FALSE(has(html, "url("));
  CHECK_FALSE(has(html, "@import"));
  CHECK_FALSE(has(html, "<script"));
}

TEST_CASE("every link inside the page leads somewhere") {
  const std::string html = without_pictures(report_of(test::demo_results()));
  const std::vector<std::string> ids = attributes(html, "id");
  const std::vector<std::string> links = attributes(html, "href");
  CHECK(links.size() >= 8);
  for (const std::string& link : links)
    CHECK(std::find(ids.begin(), ids.end(), link.substr(1)) != ids.end());
}

TEST_CASE("every element that is opened is closed") {
  results::Results one_stage = test::demo_results();
  one_stage.stages.resize(1);
  one_stage.maps.clear();
  one_stage.sides.clear();
  for (results::Region& region : one_stage.regions) {
    region.changes.clear();
    region.stages.resize(1);
  }
  CHECK(unbalanced(without_pictures(report_of(test::demo_results()))) == "");
  CHECK(unbalanced(without_pictures(report_of(uncalibrated()))) == "");
  CHECK(unbalanced(without_pictures(report_of(one_stage))) == "");
  CHECK(unbalanced(without_pictures(report_of(results::Results{}))) == "");
  CHECK(unbalanced("<p><b></p></b>") != "");
}

TEST_CASE("the pictures in the page are the files of the folder") {
  const results::Results results = test::demo_results();
  const test::TemporaryFolder folder;
  test::draw_demo(folder.path(), results);
  // base64 of these six bytes and of what follows them (RFC 4648, section 10): "foobar", Zm9vYmFy.
  std::ofstream(folder / results.images[0].file) << "foobar";
  std::ofstream(folder / results.images[1].file) << "foob";
  report::write_report(folder.path(), results);
  const std::string html = test::bytes_of(folder / "report.html");
  CHECK(has(html, "\"data:image/jpeg;base64,Zm9vYmFy\""));
  CHECK(has(html, "\"data:image/jpeg;base64,Zm9vYg==\""));
}

TEST_CASE("of three stages all pairs are reported, the whole treatment first") {
  results::Results results = test::demo_results();
  Stage during = results.stages[1];
  during.id = "DT1";
  results.stages.insert(results.stages.begin() + 1, during);
  for (results::Region& region : results.regions) {
    results::RegionChange change = region.changes[0];
    region.stages.insert(region.stages.begin() + 1, {"DT1", region.stages[0].second});
    region.changes = {change, change, change};
    region.changes[0].to = region.changes[2].from = "DT1";
  }
  const std::string html = without_pictures(report_of(results));
  const auto regions = html.find("id=\"regions\"");
  const auto whole = html.find("From BT to AT", regions);
  const auto first = html.find("From BT to DT1", regions);
  const auto second = html.find("From DT1 to AT", regions);
  REQUIRE(second != std::string::npos);
  CHECK(whole < first);
  CHECK(first < second);
}

TEST_CASE("one stage alone is a report of the sheet as it is") {
  results::Results results = test::demo_results();
  results.stages.resize(1);
  results.sides.clear();
  results.maps.clear();
  for (results::Region& region : results.regions) region.changes.clear();
  const std::string html = without_pictures(report_of(results));
  CHECK(has(html, "One stage was scanned"));
  CHECK(has(html, "red of the left dahlia"));
  CHECK_FALSE(has(html, "From BT to"));
  CHECK_FALSE(has(html, "id=\"maps\""));
}

TEST_CASE("the page stays below 15 MB, and names what it leaves out") {
  const results::Results results = test::demo_results();
  const test::TemporaryFolder folder;
  test::draw_demo(folder.path(), results);
  for (const results::Map& map : results.maps)
    if (!map.png.empty()) std::ofstream(folder / map.png) << std::string(2'000'000, 'x');
  report::write_report(folder.path(), results);
  const std::string html = test::bytes_of(folder / "report.html");
  CHECK(html.size() < 15'000'000);
  CHECK(html.size() > 10'000'000);
  CHECK(has(without_pictures(html), "maps/bleed-through-verso-BT-AT.png"));
}

TEST_CASE("a picture that is not there is an error that names it") {
  const results::Results results = test::demo_results();
  const test::TemporaryFolder folder;
  test::draw_demo(folder.path(), results);
  std::filesystem::remove(folder / results.images[2].file);
  try {
    report::write_report(folder.path(), results);
    FAIL("a report without its picture");
  } catch (const Error& error) {
    CHECK(error.code() == ExitCode::output);
    CHECK_THAT(error.what(), Contains(results.images[2].file));
  }
}

TEST_CASE("a report that does not fit on the disk is an error") {
  const results::Results results = test::demo_results();
  const test::TemporaryFolder folder;
  test::draw_demo(folder.path(), results);
  const test::SmallDisk disk(10'000);
  CHECK_THROWS_AS(report::write_report(folder.path(), results), Error);
}
