// Page one: for a reader who has never heard of CIELAB.
#include <algorithm>
#include <utility>

#include "report/content/content.hpp"
#include "report/figures.hpp"
#include "report/words.hpp"

namespace inkwane::report {
namespace {

using results::Region;
using results::RegionChange;
using Measured = std::pair<const Region*, const RegionChange*>;

void add_identity(Document& document, const Context& context) {
  const Object& object = context.results.object;
  const auto add = [&](const char* key, const std::string& text) {
    if (!text.empty()) document.identity.emplace_back(say(key), plain(text));
  };
  add("front.identifier", object.identifier);
  add("front.client", object.client);
  add("front.owner", object.owner);
  add("front.maker", object.maker);
  if (object.width_mm && object.height_mm)
    add("front.size", fmt::format("{:g} × {:g} mm", *object.width_mm, *object.height_mm));
  std::string dates;
  for (const Stage& stage : context.results.stages) {
    const std::string when = stage.date.empty()
                                 ? stage.id
                                 : say("front.date_range", fmt::arg("stage", stage.id),
                                       fmt::arg("date", date(stage.date)));
    dates += (dates.empty() ? "" : " · ") + when;
  }
  add("front.dates", dates);
  add("front.conservator", context.results.record.conservator);
  add("front.marks", object.marks);
  add("front.description", object.description);
}

void add_pictures(Document& document, const Context& context) {
  Gallery gallery;
  for (const Side side : kSides) {
    for (const results::Image* image : context.before_and_after(side)) {
      const Stage* stage = context.stage(image->stage);
      const std::string when =
          stage == nullptr || stage->date.empty() ? "" : ", " + date(stage->date);
      Picture picture;
      picture.file = image->file;
      picture.frame = image->frame;
      picture.caption =
          strong(say(side == Side::recto ? "common.recto_long" : "common.verso_long")) +
          plain(" " +
                say("front.pictures", fmt::arg("stage", image->stage), fmt::arg("date", when)));
      picture.alt = words_of(picture.caption);
      picture.id = fmt::format("picture-{}-{}", to_string(side), gallery.pictures.size());
      gallery.pictures.push_back(std::move(picture));
    }
  }
  if (gallery.pictures.empty()) return;
  gallery.scale_bar = true;
  gallery.most_high_mm = 62;
  gallery.caption = plain(
      say(context.results.calibrated ? "front.pictures_note" : "front.pictures_note_uncalibrated"));
  document.add({gallery, false, false, false});
}

/// All changes over the whole treatment of regions of one role that have this number.
std::vector<Measured> changes_of(const Context& context, Role role,
                                 results::Number RegionChange::*number) {
  std::vector<Measured> found;
  for (const Region& region : context.results.regions) {
    const RegionChange* change = context.whole_change(region);
    if (region.role == role && change != nullptr && known((*change).*number))
      found.emplace_back(&region, change);
  }
  return found;
}

bool any_named(const Context& context, Role role) {
  return std::any_of(context.results.regions.begin(), context.results.regions.end(),
                     [role](const Region& region) { return region.role == role; });
}

Swatches named_swatches(const Measured& measured) {
  Swatches swatches = swatches_of(*measured.first, *measured.second);
  swatches.label = say("front.swatches", fmt::arg("name", name_of(*measured.first)));
  return swatches;
}

const results::CoursePoint* last_point(const Context& context) {
  const auto& course = context.results.course;
  return course && course->points.size() > 1 ? &course->points.back() : nullptr;
}

/// The ends of 1 − a share, as a reader sees them.
std::string gone(double share) {
  return percent(1 - share, 0);
}

Statement removed(const Context& context) {
  Statement statement;
  statement.of = say("front.removed");
  const auto measured = changes_of(context, Role::added, &RegionChange::residual);
  if (measured.empty()) {
    statement.figure = plain(say("common.none"));
    statement.sentence = plain(say(any_named(context, Role::added) ? "front.removed_unknown"
                                                                   : "front.removed_none_named"));
    return statement;
  }
  const auto less = [](const Measured& a, const Measured& b) {
    return *a.second->residual < *b.second->residual;
  };
  const auto [least, most] = std::minmax_element(measured.begin(), measured.end(), less);
  statement.swatches = named_swatches(*most);
  const auto* point = last_point(context);
  if (point != nullptr && point->removed) {
    statement.figure = context.measured(percent(point->removed->value, 0));
    statement.sentence =
        plain(say("front.removed_sentence", fmt::arg("value", percent(point->removed->value, 0)),
                  fmt::arg("low", decimal(100 * point->removed->ci95[0], 0)),
                  fmt::arg("high", percent(point->removed->ci95[1], 0))));
    return statement;
  }
  const RegionChange &a = *most->second, &b = *least->second;
  if (measured.size() == 1) {
    statement.figure = context.measured(gone(*a.residual));
    const auto ends = a.residual_ci95.value_or(std::array<double, 2>{*a.residual, *a.residual});
    statement.sentence =
        plain(say("front.removed_one", fmt::arg("name", name_of(*most->first)),
                  fmt::arg("value", gone(*a.residual)), fmt::arg("low", gone(ends[1])),
                  fmt::arg("high", gone(ends[0]))));
    return statement;
  }
  statement.figure =
      context.measured(say("common.to", fmt::arg("low", decimal(100 * (1 - *a.residual), 0)),
                           fmt::arg("high", gone(*b.residual))));
  const auto with_ends = [](const RegionChange& change) {
    const std::string value = gone(*change.residual);
    if (!change.residual_ci95) return value;
    return say("course.estimate", fmt::arg("value", value),
               fmt::arg("low", decimal(100 * (1 - (*change.residual_ci95)[1]), 0)),
               fmt::arg("high", gone((*change.residual_ci95)[0])));
  };
  statement.sentence =
      plain(say("front.removed_by_place", fmt::arg("low", with_ends(a)),
                fmt::arg("most", name_of(*most->first)), fmt::arg("high", with_ends(b)),
                fmt::arg("least", name_of(*least->first))));
  return statement;
}

Statement lost(const Context& context) {
  Statement statement;
  statement.of = say("front.lost");
  const auto measured = changes_of(context, Role::ink, &RegionChange::strength_kept);
  if (measured.empty()) {
    statement.figure = plain(say("common.none"));
    statement.sentence =
        plain(say(any_named(context, Role::ink) ? "front.lost_unknown" : "front.lost_none_named"));
    return statement;
  }
  const auto worst =
      *std::min_element(measured.begin(), measured.end(), [](const Measured& a, const Measured& b) {
        return *a.second->strength_kept < *b.second->strength_kept;
      });
  statement.swatches = named_swatches(worst);
  const double kept = *worst.second->strength_kept;
  const auto ends = worst.second->strength_kept_ci95.value_or(std::array<double, 2>{kept, kept});
  const std::string value = gone(kept), low = decimal(100 * (1 - ends[1]), 0), high = gone(ends[0]),
                    name = name_of(*worst.first);
  const auto* point = last_point(context);
  if (point == nullptr || !point->lost) {
    statement.figure = context.measured(value);
    statement.sentence =
        plain(say("front.lost_worst_only", fmt::arg("name", name), fmt::arg("value", value),
                  fmt::arg("low", low), fmt::arg("high", high)));
    return statement;
  }
  statement.figure = context.measured(percent(point->lost->value, 0));
  statement.sentence =
      plain(say("front.lost_sentence", fmt::arg("value", percent(point->lost->value, 0)),
                fmt::arg("low", decimal(100 * point->lost->ci95[0], 0)),
                fmt::arg("high", percent(point->lost->ci95[1], 0)), fmt::arg("worst", value),
                fmt::arg("worst_low", low), fmt::arg("worst_high", high), fmt::arg("name", name)));
  return statement;
}

/// The smallest that would have been found, as a sentence to follow; empty where it is not known.
std::string bleed_limit(const Context& context) {
  for (const results::DetectionLimit& limit : context.results.findings.limits) {
    if (limit.what != "bleed_through") continue;
    return " " + say("front.bleed_limit", fmt::arg("area", decimal(limit.area_mm2, 1)),
                     fmt::arg("contrast", decimal(limit.contrast_dE00, 1)));
  }
  return {};
}

Statement bleed(const Context& context) {
  Statement statement;
  statement.of = say("front.bleed");
  const results::SideChange* change = context.whole_change(Side::verso);
  if (change == nullptr || !change->bleed_through) {
    statement.figure = plain(say("common.none"));
    statement.sentence = plain(say("front.bleed_unknown"));
    return statement;
  }
  const Measured* worst = nullptr;
  auto watched = changes_of(context, Role::watch, &RegionChange::dE00);
  std::erase_if(watched, [](const Measured& m) { return m.first->side != Side::verso; });
  for (const Measured& measured : watched) {
    if (worst == nullptr || *measured.second->dE00 > *worst->second->dE00) worst = &measured;
  }
  if (worst != nullptr) statement.swatches = named_swatches(*worst);
  const results::ColourArea& found = change->bleed_through->area;
  statement.figure = context.measured(small_percent(found.share));
  if (found.area_mm2 <= 0) {
    statement.sentence = plain(say("front.bleed_nothing") + bleed_limit(context));
    return statement;
  }
  const auto above = [&](double dE00) -> const results::AreaAbove* {
    for (const results::AreaAbove& each : change->bleed_through->above)
      if (each.dE00 == dE00) return &each;
    return nullptr;
  };
  const std::string all = say("common.mm2", fmt::arg("area", area(found.area_mm2)));
  if (above(1) != nullptr && above(5) != nullptr) {
    statement.sentence = plain(
        say("front.bleed_sentence", fmt::arg("area", all),
            fmt::arg("share", small_percent(found.share)),
            fmt::arg("strong", say("common.mm2", fmt::arg("area", area(above(5)->area_mm2)))),
            fmt::arg("faint", say("common.mm2", fmt::arg("area", area(above(1)->area_mm2))))));
  } else {
    statement.sentence = plain(say("front.bleed_short", fmt::arg("area", all),
                                   fmt::arg("share", small_percent(found.share)),
                                   fmt::arg("mean", decimal(found.mean_dE00, 1))));
  }
  return statement;
}

std::vector<std::string> names_where(const Context& context,
                                     bool (*wanted)(const Region&, const RegionChange&)) {
  std::vector<std::string> names;
  for (const Region& region : context.results.regions) {
    const RegionChange* change = context.whole_change(region);
    if (change != nullptr && wanted(region, *change)) names.push_back(name_of(region));
  }
  return names;
}

void add_untold(Document& document, const Context& context) {
  List list;
  const auto add = [&](const std::string& sentence) { list.items.push_back(plain(sentence)); };
  if (!context.results.calibrated) add(say("front.untold_uncalibrated"));
  if (context.results.doubtful) add(say("front.untold_doubtful"));
  const auto same = names_where(context, [](const Region&, const RegionChange& change) {
    return change.detectable == false;
  });
  if (!same.empty())
    add(say("front.untold_regions", fmt::arg("count", same.size()),
            fmt::arg("all", context.results.regions.size()),
            fmt::arg("names", names_in_words(same))));
  const auto inks = names_where(context, [](const Region& region, const RegionChange& change) {
    return region.role == Role::ink && !known(change.strength_kept);
  });
  if (!inks.empty()) add(say("front.untold_strength", fmt::arg("names", names_in_words(inks))));
  const auto added = names_where(context, [](const Region& region, const RegionChange& change) {
    return region.role == Role::added && !known(change.residual);
  });
  if (!added.empty()) add(say("front.untold_residual", fmt::arg("names", names_in_words(added))));
  const auto& stages = context.results.stages;
  if (stages.size() > 1 && std::none_of(stages.begin(), stages.end(), [](const Stage& stage) {
        return stage.kind == "follow-up";
      }))
    add(say("front.untold_return"));
  add(say("front.untold_dyes"));
  add(say("front.untold_paper"));
  document.add(part_heading(say("front.untold"), "untold"));
  document.add({list, false, false, false});
}

}  // namespace

void add_front(Document& document, const Context& context) {
  add_identity(document, context);
  add_pictures(document, context);
  if (context.results.stages.size() < 2) {
    document.add(paragraph(say("front.one_stage"), Paragraph::Look::lead));
  } else {
    document.add(part_heading(say("front.summary"), "summary"));
    document.add(
        {Statements{{removed(context), lost(context), bleed(context)}}, false, false, false});
    document.add(paragraph(say("front.ranges"), Paragraph::Look::note));
  }
  add_untold(document, context);
}

}  // namespace inkwane::report
