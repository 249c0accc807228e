// Options of faultodds_network_load as tests write them in one word. For C++ tests only.
#pragma once

#include "capi/faultodds_network.h"

class NetworkOptions {
 public:
  explicit NetworkOptions(uint64_t memory_budget, const faultodds_cancel* cancel = nullptr)
      : options_{sizeof options_, memory_budget, cancel} {}
  operator const faultodds_network_options*() const { return &options_; }

 private:
  faultodds_network_options options_;
};
