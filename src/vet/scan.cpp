#include "scan/scan.hpp"

#include <cmath>
#include <optional>

#include <fmt/format.h>

#include <inkwane/error.hpp>

#include "vet/moire.hpp"
#include "vet/pixels.hpp"
#include "vet/target.hpp"
#include "vet/vet.hpp"

namespace inkwane::vet {
namespace {

// Limits are common practice, no source, unless a comment says otherwise.
constexpr double kSolidsDpi = 300, kScreensDpi = 600;
constexpr double kClippedDoubt = 0.01, kClippedNote = 0.001;  // of the picture
constexpr double kCombGaps = 0.03;
constexpr double kBlocks =
    0.15;  // print that happens to lie so shows up to 0.09, JPEG 0.28 and more
// L*, of single pixels: 1.6 is the tolerance of ISO 19264-1:2021, level A, by a secondary table.
constexpr double kNoise = 1.6, kNoNoise = 0.05;
constexpr double kSlope = 0.03;

void judge_depth(const scan::Info& info, const Comb& comb, Findings& out) {
  if (info.format == scan::Format::jpeg) {
    out.push_back({Verdict::note, "JPEG: lossy compression alters colour, most at edges",
                   "save scans as TIFF or PNG"});
  }
  if (comb.sparse) {
    out.push_back({Verdict::note,
                   fmt::format("16 bits a channel, but only {} different values: 8-bit data in a "
                               "16-bit file",
                               comb.levels),
                   "have the scanner itself deliver 16 bits"});
  } else if (info.bit_depth == 8) {
    out.push_back(
        {Verdict::note, "8 bits a channel: coarse in the darks", "scan with 16 bits a channel"});
  } else {
    out.push_back({Verdict::good, "16 bits a channel", ""});
  }
  if (comb.gaps > kCombGaps) {
    out.push_back(
        {Verdict::note,
         fmt::format("gaps in the histogram at {:.0f} % of the levels: a curve or automatic "
                     "exposure stretched 8-bit values",
                     100 * comb.gaps),
         "switch off automatics and curves in the scanner's software"});
  }
}

void judge_resolution(const scan::Info& info, Findings& out) {
  if (!info.resolution_dpi) {
    out.push_back({Verdict::doubtful, "no resolution in the file: lengths and areas are not known",
                   "save it with its resolution, or give the sheet's size in the treatment file"});
    return;
  }
  const double dpi = *info.resolution_dpi;
  if (dpi < kSolidsDpi * 0.99) {
    out.push_back(
        {Verdict::doubtful, fmt::format("{:.0f} dpi: too coarse for the edges of print", dpi),
         "scan at 300 dpi at least, at 600 dpi or more where there are halftone screens"});
  } else if (dpi < kScreensDpi * 0.99) {
    out.push_back({Verdict::note, fmt::format("{:.0f} dpi: enough for solid colours", dpi),
                   "scan at 600 dpi or more where there are halftone screens"});
  } else {
    out.push_back({Verdict::good, fmt::format("{:.0f} dpi", dpi), ""});
  }
}

void judge_profile(const colour::Linearisation& linearisation, bool empty, bool target,
                   Findings& out) {
  if (!empty) {
    out.push_back({Verdict::good, fmt::format("ICC profile: {}", linearisation.description()), ""});
  } else if (target) {
    out.push_back({Verdict::note, "no ICC profile; sRGB is assumed, and the target corrects it",
                   "embed the scanner's profile, alike at every stage"});
  } else {
    out.push_back({Verdict::doubtful, "no ICC profile, and no target asked for: sRGB is a guess",
                   "embed the scanner's profile, or lay a target beside the sheet and name it with "
                   "--target"});
  }
}

void judge_clipping(const Clipping& clipped, Findings& out) {
  const auto judge = [&](double share, const char* end, const char* advice) {
    if (share <= kClippedNote) return false;
    out.push_back({share > kClippedDoubt ? Verdict::doubtful : Verdict::note,
                   fmt::format("{:.1f} % of the picture is clipped {}", 100 * share, end), advice});
    return true;
  };
  const bool bright = judge(clipped.bright, "in the lights",
                            "lower the exposure until the whitest patch stays below the end");
  const bool dark = judge(clipped.dark, "in the darks",
                          "set the black point to 0 and switch off automatic contrast");
  if (!bright && !dark) {
    out.push_back({Verdict::good,
                   clipped.backing ? "nothing clipped but the backing" : "nothing clipped", ""});
  }
}

void judge_pixels(const scan::Info& info, const PixelFacts& facts,
                  const colour::Linearisation& linearisation, Findings& out) {
  judge_depth(info, comb(facts, info.bit_depth), out);
  judge_clipping(clipping(facts), out);
  const double blocks = block_grid(facts);
  if (info.format != scan::Format::jpeg && blocks > kBlocks) {
    out.push_back(
        {Verdict::note,
         fmt::format("blocks of 8 × 8 pixels show (steps {:.0f} % stronger there): it was a "
                     "JPEG once",
                     100 * blocks),
         "scan straight to TIFF or PNG"});
  }
  if (const auto noise = flat_noise(facts, linearisation)) {
    if (*noise < kNoNoise) {
      out.push_back({Verdict::note, fmt::format("flat areas hold no noise (L* ± {:.2f})", *noise),
                     "switch off noise and dust removal in the scanner's software"});
    } else {
      out.push_back(
          {*noise > kNoise ? Verdict::note : Verdict::good,
           fmt::format(
               "noise of single pixels in the flattest areas: L* ± {:.2f}{}", *noise,
               *noise > kNoise ? ", more than 1.6; the paper's own texture counts too" : ""),
           *noise > kNoise ? "let the lamp warm up, clean the glass, or scan at a higher resolution"
                           : ""});
    }
  }
}

void judge_light(const PixelFacts& facts, const colour::Linearisation& linearisation,
                 Findings& out) {
  const auto slope = light_slope(facts, linearisation);
  if (!slope) {
    out.push_back({Verdict::note,
                   "evenness of light can't be told: no even light area spans half of the frame",
                   ""});
    return;
  }
  const std::string what =
      fmt::format("light over the lightest area varies by {:.1f} % across and {:.1f} % along",
                  100 * slope->across, 100 * slope->along);
  if (std::max(slope->across, slope->along) < kSlope) {
    out.push_back({Verdict::good, what, ""});
  } else {  // one scan cannot tell a lamp from toned paper: no more than a note
    out.push_back({Verdict::note, what + ", from the lamp, a cockled sheet or the paper itself",
                   "scan once more with the sheet turned by half: a slope that stays where it was "
                   "in the frame is the scanner's"});
  }
}

void judge_target_in(const scan::Scan& scan, const colour::Linearisation& linearisation,
                     const target::Reference& reference, Findings& out) {
  const target::Located located = target::find_target(scan, reference);
  out.push_back({Verdict::good,
                 fmt::format("target found, its first patch at ({:.0f}, {:.0f}) px",
                             located.corners[0].x, located.corners[0].y),
                 ""});
  for (const std::string& warning : located.warnings) out.push_back({Verdict::note, warning, ""});
  const auto readings = target::read_patches(scan, linearisation, located);
  const target::Fit fit =
      target::fit_target(reference, readings, linearisation, scan.info().file.string());
  const auto spread = target::measure_point_spread(scan, fit.colour, located);
  const Findings said = judge_target(reference, readings, fit, spread);
  out.insert(out.end(), said.begin(), said.end());
}

void judge_dots(const scan::Scan& scan, const PixelFacts& facts,
                const colour::Linearisation& linearisation, Findings& out) {
  const auto& dpi = scan.info().resolution_dpi;
  if (!dpi) return;
  if (const auto dots = find_dots(scan, facts, linearisation)) out.push_back(judge(*dots, *dpi));
}

/// Warnings of the file that no judgement above repeats.
void pass_on(const scan::Info& info, Findings& out) {
  for (const std::string& warning : info.warnings) {
    const auto says = [&](const char* word) { return warning.find(word) != std::string::npos; };
    if (says("alpha") || says("page") || says("gAMA") || says("placeholder") || says("cannot be")) {
      out.push_back({Verdict::note, warning, ""});
    }
  }
}

}  // namespace

Findings vet_scan(const std::filesystem::path& file, const target::Reference* reference) {
  Findings out;
  try {
    const auto scan = scan::Scan::open(file);
    const scan::Info& info = scan.info();
    const auto linearisation = colour::Linearisation::from_profile(info.icc, file.string());
    const PixelFacts facts = look_at_pixels(scan);
    judge_profile(linearisation, info.icc.empty(), reference != nullptr, out);
    judge_resolution(info, out);
    judge_pixels(info, facts, linearisation, out);
    judge_light(facts, linearisation, out);
    judge_dots(scan, facts, linearisation, out);
    pass_on(info, out);
    if (reference != nullptr) judge_target_in(scan, linearisation, *reference, out);
  } catch (const Error& error) {
    if (error.code() != ExitCode::scan) throw;
    out.push_back({Verdict::unusable, error.what(), ""});
  }
  return out;
}

}  // namespace inkwane::vet
