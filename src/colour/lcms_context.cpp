#include "colour/lcms_context.hpp"

#include <new>

namespace inkwane::colour {

LcmsContext::LcmsContext() : context_(cmsCreateContext(nullptr, this)) {
  if (!context_) throw std::bad_alloc();
  cmsSetLogErrorHandlerTHR(context_, keep);
}

LcmsContext::~LcmsContext() {
  cmsDeleteContext(context_);
}

std::string LcmsContext::complaint(const std::string& otherwise) const {
  return complaint_.empty() ? otherwise : complaint_;
}

void LcmsContext::keep(cmsContext context, cmsUInt32Number /*code*/, const char* text) {
  auto* self = static_cast<LcmsContext*>(cmsGetContextUserData(context));
  if (self && self->complaint_.empty() && text) self->complaint_ = text;
}

}  // namespace inkwane::colour
