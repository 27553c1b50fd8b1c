// Real scans and a real table, where there are any: a folder named by INKWANE_REAL_SCANS. Nothing
// of it belongs to the project.
#include <cstdlib>
#include <fstream>
#include <sstream>

#include <catch2/catch.hpp>

#include <inkwane/error.hpp>

#include "target/metric.hpp"
#include "target/uncertainty.hpp"

using namespace inkwane;
using namespace inkwane::target;
using Catch::Matchers::Contains;

namespace {

/// Nominal Lab (D50) of a 24-patch chart, row by row: published values of an older edition.
constexpr double kNominal[24][3] = {
    {37.99, 13.56, 14.06},  {65.71, 18.13, 17.81},   {49.93, -4.88, -21.93}, {43.14, -13.10, 21.91},
    {55.11, 8.84, -25.40},  {70.72, -33.40, -0.20},  {62.66, 36.07, 57.10},  {40.02, 10.41, -45.96},
    {51.12, 48.24, 16.25},  {30.33, 22.98, -21.59},  {72.53, -23.71, 57.26}, {71.94, 19.36, 67.86},
    {28.78, 14.18, -50.30}, {55.26, -38.34, 31.37},  {42.10, 53.38, 28.19},  {81.73, 4.04, 79.82},
    {51.94, 49.99, -14.57}, {51.04, -28.63, -28.64}, {96.54, -0.43, 1.19},   {81.26, -0.64, -0.34},
    {66.77, -0.73, -0.50},  {50.87, -0.15, -0.27},   {35.66, -0.42, -1.23},  {20.46, -0.08, -0.97}};

Reference nominal() {
  Reference reference{4, 6, {}};
  for (int i = 0; i < 24; ++i) {
    reference.patches.push_back(
        {patch_id(i / 6, i % 6), {kNominal[i][0], kNominal[i][1], kNominal[i][2]}});
  }
  return reference;
}

std::filesystem::path real(const std::string& name) {
  const char* folder = std::getenv("INKWANE_REAL_SCANS");
  if (!folder) return {};
  const std::filesystem::path file = std::filesystem::path(folder) / name;
  return std::filesystem::exists(file) ? file : std::filesystem::path();
}

#define REAL_OR_RETURN(variable, name)                                   \
  const auto variable = real(name);                                      \
  if (variable.empty()) {                                                \
    WARN("skipped: INKWANE_REAL_SCANS names no folder with " << (name)); \
    return;                                                              \
  }

struct Row {
  Eigen::Vector3d encoded;
  LabD50 lab;
};

std::vector<Row> read_table(const std::filesystem::path& file) {
  std::ifstream in(file);
  std::string line;
  std::vector<Row> rows;
  while (std::getline(in, line)) {
    std::istringstream words(line);
    double id = 0, r = 0, g = 0, b = 0;
    LabD50 lab;
    if (words >> id >> r >> g >> b >> lab.L >> lab.a >> lab.b) {
      rows.push_back({{r / 255, g / 255, b / 255}, lab});
    }
  }
  return rows;
}

double quantile(std::vector<double> values, double share) {
  std::sort(values.begin(), values.end());
  return values[static_cast<std::size_t>(share * static_cast<double>(values.size() - 1))];
}

struct Score {
  double median = 0, p95 = 0, largest = 0, inside = 0;
  Fit fit;
};

/// The 24 rows nearest the nominal chart are the target, the others are held out.
Score held_out(const std::vector<Row>& rows, const colour::Linearisation& linearisation) {
  std::vector<bool> taken(rows.size(), false);
  Reference reference{4, 6, {}};
  std::vector<PatchReading> readings;
  const auto linear = [&linearisation](const Eigen::Vector3d& encoded) {
    Eigen::Vector3d v;
    for (int c = 0; c < 3; ++c) {
      v[c] = static_cast<double>(
          linearisation.tables()[c][static_cast<std::size_t>(std::lround(65535 * encoded[c]))]);
    }
    return v;
  };
  for (const auto& patch : nominal().patches) {
    std::size_t best = 0;
    double nearest = 1e9;
    for (std::size_t i = 0; i < rows.size(); ++i) {
      const double d = ciede2000(patch.lab, rows[i].lab);
      if (!taken[i] && d < nearest) {
        nearest = d;
        best = i;
      }
    }
    taken[best] = true;
    reference.patches.push_back({patch.id, rows[best].lab});
    PatchReading reading;
    reading.linear = linear(rows[best].encoded);
    reading.standard_error.setZero();
    reading.spread.setZero();
    readings.push_back(reading);
  }

  Score score;
  score.fit = fit_target(reference, readings, linearisation, "table");
  const std::vector<const Fit*> scans{&score.fit};
  std::vector<double> errors;
  int inside = 0;
  for (std::size_t i = 0; i < rows.size(); ++i) {
    if (taken[i]) continue;
    const cv::Vec3d e(rows[i].encoded[0], rows[i].encoded[1], rows[i].encoded[2]);
    const cv::Mat encoded(1, 1, CV_16UC3, cv::Scalar(65535 * e[0], 65535 * e[1], 65535 * e[2]));
    cv::Mat light;
    score.fit.colour.linearise(encoded, light);
    const cv::Vec3f t = light.at<cv::Vec3f>(0);
    const Eigen::Vector3d seen = Eigen::Vector3f(t[0], t[1], t[2]).cast<double>();
    const LabD50 lab = to_lab(score.fit.colour.to_xyz(seen));
    errors.push_back(ciede2000(lab, rows[i].lab));
    const std::vector<ColourAt> colours{{0, seen}};
    const Eigen::MatrixXd v = joint_covariance(scans, colours);
    const Eigen::Vector3d off = vector_of(lab) - vector_of(rows[i].lab);
    for (int c = 0; c < 3; ++c) inside += std::abs(off[c]) <= 2 * std::sqrt(v(c, c));
  }
  score.median = quantile(errors, 0.5);
  score.p95 = quantile(errors, 0.95);
  score.largest = quantile(errors, 1);
  score.inside = inside / (3.0 * static_cast<double>(errors.size()));
  return score;
}

}  // namespace

