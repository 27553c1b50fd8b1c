// What the client's copy leaves out of sentences that others wrote: where files lie.
#include <filesystem>

#include "report/content/content.hpp"
#include "report/words.hpp"

namespace inkwane::report {
namespace {

struct Named {
  std::string file;  ///< without its folders
  std::string name;
};

/// A file is named by what it shows, whatever folders stand before it.
void rename(std::string& sentence, const std::vector<Named>& files) {
  static const std::string kEnds = " \t\n\"“”'‘’(,;";
  for (const auto& [file, name] : files) {
    if (file.empty()) continue;
    for (auto at = sentence.find(file); at != std::string::npos;
         at = sentence.find(file, at + name.size())) {
      const auto before = sentence.find_last_of(kEnds, at == 0 ? 0 : at - 1);
      const auto start = at == 0 || before == std::string::npos ? 0 : before + 1;
      sentence.replace(start, at + file.size() - start, name);
      at = start;
    }
  }
}

}  // namespace

results::Results for_client(results::Results results) {
  const auto file_name = [](const std::string& file) {
    return std::filesystem::path(file).filename().string();
  };
  std::vector<Named> files;
  for (const results::Scan& scan : results.scans)
    files.push_back({file_name(scan.file), say("warnings.scan", fmt::arg("stage", scan.stage),
                                               fmt::arg("side", in_words(scan.side)))});
  for (const results::Blotter& blotter : results.findings.blotters)
    files.push_back({file_name(blotter.file), say("findings.blotter", fmt::arg("id", blotter.id),
                                                  fmt::arg("stage", blotter.stage))});
  files.push_back({file_name(results.stray_light.file), say("files.scanner")});
  const auto clean = [&files](std::vector<std::string>& sentences) {
    for (std::string& sentence : sentences) rename(sentence, files);
  };
  clean(results.warnings);
  for (results::Scan& scan : results.scans) clean(scan.warnings);
  for (results::Region& region : results.regions) {
    clean(region.warnings);
    for (results::RegionChange& change : region.changes) clean(change.warnings);
  }
  for (auto& [side, result] : results.sides)
    for (results::SideChange& change : result.changes) clean(change.warnings);
  clean(results.findings.warnings);
  for (results::Blotter& blotter : results.findings.blotters) clean(blotter.warnings);
  if (results.course) clean(results.course->warnings);
  return results;
}

}  // namespace inkwane::report
