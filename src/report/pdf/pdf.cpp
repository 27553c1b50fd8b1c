#include "report/pdf/pdf.hpp"

#include <algorithm>

#include <cairo-pdf.h>

#include "report/pdf/finish.hpp"
#include "report/pdf/paper.hpp"
#include "report/pdf/pieces.hpp"

namespace inkwane::report {
namespace {

/// Sets blocks one below the other, page after page.
class Flow {
 public:
  Flow(Paper& paper, const Press& press) : paper_(paper), press_(press) {}

  void set(const Document& document) {
    place(title_pieces(press_, document));
    const auto& blocks = document.blocks;
    for (std::size_t i = 0; i < blocks.size(); ++i) {
      if (blocks[i].page_only) continue;
      if (blocks[i].new_page) turn();
      const Pieces pieces = pieces_of(press_, blocks[i]);
      if (!blocks_follow(blocks, i)) turn();
      space(pieces.before);
      bookmark(blocks[i]);
      place(pieces);
    }
  }

 private:
  [[nodiscard]] bool at_top() const { return y_ <= Paper::kTop; }

  void turn() {
    if (at_top()) return;
    paper_.turn();
    y_ = Paper::kTop;
  }

  void space(double height) {
    if (!at_top()) y_ += std::max(0.0, height - after_);
    after_ = 0;
  }

  /// Whether this block, all that it must not be parted from, and the beginning of what comes then
  /// have room on this page. True at the top of a page, where nothing can be won.
  [[nodiscard]] bool blocks_follow(const std::vector<Block>& blocks, std::size_t first) {
    if (at_top()) return true;
    double needed = 0;
    for (std::size_t i = first; i < blocks.size(); ++i) {
      if (blocks[i].page_only) continue;
      const Pieces pieces = pieces_of(press_, blocks[i]);
      needed += pieces.before;
      if (!blocks[i].with_next) {
        needed += pieces.least();
        break;
      }
      needed += pieces.height() + pieces.after;
    }
    // A chain that no page holds starts where it stands.
    return y_ + needed <= Paper::kBottom || needed > Paper::kBottom - Paper::kTop;
  }

  void place(const Pieces& pieces) {
    const std::size_t count = pieces.list.size();
    for (std::size_t i = 0; i < count; ++i) {
      double needed = pieces.list[i].height;
      // The last pieces go over together, so that none is left alone at the top of a page.
      const bool tail = count > pieces.together && i + 2 == count;
      if (tail) needed += pieces.list[i + 1].height;
      if (y_ + needed > Paper::kBottom && !at_top()) {
        turn();
        for (const Piece& again : pieces.repeated) {
          if (i == 0) break;
          again.draw(y_);
          y_ += again.height;
        }
      }
      pieces.list[i].draw(y_);
      y_ += pieces.list[i].height;
    }
    if (count > 0) y_ += pieces.after, after_ = pieces.after;
  }

  void bookmark(const Block& block) {
    const auto* heading = std::get_if<Heading>(&block.body);
    if (heading == nullptr) return;
    if (heading->level == 2)
      section_ = paper_.bookmark(heading->text, CAIRO_PDF_OUTLINE_ROOT, y_);
    else
      paper_.bookmark(heading->text, section_, y_);
  }

  Paper& paper_;
  const Press& press_;
  double y_ = Paper::kTop, after_ = 0;
  int section_ = CAIRO_PDF_OUTLINE_ROOT;
};

}  // namespace

std::string to_pdf(const Document& document, const std::filesystem::path& folder) {
  int pages = 0;
  for (const bool dry : {true, false}) {  // first to count the pages
    Paper paper(document, pages);
    const Press press{paper.pen(), folder, dry};
    Flow(paper, press).set(document);
    pages = paper.page();
    if (!dry) return finished(paper.finish(), document);
  }
  return {};
}

}  // namespace inkwane::report
