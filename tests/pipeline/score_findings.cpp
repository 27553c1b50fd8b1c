#include "tests/pipeline/score_findings.hpp"

#include <algorithm>
#include <cmath>
#include <limits>

#include <fmt/format.h>
#include <opencv2/imgproc.hpp>

namespace inkwane::test {
namespace {

/// A touch is found where suspects cover this share of it; a suspect of which less lies on touches
/// is a false one.
constexpr double kCovered = 0.3;
/// A tideline is found where this share of it has a reported line beside it; a line of which less
/// than half lies beside a true one is false.
constexpr double kFollowed = 0.4, kTrueLine = 0.5, kBesideMm = 1;
constexpr double kSeenTide = 2;  // CIEDE2000, docs/method.md

class Scoring {
 public:
  Scoring(const simulate::Scene& scene, const simulate::Truth& truth,
          const results::Results& results, Scores& scores)
      : scene_(scene),
        truth_(truth),
        results_(results),
        scores_(scores),
        px_per_mm_(scene.scanner.dpi / 25.4) {}

  void run() {
    score_suspects();
    score_tidelines();
    for (const auto& [side, result] : results_.sides) {
      for (const results::SideChange& change : result.changes) {
        if (change.bleed_through && change.from == scene_.stages.front())
          score_bleed(to_string(side), change);
      }
    }
  }

 private:
  const simulate::Scene& scene_;
  const simulate::Truth& truth_;
  const results::Results& results_;
  Scores& scores_;
  double px_per_mm_;

  /// Polygons on a lattice of a fifth of a millimetre.
  template <typename P>
  [[nodiscard]] cv::Mat drawn(const std::vector<std::vector<P>>& outlines) const {
    const double scale = 5 / px_per_mm_;
    cv::Mat mask(static_cast<int>(5 * (scene_.paper.height_mm + 60)),
                 static_cast<int>(5 * (scene_.paper.width_mm + 120)), CV_8UC1, cv::Scalar(0));
    for (const auto& outline : outlines) {
      std::vector<cv::Point> points;
      for (const P& p : outline) points.emplace_back(cvRound(p.x * scale), cvRound(p.y * scale));
      if (!points.empty())
        cv::fillPoly(mask, std::vector<std::vector<cv::Point>>{points}, cv::Scalar(255));
    }
    return mask;
  }

  static double share(const cv::Mat& of, const cv::Mat& in) {
    const int all = cv::countNonZero(of);
    return all == 0 ? 0 : static_cast<double>(cv::countNonZero(of & in)) / all;
  }

  void score_suspects() {
    int false_ones = 0;
    std::string where;
    for (const Side side : kSides) {
      const auto known = truth_.undeclared.find(to_string(side));
      const auto touches = known == truth_.undeclared.end()
                               ? std::vector<std::vector<cv::Point2d>>{}
                               : known->second;
      std::vector<std::vector<Point>> suspected;
      for (const results::Suspect& suspect : results_.findings.suspects) {
        if (suspect.place.side == side) suspected.push_back(suspect.place.outline);
      }
      const cv::Mat all_touches = drawn(touches), all_suspects = drawn(suspected);
      for (const auto& touch : touches) {
        ++scores_.touches;
        if (share(drawn(std::vector<std::vector<cv::Point2d>>{touch}), all_suspects) >= kCovered)
          ++scores_.touches_found;
      }
      for (const auto& outline : suspected) {
        if (share(drawn(std::vector<std::vector<Point>>{outline}), all_touches) >= kCovered)
          continue;
        ++false_ones;
        where = to_string(side);
      }
    }
    scores_.false_suspects.add(false_ones, where);
  }

  /// Share of a line's points that lie beside another's.
  template <typename P, typename Q>
  [[nodiscard]] double followed(const std::vector<P>& line,
                                const std::vector<std::vector<Q>>& others) const {
    int beside = 0, all = 0;
    for (std::size_t i = 1; i < line.size(); ++i) {
      constexpr int kSteps = 8;
      for (int k = 0; k < kSteps; ++k, ++all) {
        const double t = (k + 0.5) / kSteps;
        const cv::Point2f p(static_cast<float>(line[i - 1].x + t * (line[i].x - line[i - 1].x)),
                            static_cast<float>(line[i - 1].y + t * (line[i].y - line[i - 1].y)));
        const bool near = std::any_of(others.begin(), others.end(), [&](const auto& other) {
          return distance(p, other) < kBesideMm * px_per_mm_;
        });
        if (near) ++beside;
      }
    }
    return all == 0 ? 0 : static_cast<double>(beside) / all;
  }

