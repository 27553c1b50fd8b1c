#include "simulate/demo.hpp"
#include "simulate/forms.hpp"

namespace inkwane::simulate {
namespace {

constexpr const char* kWelcome =
    "In sending out our list for the coming season we thank our friends for another year of "
    "generous support. The spring was late and the harvest short, yet every packet offered in "
    "these pages was saved in our own grounds, tested for growth in January, and is warranted "
    "true to name.\n\n"
    "Orders are sent out the day they come to hand. We beg customers to write their names "
    "plainly, and to order early such kinds as are marked with a star, of which the stock is "
    "small.\n\n"
    "SOWING UNDER GLASS. Fill the pans to within a finger of the rim with sifted leaf mould and "
    "sharp sand in equal parts. Water from below, cover with a pane and a sheet of brown paper, "
    "and turn the glass each morning. Prick off when the second leaves are formed.\n\n"
    "SOWING IN THE OPEN. Choose a still day after rain. Draw the drills shallow, line by line, "
    "and scatter thinly: a crowded row never makes good what it has lost. Fine seed wants no "
    "more earth than will hide it.";

constexpr const char* kList =
    "HARDY ANNUALS, per packet\n"
    "Cornflower, deep blue . . . . . . . . 3d\n"
    "Larkspur, mixed  . . . . . . . . . . . . . 3d\n"
    "Marigold, orange king . . . . . . . . . 4d\n"
    "Mignonette, sweet scented . . . . 3d\n"
    "Nasturtium, tall climbing  . . . . . 2d\n"
    "Poppy, scarlet field  . . . . . . . . . . 3d\n"
    "Sunflower, giant yellow  . . . . . . . 4d\n"
    "Sweet pea, twelve sorts . . . . . . . 1s\n\n"
    "KITCHEN GARDEN, per ounce\n"
    "Beet, crimson globe . . . . . . . . . . . 6d\n"
    "Cabbage, early heart . . . . . . . . . . 9d\n"
    "Carrot, long orange  . . . . . . . . . . . 8d\n"
    "Leek, winter giant  . . . . . . . . . . . 10d\n"
    "Onion, straw yellow  . . . . . . . . . . 11d\n"
    "Pumpkin, great round . . . . . . . . . 1s\n"
    "Radish, red and white . . . . . . . . . 5d\n\n"
    "FOR THE BORDER, per dozen\n"
    "Crocus, striped  . . . . . . . . . . . . . . . 6d\n"
    "Daffodil, trumpet  . . . . . . . . . . . . . 1s\n"
    "Snowdrop, single . . . . . . . . . . . . . . 5d\n"
    "Tulip, flame and red . . . . . . . . . . . 1s";

void print_pot(std::vector<Area>& verso) {
  const auto put = [&](Area area) { verso.push_back(std::move(area)); };
  const auto object = [&](const Polygon& form, const Area& fill) {
    put(left_out(form));
    Area filled = fill;
    filled.outline_mm = form;
    put(filled);
    put(line(form, "black", 0.3));
  };
  const Area half = screened({}, "black", 85, 45, 0.22);
  put(screened(ellipse({138, 226}, 32, 5), "black", 85, 45, 0.3));
  for (const double aside : {-64.0, -40.0, -18.0, 6.0, 30.0, 56.0}) {
    object(leaf({138, 196}, -90 + aside, 44 - aside * aside / 220, 11, 0.55, aside / 400), half);
    put(solid(leaf({138, 196}, -90 + aside, 30 - aside * aside / 300, 0.5, 0.4, aside / 440),
              "black"));
  }
  object({{121, 194}, {155, 194}, {149.5, 226}, {126.5, 226}}, solid({}, "brown", 0.8));
  object(box(118.5, 189, 39, 7), solid({}, "brown", 0.8));
}

}  // namespace

void print_inside(Scene& scene) {
  auto& verso = scene.verso;
  const auto centre = Text::Align::centre;
  verso.push_back(line(box(10, 10, 170, 242), "black", 0.5));
  verso.push_back(lettering({95, 15}, "TO OUR FRIENDS", 7.5, "DejaVu Serif Bold", centre));
  verso.push_back(solid(box(60, 26.5, 70, 0.5), "black"));
  verso.push_back(lettering({17, 33}, kWelcome, 3.9, "DejaVu Serif", Text::Align::justified, 74));
  verso.push_back(solid(box(94.8, 34, 0.3, 205), "black"));
  verso.push_back(lettering({99, 33}, kList, 3.9, "DejaVu Serif", Text::Align::left, 78));
  verso.push_back(
      lettering({138, 233}, "Ready for the window-sill.", 3.6, "DejaVu Serif", centre, 70));
  print_pot(verso);

  const auto mark = [&](const char* id, const char* name, const char* role, Polygon outline) {
    scene.regions.push_back({id, name, "verso", role, "", std::move(outline)});
  };
  mark("pot", "brown of the flower pot", "ink", box(129, 200, 17, 22));
  mark("bare-paper-verso", "bare paper of the verso", "paper", box(20, 240, 60, 8));
  // Behind the red flourish: x from the other edge.
  mark("behind-flourish", "behind the red flourish", "watch",
       ribbon({62, 57.1}, {44, 53}, {26, 57.1}, 2, 1.6));
}

}  // namespace inkwane::simulate
