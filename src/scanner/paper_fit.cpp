#include "scanner/paper_fit.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <limits>
#include <map>

#include <Eigen/Cholesky>
#include <opencv2/imgproc.hpp>

namespace inkwane::scanner {
namespace {

/// Paper is flat where it varies by no more than this over so many millimetres: less than edges of
/// print, more than stray light does.
constexpr double kFlat = 0.07, kFlatMm = 3, kSmoothMm = 0.6;
/// Paper is at least this share as light as the lightest flat places.
constexpr double kLight = 0.5, kLightest = 0.95;
/// Pieces of paper that print cuts apart each have a lightness of their own; smaller ones do not
/// count.
constexpr int kLeastCells = 25;
constexpr double kOutliers = 3;
/// Of this many neighbouring cells one counts: clouds in the paper and what shows through it go on
/// for a centimetre.
constexpr double kPaperAlike = 100;
constexpr double kLogLengthPrior = 0.5;
/// Beyond what parts of the beds differ by: what is found of no stray light at all, and, relative,
/// of some (simulated sheets: up to 0.08, and 0.03 of 0.26 too much).
constexpr double kLeastU = 0.05, kModelKappa = 0.2;
constexpr double kLeastCellsInAll = 400;

/// Paper yellows and browns at its edges as well: there blue falls most. Of the channels this sum
/// does not see such a change (in ratios of 0.3, 0.6 and 1, common practice, no source), but sees
/// one of all channels alike as 1.
Eigen::Vector3d unaged() {
  const Eigen::Vector3d aged(0.3, 0.6, 1), all = Eigen::Vector3d::Ones();
  const Eigen::Vector3d across = all - aged * (all.dot(aged) / aged.squaredNorm());
  return across / across.sum();
}

struct Cell {
  cv::Point at;
  int piece;
};

cv::Mat flat_places(const CoarseLight& fine) {
  const auto odd = [&fine](double mm) {
    return 2 * std::max(0, static_cast<int>(std::lround(mm / fine.pitch_mm / 2))) + 1;
  };
  cv::Mat smooth, most, least;
  cv::blur(fine.light, smooth, {odd(kSmoothMm), odd(kSmoothMm)}, {-1, -1}, cv::BORDER_REPLICATE);
  const cv::Mat window(odd(kFlatMm), odd(kFlatMm), CV_8UC1, cv::Scalar(1));
  cv::dilate(smooth, most, window);
  cv::erode(smooth, least, window);
  cv::Mat flat(fine.light.size(), CV_8UC1, cv::Scalar(0));
  for (int j = 0; j < flat.rows; ++j) {
    const auto* high = most.ptr<cv::Vec3f>(j);
    const auto* low = least.ptr<cv::Vec3f>(j);
    auto* out = flat.ptr<std::uint8_t>(j);
    for (int i = 0; i < flat.cols; ++i) {
      bool even = true;
      for (int c = 0; c < 3; ++c) {
        even = even && static_cast<double>(high[i][c] - low[i][c]) <
                           kFlat * static_cast<double>(high[i][c]);
      }
      out[i] = even ? 255 : 0;
    }
  }
  return flat;
}

float lightness(const cv::Vec3f& v) {
  return (v[0] + v[1] + v[2]) / 3;
}

/// Coarse cells that hold bare paper alone.
std::vector<Cell> paper_cells(const CoarseLight& fine, const CoarseLight& coarse,
                              const std::vector<Point>& card) {
  cv::Mat flat = flat_places(fine);
  std::vector<cv::Point> outline;
  for (const Point& px : card) {
    outline.emplace_back(cvRound((px.x - fine.origin_px.x) / fine.pitch_px),
                         cvRound((px.y - fine.origin_px.y) / fine.pitch_px));
  }
  if (!outline.empty()) {
    cv::fillPoly(flat, std::vector<std::vector<cv::Point>>{outline}, cv::Scalar(0));
  }
  cv::Mat share;
  CoarseLight flatness = fine;
  flat.convertTo(flatness.light, CV_32F);
  share = coarse_light(flatness).light;
  std::vector<float> light;
  cv::Mat paper(coarse.light.size(), CV_8UC1, cv::Scalar(0));
  for (int j = 0; j < paper.rows; ++j) {
    for (int i = 0; i < paper.cols; ++i) {
      if (share.at<float>(j, i) < 254.5F) continue;
      paper.at<std::uint8_t>(j, i) = 255;
      light.push_back(lightness(coarse.light.at<cv::Vec3f>(j, i)));
    }
  }
  std::vector<Cell> cells;
  if (light.empty()) return cells;
  const auto at = light.begin() +
                  static_cast<std::ptrdiff_t>(kLightest * static_cast<double>(light.size() - 1));
  std::nth_element(light.begin(), at, light.end());
  const auto least = static_cast<float>(kLight) * *at;
  for (int j = 0; j < paper.rows; ++j) {
    for (int i = 0; i < paper.cols; ++i) {
      if (lightness(coarse.light.at<cv::Vec3f>(j, i)) < least) paper.at<std::uint8_t>(j, i) = 0;
    }
  }
  cv::Mat pieces, stats, centres;
  cv::connectedComponentsWithStats(paper, pieces, stats, centres, 8, CV_32S);
  for (int j = 0; j < paper.rows; ++j) {
    for (int i = 0; i < paper.cols; ++i) {
      const int piece = pieces.at<int>(j, i);
      if (piece > 0 && stats.at<int>(piece, cv::CC_STAT_AREA) >= kLeastCells)
        cells.push_back({{i, j}, piece});
    }
  }
  return cells;
}

/// The light with every piece of paper at its mean: what of its grain falls on paper itself would
/// look like stray light.
cv::Mat without_grain(const cv::Mat& light, const std::vector<Cell>& cells) {
  std::map<int, std::pair<cv::Vec3f, float>> sums;
  for (const Cell& cell : cells) {
    auto& [sum, count] = sums[cell.piece];
    sum += light.at<cv::Vec3f>(cell.at);
    count += 1;
  }
  cv::Mat even = light.clone();
  for (const Cell& cell : cells) {
    const auto& [sum, count] = sums.at(cell.piece);
    even.at<cv::Vec3f>(cell.at) = sum / count;
  }
  return even;
}

using Row = Eigen::Matrix<double, PaperEvidence::kUnknowns + 1, 1>;  // the last: ln m

/// Takes each piece's mean off its rows.
void centre_by_piece(const std::vector<Cell>& cells, std::vector<Row>& rows) {
  int pieces = 0;
  for (const Cell& cell : cells) pieces = std::max(pieces, cell.piece + 1);
  std::vector<Row> means(static_cast<std::size_t>(pieces), Row::Zero());
  std::vector<double> counts(static_cast<std::size_t>(pieces), 0);
  for (std::size_t k = 0; k < cells.size(); ++k) {
    means[static_cast<std::size_t>(cells[k].piece)] += rows[k];
    counts[static_cast<std::size_t>(cells[k].piece)] += 1;
  }
  for (std::size_t k = 0; k < cells.size(); ++k) {
    const auto piece = static_cast<std::size_t>(cells[k].piece);
    rows[k] -= means[piece] / counts[piece];
  }
}

struct AtReach {
  double kappa = 0, cost = std::numeric_limits<double>::infinity();
  Eigen::Matrix<double, 1 + PaperEvidence::kLamp, 1> found;
};

PaperEvidence::Part sum(const std::vector<PaperEvidence::Part>& parts) {
  PaperEvidence::Part all;
  all.matrix.setZero();
  all.fall.setZero();
  for (const auto& part : parts) {
    all.matrix += part.matrix;
    all.fall += part.fall;
    all.squares += part.squares;
    all.cells += part.cells;
  }
  return all;
}

AtReach solve(const PaperEvidence::Part& part, int reach) {
  constexpr int n = 1 + PaperEvidence::kLamp;
  std::array<int, n> columns{reach};
  for (int i = 1; i < n; ++i) columns[static_cast<std::size_t>(i)] = kReaches + i - 1;
  Eigen::Matrix<double, n, n> matrix = part.matrix(columns, columns);
  matrix.diagonal().array() += 1e-9 * matrix.trace();
  AtReach at;
  const Eigen::Matrix<double, n, 1> fall = part.fall(columns);
  at.found = matrix.ldlt().solve(fall);
  at.kappa = at.found[0];
  at.cost = part.squares - at.found.dot(fall);
  return at;
}

int best_reach(const PaperEvidence::Part& part) {
  int best = 0;
  double least = std::numeric_limits<double>::infinity();
  for (int r = 0; r < kReaches; ++r) {
    const double cost = solve(part, r).cost;
    if (cost < least) least = cost, best = r;
  }
  return best;
}

PaperEvidence accumulate(const std::vector<Cell>& cells, const std::vector<Row>& rows,
                         const cv::Size& size) {
  PaperEvidence evidence;
  evidence.parts.assign(4, sum({}));
  for (std::size_t k = 0; k < cells.size(); ++k) {
    const int quarter =
        (cells[k].at.x * 2 >= size.width ? 1 : 0) + (cells[k].at.y * 2 >= size.height ? 2 : 0);
    auto& part = evidence.parts[static_cast<std::size_t>(quarter)];
    const auto unknowns = rows[k].head<PaperEvidence::kUnknowns>();
    const double value = rows[k][PaperEvidence::kUnknowns];
    part.matrix += unknowns * unknowns.transpose();
    part.fall += value * unknowns;
    part.squares += value * value;
    part.cells += 1;
  }
  return evidence;
}

/// Keeps the cells that lie near what the others say.
void drop_outliers(const PaperEvidence& evidence, std::vector<Cell>& cells,
                   std::vector<Row>& rows) {
  const PaperEvidence::Part all = sum(evidence.parts);
  const int reach = best_reach(all);
  const AtReach at = solve(all, reach);
  std::vector<double> off;
  for (const Row& row : rows) {
    off.push_back(std::abs(
        row[PaperEvidence::kUnknowns] - at.found[0] * row[reach] -
        at.found.tail<PaperEvidence::kLamp>().dot(row.segment<PaperEvidence::kLamp>(kReaches))));
  }
  std::vector<double> sorted = off;
  const auto middle = sorted.begin() + static_cast<std::ptrdiff_t>(sorted.size() / 2);
  std::nth_element(sorted.begin(), middle, sorted.end());
  constexpr double kOfMad = 1.4826;
  const double most = kOutliers * kOfMad * *middle;
  std::size_t kept = 0;
  for (std::size_t k = 0; k < rows.size(); ++k) {
    if (off[k] > most) continue;
    cells[kept] = cells[k];
    rows[kept++] = rows[k];
  }
  cells.resize(kept);
  rows.resize(kept);
}

}  // namespace

double length_of_reach(int reach) {
  return kLeastLengthMm * std::pow(kMostLengthMm / kLeastLengthMm, reach / (kReaches - 1.0));
}

double cost_of_reach(int reach) {
  return std::pow(std::log(length_of_reach(reach) / kTypical.length_mm) / kLogLengthPrior, 2);
}

PaperEvidence look_at_paper(const CoarseLight& fine, const std::vector<Point>& card) {
  const CoarseLight coarse = coarse_light(fine);
  std::vector<Cell> cells = paper_cells(fine, coarse, card);
  if (cells.empty()) return {};
  const Eigen::Vector3d weights = unaged();
  const auto weighted = [&weights](const cv::Vec3f& v) {
    return weights.dot(Eigen::Vector3f(v[0], v[1], v[2]).cast<double>());
  };
  std::vector<Row> rows(cells.size(), Row::Zero());
  const cv::Mat even = without_grain(coarse.light, cells);
  for (int r = 0; r < kReaches; ++r) {
    const cv::Mat lit_by = surround(even, length_of_reach(r), coarse.pitch_mm);
    for (std::size_t k = 0; k < cells.size(); ++k)
      rows[k][r] = weighted(lit_by.at<cv::Vec3f>(cells[k].at));
  }
  for (std::size_t k = 0; k < cells.size(); ++k) {
    const double x = 2.0 * cells[k].at.x / coarse.light.cols - 1,
                 y = 2.0 * cells[k].at.y / coarse.light.rows - 1;
    rows[k].segment<PaperEvidence::kLamp>(kReaches) << x, y, x * x, y * y;
    cv::Vec3f light = coarse.light.at<cv::Vec3f>(cells[k].at);
    for (int c = 0; c < 3; ++c) light[c] = std::log(std::max(light[c], 1e-6F));
    rows[k][PaperEvidence::kUnknowns] = weighted(light);
  }
  centre_by_piece(cells, rows);
  drop_outliers(accumulate(cells, rows, coarse.light.size()), cells, rows);
  centre_by_piece(cells, rows);
  return accumulate(cells, rows, coarse.light.size());
}

std::optional<StrayLightEstimate> tell_by_paper(std::span<const PaperEvidence> scans) {
  std::vector<PaperEvidence::Part> parts;
  for (const PaperEvidence& scan : scans) {
    for (const PaperEvidence::Part& part : scan.parts) {
      if (part.cells > 0) parts.push_back(part);
    }
  }
  const PaperEvidence::Part all = sum(parts);
  if (all.cells < kLeastCellsInAll || parts.size() < 3) return std::nullopt;

  std::array<AtReach, kReaches> reaches;
  double least = std::numeric_limits<double>::infinity();
  for (int r = 0; r < kReaches; ++r) {
    reaches[static_cast<std::size_t>(r)] = solve(all, r);
    least = std::min(least, reaches[static_cast<std::size_t>(r)].cost);
  }
  const double noise = least / all.cells * kPaperAlike;
  double weights = 0, kappa = 0, kappa2 = 0, log_length = 0, log2 = 0, both = 0;
  for (int r = 0; r < kReaches; ++r) {
    const AtReach& at = reaches[static_cast<std::size_t>(r)];
    const double log_l = std::log(length_of_reach(r));
    const double weight = std::exp(-0.5 * ((at.cost - least) / noise + cost_of_reach(r)));
    weights += weight;
    kappa += weight * at.kappa, kappa2 += weight * at.kappa * at.kappa;
    log_length += weight * log_l, log2 += weight * log_l * log_l;
    both += weight * at.kappa * log_l;
  }
  kappa /= weights, log_length /= weights;
  kappa2 = kappa2 / weights - kappa * kappa, log2 = log2 / weights - log_length * log_length;
  both = both / weights - kappa * log_length;

  // Delete-one jackknife over the parts, at the best reach.
  const int reach = best_reach(all);
  const double whole = solve(all, reach).kappa;
  double jack = 0;
  for (const PaperEvidence::Part& part : parts) {
    PaperEvidence::Part rest = all;
    rest.matrix -= part.matrix;
    rest.fall -= part.fall;
    rest.squares -= part.squares;
    jack += std::pow(solve(rest, reach).kappa - whole, 2);
  }
  const double n = static_cast<double>(parts.size());
  kappa2 = std::max(kappa2, 0.0) + jack * (n - 1) / n;
  log2 = std::max(log2, 1e-4);

  StrayLightEstimate estimate;
  // About no stray light ln(1 + κ s) − ln(1 + κ r₀) is κ (s − r₀); about κ it is less by 1 + κ r₀.
  const double stretch = 1 / std::max(0.2, 1 - kappa * kSurround);
  estimate.value = {kappa * stretch, std::exp(log_length)};
  estimate.u_kappa = std::sqrt(kappa2 * std::pow(stretch, 4) + kLeastU * kLeastU +
                               std::pow(kModelKappa * estimate.value.kappa, 2));
  estimate.u_length_mm = estimate.value.length_mm * std::sqrt(log2);
  estimate.correlation = std::clamp(both / std::sqrt(kappa2 * log2), -1.0, 1.0);
  return estimate;
}

}  // namespace inkwane::scanner
