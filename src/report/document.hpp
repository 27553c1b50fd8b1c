// The report before it is set: the same blocks become the page (html/) and the pages (pdf/), so
// that both say the same. Only content/ fills it.
#pragma once

#include <functional>
#include <string>
#include <utility>
#include <variant>
#include <vector>

#include <inkwane/results.hpp>

using cairo_t = struct _cairo;

namespace inkwane::report {

/// A stretch of text in one look.
struct Run {
  enum class Look { plain, strong, soft, code, mark };  ///< mark: "uncal."
  std::string text;
  Look look = Look::plain;
  std::string link;  ///< id of a heading, or empty
};
using Text = std::vector<Run>;

[[nodiscard]] Text plain(std::string text);
[[nodiscard]] Text strong(std::string text);
[[nodiscard]] Text soft(std::string text);
[[nodiscard]] Text code(std::string text);
[[nodiscard]] Text operator+(Text one, const Text& two);
/// The words alone.
[[nodiscard]] std::string words_of(const Text& text);

struct Heading {
  int level = 2;  ///< 2 opens a section, 3 a part of it
  std::string text;
  std::string id;      ///< to link to; may be empty
  std::string nature;  ///< "Observation", "Interpretation", or empty
};

struct Paragraph {
  enum class Look { body, lead, note, alert };
  Text text;
  Look look = Look::body;
};

struct List {
  enum class Look { bullets, warnings };
  std::vector<Text> items;
  Look look = Look::bullets;
};

/// Labels with what they stand for.
struct Facts {
  std::vector<std::pair<std::string, Text>> rows;
};

/// Two patches of colour, "#rrggbb"; empty: none.
struct Swatches {
  std::string before, after, label;
};

/// One finding of page one: a figure, what it is of, a sentence, and the colours it is about.
struct Statement {
  Text figure;
  std::string of;
  Text sentence;
  Swatches swatches;
};
struct Statements {
  std::vector<Statement> list;
};

struct Cell {
  Text text;
  Swatches swatches;   ///< before the text
  bool alert = false;  ///< a warning about the row above
};
struct Column {
  std::string head;
  enum class Align { left, right } align = Align::left;
  double weight = 1;  ///< share of the width on paper
};
struct Table {
  std::vector<Column> columns;
  std::vector<std::vector<Cell>> rows;  ///< a row of one cell spans all columns
  std::string label;
};

/// A line over a picture: round a place, or along one. Kinds are told apart without colour.
struct Mark {
  enum class Look { solid, dashed, dotted };
  std::vector<Point> points;  ///< in pixels of the picture
  bool closed = true;
  Look look = Look::solid;
  std::string label;  ///< beside it; may be empty
};

/// A file of the assessment's folder, and where its pixels lie.
struct Picture {
  std::string file;
  std::string alt;
  Text caption;
  results::Frame frame;
  std::vector<Mark> marks;
  bool faded = false;  ///< so that the marks stand out
  std::string id;      ///< to be found by the script; may be empty
};

/// Pictures side by side, all in one scale.
struct Gallery {
  std::vector<Picture> pictures;
  Text caption;
  bool scale_bar = false;
  double most_high_mm = 100;  ///< on paper
};

/// A map with its legend, the full width.
struct MapFigure {
  Picture picture;
  std::string kind;  ///< docs/formats.md, "Maps"
  std::string title;
  Text caption;
};

/// Something drawn; `draw` fills width × height mm, in mm from the top left.
struct Plot {
  double width_mm = 0, height_mm = 0;
  std::function<void(cairo_t*)> draw;
  std::string alt;
  Text caption;
};

/// An empty field to be filled in by hand.
struct Field {
  std::string label, signature;
};

/// Where the page shows one side to be looked at closely. On paper there is none.
struct Viewer {
  Side side = Side::recto;
};

struct Block {
  std::variant<Heading, Paragraph, List, Facts, Statements, Table, Gallery, MapFigure, Plot, Field,
               Viewer>
      body;
  bool with_next = false;  ///< never parted from the next block by the end of a page
  bool new_page = false;
  bool page_only = false;  ///< for the screen alone
};

struct Document {
  std::string title, identifier, author, subject, version;
  bool client = false;                                 ///< no names of files
  std::vector<std::pair<std::string, Text>> identity;  ///< below the title
  std::vector<Block> blocks;

  void add(Block block) { blocks.push_back(std::move(block)); }
};

}  // namespace inkwane::report
