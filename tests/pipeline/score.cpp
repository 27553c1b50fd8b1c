#include "tests/pipeline/score.hpp"

#include <algorithm>
#include <cmath>
#include <fstream>
#include <limits>
#include <memory>
#include <stdexcept>

#include <fmt/format.h>
#include <opencv2/imgproc.hpp>
#include <tiffio.h>

#include <inkwane/assess.hpp>

#include "results/results.hpp"
#include "scanner/scanner.hpp"
#include "simulate/card.hpp"
#include "tests/pipeline/kinds.hpp"
#include "tests/pipeline/score_course.hpp"
#include "tests/pipeline/score_findings.hpp"
#include "tests/support.hpp"

namespace inkwane::test {
namespace {

namespace fs = std::filesystem;

constexpr double kMmPerInch = 25.4;
/// ΔE00 of the truth below which a place did not change (light of a faded neighbour that paper
/// spreads into its edge is more than 0).
constexpr double kUnchanged = 0.05;

/// A float TIFF as rows of values, `channels` a cell. Read with libtiff directly, as an outsider
/// would.
struct Raster {
  int columns = 0, rows = 0, channels = 1;
  std::vector<float> values;
  [[nodiscard]] float at(int i, int j, int channel = 0) const {
    return values[(static_cast<std::size_t>(j) * columns + i) * channels + channel];
  }
};

Raster read_tiff(const fs::path& file) {
  const std::unique_ptr<TIFF, decltype(&TIFFClose)> tiff(TIFFOpen(file.c_str(), "r"), &TIFFClose);
  if (!tiff) throw std::runtime_error("cannot open " + file.string());
  std::uint32_t width = 0, height = 0;
  std::uint16_t channels = 1, bits = 0, format = 0;
  TIFFGetField(tiff.get(), TIFFTAG_IMAGEWIDTH, &width);
  TIFFGetField(tiff.get(), TIFFTAG_IMAGELENGTH, &height);
  TIFFGetFieldDefaulted(tiff.get(), TIFFTAG_SAMPLESPERPIXEL, &channels);
  TIFFGetFieldDefaulted(tiff.get(), TIFFTAG_BITSPERSAMPLE, &bits);
  TIFFGetFieldDefaulted(tiff.get(), TIFFTAG_SAMPLEFORMAT, &format);
  if (bits != 32 || format != SAMPLEFORMAT_IEEEFP) throw std::runtime_error("not 32-bit float");
  Raster raster{static_cast<int>(width), static_cast<int>(height), channels, {}};
  raster.values.resize(static_cast<std::size_t>(width) * height * channels);
  for (std::uint32_t row = 0; row < height; ++row) {
    float* line = raster.values.data() + static_cast<std::size_t>(row) * width * channels;
    if (TIFFReadScanline(tiff.get(), line, row) != 1) throw std::runtime_error("cannot read row");
  }
  return raster;
}

/// The truth lattice's value nearest to a pixel of the first stage's scan; NaN beyond it.
double truth_at(const cv::Mat& truth, double pitch_px, double x, double y) {
  const int i = static_cast<int>(std::lround(x / pitch_px));
  const int j = static_cast<int>(std::lround(y / pitch_px));
  if (i < 0 || j < 0 || i >= truth.cols || j >= truth.rows) {
    return std::numeric_limits<double>::quiet_NaN();
  }
  return static_cast<double>(truth.at<float>(j, i));
}

LabD50 lab_of(const simulate::Lab& lab) {
  return {lab[0], lab[1], lab[2]};
}

class Scoring {
 public:
  Scoring(const simulate::Scene& scene, const simulate::Truth& truth,
          const results::Results& results, fs::path folder)
      : scene_(scene), truth_(truth), results_(results), folder_(std::move(folder)) {}

  Scores run() {
    for (const results::Scan& scan : results_.scans) score_scan(scan);
    for (const results::Region& region : results_.regions) score_region(region);
    for (const results::Map& map : results_.maps) score_map(map);
    score_findings(scene_, truth_, results_, scores_);
    return std::move(scores_);
  }

