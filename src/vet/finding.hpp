// What was found out about a scan, and what to do about it.
#pragma once

#include <string>
#include <vector>

namespace inkwane::vet {

enum class Verdict {
  good,      ///< as it should be
  note,      ///< numbers will do, better is possible
  doubtful,  ///< numbers will be doubtful
  unusable,  ///< no numbers
};

struct Finding {
  Verdict verdict = Verdict::good;
  std::string what;    ///< what was seen, with its figure; a whole sentence if it ends in a stop
  std::string advice;  ///< what to do; empty: nothing, or said in `what`
};
using Findings = std::vector<Finding>;

/// The finding as one sentence, for the warnings of an assessment.
[[nodiscard]] std::string sentence(const Finding& finding);

/// Puts findings that are not good among `warnings`, and what makes numbers doubtful among `doubts`
/// as well.
void warn(const Findings& findings, std::vector<std::string>& warnings,
          std::vector<std::string>& doubts);

}  // namespace inkwane::vet
