#include <algorithm>
#include <cmath>
#include <utility>

#include "target/fit.hpp"
#include "target/metric.hpp"
#include "target/mixing.hpp"

namespace inkwane::target {

ScanColour::ScanColour(colour::Linearisation linearisation)
    : linearisation_(std::move(linearisation)) {}

ScanColour ScanColour::uncalibrated(colour::Linearisation linearisation) {
  ScanColour result(std::move(linearisation));
  const bool none = result.linearisation_.description() == "none";
  result.model_ = none ? "sRGB assumed, no target" : "embedded profile, no target";
  result.parameters_.segment<3>(kGamma).setOnes();
  const Eigen::Vector3d white = vector_of(kWhiteD50);
  for (int k = 0; k < 3; ++k) {
    result.parameters_.segment<3>(kMixing + k * kTerms) =
        result.linearisation_.to_xyz().row(k).transpose() / white[k];
  }
  result.make_tables();
  return result;
}

ScanColour::ScanColour(colour::Linearisation linearisation, Rung rung, const Parameters& parameters,
                       Eigen::MatrixXd estimator, double misfit_scale)
    : linearisation_(std::move(linearisation)),
      calibrated_(true),
      model_(to_string(rung)),
      parameters_(parameters),
      terms_(terms_of(rung)),
      estimator_(std::move(estimator)),
      covariance_(misfit_scale * misfit_scale * estimator_ * estimator_.transpose()),
      misfit_scale_(misfit_scale) {
  make_tables();
}

void ScanColour::make_tables() {
  if (!linearisation_.by_channel()) return;
  for (int c = 0; c < 3; ++c) {
    const auto& linear = linearisation_.tables()[c];
    tables_[c].resize(linear.size());
    std::transform(linear.begin(), linear.end(), tables_[c].begin(), [&](float v) {
      return static_cast<float>(tone(parameters_, c, static_cast<double>(v)));
    });
  }
}

Eigen::Vector3d ScanColour::light_of(const Eigen::Vector3d& linear) const {
  Eigen::Vector3d t;
  for (int c = 0; c < 3; ++c) t[c] = tone(parameters_, c, linear[c]);
  return t;
}

void ScanColour::linearise(const cv::Mat& encoded, cv::Mat& light) const {
  CV_Assert(encoded.type() == CV_16UC3);
  light.create(encoded.size(), CV_32FC3);
  for (int y = 0; y < encoded.rows; ++y) {
    const auto* in = encoded.ptr<std::uint16_t>(y);
    auto* out = light.ptr<float>(y);
    const std::size_t values = std::size_t{3} * encoded.cols;
    if (linearisation_.by_channel()) {
      for (std::size_t i = 0; i < values; i += 3) {
        for (std::size_t c = 0; c < 3; ++c) out[i + c] = tables_[c][in[i + c]];
      }
    } else {
      linearisation_.apply({in, values}, {out, values});
      for (std::size_t i = 0; i < values; ++i) {
        out[i] = static_cast<float>(
            tone(parameters_, static_cast<int>(i % 3), static_cast<double>(out[i])));
      }
    }
  }
}

void ScanColour::to_xyz(const cv::Mat& light, cv::Mat& xyz) const {
  CV_Assert(light.type() == CV_32FC3);
  xyz.create(light.size(), CV_32FC3);
  const Mixing mixing(parameters_, terms_);
  cv::parallel_for_(cv::Range(0, light.rows), [&](const cv::Range& rows) {
    for (int y = rows.start; y < rows.end; ++y) {
      mixing.apply(light.ptr<float>(y), xyz.ptr<float>(y), static_cast<std::size_t>(light.cols));
    }
  });
}

LabD50 ScanColour::lab_of_encoded(const std::array<double, 3>& encoded) const {
  std::array<std::uint16_t, 3> codes{};
  for (int c = 0; c < 3; ++c) {
    codes[c] = static_cast<std::uint16_t>(std::lround(std::clamp(encoded[c], 0.0, 1.0) * 65535));
  }
  std::array<float, 3> linear{};
  linearisation_.apply(codes, linear);
  return to_lab(to_xyz(light_of(Eigen::Vector3f(linear[0], linear[1], linear[2]).cast<double>())));
}

std::vector<std::uint8_t> ScanColour::profile(const std::string& description) const {
  const auto cube_root = [this](int channel) {
    return [this, channel](double encoded) {
      if (!linearisation_.by_channel()) return encoded;
      const auto& table = tables_[channel];
      const double low = std::cbrt(table.front()), high = std::cbrt(table.back());
      const double t = table[static_cast<std::size_t>(std::lround(encoded * 65535))];
      return (std::cbrt(t) - low) / (high - low);
    };
  };
  return colour::build_scan_profile(
      description, [this](const std::array<double, 3>& e) { return lab_of_encoded(e); },
      {cube_root(0), cube_root(1), cube_root(2)});
}

Eigen::MatrixXd ScanColour::lab_jacobian(const Eigen::Vector3d& light) const {
  if (!calibrated_) return Eigen::MatrixXd(3, 0);
  return lab_by_parameters(parameters_, light);
}

Eigen::Matrix3d ScanColour::lab_by_log_light(const Eigen::Vector3d& light) const {
  return target::lab_by_log_light(parameters_, light);
}

}  // namespace inkwane::target