 private:
  void score_scan(const results::Scan& scan) {
    if (!scan.target) return;
    const std::string where = fmt::format("{} {}", scan.stage, to_string(scan.side));
    scores_.left_out.add(scan.target->left_out_dE00_median, where);
    const auto& corners = truth_.target_corners.at(scan.stage + "." + to_string(scan.side));
    for (std::size_t i = 0; i < 4; ++i) {
      const Point& found = scan.target->corners_px[i];
      scores_.corners_px.add(std::hypot(found.x - corners[i].x, found.y - corners[i].y), where);
    }
  }

  void cover(const std::string& figure, const results::Interval& interval, double truth) {
    if (!interval) return;
    const auto& [low, high] = *interval;
    // A truth of exactly 0 or 1 may stand at an end that is rounded in the file.
    constexpr double kRounding = 1e-6;
    scores_.covered[figure].push_back(low - kRounding <= truth && truth <= high + kRounding);
    scores_.half_width[figure].push_back((high - low) / 2);
  }

  void score_region(const results::Region& region) {
    const auto& colours = truth_.lab.at(region.id);
    for (const auto& [stage, found] : region.stages) {
      const LabD50 wanted = lab_of(colours.at(stage));
      scores_.lab.add(ciede2000(found.lab, wanted), fmt::format("{} at {}", region.id, stage));
      const auto within = [&](double value, double truth, double u) {
        scores_.covered["Lab, 2 u"].push_back(std::abs(value - truth) <= 2 * u);
        scores_.half_width["Lab, 2 u"].push_back(2 * u);
      };
      within(found.lab.L, wanted.L, found.u_lab.L);
      within(found.lab.a, wanted.a, found.u_lab.a);
      within(found.lab.b, wanted.b, found.u_lab.b);
    }
    for (const results::RegionChange& change : region.changes) {
      const double truth =
          ciede2000(lab_of(colours.at(change.from)), lab_of(colours.at(change.to)));
      ++scores_.regions;
      if (change.detectable.value_or(false)) ++scores_.detectable;
      if (change.dE00) scores_.dE00.add(std::abs(*change.dE00 - truth), region.id);
      if (change.dE00 && truth < kUnchanged) scores_.false_change.add(*change.dE00, region.id);
      cover("dE00", change.dE00_ci95, truth);
      const auto [kind, errors] = strength_errors(region.id);
      score_share(truth_.strength_kept, region.id, change, change.strength_kept,
                  change.strength_kept_ci95, kind, *errors);
      score_share(truth_.residual, region.id, change, change.residual, change.residual_ci95,
                  "residual", scores_.residual);
    }
  }

  /// Solids and screens are judged apart.
  [[nodiscard]] std::pair<std::string, Errors*> strength_errors(const std::string& id) {
    const auto named = std::find_if(scene_.regions.begin(), scene_.regions.end(),
                                    [&id](const auto& region) { return region.id == id; });
    std::vector<cv::Point2f> outline(named->outline_mm.begin(), named->outline_mm.end());
    const cv::Scalar centre = cv::mean(outline);
    int screens = 0;
    for (const simulate::Area& area : simulate::areas_of(scene_, named->side)) {
      const std::vector<cv::Point2f> form(area.outline_mm.begin(), area.outline_mm.end());
      if (area.screen_lpi > 0 &&
          cv::pointPolygonTest(
              form, cv::Point2f(static_cast<float>(centre[0]), static_cast<float>(centre[1])),
              false) > 0)
        ++screens;
    }
    if (screens == 0) return {"strength kept", &scores_.strength};
    if (screens == 1) return {"one screen", &scores_.one_screen};
    return {"two screens", &scores_.two_screens};
  }

