#include "simulate/print.hpp"

#include <algorithm>
#include <array>
#include <cmath>

#include <opencv2/imgproc.hpp>

#include <inkwane/error.hpp>

namespace inkwane::simulate {
namespace {

bool same_plate(const Area& a, const Area& b) {
  return a.ink == b.ink && a.amount == b.amount && a.screen_lpi == b.screen_lpi &&
         a.screen_angle == b.screen_angle && a.coverage == b.coverage && a.dot == b.dot;
}

INKWANE_WIDE void mix(const PaddedSpectrum& film, float w_in, float w_out, PaddedSpectrum& inward,
                      PaddedSpectrum& outward) {
  for (int k = 0; k < kPadded; ++k) {
    inward.band[k] += w_in * film.band[k];
    outward.band[k] += w_out * film.band[k];
  }
}

void spread_light(PlateMask& mask, const Window& window, double spread_mm) {
  const double sigma = spread_mm / window.pitch_mm;
  if (sigma < 0.2) {
    mask.out = mask.in;
    return;
  }
  cv::GaussianBlur(mask.in, mask.out, {}, sigma, sigma, cv::BORDER_REPLICATE);
}

}  // namespace

PaddedSpectrum padded(const Spectrum& spectrum, double factor) {
  PaddedSpectrum result;
  for (int i = 0; i < kBands; ++i) result.band[i] = static_cast<float>(spectrum[i] * factor);
  return result;
}

Print::Print(const Scene& scene, const std::string& side) {
  for (const Area& area : areas_of(scene, side)) {
    int plate = -1;
    if (!area.ink.empty()) {
      const auto found = std::find_if(plates_.begin(), plates_.end(),
                                      [&](const Area& other) { return same_plate(area, other); });
      plate = static_cast<int>(found - plates_.begin());
      if (found == plates_.end()) {
        plates_.push_back(area);
        if (plates_.size() > kMostPlates) {
          throw Error(ExitCode::usage,
                      "The scene cannot be simulated: the " + side +
                          " uses more than 64 combinations of ink, amount and screen.");
        }
      }
    }
    drawn_.push_back({plate, Shape(area)});
  }
}

std::vector<PlateMask> Print::masks(const Window& window, double spread_mm, bool tints) const {
  // Light comes from beyond the window too.
  const int halo = spread_mm > 0 ? static_cast<int>(std::ceil(4 * spread_mm / window.pitch_mm)) : 0;
  Window wide = window;
  wide.origin_mm -= cv::Point2d(halo, halo) * window.pitch_mm;
  wide.size += cv::Size(2 * halo, 2 * halo);

  std::vector<cv::Rect> reach(plates_.size());
  for (const Drawn& drawn : drawn_) {
    if (drawn.plate >= 0) reach[drawn.plate] |= drawn.shape.bounds(wide);
  }
  std::vector<PlateMask> masks;
  std::vector<int> mask_of(plates_.size(), -1);
  for (std::size_t plate = 0; plate < plates_.size(); ++plate) {
    if (reach[plate].empty()) continue;
    const cv::Rect all(0, 0, wide.size.width, wide.size.height);
    const cv::Rect part = cv::Rect(reach[plate].tl() - cv::Point(halo, halo),
                                   reach[plate].br() + cv::Point(halo, halo)) &
                          all;
    mask_of[plate] = static_cast<int>(masks.size());
    masks.push_back(
        {static_cast<int>(plate), part, cv::Mat(part.size(), CV_8UC1, cv::Scalar(0)), {}});
  }

  for (const Drawn& drawn : drawn_) {
    const cv::Rect part = drawn.shape.bounds(wide);
    if (part.empty()) continue;
    const cv::Mat shape = drawn.shape.coverage(wide, part);
    if (drawn.plate >= 0) {
      PlateMask& mask = masks[mask_of[drawn.plate]];
      cv::Mat there = mask.in(part - mask.part.tl());
      cv::max(there, shape, there);
      continue;
    }
    for (PlateMask& mask : masks) {
      const cv::Rect common = part & mask.part;
      if (common.empty()) continue;
      cv::Mat there = mask.in(common - mask.part.tl());
      cv::multiply(there, 255 - shape(common - part.tl()), there, 1.0 / 255);
    }
  }

  for (PlateMask& mask : masks) {
    const Area& plate = plates_[mask.plate];
    if (plate.screen_lpi > 0 && tints) {
      mask.in.convertTo(mask.in, CV_8U, plate.coverage);
    } else if (plate.screen_lpi > 0) {
      Screen(plate).multiply(mask.in, wide, mask.part);
    }
    spread_light(mask, wide, spread_mm);
    const cv::Rect kept = cv::Rect(cv::Point(halo, halo), window.size) & mask.part;
    mask.in = mask.in(kept - mask.part.tl());
    mask.out = mask.out(kept - mask.part.tl());
    mask.part = kept - cv::Point(halo, halo);
  }
  std::erase_if(masks, [](const PlateMask& mask) { return mask.part.empty(); });
  return masks;
}

std::map<std::string, cv::Mat> Print::amounts(const Window& window) const {
  std::map<std::string, cv::Mat> amounts;
  for (const PlateMask& mask : masks(window, 0, true)) {
    const Area& plate = plates_[mask.plate];
    cv::Mat& amount = amounts[plate.ink];
    if (amount.empty()) amount = cv::Mat(window.size, CV_32FC1, cv::Scalar(0));
    cv::Mat here, there = amount(mask.part);
    mask.in.convertTo(here, CV_32F, plate.amount / 255);
    cv::max(there, here, there);
  }
  return amounts;
}

Films::Films(const Scene& scene, const Print& print, const std::string& stage)
    : law_(scene.law), paper_(paper_at(scene, stage)) {
  for (const Area& plate : print.plates()) {
    double kept = 1;
    if (const auto fate = scene.fates.find(plate.ink); fate != scene.fates.end()) {
      kept = at_stage(fate->second.kept, stage, 1);
    }
    charges_.push_back(
        {plate.ink, plate.amount * kept, strength(scene.law, scene.inks.at(plate.ink))});
  }
}

void Films::prepare(PlateSet set) {
  // All subsets, from the set itself down to none.
  for (PlateSet part = set;; part = (part - 1) & set) {
    if (!films_.contains(part)) films_.emplace(part, make(part));
    if (part == 0) break;
  }
}

PaddedSpectrum Films::make(PlateSet set) const {
  Spectrum sum{};
  for (std::size_t plate = 0; plate < charges_.size(); ++plate) {
    if (((set >> plate) & 1U) == 0) continue;
    const Charge& charge = charges_[plate];
    bool outdone = false;  // by another plate of the same ink; the first of equals counts
    for (std::size_t other = 0; other < charges_.size(); ++other) {
      outdone |= other != plate && ((set >> other) & 1U) != 0 &&
                 charges_[other].ink == charge.ink &&
                 (charges_[other].amount > charge.amount ||
                  (charges_[other].amount == charge.amount && other < plate));
    }
    if (outdone) continue;
    for (int i = 0; i < kBands; ++i) sum[i] += charge.amount * charge.strength[i];
  }
  const Spectrum solid = inked(law_, paper_, sum);
  Spectrum film{};
  for (int i = 0; i < kBands; ++i) film[i] = std::sqrt(solid[i] / paper_[i]);
  return padded(film);
}

void FilmRow::enter(int j) {
  row_ = j;
  std::fill(sets_.begin(), sets_.end(), PlateSet{0});
  std::fill(partial_.begin(), partial_.end(), std::uint8_t{0});
  for (const PlateMask& mask : masks_) {
    if (j < mask.part.y || j >= mask.part.br().y) continue;
    const auto* in = mask.in.ptr<std::uint8_t>(j - mask.part.y);
    const auto* out = mask.out.ptr<std::uint8_t>(j - mask.part.y);
    PlateSet* sets = sets_.data() + mask.part.x;
    std::uint8_t* partial = partial_.data() + mask.part.x;
    const PlateSet bit = PlateSet{1} << static_cast<unsigned>(mask.plate);
    for (int i = 0; i < mask.part.width; ++i) {
      const bool any = (in[i] | out[i]) != 0;
      sets[i] |= any ? bit : 0;
      partial[i] |= static_cast<std::uint8_t>(any && (in[i] & out[i]) != 255);
    }
  }
}

void FilmRow::passed(const Films& films, int i, PaddedSpectrum& share) const {
  const PlateSet set = sets_[i];
  if (solid(i)) {
    const PaddedSpectrum& film = films.of(set);
    for (int k = 0; k < kPadded; ++k) share.band[k] = film.band[k] * film.band[k];
    return;
  }
  std::array<PlateSet, kMostPlates> bits;
  std::array<float, kMostPlates> in, out;
  int count = 0;
  for (const PlateMask& mask : masks_) {
    const PlateSet bit = PlateSet{1} << static_cast<unsigned>(mask.plate);
    if ((set & bit) == 0) continue;
    bits[count] = bit;
    in[count] =
        static_cast<float>(mask.in.at<std::uint8_t>(row_ - mask.part.y, i - mask.part.x)) / 255;
    out[count] =
        static_cast<float>(mask.out.at<std::uint8_t>(row_ - mask.part.y, i - mask.part.x)) / 255;
    ++count;
  }
  PaddedSpectrum inward, outward;
  for (unsigned subset = 0; subset < (1U << static_cast<unsigned>(count)); ++subset) {
    float w_in = 1, w_out = 1;
    PlateSet plates = 0;
    for (int k = 0; k < count; ++k) {
      const bool has = ((subset >> static_cast<unsigned>(k)) & 1U) != 0;
      w_in *= has ? in[k] : 1 - in[k];
      w_out *= has ? out[k] : 1 - out[k];
      if (has) plates |= bits[k];
    }
    if (w_in == 0 && w_out == 0) continue;
    mix(films.of(plates), w_in, w_out, inward, outward);
  }
  for (int k = 0; k < kPadded; ++k) share.band[k] = inward.band[k] * outward.band[k];
}

}  // namespace inkwane::simulate
