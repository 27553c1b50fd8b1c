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
  return change::share_kept(*estimates, change::law_of(*estimates));
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
                   WithinAbs(kept, 0.02));  // bands of sharpened RGB are not lines of a spectrum
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

TEST_CASE("A strong film ink is known by its channels, and then taken alone") {
  const auto share = share_kept(colours("red", 4, 0.6, 0, InkLaw::film));
  REQUIRE(share);
  CHECK_FALSE(share->law_open);
  CHECK_THAT(share->value, WithinAbs(0.6, 0.06));
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
    std::vector<double> evidence;
    for (const std::string ink : {"cyan", "magenta", "red", "blue", "black", "brown"}) {
      for (const double kept : {0.5, 0.8}) {
        const auto estimates = change::estimate_share(colours(ink, 1.5, kept, 0, law));
        REQUIRE(estimates);
        if (const auto one = change::evidence_of_film(*estimates)) evidence.push_back(*one);
      }
    }
    CAPTURE(evidence);
    CHECK(change::law_of(evidence) ==
          (law == InkLaw::film ? change::InkLaw::film : change::InkLaw::kubelka_munk));
    evidence.resize(3);  // too few to generalise from
    CHECK_FALSE(change::law_of(evidence));
  }
}
