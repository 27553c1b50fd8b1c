#include "treatment/save.hpp"

#include <algorithm>
#include <array>
#include <cerrno>
#include <cstdlib>
#include <ctime>
#include <fstream>
#include <sstream>
#include <system_error>
#include <vector>

#include <fcntl.h>
#include <fmt/chrono.h>
#include <fmt/format.h>
#include <openssl/evp.h>
#include <sys/stat.h>
#include <unistd.h>

namespace inkwane::treatment {
namespace {

namespace fs = std::filesystem;

// Own choice: weeks of saving, yet a folder that can be looked through.
constexpr std::size_t kBackupsKept = 50;

[[noreturn]] void fail(const fs::path& file) {
  throw Error(ExitCode::output,
              fmt::format("{}: cannot be written ({}); mend its permissions or the disk's room. It "
                          "is as it was.",
                          file.string(), std::generic_category().message(errno)));
}

/// An open file that closes, and with a name that goes unless it was released.
class Temporary {
 public:
  explicit Temporary(const fs::path& beside) : name_(beside.string() + ".XXXXXX"), aim_(beside) {
    file_ = mkstemp(name_.data());
    if (file_ < 0) fail(aim_);
  }
  Temporary(const Temporary&) = delete;
  Temporary& operator=(const Temporary&) = delete;
  ~Temporary() {
    close(file_);
    if (!name_.empty()) unlink(name_.c_str());
  }

  void write(const std::string& text) const {
    for (std::size_t at = 0; at < text.size();) {
      const ssize_t done = ::write(file_, text.data() + at, text.size() - at);
      if (done < 0 && errno != EINTR) fail(aim_);
      if (done > 0) at += static_cast<std::size_t>(done);
    }
    if (fsync(file_) != 0) fail(aim_);
  }
  void set_mode(mode_t mode) const {
    if (fchmod(file_, mode) != 0) fail(aim_);
  }
  void put_in_place() {
    if (std::rename(name_.c_str(), aim_.c_str()) != 0) fail(aim_);
    name_.clear();
    // So that the new name survives a power cut as well.
    const int folder = open(aim_.parent_path().c_str(), O_RDONLY | O_DIRECTORY | O_CLOEXEC);
    if (folder < 0) return;
    fsync(folder);
    close(folder);
  }

 private:
  std::string name_;
  fs::path aim_;
  int file_ = -1;
};

void write_whole(const fs::path& file, const std::string& text, mode_t mode) {
  Temporary temporary(file);
  temporary.write(text);
  temporary.set_mode(mode);
  temporary.put_in_place();
}

void keep_copy(const fs::path& file, const std::string& text, mode_t mode) {
  const fs::path folder = backup_folder(file);
  std::error_code code;
  fs::create_directories(folder, code);
  if (code) {
    errno = code.value();
    fail(folder);
  }
  const std::string stamp = fmt::format("{:%Y-%m-%dT%H-%M-%S}", fmt::localtime(std::time(nullptr)));
  std::vector<fs::path> copies;  // oldest first: of one second, by their number
  for (const auto& entry : fs::directory_iterator(folder, code)) {
    if (entry.path().extension() == ".toml") copies.push_back(entry.path());
  }
  std::sort(copies.begin(), copies.end(),
            [](const fs::path& a, const fs::path& b) { return a.stem() < b.stem(); });
  // After the newest, never into a place that an older copy left.
  int number = 1;
  if (!copies.empty()) {
    const std::string newest = copies.back().stem().string();
    if (newest.starts_with(stamp + "-"))
      number = std::atoi(newest.substr(stamp.size() + 1).c_str()) + 1;
  }
  copies.push_back(folder / fmt::format("{}-{:03}.toml", stamp, number));
  write_whole(copies.back(), text, mode);
  for (std::size_t i = 0; i + kBackupsKept < copies.size(); ++i) fs::remove(copies[i], code);
}

}  // namespace

ChangedUnderneath::ChangedUnderneath(const fs::path& file)
    : Error(ExitCode::output,
            fmt::format("{}: was changed by someone else in the meantime, and was left as it is.",
                        file.string())) {}

std::string read_text(const fs::path& file) {
  std::error_code code;
  if (fs::is_directory(file, code)) {
    throw Error(ExitCode::usage,
                fmt::format("{}: is a folder; give the treatment.toml in it.", file.string()));
  }
  std::ifstream in(file, std::ios::binary);
  if (!in) {
    throw Error(ExitCode::usage, fmt::format("{}: the treatment file cannot be read; check its "
                                             "name and permissions, or write one with "
                                             "`inkwane new`.",
                                             file.string()));
  }
  std::ostringstream text;
  text << in.rdbuf();
  return text.str();
}

std::string sha256(const std::string& text) {
  std::array<unsigned char, EVP_MAX_MD_SIZE> digest{};
  unsigned size = 0;
  if (EVP_Digest(text.data(), text.size(), digest.data(), &size, EVP_sha256(), nullptr) != 1) {
    throw Error(ExitCode::output, "memory ran out while a text was hashed; close other programs.");
  }
  std::string out;
  for (unsigned i = 0; i < size; ++i) out += fmt::format("{:02x}", digest[i]);
  return out;
}

fs::path backup_folder(const fs::path& file) {
  return file.parent_path() / fmt::format("{}-backups", file.stem().string());
}

void replace_text(const fs::path& file, const std::string& text, const std::string& before) {
  std::error_code code;
  const fs::path real = fs::canonical(file, code);  // a link stays a link
  if (code) throw ChangedUnderneath(file);
  const std::string now = read_text(real);
  if (sha256(now) != before) throw ChangedUnderneath(file);
  if (now == text) return;
  struct stat status {};
  if (stat(real.c_str(), &status) != 0) fail(real);
  if (access(real.c_str(), W_OK) != 0) fail(real);  // a rename would step over write protection
  const mode_t mode = status.st_mode & 07777U;
  keep_copy(real, now, mode);
  write_whole(real, text, mode);
}

}  // namespace inkwane::treatment
