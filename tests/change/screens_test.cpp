// Protects strength kept of screens: that the fading of dots is measured and not averaged away,
// that screens are told from everything that is none, and that what cannot be measured is refused.
#include <random>

#include <catch2/catch.hpp>
#include <opencv2/imgproc.hpp>

#include "change/screen_sheet.hpp"
#include "tests/change/painted_screen.hpp"

using namespace inkwane;
using namespace inkwane::change;
using namespace inkwane::test;
using Catch::Matchers::Contains;
using Catch::Matchers::WithinAbs;

namespace {

constexpr double kInch = 25.4;

target::PointSpread spread_of(const ScreenPainting& p) {
  return {{p.blur_px, p.blur_px}, 0.03 * p.blur_px, 0};
}

Eigen::Vector3d vector_of(const cv::Vec3d& v) {
  return {v[0], v[1], v[2]};
}

ScreenStage read_stage(const ScreenPainting& p, const std::vector<Lattice>& lattices) {
  const auto spread = spread_of(p);
  return {ScreenSpectrum(paint_screens(p)).read(lattices, spread), vector_of(p.paper),
          spread.u_sigma_px, 0};
}

struct Measured {
  std::vector<Lattice> lattices;
  std::vector<double> coverage;
  ScreenVerdict verdict;
};

/// Two stages of one place, alone on its sheet or beside solids (reflectance against the paper).
Measured measure(const ScreenPainting& before, const ScreenPainting& after,
                 const std::vector<Eigen::Vector3d>& solids = {}) {
  Measured result;
  result.lattices = ScreenSpectrum(paint_screens(before)).find(before.dpi).found;
  if (result.lattices.size() != before.screens.size()) return result;
  FirstLook look{read_stage(before, result.lattices), {}};
  for (const Lattice& l : result.lattices)
    look.period_mm.push_back(kInch / (l.frequency() * before.dpi));
  const LearntSheet learnt = learn_sheet({look}, solids);
  const ScreenModel model(look.stage, look.period_mm, learnt.spread, learnt.of_region[0]);
  result.coverage = model.coverage();
  result.verdict = model.kept(look.stage, read_stage(after, result.lattices));
  return result;
}

/// What the averaged colour would say, by K/S of its channels.
double averaged(const ScreenPainting& before, const ScreenPainting& after) {
  const auto strength = [](const ScreenPainting& p) {
    const cv::Scalar mean = cv::mean(paint_screens(p).sharp);
    double sum = 0;
    for (int c = 0; c < 3; ++c) {
      const auto ks = [](double r) { return (1 - r) * (1 - r) / (2 * r); };
      sum += ks(mean[c]) - ks(p.paper[c]);
    }
    return sum;
  };
  return strength(after) / strength(before);
}

/// The painting's first ink as a solid, against its paper.
Eigen::Vector3d solid_of(const ScreenPainting& p) {
  Eigen::Vector3d solid;
  for (int c = 0; c < 3; ++c) {
    const double paper = p.paper[c],
                 ks = (1 - paper) * (1 - paper) / (2 * paper) + p.screens[0].ks[c];
    solid[c] = (1 + ks - std::sqrt(ks * ks + 2 * ks)) / paper;
  }
  return solid;
}

ScreenPainting faded(ScreenPainting p, double kept) {
  p.kept = kept;
  p.paper *= 1.03;  // the paper became lighter
  p.seed = 2;
  return p;
}

/// Mid-tones of a picture without any screen.
cv::Mat flat(int side, double noise, unsigned seed = 3) {
  cv::Mat picture(side, side, CV_32FC3);
  std::mt19937 random(seed);
  std::normal_distribution<float> normal(0.4F, static_cast<float>(noise));
  for (int j = 0; j < side; ++j) {
    for (int i = 0; i < side; ++i) {
      for (int c = 0; c < 3; ++c) picture.at<cv::Vec3f>(j, i)[c] = normal(random);
    }
  }
  return picture;
}

/// The picture's blocks of 8 × 8 transformed and rounded, as JPEG does (ITU-T T.81), by one step.
cv::Mat blocked(const cv::Mat& picture, double step) {
  std::vector<cv::Mat> planes;
  cv::split(picture, planes);
  for (cv::Mat& plane : planes) {
    for (int y = 0; y + 8 <= plane.rows; y += 8) {
      for (int x = 0; x + 8 <= plane.cols; x += 8) {
        cv::Mat block = plane(cv::Rect(x, y, 8, 8)), transformed;
        cv::dct(block, transformed);
        transformed.forEach<float>([step](float& v, const int*) {
          v = static_cast<float>(step * std::round(static_cast<double>(v) / step));
        });
        cv::idct(transformed, block);
      }
    }
  }
  cv::Mat result;
  cv::merge(planes, result);
  return result;
}

std::size_t screens_in(const cv::Mat& picture, double dpi) {
  return ScreenSpectrum(region_of(picture)).find(dpi).found.size();
}

/// By what the place tells of its own law.
change::Share share(const change::ScreenVerdict& verdict) {
  return change::share_kept(
      *verdict.estimates, change::odds_of_film(change::evidence_of_film(*verdict.estimates), 0, 0));
}

}  // namespace

