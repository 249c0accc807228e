#include "priors/seen_ids.h"

#include <algorithm>
#include <cstring>

namespace faultodds::priors {
namespace {

constexpr std::size_t list_limit = 4096;  // beyond it the bitmap of 8 KiB is the smaller
constexpr std::size_t page_overhead = 96;
constexpr std::size_t first_slots = std::size_t{1} << 12;

std::uint64_t mix(std::uint64_t x) {
  // The finaliser of SplitMix64.
  x ^= x >> 30;
  x *= 0xBF58476D1CE4E5B9u;
  x ^= x >> 27;
  x *= 0x94D049BB133111EBu;
  return x ^ (x >> 31);
}

bool find(const std::vector<std::uint64_t>& slots, std::uint64_t hash, std::size_t* at) {
  const std::size_t mask = slots.size() - 1;
  std::size_t i = static_cast<std::size_t>(hash) & mask;
  while (slots[i] != 0 && slots[i] != hash) i = (i + 1) & mask;
  *at = i;
  return slots[i] == hash;
}

}  // namespace

std::uint64_t hash_bytes(std::string_view text, std::uint64_t seed) {
  // Mixed before any byte: else a bit of the seed and one of the first bytes undo each other.
  std::uint64_t hash = mix(seed + 0x9E3779B97F4A7C15u * (text.size() + 1));
  const char* at = text.data();
  std::size_t left = text.size();
  // Bytes are assembled in a fixed order; compilers make one load of it.
  const auto word = [](const char* from, std::size_t size) {
    std::uint64_t value = 0;
    for (std::size_t i = 0; i < size; ++i) {
      value |= static_cast<std::uint64_t>(static_cast<unsigned char>(from[i])) << (8 * i);
    }
    return value;
  };
  for (; left >= 8; left -= 8, at += 8) hash = mix(hash ^ word(at, 8)) + 0x9E3779B97F4A7C15u;
  return mix(hash ^ word(at, left));
}

SeenIds::SeenIds(std::size_t budget_bytes)
    : budget_(std::max(budget_bytes, std::size_t{1} << 17)), slots_(first_slots, 0) {}

bool SeenIds::insert(std::string_view id) {
  std::size_t digits = 0;
  while (digits < id.size() && id[id.size() - 1 - digits] >= '0' &&
         id[id.size() - 1 - digits] <= '9') {
    ++digits;
  }
  // With more digits than this the numbers are too sparse for pages to pay.
  if (digits >= 1 && digits <= 9) {
    std::uint64_t number = 0;
    for (char c : id.substr(id.size() - digits)) {
      number = number * 10 + static_cast<std::uint64_t>(c - '0');
    }
    // The number of digits tells WO-7 from WO-007.
    const std::uint64_t key = hash_bytes(id.substr(0, id.size() - digits),
                                         (std::uint64_t{digits} << 32) | (number >> 16));
    // Once the pages' share is used up, no new ones are made.
    if (page_bytes_ < budget_ / 2 || pages_.contains(key)) {
      return insert_number(key, static_cast<std::uint16_t>(number & 0xFFFF));
    }
  }
  return insert_hash(hash_bytes(id));
}

bool SeenIds::insert_number(std::uint64_t page_key, std::uint16_t low) {
  if (last_page_ == nullptr || last_key_ != page_key) {
    const auto [at, added] = pages_.try_emplace(page_key);
    if (added) page_bytes_ += page_overhead;
    last_page_ = &at->second;
    last_key_ = page_key;
  }
  Page& page = *last_page_;
  if (!page.bits.empty()) {
    std::uint64_t& word = page.bits[low / 64];
    const std::uint64_t bit = std::uint64_t{1} << (low % 64);
    if ((word & bit) != 0) return false;
    word |= bit;
    return true;
  }
  const auto at = std::lower_bound(page.list.begin(), page.list.end(), low);
  if (at != page.list.end() && *at == low) return false;
  page.list.insert(at, low);
  page_bytes_ += sizeof(std::uint16_t) * 2;
  if (page.list.size() > list_limit) {
    page.bits.assign(1024, 0);
    for (std::uint16_t member : page.list) {
      page.bits[member / 64] |= std::uint64_t{1} << (member % 64);
    }
    page_bytes_ += 8192 - page.list.size() * sizeof(std::uint16_t) * 2;
    page.list = {};
  }
  return true;
}

bool SeenIds::insert_hash(std::uint64_t hash) {
  if (hash == 0) hash = 1;
  std::size_t at = 0;
  if (find(slots_, hash, &at)) return false;
  std::size_t unused = 0;
  if (!older_.empty() && find(older_, hash, &unused)) return false;
  slots_[at] = hash;
  if (++used_ * 4 > slots_.size() * 3) grow();
  return true;
}

void SeenIds::grow() {
  // Half of the budget is for pages; of the rest, two generations of a table.
  if (slots_.size() * 2 * sizeof(std::uint64_t) <= budget_ / 4) {
    std::vector<std::uint64_t> bigger(slots_.size() * 2, 0);
    for (std::uint64_t hash : slots_) {
      std::size_t at = 0;
      if (hash != 0 && !find(bigger, hash, &at)) bigger[at] = hash;
    }
    slots_ = std::move(bigger);
    return;
  }
  forgets_ = forgets_ || !older_.empty();
  older_ = std::move(slots_);
  slots_.assign(older_.size(), 0);
  used_ = 0;
}

}  // namespace faultodds::priors
