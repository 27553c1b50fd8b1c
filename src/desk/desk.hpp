// The desk: what the page asks for, apart from how it asks (server.hpp).
#pragma once

#include <filesystem>
#include <memory>
#include <mutex>
#include <string>

#include "desk/drawn_json.hpp"
#include "desk/shelf.hpp"
#include "desk/work.hpp"

namespace inkwane::desk {

class Desk {
 public:
  /// Reads the treatment. Throws Error(usage) also where a scan lies outside the treatment's
  /// folder, since the desk reads nothing outside.
  Desk(std::filesystem::path treatment, int threads);

  /// The file as it is now, whose stages count from then on: title, stages, what is drawn, and its
  /// SHA-256 ("base").
  [[nodiscard]] Json state() const;
  /// The file's SHA-256 alone, and how the looking and the assessing stand.
  [[nodiscard]] Json progress() const;
  /// Writes what is drawn. `json`: {base, drawn}; `over`: also where the file has changed since.
  /// Returns state(). Throws ChangedUnderneath, and Error where it is refused.
  Json save(const Json& json);

  /// Begins to look at the scans with the corrections of `json` ({drawn}), saved or not.
  void look(const Json& json);
  [[nodiscard]] Json found() const;
  /// Begins to assess what the file holds.
  void assess();
  /// Of the last assessment, whoever made it; null where there is none.
  [[nodiscard]] Json results() const;

  /// Remembers that a suspect was rejected, or that it was not after all. `json`: {side, outline,
  /// rejected}. Returns results().
  Json reject(const Json& json);

  [[nodiscard]] Json scan(std::size_t number, Side side);
  /// JPEG of kTilePx a side. `laid`: as it lies on the first stage's scan, whose pixels then count.
  [[nodiscard]] std::vector<unsigned char> tile(std::size_t number, Side side, bool laid, int level,
                                                int x, int y);
  [[nodiscard]] Json colour(std::size_t number, Side side, bool laid, Point px) const;
  /// A polygon of the first stage: {kind: "grow", side, at, reach} · {kind: "freehand", points,
  /// tolerance} · {kind: "line", points, width}. {"polygon": []} where nothing came of it.
  [[nodiscard]] Json shape(const Json& json) const;
  [[nodiscard]] std::vector<unsigned char> map_overlay(std::size_t number) const;
  [[nodiscard]] std::string report() const;

  /// Stops what is under way.
  void stop();

  static constexpr int kTilePx = 512;

 private:
  [[nodiscard]] Treatment read() const;
  [[nodiscard]] Stage stage(std::size_t number) const;
  [[nodiscard]] std::filesystem::path scan_file(const Stage& stage, Side side) const;
  [[nodiscard]] std::filesystem::path within(const std::filesystem::path& file) const;
  [[nodiscard]] std::shared_ptr<const Looked> looked() const;
  [[nodiscard]] std::filesystem::path output() const;
  [[nodiscard]] cv::Mat laid_picture(const ScanLook& later, const ScanLook& first,
                                     const std::filesystem::path& file, int level,
                                     const cv::Rect& window);

  std::filesystem::path file_, folder_;
  int threads_;
  Shelf shelf_;
  mutable std::mutex mutex_;
  std::mutex saving_;
  mutable std::shared_ptr<const std::vector<Stage>> stages_;  ///< as state() last told them
  std::shared_ptr<const Looked> looked_;
  Work looking_, assessing_;
};

}  // namespace inkwane::desk
