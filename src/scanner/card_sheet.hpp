// The scanner's card as a page to print.
#pragma once

#include <string>

namespace inkwane::scanner {

enum class PaperSize { a4, letter };

/// One page of PDF with the card and how to use it. The page's print is the same on either paper.
[[nodiscard]] std::string card_pdf(PaperSize paper);

}  // namespace inkwane::scanner