// Bars of docs/method.md, "Accuracy to reach".
TEST_CASE("one screen's fading is measured, where the averaged colour hides it") {
  double hidden = 0;
  for (const double lpi : {65.0, 85.0, 133.0}) {
    for (const double coverage : {0.25, 0.5, 0.7}) {
      for (const bool lozenge : {false, true}) {
        ScreenPainting before;
        before.screens = {{lpi, 31, coverage, lozenge}};
        const ScreenPainting after = faded(before, 0.7);
        // A solid of the ink tells how far light spreads, and how dark the dots are.
        const Measured found = measure(before, after, {solid_of(before)});
        CAPTURE(lpi, coverage, lozenge);
        REQUIRE(found.lattices.size() == 1);
        CHECK_THAT(found.lattices[0].frequency() * before.dpi, WithinAbs(lpi, 0.003 * lpi));
        CHECK_THAT(found.lattices[0].angle_degrees(), WithinAbs(31, 0.5));
        CHECK_THAT(found.coverage[0], WithinAbs(coverage, 0.05));
        REQUIRE(found.verdict.estimates);
        CHECK_THAT(share(found.verdict).value, WithinAbs(0.7, 0.04));
        CHECK(share(found.verdict).ci95[0] <= 0.7);
        CHECK(share(found.verdict).ci95[1] >= 0.7);
        CHECK(share(found.verdict).ci95[1] - share(found.verdict).ci95[0] < 0.5);
        hidden = std::max(hidden, std::abs(averaged(before, after) - 0.7));
      }
    }
  }
  CHECK(hidden > 0.08);  // else these screens would test nothing
}

TEST_CASE("two screens are told apart and measured together") {
  ScreenPainting before;
  before.side_px = 200;
  before.screens = {{85, 75, 0.45, false, {3, 1.5, 0.2}}, {85, 45, 0.35, false, {0.3, 2.5, 2}}};
  const Measured found = measure(before, faded(before, 0.75));
  REQUIRE(found.lattices.size() == 2);
  REQUIRE(found.verdict.estimates);
  CHECK_THAT(share(found.verdict).value, WithinAbs(0.75, 0.05));
  CHECK(share(found.verdict).ci95[0] <= 0.75);
  CHECK(share(found.verdict).ci95[1] >= 0.75);
}

TEST_CASE("films on the paper: the interval or the value is the film's") {
  ScreenPainting before;
  before.film = true;
  before.screens = {{85, 15, 0.5, false}};
  const Measured found = measure(before, faded(before, 0.75));
  REQUIRE(found.verdict.estimates);
  CHECK_THAT(found.verdict.estimates->film.value, WithinAbs(0.75, 0.04));
  CHECK(share(found.verdict).ci95[0] <= 0.75);
  CHECK(share(found.verdict).ci95[1] >= 0.75);
}

