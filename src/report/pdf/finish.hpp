// What makes a PDF one to be kept: PDF/A-2b's output intent, metadata, and the ban on what a reader
// would have to guess.
#pragma once

#include <string>

#include "report/document.hpp"

namespace inkwane::report {

/// The bytes of the finished file. Throws Error(output).
[[nodiscard]] std::string finished(const std::string& pdf, const Document& document);

}  // namespace inkwane::report
