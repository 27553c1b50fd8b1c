// Protects: the PDF says what the page says, in text that can be read back, with its fonts inside,
// and is fit to be kept. Checked with programs of other people: qpdf, and poppler's pdftotext,
// pdffonts and pdfinfo.
#include <algorithm>
#include <fstream>
#include <regex>
#include <sstream>

#include <catch2/catch.hpp>

#include "report/report.hpp"
#include "tests/map/read_back.hpp"
#include "tests/report/demo_results.hpp"
#include "tests/support.hpp"

using namespace inkwane;

namespace {

struct Written {
  explicit Written(const results::Results& results, const report::Options& options = {}) {
    report::write_report(test::drawn_demo(), results, options, folder.path());
    file = (folder / "report.pdf").string();
  }
  test::TemporaryFolder folder;
  std::string file;
};

std::string output_of(const std::string& program, const std::vector<std::string>& arguments) {
  const test::Outcome outcome = test::run("/usr/bin/" + program, arguments);
  INFO(program << ": " << outcome.err);
  REQUIRE(outcome.code == 0);
  return outcome.out;
}

bool has(const std::string& text, const std::string& what) {
  return text.find(what) != std::string::npos;
}

/// With every stretch of white space as one space, so that lines may break anywhere.
std::string flowing(const std::string& text) {
  return std::regex_replace(text, std::regex("[\\s\u00a0]+"), " ");
}

}  // namespace

TEST_CASE("the PDF is sound, of A4 pages, with its fonts inside") {
  const Written written(test::demo_results());
  CHECK(has(output_of("qpdf", {"--check", written.file}), "No syntax or stream encoding errors"));
  const std::string info = output_of("pdfinfo", {written.file});
  CHECK(has(info, "A4"));
  CHECK(has(info, "Title:           Marlow Vale Nurseries"));
  CHECK(has(info, "Author:          The conservator"));
  CHECK(has(info, "Metadata Stream: yes"));
  std::istringstream fonts(output_of("pdffonts", {written.file}));
  std::string line;
  int count = 0;
  while (std::getline(fonts, line)) {
    if (line.starts_with("name") || line.starts_with("---")) continue;
    INFO(line);
    CHECK(std::regex_search(line, std::regex(R"( yes yes yes +\d+ +\d+$)")));  // emb sub uni
    ++count;
  }
  CHECK(count >= 4);
}

TEST_CASE("every page carries the sheet's name, its identifier and the page's number") {
  const Written written(test::demo_results());
  std::istringstream pages(output_of("pdftotext", {"-layout", written.file, "-"}));
  std::vector<std::string> texts;
  std::string text;
  while (std::getline(pages, text, '\f'))
    if (!flowing(text).empty() && flowing(text) != " ") texts.push_back(flowing(text));
  REQUIRE(texts.size() > 8);
  for (std::size_t i = 0; i < texts.size(); ++i) {
    INFO(texts[i]);
    CHECK(has(texts[i], "MVN-1931-07"));
    CHECK(has(texts[i], "Dahlias and Spring Bulbs"));
    CHECK(has(texts[i], "Page " + std::to_string(i + 1) + " of " + std::to_string(texts.size())));
  }
}

TEST_CASE("the PDF says what the page says") {
  const results::Results results = test::demo_results();
  const Written written(results);
  const std::string text = flowing(output_of("pdftotext", {"-layout", written.file, "-"}));
  for (const results::Region& region : results.regions) CHECK(has(text, region.name));
  for (const results::Scan& scan : results.scans) CHECK(has(text, scan.file));
  for (const char* words :
       {"87 %", "(83 to 91 %)", "What these scans cannot tell", "The conservator’s statement",
        "Interpretation", "Observation", "Name, signature, date", "calcium hydroxide", "46.20",
        "not detectable", "ISO 12647-2:2013"})
    CHECK(has(text, words));
}

TEST_CASE("the client's PDF holds no path and no hash") {
  const results::Results results = test::demo_results();
  const Written written(results, {true});
  const std::string text = flowing(output_of("pdftotext", {"-layout", written.file, "-"}));
  CHECK_FALSE(has(text, results.scans[0].file));
  CHECK_FALSE(has(text, "SHA-256"));
  CHECK_FALSE(has(text, ".tif"));
}

// ISO 19005-2 (PDF/A-2), by what its clauses are known to ask (from memory; no validator among
// Debian's packages): output intent with a profile (6.2.3), no interpolation (6.2.8), XMP with the
// part and the level (6.6.4), the same in the information dictionary (6.6.3), an ID (6.1.3), no
// encryption (6.1.3), no JavaScript and no file to be opened (6.5).
TEST_CASE("the PDF keeps to what PDF/A-2b asks, as far as it is checked here") {
  results::Results results = test::demo_results();
  results.object.title = "Dahlias & <Bulbs>, plate “7”";
  const Written written(results);
  const std::string bytes = test::bytes_of(written.file);
  CHECK(bytes.starts_with("%PDF-1.7\n%"));
  CHECK(has(bytes, "<pdfaid:part>2</pdfaid:part>"));
  CHECK(has(bytes, "<pdfaid:conformance>B</pdfaid:conformance>"));
  CHECK(has(bytes, "Dahlias &amp; &lt;Bulbs&gt;, plate “7”</rdf:li>"));
  CHECK(has(bytes, "/GTS_PDFA1"));
  CHECK(has(bytes, "/DestOutputProfile"));
  CHECK(has(bytes, "/ID ["));
  const auto times = [&](const std::string& what) {
    int count = 0;
    for (auto at = bytes.find(what); at != std::string::npos; at = bytes.find(what, at + 1))
      ++count;
    return count;
  };
  CHECK(times("/CIDFontType2") > 0);
  CHECK(times("/CIDFontType2") == times("/CIDToGIDMap /Identity"));  // 6.2.11.3.2
  for (const char* forbidden : {"/Interpolate", "/Encrypt", "/JavaScript", "/Launch",
                                "/EmbeddedFile", "/LZWDecode", "/CreationDate", "/ModDate"}) {
    INFO(forbidden);
    CHECK_FALSE(has(bytes, forbidden));
  }
  CHECK(has(output_of("pdfinfo", {written.file}), "Dahlias & <Bulbs>, plate “7”"));
}

TEST_CASE("the same results make the same PDF, byte for byte") {
  const results::Results results = test::demo_results();
  CHECK(test::bytes_of(Written(results).file) == test::bytes_of(Written(results).file));
}

TEST_CASE("a long record breaks over pages and repeats the heads of its tables") {
  results::Results results = test::demo_results();
  const SpotTest test = results.spot_tests[0];
  for (int i = 0; i < 80; ++i) results.spot_tests.push_back(test);
  const Written written(results);
  const std::string text = output_of("pdftotext", {"-layout", written.file, "-"});
  std::istringstream pages(text);
  std::string page;
  int heads = 0;
  while (std::getline(pages, page, '\f')) heads += has(page, "Seen on the blotter") ? 1 : 0;
  CHECK(heads >= 3);
}

TEST_CASE("nothing at all, and one stage, make a PDF as well") {
  const Written nothing(results::Results{});
  CHECK(has(output_of("qpdf", {"--check", nothing.file}), "No syntax or stream encoding errors"));
  results::Results one = test::demo_results();
  one.stages.resize(1);
  one.sides.clear();
  one.maps.clear();
  one.course.reset();
  for (results::Region& region : one.regions) {
    region.changes.clear();
    region.stages.resize(1);
  }
  const Written written(one);
  CHECK(has(flowing(output_of("pdftotext", {written.file, "-"})), "scanned once"));
}
