#include <algorithm>
#include <memory>

#include <cairo.h>

#include "report/draw/type.hpp"
#include "report/pdf/paper.hpp"
#include "report/pdf/pieces.hpp"

namespace inkwane::report {
namespace {

using Family = Face::Family;

constexpr Face kCell{Family::sans, 7.9, false, false, kBlack, 1.3};
constexpr Face kColumn{Family::sans, 7.2, true, false, kSoft, 1.25};
constexpr double kPad = pt(1.3), kGutter = pt(3);
constexpr double kSwatch = pt(3.6);

struct Placed {
  std::shared_ptr<Setting> words;
  Swatches swatches;
  double x = 0;        ///< of the words
  double patches = 0;  ///< of the swatches
};

double swatch_width(const Swatches& swatches) {
  const int count = int(!swatches.before.empty()) + int(!swatches.after.empty());
  return count > 0 ? count * kSwatch + pt(2) : 0;
}

Piece row_piece(cairo_t* pen, std::vector<Placed> row, bool head, bool alert) {
  double height = kSwatch;
  for (const Placed& cell : row) height = std::max(height, cell.words->height());
  height += 2 * kPad;
  return {height, [pen, row, head, alert, height](double top) {
            for (const Placed& cell : row) {
              // Heads stand on the rule, cells hang from the one above.
              const double y = head ? top + height - kPad - cell.words->height() : top + kPad;
              draw_swatches(pen, cell.swatches, cell.patches, top + kPad, kSwatch, kSwatch * 0.92);
              cell.words->draw(cell.x, y);
            }
            if (alert)
              draw_line(pen, Paper::kLeft + 1, top + kPad, Paper::kLeft + 1, top + height - kPad, 2,
                        kAlert);
            draw_line(pen, Paper::kLeft, top + height, Paper::kRight, top + height, head ? 1 : 0.5,
                      head ? kBlack : kLine);
          }};
}

}  // namespace

Pieces cut(const Press& press, const Table& table) {
  double weights = 0;
  for (const Column& column : table.columns) weights += column.weight;
  std::vector<double> left, width;
  double x = Paper::kLeft;
  for (const Column& column : table.columns) {
    const double whole = Paper::kInner * column.weight / weights;
    left.push_back(x);
    width.push_back(whole - (&column == &table.columns.back() ? 0 : kGutter));
    x += whole;
  }
  const auto place = [&](const Cell& cell, std::size_t i, const Face& face) {
    const double patches = swatch_width(cell.swatches);
    const Align align = table.columns[i].align == Column::Align::right ? Align::right : Align::left;
    return Placed{std::make_shared<Setting>(press.pen, cell.text, face, width[i] - patches, align),
                  cell.swatches, left[i] + patches, left[i]};
  };
  Pieces pieces;
  std::vector<Placed> heads;
  for (std::size_t i = 0; i < table.columns.size(); ++i)
    heads.push_back(place({plain(table.columns[i].head), {}}, i, kColumn));
  const Piece head = row_piece(press.pen, heads, true, false);
  pieces.list.push_back(head);
  pieces.repeated.push_back(head);
  for (const auto& row : table.rows) {
    std::vector<Placed> cells;
    const bool beside = row.size() == 1 && table.columns.size() > 1;
    if (beside) {
      const double indent = pt(3), patches = swatch_width(row[0].swatches);
      cells.push_back({std::make_shared<Setting>(press.pen, row[0].text, kCell,
                                                 Paper::kInner - indent - patches),
                       row[0].swatches, Paper::kLeft + indent + patches, Paper::kLeft + indent});
    } else {
      for (std::size_t i = 0; i < row.size(); ++i) cells.push_back(place(row[i], i, kCell));
    }
    pieces.list.push_back(row_piece(press.pen, std::move(cells), false, row[0].alert));
  }
  // The head and two rows; a short table whole.
  constexpr std::size_t kShort = 8;
  pieces.together = pieces.list.size() <= kShort ? pieces.list.size() : 3;
  pieces.after = pt(4);
  return pieces;
}

}  // namespace inkwane::report
