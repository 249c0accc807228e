// The cause of one observation, and what every test would tell about it: P(cause | e) and
// P(cause, grade of a test | e), exactly, by whichever of two methods is predicted to be cheaper:
// products over modes given the conditions (cause_products.h), or a junction tree of what the
// evidence and the tests need (cause_tree.h). What the values mean is cause_values.h's; ranking is
// assessment.h's.
#pragma once

#include <cstddef>
#include <cstdint>
#include <memory>
#include <mutex>
#include <optional>
#include <span>
#include <vector>

#include "core/diagnosis/cause_products.h"
#include "core/diagnosis/cause_tree.h"
#include "core/diagnosis/cause_values.h"
#include "core/error.h"

namespace faultodds::diagnosis {

// Unnormalised sums read as probabilities.
class CauseAnswer {
 public:
  explicit CauseAnswer(CauseSums sums);

  // P(cause = v | e), which sum to 1.
  double share(std::size_t value) const { return sums_.cause[value] / total_; }
  std::size_t values() const { return sums_.values; }
  // P(S <= t, cause = v | e) of an observation for t = 0 and 1.
  double at_most(std::size_t test, std::size_t t, std::size_t value) const {
    return sums_.at_most[(test * 2 + t) * sums_.values + value] / total_;
  }
  // P(S | e) of an observation, and of a mode, whose sums are of more than t.
  Grades grades(std::size_t observation) const;
  Grades mode_grades(std::size_t test) const;
  // Natural log of P(e).
  double log_evidence() const;
  // I(cause; outcome of o | e) in bits, for P(outcome | S).
  double bits(std::uint32_t o, std::span<const std::vector<double>> rows) const;

 private:
  double over_causes(std::size_t test, std::size_t t) const;

  CauseSums sums_;
  double total_ = 0;
};

// What is asked besides the shares: nothing, the grades of observations without evidence, or those
// and the modes' as well.
enum class CauseTests : std::uint8_t { none, observations, everything };

enum class CauseMethod : std::uint8_t { products, careful_products, junction_tree };

// How to answer for one pattern of evidence and one focus. Shared between threads; what it makes on
// the way (tables, trees) is kept with it.
class CausePlan {
 public:
  CausePlan(const Model& model, const CaseNumbers& pattern, std::uint32_t focus, CauseTests tests);

  // The plan for a case's pattern, made on first use and kept with the model.
  static std::shared_ptr<const CausePlan> of(const Model& model, const CaseNumbers& pattern,
                                             std::uint32_t focus, CauseTests tests);

  // Throws Error(limit_exceeded) where neither method fits, and conflicting_evidence where the
  // evidence is impossible. Bytes that it keeps grow by what it makes; see bytes().
  CauseAnswer answer(const Model& model, const CaseNumbers& numbers) const;
  CauseAnswer answer_by(CauseMethod method, const Model& model, const CaseNumbers& numbers) const;

  std::size_t bytes() const;
  // What a case is weighed with; 0 where it is summed as it comes.
  std::size_t table_bytes() const { return tables_ ? tables_->bytes() : 0; }

 private:
  // One tree that is small; nothing where there is none.
  std::optional<CauseAnswer> by_products(const Model& model, const CaseNumbers& numbers) const;
  std::shared_ptr<const CauseTrees> small_tree(const Model& model) const;

  std::vector<std::uint32_t> observed_, tests_;
  std::uint32_t focus_ = 0;
  CauseProducts products_;
  bool by_products_ = false, tree_first_ = false;
  std::shared_ptr<const ProductTables> tables_;
  mutable std::mutex mutex_;
  mutable std::shared_ptr<const CauseTrees> trees_;
  mutable std::optional<Error> no_trees_;                                // why there can be none
  mutable std::optional<std::shared_ptr<const CauseTrees>> small_tree_;  // once asked for
};

}  // namespace faultodds::diagnosis
