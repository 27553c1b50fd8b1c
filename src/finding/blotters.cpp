#include "finding/blotters.hpp"

#include <algorithm>
#include <cmath>

#include <fmt/format.h>
#include <opencv2/imgproc.hpp>

#include <inkwane/error.hpp>

#include "change/colour_space.hpp"
#include "change/monte_carlo.hpp"
#include "colour/strength.hpp"
#include "finding/mixture.hpp"
#include "target/uncertainty.hpp"

namespace inkwane::finding {
namespace {

constexpr int kDraws = 1000;
constexpr std::uint64_t kSeed = 1931;
/// Standard deviation, a channel, of a dye's absorption in a blotter against that on the sheet.
/// Common practice, no source.
constexpr double kPaperToPaper = 0.08;
/// Stained: above the blank by this many of its standard deviations, and at least by this (K/S).
constexpr double kSure = 4, kLeastStain = 0.01;
/// Colours this alike (cos 7°) cannot be told apart in what was lifted.
constexpr double kToldApart = 0.9925;
/// Original ink was taken where its share is surely above the first, not where surely below the
/// second. Common practice, no source.
constexpr double kTook = 0.1, kTookNone = 0.25;

/// A colour that may have been lifted.
struct Known {
  std::string region, name;
  Role role = Role::ink;
  Eigen::Vector3d absorption;  ///< K/S of sharpened RGB, sum 1
};

Eigen::Vector3d ks3(const Eigen::Vector3d& sharp) {
  Eigen::Vector3d k;
  for (int c = 0; c < 3; ++c) k[c] = static_cast<double>(change::ks(static_cast<float>(sharp[c])));
  return k;
}

void add_known(Known known, const Eigen::Vector3d& above, std::vector<Known>& all) {
  known.absorption = above.cwiseMax(0);
  const double sum = known.absorption.sum();
  if (!(sum > 0.05)) return;
  known.absorption /= sum;
  all.push_back(std::move(known));
}

/// Named regions of one side, each above what lies under it at the first stage.
void add_regions(const SheetView& view, std::vector<Known>& all) {
  const auto& context = view.context();
  const Eigen::Vector3d paper = change::sharpening() * context.paper.stages.front().sheet.xyz;
  const auto mean = [&](std::size_t i) -> Eigen::Vector3d {
    return change::sharpening() * change::weighted_mean(view.layer(0).xyz, context.weights[i]);
  };
  for (std::size_t i = 0; i < view.input->regions.size(); ++i) {
    const Region& region = *view.input->regions[i].region;
    if (!context.usable[i].front() || (region.role != Role::ink && region.role != Role::added))
      continue;
    Eigen::Vector3d under = paper;
    if (region.role == Role::added && region.under != "paper") {
      const int ink = change::find_region(*view.input, region.under);
      if (ink < 0 || !context.usable[static_cast<std::size_t>(ink)].front()) continue;
      under = mean(static_cast<std::size_t>(ink));
    }
    add_known({region.id, region.name, region.role, {}}, ks3(mean(i)) - ks3(under), all);
  }
}

/// Inks that no region names, by their colour on the sheet.
void add_found(const SheetView& view, const std::vector<results::SheetInk>& inks,
               std::vector<Known>& all) {
  const Eigen::Vector3d paper =
      change::sharpening() * view.context().paper.stages.front().sheet.xyz;
  for (const results::SheetInk& ink : inks) {
    if (ink.side != view.input->side) continue;
    const XyzD50 xyz = to_xyz(ink.lab);
    add_known({"", ink.name, Role::ink, {}}, ks3(change::sharpened(xyz)) - ks3(paper), all);
  }
}

std::vector<Known> known_colours(const std::vector<SheetView>& sides,
                                 const std::vector<results::SheetInk>& inks) {
  std::vector<Known> all;
  for (const SheetView& view : sides) {
    if (view.measured()) add_regions(view, all);
  }
  const bool named = std::any_of(all.begin(), all.end(),
                                 [](const Known& known) { return known.role == Role::ink; });
  for (const SheetView& view : sides) {
    if (!named && view.measured()) add_found(view, inks, all);
  }
  // Of colours alike and of one role the first speaks for all.
  std::vector<Known> different;
  for (const Known& known : all) {
    const bool met = std::any_of(different.begin(), different.end(), [&](const Known& other) {
      return other.role == known.role &&
             other.absorption.normalized().dot(known.absorption.normalized()) > kToldApart;
    });
    if (!met) different.push_back(known);
  }
  return different;
}

struct Lifted {
  cv::Mat stained;                                     // CV_8UC1 of the grid
  Eigen::Vector3d light, xyz, blank_light, blank_xyz;  // means
  Eigen::Vector3d above = Eigen::Vector3d::Zero();     // mean K/S above the blank
  double stained_mm2 = 0, area_mm2 = 0, absorption_mm2 = 0, u_blank = 0;
  double least = 0;  // K/S above the blank from which a place counts as stained
};

Eigen::Vector3d mean_of(const cv::Mat& picture, const cv::Mat& inside) {
  const cv::Scalar mean = cv::mean(picture, inside);
  return {mean[0], mean[1], mean[2]};
}

class Measurement {
 public:
  Measurement(const BlotterView& blotter, const std::filesystem::path& file)
      : blotter_(blotter), file_(file) {}

