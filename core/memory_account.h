// What one model may keep in memory: tables, scratch space and plans count against one budget. It
// allocates and frees nothing itself. What a part of a model takes counts against the whole, too.
// Thread-safe.
#pragma once

#include <atomic>
#include <cstddef>

namespace faultodds {

class MemoryAccount {
 public:
  // `whole`: the account of what this is a part of, which outlives it.
  explicit MemoryAccount(std::size_t budget, MemoryAccount* whole = nullptr)
      : budget_(budget), whole_(whole) {}
  ~MemoryAccount() {
    if (whole_ != nullptr) whole_->give_back(used());
  }
  MemoryAccount(const MemoryAccount&) = delete;
  MemoryAccount& operator=(const MemoryAccount&) = delete;

  std::size_t budget() const { return budget_; }
  std::size_t used() const { return used_.load(std::memory_order_relaxed); }

  // Takes so many bytes if they are left.
  bool take(std::size_t bytes) {
    std::size_t used = used_.load(std::memory_order_relaxed);
    do {
      if (bytes > budget_ || used > budget_ - bytes) return false;
    } while (!used_.compare_exchange_weak(used, used + bytes, std::memory_order_relaxed));
    if (whole_ == nullptr || whole_->take(bytes)) return true;
    used_.fetch_sub(bytes, std::memory_order_relaxed);
    return false;
  }
  void give_back(std::size_t bytes) {
    used_.fetch_sub(bytes, std::memory_order_relaxed);
    if (whole_ != nullptr) whole_->give_back(bytes);
  }

 private:
  const std::size_t budget_;
  MemoryAccount* const whole_;
  std::atomic<std::size_t> used_{0};
};

}  // namespace faultodds
