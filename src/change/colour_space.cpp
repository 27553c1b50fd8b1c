#include "change/colour_space.hpp"

#include <bit>
#include <cstdint>

#include <Eigen/LU>

namespace inkwane::change {
namespace {

Eigen::Matrix3d make_sharpening() {
  Eigen::Matrix3d m;
  m << 0.8951, 0.2664, -0.1614,  // ICC.1:2022 Annex E, linear Bradford
      -0.7502, 1.7135, 0.0367,   //
      0.0389, -0.0685, 1.0296;
  const Eigen::Vector3d white = m * Eigen::Vector3d(kWhiteD50.X, kWhiteD50.Y, kWhiteD50.Z);
  return white.cwiseInverse().asDiagonal() * m;
}

/// Cube root of t > 0: the exponent divided by three, then two steps of Halley; 2e-7 relative.
inline float cube_root(float t) {
  const auto bits = static_cast<float>(std::bit_cast<std::int32_t>(t));
  float y = std::bit_cast<float>(static_cast<std::int32_t>(bits * (1.0F / 3.0F)) + 709921077);
  for (int step = 0; step < 2; ++step) {
    const float y3 = y * y * y;
    y *= (y3 + 2 * t) / (2 * y3 + t);
  }
  return y;
}

/// exp(−x), x ≥ 0: power of two times a polynomial; 2e-6 relative. Zero enough beyond 80.
inline float exp_minus(float x) {
  const float e = -(x < 80 ? x : 80.0F) * 1.44269504F;  // log2(e)
  const float whole = static_cast<float>(static_cast<std::int32_t>(e - 0.5F));
  const float z = (e - whole) * 0.693147181F;
  const float poly =
      1 + z * (1 + z * (0.5F + z * (1.0F / 6 + z * (1.0F / 24 + z * (1.0F / 120 + z / 720)))));
  return poly * std::bit_cast<float>((static_cast<std::int32_t>(whole) + 127) << 23);
}

// ISO/CIE 11664-4, as colour/lab.cpp.
constexpr float kLinearBelow = 216.0F / 24389.0F;
constexpr float kSlope = 841.0F / 108.0F;
inline float lab_f(float t) {
  const float root = cube_root(t > kLinearBelow ? t : kLinearBelow);
  return t > kLinearBelow ? root : kSlope * t + 4.0F / 29.0F;
}

/// x⁷ / (x⁷ + 25⁷)
inline float saturation(float chroma) {
  const float s = chroma / 25.0F;
  const float s2 = s * s;
  const float s7 = s2 * s2 * s2 * s;
  return s7 / (s7 + 1);
}

/// CIEDE2000 without angles: the hue difference and the mean hue from products of the (a′, b)
/// vectors. Equation numbers of Sharma, Wu, Dalal (2005).
inline float delta_e(float L1, float a1, float b1, float L2, float a2, float b2) {
  const float c_mean = 0.5F * (std::sqrt(a1 * a1 + b1 * b1) + std::sqrt(a2 * a2 + b2 * b2));
  const float g = 1.5F - 0.5F * std::sqrt(saturation(c_mean));  // 1 + G, (4)
  a1 *= g;
  a2 *= g;
  const float c1 = std::sqrt(a1 * a1 + b1 * b1), c2 = std::sqrt(a2 * a2 + b2 * b2);
  const float dot = a1 * a2 + b1 * b2, cross = a1 * b2 - a2 * b1, product = c1 * c2;
  // ΔH′ = 2 √(C1 C2) sin(Δh / 2) = cross / (√(C1 C2) cos(Δh / 2)); near opposite hues its own form.
  const float along = 0.5F * (product + dot);
  const float wide = std::sqrt(std::max(0.0F, 2 * (product - dot)));
  const float near = cross / std::sqrt(std::max(along, 1e-12F));
  const float dH = along > 0.05F * product ? near : std::copysign(wide, cross);  // (11)
  // Mean hue: the bisector of the two hue vectors; of a neutral and a colour, the colour's. (14)
  const float i1 = 1 / std::max(c1, 1e-6F), i2 = 1 / std::max(c2, 1e-6F);
  float u = a1 * i1 + a2 * i2, v = b1 * i1 + b2 * i2;
  const float length = std::sqrt(u * u + v * v);
  const float inverse = 1 / std::max(length, 1e-6F);
  const bool none = length < 1e-6F;
  u = none ? 1.0F : u * inverse;
  v = none ? 0.0F : v * inverse;

  // (15), by multiple angles of (u, v) = (cos h, sin h)
  const float u2 = u * u - v * v, v2 = 2 * u * v;
  const float u3 = u2 * u - v2 * v, v3 = v2 * u + u2 * v;
  const float u4 = u2 * u2 - v2 * v2, v4 = 2 * u2 * v2;
  const float t = 1 - 0.17F * (u * 0.866025404F + v * 0.5F) + 0.24F * u2 +
                  0.32F * (u3 * 0.994521895F - v3 * 0.104528463F) -
                  0.20F * (u4 * 0.453990500F + v4 * 0.891006524F);
  // (16): the angle from 275° squared, arccos² by its series in 1 − cos (A&S 4.4.40 squared form)
  const float w = 1 - (u * 0.0871557427F - v * 0.996194698F);
  const float turn2 =
      w *
      (2 + w * (1.0F / 3 + w * (4.0F / 45 + w * (1.0F / 35 + w * (0.0101587F + w * 0.0038480F)))));
  const float rotation = 1.04719755F * exp_minus(turn2 * 5.25257F);  // 2Δθ in radians; (180/25π)²
  const float r2 = rotation * rotation;
  const float sine = rotation * (1 - r2 * (1.0F / 6 - r2 * (1.0F / 120 - r2 / 5040)));

  const float mean_L = 0.5F * (L1 + L2) - 50, mean_C = 0.5F * (c1 + c2);
  const float l50 = mean_L * mean_L;
  const float sl = 1 + 0.015F * l50 / std::sqrt(20 + l50);     // (18)
  const float sc = 1 + 0.045F * mean_C;                        // (19)
  const float sh = 1 + 0.015F * mean_C * t;                    // (20)
  const float rt = -2 * sine * std::sqrt(saturation(mean_C));  // (17), (21)
  const float l = (L2 - L1) / sl, c = (c2 - c1) / sc, h = dH / sh;
  const float squared = l * l + c * c + h * h + rt * c * h;
  return std::sqrt(squared < 0 ? 0.0F : squared);  // (22); NaN stays NaN
}

}  // namespace

const Eigen::Matrix3d& sharpening() {
  static const Eigen::Matrix3d m = make_sharpening();
  return m;
}

const Eigen::Matrix3d& unsharpening() {
  static const Eigen::Matrix3d m = sharpening().inverse();
  return m;
}

void sharpen_row(const float* xyz, int n, Row3& sharp) {
  const Eigen::Matrix3f m = sharpening().cast<float>();
  float m_[9];
  for (int i = 0; i < 9; ++i) m_[i] = m(i / 3, i % 3);
  float *r = sharp[0], *g = sharp[1], *b = sharp[2];
  for (int i = 0; i < n; ++i) {
    const float X = xyz[3 * i], Y = xyz[3 * i + 1], Z = xyz[3 * i + 2];
    r[i] = m_[0] * X + m_[1] * Y + m_[2] * Z;
    g[i] = m_[3] * X + m_[4] * Y + m_[5] * Z;
    b[i] = m_[6] * X + m_[7] * Y + m_[8] * Z;
  }
}

void lab_row(const Row3& sharp, int n, Row3& lab) {
  const Eigen::Matrix3f m = unsharpening().cast<float>();
  const float x0 = m(0, 0) / static_cast<float>(kWhiteD50.X),
              x1 = m(0, 1) / static_cast<float>(kWhiteD50.X),
              x2 = m(0, 2) / static_cast<float>(kWhiteD50.X);
  const float y0 = m(1, 0), y1 = m(1, 1), y2 = m(1, 2);
  const float z0 = m(2, 0) / static_cast<float>(kWhiteD50.Z),
              z1 = m(2, 1) / static_cast<float>(kWhiteD50.Z),
              z2 = m(2, 2) / static_cast<float>(kWhiteD50.Z);
  const float *r = sharp[0], *g = sharp[1], *b = sharp[2];
  float *L = lab[0], *A = lab[1], *B = lab[2];
  for (int i = 0; i < n; ++i) {
    const float fx = lab_f(x0 * r[i] + x1 * g[i] + x2 * b[i]);
    const float fy = lab_f(y0 * r[i] + y1 * g[i] + y2 * b[i]);
    const float fz = lab_f(z0 * r[i] + z1 * g[i] + z2 * b[i]);
    L[i] = 116 * fy - 16;
    A[i] = 500 * (fx - fy);
    B[i] = 200 * (fy - fz);
  }
}

void delta_e_row(const Row3& one, const Row3& two, int n, float* out) {
  const float *L1 = one[0], *a1 = one[1], *b1 = one[2];
  const float *L2 = two[0], *a2 = two[1], *b2 = two[2];
  for (int i = 0; i < n; ++i) out[i] = delta_e(L1[i], a1[i], b1[i], L2[i], a2[i], b2[i]);
}

}  // namespace inkwane::change
