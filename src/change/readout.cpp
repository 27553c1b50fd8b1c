#include "change/readout.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <limits>
#include <map>

#include <Eigen/Cholesky>

#include "change/pair_rows.hpp"
#include "target/metric.hpp"

namespace inkwane::change {
namespace {

constexpr double kNaN = std::numeric_limits<double>::quiet_NaN();
constexpr double k95 = 1.96;       // of a normal distribution
constexpr double kChi2_3 = 7.815;  // 95 % point of χ² with 3 degrees of freedom

/// What the fits of the two scans make uncertain in a difference of two colours, Lab². Alike for
/// alike colours, so it is taken once a small box of them.
class FitError {
 public:
  FitError(const target::Fit& from, const target::Fit& to) : scans_{&from, &to} {}

  [[nodiscard]] const Eigen::Matrix3d& at(const Eigen::Vector3d& from, const Eigen::Vector3d& to) {
    Key key;
    for (std::size_t c = 0; c < 3; ++c) {
      key[c] = box(from[static_cast<Eigen::Index>(c)]);
      key[c + 3] = box(to[static_cast<Eigen::Index>(c)]);
    }
    auto found = known_.find(key);
    if (found == known_.end()) found = known_.emplace(key, covariance(key)).first;
    return found->second;
  }

 private:
  static constexpr double kBox = 0.05;  // of the cube root of light: about 5 of L*
  using Key = std::array<int, 6>;

  static int box(double light) {
    return static_cast<int>(std::floor(std::cbrt(std::clamp(light, 0.0, 1.0)) / kBox));
  }
  static double middle(int box) { return std::pow((box + 0.5) * kBox, 3); }

  [[nodiscard]] Eigen::Matrix3d covariance(const Key& key) const {
    const std::array<target::ColourAt, 2> colours{
        {{0, {middle(key[0]), middle(key[1]), middle(key[2])}},
         {1, {middle(key[3]), middle(key[4]), middle(key[5])}}}};
    const Eigen::MatrixXd both = target::joint_covariance(scans_, colours);
    return both.topLeftCorner<3, 3>() + both.bottomRightCorner<3, 3>() -
           both.topRightCorner<3, 3>() - both.bottomLeftCorner<3, 3>();
  }

  std::array<const target::Fit*, 2> scans_;
  std::map<Key, Eigen::Matrix3d> known_;
};

LabD50 lab_of_sharp(const Eigen::Vector3d& sharp) {
  const Eigen::Vector3d xyz = unsharpening() * sharp;
  return to_lab({xyz[0], xyz[1], xyz[2]});
}

/// Sums over the fine cells of one coarse cell.
struct Block {
  int cells = 0, measured = 0;
  Eigen::Vector3d from = Eigen::Vector3d::Zero(), to = from;  ///< sharpened RGB
  Eigen::Vector3d light_from = from, light_to = from;
  Eigen::Vector3d variance = from;  ///< of one cell's difference of sharpened RGB
};

/// 95 % interval of a CIEDE2000 whose colour vector has this covariance (Lab²). At one place alone:
/// many places together call for the tests of the regions.
std::array<double, 2> interval(const LabD50& from, const LabD50& to, double dE00,
                               const Eigen::Matrix3d& covariance) {
  const LabD50 middle{(from.L + to.L) / 2, (from.a + to.a) / 2, (from.b + to.b) / 2};
  const Eigen::Matrix3d metric = target::ciede2000_metric(middle);
  const Eigen::Vector3d change = metric * (target::vector_of(to) - target::vector_of(from));
  const Eigen::Matrix3d spread = metric * covariance * metric.transpose();
  const double length = change.norm();
  const double u =
      length > 0 ? std::sqrt(change.dot(spread * change)) / length : std::sqrt(spread.trace() / 3);
  const bool told = change.dot(spread.ldlt().solve(change)) > kChi2_3;
  return {told ? std::max(0.0, dE00 - k95 * u) : 0.0, dE00 + k95 * u};
}

class Reader {
 public:
  Reader(const SideContext& context, const Drift& drift, int from, int to, int block,
         Readout& readout)
      : a_(context.side->layers[static_cast<std::size_t>(from)]),
        b_(context.side->layers[static_cast<std::size_t>(to)]),
        block_(block),
        rows_(*context.side, drift, from, to),
        fit_(*a_.fit, *b_.fit),
        out_(readout) {}

  void row(int coarse) {
    std::vector<Block> blocks(static_cast<std::size_t>(out_.lab_from.cols));
    const int end = std::min((coarse + 1) * block_, a_.xyz.rows);
    for (int y = coarse * block_; y < end; ++y) add(y, blocks);
    for (std::size_t i = 0; i < blocks.size(); ++i) put(blocks[i], coarse, static_cast<int>(i));
  }

