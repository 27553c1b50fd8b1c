#include "scanner/card_fit.hpp"

#include <algorithm>
#include <cmath>

#include <Eigen/LU>
#include <Eigen/QR>
#include <fmt/format.h>
#include <opencv2/imgproc.hpp>

#include <inkwane/error.hpp>

namespace inkwane::scanner {
namespace {

// Bare paper between the chips of the white fields, sampled at this step, no nearer to print than
// kClearMm, where cells of a millimetre hold paper alone.
constexpr double kPaperStepMm = 4, kClearMm = 2;
/// Neighbouring samples of paper err together, as clouds in the sheet and the model do: of this
/// many one counts.
constexpr double kPaperAlike = 10;
/// Standard deviations to begin with: of chips of a kind, as printed (common practice, no source).
constexpr double kStartRms = 0.01, kLeastRms = 0.001;
// Priors (standard deviations): ln ℓ about the 4 mm of a consumer flatbed (docs/method.md), the
// veil about none.
constexpr double kUsualLengthMm = 4, kLogLengthPrior = 1, kVeilPrior = 0.02, kVeilLengthMm = 20;
/// What one exponential leaves of real stray light, relative (docs/method.md, "Stray light": κ from
/// chips on black and on white has 10 %; ℓ is known worse, by our own judgement 15 %).
constexpr double kModelKappa = 0.10, kModelLength = 0.15;
/// κ of a clean print of no stray light came out at up to 0.011 (simulated).
constexpr double kLeastU = 0.005;
/// Chips that differ by more are not of a kind.
constexpr double kMostChipOff = 0.10, kMostChipsRms = 0.05;

/// One mean of cells whose paper or ink is that of all others of its kind.
struct Sample {
  int kind = 0;
  int chip = -1;  ///< index into the readings' chips; −1: bare paper of a field
  std::vector<cv::Point> cells;
  cv::Point2d at;  ///< in the frame, −1 to 1
};

cv::Vec3d mean_of(const cv::Mat& picture, const std::vector<cv::Point>& cells) {
  cv::Vec3d sum;
  for (const cv::Point& cell : cells) sum += picture.at<cv::Vec3f>(cell);
  return sum / static_cast<double>(cells.size());
}

/// Cells whose centres lie on the card's layout, one by one.
class Cells {
 public:
  Cells(const CardReadings& readings, const CardPlace& place) : light_(readings.light) {
    cv::Matx23d inverse;
    cv::invertAffineTransform(place.to_px_matrix, inverse);
    to_mm_ = inverse;
  }
  [[nodiscard]] cv::Point2d mm(int i, int j) const {
    const cv::Vec2d mm = to_mm_ * cv::Vec3d(light_.origin_px.x + light_.pitch_px * i,
                                            light_.origin_px.y + light_.pitch_px * j, 1);
    return {mm[0], mm[1]};
  }
  [[nodiscard]] cv::Point2d in_frame(int i, int j) const {
    return {2.0 * i / light_.light.cols - 1, 2.0 * j / light_.light.rows - 1};
  }
  [[nodiscard]] cv::Size size() const { return light_.light.size(); }

