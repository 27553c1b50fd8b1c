#include "vet/finding.hpp"

#include <cctype>

namespace inkwane::vet {

std::string sentence(const Finding& finding) {
  std::string out = finding.what;
  if (!finding.advice.empty()) out += "; " + finding.advice;
  if (out.empty() || out.back() != '.') out += '.';
  out.front() = static_cast<char>(std::toupper(static_cast<unsigned char>(out.front())));
  return out;
}

void warn(const Findings& findings, std::vector<std::string>& warnings,
          std::vector<std::string>& doubts) {
  for (const Finding& finding : findings) {
    if (finding.verdict == Verdict::good) continue;
    warnings.push_back(sentence(finding));
    if (finding.verdict == Verdict::doubtful) doubts.push_back(sentence(finding));
  }
}

}  // namespace inkwane::vet
