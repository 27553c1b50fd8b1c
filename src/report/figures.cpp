#include "report/figures.hpp"

#include <array>
#include <charconv>
#include <cmath>
#include <functional>

#include <fmt/core.h>

#include "colour/icc.hpp"

namespace inkwane::report {
namespace {

constexpr const char* kThinSpace = "\u202f";  // narrow, and no break
constexpr const char* kMinus = "\u2212";

using Format = std::function<std::string(double)>;

data number_as(results::Number value, const Format& format) {
  data shown;
  const bool known = value.has_value() && std::isfinite(*value);
  shown.set("known", known);
  shown.set("text", known ? data(format(*value)) : data(false));
  return shown;
}

void set_interval(data& shown, const results::Interval& interval, const Format& lower,
                  const Format& upper) {
  shown.set("ci_known", interval.has_value());
  shown.set("from", interval ? data(lower((*interval)[0])) : data(false));
  shown.set("to", interval ? data(upper((*interval)[1])) : data(false));
}

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

data number(results::Number value, int decimals, bool sign) {
  return number_as(value, [=](double v) { return decimal(v, decimals, sign); });
}
data share(results::Number value) {
  return number_as(value, [](double v) { return percent(v); });
}
data number(results::Number value, const results::Interval& interval, int decimals) {
  data shown = number(value, decimals);
  const Format format = [=](double v) { return decimal(v, decimals); };
  set_interval(shown, interval, format, format);
  return shown;
}
data share(results::Number value, const results::Interval& interval) {
  data shown = share(value);
  const Format without_sign = [](double v) { return decimal(100 * v, 0); };
  set_interval(shown, interval, without_sign, [](double v) { return percent(v); });
  return shown;
}

data list_of(const std::vector<std::string>& texts) {
  data list(data::type::list);
  for (const std::string& text : texts) list.push_back(text);
  return list;
}

data text_or_none(const std::string& text) {
  return text.empty() ? data(false) : data(text);
}

}  // namespace inkwane::report
