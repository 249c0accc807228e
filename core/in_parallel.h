// Runs independent pieces of work on a few threads. It neither orders nor reduces: callers write
// each piece's result to a place of its own. What ends the caller's call ends the work (stop.h).
#pragma once

#include <algorithm>
#include <atomic>
#include <cstddef>
#include <exception>
#include <mutex>
#include <system_error>
#include <thread>
#include <vector>

#include "core/stop.h"

namespace faultodds {

// Waits in its destructor for all that it started.
class JoinedThreads {
 public:
  JoinedThreads() = default;
  JoinedThreads(const JoinedThreads&) = delete;
  JoinedThreads& operator=(const JoinedThreads&) = delete;
  ~JoinedThreads() {
    for (std::thread& thread : threads_) thread.join();
  }

  template <typename Work>
  void start(const Work& work) {
    threads_.emplace_back(work);
  }

 private:
  std::vector<std::thread> threads_;
};

// Calls piece(i) once for each i in 0 .. count - 1, on `threads` threads with the caller's among
// them; fewer where the machine gives no more. The first exception ends the work and is thrown to
// the caller.
template <typename Piece>
void in_parallel(std::size_t count, std::size_t threads, const Piece& piece) {
  std::atomic<std::size_t> next{0};
  std::mutex mutex;
  std::exception_ptr failure;
  const StopSignal* const stop = current_stop();
  const auto work = [&] {
    const StopScope scope(stop);
    try {
      for (std::size_t i; (i = next++) < count;) piece(i);
    } catch (...) {
      next = count;
      const std::lock_guard lock(mutex);
      if (!failure) failure = std::current_exception();
    }
  };
  {
    JoinedThreads others;
    try {
      for (std::size_t t = 1; t < std::min(threads, count); ++t) others.start(work);
    } catch (const std::system_error&) {
      // Those that were started do it.
    }
    work();
  }
  if (failure) std::rethrow_exception(failure);
}

}  // namespace faultodds
