// A LittleCMS context of its own for each call, whose complaints end up in our error sentences.
#pragma once

#include <memory>
#include <string>

#include <lcms2.h>

namespace inkwane::colour {

/// LittleCMS reports through a callback; this keeps the first complaint, which is the cause.
/// Neither copied nor moved, since LittleCMS holds its address.
class LcmsContext {
 public:
  LcmsContext();
  ~LcmsContext();
  LcmsContext(const LcmsContext&) = delete;
  LcmsContext& operator=(const LcmsContext&) = delete;

  [[nodiscard]] cmsContext get() const { return context_; }
  /// The library's first complaint, or `otherwise` if it made none.
  [[nodiscard]] std::string complaint(const std::string& otherwise) const;

 private:
  static void keep(cmsContext context, cmsUInt32Number code, const char* text);

  cmsContext context_;
  std::string complaint_;
};

struct CloseProfile {
  void operator()(void* profile) const { cmsCloseProfile(profile); }
};
using Profile = std::unique_ptr<void, CloseProfile>;

}  // namespace inkwane::colour