 private:
  void add(int y, std::vector<Block>& blocks) {
    rows_.move_to(y);
    const auto *light_a = a_.light.ptr<cv::Vec3f>(y), *light_b = b_.light.ptr<cv::Vec3f>(y);
    for (int x = 0; x < a_.xyz.cols; ++x) {
      Block& block = blocks[static_cast<std::size_t>(x / block_)];
      ++block.cells;
      if (rows_.valid[static_cast<std::size_t>(x)] == 0) continue;
      ++block.measured;
      for (int c = 0; c < 3; ++c) {
        block.from[c] += static_cast<double>(rows_.from->sharp[c][x]);
        block.to[c] += static_cast<double>(rows_.to->sharp[c][x]);
        block.variance[c] += cell_variance(c, x);
        block.light_from[c] += static_cast<double>(light_a[x][c]);
        block.light_to[c] += static_cast<double>(light_b[x][c]);
      }
    }
  }

  void put(Block& block, int j, int i) {
    cv::Vec3f &from = out_.lab_from.at<cv::Vec3f>(j, i), &to = out_.lab_to.at<cv::Vec3f>(j, i);
    cv::Vec3f& difference = out_.difference.at<cv::Vec3f>(j, i);
    const auto nothing = static_cast<float>(kNaN);
    from = to = difference = {nothing, nothing, nothing};
    if (block.measured == 0 || 2 * block.measured < block.cells) return;
    for (Eigen::Vector3d* sum :
         {&block.from, &block.to, &block.variance, &block.light_from, &block.light_to})
      *sum /= block.measured;
    const LabD50 one = lab_of_sharp(block.from), two = lab_of_sharp(block.to);
    const double dE00 = ciede2000(one, two);
    const Eigen::Matrix3d covariance =
        fit_.at(block.light_from, block.light_to) + cell_covariance(block, two);
    const auto [low, high] = interval(one, two, dE00, covariance);
    from = {static_cast<float>(one.L), static_cast<float>(one.a), static_cast<float>(one.b)};
    to = {static_cast<float>(two.L), static_cast<float>(two.a), static_cast<float>(two.b)};
    difference = {static_cast<float>(dE00), static_cast<float>(low), static_cast<float>(high)};
  }

  /// Of the difference of sharpened RGB in one cell, from that of K/S.
  [[nodiscard]] double cell_variance(int c, int x) const {
    const auto one = static_cast<double>(ks_slope(rows_.from->sharp[c][x])),
               two = static_cast<double>(ks_slope(rows_.to->sharp[c][x]));
    const double slope2 = (one * one + two * two) / 2;
    return slope2 > 0 ? static_cast<double>(rows_.ks_variance[c][x]) / slope2 : 0.0;
  }

  /// Noise, drift and misfit of the place, Lab²: a step of one standard uncertainty a channel. Not
  /// made less by averaging: drift and misfit are alike within half a millimetre, and the aperture
  /// makes noise so.
  static Eigen::Matrix3d cell_covariance(const Block& block, const LabD50& lab) {
    Eigen::Matrix3d steps;
    for (int c = 0; c < 3; ++c) {
      Eigen::Vector3d moved = block.to;
      moved[c] += std::sqrt(block.variance[c]);
      steps.col(c) = target::vector_of(lab_of_sharp(moved)) - target::vector_of(lab);
    }
    return steps * steps.transpose();
  }

  const Layer &a_, &b_;
  int block_;
  PairRows rows_;
  FitError fit_;
  Readout& out_;
};

}  // namespace

Readout read_out(const SideContext& context, const Drift& drift, int from, int to) {
  const SideInput& side = *context.side;
  const int block = std::max(1, static_cast<int>(std::lround(kReadoutMm / side.geometry.pitch_mm)));
  Readout out;
  out.from = side.layers[static_cast<std::size_t>(from)].stage;
  out.to = side.layers[static_cast<std::size_t>(to)].stage;
  out.geometry = side.geometry;
  out.geometry.pitch_mm *= block;
  out.geometry.pitch_px *= block;
  out.geometry.origin_px = side.geometry.to_px({(block - 1) / 2.0, (block - 1) / 2.0});
  out.geometry.columns = (side.geometry.columns + block - 1) / block;
  out.geometry.rows = (side.geometry.rows + block - 1) / block;
  for (cv::Mat* plane : {&out.lab_from, &out.lab_to, &out.difference})
    plane->create(out.geometry.size(), CV_32FC3);
  cv::parallel_for_({0, out.geometry.rows}, [&](const cv::Range& range) {
    Reader reader(context, drift, from, to, block, out);
    for (int row = range.start; row < range.end; ++row) reader.row(row);
  });
  return out;
}

}  // namespace inkwane::change
