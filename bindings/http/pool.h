// A bounded number of things of which each is used by one thread at a time, such as connections to
// a database. They are made when first needed and kept until somebody finds one broken.
#pragma once

#include <chrono>
#include <condition_variable>
#include <cstddef>
#include <functional>
#include <memory>
#include <mutex>
#include <utility>
#include <vector>

namespace faultodds_http {

template <class Thing>
class Pool {
 public:
  Pool(std::size_t capacity, std::function<std::unique_ptr<Thing>()> make)
      : make_(std::move(make)), free_(capacity) {}

  // What one thread has of the pool; back in it at the end of the scope. The pool outlives it.
  class Loan {
   public:
    explicit Loan(Pool* pool) : pool_(pool) {}
    Loan(Loan&& other) noexcept
        : pool_(std::exchange(other.pool_, nullptr)), thing_(std::move(other.thing_)) {}
    Loan& operator=(Loan&&) = delete;
    ~Loan() {
      if (pool_ != nullptr) pool_->take_back(std::move(thing_));
    }

    // False when none was free in time.
    explicit operator bool() const { return thing_ != nullptr; }
    Thing& operator*() const { return *thing_; }

    // It is broken: the next who asks gets another.
    void discard() { thing_.reset(); }

   private:
    friend class Pool;
    Pool* pool_;
    std::unique_ptr<Thing> thing_;
  };

  // Waits at most `patience` for one that is free. Throws what making one throws.
  Loan borrow(std::chrono::milliseconds patience) {
    {
      std::unique_lock lock(mutex_);
      if (!returned_.wait_for(lock, patience, [&] { return free_ > 0; })) return Loan(nullptr);
      --free_;
    }
    Loan loan(this);
    {
      const std::lock_guard lock(mutex_);
      if (!idle_.empty()) {
        loan.thing_ = std::move(idle_.back());
        idle_.pop_back();
      }
    }
    if (!loan.thing_) loan.thing_ = make_();
    return loan;
  }

 private:
  void take_back(std::unique_ptr<Thing> thing) {
    {
      const std::lock_guard lock(mutex_);
      if (thing) idle_.push_back(std::move(thing));
      ++free_;
    }
    returned_.notify_one();
  }

  std::function<std::unique_ptr<Thing>()> make_;
  std::mutex mutex_;
  std::condition_variable returned_;
  std::vector<std::unique_ptr<Thing>> idle_;
  std::size_t free_;  // how many more may be lent
};

}  // namespace faultodds_http
