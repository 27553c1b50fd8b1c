#include "report/html/html.hpp"

#include <algorithm>
#include <stdexcept>

#include <fmt/format.h>
#include <kainjow/mustache.hpp>

#include "report/draw/draw.hpp"
#include "report/html/pictures.hpp"
#include "report/html/tags.hpp"
#include "report/html/viewer.hpp"
#include "report/parts.hpp"
#include "report/words.hpp"

namespace inkwane::report {
namespace {

/// Labels on a picture are this part of its width high.
constexpr double kLabelsAWidth = 30;

std::string number(double value) {
  return fmt::format("{:.6g}", value);
}

class Renderer {
 public:
  Renderer(const results::Results& results, Pictures& pictures)
      : results_(results), pictures_(pictures) {}

  std::string render(const Document& document) {
    client_ = document.client;
    title(document);
    page_.open("section", {{"class", "front"}});
    for (const Block& block : document.blocks)
      std::visit([this](const auto& body) { put(body); }, block.body);
    return page_.take();
  }

 private:
  void title(const Document& document) {
    page_.open("header", {{"class", "title"}});
    page_.element("p", {{"class", "kind"}}, say("common.report"));
    page_.element("h1", {}, document.title);
    page_.open("dl", {{"class", "identity"}});
    for (const auto& [label, text] : document.identity) {
      const bool wide = words_of(text).size() > 60;
      page_.open("div", wide ? Attributes{{"class", "wide"}} : Attributes{});
      page_.element("dt", {}, label).element("dd", {}, text).close();
    }
    page_.close();
    page_.open("nav", {{"aria-label", say("common.report")}});
    for (const Block& block : document.blocks) {
      const auto* heading = std::get_if<Heading>(&block.body);
      if (heading != nullptr && heading->level == 2)
        page_.element("a", {{"href", "#" + id_of(heading->id)}}, heading->text).raw("\n");
    }
    page_.close().close();
  }

  void put(const Heading& heading) {
    const std::string id = id_of(heading.id);
    if (heading.level == 2) {
      page_.close().raw("\n").open("section", {{"aria-labelledby", id}});
      page_.open("h2", {{"id", id}}).text(heading.text);
      if (!heading.nature.empty()) {
        page_.raw(" ").element("span", {{"class", "nature"}}, heading.nature);
      }
      page_.close();
      return;
    }
    page_.open("h3", id.empty() ? Attributes{} : Attributes{{"id", id}, {"tabindex", "-1"}});
    page_.text(heading.text);
    if (!heading.nature.empty())
      page_.raw(" ").element("span", {{"class", "nature"}}, heading.nature);
    page_.close();
  }

  void put(const Paragraph& paragraph) {
    static constexpr const char* kClasses[] = {"", "lead", "aside", "alert"};
    const std::string look = kClasses[static_cast<int>(paragraph.look)];
    page_.element("p", look.empty() ? Attributes{} : Attributes{{"class", look}}, paragraph.text);
    page_.raw("\n");
  }

  void put(const List& list) {
    const bool warnings = list.look == List::Look::warnings;
    page_.open("ul", {{"class", warnings ? "warnings" : "points"}});
    for (const Text& item : list.items) page_.element("li", {}, item);
    page_.close().raw("\n");
  }

  void put(const Facts& facts) {
    page_.open("dl", {{"class", "facts"}});
    for (const auto& [label, text] : facts.rows)
      page_.open("div").element("dt", {}, label).element("dd", {}, text).close();
    page_.close().raw("\n");
  }

  void swatches(const Swatches& swatches) {
    if (swatches.before.empty() && swatches.after.empty()) return;
    page_.open("span", {{"class", "swatches"}});
    for (const std::string& colour : {swatches.before, swatches.after})
      if (!colour.empty()) page_.open("i", {{"style", "background:" + colour}}).close();
    page_.close();
  }

  void put(const Statements& statements) {
    page_.open("ol", {{"class", "statements"}});
    for (const Statement& statement : statements.list) {
      page_.open("li");
      page_.open("div", {{"class", "figure"}});
      page_.element("strong", {}, statement.figure).element("span", {}, statement.of).close();
      page_.element("p", {}, statement.sentence);
      page_.open("div", {{"class", "seen"}});
      swatches(statement.swatches);
      page_.element("span", {{"class", "soft"}}, statement.swatches.label).close();
      page_.close();
    }
    page_.close().raw("\n");
  }

  void put(const Table& table) {
    page_.open(
        "div",
        {{"class", "scroll"}, {"tabindex", "0"}, {"role", "region"}, {"aria-label", table.label}});
    page_.open("table").open("thead").open("tr");
    const auto align = [&](std::size_t column) {
      // Where it is narrow, a number needs little and a sentence much.
      constexpr double kShort = 0.6, kLong = 3;
      const Column& shown = table.columns[column];
      const std::string look = shown.align == Column::Align::right ? "r"
                               : shown.weight < kShort             ? "short"
                               : shown.weight >= kLong             ? "long"
                                                                   : "";
      return look.empty() ? Attributes{} : Attributes{{"class", look}};
    };
    for (std::size_t i = 0; i < table.columns.size(); ++i) {
      Attributes attributes = align(i);
      attributes.emplace_back("scope", "col");
      page_.element("th", attributes, table.columns[i].head);
    }
    page_.close().close().open("tbody");
    for (const auto& row : table.rows) {
      const bool beside = row.size() == 1 && table.columns.size() > 1;
      page_.open("tr", row[0].alert ? Attributes{{"class", "beside"}} : Attributes{});
      for (std::size_t i = 0; i < row.size(); ++i) {
        Attributes attributes = align(i);
        if (beside) attributes = {{"colspan", std::to_string(table.columns.size())}};
        page_.open("td", attributes);
        swatches(row[i].swatches);
        page_.text(row[i].text).close();
      }
      page_.close();
    }
    page_.close().close().close().raw("\n");
  }

