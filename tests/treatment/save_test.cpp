// Protects: a treatment file is replaced whole or not at all, never over somebody else's change,
// and what it held before is kept.
#include "treatment/save.hpp"

#include <catch2/catch.hpp>
#include <sys/stat.h>

#include "tests/support.hpp"
#include "tests/treatment/text.hpp"

using namespace inkwane;
namespace fs = std::filesystem;
using treatment::read_text;
using treatment::replace_text;
using treatment::sha256;

namespace {

void write(const fs::path& file, const std::string& text) {
  std::ofstream(file, std::ios::binary) << text;
}

std::size_t entries(const fs::path& folder) {
  return static_cast<std::size_t>(
      std::distance(fs::directory_iterator(folder), fs::directory_iterator()));
}

}  // namespace

TEST_CASE("the hash is SHA-256") {
  // FIPS 180-2, appendix B.1.
  CHECK(sha256("abc") == "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad");
}

TEST_CASE("a save replaces the file, keeps its permissions and a copy of what it held") {
  const test::TemporaryFolder folder;
  const fs::path file = folder / "treatment.toml";
  write(file, "one");
  chmod(file.c_str(), 0640);
  replace_text(file, "two", sha256("one"));
  replace_text(file, "three", sha256("two"));
  CHECK(read_text(file) == "three");
  struct stat status {};
  REQUIRE(stat(file.c_str(), &status) == 0);
  CHECK((status.st_mode & 07777U) == 0640);
  std::vector<std::string> kept;
  for (const auto& entry : fs::directory_iterator(treatment::backup_folder(file))) {
    kept.push_back(read_text(entry.path()));
  }
  std::sort(kept.begin(), kept.end());
  CHECK(kept == std::vector<std::string>{"one", "two"});
  CHECK(entries(folder.path()) == 2);
}

TEST_CASE("a change underneath is never overwritten") {
  const test::TemporaryFolder folder;
  const fs::path file = folder / "treatment.toml";
  write(file, "theirs");
  CHECK_THROWS_AS(replace_text(file, "ours", sha256("what we read")), treatment::ChangedUnderneath);
  CHECK(read_text(file) == "theirs");
  fs::remove(file);
  CHECK_THROWS_AS(replace_text(file, "ours", sha256("theirs")), treatment::ChangedUnderneath);
  CHECK(entries(folder.path()) == 0);
}

TEST_CASE("a link stays a link, and the file behind it is saved") {
  const test::TemporaryFolder folder;
  fs::create_directory(folder / "real");
  write(folder / "real/t.toml", "one");
  fs::create_symlink(folder / "real/t.toml", folder / "treatment.toml");
  replace_text(folder / "treatment.toml", "two", sha256("one"));
  CHECK(fs::is_symlink(folder / "treatment.toml"));
  CHECK(read_text(folder / "real/t.toml") == "two");
}

TEST_CASE("the oldest copies go once there are fifty") {
  const test::TemporaryFolder folder;
  const fs::path file = folder / "treatment.toml";
  write(file, "0");
  for (int i = 1; i <= 60; ++i) {
    replace_text(file, std::to_string(i), sha256(std::to_string(i - 1)));
  }
  CHECK(entries(treatment::backup_folder(file)) == 50);
  bool newest = false;
  for (const auto& entry : fs::directory_iterator(treatment::backup_folder(file))) {
    const std::string text = read_text(entry.path());
    CHECK(std::stoi(text) >= 10);
    newest = newest || text == "59";
  }
  CHECK(newest);
}
