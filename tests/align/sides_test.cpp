// Protects the pairing of recto and verso: what shows through decides, where it can; a pair that
// does not belong together is not paired.
#include "align/sides.hpp"

#include <cmath>

#include <catch2/catch.hpp>

#include "align/agreement.hpp"
#include "made_sheet.hpp"

using namespace inkwane;
using Catch::Matchers::WithinAbs;

namespace {

const made::State kPlain;

/// Both sides of one sheet, 90 × 110 mm.
struct Sides {
  explicit Sides(Turn how, double share, std::uint64_t picture = 2)
      : turn(how),
        front(made::draw_sheet(90, 110, 1, picture)),
        back(made::draw_sheet(90, 110, 4, picture + 5)) {
    // The verso has text only: its own solids would cover what shines through.
    for (auto& ink : back.inks) ink.rowRange(250, 1700).setTo(0);
    verso_lay.seed = 3;
    verso_lay.tilt_degrees = -0.7;
    verso_lay.shift_mm[0] = 9.5;
    verso_lay.shift_mm[1] = 10.5;
    recto = made::scan_sheet(front, kPlain, recto_lay, {&back, turn, share});
    verso = made::scan_sheet(back, kPlain, verso_lay, {&front, turn, share});
    recto_outline = made::true_outline(front, recto_lay, recto);
    verso_outline = made::true_outline(back, verso_lay, verso);
  }

  [[nodiscard]] align::Pairing pair(Turn declared) const {
    return align::pair_sides({&recto, &recto_outline, "recto.tif", "BT"},
                             {&verso, &verso_outline, "verso.tif", "BT"}, declared);
  }

  /// As if the frame had shown nothing but paper.
  void fill_the_frame() {
    const cv::Rect recto_window(140, 150, 760, 980), verso_window(160, 130, 770, 990);
    recto = made::cut(recto, recto_window);
    verso = made::cut(verso, verso_window);
    recto_at = recto_window.tl();
    verso_at = verso_window.tl();
    for (auto [outline, grid] : {std::pair{&recto_outline, &recto}, {&verso_outline, &verso}}) {
      outline->whole_frame = true;
      outline->sheet = cv::Mat(grid->geometry.size(), CV_8U, cv::Scalar(255));
      const double right = grid->geometry.columns - 0.5, bottom = grid->geometry.rows - 0.5;
      outline->quad = {{-0.5, -0.5}, {right, -0.5}, {right, bottom}, {-0.5, bottom}};
    }
  }

  [[nodiscard]] std::vector<double> errors_mm(const align::Pairing& pairing) const {
    std::vector<double> errors;
    for (int row = 50; row < pairing.to_recto.rows - 50; row += 20) {
      for (int column = 50; column < pairing.to_recto.cols - 50; column += 20) {
        const cv::Point2d cell(column + verso_at.x, row + verso_at.y);
        cv::Point2d p = verso_lay.to_sheet((cell + cv::Point2d(0.5, 0.5)) * 0.1);
        if (p.x < 0 || p.y < 0 || p.x > 90 || p.y > 110) continue;
        if (turn == Turn::side) p.x = 90 - p.x;
        if (turn == Turn::top) p.y = 110 - p.y;
        const cv::Point2d bed = recto_lay.to_bed(p);
        const cv::Vec2f to = pairing.to_recto.at<cv::Vec2f>(row, column);
        errors.push_back(std::hypot((static_cast<double>(to[0]) + recto_at.x + 0.5) * 0.1 - bed.x,
                                    (static_cast<double>(to[1]) + recto_at.y + 0.5) * 0.1 - bed.y));
      }
    }
    return errors;
  }

  Turn turn;
  made::Sheet front, back;
  made::Lay recto_lay, verso_lay;
  grid::Grid recto, verso;
  align::Outline recto_outline, verso_outline;
  cv::Point recto_at, verso_at;
};

}  // namespace

