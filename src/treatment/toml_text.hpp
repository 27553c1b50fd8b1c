// The text of a TOML file, changed by ranges: what is not changed stays byte for byte as its writer
// left it, comments, order and line ends included. Internal to this room.
#pragma once

#include <cstddef>
#include <string>
#include <string_view>
#include <vector>

#include <toml++/toml.h>

namespace inkwane::treatment {

/// A table and how it is written: within braces on one line, or a key a line.
struct Spot {
  const toml::table* table = nullptr;
  bool in_braces = false;

  /// The table below `key`; it must be one.
  [[nodiscard]] Spot below(std::string_view key) const;
};

class TomlText {
 public:
  /// Throws toml::parse_error.
  TomlText(std::string text, const std::string& file);

  [[nodiscard]] const toml::table& root() const { return root_; }
  [[nodiscard]] Spot top() const { return {&root_, false}; }
  /// The line end that the file uses.
  [[nodiscard]] const std::string& line_end() const { return line_end_; }

  /// Puts `value` in the place of a value. Comments inside the old one are kept inside the new one,
  /// which must then be an array.
  void replace(const toml::node& value, const std::string& with);
  /// Adds `key = value` to the table, after the key `anchor`, written like it (indent, dotted
  /// prefix). `anchor` must not be a table under a header of its own.
  void add_after(const Spot& spot, std::string_view anchor, const std::string& key,
                 const std::string& value);
  /// Adds the first key of a table that has none.
  void add_first(const Spot& spot, const std::string& key, const std::string& value);
  /// Takes a key and its value away; a comment behind it stays.
  void remove(const Spot& spot, std::string_view key);

  /// Adds a table to an array of tables: after the last one, or, in an array in brackets, first.
  /// `pairs`: its keys and values as TOML.
  void append_table(std::string_view array,
                    const std::vector<std::pair<std::string, std::string>>& pairs);
  /// Takes one table of an array of tables away, its header and all its keys.
  void remove_table(std::string_view array, std::size_t index);

  /// The text with all changes made. Throws std::logic_error where two of them overlap.
  [[nodiscard]] std::string changed() const;

 private:
  struct Range {
    std::size_t begin = 0, end = 0;
  };
  struct Change {
    Range range;
    std::string with;
  };

  [[nodiscard]] std::size_t offset(const toml::source_position& at) const;
  [[nodiscard]] Range range_of(const toml::source_region& region) const;
  [[nodiscard]] std::size_t line_start(std::size_t at) const;
  /// Before the line end, or the end of the text.
  [[nodiscard]] std::size_t end_of_line(std::size_t at) const;
  [[nodiscard]] std::size_t next_line(std::size_t at) const;
  [[nodiscard]] std::vector<std::string> comments_in(const Range& range) const;
  /// Where a key with its dotted prefix begins.
  [[nodiscard]] std::size_t start_of_pair(const Spot& spot, const toml::key& key) const;
  /// Of a table under a header: to the end of the line of its last key.
  [[nodiscard]] Range block_of(const toml::table& table) const;
  /// An element of a list in brackets or braces with the one comma that goes with it.
  [[nodiscard]] Range with_comma(Range element) const;
  void change(const Range& range, std::string with);

  std::string text_, line_end_;
  std::vector<std::size_t> lines_;  // where each begins
  toml::table root_;
  std::vector<Change> changes_;
};

/// A TOML basic string (TOML 1.0.0, "String").
[[nodiscard]] std::string toml_string(std::string_view words);

}  // namespace inkwane::treatment
