// One side's print: its areas gathered into plates, and the colour of the ink films they leave.
#pragma once

#include <unordered_map>

#include "simulate/draw.hpp"

namespace inkwane::simulate {

// Inner loops over bands are also compiled for wider vectors, and taken where the processor has
// them. Each lane does the same sums either way, so results are the same to the bit.
#if defined(__x86_64__) && defined(__GNUC__) && !defined(__clang__) && \
    !defined(__SANITIZE_ADDRESS__)
#define INKWANE_WIDE __attribute__((target_clones("avx2", "default")))
#else
#define INKWANE_WIDE
#endif

/// Spectra in the inner loops: padded with a band that weighs nothing.
inline constexpr int kPadded = 32;
struct alignas(32) PaddedSpectrum {
  float band[kPadded] = {};  // a plain array, for the vectoriser
};
[[nodiscard]] PaddedSpectrum padded(const Spectrum& spectrum, double factor = 1);

/// Set of plates, one bit each.
using PlateSet = std::uint64_t;
inline constexpr int kMostPlates = 64;

/// What of one plate lies in a window.
struct PlateMask {
  int plate = 0;
  cv::Rect part;  ///< of the window
  cv::Mat in;     ///< CV_8UC1: share of the cell that ink covers
  cv::Mat out;    ///< the same after light has spread in the paper
};

/// Areas of one side. Those that share ink, amount and screen are one plate.
class Print {
 public:
  Print(const Scene& scene, const std::string& side);

  [[nodiscard]] const std::vector<Area>& plates() const {
    return plates_;
  }  ///< outlines mean nothing

  /// Masks for a window. `spread_mm`: how far light spreads. With `tints`, screens are flat tints
  /// of their coverage, for windows coarser than dots.
  [[nodiscard]] std::vector<PlateMask> masks(const Window& window, double spread_mm,
                                             bool tints) const;

  /// Amount of each ink, coverage times thickness, CV_32FC1.
  [[nodiscard]] std::map<std::string, cv::Mat> amounts(const Window& window) const;

 private:
  std::vector<Area> plates_;
  struct Drawn {
    int plate = -1;  // −1: leaves out what was printed before
    Shape shape;
  };
  std::vector<Drawn> drawn_;
};

/// Films of ink at one stage: how much light passes once through the inks of a set of plates, so
/// that paper × film² is the colour of the solids printed over each other.
class Films {
 public:
  Films(const Scene& scene, const Print& print, const std::string& stage);
  /// Makes sure of a set and all its subsets. Not thread-safe; `of` then is.
  void prepare(PlateSet set);
  [[nodiscard]] const PaddedSpectrum& of(PlateSet set) const { return films_.at(set); }

 private:
  [[nodiscard]] PaddedSpectrum make(PlateSet set) const;
  InkLaw law_;
  Spectrum paper_;
  struct Charge {
    std::string ink;
    double amount = 0;
    Spectrum strength{};
  };
  std::vector<Charge> charges_;  // by plate
  std::unordered_map<PlateSet, PaddedSpectrum> films_;
};

/// Light that went in through `in` and came out through `out` of every plate at (i, j) of the
/// window, as a share of what bare paper gives back. Each way, the plates cover the place
/// independently (Demichel), and their films pass what `Films` says:
/// R / Rp = (Σ_s w_in(s) T_s) (Σ_s w_out(s) T_s), w(s) = Π_{k ∈ s} m_k Π_{k ∉ s} (1 − m_k).
/// So solids have their own colour, and small dots come near Yule and Nielsen's n = 2.
class FilmRow {
 public:
  FilmRow(const std::vector<PlateMask>& masks, int width)
      : masks_(masks), sets_(width), partial_(width) {}
  /// Finds the plates that touch each cell of row j.
  void enter(int j);
  [[nodiscard]] const std::vector<PlateSet>& sets() const { return sets_; }
  [[nodiscard]] PlateSet set(int i) const { return sets_[i]; }
  /// True where all plates of the cell cover it wholly, and so do those about it.
  [[nodiscard]] bool solid(int i) const { return partial_[i] == 0; }
  void passed(const Films& films, int i, PaddedSpectrum& share) const;

 private:
  const std::vector<PlateMask>& masks_;
  std::vector<PlateSet> sets_;
  std::vector<std::uint8_t> partial_;
  int row_ = 0;
};

}  // namespace inkwane::simulate
