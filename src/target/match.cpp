#include "target/match.hpp"

#include <algorithm>
#include <cmath>
#include <limits>
#include <random>

#include <Eigen/Dense>

#include "colour/srgb.hpp"
#include "target/metric.hpp"

namespace inkwane::target {
namespace {

/// Half the width of the square that is looked at, in steps of the lattice.
constexpr double kHalfLook = 0.2;
/// Share of the patches in frame that must agree on one colour fit; the others may be covered.
constexpr double kAgreeing = 0.65;

/// The reference as encoded sRGB, near to what any RGB device gives. Where a colour lies outside
/// sRGB its channel is held at 0 and counts half: devices with other primaries read it otherwise.
struct Wanted {
  Eigen::MatrixX3d encoded, weight;

  explicit Wanted(const Reference& reference)
      : encoded(reference.patches.size(), 3),
        weight(Eigen::MatrixX3d::Ones(static_cast<Eigen::Index>(reference.patches.size()), 3)) {
    const Eigen::Matrix3d to_rgb = colour::srgb_to_xyz_d50().inverse();
    for (Eigen::Index i = 0; i < encoded.rows(); ++i) {
      const LabD50& lab = reference.patches[static_cast<std::size_t>(i)].lab;
      const Eigen::Vector3d linear = to_rgb * vector_of(to_xyz(lab));
      for (int c = 0; c < 3; ++c) {
        encoded(i, c) = colour::linear_to_srgb(std::max(linear[c], 0.0));
        if (linear[c] < 0) weight(i, c) = 0.5;
      }
    }
  }
};

/// Device → reference, both encoded: y ≈ B x^g + b, held to "each channel by itself, about 1" by
/// priors so that a handful of patches cannot be bent into anything.
class ColourFit {
 public:
  /// Least trimmed squares: the `agreeing` patches that fit best together. Rows of x and y:
  /// patches.
  /// `rough`: without bending the tone and with few starts, to rank many placements.
  ColourFit(const Eigen::MatrixX3d& x, const Eigen::MatrixX3d& y, int agreeing, bool rough) {
    for (const double bend : {1.0, 0.6, 1.6}) {
      if (rough && bend != 1.0) continue;
      const ColourFit fit(x, y, agreeing, rough ? 4 : 16, bend);
      if (fit.rms_ < rms_) *this = fit;
    }
  }

  [[nodiscard]] double rms() const { return rms_; }
  /// Distance of each patch from what the fit makes of it, a weight for each channel.
  [[nodiscard]] Eigen::VectorXd off(const Eigen::MatrixX3d& x, const Eigen::MatrixX3d& y,
                                    const Eigen::MatrixX3d& weight) const {
    const Eigen::MatrixX3d fitted = (bent(x, bend_) * b_.topRows<3>()).rowwise() + b_.row(3);
    return (fitted - y).cwiseProduct(weight).rowwise().norm();
  }

 private:
  static constexpr int kRounds = 5;

  ColourFit(const Eigen::MatrixX3d& encoded, const Eigen::MatrixX3d& y, int agreeing, int starts,
            double bend)
      : bend_(bend) {
    const Eigen::MatrixX3d x = bent(encoded, bend);
    const int n = static_cast<int>(x.rows());
    std::mt19937 random(20240229);  // always the same draws: the same scan gives the same answer
    std::vector<int> order(n);
    double best = std::numeric_limits<double>::infinity();
    for (int start = 0; start < starts; ++start) {
      for (int i = 0; i < n; ++i) order[i] = i;
      if (start > 0) {
        for (int i = n - 1; i > 0; --i) {
          std::swap(order[i], order[static_cast<int>(random() % static_cast<unsigned>(i + 1))]);
        }
      }
      int use = start == 0 ? n : std::min(agreeing, 6);
      Eigen::Matrix<double, 4, 3> b;
      double sum = 0;
      for (int round = 0; round < kRounds; ++round) {
        b = solve(x, y, order, use);
        const Eigen::VectorXd off = distances(x, y, b);
        std::stable_sort(order.begin(), order.end(), [&](int i, int k) { return off[i] < off[k]; });
        sum = 0;
        for (int i = 0; i < agreeing; ++i) sum += off[order[i]] * off[order[i]];
        use = agreeing;
      }
      if (sum < best) {
        best = sum;
        b_ = b;
      }
    }
    rms_ = std::sqrt(best / agreeing);
  }

  static Eigen::MatrixX3d bent(const Eigen::MatrixX3d& x, double bend) {
    return x.array().max(0.0).pow(bend).matrix();
  }

