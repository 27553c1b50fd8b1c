#include "change/colour_space.hpp"

#include <Eigen/LU>

#include "colour/planes.hpp"

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
  static const auto to_xyz = [] {
    std::array<float, 9> m{};
    for (int i = 0; i < 9; ++i)
      m[static_cast<std::size_t>(i)] = static_cast<float>(unsharpening()(i / 3, i % 3));
    return m;
  }();
  colour::to_lab_planes(to_xyz, {sharp[0], sharp[1], sharp[2]}, static_cast<std::size_t>(n),
                        {lab[0], lab[1], lab[2]});
}

void delta_e_row(const Row3& one, const Row3& two, int n, float* out) {
  colour::ciede2000_planes({one[0], one[1], one[2]}, {two[0], two[1], two[2]},
                           static_cast<std::size_t>(n), out);
}

}  // namespace inkwane::change
