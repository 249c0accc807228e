// For the many sets of repair items that one decision compares: P(a set cures the complaint | h, e)
// by hypothesis (cure_sums.h), under what is said of one observation's S. Most sets differ by an
// item or two from another that was looked at, and then only the hypotheses count in which what
// those items touch may show anything: of such sets the differences are kept. It chooses nothing.
#pragma once

#include <cstddef>
#include <cstdint>
#include <span>
#include <unordered_map>
#include <vector>

#include "core/diagnosis/cure_sums.h"
#include "core/diagnosis/repair_items.h"

namespace faultodds::diagnosis {

class CuredShares {
 public:
  // `items_in`: by set of the complaint, the items that are in it. Both kept by reference.
  CuredShares(const CureSums& sums, const std::vector<std::vector<std::uint32_t>>& items_in);

  // P(nothing but new parts shows after the repair | e).
  double probability(const ItemSet& set);
  // The sum over s of weight[s] x P(that, S = s of the observation before the repair | e).
  double weighed(const ItemSet& set, std::uint32_t observation, const Grades& weight);
  // By weight, set and observation: P(that, S = s of `first` is so weighed, S = s | e). `first` is
  // not complained of; of what is, those that are `asked`.
  using BySet = std::vector<std::vector<Grades>>;
  std::vector<BySet> with(std::span<const ItemSet> sets, std::uint32_t first,
                          std::span<const Grades> weights, std::span<const std::uint32_t> asked);

 private:
  // A set whose numbers are kept hypothesis by hypothesis.
  struct Base {
    ItemSet set;
    CureSums::Left left;
    std::vector<double> cured;
    std::vector<Grades> grades = {};  // by what is complained of, where asked for
    double sum = 0;                   // of those cured
    double weighed = 0;               // by what was asked last
    std::uint64_t asked = 0;
  };
  struct Change {
    std::uint32_t hypothesis = 0;
    double by = 0;
  };
  struct Kept {
    std::size_t base = 0;
    std::vector<Change> changes;
    double sum = 0;              // with those of the base
    std::vector<Grades> grades;  // by what is complained of, where asked for
  };
  Kept& kept(const ItemSet& set);
  std::size_t near(const ItemSet& set);
  void forget();
  double weigh(Kept& kept);
  // Adds, by what is complained of: factor x P(h, cured, S = s | e).
  void add(std::size_t h, const CureSums::Left& left, double factor,
           std::vector<Grades>& into) const;
  CureSums::Left left_by(const ItemSet& set) const;

  const CureSums& sums_;
  const std::vector<std::vector<std::uint32_t>>& items_in_;
  std::vector<std::vector<std::uint32_t>> sets_of_;  // by item
  std::vector<std::size_t> touched_;                 // by item: hypotheses, at most
  std::vector<Base> bases_;
  std::unordered_map<ItemSet, Kept, ItemSet::Hash> kept_;
  std::size_t numbers_ = 0;  // that are kept
  std::vector<std::uint64_t> met_;
  std::uint64_t meeting_ = 0;
  // What was asked last.
  std::uint32_t observation_ = 0;
  Grades weight_{};
  std::uint64_t asked_ = 0;
  std::vector<double> by_hypothesis_;
};

}  // namespace faultodds::diagnosis
