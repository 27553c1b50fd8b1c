// Small sheets made in the test: spectral inks on paper, seen through an aperture, with known
// change. The colours come from spectra, so that nothing of the room under test is taken for
// granted.
#pragma once

#include <array>
#include <cstdint>
#include <list>
#include <map>
#include <string>
#include <vector>

#include "change/change.hpp"

namespace inkwane::test {

enum class InkLaw { kubelka_munk, film };

/// An area of one ink; later ones lie on earlier ones.
struct Paint {
  cv::Rect2d mm;        ///< on the side, from its top left
  std::string ink;      ///< cyan, magenta, yellow, red, blue, black or brown
  double strength = 2;  ///< K/S at the ink's peak; of a film, twice its natural absorbance there
};

struct StageState {
  std::string name;
  std::map<std::string, double> kept;  ///< by ink; missing: 1
  std::map<std::string, double>
      through;           ///< share of an ink's strength on the recto that shows on the verso
  double toning = 0;     ///< change of the paper's own absorption, as a share (negative: lighter)
  cv::Point2d shift_mm;  ///< of the print against where the alignment says it is
  std::vector<Paint> stains;  ///< new at this stage, on the verso
};

struct SheetPlan {
  cv::Size2d size_mm{60, 40};
  InkLaw law = InkLaw::kubelka_munk;
  std::vector<Paint> recto, verso;
  std::vector<StageState> stages{{"BT", {}, {}, 0, {}, {}}, {"AT", {}, {}, 0, {}, {}}};
  double show_through = 0.03;     ///< of light, blurred by 0.5 mm
  double noise = 0.004;           ///< of light in a pixel of 0.085 mm (300 dpi)
  double texture = 0.01;          ///< of the paper's reflectance
  double misfit_mm = 0.02;        ///< as the alignment claims it
  double reading_noise = 0.0002;  ///< of the target's patches; drift between stages comes from it
  bool calibrated = true;
  std::uint64_t seed = 1;
};

/// Both sides of a painted sheet, as they come to `change`. Cells of 0.1 mm, one pixel each.
class PaintedSheet {
 public:
  explicit PaintedSheet(const SheetPlan& plan);
  PaintedSheet(const PaintedSheet&) = delete;
  PaintedSheet& operator=(const PaintedSheet&) = delete;

  void add_region(Side side, const std::string& id, Role role, const cv::Rect2d& mm,
                  const std::string& under = "paper");

  change::SideInput recto, verso;
  /// The verso's view of the recto: turned like a page.
  [[nodiscard]] change::OtherSide behind_verso() const;

  /// Lab of an area of one or more inks at a stage, without aperture, noise or fit.
  [[nodiscard]] LabD50 true_lab(const std::vector<Paint>& layers, std::size_t stage) const;

 private:
  SheetPlan plan_;
  std::list<Region> records_;
  std::list<target::Fit> fits_;
  [[nodiscard]] change::SideInput side_of(Side side) const;
  [[nodiscard]] change::Layer layer(Side side, std::size_t stage) const;
};

/// Region `id`'s change `index`.
[[nodiscard]] const results::RegionChange& change_of(const change::SideOutput& output,
                                                     const std::string& id, std::size_t index = 0);
/// Map of a kind, first pair.
[[nodiscard]] const cv::Mat& map_of(const change::SideOutput& output, const std::string& kind,
                                    const std::string& to = "AT");

}  // namespace inkwane::test
