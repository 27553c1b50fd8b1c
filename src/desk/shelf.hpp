// Scans as pictures to look at: any part at any reduction, read from the file when it is wanted and
// kept in memory up to a limit; nothing is ever written beside the scans.
#pragma once

#include <filesystem>
#include <future>
#include <list>
#include <map>
#include <memory>
#include <mutex>
#include <tuple>

#include <opencv2/core.hpp>

#include "scan/scan.hpp"
#include "target/fit.hpp"

namespace inkwane::desk {

/// Level n shows 2ⁿ × 2ⁿ pixels of the scan as one, averaged in light. Pixel i of it is centred on
/// the scan's pixel (i + ½) 2ⁿ − ½.
class Shelf {
 public:
  /// Levels from here on are made when a scan is opened, in one pass, and stay.
  static constexpr int kOverview = 3;
  static constexpr int kBandRows = 256;

  /// `limit`: bytes of pictures that may be kept beyond the overviews.
  explicit Shelf(std::size_t limit) : limit_(limit) {}

  /// Opens the scan if it was not. Throws Error(scan).
  [[nodiscard]] const scan::Info& info(const std::filesystem::path& file);
  /// The last level there is.
  [[nodiscard]] int coarsest(const std::filesystem::path& file);
  [[nodiscard]] cv::Size size(const std::filesystem::path& file, int level);
  /// sRGB (CV_8UC3, R G B) through the scan's profile; `window` in pixels of the level, within it.
  [[nodiscard]] cv::Mat picture(const std::filesystem::path& file, int level,
                                const cv::Rect& window);

  /// Bytes kept now, overviews left out.
  [[nodiscard]] std::size_t kept() const;

 private:
  struct Opened;
  using Key = std::tuple<const Opened*, int, int>;  // level, band
  using Band = std::shared_future<cv::Mat>;
  struct Kept {
    Band band;
    std::size_t bytes = 0;  // 0: under way
    std::list<Key>::iterator turn;
  };

  std::shared_ptr<Opened> open(const std::filesystem::path& file);
  cv::Mat band(Opened& opened, int level, int number);
  void keep(const Key& key, const cv::Mat& band);

  std::size_t limit_;
  mutable std::mutex mutex_;
  std::map<std::filesystem::path, std::shared_future<std::shared_ptr<Opened>>> opened_;
  std::map<Key, Kept> bands_;
  std::list<Key> turns_;  // last used first
  std::size_t bytes_ = 0;
};

}  // namespace inkwane::desk