TEST_CASE("2,871 real printed patches: the fit to 24 predicts the others") {
  REAL_OR_RETURN(file, "flatbed_rgb_lab.txt");
  const std::vector<Row> rows = read_table(file);
  REQUIRE(rows.size() == 2871);
  // As a table of device values, and as a scan without a profile.
  for (const auto& linearisation :
       {colour::Linearisation::identity(), colour::Linearisation::from_profile({}, "table")}) {
    const Score s = held_out(rows, linearisation);
    CAPTURE(s.median, s.p95, s.largest, s.inside, s.fit.left_out_median);
    CHECK(s.median <= 0.70);
    CHECK(s.p95 <= 2.0);
    CHECK(s.largest <= 5.5);
    CHECK(std::abs(s.fit.left_out_median - s.median) <= 0.25);
    CHECK(s.inside >= 0.90);
    CHECK(s.inside <= 0.98);
    CHECK(s.fit.warnings.empty());
  }
}

TEST_CASE("a target held in a room and a small picture of one are found") {
  for (const char* name : {"target_in_room.jpg", "target_exposure_1.png"}) {
    REAL_OR_RETURN(file, name);
    const auto scan = scan::Scan::open(file);
    CHECK(find_target(scan, nominal()).centres.size() == 24);
  }
}

TEST_CASE("real pictures without a whole target are refused for the right reason") {
  const auto check = [](const std::filesystem::path& file, const std::string& words) {
    const auto scan = scan::Scan::open(file);
    CHECK_THROWS_WITH(find_target(scan, nominal()), Contains(words));
  };
  REAL_OR_RETURN(covered, "target_half_covered.png");
  check(covered, "covered");
  REAL_OR_RETURN(cut, "target_exposure_2.png");  // the frame cuts its last rows off
  check(cut, "in the frame");
  REAL_OR_RETURN(none, "no_target.jpg");
  check(none, "no target");
}
