// Shares of colour kept, under both laws of inks, from spectra.
#include "change/strength.hpp"

#include <catch2/catch.hpp>

#include "change/monte_carlo.hpp"
#include "tests/change/painted_sheet.hpp"

using namespace inkwane;
using namespace inkwane::test;
using Catch::Matchers::WithinAbs;

namespace {

/// Colours of an ink on paper, before and after, with small errors, shared between the stages.
change::Colours colours(const std::string& ink, double strength, double kept, double toning,
                        InkLaw law, double error = 0.15) {
  SheetPlan plan;
  plan.size_mm = {2, 2};
  plan.law = law;
  plan.stages[1].kept[ink] = kept;
  plan.stages[1].toning = toning;
  const PaintedSheet sheet(plan);
  const Paint paint{{}, ink, strength};
  change::Colours c;
  c.lab = {sheet.true_lab({paint}, 0), sheet.true_lab({paint}, 1), sheet.true_lab({}, 0),
           sheet.true_lab({}, 1)};
  Eigen::MatrixXd covariance = Eigen::MatrixXd::Identity(12, 12) * error * error * 0.2;
  for (const int pair : {0, 6}) {  // place, then what lies under it: both stages err alike
    for (int i = 0; i < 3; ++i) {
      for (const int p : {0, 3}) {
        for (const int q : {0, 3}) covariance(pair + p + i, pair + q + i) += error * error;
      }
    }
  }
  const Eigen::MatrixXd errors =
      change::correlated(covariance, change::standard_normals(2000, 12, 5));
  for (int p = 0; p < change::kParts; ++p)
    c.errors[static_cast<std::size_t>(p)] = errors.middleCols(3 * p, 3);
  return c;
}

/// What one place tells by itself.
std::optional<change::Share> share_kept(const change::Colours& colours) {
  const auto estimates = change::estimate_share(colours);
  if (!estimates) return std::nullopt;
  return change::share_kept(*estimates,
                            change::odds_of_film(change::evidence_of_film(*estimates), 0, 0));
}

}  // namespace

TEST_CASE("Strength kept of Kubelka–Munk inks") {
  for (const std::string ink : {"cyan", "magenta", "yellow", "red", "blue", "black", "brown"}) {
    for (const double strength : {0.5, 2.0, 6.0}) {
      for (const double kept : {0.35, 0.7, 0.95, 1.0}) {
        const auto share = share_kept(colours(ink, strength, kept, 0, InkLaw::kubelka_munk));
        REQUIRE(share);
        INFO(ink << " " << strength << " kept " << kept << ": " << share->value << " ["
                 << share->ci95[0] << ", " << share->ci95[1] << "]");
        CHECK_THAT(share->value,
                   WithinAbs(kept, 0.03));  // the bands' error is known but from ink to ink
        CHECK(share->ci95[0] <= kept + 0.005);
        CHECK(share->ci95[1] >= kept - 0.005);
      }
    }
  }
}

TEST_CASE("The interval holds the strength kept of film inks as well") {
  int held = 0, all = 0;
  for (const std::string ink : {"cyan", "magenta", "yellow", "red", "blue", "black", "brown"}) {
    for (const double strength : {0.5, 2.0, 4.0}) {
      for (const double kept : {0.35, 0.7, 0.95}) {
        const auto share = share_kept(colours(ink, strength, kept, 0, InkLaw::film));
        REQUIRE(share);
        ++all;
        held += share->ci95[0] <= kept && kept <= share->ci95[1] ? 1 : 0;
      }
    }
  }
  INFO(held << " of " << all);
  CHECK(held >= 0.93 * all);
}

TEST_CASE("A law beyond doubt is taken alone; in doubt the interval allows for the other") {
  const auto estimates = change::estimate_share(colours("red", 4, 0.6, 0, InkLaw::film));
  REQUIRE(estimates);
  const double film = estimates->film.value, km = estimates->kubelka_munk.value;
  CHECK_THAT(film, WithinAbs(0.6, 0.06));
  CHECK(km < film - 0.05);

  const auto sure = change::share_kept(*estimates, 4.0);
  CHECK(sure.value == film);
  CHECK(sure.ci95 == estimates->film.ci95);
  CHECK_FALSE(sure.law_open);

  const auto likely = change::share_kept(*estimates, 1.5),
             unlikely = change::share_kept(*estimates, -1.5);
  CHECK(likely.value == km);
  CHECK(unlikely.value == km);
  CHECK(likely.law_open);
  for (const auto& open : {likely, unlikely}) {
    CHECK(open.ci95[0] <= km);
    CHECK(open.ci95[1] >= film);
  }
  // The surer the law, the less the other's interval counts.
  const auto surer = change::share_kept(*estimates, 2.9);
  CHECK(surer.ci95[0] > likely.ci95[0]);
}

