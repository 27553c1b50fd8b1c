#include "desk/shelf.hpp"

#include <algorithm>
#include <vector>

#include <opencv2/imgproc.hpp>

namespace inkwane::desk {
namespace {

/// Rows of the scan that are in memory at once while a band is made.
constexpr int kRowsAtOnce = 256;
/// The coarsest level is no larger than this.
constexpr int kCoarsestPx = 200;

/// Light averaged over squares of `factor` pixels; what is cut at the edge counts whole.
cv::Mat reduced(const cv::Mat& light, int factor) {
  if (factor == 1) return light;
  const int right = (factor - light.cols % factor) % factor;
  const int below = (factor - light.rows % factor) % factor;
  cv::Mat whole = light, small;
  if (right + below > 0) {
    cv::copyMakeBorder(light, whole, 0, below, 0, right, cv::BORDER_REPLICATE);
  }
  cv::resize(whole, small, {whole.cols / factor, whole.rows / factor}, 0, 0, cv::INTER_AREA);
  return small;
}

cv::Mat shown(const cv::Mat& light, const target::ScanColour& colour) {
  cv::Mat xyz;
  colour.to_xyz(light, xyz);
  return colour::to_srgb(xyz);
}

}  // namespace

struct Shelf::Opened {
  scan::Scan scan;
  target::ScanColour colour;
  std::vector<cv::Mat> overviews;  // levels kOverview, kOverview + 1, …

  explicit Opened(const std::filesystem::path& file)
      : scan(scan::Scan::open(file)),
        colour(target::ScanColour::uncalibrated(
            colour::Linearisation::from_profile(scan.info().icc, file.string()))) {
    constexpr int factor = 1 << kOverview;
    cv::Mat light(size(kOverview), CV_32FC3), strip_light, waiting;
    int row = 0;
    scan.read([&](int, const cv::Mat& strip) {
      colour.linearise(strip, strip_light);
      waiting.push_back(strip_light);  // strips need not end where a square does
      const int whole = waiting.rows / factor * factor;
      if (whole == 0) return;
      const cv::Mat small = reduced(waiting.rowRange(0, whole), factor);
      small.copyTo(light.rowRange(row, row + small.rows));
      row += small.rows;
      waiting = waiting.rowRange(whole, waiting.rows).clone();
    });
    if (!waiting.empty()) reduced(waiting, factor).copyTo(light.rowRange(row, row + 1));
    overviews.push_back(shown(light, colour));
    while (std::max(light.cols, light.rows) > kCoarsestPx) {
      light = reduced(light, 2);
      overviews.push_back(shown(light, colour));
    }
  }

  [[nodiscard]] int coarsest() const { return kOverview + static_cast<int>(overviews.size()) - 1; }
  [[nodiscard]] cv::Size size(int level) const {
    const int factor = 1 << level;
    return {(scan.info().width_px + factor - 1) / factor,
            (scan.info().height_px + factor - 1) / factor};
  }
  [[nodiscard]] int bands(int level) const {
    return (size(level).height + kBandRows - 1) / kBandRows;
  }

  /// A band from the file: for formats whose rows can be reached on their own.
  [[nodiscard]] cv::Mat read_band(int level, int number) const {
    const int factor = 1 << level, width = scan.info().width_px;
    const int top = number * kBandRows * factor;
    const int bottom = std::min(scan.info().height_px, top + kBandRows * factor);
    cv::Mat band, light;
    for (int row = top; row < bottom; row += kRowsAtOnce) {
      const int rows = std::min(kRowsAtOnce, bottom - row);
      colour.linearise(scan.read_window({0, row, width, rows}), light);
      band.push_back(shown(reduced(light, factor), colour));
    }
    return band;
  }

