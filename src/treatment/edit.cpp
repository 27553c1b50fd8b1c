#include "treatment/edit.hpp"

#include <algorithm>
#include <cmath>
#include <optional>
#include <stdexcept>

#include <fmt/format.h>

#include <inkwane/error.hpp>

#include "treatment/toml_text.hpp"

namespace inkwane::treatment {
namespace {

constexpr double kStepsPerPixel = 100;

double rounded(double v) {
  return std::round(v * kStepsPerPixel) / kStepsPerPixel + 0.0;  // + 0: no minus zero
}
Point rounded(Point p) {
  return {rounded(p.x), rounded(p.y)};
}

bool same(Point a, Point b) {
  return a.x == b.x && a.y == b.y;
}
bool same(const ControlPoint& a, const ControlPoint& b) {
  return same(a.first, b.first) && same(a.second, b.second);
}
template <typename Points>
bool same(const Points& a, const Points& b) {
  return std::equal(a.begin(), a.end(), b.begin(), b.end(),
                    [](const auto& x, const auto& y) { return same(x, y); });
}

std::string text_of(Point p) {
  return fmt::format("[{}, {}]", p.x, p.y);
}
std::string text_of(const ControlPoint& pair) {
  return fmt::format("[{}, {}]", text_of(pair.first), text_of(pair.second));
}
template <typename Points>
std::string text_of(const Points& points) {
  std::string out;
  for (const auto& p : points) out += (out.empty() ? "" : ", ") + text_of(p);
  return fmt::format("[{}]", out);
}

/// What a region's keys should say; none: the key should not be there.
std::optional<std::string> wanted_under(const Region& region) {
  return region.role == Role::added ? std::optional(region.under) : std::nullopt;
}

std::vector<std::pair<std::string, std::string>> pairs_of(const Region& region) {
  std::vector<std::pair<std::string, std::string>> pairs{{"id", toml_string(region.id)}};
  if (region.name != region.id) pairs.emplace_back("name", toml_string(region.name));
  pairs.emplace_back("side", toml_string(to_string(region.side)));
  pairs.emplace_back("role", toml_string(to_string(region.role)));
  if (const auto under = wanted_under(region)) pairs.emplace_back("under", toml_string(*under));
  pairs.emplace_back("polygon", text_of(region.polygon));
  return pairs;
}

const Region* find(const std::vector<Region>& regions, const std::string& id) {
  const auto found = std::find_if(regions.begin(), regions.end(),
                                  [&id](const Region& region) { return region.id == id; });
  return found == regions.end() ? nullptr : &*found;
}

class Editor {
 public:
  Editor(const std::string& text, const std::filesystem::path& file, const Treatment& now)
      : text_(text, file.string()), now_(now) {}

  void regions(const std::vector<Region>& wanted) {
    for (std::size_t i = 0; i < now_.regions.size(); ++i) {
      const Region& old = now_.regions[i];
      if (const Region* region = find(wanted, old.id)) {
        update(element("region", i), old, *region);
      } else {
        text_.remove_table("region", i);
      }
    }
    for (const Region& region : wanted) {
      if (find(now_.regions, region.id) == nullptr) text_.append_table("region", pairs_of(region));
    }
  }

  void target_corners(const std::map<ScanName, Corners>& wanted) {
    if (!now_.target) return;
    const auto name = [](const ScanName& scan) {
      return fmt::format("{}.{}", scan.first, to_string(scan.second));
    };
    for (const auto& [scan, corners] : now_.target->corners) {
      if (!wanted.contains(scan)) text_.remove(target().below("corners"), name(scan));
    }
    for (const auto& [scan, corners] : wanted) {
      const auto old = now_.target->corners.find(scan);
      if (old != now_.target->corners.end() && same(old->second, corners)) continue;
      set(target(), "reference", "corners", name(scan), toml_string(name(scan)), text_of(corners));
    }
  }

  /// `key` of each stage: a table by side. `given(stage)`: what it holds now.
  template <typename Points, typename Given>
  void by_stage(const std::string& key, const std::map<ScanName, Points>& wanted,
                const Given& given) {
    for (std::size_t i = 0; i < now_.stages.size(); ++i) {
      const Stage& stage = now_.stages[i];
      const Spot spot = element("stage", i);
      for (const Side side : kSides) {
        const auto& all = given(stage);
        const auto old = all.find(side);
        const auto to_be = wanted.find({stage.id, side});
        const std::string name = to_string(side);
        if (to_be == wanted.end()) {
          if (old != all.end()) text_.remove(spot.below(key), name);
        } else if (old == all.end() || !same(old->second, to_be->second)) {
          set(spot, "id", key, name, name, text_of(to_be->second));
        }
      }
    }
  }

  [[nodiscard]] const TomlText& text() const { return text_; }

 private:
  [[nodiscard]] Spot target() const { return text_.top().below("target"); }

  [[nodiscard]] Spot element(std::string_view array, std::size_t i) const {
    const auto* table = text_.root().get_as<toml::array>(array)->get_as<toml::table>(i);
    return {table, table->is_inline()};
  }

