// How probable it is that nothing outside a set of repair items causes the complaint, exactly, from
// the compiled network: one propagation per set with "every mode of the other items is sound" as
// evidence. It chooses nothing (repair_set.h does).
//
// As a function of the set this is a belief function: with F the items that are faulty,
// P(F inside R) = sum over sets Q inside R of P(F = Q). It is therefore supermodular, which the
// search for the best set rests on.
#pragma once

#include <cstdint>
#include <span>
#include <unordered_map>
#include <vector>

#include "core/diagnosis/evidence.h"
#include "core/diagnosis/model.h"
#include "core/diagnosis/program.h"
#include "core/diagnosis/repair_items.h"

namespace faultodds::diagnosis {

// What was or might be seen of an observation besides the case's evidence.
struct Supposition {
  std::uint32_t observation = 0;
  Grades likelihood{};
};

class Confinement {
 public:
  // Keeps references to the arguments but `supposed`. Throws Error(conflicting_evidence) when what
  // is known and supposed is impossible.
  Confinement(const Model& model, const CaseNumbers& numbers, std::span<const RepairItem> items,
              std::vector<Supposition> supposed = {});

  struct Of {
    double probability = 0;      // P(no item outside the set is faulty | e)
    std::vector<Grades> grades;  // by observation: P(that, and S = s | e)
  };
  // Computed on first use and kept. The reference stays valid.
  const Of& of(const ItemSet& set);
  // The first of the two alone, at a third of the price.
  double probability(const ItemSet& set);

  // Computes several at once where that is faster than one by one, with their grades or without.
  void prepare(std::span<const ItemSet> sets, bool grades);
  // By set, then observation: P(no item outside the set is faulty, what is supposed, S = s | e);
  // not kept.
  std::vector<std::vector<Grades>> with(std::span<const ItemSet> sets, const Supposition& supposed);

  // All items: P(S = s | e) of every observation.
  const Of& anything() { return of(all_); }
  const ItemSet& all() const { return all_; }
  // P(item faulty | e) or a little more: exact for an item with one mode.
  double at_most_faulty(std::size_t item) const { return at_most_faulty_[item]; }
  // P(not sound | e) of every mode.
  const std::vector<double>& not_sound() const { return not_sound_; }

 private:
  template <std::size_t Lanes>
  void tell(const ItemSet& set, const Supposition* more,
            network::LanePropagation<Lanes>& propagation, std::size_t lane) const;
  void read(const network::Posterior& posterior, double probability,
            std::vector<Grades>& grades) const;
  double collect(const ItemSet& set);
  std::vector<Grades> no_grades() const;

  const Model& model_;
  const CaseNumbers& numbers_;
  std::span<const RepairItem> items_;
  std::vector<Supposition> supposed_;
  Program::Lease propagation_;
  double log_evidence_ = 0;
  ItemSet all_;
  std::vector<double> at_most_faulty_, not_sound_;
  std::unordered_map<ItemSet, Of, ItemSet::Hash> kept_;  // without grades: not computed yet
};

}  // namespace faultodds::diagnosis