  void score_share(const std::map<std::string, std::map<std::string, double>>& truths,
                   const std::string& region, const results::RegionChange& change,
                   const results::Number& value, const results::Interval& interval,
                   const std::string& figure, Errors& errors) {
    const auto truth = truths.find(region);
    if (truth == truths.end()) return;
    if (!value) {
      ++scores_.unanswered;
      return;
    }
    const auto from = truth->second.find(change.from);
    const double before = from == truth->second.end() ? 1 : from->second;
    const double wanted = truth->second.at(change.to) / before;
    errors.add(std::abs(*value - wanted), region);
    cover(figure, interval, wanted);
  }

  void score_map(const results::Map& map) {
    const std::string side = to_string(map.side);
    const std::string key = side + "." + map.to;
    const bool from_first = map.from == scene_.stages.front();
    if (!from_first) return;
    const double px_per_mm = scene_.scanner.dpi / kMmPerInch;
    if (map.kind == "position") {
      score_position(map, px_per_mm);
    } else if (map.kind == "difference") {
      score_cells(map, truth_.difference.at(key), px_per_mm, scores_.difference);
    } else if (map.kind == "lost-ink") {
      score_cells(map, truth_.lost_ink.at(key), px_per_mm, scores_.lost_ink);
    } else if (map.kind == "bleed-through" && truth_.bleed_through.contains(key)) {
      const cv::Mat& truth = truth_.bleed_through.at(key);
      score_bleed(map, truth, px_per_mm, 2, scores_.missed_bleed);
      score_bleed(map, truth, px_per_mm, 1, scores_.missed_faint_bleed);
    }
  }

  [[nodiscard]] static Point pixel(const results::Map& map, int i, int j) {
    return {map.origin_px.x + map.pitch_px * i, map.origin_px.y + map.pitch_px * j};
  }

  void score_position(const results::Map& map, double px_per_mm) {
    const Raster raster = read_tiff(folder_ / map.tiff);
    // The field is judged where the sheet is: the difference map tells where it was measured.
    const auto difference =
        std::find_if(results_.maps.begin(), results_.maps.end(), [&](const results::Map& other) {
          return other.kind == "difference" && other.side == map.side && other.to == map.to &&
                 other.from == map.from;
        });
    const Raster sheet = read_tiff(folder_ / difference->tiff);
    const auto& position = truth_.position.at(map.to + "." + to_string(map.side));
    for (int j = 0; j < raster.rows; j += 4) {
      for (int i = 0; i < raster.columns; i += 4) {
        if (std::isnan(sheet.at(i, j)) || std::isnan(raster.at(i, j))) continue;
        const Point px = pixel(map, i, j);
        const cv::Point2d wanted = position({px.x, px.y});
        scores_.alignment_mm.add(std::hypot(static_cast<double>(raster.at(i, j, 0)) - wanted.x,
                                            static_cast<double>(raster.at(i, j, 1)) - wanted.y) /
                                     px_per_mm,
                                 to_string(map.side));
      }
    }
  }

  void score_cells(const results::Map& map, const cv::Mat& truth, double px_per_mm,
                   Errors& errors) {
    const Raster raster = read_tiff(folder_ / map.tiff);
    const double pitch = truth_.truth_pitch_mm * px_per_mm;
    int cells = 0, above = 0;
    for (int j = 0; j < raster.rows; j += 2) {
      for (int i = 0; i < raster.columns; i += 2) {
        const Point px = pixel(map, i, j);
        const double wanted = truth_at(truth, pitch, px.x, px.y);
        const auto found = static_cast<double>(raster.at(i, j));
        if (std::isnan(found)) continue;
        ++cells;
        if (found >= 2) ++above;
        if (!std::isnan(wanted)) errors.add(std::abs(found - wanted), to_string(map.side));
      }
    }
    if (map.kind == "difference" && cells > 0) {
      scores_.share_above_2.add(static_cast<double>(above) / cells, to_string(map.side));
    }
  }

