#include <algorithm>
#include <cmath>
#include <map>
#include <sstream>
#include <stdexcept>

#include <fmt/format.h>
#include <pugixml.hpp>

#include <inkwane/error.hpp>

#include "region/shape.hpp"
#include "region/svg_path.hpp"
#include "region/trace.hpp"

namespace inkwane::region {
namespace {

constexpr double kHalfPixel = 0.5;
/// Proportions of a viewBox and of the scan that differ by more belong to different pictures.
constexpr double kProportion = 0.01;
/// Groups within groups beyond which a file is not a drawing.
constexpr int kDeepest = 200;

/// An element's name without its namespace's prefix.
std::string local_name(const pugi::xml_node& node) {
  const std::string name = node.name();
  return name.substr(name.find(':') + 1);
}

class SvgReader {
 public:
  SvgReader(const ScanSize& scan, std::string file) : scan_(scan), file_(std::move(file)) {}

  std::vector<Shape> read(const std::string& text) {
    pugi::xml_document document;
    const auto parsed = document.load_buffer(text.data(), text.size());
    if (!parsed) {
      refuse(fmt::format("is not XML ({} at byte {})", parsed.description(), parsed.offset));
    }
    const pugi::xml_node root = document.document_element();
    if (local_name(root) != "svg") refuse("is not SVG: its first element is not <svg>");
    read_view_box(root);
    group(root, cv::Matx33d::eye(), {}, 0);
    return std::move(shapes_);
  }

 private:
  /// What groups hand down: how lines are painted, and what a region is.
  struct Paint {
    std::string fill = "black";
    double width = 1;
    std::map<std::string, std::string> data;
  };

  [[noreturn]] void refuse(const std::string& what) const {
    throw Error(ExitCode::usage, fmt::format("{}: {}.", file_, what));
  }
  [[noreturn]] void refuse(const pugi::xml_node& node, const std::string& what) const {
    refuse(fmt::format("{} {}", label(node), what));
  }
  static std::string label(const pugi::xml_node& node) {
    const std::string id = node.attribute("id").value();
    return id.empty() ? fmt::format("<{}> at byte {}", local_name(node), node.offset_debug())
                      : fmt::format("<{} id=\"{}\">", local_name(node), id);
  }

  void read_view_box(const pugi::xml_node& root) {
    try {
      box_ = read_numbers(root.attribute("viewBox").value());
    } catch (const std::invalid_argument& error) {
      refuse(root, fmt::format("viewBox {}", error.what()));
    }
    if (!box_.empty() && (box_.size() != 4 || !(box_[2] > 0) || !(box_[3] > 0))) {
      refuse(root, "has a viewBox that is not four numbers of a size");
    }
  }

  /// From the drawing's units to pixels of the scan.
  [[nodiscard]] cv::Matx33d to_pixels(cv::Size scan) const {
    if (box_.empty()) return {1, 0, -kHalfPixel, 0, 1, -kHalfPixel, 0, 0, 1};
    const double x = scan.width / box_[2], y = scan.height / box_[3];
    if (std::abs(x / y - 1) > kProportion) {
      refuse(
          fmt::format("its viewBox of {} × {} has not the proportions of the scan of {} × {} "
                      "pixels; draw on this scan, uncropped",
                      box_[2], box_[3], scan.width, scan.height));
    }
    return {x, 0, -x * box_[0] - kHalfPixel, 0, y, -y * box_[1] - kHalfPixel, 0, 0, 1};
  }

  [[nodiscard]] double number(const pugi::xml_node& node, const char* name,
                              double otherwise) const {
    const pugi::xml_attribute attribute = node.attribute(name);
    return attribute ? number(node, name, std::string(attribute.value())) : otherwise;
  }
  [[nodiscard]] double number(const pugi::xml_node& node, const char* name,
                              std::string text) const {
    if (text.ends_with("px")) text.resize(text.size() - 2);
    try {
      const auto values = read_numbers(text);
      if (values.size() == 1) return values[0];
    } catch (const std::invalid_argument&) {
      // said below
    }
    refuse(node, fmt::format("has {} = \"{}\"; a plain number is wanted", name, text));
  }

  /// A presentation attribute, or the same in a style attribute, which counts before it.
  static std::string presentation(const pugi::xml_node& node, const std::string& name) {
    std::string value = node.attribute(name.c_str()).value();
    std::istringstream style(node.attribute("style").value());
    for (std::string item; std::getline(style, item, ';');) {
      std::erase_if(item, [](char c) { return c == ' ' || c == '\t' || c == '\n' || c == '\r'; });
      if (item.starts_with(name + ":")) value = item.substr(name.size() + 1);
    }
    return value;
  }

  [[nodiscard]] Paint inherited(Paint paint, const pugi::xml_node& node) const {
    const std::string fill = presentation(node, "fill"), width = presentation(node, "stroke-width");
    if (!fill.empty()) paint.fill = fill;
    if (!width.empty()) paint.width = number(node, "stroke-width", width);
    for (const char* key : {"side", "role", "under"}) {
      const pugi::xml_attribute data = node.attribute(fmt::format("data-{}", key).c_str());
      if (data) paint.data[key] = data.value();
    }
    return paint;
  }

  void group(const pugi::xml_node& parent, const cv::Matx33d& map, const Paint& paint, int depth) {
    if (depth > kDeepest) refuse("has groups within groups too deep to be a drawing");
    for (const pugi::xml_node& node : parent.children()) {
      if (node.type() == pugi::node_element) element(node, map, paint, depth);
    }
  }

