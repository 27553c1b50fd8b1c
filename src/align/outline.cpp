#include "align/outline.hpp"

#include <cmath>

#include <fmt/core.h>
#include <opencv2/imgproc.hpp>

#include <inkwane/error.hpp>

#include "align/backing.hpp"
#include "align/quad.hpp"

namespace inkwane::align {
namespace {

/// A sheet is a quad to this overlap: rounded, dog-eared or slightly torn, not a figure or a
/// letter.
constexpr double kLeastOverlap = 0.93;
/// And no smaller than this share of the frame.
constexpr double kLeastShare = 0.05;
/// From this share of the frame on, the sheet fills it.
constexpr double kWholeFrame = 0.97;
/// Backing below this L* is no paper.
constexpr float kDarkBacking = 45;
/// Backing lighter than this and of more chroma is paper (a lid is neutral, a board darker).
constexpr float kPaperLightest = 75, kPaperChroma = 6;
/// A line along the edge that is this much darker (lightness 0–1) than both of its sides is ink: a
/// shadow takes a tenth to a quarter.
constexpr double kPrintedLine = 0.25;
/// Two sides of an edge of the paper differ by at least this ΔE*ab.
constexpr double kLeastStep = 1.5;
/// A frame whose median L* is below this shows no sheet.
constexpr double kPaperLightness = 50;
/// Corners given by hand may lie this far outside the scan: a sheet cut off by a hair.
constexpr double kBeyondFrameMm = 1;
/// Mask and quad are laid over each other with this much to spare (mm).
constexpr double kSlackMm = 0.05;

struct Found {
  Guess guess;
  Quad quad;  ///< in cells of the grid
  double area = 0;
};

Quad to_grid(const Quad& overview, int factor) {
  Quad quad;
  for (std::size_t i = 0; i < 4; ++i) {
    quad[i] = (overview[i] + cv::Point2d(0.5, 0.5)) * factor - cv::Point2d(0.5, 0.5);
  }
  return quad;
}

/// Whether an edge of a guess is printed on the paper rather than the paper's own.
bool is_printed_frame(const Found& found, const grid::Grid& grid) {
  const cv::Vec3f backing = found.guess.backing;
  if (backing[0] < kDarkBacking) return false;
  if (backing[0] > kPaperLightest && std::hypot(backing[1], backing[2]) > kPaperChroma) return true;
  int own = 0;
  for (const EdgeLook& edge : look_across(found.quad, grid)) {
    if (edge.on_frame) continue;
    if (edge.line_depth > kPrintedLine || edge.step_dE < kLeastStep) return true;
    ++own;
  }
  return own == 0;
}

struct Choice {
  std::optional<Found> best;
  bool frame_seen = false;  ///< an outline was taken for a printed frame
};

Choice choose(const Overview& overview, const grid::Grid& grid) {
  Choice choice;
  std::optional<Found>& best = choice.best;
  const auto frame = static_cast<double>(overview.lab.total());
  for (const Guess& guess : guess_sheets(overview)) {
    const double area = cv::countNonZero(guess.sheet);
    if (area < kLeastShare * frame || (best && area <= best->area)) continue;
    const auto quad = fit_quad(guess.sheet);
    if (!quad || overlap(guess.sheet, *quad) < kLeastOverlap) continue;
    Found found{guess, to_grid(*quad, overview.factor), area};
    if (area < kWholeFrame * frame) {
      found.quad = refine_quad(found.quad, grid);
      if (is_printed_frame(found, grid)) {
        choice.frame_seen = true;
        continue;
      }
    }
    best = std::move(found);
  }
  return choice;
}

double median_lightness(const Overview& overview) {
  std::vector<float> values;
  for (int row = 0; row < overview.lab.rows; row += 2) {
    for (int column = 0; column < overview.lab.cols; column += 2) {
      if (overview.target.at<uchar>(row, column) == 0)
        values.push_back(overview.lab.at<cv::Vec3f>(row, column)[0]);
    }
  }
  if (values.empty()) return 0;
  const auto middle = values.begin() + static_cast<std::ptrdiff_t>(values.size() / 2);
  std::nth_element(values.begin(), middle, values.end());
  return static_cast<double>(*middle);
}

/// The cells within a quad.
cv::Mat fill(const Quad& quad, cv::Size size) {
  cv::Mat mask(size, CV_8U, cv::Scalar(0));
  std::vector<cv::Point> corners;
  for (const auto& p : quad) corners.emplace_back(cvRound(p.x * 16), cvRound(p.y * 16));
  cv::fillConvexPoly(mask, corners, cv::Scalar(255), cv::LINE_8, 4);
  return mask;
}

/// The overview's mask on the grid, its steps smoothed, cut at the fitted edges.
cv::Mat mask_on_grid(const Found& found, const grid::Grid& grid, int factor) {
  cv::Mat large(grid.geometry.size(), CV_8U, cv::Scalar(0));
  const cv::Rect part(0, 0, found.guess.sheet.cols * factor, found.guess.sheet.rows * factor);
  // One cell wider, so that the threshold's place between cells of the overview cannot cut the
  // sheet.
  cv::Mat wide, smooth;
  cv::dilate(found.guess.sheet, wide, cv::Mat::ones(3, 3, CV_8U));
  cv::GaussianBlur(wide, wide, {}, 1, 1, cv::BORDER_REPLICATE);
  cv::resize(wide, smooth, part.size(), 0, 0, cv::INTER_LINEAR);
  cv::Mat(smooth > 127).copyTo(large(part));
  if (part.width < large.cols) large.col(part.width - 1).copyTo(large.col(large.cols - 1));

  const cv::Mat edges =
      fill(grown(found.quad, kSlackMm / grid.geometry.pitch_mm), grid.geometry.size());
  return large & edges;
}

/// Whether the target's card lies on the sheet, rather than beside it with a border that was
/// thought wider than it is.
bool lies_on_sheet(const cv::Mat& target, const cv::Mat& sheet) {
  return 2 * cv::countNonZero(target & sheet) > cv::countNonZero(target);
}

void set_size(Outline& outline, double pitch_mm) {
  const auto length = [&](std::size_t a, std::size_t b) {
    return std::hypot(outline.quad[a].x - outline.quad[b].x,
                      outline.quad[a].y - outline.quad[b].y) *
           pitch_mm;
  };
  outline.width_mm = (length(0, 1) + length(3, 2)) / 2;
  outline.height_mm = (length(0, 3) + length(1, 2)) / 2;
}

void finish(Outline& outline, const Quad& quad, const grid::Grid& grid) {
  if (!grid.target.empty() && lies_on_sheet(grid.target, outline.sheet))
    outline.sheet.setTo(0, grid.target);
  for (const auto& p : quad) outline.quad.push_back({p.x, p.y});
  set_size(outline, grid.geometry.pitch_mm);
}

Outline outline_of(const grid::Grid& grid, const std::string& file) {
  const Overview overview = make_overview(grid);
  const auto [best, frame_seen] = choose(overview, grid);
  const double columns = grid.geometry.columns, rows = grid.geometry.rows;
  const Quad frame{cv::Point2d(-0.5, -0.5),
                   {columns - 0.5, -0.5},
                   {columns - 0.5, rows - 0.5},
                   {-0.5, rows - 0.5}};
  Outline outline;
  outline.whole_frame =
      !best || best->area >= kWholeFrame * static_cast<double>(overview.lab.total());
  if (!best && median_lightness(overview) < kPaperLightness) {
    throw Error(
        ExitCode::scan,
        fmt::format(
            "{}: no sheet can be made out against its backing; scan it on a plain backing that "
            "differs from the paper, with a few millimetres of backing visible all around.",
            file));
  }
  Quad quad = frame;
  if (outline.whole_frame) {
    outline.sheet = cv::Mat(grid.geometry.size(), CV_8U, cv::Scalar(255));
    if (frame_seen && !best) {
      outline.warnings.push_back(
          fmt::format("{}: no backing was made out, only a printed frame; the whole scan is taken "
                      "as the sheet.",
                      file));
    }
  } else {
    quad = best->quad;
    outline.sheet = mask_on_grid(*best, grid, overview.factor);
    static const char* const kEdges[] = {"upper", "right", "lower", "left"};
    for (std::size_t i = 0; i < 4; ++i) {
      const cv::Point2d middle = (quad[i] + quad[(i + 1) % 4]) * 0.5;
      const double gap =
          std::min({middle.x, middle.y, columns - 1 - middle.x, rows - 1 - middle.y});
      if (gap * grid.geometry.pitch_mm < 0.3) {
        outline.warnings.push_back(
            fmt::format("{}: the sheet reaches the {} edge of the scan and may be cut off there.",
                        file, kEdges[i]));
      }
    }
  }
  finish(outline, quad, grid);
  return outline;
}

}  // namespace

Outline find_outline(const grid::Grid& grid, const std::string& file) {
  try {
    return outline_of(grid, file);
  } catch (const cv::Exception& e) {
    throw Error(ExitCode::scan, fmt::format("{}: the outline of the sheet could not be found ({}); "
                                            "check that the scan shows a whole sheet.",
                                            file, e.err));
  }
}

Outline outline_from_corners(const grid::Grid& grid, const Corners& corners,
                             const std::string& file) {
  const grid::Geometry& geometry = grid.geometry;
  const double spare = kBeyondFrameMm / geometry.pitch_mm;
  Quad quad;
  for (std::size_t i = 0; i < 4; ++i) {
    const Point cell = geometry.to_cell(corners[i]);
    if (cell.x < -spare || cell.y < -spare || cell.x > geometry.columns + spare ||
        cell.y > geometry.rows + spare) {
      throw Error(ExitCode::usage,
                  fmt::format("{}: the outline given for its sheet leaves the scan at ({:.0f}, "
                              "{:.0f}); give its corners in pixels of this scan.",
                              file, corners[i].x, corners[i].y));
    }
    quad[i] = {cell.x, cell.y};
  }
  Outline outline;
  outline.sheet = fill(quad, geometry.size());
  const double share = cv::countNonZero(outline.sheet) / static_cast<double>(outline.sheet.total());
  if (share < kLeastShare) {
    throw Error(ExitCode::usage,
                fmt::format("{}: the outline given for its sheet encloses only {:.1f} % of the "
                            "scan; give the corners of the whole sheet.",
                            file, 100 * share));
  }
  finish(outline, quad, grid);
  return outline;
}

}  // namespace inkwane::align
