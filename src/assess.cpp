// The flow: each room in turn, from the treatment to the report.
#include <algorithm>
#include <cctype>
#include <thread>

#include <fmt/format.h>
#include <opencv2/imgproc.hpp>

#include <inkwane/assess.hpp>
#include <inkwane/error.hpp>

#include "align/sides.hpp"
#include "change/change.hpp"
#include "colour/grey_scale.hpp"
#include "course/course.hpp"
#include "finding/finding.hpp"
#include "map/picture.hpp"
#include "picture_files.hpp"
#include "repeat.hpp"
#include "report/report.hpp"
#include "results/output_folder.hpp"
#include "results/regions_stamp.hpp"
#include "results/results.hpp"
#include "scan/file.hpp"
#include "scan_record.hpp"
#include "side_work.hpp"
#include "take.hpp"
#include "take_blotter.hpp"
#include "treatment/reminders.hpp"
#include "vet/paper.hpp"

namespace inkwane {
namespace {

/// Names for files: letters, digits and hyphens of the stage ids, told apart by number where alike.
std::vector<std::string> file_names(const std::vector<Stage>& stages) {
  std::vector<std::string> names;
  for (const Stage& stage : stages) {
    std::string name;
    for (const char c : stage.id) {
      const bool plain = std::isalnum(static_cast<unsigned char>(c)) != 0 && c > 0;
      name += plain ? static_cast<char>(std::tolower(c)) : '-';
    }
    if (std::find(names.begin(), names.end(), name) != names.end()) {
      name += fmt::format("-{}", names.size() + 1);
    }
    names.push_back(name);
  }
  return names;
}

/// Grey-scale grades of all changes, from the mean colours.
void grade(results::Region& region) {
  const auto at = [&region](const std::string& id) -> const LabD50* {
    for (const auto& [stage, colour] : region.stages) {
      if (stage == id) return &colour.lab;
    }
    return nullptr;
  };
  for (results::RegionChange& change : region.changes) {
    const LabD50 *from = at(change.from), *to = at(change.to);
    if (from == nullptr || to == nullptr) continue;
    change.grey_scale = region.role == Role::watch ? colour::grade_of_staining(*from, *to)
                                                   : colour::grade_of_change(*from, *to);
  }
}

class Assessment {
 public:
  Assessment(const Treatment& treatment, const AssessOptions& options)
      : treatment_(treatment), options_(options), folder_(options.output) {}

  results::Results run() {
    start();
    take();
    for (const Side side : kSides) lay_out(side);
    pair();
    for (auto& [side, work] : sides_) align(work);
    compare_repeats();
    measure();
    check_paper();
    find();
    record();
    follow();
    write();
    return std::move(results_);
  }

 private:
  void report(const std::string& what, double done) const {
    if (options_.progress) options_.progress(what, done);
  }

  void start() {
    const int cores = std::max(1, static_cast<int>(std::thread::hardware_concurrency()));
    threads_ = options_.threads > 0 ? options_.threads : cores;
    cv::setNumThreads(threads_);
    results_.version = INKWANE_VERSION;
    if (std::filesystem::is_regular_file(treatment_.file))
      results_.treatment_sha256 = scan::InputFile(treatment_.file).sha256();
    results_.object = treatment_.object;
    results_.record = treatment_.record;
    results_.stages = treatment_.stages;
    results_.spot_tests = treatment_.spot_tests;
    results_.warnings = treatment::reminders(treatment_);
    results_.aperture_mm = treatment_.measure.aperture_mm;
    results_.grid_mm = treatment_.measure.grid_mm;
    results_.calibrated = treatment_.target.has_value();
    results_.sheet.turn = treatment_.object.turn;
    results_.regions_stamp = results::stamp_regions(treatment_, options_.output);
    if (const auto changed = results::changed_regions(results_.regions_stamp))
      results_.warnings.push_back(*changed);
    names_ = file_names(treatment_.stages);
    if (!results_.calibrated) {
      doubt(
          "Uncalibrated: no colour target was asked for, so every colour rests on what the scans' "
          "profiles claim; put a target beside the sheet and name it under [target].");
    }
  }

