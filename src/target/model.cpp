#include "target/model.hpp"

#include <algorithm>
#include <array>
#include <cmath>

#include "target/metric.hpp"

namespace inkwane::target {
namespace {

struct Pair {
  int i, j;
};
constexpr std::array<Pair, 3> kSquare{{{0, 1}, {0, 2}, {1, 2}}};
constexpr std::array<Pair, 6> kCube{{{0, 1}, {2, 1}, {0, 2}, {1, 0}, {1, 2}, {2, 0}}};

const double kLogKnee = std::log(kToneKnee);

/// ∂φ / ∂t, 13 × 3.
Eigen::Matrix<double, kTerms, 3> terms_by_light(const Eigen::Vector3d& light) {
  const Eigen::Vector3d t = light.cwiseMax(kLeastLight);
  const std::array c{std::cbrt(t[0]), std::cbrt(t[1]), std::cbrt(t[2])};
  Eigen::Matrix<double, kTerms, 3> d = Eigen::Matrix<double, kTerms, 3>::Zero();
  int k = 0;
  for (; k < 3; ++k) d(k, k) = 1;
  for (const auto [i, j] : kSquare) {
    d(k, i) = std::sqrt(t[j] / t[i]) / 2 - 0.5;
    d(k, j) = std::sqrt(t[i] / t[j]) / 2 - 0.5;
    ++k;
  }
  for (const auto [i, j] : kCube) {
    d(k, i) = c[j] * c[j] / (3 * c[i] * c[i]) - 1.0 / 3;
    d(k, j) = 2 * c[i] / (3 * c[j]) - 2.0 / 3;
    ++k;
  }
  for (int i = 0; i < 3; ++i) d(k, i) = c[0] * c[1] * c[2] / (3 * t[i]) - 1.0 / 3;
  return d;
}

}  // namespace

std::string to_string(Rung rung) {
  switch (rung) {
    case Rung::linear:
      return "tone exponent and matrix";
    case Rung::bent:
      return "tone curve and matrix";
    case Rung::root2:
      return "tone curve and root polynomial of degree 2";
    case Rung::root3:
      return "tone curve and root polynomial of degree 3";
  }
  return {};
}

int terms_of(Rung rung) {
  return rung == Rung::root3 ? kTerms : rung == Rung::root2 ? 6 : 3;
}

std::vector<int> free_parameters(Rung rung) {
  std::vector<int> free;
  for (int i = 0; i < kMixing; ++i) {
    const bool beta = i >= kBeta && i < kBeta + 3;
    if (!beta || rung != Rung::linear) free.push_back(i);
  }
  for (int row = 0; row < 3; ++row) {
    for (int k = 0; k < terms_of(rung); ++k) free.push_back(kMixing + row * kTerms + k);
  }
  return free;
}

double tone(const Parameters& p, int channel, double v) {
  const double gamma = p[kGamma + channel], beta = p[kBeta + channel];
  const double u = std::log(std::max(v, kLeastLight));
  const double held = std::max(u, kLogKnee);
  return std::exp(gamma * held + beta * held * held + (gamma + 2 * beta * kLogKnee) * (u - held));
}

double log_before_tone(const Parameters& p, int channel, double t) {
  const double gamma = p[kGamma + channel], beta = p[kBeta + channel];
  const double y = std::log(std::max(t, kLeastLight));
  const double at_knee = gamma * kLogKnee + beta * kLogKnee * kLogKnee;
  if (y < at_knee) return kLogKnee + (y - at_knee) / (gamma + 2 * beta * kLogKnee);
  // γ u + β u² = y on the branch that goes through u = y / γ for β = 0.
  const double root = std::sqrt(std::max(gamma * gamma + 4 * beta * y, 0.0));
  return 2 * y / (gamma + root);
}

bool tone_rises(const Parameters& p) {
  // The slope γ + 2 β ln v is linear in ln v. Its ends are the knee and white; ln v = 1 leaves room
  // for light above white.
  for (int c = 0; c < 3; ++c) {
    const double gamma = p[kGamma + c], beta = p[kBeta + c];
    if (!(gamma + 2 * beta * kLogKnee > 0.05 && gamma + 2 * beta > 0.05)) return false;
  }
  return true;
}

Terms terms(const Eigen::Vector3d& light) {
  const Eigen::Vector3d t = light.cwiseMax(kLeastLight);
  const std::array c{std::cbrt(t[0]), std::cbrt(t[1]), std::cbrt(t[2])};
  Terms phi;
  int k = 0;
  for (; k < 3; ++k) phi[k] = t[k];
  for (const auto [i, j] : kSquare) phi[k++] = std::sqrt(t[i] * t[j]) - (t[i] + t[j]) / 2;
  for (const auto [i, j] : kCube) phi[k++] = c[i] * c[j] * c[j] - (t[i] + 2 * t[j]) / 3;
  phi[k] = c[0] * c[1] * c[2] - t.sum() / 3;
  return phi;
}

XyzD50 mix(const Parameters& p, const Eigen::Vector3d& light) {
  const Terms phi = terms(light);
  const auto row = [&](int k) {
    return p.segment<kTerms>(kMixing + k * kTerms).dot(phi) + p[kOffset + k];
  };
  return {kWhiteD50.X * row(0), kWhiteD50.Y * row(1), kWhiteD50.Z * row(2)};
}

Eigen::Matrix3d lab_by_log_light(const Parameters& p, const Eigen::Vector3d& light) {
  Eigen::Matrix3d xyz;
  for (int k = 0; k < 3; ++k) {
    xyz.row(k) = p.segment<kTerms>(kMixing + k * kTerms).transpose() * terms_by_light(light);
  }
  xyz = vector_of(kWhiteD50).asDiagonal() * xyz * light.cwiseMax(kLeastLight).asDiagonal();
  return lab_by_xyz(mix(p, light)) * xyz;
}

Jacobian lab_by_parameters(const Parameters& p, const Eigen::Vector3d& light) {
  Eigen::Vector3d log_v;
  for (int c = 0; c < 3; ++c) log_v[c] = log_before_tone(p, c, light[c]);
  return lab_by_parameters(p, light, log_v);
}

Jacobian lab_by_parameters(const Parameters& p, const Eigen::Vector3d& light,
                           const Eigen::Vector3d& log_v) {
  const Terms phi = terms(light);
  const auto by_light = terms_by_light(light);
  Jacobian xyz = Jacobian::Zero();
  for (int k = 0; k < 3; ++k) {
    const auto row = p.segment<kTerms>(kMixing + k * kTerms);
    xyz(k, kOffset + k) = 1;
    xyz.block<1, kTerms>(k, kMixing + k * kTerms) = phi.transpose();
    for (int c = 0; c < 3; ++c) {
      const double u = log_v[c];
      const double held = std::max(u, kLogKnee);
      const double slope = row.dot(by_light.col(c)) * std::max(light[c], kLeastLight);  // ∂/∂ ln t
      xyz(k, kGamma + c) = slope * u;
      xyz(k, kBeta + c) = slope * (held * held + 2 * kLogKnee * (u - held));
    }
  }
  xyz = vector_of(kWhiteD50).asDiagonal() * xyz;
  return lab_by_xyz(mix(p, light)) * xyz;
}

}  // namespace inkwane::target
