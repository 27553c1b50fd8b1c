#include <memory>

#include <fmt/format.h>

#include "cli/command.hpp"
#include "results/output_folder.hpp"

namespace inkwane::cli {
namespace {

// Reads as it stands (a test holds it to that); what is in capitals is to be filled in.
constexpr const char* kTemplate =
    R"(# The record of one treatment, for inkwane. Lines that begin with # are notes and can go.
# Paths are relative to this file. Check a scan with:  inkwane vet SCAN --target target.txt
# Draw regions at the desk:                            inkwane desk treatment.toml
# When it is filled in:                                inkwane assess treatment.toml

inkwane = 1                        # format of this file

[object]
title = "TITLE OF THE SHEET"
# identifier = ""
# client = ""
# description = ""
# maker = ""
# owner = ""
# marks = ""                        # stamps, inscriptions, watermarks
# width_mm = 190.0                 # size of the sheet, when the scans carry no resolution
# height_mm = 262.0
turn = "side"                      # turned over between recto and verso like a page ("side") or
                                   # head over foot ("top")

# What the profession's codes ask of a record; all in your own words, all optional.
# [record]
# conservator = ""
# purpose = ""                      # why the sheet is treated
# condition_before = ""             # as seen, apart from what it is taken to mean
# past_treatment = ""
# plan = ""
# consent_by = ""                   # who agreed to the plan
# consent_date = 2026-03-01
# variations = ""                   # from the plan, and why

# The colour target that lies beside the sheet in every scan, and the values it was made to or
# measured at: CGATS.17 text with SAMPLE_ID and LAB_L LAB_A LAB_B or XYZ_X XYZ_Y XYZ_Z (D50, 2°).
# Without this table everything is uncalibrated.
[target]
reference = "target.txt"
rows = 4                           # patches as printed
columns = 6
# If the target is not found in a scan: outer corners of its first, last-in-row-1, last and
# first-in-last-row patch, in pixels of that scan.
# corners."BT.recto" = [[100, 100], [700, 100], [700, 500], [100, 500]]

[measure]
aperture_mm = 0.5                  # colour is averaged over this width before it is measured
grid_mm = 0.1                      # pitch of the measuring grid
# repeat = ["a.tif", "b.tif"]      # scans of one untreated sheet with the target, lifted and laid
                                   # down again in between: how well the scanner repeats
# What `inkwane scanner` measured, on a scan of its card, of the scanner that makes these scans.
# scanner = "scanner.toml"

# One [[stage]] for each time the sheet was scanned; by custom BT, DT1, DT2 …, AT
# (before, during, after treatment). Either side may be missing. Kinds: "before", "during", "after",
# "follow-up" (some weeks later, to see whether anything came back).
[[stage]]
id = "BT"
# kind = "before"
# date = 2026-03-02
# Several scans of a side, ["a.tif", "b.tif"], are averaged and tell how well scans repeat.
recto = "scans/bt-recto.tif"
verso = "scans/bt-verso.tif"

[[stage]]
id = "AT"
# kind = "after"
# date = 2026-03-09
# dried = 2026-03-07               # when the sheet had dried
# condition = "dry"                # "damp" or "wet" is never compared with dry without a warning
recto = "scans/at-recto.tif"
verso = "scans/at-verso.tif"
# If the sheet is not found: its corners in this stage's scan, from its top left clockwise.
# outline.recto = [[100, 100], [2300, 100], [2300, 3200], [100, 3200]]
# If the alignment needs help: this stage's pixel, then the first stage's pixel of the same place.
# control_points.recto = [[[120, 340], [118, 338]]]