  void doubt(const std::string& sentence) {
    results_.warnings.push_back(sentence);
    results_.doubtful = true;
  }

  void take() {
    TakenScans taken = take_scans(
        treatment_, threads_, [this](double done) { report("reading the scans", 0.45 * done); });
    scans_ = std::move(taken.scans);
    results_.stray_light = std::move(taken.stray_light);
    results_.warnings.insert(results_.warnings.end(), taken.warnings.begin(), taken.warnings.end());
    results_.repeatability = inkwane::compare_repeats(taken.repeat_sheet);
    merge_repeats(scans_, repeats_);
  }

  /// The largest of what tells how well scans repeat is taken for it.
  void compare_repeats() {
    Spread untouched;
    for (const auto& [side, work] : sides_) add_untouched(work.input, untouched);
    for (auto& found : {repeats_.result("repeat scans"), untouched.result("untouched regions")}) {
      auto& largest = results_.repeatability;
      if (found && (!largest || found->u_dE00 > largest->u_dE00)) largest = found;
    }
    if (results_.repeatability) apply_repeatability(*results_.repeatability, scans_);
  }

  void lay_out(Side side) {
    std::vector<Taken*> scans;
    for (Taken& taken : scans_) {
      if (taken.side == side) scans.push_back(&taken);
    }
    if (!scans.empty()) sides_[side] = inkwane::lay_out(treatment_, std::move(scans));
  }

  /// Recto and verso, and then each grid cut to its sheet.
  void pair() {
    const bool both = sides_.contains(Side::recto) && sides_.contains(Side::verso);
    if (both) {
      report("pairing recto and verso", 0.45);
      pairing_ =
          align::pair_sides(view_of(*sides_[Side::recto].scans.front()),
                            view_of(*sides_[Side::verso].scans.front()), treatment_.object.turn);
      results_.sheet.turn_seen = pairing_.turn_seen;
      results_.sheet.pairing_mm = pairing_.pairing_mm;
      results_.warnings.insert(results_.warnings.end(), pairing_.warnings.begin(),
                               pairing_.warnings.end());
    }
    std::map<Side, cv::Rect> parts;
    for (auto& [side, work] : sides_) parts[side] = cut_to_sheet(work);
    if (!both || pairing_.to_recto.empty()) return;
    pairing_.to_recto = pairing_.to_recto(parts[Side::verso]).clone();
    pairing_.to_recto -= cv::Scalar(parts[Side::recto].x, parts[Side::recto].y);
  }

  void align(SideWork& work) {
    const Side side = work.input.side;
    report(fmt::format("aligning the {}", to_string(side)), side == Side::recto ? 0.5 : 0.62);
    align_side(treatment_, work);
  }

  void measure() {
    for (auto& [side, work] : sides_) {
      report(fmt::format("measuring the {}", to_string(side)), side == Side::recto ? 0.75 : 0.82);
      change::OtherSide other;
      if (side == Side::verso && sides_.contains(Side::recto)) {
        const SideWork& recto = sides_.at(Side::recto);
        other = {&recto.input, pairing_.to_recto, pairing_.pairing_mm.value_or(0),
                 recto.output.inks};
        work.output = change::assess_side(work.input, &other);
      } else {
        work.output = change::assess_side(work.input, nullptr);
      }
    }
  }