TEST_CASE("a stain between the dots is not read as kept ink, and is said") {
  ScreenPainting before;
  before.screens = {{85, 15, 0.4, false}};
  ScreenPainting after = faded(before, 0.7);
  after.stain = 0.08;
  const Measured found = measure(before, after);
  REQUIRE(found.verdict.estimates);
  CHECK_THAT(share(found.verdict).value, WithinAbs(0.7, 0.06));
  REQUIRE_FALSE(found.verdict.warnings.empty());
  CHECK_THAT(found.verdict.warnings.back(), Contains("darker"));
}

TEST_CASE("a screen keeps its figures through the blocks of a JPEG") {
  ScreenPainting before;
  before.screens = {{85, 22, 0.45, false}};
  const ScreenPainting after = faded(before, 0.7);
  const auto read = [&](const ScreenPainting& p, const std::vector<Lattice>& lattices) {
    const ScreenSpectrum spectrum(region_of(blocked(paint_screens(p).sharp, 0.02)));
    return ScreenStage{spectrum.read(lattices, spread_of(p)), vector_of(p.paper), 0.01, 0};
  };
  const auto lattices =
      ScreenSpectrum(region_of(blocked(paint_screens(before).sharp, 0.02))).find(300).found;
  REQUIRE(lattices.size() == 1);
  const ScreenModel model(read(before, lattices), {kInch / 85}, {}, {});
  const ScreenVerdict verdict = model.kept(read(before, lattices), read(after, lattices));
  REQUIRE(verdict.estimates);
  CHECK_THAT(share(verdict).value, WithinAbs(0.7, 0.06));
}

TEST_CASE("what is no screen is not taken for one") {
  for (const double dpi : {300.0, 600.0}) {
    CAPTURE(dpi);
    CHECK(screens_in(flat(200, 0.004), dpi) == 0);
    SECTION("textured paper") {
      cv::Mat fibres = flat(200, 0.1);
      cv::GaussianBlur(fibres, fibres, {}, 2.5);
      CHECK(screens_in(fibres, dpi) == 0);
    }
    SECTION("type") {
      cv::Mat type = flat(240, 0.004);
      std::mt19937 random(5);
      std::uniform_int_distribution<int> place(0, 230), length(3, 12);
      for (int line = 10; line < 240; line += 22) {
        for (int x = 4; x < 230; x += 4 + length(random) / 2) {
          const int tall = length(random);
          cv::rectangle(type, cv::Rect(x, line, 2, tall), cv::Scalar::all(0.05), cv::FILLED);
          cv::line(type, {x, line + tall}, {x + length(random), line + tall / 2},
                   cv::Scalar::all(0.05), 1, cv::LINE_AA);
        }
      }
      CHECK(screens_in(type, dpi) == 0);
    }
    SECTION("blocks of a JPEG") {
      CHECK(screens_in(blocked(flat(200, 0.02), 0.08), dpi) == 0);
      cv::Mat gradient = flat(200, 0.003);
      for (int j = 0; j < 200; ++j) {
        for (int i = 0; i < 200; ++i)
          gradient.at<cv::Vec3f>(j, i) += cv::Vec3f::all(0.001F * static_cast<float>(i + j));
      }
      CHECK(screens_in(blocked(gradient, 0.08), dpi) == 0);
    }
    SECTION("lines, which have one direction") {
      cv::Mat lines = flat(200, 0.004);
      for (int j = 0; j < 200; ++j) {
        for (int i = 0; i < 200; ++i) {
          lines.at<cv::Vec3f>(j, i) += cv::Vec3f::all(
              0.1F * static_cast<float>(std::sin(2 * CV_PI * 0.25 * (0.9 * i + 0.43 * j))));
        }
      }
      CHECK(screens_in(lines, dpi) == 0);
    }
  }
}

TEST_CASE("three screens are more than can be told apart") {
  ScreenPainting p;
  p.side_px = 240;
  p.screens = {{85, 75, 0.4, false, {3, 1.5, 0.2}},
               {85, 45, 0.35, false, {0.3, 2.5, 2}},
               {85, 15, 0.4, false, {0.6, 0.6, 3}}};
  CHECK(ScreenSpectrum(paint_screens(p)).find(p.dpi).more);
}

