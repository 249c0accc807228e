// What one model may keep in memory: tables, scratch space and plans count against one budget. It
// allocates and frees nothing itself. Thread-safe.
#pragma once

#include <atomic>
#include <cstddef>

namespace faultodds {

class MemoryAccount {
 public:
  explicit MemoryAccount(std::size_t budget) : budget_(budget) {}

  std::size_t budget() const { return budget_; }
  std::size_t used() const { return used_.load(std::memory_order_relaxed); }

  // Takes so many bytes if they are left.
  bool take(std::size_t bytes) {
    std::size_t used = used_.load(std::memory_order_relaxed);
    do {
      if (bytes > budget_ || used > budget_ - bytes) return false;
    } while (!used_.compare_exchange_weak(used, used + bytes, std::memory_order_relaxed));
    return true;
  }
  void give_back(std::size_t bytes) { used_.fetch_sub(bytes, std::memory_order_relaxed); }

 private:
  const std::size_t budget_;
  std::atomic<std::size_t> used_{0};
};

}  // namespace faultodds
