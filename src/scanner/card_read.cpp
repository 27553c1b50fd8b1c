#include "scanner/card_read.hpp"

#include <algorithm>
#include <cmath>

#include <fmt/format.h>
#include <opencv2/imgproc.hpp>

#include <inkwane/error.hpp>

namespace inkwane::scanner {
namespace {

/// Of a chip's side, about its middle: fits into the chip at any tilt that the card may have, and
/// stays clear of its blurred edges.
constexpr double kMiddleMm = 6;
constexpr double kSquarePartMm = 13;
/// Values this close to the end of the scale count as clipped: scanners do not all reach the end.
constexpr std::uint16_t kAlmostWhite = 65535 - 64;
constexpr double kMostClipped = 0.005;
/// Standard deviation of a chip's ninths, relative to its mean; prints of office printers stay
/// below 0.02 (common practice, no source), a finger's shadow does not.
constexpr double kMostUneven = 0.06;
/// Each kind must be this many times as light as the next darker one.
constexpr double kLeastStep = 1.2;

[[noreturn]] void refuse(const scan::Scan& scan, const std::string& what) {
  throw Error(ExitCode::scan, fmt::format("{}: {}.", scan.info().file.string(), what));
}

/// Averages linear light on cells of a millimetre as strips arrive.
class CoarseAverager {
 public:
  CoarseAverager(const cv::Size& scan, double px_per_mm) {
    const double cell = px_per_mm * kCoarseMm;
    const cv::Size cells(std::max(1, static_cast<int>(std::lround(scan.width / cell))),
                         std::max(1, static_cast<int>(std::lround(scan.height / cell))));
    coarse_.pitch_px = static_cast<double>(scan.width) / cells.width;
    coarse_.pitch_mm = coarse_.pitch_px / px_per_mm;
    coarse_.origin_px = {(coarse_.pitch_px - 1) / 2, (coarse_.pitch_px - 1) / 2};
    sum_ = cv::Mat(cells, CV_64FC3, cv::Scalar::all(0));
    count_ = cv::Mat(cells, CV_32SC1, cv::Scalar(0));
  }
  void add(int row, const float* light, int width) {
    const int j = cell_of(row, sum_.rows);
    auto* sums = sum_.ptr<cv::Vec3d>(j);
    auto* counts = count_.ptr<int>(j);
    for (int x = 0; x < width; ++x) {
      const int i = cell_of(x, sum_.cols);
      sums[i] += cv::Vec3d(static_cast<double>(light[3 * x]), static_cast<double>(light[3 * x + 1]),
                           static_cast<double>(light[3 * x + 2]));
      ++counts[i];
    }
  }
  CoarseLight take() {
    coarse_.light = cv::Mat(sum_.size(), CV_32FC3);
    for (int j = 0; j < sum_.rows; ++j) {
      for (int i = 0; i < sum_.cols; ++i) {
        coarse_.light.at<cv::Vec3f>(j, i) =
            sum_.at<cv::Vec3d>(j, i) / std::max(1, count_.at<int>(j, i));
      }
    }
    return std::move(coarse_);
  }

 private:
  [[nodiscard]] int cell_of(int pixel, int cells) const {
    return std::min(static_cast<int>((pixel + 0.5) / coarse_.pitch_px), cells - 1);
  }
  CoarseLight coarse_;
  cv::Mat sum_, count_;
};

/// Parts that are cut out of the strips as they arrive.
class Cutter {
 public:
  Cutter(const colour::Linearisation& linearisation, const cv::Size& scan)
      : linearisation_(linearisation), frame_({}, scan) {}

  void want(Part& part, cv::Point2d centre, double side_px) {
    const int side = std::max(1, static_cast<int>(std::lround(side_px)));
    part.px =
        cv::Rect(cvRound(centre.x) - side / 2, cvRound(centre.y) - side / 2, side, side) & frame_;
    wanted_.push_back({&part, cv::Mat(part.px.size(), CV_16UC3)});
  }
  void add(int first_row, const cv::Mat& strip) {
    const cv::Rect rows(0, first_row, strip.cols, strip.rows);
    for (auto& [part, encoded] : wanted_) {
      const cv::Rect both = part->px & rows;
      if (both.empty()) continue;
      strip(both - cv::Point(0, first_row)).copyTo(encoded(both - part->px.tl()));
    }
  }
  /// Linearises what was cut; the share of clipped pixels of each part, in the order they were
  /// wanted.
  std::vector<double> finish() {
    std::vector<double> clipped;
    for (auto& [part, encoded] : wanted_) {
      part->light.create(encoded.size(), CV_32FC3);
      const std::size_t values = std::size_t{3} * static_cast<std::size_t>(encoded.cols);
      int ends = 0;
      for (int y = 0; y < encoded.rows; ++y) {
        const auto* row = encoded.ptr<std::uint16_t>(y);
        linearisation_.apply({row, values}, {part->light.ptr<float>(y), values});
        for (std::size_t i = 0; i < values; i += 3) {
          ends += std::any_of(row + i, row + i + 3, [](std::uint16_t value) {
            return value == 0 || value >= kAlmostWhite;
          });
        }
      }
      clipped.push_back(static_cast<double>(ends) /
                        std::max(1.0, static_cast<double>(encoded.total())));
    }
    return clipped;
  }