  void marks(const Picture& picture) {
    if (picture.marks.empty()) return;
    static constexpr const char* kLooks[] = {"over", "over dashed", "over dotted"};
    const results::Frame& frame = picture.frame;
    page_.open("svg", {{"viewBox", fmt::format("-0.5 -0.5 {} {}", frame.columns, frame.rows)},
                       {"aria-hidden", "true"}});
    for (const Mark& mark : picture.marks) {
      std::string points;
      for (const Point& p : mark.points) points += fmt::format("{:.1f},{:.1f} ", p.x, p.y);
      for (const char* look : {"under", kLooks[static_cast<int>(mark.look)]})
        page_.open(mark.closed ? "polygon" : "polyline", {{"class", look}, {"points", points}})
            .close();
    }
    for (const Mark& mark : picture.marks) {
      if (mark.label.empty() || mark.points.empty()) continue;
      const auto right = std::max_element(mark.points.begin(), mark.points.end(),
                                          [](const Point& a, const Point& b) { return a.x < b.x; });
      const double size = frame.columns / kLabelsAWidth;
      page_.open("text", {{"x", number(right->x + 0.4 * size)},
                          {"y", number(right->y + 0.35 * size)},
                          {"font-size", number(size)}});
      page_.text(plain(mark.label)).close();
    }
    page_.close();
  }

  /// False where the page is full, and the file is only named.
  bool image(const Picture& picture) {
    const std::string uri = pictures_.uri(picture.file);
    if (uri.empty()) return false;
    Attributes attributes{{"src", uri}, {"alt", picture.alt}};
    if (!picture.id.empty()) attributes.emplace_back("id", picture.id);
    if (picture.frame.columns > 0) {
      attributes.emplace_back("width", std::to_string(picture.frame.columns));
      attributes.emplace_back("height", std::to_string(picture.frame.rows));
    }
    page_.open("div", {{"class", picture.faded ? "picture faded" : "picture"}})
        .single("img", attributes);
    marks(picture);
    page_.close();
    return true;
  }

  void left_out(const std::string& file) {
    page_.element(
        "p", {{"class", "aside"}},
        client_ ? say("maps.left_out_client") : say("maps.left_out", fmt::arg("file", file)));
  }

  void put(const Gallery& gallery) {
    const bool located = std::any_of(gallery.pictures.begin(), gallery.pictures.end(),
                                     [](const Picture& picture) { return picture.faded; });
    page_.open("figure", {{"class", located             ? "gallery sides located"
                                    : gallery.scale_bar ? "gallery sides"
                                                        : "gallery"}});
    page_.open("div", {{"class", "row"}});
    for (const Picture& picture : gallery.pictures) {
      // One scale for all: each as wide as it is in mm.
      page_.open("figure",
                 {{"style", "flex:" + number(picture.frame.columns * picture.frame.pitch_mm)}});
      if (!image(picture)) left_out(picture.file);
      page_.element("figcaption", {}, picture.caption).close();
    }
    page_.close();
    if (!gallery.caption.empty()) page_.element("figcaption", {}, gallery.caption);
    page_.close().raw("\n");
  }

  void drawing(const Plot& plot, const std::string& look) {
    page_.single("img", {{"class", look},
                         {"src", "data:image/svg+xml;base64," + base64(to_svg(plot))},
                         {"style", fmt::format("width:{:.1f}rem", plot.width_mm / 3.6)},
                         {"alt", plot.alt}});
  }

  void put(const MapFigure& figure) {
    page_.open("figure", {{"class", "map"}});
    page_.element("h3", {}, figure.title);
    page_.element("p", {{"class", "aside"}}, figure.caption);
    if (image(figure.picture))
      drawing(map_legend(figure.kind), "legend");
    else
      left_out(figure.picture.file);
    page_.close().raw("\n");
  }

  void put(const Plot& plot) {
    page_.open("figure", {{"class", "plot"}});
    drawing(plot, "drawing");
    page_.element("figcaption", {}, plot.caption).close().raw("\n");
  }

  void put(const Field& field) {
    page_.open("div", {{"class", "field"}});
    page_.element("p", {}, field.label).element("p", {{"class", "signature"}}, field.signature);
    page_.close();
  }

  void put(const Viewer& viewer) { put_viewer(page_, results_, viewer.side, pictures_); }

  const results::Results& results_;
  Pictures& pictures_;
  Page page_;
  bool client_ = false;
};

}  // namespace

std::string to_html(const Document& document, const results::Results& results,
                    const std::filesystem::path& folder) {
  Pictures pictures(folder);
  const std::string script(part("report.js"));
  kainjow::mustache::data view;
  view.set("language", say("common.language"));
  view.set("title", document.title + " – " + say("common.report"));
  view.set("style", std::string(part("report.css")));
  view.set("script", script);
  view.set("script_hash", policy_hash(script));
  view.set("body", Renderer(results, pictures).render(document));
  kainjow::mustache::mustache page{std::string(part("page.html"))};
  std::string html = page.render(view);
  if (!page.is_valid()) throw std::logic_error("report page: " + page.error_message());
  return html;
}

}  // namespace inkwane::report
