#include "region/exchange.hpp"

#include <algorithm>
#include <map>
#include <memory>

#include <fmt/format.h>

#include <inkwane/error.hpp>

#include "scan/scan.hpp"
#include "treatment/polygon.hpp"

namespace inkwane::region {
namespace {

[[noreturn]] void refuse(const std::string& file, const Shape& shape, const std::string& what) {
  throw Error(ExitCode::usage, fmt::format("{}: {} {}", file, shape.where, what));
}

std::string file_name(const std::string& iri) {
  return iri.substr(iri.find_last_of("/\\") + 1);
}

Side side_of(const Shape& shape, const Treatment& treatment, const Given& given,
             const std::string& file) {
  for (const Side side : kSides) {
    if (shape.side == to_string(side)) return side;
  }
  if (!shape.side.empty()) {
    refuse(file, shape, fmt::format("is on a side \"{}\"; it must be recto or verso.", shape.side));
  }
  for (const Side side : kSides) {
    const auto* scan = first_scan(treatment, side);
    if (scan != nullptr && !shape.source.empty() &&
        scan->filename().string() == file_name(shape.source)) {
      return side;
    }
  }
  if (given.side) return *given.side;
  refuse(file, shape, "does not say which side it lies on; give --side recto or --side verso.");
}

Role role_of(const Shape& shape, const Given& given, const std::string& file) {
  for (const Role role : {Role::ink, Role::added, Role::paper, Role::watch}) {
    if (shape.role == to_string(role)) return role;
  }
  if (given.role) return *given.role;
  if (shape.role.empty()) {
    refuse(file, shape, "does not say what it stands for; give --role ink, added, paper or watch.");
  }
  refuse(file, shape,
         fmt::format("has the role \"{}\", which is none; give --role ink, added, paper "
                     "or watch.",
                     shape.role));
}

void check_polygon(const Shape& shape, const ScanSize& size, const std::string& file) {
  if (treatment::crossing_edges(shape.polygon)) {
    refuse(file, shape, "crosses itself; a region is one area with a plain border.");
  }
  if (!(treatment::polygon_area(shape.polygon) > 0)) refuse(file, shape, "encloses nothing.");
  const cv::Size scan = size(shape);
  for (const Point& p : shape.polygon) {
    if (p.x < -1 || p.y < -1 || p.x > scan.width || p.y > scan.height) {
      refuse(file, shape,
             fmt::format("leaves the scan of {} × {} pixels at ({:.0f}, {:.0f}); was it drawn on "
                         "this scan, at its full size?",
                         scan.width, scan.height, p.x, p.y));
    }
  }
}

}  // namespace

const std::filesystem::path* first_scan(const Treatment& treatment, Side side) {
  for (const Stage& stage : treatment.stages) {
    const auto found = stage.scans.find(side);
    if (found != stage.scans.end()) return &found->second;
  }
  return nullptr;
}

ScanSize scan_sizes(const Treatment& treatment, const Given& given, const std::string& file) {
  const auto known = std::make_shared<std::map<Side, cv::Size>>();
  return [&treatment, given, file, known](const Shape& shape) {
    const Side side = side_of(shape, treatment, given, file);
    if (!known->contains(side)) {
      const auto* scan = first_scan(treatment, side);
      if (scan == nullptr) {
        refuse(file, shape,
               fmt::format("is on the {}, which no stage has a scan of.", to_string(side)));
      }
      const scan::Info info = scan::Scan::open(*scan).info();
      (*known)[side] = {info.width_px, info.height_px};
    }
    return known->at(side);
  };
}

std::vector<Region> with_shapes(const Treatment& treatment, const std::vector<Shape>& shapes,
                                const Given& given, const std::string& file) {
  std::vector<Region> regions = treatment.regions;
  const ScanSize size = scan_sizes(treatment, given, file);
  const auto find = [&regions](const std::string& id) {
    return std::find_if(regions.begin(), regions.end(),
                        [&id](const Region& region) { return region.id == id; });
  };
  for (const Shape& shape : shapes) {
    Region region;
    region.id = shape.id;
    for (int i = 1; region.id.empty(); ++i) {
      const std::string free = fmt::format("region-{}", i);
      if (find(free) == regions.end()) region.id = free;
    }
    region.name = shape.name.empty() ? region.id : shape.name;
    region.side = side_of(shape, treatment, given, file);
    region.role = role_of(shape, given, file);
    if (region.role == Role::added && !shape.under.empty()) region.under = shape.under;
    check_polygon(shape, size, file);
    region.polygon = shape.polygon;
    const auto old = find(region.id);
    if (old == regions.end()) {
      regions.push_back(std::move(region));
    } else if (given.replace) {
      *old = std::move(region);
    } else {
      refuse(file, shape,
             fmt::format("has the id \"{}\", which a region has already; rename it, or give "
                         "--replace.",
                         region.id));
    }
  }
  return regions;
}

std::vector<Shape> to_shapes(const Treatment& treatment, std::optional<Side> side) {
  std::vector<Shape> shapes;
  for (const Region& region : treatment.regions) {
    if (side && region.side != *side) continue;
    const auto* scan = first_scan(treatment, region.side);
    shapes.push_back({region.id, region.name, to_string(region.role),
                      region.role == Role::added ? region.under : std::string(),
                      to_string(region.side),
                      scan->lexically_relative(treatment.file.parent_path()).string(),
                      region.polygon, fmt::format("region \"{}\"", region.id)});
    if (shapes.back().source.empty()) shapes.back().source = scan->string();
  }
  return shapes;
}

}  // namespace inkwane::region
