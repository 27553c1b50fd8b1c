// How far the course of a treatment is from a simulated scene's truth.
#pragma once

#include <inkwane/course.hpp>

#include "simulate/simulate.hpp"
#include "tests/pipeline/score.hpp"

namespace inkwane::test {

/// Adds to `scores` what the course of a scene with three stages or more has right and wrong; the
/// scene's fates must know kNextStage.
void score_course(const simulate::Scene& scene, const simulate::Truth& truth,
                  const results::Course& course, Scores& scores);

}  // namespace inkwane::test
