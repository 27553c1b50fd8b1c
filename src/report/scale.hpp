// The report's scale of words for a change of colour. Its thresholds and their sources are printed
// in every report (words: [grades]).
#pragma once

namespace inkwane::report {

/// CIEDE2000 from which a detectable change is called noticeable: just noticeable on heritage
/// objects, Heritage Science 2022, s40494-022-00767-6.
inline constexpr double kNoticeable = 1.7;
/// CIEDE2000 above which it is called strong: widest tolerance of a printed solid, ISO 12647-2:2013
/// as quoted in a TAGA paper of 2015; up to 5 ASTM D2244 recommends the formula.
inline constexpr double kStrong = 5;
/// CIEDE2000 that half of observers see: Paravina et al. 2015, dental ceramics. A line in the
/// chart.
inline constexpr double kHalfSee = 0.8;

}  // namespace inkwane::report
