// Options of the C functions as tests write them in one word. For C++ tests only.
#pragma once

#include "capi/faultodds.h"

// Those of a call that `cancel` may end: faultodds_case_assess(the_case, Until(cancel), &error).
class Until {
 public:
  explicit Until(const faultodds_cancel* cancel) : options_{sizeof options_, cancel} {}
  operator const faultodds_call_options*() const { return &options_; }

 private:
  faultodds_call_options options_;
};
