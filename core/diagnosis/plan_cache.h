// Plans by key, kept while the model's memory lasts: the one unused longest goes first. A plan that
// several threads want at once is made by one of them. Thread-safe. It knows nothing of what a plan
// is; a plan tells its bytes().
#pragma once

#include <chrono>
#include <condition_variable>
#include <cstddef>
#include <cstdint>
#include <limits>
#include <list>
#include <map>
#include <memory>
#include <mutex>
#include <string_view>
#include <vector>

#include "core/memory_account.h"
#include "core/stop.h"

namespace faultodds::diagnosis {

struct PlanCounts {
  std::uint64_t made = 0, from_cache = 0, evicted = 0;
  std::size_t kept = 0, bytes = 0;
};

template <typename Plan>
class PlanCache {
 public:
  using Key = std::vector<std::uint32_t>;

  // `most`: bytes that its plans may take together, of the account's.
  explicit PlanCache(MemoryAccount& account,
                     std::size_t most = std::numeric_limits<std::size_t>::max())
      : account_(account), most_(most) {}

  template <typename Make>
  std::shared_ptr<const Plan> get(const Key& key, Make make) {
    {
      std::unique_lock lock(mutex_);
      for (;;) {
        const auto at = by_key_.find(key);
        if (at == by_key_.end()) break;
        if (at->second->plan) {
          order_.splice(order_.begin(), order_, at->second);
          ++counts_.from_cache;
          return at->second->plan;
        }
        made_.wait_for(lock, std::chrono::milliseconds(5));
        check_stop();
      }
      order_.push_front({key, nullptr, 0});
      by_key_.emplace(key, order_.begin());
    }
    std::shared_ptr<const Plan> plan;
    try {
      plan = make();
    } catch (...) {
      const std::lock_guard lock(mutex_);
      forget(by_key_.find(key));
      made_.notify_all();
      throw;
    }
    keep(key, plan);
    return plan;
  }

  // Drops what was unused longest until so many bytes can be taken from the account; false when
  // nothing is left to drop.
  bool make_room(std::size_t bytes) {
    const std::lock_guard lock(mutex_);
    while (!account_.take(bytes)) {
      if (!evict_one()) return false;
    }
    return true;
  }

  PlanCounts counts() const {
    const std::lock_guard lock(mutex_);
    return counts_;
  }

 private:
  struct Entry {
    Key key;
    std::shared_ptr<const Plan> plan;  // null while it is made
    std::size_t bytes = 0;
  };
  using Place = typename std::list<Entry>::iterator;

  void keep(const Key& key, std::shared_ptr<const Plan> plan) {
    const std::size_t bytes = plan->bytes() + key.size() * 2 * sizeof key[0] + sizeof(Entry) + 64;
    const std::lock_guard lock(mutex_);
    ++counts_.made;
    const auto at = by_key_.find(key);
    const auto take = [&] {
      return bytes <= most_ && counts_.bytes <= most_ - bytes && account_.take(bytes);
    };
    bool taken = take();
    while (!taken && evict_one()) taken = take();
    if (taken) {
      at->second->plan = std::move(plan);
      at->second->bytes = bytes;
      ++counts_.kept;
      counts_.bytes += bytes;
    } else {
      forget(at);
    }
    made_.notify_all();
  }
  bool evict_one() {
    for (auto entry = order_.rbegin(); entry != order_.rend(); ++entry) {
      if (!entry->plan) continue;
      account_.give_back(entry->bytes);
      --counts_.kept;
      counts_.bytes -= entry->bytes;
      ++counts_.evicted;
      forget(by_key_.find(entry->key));
      return true;
    }
    return false;
  }
  void forget(typename std::map<Key, Place>::iterator at) {
    order_.erase(at->second);
    by_key_.erase(at);
  }

  MemoryAccount& account_;
  const std::size_t most_;
  mutable std::mutex mutex_;
  std::condition_variable made_;
  std::list<Entry> order_;  // used last first
  std::map<Key, Place> by_key_;
  PlanCounts counts_;
};

// The key of what is asked in words, byte for byte.
inline std::vector<std::uint32_t> text_key(std::string_view text) {
  std::vector<std::uint32_t> key{static_cast<std::uint32_t>(text.size())};
  for (std::size_t i = 0; i < text.size(); i += 4) {
    std::uint32_t packed = 0;
    for (const char c : text.substr(i, 4)) packed = packed << 8 | static_cast<unsigned char>(c);
    key.push_back(packed);
  }
  return key;
}

}  // namespace faultodds::diagnosis
