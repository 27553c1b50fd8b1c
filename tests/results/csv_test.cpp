// Protects: regions.csv keeps one column a heading whatever the names hold (RFC 4180).
#include <algorithm>

#include <catch2/catch.hpp>

#include "results/results.hpp"
#include "tests/results/sample.hpp"

using namespace inkwane;

namespace {

/// Fields of one record; understands quotation marks, so that it can tell a wrong escape.
std::vector<std::string> fields(const std::string& line) {
  std::vector<std::string> out{""};
  bool quoted = false;
  for (std::size_t i = 0; i < line.size(); ++i) {
    const char c = line[i];
    if (quoted && c == '"' && i + 1 < line.size() && line[i + 1] == '"') {
      out.back() += '"';
      ++i;
    } else if (c == '"') {
      quoted = !quoted;
    } else if (c == ',' && !quoted) {
      out.emplace_back();
    } else {
      out.back() += c;
    }
  }
  return out;
}

}  // namespace

TEST_CASE("regions.csv") {
  auto r = sample_results();
  const std::string text = results::to_csv(r);
  const auto header = fields(text.substr(0, text.find("\r\n")));
  const std::string rest = text.substr(text.find("\r\n") + 2);
  const auto row = fields(rest.substr(0, rest.find("\r\n")));
  REQUIRE(row.size() == header.size());
  const auto value = [&](const std::string& name) {
    const auto at = std::find(header.begin(), header.end(), name);
    REQUIRE(at != header.end());
    return row[static_cast<std::size_t>(at - header.begin())];
  };
  CHECK(value("name") == "red, of the \"petals\"");
  CHECK(value("dE00") == "6.5");
  CHECK(value("dE00_high95") == "7");
  CHECK(value("detectable") == "yes");
  CHECK(value("to_L") == "55");
  CHECK(value("strength_kept") == "1.02");
  CHECK(value("residual").empty());
  CHECK(value("warnings") == "Thin.");

  SECTION("one stage alone gives its colour") {
    r.regions[0].changes.clear();
    r.regions[0].stages.resize(1);
    const std::string one = results::to_csv(r);
    CHECK(std::count(one.begin(), one.end(), '\n') == 2);
  }
}

TEST_CASE("findings.csv has one column a heading for every kind of finding") {
  const std::string text = results::findings_csv(sample_results().findings);
  std::vector<std::vector<std::string>> rows;
  for (std::size_t at = 0; at < text.size();) {
    const std::size_t end = text.find("\r\n", at);
    rows.push_back(fields(text.substr(at, end - at)));
    at = end + 2;
  }
  REQUIRE(rows.size() == 9);
  std::vector<std::string> kinds;
  for (const auto& row : rows) {
    CHECK(row.size() == rows.front().size());
    kinds.push_back(row.front());
  }
  CHECK(kinds == std::vector<std::string>{"kind", "suspect", "still_shows", "tideline", "ink",
                                          "ink", "blotter", "blotter_match", "limit"});
  CHECK(rows[1].back() == "It is \"odd\", here.");
}
