// Protects: an assessment appears whole or not at all, and a person's own files are never replaced.
#include "results/output_folder.hpp"

#include <fstream>

#include <catch2/catch.hpp>
#include <unistd.h>

#include <inkwane/error.hpp>

#include "tests/support.hpp"

using namespace inkwane;
namespace fs = std::filesystem;

namespace {

using test::TemporaryFolder;

std::ptrdiff_t entries(const fs::path& folder) {
  return std::distance(fs::directory_iterator(folder), fs::directory_iterator());
}

ExitCode refusal(const fs::path& destination) {
  try {
    const results::OutputFolder folder(destination);
  } catch (const Error& error) {
    CHECK_THAT(error.what(), Catch::Matchers::Contains(destination.filename().string()));
    return error.code();
  }
  return ExitCode::done;
}

}  // namespace

TEST_CASE("nothing is left where commit was not reached") {
  const TemporaryFolder here;
  {
    const results::OutputFolder folder(here.path() / "out");
    results::write_text(folder.path() / "results.json", "{}");
    CHECK_FALSE(fs::exists(here.path() / "out"));
  }
  CHECK(entries(here.path()) == 0);
}

TEST_CASE("an earlier assessment is replaced whole") {
  const TemporaryFolder here;
  const fs::path out = here.path() / "out";
  {
    results::OutputFolder folder(out);
    results::write_text(folder.path() / "results.json", "old");
    results::write_text(folder.make("maps") / "gone.png", "x");
    folder.commit();
  }
  {
    results::OutputFolder folder(out);
    results::write_text(folder.path() / "results.json", "new");
    folder.commit();
  }
  CHECK(entries(here.path()) == 1);
  CHECK_FALSE(fs::exists(out / "maps"));
  std::string text;
  std::ifstream(out / "results.json") >> text;
  CHECK(text == "new");
}

TEST_CASE("anything else is refused") {
  const TemporaryFolder here;
  const fs::path out = here.path() / "out";
  fs::create_directories(out);
  CHECK(refusal(out) == ExitCode::done);  // empty
  std::ofstream(out / "results.json") << "{}";
  CHECK(refusal(out) == ExitCode::done);
  std::ofstream(out / "my notes.txt") << "mine";
  CHECK(refusal(out) == ExitCode::usage);
  fs::remove(out / "my notes.txt");
  fs::remove(out / "results.json");
  std::ofstream(out / "report.html") << "";
  CHECK(refusal(out) == ExitCode::usage);
  std::ofstream(here.path() / "file") << "";
  CHECK(refusal(here.path() / "file") == ExitCode::usage);
}

TEST_CASE("a folder that cannot be made is an output error") {
  const TemporaryFolder here;
  std::ofstream(here.path() / "file") << "";
  CHECK(refusal(here.path() / "file" / "out") == ExitCode::output);
}

TEST_CASE("what a killed run left is swept away") {
  const TemporaryFolder here;
  // No process has this number: the kernel's limit is 2^22.
  const fs::path stale = here.path() / ".out.inkwane-working-99999999";
  fs::create_directories(stale);
  const fs::path other = here.path() / (".out.inkwane-working-" + std::to_string(getppid()));
  fs::create_directories(other);
  { const results::OutputFolder folder(here.path() / "out"); }
  CHECK_FALSE(fs::exists(stale));
  CHECK(fs::exists(other));
}

TEST_CASE("a full disk is an output error") {
  CHECK_THROWS_AS(results::write_text("/dev/full", "text"), Error);
}
