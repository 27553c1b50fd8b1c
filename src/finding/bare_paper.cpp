#include "finding/bare_paper.hpp"

#include <algorithm>

namespace inkwane::finding {

double bare_paper_contrast(const SheetView& view, int stage) {
  constexpr int kStride = 5;
  constexpr double kQuantile = 0.99;
  const change::Layer& layer = view.layer(stage);
  const auto& paper = view.context().paper;
  std::vector<cv::Vec3f> beside(static_cast<std::size_t>(layer.xyz.cols));
  std::vector<double> off;
  for (int y = 0; y < layer.xyz.rows; y += kStride) {
    paper.xyz_row(stage, y, layer.xyz.cols, beside.front().val);
    for (int x = 0; x < layer.xyz.cols; x += kStride) {
      if (paper.unprinted.at<uchar>(y, x) == 0 || layer.valid.at<uchar>(y, x) == 0) continue;
      const auto &a = layer.xyz.at<cv::Vec3f>(y, x), &b = beside[static_cast<std::size_t>(x)];
      off.push_back(ciede2000(to_lab({a[0], a[1], a[2]}), to_lab({b[0], b[1], b[2]})));
    }
  }
  if (off.empty()) return 0;
  const auto at =
      off.begin() + static_cast<std::ptrdiff_t>(kQuantile * static_cast<double>(off.size() - 1));
  std::nth_element(off.begin(), at, off.end());
  return *at;
}

}  // namespace inkwane::finding
