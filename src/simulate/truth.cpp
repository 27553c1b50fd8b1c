#include "simulate/truth.hpp"

#include <algorithm>
#include <cmath>
#include <limits>
#include <memory>

#include <opencv2/imgproc.hpp>

#include "simulate/sheet.hpp"

namespace inkwane::simulate {
namespace {

constexpr double kApertureMm = 0.5;                       // full width at half maximum
constexpr double kSigmaOfWidth = 1 / 2.3548200450309493;  // of a Gaussian: 1 / (2 √(2 ln 2))
constexpr double kAmountMm = 0.2;                         // lattice of ink amounts
constexpr float kLeastInk = 0.1F;  // of a solid, after averaging: less is no ink
constexpr float kNone = std::numeric_limits<float>::quiet_NaN();

cv::Mat averaged(const cv::Mat& picture, double pitch_mm) {
  cv::Mat result;
  const double sigma = kApertureMm * kSigmaOfWidth / pitch_mm;
  cv::GaussianBlur(picture, result, {}, sigma, sigma, cv::BORDER_REPLICATE);
  return result;
}

Lab lab_of(const cv::Vec3f& xyz) {
  return xyz_to_lab(
      {static_cast<double>(xyz[0]), static_cast<double>(xyz[1]), static_cast<double>(xyz[2])});
}

/// CIEDE2000 of two XYZ pictures, NaN where either is.
cv::Mat difference(const cv::Mat& one, const cv::Mat& two) {
  cv::Mat result(one.size(), CV_32FC1);
  cv::parallel_for_({0, one.rows}, [&](const cv::Range& rows) {
    for (int j = rows.start; j < rows.end; ++j) {
      for (int i = 0; i < one.cols; ++i) {
        const auto& a = one.at<cv::Vec3f>(j, i);
        const auto& b = two.at<cv::Vec3f>(j, i);
        float& out = result.at<float>(j, i);
        if (std::isnan(a[0]) || std::isnan(b[0])) {
          out = kNone;
        } else {
          out = a == b ? 0.0F : static_cast<float>(ciede2000(lab_of(a), lab_of(b)));
        }
      }
    }
  });
  return result;
}

/// Visits the cells of a polygon with the share of each that lies in it.
template <typename Visit>
void over_polygon(const Polygon& outline, const Window& window, const Visit& visit) {
  const Shape shape(outline);
  const cv::Rect part = shape.bounds(window);
  if (part.empty()) return;
  const cv::Mat coverage = shape.coverage(window, part);
  for (int j = 0; j < part.height; ++j) {
    for (int i = 0; i < part.width; ++i) {
      const std::uint8_t share = coverage.at<std::uint8_t>(j, i);
      if (share != 0) visit(part.y + j, part.x + i, share / 255.0);
    }
  }
}

double kept_at(const Scene& scene, const std::string& ink, const std::string& stage) {
  const auto fate = scene.fates.find(ink);
  return fate == scene.fates.end() ? 1 : at_stage(fate->second.kept, stage, 1);
}

/// Weight of an ink against others.
double weight_of(const Scene& scene, const std::string& ink) {
  return mean_strength(strength(scene.law, scene.inks.at(ink)));
}

}  // namespace

TruthOfSide::TruthOfSide(const Scene& scene, const std::string& side, const Placement& first)
    : scene_(scene),
      side_(side),
      first_(std::make_shared<const Placement>(first)),
      amounts_(Print(scene, side).amounts(sheet_window(scene, kAmountMm))) {
  const double pitch_px = Truth().truth_pitch_mm * scene.scanner.dpi / 25.4;
  const cv::Size scan = first.scan_size();
  places_.create(static_cast<int>((scan.height - 1) / pitch_px) + 1,
                 static_cast<int>((scan.width - 1) / pitch_px) + 1, CV_32FC2);
  cv::parallel_for_({0, places_.rows}, [&](const cv::Range& rows) {
    for (int j = rows.start; j < rows.end; ++j) {
      for (int i = 0; i < places_.cols; ++i) {
        places_.at<cv::Point2f>(j, i) = first_->from_pixel(cv::Point2d(i, j) * pitch_px);
      }
    }
  });
}

cv::Mat TruthOfSide::on_first_scan(const cv::Mat& of_sheet, double pitch_mm) const {
  cv::Mat map(places_.size(), CV_32FC2), result;
  for (int j = 0; j < places_.rows; ++j) {
    for (int i = 0; i < places_.cols; ++i) {
      const auto mm = places_.at<cv::Point2f>(j, i);
      const auto cell = [&](float v) {
        return static_cast<float>(static_cast<double>(v) / pitch_mm - 0.5);
      };
      map.at<cv::Point2f>(j, i) = {cell(mm.x), cell(mm.y)};
    }
  }
  cv::remap(of_sheet, result, map, {}, cv::INTER_LINEAR, cv::BORDER_REPLICATE);
  for (int j = 0; j < places_.rows; ++j) {
    for (int i = 0; i < places_.cols; ++i) {
      const auto mm = places_.at<cv::Point2f>(j, i);
      if (mm.x >= 0 && mm.y >= 0 && static_cast<double>(mm.x) <= scene_.paper.width_mm &&
          static_cast<double>(mm.y) <= scene_.paper.height_mm) {
        continue;
      }
      auto* values = result.ptr<float>(j) + static_cast<std::ptrdiff_t>(i) * result.channels();
      std::fill(values, values + result.channels(), kNone);
    }
  }
  return result;
}

void TruthOfSide::add(const std::string& stage, const Placement& placement, const TrueLight& light,
                      Truth& truth) {
  const std::string scan = stage + "." + side_;
  const auto here = std::make_shared<const Placement>(placement);
  truth.position[scan] = [first = first_, here](cv::Point2d pixel) {
    return here->to_pixel(first->from_pixel(pixel));
  };
  const double w = scene_.paper.width_mm, h = scene_.paper.height_mm;
  truth.sheet_corners[scan] = {here->to_pixel({0, 0}), here->to_pixel({w, 0}),
                               here->to_pixel({w, h}), here->to_pixel({0, h})};
  if (scene_.target) {
    const std::vector<cv::Point2d> corners = here->chart().corners();
    for (int i = 0; i < 4; ++i) truth.target_corners[scan][i] = here->card_to_pixel(corners[i]);
  }

  add_regions(stage, light.xyz, truth);
  const cv::Mat xyz = averaged(light.xyz, kTruthMm);
  if (first_xyz_.empty()) {
    first_xyz_ = xyz;
    add_undeclared(truth);
    return;
  }
  const std::string key = side_ + "." + stage;
  const cv::Mat on_scan = on_first_scan(xyz, kTruthMm);
  truth.difference[key] = difference(on_first_scan(first_xyz_, kTruthMm), on_scan);
  truth.bleed_through[key] =
      difference(on_first_scan(averaged(light.xyz_unbled, kTruthMm), kTruthMm), on_scan);
  add_lost_ink(stage, truth);
  add_tide_marks(stage, xyz, truth);
  add_bled(stage, truth);
}

void TruthOfSide::add_regions(const std::string& stage, const cv::Mat& xyz, Truth& truth) const {
  const Window light_window{{0, 0}, kTruthMm, xyz.size()};
  const Window amount_window = sheet_window(scene_, kAmountMm);
  const std::string& first_stage = scene_.stages.front();
  for (const NamedRegion& region : scene_.regions) {
    if (region.side != side_) continue;
    double area = 0;
    Xyz sum{};
    over_polygon(region.outline_mm, light_window, [&](int j, int i, double share) {
      area += share;
      for (int c = 0; c < 3; ++c) sum[c] += share * static_cast<double>(xyz.at<cv::Vec3f>(j, i)[c]);
    });
    if (area == 0) continue;
    truth.lab[region.id][stage] = xyz_to_lab({sum[0] / area, sum[1] / area, sum[2] / area});

    if (region.role != "ink" && region.role != "added") continue;
    const bool added = region.role == "added";
    double before = 0, after = 0;
    for (const auto& [ink, amount] : amounts_) {
      if (scene_.inks.at(ink).added != added) continue;
      double there = 0;
      over_polygon(region.outline_mm, amount_window,
                   [&, &layer = amount](int j, int i, double share) {
                     there += share * static_cast<double>(layer.at<float>(j, i));
                   });
      there *= weight_of(scene_, ink);
      before += there * kept_at(scene_, ink, first_stage);
      after += there * kept_at(scene_, ink, stage);
    }
    if (before == 0) continue;
    (added ? truth.residual : truth.strength_kept)[region.id][stage] = after / before;
  }
}

void TruthOfSide::add_lost_ink(const std::string& stage, Truth& truth) const {
  const cv::Size size = sheet_window(scene_, kAmountMm).size;
  cv::Mat ink_there(size, CV_32FC1, cv::Scalar(0)), before = ink_there.clone(),
                                                    after = ink_there.clone();
  for (const auto& [ink, amount] : amounts_) {
    if (scene_.inks.at(ink).added) continue;
    ink_there += amount;
    const double weight = weight_of(scene_, ink);
    before += amount * (weight * kept_at(scene_, ink, scene_.stages.front()));
    after += amount * (weight * kept_at(scene_, ink, stage));
  }
  ink_there = averaged(ink_there, kAmountMm);
  before = averaged(before, kAmountMm);
  after = averaged(after, kAmountMm);
  cv::Mat lost(size, CV_32FC1);
  for (int j = 0; j < size.height; ++j) {
    for (int i = 0; i < size.width; ++i) {
      const float was = before.at<float>(j, i);
      lost.at<float>(j, i) = ink_there.at<float>(j, i) < kLeastInk || was <= 0
                                 ? kNone
                                 : 1 - after.at<float>(j, i) / was;
    }
  }
  truth.lost_ink[side_ + "." + stage] = on_first_scan(lost, kAmountMm);
}

void TruthOfSide::add_undeclared(Truth& truth) const {
  for (const Area& area : areas_of(scene_, side_)) {
    if (!area.undeclared) continue;
    std::vector<cv::Point2d>& outline = truth.undeclared[side_].emplace_back();
    for (const cv::Point2d& mm : area.outline_mm) outline.push_back(first_->to_pixel(mm));
  }
}

void TruthOfSide::add_tide_marks(const std::string& stage, const cv::Mat& xyz, Truth& truth) const {
  const auto at = [](const cv::Mat& picture, cv::Point2d mm) {
    const int i = std::clamp(cvRound(mm.x / kTruthMm - 0.5), 0, picture.cols - 1),
              j = std::clamp(cvRound(mm.y / kTruthMm - 0.5), 0, picture.rows - 1);
    return picture.at<cv::Vec3f>(j, i);
  };
  for (const TideMark& mark : scene_.tide_marks) {
    if (mark.side != side_ || *stage_number(scene_, mark.stage) > *stage_number(scene_, stage))
      continue;
    TrueTide tide;
    std::vector<double> contrasts;
    for (std::size_t i = 0; i < mark.path_mm.size(); ++i) {
      tide.line_px.push_back(first_->to_pixel(mark.path_mm[i]));
      if (i == 0) continue;
      const cv::Point2d from = mark.path_mm[i - 1], step = mark.path_mm[i] - from;
      const double length = cv::norm(step);
      tide.length_mm += length;
      // Beyond the line's soft edges, averaged, on either flank.
      const cv::Point2d aside =
          cv::Point2d(-step.y, step.x) / length * (mark.width_mm / 2 + 3 * kApertureMm * 0.6);
      const cv::Point2d middle = from + step / 2;
      cv::Vec3f unmarked = at(first_xyz_, middle);
      for (int c = 0; c < 3; ++c) {
        float change = 0;
        for (const cv::Point2d flank : {middle + aside, middle - aside})
          change += at(xyz, flank)[c] / at(first_xyz_, flank)[c] / 2;
        unmarked[c] *= change;
      }
      contrasts.push_back(ciede2000(lab_of(at(xyz, middle)), lab_of(unmarked)));
    }
    std::nth_element(contrasts.begin(), contrasts.begin() + contrasts.size() / 2, contrasts.end());
    tide.contrast_dE00 = contrasts[contrasts.size() / 2];
    truth.tide_marks[side_ + "." + stage].push_back(std::move(tide));
  }
}

void TruthOfSide::add_bled(const std::string& stage, Truth& truth) const {
  const Print behind(scene_, other_side(side_));
  for (const auto& [ink, amount] : behind.amounts(sheet_window(scene_, kAmountMm))) {
    const auto fate = scene_.fates.find(ink);
    if (fate == scene_.fates.end()) continue;
    const double share = at_stage(fate->second.bleeds_through, stage, 0);
    if (share > 0)
      truth.bled[side_ + "." + stage][ink] =
          share * cv::sum(amount)[0] * kAmountMm * kAmountMm * weight_of(scene_, ink);
  }
}

}  // namespace inkwane::simulate
