#include "change/pair_rows.hpp"

namespace inkwane::change {
namespace {

/// A later layer is sampled by interpolation; a position can't be better than this, in cells.
constexpr float kLeastMisfit2 = 0.1F * 0.1F;
/// Misfit is not normally distributed along an edge (it is shared by the whole edge): taken twice.
constexpr float kMisfitFactor2 = 4;

}  // namespace

LayerRows::LayerRows(const Layer& layer) : layer_(&layer) {
  for (Row& row : ring_) {
    row.sharp.resize(layer.xyz.cols);
    row.ks.resize(layer.xyz.cols);
    row.lab.resize(layer.xyz.cols);
  }
}

const LayerRows::Row& LayerRows::at(int y) {
  Row& row = ring_[static_cast<std::size_t>(y % 3)];
  if (row.y == y) return row;
  const int n = layer_->xyz.cols;
  sharpen_row(layer_->xyz.ptr<float>(y), n, row.sharp);
  lab_row(row.sharp, n, row.lab);
  for (int c = 0; c < 3; ++c) {
    const float* r = row.sharp[c];
    float* k = row.ks[c];
    for (int i = 0; i < n; ++i) k[i] = ks(r[i]);
  }
  row.y = y;
  return row;
}

void LayerRows::gradients(int y, Row3& ks2) {
  const int n = layer_->xyz.cols, last = layer_->xyz.rows - 1;
  const Row& up = at(std::max(0, y - 1));
  const Row& here = at(y);
  const Row& down = at(std::min(last, y + 1));
  ks2.resize(n);
  auto squared = [n](const float* above, const float* row, const float* below, int i) {
    const float dx = 0.5F * (row[std::min(i + 1, n - 1)] - row[std::max(i - 1, 0)]),
                dy = 0.5F * (below[i] - above[i]);
    const float g = dx * dx + dy * dy;
    return g >= 0 ? g : 0.0F;  // beside a cell that was not measured there is no slope to be had
  };
  for (int c = 0; c < 3; ++c) {
    for (int i = 0; i < n; ++i) ks2[c][i] = squared(up.ks[c], here.ks[c], down.ks[c], i);
  }
}

PairRows::PairRows(const SideInput& side, const Drift& drift, int first, int second)
    : a_(&side.layers[static_cast<std::size_t>(first)]),
      b_(&side.layers[static_cast<std::size_t>(second)]),
      drift_(drift),
      per_cell2_(static_cast<float>(1 / side.geometry.cell_mm2())),
      rows_a_(*a_),
      rows_b_(*b_) {
  const int n = side.geometry.columns;
  valid.resize(static_cast<std::size_t>(n));
  ks_variance.resize(n);
}

void PairRows::add_misfit(const Layer& layer, LayerRows& rows, int y) {
  rows.gradients(y, gradient_);
  const int n = layer.xyz.cols;
  const float* misfit = layer.misfit_mm.empty() ? nullptr : layer.misfit_mm.ptr<float>(y);
  for (int i = 0; i < n; ++i) {
    const float m = misfit != nullptr && misfit[i] >= 0 ? misfit[i] : 0.0F;
    const float m2 = kMisfitFactor2 * (m * m * per_cell2_ + kLeastMisfit2);
    for (int c = 0; c < 3; ++c) ks_variance[c][i] += m2 * gradient_[c][i];
  }
}

void PairRows::move_to(int y) {
  const int n = a_->xyz.cols;
  from = &rows_a_.at(y);
  to = &rows_b_.at(y);
  const uchar *va = a_->valid.ptr<uchar>(y), *vb = b_->valid.ptr<uchar>(y);
  for (int i = 0; i < n; ++i) {
    const float sum = from->lab[0][i] + to->lab[0][i];
    valid[static_cast<std::size_t>(i)] = (va[i] & vb[i]) != 0 && sum == sum ? 255 : 0;
  }
  for (int c = 0; c < 3; ++c) {
    const auto place = static_cast<float>(drift_.place(c, c));
    const float *ra = from->sharp[c], *rb = to->sharp[c];
    float* variance = ks_variance[c];
    for (int i = 0; i < n; ++i) {
      const float sa = ks_slope(ra[i]), sb = ks_slope(rb[i]);
      variance[i] =
          0.5F * (sa * sa + sb * sb) * (drift_.noise.variance(ra[i]) + place * ra[i] * ra[i]);
    }
  }
  add_misfit(*b_, rows_b_, y);
  if (!a_->misfit_mm.empty() && a_ != b_ && cv::countNonZero(a_->misfit_mm.row(y)) > 0)
    add_misfit(*a_, rows_a_, y);
}

}  // namespace inkwane::change