  /// All bands of a level in one pass.
  [[nodiscard]] std::vector<cv::Mat> read_all(int level) const {
    const int factor = 1 << level;
    std::vector<cv::Mat> all(static_cast<std::size_t>(bands(level)));
    cv::Mat light, waiting;
    std::size_t number = 0;
    const auto finish = [&](int rows) {
      all.at(number++) = shown(reduced(waiting.rowRange(0, rows), factor), colour);
      waiting = waiting.rowRange(rows, waiting.rows).clone();
    };
    scan.read([&](int, const cv::Mat& strip) {
      colour.linearise(strip, light);
      waiting.push_back(light);
      while (waiting.rows >= kBandRows * factor) finish(kBandRows * factor);
    });
    if (!waiting.empty()) finish(waiting.rows);
    return all;
  }
};

std::shared_ptr<Shelf::Opened> Shelf::open(const std::filesystem::path& file) {
  std::promise<std::shared_ptr<Opened>> promise;
  std::shared_future<std::shared_ptr<Opened>> opened;
  bool mine = false;
  {
    const std::lock_guard lock(mutex_);
    const auto found = opened_.find(file);
    mine = found == opened_.end();
    opened = mine ? promise.get_future().share() : found->second;
    if (mine) opened_[file] = opened;
  }
  if (mine) {
    try {
      promise.set_value(std::make_shared<Opened>(file));
    } catch (...) {
      promise.set_exception(std::current_exception());
      const std::lock_guard lock(mutex_);
      opened_.erase(file);  // it may be mended, and tried again
    }
  }
  return opened.get();
}

const scan::Info& Shelf::info(const std::filesystem::path& file) {
  return open(file)->scan.info();
}

int Shelf::coarsest(const std::filesystem::path& file) {
  return open(file)->coarsest();
}

cv::Size Shelf::size(const std::filesystem::path& file, int level) {
  return open(file)->size(level);
}

void Shelf::keep(const Key& key, const cv::Mat& band) {
  const std::lock_guard lock(mutex_);
  const auto found = bands_.find(key);
  if (found != bands_.end() && found->second.bytes > 0) return;
  std::promise<cv::Mat> ready;
  ready.set_value(band);
  if (found != bands_.end()) {
    found->second.bytes = band.total() * band.elemSize();
  } else {
    turns_.push_front(key);
    bands_[key] = {ready.get_future().share(), band.total() * band.elemSize(), turns_.begin()};
  }
  bytes_ += band.total() * band.elemSize();
  for (auto last = turns_.end(); bytes_ > limit_ && last != turns_.begin();) {
    --last;
    const auto oldest = bands_.find(*last);
    if (oldest->second.bytes == 0 || oldest->first == key) continue;
    bytes_ -= oldest->second.bytes;
    bands_.erase(oldest);
    last = turns_.erase(last);
  }
}

cv::Mat Shelf::band(Opened& opened, int level, int number) {
  const Key key{&opened, level, number};
  std::promise<cv::Mat> promise;
  Band band;
  bool mine = false;
  {
    const std::lock_guard lock(mutex_);
    const auto found = bands_.find(key);
    mine = found == bands_.end();
    if (mine) {
      turns_.push_front(key);
      band = promise.get_future().share();
      bands_[key] = {band, 0, turns_.begin()};
    } else {
      turns_.splice(turns_.begin(), turns_, found->second.turn);
      band = found->second.band;
    }
  }
  if (!mine) return band.get();
  try {
    if (opened.scan.info().format == scan::Format::tiff) {
      promise.set_value(opened.read_band(level, number));
    } else {  // rows of a PNG or JPEG are reached only through all above them
      const std::vector<cv::Mat> all = opened.read_all(level);
      promise.set_value(all.at(static_cast<std::size_t>(number)));
      for (int i = 0; i < static_cast<int>(all.size()); ++i) {
        if (i != number) keep({&opened, level, i}, all[static_cast<std::size_t>(i)]);
      }
    }
  } catch (...) {
    promise.set_exception(std::current_exception());
    const std::lock_guard lock(mutex_);
    turns_.erase(bands_.at(key).turn);
    bands_.erase(key);
    return band.get();
  }
  keep(key, band.get());
  return band.get();
}

cv::Mat Shelf::picture(const std::filesystem::path& file, int level, const cv::Rect& window) {
  const std::shared_ptr<Opened> opened = open(file);
  if (level >= kOverview) {
    return opened->overviews.at(static_cast<std::size_t>(level - kOverview))(window).clone();
  }
  cv::Mat out(window.size(), CV_8UC3);
  for (int row = window.y; row < window.y + window.height;) {
    const int number = row / kBandRows, within = row % kBandRows;
    const cv::Mat whole = band(*opened, level, number);
    const int rows = std::min(whole.rows - within, window.y + window.height - row);
    whole(cv::Rect(window.x, within, window.width, rows))
        .copyTo(out.rowRange(row - window.y, row - window.y + rows));
    row += rows;
  }
  return out;
}

std::size_t Shelf::kept() const {
  const std::lock_guard lock(mutex_);
  return bytes_;
}

}  // namespace inkwane::desk
