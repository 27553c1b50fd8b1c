#include "cli/run_assess.hpp"

#include <fmt/format.h>

#include <inkwane/assess.hpp>

#include "cli/progress.hpp"
#include "cli/summary.hpp"

namespace inkwane::cli {

ExitCode run_assess(const Treatment& treatment, const std::filesystem::path& output,
                    const Common& common) {
  Progress progress(common.quiet);
  AssessOptions options;
  options.output = output;
  options.threads = common.threads;
  options.progress = [&progress](const std::string& what, double done) {
    progress.show(what, done);
  };
  const results::Results results = assess(treatment, options);
  progress.clear();
  if (!common.quiet) fmt::print("{}", summary(results, output));
  return results.doubtful ? ExitCode::doubtful : ExitCode::done;
}

}  // namespace inkwane::cli
