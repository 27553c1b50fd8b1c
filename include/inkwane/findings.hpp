// What an assessment found beside its regions (docs/formats.md, "findings"): what still shows,
// tidelines, places that look like added colour though nobody named them, the sheet's inks, and
// what blotters lifted. Places are in mm from the sheet's top left corner as seen from that side,
// and in pixels of that side's first scan. A number that could not be had is std::nullopt.
#pragma once

#include <array>
#include <optional>
#include <string>
#include <vector>

#include <inkwane/colour.hpp>
#include <inkwane/treatment.hpp>

namespace inkwane::results {

using Number = std::optional<double>;
/// Lower and upper end of a 95 % interval.
using Interval = std::optional<std::array<double, 2>>;

/// A place of one side.
struct Place {
  Side side = Side::recto;
  Point at_mm;                 ///< its middle, from the sheet's top left
  std::vector<Point> outline;  ///< polygon in pixels of the side's first scan
  double area_mm2 = 0;
};

/// One patch of added colour that the eye still sees at a stage; sorted by contrast.
struct StillShows {
  std::string stage;
  std::string region;  ///< id of the region of role `added` it lies in
  Place place;
  LabD50 lab;     ///< as it is
  LabD50 around;  ///< what should be there: paper, or the ink under it as it is now
  double contrast_dE00 = 0;
  Number residual;  ///< share of the added colour that remains here
};

/// A dark line left where liquid dried: a thin curved ridge of gained colour.
struct Tideline {
  std::string from, to;
  Side side = Side::recto;
  std::vector<Point> line;  ///< along its crest, pixels of the side's first scan
  Point at_mm;              ///< its middle
  double length_mm = 0, width_mm = 0;
  double contrast_dE00 = 0;  ///< median along the crest, against both flanks
};

/// A place no region names that looks like added colour; for a person to accept or reject.
struct Suspect {
  std::string id;  ///< "suspect-1" …: as it can be pasted into the treatment file
  Place place;
  LabD50 lab;          ///< at the first stage
  double score = 0;    ///< 0 to 1; the list is sorted by it
  std::string reason;  ///< one sentence
  std::string under;   ///< what lies under it: "paper", or empty where it can't be told
  std::string from,
      to;  ///< the pair of stages whose response gave it away; empty: the first stage alone
};

/// How one of the sheet's inks fared between two stages.
struct InkChange {
  std::string from, to;
  Number mean_kept;
  Interval mean_kept_ci95;
  Point worst_at_mm;  ///< where least was kept
  Number worst_kept;
};

/// One of the sheet's inks, or a steady mixture of them, found by clustering the first stage.
struct SheetInk {
  std::string name;  ///< plain colour words: "dark red"
  Side side = Side::recto;
  LabD50 lab;
  double area_mm2 = 0;
  std::vector<InkChange> changes;
};

/// How much of what a blotter lifted is like one colour of the sheet.
struct BlotterMatch {
  std::string
      region;  ///< id of a region of role `added` or `ink`; empty: an ink found on the sheet
  std::string name;
  Role role = Role::ink;
  double share = 0;  ///< of the absorption lifted
  Interval share_ci95;
};

/// What one blotter lifted.
struct Blotter {
  std::string id, stage, file, sha256;
  LabD50 lab, blank_lab;  ///< mean of the stain, and of the unused part
  double stained_mm2 = 0;
  double absorption_mm2 =
      0;  ///< K/S above the blank × area, summed over the sharpened channels / 3
  Interval absorption_mm2_ci95;
  std::vector<BlotterMatch> matches;
  Number unexplained;  ///< share of the absorption that no colour of the sheet explains
  std::optional<bool> took_original;  ///< null: can't be told
  std::string sentence;               ///< in plain words
  std::vector<std::string> warnings;
};

/// The smallest that would have been found, for a search that found nothing as for one that did.
struct DetectionLimit {
  std::string what;  ///< "suspects", "tidelines", "still_shows", "bleed_through"
  Side side = Side::recto;
  std::string from, to;      ///< empty where one stage alone was searched
  double contrast_dE00 = 0;  ///< at the size below
  double area_mm2 = 0;       ///< of a compact patch; for tidelines 0
  double length_mm = 0;      ///< of a line
};

/// A picture of one side on which the suspects are outlined.
struct SuspectsPicture {
  Side side = Side::recto;
  std::string file;  ///< relative to the assessment's folder
};

struct Findings {
  std::vector<StillShows> still_shows;
  std::vector<Tideline> tidelines;
  std::vector<Suspect> suspects;
  std::vector<SheetInk> inks;
  std::vector<Blotter> blotters;
  std::vector<DetectionLimit> limits;
  std::vector<SuspectsPicture> pictures;  ///< one a side with suspects
  std::vector<std::string> warnings;
};

}  // namespace inkwane::results
