#include "report/html/tags.hpp"

#include <cctype>

#include <fmt/format.h>
#include <kainjow/mustache.hpp>

namespace inkwane::report {

std::string escaped(const std::string& text) {
  return kainjow::mustache::html_escape(text);
}

std::string id_of(const std::string& words) {
  std::string id;
  for (const char c : words) {
    const auto byte = static_cast<unsigned char>(c);
    if (std::isalnum(byte) != 0 && byte < 0x80)
      id += c;
    else
      id += c == '-' ? "-" : fmt::format("_{:02x}", byte);  // told apart, whatever was written
  }
  return id;
}

void Page::start(const std::string& tag, const Attributes& attributes) {
  html_ += "<" + tag;
  for (const auto& [name, value] : attributes)
    html_ += fmt::format(" {}=\"{}\"", name, escaped(value));
  html_ += ">";
}

Page& Page::open(const std::string& tag, const Attributes& attributes) {
  start(tag, attributes);
  open_.push_back(tag);
  return *this;
}

Page& Page::close() {
  html_ += "</" + open_.back() + ">";
  open_.pop_back();
  return *this;
}

Page& Page::single(const std::string& tag, const Attributes& attributes) {
  start(tag, attributes);
  return *this;
}

Page& Page::text(const std::string& text) {
  html_ += escaped(text);
  return *this;
}

Page& Page::text(const Text& text) {
  for (const Run& run : text) {
    if (run.text.empty()) continue;
    if (!run.link.empty()) open("a", {{"href", "#" + id_of(run.link)}});
    switch (run.look) {
      case Run::Look::plain:
        this->text(run.text);
        break;
      case Run::Look::strong:
        element("strong", {}, run.text);
        break;
      case Run::Look::soft:
        element("span", {{"class", "soft"}}, run.text);
        break;
      case Run::Look::code:
        element("span", {{"class", "file"}}, run.text);
        break;
      case Run::Look::mark:
        element("span", {{"class", "uncal"}}, run.text);
        break;
    }
    if (!run.link.empty()) close();
  }
  return *this;
}

Page& Page::raw(const std::string& html) {
  html_ += html;
  return *this;
}

std::string Page::take() {
  while (!open_.empty()) close();
  return std::move(html_);
}

}  // namespace inkwane::report