  void score_bleed(const results::Map& map, const cv::Mat& truth, double px_per_mm, double level,
                   Errors& missed) {
    const Raster raster = read_tiff(folder_ / map.tiff);
    const double pitch = truth_.truth_pitch_mm * px_per_mm;
    double both = 0, either = 0;
    for (int j = 0; j < raster.rows; ++j) {
      for (int i = 0; i < raster.columns; ++i) {
        const Point px = pixel(map, i, j);
        const double wanted = truth_at(truth, pitch, px.x, px.y);
        const auto found = static_cast<double>(raster.at(i, j));
        if (std::isnan(found) || std::isnan(wanted)) continue;
        both += found >= level && wanted >= level ? 1 : 0;
        either += found >= level || wanted >= level ? 1 : 0;
      }
    }
    if (either > 0) missed.add(1 - both / either, map.to);
  }

  const simulate::Scene& scene_;
  const simulate::Truth& truth_;
  const results::Results& results_;
  fs::path folder_;
  Scores scores_;
};

template <typename T>
void append(std::vector<T>& to, const std::vector<T>& from) {
  to.insert(to.end(), from.begin(), from.end());
}

}  // namespace

void Errors::add(double error, const std::string& where) {
  values.push_back(error);
  if (error > worst) worst = error, worst_at = where;
}

void Errors::add(const Errors& other) {
  append(values, other.values);
  if (other.worst > worst) worst = other.worst, worst_at = other.worst_at;
}

void Scores::add(const Scores& other) {
  corners_px.add(other.corners_px);
  left_out.add(other.left_out);
  lab.add(other.lab);
  dE00.add(other.dE00);
  false_change.add(other.false_change);
  strength.add(other.strength);
  one_screen.add(other.one_screen);
  two_screens.add(other.two_screens);
  residual.add(other.residual);
  alignment_mm.add(other.alignment_mm);
  difference.add(other.difference);
  lost_ink.add(other.lost_ink);
  missed_bleed.add(other.missed_bleed);
  missed_faint_bleed.add(other.missed_faint_bleed);
  bleed_area.add(other.bleed_area);
  source_share.add(other.source_share);
  false_suspects.add(other.false_suspects);
  false_tides.add(other.false_tides);
  share_above_2.add(other.share_above_2);
  for (const auto& [figure, values] : other.covered) append(covered[figure], values);
  for (const auto& [figure, values] : other.half_width) append(half_width[figure], values);
  detectable += other.detectable;
  regions += other.regions;
  unanswered += other.unanswered;
  touches += other.touches;
  touches_found += other.touches_found;
  tides += other.tides;
  tides_found += other.tides_found;
  rate.add(other.rate);
  for (const auto& [figure, errors] : other.course) course[figure].add(errors);
  for (const auto& [answer, count] : other.advice) advice[answer] += count;
}

void write_scanner_file(const simulate::Scene& scene, ScannerFile kind,
                        const fs::path& scene_folder) {
  if (kind == ScannerFile::none) return;
  scanner::Scanner scanner;
  if (kind == ScannerFile::card) {
    simulate::CardPrint print;
    print.seed = scene.seed + 100;
    const fs::path card = scene_folder / "card.tif";
    simulate::write_card_scan(print, scene.scanner, card);
    scanner = scanner::measure_card(scan::Scan::open(card));
  } else {
    scanner.file = "none";
    scanner.sha256 = "none";
    scanner.profile = scene.scanner.embed_profile ? "Simulated flatbed" : "none";
    scanner.resolution_dpi = 1;  // that of no scan: it tells no point spread
    scanner.stray_light = {{0, scanner::kTypical.length_mm}, scanner::kTypical.kappa, 0, 0};
  }
  std::ofstream(scene_folder / "scanner.toml") << scanner::to_toml(scanner);
  std::ofstream(scene_folder / "treatment.toml", std::ios::app)
      << "\n[measure]\nscanner = \"scanner.toml\"\n";
}

Scores score_scene(const simulate::Scene& scene, const fs::path& folder, const fs::path& program,
                   ScannerFile scanner) {
  const simulate::Truth truth = simulate::write_scene(scene, folder / "scene");
  write_scanner_file(scene, scanner, folder / "scene");
  const fs::path file = folder / "scene" / "treatment.toml", output = folder / "assessment";
  results::Results results;
  if (program.empty()) {
    AssessOptions options;
    options.output = output;
    results = assess(read_treatment(file), options);
  } else {
    const Outcome outcome =
        run(program, {"assess", file, "-o", output, "--quiet", "--threads", "1"});
    if (outcome.code > 1) throw std::runtime_error(outcome.err);
    results = results::read_results(output / "results.json");
  }
  Scores scores = Scoring(scene, truth, results, output).run();
  const bool followed = std::any_of(scene.fates.begin(), scene.fates.end(), [](const auto& fate) {
    return fate.second.kept.contains(kNextStage);
  });
  if (followed) score_course(scene, truth, *results.course, scores);
  return scores;
}

double quantile(std::vector<double> values, double q) {
  if (values.empty()) return std::numeric_limits<double>::quiet_NaN();
  std::sort(values.begin(), values.end());
  const double at = q * static_cast<double>(values.size() - 1);
  const auto low = static_cast<std::size_t>(at);
  const std::size_t high = std::min(low + 1, values.size() - 1);
  return values[low] + (at - static_cast<double>(low)) * (values[high] - values[low]);
}

std::string to_text(const Scores& scores) {
  std::string out = fmt::format("{:<18}{:>9}{:>10}{:>10}{:>10}{:>10}\n", "figure", "n", "mean",
                                "median", "p95", "worst");
  const auto row = [&out](const std::string& name, const Errors& errors) {
    const std::vector<double>& values = errors.values;
    if (values.empty()) return;
    double sum = 0;
    for (const double value : values) sum += value;
    out += fmt::format("{:<18}{:>9}{:>10.4f}{:>10.4f}{:>10.4f}{:>10.4f}  {}\n", name, values.size(),
                       sum / static_cast<double>(values.size()), quantile(values, 0.5),
                       quantile(values, 0.95), quantile(values, 1), errors.worst_at);
  };
  row("corners px", scores.corners_px);
  row("left-out dE00", scores.left_out);
  row("Lab dE00", scores.lab);
  row("change dE00", scores.dE00);
  row("false dE00", scores.false_change);
  row("strength kept", scores.strength);
  row("one screen", scores.one_screen);
  row("two screens", scores.two_screens);
  row("residual", scores.residual);
  row("alignment mm", scores.alignment_mm);
  row("difference map", scores.difference);
  row("lost-ink map", scores.lost_ink);
  row("bleed missed", scores.missed_bleed);
  row("bleed missed, 1", scores.missed_faint_bleed);
  row("bleed area", scores.bleed_area);
  row("source share", scores.source_share);
  row("false suspects", scores.false_suspects);
  row("false tidelines", scores.false_tides);
  row("share above 2", scores.share_above_2);
  for (const auto& [figure, values] : scores.covered) {
    const auto held = std::count(values.begin(), values.end(), true);
    out += fmt::format("{:<18}{:>9} intervals hold {:.1f} %, median half-width {:.4f}\n", figure,
                       values.size(),
                       100.0 * static_cast<double>(held) / static_cast<double>(values.size()),
                       quantile(scores.half_width.at(figure), 0.5));
  }
  row("rate of decay", scores.rate);
  for (const auto& [figure, errors] : scores.course) row(figure, errors);
  for (const auto& [answer, count] : scores.advice)
    out += fmt::format("advice, right → given: {}: {}\n", answer, count);
  out += fmt::format("regions detectable {} of {}; strengths and residuals not had: {}\n",
                     scores.detectable, scores.regions, scores.unanswered);
  out += fmt::format("undeclared touches found {} of {}; tidelines found {} of {}\n",
                     scores.touches_found, scores.touches, scores.tides_found, scores.tides);
  return out;
}

}  // namespace inkwane::test
