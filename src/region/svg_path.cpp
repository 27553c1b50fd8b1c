#include "region/svg_path.hpp"

#include <algorithm>
#include <cctype>
#include <charconv>
#include <cmath>
#include <numbers>
#include <stdexcept>

#include <fmt/format.h>

namespace inkwane::region {
namespace {

/// Longest chord of a curve, in the file's units: a fifth of a pixel off at most for any circle of
/// more than two pixels.
constexpr double kChord = 2;
constexpr int kLeastChords = 8, kMostChords = 400;

int chords(double length) {
  return std::clamp(static_cast<int>(std::ceil(length / kChord)), kLeastChords, kMostChords);
}

double distance(Point a, Point b) {
  return std::hypot(a.x - b.x, a.y - b.y);
}

/// Reads numbers, flags and letters one after the other.
class Reader {
 public:
  explicit Reader(std::string_view text) : rest_(text) {}

  [[nodiscard]] bool done() {
    skip();
    return rest_.empty();
  }
  /// A letter, if one is next.
  [[nodiscard]] char letter() {
    skip();
    if (rest_.empty() || std::isalpha(static_cast<unsigned char>(rest_.front())) == 0) return 0;
    const char c = rest_.front();
    rest_.remove_prefix(1);
    return c;
  }
  double number() {
    skip();
    if (rest_.starts_with('+')) rest_.remove_prefix(1);
    double value = 0;
    const auto [end, error] = std::from_chars(rest_.data(), rest_.data() + rest_.size(), value);
    if (error != std::errc() || !std::isfinite(value)) {
      throw std::invalid_argument(fmt::format("has no number at \"{}\"", rest_.substr(0, 12)));
    }
    rest_.remove_prefix(static_cast<std::size_t>(end - rest_.data()));
    return value;
  }
  /// Arc flags may stand without a space behind them.
  bool flag() {
    skip();
    if (!rest_.starts_with('0') && !rest_.starts_with('1')) {
      throw std::invalid_argument("has an arc whose flags are not 0 or 1");
    }
    const bool set = rest_.front() == '1';
    rest_.remove_prefix(1);
    return set;
  }

 private:
  void skip() {
    while (!rest_.empty() &&
           (std::isspace(static_cast<unsigned char>(rest_.front())) != 0 || rest_.front() == ',')) {
      rest_.remove_prefix(1);
    }
  }
  std::string_view rest_;
};

class PathReader {
 public:
  explicit PathReader(std::string_view data) : in_(data) {}

  std::vector<Subpath> read() {
    char command = 0;
    while (!in_.done()) {
      if (const char letter = in_.letter()) {
        command = letter;
      } else if (command == 'M' || command == 'm') {
        command = command == 'M' ? 'L' : 'l';  // further pairs after a move are lines
      } else if (command == 'Z' || command == 'z' || command == 0) {
        throw std::invalid_argument("has numbers where a command must stand");
      }
      step(command);
    }
    return std::move(paths_);
  }

 private:
  void step(char command) {
    const char upper = static_cast<char>(std::toupper(static_cast<unsigned char>(command)));
    relative_ = upper != command;
    if (upper != 'M' && paths_.empty()) throw std::invalid_argument("does not begin with a move");
    const Point before = at_;
    Point control = at_;
    switch (upper) {
      case 'M':
        at_ = point();
        begin();
        break;
      case 'Z':
        paths_.back().closed = true;
        at_ = paths_.back().points.front();
        break;
      case 'L':
        line_to(point());
        break;
      case 'H':
        line_to({in_.number() + (relative_ ? at_.x : 0), at_.y});
        break;
      case 'V':
        line_to({at_.x, in_.number() + (relative_ ? at_.y : 0)});
        break;
      case 'C': {
        const Point a = point();
        control = point();
        cubic(a, control, point());
        break;
      }
      case 'S': {
        const Point a = last_ == 'C' || last_ == 'S' ? mirrored() : before;
        control = point();
        cubic(a, control, point());
        break;
      }
      case 'Q':
        control = point();
        quadratic(control, point());
        break;
      case 'T':
        control = last_ == 'Q' || last_ == 'T' ? mirrored() : before;
        quadratic(control, point());
        break;
      case 'A':
        arc();
        break;
      default:
        throw std::invalid_argument(fmt::format("has the unknown command \"{}\"", command));
    }
    control_ = control;
    last_ = upper;
  }

  Point point() {
    const double x = in_.number(), y = in_.number();
    return relative_ ? Point{at_.x + x, at_.y + y} : Point{x, y};
  }
  [[nodiscard]] Point mirrored() const { return {2 * at_.x - control_.x, 2 * at_.y - control_.y}; }

  void begin() { paths_.push_back({{at_}, false}); }
  void line_to(Point p) {
    if (paths_.back().closed) begin();  // after Z the next subpath begins where this one did
    paths_.back().points.push_back(p);
    at_ = p;
  }
  void cubic(Point a, Point b, Point end) {
    const Point start = at_;
    const int n = chords(distance(start, a) + distance(a, b) + distance(b, end));
    for (int i = 1; i <= n; ++i) {
      const double t = i / static_cast<double>(n), u = 1 - t;
      const double w0 = u * u * u, w1 = 3 * u * u * t, w2 = 3 * u * t * t, w3 = t * t * t;
      line_to({w0 * start.x + w1 * a.x + w2 * b.x + w3 * end.x,
               w0 * start.y + w1 * a.y + w2 * b.y + w3 * end.y});
    }
  }
  void quadratic(Point q, Point end) {
    const Point start = at_;
    cubic({start.x + 2.0 / 3 * (q.x - start.x), start.y + 2.0 / 3 * (q.y - start.y)},
          {end.x + 2.0 / 3 * (q.x - end.x), end.y + 2.0 / 3 * (q.y - end.y)}, end);
  }

