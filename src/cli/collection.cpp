#include "cli/collection.hpp"

#include <algorithm>
#include <fstream>
#include <map>

#include <fmt/format.h>

#include "cli/summary.hpp"
#include "cli/table.hpp"
#include "results/collection_csv.hpp"
#include "results/results.hpp"

namespace inkwane::cli {
namespace {

namespace fs = std::filesystem;

/// The same for every way to write it.
fs::path true_path(const fs::path& path) {
  std::error_code code;
  const fs::path found = fs::weakly_canonical(fs::absolute(path, code), code);
  return code ? path.lexically_normal() : found;
}

/// Of a treatment below a folder for many: most are called treatment.toml, in a folder with a name.
std::string name_of(const fs::path& treatment) {
  const std::string stem = treatment.stem().string();
  return stem == "treatment" ? true_path(treatment).parent_path().filename().string() : stem;
}

fs::path beside(const fs::path& treatment, bool alone) {
  const std::string stem = treatment.stem().string();
  return treatment.parent_path() /
         (alone || stem == "treatment" ? "assessment" : "assessment-" + stem);
}

void check_apart(const std::vector<fs::path>& treatments, const std::vector<fs::path>& folders) {
  std::map<fs::path, fs::path> taken;
  for (std::size_t i = 0; i < folders.size(); ++i) {
    const auto [found, fresh] = taken.emplace(true_path(folders[i]), treatments[i]);
    if (fresh) continue;
    throw Error(ExitCode::usage,
                fmt::format("{} and {} would both be written into {}; name each treatment once, or "
                            "assess them in calls of their own with -o.",
                            found->second.string(), treatments[i].string(), folders[i].string()));
  }
}

/// Opens what becomes the CSV, in a folder that is made if need be.
fs::path checked_csv(const fs::path& csv) {
  std::error_code code;
  if (fs::is_directory(csv, code)) {
    throw Error(ExitCode::usage,
                fmt::format("{}: is a folder; name a file with --csv.", csv.string()));
  }
  if (fs::exists(csv, code)) {
    std::string heading;
    std::getline(std::ifstream(csv, std::ios::binary), heading);
    if (heading + "\n" != results::collection_heading()) {
      throw Error(ExitCode::usage,
                  fmt::format("{}: is no table of an earlier collection and will not be replaced; "
                              "name another file with --csv.",
                              csv.string()));
    }
  }
  if (csv.has_parent_path()) fs::create_directories(csv.parent_path(), code);
  return csv;
}

/// From the first stage to the last: least strength kept of all inks, most that remains of all
/// added colours, and how many regions changed detectably.
std::vector<std::string> figures(const results::Results& results) {
  const results::RegionChange *kept = nullptr, *left = nullptr;
  std::size_t changed = 0;
  for (const results::Region& region : results.regions) {
    for (const results::RegionChange& change : region.changes) {
      if (change.from != results.stages.front().id || change.to != results.stages.back().id) {
        continue;
      }
      changed += change.detectable.value_or(false) ? 1 : 0;
      if (change.strength_kept && (!kept || *change.strength_kept < *kept->strength_kept)) {
        kept = &change;
      }
      if (change.residual && (!left || *change.residual > *left->residual)) left = &change;
    }
  }
  return {
      fmt::format("{} of {}", changed, results.regions.size()),
      kept ? with_interval(kept->strength_kept, kept->strength_kept_ci95, 100, 0, " %") : "–",
      left ? with_interval(left->residual, left->residual_ci95, 100, 0, " %") : "–",
      results.calibrated ? "yes" : "NO",
      std::to_string(results.warnings.size()),
  };
}

}  // namespace

std::vector<fs::path> places(const std::vector<fs::path>& treatments, const fs::path& output) {
  std::map<fs::path, int> in_folder;
  for (const fs::path& file : treatments) ++in_folder[true_path(file).parent_path()];
  std::vector<fs::path> folders;
  for (const fs::path& file : treatments) {
    if (output.empty()) {
      folders.push_back(beside(file, in_folder.at(true_path(file).parent_path()) == 1));
    } else {
      folders.push_back(treatments.size() == 1 ? output : output / name_of(file));
    }
  }
  check_apart(treatments, folders);
  return folders;
}

Collection::Collection(const fs::path& csv, std::size_t members)
    : csv_(checked_csv(csv)), file_(csv_), members_(members) {}

Ended Collection::add(std::size_t member, const fs::path& treatment, const fs::path& folder,
                      const Ended& ended) {
  results::Collected collected{treatment.string(), folder.string(), ended.code, ended.sentence, {}};
  if (ended.sentence.empty() && ended.code <= ExitCode::doubtful) {
    const Ended reading = guarded([&] {
      collected.results = results::read_results(folder / "results.json");
      return collected.results->doubtful ? ExitCode::doubtful : ExitCode::done;
    });
    collected.code = reading.code;
    collected.error = reading.sentence;
  }
  code_ = std::max(code_, collected.code);
  Member& made = members_[member];
  made.csv = results::collection_rows(collected);
  made.row = {treatment.empty() ? folder.string() : treatment.string(),
              std::to_string(static_cast<int>(collected.code))};
  const std::vector<std::string> rest =
      collected.results ? figures(*collected.results) : std::vector<std::string>(5, "–");
  made.row.insert(made.row.end(), rest.begin(), rest.end());
  return {collected.code, collected.error};
}

void Collection::commit() {
  file_.write(results::collection_heading());
  for (const Member& member : members_) file_.write(member.csv);
  file_.commit();
}

std::string Collection::table() const {
  Table table({"treatment", "exit", "regions changed", "least kept of an ink (95 %)",
               "most left of an added colour (95 %)", "calibrated", "warnings"});
  for (const Member& member : members_) {
    if (!member.row.empty()) table.add(member.row);
  }
  return table.text() + fmt::format("\nAll regions: {}\n", csv_.string());
}

}  // namespace inkwane::cli