TEST_CASE(
    "Neither the rest of the sheet nor colours of another kind outweigh a place that speaks") {
  CHECK(change::law_of(change::odds_of_film(2, 20, 0)) == change::InkLaw::film);
  CHECK_FALSE(change::law_of(change::odds_of_film(std::nullopt, 0, 20)));
  CHECK_FALSE(change::law_of(change::odds_of_film(-4, 20, 20)));
  CHECK(change::odds_of_film(std::nullopt, 0, 0) < 0);  // in the paper rather than on it
}

TEST_CASE("Lighter paper is not read as faded ink") {
  for (const double toning : {-0.5, -0.3, 0.3}) {
    const auto share = share_kept(colours("magenta", 1.0, 1.0, toning, InkLaw::kubelka_munk));
    REQUIRE(share);
    INFO("toning " << toning << ": " << share->value);
    CHECK_THAT(share->value, WithinAbs(1, 0.01));
  }
}

TEST_CASE("Strength is not cut off at one") {
  const auto share = share_kept(colours("cyan", 1.0, 1.2, 0, InkLaw::kubelka_munk));
  REQUIRE(share);
  CHECK_THAT(share->value, WithinAbs(1.2, 0.02));
}

TEST_CASE("An ink too weak to measure has no strength") {
  CHECK_FALSE(share_kept(colours("yellow", 0.002, 0.5, 0, InkLaw::kubelka_munk, 0.5)));
}

TEST_CASE("A light tint may be a screen, a dark solid may not") {
  const auto tint =
      change::share_kept_if_screened(colours("magenta", 0.3, 0.6, 0, InkLaw::kubelka_munk));
  const auto plain = share_kept(colours("magenta", 0.3, 0.6, 0, InkLaw::kubelka_munk));
  REQUIRE(tint);
  REQUIRE(plain);
  CHECK(*tint < plain->value - 0.1);  // averaging hides the fading of dots
  CHECK_FALSE(change::share_kept_if_screened(colours("magenta", 6, 0.6, 0, InkLaw::kubelka_munk)));
}

TEST_CASE("Places too weak to tell the law of their ink alone tell it together") {
  for (const InkLaw law : {InkLaw::kubelka_munk, InkLaw::film}) {
    double together = 0;
    for (const std::string ink : {"cyan", "magenta", "red", "blue", "black", "brown"}) {
      for (const double kept : {0.5, 0.8}) {
        const auto estimates = change::estimate_share(colours(ink, 1.5, kept, 0, law));
        REQUIRE(estimates);
        const auto one = change::evidence_of_film(*estimates);
        if (!one) continue;
        INFO(ink << " kept " << kept << ": " << *one);
        if (law == InkLaw::film) CHECK(*one > -1);
        together += *one;
      }
    }
    CAPTURE(together);
    CHECK(change::law_of(change::odds_of_film(std::nullopt, together, 0)) ==
          (law == InkLaw::film ? change::InkLaw::film : change::InkLaw::kubelka_munk));
  }
}

TEST_CASE(
    "Broad bands overstate what is kept, most of weak inks, and nothing of what is all there") {
  // Of one wavelength there is no such error; 0.105 and 0.05 are those of a trace of ink.
  for (const auto law : change::kInkLaws) {
    CHECK(change::band_error(law, 1, 1).mean == 0);
    CHECK(change::band_error(law, 1, 0).mean == 0);
    CHECK(change::band_error(law, 0.3, 0.4).mean > change::band_error(law, 6, 0.4).mean);
    CHECK(change::band_error(law, 0.3, 0.4).mean < 0.05);
    CHECK(change::band_error(law, 1, 1.2).mean == 0);
  }
}
