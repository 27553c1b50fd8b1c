// The features against a published truth: the first and third picture of the "graffiti" set of
// Mikolajczyk and Schmid (IEEE Transactions on Pattern Analysis and Machine Intelligence 27(10),
// 2005), with the homography between them, as the Debian package opencv-doc ships them.
//
// Stages of a sheet differ by an affine map and small bends, never by perspective, so the pipeline
// has no homography; this checks its features and their matching by estimating one from them.
#include <filesystem>
#include <iostream>

#include <catch2/catch.hpp>
#include <opencv2/calib3d.hpp>

#include "align/agreement.hpp"
#include "align/features.hpp"
#include "scan/scan.hpp"

using namespace inkwane;

namespace {

const std::filesystem::path kData = "/usr/share/doc/opencv-doc/examples/data";

cv::Mat grey(const std::filesystem::path& file) {
  const scan::Survey survey = scan::survey(scan::Scan::open(file), 1);
  cv::Mat grey(survey.encoded.size(), CV_32F);
  for (int row = 0; row < grey.rows; ++row) {
    for (int column = 0; column < grey.cols; ++column) {
      const auto v = survey.encoded.at<cv::Vec3w>(row, column);
      grey.at<float>(row, column) = static_cast<float>(v[0] + v[1] + v[2]) / (3 * 65535.0F);
    }
  }
  return grey;
}

}  // namespace

TEST_CASE("features agree with a published homography", "[align][features]") {
  if (!std::filesystem::exists(kData / "graf1.png")) {
    WARN("opencv-doc is not installed: the published pair of pictures is not there");
    return;
  }
  const cv::Mat first = grey(kData / "graf1.png"), second = grey(kData / "graf3.png");
  // H1to3p.xml of the same folder, all its digits.
  const cv::Matx33d truth(7.6285898e-01, -2.9922929e-01, 2.2567123e+02,  //
                          3.3443473e-01, 1.0143901e+00, -7.6999973e+01,  //
                          3.4663091e-04, -1.4364524e-05, 1.0000000e+00);
  const auto project = [](const cv::Matx33d& h, cv::Point2d p) {
    const cv::Vec3d v = h * cv::Vec3d(p.x, p.y, 1);
    return cv::Point2d(v[0] / v[2], v[1] / v[2]);
  };

  const auto matches = align::match_features(
      align::find_features(first, cv::Mat(first.size(), CV_8U, cv::Scalar(255))),
      align::find_features(second, cv::Mat(second.size(), CV_8U, cv::Scalar(255))));
  REQUIRE(matches.size() > 60);
  std::vector<cv::Point2d> from, to;
  std::vector<double> off;
  for (const auto& match : matches) {
    from.push_back(match.first);
    to.push_back(match.second);
    off.push_back(cv::norm(project(truth, match.first) - match.second));
  }
  std::vector<uchar> inlier;
  const cv::Mat found = cv::findHomography(from, to, cv::RANSAC, 3, inlier);
  REQUIRE_FALSE(found.empty());
  const cv::Matx33d estimate(found.ptr<double>());
  const double right = first.cols - 1, bottom = first.rows - 1;
  std::vector<double> corners;
  for (const auto& corner : {cv::Point2d(0, 0), cv::Point2d(right, 0), cv::Point2d(right, bottom),
                             cv::Point2d(0, bottom)}) {
    corners.push_back(cv::norm(project(truth, corner) - project(estimate, corner)));
  }
  const auto good =
      static_cast<double>(std::count_if(off.begin(), off.end(), [](double d) { return d < 3; }));
  std::cout << "graffiti 1 to 3: " << matches.size() << " matches, "
            << 100 * good / static_cast<double>(off.size())
            << " % within 3 px of the published homography; its corners met to "
            << align::quantile(corners, 1) << " px at worst\n";
  // The published homography is itself given as accurate to a pixel or so; corners are
  // extrapolated.
  CHECK(good > 0.5 * static_cast<double>(off.size()));
  CHECK(align::quantile(corners, 1) < 4);
}