 private:
  struct Wanted {
    Part* part;
    cv::Mat encoded;
  };
  const colour::Linearisation& linearisation_;
  cv::Rect frame_;
  std::vector<Wanted> wanted_;
};

/// Standard deviation of the means of a part's ninths, relative to its mean, worst channel.
double unevenness(const cv::Mat& light) {
  cv::Mat ninths;
  cv::resize(light, ninths, {3, 3}, 0, 0, cv::INTER_AREA);
  cv::Scalar mean, deviation;
  cv::meanStdDev(ninths, mean, deviation);
  double worst = 0;
  for (int c = 0; c < 3; ++c) worst = std::max(worst, deviation[c] / std::max(mean[c], 1e-4));
  return worst;
}

void check_chips(const scan::Scan& scan, const CardReadings& readings,
                 const std::vector<double>& clipped) {
  std::array<std::vector<double>, 3> by_kind;
  for (std::size_t i = 0; i < readings.chips.size(); ++i) {
    const ChipReading& chip = readings.chips[i];
    if (clipped[i] > kMostClipped) {
      refuse(scan,
             fmt::format("the {} chips of the scanner's card are clipped (a channel at the end "
                         "of its scale); scan with automatic exposure off and headroom at "
                         "paper white",
                         name_of(chip.chip.kind)));
    }
    by_kind[static_cast<std::size_t>(chip.chip.kind)].push_back(chip.light.sum());
  }
  std::array<double, 3> middle{};
  for (std::size_t k = 0; k < 3; ++k) {
    auto& values = by_kind[k];
    std::sort(values.begin(), values.end());
    middle[k] = values[values.size() / 2];
  }
  for (std::size_t k = 1; k < 3; ++k) {
    if (middle[k - 1] < kLeastStep * middle[k]) {
      refuse(scan, fmt::format("what lies between the ring marks is not the scanner's card (its {} "
                               "chips are not lighter than its {} ones); scan a card as `inkwane "
                               "card` prints it",
                               name_of(card::kKinds[k - 1]), name_of(card::kKinds[k])));
    }
  }
  for (const ChipReading& chip : readings.chips) {
    const double uneven = unevenness(chip.middle.light);
    if (uneven > kMostUneven) {
      refuse(scan,
             fmt::format("a {} chip in the {} field of the scanner's card is uneven (by {:.0f} "
                         "%); clean or uncover it, or print the card anew",
                         name_of(chip.chip.kind),
                         card::fields()[static_cast<std::size_t>(chip.chip.field)].place,
                         100 * uneven));
    }
  }
}

}  // namespace

CardReadings read_card(const scan::Scan& scan, const colour::Linearisation& linearisation,
                       const CardPlace& place) {
  const cv::Size size(scan.info().width_px, scan.info().height_px);
  const double printed_px = std::sqrt(std::abs(
      place.to_px_matrix(0, 0) * place.to_px_matrix(1, 1) -
      place.to_px_matrix(0, 1) * place.to_px_matrix(1, 0)));  // pixels a millimetre of the layout
  CardReadings readings;
  readings.chips.resize(card::chips().size());
  Cutter cutter(linearisation, size);
  for (std::size_t i = 0; i < readings.chips.size(); ++i) {
    ChipReading& reading = readings.chips[i];
    reading.chip = card::chips()[i];
    reading.px = place.to_px(reading.chip.centre_mm);
    cutter.want(reading.middle, reading.px, kMiddleMm * printed_px);
  }
  for (std::size_t f = 0; f < 4; ++f) {
    const cv::Rect2d& mm = card::fields()[f].mm;
    cutter.want(readings.fields[f], place.to_px(0.5 * (mm.tl() + mm.br())),
                card::kChipMm * printed_px);
  }
  for (std::size_t s = 0; s < 3; ++s) {
    cutter.want(readings.squares[s], place.to_px(card::squares()[s].centre_mm),
                kSquarePartMm * printed_px);
  }
  CoarseAverager coarse(size, place.px_per_mm);
  std::vector<float> line(std::size_t{3} * static_cast<std::size_t>(size.width));
  scan.read([&](int first_row, const cv::Mat& strip) {
    for (int y = 0; y < strip.rows; ++y) {
      linearisation.apply({strip.ptr<std::uint16_t>(y), line.size()}, line);
      coarse.add(first_row + y, line.data(), size.width);
    }
    cutter.add(first_row, strip);
  });
  const std::vector<double> clipped = cutter.finish();
  readings.light = coarse.take();
  for (ChipReading& chip : readings.chips) {
    const cv::Scalar mean = cv::mean(chip.middle.light);
    chip.light = {mean[0], mean[1], mean[2]};
  }
  check_chips(scan, readings, clipped);
  return readings;
}

}  // namespace inkwane::scanner
