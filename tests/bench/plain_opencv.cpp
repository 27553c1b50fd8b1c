// The core of the same job as one would write it from general-purpose libraries alone, every pixel
// for itself: libtiff, LittleCMS to Lab, features and a homography, dense flow, CIEDE2000. No
// target, no regions, no uncertainty, no ink, no report.
//
//   bench_plain BEFORE AFTER [BEFORE AFTER]…
#include <cstdint>
#include <cstdio>
#include <vector>

#include <lcms2.h>
#include <opencv2/calib3d.hpp>
#include <opencv2/features2d.hpp>
#include <opencv2/imgproc.hpp>
#include <opencv2/video/tracking.hpp>
#include <tiffio.h>

namespace {

/// CIELAB (D50) of every pixel, CV_32FC3, through the embedded profile or sRGB.
cv::Mat read_lab(const char* file) {
  TIFF* const tiff = TIFFOpen(file, "rm");
  if (tiff == nullptr) return {};
  std::uint32_t width = 0, height = 0, rows = 0, size = 0;
  void* icc = nullptr;
  TIFFGetField(tiff, TIFFTAG_IMAGEWIDTH, &width);
  TIFFGetField(tiff, TIFFTAG_IMAGELENGTH, &height);
  TIFFGetFieldDefaulted(tiff, TIFFTAG_ROWSPERSTRIP, &rows);
  const bool embedded = TIFFGetField(tiff, TIFFTAG_ICCPROFILE, &size, &icc) == 1;
  const cmsHPROFILE from = embedded ? cmsOpenProfileFromMem(icc, size) : cmsCreate_sRGBProfile();
  const cmsHPROFILE to = cmsCreateLab4Profile(nullptr);
  const cmsHTRANSFORM transform =
      cmsCreateTransform(from, TYPE_RGB_16, to, TYPE_Lab_FLT, INTENT_RELATIVE_COLORIMETRIC, 0);
  cv::Mat lab(static_cast<int>(height), static_cast<int>(width), CV_32FC3);
  std::vector<std::uint16_t> strip(static_cast<std::size_t>(TIFFStripSize(tiff)) / 2);
  for (std::uint32_t row = 0; row < height; row += rows) {
    TIFFReadEncodedStrip(tiff, row / rows, strip.data(), -1);
    cmsDoTransform(transform, strip.data(), lab.ptr(static_cast<int>(row)),
                   std::min(rows, height - row) * width);
  }
  cmsDeleteTransform(transform);
  cmsCloseProfile(from);
  cmsCloseProfile(to);
  TIFFClose(tiff);
  return lab;
}

cv::Mat grey_of(const cv::Mat& lab, double scale) {
  cv::Mat lightness, grey;
  cv::extractChannel(lab, lightness, 0);
  cv::resize(lightness, lightness, {}, scale, scale, cv::INTER_AREA);
  lightness.convertTo(grey, CV_8U, 2.55);
  return grey;
}

/// The later picture brought onto the first.
cv::Mat aligned(const cv::Mat& first, const cv::Mat& later) {
  constexpr double kFeatures = 0.25, kFlow = 0.5;
  const cv::Mat a = grey_of(first, kFeatures), b = grey_of(later, kFeatures);
  const auto sift = cv::SIFT::create(3000);
  std::vector<cv::KeyPoint> at_a, at_b;
  cv::Mat of_a, of_b;
  sift->detectAndCompute(a, {}, at_a, of_a);
  sift->detectAndCompute(b, {}, at_b, of_b);
  std::vector<cv::DMatch> matches;
  cv::BFMatcher(cv::NORM_L2, true).match(of_a, of_b, matches);
  std::vector<cv::Point2f> from, to;
  for (const cv::DMatch& match : matches) {
    from.push_back(at_a[static_cast<std::size_t>(match.queryIdx)].pt * (1 / kFeatures));
    to.push_back(at_b[static_cast<std::size_t>(match.trainIdx)].pt * (1 / kFeatures));
  }
  const cv::Mat map = cv::findHomography(from, to, cv::RANSAC, 6);
  cv::Mat warped, flow, moved;
  cv::warpPerspective(later, warped, map, first.size(), cv::INTER_CUBIC | cv::WARP_INVERSE_MAP);
  cv::DISOpticalFlow::create(cv::DISOpticalFlow::PRESET_MEDIUM)
      ->calc(grey_of(first, kFlow), grey_of(warped, kFlow), flow);
  cv::resize(flow, flow, first.size(), 0, 0, cv::INTER_LINEAR);
  flow *= 1 / kFlow;
  for (int y = 0; y < flow.rows; ++y) {
    for (int x = 0; x < flow.cols; ++x)
      flow.at<cv::Vec2f>(y, x) += cv::Vec2f(static_cast<float>(x), static_cast<float>(y));
  }
  cv::remap(warped, moved, flow, cv::noArray(), cv::INTER_CUBIC);
  return moved;
}

}  // namespace

int main(int argc, char** argv) {
  double sum = 0;
  for (int i = 1; i + 1 < argc; i += 2) {
    const cv::Mat first = read_lab(argv[i]);
    const cv::Mat later = aligned(first, read_lab(argv[i + 1]));
    for (int y = 0; y < first.rows; ++y) {
      for (int x = 0; x < first.cols; ++x) {
        const auto &p = first.at<cv::Vec3f>(y, x), &q = later.at<cv::Vec3f>(y, x);
        const cmsCIELab one{double{p[0]}, double{p[1]}, double{p[2]}},
            two{double{q[0]}, double{q[1]}, double{q[2]}};
        sum += cmsCIE2000DeltaE(&one, &two, 1, 1, 1);
      }
    }
  }
  std::printf("%g\n", sum);  // so that nothing is left out
  return 0;
}
