#include "target/lattice.hpp"

#include <algorithm>
#include <cmath>
#include <deque>
#include <optional>
#include <set>

#include <opencv2/calib3d.hpp>

namespace inkwane::target {
namespace {

constexpr double kLikeSize = 1.5;                   // largest ratio of two neighbours' sides
constexpr double kNearest = 0.85, kFarthest = 2.4;  // pitch in sides of a flat place
constexpr double kOffLattice = 0.22;                // of a step
constexpr int kNeighbours = 10;

class Grower {
 public:
  explicit Grower(const std::vector<Blob>& blobs) : blobs_(blobs) {
    for (int i = 0; i < static_cast<int>(blobs.size()); ++i) {
      cells_[cell_of(blobs[i].centre)].push_back(i);
    }
  }

  /// Blobs of like size about `i`, nearest first.
  [[nodiscard]] std::vector<int> neighbours(int i) const {
    const double reach = kFarthest * blobs_[i].side;
    std::vector<std::pair<double, int>> found;
    visit(blobs_[i].centre, reach, [&](int k) {
      const double d = cv::norm(blobs_[k].centre - blobs_[i].centre);
      if (d > kNearest * blobs_[i].side && d < reach && alike(i, k)) found.emplace_back(d, k);
    });
    std::sort(found.begin(), found.end());
    if (found.size() > kNeighbours) found.resize(kNeighbours);
    std::vector<int> result;
    for (const auto& [d, k] : found) result.push_back(k);
    return result;
  }

  [[nodiscard]] std::optional<int> nearest(const cv::Point2d& p, double reach, int like) const {
    std::optional<int> best;
    visit(p, reach, [&](int k) {
      const double d = cv::norm(blobs_[k].centre - p);
      if (d < reach && alike(like, k)) {
        reach = d;
        best = k;
      }
    });
    return best;
  }

  /// Walks from `seed` along u and v as long as there are blobs.
  [[nodiscard]] Lattice grow(int seed, const cv::Point2d& u, const cv::Point2d& v) const {
    struct Step {
      int column, row;
      cv::Point2d u, v;
    };
    Lattice lattice;
    std::set<int> taken{seed};
    lattice.blobs[{0, 0}] = seed;
    std::deque<Step> open{{0, 0, u, v}};
    while (!open.empty()) {
      const Step s = open.front();
      open.pop_front();
      const int from = lattice.blobs.at({s.column, s.row});
      for (const auto& [dc, dr] : {std::pair{1, 0}, {-1, 0}, {0, 1}, {0, -1}}) {
        const std::pair at{s.column + dc, s.row + dr};
        if (lattice.blobs.contains(at)) continue;
        const cv::Point2d& along = dc != 0 ? s.u : s.v;
        const cv::Point2d step = along * (dc + dr);
        const auto found = nearest(blobs_[from].centre + step, kOffLattice * cv::norm(step), from);
        if (!found || !taken.insert(*found).second) continue;
        lattice.blobs[at] = *found;
        // The step bends slowly with perspective.
        const cv::Point2d seen = (blobs_[*found].centre - blobs_[from].centre) * (dc + dr);
        Step next{at.first, at.second, s.u, s.v};
        (dc != 0 ? next.u : next.v) = along * 0.5 + seen * 0.5;
        open.push_back(next);
      }
    }
    return lattice;
  }

 private:
  static constexpr double kCell = 32;
  [[nodiscard]] static std::pair<int, int> cell_of(const cv::Point2d& p) {
    return {static_cast<int>(std::floor(p.x / kCell)), static_cast<int>(std::floor(p.y / kCell))};
  }
  template <typename Visitor>
  void visit(const cv::Point2d& p, double reach, Visitor visitor) const {
    const auto [x0, y0] = cell_of({p.x - reach, p.y - reach});
    const auto [x1, y1] = cell_of({p.x + reach, p.y + reach});
    for (int y = y0; y <= y1; ++y) {
      for (int x = x0; x <= x1; ++x) {
        const auto cell = cells_.find({x, y});
        if (cell == cells_.end()) continue;
        for (const int k : cell->second) visitor(k);
      }
    }
  }
  [[nodiscard]] bool alike(int i, int k) const {
    const double ratio = blobs_[k].side / blobs_[i].side;
    return ratio < kLikeSize && ratio > 1 / kLikeSize;
  }

