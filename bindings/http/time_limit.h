// Ends calls of the library that take too long for one request, or whose client is gone.
#pragma once

#include <faultodds.h>

#include <atomic>
#include <chrono>
#include <cstdint>
#include <memory>
#include <new>

namespace faultodds_http {

// Given to calls that end before it does. Safe from any number of threads.
class TimeLimit {
 public:
  // From now on; 0: without end but for end_now().
  explicit TimeLimit(std::chrono::milliseconds patience) : patience_(patience) {
    faultodds_cancel* cancel = nullptr;
    if (faultodds_cancel_new(&cancel, nullptr) != FAULTODDS_OK) throw std::bad_alloc();
    cancel_.reset(cancel);
    options_.cancel = cancel;
    begin_again();
  }

  const faultodds_cancel* cancel() const { return cancel_.get(); }
  const faultodds_call_options* options() const { return &options_; }

  // For the next of several pieces of work, of which each has the time.
  void begin_again() const {
    if (patience_.count() <= 0 || over_) return;
    end_ = std::chrono::steady_clock::now() + patience_;
    faultodds_cancel_after_ms(cancel_.get(), static_cast<std::uint64_t>(patience_.count()));
  }

  // Nobody waits for the answer any more.
  void end_now() const {
    over_ = true;
    faultodds_cancel_now(cancel_.get());
  }

  std::chrono::steady_clock::time_point end() const { return end_; }
  bool passed() const { return over_ || std::chrono::steady_clock::now() > end_.load(); }

 private:
  struct Free {
    void operator()(faultodds_cancel* cancel) const { faultodds_cancel_free(cancel); }
  };
  std::unique_ptr<faultodds_cancel, Free> cancel_;
  faultodds_call_options options_{sizeof options_, nullptr};
  std::chrono::milliseconds patience_;
  mutable std::atomic<bool> over_{false};
  mutable std::atomic<std::chrono::steady_clock::time_point> end_{
      std::chrono::steady_clock::time_point::max()};
};

}  // namespace faultodds_http
