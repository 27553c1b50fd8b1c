// Real scans, where INKWANE_REAL_SCANS names a folder that holds them: old colour-printed cards
// digitised twice, at different scales, once recoloured and cropped; both sides of a written leaf.
#include <cmath>
#include <cstdlib>
#include <filesystem>
#include <iostream>
#include <optional>

#include <catch2/catch.hpp>

#include <inkwane/error.hpp>

#include "align/sides.hpp"
#include "align/stages.hpp"

using namespace inkwane;

namespace {

std::optional<std::filesystem::path> folder() {
  const char* const name = std::getenv("INKWANE_REAL_SCANS");
  if (name == nullptr) {
    WARN("INKWANE_REAL_SCANS is not set: not tried on real scans");
    return std::nullopt;
  }
  return name;
}

struct Real {
  explicit Real(const std::filesystem::path& path) : file(path.filename().string()) {
    const auto scan = scan::Scan::open(path);
    const auto& info = scan.info();
    const auto geometry =
        grid::make_geometry(info.width_px, info.height_px, info.resolution_dpi.value_or(300), 0.1);
    auto colour =
        target::ScanColour::uncalibrated(colour::Linearisation::from_profile(info.icc, file));
    grid = grid::make_grid(scan, colour, geometry, 0.5, {});
    outline = align::find_outline(grid, file);
  }
  [[nodiscard]] align::View view() const { return {&grid, &outline, file, "stage"}; }

  std::string file;
  grid::Grid grid;
  align::Outline outline;
};

}  // namespace

TEST_CASE("real: sheets that fill the frame are known to", "[align][real]") {
  const auto data = folder();
  if (!data) return;
  for (const char* name :
       {"card_major_10_old", "card_major_10_recoloured", "card_major_21_old",
        "card_major_21_recoloured", "card_wands_12_old", "leaf_front", "leaf_back"}) {
    CAPTURE(name);
    CHECK(Real(*data / (std::string(name) + ".jpg")).outline.whole_frame);
  }
}

TEST_CASE("real: a recoloured print is aligned, another of its series refused", "[align][real]") {
  const auto data = folder();
  if (!data) return;
  for (const std::string number : {"10", "21"}) {
    CAPTURE(number);
    const Real old(*data / ("card_major_" + number + "_old.jpg")),
        anew(*data / ("card_major_" + number + "_recoloured.jpg"));
    for (const auto& [first, later] : {std::pair{&old, &anew}, {&anew, &old}}) {
      const align::Warp warp = align::align_stage(first->view(), later->view(), {});
      // In pixels of the smaller scan, the recoloured one.
      const double smaller = first == &old ? std::sqrt(warp.stretch_x * warp.stretch_y) : 1.0;
      const auto& geometry = anew.grid.geometry;
      const double px = smaller * geometry.pitch_px / geometry.pitch_mm;
      std::cout << first->file << " and " << later->file << ": held-out places off by "
                << warp.residual_mm_median * px << " px (median), " << warp.residual_mm_p95 * px
                << " px (95 %) of the smaller scan\n";
      CHECK(warp.residual_mm_median * px <= 1.5);
      CHECK(warp.residual_mm_p95 * px <= 4);
    }
  }
  const Real ten(*data / "card_major_10_old.jpg");
  for (const char* other :
       {"card_major_21_old.jpg", "card_major_21_recoloured.jpg", "card_wands_12_old.jpg"}) {
    CAPTURE(other);
    const Real later(*data / other);
    CHECK_THROWS_WITH(align::align_stage(ten.view(), later.view(), {}),
                      Catch::Contains("does not show the same side of the same sheet"));
  }
}

TEST_CASE("real: a written leaf is paired by what shows through alone", "[align][real]") {
  const auto data = folder();
  if (!data) return;
  const Real front(*data / "leaf_front.jpg"), back(*data / "leaf_back.jpg"),
      card(*data / "card_wands_12_old.jpg");
  const align::Pairing there = align::pair_sides(front.view(), back.view(), Turn::side);
  REQUIRE(there.turn_seen == Turn::side);
  REQUIRE(there.pairing_mm.has_value());
  CHECK(*there.pairing_mm < 0.3);
  // From back to front and to the back again: two searches of their own must meet.
  const align::Pairing again = align::pair_sides(back.view(), front.view(), Turn::top);
  REQUIRE(again.turn_seen == Turn::side);
  CHECK(again.warnings.size() == 1);
  double worst = 0;
  for (int row = 300; row < 1800; row += 300) {
    for (int column = 300; column < 1500; column += 300) {
      const cv::Vec2f on_front = there.to_recto.at<cv::Vec2f>(row, column);
      const cv::Point cell(cvRound(on_front[0]), cvRound(on_front[1]));
      if (!cv::Rect({}, again.to_recto.size()).contains(cell)) continue;
      const cv::Vec2f on_back = again.to_recto.at<cv::Vec2f>(cell);
      worst = std::max(worst, std::hypot(static_cast<double>(on_back[0]) - column,
                                         static_cast<double>(on_back[1]) - row) *
                                  0.1);
    }
  }
  std::cout << "leaf: sides paired to " << *there.pairing_mm << " mm; there and back " << worst
            << " mm at worst\n";
  CHECK(worst > 0);
  CHECK(worst < 0.5);

  for (const auto& [recto, verso] : {std::pair{&front, &card}, {&card, &back}, {&front, &front}}) {
    CAPTURE(recto->file, verso->file);
    const align::Pairing pairing = align::pair_sides(recto->view(), verso->view(), Turn::side);
    CHECK(pairing.to_recto.empty());
    CHECK_FALSE(pairing.turn_seen.has_value());
  }
}
