// What can be replaced to cure a complaint, and what that costs. A repair item is a component with
// at least one failure mode that can cause the complaint: one that is in a minimal set of an
// abnormal symptom. Without an abnormal symptom the abnormal tests stand for it. Probabilities are
// cure.h's.
#pragma once

#include <cstddef>
#include <cstdint>
#include <span>
#include <vector>

#include "core/diagnosis/economics.h"
#include "core/diagnosis/evidence.h"
#include "core/diagnosis/model.h"
#include "core/diagnosis/renewal.h"

namespace faultodds::diagnosis {

// What a component costs to replace: as the case says, else the circuit, else the defaults.
struct Replacement {
  double part = 0, minutes = 0, lead_days = 0;
};
Replacement replacement_of(const circuit::Component& component, const Economics& economics);

struct RepairItem {
  std::uint32_t component = 0;       // index into Analysis::components
  std::vector<std::uint32_t> modes;  // that can cause the complaint, ascending
  double part = 0, minutes = 0, lead_days = 0;
  double cost = 0;       // part, and labour and downtime while it is exchanged
  double waiting = 0;    // downtime until the part is there
  double restraint = 0;  // Economics::restraint()
  double sound_when_new = 1;
  bool may_be_ordered = true;  // not while it is new and no test has shown it since
};

// A set of repair items. Comparable, hashable and as large as it needs to be.
class ItemSet {
 public:
  ItemSet() = default;
  explicit ItemSet(std::size_t items) : words_((items + 63) / 64, 0) {}

  bool has(std::size_t i) const { return words_[i / 64] >> (i % 64) & 1; }
  void add(std::size_t i) { words_[i / 64] |= std::uint64_t{1} << (i % 64); }
  void remove(std::size_t i) { words_[i / 64] &= ~(std::uint64_t{1} << (i % 64)); }
  ItemSet with(std::size_t i) const {
    ItemSet s = *this;
    s.add(i);
    return s;
  }
  ItemSet without(std::size_t i) const {
    ItemSet s = *this;
    s.remove(i);
    return s;
  }
  bool empty() const {
    for (std::uint64_t w : words_) {
      if (w != 0) return false;
    }
    return true;
  }
  std::vector<std::uint32_t> members() const;

  bool operator==(const ItemSet&) const = default;
  struct Hash {
    std::size_t operator()(const ItemSet& s) const {
      std::uint64_t h = 0x9e3779b97f4a7c15u;
      for (std::uint64_t w : s.words_) {
        h = (h ^ w) * 0xff51afd7ed558ccdu;
        h ^= h >> 32;
      }
      return static_cast<std::size_t>(h);
    }
  };

 private:
  std::vector<std::uint64_t> words_;
};

// The observations whose minimal sets are the possible causes: as they are now, also where they
// were made before a repair.
std::vector<std::uint32_t> complained_of(const circuit::Analysis& analysis,
                                         const CaseNumbers& numbers, const Present& present);

// Ascending by component. Nobody waits for a part that is at hand.
std::vector<RepairItem> repair_items(const circuit::Analysis& analysis, const CaseNumbers& numbers,
                                     const Case& the_case, const Present& present);

// The cost of replacing a set: its items' costs, and the longest wait once, since parts are ordered
// together. Submodular in the set.
double repair_cost(std::span<const RepairItem> items, const ItemSet& set);

// The same and the restraint of each item: what repairs are compared by.
double compared_cost(std::span<const RepairItem> items, const ItemSet& set);

// Minutes until the set is in: the labour on each item, and the longest delivery by the calendar.
double repair_minutes(std::span<const RepairItem> items, const ItemSet& set);

// The longest wait among a set's items.
double longest_wait(std::span<const RepairItem> items, const ItemSet& set);

}  // namespace faultodds::diagnosis
