#include <cmath>

#include "simulate/demo.hpp"
#include "simulate/forms.hpp"

namespace inkwane::simulate {
namespace {

// Screens of the cover: one ruling, each plate at its own angle.
constexpr double kLpi = 85;
constexpr double kYellowAngle = 0, kBlueAngle = 75, kRedAngle = 45;
constexpr double kKeyLine = 0.28;

class Cover {
 public:
  explicit Cover(Scene& scene) : scene_(scene) {}

  void put(Area area) { scene_.recto.push_back(std::move(area)); }
  void mark(const char* id, const char* name, const char* role, const char* under,
            Polygon outline) {
    scene_.regions.push_back({id, name, "recto", role, under, std::move(outline)});
  }

  /// A form in front of all before it, its key line last.
  void object(const Polygon& form, const std::vector<Area>& fills) {
    put(left_out(form));
    for (Area fill : fills) {
      fill.outline_mm = form;
      put(fill);
    }
    put(line(form, "black", kKeyLine));
  }

  /// Green of two overprinted screens.
  [[nodiscard]] static std::vector<Area> green(double yellow = 0.95, double blue = 0.66) {
    return {screened({}, "yellow", kLpi, kYellowAngle, yellow),
            screened({}, "blue", kLpi, kBlueAngle, blue)};
  }

  void green_leaf(cv::Point2d foot, double degrees, double length, double width, double bend) {
    object(leaf(foot, degrees, length, width, 0.5, bend), green());
    // The vein: a leaf as thin as a line.
    put(solid(leaf(foot, degrees, length * 0.9, 0.5, 0.3, bend * 0.9), "black"));
  }

  void stem(cv::Point2d from, cv::Point2d control, cv::Point2d to, double width) {
    object(ribbon(from, control, to, width * 1.3, width), green(0.85, 0.62));
  }

  void sky_and_ground();
  void dahlia(cv::Point2d centre, double radius);
  void sunflower(cv::Point2d centre, double radius);
  void tulip(cv::Point2d foot, double size, double turn);
  void pumpkin(cv::Point2d centre, double width);
  void carrots(cv::Point2d top);
  void cabbage(cv::Point2d centre, double radius);
  void frame_and_letters();