  [[nodiscard]] Lifted lifted() const {
    Lifted out;
    const cv::Mat blank = inside(blotter_.record->blank, "blank") & blotter_.usable;
    cv::Mat area = blotter_.record->polygon.empty() ? blotter_.usable.clone()
                                                    : inside(blotter_.record->polygon, "polygon");
    area &= blotter_.usable;
    area.setTo(0, blank);
    if (cv::countNonZero(blank) < 100) fail("blank", "is too small to be measured; draw it larger");
    if (cv::countNonZero(area) < 100) fail("polygon", "leaves nothing to measure; draw it larger");
    out.blank_xyz = mean_of(blotter_.xyz, blank);
    out.blank_light = mean_of(blotter_.light, blank);
    const cv::Mat above = above_blank(out.blank_xyz);
    cv::Scalar mean, deviation;
    cv::meanStdDev(above, mean, deviation, blank);
    out.u_blank = uneven(above, blank);
    cv::Mat smooth;
    cv::GaussianBlur(above, smooth, {}, 2);
    out.least = std::max(kLeastStain, kSure * deviation[0] / 2);
    out.stained = area & (smooth > out.least);
    const double cell = blotter_.geometry.cell_mm2();
    out.stained_mm2 = cv::countNonZero(out.stained) * cell;
    out.area_mm2 = cv::countNonZero(area) * cell;
    out.absorption_mm2 = cv::mean(above, area)[0] * out.area_mm2;
    const bool any = cv::countNonZero(out.stained) > 0;
    out.xyz = any ? mean_of(blotter_.xyz, out.stained) : out.blank_xyz;
    out.light = any ? mean_of(blotter_.light, out.stained) : out.blank_light;
    out.above = ks3(change::sharpening() * out.xyz) - ks3(change::sharpening() * out.blank_xyz);
    return out;
  }

 private:
  const BlotterView& blotter_;
  const std::filesystem::path& file_;

  [[noreturn]] void fail(const char* key, const std::string& what) const {
    throw Error(ExitCode::usage, fmt::format("{}: [[blotter]] \"{}\": {} {}.", file_.string(),
                                             blotter_.record->id, key, what));
  }

  [[nodiscard]] cv::Mat inside(const std::vector<Point>& polygon, const char* key) const {
    std::vector<cv::Point> corners;
    for (const Point& px : polygon) {
      const Point cell = blotter_.geometry.to_cell(px);
      if (cell.x < -1 || cell.y < -1 || cell.x > blotter_.geometry.columns ||
          cell.y > blotter_.geometry.rows)
        fail(key, "leaves the scan; points are pixels of the blotter's own scan");
      corners.emplace_back(cvRound(cell.x), cvRound(cell.y));
    }
    cv::Mat mask(blotter_.geometry.size(), CV_8UC1, cv::Scalar(0));
    cv::fillPoly(mask, std::vector<std::vector<cv::Point>>{corners}, cv::Scalar(255));
    return mask;
  }

  /// Mean over the channels of K/S above the blank; 0 where not measured.
  [[nodiscard]] cv::Mat above_blank(const Eigen::Vector3d& blank_xyz) const {
    const Eigen::Vector3d blank = ks3(change::sharpening() * blank_xyz);
    const Eigen::Matrix3f m = change::sharpening().cast<float>();
    cv::Mat above(blotter_.xyz.size(), CV_32FC1, cv::Scalar(0));
    for (int y = 0; y < above.rows; ++y) {
      for (int x = 0; x < above.cols; ++x) {
        const auto& v = blotter_.xyz.at<cv::Vec3f>(y, x);
        if (blotter_.usable.at<uchar>(y, x) == 0) continue;
        const Eigen::Vector3f s = m * Eigen::Vector3f(v[0], v[1], v[2]);
        const float sum = change::ks(s[0]) + change::ks(s[1]) + change::ks(s[2]);
        above.at<float>(y, x) = (sum - static_cast<float>(blank.sum())) / 3;
      }
    }
    return above;
  }

