#include "report/pictures.hpp"

#include <algorithm>
#include <fstream>
#include <iterator>

#include <fmt/core.h>
#include <openssl/evp.h>

#include <inkwane/error.hpp>

#include "map/picture.hpp"
#include "report/view.hpp"

namespace inkwane::report {
namespace {

/// Room for pictures in a page that is to stay below 15 MB, so that it can be sent by mail.
constexpr std::size_t kRoom = 14'000'000;

std::string base64(const std::string& bytes) {
  std::string text(4 * ((bytes.size() + 2) / 3) + 1, '\0');
  const auto* from = reinterpret_cast<const unsigned char*>(bytes.data());
  auto* to = reinterpret_cast<unsigned char*>(text.data());
  text.resize(static_cast<std::size_t>(EVP_EncodeBlock(to, from, static_cast<int>(bytes.size()))));
  return text;
}

const results::Image* image_of(const results::Results& results, const std::string& stage,
                               Side side) {
  for (const results::Image& image : results.images)
    if (image.stage == stage && image.side == side) return &image;
  return nullptr;
}

}  // namespace

data Pictures::take(const std::string& file) {
  data picture;
  picture.set("file", file);
  std::ifstream stream(folder_ / file, std::ios::binary);
  const std::string bytes{std::istreambuf_iterator<char>(stream), {}};
  if (!stream || bytes.empty())
    throw Error(ExitCode::output,
                fmt::format("{} could not be read for the report: assess the treatment again.",
                            (folder_ / file).string()));
  const std::size_t size = 4 * bytes.size() / 3;
  if (taken_ + size > kRoom) {
    picture.set("uri", false);
    return picture;
  }
  taken_ += size;
  const bool png = std::filesystem::path(file).extension() == ".png";
  picture.set("uri", fmt::format("data:image/{};base64,{}", png ? "png" : "jpeg", base64(bytes)));
  return picture;
}

data picture_view(const results::Results& results, Pictures& pictures) {
  data sides(data::type::list);
  for (const Side side : kSides) {
    // The first and the last stage of this side: before and after.
    std::vector<std::pair<const Stage*, const results::Image*>> shown;
    for (const Stage& stage : results.stages)
      if (const auto* image = image_of(results, stage.id, side)) {
        if (shown.size() == 2) shown.pop_back();
        shown.emplace_back(&stage, image);
      }
    if (shown.empty()) continue;
    data list(data::type::list);
    for (const auto& [stage, image] : shown) {
      data picture = pictures.take(image->file);
      picture.set("stage", stage->id);
      picture.set("date", text_or_none(date(stage->date)));
      list.push_back(picture);
    }
    data entry;
    set_side(entry, side);
    entry.set("pictures", list);
    sides.push_back(entry);
  }
  return sides;
}

data map_view(const results::Results& results, Pictures& pictures) {
  data pairs(data::type::list);
  for (const Pair& pair : compared_pairs(results)) {
    data shown(data::type::list), named(data::type::list);
    for (const results::Map& map : results.maps) {
      if (map.from != pair.from || map.to != pair.to || map.png.empty()) continue;
      data entry = pictures.take(map.png);
      entry.set("title", map::style_of(map.kind).title);
      entry.set("tiff", text_or_none(map.tiff));
      for (const char* kind :
           {"difference", "lost-ink", "gained-colour", "residual-added", "bleed-through"})
        entry.set(kind, map.kind == kind);
      set_side(entry, map.side);
      (entry.get("uri")->is_string() ? shown : named).push_back(entry);
    }
    if (shown.is_empty_list() && named.is_empty_list()) continue;
    data entry;
    entry.set("from", pair.from);
    entry.set("to", pair.to);
    entry.set("whole", pair.whole);
    entry.set("maps", shown);
    entry.set("any_named", named.is_non_empty_list());
    entry.set("named", named);
    pairs.push_back(entry);
  }
  return pairs;
}

}  // namespace inkwane::report
