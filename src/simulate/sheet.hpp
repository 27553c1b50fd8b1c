// One side of the sheet at one stage, as light: rows of the scanner's R G B for the scan, and true
// XYZ on a lattice for the truth.
#pragma once

#include "simulate/print.hpp"
#include "simulate/random.hpp"

namespace inkwane::simulate {

/// Pitch of the truth's lattice on the sheet; cell (i, j) is centred on (i + ½, j + ½) of it.
inline constexpr double kTruthMm = 0.08;

/// Window of whole cells over the sheet.
[[nodiscard]] Window sheet_window(const Scene& scene, double pitch_mm);

/// Eight sums at a time (a vector type of GCC and Clang, any processor).
using EightFloats = float __attribute__((vector_size(32)));
/// What each band adds to R G B X Y Z, and two that are not used.
using BandWeights = std::array<EightFloats, kPadded>;

/// Rows are made in order, once each, and dropped when they are no longer asked for. Colour of a
/// place: paper × (film in × film out, see `FilmRow`), then the strength of colour that arrived
/// from elsewhere added by the ink's law, then show-through R (1 − s A ⊗ g), A = 1 − R/Rp of the
/// other side's print, and the paper's texture.
class SheetRaster {
 public:
  /// `backing`: the scanner's R G B beside the sheet.
  SheetRaster(const Scene& scene, const std::string& stage, const std::string& side,
              const std::array<float, 3>& backing);

  [[nodiscard]] double pitch_mm() const { return pitch_mm_; }
  [[nodiscard]] cv::Point2d origin_mm() const {
    return {-kMarginCells * kTruthMm, -kMarginCells * kTruthMm};
  }
  [[nodiscard]] cv::Size size() const { return size_; }

  /// Makes rows [first, last) ready and forgets those before. `first` must not go back by more
  /// than was kept.
  void need(int first, int last);
  /// CV_32FC3, R G B; only of rows that are ready.
  [[nodiscard]] const float* row(int j) const { return rows_.ptr<float>(j - first_row_); }

  /// True XYZ of all truth cells, CV_32FC3, once every row was made: as it is, and as it would be
  /// without colour that came through the paper.
  [[nodiscard]] const cv::Mat& xyz() const { return xyz_; }
  [[nodiscard]] const cv::Mat& xyz_unbled() const { return xyz_unbled_; }
  void finish() { need(size_.height, size_.height); }

 private:
  static constexpr int kMarginCells = 15;  // truth cells of backing about the sheet
  struct Arrived {  // colour that came from elsewhere, on a lattice of kSmoothMm
    PaddedSpectrum strength;
    cv::Mat amount;
    bool through = false;
  };
  struct Light;
  void make_rows(cv::Mat& rows, int first_cell_row, int cell_rows);
  void make_cell_row(FilmRow& films, Light& light, int cell_row, int chunk_cell_row, cv::Mat& rows);
  void enter_row(FilmRow& films, Light& light, int row, double y_mm) const;
  void weigh_shown(const Light& light, const PaddedSpectrum& reflectance, int node, float part,
                   float* sums) const;
  [[nodiscard]] bool add_arrived(Light& light, double x_mm) const;
  void light_at(FilmRow& films, Light& light, int i, double x_mm, float* sums, float* unbled) const;
  void gather_arrived(const Scene& scene, const std::string& stage, const std::string& side);
  void make_show_through(const Scene& scene, const std::string& stage, const std::string& side);
  void make_texture(const Scene& scene, const std::string& side);

  Print print_;
  Films films_;
  InkLaw law_;
  PaddedSpectrum paper_;
  BandWeights weights_{};
  std::array<float, 3> backing_;
  double width_mm_, height_mm_, spread_mm_;
  int fine_per_row_ = 1;  // fine cells a raster row
  double pitch_mm_ = 0.04;
  int rows_per_cell_ = 2;  // raster rows a truth cell
  cv::Size size_;

  std::vector<Arrived> arrived_;
  cv::Mat show_through_;  // CV_32FC(kPadded), factor on reflectance, lattice of kShowMm
  cv::Mat texture_;       // CV_32FC1, factor on reflectance, truth's lattice

  cv::Mat rows_;
  int first_row_ = 0;
  cv::Mat xyz_, xyz_unbled_;
};

}  // namespace inkwane::simulate