  /// From the end points to the centre: SVG 1.1, appendix F.6.5 and F.6.6.
  void arc() {
    double rx = std::abs(in_.number()), ry = std::abs(in_.number());
    const double phi = in_.number() * std::numbers::pi / 180;
    const bool large = in_.flag(), sweep = in_.flag();
    const Point start = at_, end = point();
    if (rx == 0 || ry == 0) return line_to(end);
    if (distance(start, end) == 0) return;
    const double c = std::cos(phi), s = std::sin(phi);
    const double dx = (start.x - end.x) / 2, dy = (start.y - end.y) / 2;
    const double x1 = c * dx + s * dy, y1 = -s * dx + c * dy;
    const double reach = x1 * x1 / (rx * rx) + y1 * y1 / (ry * ry);
    if (reach > 1) rx *= std::sqrt(reach), ry *= std::sqrt(reach);
    const double spread = rx * rx * y1 * y1 + ry * ry * x1 * x1;
    const double root =
        std::sqrt(std::max(0.0, (rx * rx * ry * ry - spread) / spread)) * (large == sweep ? -1 : 1);
    const double cx = root * rx * y1 / ry, cy = -root * ry * x1 / rx;
    const double from = std::atan2((y1 - cy) / ry, (x1 - cx) / rx);
    double turn = std::atan2((-y1 - cy) / ry, (-x1 - cx) / rx) - from;
    if (sweep && turn < 0) turn += 2 * std::numbers::pi;
    if (!sweep && turn > 0) turn -= 2 * std::numbers::pi;
    const double mx = (start.x + end.x) / 2, my = (start.y + end.y) / 2;
    const int n = chords(std::abs(turn) * std::max(rx, ry));
    for (int i = 1; i < n; ++i) {
      const double angle = from + turn * i / n;
      const double ex = cx + rx * std::cos(angle), ey = cy + ry * std::sin(angle);
      line_to({c * ex - s * ey + mx, s * ex + c * ey + my});
    }
    line_to(end);
  }

  Reader in_;
  std::vector<Subpath> paths_;
  Point at_, control_;
  char last_ = 0;
  bool relative_ = false;
};

cv::Matx33d one_transform(std::string_view name, const std::vector<double>& v) {
  const auto arguments = [&](std::initializer_list<std::size_t> counts) {
    if (std::find(counts.begin(), counts.end(), v.size()) == counts.end()) {
      throw std::invalid_argument(fmt::format("has a {}() of {} numbers", name, v.size()));
    }
  };
  if (name == "matrix") {
    arguments({6});
    return {v[0], v[2], v[4], v[1], v[3], v[5], 0, 0, 1};
  }
  if (name == "translate") {
    arguments({1, 2});
    return {1, 0, v[0], 0, 1, v.size() > 1 ? v[1] : 0, 0, 0, 1};
  }
  if (name == "scale") {
    arguments({1, 2});
    return {v[0], 0, 0, 0, v.size() > 1 ? v[1] : v[0], 0, 0, 0, 1};
  }
  constexpr double kDegree = std::numbers::pi / 180;
  if (name == "rotate") {
    arguments({1, 3});
    const double c = std::cos(v[0] * kDegree), s = std::sin(v[0] * kDegree);
    const double x = v.size() > 1 ? v[1] : 0, y = v.size() > 1 ? v[2] : 0;
    return {c, -s, x - c * x + s * y, s, c, y - s * x - c * y, 0, 0, 1};
  }
  if (name == "skewX" || name == "skewY") {
    arguments({1});
    const double t = std::tan(v[0] * kDegree);
    return name == "skewX" ? cv::Matx33d{1, t, 0, 0, 1, 0, 0, 0, 1}
                           : cv::Matx33d{1, 0, 0, t, 1, 0, 0, 0, 1};
  }
  throw std::invalid_argument(fmt::format("has the unknown transform {}()", name));
}

}  // namespace

std::vector<Subpath> read_path(std::string_view data) {
  return PathReader(data).read();
}

std::vector<Point> ellipse(Point centre, double rx, double ry) {
  const int n = chords(2 * std::numbers::pi * std::max(rx, ry));
  std::vector<Point> points;
  for (int i = 0; i < n; ++i) {
    const double angle = 2 * std::numbers::pi * i / n;
    points.push_back({centre.x + rx * std::cos(angle), centre.y + ry * std::sin(angle)});
  }
  return points;
}

std::vector<double> read_numbers(std::string_view list) {
  Reader in(list);
  std::vector<double> numbers;
  while (!in.done()) numbers.push_back(in.number());
  return numbers;
}

cv::Matx33d read_transform(std::string_view text) {
  cv::Matx33d all = cv::Matx33d::eye();
  while (true) {
    const std::size_t begin = text.find_first_not_of(" \t\r\n,");
    if (begin == std::string_view::npos) return all;
    const std::size_t open = text.find('(', begin), close = text.find(')', begin);
    if (open == std::string_view::npos || close == std::string_view::npos || close < open) {
      throw std::invalid_argument("has a transform without brackets");
    }
    std::string_view name = text.substr(begin, open - begin);
    name = name.substr(0, name.find_last_not_of(" \t\r\n") + 1);
    all = all * one_transform(name, read_numbers(text.substr(open + 1, close - open - 1)));
    text.remove_prefix(close + 1);
  }
}

}  // namespace inkwane::region
