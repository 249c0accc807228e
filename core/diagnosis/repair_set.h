// The repair set of least expected cost, exactly or within a stated amount:
//
//   minimise over sets R of repair items   cost(R) + P(a fault outside R | e) x come-back cost
//
// also under a test's outcome. It asks Confinement for probabilities and computes none itself.
//
// cost(R) is submodular and P(all faults inside R) supermodular, so the whole is submodular: what
// replacing an item saves only grows with the set it joins. An item that does not pay in the
// largest set left is never worth it; one that pays in the smallest set is in every best set. What
// these two rules leave open is decided by branch and bound.
#pragma once

#include <span>
#include <vector>

#include "core/diagnosis/confinement.h"

namespace faultodds::diagnosis {

struct RepairChoice {
  ItemSet set;
  double loss = 0;  // expected cost; under weights: times their probability
  // The least loss is at most this much smaller: 0 where the search was complete, as it is but for
  // dozens of items that are alike.
  double within = 0;
};

class RepairDecision {
 public:
  // Both kept by reference.
  RepairDecision(Confinement& confinement, std::span<const RepairItem> items, double come_back)
      : confinement_(confinement), items_(items), come_back_(come_back) {}

  // Under the case's evidence. Of equally good sets one that is not larger than needed.
  RepairChoice best();
  // Under further evidence on the grade S of one observation, of likelihood `weight`: losses are
  // multiplied by P(that evidence | e) (or whatever the weights sum to).
  RepairChoice best_given(std::uint32_t observation, const Grades& weight);

  double loss(const ItemSet& set);
  double loss_given(const ItemSet& set, std::uint32_t observation, const Grades& weight);
  // The same with another come-back cost.
  RepairChoice best_for_come_back(double come_back);

  Confinement& confinement() { return confinement_; }
  std::span<const RepairItem> items() const { return items_; }
  double come_back() const { return come_back_; }

 private:
  struct View;  // of the confinement: which numbers of it count
  struct Search;
  RepairChoice search(const View& view);

  Confinement& confinement_;
  std::span<const RepairItem> items_;
  double come_back_;
};

// The order in which to replace items one by one when one of them is at fault and each replacement
// is checked: largest probability per cost first, which is optimal then (Kadane & Simon 1977).
// Indices into the two lists; `expected` receives the expected cost of that order.
std::vector<std::uint32_t> order_by_ratio(std::span<const double> probability,
                                          std::span<const double> cost, double* expected = nullptr);

}  // namespace faultodds::diagnosis
