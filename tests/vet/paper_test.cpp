// Protects: a damp sheet and another backing are told by what shows through bare paper, and apart
// from paper that was washed lighter.
#include "vet/paper.hpp"

#include <catch2/catch.hpp>
#include <opencv2/imgproc.hpp>

using namespace inkwane;
using Catch::Matchers::Contains;
using Catch::Matchers::WithinAbs;

namespace {

constexpr int kColumns = 400, kRows = 300;
constexpr double kPitchMm = 0.2;

/// Print of either side, as absorption: 0 on bare paper.
cv::Mat print_of(Side side) {
  cv::Mat out(kRows, kColumns, CV_32FC1, cv::Scalar(0));
  for (int i = 0; i < 5; ++i) {
    const int x = 20 + 80 * i;
    // The verso's stands beside the recto's, seen through: mostly behind bare paper.
    if (side == Side::recto) out(cv::Rect(x, 20, 30, 200)).setTo(0.8);
    if (side == Side::verso) out(cv::Rect(kColumns - x - 60, 40, 30, 220)).setTo(0.6);
  }
  return out;
}

struct State {
  double paper = 0.6;  ///< Y
  double shown = 0.03;
};

/// One side's layer: its own print, and the other's blurred and mirrored through the paper.
change::Layer layer(Side side, const std::string& stage, const State& state, int seed) {
  cv::Mat behind;
  cv::flip(print_of(side == Side::recto ? Side::verso : Side::recto), behind, 1);
  cv::GaussianBlur(behind, behind, {}, 2.5);
  cv::Mat noise(kRows, kColumns, CV_32FC1);
  cv::RNG random(static_cast<std::uint64_t>(seed));
  random.fill(noise, cv::RNG::NORMAL, 1, 0.01);
  const cv::Mat y = (1 - print_of(side)).mul(1 - state.shown * behind).mul(noise) * state.paper;
  change::Layer out;
  out.stage = stage;
  cv::merge(std::vector<cv::Mat>{y, y, y}, out.xyz);
  out.valid = cv::Mat(kRows, kColumns, CV_8UC1, cv::Scalar(255));
  return out;
}

struct Sheet {
  change::SideInput recto, verso;
  cv::Mat to_recto;
};

Sheet sheet(const State& before, const State& after) {
  Sheet out;
  for (auto* side : {&out.recto, &out.verso}) {
    side->side = side == &out.recto ? Side::recto : Side::verso;
    side->geometry = {kPitchMm, 1, {}, kColumns, kRows};
    side->layers = {layer(side->side, "BT", before, 1), layer(side->side, "AT", after, 2)};
  }
  out.to_recto.create(kRows, kColumns, CV_32FC2);
  for (int y = 0; y < kRows; ++y) {
    for (int x = 0; x < kColumns; ++x)
      out.to_recto.at<cv::Vec2f>(y, x) = {static_cast<float>(kColumns - 1 - x),
                                          static_cast<float>(y)};
  }
  return out;
}

/// What is said of AT, of either side.
std::vector<std::string> said(const State& after, double growth = 1, bool damp = false) {
  const Sheet made = sheet({}, after);
  std::vector<std::string> out;
  for (const auto& [side, looks] : vet::look_at_paper(&made.recto, &made.verso, made.to_recto)) {
    REQUIRE(looks.size() == 2);
    for (const auto& finding : vet::judge_paper(looks[0], looks[1], growth, damp))
      out.push_back(vet::sentence(finding));
  }
  return out;
}

}  // namespace

TEST_CASE("show-through is measured as it was made, on both sides") {
  const Sheet made = sheet({0.6, 0.03}, {0.6, 0.06});
  for (const auto& [side, looks] : vet::look_at_paper(&made.recto, &made.verso, made.to_recto)) {
    CAPTURE(to_string(side));
    REQUIRE((looks[0].shown && looks[1].shown));
    CHECK_THAT(*looks[0].shown, WithinAbs(0.03, 0.005));
    CHECK_THAT(*looks[1].shown, WithinAbs(0.06, 0.008));
    CHECK(looks[0].u_shown < 0.004);
    CHECK_THAT(looks[0].L, WithinAbs(to_lab({0, 0.6, 0}).L, 0.5));
  }
}

TEST_CASE("darker paper that shows more of the other side may be damp") {
  for (const std::string& sentence : said({0.55, 0.06})) CHECK_THAT(sentence, Contains("damp?"));
  CHECK(said({0.55, 0.06}).size() == 2);
  CHECK(said({0.55, 0.03}).empty());            // darker alone: toned, or the scanner's
  CHECK(said({0.595, 0.03}, 1.01).empty());     // grown alone: vet::judge_shape says so
  CHECK(said({0.55, 0.03}, 1.01).size() == 2);  // darker and grown
  CHECK(said({0.55, 0.03}, 1.002).empty());
  CHECK(said({0.55, 0.06}, 1, true).empty());  // the record says so itself
}

TEST_CASE("another backing shows in the other side's print, and washed paper does not") {
  CHECK(said({0.66, 0.03}).empty());  // washed lighter
  CHECK(said({0.60, 0.035}).empty());
  for (const std::string& sentence : said({0.62, 0.06}))
    CHECK_THAT(sentence, Contains("backing was lighter"));
  CHECK(said({0.62, 0.06}).size() == 2);
  for (const std::string& sentence : said({0.59, 0.005}))
    CHECK_THAT(sentence, Contains("backing was darker"));
  CHECK(said({0.59, 0.005}).size() == 2);
}

TEST_CASE("one side alone has a tone but nothing that shows through") {
  const Sheet made = sheet({}, {});
  const auto looks = vet::look_at_paper(&made.recto, nullptr, {});
  REQUIRE(looks.at(Side::recto).size() == 2);
  CHECK_FALSE(looks.at(Side::recto)[0].shown);
  CHECK(looks.at(Side::recto)[0].L > 80);
}
