// Treatment files made in a test.
#pragma once

#include <filesystem>
#include <fstream>
#include <string>

#include <catch2/catch.hpp>

#include <inkwane/error.hpp>
#include <inkwane/treatment.hpp>

#include "tests/support.hpp"

namespace inkwane::test {

inline const std::string kTwoStages = R"(inkwane = 1
[object]
title = "A sheet"
[[stage]]
id = "BT"
recto = "bt.tif"
[[stage]]
id = "AT"
recto = "at.tif"
)";

inline Treatment read(const std::string& text) {
  const TemporaryFolder folder;
  const auto file = folder / "treatment.toml";
  std::ofstream(file) << text;
  return read_treatment(file);
}

/// The sentence a treatment file is refused with.
inline std::string refusal(const std::string& text) {
  try {
    (void)read(text);
  } catch (const Error& error) {
    CHECK(error.code() == ExitCode::usage);
    return error.what();
  }
  FAIL("was accepted:\n" << text);
  return {};
}

}  // namespace inkwane::test
