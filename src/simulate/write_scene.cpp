#include <fstream>
#include <new>
#include <system_error>

#include <fmt/format.h>

#include <inkwane/error.hpp>

#include "simulate/picture_file.hpp"
#include "simulate/scan.hpp"
#include "simulate/scanner.hpp"
#include "simulate/simulate.hpp"
#include "simulate/truth.hpp"

namespace inkwane::simulate {
namespace {

std::string lower(std::string text) {
  for (char& c : text) {
    if (c >= 'A' && c <= 'Z') c = static_cast<char>(c - 'A' + 'a');
  }
  return text;
}

std::string scan_name(const Scene& scene, const std::string& stage, const std::string& side) {
  return fmt::format("scans/{}-{}.{}", lower(stage), side, scene.scanner.jpeg ? "jpg" : "tif");
}

/// A TOML basic string.
std::string quoted(const std::string& text) {
  std::string result = "\"";
  for (const char c : text) {
    if (c == '"' || c == '\\') result += '\\';
    if (c == '\n') {
      result += "\\n";
    } else {
      result += c;
    }
  }
  return result + '"';
}

void write_text(const std::filesystem::path& file, const std::string& text) {
  std::ofstream out(file, std::ios::binary);
  out << text;
  out.close();
  if (!out) {
    throw Error(ExitCode::output,
                file.string() + ": could not be written; make room or choose another folder.");
  }
}

/// The target's reference as CGATS.17 text, Lab D50.
std::string reference_text(const std::vector<Patch>& chart) {
  std::string text =
      "CGATS.17\n\nORIGINATOR \"simulated\"\nDESCRIPTOR \"Patches of a simulated target, D50, 2 "
      "degrees\"\n\n"
      "NUMBER_OF_FIELDS 4\nBEGIN_DATA_FORMAT\nSAMPLE_ID LAB_L LAB_A LAB_B\nEND_DATA_FORMAT\n\n";
  text += fmt::format("NUMBER_OF_SETS {}\nBEGIN_DATA\n", chart.size());
  for (const Patch& patch : chart) {
    const Lab lab = xyz_to_lab(spectrum_to_xyz(patch.reflectance));
    text += fmt::format("{} {:.4f} {:.4f} {:.4f}\n", patch.id, lab[0], lab[1], lab[2]);
  }
  return text + "END_DATA\n";
}

std::string polygon_text(const Polygon& outline_mm, const Placement& first) {
  std::string text;
  for (const cv::Point2d& mm : outline_mm) {
    const cv::Point2d pixel = first.to_pixel(mm);
    text += fmt::format("{}[{:.2f}, {:.2f}]", text.empty() ? "" : ", ", pixel.x, pixel.y);
  }
  return "[" + text + "]";
}

std::string treatment_text(const Scene& scene, const std::map<std::string, Placement>& first) {
  std::string text = fmt::format("inkwane = 1\n\n[object]\ntitle = {}\n", quoted(scene.title));
  const auto add = [&](const char* key, const std::string& value) {
    if (!value.empty()) text += fmt::format("{} = {}\n", key, quoted(value));
  };
  add("identifier", scene.identifier);
  add("client", scene.client);
  add("description", scene.description);
  text += fmt::format("width_mm = {:.1f}\nheight_mm = {:.1f}\n", scene.paper.width_mm,
                      scene.paper.height_mm);
  add("turn", scene.turn);
  text += scene.object;
  if (!scene.record.empty()) text += "\n" + scene.record;
  if (scene.target) {
    text += fmt::format("\n[target]\nreference = \"target.txt\"\nrows = {}\ncolumns = {}\n",
                        scene.target_rows, scene.target_columns);
  }
  for (const std::string& stage : scene.stages) {
    text += fmt::format("\n[[stage]]\nid = {}\n", quoted(stage));
    if (const auto date = scene.dates.find(stage); date != scene.dates.end()) {
      text += fmt::format("date = {}\n", date->second);
    }
    for (const auto& [side, placement] : first) {
      text += fmt::format("{} = {}\n", side, quoted(scan_name(scene, stage, side)));
    }
    if (const auto note = scene.notes.find(stage); note != scene.notes.end())
      add("note", note->second);
    const auto steps = scene.steps.find(stage);
    if (steps == scene.steps.end()) continue;
    for (const Step& step : steps->second) {
      text += fmt::format("\n  [[stage.step]]\n  kind = {}\n", quoted(step.kind));
      if (!step.solution.empty()) text += fmt::format("  solution = {}\n", quoted(step.solution));
      if (step.minutes > 0) text += fmt::format("  minutes = {}\n", step.minutes);
      text += step.more;
    }
  }
  for (const NamedRegion& region : scene.regions) {
    const auto side = first.find(region.side);
    if (side == first.end()) continue;
    text += fmt::format("\n[[region]]\nid = {}\n", quoted(region.id));
    add("name", region.name);
    add("side", region.side);
    add("role", region.role);
    add("under", region.under);
    text += fmt::format("polygon = {}\n", polygon_text(region.outline_mm, side->second));
  }
  return text;
}

void write_scan(const Scene& scene, const std::filesystem::path& file, const cv::Mat& encoded) {
  const std::vector<std::uint8_t> icc =
      scene.scanner.embed_profile ? scanner_profile(scene) : std::vector<std::uint8_t>{};
  if (scene.scanner.jpeg) {
    write_jpeg(file, encoded, scene.scanner.dpi, icc);
  } else {
    write_tiff(file, encoded, scene.scanner.bit_depth, scene.scanner.dpi, icc);
  }
}

Truth write_checked(const Scene& scene, const std::filesystem::path& folder) {
  std::error_code failed;
  std::filesystem::create_directories(folder / "scans", failed);
  if (failed) {
    throw Error(ExitCode::output,
                fmt::format("{}: the folder could not be made ({}); choose another.",
                            folder.string(), failed.message()));
  }
  const std::vector<Patch> chart = make_chart(scene.target_rows, scene.target_columns, scene.seed);
  if (scene.target) write_text(folder / "target.txt", reference_text(chart));

  const std::string& first_stage = scene.stages.front();
  std::map<std::string, Placement> first;
  for (const std::string side : kSideNames) {
    if (side == "recto" || scene.has_verso)
      first.emplace(side, Placement(scene, first_stage, side));
  }
  write_text(folder / "treatment.toml", treatment_text(scene, first));

  Truth truth;
  for (const auto& [side, first_placement] : first) {
    TruthOfSide of_side(scene, side, first_placement);
    for (const std::string& stage : scene.stages) {
      const Placement placement(scene, stage, side);
      SheetRaster sheet(scene, stage, side, seen_by_sensor(backing_reflectance(scene)));
      cv::Mat light = look(scene, placement, chart, sheet);
      of_side.add(stage, placement, {sheet.xyz(), sheet.xyz_unbled()}, truth);
      const cv::Mat encoded = record(std::move(light), scene, scan_state(scene, stage, side));
      write_scan(scene, folder / scan_name(scene, stage, side), encoded);
    }
  }
  if (first.contains("verso")) {
    for (const std::string& stage : scene.stages) {
      truth.recto_behind[stage] = [scene, recto = Placement(scene, stage, "recto"),
                                   verso = Placement(scene, stage, "verso")](cv::Point2d pixel) {
        return recto.to_pixel(through_paper(scene, verso.from_pixel(pixel)));
      };
    }
  }
  return truth;
}

}  // namespace

Truth write_scene(const Scene& scene, const std::filesystem::path& folder) {
  check(scene);
  try {
    return write_checked(scene, folder);
  } catch (const cv::Exception& error) {
    throw Error(ExitCode::output,
                fmt::format("{}: the simulated scans could not be made ({}); make the sheet or its "
                            "resolution smaller.",
                            folder.string(), error.err));
  } catch (const std::bad_alloc&) {
    throw Error(ExitCode::output,
                fmt::format("{}: memory ran out over the simulated scans; make the "
                            "sheet or its resolution smaller.",
                            folder.string()));
  }
}

}  // namespace inkwane::simulate
