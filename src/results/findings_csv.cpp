#include <fmt/format.h>
#include <fmt/ranges.h>

#include "results/csv_row.hpp"
#include "results/results.hpp"

namespace inkwane::results {
namespace {

constexpr const char* kHeader =
    "kind,id,side,from,to,region,x_mm,y_mm,area_mm2,length_mm,width_mm,L,a,b,contrast_dE00,figure,"
    "value,low95,high95,score,words\r\n";

/// What a row may hold; whatever a kind of finding lacks stays empty.
struct Finding {
  std::string kind, id, side, from, to, region;
  std::optional<Point> at_mm;
  Number area_mm2, length_mm, width_mm;
  std::optional<LabD50> lab;
  Number contrast_dE00;
  std::string figure;  ///< what `value` is
  Number value;
  Interval ci95;
  Number score;
  std::string words;
};

std::string row_of(const Finding& f) {
  CsvRow row;
  row.add(f.kind, f.id, f.side, f.from, f.to, f.region);
  row.add(f.at_mm ? Number(f.at_mm->x) : Number(), f.at_mm ? Number(f.at_mm->y) : Number());
  row.add(f.area_mm2, f.length_mm, f.width_mm);
  if (f.lab) {
    row.add_lab(*f.lab);
  } else {
    row.add(Number(), Number(), Number());
  }
  row.add(f.contrast_dE00, f.figure, f.value).add_interval(f.ci95).add(f.score, f.words);
  return row.text();
}

Finding placed(const char* kind, const Place& place) {
  Finding f;
  f.kind = kind;
  f.side = to_string(place.side);
  f.at_mm = place.at_mm;
  f.area_mm2 = place.area_mm2;
  return f;
}

std::string of(const StillShows& patch) {
  Finding f = placed("still_shows", patch.place);
  f.to = patch.stage;
  f.region = patch.region;
  f.lab = patch.lab;
  f.contrast_dE00 = patch.contrast_dE00;
  f.figure = "residual";
  f.value = patch.residual;
  return row_of(f);
}

std::string of(const Tideline& line) {
  Finding f;
  f.kind = "tideline";
  f.side = to_string(line.side);
  f.from = line.from;
  f.to = line.to;
  f.at_mm = line.at_mm;
  f.length_mm = line.length_mm;
  f.width_mm = line.width_mm;
  f.contrast_dE00 = line.contrast_dE00;
  return row_of(f);
}

std::string of(const Suspect& suspect) {
  Finding f = placed("suspect", suspect.place);
  f.id = suspect.id;
  f.from = suspect.from;
  f.to = suspect.to;
  f.lab = suspect.lab;
  f.score = suspect.score;
  f.words = suspect.reason;
  return row_of(f);
}

std::string of(const SheetInk& ink) {
  Finding f;
  f.kind = "ink";
  f.id = ink.name;
  f.side = to_string(ink.side);
  f.area_mm2 = ink.area_mm2;
  f.lab = ink.lab;
  if (ink.changes.empty()) return row_of(f);
  std::string text;
  for (const InkChange& change : ink.changes) {
    f.from = change.from;
    f.to = change.to;
    f.at_mm.reset();
    f.figure = "mean_kept";
    f.value = change.mean_kept;
    f.ci95 = change.mean_kept_ci95;
    text += row_of(f);
    if (!change.worst_kept) continue;
    f.at_mm = change.worst_at_mm;
    f.figure = "worst_kept";
    f.value = change.worst_kept;
    f.ci95.reset();
    text += row_of(f);
  }
  return text;
}

std::string of(const Blotter& blotter) {
  Finding f;
  f.kind = "blotter";
  f.id = blotter.id;
  f.to = blotter.stage;
  f.area_mm2 = blotter.stained_mm2;
  f.lab = blotter.lab;
  f.figure = "absorption_mm2";
  f.value = blotter.absorption_mm2;
  f.ci95 = blotter.absorption_mm2_ci95;
  f.words = fmt::format("{}{}{}", blotter.sentence, blotter.warnings.empty() ? "" : " ",
                        fmt::join(blotter.warnings, " "));
  std::string text = row_of(f);
  for (const BlotterMatch& match : blotter.matches) {
    Finding share;
    share.kind = "blotter_match";
    share.id = blotter.id;
    share.to = blotter.stage;
    share.region = match.region;
    share.figure = "share";
    share.value = match.share;
    share.ci95 = match.share_ci95;
    share.words = fmt::format("{} ({})", match.name, to_string(match.role));
    text += row_of(share);
  }
  return text;
}

std::string of(const DetectionLimit& limit) {
  Finding f;
  f.kind = "limit";
  f.id = limit.what;
  f.side = to_string(limit.side);
  f.from = limit.from;
  f.to = limit.to;
  if (limit.area_mm2 > 0) f.area_mm2 = limit.area_mm2;
  if (limit.length_mm > 0) f.length_mm = limit.length_mm;
  f.contrast_dE00 = limit.contrast_dE00;
  return row_of(f);
}

template <typename Record>
void append(std::string& text, const std::vector<Record>& records) {
  for (const Record& record : records) text += of(record);
}

}  // namespace

std::string findings_csv(const Findings& findings) {
  std::string text = kHeader;
  append(text, findings.suspects);
  append(text, findings.still_shows);
  append(text, findings.tidelines);
  append(text, findings.inks);
  append(text, findings.blotters);
  append(text, findings.limits);
  return text;
}

}  // namespace inkwane::results
