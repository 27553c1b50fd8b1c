#include "desk/desk.hpp"

#include <algorithm>
#include <cmath>
#include <thread>

#include <fmt/format.h>
#include <opencv2/imgproc.hpp>

#include <inkwane/assess.hpp>
#include <inkwane/error.hpp>

#include "desk/grow.hpp"
#include "desk/overlay.hpp"
#include "desk/rejected.hpp"
#include "map/picture.hpp"
#include "region/trace.hpp"
#include "results/results.hpp"
#include "treatment/save.hpp"

namespace inkwane::desk {
namespace {

namespace fs = std::filesystem;

// Own choices: all levels of three 26-megapixel scans; and the grey beside a scan.
constexpr std::size_t kShelfBytes = std::size_t{320} << 20U;
const cv::Scalar kBesideScan(58, 60, 62);
constexpr int kMostLevel = 16;
constexpr int kOverlayPx = 2400;
/// A grown border may be straightened by so many cells: a twentieth of the usual aperture.
constexpr double kGrownTolerance = 0.25;
/// Nor does it reach further than this from the place that was pointed at.
constexpr double kGrownMm = 60;
/// Growing further than this from a colour has left the colour behind.
constexpr double kWidestReach = 60;

Json to_json(const Work::State& state) {
  Json out{{"number", state.number},
           {"running", state.running},
           {"what", state.what},
           {"done", state.done}};
  out["error"] = state.error ? Json(*state.error) : Json();
  return out;
}

/// Numbers as the page shows them; null where there is none.
Json number_or_null(const std::optional<double>& value) {
  return value && std::isfinite(*value) ? Json(*value) : Json();
}
Json interval(const results::Interval& value) {
  return value ? Json::array({(*value)[0], (*value)[1]}) : Json();
}

Json to_json(const results::Region& region) {
  Json changes = Json::array();
  for (const results::RegionChange& change : region.changes) {
    changes.push_back({{"from", change.from},
                       {"to", change.to},
                       {"dE00", number_or_null(change.dE00)},
                       {"dE00_ci95", interval(change.dE00_ci95)},
                       {"strength_kept", number_or_null(change.strength_kept)},
                       {"strength_kept_ci95", interval(change.strength_kept_ci95)},
                       {"residual", number_or_null(change.residual)},
                       {"residual_ci95", interval(change.residual_ci95)},
                       {"warnings", change.warnings}});
  }
  return {{"id", region.id},
          {"name", region.name},
          {"side", to_string(region.side)},
          {"role", to_string(region.role)},
          {"area_mm2", region.area_mm2},
          {"changes", changes},
          {"warnings", region.warnings}};
}

Json to_json(const results::Suspect& suspect, const std::vector<Rejected>& rejected) {
  const Rejected place{suspect.place.side, suspect.place.outline};
  return {{"id", suspect.id},
          {"side", to_string(suspect.place.side)},
          {"under", suspect.under},
          {"score", suspect.score},
          {"reason", suspect.reason},
          {"area_mm2", suspect.place.area_mm2},
          {"rejected", std::any_of(rejected.begin(), rejected.end(),
                                   [&](const Rejected& one) { return is_of(one, place); })},
          {"outline", to_json_list(suspect.place.outline)}};
}

}  // namespace

Desk::Desk(fs::path treatment, int threads)
    : file_(fs::absolute(treatment)),
      folder_(fs::weakly_canonical(file_.parent_path())),
      threads_(threads > 0 ? threads
                           : std::max(1, static_cast<int>(std::thread::hardware_concurrency()))),
      shelf_(kShelfBytes) {
  (void)state();
}

Treatment Desk::read() const {
  return read_treatment(file_);
}

fs::path Desk::within(const fs::path& file) const {
  const fs::path real = fs::weakly_canonical(file);
  const auto [end, _] = std::mismatch(folder_.begin(), folder_.end(), real.begin(), real.end());
  if (end != folder_.end()) {
    throw Error(ExitCode::usage,
                fmt::format("{}: lies outside {}, and the desk reads nothing outside the folder of "
                            "its treatment file; copy the scans into it.",
                            file.string(), folder_.string()));
  }
  return real;
}

Stage Desk::stage(std::size_t number) const {
  const std::lock_guard lock(mutex_);
  if (number >= stages_->size()) throw BadRequest("no such stage");
  return (*stages_)[number];
}

fs::path Desk::scan_file(const Stage& stage, Side side) const {
  const auto found = stage.scans.find(side);
  if (found == stage.scans.end()) throw BadRequest("no such scan");
  return within(found->second);
}

fs::path Desk::output() const {
  return within(folder_ / "assessment");
}

Json Desk::state() const {
  const std::string text = treatment::read_text(file_);
  const Treatment treatment = parse_treatment(text, file_);
  Json stages = Json::array();
  for (const Stage& stage : treatment.stages) {
    Json sides = Json::array();
    for (const auto& [side, scan] : stage.scans) {
      (void)within(scan);
      sides.push_back(to_string(side));
    }
    stages.push_back({{"id", stage.id}, {"date", stage.date}, {"sides", sides}});
  }
  {
    const std::lock_guard lock(mutex_);
    stages_ = std::make_shared<const std::vector<Stage>>(treatment.stages);
  }
  return {{"title", treatment.object.title},
          {"file", file_.filename().string()},
          {"base", treatment::sha256(text)},
          {"target", treatment.target.has_value()},
          {"stages", stages},
          {"drawn", to_json(treatment::drawn_in(treatment))}};
}

Json Desk::progress() const {
  return {{"base", treatment::sha256(treatment::read_text(file_))},
          {"look", to_json(looking_.state())},
          {"assess", to_json(assessing_.state())}};
}

Json Desk::save(const Json& json) {
  if (!json.is_object() || !json.contains("base") || !json["base"].is_string() ||
      !json.contains("drawn")) {
    throw BadRequest("base and drawn are wanted");
  }
  const std::lock_guard lock(saving_);
  const std::string now = treatment::read_text(file_);
  const std::string base = json["base"];
  const bool over = json.contains("over") && json["over"] == true;
  if (!over && treatment::sha256(now) != base) throw treatment::ChangedUnderneath(file_);
  treatment::replace_text(file_, treatment::edit(now, file_, drawn_from(json["drawn"])),
                          treatment::sha256(now));
  return state();
}

void Desk::look(const Json& json) {
  if (!json.is_object() || !json.contains("drawn")) throw BadRequest("drawn is wanted");
  const std::string text =
      treatment::edit(treatment::read_text(file_), file_, drawn_from(json["drawn"]));
  const Treatment treatment = parse_treatment(text, file_);
  looking_.start([this, treatment](const Work::Tell& tell) {
    auto looked = std::make_shared<const Looked>(desk::look(treatment, threads_, tell));
    const std::lock_guard lock(mutex_);
    looked_ = std::move(looked);
  });
}

std::shared_ptr<const Looked> Desk::looked() const {
  const std::lock_guard lock(mutex_);
  return looked_;
}

Json Desk::found() const {
  const auto looked = this->looked();
  return looked ? to_json(*looked) : Json();
}

void Desk::assess() {
  const Treatment treatment = read();
  assessing_.start([this, treatment](const Work::Tell& tell) {
    AssessOptions options;
    options.output = output();
    options.threads = threads_;
    options.progress = tell;
    (void)inkwane::assess(treatment, options);
  });
}

Json Desk::results() const {
  const fs::path file = within(output() / "results.json");
  if (!fs::exists(file)) return {};
  const results::Results results = results::read_results(file);
  Json regions = Json::array(), maps = Json::array(), suspects = Json::array();
  for (const results::Region& region : results.regions) regions.push_back(to_json(region));
  const auto rejected = read_rejected(within(rejected_file(file_)));
  for (const results::Suspect& suspect : results.findings.suspects) {
    suspects.push_back(to_json(suspect, rejected));
  }
  for (std::size_t i = 0; i < results.maps.size(); ++i) {
    const results::Map& map = results.maps[i];
    if (map.png.empty()) continue;
    const map::Style& style = map::style_of(map.kind);
    const cv::Size cells = map_size(within(output() / map.tiff));
    maps.push_back({{"number", i},
                    {"kind", map.kind},
                    {"side", to_string(map.side)},
                    {"from", map.from},
                    {"to", map.to},
                    {"title", style.title},
                    {"legend", style.legend},
                    {"low", style.low},
                    {"high", style.high},
                    {"percent", style.percent},
                    {"colours", scale_colours(style, 8)},
                    {"columns", cells.width},
                    {"rows", cells.height},
                    {"pitch_px", map.pitch_px},
                    {"origin_px", desk::to_json(map.origin_px)}});
  }
  return {{"calibrated", results.calibrated},
          {"doubtful", results.doubtful},
          {"warnings", results.warnings},
          {"regions", regions},
          {"maps", maps},
          {"suspects", suspects}};
}

Json Desk::reject(const Json& json) {
  if (!json.is_object() || !json.contains("rejected") || !json["rejected"].is_boolean())
    throw BadRequest("rejected is wanted");
  const Rejected place{side_from(json.value("side", "")), points_from(json.at("outline"))};
  if (place.outline.size() < 3) throw BadRequest("an outline is wanted");
  {
    const std::lock_guard lock(saving_);
    const fs::path file = within(rejected_file(file_));
    std::vector<Rejected> rejected = read_rejected(file);
    std::erase_if(rejected, [&](const Rejected& one) { return is_of(one, place); });
    if (json["rejected"] == true) rejected.push_back(place);
    write_rejected(file, rejected);
  }
  return results();
}

Json Desk::scan(std::size_t number, Side side) {
  const Stage stage = this->stage(number);
  const fs::path file = scan_file(stage, side);
  const scan::Info& info = shelf_.info(file);
  return {{"file", stage.scans.at(side).filename().string()},
          {"width", info.width_px},
          {"height", info.height_px},
          {"depth", info.bit_depth},
          {"dpi", number_or_null(info.resolution_dpi)},
          {"coarsest", shelf_.coarsest(file)},
          {"version", info.sha256.substr(0, 16)},
          {"warnings", info.warnings}};
}

std::vector<unsigned char> Desk::tile(std::size_t number, Side side, bool laid, int level, int x,
                                      int y) {
  const Stage stage = this->stage(number);
  const fs::path file = scan_file(stage, side);
  if (level < 0 || level > kMostLevel || x < 0 || y < 0 || x > 1000 || y > 1000) {
    throw BadRequest("no such tile");
  }
  const auto looked = laid ? this->looked() : nullptr;
  const ScanLook* later = looked ? looked->find(stage.id, side) : nullptr;
  const ScanLook* first = looked ? looked->first(side) : nullptr;
  if (laid && (later == nullptr || !later->laid)) throw BadRequest("not laid on the first stage");
  const fs::path measured = laid ? within(first->file) : file;
  if (level > shelf_.coarsest(measured)) throw BadRequest("no such tile");
  const cv::Rect all({}, shelf_.size(measured, level));
  const cv::Rect window = cv::Rect(x * kTilePx, y * kTilePx, kTilePx, kTilePx) & all;
  if (window.empty()) throw BadRequest("no such tile");
  cv::Mat tile(kTilePx, kTilePx, CV_8UC3, kBesideScan);
  const cv::Mat shown = laid ? laid_picture(*later, *first, file, level, window)
                             : shelf_.picture(file, level, window);
  shown.copyTo(tile(cv::Rect({}, window.size())));
  return map::encode_jpeg(tile);
}

cv::Mat Desk::laid_picture(const ScanLook& later, const ScanLook& first, const fs::path& file,
                           int level, const cv::Rect& window) {
  const double factor = 1 << level;
  cv::Mat nodes(window.size(), CV_32FC2), place;
  for (int j = 0; j < window.height; ++j) {
    for (int i = 0; i < window.width; ++i) {
      const Point px{(window.x + i + 0.5) * factor - 0.5, (window.y + j + 0.5) * factor - 0.5};
      const Point cell = first.geometry.to_cell(px);
      nodes.at<cv::Vec2f>(j, i) = {static_cast<float>(cell.x / Laid::kNode),
                                   static_cast<float>(cell.y / Laid::kNode)};
    }
  }
  cv::remap(later.laid->to_later, place, nodes, cv::noArray(), cv::INTER_LINEAR,
            cv::BORDER_REPLICATE);
  const int l = std::min(level, shelf_.coarsest(file));
  place = (place + cv::Scalar::all(0.5)) / (1 << l) - cv::Scalar::all(0.5);
  std::vector<cv::Mat> axes;
  cv::split(place, axes);
  double left = 0, right = 0, top = 0, bottom = 0;
  cv::minMaxLoc(axes[0], &left, &right);
  cv::minMaxLoc(axes[1], &top, &bottom);
  const cv::Rect source = cv::Rect(cv::Point(cvFloor(left) - 1, cvFloor(top) - 1),
                                   cv::Point(cvCeil(right) + 2, cvCeil(bottom) + 2)) &
                          cv::Rect({}, shelf_.size(file, l));
  cv::Mat out(window.size(), CV_8UC3, kBesideScan);
  if (source.empty()) return out;
  const cv::Scalar origin(source.x, source.y);
  cv::remap(shelf_.picture(file, l, source), out, place - origin, cv::noArray(), cv::INTER_LINEAR,
            cv::BORDER_CONSTANT, kBesideScan);
  return out;
}

Json Desk::colour(std::size_t number, Side side, bool laid, Point px) const {
  const auto looked = this->looked();
  const ScanLook* scan = looked ? looked->find(stage(number).id, side) : nullptr;
  if (scan == nullptr) return {};
  if (laid) {
    const ScanLook* first = looked->first(side);
    if (!scan->laid || first->light.empty()) return {};
    const Point cell = first->geometry.to_cell(px);
    const cv::Mat node(1, 1, CV_32FC2, cv::Scalar(cell.x / Laid::kNode, cell.y / Laid::kNode));
    cv::Mat place;
    cv::remap(scan->laid->to_later, place, node, cv::noArray(), cv::INTER_LINEAR,
              cv::BORDER_REPLICATE);
    const auto& at = place.at<cv::Vec2f>(0, 0);
    px = {static_cast<double>(at[0]), static_cast<double>(at[1])};
  }
  const auto colour = colour_at(*scan, px);
  if (!colour) return {};
  Json out{{"lab", {colour->lab.L, colour->lab.a, colour->lab.b}}};
  out["u_lab"] =
      colour->u_lab ? Json::array({colour->u_lab->L, colour->u_lab->a, colour->u_lab->b}) : Json();
  return out;
}

Json Desk::shape(const Json& json) const {
  if (!json.is_object() || !json.contains("kind") || !json["kind"].is_string()) {
    throw BadRequest("a kind is wanted");
  }
  const std::string kind = json["kind"];
  const auto amount = [&json](const char* key, double most) {
    if (!json.contains(key) || !json[key].is_number()) throw BadRequest("a number is wanted");
    return std::clamp(json[key].get<double>(), 0.0, most);
  };
  constexpr double kMostPx = 10'000;
  if (kind == "line") {
    return {{"polygon", to_json_list(region::stroke(points_from(json.at("points")),
                                                    amount("width", kMostPx)))}};
  }
  if (kind == "freehand") {
    return {{"polygon", to_json_list(region::tidied(points_from(json.at("points")),
                                                    amount("tolerance", kMostPx)))}};
  }
  if (kind != "grow") throw BadRequest("no such kind");
  const auto looked = this->looked();
  const ScanLook* first = looked ? looked->first(side_from(json.value("side", ""))) : nullptr;
  const auto at = points_from(Json::array({json.at("at")}));
  if (first == nullptr || first->light.empty()) return {{"polygon", Json::array()}};
  const Point cell = first->geometry.to_cell(at.front());
  const cv::Point seed(cvRound(cell.x), cvRound(cell.y));
  const int radius = cvCeil(kGrownMm / first->geometry.pitch_mm);
  const cv::Rect window = cv::Rect(seed.x - radius, seed.y - radius, 2 * radius, 2 * radius) &
                          cv::Rect({}, first->geometry.size());
  if (window.empty()) return {{"polygon", Json::array()}};
  const cv::Mat mask =
      grow(lab_of(*first, window), seed - window.tl(), amount("reach", kWidestReach));
  std::vector<Point> polygon = region::trace(mask, kGrownTolerance);
  for (Point& p : polygon) p = first->geometry.to_px({p.x + window.x, p.y + window.y});
  return {{"polygon", to_json_list(polygon)}};
}

std::vector<unsigned char> Desk::map_overlay(std::size_t number) const {
  const results::Results results = results::read_results(within(output() / "results.json"));
  if (number >= results.maps.size() || results.maps[number].png.empty()) {
    throw BadRequest("no such map");
  }
  const results::Map& map = results.maps[number];
  return overlay_png(read_map(within(output() / map.tiff)), map::style_of(map.kind), kOverlayPx);
}

std::string Desk::report() const {
  return treatment::read_text(within(output() / "report.html"));
}

void Desk::stop() {
  looking_.cancel();
  assessing_.cancel();
}

}  // namespace inkwane::desk