  template <typename Q>
  static double distance(cv::Point2f p, const std::vector<Q>& line) {
    double least = std::numeric_limits<double>::max();
    for (std::size_t i = 1; i < line.size(); ++i) {
      const cv::Point2d a(line[i - 1].x, line[i - 1].y), d(line[i].x - a.x, line[i].y - a.y);
      const cv::Point2d to(cv::Point2d(p) - a);
      const double t = std::clamp(to.dot(d) / std::max(1e-9, d.dot(d)), 0.0, 1.0);
      least = std::min(least, cv::norm(to - t * d));
    }
    return least;
  }

  void score_tidelines() {
    if (scene_.stages.size() < 2) return;
    int false_ones = 0;
    std::string where;
    for (const Side side : kSides) {
      for (const std::string& stage : scene_.stages) {
        const auto known = truth_.tide_marks.find(to_string(side) + "." + stage);
        std::vector<std::vector<cv::Point2d>> marks;
        std::vector<std::vector<Point>> lines;
        if (known != truth_.tide_marks.end()) {
          for (const simulate::TrueTide& tide : known->second) marks.push_back(tide.line_px);
        }
        for (const results::Tideline& line : results_.findings.tidelines) {
          if (line.side == side && line.to == stage) lines.push_back(line.line);
        }
        for (std::size_t i = 0; i < marks.size(); ++i) {
          if (known->second[i].contrast_dE00 < kSeenTide) continue;
          ++scores_.tides;
          if (followed(marks[i], lines) >= kFollowed) ++scores_.tides_found;
        }
        for (const auto& line : lines) {
          if (followed(line, marks) >= kTrueLine) continue;
          ++false_ones;
          where = fmt::format("{} {}", to_string(side), stage);
        }
      }
    }
    scores_.false_tides.add(false_ones, where);
  }

  void score_bleed(const std::string& side, const results::SideChange& change) {
    const std::string key = side + "." + change.to;
    const auto map = truth_.bleed_through.find(key);
    if (map == truth_.bleed_through.end()) return;
    const double cell = truth_.truth_pitch_mm * truth_.truth_pitch_mm;
    for (const results::AreaAbove& level : change.bleed_through->above) {
      const double wanted = cell * cv::countNonZero(map->second >= level.dE00);
      if (wanted >= 10)
        scores_.bleed_area.add(std::abs(level.area_mm2 / wanted - 1),
                               fmt::format("{} at {}", change.to, level.dE00));
    }
    const auto bled = truth_.bled.find(key);
    if (bled == truth_.bled.end()) return;
    double all = 0;
    std::map<std::string, double> found;
    for (const auto& [ink, amount] : bled->second) all += amount;
    for (const results::Source& source : change.bleed_through->sources)
      found[nearest_ink(source.lab)] += source.share;
    for (const auto& [ink, amount] : bled->second)
      scores_.source_share.add(std::abs(found[ink] - amount / all), ink);
  }

  /// The ink of the recto whose region looks most like this at the first stage.
  [[nodiscard]] std::string nearest_ink(const LabD50& lab) const {
    std::string best;
    double least = std::numeric_limits<double>::max();
    for (const simulate::NamedRegion& region : scene_.regions) {
      if (region.side != "recto" || (region.role != "ink" && region.under != "paper")) continue;
      const simulate::Lab& there = truth_.lab.at(region.id).at(scene_.stages.front());
      const double off = ciede2000(lab, {there[0], there[1], there[2]});
      if (off >= least) continue;
      least = off;
      best = region.id.substr(0, region.id.find("-on-"));
    }
    return best;
  }
};

}  // namespace

void score_findings(const simulate::Scene& scene, const simulate::Truth& truth,
                    const results::Results& results, Scores& scores) {
  Scoring(scene, truth, results, scores).run();
}

}  // namespace inkwane::test