  void element(const pugi::xml_node& node, const cv::Matx33d& outer, const Paint& handed_down,
               int depth) {
    static const std::vector<std::string> kNoShapes{"defs",   "title",  "desc",   "metadata",
                                                    "style",  "image",  "text",   "namedview",
                                                    "script", "marker", "pattern"};
    const std::string name = local_name(node);
    if (std::find(kNoShapes.begin(), kNoShapes.end(), name) != kNoShapes.end()) return;
    const Paint paint = inherited(handed_down, node);
    try {
      const cv::Matx33d map = outer * read_transform(node.attribute("transform").value());
      if (name == "g" || name == "a") return group(node, map, paint, depth + 1);
      add(node, map, paint, area(node, name, paint));
    } catch (const std::invalid_argument& error) {
      refuse(node, error.what());
    }
  }

  [[nodiscard]] std::vector<Point> area(const pugi::xml_node& node, const std::string& name,
                                        const Paint& paint) const {
    const auto value = [&](const char* key) { return number(node, key, 0.0); };
    if (name == "rect") {
      const double x = value("x"), y = value("y"), w = value("width"), h = value("height");
      return {{x, y}, {x + w, y}, {x + w, y + h}, {x, y + h}};
    }
    if (name == "circle") return ellipse({value("cx"), value("cy")}, value("r"), value("r"));
    if (name == "ellipse") return ellipse({value("cx"), value("cy")}, value("rx"), value("ry"));
    if (name == "line") {
      return stroke({{value("x1"), value("y1")}, {value("x2"), value("y2")}}, paint.width);
    }
    if (name == "polygon") return points(node);
    if (name == "polyline") return area({points(node), false}, paint);
    if (name == "path") {
      const auto paths = read_path(node.attribute("d").value());
      if (paths.size() == 1) return area(paths.front(), paint);
      refuse(node,
             fmt::format("has {} parts; a region is one polygon, so draw each part on its own",
                         paths.size()));
    }
    refuse(node, "is not read; draw it as a polygon, a rectangle, an ellipse, a line or a path");
  }

  /// A line that is open and not filled stands for its stroke.
  [[nodiscard]] static std::vector<Point> area(const Subpath& path, const Paint& paint) {
    const auto& p = path.points;
    const bool meets = p.size() > 2 && p.front().x == p.back().x && p.front().y == p.back().y;
    return path.closed || meets || paint.fill != "none" ? p : stroke(p, paint.width);
  }

  [[nodiscard]] static std::vector<Point> points(const pugi::xml_node& node) {
    const auto numbers = read_numbers(node.attribute("points").value());
    if (numbers.size() % 2 != 0) throw std::invalid_argument("has an odd number of coordinates");
    std::vector<Point> out;
    for (std::size_t i = 0; i < numbers.size(); i += 2) out.push_back({numbers[i], numbers[i + 1]});
    return out;
  }

  void add(const pugi::xml_node& node, const cv::Matx33d& map, const Paint& paint,
           std::vector<Point> polygon) {
    const auto repeats = [&polygon] {
      return polygon.size() > 1 && polygon.front().x == polygon.back().x &&
             polygon.front().y == polygon.back().y;
    };
    while (repeats()) polygon.pop_back();
    if (polygon.size() < 3) refuse(node, "encloses nothing");
    Shape shape;
    shape.id = node.attribute("id").value();
    for (const pugi::xml_node& child : node.children()) {
      if (local_name(child) == "title") shape.name = child.text().get();
    }
    const auto data = [&paint](const char* key) {
      const auto found = paint.data.find(key);
      return found == paint.data.end() ? std::string() : found->second;
    };
    shape.side = data("side");
    shape.role = data("role");
    shape.under = data("under");
    shape.where = label(node);
    const cv::Matx33d whole = to_pixels(scan_(shape)) * map;
    for (const Point& p : polygon) shape.polygon.push_back(apply(whole, p));
    shapes_.push_back(std::move(shape));
  }

  const ScanSize& scan_;
  std::string file_;
  std::vector<double> box_;  // the viewBox, or nothing
  std::vector<Shape> shapes_;
};

}  // namespace

std::vector<Shape> read_svg(const std::string& text, const ScanSize& scan,
                            const std::string& file) {
  return SvgReader(scan, file).read(text);
}

std::string write_svg(const std::vector<Shape>& shapes, cv::Size scan,
                      const std::string& scan_file) {
  pugi::xml_document document;
  pugi::xml_node root = document.append_child("svg");
  root.append_attribute("xmlns") = "http://www.w3.org/2000/svg";
  root.append_attribute("viewBox") = fmt::format("0 0 {} {}", scan.width, scan.height).c_str();
  if (!scan_file.empty()) {
    root.append_child("title").text() = fmt::format("Regions on {}", scan_file).c_str();
  }
  for (const Shape& shape : shapes) {
    std::string points;
    for (const Point& p : shape.polygon) {
      points += fmt::format("{}{:.7g},{:.7g}", points.empty() ? "" : " ", p.x + kHalfPixel,
                            p.y + kHalfPixel);
    }
    pugi::xml_node polygon = root.append_child("polygon");
    const auto set = [&polygon](const char* key, const std::string& value) {
      if (!value.empty()) polygon.append_attribute(key) = value.c_str();
    };
    set("id", shape.id);
    set("data-side", shape.side);
    set("data-role", shape.role);
    set("data-under", shape.under);
    set("points", points);
    set("fill-opacity", "0.25");
    set("stroke", "black");
    if (!shape.name.empty()) polygon.append_child("title").text() = shape.name.c_str();
  }
  std::ostringstream out;
  document.save(out, " ", pugi::format_default | pugi::format_no_declaration);
  return out.str();
}

}  // namespace inkwane::region