 private:
  const CoarseLight& light_;
  cv::Matx23d to_mm_;
};

bool within(const cv::Rect2d& mm, cv::Point2d p, double by) {
  return p.x > mm.x + by && p.y > mm.y + by && p.x < mm.br().x - by && p.y < mm.br().y - by;
}

bool bare_paper(cv::Point2d mm) {
  const auto& fields = card::fields();
  const bool white = std::any_of(fields.begin(), fields.end(), [&](const card::Field& field) {
    return !field.black && within(field.mm, mm, kClearMm);
  });
  if (!white) return false;
  constexpr double kHalf = card::kChipMm / 2;
  const auto& chips = card::chips();
  return std::none_of(chips.begin(), chips.end(), [&](const card::Chip& chip) {
    const cv::Rect2d box(chip.centre_mm.x - kHalf, chip.centre_mm.y - kHalf, card::kChipMm,
                         card::kChipMm);
    return within(box, mm, -kClearMm);
  });
}

std::vector<Sample> take_samples(const CardReadings& readings, const CardPlace& place) {
  constexpr double kMiddleMm = 3;  // half
  const Cells cells(readings, place);
  std::vector<Sample> samples(readings.chips.size());
  std::vector<Sample> paper;
  for (int j = 0; j < cells.size().height; ++j) {
    for (int i = 0; i < cells.size().width; ++i) {
      const cv::Point2d mm = cells.mm(i, j);
      for (std::size_t k = 0; k < readings.chips.size(); ++k) {
        const cv::Point2d off = mm - readings.chips[k].chip.centre_mm;
        if (std::max(std::abs(off.x), std::abs(off.y)) > kMiddleMm) continue;
        samples[k].cells.emplace_back(i, j);
        samples[k].at = cells.in_frame(i, j);
      }
      const int step = static_cast<int>(kPaperStepMm / readings.light.pitch_mm);
      if (i % step == 0 && j % step == 0 && bare_paper(mm)) {
        paper.push_back({static_cast<int>(card::Kind::white), -1, {{i, j}}, cells.in_frame(i, j)});
      }
    }
  }
  for (std::size_t k = 0; k < samples.size(); ++k) {
    samples[k].kind = static_cast<int>(readings.chips[k].chip.kind);
    samples[k].chip = static_cast<int>(k);
  }
  samples.insert(samples.end(), paper.begin(), paper.end());
  return samples;
}

/// What fits best at one reach.
struct AtLength {
  double kappa = 0, veil = 0;
  double cost = 0;  ///< sum of squares in standard deviations, priors included
  Eigen::Matrix2d covariance = Eigen::Matrix2d::Zero();  ///< of κ and veil at this reach
  Eigen::MatrixXd left;  ///< what remains, relative, sample by channel
};

/// The light of each kind, and an even slope and bend of the lamp, are taken out by least squares
/// (variable projection); κ and the veil are then found for a given ℓ.
class Model {
 public:
  Model(const CoarseLight& seen, std::vector<Sample> samples)
      : seen_(seen),
        samples_(std::move(samples)),
        veil_(surround(seen.light, kVeilLengthMm, seen.pitch_mm)),
        veil_at_(at_samples(veil_)) {
    set_rms(kStartRms, kStartRms);
  }

  void set_rms(double chips, double paper) {
    const auto n = static_cast<Eigen::Index>(samples_.size());
    design_ = Eigen::MatrixXd::Zero(n, 7);
    weight_.resize(n);
    for (Eigen::Index i = 0; i < n; ++i) {
      const Sample& s = samples_[static_cast<std::size_t>(i)];
      weight_[i] = s.chip >= 0 ? 1 / chips : 1 / (paper * std::sqrt(kPaperAlike));
      design_(i, s.kind) = 1;
      design_.row(i).tail<4>() << s.at.x, s.at.y, s.at.x * s.at.x, s.at.y * s.at.y;
    }
    solver_.compute(weight_.asDiagonal() * design_);
  }

  [[nodiscard]] AtLength fit(double log_length) const {
    constexpr int kMostRounds = 12;
    constexpr double kAtRest = 1e-4;
    const double length = std::exp(log_length);
    AtLength at;
    at.kappa = 0.2;
    cv::Mat light = seen_.light.clone();
    for (int round = 0; round < kMostRounds; ++round) {
      const double before = at.kappa;
      const cv::Mat lit_by = surround(light, length, seen_.pitch_mm);
      const cv::Mat without_veil = seen_.light - at.veil * veil_;
      const cv::Mat gain = at.kappa * lit_by + cv::Scalar::all(1);
      light = without_veil * (1 + at.kappa * kSurround) / gain;
      improve(at_samples(lit_by), at);
      if (std::abs(at.kappa - before) < kAtRest) break;
    }
    at.cost += std::pow((log_length - std::log(kUsualLengthMm)) / kLogLengthPrior, 2);
    return at;
  }
  [[nodiscard]] const std::vector<Sample>& samples() const { return samples_; }

 private:
  [[nodiscard]] Eigen::MatrixXd at_samples(const cv::Mat& picture) const {
    Eigen::MatrixXd values(static_cast<Eigen::Index>(samples_.size()), 3);
    for (Eigen::Index i = 0; i < values.rows(); ++i) {
      const cv::Vec3d mean = mean_of(picture, samples_[static_cast<std::size_t>(i)].cells);
      for (int c = 0; c < 3; ++c) values(i, c) = mean[c];
    }
    return values;
  }
  /// What kinds and lamp do not explain.
  [[nodiscard]] Eigen::MatrixXd project(const Eigen::MatrixXd& values) const {
    return values - design_ * solver_.solve(weight_.asDiagonal() * values);
  }