  static Eigen::Matrix<double, 4, 3> solve(const Eigen::MatrixX3d& x, const Eigen::MatrixX3d& y,
                                           const std::vector<int>& order, int use) {
    // Prior standard deviations against a residual of 0.04: gains 1 ± 0.5, crosstalk 0 ± 0.25,
    // offset 0 ± 0.25; as rough as rooms and scanners are.
    constexpr double kResidual = 0.04;
    constexpr double kGain = kResidual / 0.5, kCross = kResidual / 0.25, kOffset = kResidual / 0.25;
    Eigen::Matrix4d normal = Eigen::Matrix4d::Zero();
    Eigen::Matrix<double, 4, 3> right = Eigen::Matrix<double, 4, 3>::Zero();
    for (int i = 0; i < use; ++i) {
      Eigen::Vector4d row;
      row << x.row(order[i]).transpose(), 1;
      normal += row * row.transpose();
      right += row * y.row(order[i]);
    }
    Eigen::Matrix<double, 4, 3> b;
    for (int c = 0; c < 3; ++c) {
      Eigen::Vector4d weight(kCross * kCross, kCross * kCross, kCross * kCross, kOffset * kOffset);
      weight[c] = kGain * kGain;
      Eigen::Vector4d target = right.col(c);
      target[c] += weight[c];
      b.col(c) = (normal + Eigen::Matrix4d(weight.asDiagonal())).ldlt().solve(target);
    }
    return b;
  }

  static Eigen::VectorXd distances(const Eigen::MatrixX3d& x, const Eigen::MatrixX3d& y,
                                   const Eigen::Matrix<double, 4, 3>& b) {
    const Eigen::MatrixX3d fitted = (x * b.topRows<3>()).rowwise() + b.row(3);
    return (fitted - y).rowwise().norm();
  }

