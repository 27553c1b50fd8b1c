#include <memory>

#include <fmt/format.h>

#include "cli/command.hpp"
#include "region/exchange.hpp"
#include "results/output_folder.hpp"
#include "treatment/edit.hpp"
#include "treatment/save.hpp"

namespace inkwane::cli {
namespace {

struct Options {
  std::filesystem::path treatment, file;
  std::string side, role;
  bool replace = false, force = false;
};

std::optional<Side> side_of(const std::string& name) {
  for (const Side side : kSides) {
    if (name == to_string(side)) return side;
  }
  return std::nullopt;
}

std::optional<Role> role_of(const std::string& name) {
  for (const Role role : {Role::ink, Role::added, Role::paper, Role::watch}) {
    if (name == to_string(role)) return role;
  }
  return std::nullopt;
}

std::string as_svg(const Treatment& treatment, const std::vector<region::Shape>& shapes,
                   const region::ScanSize& size) {
  for (const region::Shape& shape : shapes) {
    if (shape.side == shapes.front().side) continue;
    throw Error(ExitCode::usage,
                fmt::format("{}: has regions on both sides, and an SVG belongs to one scan; give "
                            "--side recto or --side verso.",
                            treatment.file.string()));
  }
  return region::write_svg(shapes, size(shapes.front()), shapes.front().source);
}

ExitCode export_regions(const Options& options, bool quiet) {
  const Treatment treatment = read_treatment(options.treatment);
  const auto shapes = region::to_shapes(treatment, side_of(options.side));
  if (shapes.empty()) {
    throw Error(ExitCode::usage,
                fmt::format("{}: has no region{} to export.", treatment.file.string(),
                            options.side.empty() ? "" : " on the " + options.side));
  }
  const auto size = region::scan_sizes(treatment, {}, treatment.file.string());
  const std::string text = options.file.extension() == ".svg"
                               ? as_svg(treatment, shapes, size)
                               : region::write_annotations(shapes, size);
  if (options.file.empty()) {
    fmt::print("{}", text);
    return ExitCode::done;
  }
  refuse_to_overwrite(options.file, options.force);
  results::write_text(options.file, text);
  if (!quiet) fmt::print("Wrote {} regions into {}.\n", shapes.size(), options.file.string());
  return ExitCode::done;
}

ExitCode import_regions(const Options& options, bool quiet) {
  const std::string before = treatment::read_text(options.treatment);
  const Treatment treatment = parse_treatment(before, options.treatment);
  const std::string name = options.file.string();
  if (!std::filesystem::is_regular_file(options.file)) {
    throw Error(ExitCode::usage, fmt::format("{}: is not a file; give the Web Annotations or the "
                                             "SVG to import.",
                                             name));
  }
  const std::string text = treatment::read_text(options.file);
  const region::Given given{side_of(options.side), role_of(options.role), options.replace};
  const auto size = region::scan_sizes(treatment, given, name);
  const std::size_t start = text.find_first_not_of(" \t\r\n\xEF\xBB\xBF");
  const bool svg = start != std::string::npos && text[start] == '<';
  const auto shapes =
      svg ? region::read_svg(text, size, name) : region::read_annotations(text, size, name);
  if (shapes.empty()) {
    throw Error(ExitCode::usage, fmt::format("{}: holds no shapes; nothing was imported.", name));
  }
  treatment::Drawn wanted = treatment::drawn_in(treatment);
  wanted.regions = region::with_shapes(treatment, shapes, given, name);
  treatment::replace_text(options.treatment,
                          treatment::edit(before, options.treatment, treatment::rounded(wanted)),
                          treatment::sha256(before));
  const std::size_t added = wanted.regions.size() - treatment.regions.size();
  if (!quiet) {
    fmt::print("{}: {} regions added, {} replaced. What it held before is kept in {}.\n",
               options.treatment.string(), added, shapes.size() - added,
               treatment::backup_folder(options.treatment).string());
  }
  return ExitCode::done;
}

void add_export(CLI::App& regions, const Common& common, Run& run) {
  CLI::App* command = regions.add_subcommand(
      "export", "Write regions as W3C Web Annotations or, into a file named .svg, as SVG");
  const auto options = std::make_shared<Options>();
  command->add_option("TREATMENT", options->treatment, "The treatment file")->required();
  command->add_option("-o,--output", options->file, "File to write [standard output]");
  command->add_option("--side", options->side, "Only those of one side")
      ->check(CLI::IsMember({"recto", "verso"}));
  command->add_flag("--force", options->force, "Overwrite the file if it is there");
  command->footer("Example:\n  inkwane regions export sheet-12/treatment.toml -o regions.json\n\n" +
                  exit_codes());
  command->callback([options, &common, &run] {
    run = [options, &common] { return export_regions(*options, common.quiet); };
  });
}

void add_import(CLI::App& regions, const Common& common, Run& run) {
  CLI::App* command = regions.add_subcommand(
      "import", "Add regions from W3C Web Annotations or SVG to a treatment file");
  const auto options = std::make_shared<Options>();
  command->add_option("FILE", options->file, "Web Annotations (JSON) or SVG")->required();
  command->add_option("TREATMENT", options->treatment, "The treatment file")->required();
  command->add_option("--side", options->side, "Side of shapes whose file does not say")
      ->check(CLI::IsMember({"recto", "verso"}));
  command->add_option("--role", options->role, "Role of shapes whose file does not say")
      ->check(CLI::IsMember({"ink", "added", "paper", "watch"}));
  command->add_flag("--replace", options->replace, "Take the place of regions of the same id");
  command->footer(
      "Example:\n  inkwane regions import drawn.svg sheet-12/treatment.toml --side recto "
      "--role ink\n\n" +
      exit_codes());
  command->callback([options, &common, &run] {
    run = [options, &common] { return import_regions(*options, common.quiet); };
  });
}

}  // namespace

void add_regions(CLI::App& app, const Common& common, Run& run) {
  CLI::App* regions = app.add_subcommand("regions", "Take regions to and from other programs");
  regions->require_subcommand(1);
  regions->fallthrough();
  add_export(*regions, common, run);
  add_import(*regions, common, run);
}

}  // namespace inkwane::cli
