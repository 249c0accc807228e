// One call's advice while it is made: what is known of the case, the best repair now, and the steps
// that fill an Advice. Of advice.cpp and adviser*.cpp alone; which parts may be ordered and which
// model holds the case is decided in advice.cpp.
#pragma once

#include <cstdint>
#include <optional>
#include <span>
#include <string>
#include <vector>

#include "core/diagnosis/advice.h"
#include "core/diagnosis/cure.h"
#include "core/diagnosis/evidence.h"
#include "core/diagnosis/preparation.h"
#include "core/diagnosis/repair_items.h"
#include "core/diagnosis/repair_set.h"

namespace faultodds::diagnosis {

constexpr std::size_t kAlternatives = 3;
constexpr double kLeastMinutes = 0.01;  // a test that takes no time
constexpr double kRounding = 1e-9;      // relative, of money

class Adviser {
 public:
  Adviser(const Model& model, const Case& the_case, const CaseNumbers& numbers,
          const Present& present, std::span<const RepairItem> items);

  // All of it, or what is to be done alone.
  Advice advise(std::span<const PartBefore> replaced, bool all = true);

 private:
  RepairPlan plan_of(const ItemSet& set);

  // Nothing, the best set less one item, and the best set and one of the more probable others.
  void alternatives(Advice& advice);

  double minutes_of(std::uint32_t o, const std::vector<bool>& done) const {
    return preparation_.minutes(o, done);
  }
  std::vector<bool> with_setup(std::vector<bool> done, std::uint32_t o) const;

  bool may_propose(std::uint32_t o) const { return preparation_.may_propose(o); }
  std::size_t outcomes(std::uint32_t o) const { return analysis_.observations[o].outcomes.size(); }
  OutcomeWeights weights(std::uint32_t o, std::size_t outcome) const {
    return outcome_weights(analysis_.observations[o], seen_of(numbers_, o), outcome);
  }
  // Whether the complaint may be looked at once more.
  bool again(std::uint32_t o) const;

  // What knowing the outcome of o saves, before its cost; `now` is the loss without it.
  double saving(RepairDecision& decision, std::uint32_t o, double now);

  void values(Advice& advice);

  // An upper bound: where all items cheaper than one together do not cure, even who knows
  // everything pays for that one or a dearer one, or for a come-back.
  double perfect_information();

  void decide(Advice& advice);

  // No part on findings that contradict each other, before the most doubtful was looked at again.
  // Returns whether they do. Where other tests come first it is said only, if `say`.
  bool contradict(Advice& advice, bool say);

  // Whether it was seen once only, of the parts that are in now, and can be seen again.
  bool may_look_again(std::uint32_t o) const;

  void order_nothing(Advice& advice);

  // No part for what is most likely none of them.
  void doubt(Advice& advice);
  // Nor once more the part that was renewed, before somebody looked for another cause.
  bool doubt_renewed(Advice& advice, std::span<const PartBefore> replaced);

  // The technician's own next test in place of what is advised.
  void own_order(Advice& advice);

  // What the time that is left keeps from being done.
  void in_time(Advice& advice);

  void propose(Advice& advice, std::uint32_t o);

  // The sets that two outcomes may make best: the best now, after any one outcome of these tests,
  // and what differs from the best by one item.
  std::vector<ItemSet> family(std::span<const TestValue* const> tests);

  // Of tests that pay, in the order of what each saves net: the one that saves most, or a look (no
  // tool, nothing opened) where that may go first: both together tell the same in either order,
  // what may be left out after the first differs.
  const TestValue* first_of(std::span<const TestValue* const> paying);

  // The best first test when a second may follow it. Nothing when that does not pay either. The
  // repair after both is chosen from a family of sets, so that the saving is at least what it says.
  std::optional<TwoTests> look_further(const Advice& advice);

  TwoTests second_step(const TestValue& first, std::span<const TestValue* const> seconds,
                       const std::vector<ItemSet>& sets);

  bool bears_on_items(std::uint32_t o);

  // Modes of the components to be repaired, and the modes left that could cause the complaint.
  std::vector<bool> repaired_modes() const;

  // Tests that say nothing about what is repaired anyway, chosen one by one by how much a normal
  // outcome lowers the probability of another fault per minute.
  void second_fault(Advice& advice);

  // The locked-out (else energised) test that looks at the new parts and leaves the least doubt per
  // minute about the others, and the complaint itself once more.
  void verify(Advice& advice);

  void bring(Advice& advice);

  MessageValue said(std::uint32_t observation) const;
  MessageValue said(const RepairPlan& plan) const;
  MessageValue money(double amount) const;

  Message contradiction(const char* id, const Contradiction& it) const;

  void own_order_reason(Advice& advice) const;

  void in_time_reason(Advice& advice) const;

  Message reason_of_test(const Advice& advice) const;

  void reason(Advice& advice) const;

  // In an extended model: evidence from before a repair goes under the observation it was.
  void as_original(Advice& advice) const;

  const Model& model_;
  const circuit::Analysis& analysis_;
  const Program& program_;
  const Case& case_;
  const CaseNumbers& numbers_;
  const Present& present_;
  std::span<const RepairItem> items_;
  Cure cure_;
  RepairDecision decision_;
  Preparation preparation_;
  std::vector<bool> done_;
  double left_;  // minutes
  std::vector<bool> observed_, item_observations_;
  RepairChoice best_;
};

}  // namespace faultodds::diagnosis
