#include "picture_files.hpp"

#include <algorithm>
#include <cmath>

#include <fmt/format.h>

#include "map/picture.hpp"
#include "map/shrink.hpp"

namespace inkwane {
namespace {

constexpr int kImageLongestPx = 1600, kMapLongestPx = 1100, kCropLongestPx = 560;
// A crop shows the region with a third of its size about it, at least this much, in landscape.
constexpr double kCropMargin = 0.33, kCropMarginMm = 3, kCropAspect = 4.0 / 3;

/// Where the pixels of a picture of this part of a grid lie, once it is scaled down.
results::Frame frame_of(const grid::Geometry& part, double factor) {
  const cv::Size size =
      map::reduced(part.size(),
                   static_cast<int>(std::lround(std::max(part.columns, part.rows) / factor)))
          .first;
  const double shift = (factor - 1) / 2;
  return {size.width, size.height, part.to_px({shift, shift}), part.pitch_px * factor,
          part.pitch_mm * factor};
}

grid::Geometry part_of(const grid::Geometry& geometry, const cv::Rect& part) {
  grid::Geometry out = geometry;
  out.origin_px = geometry.to_px({double(part.x), double(part.y)});
  out.columns = part.width;
  out.rows = part.height;
  return out;
}

/// The part of a side's picture that shows a region.
cv::Rect crop_about(const std::vector<Point>& polygon, const grid::Geometry& geometry) {
  cv::Point2d low(1e9, 1e9), high(-1e9, -1e9);
  for (const Point& corner : polygon) {
    const Point cell = geometry.to_cell(corner);
    low = {std::min(low.x, cell.x), std::min(low.y, cell.y)};
    high = {std::max(high.x, cell.x), std::max(high.y, cell.y)};
  }
  const double margin = std::max(kCropMarginMm / geometry.pitch_mm,
                                 kCropMargin * std::max(high.x - low.x, high.y - low.y));
  double width = high.x - low.x + 2 * margin, height = high.y - low.y + 2 * margin;
  width = std::max(width, height * kCropAspect);
  height = std::max(height, width / kCropAspect);
  const int w = std::min(geometry.columns, cvRound(width)),
            h = std::min(geometry.rows, cvRound(height));
  const int x = std::clamp(cvRound((low.x + high.x - w) / 2), 0, geometry.columns - w),
            y = std::clamp(cvRound((low.y + high.y - h) / 2), 0, geometry.rows - h);
  return {x, y, w, h};
}

/// The map that tells most of a region of this role.
const change::MapLayer* telling_map(const results::Region& region,
                                    const std::vector<change::MapLayer>& maps,
                                    const std::string& from, const std::string& to) {
  std::vector<std::string> kinds;
  if (region.role == Role::ink) kinds = {"lost-ink"};
  if (region.role == Role::added) kinds = {"residual-added"};
  if (region.role == Role::watch) kinds = {"bleed-through", "gained-colour"};
  kinds.emplace_back("difference");
  for (const std::string& kind : kinds) {
    for (const change::MapLayer& map : maps) {
      if (map.kind == kind && map.from == from && map.to == to) return &map;
    }
  }
  return nullptr;
}

}  // namespace

void write_images(const std::filesystem::path& folder, const SidePictures& side,
                  results::Results& results) {
  for (std::size_t i = 0; i < side.pictures.size(); ++i) {
    const std::string file = fmt::format("images/{}-{}.jpg", side.names[i], to_string(side.side));
    const double factor = map::write_jpeg(folder / file, side.pictures[i], kImageLongestPx);
    results.images.push_back({side.stages[i], side.side, file, frame_of(side.geometry, factor)});
  }
}

void write_crops(const std::filesystem::path& folder, const SidePictures& side,
                 const std::vector<change::MapLayer>& maps, results::Results& results) {
  std::vector<std::size_t> shown{0};
  if (side.pictures.size() > 1) shown.push_back(side.pictures.size() - 1);
  int number = 0;  // ids may hold what a file name may not
  for (const results::Region& region : results.regions) {
    ++number;
    if (region.side != side.side || region.polygon.empty()) continue;
    const cv::Rect part = crop_about(region.polygon, side.geometry);
    const grid::Geometry geometry = part_of(side.geometry, part);
    const auto name = [&](const std::string& what) {
      return fmt::format("crops/region-{}-{}", number, what);
    };
    for (const std::size_t i : shown) {
      const std::string file = name(side.names[i]) + ".jpg";
      const double factor =
          map::write_jpeg(folder / file, side.pictures[i](part).clone(), kCropLongestPx);
      results.crops.push_back(
          {region.id, side.stages[i], "", "", "", file, frame_of(geometry, factor)});
    }
    const auto* layer = telling_map(region, maps, side.stages.front(), side.stages.back());
    if (layer == nullptr) continue;
    const std::string file = name("map") + ".png";
    const double factor =
        map::write_plain(folder / file, layer->value(side.frame)(part), side.pictures[0](part),
                         map::style_of(layer->kind), kCropLongestPx);
    results.crops.push_back(
        {region.id, "", layer->kind, layer->from, layer->to, file, frame_of(geometry, factor)});
  }
}

void write_map_pictures(const std::filesystem::path& folder, const SidePictures& side,
                        const change::MapLayer& layer, results::Map& map) {
  const std::string stem = map.png.substr(0, map.png.size() - std::string(".png").size());
  const auto stage = std::find(side.stages.begin(), side.stages.end(), layer.from);
  const cv::Mat& ground = side.pictures[static_cast<std::size_t>(stage - side.stages.begin())];
  map.plain = stem + "-plain.png";
  map.overlay = stem + "-overlay.png";
  map::write_plain(folder / map.plain, layer.value(side.frame), ground, map::style_of(layer.kind),
                   kMapLongestPx);
  map::write_overlay(folder / map.overlay, layer.value(side.frame), map::style_of(layer.kind),
                     kMapLongestPx);
}

void write_readout(const std::filesystem::path& folder, const SidePictures& side,
                   const change::Readout& readout, results::Results& results) {
  const std::string file = fmt::format("readout/{}.bin", to_string(side.side));
  map::write_readout(folder / file, readout.lab_from, readout.lab_to, readout.difference);
  results.readouts.push_back(
      {side.side, readout.from, readout.to, file, frame_of(readout.geometry, 1)});
}

}  // namespace inkwane