  const std::vector<Blob>& blobs_;
  std::map<std::pair<int, int>, std::vector<int>> cells_;
};

/// Homography through the blobs' centres; blobs that lie off it are dropped. False if too few stay.
bool settle(Lattice& lattice, const std::vector<Blob>& blobs, int least) {
  for (int round = 0; round < 4; ++round) {
    if (static_cast<int>(lattice.blobs.size()) < std::max(least, 4)) return false;
    std::vector<cv::Point2d> from, to;
    for (const auto& [at, k] : lattice.blobs) {
      from.emplace_back(at.first, at.second);
      to.push_back(blobs[k].centre);
    }
    const cv::Mat h = cv::findHomography(from, to);
    if (h.empty()) return false;
    lattice.to_picture = cv::Matx33d(h);
    bool dropped = false;
    for (auto it = lattice.blobs.begin(); it != lattice.blobs.end();) {
      const cv::Point2d at(it->first.first, it->first.second);
      const auto [u, v] = steps_at(lattice.to_picture, at);
      const double off = cv::norm(project(lattice.to_picture, at) - blobs[it->second].centre);
      const bool far = off > 0.15 * std::min(cv::norm(u), cv::norm(v));
      dropped = dropped || far;
      it = far ? lattice.blobs.erase(it) : std::next(it);
    }
    if (!dropped) break;
  }
  std::vector<cv::Point> places;
  for (const auto& [at, k] : lattice.blobs) places.emplace_back(at.first, at.second);
  const auto [left, right] = std::minmax_element(
      places.begin(), places.end(), [](const auto& a, const auto& b) { return a.x < b.x; });
  const auto [top, bottom] = std::minmax_element(
      places.begin(), places.end(), [](const auto& a, const auto& b) { return a.y < b.y; });
  lattice.range = {left->x, top->y, right->x - left->x + 1, bottom->y - top->y + 1};
  return lattice.range.width >= 2 && lattice.range.height >= 2;
}

}  // namespace

cv::Point2d project(const cv::Matx33d& h, const cv::Point2d& p) {
  const cv::Vec3d q = h * cv::Vec3d(p.x, p.y, 1);
  return {q[0] / q[2], q[1] / q[2]};
}

std::pair<cv::Point2d, cv::Point2d> steps_at(const cv::Matx33d& to_picture, const cv::Point2d& p) {
  const auto across = [&](const cv::Point2d& d) {
    return project(to_picture, p + d * 0.5) - project(to_picture, p - d * 0.5);
  };
  return {across({1, 0}), across({0, 1})};
}

std::vector<Lattice> find_lattices(const std::vector<Blob>& blobs, int least) {
  const Grower grower(blobs);
  std::vector<Lattice> found;
  std::vector<bool> claimed(blobs.size(), false);
  for (int i = 0; i < static_cast<int>(blobs.size()); ++i) {
    if (claimed[i]) continue;
    const std::vector<int> near = grower.neighbours(i);
    Lattice best;
    for (std::size_t a = 0; a < near.size(); ++a) {
      for (std::size_t b = a + 1; b < near.size(); ++b) {
        cv::Point2d u = blobs[near[a]].centre - blobs[i].centre;
        cv::Point2d v = blobs[near[b]].centre - blobs[i].centre;
        const double ratio = cv::norm(u) / cv::norm(v);
        const double cosine = u.dot(v) / cv::norm(u) / cv::norm(v);
        if (std::abs(cosine) > 0.5 || ratio < 0.6 || ratio > 1.67) continue;
        if (u.cross(v) < 0) std::swap(u, v);  // right-handed as seen in the picture
        Lattice grown = grower.grow(i, u, v);
        if (grown.blobs.size() > best.blobs.size()) best = std::move(grown);
      }
    }
    if (!settle(best, blobs, least)) continue;
    for (const auto& [at, k] : best.blobs) claimed[k] = true;
    found.push_back(std::move(best));
  }
  std::stable_sort(found.begin(), found.end(), [](const Lattice& a, const Lattice& b) {
    return a.blobs.size() > b.blobs.size();
  });
  return found;
}

}  // namespace inkwane::target
