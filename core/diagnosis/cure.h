// How probable it is that a repair cures the complaint, from the compiled network, or where that
// has no junction tree from the probable hypotheses (cure_sums.h). The complaint is what some
// observations show (repair_items.h says which): it is cured by a set of repair items if every
// minimal set of theirs that none of the items is in shows nothing, whatever else is worn, and no
// cause that the circuit does not model shows either. One propagation or sum per set of items, with
// that as evidence: sizes, load and background of what stays are those that were seen. It chooses
// nothing (repair_set.h does).
//
// New parts: each item has its own chance of showing nothing when it is new, which multiplies what
// is said here (new_part()). It may be bad (Economics::bad_new_part), and where sizes are known it
// leaks what a sound part leaks.
#pragma once

#include <array>
#include <cstdint>
#include <memory>
#include <optional>
#include <span>
#include <unordered_map>
#include <vector>

#include "core/diagnosis/cure_sums.h"
#include "core/diagnosis/cured_shares.h"
#include "core/diagnosis/evidence.h"
#include "core/diagnosis/model.h"
#include "core/diagnosis/program.h"
#include "core/diagnosis/repair_items.h"

namespace faultodds::diagnosis {

class Cure {
 public:
  // `complaint`: the observations that are to show nothing after the repair. Keeps references to
  // the model, numbers and items. Throws Error(conflicting_evidence) when what is known and
  // supposed is impossible.
  Cure(const Model& model, const CaseNumbers& numbers, std::span<const RepairItem> items,
       std::vector<std::uint32_t> complaint);
  // The same where something more is supposed.
  Cure(const Cure& other, std::vector<Supposition> supposed);

  // P(nothing but new parts shows after the repair | e), and by observation P(that, and S = s
  // before the repair | e).
  using Of = CureSums::Of;
  // Computed on first use and kept. The reference stays valid.
  const Of& of(const ItemSet& set);
  // The first of the two alone, at a third of the price.
  double probability(const ItemSet& set);

  // The sum over s of weight[s] x P(nothing but new parts shows, S = s of the observation before
  // the repair | e).
  double weighed(const ItemSet& set, std::uint32_t observation, const Grades& weight);

  // Computes several at once where that is faster than one by one, with their grades or without.
  void prepare(std::span<const ItemSet> sets, bool grades);
  // By set, then observation, of those that are `asked`: P(nothing but new parts shows, what is
  // supposed, S = s | e); not kept.
  using BySet = CuredShares::BySet;
  BySet with(std::span<const ItemSet> sets, std::span<const Supposition> supposed,
             std::span<const std::uint32_t> asked);
  // The same by the grade S of one observation.
  std::array<BySet, 3> by_grade(std::span<const ItemSet> sets, std::uint32_t observation,
                                std::span<const std::uint32_t> asked);

  // What a test shows after the repair, one of `tests` each. The new parts are taken to be sound.
  std::vector<CureSums::After> after(const ItemSet& set, const std::vector<std::uint32_t>& tests);
  // P(all these modes are sound | e).
  double all_sound(std::span<const std::uint32_t> modes);
  // Whether the grades of an observation are told.
  bool knows(std::uint32_t o) const { return !sums_ || sums_->knows(o); }
  // An estimate of how far any probability is off; 0 where hypotheses are complete or not used.
  double error() const { return error_; }
  // What it sums over; none where a tree answers.
  const Hypotheses* hypotheses() const { return sums_ ? &sums_->hypotheses() : nullptr; }

  // In place of a set of items: cured or not.
  static ItemSet whatever() { return ItemSet(); }
  // P(S = s | e) of every observation.
  const Of& anything() { return of(whatever()); }
  ItemSet nothing() const { return ItemSet(items_.size()); }
  ItemSet all() const;

  // P(a minimal set of the complaint that the item is in shows | e) or a little more.
  double at_most_cured(std::size_t item) const { return at_most_cured_[item]; }
  // The same of those sets that another item is in as well.
  double at_most_shared(std::size_t item) const { return at_most_shared_[item]; }
  // P(one of several items cures what another cures as well | e) or a little more.
  double at_most_either() const;
  // P(the item shows nothing in the complaint once it is new).
  double new_part(std::size_t item) const { return new_part_[item]; }
  double new_parts(const ItemSet& set) const;
  // P(not sound | e) of every mode.
  const std::vector<double>& not_sound() const { return not_sound_; }
  const std::vector<std::uint32_t>& complaint() const { return complaint_; }

 private:
  Cure(const Model& model, const CaseNumbers& numbers, std::span<const RepairItem> items,
       std::vector<std::uint32_t> complaint, std::vector<Supposition> supposed,
       std::shared_ptr<const CureSums> sums);
  void weigh_items();
  template <std::size_t Lanes>
  void tell(const ItemSet& set, std::span<const Supposition> more,
            network::LanePropagation<Lanes>& propagation, std::size_t lane) const;
  void read(const network::Posterior& posterior, double probability, std::uint32_t observation,
            std::vector<Grades>& grades) const;
  void read(const network::Posterior& posterior, double probability,
            std::vector<Grades>& grades) const;
  double collect(const ItemSet& set);
  Of summed(const ItemSet& set, bool grades) const;
  // By set of the complaint: whether none of the items is in it.
  std::vector<bool> left_by(const ItemSet& set) const;
  std::vector<Grades> no_grades() const;

  const Model& model_;
  const CaseNumbers& numbers_;
  std::span<const RepairItem> items_;
  std::vector<std::uint32_t> complaint_;
  std::vector<Supposition> supposed_;
  std::shared_ptr<const CureSums> sums_;       // where there is no tree
  std::optional<Program::Lease> propagation_;  // where there is one
  double log_evidence_ = 0;                    // where summed: 0 is that of the sums
  double error_ = 0;
  // Of the complaint's minimal sets, one observation after the other.
  std::vector<network::Var> shown_;                   // where there is a tree
  std::vector<std::vector<std::uint32_t>> items_in_;  // by set, ascending
  std::vector<double> at_most_cured_, at_most_shared_, new_part_, not_sound_;
  std::unordered_map<ItemSet, Of, ItemSet::Hash> kept_;  // without grades: not computed yet
  std::optional<CuredShares> shares_;                    // where summed and nothing is supposed
};

// P(an item that is new shows nothing in these observations), its other modes as they may be.
double new_part_shows_nothing(const circuit::Analysis& analysis, const RepairItem& item,
                              std::span<const std::uint32_t> complaint);

}  // namespace faultodds::diagnosis