  /// What the bare paper tells: a damp sheet, another backing.
  void check_paper() {
    const auto input = [this](Side side) {
      return sides_.contains(side) ? &sides_.at(side).input : nullptr;
    };
    const auto looks =
        vet::look_at_paper(input(Side::recto), input(Side::verso), pairing_.to_recto);
    for (const auto& [side, stages] : looks) {
      const SideWork& work = sides_.at(side);
      for (std::size_t i = 1; i < stages.size(); ++i) {
        const bool damp = stage(stages[i].stage).condition != Condition::dry ||
                          stage(stages[i - 1].stage).condition != Condition::dry;
        const vet::Findings found =
            vet::judge_paper(stages[i - 1], stages[i], growth(work, i), damp);
        Taken& taken = scans_[static_cast<std::size_t>(work.scans[i] - scans_.data())];
        vet::warn(found, taken.warnings, taken.doubts);
      }
    }
  }

  /// Of the sheet, from the stage before: the larger along either axis.
  static double growth(const SideWork& work, std::size_t stage) {
    const align::Warp& later = work.warps[stage - 1];
    if (stage == 1) return std::max(later.stretch_x, later.stretch_y);
    const align::Warp& before = work.warps[stage - 2];
    return std::max(later.stretch_x / before.stretch_x, later.stretch_y / before.stretch_y);
  }

  void find() {
    std::vector<finding::SheetView> sides;
    for (const auto& [side, work] : sides_) {
      sides.push_back({&work.input, &work.output, work.scans.front()->outline.quad, nullptr, {}});
      if (side != Side::verso || pairing_.to_recto.empty()) continue;
      sides.back().behind = &sides_.at(Side::recto).input;
      sides.back().to_behind = pairing_.to_recto;
    }
    results_.findings = finding::find_all(sides);
    for (const BlotterScan& record : treatment_.blotters) {
      TakenBlotter taken = take_blotter(treatment_, record, fit_at(record.stage));
      taken.view.fit = &taken.fit;
      results_.findings.blotters.push_back(
          finding::measure_blotter(taken.view, sides, results_.findings.inks, treatment_.file));
    }
  }

  /// Of a scan of this stage.
  [[nodiscard]] const target::Fit& fit_at(const std::string& stage) const {
    return std::find_if(scans_.begin(), scans_.end(),
                        [&](const Taken& taken) { return taken.stage->id == stage; })
        ->fit;
  }

  void record() {
    for (const Taken& taken : scans_) {
      const SideWork& work = sides_.at(taken.side);
      const auto at = std::find(work.scans.begin(), work.scans.end(), &taken) - work.scans.begin();
      const align::Warp* warp = at == 0 ? nullptr : &work.warps[static_cast<std::size_t>(at) - 1];
      std::vector<std::string> doubts;
      results_.scans.push_back(record_scan(taken, warp, work.scans.front()->stage->id,
                                           work.input.geometry.pitch_mm, doubts));
      for (const std::string& reason : doubts) doubt(fmt::format("{}: {}", name_of(taken), reason));
      for (const Taken& repeat : taken.repeats) {
        results_.scans.push_back(record_repeat(repeat));
        for (const std::string& reason : repeat.doubts)
          doubt(fmt::format("{}: {}", name_of(repeat), reason));
      }
    }
    for (const Region& region : treatment_.regions) {  // in the order the person wrote them
      for (results::Region& found : sides_.at(region.side).output.regions) {
        if (found.id != region.id) continue;
        found.untouched = region.untouched;
        found.polygon = region.polygon;
        if (region.role == Role::added) found.under = region.under;
        grade(found);
        results_.regions.push_back(std::move(found));
      }
    }
    for (auto& [side, work] : sides_) {
      results_.sides[side] = work.output.side;
      results_.doubtful = results_.doubtful || work.output.doubtful;
      for (const std::string& warning : work.output.warnings) {
        results_.warnings.push_back(fmt::format("{}: {}", to_string(side), warning));
      }
    }
    warn_of_untouched(results_.regions);
    for (auto& [side, result] : results_.sides) mark_damp(result.changes);
    for (results::Region& region : results_.regions) mark_damp(region.changes);
  }