TEST_CASE("what shows through tells how the sheet was turned", "[align][sides]") {
  const Turn turn = GENERATE(Turn::side, Turn::top);
  const Turn declared = GENERATE(Turn::side, Turn::top);
  CAPTURE(to_string(turn), to_string(declared));
  const Sides sides(turn, 0.05);

  const align::Pairing pairing = sides.pair(declared);

  REQUIRE(pairing.turn_seen.has_value());
  CHECK(*pairing.turn_seen == turn);
  CHECK(pairing.warnings.size() == (turn == declared ? 0U : 1U));
  if (turn != declared)
    CHECK_THAT(pairing.warnings[0], Catch::Contains("turned " + to_string(turn)));
  const auto errors = sides.errors_mm(pairing);
  REQUIRE(errors.size() > 1000);
  CHECK(align::quantile(errors, 0.95) < 0.25);
  REQUIRE(pairing.pairing_mm.has_value());
  // A standard uncertainty along one axis holds about half of the distances in the plane.
  CHECK(align::quantile(errors, 0.5) < 1.5 * *pairing.pairing_mm);
  CHECK(*pairing.pairing_mm <= 0.5);
}

TEST_CASE("an opaque sheet is paired by its outline, and its turn is not claimed to be seen",
          "[align][sides]") {
  const Sides sides(Turn::side, 0);
  const align::Pairing pairing = sides.pair(Turn::side);
  CHECK_FALSE(pairing.turn_seen.has_value());
  REQUIRE(pairing.pairing_mm.has_value());
  CHECK(*pairing.pairing_mm >= 0.5);
  CHECK(align::quantile(sides.errors_mm(pairing), 0.95) < 0.2);
  REQUIRE(pairing.warnings.size() == 1);
  CHECK_THAT(pairing.warnings[0], Catch::Contains("outline alone"));
}

TEST_CASE("where no outline tells, what shows through pairs the sides alone", "[align][sides]") {
  const Turn turn = GENERATE(Turn::side, Turn::top);
  CAPTURE(to_string(turn));
  Sides sides(turn, 0.06);
  sides.fill_the_frame();

  const align::Pairing pairing = sides.pair(turn);

  REQUIRE(pairing.turn_seen.has_value());
  CHECK(*pairing.turn_seen == turn);
  CHECK(align::quantile(sides.errors_mm(pairing), 0.5) < 0.5);
  CHECK(align::quantile(sides.errors_mm(pairing), 0.5) < 1.5 * pairing.pairing_mm.value_or(0));
}

TEST_CASE("sides that do not belong together are not paired", "[align][sides]") {
  Sides sides(Turn::side, 0.06);
  SECTION("the verso of another sheet, no outline") {
    Sides other(Turn::side, 0.06, 31);
    sides.verso = other.verso;
    sides.fill_the_frame();
    const align::Pairing pairing = sides.pair(Turn::side);
    CHECK(pairing.to_recto.empty());
    CHECK_FALSE(pairing.turn_seen.has_value());
    CHECK_FALSE(pairing.pairing_mm.has_value());
    REQUIRE(pairing.warnings.size() == 1);
    CHECK_THAT(pairing.warnings[0], Catch::Contains("not paired"));
  }
  SECTION("outlines that differ, nothing showing through") {
    Sides opaque(Turn::side, 0);
    opaque.verso_outline.width_mm += 8;
    const align::Pairing pairing = opaque.pair(Turn::side);
    CHECK(pairing.to_recto.empty());
    REQUIRE(pairing.warnings.size() == 1);
    CHECK_THAT(pairing.warnings[0], Catch::Contains("outlines differ by 8.0 mm"));
  }
  SECTION("one side scanned twice") {
    sides.verso =
        made::scan_sheet(sides.front, kPlain, sides.verso_lay, {&sides.back, Turn::side, 0.06});
    const align::Pairing pairing = sides.pair(Turn::side);
    CHECK(pairing.to_recto.empty());
    REQUIRE(pairing.warnings.size() == 1);
    CHECK_THAT(pairing.warnings[0], Catch::Contains("shows the same side"));
  }
}
