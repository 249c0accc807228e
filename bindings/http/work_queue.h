// A pool of threads with a bounded queue. The library's own pool queues without end; this one turns
// away what does not fit: a few connections are answered 503 by one thread kept for that, the rest
// are closed unanswered.
#pragma once

#include <condition_variable>
#include <cstddef>
#include <deque>
#include <functional>
#include <mutex>
#include <thread>
#include <vector>

#include <httplib.h>

namespace faultodds_http {

// How the connection that runs on this thread was admitted.
enum class Admission { serve, refuse, drop };
Admission current_admission();

class WorkQueue final : public httplib::TaskQueue {
 public:
  WorkQueue(std::size_t threads, std::size_t capacity);
  ~WorkQueue() override;
  WorkQueue(const WorkQueue&) = delete;
  WorkQueue& operator=(const WorkQueue&) = delete;

  // Called by the accepting thread only; never blocks on work.
  void enqueue(std::function<void()> connection) override;

  // Finishes what was admitted, then joins.
  void shutdown() override;

 private:
  using Line = std::deque<std::function<void()>>;
  void run(Line& line, std::condition_variable& ready, Admission admission);

  std::mutex mutex_;
  std::condition_variable work_ready_, refusal_ready_;
  Line work_, refusals_;
  std::size_t capacity_;
  bool stopping_ = false;
  std::vector<std::thread> threads_;
};

}  // namespace faultodds_http
