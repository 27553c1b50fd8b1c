// A block of the report, cut into pieces that no page may part.
#pragma once

#include <filesystem>
#include <functional>
#include <vector>

#include "report/document.hpp"

namespace inkwane::report {

struct Piece {
  double height = 0;
  std::function<void(double top)> draw;
};

struct Pieces {
  std::vector<Piece> list;
  std::vector<Piece> repeated;   ///< drawn again at the top of each further page: a table's head
  double before = 0, after = 0;  ///< white space
  std::size_t together = 1;      ///< this many pieces at either end stay on one page
  [[nodiscard]] double height() const {
    double sum = 0;
    for (const Piece& piece : list) sum += piece.height;
    return sum;
  }
  /// Of those that stay together at the beginning.
  [[nodiscard]] double least() const {
    double sum = 0;
    for (std::size_t i = 0; i < list.size() && i < together; ++i) sum += list[i].height;
    return sum;
  }
};

/// What the pages of one report share.
struct Press {
  cairo_t* pen = nullptr;
  std::filesystem::path folder;
  bool dry = false;  ///< only to count pages: pictures are measured, not read
};

[[nodiscard]] Pieces title_pieces(const Press& press, const Document& document);
[[nodiscard]] Pieces pieces_of(const Press& press, const Block& block);

[[nodiscard]] Pieces cut(const Press& press, const Table& table);
[[nodiscard]] Pieces cut(const Press& press, const Gallery& gallery);
[[nodiscard]] Pieces cut(const Press& press, const MapFigure& figure);
[[nodiscard]] Pieces cut(const Press& press, const Plot& plot);

/// Patches of colour of this height with their top left there; returns how wide they are.
double draw_swatches(cairo_t* pen, const Swatches& swatches, double x, double y, double side,
                     double height);

}  // namespace inkwane::report
