#include "treatment/toml_text.hpp"

#include <algorithm>
#include <stdexcept>

#include <fmt/format.h>

namespace inkwane::treatment {
namespace {

constexpr std::string_view kByteOrderMark = "\xEF\xBB\xBF";

bool is_blank(char c) {
  return c == ' ' || c == '\t' || c == '\r' || c == '\n';
}

/// The first byte of a UTF-8 character; toml++ counts columns in characters.
bool leads(char c) {
  return (static_cast<unsigned char>(c) & 0xC0U) != 0x80U;
}

std::string joined(const std::vector<std::pair<std::string, std::string>>& pairs,
                   const std::string& between) {
  std::string out;
  for (const auto& [key, value] : pairs) {
    if (!out.empty()) out += between;
    out += fmt::format("{} = {}", key, value);
  }
  return out;
}

}  // namespace

Spot Spot::below(std::string_view key) const {
  const toml::table* child = table->get_as<toml::table>(key);
  return {child, in_braces || child->is_inline()};
}

TomlText::TomlText(std::string text, const std::string& file)
    : text_(std::move(text)),
      line_end_(text_.find("\r\n") == std::string::npos ? "\n" : "\r\n"),
      root_(toml::parse(text_, file)) {
  lines_.push_back(text_.starts_with(kByteOrderMark) ? kByteOrderMark.size() : 0);
  for (std::size_t i = 0; i < text_.size(); ++i) {
    if (text_[i] == '\n') lines_.push_back(i + 1);
  }
}

std::size_t TomlText::offset(const toml::source_position& at) const {
  std::size_t i = lines_.at(at.line - 1);
  for (auto column = at.column; column > 1 && i < text_.size(); --column) {
    do ++i;
    while (i < text_.size() && !leads(text_[i]));
  }
  return i;
}

TomlText::Range TomlText::range_of(const toml::source_region& region) const {
  return {offset(region.begin), offset(region.end)};
}

std::size_t TomlText::line_start(std::size_t at) const {
  return *(std::upper_bound(lines_.begin(), lines_.end(), at) - 1);
}

std::size_t TomlText::end_of_line(std::size_t at) const {
  const std::size_t end = std::min(text_.find('\n', at), text_.size());
  return end > at && text_[end - 1] == '\r' ? end - 1 : end;
}

std::size_t TomlText::next_line(std::size_t at) const {
  const std::size_t end = text_.find('\n', at);
  return end == std::string::npos ? text_.size() : end + 1;
}

std::vector<std::string> TomlText::comments_in(const Range& range) const {
  std::vector<std::string> comments;
  std::size_t at = range.begin;
  while ((at = text_.find('#', at)) < range.end) {
    const std::size_t end = end_of_line(at);
    comments.push_back(text_.substr(at, end - at));
    at = end;
  }
  return comments;
}

std::size_t TomlText::start_of_pair(const Spot& spot, const toml::key& key) const {
  std::size_t at = offset(key.source().begin);
  if (!spot.in_braces) return line_start(at);
  while (at > 0 && text_[at - 1] != '{' && text_[at - 1] != ',') --at;
  while (is_blank(text_[at])) ++at;
  return at;
}

TomlText::Range TomlText::block_of(const toml::table& table) const {
  Range block = range_of(table.source());
  for (const auto& [key, value] : table) {
    block.end = std::max(block.end, offset(value.source().end));
  }
  return {line_start(block.begin), next_line(block.end)};
}

TomlText::Range TomlText::with_comma(Range element) const {
  std::size_t after = element.end;
  while (after < text_.size() && is_blank(text_[after])) ++after;
  if (after < text_.size() && text_[after] == ',') {
    do ++after;
    while (after < text_.size() && text_[after] == ' ');
    return {element.begin, after};
  }
  std::size_t before = element.begin;
  while (before > 0 && is_blank(text_[before - 1])) --before;
  if (before > 0 && text_[before - 1] == ',') element.begin = before - 1;
  return element;
}

void TomlText::change(const Range& range, std::string with) {
  changes_.push_back({range, std::move(with)});
}

void TomlText::replace(const toml::node& value, const std::string& with) {
  const Range range = range_of(value.source());
  std::string opening;
  if (value.is_array()) {
    for (const std::string& comment : comments_in(range)) {
      opening += fmt::format(" {}{}", comment, line_end_);
    }
  }
  change(range, opening.empty() ? with : fmt::format("[{}  {}", opening, with.substr(1)));
}

void TomlText::add_after(const Spot& spot, std::string_view anchor, const std::string& key,
                         const std::string& value) {
  const auto found = spot.table->find(anchor);
  const std::size_t start = start_of_pair(spot, found->first);
  const std::string prefix = text_.substr(start, offset(found->first.source().begin) - start);
  const std::size_t end = offset(found->second.source().end);
  const std::size_t at = spot.in_braces ? end : end_of_line(end);
  change({at, at},
         fmt::format("{}{}{} = {}", spot.in_braces ? ", " : line_end_, prefix, key, value));
}

void TomlText::add_first(const Spot& spot, const std::string& key, const std::string& value) {
  const std::size_t begin = offset(spot.table->source().begin);
  const std::size_t at = spot.in_braces ? begin + 1 : end_of_line(begin);
  change({at, at}, fmt::format("{}{} = {}{}", spot.in_braces ? " " : line_end_, key, value,
                               spot.in_braces ? " " : ""));
}

void TomlText::remove(const Spot& spot, std::string_view key) {
  const auto found = spot.table->find(key);
  const std::size_t start = start_of_pair(spot, found->first);
  const std::size_t end = offset(found->second.source().end);
  if (spot.in_braces) return change(with_comma({start, end}), "");
  const std::size_t line_end = end_of_line(end);
  const std::size_t comment = text_.find('#', end);
  if (comment < line_end) return change({start, comment}, "");
  change({start, next_line(end)}, "");
}

void TomlText::append_table(std::string_view array,
                            const std::vector<std::pair<std::string, std::string>>& pairs) {
  const toml::array* tables = root_.get_as<toml::array>(array);
  const toml::table* last =
      tables == nullptr || tables->empty() ? nullptr : tables->back().as_table();
  if (tables != nullptr && (last == nullptr || last->is_inline())) {
    const std::size_t at = offset(tables->source().begin) + 1;
    return change({at, at}, fmt::format("{{ {} }}, ", joined(pairs, ", ")));
  }
  std::size_t at = text_.size();
  std::string indent;
  if (last != nullptr) {
    const Range block = block_of(*last);
    at = block.end;
    indent = text_.substr(block.begin, offset(last->source().begin) - block.begin);
  }
  std::string with = at == 0 || text_[at - 1] == '\n' ? "" : line_end_;
  with += fmt::format("{0}{1}[[{2}]]{0}{1}{3}{0}", line_end_, indent, array,
                      joined(pairs, line_end_ + indent));
  change({at, at}, std::move(with));
}

void TomlText::remove_table(std::string_view array, std::size_t index) {
  const toml::table& table = *root_.get_as<toml::array>(array)->get_as<toml::table>(index);
  if (table.is_inline()) return change(with_comma(range_of(table.source())), "");
  Range block = block_of(table);
  // Of the empty lines before and after it, one set is enough.
  const auto empty = [this](std::size_t at) { return end_of_line(at) == at; };
  while (empty(block.end) && block.begin > 0 && empty(line_start(block.begin - 1))) {
    block.begin = line_start(block.begin - 1);
  }
  change(block, "");
}

std::string TomlText::changed() const {
  std::vector<Change> ordered = changes_;
  std::stable_sort(ordered.begin(), ordered.end(), [](const Change& a, const Change& b) {
    return std::pair(a.range.begin, a.range.end) < std::pair(b.range.begin, b.range.end);
  });
  std::string out;
  std::size_t at = 0;
  bool removed = false;  // neighbours that both go may share a comma
  for (const Change& change : ordered) {
    if (change.range.begin < at && !(change.with.empty() && removed)) {
      throw std::logic_error("two changes of one text overlap");
    }
    if (change.range.begin > at) out.append(text_, at, change.range.begin - at);
    out.append(change.with);
    removed = change.with.empty();
    at = std::max(at, change.range.end);
  }
  return out.append(text_, at);
}

std::string toml_string(std::string_view words) {
  std::string out = "\"";
  for (const char c : words) {
    if (c == '"' || c == '\\') {
      out += '\\';
      out += c;
    } else if (static_cast<unsigned char>(c) < 0x20 || c == 0x7F) {
      out += fmt::format("\\u{:04X}", static_cast<unsigned>(c));
    } else {
      out += c;
    }
  }
  return out + '"';
}

}  // namespace inkwane::treatment
