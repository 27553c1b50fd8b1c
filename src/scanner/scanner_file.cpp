// scanner.toml: its reading and its text.
#include <array>
#include <cmath>
#include <fstream>
#include <sstream>

#include <fmt/format.h>

#include <inkwane/error.hpp>

#include "scanner/scanner.hpp"
#include "treatment/toml_table.hpp"

namespace inkwane::scanner {
namespace {

using treatment::Table;

// Ranges beyond which a value is a slip.
constexpr double kMostUncertain = 100, kWidestSpreadMm = 5, kMostNoise = 1, kMostDpi = 20'000;

double required(const Table& table, std::string_view key, double low, double high) {
  const auto value = table.number(key, low, high);
  if (!value) table.fail_at(table.line(), fmt::format("the key \"{}\" is missing; add it.", key));
  return *value;
}

Table required_table(const Table& table, std::string_view key) {
  const auto found = table.table(key);
  if (!found) table.fail_at(table.line(), fmt::format("the table [{}] is missing; add it.", key));
  return *found;
}

Eigen::Vector3d required_rgb(const Table& table, std::string_view key) {
  const toml::node* node = table.find(key);
  const toml::array* three = node == nullptr ? nullptr : node->as_array();
  Eigen::Vector3d values;
  bool good = three != nullptr && three->size() == 3;
  for (std::size_t c = 0; good && c < 3; ++c) {
    good = (*three)[c].is_number();
    if (!good) break;
    values[static_cast<Eigen::Index>(c)] = *(*three)[c].value<double>();
    good = values[static_cast<Eigen::Index>(c)] >= 0 &&
           values[static_cast<Eigen::Index>(c)] <= kMostNoise;
  }
  if (!good)
    table.fail(key, fmt::format("must be three numbers from 0 to {}, for R, G and B.", kMostNoise));
  return values;
}

StrayLightEstimate read_stray_light(const Table& table) {
  table.allow_only({"kappa", "u_kappa", "length_mm", "u_length_mm", "correlation"});
  StrayLightEstimate estimate;
  estimate.value.kappa = required(table, "kappa", 0, kMostKappa);
  estimate.u_kappa = required(table, "u_kappa", 0, kMostUncertain);
  estimate.value.length_mm = required(table, "length_mm", 1, kMostLengthMm);
  estimate.u_length_mm = required(table, "u_length_mm", 0, kMostUncertain);
  estimate.correlation = table.number("correlation", -1, 1).value_or(0);
  return estimate;
}

PointSpread read_point_spread(const Table& table) {
  table.allow_only({"x_mm", "u_x_mm", "y_mm", "u_y_mm"});
  PointSpread spread;
  spread.x_mm = required(table, "x_mm", 0, kWidestSpreadMm);
  spread.u_x_mm = required(table, "u_x_mm", 0, kWidestSpreadMm);
  spread.y_mm = required(table, "y_mm", 0, kWidestSpreadMm);
  spread.u_y_mm = required(table, "u_y_mm", 0, kWidestSpreadMm);
  return spread;
}

std::string quoted(const std::string& text) {
  std::ostringstream out;
  out << toml::value<std::string>(text);
  return out.str();
}

std::string rgb(const Eigen::Vector3d& v) {
  return fmt::format("[{:.6f}, {:.6f}, {:.6f}]", v[0], v[1], v[2]);
}

}  // namespace

Scanner read_scanner(const std::filesystem::path& file) {
  std::ifstream in(file, std::ios::binary);
  std::error_code code;
  if (!in || std::filesystem::is_directory(file, code)) {
    throw Error(ExitCode::scan,
                fmt::format("{}: the scanner's file cannot be read; check the path, or "
                            "write one with `inkwane scanner`.",
                            file.string()));
  }
  std::ostringstream text;
  text << in.rdbuf();
  toml::table root;
  try {
    root = toml::parse(text.str(), file.string());
  } catch (const toml::parse_error& error) {
    throw Error(ExitCode::usage, fmt::format("{}, line {}: {}; correct it.", file.string(),
                                             error.source().begin.line, error.description()));
  }
  const Table table(root, "the file", file);
  if (!table.integer("inkwane_scanner", 1, 1)) {
    table.fail_at(1,
                  "is not a scanner's file (it lacks inkwane_scanner = 1); write one with "
                  "`inkwane scanner`.");
  }
  table.allow_only({"inkwane_scanner", "card", "sha256", "resolution_dpi", "profile", "stray_light",
                    "point_spread", "noise"});
  Scanner scanner;
  scanner.file = table.required_text("card");
  scanner.sha256 = table.required_text("sha256");
  scanner.resolution_dpi = required(table, "resolution_dpi", 1, kMostDpi);
  scanner.profile = table.required_text("profile");
  scanner.stray_light = read_stray_light(required_table(table, "stray_light"));
  scanner.point_spread = read_point_spread(required_table(table, "point_spread"));
  const Table noise = required_table(table, "noise");
  noise.allow_only({"floor", "slope"});
  scanner.noise = {required_rgb(noise, "floor"), required_rgb(noise, "slope")};
  return scanner;
}

std::string to_toml(const Scanner& scanner) {
  const StrayLightEstimate& stray = scanner.stray_light;
  const PointSpread& spread = scanner.point_spread;
  return fmt::format(
      "# What this scanner does to every scan, measured on its card by `inkwane scanner`.\n"
      "# u_…: standard uncertainty (k = 1).\n"
      "inkwane_scanner = 1\n"
      "card = {}\n"
      "sha256 = {}                # of the scan of the card\n"
      "resolution_dpi = {:.2f}\n"
      "profile = {}\n\n"
      "[stray_light]              # m = t (1 + kappa (t * h)) / (1 + 0.5 kappa), h ~ exp(-r / "
      "length)\n"
      "kappa = {:.4f}\n"
      "u_kappa = {:.4f}\n"
      "length_mm = {:.3f}\n"
      "u_length_mm = {:.3f}\n"
      "correlation = {:.3f}        # of the errors of kappa and length\n\n"
      "[point_spread]             # Gaussian standard deviation along rows (x) and columns (y)\n"
      "x_mm = {:.4f}\n"
      "u_x_mm = {:.4f}\n"
      "y_mm = {:.4f}\n"
      "u_y_mm = {:.4f}\n\n"
      "[noise]                    # of one pixel's linear light m, R G B: sqrt(floor^2 + slope^2 "
      "m)\n"
      "floor = {}\n"
      "slope = {}\n",
      quoted(scanner.file), quoted(scanner.sha256), scanner.resolution_dpi, quoted(scanner.profile),
      stray.value.kappa, stray.u_kappa, stray.value.length_mm, stray.u_length_mm, stray.correlation,
      spread.x_mm, spread.u_x_mm, spread.y_mm, spread.u_y_mm, rgb(scanner.noise.floor),
      rgb(scanner.noise.slope));
}

}  // namespace inkwane::scanner
