// What is true of a simulated treatment, from the light of the sheet itself.
#pragma once

#include "simulate/placement.hpp"
#include "simulate/print.hpp"
#include "simulate/simulate.hpp"

namespace inkwane::simulate {

/// True XYZ of one side at one stage, CV_32FC3 on the truth's lattice (see SheetRaster).
struct TrueLight {
  cv::Mat xyz, xyz_unbled;
};

/// Gathers the truth of one side, stage by stage, the first stage first.
class TruthOfSide {
 public:
  TruthOfSide(const Scene& scene, const std::string& side, const Placement& first);
  void add(const std::string& stage, const Placement& placement, const TrueLight& light,
           Truth& truth);

 private:
  void add_regions(const std::string& stage, const cv::Mat& xyz, Truth& truth) const;
  void add_lost_ink(const std::string& stage, Truth& truth) const;
  void add_undeclared(Truth& truth) const;
  void add_tide_marks(const std::string& stage, const cv::Mat& xyz, Truth& truth) const;
  void add_bled(const std::string& stage, Truth& truth) const;
  [[nodiscard]] cv::Mat on_first_scan(const cv::Mat& of_sheet, double pitch_mm) const;

  const Scene& scene_;
  std::string side_;
  std::shared_ptr<const Placement> first_;
  cv::Mat places_;     // CV_32FC2, mm on the sheet of the truth's lattice on the first scan
  cv::Mat first_xyz_;  // averaged over the aperture
  std::map<std::string, cv::Mat> amounts_;
};

}  // namespace inkwane::simulate
