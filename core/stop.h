// Lets a call be ended from outside: by another thread, or when its time is over. Work that can
// last looks at it now and then; where it looks is written in capi/faultodds.h. It ends nothing by
// force.
//
// A StopScope holds for the thread that makes the call, and in_parallel() hands it to the threads
// it starts, so that no function between has a parameter for it. Nothing outlives the call.
#pragma once

#include <atomic>
#include <chrono>
#include <cstdint>
#include <limits>

#include "core/error.h"

namespace faultodds {

// Shared between the call and whoever ends it.
class StopSignal {
 public:
  using Clock = std::chrono::steady_clock;

  void stop() { stopped_.store(true, std::memory_order_relaxed); }
  void stop_at(Clock::time_point deadline) {
    deadline_.store(deadline.time_since_epoch().count(), std::memory_order_relaxed);
  }
  void reset() {
    stopped_.store(false, std::memory_order_relaxed);
    deadline_.store(kNever, std::memory_order_relaxed);
  }
  bool stopped() const { return stopped_.load(std::memory_order_relaxed) || late(); }
  bool late() const {
    const Clock::rep deadline = deadline_.load(std::memory_order_relaxed);
    return deadline != kNever && Clock::now().time_since_epoch().count() >= deadline;
  }

 private:
  static constexpr Clock::rep kNever = std::numeric_limits<Clock::rep>::max();
  std::atomic<bool> stopped_{false};
  std::atomic<Clock::rep> deadline_{kNever};
};

namespace detail {
inline constinit thread_local const StopSignal* stop_signal = nullptr;
[[noreturn]] inline void end_call(const StopSignal& signal) {
  throw Error(Code::cancelled,
              signal.late() ? "the call's time is over" : "the call was cancelled");
}
}  // namespace detail

// The signal of the call in progress on this thread; null: nothing can end it.
inline const StopSignal* current_stop() { return detail::stop_signal; }

class StopScope {
 public:
  explicit StopScope(const StopSignal* signal) : before_(detail::stop_signal) {
    detail::stop_signal = signal;
  }
  ~StopScope() { detail::stop_signal = before_; }
  StopScope(const StopScope&) = delete;
  StopScope& operator=(const StopScope&) = delete;

 private:
  const StopSignal* before_;
};

// Throws Error(cancelled) when the call in progress shall end.
inline void check_stop() {
  const StopSignal* const signal = detail::stop_signal;
  if (signal != nullptr && signal->stopped()) detail::end_call(*signal);
}

}  // namespace faultodds
