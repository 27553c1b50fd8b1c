#include "report/document.hpp"

namespace inkwane::report {

Text plain(std::string text) {
  return {{std::move(text), Run::Look::plain, {}}};
}
Text strong(std::string text) {
  return {{std::move(text), Run::Look::strong, {}}};
}
Text soft(std::string text) {
  return {{std::move(text), Run::Look::soft, {}}};
}
Text code(std::string text) {
  return {{std::move(text), Run::Look::code, {}}};
}
Text operator+(Text one, const Text& two) {
  one.insert(one.end(), two.begin(), two.end());
  return one;
}
std::string words_of(const Text& text) {
  std::string words;
  for (const Run& run : text) words += run.text;
  return words;
}

}  // namespace inkwane::report
