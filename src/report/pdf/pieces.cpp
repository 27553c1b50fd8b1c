#include "report/pdf/pieces.hpp"

#include <algorithm>

#include <cairo.h>

#include "report/draw/type.hpp"
#include "report/pdf/paper.hpp"
#include "report/words.hpp"

namespace inkwane::report {
namespace {

using Family = Face::Family;

constexpr Face kBody{Family::serif, 10.4, false, false, kBlack, 1.32};
constexpr Face kLead{Family::serif, 11.8, false, false, kBlack, 1.32};
constexpr Face kNote{Family::sans, 8.2, false, false, kSoft, 1.4};
constexpr Face kTerm{Family::sans, 8, true, false, kBlack, 1.35};
constexpr Face kLabel{Family::sans, 7.6, false, false, kSoft, 1.35};
constexpr Face kHead2{Family::serif, 17, true, false, kBlack, 1.2};
constexpr Face kHead3{Family::serif, 12.2, true, false, kBlack, 1.2};
constexpr Face kNature{Family::sans, 7, true, false, kAccent, 1.2};
constexpr double kMeasure = pt(148);  // the widest a line of text may be, to be read with ease

using Shared = std::shared_ptr<Setting>;

Shared set(const Press& press, const Text& text, const Face& face, double width) {
  return std::make_shared<Setting>(press.pen, text, face, width);
}

/// Line by line.
Pieces lines_of(const Press& press, const Text& text, const Face& face, double x, double width) {
  Pieces pieces;
  const Shared setting = set(press, text, face, width);
  for (int line = 0; line < setting->lines(); ++line)
    pieces.list.push_back({setting->height() / setting->lines(),
                           [=](double top) { setting->draw_lines(line, line + 1, x, top); }});
  pieces.together = 3;
  return pieces;
}

Pieces cut(const Press& press, const Heading& heading) {
  Pieces pieces;
  const bool section = heading.level == 2;
  const Shared words = set(press, plain(heading.text), section ? kHead2 : kHead3, pt(145));
  const Shared nature =
      heading.nature.empty() ? nullptr : set(press, plain(heading.nature), kNature, 0);
  const double rule = section ? pt(3.5) : 0;
  cairo_t* pen = press.pen;
  pieces.list.push_back({rule + words->height(), [=](double top) {
                           if (section)
                             draw_line(pen, Paper::kLeft, top, Paper::kRight, top, 1.4, kBlack);
                           words->draw(Paper::kLeft, top + rule);
                           if (nature != nullptr)
                             nature->draw(Paper::kRight - nature->width(),
                                          top + rule + words->baseline() - nature->baseline());
                         }});
  pieces.before = section ? pt(9) : pt(5);
  pieces.after = section ? pt(3) : pt(1.2);
  return pieces;
}

Pieces cut(const Press& press, const Paragraph& paragraph) {
  const Face& face = paragraph.look == Paragraph::Look::lead   ? kLead
                     : paragraph.look == Paragraph::Look::note ? kNote
                                                               : kBody;
  Pieces pieces = lines_of(press, paragraph.text, face, Paper::kLeft, kMeasure);
  pieces.after = pt(2.4);
  return pieces;
}

Pieces cut(const Press& press, const List& list) {
  Pieces pieces;
  const bool warnings = list.look == List::Look::warnings;
  Face face = warnings ? kNote : kBody;
  face.ink = kBlack;
  cairo_t* pen = press.pen;
  for (const Text& item : list.items) {
    const double indent = pt(4);
    const Shared words = set(press, item, face, kMeasure - indent);
    const double gap = pt(warnings ? 1.6 : 1);
    pieces.list.push_back({words->height() + gap, [=](double top) {
                             if (warnings)
                               draw_line(pen, Paper::kLeft + 1, top, Paper::kLeft + 1,
                                         top + words->height(), 2, kAlert);
                             else
                               fill_box(pen, Paper::kLeft + 2, top + words->baseline() - 4.4, 2.2,
                                        2.2, kAccent);
                             words->draw(Paper::kLeft + indent, top);
                           }});
  }
  pieces.after = pt(2);
  return pieces;
}

Pieces cut(const Press& press, const Facts& facts) {
  Pieces pieces;
  constexpr double kTermWidth = pt(38), kGap = pt(4);
  Face face = kBody;
  face.size = 9.6;
  cairo_t* pen = press.pen;
  for (const auto& [label, text] : facts.rows) {
    const Shared term = set(press, plain(label), kTerm, kTermWidth);
    const Shared words = set(press, text, face, Paper::kInner - kTermWidth - kGap);
    const double height = std::max(term->height(), words->height()) + pt(2.4);
    pieces.list.push_back({height, [=](double top) {
                             draw_line(pen, Paper::kLeft, top, Paper::kRight, top, 0.5, kLine);
                             const double y = top + pt(1.2);
                             term->draw(Paper::kLeft,
                                        y + std::max(0.0, words->baseline() - term->baseline()));
                             words->draw(Paper::kLeft + kTermWidth + kGap, y);
                           }});
  }
  pieces.after = pt(3);
  return pieces;
}

Pieces cut(const Press& press, const Statements& statements) {
  Pieces pieces;
  constexpr double kFigureWidth = pt(38), kSwatchWidth = pt(25), kGap = pt(5);
  constexpr Face kFigure{Family::serif, 19, true, false, kAccent, 1.1};
  Face sentence = kBody;
  sentence.size = 10;
  cairo_t* pen = press.pen;
  for (const Statement& statement : statements.list) {
    const Shared figure = set(press, statement.figure, kFigure, kFigureWidth),
                 of = set(press, plain(statement.of), kLabel, kFigureWidth),
                 words = set(press, statement.sentence, sentence,
                             Paper::kInner - kFigureWidth - kSwatchWidth - 2 * kGap),
                 label = set(press, plain(statement.swatches.label), kLabel, kSwatchWidth);
    constexpr double kPatch = pt(8), kPad = pt(2.2);
    const double height =
        std::max({figure->height() + of->height(), words->height(), kPatch + 3 + label->height()}) +
        2 * kPad;
    const Swatches swatches = statement.swatches;
    pieces.list.push_back({height, [=](double top) {
                             draw_line(pen, Paper::kLeft, top, Paper::kRight, top, 0.5, kLine);
                             const double y = top + kPad;
                             figure->draw(Paper::kLeft, y - 2);
                             of->draw(Paper::kLeft, y + figure->height() - 1);
                             words->draw(Paper::kLeft + kFigureWidth + kGap, y);
                             const double x = Paper::kRight - kSwatchWidth;
                             if (swatches.before.empty()) return;
                             draw_swatches(pen, swatches, x, y + 1, kSwatchWidth / 2, kPatch);
                             label->draw(x, y + kPatch + 4);
                           }});
  }
  pieces.after = pt(1);
  return pieces;
}

Pieces cut(const Press& press, const Field& field) {
  constexpr double kHeight = pt(85);
  const Shared label = set(press, plain(field.label), kLabel, Paper::kInner - pt(10)),
               signature = set(press, plain(field.signature), kLabel, 0);
  cairo_t* pen = press.pen;
  Pieces pieces;
  pieces.list.push_back({kHeight, [=](double top) {
                           set_ink(pen, kSoft);
                           cairo_set_line_width(pen, 0.7);
                           cairo_rectangle(pen, Paper::kLeft, top, Paper::kInner, kHeight);
                           cairo_stroke(pen);
                           label->draw(Paper::kLeft + pt(3), top + pt(2.5));
                           const double y = top + kHeight - pt(9);
                           draw_line(pen, Paper::kLeft + pt(3), y, Paper::kLeft + pt(100), y, 0.5,
                                     kSoft);
                           signature->draw(Paper::kLeft + pt(3), y + 3);
                         }});
  pieces.after = pt(4);
  return pieces;
}

Pieces cut(const Press&, const Viewer&) {
  return {};
}

}  // namespace

double draw_swatches(cairo_t* pen, const Swatches& swatches, double x, double y, double side,
                     double height) {
  double width = 0;
  for (const std::string& colour : {swatches.before, swatches.after}) {
    if (colour.empty()) continue;
    fill_box(pen, x + width, y, side, height, ink_of(colour));
    width += side;
  }
  return width;
}

Pieces title_pieces(const Press& press, const Document& document) {
  constexpr Face kKind{Family::sans, 8.4, true, false, kAccent, 1.2};
  constexpr Face kTitle{Family::serif, 25, true, false, kBlack, 1.12};
  Face face = kBody;
  face.size = 9.2;
  Pieces pieces;
  const Shared kind = set(press, plain(say("common.report")), kKind, 0),
               title = set(press, plain(document.title), kTitle, Paper::kInner);
  pieces.list.push_back({kind->height() + pt(1.5) + title->height() + pt(3), [=](double top) {
                           kind->draw(Paper::kLeft, top);
                           title->draw(Paper::kLeft, top + kind->height() + pt(1.5));
                         }});
  // Short facts flow in columns, long ones take the whole line.
  constexpr int kColumns = 3;
  constexpr double kWidth = Paper::kInner / kColumns;
  std::vector<std::pair<Shared, Shared>> row;
  const auto put_row = [&] {
    if (row.empty()) return;
    double height = 0;
    for (const auto& [label, words] : row)
      height = std::max(height, label->height() + words->height());
    pieces.list.push_back({height + pt(2.4), [row](double top) {
                             double x = Paper::kLeft;
                             for (const auto& [label, words] : row) {
                               label->draw(x, top);
                               words->draw(x, top + label->height());
                               x += kWidth;
                             }
                           }});
    row.clear();
  };
  for (const auto& [label, text] : document.identity) {
    const Shared one_line = set(press, text, face, 0);
    const bool wide = one_line->width() > kWidth - pt(4);
    if (wide || row.size() == kColumns) put_row();
    row.emplace_back(set(press, plain(label), kLabel, 0),
                     set(press, text, face, wide ? Paper::kInner : kWidth - pt(4)));
    if (wide) put_row();
  }
  put_row();
  pieces.after = pt(2);
  return pieces;
}

Pieces pieces_of(const Press& press, const Block& block) {
  return std::visit([&press](const auto& body) { return cut(press, body); }, block.body);
}

}  // namespace inkwane::report
