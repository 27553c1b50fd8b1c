#include "change/screen_reading.hpp"

#include <algorithm>
#include <cmath>
#include <complex>
#include <numbers>

#include <opencv2/imgproc.hpp>

namespace inkwane::change {
namespace {

constexpr double kPadding = 1.5;      // of the transform: so that peaks do not fall between bins
constexpr double kStandsOut = 25;     // of a peak's power, against the median of all rulings' …
constexpr double kStandsOutHere = 5;  // … and of its disc's, against the ring about it
constexpr int kMostTried = 12;
constexpr double kAboveLeakage = 6;  // in power, of a peak beside another, above its skirts
constexpr double kLeastAmplitude = 0.004;
/// Of the first lattice: fainter ones are leakage, or carry no weight.
constexpr double kFaintest = 0.03;
constexpr double kStrain = 0.006;  // of the paper or the scanner, by which partners may miss 90°
/// The two lattices' mixtures are as strong as the product of both at most: what is stronger by
/// this factor is a third. (At 15°, 45° and 75° every screen lies where the two others mix.)
constexpr double kMixture = 2;
constexpr double kRing = 1.8;  // outer radius of the ring in which the floor is taken

cv::Mat power_of(const cv::Mat& transform) {
  std::vector<cv::Mat> parts;
  cv::split(transform, parts);
  return parts[0].mul(parts[0]) + parts[1].mul(parts[1]);
}

double sinc(double x) {
  const double y = std::numbers::pi * x;
  return std::abs(y) < 1e-9 ? 1 : std::sin(y) / y;
}

}  // namespace

/// Power and cross power of a peak, floor taken off, in units of reflectance squared.
struct ScreenSpectrum::Disc {
  Eigen::Matrix3cd power = Eigen::Matrix3cd::Zero();
  Eigen::Vector3d floor = Eigen::Vector3d::Zero();  // a bin
  double bins = 0;
};

ScreenSpectrum::ScreenSpectrum(const RegionPixels& pixels) : clipped_(pixels.clipped) {
  const cv::Mat& w = pixels.weight;
  const double sum_w = cv::sum(w)[0];
  const cv::Mat w2 = w.mul(w);
  const double sum_w4 = w2.dot(w2);
  sum_w2_ = w.dot(w);
  width_px_ = sum_w / std::sqrt(sum_w2_);
  std::vector<cv::Mat> planes;
  cv::split(pixels.sharp, planes);
  const cv::Size size(cv::getOptimalDFTSize(cvCeil(kPadding * w.cols)),
                      cv::getOptimalDFTSize(cvCeil(kPadding * w.rows)));
  for (int c = 0; c < 3; ++c) {
    const auto k = static_cast<std::size_t>(c);
    mean_[c] = planes[k].dot(w) / sum_w;
    cv::Mat padded(size, CV_32FC1, cv::Scalar(0));
    cv::Mat place = padded(cv::Rect({0, 0}, w.size()));
    cv::multiply(planes[k] - mean_[c], w, place);
    cv::dft(padded, transform_[k], cv::DFT_COMPLEX_OUTPUT);
  }
  cv::Mat padded(size, CV_32FC1, cv::Scalar(0)), transform;
  w.copyTo(padded(cv::Rect({0, 0}, w.size())));
  cv::dft(padded, transform, cv::DFT_COMPLEX_OUTPUT);
  leakage_ = power_of(transform) / (sum_w * sum_w);
  cv::dilate(leakage_, leakage_, cv::Mat::ones(5, 5, CV_8UC1));  // peaks fall between bins
  // Variance of a coherent amplitude for a floor of 1 a bin.
  noise_gain_ = static_cast<double>(size.area()) * sum_w4 / (2 * sum_w2_ * sum_w2_);
}

/// Visits the bins at a distance of `inner` to `outer` cycles a pixel from k.
template <typename Visit>
void ScreenSpectrum::over(const Eigen::Vector2d& k, double inner, double outer,
                          const Visit& visit) const {
  const int columns = transform_[0].cols, rows = transform_[0].rows;
  const int i0 = cvFloor((k[0] - outer) * columns), i1 = cvCeil((k[0] + outer) * columns);
  const int j0 = cvFloor((k[1] - outer) * rows), j1 = cvCeil((k[1] + outer) * rows);
  for (int j = j0; j <= j1; ++j) {
    for (int i = i0; i <= i1; ++i) {
      const Eigen::Vector2d here(static_cast<double>(i) / columns, static_cast<double>(j) / rows);
      const double d = (here - k).norm();
      if (d < inner || d >= outer) continue;
      visit(here, ((i % columns) + columns) % columns, ((j % rows) + rows) % rows);
    }
  }
}

namespace {
std::complex<double> value(const cv::Mat& transform, int column, int row) {
  const auto& v = transform.at<cv::Vec2f>(row, column);
  return {static_cast<double>(v[0]), static_cast<double>(v[1])};
}
}  // namespace

Lattices ScreenSpectrum::find(double resolution_dpi, bool coarse_colour, double finest) const {
  const double least = kLeastLpi / resolution_dpi,
               most = std::min(kMostLpi / resolution_dpi, finest);
  Lattices result;
  // Two peaks nearer than this are one.
  const double apart = 2 / width_px_ + 0.01 * most;
  std::array<cv::Mat, 3> power, wide;
  std::array<double, 3> median{};
  for (std::size_t c = 0; c < 3; ++c) {
    power[c] = power_of(transform_[c]);
    const int reach_x = std::max(1, cvRound((0.7 / width_px_ + kStrain * most) * power[c].cols)),
              reach_y = std::max(1, cvRound((0.7 / width_px_ + kStrain * most) * power[c].rows));
    cv::dilate(power[c], wide[c], cv::Mat::ones(2 * reach_y + 1, 2 * reach_x + 1, CV_8UC1));
    std::vector<float> values;
    over({0, 0}, least, most,
         [&](const Eigen::Vector2d&, int i, int j) { values.push_back(power[c].at<float>(j, i)); });
    if (values.size() < 100) return result;
    const auto middle = values.begin() + static_cast<std::ptrdiff_t>(values.size() / 2);
    std::nth_element(values.begin(), middle, values.end());
    median[c] = std::max(static_cast<double>(*middle), 1e-12);
  }
  const auto at = [](const cv::Mat& m, const Eigen::Vector2d& k) {
    const int i = cvRound(k[0] * m.cols), j = cvRound(k[1] * m.rows);
    return static_cast<double>(
        m.at<float>(((j % m.rows) + m.rows) % m.rows, ((i % m.cols) + m.cols) % m.cols));
  };
  std::vector<Eigen::Vector3d> amplitudes;  // of the lattices found, by channel
  double strongest_power = 0;               // of the first's peak, in its own channel
  std::vector<Eigen::Vector2d> refused;
  for (int tried = 0; tried < kMostTried; ++tried) {
    std::vector<Eigen::Vector2d> taken = harmonics(result.found);
    if (coarse_colour) add_images(taken);
    const std::vector<Eigen::Vector2d> mixed = mixtures(result.found);
    // Whether what stands here may be no more than the window's own skirts about stronger peaks, or
    // is too faint beside the first.
    const auto leaked = [&](const Eigen::Vector2d& here) {
      for (std::size_t c = 0; c < 3; ++c) {
        double from_others = 0;
        for (const Eigen::Vector2d& peak : taken)
          from_others += at(wide[c], peak) * at(leakage_, here - peak);
        if (at(power[c], here) > std::max({kAboveLeakage * from_others, kStandsOut * median[c],
                                           kFaintest * kFaintest * strongest_power}))
          return false;
      }
      return true;
    };
    double best = kStandsOut;
    Eigen::Vector2d k(0, 0);
    over({0, 0}, least, most, [&](const Eigen::Vector2d& here, int, int) {
      // A quarter of the plane holds one of each four; beyond half a cycle its images begin.
      if (here[0] <= 0 || here[1] < 0 || here[0] > 0.5 || here[1] > 0.5) return;
      double score = 0;
      for (std::size_t c = 0; c < 3; ++c) {
        const double peak = at(power[c], here);
        if (peak < at(wide[c], here)) continue;  // a slope
        score = std::max(score, std::min(peak, at(wide[c], turned(here))) / median[c]);
      }
      if (score <= best || near(refused, here, apart) || near(taken, here, apart) ||
          near(taken, turned(here), apart) || leaked(here))
        return;
      best = score;
      k = here;
    });
    if (best <= kStandsOut) return result;
    const double within = 1.5 / width_px_ + kStrain * k.norm();
    const Lattice lattice{{refined(k, within), refined(turned(k), within)}};
    const Eigen::Vector3d amplitude = stands_out(lattice, taken);
    double faintest = kLeastAmplitude;
    if (!amplitudes.empty())
      faintest = std::max(faintest, kFaintest * amplitudes.front().maxCoeff());
    bool refuse = amplitude.maxCoeff() < faintest || of_blocks(lattice.k[0]) ||
                  of_blocks(lattice.k[1]) || near(taken, lattice.k[0], apart) ||
                  near(taken, lattice.k[1], apart);
    if (near(mixed, lattice.k[0], apart) || near(mixed, lattice.k[1], apart)) {
      const Eigen::Vector3d mixture =
          amplitudes[0].cwiseProduct(amplitudes[1]).cwiseQuotient(mean_.cwiseMax(1e-3));
      refuse = refuse || ((amplitude - kMixture * mixture).array() < kLeastAmplitude).all();
    }
    if (refuse) {
      refused.push_back(k);
      continue;
    }
    if (result.found.size() == kMostLattices) {
      result.more = true;
      return result;
    }
    if (amplitudes.empty()) {
      for (const cv::Mat& p : wide)
        strongest_power = std::max(strongest_power, at(p, lattice.k[0]));
    }
    amplitudes.push_back(amplitude);
    result.found.push_back(lattice);
  }
  return result;
}

/// The lattice's amplitude, a channel, where both its peaks stand out from what lies about them;
/// else 0.
Eigen::Vector3d ScreenSpectrum::stands_out(const Lattice& lattice,
                                           const std::vector<Eigen::Vector2d>& other_peaks) const {
  Eigen::Vector3d amplitude = Eigen::Vector3d::Zero();
  for (const Eigen::Vector2d& peak : lattice.k) {
    const Disc d = disc(peak, other_peaks);
    const Eigen::Vector3d power = d.power.diagonal().real().cwiseMax(0);
    if ((power.array() < kStandsOutHere * d.bins * d.floor.array().max(1e-18)).all())
      return Eigen::Vector3d::Zero();
    amplitude = amplitude.cwiseMax(power.cwiseSqrt());
  }
  return amplitude;
}

Eigen::Vector2d ScreenSpectrum::refined(const Eigen::Vector2d& k, double within) const {
  Eigen::Vector2d at = k;
  for (int round = 0; round < 3; ++round) {
    Eigen::Vector2d sum(0, 0);
    double total = 0;
    over(at, 0, within, [&](const Eigen::Vector2d& here, int i, int j) {
      double power = 0;
      for (const cv::Mat& t : transform_) power += std::norm(value(t, i, j));
      sum += power * here;
      total += power;
    });
    if (total <= 0) return k;
    at = sum / total;
  }
  return at;
}

double ScreenSpectrum::disc_radius(const Eigen::Vector2d& k) const {
  // The window's own width, and what cockle of a per cent spreads.
  return std::min(2.5 / width_px_ + 0.012 * k.norm(), 0.16 * k.norm());
}

ScreenSpectrum::Disc ScreenSpectrum::disc(const Eigen::Vector2d& k,
                                          const std::vector<Eigen::Vector2d>& other_peaks) const {
  const double radius = disc_radius(k);
  const double unit = 1 / (static_cast<double>(transform_[0].total()) * sum_w2_);
  Disc result;
  const auto add = [&](Eigen::Matrix3cd& to, int i, int j) {
    Eigen::Vector3cd f;
    for (std::size_t c = 0; c < 3; ++c) f[static_cast<int>(c)] = value(transform_[c], i, j);
    to += f * f.adjoint() * unit;
  };
  std::vector<Eigen::Vector2d> others;  // that reach in here
  for (const Eigen::Vector2d& p : other_peaks) {
    const double d = (p - k).norm();
    if (d > 0.5 / width_px_ && d < (1 + kRing) * radius) others.push_back(p);
  }
  over(k, 0, radius, [&](const Eigen::Vector2d& here, int i, int j) {
    if (near(others, here, (here - k).norm())) return;  // nearer to another peak
    add(result.power, i, j);
    ++result.bins;
  });
  Eigen::Matrix3cd ring = Eigen::Matrix3cd::Zero();
  double ring_bins = 0;
  over(k, radius, kRing * radius, [&](const Eigen::Vector2d& here, int i, int j) {
    if (near(others, here, radius)) return;
    add(ring, i, j);
    ++ring_bins;
  });
  if (ring_bins > 0) {
    ring /= ring_bins;
    result.power -= result.bins * ring;
    result.floor = ring.diagonal().real();
  }
  return result;
}

ScreenReading ScreenSpectrum::read(const std::vector<Lattice>& expected,
                                   const target::PointSpread& spread) const {
  ScreenReading reading;
  reading.mean = mean_;
  reading.clipped = clipped_;
  reading.periods = 1e9;
  std::vector<Lattice> lattices;
  for (const Lattice& lattice : expected) {
    Lattice here;
    for (std::size_t d = 0; d < 2; ++d) {
      here.k[d] = refined(lattice.k[d], 1.5 / width_px_ + kStrain * lattice.k[d].norm());
    }
    lattices.push_back(here);
  }
  std::vector<Eigen::Vector2d> others = harmonics(lattices);
  const std::vector<Eigen::Vector2d> mixed = mixtures(lattices);
  others.insert(others.end(), mixed.begin(), mixed.end());
  for (const Lattice& lattice : lattices) {
    Peaks peaks;
    peaks.lattice = lattice;
    for (std::size_t d = 0; d < 2; ++d) {
      const Eigen::Vector2d& k = lattice.k[d];
      const Disc found = disc(k, others);
      int own = 0;
      found.power.diagonal().real().maxCoeff(&own);
      const double strength = std::max(found.power(own, own).real(), 1e-12);
      const auto square = [](double v) { return v * v; };
      const double x = spread.sigma_px[0] * k[0], y = spread.sigma_px[1] * k[1];
      constexpr double kTwoPi2 = 2 * std::numbers::pi * std::numbers::pi;
      peaks.transfer[d] = std::exp(-kTwoPi2 * (x * x + y * y)) * sinc(k[0]) * sinc(k[1]);
      peaks.transfer_by_sigma[d] =
          2 * kTwoPi2 * (spread.sigma_px[0] * square(k[0]) + spread.sigma_px[1] * square(k[1]));
      const double unit = 1 / (std::sqrt(strength) * peaks.transfer[d]);
      for (int c = 0; c < 3; ++c) {
        peaks.amplitude[d][c] = found.power(c, own).real() * unit;
        const double variance =
            noise_gain_ * found.floor[c] * (1 + found.bins * found.floor[own] / strength);
        peaks.u_amplitude[d][c] = std::sqrt(std::max(variance, 0.0)) / peaks.transfer[d];
      }
      reading.periods = std::min(reading.periods, k.norm() * width_px_);
    }
    reading.peaks.push_back(peaks);
  }
  return reading;
}

}  // namespace inkwane::change
