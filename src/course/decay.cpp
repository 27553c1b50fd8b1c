#include "course/decay.hpp"

#include <algorithm>
#include <array>
#include <cmath>

#include <Eigen/Cholesky>

namespace inkwane::course {
namespace {

constexpr double kChi2 = 3.841;  // 95 % of χ² with one degree of freedom
/// 99 % of χ² with 1, 2 … degrees of freedom (Abramowitz & Stegun, table 26.8).
constexpr std::array<double, 10> kChi2Of99{6.635,  9.210,  11.345, 13.277, 15.086,
                                           16.812, 18.475, 20.090, 21.666, 23.209};
constexpr int kRates = 120;  // each time about the likely ones of the time before
constexpr int kTimes = 3;
// Rates tried: from hardly anything gone at the last reading to everything at the first.
constexpr double kLeastGone = 1e-3, kMostExponent = 30;
constexpr std::size_t kReadingsForShape = 5;
constexpr double kLeastShape = 0.3, kMostShape = 1.5, kShapeStep = 0.1;
// Smallest standard uncertainty of a share: keeps the covariance from being singular.
constexpr double kLeastU = 1e-4;

constexpr auto better = [](const auto& a, const auto& b) { return a.chi2 < b.chi2; };

}  // namespace

double DecayFit::Candidate::gone(double x) const {
  return -std::expm1(-std::pow(rate * x, shape));
}

DecayFit::DecayFit(const Decaying& readings) : readings_(readings) {
  const auto n = readings.share.size();
  inverse_ = (readings.covariance + kLeastU * kLeastU * Eigen::MatrixXd::Identity(n, n))
                 .ldlt()
                 .solve(Eigen::MatrixXd::Identity(n, n));
  search({1.0});
  if (readings.x.size() >= kReadingsForShape) {
    std::vector<double> shapes;
    for (double s = kLeastShape; s < kMostShape; s += kShapeStep) shapes.push_back(s);
    const std::vector<Sweep> plain = std::move(sweeps_);
    const Candidate best = best_;
    const double widening = widening_;
    search(shapes);
    if (best_.chi2 >= best.chi2 - kChi2Of99.front()) {
      sweeps_ = plain;
      best_ = best;
      widening_ = widening;
    }
  }
}

DecayFit::Candidate DecayFit::weigh(double rate, double shape) const {
  Candidate out{rate, shape};
  const auto n = readings_.share.size();
  Eigen::VectorXd gone(n);
  for (Eigen::Index i = 0; i < n; ++i) gone[i] = out.gone(readings_.x[static_cast<std::size_t>(i)]);
  // share = 1 − gone + floor · gone
  const Eigen::VectorXd rest = readings_.share.array() - 1 + gone.array();
  const Eigen::VectorXd weighted = inverse_ * gone;
  out.curvature = gone.dot(weighted);
  out.free_floor = out.curvature > 0 ? rest.dot(weighted) / out.curvature : 0;
  out.free_chi2 = (rest - out.free_floor * gone).dot(inverse_ * (rest - out.free_floor * gone));
  out.floor = std::clamp(out.free_floor, 0.0, 1.0);
  const double off = out.floor - out.free_floor;
  out.chi2 = out.free_chi2 + out.curvature * off * off;
  return out;
}

DecayFit::Sweep DecayFit::sweep(double shape, double low, double high) const {
  Sweep out;
  for (int i = 0; i < kRates; ++i)
    out.push_back(weigh(low * std::pow(high / low, static_cast<double>(i) / (kRates - 1)), shape));
  return out;
}

void DecayFit::search(const std::vector<double>& shapes) {
  sweeps_.clear();
  for (const double shape : shapes) {
    sweeps_.push_back(sweep(shape, std::pow(kLeastGone, 1 / shape) / readings_.x.back(),
                            std::pow(kMostExponent, 1 / shape) / readings_.x.front()));
  }
  best_ = sweeps_.front().front();
  for (int time = 0; time < kTimes; ++time) {
    for (const Sweep& one : sweeps_) {
      const Candidate& here = *std::min_element(one.begin(), one.end(), better);
      if (better(here, best_)) best_ = here;
    }
    widen();
    if (time + 1 == kTimes) return;
    for (Sweep& one : sweeps_) {
      // From the last unlikely rate before the likely ones to the first after them.
      const auto likely = [most = limit()](const Candidate& c) { return c.chi2 <= most; };
      auto first = std::find_if(one.begin(), one.end(), likely);
      auto last = std::find_if(one.rbegin(), one.rend(), likely).base();
      if (first == one.end()) {
        first = std::min_element(one.begin(), one.end(), better);
        last = std::next(first);
      }
      if (first != one.begin()) --first;
      if (last == one.end()) --last;
      one = sweep(first->shape, first->rate, last->rate);
    }
  }
}

void DecayFit::widen() {
  widening_ = 1;
  const std::size_t fitted = best_.shape == 1 ? 2 : 3, n = readings_.x.size();
  if (n <= fitted) return;
  const std::size_t freedom = n - fitted;
  if (best_.chi2 > kChi2Of99[std::min(freedom, kChi2Of99.size()) - 1])
    widening_ = best_.chi2 / static_cast<double>(freedom);
}

double DecayFit::limit() const {
  return best_.chi2 + kChi2 * widening_;
}

std::optional<Estimate> DecayFit::rate() const {
  Estimate out{best_.rate, {best_.rate, best_.rate}};
  const double most = limit();
  for (const Sweep& one : sweeps_) {
    for (auto c = one.begin(); c != one.end(); ++c) {
      if (c->chi2 > most) continue;
      if (std::next(c) == one.end()) return std::nullopt;
      const auto crossing = [&](const Candidate& outside) {
        return c->rate + (outside.rate - c->rate) * (most - c->chi2) / (outside.chi2 - c->chi2);
      };
      const double low = c == one.begin()            ? 0
                         : std::prev(c)->chi2 > most ? crossing(*std::prev(c))
                                                     : c->rate;
      const double high = std::next(c)->chi2 > most ? crossing(*std::next(c)) : c->rate;
      out.ci95 = {std::min(out.ci95[0], low), std::max(out.ci95[1], high)};
    }
  }
  return out;
}

/// The best value of a quantity that, for a given rate and shape, is linear in the floor, and all
/// that it may be.
template <typename LineOf>
Estimate DecayFit::extent(const LineOf& line_of) const {
  const Line best = line_of(best_);
  const double value = best.start + best.slope * best_.floor;
  Estimate out{value, {value, value}};
  const double most = limit();
  const auto stretch = [&](const Candidate& c) {
    if (c.chi2 > most) return;
    const double reach = c.curvature > 0 ? std::sqrt((most - c.free_chi2) / c.curvature) : 1;
    const Line line = line_of(c);
    for (const double floor : {c.free_floor - reach, c.free_floor + reach}) {
      const double here = line.start + line.slope * std::clamp(floor, 0.0, 1.0);
      out.ci95[0] = std::min(out.ci95[0], here);
      out.ci95[1] = std::max(out.ci95[1], here);
    }
  };
  for (const Sweep& one : sweeps_) {
    for (const Candidate& c : one) stretch(c);
  }
  return out;
}

Estimate DecayFit::floor() const {
  return extent([](const Candidate&) { return Line{0, 1}; });
}

Estimate DecayFit::at(double x) const {
  return extent([x](const Candidate& c) { return Line{1 - c.gone(x), c.gone(x)}; });
}

Estimate DecayFit::gone_between(double from, double to) const {
  return extent([from, to](const Candidate& c) {
    const double gone = c.gone(to) - c.gone(from);
    return Line{gone, -gone};
  });
}

}  // namespace inkwane::course
