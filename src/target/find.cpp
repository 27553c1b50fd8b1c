#include "target/find.hpp"

#include <algorithm>
#include <cmath>

#include <fmt/format.h>
#include <fmt/ranges.h>
#include <opencv2/imgproc.hpp>

#include <inkwane/error.hpp>

#include "target/match.hpp"
#include "target/refine.hpp"

namespace inkwane::target {
namespace {

/// The picture that is searched: enough for a patch of 3 mm, small enough to be quick.
constexpr double kSurveyDpi = 130;
constexpr int kUsualSide = 2000, kLargestSide = 4000, kLeastSide = 900;
/// Largest rms of the better two thirds of the patches after a rough colour fit, encoded units. A
/// target in a scanner leaves 0.02, in a sunlit room 0.03, of another edition 0.09. The best of all
/// ways to lay a target on 200 fields of random colours left 0.13 and up on 4 × 6 patches, 0.07 on
/// 3 × 4, 0.05 on 2 × 3: few patches fit by chance, and must fit better.
double right_colours(const Reference& reference) {
  const std::size_t patches = reference.patches.size();
  return patches >= 20 ? 0.12 : patches >= 12 ? 0.065 : 0.045;
}

/// Targets of at least this many patches may have one that is soiled or shaded.
constexpr int kEnoughToSpareOne = 12;
/// Share of a step by which given corners may be off before the edges found are not believed.
constexpr double kCornerSlack = 0.3;

int survey_factor(const scan::Info& info) {
  const int longest = std::max(info.width_px, info.height_px);
  int factor = info.resolution_dpi
                   ? static_cast<int>(std::lround(*info.resolution_dpi / kSurveyDpi))
                   : (longest + kUsualSide - 1) / kUsualSide;
  factor = std::max(factor, (longest + kLargestSide - 1) / kLargestSide);
  factor = std::min(factor, longest / kLeastSide);
  return std::max(factor, 1);
}

cv::Mat as_float(const scan::Survey& survey) {
  cv::Mat picture;
  survey.encoded.convertTo(picture, CV_32FC3, 1.0 / 65535);
  return picture;
}

std::string how_to_help(const scan::Scan& scan) {
  return fmt::format(
      "lay the whole target in the frame and scan again, or give the corners of its patches, "
      "[target] corners.\"STAGE.SIDE\" = [[x, y], [x, y], [x, y], [x, y]] in pixels of this {} × "
      "{} "
      "scan",
      scan.info().width_px, scan.info().height_px);
}

[[noreturn]] void refuse(const scan::Scan& scan, const std::string& what) {
  throw Error(ExitCode::scan,
              fmt::format("{}: {}; {}", scan.info().file.string(), what, how_to_help(scan)));
}

std::vector<std::string> ids_of(const Match& match, const Reference& reference,
                                std::initializer_list<PatchState> states) {
  std::vector<std::string> ids;
  for (std::size_t i = 0; i < match.patches.size(); ++i) {
    if (std::find(states.begin(), states.end(), match.patches[i]) != states.end()) {
      ids.push_back(reference.patches[i].id);
    }
  }
  return ids;
}

int spare(const Reference& reference) {
  return static_cast<int>(reference.patches.size()) >= kEnoughToSpareOne ? 1 : 0;
}

/// Throws if more patches are bad than may be.
void require_whole(const scan::Scan& scan, const Match& match, const Reference& reference) {
  const auto outside = ids_of(match, reference, {PatchState::out_of_frame});
  if (!outside.empty()) {
    refuse(scan, fmt::format("only part of the target is in the frame, {} {} not whole",
                             fmt::join(outside, ", "), outside.size() == 1 ? "is" : "are"));
  }
  if (match.bad() <= spare(reference)) return;
  const auto covered = ids_of(match, reference, {PatchState::uneven, PatchState::off_colour});
  refuse(scan, fmt::format("only part of the target is to be seen, {} {} covered or soiled",
                           fmt::join(covered, ", "), covered.size() == 1 ? "is" : "are"));
}

Located locate(const scan::Scan& scan, const scan::Survey& survey, const cv::Mat& picture,
               const Match& match, const Place& place, const Reference& reference) {
  Located located;
  located.survey = survey;
  const auto scan_point = [&survey](const cv::Point2d& p) { return survey.to_scan({p.x, p.y}); };
  const auto corners = place.corners(reference.rows, reference.columns);
  std::transform(corners.begin(), corners.end(), located.corners.begin(), scan_point);
  double smallest = std::numeric_limits<double>::infinity();
  for (int row = 0; row < reference.rows; ++row) {
    for (int column = 0; column < reference.columns; ++column) {
      const cv::Point2d at(column, row);
      located.centres.push_back(scan_point(project(place.to_picture, at)));
      const auto [u, v] = steps_at(place.to_picture, at);
      smallest = std::min({smallest, place.width * cv::norm(u), place.height * cv::norm(v)});
    }
  }
  located.patch_px = kMeasuredShare * smallest * survey.factor;
  for (const auto& p : card_outline(picture, place, reference.rows, reference.columns)) {
    located.card.push_back(scan_point(p));
  }
  located.usable.assign(reference.patches.size(), true);
  for (std::size_t i = 0; i < match.patches.size(); ++i) {
    if (match.patches[i] == PatchState::good) continue;
    located.usable[i] = false;
    located.warnings.push_back(
        fmt::format("Patch {} of the target in {} is {} and was left out; it is soiled, shaded or "
                    "partly covered: clean the target and scan again.",
                    reference.patches[i].id, scan.info().file.filename().string(),
                    match.patches[i] == PatchState::uneven ? "uneven"
                                                           : "of another colour than the "
                                                             "reference says"));
  }
  return located;
}

/// What the search came to in one picture.
struct Search {
  std::optional<Match> best;
  bool whole_lattice = false;  ///< some lattice has the target's rows and columns
};

Search search(const cv::Mat& picture, const Reference& reference) {
  constexpr std::size_t kMostLattices = 16;
  const int n = static_cast<int>(reference.patches.size());
  Search result;
  std::vector<Lattice> lattices = find_lattices(flat_blobs(picture), n >= 12 ? 6 : 4);
  if (lattices.size() > kMostLattices) lattices.resize(kMostLattices);
  const auto [few, many] = std::minmax(reference.rows, reference.columns);
  for (const Lattice& lattice : lattices) {
    const auto [narrow, wide] = std::minmax(lattice.range.width, lattice.range.height);
    result.whole_lattice =
        result.whole_lattice ||
        (narrow == few && wide == many && static_cast<int>(lattice.blobs.size()) * 10 >= 8 * n);
    const auto m = match(picture, lattice, reference);
    if (m && (!result.best || better(*m, *result.best))) result.best = m;
  }
  return result;
}

bool fits(const Search& search, const Reference& reference) {
  return search.best && search.best->residual <= right_colours(reference);
}

/// OpenCV's own complaints are none of the reader's concern.
template <typename Work>
auto guarded(const scan::Scan& scan, Work work) {
  try {
    return work();
  } catch (const cv::Exception& e) {
    refuse(scan, fmt::format("the search for the target failed ({})", e.err));
  }
}

}  // namespace

Located find_target(const scan::Scan& scan, const Reference& reference) {
  return guarded(scan, [&] {
    int factor = survey_factor(scan.info());
    scan::Survey survey = scan::survey(scan, factor);
    cv::Mat picture = as_float(survey);
    Search found = search(picture, reference);
    if (!fits(found, reference) && factor > 1) {  // small patches may show in a finer picture
      survey = scan::survey(scan, (factor + 1) / 2);
      picture = as_float(survey);
      found = search(picture, reference);
    }
    if (!fits(found, reference)) {
      if (found.whole_lattice) {
        refuse(scan, fmt::format("a target of {} × {} patches is there, but its colours do not fit "
                                 "the reference; check that the reference file belongs to it",
                                 reference.rows, reference.columns));
      }
      refuse(scan, fmt::format("no target of {} × {} patches was found", reference.rows,
                               reference.columns));
    }
    if (found.best->placement.mirrored) {
      refuse(scan, "the target is mirrored, so the scan is; save it unmirrored");
    }
    require_whole(scan, *found.best, reference);
    const auto place = refine(picture, found.best->to_picture, reference.rows, reference.columns);
    if (!place) refuse(scan, "the target's patches have no clear edges; it may be out of focus");
    const Match exact = judge(picture, place->to_picture, reference);
    require_whole(scan, exact, reference);
    return locate(scan, survey, picture, exact, *place, reference);
  });
}

Located locate_from_corners(const scan::Scan& scan, const Reference& reference,
                            const Corners& corners) {
  return guarded(scan, [&] {
    for (const Point& p : corners) {
      if (!(p.x >= -1 && p.y >= -1 && p.x <= scan.info().width_px &&
            p.y <= scan.info().height_px)) {
        throw Error(ExitCode::usage,
                    fmt::format("{}: the target's corner {:.0f}, {:.0f} given in [target] corners "
                                "lies outside this {} × {} scan",
                                scan.info().file.string(), p.x, p.y, scan.info().width_px,
                                scan.info().height_px));
      }
    }
    const scan::Survey survey = scan::survey(scan, survey_factor(scan.info()));
    const cv::Mat picture = as_float(survey);
    std::array<cv::Point2f, 4> from, to;
    const Place usual;
    const float w = static_cast<float>(usual.width / 2), h = static_cast<float>(usual.height / 2);
    const float right = static_cast<float>(reference.columns - 1) + w;
    const float bottom = static_cast<float>(reference.rows - 1) + h;
    from = {cv::Point2f(-w, -h), {right, -h}, {right, bottom}, {-w, bottom}};
    for (std::size_t i = 0; i < 4; ++i) {
      const Point p = survey.from_scan(corners[i]);
      to[i] = {static_cast<float>(p.x), static_cast<float>(p.y)};
    }
    if (!cv::isContourConvex(std::vector<cv::Point2f>(to.begin(), to.end())) ||
        cv::contourArea(std::vector<cv::Point2f>(to.begin(), to.end())) <
            16.0 * static_cast<double>(reference.patches.size())) {
      throw Error(ExitCode::usage,
                  fmt::format("{}: the four corners given in [target] corners do not go round a "
                              "target; give those of the first, last-in-row-1, last and "
                              "first-in-last-row patch, in this order",
                              scan.info().file.string()));
    }
    Place place = usual;
    place.to_picture = cv::Matx33d(cv::getPerspectiveTransform(from.data(), to.data()));
    if (const auto exact = refine(picture, place.to_picture, reference.rows, reference.columns)) {
      const auto seen = exact->corners(reference.rows, reference.columns);
      const auto [u, v] = steps_at(place.to_picture, {0, 0});
      double off = 0;
      for (std::size_t i = 0; i < 4; ++i)
        off = std::max(off, cv::norm(seen[i] - cv::Point2d(to[i])));
      if (off < kCornerSlack * std::min(cv::norm(u), cv::norm(v))) place = *exact;
    }
    const Match match = judge(picture, place.to_picture, reference);
    if (match.residual > right_colours(reference)) {
      throw Error(ExitCode::scan,
                  fmt::format("{}: the patches within the corners given in [target] corners do not "
                              "have the reference's colours; give the corners of the first, "
                              "last-in-row-1, last and first-in-last-row patch, in this order",
                              scan.info().file.string()));
    }
    require_whole(scan, match, reference);
    return locate(scan, survey, picture, match, place, reference);
  });
}

}  // namespace inkwane::target