  /// One step of Gauss and Newton in κ and the veil, the surround held.
  void improve(const Eigen::MatrixXd& lit_by, AtLength& at) const {
    const Eigen::ArrayXXd light = (at_samples(seen_.light) - at.veil * veil_at_).array().max(1e-6);
    const Eigen::ArrayXXd gain = (1 + at.kappa * lit_by.array()).max(0.1);
    at.left = project((light.log() - gain.log()).matrix());
    const std::array<Eigen::MatrixXd, 2> slopes{project((-lit_by.array() / gain).matrix()),
                                                project((-veil_at_.array() / light).matrix())};
    const auto weighted = [this](const Eigen::MatrixXd& m) {
      return Eigen::MatrixXd(weight_.asDiagonal() * m);
    };
    const Eigen::MatrixXd residual = weighted(at.left), by_kappa = weighted(slopes[0]),
                          by_veil = weighted(slopes[1]);
    Eigen::Matrix2d normal;
    normal << by_kappa.squaredNorm(), by_kappa.cwiseProduct(by_veil).sum(),
        by_kappa.cwiseProduct(by_veil).sum(), by_veil.squaredNorm() + 1 / (kVeilPrior * kVeilPrior);
    const Eigen::Vector2d fall(
        by_kappa.cwiseProduct(residual).sum(),
        by_veil.cwiseProduct(residual).sum() + at.veil / (kVeilPrior * kVeilPrior));
    at.covariance = normal.inverse();
    at.cost = residual.squaredNorm() + std::pow(at.veil / kVeilPrior, 2);
    const Eigen::Vector2d step = at.covariance * fall;
    at.kappa = std::clamp(at.kappa - step[0], -0.3, 2.0);
    at.veil = std::clamp(at.veil - step[1], -0.1, 0.2);
  }

