#include "tests/change/painted_sheet.hpp"

#include <algorithm>
#include <cmath>
#include <random>
#include <stdexcept>

#include <Eigen/Dense>
#include <opencv2/imgproc.hpp>

namespace inkwane::test {
namespace {

constexpr int kBands = 61;  // 400 to 700 nm
using Spectrum = Eigen::Array<double, kBands, 1>;

constexpr double kCellMm = 0.1;
constexpr int kFine = 2;  // painted on a lattice of 0.05 mm
constexpr double kApertureSigmaMm = 0.5 / 2.354820045;
constexpr double kShineMm = 0.5;  // of light through the paper

Spectrum wavelengths() {
  return Spectrum::LinSpaced(kBands, 400, 700);
}

Spectrum bell(double centre, double left, double right) {
  const Spectrum l = wavelengths();
  return (l < centre)
      .select((-0.5 * ((l - centre) / left).square()).exp(),
              (-0.5 * ((l - centre) / right).square()).exp());
}

/// Rows X, Y, Z: colour matching functions of the 2° observer in the analytic form of Wyman, Sloan
/// and Shirley (J. Comput. Graph. Tech. 2(2), 2013; coefficients from memory) times a black body of
/// 5,000 K, scaled so that the white is the profile connection space's.
Eigen::Matrix<double, 3, kBands> observer() {
  Eigen::Matrix<double, 3, kBands> m;
  const Spectrum l = wavelengths();
  const Spectrum lamp = (l / 560).pow(-5) / ((1.4388e7 / (l * 5000)).exp() - 1);
  m.row(0) = ((1.056 * bell(599.8, 37.9, 31.0) + 0.362 * bell(442.0, 16.0, 26.7) -
               0.065 * bell(501.1, 20.4, 26.2)) *
              lamp)
                 .matrix()
                 .transpose();
  m.row(1) = ((0.821 * bell(568.8, 46.9, 40.5) + 0.286 * bell(530.9, 16.3, 31.1)) * lamp)
                 .matrix()
                 .transpose();
  m.row(2) = ((1.217 * bell(437.0, 11.8, 36.0) + 0.681 * bell(459.0, 26.0, 13.8)) * lamp)
                 .matrix()
                 .transpose();
  const std::array<double, 3> white{kWhiteD50.X, kWhiteD50.Y, kWhiteD50.Z};
  for (int i = 0; i < 3; ++i) m.row(i) *= white[static_cast<std::size_t>(i)] / m.row(i).sum();
  return m;
}

/// Absorption of an ink, 1 at about its peak. Invented, after the bands such inks have.
Spectrum ink_spectrum(const std::string& ink) {
  const Spectrum l = wavelengths();
  auto below = [&](double edge, double width) -> Spectrum {
    return 1 / (1 + ((l - edge) / width).exp());
  };
  if (ink == "cyan") return bell(640, 55, 55) + 0.15 * bell(420, 60, 60) + 0.10;
  if (ink == "magenta") return bell(540, 38, 38) + 0.28 * bell(430, 50, 50) + 0.02;
  if (ink == "yellow") return below(485, 14) + 0.01;
  if (ink == "red") return below(575, 14) + 0.02;
  if (ink == "blue") return bell(600, 50, 50) + 0.4 * bell(520, 40, 40) + 0.05;
  if (ink == "black") return Spectrum::Ones();
  if (ink == "brown") return (-(l - 400) / 110).exp();
  throw std::invalid_argument("no such ink: " + ink);
}

Spectrum ks(const Spectrum& r) {
  return (1 - r).square() / (2 * r);
}
Spectrum reflectance(const Spectrum& q) {
  return 1 / (1 + q + (q.square() + 2 * q).sqrt());
}

Spectrum paper_spectrum(double toning) {
  const Spectrum r = 0.86 - 0.25 * (-(wavelengths() - 400) / 60).exp();
  return reflectance(ks(r) * (1 + toning));
}

Spectrum inked(const Spectrum& paper, const std::map<std::string, double>& amounts, InkLaw law) {
  Spectrum absorption = Spectrum::Zero();
  for (const auto& [ink, amount] : amounts) absorption += amount * ink_spectrum(ink);
  if (law == InkLaw::kubelka_munk) return reflectance(ks(paper) + absorption);
  return paper * (-absorption).exp();
}

/// Linear RGB of the invented scanner: sRGB's primaries, crossed a little.
Eigen::Matrix3d scanner() {
  const Eigen::Matrix3d rgb = colour::Linearisation::from_profile({}, "test").to_xyz().inverse();
  Eigen::Matrix3d cross;
  cross << 0.90, 0.08, 0.02, 0.05, 0.90, 0.05, 0.01, 0.07, 0.92;
  return cross * rgb;
}

target::Fit fit_of(const SheetPlan& plan, std::size_t stage) {
  const auto linearisation = colour::Linearisation::from_profile({}, "test");
  if (!plan.calibrated) return target::Fit(target::ScanColour::uncalibrated(linearisation));
  target::Reference reference{4, 6, {}};
  std::vector<target::PatchReading> readings;
  std::mt19937_64 bits(plan.seed * 977 + stage);
  std::normal_distribution<double> normal(0, plan.reading_noise);
  for (int i = 0; i < 24; ++i) {
    const double turn = 2 * 3.14159265358979 * i / 9.0;
    const double chroma = i < 9 ? 50 : 28;
    const LabD50 lab = i < 18
                           ? LabD50{i < 9 ? 55.0 + 18 * std::sin(turn) : 40.0 + 15 * std::cos(turn),
                                    chroma * std::cos(turn), chroma * std::sin(turn)}
                           : LabD50{95.0 - 15 * (i - 18), 0, 0.5};
    reference.patches.push_back(
        {std::string(1, static_cast<char>('A' + i / 6)) + std::to_string(i % 6 + 1), lab});
    const XyzD50 xyz = to_xyz(lab);
    Eigen::Vector3d light = scanner() * Eigen::Vector3d(xyz.X, xyz.Y, xyz.Z);
    for (int c = 0; c < 3; ++c) light[c] += normal(bits);
    readings.push_back({light, Eigen::Vector3d::Constant(plan.reading_noise),
                        Eigen::Vector3d::Constant(0.004), 0});
  }
  return target::fit_target(reference, readings, linearisation, "test");
}

cv::Rect2d mirrored(const cv::Rect2d& mm, double width) {
  return {width - mm.x - mm.width, mm.y, mm.width, mm.height};
}

}  // namespace

PaintedSheet::PaintedSheet(const SheetPlan& plan) : plan_(plan) {
  for (std::size_t s = 0; s < plan.stages.size(); ++s) fits_.push_back(fit_of(plan, s));
  recto = side_of(Side::recto);
  verso = side_of(Side::verso);
}

change::SideInput PaintedSheet::side_of(Side side) const {
  change::SideInput input;
  input.side = side;
  input.geometry = {kCellMm,
                    1,
                    {0, 0},
                    static_cast<int>(std::lround(plan_.size_mm.width / kCellMm)),
                    static_cast<int>(std::lround(plan_.size_mm.height / kCellMm))};
  input.sheet = cv::Mat(input.geometry.size(), CV_8UC1, cv::Scalar(255));
  for (std::size_t s = 0; s < plan_.stages.size(); ++s) input.layers.push_back(layer(side, s));
  return input;
}

change::Layer PaintedSheet::layer(Side side, std::size_t stage) const {
  const StageState& state = plan_.stages[stage];
  const cv::Size fine(static_cast<int>(std::lround(plan_.size_mm.width / kCellMm)) * kFine,
                      static_cast<int>(std::lround(plan_.size_mm.height / kCellMm)) * kFine);
  // Which paints lie at each point: one bit each.
  std::vector<Paint> paints = side == Side::recto ? plan_.recto : plan_.verso;
  std::vector<bool> fresh(paints.size(), false);
  if (side == Side::verso) {
    for (const Paint& p : state.stains) paints.push_back(p), fresh.push_back(true);
    for (const Paint& p : plan_.recto) {
      const auto through = state.through.find(p.ink);
      if (through == state.through.end()) continue;
      paints.push_back({mirrored(p.mm, plan_.size_mm.width), p.ink, p.strength * through->second});
      fresh.push_back(true);
    }
  }
  cv::Mat which(fine, CV_32SC1, cv::Scalar(0));
  auto fill = [&](const cv::Rect2d& mm, int bit, const cv::Point2d& shift) {
    const double per_mm = kFine / kCellMm;
    const cv::Rect area(
        cv::Point(static_cast<int>(std::lround((mm.x + shift.x) * per_mm)),
                  static_cast<int>(std::lround((mm.y + shift.y) * per_mm))),
        cv::Point(static_cast<int>(std::lround((mm.x + mm.width + shift.x) * per_mm)),
                  static_cast<int>(std::lround((mm.y + mm.height + shift.y) * per_mm))));
    cv::Mat window = which(area & cv::Rect({0, 0}, fine));
    window += cv::Scalar(bit);
  };
  for (std::size_t i = 0; i < paints.size(); ++i) fill(paints[i].mm, 1 << i, state.shift_mm);

  const Spectrum paper = paper_spectrum(state.toning);
  std::map<int, cv::Vec3f> light_of;
  const auto cmf = observer();
  auto light_at = [&](int bits) {
    auto found = light_of.find(bits);
    if (found != light_of.end()) return found->second;
    std::map<std::string, double> amounts;
    for (std::size_t i = 0; i < paints.size(); ++i) {
      if ((bits >> i & 1) == 0) continue;
      const auto kept = state.kept.find(paints[i].ink);
      amounts[paints[i].ink] +=
          paints[i].strength * (fresh[i] || kept == state.kept.end() ? 1.0 : kept->second);
    }
    const Eigen::Vector3d light = scanner() * (cmf * inked(paper, amounts, plan_.law).matrix());
    const cv::Vec3f value(static_cast<float>(light[0]), static_cast<float>(light[1]),
                          static_cast<float>(light[2]));
    light_of[bits] = value;
    return value;
  };
  cv::Mat light(fine, CV_32FC3);
  for (int y = 0; y < fine.height; ++y) {
    for (int x = 0; x < fine.width; ++x) light.at<cv::Vec3f>(y, x) = light_at(which.at<int>(y, x));
  }

  // The other side's print takes light away, mirrored and blurred.
  const std::vector<Paint>& far = side == Side::recto ? plan_.verso : plan_.recto;
  if (plan_.show_through > 0 && !far.empty()) {
    cv::Mat covered(fine, CV_32FC3, cv::Scalar::all(0));
    for (const Paint& p : far) {
      const auto kept = state.kept.find(p.ink);
      const Spectrum r = inked(
          paper, {{p.ink, p.strength * (kept == state.kept.end() ? 1 : kept->second)}}, plan_.law);
      const Eigen::Vector3d ratio =
          (scanner() * (cmf * r.matrix())).cwiseQuotient(scanner() * (cmf * paper.matrix()));
      const cv::Rect2d mm = mirrored(p.mm, plan_.size_mm.width);
      const double per_mm = kFine / kCellMm;
      cv::Mat window = covered(
          cv::Rect(static_cast<int>(mm.x * per_mm), static_cast<int>(mm.y * per_mm),
                   static_cast<int>(mm.width * per_mm), static_cast<int>(mm.height * per_mm)) &
          cv::Rect({0, 0}, fine));
      window = cv::max(window, cv::Mat(window.size(), CV_32FC3,
                                       cv::Scalar(1 - ratio[0], 1 - ratio[1], 1 - ratio[2])));
    }
    cv::GaussianBlur(covered, covered, {}, kShineMm * kFine / kCellMm);
    light = light.mul(cv::Scalar::all(1) - plan_.show_through * covered);
  }

  // Texture of the paper is the same at every stage; noise is not.
  cv::RNG texture_bits(plan_.seed * 7919 + (side == Side::recto ? 1 : 2));
  cv::RNG noise_bits(plan_.seed * 104729 + stage * 13 + (side == Side::recto ? 1 : 2));
  cv::Mat texture(fine, CV_32FC1), noise(fine, CV_32FC3);
  texture_bits.fill(texture, cv::RNG::NORMAL, 0, 1);
  const double sigma = 0.3 * kFine / kCellMm;
  cv::GaussianBlur(texture, texture, {}, sigma);
  texture = texture * (plan_.texture * 2 * std::sqrt(3.14159265358979) * sigma) + 1;
  std::vector<cv::Mat> same{texture, texture, texture};
  cv::Mat texture3;
  cv::merge(same, texture3);
  // Noise of a pixel of 0.085 mm, spread over the finer lattice.
  noise_bits.fill(noise, cv::RNG::NORMAL, 0, plan_.noise * 0.0847 / (kCellMm / kFine));
  light = light.mul(texture3) + noise;
  cv::GaussianBlur(light, light, {}, kApertureSigmaMm * kFine / kCellMm, 0, cv::BORDER_REPLICATE);

  change::Layer layer;
  layer.stage = state.name;
  layer.light = cv::Mat(fine.height / kFine, fine.width / kFine, CV_32FC3);
  // A cell's centre lies between the fine points of its own square.
  cv::resize(light, layer.light, layer.light.size(), 0, 0, cv::INTER_AREA);
  layer.fit = &*std::next(fits_.begin(), static_cast<std::ptrdiff_t>(stage));
  layer.fit->colour.to_xyz(layer.light, layer.xyz);
  layer.valid = cv::Mat(layer.light.size(), CV_8UC1, cv::Scalar(255));
  layer.misfit_mm =
      cv::Mat(layer.light.size(), CV_32FC1, cv::Scalar(stage == 0 ? 0 : plan_.misfit_mm));
  return layer;
}

void PaintedSheet::add_region(Side side, const std::string& id, Role role, const cv::Rect2d& mm,
                              const std::string& under) {
  change::SideInput& input = side == Side::recto ? recto : verso;
  Region record;
  record.id = record.name = id;
  record.side = side;
  record.role = role;
  record.under = under;
  // Millimetres from the sheet's edge; the first cell's centre is pixel 0.
  auto px = [&](double v) { return v / kCellMm - 0.5; };
  const double right = mm.x + mm.width, bottom = mm.y + mm.height;
  record.polygon = {
      {px(mm.x), px(mm.y)}, {px(right), px(mm.y)}, {px(right), px(bottom)}, {px(mm.x), px(bottom)}};
  records_.push_back(record);
  region::Mask mask;
  mask.region = &records_.back();
  mask.bounds = cv::Rect(cv::Point(static_cast<int>(std::floor(px(mm.x))),
                                   static_cast<int>(std::floor(px(mm.y)))),
                         cv::Point(static_cast<int>(std::ceil(px(right))) + 1,
                                   static_cast<int>(std::ceil(px(bottom))) + 1)) &
                cv::Rect({0, 0}, input.geometry.size());
  mask.inside = cv::Mat(mask.bounds.size(), CV_8UC1, cv::Scalar(0));
  for (int y = 0; y < mask.bounds.height; ++y) {
    for (int x = 0; x < mask.bounds.width; ++x) {
      const double cx = mask.bounds.x + x, cy = mask.bounds.y + y;
      if (cx >= px(mm.x) && cx <= px(right) && cy >= px(mm.y) && cy <= px(bottom))
        mask.inside.at<uchar>(y, x) = 255;
    }
  }
  mask.area_mm2 = mm.area();
  input.regions.push_back(mask);
}

change::OtherSide PaintedSheet::behind_verso() const {
  change::OtherSide other;
  other.input = &recto;
  other.pairing_mm = 0.1;
  other.to_other.create(verso.geometry.size(), CV_32FC2);
  for (int y = 0; y < other.to_other.rows; ++y) {
    for (int x = 0; x < other.to_other.cols; ++x)
      other.to_other.at<cv::Vec2f>(y, x) = {static_cast<float>(other.to_other.cols - 1 - x),
                                            static_cast<float>(y)};
  }
  return other;
}

LabD50 PaintedSheet::true_lab(const std::vector<Paint>& layers, std::size_t stage) const {
  const StageState& state = plan_.stages[stage];
  std::map<std::string, double> amounts;
  for (const Paint& p : layers) {
    const auto kept = state.kept.find(p.ink);
    amounts[p.ink] += p.strength * (kept == state.kept.end() ? 1 : kept->second);
  }
  const Eigen::Vector3d xyz =
      observer() * inked(paper_spectrum(state.toning), amounts, plan_.law).matrix();
  return to_lab({xyz[0], xyz[1], xyz[2]});
}

const results::RegionChange& change_of(const change::SideOutput& output, const std::string& id,
                                       std::size_t index) {
  for (const results::Region& region : output.regions) {
    if (region.id == id) return region.changes.at(index);
  }
  throw std::invalid_argument("no such region: " + id);
}

const cv::Mat& map_of(const change::SideOutput& output, const std::string& kind,
                      const std::string& to) {
  for (const change::MapLayer& map : output.maps) {
    if (map.kind == kind && map.to == to) return map.value;
  }
  throw std::invalid_argument("no such map: " + kind);
}

}  // namespace inkwane::test
