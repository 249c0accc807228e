#include "bindings/http/work_queue.h"

#include <utility>

namespace faultodds_http {
namespace {

constexpr std::size_t refusal_capacity = 64;  // connections that wait for their 503
thread_local Admission admission_of_this_thread = Admission::serve;

}  // namespace

Admission current_admission() { return admission_of_this_thread; }

WorkQueue::WorkQueue(std::size_t threads, std::size_t capacity) : capacity_(capacity) {
  for (std::size_t i = 0; i < threads; ++i) {
    threads_.emplace_back([this] { run(work_, work_ready_, Admission::serve); });
  }
  threads_.emplace_back([this] { run(refusals_, refusal_ready_, Admission::refuse); });
}

WorkQueue::~WorkQueue() { shutdown(); }

void WorkQueue::enqueue(std::function<void()> connection) {
  {
    const std::lock_guard lock(mutex_);
    if (work_.size() < capacity_) {
      work_.push_back(std::move(connection));
      work_ready_.notify_one();
      return;
    }
    if (refusals_.size() < refusal_capacity) {
      refusals_.push_back(std::move(connection));
      refusal_ready_.notify_one();
      return;
    }
  }
  admission_of_this_thread = Admission::drop;
  connection();
  admission_of_this_thread = Admission::serve;
}

void WorkQueue::shutdown() {
  {
    const std::lock_guard lock(mutex_);
    stopping_ = true;
  }
  work_ready_.notify_all();
  refusal_ready_.notify_all();
  for (std::thread& thread : threads_) {
    if (thread.joinable()) thread.join();
  }
}

void WorkQueue::run(Line& line, std::condition_variable& ready, Admission admission) {
  admission_of_this_thread = admission;
  while (true) {
    std::function<void()> connection;
    {
      std::unique_lock lock(mutex_);
      ready.wait(lock, [&] { return !line.empty() || stopping_; });
      if (line.empty()) return;
      connection = std::move(line.front());
      line.pop_front();
    }
    connection();
  }
}

}  // namespace faultodds_http
