// The files of the page, built into the program.
#pragma once

#include <string_view>

namespace inkwane::desk {

struct PageFile {
  std::string_view name, type, content;
};

/// Null where there is none of that name.
[[nodiscard]] const PageFile* page_file(std::string_view name);

}  // namespace inkwane::desk
