#include "desk/look.hpp"

#include <algorithm>
#include <cmath>

#include <fmt/format.h>

#include <inkwane/error.hpp>

#include "align/stages.hpp"
#include "take.hpp"

namespace inkwane::desk {
namespace {

using Tell = std::function<void(const std::string&, double)>;

/// Share of the work that taking the scans in is, beside aligning them.
constexpr double kTaking = 0.7;

Corners corners_in_px(const align::Outline& outline, const grid::Geometry& geometry) {
  Corners corners;
  for (std::size_t i = 0; i < 4; ++i) corners[i] = geometry.to_px(outline.quad[i]);
  return corners;
}

ScanLook found_in(const Taken& taken) {
  ScanLook out;
  out.stage = taken.stage->id;
  out.side = taken.side;
  out.file = taken.info.file;
  if (taken.target) {
    out.target = taken.target->corners_px;
    out.left_out_dE00_median = taken.target->left_out_dE00_median;
  }
  out.geometry = taken.grid.geometry;
  out.outline = corners_in_px(taken.outline, out.geometry);
  out.width_mm = taken.outline.width_mm;
  out.height_mm = taken.outline.height_mm;
  out.warnings = taken.warnings;
  out.warnings.insert(out.warnings.end(), taken.doubts.begin(), taken.doubts.end());
  out.fit = taken.fit;
  taken.grid.light.convertTo(out.light, CV_16F);
  out.clipped = taken.grid.clipped;
  return out;
}

/// The treatment with one scan alone.
Treatment only(const Treatment& treatment, const Stage& stage, Side side) {
  Treatment one = treatment;
  one.stages = {stage};
  one.stages.front().scans = {{side, stage.scans.at(side)}};
  one.stages.front().repeats.clear();
  one.measure.repeat.clear();
  one.regions.clear();
  return one;
}

/// All together, as they are measured; or, if one of them is refused, each on its own.
void take_in(const Treatment& treatment, int threads, const Tell& tell, std::vector<Taken>& taken,
             Looked& looked) {
  try {
    taken = take_scans(treatment, threads, [&](double done) {
              tell("finding the targets and the sheets", kTaking * done);
            }).scans;
    std::erase_if(taken, [](const Taken& scan) { return scan.repeat > 1; });
    return;
  } catch (const Error&) {
    taken.clear();
  }
  double done = 0;
  for (const Stage& stage : treatment.stages) {
    for (const auto& [side, file] : stage.scans) {
      tell("finding the targets and the sheets, scan by scan",
           kTaking * done++ / static_cast<double>(2 * treatment.stages.size()));
      try {
        auto one = take_scans(only(treatment, stage, side), threads, [](double) {}).scans;
        one.front().stage = &stage;
        taken.push_back(std::move(one.front()));
      } catch (const Error& error) {
        ScanLook none;
        none.stage = stage.id;
        none.side = side;
        none.error = error.what();
        looked.scans.push_back(std::move(none));
      }
    }
  }
}

Laid thinned(const align::Warp& warp, const grid::Geometry& later) {
  const int columns = (warp.to_later.cols - 1) / Laid::kNode + 2;
  const int rows = (warp.to_later.rows - 1) / Laid::kNode + 2;
  Laid out;
  out.to_later.create(rows, columns, CV_32FC2);
  for (int j = 0; j < rows; ++j) {
    const int y = std::min(j * Laid::kNode, warp.to_later.rows - 1);
    for (int i = 0; i < columns; ++i) {
      const int x = std::min(i * Laid::kNode, warp.to_later.cols - 1);
      const auto& cell = warp.to_later.at<cv::Vec2f>(y, x);
      const Point px = later.to_px({cell[0], cell[1]});
      out.to_later.at<cv::Vec2f>(j, i) = {static_cast<float>(px.x), static_cast<float>(px.y)};
    }
  }
  out.residual_mm_median = warp.residual_mm_median;
  out.residual_mm_p95 = warp.residual_mm_p95;
  out.doubtful = warp.doubtful;
  return out;
}

void align_side(const std::vector<Taken>& taken, Side side, Looked& looked) {
  const auto view = [](const Taken& t) {
    return align::View{&t.grid, &t.outline, t.file(), t.stage->id};
  };
  const Taken* first = nullptr;
  for (const Taken& later : taken) {
    if (later.side != side) continue;
    if (first == nullptr) {
      first = &later;
      continue;
    }
    auto found = std::find_if(looked.scans.begin(), looked.scans.end(), [&](const ScanLook& s) {
      return s.stage == later.stage->id && s.side == side;
    });
    try {
      const auto control = later.stage->control_points.find(side);
      const align::Warp warp = align::align_stage(view(*first), view(later),
                                                  control == later.stage->control_points.end()
                                                      ? std::vector<ControlPoint>{}
                                                      : control->second);
      found->laid = thinned(warp, later.grid.geometry);
      found->warnings.insert(found->warnings.end(), warp.warnings.begin(), warp.warnings.end());
    } catch (const Error& error) {
      found->error = error.what();
    }
  }
}

}  // namespace

const ScanLook* Looked::find(const std::string& stage, Side side) const {
  const auto found = std::find_if(scans.begin(), scans.end(), [&](const ScanLook& scan) {
    return scan.stage == stage && scan.side == side;
  });
  return found == scans.end() ? nullptr : &*found;
}

const ScanLook* Looked::first(Side side) const {
  const auto found = std::find_if(scans.begin(), scans.end(),
                                  [side](const ScanLook& scan) { return scan.side == side; });
  return found == scans.end() ? nullptr : &*found;
}

Looked look(const Treatment& treatment, int threads, const Tell& tell) {
  Looked looked;
  looked.calibrated = treatment.target.has_value();
  std::vector<Taken> taken;
  take_in(treatment, threads, tell, taken, looked);
  for (const Taken& one : taken) looked.scans.push_back(found_in(one));
  const auto place = [&treatment](const ScanLook& scan) {
    return std::find_if(treatment.stages.begin(), treatment.stages.end(),
                        [&scan](const Stage& stage) { return stage.id == scan.stage; });
  };
  std::stable_sort(looked.scans.begin(), looked.scans.end(),
                   [&place](const ScanLook& a, const ScanLook& b) { return place(a) < place(b); });
  for (const Side side : kSides) {
    tell(fmt::format("laying the stages of the {} on each other", to_string(side)),
         side == Side::recto ? kTaking : (1 + kTaking) / 2);
    align_side(taken, side, looked);
  }
  tell("done", 1);
  return looked;
}

std::optional<Colour> colour_at(const ScanLook& scan, Point px) {
  const Point cell = scan.geometry.to_cell(px);
  const int i = static_cast<int>(std::lround(cell.x)), j = static_cast<int>(std::lround(cell.y));
  if (scan.light.empty() || i < 0 || j < 0 || i >= scan.light.cols || j >= scan.light.rows ||
      scan.clipped.at<std::uint8_t>(j, i) != 0) {
    return std::nullopt;
  }
  cv::Mat one;
  scan.light(cv::Rect(i, j, 1, 1)).convertTo(one, CV_32F);
  const auto& v = one.at<cv::Vec3f>(0, 0);
  const Eigen::Vector3d light(static_cast<double>(v[0]), static_cast<double>(v[1]),
                              static_cast<double>(v[2]));
  Colour out{to_lab(scan.fit.colour.to_xyz(light)), std::nullopt};
  if (scan.fit.colour.calibrated()) {
    const Eigen::MatrixXd slope = scan.fit.colour.lab_jacobian(light);
    const Eigen::Vector3d u =
        (slope * scan.fit.colour.covariance() * slope.transpose()).diagonal().cwiseSqrt();
    out.u_lab = LabD50{u(0), u(1), u(2)};
  }
  return out;
}

cv::Mat lab_of(const ScanLook& scan, const cv::Rect& window) {
  cv::Mat light, xyz;
  scan.light(window).convertTo(light, CV_32F);
  scan.fit.colour.to_xyz(light, xyz);
  cv::Mat lab(xyz.size(), CV_32FC3);
  std::transform(
      xyz.begin<cv::Vec3f>(), xyz.end<cv::Vec3f>(), lab.begin<cv::Vec3f>(), [](const cv::Vec3f& v) {
        const LabD50 c = to_lab(XyzD50{static_cast<double>(v[0]), static_cast<double>(v[1]),
                                       static_cast<double>(v[2])});
        return cv::Vec3f(static_cast<float>(c.L), static_cast<float>(c.a), static_cast<float>(c.b));
      });
  return lab;
}

}  // namespace inkwane::desk
