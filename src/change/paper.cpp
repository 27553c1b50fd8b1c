#include "change/paper.hpp"

#include <limits>
#include <numeric>

#include <opencv2/imgproc.hpp>

#include "change/colour_space.hpp"

namespace inkwane::change {
namespace {

constexpr double kTileMm = 5;
/// Bare paper varies within this about the sheet's own tone (toning towards the edges,
/// show-through).
constexpr float kSheetL = 10, kSheetAb = 9;
/// … and within this about the tone of its tile.
constexpr float kTileL = 4, kTileAb = 5;
/// The lightest tone of a tile is the mean of what lies within this of its 90th percentile.
constexpr float kLightestL = 2;
constexpr int kStride = 3;

struct LabF {
  float L, a, b;
};

LabF lab_of(const cv::Vec3f& xyz) {
  const LabD50 lab = to_lab(
      {static_cast<double>(xyz[0]), static_cast<double>(xyz[1]), static_cast<double>(xyz[2])});
  return {static_cast<float>(lab.L), static_cast<float>(lab.a), static_cast<float>(lab.b)};
}

bool measured(const Layer& layer, int row, int column) {
  return layer.valid.at<uchar>(row, column) != 0 &&
         !std::isnan(layer.xyz.at<cv::Vec3f>(row, column)[1]);
}

/// The lightest common colour of the sheet: the lightest peak of L* that holds a twentieth of it,
/// and in that peak the least coloured of the common (a*, b*).
bool sheet_paper(const std::vector<LabF>& cells, LabF& paper) {
  if (cells.size() < 50) return false;
  std::array<double, 101> histogram{};
  for (const LabF& c : cells)
    histogram[static_cast<std::size_t>(std::clamp(c.L, 0.0F, 100.0F))] += 1;
  auto mass = [&](int level) {
    double sum = 0;
    for (int l = std::max(0, level - 1); l <= std::min(100, level + 1); ++l)
      sum += histogram[static_cast<std::size_t>(l)];
    return sum;
  };
  const double enough = 0.05 * static_cast<double>(cells.size());
  int peak = -1;
  for (int l = 100; l >= 0 && peak < 0; --l) {
    if (mass(l) >= enough && mass(l) >= mass(std::max(0, l - 1))) peak = l;
  }
  if (peak < 0) {  // no tone is common: the lightest there is
    double above = 0;
    for (peak = 100; peak > 0 && above < enough; --peak)
      above += histogram[static_cast<std::size_t>(peak)];
  }

  constexpr int kBin = 4, kBins = 64;  // of a* and b*, −128 … 128
  std::vector<int> plane(kBins * kBins);
  auto bin = [](float v) { return std::clamp(static_cast<int>((v + 128) / kBin), 0, kBins - 1); };
  for (const LabF& c : cells) {
    if (std::abs(c.L - static_cast<float>(peak) - 0.5F) <= 2)
      ++plane[static_cast<std::size_t>(bin(c.a) * kBins + bin(c.b))];
  }
  const int most = *std::max_element(plane.begin(), plane.end());
  float least = std::numeric_limits<float>::max();
  LabF centre{};
  for (int i = 0; i < kBins * kBins; ++i) {
    const float a = static_cast<float>((i / kBins) * kBin) - 126,
                b = static_cast<float>((i % kBins) * kBin) - 126;
    if (5 * plane[static_cast<std::size_t>(i)] >= most && std::hypot(a, b) < least) {
      least = std::hypot(a, b);
      centre = {static_cast<float>(peak) + 0.5F, a, b};
    }
  }
  // From the bin's centre to the middle of the cells about it.
  for (int round = 0; round < 3; ++round) {
    double n = 0, L = 0, a = 0, b = 0;
    for (const LabF& c : cells) {
      if (std::abs(c.L - centre.L) > 3 || std::hypot(c.a - centre.a, c.b - centre.b) > 5) continue;
      n += 1, L += static_cast<double>(c.L), a += static_cast<double>(c.a),
          b += static_cast<double>(c.b);
    }
    if (n == 0) break;
    centre = {static_cast<float>(L / n), static_cast<float>(a / n), static_cast<float>(b / n)};
  }
  paper = centre;
  return true;
}

/// One stage's sums over the lightest bare cells of each tile.
struct Tiles {
  cv::Mat xyz, light, weight;  // CV_32FC3 means, CV_32FC1 counts
};

Tiles lightest(const SideInput& side, std::size_t stage, const LabF& paper, int tile,
               const cv::Mat& within) {
  const Layer& layer = side.layers[stage];
  const int rows = (side.geometry.rows + tile - 1) / tile,
            columns = (side.geometry.columns + tile - 1) / tile;
  Tiles tiles{cv::Mat(rows, columns, CV_32FC3, cv::Scalar::all(0)),
              cv::Mat(rows, columns, CV_32FC3, cv::Scalar::all(0)),
              cv::Mat(rows, columns, CV_32FC1, cv::Scalar::all(0))};
  cv::parallel_for_({0, rows}, [&](const cv::Range& range) {
    struct Cell {
      float L;
      int row, column;
    };
    std::vector<Cell> cells;
    for (int ty = range.start; ty < range.end; ++ty) {
      for (int tx = 0; tx < columns; ++tx) {
        cells.clear();
        for (int y = ty * tile; y < std::min((ty + 1) * tile, side.geometry.rows); y += kStride) {
          for (int x = tx * tile; x < std::min((tx + 1) * tile, side.geometry.columns);
               x += kStride) {
            if (!measured(layer, y, x) || (!within.empty() && within.at<uchar>(y, x) == 0))
              continue;
            const LabF c = lab_of(layer.xyz.at<cv::Vec3f>(y, x));
            if (std::abs(c.L - paper.L) < kSheetL &&
                std::hypot(c.a - paper.a, c.b - paper.b) < kSheetAb) {
              cells.push_back({c.L, y, x});
            }
          }
        }
        if (cells.size() < 10) continue;
        const auto at = cells.begin() + static_cast<std::ptrdiff_t>(cells.size() * 9 / 10);
        std::nth_element(cells.begin(), at, cells.end(),
                         [](const Cell& p, const Cell& q) { return p.L < q.L; });
        const float least = at->L - kLightestL;
        cv::Vec3d xyz, light;
        double n = 0;
        for (const Cell& c : cells) {
          if (c.L < least) continue;
          const auto& v = layer.xyz.at<cv::Vec3f>(c.row, c.column);
          const auto& t = layer.light.at<cv::Vec3f>(c.row, c.column);
          for (int i = 0; i < 3; ++i)
            xyz[i] += static_cast<double>(v[i]), light[i] += static_cast<double>(t[i]);
          n += 1;
        }
        for (int i = 0; i < 3; ++i) {
          tiles.xyz.at<cv::Vec3f>(ty, tx)[i] = static_cast<float>(xyz[i] / n);
          tiles.light.at<cv::Vec3f>(ty, tx)[i] = static_cast<float>(light[i] / n);
        }
        tiles.weight.at<float>(ty, tx) = static_cast<float>(n);
      }
    }
  });
  return tiles;
}

/// Weighted Gaussian means over ever wider neighbourhoods, so that every tile has a value and one
/// that has enough of its own keeps close to it.
cv::Mat filled(const cv::Mat& values, const cv::Mat& weight) {
  cv::Mat result(values.size(), CV_32FC3, cv::Scalar::all(0)),
      known(values.size(), CV_8UC1, cv::Scalar(0));
  const double reach = std::hypot(values.rows, values.cols);
  for (double sigma = 0.7; cv::countNonZero(known) < known.rows * known.cols && sigma < 2 * reach;
       sigma *= 2) {
    cv::Mat w3, sum, total;
    cv::merge(std::vector<cv::Mat>{weight, weight, weight}, w3);
    cv::GaussianBlur(values.mul(w3), sum, {}, sigma, sigma, cv::BORDER_CONSTANT);
    cv::GaussianBlur(weight, total, {}, sigma, sigma, cv::BORDER_CONSTANT);
    for (int y = 0; y < values.rows; ++y) {
      for (int x = 0; x < values.cols; ++x) {
        const float n = total.at<float>(y, x);
        if (known.at<uchar>(y, x) != 0 || n < 3) continue;
        result.at<cv::Vec3f>(y, x) = sum.at<cv::Vec3f>(y, x) / n;
        known.at<uchar>(y, x) = 255;
      }
    }
  }
  const cv::Scalar mean = cv::mean(result, known);
  result.setTo(mean, known == 0);
  return result;
}

cv::Vec3f bilinear(const cv::Mat& tiles, double x, double y) {
  x = std::clamp(x, 0.0, tiles.cols - 1.0);
  y = std::clamp(y, 0.0, tiles.rows - 1.0);
  const int x0 = std::min(static_cast<int>(x), std::max(0, tiles.cols - 2)),
            x1 = std::min(x0 + 1, tiles.cols - 1);
  const int y0 = std::min(static_cast<int>(y), std::max(0, tiles.rows - 2)),
            y1 = std::min(y0 + 1, tiles.rows - 1);
  const auto fx = static_cast<float>(x - x0), fy = static_cast<float>(y - y0);
  return (tiles.at<cv::Vec3f>(y0, x0) * (1 - fx) + tiles.at<cv::Vec3f>(y0, x1) * fx) * (1 - fy) +
         (tiles.at<cv::Vec3f>(y1, x0) * (1 - fx) + tiles.at<cv::Vec3f>(y1, x1) * fx) * fy;
}

Eigen::Vector3d vector(const cv::Vec3f& v) {
  return {static_cast<double>(v[0]), static_cast<double>(v[1]), static_cast<double>(v[2])};
}

/// Tone of the sheet as a whole: mode, channel by channel, of a value over the bare cells.
Colour sheet_tone(const SideInput& side, std::size_t stage, const cv::Mat& unprinted) {
  const Layer& layer = side.layers[stage];
  std::array<std::vector<float>, 6> values;
  for (int y = 0; y < unprinted.rows; y += kStride) {
    for (int x = 0; x < unprinted.cols; x += kStride) {
      if (unprinted.at<uchar>(y, x) == 0 || !measured(layer, y, x)) continue;
      for (int i = 0; i < 3; ++i) {
        values[static_cast<std::size_t>(i)].push_back(layer.xyz.at<cv::Vec3f>(y, x)[i]);
        values[static_cast<std::size_t>(i + 3)].push_back(layer.light.at<cv::Vec3f>(y, x)[i]);
      }
    }
  }
  Colour tone;
  for (int i = 0; i < 3; ++i) {
    tone.xyz[i] = mode_of(values[static_cast<std::size_t>(i)]);
    tone.light[i] = mode_of(values[static_cast<std::size_t>(i + 3)]);
  }
  return tone;
}

Eigen::Vector3d unevenness_of(const Tiles& tiles, const cv::Mat& field) {
  std::array<std::vector<float>, 3> off;
  for (int y = 0; y < field.rows; ++y) {
    for (int x = 0; x < field.cols; ++x) {
      if (tiles.weight.at<float>(y, x) < 20) continue;
      const Eigen::Vector3d own = sharpening() * vector(tiles.xyz.at<cv::Vec3f>(y, x));
      const Eigen::Vector3d around = sharpening() * vector(field.at<cv::Vec3f>(y, x));
      for (int i = 0; i < 3; ++i)
        off[static_cast<std::size_t>(i)].push_back(
            static_cast<float>(std::abs(own[i] / around[i] - 1)));
    }
  }
  Eigen::Vector3d spread = Eigen::Vector3d::Zero();
  for (int i = 0; i < 3; ++i) {
    auto& v = off[static_cast<std::size_t>(i)];
    if (v.empty()) continue;
    std::nth_element(v.begin(), v.begin() + static_cast<std::ptrdiff_t>(v.size() / 2), v.end());
    spread[i] =
        1.4826 * static_cast<double>(
                     v[v.size() / 2]);  // of a normal distribution, from its median deviation
  }
  return spread;
}

}  // namespace

double mode_of(std::vector<float>& values) {
  if (values.empty()) return std::numeric_limits<double>::quiet_NaN();
  std::sort(values.begin(), values.end());
  std::size_t low = 0, n = values.size();
  while (n > std::max<std::size_t>(16, values.size() / 20)) {
    const std::size_t half = (n + 1) / 2;
    std::size_t best = low;
    for (std::size_t i = low; i + half <= low + n; ++i) {
      if (values[i + half - 1] - values[i] < values[best + half - 1] - values[best]) best = i;
    }
    low = best;
    n = half;
  }
  const float centre = values[low + n / 2];
  // The densest half of the half about the mode gives the width; the mean within it is steadier.
  std::vector<float> distance(values.size());
  for (std::size_t i = 0; i < values.size(); ++i) distance[i] = std::abs(values[i] - centre);
  const std::size_t near = values.size() / 4;
  std::nth_element(distance.begin(), distance.begin() + static_cast<std::ptrdiff_t>(near),
                   distance.end());
  const float width = distance[near];
  double sum = 0, count = 0;
  for (const float v : values) {
    if (std::abs(v - centre) <= width) sum += static_cast<double>(v), count += 1;
  }
  return sum / count;
}

Colour PaperSurvey::at(int stage, cv::Point2d cell) const {
  const PaperTone& tone = stages[static_cast<std::size_t>(stage)];
  const double x = (cell.x + 0.5) / tile - 0.5, y = (cell.y + 0.5) / tile - 0.5;
  return {vector(bilinear(tone.xyz, x, y)), vector(bilinear(tone.light, x, y))};
}

void PaperSurvey::xyz_row(int stage, int row, int columns, float* xyz) const {
  const PaperTone& tone = stages[static_cast<std::size_t>(stage)];
  const double y = (row + 0.5) / tile - 0.5;
  // Bilinear along the row: the tiles' values at this row first, then between them.
  std::vector<cv::Vec3f> knots(static_cast<std::size_t>(tone.xyz.cols));
  for (int t = 0; t < tone.xyz.cols; ++t)
    knots[static_cast<std::size_t>(t)] = bilinear(tone.xyz, t, y);
  for (int c = 0; c < columns; ++c) {
    const float x = std::clamp((static_cast<float>(c) + 0.5F) / static_cast<float>(tile) - 0.5F,
                               0.0F, static_cast<float>(tone.xyz.cols - 1));
    const auto t0 = static_cast<std::size_t>(x);
    const std::size_t t1 = std::min(t0 + 1, knots.size() - 1);
    const float f = x - static_cast<float>(t0);
    for (int i = 0; i < 3; ++i) xyz[3 * c + i] = knots[t0][i] + f * (knots[t1][i] - knots[t0][i]);
  }
}

PaperSurvey survey_paper(const SideInput& side) {
  PaperSurvey survey;
  survey.tile = std::max(1, static_cast<int>(std::lround(kTileMm / side.geometry.pitch_mm)));
  survey.unprinted = cv::Mat(side.geometry.rows, side.geometry.columns, CV_8UC1, cv::Scalar(0));
  const Layer& first = side.layers.front();

  std::vector<LabF> cells;
  for (int y = 0; y < side.geometry.rows; y += 2 * kStride) {
    for (int x = 0; x < side.geometry.columns; x += 2 * kStride) {
      if (measured(first, y, x)) cells.push_back(lab_of(first.xyz.at<cv::Vec3f>(y, x)));
    }
  }
  LabF paper{};
  survey.found = sheet_paper(cells, paper);
  if (!survey.found) return survey;

  for (std::size_t s = 0; s < side.layers.size(); ++s) {
    LabF tone = paper;
    if (s > 0) {
      const Colour sheet = sheet_tone(side, s, survey.unprinted);
      if (std::isnan(sheet.xyz[1])) {
        survey.stages.push_back(survey.stages.front());
        continue;
      }
      tone = lab_of({static_cast<float>(sheet.xyz[0]), static_cast<float>(sheet.xyz[1]),
                     static_cast<float>(sheet.xyz[2])});
    }
    const Tiles tiles = lightest(side, s, tone, survey.tile, s == 0 ? cv::Mat() : survey.unprinted);
    PaperTone stage;
    stage.xyz = filled(tiles.xyz, tiles.weight);
    stage.light = filled(tiles.light, tiles.weight);
    survey.stages.push_back(stage);
    if (s > 0) {
      survey.stages.back().sheet = sheet_tone(side, s, survey.unprinted);
      continue;
    }
    survey.unevenness = unevenness_of(tiles, stage.xyz);
    cv::parallel_for_({0, side.geometry.rows}, [&](const cv::Range& range) {
      const int n = side.geometry.columns;
      std::vector<float> xyz(3 * static_cast<std::size_t>(n));
      Row3 sharp, lab, own;
      sharp.resize(n), lab.resize(n), own.resize(n);
      for (int y = range.start; y < range.end; ++y) {
        survey.xyz_row(0, y, n, xyz.data());
        sharpen_row(xyz.data(), n, sharp);
        lab_row(sharp, n, lab);
        sharpen_row(first.xyz.ptr<float>(y), n, sharp);
        lab_row(sharp, n, own);
        uchar* out = survey.unprinted.ptr<uchar>(y);
        const uchar* valid = first.valid.ptr<uchar>(y);
        for (int x = 0; x < n; ++x) {
          const float dL = own[0][x] - lab[0][x], da = own[1][x] - lab[1][x],
                      db = own[2][x] - lab[2][x];
          out[x] = valid[x] != 0 && std::abs(dL) < kTileL && da * da + db * db < kTileAb * kTileAb
                       ? 255
                       : 0;
        }
      }
    });
    survey.stages.back().sheet = sheet_tone(side, 0, survey.unprinted);
  }
  return survey;
}

}  // namespace inkwane::change