  # What was done since the stage before, in order. Kinds: dry cleaning, tape removal, bath, rinse,
  # blotting, light, deacidification, drying, repair, other. All of them take when, who, solution,
  # minutes, area_cm2, materials_added, materials_removed, seen and note.
  # [[stage.step]]
  # kind = "bath"
  # when = 2026-03-05T10:00:00
  # who = ""
  # solution = "calcium hydroxide"
  # stock_g_per_l = 1.6
  # stock_ml = 100
  # tray_ml = 400                  # stock and water together; or water_ml, or parts = "1:3"
  # temperature_c = 20
  # ph_in = 11.9                   # measured at the start and at the end, by "meter" or "strips"
  # ph_out = 11.2
  # ph_method = "meter"
  # changes = 1                    # of the liquid
  # minutes = 45

  # [[stage.step]]
  # kind = "light"
  # source = "blue LEDs"
  # peak_nm = 455
  # width_nm = 20
  # w_per_m2 = 50                  # measured at the sheet
  # distance_mm = 300
  # sheet = "wet"                  # or "dry"
  # minutes = 240

  # [[stage.step]]
  # kind = "blotting"
  # places = ""
  # number = 2
  # dwell_minutes = 10

# One [[spot_test]] for every medium and liquid, before the sheet meets the liquid.
# [[spot_test]]
# medium = "red of the petals"
# liquid = "calcium hydroxide 0.4 g/L"
# ph = 11.9
# dwell_minutes = 15
# seen_on_sheet = ""
# seen_on_blotter = ""
# when = 2026-03-01

# Areas to be measured, one [[region]] each. Pixels of the first stage's scan of that side; the
# centre of the top-left pixel is (0, 0). Roles: "ink" original printing ink, to be kept; "added"
# colour added later, to come off; "paper" bare paper; "watch" a place watched for bleed or stain.
# Draw at least one "paper" region near the others: strength is judged against the paper beside it.
# [[region]]
# id = "petals"
# name = "red of the petals"
# side = "recto"
# role = "ink"
# polygon = [[400, 400], [700, 400], [700, 700], [400, 700]]

# [[region]]
# id = "touched-line"
# side = "recto"
# role = "added"
# under = "paper"                  # what should be there once it is gone: "paper", or an ink region's id
# polygon = [[900, 400], [1000, 400], [1000, 450], [900, 450]]

# A blotter that lay on the sheet, scanned beside the target: how much it lifted, and whose colour.
# Pixels of its own scan.
# [[blotter]]
# id = "first-blotter"
# stage = "AT"                     # the stage that followed the blotting
# scan = "scans/blotter-1.tif"
# polygon = [[200, 200], [900, 200], [900, 700], [200, 700]]  # what to measure; without: all of it
# blank = [[950, 200], [1100, 200], [1100, 350], [950, 350]]  # a part of it that lifted nothing
# has_target = true                # false: calibrated as the stage's own scan, with a warning
)";

ExitCode write_template(const std::filesystem::path& folder, bool quiet) {
  const std::filesystem::path file = folder / "treatment.toml";
  std::error_code code;
  if (std::filesystem::exists(std::filesystem::symlink_status(file, code))) {
    throw Error(ExitCode::usage,
                fmt::format("{}: is there already and will not be overwritten; name "
                            "another folder.",
                            file.string()));
  }
  std::filesystem::create_directories(folder, code);
  if (code) {
    throw Error(ExitCode::output, fmt::format("{}: the folder cannot be made ({}); name another.",
                                              folder.string(), code.message()));
  }
  results::write_text(file, kTemplate);
  if (!quiet)
    fmt::print("Wrote {}; fill it in and run: inkwane assess {}\n", file.string(), file.string());
  return ExitCode::done;
}

}  // namespace

void add_new(CLI::App& app, const Common& common, Run& run) {
  CLI::App* command = app.add_subcommand("new", "Write a commented treatment.toml to fill in");
  const auto folder = std::make_shared<std::filesystem::path>();
  command->add_option("DIR", *folder, "The folder to write it into; made if missing")->required();
  command->footer("Example:\n  inkwane new sheet-12\n\n" + exit_codes());
  command->callback([folder, &common, &run] {
    run = [folder, &common] { return write_template(*folder, common.quiet); };
  });
}

}  // namespace inkwane::cli
