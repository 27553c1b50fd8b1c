#include "side_work.hpp"

#include <cmath>

#include <opencv2/imgproc.hpp>

#include "colour/icc.hpp"
#include "grid/disc.hpp"
#include "scan_record.hpp"

namespace inkwane {
namespace {

// Within this many apertures of the sheet's edge the window sees the backing: at 1.5 times its full
// width at half maximum (3.5 σ) the backing weighs 0.02 %.
constexpr double kEdgeApertures = 1.5;
// Pictures show this much beyond the sheet, and alignment looks so far.
constexpr double kMarginMm = 3;
// Parts of a grid begin at whole multiples of this, so that what is sampled at every so many cells
// does not depend on where exactly the sheet's edge was found.
constexpr double kPartMm = 10;

/// The part of a scan's grid that holds its sheet.
cv::Rect part_of_sheet(const Taken& taken) {
  const grid::Geometry& geometry = taken.grid.geometry;
  const int margin = cvRound(kMarginMm / geometry.pitch_mm) + 1;
  const int step = std::max(1, cvRound(kPartMm / geometry.pitch_mm));
  const cv::Rect sheet = cv::boundingRect(taken.outline.sheet);
  const int left = std::max(0, sheet.x - margin) / step * step,
            top = std::max(0, sheet.y - margin) / step * step;
  return cv::Rect(cv::Point(left, top), sheet.br() + cv::Point(margin, margin)) &
         cv::Rect({}, geometry.size());
}

grid::Geometry part_of(const grid::Geometry& whole, const cv::Rect& part) {
  grid::Geometry out = whole;
  out.origin_px = whole.to_px({static_cast<double>(part.x), static_cast<double>(part.y)});
  out.columns = part.width;
  out.rows = part.height;
  return out;
}

/// Cuts a picture of the whole grid, and lets go of the rest.
void cut(cv::Mat& picture, const cv::Rect& part) {
  if (!picture.empty()) picture = picture(part).clone();
}

cv::Rect cut_to_sheet(Taken& taken) {
  const cv::Rect part = part_of_sheet(taken);
  grid::Grid& grid = taken.grid;
  grid.geometry = part_of(grid.geometry, part);
  for (cv::Mat* picture :
       {&grid.light, &grid.xyz, &grid.structure, &grid.clipped, &grid.target, &taken.outline.sheet})
    cut(*picture, part);
  for (Point& corner : taken.outline.quad) {
    corner.x -= part.x;
    corner.y -= part.y;
  }
  return part;
}

change::Layer make_layer(Taken& taken, const cv::Mat& measurable) {
  change::Layer layer;
  layer.stage = taken.stage->id;
  layer.light = std::move(taken.grid.light);
  layer.valid = measurable & ~taken.grid.clipped;
  layer.misfit_mm = cv::Mat(taken.grid.geometry.size(), CV_32FC1, cv::Scalar(0));
  layer.fit = &taken.fit;
  return layer;
}

change::Layer make_layer(Taken& taken, const align::Warp& warp, const cv::Mat& measurable) {
  change::Layer layer;
  layer.stage = taken.stage->id;
  layer.light = align::warp_to_first(taken.grid.light, warp);
  taken.grid.light.release();
  const cv::Mat clipped = align::warp_to_first(taken.grid.clipped, warp);
  const cv::Mat sheet = align::warp_to_first(clear_sheet(taken), warp);
  layer.valid = measurable & warp.valid & sheet & ~clipped;
  layer.misfit_mm = warp.misfit_mm;
  layer.fit = &taken.fit;
  return layer;
}

/// Cells of the sheet whose windows see no backing.
cv::Mat measurable_cells(const Treatment& treatment, const SideWork& work) {
  const Taken& first = *work.scans.front();
  const int edge_cells = static_cast<int>(
      std::ceil(kEdgeApertures * treatment.measure.aperture_mm / work.input.geometry.pitch_mm));
  // A sheet that reaches the frame's edge has no backing there: nothing to keep away from.
  const cv::Scalar beyond = first.outline.whole_frame ? cv::Scalar(255) : cv::Scalar(0);
  cv::Mat measurable;
  cv::erode(work.input.sheet, measurable, grid::disc(edge_cells), {-1, -1}, 1, cv::BORDER_CONSTANT,
            beyond);
  return measurable;
}

void release(grid::Grid& grid) {
  grid.light.release();
  grid.xyz.release();
  grid.structure.release();
}

}  // namespace

align::View view_of(const Taken& taken) {
  return {&taken.grid, &taken.outline, taken.file(), taken.stage->id};
}

SideWork lay_out(const Treatment& treatment, std::vector<Taken*> scans) {
  SideWork work;
  work.scans = std::move(scans);
  const Taken& first = *work.scans.front();
  work.input.side = first.side;
  work.input.geometry = first.grid.geometry;
  work.input.aperture_mm = treatment.measure.aperture_mm;
  work.input.sheet = clear_sheet(first);
  for (const Region& region : treatment.regions) {
    if (region.side != first.side) continue;
    work.input.regions.push_back(
        region::make_mask(region, work.input.geometry, work.input.sheet, treatment.file));
  }
  return work;
}

cv::Rect cut_to_sheet(SideWork& work) {
  cv::Rect part;
  for (std::size_t i = work.scans.size(); i-- > 0;) part = cut_to_sheet(*work.scans[i]);
  work.input.geometry = work.scans.front()->grid.geometry;
  cut(work.input.sheet, part);
  for (region::Mask& mask : work.input.regions) {
    const cv::Rect kept = mask.bounds & part;  // a region has no cell off the sheet
    mask.inside = mask.inside(kept - mask.bounds.tl()).clone();
    mask.bounds = kept - part.tl();
  }
  return part;
}

void align_side(const Treatment& treatment, SideWork& work) {
  Taken& first = *work.scans.front();
  const cv::Mat measurable = measurable_cells(treatment, work);
  const int margin = static_cast<int>(kMarginMm / work.input.geometry.pitch_mm);
  const cv::Rect sheet = cv::boundingRect(work.input.sheet);
  work.frame = (sheet + cv::Size(2 * margin, 2 * margin) - cv::Point(margin, margin)) &
               cv::Rect({}, work.input.geometry.size());

  for (std::size_t i = 0; i < work.scans.size(); ++i) {
    Taken& taken = *work.scans[i];
    if (i == 0) {
      work.input.layers.push_back(make_layer(taken, measurable));
    } else {
      const auto& given = taken.stage->control_points;
      const auto control = given.find(taken.side);
      work.warps.push_back(align::align_stage(
          view_of(first), view_of(taken),
          control == given.end() ? std::vector<ControlPoint>{} : control->second));
      work.input.layers.push_back(make_layer(taken, work.warps.back(), measurable));
      release(taken.grid);
    }
    change::Layer& layer = work.input.layers.back();
    layer.pixels = {
        &*taken.scan, &taken.fit.colour,  taken.resolution_dpi,    taken.grid.geometry, {},
        {},           taken.point_spread, &*taken.grid.stray_light};
    if (i > 0) {
      layer.pixels.to_later = work.warps.back().to_later;
      layer.pixels.misfit_mm = work.warps.back().misfit_mm;
    }
    taken.fit.colour.to_xyz(layer.light, layer.xyz);
    work.pictures.push_back(colour::to_srgb(layer.xyz(work.frame)));
    layer.xyz.setTo(cv::Scalar::all(std::nan("")), ~layer.valid);
    layer.light.setTo(cv::Scalar::all(std::nan("")), ~layer.valid);
  }
  release(first.grid);
}

cv::Mat positions(const SideWork& work, int to) {
  const align::Warp& warp = work.warps[static_cast<std::size_t>(to) - 1];
  const grid::Geometry& later = work.scans[static_cast<std::size_t>(to)]->grid.geometry;
  cv::Mat out(warp.to_later.size(), CV_32FC2, cv::Scalar::all(std::nan("")));
  for (int j = 0; j < out.rows; ++j) {
    for (int i = 0; i < out.cols; ++i) {
      if (warp.valid.at<std::uint8_t>(j, i) == 0) continue;
      const auto& cell = warp.to_later.at<cv::Vec2f>(j, i);
      const Point px = later.to_px({cell[0], cell[1]});
      out.at<cv::Vec2f>(j, i) = {static_cast<float>(px.x), static_cast<float>(px.y)};
    }
  }
  return out;
}

}  // namespace inkwane
