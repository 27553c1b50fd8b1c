// How linear RGB becomes colour: a tone correction per channel, then root-polynomial mixing.
//
//   t_c = exp(γ_c ln v_c + β_c ln² v_c)        v: linear RGB of the profile, t: "light"
//   XYZ / W = M φ(t) + o                       W: the D50 white
//
// φ has up to 13 terms of degree 1 in t: R, G, B; √(RG) − (R + G)/2 and its likes (degree 2);
// ∛(RG²) − (R + 2G)/3 and its likes, ∛(RGB) − (R + G + B)/3 (degree 3). Root polynomials:
// Finlayson, Mackiewicz, Hurlbert, IEEE Trans. Image Process. 24(5), 2015; written so that they
// vanish on grey.
#pragma once

#include <string>
#include <vector>

#include <Eigen/Core>

#include <inkwane/colour.hpp>

namespace inkwane::target {

inline constexpr int kTerms = 13;
/// γ (3), β (3), o (3), then the rows of M for X, Y and Z (13 each).
inline constexpr int kParameters = 9 + 3 * kTerms;
inline constexpr int kGamma = 0, kBeta = 3, kOffset = 6, kMixing = 9;

using Parameters = Eigen::Matrix<double, kParameters, 1>;
using Jacobian = Eigen::Matrix<double, 3, kParameters>;
using Terms = Eigen::Matrix<double, kTerms, 1>;

/// Light below this is held here: the roots' slopes run away at black.
inline constexpr double kLeastLight = 1e-6;
/// Below this v the tone goes on as a power law, so that β cannot turn it round in the darks, where
/// no patch lies (a printed black reads about 0.01).
inline constexpr double kToneKnee = 0.002;

/// The ladder of models, simplest first.
enum class Rung { linear, bent, root2, root3 };
inline constexpr int kRungs = 4;
[[nodiscard]] std::string to_string(Rung rung);
[[nodiscard]] int terms_of(Rung rung);
/// Indices into Parameters of what this rung may change.
[[nodiscard]] std::vector<int> free_parameters(Rung rung);

[[nodiscard]] double tone(const Parameters& p, int channel, double v);
/// ln v of light t: the inverse of the tone.
[[nodiscard]] double log_before_tone(const Parameters& p, int channel, double t);
/// True where every channel's tone rises everywhere.
[[nodiscard]] bool tone_rises(const Parameters& p);

[[nodiscard]] Terms terms(const Eigen::Vector3d& light);
[[nodiscard]] XyzD50 mix(const Parameters& p, const Eigen::Vector3d& light);
/// ∂ Lab / ∂ ln t.
[[nodiscard]] Eigen::Matrix3d lab_by_log_light(const Parameters& p, const Eigen::Vector3d& light);
/// ∂ Lab / ∂ parameters at light t, that is at the v which the tone turns into t.
[[nodiscard]] Jacobian lab_by_parameters(const Parameters& p, const Eigen::Vector3d& light);
/// The same where v is known.
[[nodiscard]] Jacobian lab_by_parameters(const Parameters& p, const Eigen::Vector3d& light,
                                         const Eigen::Vector3d& log_v);

}  // namespace inkwane::target
