#include "report/figures.hpp"

#include <array>
#include <charconv>
#include <cmath>

#include <fmt/core.h>

#include "colour/icc.hpp"
#include "report/words.hpp"

namespace inkwane::report {
namespace {

constexpr const char* kThinSpace = "\u202f";  // narrow, and no break
constexpr const char* kMinus = "\u2212";

std::string grouped(const std::string& digits) {
  std::string text = digits;
  for (auto at = static_cast<int>(digits.size()) - 3; at > 0; at -= 3)
    text.insert(static_cast<std::size_t>(at), kThinSpace);
  return text;
}

}  // namespace

std::string decimal(double value, int decimals, bool sign) {
  std::string digits = fmt::format("{:.{}f}", std::abs(value), decimals);
  const bool zero = digits.find_first_not_of("0.") == std::string::npos;
  if (zero) return digits;
  if (value < 0) return kMinus + digits;
  return sign ? "+" + digits : digits;
}

std::string percent(double share, int decimals) {
  return decimal(100 * share, decimals) + "\u00a0%";
}

std::string area(double mm2) {
  return mm2 < 100 ? decimal(mm2, 1) : grouped(fmt::format("{:.0f}", mm2));
}

std::string date(const std::string& iso) {
  static constexpr std::array<const char*, 12> kMonths{
      "January", "February", "March",     "April",   "May",      "June",
      "July",    "August",   "September", "October", "November", "December"};
  if (iso.size() < 10 || iso[4] != '-' || iso[7] != '-') return iso;
  unsigned month = 0, day = 0;
  std::from_chars(iso.data() + 5, iso.data() + 7, month);
  std::from_chars(iso.data() + 8, iso.data() + 10, day);
  if (month < 1 || month > kMonths.size()) return iso;
  std::string rest = iso.substr(10);
  if (!rest.empty() && rest[0] == 'T') rest[0] = ' ';
  return fmt::format("{} {} {}{}", day, kMonths[month - 1], iso.substr(0, 4), rest);
}

std::string css_colour(const LabD50& lab) {
  const XyzD50 xyz = to_xyz(lab);
  const cv::Mat one(1, 1, CV_32FC3, cv::Scalar(xyz.X, xyz.Y, xyz.Z));
  const auto rgb = colour::to_srgb(one).at<cv::Vec3b>(0);
  return fmt::format("#{:02x}{:02x}{:02x}", rgb[0], rgb[1], rgb[2]);
}

bool known(const results::Number& value) {
  return value && std::isfinite(*value);
}

std::string small_percent(double share) {
  return percent(share, share < 0.0995 ? 1 : 0);
}

std::string decimal(const results::Number& value, int decimals, bool sign) {
  return known(value) ? decimal(*value, decimals, sign) : say("common.none");
}
std::string percent(const results::Number& value) {
  return known(value) ? percent(*value, 0) : say("common.none");
}

std::string interval(const results::Interval& ends, int decimals) {
  if (!ends) return say("common.none");
  return say("common.to", fmt::arg("low", decimal((*ends)[0], decimals)),
             fmt::arg("high", decimal((*ends)[1], decimals)));
}
std::string percent_interval(const results::Interval& ends) {
  if (!ends) return say("common.none");
  return say("common.to", fmt::arg("low", decimal(100 * (*ends)[0], 0)),
             fmt::arg("high", percent((*ends)[1], 0)));
}
std::string estimate(const std::optional<results::Estimate>& estimate) {
  if (!estimate) return say("course.unknown");
  return say("course.estimate", fmt::arg("value", percent(estimate->value, 0)),
             fmt::arg("low", decimal(100 * estimate->ci95[0], 0)),
             fmt::arg("high", percent(estimate->ci95[1], 0)));
}

}  // namespace inkwane::report
