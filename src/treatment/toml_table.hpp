// A TOML table that knows which keys were asked for, and says where in the file a value stands.
#pragma once

#include <array>
#include <filesystem>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include <toml++/toml.h>

#include <inkwane/error.hpp>

namespace inkwane::treatment {

/// A table of the file under its name ("[object]"). Every getter throws Error(usage) that names the
/// file, the line, the key and what was expected.
class Table {
 public:
  Table(const toml::table& table, std::string name, const std::filesystem::path& file)
      : table_(&table), name_(std::move(name)), file_(&file) {}

  /// Refuses keys that are not among `known`.
  void allow_only(const std::vector<std::string_view>& known) const;

  [[nodiscard]] std::optional<std::string> text(std::string_view key) const;
  [[nodiscard]] std::string required_text(std::string_view key) const;
  /// One text, or an array of at least `fewest` different ones; empty where the key is missing.
  [[nodiscard]] std::vector<std::string> texts(std::string_view key, std::size_t fewest) const;
  /// A finite number of at least `low` and at most `high`.
  [[nodiscard]] std::optional<double> number(std::string_view key, double low, double high) const;
  [[nodiscard]] std::optional<int> integer(std::string_view key, int low, int high) const;
  [[nodiscard]] std::optional<bool> flag(std::string_view key) const;
  /// A TOML date or a text of the form YYYY-MM-DD.
  [[nodiscard]] std::optional<std::string> date(std::string_view key) const;
  /// A text, or a number, a date or a time as a person reads it.
  [[nodiscard]] std::optional<std::string> words(std::string_view key) const;
  [[nodiscard]] std::optional<Table> table(std::string_view key) const;
  /// An array of tables, [[key]]; empty where the key is missing.
  [[nodiscard]] std::vector<Table> tables(std::string_view key, const std::string& name) const;
  [[nodiscard]] const toml::node* find(std::string_view key) const { return table_->get(key); }
  [[nodiscard]] const toml::table& raw() const { return *table_; }

  [[nodiscard]] int line() const { return static_cast<int>(table_->source().begin.line); }
  [[nodiscard]] int line_of(std::string_view key) const;
  /// "file, line 12: [object] title: …"
  [[noreturn]] void fail(std::string_view key, const std::string& what) const;
  [[noreturn]] void fail_at(int line, const std::string& what) const;

 private:
  const toml::table* table_;
  std::string name_;
  const std::filesystem::path* file_;
};

}  // namespace inkwane::treatment