 private:
  Scene& scene_;
};

void Cover::sky_and_ground() {
  // A panel with an arched top.
  Polygon panel{{24, 190}, {24, 96}};
  for (int i = 0; i <= 48; ++i) {
    const double angle = 3.14159265358979 * (1 + i / 48.0);
    panel.push_back({95 + 71 * std::cos(angle), 96 + 32 * std::sin(angle)});
  }
  panel.push_back({166, 190});
  put(screened(panel, "blue", kLpi, kBlueAngle, 0.2));
  object(ellipse({43, 84}, 7, 7), {screened({}, "yellow", kLpi, kYellowAngle, 0.6)});
  Polygon hill{{24, 190}, {24, 150}};
  for (int i = 0; i <= 40; ++i) {
    const double x = 24 + 142 * i / 40.0;
    hill.push_back({x, 148 - 7 * std::sin((x - 20) / 24) - 4 * std::sin((x - 60) / 11)});
  }
  hill.push_back({166, 190});
  put(left_out(hill));
  put(screened(hill, "yellow", kLpi, kYellowAngle, 0.55));
  put(screened(hill, "blue", kLpi, kBlueAngle, 0.24));
  for (int row = 0; row < 6; ++row) {  // furrows
    const double y = 156 + 6.0 * row;
    put(line({{24, y}, {60, y - 2.5}, {110, y + 1.5}, {166, y - 2}}, "black", 0.18, false));
  }
  put(line(panel, "black", 0.9));
}

void Cover::dahlia(cv::Point2d centre, double radius) {
  struct Ring {
    double radius;
    int petals;
    double offset;
  };
  for (const Ring& ring :
       {Ring{1, 16, 0}, Ring{0.76, 14, 10}, Ring{0.52, 11, 4}, Ring{0.32, 8, 15}}) {
    for (int i = 0; i < ring.petals; ++i) {
      const double degrees = ring.offset + 360.0 * i / ring.petals;
      const double length = radius * ring.radius;
      const Polygon petal =
          leaf(centre, degrees, length, 8.2 * length / 24 * 16 / ring.petals * 1.5, 0.66);
      object(petal, {solid({}, "red")});
    }
  }
  object(ellipse(centre, radius * 0.13, radius * 0.13), {solid({}, "yellow")});
}

void Cover::sunflower(cv::Point2d centre, double radius) {
  for (int ring = 0; ring < 2; ++ring) {
    for (int i = 0; i < 17; ++i) {
      const double degrees = 360.0 * (i + 0.5 * ring) / 17;
      const double length = radius * (1 - 0.12 * ring);
      object(leaf(centre, degrees, length, 7.4, 0.68), {solid({}, "yellow")});
      put(solid(leaf(centre, degrees, length * 0.8, 0.4, 0.4), "black"));
    }
  }
  object(ellipse(centre, radius * 0.42, radius * 0.42), {solid({}, "brown")});
  for (int i = 0; i < 90; ++i) {  // seeds, by the golden angle
    const double angle = 2.39996 * i, r = radius * 0.38 * std::sqrt((i + 0.5) / 90);
    put(solid(ellipse(centre + cv::Point2d(std::cos(angle), std::sin(angle)) * r, 0.33, 0.33),
              "black"));
  }
}

void Cover::tulip(cv::Point2d foot, double size, double turn) {
  for (const double aside : {-26.0, 26.0}) {
    object(leaf(foot, turn + aside * 0.55, size, size * 0.55, 0.5, -aside / 160),
           {solid({}, "red")});
  }
  object(leaf(foot, turn, size * 0.97, size * 0.62, 0.45),
         {screened({}, "red", kLpi, kRedAngle, 0.7),
          screened({}, "yellow", kLpi, kYellowAngle, 0.92)});
}

void Cover::pumpkin(cv::Point2d centre, double width) {
  const double half = width / 2;
  for (const double at : {-0.62, 0.62, -0.36, 0.36, 0.0}) {
    const double broad = half * (0.46 - 0.12 * std::abs(at));
    object(ellipse({centre.x + at * half, centre.y}, broad, half * (0.74 - 0.2 * at * at)),
           {screened({}, "orange", kLpi, kRedAngle, 0.72)});
  }
  object(ribbon({centre.x, centre.y - half * 0.66}, {centre.x + 1, centre.y - half * 0.9},
                {centre.x + 5, centre.y - half}, 4, 2.6),
         green(0.85, 0.55));
}

void Cover::carrots(cv::Point2d top) {
  for (const double turn : {128.0, 66.0, 98.0}) {
    for (const double aside : {-34.0, -12.0, 10.0, 32.0}) {
      object(leaf(top, turn + 180 + aside, 17 - 0.12 * std::abs(aside), 3.6, 0.6),
             green(0.92, 0.55));
    }
    object(leaf(top, turn, 31, 9.5, 0.2), {solid({}, "orange")});
    for (int ring = 1; ring < 5; ++ring) {
      const double angle = turn * 3.14159265358979 / 180, along = 3.5 + 4.2 * ring;
      const cv::Point2d dir(std::cos(angle), std::sin(angle)), across(-dir.y, dir.x);
      put(line({top + dir * along - across * 1.2, top + dir * (along + 0.5) + across * 1.4},
               "black", 0.2, false));
    }
  }
}

void Cover::cabbage(cv::Point2d centre, double radius) {
  for (int i = 0; i < 9; ++i) {
    object(leaf(centre + cv::Point2d(0, radius * 0.25), 172 + 196.0 * i / 8, radius * 1.05,
                radius * 0.95, 0.7),
           green(0.85, 0.42));
    put(solid(
        leaf(centre + cv::Point2d(0, radius * 0.25), 172 + 196.0 * i / 8, radius * 0.95, 0.5, 0.4),
        "black"));
  }
  object(ellipse(centre, radius * 0.66, radius * 0.62), green(0.8, 0.26));
  for (const double bend : {-0.3, -0.12, 0.12, 0.3}) {
    put(solid(leaf(centre + cv::Point2d(0, radius * 0.6), 270, radius * 1.05, 0.4, 0.5, bend),
              "black"));
  }
}

void Cover::frame_and_letters() {
  const auto centre = Text::Align::centre;
  put(line(box(8, 8, 174, 246), "black", 1.1));
  put(line(box(10.4, 10.4, 169.2, 241.2), "black", 0.35));
  for (const cv::Point2d corner :
       {cv::Point2d(8, 8), cv::Point2d(172, 8), cv::Point2d(8, 244), cv::Point2d(172, 244)}) {
    const Polygon square = box(corner.x, corner.y, 10, 10);
    put(left_out(square));
    put(solid(square, "black"));
    const cv::Point2d middle = corner + cv::Point2d(5, 5);
    for (int i = 0; i < 4; ++i) put(left_out(leaf(middle, 45 + 90.0 * i, 4.6, 1.7, 0.6)));
  }
  put(lettering({95, 13.5}, "MARLOW VALE", 16.5, "DejaVu Serif Bold", centre));
  put(lettering({95, 33.5}, "N U R S E R I E S", 8.6, "DejaVu Serif Bold", centre));
  for (const double x : {20.0, 141.5}) {
    put(solid(box(x, 38.6, 28.5, 0.9), "red"));
    put(solid(box(x, 40.4, 28.5, 0.35), "black"));
  }
  put(lettering({95, 47.2}, "Flower & vegetable seeds, bulbs and fruit trees", 4.3, "DejaVu Serif",
                centre));

  put(solid(box(20, 197, 150, 27), "blue"));
  put(line(box(22, 199, 146, 23), "", 0.45));
  Area reversed = lettering({95, 199.6}, "Seeds · 1931", 15.5, "DejaVu Serif Bold", centre);
  reversed.ink = "";
  put(reversed);
  put(lettering({95, 229.5}, "Fifty-second year of issue · free on application", 4.1,
                "DejaVu Serif", centre));
  put(lettering({95, 237.5}, "THE OLD WALLED GARDENS · MARLOW VALE", 4.6, "DejaVu Serif Bold",
                centre));
}

}  // namespace

void print_cover(Scene& scene) {
  Cover cover(scene);
  cover.sky_and_ground();
  cover.stem({96, 178}, {92, 150}, {95, 112}, 2.6);
  cover.stem({70, 176}, {52, 150}, {52, 116}, 2.2);
  cover.stem({75, 168}, {70, 150}, {74, 132}, 2);
  cover.stem({112, 178}, {140, 150}, {138, 116}, 2.8);
  cover.green_leaf({94, 156}, 205, 32, 11, -0.2);
  cover.green_leaf({95, 150}, -28, 30, 10, 0.2);
  cover.green_leaf({128, 142}, -10, 32, 13, 0.25);
  cover.green_leaf({126, 150}, 170, 26, 9, -0.25);
  cover.green_leaf({57, 146}, 215, 30, 8, 0.3);
  cover.green_leaf({56, 144}, -60, 34, 7, 0.25);
  cover.tulip({52, 116}, 25, -97);
  cover.tulip({74, 133}, 17, -80);
  cover.sunflower({139, 112}, 22);
  cover.dahlia({95, 100}, 25);
  cover.cabbage({136, 170}, 19);
  cover.carrots({101, 160});
  cover.pumpkin({57, 171}, 50);
  cover.frame_and_letters();

  // Regions keep clear of key lines.
  cover.mark("petals", "red of the dahlia's petals", "ink", "", ellipse({93.1, 84.7}, 1.9, 1.6));
  cover.mark("pumpkin", "orange screen of the pumpkin", "ink", "", ellipse({57, 172}, 8, 11));
  cover.mark("leaf", "green of the leaf, two screens", "ink", "", ellipse({141.8, 138.4}, 5, 2.1));
  cover.mark("sunflower", "yellow of the sunflower", "ink", "", ellipse({137, 95.8}, 1.4, 1.8));
  cover.mark("band", "blue of the band", "ink", "", box(24.5, 201.5, 10, 18));
  cover.mark("bare-paper", "bare paper beside the title", "paper", "", box(22, 52.5, 26, 8));
}

void add_touches(Scene& scene) {
  Cover cover(scene);
  // A red flourish on bare paper under the title.
  const Polygon flourish = ribbon({124, 58}, {146, 52.5}, {168, 58}, 3.4, 2.6);
  cover.put(solid(flourish, "added-red", 0.7));
  cover.mark("flourish", "red flourish under the title", "added", "paper",
             ribbon({124.4, 57.9}, {146, 52.6}, {167.6, 57.9}, 3, 2.2));
  // Blue on the pumpkin.
  cover.put(solid(ellipse({40.5, 173}, 5, 9, 8), "added-blue", 0.55));
  cover.mark("blue-on-pumpkin", "blue shade on the pumpkin", "added", "pumpkin",
             ellipse({40.9, 173}, 4.4, 8.2, 8));
  // Violet in the margin.
  cover.put(solid(ellipse({15.2, 120}, 2.9, 8, -6), "added-violet", 0.6));
  cover.mark("violet", "violet dab in the margin", "added", "paper",
             ellipse({15.2, 120}, 2.6, 7.6, -6));
  // Green on the hill and red over the blue band.
  cover.put(solid(ellipse({152, 226.8}, 8, 1.8), "added-green", 0.6));
  cover.mark("green", "green stroke under the band", "added", "paper",
             ellipse({152, 226.8}, 7.6, 1.6));
}

}  // namespace inkwane::simulate