  /// Standard deviation of the blank from place to place (2 mm), which the rest of the blotter has
  /// as well.
  [[nodiscard]] double uneven(const cv::Mat& above, const cv::Mat& blank) const {
    const int tile = std::max(2, static_cast<int>(2 / blotter_.geometry.pitch_mm));
    std::vector<double> means;
    for (int y = 0; y + tile <= above.rows; y += tile) {
      for (int x = 0; x + tile <= above.cols; x += tile) {
        const cv::Rect at(x, y, tile, tile);
        if (2 * cv::countNonZero(blank(at)) < tile * tile) continue;
        means.push_back(cv::mean(above(at), blank(at))[0]);
      }
    }
    if (means.size() < 3) return 0.002;
    cv::Scalar mean, deviation;
    cv::meanStdDev(means, mean, deviation);
    return deviation[0] / std::sqrt(static_cast<double>(means.size()));
  }
};

/// CIEDE2000 from the blank of the faintest grey stain that counts.
double least_seen(const Lifted& lifted) {
  Eigen::Vector3d stained = change::sharpening() * lifted.blank_xyz;
  for (double& r : stained)
    r = colour::reflectance_from_ks(colour::ks_from_reflectance(r) + lifted.least);
  const Eigen::Vector3d xyz = change::unsharpening() * stained;
  return ciede2000(to_lab({xyz[0], xyz[1], xyz[2]}),
                   to_lab({lifted.blank_xyz[0], lifted.blank_xyz[1], lifted.blank_xyz[2]}));
}

std::array<double, 2> interval_of(std::vector<double> draws) {
  std::sort(draws.begin(), draws.end());
  const auto at = [&](double q) {
    return draws[static_cast<std::size_t>(q * static_cast<double>(draws.size() - 1))];
  };
  return {at(0.025), at(0.975)};
}

std::string percent(const results::Interval& ci) {
  return fmt::format("{:.0f} to {:.0f} %", 100 * (*ci)[0], 100 * (*ci)[1]);
}

/// Shares of what was lifted, and of the absorption's size, under every draw of the errors; the
/// first draw is without any, and is the value, of as few colours as explain it: a mean of
/// non-negative shares favours the absent.
struct Drawn {
  std::vector<std::vector<double>> shares;  // [known][draw]
  std::vector<double> inks, absorption;
};

Drawn draw(const BlotterView& blotter, const Lifted& lifted, const std::vector<Known>& known) {
  const std::vector<const target::Fit*> fits{blotter.fit};
  const std::vector<target::ColourAt> colours{{0, lifted.light}, {0, lifted.blank_light}};
  const Eigen::MatrixXd covariance = target::joint_covariance(fits, colours);
  const int extra = 3 * static_cast<int>(known.size()) + 1;
  Eigen::MatrixXd normals = change::standard_normals(kDraws, 6 + extra, kSeed);
  normals.row(0).setZero();
  const Eigen::MatrixXd errors = change::correlated(covariance, normals.leftCols(6));
  const auto moved = [](const Eigen::Vector3d& xyz, const Eigen::Vector3d& error) {
    const LabD50 lab = to_lab({xyz[0], xyz[1], xyz[2]});
    return ks3(change::sharpened(to_xyz({lab.L + error[0], lab.a + error[1], lab.b + error[2]})));
  };
  Drawn drawn;
  drawn.shares.resize(known.size());
  const double size = lifted.above.sum();
  for (int d = 0; d < kDraws; ++d) {
    const Eigen::Vector3d above = moved(lifted.xyz, errors.row(d).segment<3>(0)) -
                                  moved(lifted.blank_xyz, errors.row(d).segment<3>(3));
    const double stain = lifted.absorption_mm2 * (size > 1e-6 ? above.sum() / size : 1);
    drawn.absorption.push_back(stain + normals(d, 6) * lifted.u_blank * lifted.area_mm2);
    std::vector<Eigen::Vector3d> directions;
    for (std::size_t k = 0; k < known.size(); ++k) {
      Eigen::Vector3d direction = known[k].absorption;
      for (int c = 0; c < 3; ++c)
        direction[c] *= std::exp(kPaperToPaper * normals(d, 7 + 3 * static_cast<int>(k) + c));
      directions.push_back(direction / direction.sum());
    }
    // A thin stain's absorption turns against that of the dark colour it came from, as broad bands
    // see it: by itself that is no second colour. The interval allows for one.
    const std::vector<double> weights =
        mixture(directions, above.cwiseMax(0), d == 0 ? 1 - kToldApart * kToldApart : kNearer);
    double inks = 0;
    for (std::size_t k = 0; k < known.size(); ++k) {
      const double share =
          std::clamp(weights[k] / std::max(1e-9, above.cwiseMax(0).sum()), 0.0, 1.0);
      drawn.shares[k].push_back(share);
      if (known[k].role == Role::ink) inks += share;
    }
    drawn.inks.push_back(std::min(1.0, inks));
  }
  return drawn;
}

void judge(const std::vector<Known>& known, const Drawn& drawn, results::Blotter& out) {
  double explained = 0;
  for (std::size_t k = 0; k < known.size(); ++k) {
    const double share = drawn.shares[k].front();
    explained += share;
    if (share < 0.02) continue;
    const auto [low, high] = interval_of(drawn.shares[k]);
    out.matches.push_back({known[k].region,
                           known[k].name,
                           known[k].role,
                           share,
                           {{std::min(low, share), std::max(high, share)}}});
  }
  std::stable_sort(out.matches.begin(), out.matches.end(),
                   [](const auto& a, const auto& b) { return a.share > b.share; });
  out.unexplained = std::max(0.0, 1 - explained);
  const bool any_ink =
      std::any_of(known.begin(), known.end(), [](const Known& k) { return k.role == Role::ink; });
  const auto inks = interval_of(drawn.inks);
  if (any_ink && inks[0] > kTook) out.took_original = true;
  if (any_ink && inks[1] < kTookNone) out.took_original = false;
  if (out.matches.empty()) {
    out.sentence = "What it lifted is like no colour of the sheet.";
    return;
  }
  const results::BlotterMatch& most = out.matches.front();
  out.sentence = fmt::format("What it lifted is most like the {} \"{}\" ({} of it). ",
                             most.role == Role::added ? "added colour" : "ink", most.name,
                             percent(most.share_ci95));
  if (!out.took_original) {
    out.sentence += "Whether it took original ink as well cannot be told from its colour.";
  } else if (*out.took_original) {
    out.sentence += fmt::format("It took original ink: {} of what it lifted.", percent(inks));
  } else {
    out.sentence += fmt::format("Original ink makes up {} of it at most.",
                                fmt::format("{:.0f} %", 100 * inks[1]));
  }
}

}  // namespace

results::Blotter measure_blotter(const BlotterView& blotter, const std::vector<SheetView>& sides,
                                 const std::vector<results::SheetInk>& inks,
                                 const std::filesystem::path& treatment_file) {
  results::Blotter out;
  out.id = blotter.record->id;
  out.stage = blotter.record->stage;
  out.file = blotter.file;
  out.sha256 = blotter.sha256;
  out.warnings = blotter.warnings;
  const Lifted lifted = Measurement(blotter, treatment_file).lifted();
  out.lab = to_lab({lifted.xyz[0], lifted.xyz[1], lifted.xyz[2]});
  out.blank_lab = to_lab({lifted.blank_xyz[0], lifted.blank_xyz[1], lifted.blank_xyz[2]});
  out.stained_mm2 = lifted.stained_mm2;
  out.absorption_mm2 = lifted.absorption_mm2;
  const std::vector<Known> known = known_colours(sides, inks);
  const Drawn drawn = draw(blotter, lifted, known);
  out.absorption_mm2_ci95 = interval_of(drawn.absorption);
  if (lifted.stained_mm2 == 0) {
    out.sentence = fmt::format(
        "It lifted nothing that can be told from its unused part; a grey stain of CIEDE2000 {:.1f} "
        "would have been seen.",
        least_seen(lifted));
    return out;
  }
  if (known.empty()) {
    out.warnings.emplace_back(
        "No region of role ink or added is named, so what was lifted could not be compared.");
    out.sentence = "It lifted colour; there is none to compare it with.";
    return out;
  }
  judge(known, drawn, out);
  return out;
}

}  // namespace inkwane::finding
