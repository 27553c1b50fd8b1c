#include "desk/rejected.hpp"

#include <algorithm>
#include <cmath>
#include <fstream>

#include <fmt/format.h>
#include <opencv2/imgproc.hpp>

#include <inkwane/error.hpp>

#include "map/output_file.hpp"

namespace inkwane::desk {
namespace {

namespace fs = std::filesystem;

constexpr int kFormat = 1;
constexpr double kShared = 0.5;    // own choice: see is_of()
constexpr double kRasterPx = 400;  // longest side of the raster on which areas are counted

/// The polygon's cells, in a frame whose top left is `origin`, reduced by `scale`.
cv::Mat cells(const std::vector<Point>& polygon, const cv::Point2d& origin, double scale,
              const cv::Size& size) {
  std::vector<cv::Point> corners;
  for (const Point& p : polygon)
    corners.emplace_back(cvRound((p.x - origin.x) * scale), cvRound((p.y - origin.y) * scale));
  cv::Mat mask(size, CV_8UC1, cv::Scalar(0));
  if (!corners.empty()) cv::fillPoly(mask, std::vector{corners}, cv::Scalar(255));
  return mask;
}

}  // namespace

fs::path rejected_file(const fs::path& treatment) {
  return treatment.parent_path() / fmt::format("{}-desk.json", treatment.stem().string());
}

std::vector<Rejected> read_rejected(const fs::path& file) {
  std::ifstream in(file, std::ios::binary);
  if (!in) return {};
  std::vector<Rejected> rejected;
  try {
    const Json json = Json::parse(in);
    if (json.at("inkwane_desk") != kFormat) throw BadRequest("another format");
    for (const Json& one : json.at("rejected"))
      rejected.push_back(
          {side_from(one.at("side").get<std::string>()), points_from(one.at("outline"))});
  } catch (const std::exception&) {
    throw Error(ExitCode::usage,
                fmt::format("{}: is not what the desk keeps of rejected suspects; mend it or take "
                            "it away, and they are offered again.",
                            file.string()));
  }
  return rejected;
}

void write_rejected(const fs::path& file, const std::vector<Rejected>& rejected) {
  if (rejected.empty()) {
    std::error_code code;
    fs::remove(file, code);
    if (!code) return;
  }
  Json list = Json::array();
  for (const Rejected& one : rejected)
    list.push_back({{"side", to_string(one.side)}, {"outline", to_json_list(one.outline)}});
  map::OutputFile out(file);
  out.write(Json{{"inkwane_desk", kFormat}, {"rejected", list}}.dump(1) + "\n");
  out.commit();
}

bool is_of(const Rejected& rejected, const Rejected& suspect) {
  if (rejected.side != suspect.side || suspect.outline.empty()) return false;
  const auto [left, right] =
      std::minmax_element(suspect.outline.begin(), suspect.outline.end(),
                          [](const Point& a, const Point& b) { return a.x < b.x; });
  const auto [top, bottom] =
      std::minmax_element(suspect.outline.begin(), suspect.outline.end(),
                          [](const Point& a, const Point& b) { return a.y < b.y; });
  const double width = right->x - left->x, height = bottom->y - top->y;
  const double scale = kRasterPx / std::max({width, height, 1.0});
  const cv::Size size(cvCeil(width * scale) + 1, cvCeil(height * scale) + 1);
  const cv::Mat mine = cells(suspect.outline, {left->x, top->y}, scale, size);
  const cv::Mat theirs = cells(rejected.outline, {left->x, top->y}, scale, size);
  return cv::countNonZero(mine & theirs) >= kShared * cv::countNonZero(mine);
}

}  // namespace inkwane::desk