  void update(const Spot& spot, const Region& old, const Region& region) {
    const auto put = [&](std::string_view anchor, const std::string& key,
                         const std::string& value) {
      const toml::node* node = spot.table->get(key);
      if (node == nullptr) return text_.add_after(spot, anchor, key, value);
      text_.replace(*node, value);
    };
    if (old.name != region.name) put("id", "name", toml_string(region.name));
    if (old.side != region.side) put("id", "side", toml_string(to_string(region.side)));
    if (old.role != region.role) put("id", "role", toml_string(to_string(region.role)));
    const auto under = wanted_under(region);
    if (!under && spot.table->contains("under")) text_.remove(spot, "under");
    if (under && old.under != *under) put("role", "under", toml_string(*under));
    if (!same(old.polygon, region.polygon)) put("id", "polygon", text_of(region.polygon));
  }

  /// `table.entry = value` within `spot`; `as`: the entry's name as TOML writes it.
  void set(const Spot& spot, std::string_view anchor, const std::string& table,
           const std::string& entry, const std::string& as, const std::string& value) {
    if (spot.table->get(table) == nullptr) {
      return text_.add_after(spot, anchor, fmt::format("{}.{}", table, as), value);
    }
    const Spot inner = spot.below(table);
    if (const toml::node* node = inner.table->get(entry)) return text_.replace(*node, value);
    if (inner.table->empty()) return text_.add_first(inner, as, value);
    text_.add_after(inner, inner.table->begin()->first.str(), as, value);
  }

  TomlText text_;
  const Treatment& now_;
};

/// All that an edit must leave as it was.
toml::table rest_of(const std::string& text) {
  toml::table root = toml::parse(text);
  root.erase("region");
  if (auto* target = root.get_as<toml::table>("target")) target->erase("corners");
  if (auto* stages = root.get_as<toml::array>("stage")) {
    for (toml::node& stage : *stages) {
      stage.as_table()->erase("control_points");
      stage.as_table()->erase("outline");
    }
  }
  return root;
}

bool same(const Region& a, const Region& b) {
  return a.id == b.id && a.name == b.name && a.side == b.side && a.role == b.role &&
         wanted_under(a) == wanted_under(b) && same(a.polygon, b.polygon);
}

template <typename Points>
bool same(const std::map<ScanName, Points>& a, const std::map<ScanName, Points>& b) {
  return std::equal(a.begin(), a.end(), b.begin(), b.end(), [](const auto& x, const auto& y) {
    return x.first == y.first && same(x.second, y.second);
  });
}

bool same(const Drawn& a, const Drawn& b) {
  const auto in_b = [&b](const Region& region) {
    const Region* other = find(b.regions, region.id);
    return other != nullptr && same(region, *other);
  };
  return a.regions.size() == b.regions.size() &&
         std::all_of(a.regions.begin(), a.regions.end(), in_b) &&
         same(a.target_corners, b.target_corners) && same(a.outlines, b.outlines) &&
         same(a.control_points, b.control_points);
}

}  // namespace

Drawn drawn_in(const Treatment& treatment) {
  Drawn drawn;
  drawn.regions = treatment.regions;
  if (treatment.target) drawn.target_corners = treatment.target->corners;
  for (const Stage& stage : treatment.stages) {
    for (const auto& [side, corners] : stage.outlines) drawn.outlines[{stage.id, side}] = corners;
    for (const auto& [side, pairs] : stage.control_points) {
      drawn.control_points[{stage.id, side}] = pairs;
    }
  }
  return drawn;
}

Drawn rounded(Drawn drawn) {
  const auto round_all = [](auto& points) {
    for (Point& p : points) p = rounded(p);
  };
  for (Region& region : drawn.regions) round_all(region.polygon);
  for (auto& [scan, corners] : drawn.target_corners) round_all(corners);
  for (auto& [scan, corners] : drawn.outlines) round_all(corners);
  for (auto& [scan, pairs] : drawn.control_points) {
    for (auto& [later, first] : pairs) later = rounded(later), first = rounded(first);
  }
  return drawn;
}

std::string edit(const std::string& text, const std::filesystem::path& file, const Drawn& wanted) {
  const Treatment now = parse_treatment(text, file);
  std::string changed;
  try {
    Editor editor(text, file, now);
    editor.regions(wanted.regions);
    editor.target_corners(wanted.target_corners);
    editor.by_stage(
        "outline", wanted.outlines,
        [](const Stage& stage) -> const auto& { return stage.outlines; });
    editor.by_stage(
        "control_points", wanted.control_points,
        [](const Stage& stage) -> const auto& { return stage.control_points; });
    changed = editor.text().changed();
    if (rest_of(changed) != rest_of(text)) throw std::logic_error("another key changed");
  } catch (const Error&) {
    throw;
  } catch (const std::exception&) {
    throw Error(ExitCode::usage,
                fmt::format("{}: is written in a way that cannot be changed here without harm, and "
                            "was left as it is; write each [[region]] under a header of its own, a "
                            "key a line.",
                            file.string()));
  }
  const Treatment then = parse_treatment(changed, file);
  if (!same(drawn_in(then), wanted)) {
    throw Error(
        ExitCode::usage,
        fmt::format("{}: cannot hold all that was drawn, and was left as it is; each region "
                    "needs an id of its own, each correction a scan that is there.",
                    file.string()));
  }
  return changed;
}

}  // namespace inkwane::treatment
