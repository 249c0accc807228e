// Ends calls of the library that take too long for one request.
#pragma once

#include <faultodds.h>

#include <chrono>
#include <cstdint>
#include <memory>
#include <new>

namespace faultodds_http {

class TimeLimit {
 public:
  // From now on; 0: without end.
  explicit TimeLimit(std::chrono::milliseconds patience) {
    if (patience.count() <= 0) return;
    faultodds_cancel* cancel = nullptr;
    if (faultodds_cancel_new(&cancel, nullptr) != FAULTODDS_OK) throw std::bad_alloc();
    cancel_.reset(cancel);
    faultodds_cancel_after_ms(cancel, static_cast<std::uint64_t>(patience.count()));
  }

  // To be given to calls that end before this does.
  const faultodds_cancel* get() const { return cancel_.get(); }

 private:
  struct Free {
    void operator()(faultodds_cancel* cancel) const { faultodds_cancel_free(cancel); }
  };
  std::unique_ptr<faultodds_cancel, Free> cancel_;
};

}  // namespace faultodds_http