TEST_CASE("what cannot be measured is refused, with what to do") {
  ScreenPainting before;
  before.screens = {{85, 31, 0.4, false}};
  const auto lattices = ScreenSpectrum(paint_screens(before)).find(300).found;
  REQUIRE(lattices.size() == 1);
  const ScreenStage good = read_stage(before, lattices);
  const ScreenModel model(good, {kInch / 85}, {}, {});
  REQUIRE(model.kept(good, good).estimates);
  const auto refused = [&](const ScreenStage& from, const ScreenStage& to) {
    const ScreenVerdict verdict = model.kept(from, to);
    CHECK_FALSE(verdict.estimates);
    REQUIRE(verdict.warnings.size() == 1);
    return verdict.warnings[0];
  };
  ScreenStage bad = good;
  bad.reading.clipped = 0.02;
  CHECK_THAT(refused(good, bad), Contains("clipped"));
  bad = good;
  bad.overshoot = 0.05;
  CHECK_THAT(refused(good, bad), Contains("sharpen"));
  bad = good;
  bad.reading.periods = 6;
  CHECK_THAT(refused(bad, good), Contains("larger"));
  bad = good;
  bad.reading.peaks[0].transfer = {0.15, 0.15};
  CHECK_THAT(refused(good, bad), Contains("600 dpi"));
  bad = good;
  for (Eigen::Vector3d& a : bad.reading.peaks[0].amplitude) a *= 3;
  CHECK_THAT(refused(bad, good), Contains("black dots"));
}

TEST_CASE("an unchanged screen has kept everything") {
  ScreenPainting before;
  before.screens = {{85, 31, 0.4, false}};
  ScreenPainting after = before;
  after.seed = 7;
  const Measured found = measure(before, after);
  REQUIRE(found.verdict.estimates);
  CHECK_THAT(share(found.verdict).value, WithinAbs(1, 0.01));
}

TEST_CASE("solids of other inks tell nothing of a screen") {
  ScreenPainting before;
  before.screens = {{85, 31, 0.4, false}};
  const auto lattices = ScreenSpectrum(paint_screens(before)).find(300).found;
  const FirstLook look{read_stage(before, lattices), {kInch / 85}};
  const LearntSheet learnt = learn_sheet({look}, {{0.9, 0.5, 0.1}, {0.1, 0.1, 0.1}});
  CHECK_FALSE(learnt.of_region[0].inks[0]);
  CHECK(learnt.of_region[0].solids.size() == 2);
  CHECK_THAT(learnt.spread.mm, WithinAbs(0.05, 0.002));
  CHECK_THAT(learnt.spread.u_mm, WithinAbs(0.02, 0.002));
}

TEST_CASE("a solid of the ink tells how far light spreads") {
  ScreenPainting before;
  before.spread_mm = 0.07;
  before.screens = {{85, 31, 0.4, false}};
  const auto lattices = ScreenSpectrum(paint_screens(before)).find(300).found;
  const FirstLook look{read_stage(before, lattices), {kInch / 85}};
  const LearntSheet learnt = learn_sheet({look}, {solid_of(before), {0.9, 0.5, 0.1}});
  REQUIRE(learnt.of_region[0].inks[0]);
  CHECK_THAT(learnt.spread.mm, WithinAbs(0.07, 0.01));
  CHECK(learnt.spread.u_mm < 0.01);
}

TEST_CASE("the window is cut from where most of the region lies") {
  region::Mask mask;
  mask.bounds = {10, 20, 300, 100};
  mask.inside = cv::Mat(100, 300, CV_8UC1, cv::Scalar(0));
  mask.inside(cv::Rect(200, 0, 100, 100)).setTo(255);
  mask.inside(cv::Rect(0, 40, 200, 5)).setTo(255);
  const cv::Rect part = fullest_part(mask, 80);
  CHECK(part.size() == cv::Size(80, 80));
  CHECK(part.x >= 200 + 10);
  CHECK(part.br().x <= 310);
  CHECK(fullest_part(mask, 1000) == mask.bounds);
}
