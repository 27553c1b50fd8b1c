#include "simulate/sheet.hpp"

#include <algorithm>
#include <cmath>
#include <set>

#include <opencv2/imgproc.hpp>

#include "simulate/forms.hpp"
#include "simulate/scanner.hpp"

namespace inkwane::simulate {
namespace {

constexpr double kSmoothMm = 0.2;  // lattice of colour that moved, which is blurred by more
constexpr double kShowMm = 0.4;    // lattice of show-through
constexpr int kChunkCells = 80;    // truth cells made at a time: 6.4 mm
constexpr float kLeastArrived = 1e-4F;

/// Lies `mm` between which two nodes of a lattice (node i at (i + ½) pitch), and how far.
struct Between {
  int low = 0, high = 0;
  float part = 0;
};
Between between(double mm, double pitch, int count) {
  const double place = std::clamp(mm / pitch - 0.5, 0.0, count - 1.0);
  const int low = static_cast<int>(place);
  return {low, std::min(low + 1, count - 1), static_cast<float>(place - low)};
}

/// One row of a lattice picture at height `y_mm`.
void row_at(const cv::Mat& lattice, double y_mm, double pitch, std::vector<float>& row) {
  const Between y = between(y_mm, pitch, lattice.rows);
  const auto* low = lattice.ptr<float>(y.low);
  const auto* high = lattice.ptr<float>(y.high);
  row.resize(static_cast<std::size_t>(lattice.cols) * lattice.channels());
  for (std::size_t i = 0; i < row.size(); ++i) row[i] = low[i] + y.part * (high[i] - low[i]);
}

float value_at(const std::vector<float>& row, const Between& x) {
  return row[x.low] + x.part * (row[x.high] - row[x.low]);
}

/// Reflectance with strength added by the ink's law (see `inked`).
INKWANE_WIDE void add_strength(InkLaw law, const PaddedSpectrum& strength,
                               PaddedSpectrum& reflectance) {
  if (law == InkLaw::beer_lambert) {
    for (int k = 0; k < kBands; ++k) {
      reflectance.band[k] *= std::pow(10.0F, -2 * strength.band[k]);
    }
    return;
  }
  for (int k = 0; k < kPadded; ++k) {
    const float r = std::max(reflectance.band[k], 1e-4F);
    const float q = (1 - r) * (1 - r) / (2 * r) + strength.band[k];
    reflectance.band[k] = 1 / (1 + q + std::sqrt(q * q + 2 * q));
  }
}

/// R G B X Y Z of a reflectance × show-through, which lies between two nodes.
INKWANE_WIDE void weigh(const PaddedSpectrum& reflectance, const float* show_low,
                        const float* show_high, float part, const BandWeights& weights,
                        float* sums) {
  PaddedSpectrum shown;
  for (int k = 0; k < kPadded; ++k) {
    shown.band[k] = reflectance.band[k] * (show_low[k] + part * (show_high[k] - show_low[k]));
  }
  // Four sums side by side, so that one addition need not wait for the last.
  EightFloats a{}, b{}, c{}, d{};
  for (int k = 0; k < kPadded; k += 4) {
    a += shown.band[k] * weights[k];
    b += shown.band[k + 1] * weights[k + 1];
    c += shown.band[k + 2] * weights[k + 2];
    d += shown.band[k + 3] * weights[k + 3];
  }
  const EightFloats sum = (a + b) + (c + d);
  for (int w = 0; w < 6; ++w) sums[w] = sum[w];
}

/// Share of a cell of width `pitch` about `centre` that lies between 0 and `length`.
float share_within(double centre, double pitch, double length) {
  const double from = std::max(centre - pitch / 2, 0.0), to = std::min(centre + pitch / 2, length);
  return static_cast<float>(std::clamp((to - from) / pitch, 0.0, 1.0));
}

/// Amount of a tide mark's stain.
cv::Mat tide_amount(const TideMark& mark, const Window& window) {
  constexpr double kSoftMm = 0.2;  // Gaussian standard deviation of its edges
  const Shape shape(line(mark.path_mm, mark.ink, mark.width_mm, false));
  const cv::Rect part = shape.bounds(window);
  cv::Mat amount(window.size, CV_32FC1, cv::Scalar(0));
  cv::Mat there = amount(part);
  shape.coverage(window, part).convertTo(there, CV_32F, mark.amount / 255);
  const double sigma = kSoftMm / window.pitch_mm;
  cv::GaussianBlur(amount, amount, {}, sigma, sigma, cv::BORDER_CONSTANT);
  return amount;
}

bool has_screens(const Print& print) {
  return std::any_of(print.plates().begin(), print.plates().end(),
                     [](const Area& plate) { return plate.screen_lpi > 0; });
}

}  // namespace

/// What one thread needs for a row of fine cells.
struct SheetRaster::Light {
  std::vector<float> show, texture;
  std::vector<std::vector<float>> arrived;
  std::vector<bool> any_arrived;  // between a node and the next
  PaddedSpectrum share, reflectance, unbled;
  // R G B X Y Z of one film at two nodes of show-through: between them they change evenly.
  PlateSet set = 0;
  int node = -1;
  float at_low[6], at_high[6];
};

Window sheet_window(const Scene& scene, double pitch_mm) {
  return {{0, 0},
          pitch_mm,
          {static_cast<int>(std::ceil(scene.paper.width_mm / pitch_mm - 1e-9)),
           static_cast<int>(std::ceil(scene.paper.height_mm / pitch_mm - 1e-9))}};
}

SheetRaster::SheetRaster(const Scene& scene, const std::string& stage, const std::string& side,
                         const std::array<float, 3>& backing)
    : print_(scene, side),
      films_(scene, print_, stage),
      law_(scene.law),
      paper_(padded(paper_at(scene, stage))),
      backing_(backing),
      width_mm_(scene.paper.width_mm),
      height_mm_(scene.paper.height_mm),
      spread_mm_(scene.paper.spread_mm) {
  for (int k = 0; k < kBands; ++k) {
    for (int c = 0; c < 3; ++c) {
      weights_[k][c] = static_cast<float>(sensor_weights()[c][k]);
      weights_[k][3 + c] = static_cast<float>(observer_weights()[c][k]);
    }
  }
  constexpr double kFinestScanOfCoarseRaster = 400;  // dpi
  pitch_mm_ = scene.scanner.dpi > kFinestScanOfCoarseRaster ? 0.02 : 0.04;
  fine_per_row_ = has_screens(print_) && pitch_mm_ > 0.03 ? 2 : 1;
  rows_per_cell_ = cvRound(kTruthMm / pitch_mm_);
  const cv::Size cells =
      sheet_window(scene, kTruthMm).size + cv::Size(2 * kMarginCells, 2 * kMarginCells);
  size_ = cells * rows_per_cell_;
  const cv::Size truth(static_cast<int>(width_mm_ / kTruthMm + 1e-9),
                       static_cast<int>(height_mm_ / kTruthMm + 1e-9));
  xyz_ = cv::Mat(truth, CV_32FC3, cv::Scalar::all(0));
  xyz_unbled_ = cv::Mat(truth, CV_32FC3, cv::Scalar::all(0));
  gather_arrived(scene, stage, side);
  make_show_through(scene, stage, side);
  make_texture(scene, side);
}

void SheetRaster::gather_arrived(const Scene& scene, const std::string& stage,
                                 const std::string& side) {
  const Window window = sheet_window(scene, kSmoothMm);
  const double sigma = scene.paper.bleed_mm / kSmoothMm;
  const std::map<std::string, cv::Mat> here = print_.amounts(window);
  const std::map<std::string, cv::Mat> behind = Print(scene, other_side(side)).amounts(window);
  for (const auto& [ink, fate] : scene.fates) {
    const PaddedSpectrum ink_strength = padded(strength(scene.law, scene.inks.at(ink)));
    const double through = at_stage(fate.bleeds_through, stage, 0);
    if (const auto source = behind.find(ink); source != behind.end() && through > 0) {
      cv::Mat amount;
      cv::GaussianBlur(through_paper(scene, source->second), amount, {}, sigma, sigma,
                       cv::BORDER_CONSTANT);
      arrived_.push_back({ink_strength, amount * through, true});
    }
    const double sideways = at_stage(fate.bleeds_sideways, stage, 0);
    if (const auto source = here.find(ink); source != here.end() && sideways > 0) {
      cv::Mat amount;
      cv::GaussianBlur(source->second, amount, {}, sigma, sigma, cv::BORDER_CONSTANT);
      // About its own place only: what stays there is the ink's own matter.
      amount = amount.mul(cv::max(cv::Scalar::all(0), cv::Scalar::all(1) - source->second));
      arrived_.push_back({ink_strength, amount * sideways, false});
    }
  }
  for (const TideMark& mark : scene.tide_marks) {
    if (mark.side != side || *stage_number(scene, mark.stage) > *stage_number(scene, stage))
      continue;
    arrived_.push_back(
        {padded(strength(scene.law, scene.inks.at(mark.ink))), tide_amount(mark, window), false});
  }
}

void SheetRaster::make_show_through(const Scene& scene, const std::string& stage,
                                    const std::string& side) {
  const Window window = sheet_window(scene, kShowMm);
  show_through_ = cv::Mat(window.size, CV_32FC(kPadded), cv::Scalar::all(0));
  const Print print(scene, other_side(side));
  Films films(scene, print, stage);
  const std::vector<PlateMask> masks = print.masks(window, kShowMm, true);
  FilmRow row(masks, window.size.width);
  PaddedSpectrum share;
  cv::Mat absorbed(window.size, CV_32FC(kPadded));
  for (int j = 0; j < window.size.height; ++j) {
    row.enter(j);
    auto* out = absorbed.ptr<float>(j);
    for (int i = 0; i < window.size.width; ++i) {
      films.prepare(row.set(i));
      row.passed(films, i, share);
      for (int k = 0; k < kPadded; ++k) out[kPadded * i + k] = 1 - share.band[k];
    }
  }
  const double sigma = scene.paper.show_through_mm / kShowMm;
  cv::GaussianBlur(through_paper(scene, absorbed), show_through_, {}, sigma, sigma,
                   cv::BORDER_REPLICATE);
  const double shown = at_stage(scene.paper.show_through_at, stage, scene.paper.show_through);
  show_through_.convertTo(show_through_, CV_32F, -shown, 1);
}

void SheetRaster::make_texture(const Scene& scene, const std::string& side) {
  // Fibres, flocks and clouds of a sheet's formation, mm and weight (common practice, no source).
  struct Scale {
    double mm, weight;
  };
  constexpr std::array<Scale, 3> kScales{{{0.12, 0.7}, {0.5, 0.5}, {3, 0.5}}};
  const Window window = sheet_window(scene, kTruthMm);
  texture_ = cv::Mat(window.size, CV_32FC1, cv::Scalar(0));
  Random random(scene.seed, 7, side == "recto" ? 0 : 1);
  for (const Scale& scale : kScales) {
    // Coarse scales need a coarse lattice only.
    const double pitch = std::max(kTruthMm, scale.mm / 3);
    cv::Mat grain(sheet_window(scene, pitch).size + cv::Size(8, 8), CV_32FC1);
    for (int j = 0; j < grain.rows; ++j) {
      for (int i = 0; i < grain.cols; ++i) grain.at<float>(j, i) = random.normal();
    }
    cv::GaussianBlur(grain, grain, {}, scale.mm / pitch);
    cv::Scalar mean, deviation;
    cv::meanStdDev(grain, mean, deviation);
    cv::resize((grain - mean) * (scale.weight * scene.paper.texture / deviation[0]), grain,
               window.size, 0, 0, cv::INTER_CUBIC);
    texture_ += grain;
  }
  texture_ += 1;
}

void SheetRaster::need(int first, int last) {
  int ready = first_row_ + rows_.rows;
  const int drop = std::min(first, ready) - first_row_;
  if (drop > kChunkCells * rows_per_cell_) {
    rows_ = rows_.rowRange(drop, rows_.rows).clone();
    first_row_ += drop;
  }
  while (ready < std::min(last, size_.height)) {
    const int cell_row = ready / rows_per_cell_;
    const int cell_rows = std::min(kChunkCells, size_.height / rows_per_cell_ - cell_row);
    cv::Mat rows(cell_rows * rows_per_cell_, size_.width, CV_32FC3, cv::Scalar::all(0));
    make_rows(rows, cell_row, cell_rows);
    if (rows_.empty()) {
      rows_ = rows;
    } else {
      rows_.push_back(rows);
    }
    ready += rows.rows;
  }
}

void SheetRaster::make_rows(cv::Mat& rows, int first_cell_row, int cell_rows) {
  const int fine_per_cell = rows_per_cell_ * fine_per_row_;
  Window window;
  window.pitch_mm = kTruthMm / fine_per_cell;
  window.origin_mm = origin_mm() + cv::Point2d(0, first_cell_row * kTruthMm);
  window.size = {size_.width * fine_per_row_, cell_rows * fine_per_cell};
  const std::vector<PlateMask> masks = print_.masks(window, spread_mm_, false);

  FilmRow seen(masks, window.size.width);
  std::set<PlateSet> sets;
  for (int j = 0; j < window.size.height; ++j) {
    seen.enter(j);
    PlateSet before = ~PlateSet{0};
    for (const PlateSet set : seen.sets()) {
      if (set != before && sets.insert(set).second) films_.prepare(set);
      before = set;
    }
  }
  cv::parallel_for_({0, cell_rows}, [&](const cv::Range& range) {
    FilmRow films(masks, window.size.width);
    Light light;
    for (int j = range.start; j < range.end; ++j) {
      make_cell_row(films, light, first_cell_row + j, j, rows);
    }
  });
}

void SheetRaster::enter_row(FilmRow& films, Light& light, int row, double y_mm) const {
  films.enter(row);
  row_at(show_through_, y_mm, kShowMm, light.show);
  row_at(texture_, y_mm, kTruthMm, light.texture);
  light.arrived.resize(arrived_.size());
  for (std::size_t a = 0; a < arrived_.size(); ++a) {
    const std::vector<float>& amount = light.arrived[a];
    row_at(arrived_[a].amount, y_mm, kSmoothMm, light.arrived[a]);
    light.any_arrived.resize(amount.size());
    if (a == 0) light.any_arrived.assign(amount.size(), false);
    for (std::size_t i = 0; i < amount.size(); ++i) {
      const float next = amount[std::min(i + 1, amount.size() - 1)];
      if (std::max(amount[i], next) >= kLeastArrived) light.any_arrived[i] = true;
    }
  }
  light.node = -1;
}

/// Reflectance × show-through at a place, weighed.
void SheetRaster::weigh_shown(const Light& light, const PaddedSpectrum& reflectance, int node,
                              float part, float* sums) const {
  const float* s0 = light.show.data() + static_cast<std::ptrdiff_t>(kPadded) * node;
  const float* s1 = s0 + (node + 1 < show_through_.cols ? kPadded : 0);
  weigh(reflectance, s0, s1, part, weights_, sums);
}

/// Adds what arrived at a place; true if some of it came through the paper, and then `unbled` is
/// the reflectance without that.
bool SheetRaster::add_arrived(Light& light, double x_mm) const {
  const Between x = between(x_mm, kSmoothMm, arrived_[0].amount.cols);
  PaddedSpectrum all, sideways;
  bool any = false, bled = false;
  for (std::size_t a = 0; a < arrived_.size(); ++a) {
    const float amount = value_at(light.arrived[a], x);
    if (amount < kLeastArrived) continue;
    any = true;
    bled |= arrived_[a].through;
    for (int k = 0; k < kPadded; ++k) {
      const float added = amount * arrived_[a].strength.band[k];
      all.band[k] += added;
      if (!arrived_[a].through) sideways.band[k] += added;
    }
  }
  if (bled) {
    light.unbled = light.reflectance;
    add_strength(law_, sideways, light.unbled);
  }
  if (any) add_strength(law_, all, light.reflectance);
  return bled;
}

/// R G B X Y Z of a fine cell on the sheet, as it is and X Y Z without what bled; less the texture.
void SheetRaster::light_at(FilmRow& films, Light& light, int i, double x_mm, float* sums,
                           float* unbled) const {
  const Between show = between(x_mm, kShowMm, show_through_.cols);
  const bool arrived =
      !arrived_.empty() && light.any_arrived[between(x_mm, kSmoothMm, arrived_[0].amount.cols).low];
  const bool even = films.solid(i) && !arrived;  // changes along the row by show-through alone
  const bool known = even && light.node == show.low && light.set == films.set(i);
  if (!known) {
    films.passed(films_, i, light.share);
    for (int k = 0; k < kPadded; ++k)
      light.reflectance.band[k] = paper_.band[k] * light.share.band[k];
  }
  if (even) {
    if (!known) {
      weigh_shown(light, light.reflectance, show.low, 0, light.at_low);
      weigh_shown(light, light.reflectance, show.low, 1, light.at_high);
      light.node = show.low;
      light.set = films.set(i);
    }
    for (int c = 0; c < 6; ++c) {
      sums[c] = light.at_low[c] + show.part * (light.at_high[c] - light.at_low[c]);
    }
    for (int c = 0; c < 3; ++c) unbled[c] = sums[3 + c];
    return;
  }
  const bool bled = arrived && add_arrived(light, x_mm);
  weigh_shown(light, light.reflectance, show.low, show.part, sums);
  for (int c = 0; c < 3; ++c) unbled[c] = sums[3 + c];
  if (bled) {
    float without[6];
    weigh_shown(light, light.unbled, show.low, show.part, without);
    for (int c = 0; c < 3; ++c) unbled[c] = without[3 + c];
  }
}

void SheetRaster::make_cell_row(FilmRow& films, Light& light, int cell_row, int chunk_cell_row,
                                cv::Mat& rows) {
  const int fine_per_cell = rows_per_cell_ * fine_per_row_;
  const double fine_mm = kTruthMm / fine_per_cell;
  const float row_part = 1.0F / static_cast<float>(fine_per_row_ * fine_per_row_);
  const float cell_part = 1.0F / static_cast<float>(fine_per_cell * fine_per_cell);
  const int width = size_.width * fine_per_row_;
  const int truth_row = cell_row - kMarginCells;
  const bool in_truth = truth_row >= 0 && truth_row < xyz_.rows;

  for (int f = 0; f < fine_per_cell; ++f) {
    const double y_mm = origin_mm().y + cell_row * kTruthMm + (f + 0.5) * fine_mm;
    auto* out = rows.ptr<float>(chunk_cell_row * rows_per_cell_ + f / fine_per_row_);
    const float inside_y = share_within(y_mm, fine_mm, height_mm_);
    if (inside_y > 0) enter_row(films, light, chunk_cell_row * fine_per_cell + f, y_mm);
    for (int i = 0; i < width; ++i) {
      float* rgb = out + 3 * (i / fine_per_row_);
      const double x_mm = origin_mm().x + (i + 0.5) * fine_mm;
      const float inside = inside_y * share_within(x_mm, fine_mm, width_mm_);
      if (inside < 1) {
        for (int c = 0; c < 3; ++c) rgb[c] += row_part * (1 - inside) * backing_[c];
        if (inside == 0) continue;
      }
      float sums[6], unbled[3];
      light_at(films, light, i, x_mm, sums, unbled);
      const float texture = value_at(light.texture, between(x_mm, kTruthMm, texture_.cols));
      for (int c = 0; c < 3; ++c) rgb[c] += row_part * inside * texture * sums[c];

      const int truth_column = i / fine_per_cell - kMarginCells;
      if (!in_truth || truth_column < 0 || truth_column >= xyz_.cols) continue;
      float* xyz = xyz_.ptr<float>(truth_row) + 3 * truth_column;
      float* xyz_unbled = xyz_unbled_.ptr<float>(truth_row) + 3 * truth_column;
      for (int c = 0; c < 3; ++c) {
        xyz[c] += cell_part * texture * sums[3 + c];
        xyz_unbled[c] += cell_part * texture * unbled[c];
      }
    }
  }
}

}  // namespace inkwane::simulate