  Eigen::Matrix<double, 4, 3> b_ = Eigen::Matrix<double, 4, 3>::Zero();
  double bend_ = 1;
  double rms_ = std::numeric_limits<double>::infinity();
};

}  // namespace

cv::Point2i Placement::at(int row, int column) const {
  cv::Point2i step(mirrored ? -column : column, row);
  for (int turn = 0; turn < quarter_turns; ++turn) step = {-step.y, step.x};
  return first + step;
}

cv::Matx33d Placement::to_lattice() const {
  const cv::Point2i origin = at(0, 0), right = at(0, 1) - origin, down = at(1, 0) - origin;
  return {double(right.x), double(down.x), double(origin.x),  //
          double(right.y), double(down.y), double(origin.y), 0, 0, 1};
}

bool better(const Match& one, const Match& two) {
  const auto burden = [](const Match& m) {
    return m.residual * (1 + 0.1 * m.bad()) * (m.placement.mirrored ? 1.15 : 1.0);
  };
  return burden(one) < burden(two);
}

int Match::bad() const {
  return static_cast<int>(
      std::count_if(patches.begin(), patches.end(), [](auto s) { return s != PatchState::good; }));
}

Sampled sample(const cv::Mat& picture, const cv::Matx33d& to_picture, const cv::Point2d& at) {
  const cv::Point2d centre = project(to_picture, at);
  const auto [u, v] = steps_at(to_picture, at);
  const double half = std::max(kHalfLook * std::min(cv::norm(u), cv::norm(v)), 1.0);
  Sampled result;
  const int x0 = cvRound(centre.x - half), x1 = cvRound(centre.x + half);
  const int y0 = cvRound(centre.y - half), y1 = cvRound(centre.y + half);
  // A patch whose edge is cut by the frame is not whole.
  const cv::Point2d reach(0.4 * std::abs(u.x) + 0.4 * std::abs(v.x),
                          0.4 * std::abs(u.y) + 0.4 * std::abs(v.y));
  if (!(centre.x - reach.x >= -0.5 && centre.x + reach.x <= picture.cols - 0.5 &&
        centre.y - reach.y >= -0.5 && centre.y + reach.y <= picture.rows - 0.5)) {
    return result;
  }
  result.in_frame = true;
  const cv::Mat part = picture(cv::Range(y0, y1 + 1), cv::Range(x0, x1 + 1));
  cv::Scalar mean, deviation;
  cv::meanStdDev(part, mean, deviation);
  result.mean = {mean[0], mean[1], mean[2]};
  result.spread = std::max({deviation[0], deviation[1], deviation[2]});
  return result;
}

namespace {

/// Patches seen through one placement → their states.
Match assess(const std::vector<Sampled>& seen, const Wanted& wanted, bool rough) {
  const int n = static_cast<int>(seen.size());
  std::vector<int> there;
  std::vector<double> spreads;
  for (int i = 0; i < n; ++i) {
    if (!seen[i].in_frame) continue;
    there.push_back(i);
    spreads.push_back(seen[i].spread);
  }
  Match match;
  match.patches.assign(n, PatchState::out_of_frame);
  match.residual = std::numeric_limits<double>::infinity();
  if (there.size() < 6 || 2 * static_cast<int>(there.size()) < n) return match;

  Eigen::MatrixX3d x(there.size(), 3), y(there.size(), 3), weight(there.size(), 3);
  for (std::size_t k = 0; k < there.size(); ++k) {
    const cv::Vec3d& m = seen[there[k]].mean;
    x.row(static_cast<Eigen::Index>(k)) << m[0], m[1], m[2];
    y.row(static_cast<Eigen::Index>(k)) = wanted.encoded.row(there[k]);
    weight.row(static_cast<Eigen::Index>(k)) = wanted.weight.row(there[k]);
  }
  const int agreeing =
      std::max(6, static_cast<int>(std::ceil(kAgreeing * static_cast<double>(there.size()))));
  const ColourFit fit(x, y, std::min(agreeing, static_cast<int>(there.size())), rough);
  match.residual = fit.rms();

  std::nth_element(spreads.begin(), spreads.begin() + spreads.size() / 2, spreads.end());
  const double usual = spreads[spreads.size() / 2];
  match.off_colour_limit = std::max(0.28, 5 * fit.rms());
  const Eigen::VectorXd off = fit.off(x, y, weight);
  for (std::size_t k = 0; k < there.size(); ++k) {
    PatchState& state = match.patches[there[k]];
    state = PatchState::good;
    if (off[static_cast<Eigen::Index>(k)] > match.off_colour_limit) {
      state = PatchState::off_colour;
    } else if (seen[there[k]].spread > std::max(0.05, 4 * usual)) {
      state = PatchState::uneven;
    }
  }
  return match;
}

/// All ways to lay the target so that it covers nearly as many of the lattice's blobs as it can.
std::vector<Placement> placements(const Lattice& lattice, const Reference& reference) {
  std::vector<std::pair<int, Placement>> all;
  int most = 4;
  for (int way = 0; way < 8; ++way) {
    Placement placement{way % 4, way >= 4, {0, 0}};
    const cv::Point2i last = placement.at(reference.rows - 1, reference.columns - 1);
    const cv::Rect box(std::min(0, last.x), std::min(0, last.y), std::abs(last.x) + 1,
                       std::abs(last.y) + 1);
    const cv::Rect& range = lattice.range;
    for (int y = range.y - box.height + 1; y < range.y + range.height; ++y) {
      for (int x = range.x - box.width + 1; x < range.x + range.width; ++x) {
        const cv::Rect covered(x, y, box.width, box.height);
        const auto inside = static_cast<int>(
            std::count_if(lattice.blobs.begin(), lattice.blobs.end(), [&](const auto& blob) {
              return covered.contains({blob.first.first, blob.first.second});
            }));
        placement.first = {x - box.x, y - box.y};
        all.emplace_back(inside, placement);
        most = std::max(most, inside);
      }
    }
  }
  std::vector<Placement> result;
  for (const auto& [inside, placement] : all) {
    if (10 * inside >= 8 * most) result.push_back(placement);
  }
  return result;
}

}  // namespace

Match judge(const cv::Mat& picture, const cv::Matx33d& to_picture, const Reference& reference) {
  std::vector<Sampled> seen;
  for (int row = 0; row < reference.rows; ++row) {
    for (int column = 0; column < reference.columns; ++column) {
      seen.push_back(sample(picture, to_picture, cv::Point2d(column, row)));
    }
  }
  Match match = assess(seen, Wanted(reference), false);
  match.to_picture = to_picture;
  return match;
}

std::optional<Match> match(const cv::Mat& picture, const Lattice& lattice,
                           const Reference& reference) {
  constexpr std::size_t kFinalists = 6;
  const Wanted wanted(reference);
  std::map<std::pair<int, int>, Sampled> samples;
  const auto assess_at = [&](const Placement& placement, bool rough) {
    std::vector<Sampled> seen;
    for (int row = 0; row < reference.rows; ++row) {
      for (int column = 0; column < reference.columns; ++column) {
        const cv::Point2i at = placement.at(row, column);
        const auto [it, fresh] = samples.try_emplace({at.x, at.y});
        if (fresh) it->second = sample(picture, lattice.to_picture, cv::Point2d(at));
        seen.push_back(it->second);
      }
    }
    Match m = assess(seen, wanted, rough);
    m.placement = placement;
    m.to_picture = lattice.to_picture * placement.to_lattice();
    return m;
  };

  std::vector<Match> rough;
  for (const Placement& placement : placements(lattice, reference)) {
    Match m = assess_at(placement, true);
    if (std::isfinite(m.residual)) rough.push_back(std::move(m));
  }
  std::stable_sort(rough.begin(), rough.end(), better);
  std::optional<Match> best;
  for (std::size_t i = 0; i < std::min(rough.size(), kFinalists); ++i) {
    Match m = assess_at(rough[i].placement, false);
    if (!best || better(m, *best)) best = std::move(m);
  }
  return best;
}

}  // namespace inkwane::target
