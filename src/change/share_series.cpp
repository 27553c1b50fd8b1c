#include "change/share_series.hpp"

#include <algorithm>

namespace inkwane::change {
namespace {

constexpr double k95 = 1.96;  // standard deviations either side of 95 %

using Chosen = std::vector<const LawEstimate*>;

JointShares join(const Chosen& estimates) {
  const auto n = static_cast<Eigen::Index>(estimates.size());
  JointShares out{Eigen::VectorXd(n), Eigen::MatrixXd(n, n)};
  for (Eigen::Index i = 0; i < n; ++i) {
    const LawEstimate& a = *estimates[static_cast<std::size_t>(i)];
    out.value[i] = a.value;
    const double u = (a.ci95[1] - a.ci95[0]) / (2 * k95);
    for (Eigen::Index j = 0; j < n; ++j) {
      const LawEstimate& b = *estimates[static_cast<std::size_t>(j)];
      // Parts of different length come from different kinds of reading, which share nothing.
      const double shared =
          a.errors.size() == b.errors.size() ? static_cast<double>(a.errors.dot(b.errors)) : 0;
      out.covariance(i, j) = i == j ? std::max(shared, u * u) : shared;
    }
  }
  return out;
}

}  // namespace

ShareSeries join_shares(const std::vector<StageShare>& shares) {
  ShareSeries out;
  Chosen believed, film;
  bool open = false, maybe_screened = false;
  for (const StageShare& share : shares) {
    out.stages.push_back(share.stage);
    const Estimates& e = share.estimates;
    believed.push_back(share.law == InkLaw::film ? &e.film : &e.kubelka_munk);
    film.push_back(share.law == InkLaw::kubelka_munk ? &e.kubelka_munk : &e.film);
    open = open || !share.law;
    maybe_screened = maybe_screened || share.if_screened;
  }
  out.believed = join(believed);
  if (open) out.film = join(film);
  if (maybe_screened) {
    out.screened = out.believed;
    for (std::size_t i = 0; i < shares.size(); ++i) {
      double& value = out.screened->value[static_cast<Eigen::Index>(i)];
      value = std::min(value, shares[i].if_screened.value_or(value));
    }
  }
  return out;
}

}  // namespace inkwane::change