  void follow() {
    std::vector<change::ShareSeries> series;
    for (auto& [side, work] : sides_) {
      for (change::ShareSeries& one : work.output.series) series.push_back(std::move(one));
    }
    results_.course =
        course::make_course({treatment_.stages, series, results_.regions, results_.calibrated});
  }

  template <typename Change>
  void mark_damp(std::vector<Change>& changes) {
    for (Change& change : changes) {
      const auto damp = treatment::damp_against_dry(stage(change.from), stage(change.to));
      if (!damp) continue;
      change.warnings.push_back(*damp);
      const auto& said = results_.warnings;
      if (std::find(said.begin(), said.end(), *damp) == said.end()) doubt(*damp);
    }
  }

  [[nodiscard]] const Stage& stage(const std::string& id) const {
    return *std::find_if(treatment_.stages.begin(), treatment_.stages.end(),
                         [&id](const Stage& s) { return s.id == id; });
  }

  [[nodiscard]] const std::string& file_name(const std::string& stage) const {
    const auto at = &this->stage(stage) - treatment_.stages.data();
    return names_[static_cast<std::size_t>(at)];
  }

  void write() {
    report("drawing the maps", 0.88);
    const auto profiles = folder_.make("profiles");
    for (const Taken& taken : scans_) {
      write_profile(profiles, taken);
      for (const Taken& repeat : taken.repeats) write_profile(profiles, repeat);
    }
    for (const char* name : {"images", "crops", "maps", "readout"}) folder_.make(name);
    for (auto& [side, work] : sides_) write_side(work);
    report("writing the report", 0.95);
    results::write_text(folder_.path() / "results.json", results::to_json(results_));
    results::write_text(folder_.path() / "regions.csv", results::to_csv(results_));
    results::write_text(folder_.path() / "findings.csv", results::findings_csv(results_.findings));
    // From what was written: the report can be had again from there, the same to the byte.
    report::write_report(folder_.path(), results::read_results(folder_.path() / "results.json"), {},
                         folder_.path());
    folder_.commit();
    report("done", 1);
  }

  void write_profile(const std::filesystem::path& folder, const Taken& taken) const {
    std::string name = fmt::format("{}-{}", file_name(taken.stage->id), to_string(taken.side));
    if (taken.repeat > 1) name += fmt::format("-{}", taken.repeat);
    const auto bytes =
        taken.fit.colour.profile(fmt::format("{}, {}{}", treatment_.object.title, name_of(taken),
                                             results_.calibrated ? "" : " (uncalibrated)"));
    results::write_text(folder / (name + ".icc"), {bytes.begin(), bytes.end()});
  }

  void write_side(SideWork& work) {
    SidePictures pictures;
    pictures.side = work.input.side;
    for (const Taken* scan : work.scans) {
      pictures.stages.push_back(scan->stage->id);
      pictures.names.push_back(file_name(scan->stage->id));
    }
    pictures.pictures = work.pictures;
    pictures.frame = work.frame;
    pictures.geometry = work.input.geometry;
    pictures.geometry.origin_px =
        work.input.geometry.to_px({double(work.frame.x), double(work.frame.y)});
    pictures.geometry.columns = work.frame.width;
    pictures.geometry.rows = work.frame.height;
    write_images(folder_.path(), pictures, results_);
    write_crops(folder_.path(), pictures, work.output.maps, results_);
    if (work.output.readout)
      write_readout(folder_.path(), pictures, *work.output.readout, results_);
    write_maps(work, pictures);
  }

