#include "align/showthrough.hpp"

#include <algorithm>
#include <cmath>

#include <opencv2/imgproc.hpp>

#include "align/agreement.hpp"
#include "grid/disc.hpp"

namespace inkwane::align {
namespace {

/// Density (natural logarithm) above bare paper from which a place counts as print of its own side;
/// show-through stays below (a few per cent of the light up to a tenth).
constexpr float kPrint = 0.14F;
/// Print's own blur and the aperture reach this far (mm).
constexpr double kPrintReachMm = 0.8;
/// Light spreads in paper by about this (mm, standard deviation), so show-through is never sharper.
constexpr double kSpreadMm = 0.35;
constexpr float kNowhere = -1e6F;

void blur(cv::Mat& picture, double sigma) {
  cv::GaussianBlur(picture, picture, {}, sigma, sigma, cv::BORDER_CONSTANT);
}

/// Mean of the weighted cells about each cell, by `average`.
template <typename Average>
cv::Mat local_mean(const Weighted& w, const Average& average) {
  cv::Mat value, weight = w.weight.clone();
  cv::multiply(w.value, w.weight, value);
  average(value);
  average(weight);
  cv::max(weight, 1e-4, weight);
  cv::divide(value, weight, value);
  return value;
}

/// Takes out what is even over a neighbourhood, and what runs on along rows or columns.
void flatten(Weighted& w, const Sieve& sieve, double pitch_mm) {
  const cv::Mat surround =
      local_mean(w, [&](cv::Mat& m) { blur(m, sieve.surround_mm / pitch_mm); });
  w.value -= surround;
  const int length = 2 * (static_cast<int>(sieve.rule_mm / pitch_mm) / 2) + 1;
  for (const cv::Size run : {cv::Size(length, 1), cv::Size(1, length)}) {
    const cv::Mat mean = local_mean(w, [&](cv::Mat& m) {
      cv::blur(m, m, run, {-1, -1}, cv::BORDER_CONSTANT);
    });
    w.value -= mean;
  }
  cv::multiply(w.value, w.weight, w.value);
}

/// Σ a(v) b(v + s) over v, for every s; the result's cell (s + a.size − 1).
class Spectra {
 public:
  Spectra(cv::Size a, cv::Size b)
      : size_(cv::getOptimalDFTSize(a.width + b.width - 1),
              cv::getOptimalDFTSize(a.height + b.height - 1)),
        result_(a.width + b.width - 1, a.height + b.height - 1),
        shift_(a.width - 1, a.height - 1) {}

  [[nodiscard]] cv::Mat of(const cv::Mat& picture) const {
    cv::Mat padded, spectrum;
    cv::copyMakeBorder(picture, padded, 0, size_.height - picture.rows, 0,
                       size_.width - picture.cols, cv::BORDER_CONSTANT, cv::Scalar(0));
    cv::dft(padded, spectrum, 0, picture.rows);
    return spectrum;
  }

  [[nodiscard]] cv::Mat correlation(const cv::Mat& a, const cv::Mat& b) const {
    cv::Mat product, all;
    cv::mulSpectrums(b, a, product, 0, true);
    cv::idft(product, all, cv::DFT_REAL_OUTPUT | cv::DFT_SCALE);
    // Negative shifts stand at the far end: rolled so that they run on.
    cv::Mat rolled(result_, CV_32F);
    for (int row = 0; row < result_.height; ++row) {
      const int from = (row - shift_.y + size_.height) % size_.height;
      const auto* in = all.ptr<float>(from);
      auto* out = rolled.ptr<float>(row);
      for (int column = 0; column < result_.width; ++column) {
        out[column] = in[(column - shift_.x + size_.width) % size_.width];
      }
    }
    return rolled;
  }

