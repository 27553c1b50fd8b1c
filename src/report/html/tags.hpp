// Writing HTML: every tag that is opened is closed, every text escaped.
#pragma once

#include <string>
#include <utility>
#include <vector>

#include "report/document.hpp"

namespace inkwane::report {

using Attributes = std::vector<std::pair<std::string, std::string>>;

[[nodiscard]] std::string escaped(const std::string& text);

class Page {
 public:
  Page& open(const std::string& tag, const Attributes& attributes = {});
  Page& close();
  /// A tag that holds nothing and is not closed: img.
  Page& single(const std::string& tag, const Attributes& attributes);
  Page& text(const std::string& text);
  Page& text(const Text& text);
  /// A tag with nothing but text in it.
  template <typename Words>
  Page& element(const std::string& tag, const Attributes& attributes, const Words& words) {
    return open(tag, attributes).text(words).close();
  }
  /// Text that is HTML already.
  Page& raw(const std::string& html);
  /// All of it; closes what is open.
  [[nodiscard]] std::string take();

 private:
  void start(const std::string& tag, const Attributes& attributes);
  std::string html_;
  std::vector<std::string> open_;
};

/// An id that HTML and links may hold, of any words.
[[nodiscard]] std::string id_of(const std::string& words);

}  // namespace inkwane::report
