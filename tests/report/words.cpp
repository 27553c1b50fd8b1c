// Protects: a translation is one file. Every key that the report asks for has words, and every word
// in the file is asked for.
#include "report/words.hpp"

#include <fstream>
#include <iterator>

#include <catch2/catch.hpp>

#include "tests/map/read_back.hpp"

using namespace inkwane;

namespace {

/// All sources of the report's room, one after the other.
std::string sources() {
  std::string text;
  const std::filesystem::path room = std::filesystem::path(INKWANE_SOURCE) / "src/report";
  for (const auto& entry : std::filesystem::recursive_directory_iterator(room)) {
    const auto kind = entry.path().extension();
    if (kind == ".cpp" || kind == ".js") text += test::bytes_of(entry.path());
  }
  return text;
}

}  // namespace

TEST_CASE("all words of the report are asked for") {
  const std::string text = sources();
  REQUIRE(text.size() > 50'000);
  for (const std::string& key : report::all_keys()) {
    // Keys that are put together end in what they are about; the script asks for its own by name.
    const auto dot = key.find('.');
    const std::string section = key.substr(0, dot), name = key.substr(dot + 1);
    std::vector<std::string> asked{"\"" + key + "\""};
    if (section == "viewer") asked.push_back("words." + name);
    if (section == "roles") asked.emplace_back("\"roles.\" +");
    if (section == "maps") asked.emplace_back("\"maps.\" +");
    if (section == "grades") asked.emplace_back("\"grades.");
    if (section == "course" && name.starts_with("against_"))
      asked.emplace_back("\"course.against_\"");
    INFO(key);
    CHECK(std::any_of(asked.begin(), asked.end(), [&](const std::string& each) {
      return text.find(each) != std::string::npos;
    }));
  }
}

TEST_CASE("a key without words is an error of the program") {
  CHECK_THROWS_AS(report::say("front.there-is-no-such-key"), std::logic_error);
  CHECK(report::says("front.summary"));
  CHECK_FALSE(report::says("front.there-is-no-such-key"));
}

TEST_CASE("what is filled in stands where the words want it") {
  CHECK(report::say("common.to", fmt::arg("low", "1"), fmt::arg("high", "2")) == "1 to 2");
}
