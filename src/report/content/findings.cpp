// What was found beside the named places; and, where nothing was, what would have been.
#include <cmath>
#include <optional>

#include "report/content/content.hpp"
#include "report/figures.hpp"
#include "report/words.hpp"

namespace inkwane::report {
namespace {

using Align = Column::Align;
using results::DetectionLimit;
using results::Findings;

std::string at_words(const Point& at) {
  return say("findings.at", fmt::arg("x", decimal(at.x, 0)), fmt::arg("y", decimal(at.y, 0)));
}

std::string pair_words(const std::string& from, const std::string& to) {
  return from.empty() ? std::string()
                      : say("common.pair", fmt::arg("from", from), fmt::arg("to", to));
}

/// A colour, and where given the one it stands against.
Cell colours(const LabD50& lab, const LabD50* other = nullptr) {
  Cell shown;
  shown.swatches.before = css_colour(lab);
  if (other != nullptr) shown.swatches.after = css_colour(*other);
  return shown;
}

/// What a finding is called in its table and on the picture that shows where it lies.
std::string label(const char* key, std::size_t number) {
  return say(key, fmt::arg("number", number + 1));
}

/// A side's picture at its last stage or at its first, on which marks are to stand out.
std::optional<Picture> ground(const Context& context, Side side, bool last) {
  const auto images = context.before_and_after(side);
  if (images.empty()) return std::nullopt;
  const results::Image& image = last ? *images.back() : *images.front();
  Picture picture;
  picture.file = image.file;
  picture.frame = image.frame;
  picture.faded = true;
  picture.caption =
      strong(say(side == Side::recto ? "common.recto_long" : "common.verso_long")) +
      plain(" " + say("front.pictures", fmt::arg("stage", image.stage), fmt::arg("date", "")));
  return picture;
}

std::string last_stage(const Context& context, Side side) {
  const auto images = context.before_and_after(side);
  return images.empty() ? std::string() : images.back()->stage;
}

/// Of all stages' patches those of the stage that shows the side last, in the list's order.
std::vector<const results::StillShows*> still_shown(const Context& context) {
  std::vector<const results::StillShows*> patches;
  for (const results::StillShows& patch : context.results.findings.still_shows) {
    const std::string last = last_stage(context, patch.place.side);
    if (last.empty() || last == patch.stage) patches.push_back(&patch);
  }
  return patches;
}

/// Both sides, with what `mark` puts on them; a side without marks is left out.
template <typename MarkUp>
void add_located(Document& document, const Context& context, bool last, const char* caption,
                 const MarkUp& mark_up) {
  Gallery gallery;
  for (const Side side : kSides) {
    auto picture = ground(context, side, last);
    if (!picture) continue;
    mark_up(side, *picture);
    if (picture->marks.empty()) continue;
    picture->alt = say("findings.located_alt", fmt::arg("side", in_words(side)));
    gallery.pictures.push_back(std::move(*picture));
  }
  if (gallery.pictures.empty()) return;
  gallery.scale_bar = true;
  gallery.most_high_mm = 105;
  gallery.caption = plain(say(caption));
  document.add({gallery, false, false, false});
}

/// What a search would have found at the least; whether it was made at all.
void add_limits(Document& document, const Findings& findings, const std::string& what, bool found) {
  List list;
  for (const DetectionLimit& limit : findings.limits) {
    if (limit.what != what) continue;
    std::string size;
    if (limit.area_mm2 > 0)
      size += say("findings.limit_area", fmt::arg("area", decimal(limit.area_mm2, 1)));
    if (limit.length_mm > 0)
      size += say("findings.limit_length", fmt::arg("length", decimal(limit.length_mm, 0)));
    const std::string pair =
        limit.from.empty()
            ? std::string()
            : say("findings.limit_pair", fmt::arg("from", limit.from), fmt::arg("to", limit.to));
    list.items.push_back(
        plain(say("findings.limit", fmt::arg("side", in_words(limit.side)), fmt::arg("pair", pair),
                  fmt::arg("contrast", decimal(limit.contrast_dE00, 1)), fmt::arg("size", size))));
  }
  if (!found) {
    const bool searched = !list.items.empty();
    document.add(paragraph(say(searched ? "findings.nothing" : "findings.not_searched")));
  }
  if (!list.items.empty()) document.add({list, false, false, false});
}

void add_still_shows(Document& document, const Context& context) {
  const Findings& findings = context.results.findings;
  document.add(part_heading(say("findings.still_shows"), "still-shows"));
  const auto patches = still_shown(context);
  if (!patches.empty()) {
    Table table;
    table.label = say("findings.still_shows");
    table.columns = {
        {say("findings.number"), Align::left, 0.5}, {say("findings.place"), Align::left, 2.6},
        {say("findings.colour"), Align::left, 1.2}, {say("findings.contrast"), Align::right, 1},
        {say("findings.left"), Align::right, 0.8},  {say("findings.area"), Align::right, 0.9}};
    for (std::size_t i = 0; i < patches.size(); ++i) {
      const results::StillShows& patch = *patches[i];
      const auto* region = context.region(patch.region);
      Text place = region == nullptr ? plain(patch.region) : strong(name_of(*region));
      place = place + soft(fmt::format("  {}, {}, {}", in_words(patch.place.side),
                                       at_words(patch.place.at_mm), patch.stage));
      table.rows.push_back({cell(strong(label("findings.shows_label", i))), cell(place),
                            colours(patch.lab, &patch.around),
                            cell(context.measured(decimal(patch.contrast_dE00, 1))),
                            cell(context.measured(percent(patch.residual))),
                            cell(area(patch.place.area_mm2))});
    }
    document.add({table, false, false, false});
    document.add(paragraph(say("findings.shows_note"), Paragraph::Look::note));
  }
  const std::size_t earlier = findings.still_shows.size() - patches.size();
  if (earlier > 0)
    document.add(paragraph(say("findings.shows_earlier", fmt::arg("count", earlier)),
                           Paragraph::Look::note));
  add_limits(document, findings, "still_shows", !patches.empty());
}

void add_tidelines(Document& document, const Context& context) {
  const Findings& findings = context.results.findings;
  document.add(part_heading(say("findings.tidelines"), "tidelines"));
  if (!findings.tidelines.empty()) {
    Table table;
    table.label = say("findings.tidelines");
    table.columns = {
        {say("findings.number"), Align::left, 0.5}, {say("findings.place"), Align::left, 2},
        {say("findings.between"), Align::left, 1},  {say("findings.length"), Align::right, 1},
        {say("findings.width"), Align::right, 1},   {say("findings.contrast"), Align::right, 1}};
    for (std::size_t i = 0; i < findings.tidelines.size(); ++i) {
      const auto& line = findings.tidelines[i];
      table.rows.push_back({cell(strong(label("findings.tideline_label", i))),
                            cell(fmt::format("{}, {}", in_words(line.side), at_words(line.at_mm))),
                            cell(pair_words(line.from, line.to)), cell(decimal(line.length_mm, 0)),
                            cell(decimal(line.width_mm, 1)),
                            cell(context.measured(decimal(line.contrast_dE00, 1)))});
    }
    document.add({table, false, false, false});
  }
  add_limits(document, findings, "tidelines", !findings.tidelines.empty());
}

void add_sources(Document& document, const Context& context) {
  const auto* change = context.whole_change(Side::verso);
  if (change == nullptr || !change->bleed_through) return;
  document.add(part_heading(say("findings.sources"), "sources", say("common.interpretation")));
  const auto& sources = change->bleed_through->sources;
  if (!sources.empty()) {
    document.add(intro(say("findings.sources_note")));
    Table table;
    table.label = say("findings.sources");
    table.columns = {{say("findings.source"), Align::left, 3},
                     {say("findings.share"), Align::right, 1}};
    double rest = 1;
    for (const results::Source& source : sources) {
      rest -= source.share;
      Cell shown = colours(source.lab);
      shown.text = soft(fmt::format("L* {}, a* {}, b* {}", decimal(source.lab.L, 0),
                                    decimal(source.lab.a, 0), decimal(source.lab.b, 0)));
      table.rows.push_back({shown, cell(context.measured(percent(source.share, 0)))});
    }
    table.rows.push_back({cell(say("findings.unexplained")),
                          cell(context.measured(percent(std::max(0.0, rest), 0)))});
    document.add({table, false, false, false});
  }
  add_limits(document, context.results.findings, "bleed_through", !sources.empty());
}

void add_suspects(Document& document, const Context& context) {
  const Findings& findings = context.results.findings;
  document.add(part_heading(say("findings.suspects"), "suspects", say("common.interpretation")));
  if (!findings.suspects.empty()) {
    document.add(intro(say("findings.suspects_note")));
    Table table;
    table.label = say("findings.suspects");
    table.columns = {{say("findings.number"), Align::left, 0.5},
                     {say("findings.place"), Align::left, 1.8},
                     {say("findings.area"), Align::right, 0.8},
                     {say("findings.score"), Align::right, 0.7},
                     {say("findings.reason"), Align::left, 4}};
    for (std::size_t i = 0; i < findings.suspects.size(); ++i) {
      const auto& suspect = findings.suspects[i];
      Cell place = colours(suspect.lab);
      place.text =
          plain(fmt::format("{}, {}", in_words(suspect.place.side), at_words(suspect.place.at_mm)));
      table.rows.push_back({cell(strong(label("findings.suspect_label", i))), place,
                            cell(area(suspect.place.area_mm2)),
                            cell(context.measured(decimal(suspect.score, 2))),
                            cell(suspect.reason)});
    }
    document.add({table, false, false, false});
    add_located(
        document, context, false, "findings.suspects_located", [&](Side side, Picture& picture) {
          for (std::size_t i = 0; i < findings.suspects.size(); ++i) {
            const results::Place& place = findings.suspects[i].place;
            if (place.side == side)
              picture.marks.push_back({points_in(picture.frame, place.outline), true,
                                       Mark::Look::dashed, label("findings.suspect_label", i)});
          }
        });
  }
  add_limits(document, findings, "suspects", !findings.suspects.empty());
}

/// Over all stages that show its side; else the last there is.
const results::InkChange* whole_change(const Context& context, const results::SheetInk& ink) {
  const auto images = context.before_and_after(ink.side);
  for (const results::InkChange& change : ink.changes)
    if (images.size() == 2 && change.from == images[0]->stage && change.to == images[1]->stage)
      return &change;
  return ink.changes.empty() ? nullptr : &ink.changes.back();
}

void add_inks(Document& document, const Context& context) {
  const Findings& findings = context.results.findings;
  if (findings.inks.empty()) return;
  document.add(part_heading(say("findings.inks"), "inks"));
  document.add(intro(say("findings.inks_note")));
  Table table;
  table.label = say("findings.inks");
  table.columns = {
      {say("findings.ink"), Align::left, 2.4},     {say("findings.area"), Align::right, 1},
      {say("findings.between"), Align::left, 1.2}, {say("findings.kept"), Align::right, 1},
      {say("course.ci"), Align::right, 1.4},       {say("findings.worst"), Align::right, 0.9},
      {say("findings.worst_at"), Align::left, 1.3}};
  for (const auto& ink : findings.inks) {
    Cell name = colours(ink.lab);
    name.text = strong(ink.name) + soft("  " + in_words(ink.side));
    const results::InkChange* change = whole_change(context, ink);
    std::vector<Cell> row{name, cell(area(ink.area_mm2))};
    if (change == nullptr) {
      row.resize(table.columns.size(), cell(say("common.none")));
    } else {
      const bool any = known(change->worst_kept);
      row.push_back(cell(pair_words(change->from, change->to)));
      row.push_back(cell(context.measured(percent(change->mean_kept))));
      row.push_back(cell(percent_interval(change->mean_kept_ci95)));
      row.push_back(cell(context.measured(percent(change->worst_kept))));
      row.push_back(cell(any ? at_words(change->worst_at_mm) : say("common.none")));
    }
    table.rows.push_back(std::move(row));
  }
  document.add({table, false, false, false});
}

void add_blotters(Document& document, const Context& context) {
  const Findings& findings = context.results.findings;
  if (findings.blotters.empty()) return;
  document.add(part_heading(say("findings.blotters"), "blotters"));
  document.add(intro(say("findings.blotters_note")));
  for (const auto& blotter : findings.blotters) {
    Table table;
    table.label =
        say("findings.blotter", fmt::arg("id", blotter.id), fmt::arg("stage", blotter.stage));
    table.columns = {{table.label, Align::left, 3},
                     {say("findings.lifted_share"), Align::right, 1.2},
                     {say("course.ci"), Align::right, 1.4}};
    Cell head = colours(blotter.blank_lab, &blotter.lab);
    head.text = strong(blotter.sentence);
    table.rows.push_back({head});
    for (const auto& match : blotter.matches)
      table.rows.push_back({cell(plain(match.name) + soft(", " + in_words(match.role))),
                            cell(context.measured(percent(match.share, 0))),
                            cell(percent_interval(match.share_ci95))});
    if (known(blotter.unexplained))
      table.rows.push_back({cell(say("findings.lifted_unexplained")),
                            cell(context.measured(percent(blotter.unexplained))),
                            cell(say("common.none"))});
    const std::string took = !blotter.took_original
                                 ? say("findings.cannot_tell")
                                 : say(*blotter.took_original ? "common.yes" : "common.no");
    table.rows.push_back(
        {cell(strong(say("findings.took_original")) + plain(": " + took + ". ") +
              soft(say("findings.lifted", fmt::arg("area", area(blotter.stained_mm2)),
                       fmt::arg("amount", decimal(blotter.absorption_mm2, 1)),
                       fmt::arg("ends", interval(blotter.absorption_mm2_ci95, 1)))))});
    for (const std::string& warning : blotter.warnings)
      table.rows.push_back({warning_cell(warning)});
    document.add({table, false, false, false});
  }
}

}  // namespace

void add_findings(Document& document, const Context& context) {
  if (context.results.stages.empty()) return;
  document.add(section(say("findings.title"), "findings", say("common.observation")));
  document.add(intro(say("findings.intro")));
  const Findings& findings = context.results.findings;
  const auto patches = still_shown(context);
  add_located(document, context, true, "findings.located", [&](Side side, Picture& picture) {
    for (std::size_t i = 0; i < patches.size(); ++i) {
      const results::Place& place = patches[i]->place;
      if (place.side == side)
        picture.marks.push_back({points_in(picture.frame, place.outline), true, Mark::Look::solid,
                                 label("findings.shows_label", i)});
    }
    for (std::size_t i = 0; i < findings.tidelines.size(); ++i) {
      const auto& line = findings.tidelines[i];
      if (line.side == side && line.to == last_stage(context, side))
        picture.marks.push_back({points_in(picture.frame, line.line), false, Mark::Look::dotted,
                                 label("findings.tideline_label", i)});
    }
  });
  add_still_shows(document, context);
  add_tidelines(document, context);
  add_inks(document, context);
  add_blotters(document, context);
  add_sources(document, context);
  add_suspects(document, context);
}

}  // namespace inkwane::report
