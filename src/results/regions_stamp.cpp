#include "results/regions_stamp.hpp"

#include <chrono>
#include <fstream>
#include <iterator>

#include <fmt/chrono.h>

#include "results/json_values.hpp"
#include "scan/hash.hpp"

namespace inkwane::results {
namespace {

std::string canonical(const std::vector<inkwane::Region>& regions) {
  Json out = Json::array();
  for (const inkwane::Region& region : regions) {
    Json polygon = Json::array();
    for (const Point& p : region.polygon) polygon.push_back({p.x, p.y});
    out.push_back({region.id, region.name, to_string(region.side), to_string(region.role),
                   region.under, region.untouched, polygon});
  }
  return out.dump(-1, ' ', false, Json::error_handler_t::replace);
}

/// ISO 8601, UTC; empty where the file has no time.
std::string modified(const std::filesystem::path& file) {
  std::error_code code;
  const auto time = std::filesystem::last_write_time(file, code);
  if (code) return {};
  return fmt::format("{:%Y-%m-%dT%H:%M:%SZ}", std::chrono::floor<std::chrono::seconds>(
                                                  std::chrono::file_clock::to_sys(time)));
}

/// The stamp in an assessment's folder; none where it holds none.
std::optional<RegionsStamp> stamp_in(const std::filesystem::path& folder) {
  std::ifstream in(folder / "results.json", std::ios::binary);
  if (!in) return std::nullopt;
  const std::string text{std::istreambuf_iterator<char>(in), {}};
  const Json json = Json::parse(text, nullptr, false);
  if (!json.is_object() || !json.contains("regions_stamp")) return std::nullopt;
  try {
    return stamp_of(json.at("regions_stamp"));
  } catch (const std::exception&) {
    return std::nullopt;  // of a later version, or damaged: it is replaced, not relied upon
  }
}

}  // namespace

RegionsStamp stamp_regions(const Treatment& treatment, const std::filesystem::path& destination) {
  const std::string text = canonical(treatment.regions);
  RegionsStamp stamp;
  stamp.sha256 =
      scan::sha256_of({reinterpret_cast<const unsigned char*>(text.data()), text.size()});
  stamp.modified = modified(treatment.file);
  if (const auto before = stamp_in(destination)) {
    stamp.earlier = before->earlier;
    if (before->sha256 == stamp.sha256) {
      stamp.modified = before->modified;
    } else {
      stamp.earlier.emplace_back(before->sha256, before->modified);
    }
  }
  return stamp;
}

std::optional<std::string> changed_regions(const RegionsStamp& stamp) {
  if (stamp.earlier.empty()) return std::nullopt;
  return fmt::format(
      "The regions are not those of the earlier assessment in this folder (file of {}): regions "
      "drawn after results were seen may favour a result; keep those drawn before treatment, or "
      "say in the record why they were changed.",
      stamp.earlier.back().second.empty() ? "unknown date" : stamp.earlier.back().second);
}

}  // namespace inkwane::results
