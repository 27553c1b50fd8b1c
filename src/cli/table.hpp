// Text in columns.
#pragma once

#include <string>
#include <vector>

namespace inkwane::cli {

/// Characters, not bytes, of UTF-8.
[[nodiscard]] std::size_t length(const std::string& text);

/// Columns of text, padded to the widest of each; counts characters, not bytes.
class Table {
 public:
  explicit Table(std::vector<std::string> head) { rows_.push_back(std::move(head)); }
  void add(std::vector<std::string> row) { rows_.push_back(std::move(row)); }
  [[nodiscard]] std::string text() const;

 private:
  std::vector<std::vector<std::string>> rows_;
};

}  // namespace inkwane::cli