 private:
  cv::Size size_, result_;
  cv::Point shift_;
};

struct Transformed {
  cv::Mat value, square, weight;
};

Transformed transform(const Spectra& spectra, const Weighted& w) {
  cv::Mat square;
  cv::multiply(w.value, w.value, square);
  return {spectra.of(w.value), spectra.of(square), spectra.of(w.weight)};
}

/// In units of the robust spread over all shifts with enough overlap.
cv::Mat standardised(const Spectra& spectra, const Transformed& a, const Transformed& b,
                     double least) {
  const cv::Mat product = spectra.correlation(a.value, b.value);
  const cv::Mat energy_a = spectra.correlation(a.square, b.weight);
  const cv::Mat energy_b = spectra.correlation(a.weight, b.square);
  const cv::Mat shared = spectra.correlation(a.weight, b.weight);
  cv::Mat score(product.size(), CV_32F, cv::Scalar(static_cast<double>(kNowhere)));
  double total_a = 0, total_b = 0;
  cv::minMaxLoc(energy_a, nullptr, &total_a);
  cv::minMaxLoc(energy_b, nullptr, &total_b);
  std::vector<double> sizes;
  for (int row = 0; row < score.rows; ++row) {
    for (int column = 0; column < score.cols; ++column) {
      const double ea = static_cast<double>(energy_a.at<float>(row, column)),
                   eb = static_cast<double>(energy_b.at<float>(row, column));
      const double n = static_cast<double>(shared.at<float>(row, column));
      if (n < least || ea < 0.1 * total_a || eb < 0.1 * total_b || ea <= 0 || eb <= 0) continue;
      // √n times the correlation: its spread does not depend on how much overlaps.
      const auto r = static_cast<float>(static_cast<double>(product.at<float>(row, column)) /
                                        std::sqrt(ea * eb) * std::sqrt(n));
      score.at<float>(row, column) = r;
      if ((row + column) % 3 == 0) sizes.push_back(std::abs(static_cast<double>(r)));
    }
  }
  if (sizes.size() < 50)
    return cv::Mat(score.size(), CV_32F, cv::Scalar(static_cast<double>(kNowhere)));
  const double spread = 1.4826 * quantile(sizes, 0.5);
  if (!(spread > 0))
    return cv::Mat(score.size(), CV_32F, cv::Scalar(static_cast<double>(kNowhere)));
  for (int row = 0; row < score.rows; ++row) {
    auto* s = score.ptr<float>(row);
    for (int column = 0; column < score.cols; ++column) {
      if (s[column] > kNowhere) s[column] /= static_cast<float>(spread);
    }
  }
  return score;
}

}  // namespace

Face Face::pulled(const cv::Matx23d& map, cv::Size size) const {
  Face face;
  for (const auto& [from, to] : {std::pair{&print, &face.print}, {&faint, &face.faint}}) {
    cv::warpAffine(from->value, to->value, map, size, cv::INTER_LINEAR | cv::WARP_INVERSE_MAP,
                   cv::BORDER_CONSTANT, cv::Scalar(0));
    cv::warpAffine(from->weight, to->weight, map, size, cv::INTER_LINEAR | cv::WARP_INVERSE_MAP,
                   cv::BORDER_CONSTANT, cv::Scalar(0));
  }
  return face;
}

Face Face::part(const cv::Rect& window) const {
  return {{print.value(window), print.weight(window)}, {faint.value(window), faint.weight(window)}};
}

Face make_face(const View& view, int factor, const Sieve& sieve) {
  const double pitch_mm = view.grid->geometry.pitch_mm * factor;
  const cv::Mat& light = view.grid->light;
  const cv::Size size(light.cols / factor, light.rows / factor);
  const cv::Rect whole(0, 0, size.width * factor, size.height * factor);
  cv::Mat finite = light(whole).clone(), mean, sheet;
  cv::patchNaNs(finite, 0);
  cv::resize(finite, mean, size, 0, 0, cv::INTER_AREA);
  cv::resize(view.outline->sheet(whole), sheet, size, 0, 0, cv::INTER_AREA);
  // Cells wholly on the sheet, and not on its rim, where the backing shines in.
  sheet = sheet > 254;
  const int rim = std::max(1, cvRound(1.0 / pitch_mm));
  cv::erode(sheet, sheet, cv::Mat::ones(2 * rim + 1, 2 * rim + 1, CV_8U), {-1, -1}, 1,
            cv::BORDER_CONSTANT, cv::Scalar(0));

  cv::Mat density(size, CV_32F);
  std::vector<double> on_sheet;
  for (int row = 0; row < size.height; ++row) {
    for (int column = 0; column < size.width; ++column) {
      const cv::Vec3f v = mean.at<cv::Vec3f>(row, column);
      float sum = 0;
      for (int c = 0; c < 3; ++c) sum -= std::log(std::max(v[c], 1e-3F));
      density.at<float>(row, column) = sum / 3;
      if (sheet.at<uchar>(row, column) != 0) on_sheet.push_back(static_cast<double>(sum) / 3);
    }
  }
  Face face;
  face.print.weight = cv::Mat(size, CV_32F, cv::Scalar(0));
  face.print.weight.setTo(1, sheet);
  face.print.value = cv::Mat(size, CV_32F, cv::Scalar(0));
  face.faint = {face.print.value.clone(), face.print.weight.clone()};
  if (on_sheet.empty()) return face;

  // Paper: the lightest third about each place, or the sheet's where print covers everything.
  const auto paper = static_cast<float>(quantile(on_sheet, 0.2));
  cv::Mat local = density.clone();
  local.setTo(static_cast<double>(paper), sheet == 0);
  const int reach = std::max(1, cvRound(3.0 / pitch_mm));
  const cv::Mat element = cv::getStructuringElement(cv::MORPH_RECT, {2 * reach + 1, 2 * reach + 1});
  blur(local, 0.5 / pitch_mm);
  cv::morphologyEx(local, local, cv::MORPH_OPEN, element, {-1, -1}, 1, cv::BORDER_REPLICATE);
  cv::GaussianBlur(local, local, {}, reach, reach, cv::BORDER_REPLICATE);
  cv::min(local, static_cast<double>(paper + kPrint), local);
  cv::Mat above = density - local;

  cv::Mat print_at = above > static_cast<double>(kPrint);
  const int grow = std::max(1, cvRound(kPrintReachMm / pitch_mm));
  cv::dilate(print_at, print_at, grid::disc(grow));
  face.faint.weight.setTo(0, print_at);
  above.copyTo(face.faint.value);
  // A mark fainter than print is bounded; a speck beyond must not outweigh it.
  cv::min(face.faint.value, static_cast<double>(kPrint), face.faint.value);
  cv::max(face.faint.value, static_cast<double>(-kPrint), face.faint.value);

  for (int row = 0; row < size.height; ++row) {
    for (int column = 0; column < size.width; ++column) {
      face.print.value.at<float>(row, column) =
          1 - std::exp(-std::max(above.at<float>(row, column), 0.0F));
    }
  }
  cv::multiply(face.print.value, face.print.weight, face.print.value);
  blur(face.print.value, kSpreadMm / pitch_mm);
  flatten(face.print, sieve, pitch_mm);
  flatten(face.faint, sieve, pitch_mm);
  return face;
}

Correlation correlate(const Face& verso, const Face& recto, double least_overlap) {
  const cv::Size a = verso.print.value.size(), b = recto.print.value.size();
  const Spectra spectra(a, b);
  // Overlap of faint marks with print's sheet, as a share of the faint marks there are.
  const double least =
      least_overlap * std::min(cv::sum(verso.faint.weight)[0], cv::sum(recto.faint.weight)[0]);
  const cv::Mat one = standardised(spectra, transform(spectra, verso.faint),
                                   transform(spectra, recto.print), least);
  const cv::Mat two = standardised(spectra, transform(spectra, verso.print),
                                   transform(spectra, recto.faint), least);
  Correlation result{cv::Mat(one.size(), CV_32F), {a.width - 1, a.height - 1}};
  for (int row = 0; row < one.rows; ++row) {
    for (int column = 0; column < one.cols; ++column) {
      const float x = one.at<float>(row, column), y = two.at<float>(row, column);
      // Either alone where the other has nothing to say, else both together.
      float z = std::max(x, y);
      if (x > kNowhere && y > kNowhere) z = (x + y) / std::sqrt(2.0F);
      result.z.at<float>(row, column) = z;
    }
  }
  return result;
}

Correlation correlate_prints(const Face& one, const Face& two, double least_overlap) {
  const cv::Size a = one.print.value.size(), b = two.print.value.size();
  const Spectra spectra(a, b);
  const double least =
      least_overlap * std::min(cv::sum(one.print.weight)[0], cv::sum(two.print.weight)[0]);
  return {
      standardised(spectra, transform(spectra, one.print), transform(spectra, two.print), least),
      {a.width - 1, a.height - 1}};
}

Peak find_peak(const Correlation& correlation, const cv::Rect& within, double apart) {
  const cv::Rect all({}, correlation.z.size());
  const cv::Rect window = within.empty() ? all : (within + correlation.zero) & all;
  Peak peak;
  peak.z = peak.runner_up = static_cast<double>(kNowhere);
  if (window.empty()) return peak;
  cv::Point at;
  cv::minMaxLoc(correlation.z(window), nullptr, &peak.z, nullptr, &at);
  at += window.tl();
  const auto value = [&](int x, int y) {
    return all.contains(cv::Point(x, y)) ? static_cast<double>(correlation.z.at<float>(y, x))
                                         : peak.z;
  };
  const auto lowest = static_cast<double>(kNowhere);
  const auto vertex = [&](double left, double right) {
    const double bend = left - 2 * peak.z + right;
    return bend < 0 && std::min(left, right) > lowest
               ? std::clamp(0.5 * (left - right) / bend, -0.5, 0.5)
               : 0.0;
  };
  peak.shift = cv::Point2d(at - correlation.zero) +
               cv::Point2d(vertex(value(at.x - 1, at.y), value(at.x + 1, at.y)),
                           vertex(value(at.x, at.y - 1), value(at.x, at.y + 1)));
  for (int row = 0; row < all.height; ++row) {
    for (int column = 0; column < all.width; ++column) {
      if (std::hypot(column - at.x, row - at.y) <= apart) continue;
      peak.runner_up =
          std::max(peak.runner_up, static_cast<double>(correlation.z.at<float>(row, column)));
    }
  }
  return peak;
}

}  // namespace inkwane::align
