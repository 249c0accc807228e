// Numbers of the combinations that occur, while a tree is built. Of tree_builder alone.
#pragma once

#include <cstddef>
#include <cstdint>
#include <limits>
#include <unordered_map>
#include <vector>

namespace faultodds::network {

// Numbers the combinations of a few variables that occur, in the order they are first met.
class CellIndex {
 public:
  static constexpr std::uint32_t kNotThere = std::numeric_limits<std::uint32_t>::max();

  explicit CellIndex(double combinations) {
    if (combinations <= static_cast<double>(1u << 22)) {
      dense_.assign(static_cast<std::size_t>(combinations), kNotThere);
    } else {
      is_dense_ = false;
    }
  }
  std::uint32_t find(std::uint64_t key) const {
    if (is_dense_) return dense_[static_cast<std::size_t>(key)];
    auto at = sparse_.find(key);
    return at == sparse_.end() ? kNotThere : at->second;
  }
  std::uint32_t add(std::uint64_t key) {
    std::uint32_t& cell = is_dense_ ? dense_[static_cast<std::size_t>(key)]
                                    : sparse_.try_emplace(key, kNotThere).first->second;
    if (cell == kNotThere) cell = count_++;
    return cell;
  }
  std::uint32_t count() const { return count_; }
  // Of each cell, by number.
  std::vector<std::uint64_t> keys() const {
    std::vector<std::uint64_t> keys(count_);
    for (std::size_t key = 0; key < dense_.size(); ++key) {
      if (dense_[key] != kNotThere) keys[dense_[key]] = key;
    }
    for (const auto& [key, cell] : sparse_) keys[cell] = key;
    return keys;
  }
  // About what it takes, and what one more cell takes: the hash map's key, cell, link and bucket.
  double bytes() const { return 4.0 * static_cast<double>(dense_.size()) + count_ * cell_bytes(); }
  double cell_bytes() const { return is_dense_ ? 0 : 40; }

 private:
  bool is_dense_ = true;
  std::uint32_t count_ = 0;
  std::vector<std::uint32_t> dense_;
  std::unordered_map<std::uint64_t, std::uint32_t> sparse_;
};

}  // namespace faultodds::network
