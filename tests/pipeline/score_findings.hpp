// How far an assessment's findings are from a simulated scene's truth.
#pragma once

#include "tests/pipeline/score.hpp"

namespace inkwane::test {

/// Adds what suspects, tidelines and bleed-through (its areas and sources) are worth.
void score_findings(const simulate::Scene& scene, const simulate::Truth& truth,
                    const results::Results& results, Scores& scores);

}  // namespace inkwane::test
