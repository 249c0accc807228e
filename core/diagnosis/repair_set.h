// The repair set of least expected cost, exactly or within a stated amount:
//
//   minimise over sets R of repair items   cost(R) + P(R does not cure | e) x price of coming again
//
// where parts count by compared_cost(), their restraint in it, now and when coming again; also
// under a test's outcome. It asks Cure for probabilities and computes none itself.
//
// Coming again costs what the owner says it does, or what follows: each time a second visit and one
// more item, those first that cure most often for what they cost (Kadane & Simon 1977). Once, where
// that costs least and at the latest after all of them, somebody finds out what it is, for six such
// visits; then each pays a second visit and what it needs: its own item, all that are needed
// together, or an item at the mean price where none helps. A bad new part costs a visit. The price
// is a least of sums of probabilities, concave in them as long as no machine is cured by either of
// two items, so that a test is worth something or nothing. Whoever orders nothing though something
// is wrong pays for that, too.
//
// Branch and bound: what is in costs what it costs, an item that joins cures at most those who need
// it, and who is left pays at least the price's own bound. Items that could not pay by what they
// cure are left out, whatever trying them later would cost.
#pragma once

#include <limits>
#include <optional>
#include <span>
#include <utility>
#include <vector>

#include "core/diagnosis/cure.h"

namespace faultodds::diagnosis {

struct RepairChoice {
  ItemSet set;
  double loss = 0;  // expected cost and restraint; under weights: times their probability
  // The least loss is at most this much smaller: 0 where the search was complete.
  double within = 0;
};

// What one outcome of an observation says of its S. Of one that was observed before, the background
// is known better than before, and where the complaint is cured it shows nothing.
struct OutcomeWeights {
  OutcomeWeights(const Grades& both) : whatever(both), cured(both) {}
  OutcomeWeights(const Grades& any, const Grades& if_cured) : whatever(any), cured(if_cured) {}
  Grades whatever{}, cured{};
};
// `seen`: what was observed of it before, if anything was.
OutcomeWeights outcome_weights(const circuit::Observation& observation, const ObservedGrade* seen,
                               std::size_t outcome);

struct ComeBack {
  std::optional<double> flat;  // of each failed repair, whatever follows
  double second_visit = 0;
};

class RepairDecision {
 public:
  // Both kept by reference.
  RepairDecision(Cure& cure, std::span<const RepairItem> items, ComeBack price);

  // Only sets that are in within so many minutes, from here on.
  void within(double minutes) { minutes_ = minutes; }

  // Under the case's evidence. Of equally good sets one that is not larger than needed.
  RepairChoice best();
  // Under further evidence on the grade S of one observation, of likelihood `weight`: losses are
  // multiplied by P(that evidence | e) (or whatever the weights sum to).
  RepairChoice best_given(std::uint32_t observation, const OutcomeWeights& weight) {
    return best_given(observation, weight, minutes_);
  }
  // The same where only so many minutes are left then.
  RepairChoice best_given(std::uint32_t observation, const OutcomeWeights& weight, double minutes);
  // Were coming again so much dearer.
  RepairChoice best_at(double factor);

  // P(the complaint is not cured by the set | e).
  double risk(const ItemSet& set);
  double loss(const ItemSet& set);
  // The same without the restraint of parts: what is expected to be paid.
  double expected_cost(const ItemSet& set);
  double loss_given(const ItemSet& set, std::uint32_t observation, const OutcomeWeights& weight);
  // What coming again costs after each repair has failed, on the average.
  double come_back(const ItemSet& set);
  // At least, whatever was repaired: in whom an item helps, and in whom none does.
  struct LeastComeBack {
    double helped = 0, helpless = 0;
  };
  LeastComeBack least_come_back();

  // What the price of coming again rests on under some evidence: `total` is P(it), `nothing`, `all`
  // `single` and `without` are P(cured by no item, by all, by one of counted() alone, by all but
  // that one, and it).
  struct Stake {
    double total = 0, nothing = 0, all = 0;
    std::vector<double> single, without;
  };
  // Items that come into question when the complaint comes again: those that probably show in it.
  // Empty where the price is flat.
  const std::vector<std::uint32_t>& counted() const { return counted_; }
  // The sets of a stake but `total`, in its order. Empty where the price is flat.
  std::vector<ItemSet> stake_sets() const;
  static Stake stake_of(double total, std::span<const double> cured);
  // The price of coming again under that evidence, as a function of who is not cured.
  class Prices {
   public:
    Prices(std::span<const RepairItem> items, const ComeBack& price,
           std::span<const std::uint32_t> counted, const Stake& stake, bool restrained = true);
    // Of what is not cured after `set`: `cured` = P(that cures but for new parts, the evidence), of
    // which `new_parts` with them.
    double of(const ItemSet& set, double cured, double new_parts) const;
    // No set that cures no more leaves less to pay: those whom it does not cure, as if the items
    // could be had in fractions, those first that cure most for their price; and those in whom a
    // new part shows. `either`: P(one of several items cures, the evidence) or more.
    double at_least(double cured, double either) const;
    double again_at_least(double cured, double new_parts) const;
    // Bounds on what one that is not cured costs; and, at least, one whom no item cures.
    double least() const { return least_; }
    double most() const { return most_; }
    double helpless() const;

   private:
    double part(std::uint32_t i) const;

    std::span<const RepairItem> items_;
    ComeBack price_;
    bool restrained_;  // whether parts count by compared_cost()
    struct Needed {
      std::uint32_t item = 0;
      double alone = 0, with_others = 0;  // P(it is needed so, the evidence)
    };
    std::vector<Needed> order_;
    double total_ = 0, all_ = 0;  // of the stake
    double together_ = 0;         // P(who one item does not help, all do) by the stake
    double cheapest_ = 0;         // item of order_, with the visit
    double finding_ = 0;          // out what it is
    double beyond_ = 0, least_ = 0, most_ = 0;
  };
  Prices prices(const Stake& stake, bool restrained = true) const {
    return Prices(items_, price_, counted_, stake, restrained);
  }

  Cure& cure() { return cure_; }
  std::span<const RepairItem> items() const { return items_; }
  const ComeBack& price() const { return price_; }

 private:
  struct View;  // of the cure: which numbers of it count
  struct Search;
  Stake stake(const View& view);
  Prices prices(const View& view, bool restrained = true) {
    return prices(stake(view), restrained);
  }
  RepairChoice search(const View& view);

  Cure& cure_;
  std::span<const RepairItem> items_;
  ComeBack price_;
  std::vector<std::uint32_t> counted_;
  double minutes_ = std::numeric_limits<double>::infinity();
  std::optional<ItemSet> unconditional_;  // what best() found: no outcome makes worse than that
};

// The order in which to replace items one by one when one of them is at fault and each replacement
// is checked: largest probability per cost first, which is optimal then (Kadane & Simon 1977).
// Indices into the two lists; `expected` receives the expected cost of that order.
std::vector<std::uint32_t> order_by_ratio(std::span<const double> probability,
                                          std::span<const double> cost, double* expected = nullptr);

}  // namespace faultodds::diagnosis
