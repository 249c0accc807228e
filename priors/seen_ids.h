// Which identifiers have been met before, within a stated memory. Numbered identifiers
// ("WO-0012345") take about a bit each when they are dense; others eight bytes each, by a 64-bit
// hash (two different ones are taken for the same with a probability below 1e-5 among ten million).
// When the budget is used up, the older half is forgotten and `forgets()` says so.
#pragma once

#include <cstddef>
#include <cstdint>
#include <string_view>
#include <unordered_map>
#include <vector>

namespace faultodds::priors {

class SeenIds {
 public:
  explicit SeenIds(std::size_t budget_bytes = std::size_t{256} << 20);

  // True the first time an identifier is given.
  bool insert(std::string_view id);

  // Repetitions further apart than what is remembered may have gone unnoticed.
  bool forgets() const { return forgets_; }

 private:
  // 65,536 consecutive numbers of one prefix: a sorted list while sparse, then a bitmap.
  struct Page {
    std::vector<std::uint16_t> list;
    std::vector<std::uint64_t> bits;
  };

  bool insert_number(std::uint64_t page_key, std::uint16_t low);
  bool insert_hash(std::uint64_t hash);
  void grow();

  std::size_t budget_;
  std::size_t page_bytes_ = 0;
  std::unordered_map<std::uint64_t, Page> pages_;
  Page* last_page_ = nullptr;
  std::uint64_t last_key_ = 0;

  std::vector<std::uint64_t> slots_;  // open addressing, 0 is empty
  std::vector<std::uint64_t> older_;
  std::size_t used_ = 0;
  bool forgets_ = false;
};

// A 64-bit hash of bytes, the same on every platform.
std::uint64_t hash_bytes(std::string_view text, std::uint64_t seed = 0);

}  // namespace faultodds::priors
