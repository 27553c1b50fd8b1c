// A treatment file read and put back: whole or not at all, and never over somebody else's change.
#pragma once

#include <filesystem>
#include <string>

#include <inkwane/error.hpp>

namespace inkwane::treatment {

/// The file holds something else than the text that was changed: for callers that can ask.
class ChangedUnderneath : public Error {
 public:
  explicit ChangedUnderneath(const std::filesystem::path& file);
};

/// Throws Error(usage), naming the file.
[[nodiscard]] std::string read_text(const std::filesystem::path& file);

/// Lower-case hexadecimal.
[[nodiscard]] std::string sha256(const std::string& text);

/// Where copies of replaced files are kept, beside `file`.
[[nodiscard]] std::filesystem::path backup_folder(const std::filesystem::path& file);

/// Replaces the file's text in one go (temporary file, fsync, rename), its permissions kept, after
/// laying a copy of what it held into backup_folder(). Nothing happens where the text is already
/// that. Throws ChangedUnderneath unless the file's SHA-256 is `before`, and Error(output) where it
/// can't be written; the file is then as it was.
void replace_text(const std::filesystem::path& file, const std::string& text,
                  const std::string& before);

}  // namespace inkwane::treatment
