#include "finding/coarse.hpp"

#include <algorithm>
#include <limits>

#include <opencv2/imgproc.hpp>

#include "grid/disc.hpp"

namespace inkwane::finding {
namespace {

constexpr double kBlockMm = 0.2;
constexpr float kNaN = std::numeric_limits<float>::quiet_NaN();
/// A polygon is drawn to about half a millimetre (common practice, no source), and a wash runs.
constexpr double kDrawingMm = 1.0;

cv::Size blocks_of(const SheetView& view, int block) {
  const auto& g = view.input->geometry;
  return {(g.columns + block - 1) / block, (g.rows + block - 1) / block};
}

}  // namespace

int block_of(const SheetView& view) {
  return std::max(1, static_cast<int>(std::lround(kBlockMm / view.input->geometry.pitch_mm)));
}

double block_mm2(const SheetView& view) {
  const int block = block_of(view);
  return block * block * view.input->geometry.cell_mm2();
}

cv::Mat block_sharp(const SheetView& view, int stage) {
  const int block = block_of(view);
  const auto& g = view.input->geometry;
  const change::Layer& layer = view.layer(stage);
  const Eigen::Matrix3f m = change::sharpening().cast<float>();
  cv::Mat out(blocks_of(view, block), CV_32FC3, cv::Scalar::all(kNaN));
  cv::parallel_for_({0, out.rows}, [&](const cv::Range& range) {
    for (int by = range.start; by < range.end; ++by) {
      for (int bx = 0; bx < out.cols; ++bx) {
        const int right = std::min((bx + 1) * block, g.columns),
                  bottom = std::min((by + 1) * block, g.rows);
        Eigen::Vector3f sum = Eigen::Vector3f::Zero();
        int n = 0;
        for (int y = by * block; y < bottom; ++y) {
          const uchar *valid = layer.valid.ptr<uchar>(y), *sheet = view.input->sheet.ptr<uchar>(y);
          const auto* xyz = layer.xyz.ptr<cv::Vec3f>(y);
          for (int x = bx * block; x < right; ++x) {
            if (valid[x] == 0 || sheet[x] == 0 || std::isnan(xyz[x][1])) continue;
            sum += Eigen::Vector3f(xyz[x][0], xyz[x][1], xyz[x][2]);
            ++n;
          }
        }
        if (2 * n < block * block) continue;
        const Eigen::Vector3f sharp = m * sum / static_cast<float>(n);
        out.at<cv::Vec3f>(by, bx) = {sharp[0], sharp[1], sharp[2]};
      }
    }
  });
  return out;
}

cv::Mat block_paper(const SheetView& view, int stage) {
  const int block = block_of(view), columns = view.input->geometry.columns;
  const Eigen::Matrix3f m = change::sharpening().cast<float>();
  cv::Mat out(blocks_of(view, block), CV_32FC3);
  cv::parallel_for_({0, out.rows}, [&](const cv::Range& range) {
    std::vector<cv::Vec3f> row(static_cast<std::size_t>(columns));
    for (int by = range.start; by < range.end; ++by) {
      const int y = std::min(by * block + block / 2, view.input->geometry.rows - 1);
      view.context().paper.xyz_row(stage, y, columns, row.front().val);
      for (int bx = 0; bx < out.cols; ++bx) {
        const auto& xyz =
            row[static_cast<std::size_t>(std::min(bx * block + block / 2, columns - 1))];
        const Eigen::Vector3f sharp = m * Eigen::Vector3f(xyz[0], xyz[1], xyz[2]);
        out.at<cv::Vec3f>(by, bx) = {sharp[0], sharp[1], sharp[2]};
      }
    }
  });
  return out;
}

cv::Vec3f sheet_paper(const SheetView& view, int stage) {
  const Eigen::Vector3f sharp =
      (change::sharpening() *
       view.context().paper.stages[static_cast<std::size_t>(stage)].sheet.xyz)
          .cast<float>();
  return {sharp[0], sharp[1], sharp[2]};
}

LabD50 lab_of_sharp(const cv::Vec3f& sharp) {
  const Eigen::Vector3d xyz =
      change::unsharpening() * Eigen::Vector3f(sharp[0], sharp[1], sharp[2]).cast<double>();
  return to_lab({xyz[0], xyz[1], xyz[2]});
}

cv::Mat block_lab(const cv::Mat& sharp) {
  cv::Mat out(sharp.size(), CV_32FC3);
  cv::parallel_for_({0, sharp.rows}, [&](const cv::Range& range) {
    change::Row3 planes, lab;
    planes.resize(sharp.cols);
    lab.resize(sharp.cols);
    for (int y = range.start; y < range.end; ++y) {
      const auto* in = sharp.ptr<cv::Vec3f>(y);
      auto* to = out.ptr<cv::Vec3f>(y);
      for (int x = 0; x < sharp.cols; ++x) {
        for (int c = 0; c < 3; ++c) planes[c][x] = in[x][c];
      }
      change::lab_row(planes, sharp.cols, lab);
      for (int x = 0; x < sharp.cols; ++x) {
        const bool measured = in[x][0] == in[x][0];
        to[x] = measured ? cv::Vec3f(lab[0][x], lab[1][x], lab[2][x]) : cv::Vec3f::all(kNaN);
      }
    }
  });
  return out;
}

NamedBlocks named_blocks(const SheetView& view) {
  const int block = block_of(view);
  cv::Mat added(view.input->geometry.size(), CV_8UC1, cv::Scalar(0)), other = added.clone();
  for (const region::Mask& mask : view.input->regions) {
    cv::Mat& cells = mask.region->role == Role::added ? added : other;
    cells(mask.bounds).setTo(255, mask.inside);
  }
  NamedBlocks named;
  const cv::Size size = blocks_of(view, block);
  cv::resize(added, named.added, size, 0, 0, cv::INTER_AREA);
  cv::resize(other, named.other, size, 0, 0, cv::INTER_AREA);
  named.added = named.added > 0;
  named.other = named.other > 0;
  const double mm = block * view.input->geometry.pitch_mm;
  const int reach = static_cast<int>(std::ceil((kDrawingMm + view.input->aperture_mm / 2) / mm));
  cv::dilate(named.added, named.added, grid::disc(reach));
  return named;
}

}  // namespace inkwane::finding
