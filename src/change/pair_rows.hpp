// One row of cells at two stages, in the spaces of colour_space.hpp, with each cell's own
// uncertainty.
#pragma once

#include "change/colour_space.hpp"
#include "change/drift.hpp"

namespace inkwane::change {

/// Rows of one layer, converted once and kept while a band of rows is walked down.
class LayerRows {
 public:
  explicit LayerRows(const Layer& layer);
  /// Sharpened RGB, its K/S, and Lab of a row; valid until three other rows were asked for.
  struct Row {
    int y = -1;
    Row3 sharp, ks, lab;
  };
  const Row& at(int y);
  /// Squared gradients of K/S, a channel, per cell, at row y.
  void gradients(int y, Row3& ks2);

 private:
  const Layer* layer_;
  std::array<Row, 3> ring_;
};

/// Two stages of one side, row by row. One object a thread.
class PairRows {
 public:
  PairRows(const SideInput& side, const Drift& drift, int from, int to);
  void move_to(int y);

  const LayerRows::Row *from = nullptr, *to = nullptr;
  std::vector<uchar> valid;  ///< measured at both stages
  Row3 ks_variance;          ///< of the difference of K/S: noise, drift, and misfit × gradient

 private:
  const Layer *a_, *b_;
  Drift drift_;
  float per_cell2_;  // 1 / pitch², to turn misfit in mm into cells
  LayerRows rows_a_, rows_b_;
  Row3 gradient_;
  void add_misfit(const Layer& layer, LayerRows& rows, int y);
};

}  // namespace inkwane::change
