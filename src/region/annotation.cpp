#include <algorithm>
#include <array>
#include <charconv>
#include <cmath>
#include <optional>

#include <fmt/format.h>
#include <nlohmann/json.hpp>

#include <inkwane/error.hpp>

#include "region/shape.hpp"

namespace inkwane::region {
namespace {

using Json = nlohmann::ordered_json;

constexpr const char* kContext = "http://www.w3.org/ns/anno.jsonld";
constexpr const char* kMediaFragments = "http://www.w3.org/TR/media-frags/";
constexpr const char* kIdPrefix = "urn:x-inkwane:region:";
constexpr double kHalfPixel = 0.5;

bool is_unreserved(char c) {
  return (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z') || (c >= '0' && c <= '9') || c == '-' ||
         c == '.' || c == '_' || c == '~';
}

/// RFC 3986, 2.1.
std::string percent_encoded(const std::string& text) {
  std::string out;
  for (const char c : text) {
    out += is_unreserved(c) ? std::string(1, c)
                            : fmt::format("%{:02X}", static_cast<unsigned char>(c));
  }
  return out;
}
std::string percent_decoded(const std::string& text) {
  std::string out;
  for (std::size_t i = 0; i < text.size(); ++i) {
    unsigned byte = 0;
    const char* digits = text.data() + i + 1;
    if (text[i] == '%' && i + 2 < text.size() &&
        std::from_chars(digits, digits + 2, byte, 16).ptr == digits + 2) {
      out += static_cast<char>(byte);
      i += 2;
    } else {
      out += text[i];
    }
  }
  return out;
}

std::string text_of(const Json& object, const char* key) {
  const auto found = object.find(key);
  return found != object.end() && found->is_string() ? found->get<std::string>() : std::string();
}

/// The rectangle of a spatial fragment ("xywh=…"); none where the fragment is of another kind.
std::optional<std::vector<Point>> rectangle(const std::string& fragment, cv::Size scan) {
  const std::size_t at = fragment.find("xywh=");
  if (at == std::string::npos) return std::nullopt;
  std::string_view rest = std::string_view(fragment).substr(at + 5);
  const bool percent = rest.starts_with("percent:");
  if (percent) rest.remove_prefix(8);
  if (rest.starts_with("pixel:")) rest.remove_prefix(6);
  std::array<double, 4> v{};
  for (std::size_t i = 0; i < 4; ++i) {
    const auto [end, error] = std::from_chars(rest.data(), rest.data() + rest.size(), v[i]);
    if (error != std::errc()) return std::nullopt;
    rest.remove_prefix(static_cast<std::size_t>(end - rest.data()));
    if (i < 3) {
      if (!rest.starts_with(',')) return std::nullopt;
      rest.remove_prefix(1);
    }
  }
  const double sx = percent ? scan.width / 100.0 : 1, sy = percent ? scan.height / 100.0 : 1;
  const double left = v[0] * sx - kHalfPixel, top = v[1] * sy - kHalfPixel;
  const double right = left + v[2] * sx, bottom = top + v[3] * sy;
  return {{{left, top}, {right, top}, {right, bottom}, {left, bottom}}};
}

/// x, y, width and height as a spatial fragment, where the polygon runs along pixels' edges.
std::optional<std::string> fragment_of(const std::vector<Point>& polygon) {
  if (polygon.size() != 4) return std::nullopt;
  Point low = polygon[0], high = low;
  for (const Point& p : polygon) {
    low = {std::min(low.x, p.x), std::min(low.y, p.y)};
    high = {std::max(high.x, p.x), std::max(high.y, p.y)};
  }
  const bool clockwise_or_not = [&] {
    int corners = 0;
    for (std::size_t i = 0; i < 4; ++i) {
      const Point a = polygon[i], b = polygon[(i + 1) % 4];
      const bool at_corner = (a.x == low.x || a.x == high.x) && (a.y == low.y || a.y == high.y);
      corners += at_corner && (a.x == b.x) != (a.y == b.y) ? 1 : 0;
    }
    return corners == 4;
  }();
  if (!clockwise_or_not) return std::nullopt;
  const std::array<double, 4> v{low.x + kHalfPixel, low.y + kHalfPixel, high.x - low.x,
                                high.y - low.y};
  // The grammar knows whole numbers of at least 0 only.
  if (std::any_of(v.begin(), v.end(), [](double x) { return x < 0 || x != std::round(x); })) {
    return std::nullopt;
  }
  return fmt::format("xywh={:.0f},{:.0f},{:.0f},{:.0f}", v[0], v[1], v[2], v[3]);
}

class AnnotationReader {
 public:
  AnnotationReader(const ScanSize& scan, std::string file) : scan_(scan), file_(std::move(file)) {}

  std::vector<Shape> read(const std::string& text) {
    Json json;
    try {
      json = Json::parse(text);
    } catch (const Json::exception&) {
      refuse("is not JSON");
    }
    take(json);
    return std::move(shapes_);
  }

 private:
  [[noreturn]] void refuse(const std::string& what) const {
    throw Error(ExitCode::usage, fmt::format("{}: {}.", file_, what));
  }
  [[noreturn]] void refuse_this(const std::string& what) const {
    refuse(fmt::format("annotation {} {}", shapes_.size() + 1, what));
  }

  void take(const Json& json) {
    if (json.is_array()) {
      for (const Json& item : json) take(item);
      return;
    }
    if (!json.is_object()) refuse("holds no Web Annotations");
    const std::string type = json.contains("type") && json["type"].is_array()
                                 ? json["type"].dump()
                                 : text_of(json, "type");
    if (type.find("AnnotationCollection") != std::string::npos) {
      if (!json.contains("first") || !json["first"].is_object()) {
        refuse("is an AnnotationCollection whose pages lie elsewhere; give a file that holds them");
      }
      return take(json["first"]);
    }
    if (type.find("AnnotationPage") != std::string::npos) {
      if (json.contains("next")) refuse("goes on in another page; give one file that holds all");
      return json.contains("items") ? take(json["items"]) : void();
    }
    if (type.find("Annotation") == std::string::npos) refuse("holds no Web Annotations");
    shapes_.push_back(annotation(json));
  }

  Shape annotation(const Json& json) {
    Shape shape;
    shape.where = fmt::format("annotation {}", shapes_.size() + 1);
    const std::string id = text_of(json, "id");
    shape.id = percent_decoded(id.substr(id.find_last_of(":/#") + 1));
    shape.name = text_of(json, "bodyValue");
    if (json.contains("body")) body(json["body"], shape);
    if (!json.contains("target")) refuse_this("has no target");
    target(json["target"], shape);
    return shape;
  }

  static void body(const Json& json, Shape& shape) {
    if (json.is_array()) {
      for (const Json& item : json) body(item, shape);
      return;
    }
    if (!json.is_object()) return;
    const std::string purpose = text_of(json, "purpose"), value = text_of(json, "value");
    if (purpose == "classifying") {
      shape.role = value;
    } else if (purpose == "linking") {
      shape.under = value;
    } else if (shape.name.empty()) {
      shape.name = value;
    }
  }

  void target(const Json& json, Shape& shape) {
    if (json.is_array()) {
      if (json.size() != 1) refuse_this("has several targets; a region is one place");
      return target(json.front(), shape);
    }
    if (json.is_string()) return whole(json.get<std::string>(), shape);
    if (!json.is_object()) refuse_this("has a target that is neither an IRI nor an object");
    if (!json.contains("selector")) return whole(text_of(json, "id"), shape);
    const auto source = json.find("source");
    if (source != json.end()) {
      shape.source = source->is_object()   ? text_of(*source, "id")
                     : source->is_string() ? source->get<std::string>()
                                           : "";
    }
    selector(json["selector"], shape);
  }

  /// A target without selector: its IRI may end in a spatial fragment.
  void whole(const std::string& iri, Shape& shape) {
    const std::size_t hash = iri.find('#');
    shape.source = iri.substr(0, hash);
    const auto found =
        hash == std::string::npos ? std::nullopt : rectangle(iri.substr(hash), scan_(shape));
    if (!found) refuse_this("selects no place of its target; an SvgSelector or xywh is wanted");
    shape.polygon = *found;
  }

  void selector(const Json& json, Shape& shape) {
    const std::vector<Json> all =
        json.is_array() ? json.get<std::vector<Json>>() : std::vector{json};
    const auto of_type = [&all](const char* type) {
      return std::find_if(all.begin(), all.end(), [type](const Json& item) {
        return item.is_object() && text_of(item, "type") == type;
      });
    };
    for (const Json& item : all) {
      if (item.is_object() && item.contains("refinedBy")) {
        refuse_this("selects a place within a place, which is not read; give one selector");
      }
    }
    if (const auto svg = of_type("SvgSelector"); svg != all.end()) {
      if (!svg->contains("value")) {
        refuse_this("names an SVG that lies elsewhere; put it into the selector's value");
      }
      const auto inside = read_svg(
          text_of(*svg, "value"), [&](const Shape&) { return scan_(shape); },
          fmt::format("{}: annotation {}, SvgSelector", file_, shapes_.size() + 1));
      if (inside.size() != 1) {
        refuse_this(fmt::format("selects {} shapes; a region is one", inside.size()));
      }
      shape.polygon = inside.front().polygon;
      return;
    }
    if (const auto fragment = of_type("FragmentSelector"); fragment != all.end()) {
      if (const auto found = rectangle(text_of(*fragment, "value"), scan_(shape))) {
        shape.polygon = *found;
        return;
      }
    }
    refuse_this("has no selector that can be read; an SvgSelector or xywh is wanted");
  }

  const ScanSize& scan_;
  std::string file_;
  std::vector<Shape> shapes_;
};

Json textual_body(const char* purpose, const std::string& value) {
  return {
      {"type", "TextualBody"}, {"purpose", purpose}, {"value", value}, {"format", "text/plain"}};
}

}  // namespace

std::vector<Shape> read_annotations(const std::string& text, const ScanSize& scan,
                                    const std::string& file) {
  return AnnotationReader(scan, file).read(text);
}

std::string write_annotations(const std::vector<Shape>& shapes, const ScanSize& scan) {
  Json items = Json::array();
  for (const Shape& shape : shapes) {
    Json bodies = Json::array({textual_body("describing", shape.name)});
    if (!shape.role.empty()) bodies.push_back(textual_body("classifying", shape.role));
    if (!shape.under.empty()) bodies.push_back(textual_body("linking", shape.under));
    Shape bare;
    bare.polygon = shape.polygon;
    Json selectors = Json::array();
    if (const auto fragment = fragment_of(shape.polygon)) {
      selectors.push_back(
          {{"type", "FragmentSelector"}, {"conformsTo", kMediaFragments}, {"value", *fragment}});
    }
    selectors.push_back({{"type", "SvgSelector"}, {"value", write_svg({bare}, scan(shape), {})}});
    items.push_back({{"id", kIdPrefix + percent_encoded(shape.id)},
                     {"type", "Annotation"},
                     {"body", bodies},
                     {"target", {{"source", shape.source}, {"selector", selectors}}}});
  }
  const Json page{{"@context", kContext},
                  {"id", "urn:x-inkwane:regions"},
                  {"type", "AnnotationPage"},
                  {"items", items}};
  return page.dump(1) + "\n";
}

}  // namespace inkwane::region