  void write_maps(SideWork& work, const SidePictures& pictures) {
    for (const change::MapLayer& layer : work.output.maps) {
      results::Map map = describe(work, layer.kind, layer.from, layer.to, layer.unit);
      map.png = fmt::format("{}.png", stem(map));
      map::write_tiff(folder_.path() / map.tiff, layer.value);
      map::write_png(folder_.path() / map.png, layer.value(work.frame), picture(work, layer.from),
                     pictures.geometry, map::style_of(layer.kind),
                     {treatment_.object.title,
                      fmt::format("{}, {} → {}", to_string(work.input.side), layer.from, layer.to),
                      results_.calibrated},
                     tidelines_on(map));
      write_map_pictures(folder_.path(), pictures, layer, map);
      results_.maps.push_back(std::move(map));
    }
    work.output.maps.clear();
    write_suspects(work, pictures.geometry);
    for (const auto& [from, to] : change::stage_pairs(static_cast<int>(work.scans.size()))) {
      results::Map map = describe(work, "position", work.scans[from]->stage->id,
                                  work.scans[to]->stage->id, "pixel");
      map::write_tiff(folder_.path() / map.tiff, positions(work, to));
      results_.maps.push_back(std::move(map));
    }
  }

  [[nodiscard]] std::vector<map::Mark> tidelines_on(const results::Map& map) const {
    std::vector<map::Mark> marks;
    if (map.kind != "gained-colour" && map.kind != "bleed-through") return marks;
    for (const results::Tideline& line : results_.findings.tidelines) {
      if (line.side == map.side && line.from == map.from && line.to == map.to)
        marks.push_back({line.line, false, fmt::format("tideline, {:.0f} mm", line.length_mm)});
    }
    return marks;
  }

  void write_suspects(const SideWork& work, const grid::Geometry& framed) {
    std::vector<map::Mark> marks;
    for (const results::Suspect& suspect : results_.findings.suspects) {
      if (suspect.place.side == work.input.side)
        marks.push_back({suspect.place.outline, true, suspect.id.substr(suspect.id.find('-') + 1)});
    }
    if (marks.empty()) return;
    const std::string side = to_string(work.input.side);
    const std::string file = fmt::format("maps/{}-suspects.png", side);
    map::write_marks(
        folder_.path() / file, work.pictures.front(), framed, marks, "Suspected added colour",
        "Numbers are those of the list of suspects.",
        {treatment_.object.title, fmt::format("{}, {}", side, work.scans.front()->stage->id),
         results_.calibrated});
    results_.findings.pictures.push_back({work.input.side, file});
  }

  [[nodiscard]] std::string stem(const results::Map& map) const {
    return fmt::format("maps/{}-{}-{}-{}", to_string(map.side), map.kind, file_name(map.from),
                       file_name(map.to));
  }

  [[nodiscard]] results::Map describe(const SideWork& work, const std::string& kind,
                                      const std::string& from, const std::string& to,
                                      const std::string& unit) const {
    results::Map map{kind,
                     work.input.side,
                     from,
                     to,
                     {},
                     {},
                     unit,
                     work.input.geometry.pitch_px,
                     work.input.geometry.origin_px,
                     {},
                     {}};
    map.tiff = fmt::format("{}.tif", stem(map));
    return map;
  }

  [[nodiscard]] static const cv::Mat& picture(const SideWork& work, const std::string& stage) {
    std::size_t i = 0;
    while (work.scans[i]->stage->id != stage) ++i;
    return work.pictures[i];
  }

  const Treatment& treatment_;
  const AssessOptions& options_;
  results::OutputFolder folder_;
  int threads_ = 1;
  results::Results results_;
  std::vector<std::string> names_;
  std::vector<Taken> scans_;
  Spread repeats_;
  std::map<Side, SideWork> sides_;
  align::Pairing pairing_;
};

}  // namespace

results::Results assess(const Treatment& treatment, const AssessOptions& options) {
  const auto out_of_memory = [&treatment] {
    return Error(ExitCode::output, fmt::format("{}: memory ran out; close other programs or set a "
                                               "coarser [measure] grid_mm.",
                                               treatment.file.string()));
  };
  try {
    return Assessment(treatment, options).run();
  } catch (const std::bad_alloc&) {
    throw out_of_memory();
  } catch (const cv::Exception& error) {
    if (error.code == cv::Error::StsNoMem) throw out_of_memory();
    throw;
  }
}

}  // namespace inkwane