  const CoarseLight& seen_;
  std::vector<Sample> samples_;
  cv::Mat veil_;
  Eigen::MatrixXd veil_at_;
  Eigen::VectorXd weight_;
  Eigen::MatrixXd design_;
  Eigen::ColPivHouseholderQR<Eigen::MatrixXd> solver_;
};

const double kLeastLog = std::log(kLeastLengthMm), kMostLog = std::log(kMostLengthMm);

/// ln ℓ of the least cost on a coarse ladder of reaches.
double coarse_search(const Model& model) {
  constexpr int kRungs = 9;
  double best = kLeastLog, least = std::numeric_limits<double>::infinity();
  for (int i = 0; i < kRungs; ++i) {
    const double at = kLeastLog + (kMostLog - kLeastLog) * i / (kRungs - 1);
    const double cost = model.fit(at).cost;
    if (cost < least) least = cost, best = at;
  }
  return best;
}

/// The bottom of the cost about `at`, and the standard uncertainty of ln ℓ there, by parabolas.
struct Bottom {
  double log_length = 0, u = 0;
  double kappa_slope = 0;  ///< dκ / d ln ℓ along the bottom
  AtLength fit;
};

Bottom settle(const Model& model, double at) {
  constexpr double kFirstStep = 0.3, kLastStep = 0.08;
  constexpr int kMostRounds = 30;  // a flat bottom, as of no stray light, may never come to rest
  Bottom bottom;
  double step = kFirstStep;
  for (int round = 0; round < kMostRounds; ++round, step = std::max(kLastStep, 0.4 * step)) {
    at = std::clamp(at, kLeastLog + step, kMostLog - step);
    const AtLength low = model.fit(at - step), high = model.fit(at + step);
    bottom.fit = model.fit(at);
    const double bend = (low.cost + high.cost - 2 * bottom.fit.cost) / (step * step);
    bottom.log_length = at;
    bottom.u =
        bend > 2 / (kLogLengthPrior * kLogLengthPrior) ? std::sqrt(2 / bend) : kLogLengthPrior;
    bottom.kappa_slope = (high.kappa - low.kappa) / (2 * step);
    const double move = bend > 0 ? -(high.cost - low.cost) / (2 * step * bend)
                                 : (high.cost < low.cost ? step : -step);
    if (step == kLastStep && std::abs(move) < kLastStep / 4) {
      bottom.log_length += move;
      bottom.fit.kappa += move * bottom.kappa_slope;
      return bottom;
    }
    at += std::clamp(move, -step, step);
    if (step == kLastStep && (at < kLeastLog + step || at > kMostLog - step)) return bottom;
  }
  return bottom;
}

struct Rms {
  double chips = 0, paper = 0;
};

Rms rms_of(const Model& model, const Eigen::MatrixXd& left) {
  double chips = 0, paper = 0;
  int n = 0, m = 0;
  for (Eigen::Index i = 0; i < left.rows(); ++i) {
    const double squares = left.row(i).squaredNorm() / 3;
    if (model.samples()[static_cast<std::size_t>(i)].chip >= 0) {
      chips += squares, ++n;
    } else {
      paper += squares, ++m;
    }
  }
  constexpr int kSpent = 6;  // by the chips: two of the kinds, and most of slope, bend, κ and veil
  return {std::max(std::sqrt(chips / (n - kSpent)), kLeastRms),
          std::max(std::sqrt(paper / std::max(1, m)), kLeastRms)};
}

void check_alike(const CardReadings& readings, const Model& model, const Eigen::MatrixXd& left,
                 double rms, const std::string& file) {
  Eigen::Index worst = 0;
  for (Eigen::Index i = 0; i < left.rows(); ++i) {
    if (model.samples()[static_cast<std::size_t>(i)].chip < 0) break;
    if (left.row(i).cwiseAbs().maxCoeff() > left.row(worst).cwiseAbs().maxCoeff()) worst = i;
  }
  const double off = left.row(worst).cwiseAbs().maxCoeff();
  if (off < kMostChipOff && rms < kMostChipsRms) return;
  const card::Chip& chip = readings.chips[static_cast<std::size_t>(worst)].chip;
  const cv::Rect2d& field = card::fields()[static_cast<std::size_t>(chip.field)].mm;
  const bool high = chip.centre_mm.y < field.y + field.height / 2;
  const auto column = static_cast<int>(3 * (chip.centre_mm.x - field.x) / field.width) + 1;
  throw Error(ExitCode::scan,
              fmt::format("{}: the {} chips of the scanner's card are not alike, number {} of the "
                          "{} row in the {} field most, by {:.0f} %; clean the card, or print one "
                          "anew on matt paper in the best quality.",
                          file, name_of(chip.kind), column, high ? "upper" : "lower",
                          card::fields()[static_cast<std::size_t>(chip.field)].place, 100 * off));
}

}  // namespace

StrayLightFit fit_stray_light(const CardReadings& readings, const CardPlace& place,
                              const std::string& file) {
  Model model(readings.light, take_samples(readings, place));
  const double start = coarse_search(model);
  Rms rms = rms_of(model, model.fit(start).left);
  model.set_rms(rms.chips, rms.paper);
  Bottom bottom = settle(model, start);
  rms = rms_of(model, bottom.fit.left);
  check_alike(readings, model, bottom.fit.left, rms.chips, file);
  model.set_rms(rms.chips, rms.paper);
  bottom = settle(model, bottom.log_length);

  StrayLightFit fit;
  fit.chips_rms = rms.chips;
  fit.veil = bottom.fit.veil;
  fit.u_veil = std::sqrt(bottom.fit.covariance(1, 1));
  StrayLightEstimate& estimate = fit.estimate;
  estimate.value = {std::max(0.0, bottom.fit.kappa), std::exp(bottom.log_length)};
  const double length = estimate.value.length_mm;
  const double by_length = bottom.kappa_slope * bottom.u;
  estimate.u_kappa = std::sqrt(bottom.fit.covariance(0, 0) + by_length * by_length +
                               kLeastU * kLeastU + std::pow(kModelKappa * estimate.value.kappa, 2));
  estimate.u_length_mm = length * std::hypot(bottom.u, kModelLength);
  estimate.correlation = by_length * bottom.u * length / (estimate.u_kappa * estimate.u_length_mm);
  if (estimate.value.kappa > kMostKappa ||
      (estimate.value.kappa > 2 * estimate.u_kappa &&
       (length < 1.1 * kLeastLengthMm || length > 0.9 * kMostLengthMm))) {
    throw Error(
        ExitCode::scan,
        fmt::format("{}: the chips of the scanner's card differ with their surround by more "
                    "than stray light of a usual reach does (strength {:.2f}, reach {:.1f} mm; "
                    "reaches below some 3 mm cannot be told by its chips); print the card anew, "
                    "and scan it with automatic corrections off.",
                    file, estimate.value.kappa, length));
  }
  return fit;
}

}  // namespace inkwane::scanner
