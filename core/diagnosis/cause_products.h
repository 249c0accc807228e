// The joint distribution of the cause of one observation and of the grade of every test, by
// products: for cases with few observations, whatever the width of the circuit.
//
// Given the conditions, and the grades of a few modes that tie others together in sets of two and
// more (the cutset), all other modes are independent, and
//   P(S_1 <= t_1, ..., S_k <= t_k | conditions, cutset)
// is a product over modes (the cumulative form of MAX; Heckerman 1989 is the binary ancestor). A
// likelihood over S is a sum over thresholds t of such terms. The cause of the focus, of which n
// sets are tied at the largest grade g, is each of them with probability 1/n:
//   P(cause = i, G = g) = integral over x in [0, 1] of f_i(g) prod_{k != i} (F_k(g-) + x f_k(g)),
// a polynomial in x, exact by Gauss-Legendre quadrature. Evidence that shares no mode is a factor
// of its own, given the conditions.
//
// Terms of the first sum have both signs; `magnitude` says how much of the digits that costs. It
// does not decide whether to be used (cause.h does).
#pragma once

#include <cstddef>
#include <cstdint>
#include <memory>
#include <vector>

#include "core/diagnosis/cause_values.h"
#include "core/diagnosis/evidence.h"
#include "core/diagnosis/model.h"

namespace faultodds::diagnosis {

// What is joint with the cause: P(cause = v, e) and P(cause = v, S <= t, e), e as its likelihoods
// are given. S is the grade of a test: of an observation or, numbered after the observations, of a
// mode.
struct CauseSums {
  std::size_t values = 0;
  double log_scale = 0;       // of what is summed
  std::vector<double> cause;  // by value
  // By test, t = 0 and 1, then value. Of a mode instead P(cause = v, grade > t, e), for a mode that
  // is improbable to be faulty is asked how improbable.
  std::vector<double> at_most;
  // Sum of the terms' absolute values over their sum: the relative error is about this times the
  // rounding of one product.
  double magnitude = 1;

  // Whether subtraction lost so many digits that products are better summed with long doubles, and
  // so many that rather a tree is asked.
  bool wants_care() const { return magnitude > 3e4; }
  bool wants_tree() const { return magnitude > 1e7; }
};

class ProductTables;

namespace products {
// Thrown where sums would take more memory than they may.
struct TooLarge {};
}  // namespace products

inline constexpr double kMostLanes = 1 << 15;  // of a group

// What of a pattern of evidence does not depend on priors or likelihoods: who is tied to whom.
// Immutable once made. Keeps a reference to the model's parts.
class CauseProducts {
 public:
  // `observed`: observations with evidence, ascending, `focus` among them. `tests`: whose grades
  // are wanted with the cause. What ties more lanes together than `most_lanes` is taken apart where
  // that makes it less (bridges, cause_layout.h), which changes nothing but time.
  CauseProducts(const Model& model, std::vector<std::uint32_t> observed, std::uint32_t focus,
                std::vector<std::uint32_t> tests, double most_lanes = kMostLanes);
  ~CauseProducts();
  CauseProducts(CauseProducts&&) noexcept;

  // Elementary operations that one sum() takes; infinite where there are too many to count.
  double operations() const;
  // Bytes that tabulate() would keep; 0 where evidence falls apart and is better not tabulated.
  std::size_t table_bytes() const;
  std::size_t bytes() const;
  // Bytes that one sum() takes besides its result, about, where it is summed in so many parts.
  double scratch(std::size_t parts) const;
  // Whether it keeps to so many bytes, in as many parts as that takes.
  bool fits(double bytes) const;

  // For one case that has evidence on `observed`, in as many parts as keep to the model's memory
  // budget. In long doubles where `careful`. Throws Error(limit_exceeded) where operations() is
  // infinite and where no number of parts keeps to the budget.
  CauseSums sum(const Model& model, const CaseNumbers& numbers, bool careful) const;
  // The same in so many parts; what would take more bytes throws products::TooLarge.
  CauseSums sum(const Model& model, const CaseNumbers& numbers, bool careful, std::size_t parts,
                double most_bytes) const;
  // `sums`, which are of the case, or with long doubles where they want care.
  CauseSums with_care(CauseSums sums, const Model& model, const CaseNumbers& numbers) const {
    return sums.wants_care() ? sum(model, numbers, true) : sums;
  }

  // The sums by grade of every observation of the pattern, under the model's own priors, so that
  // a case only weighs them. Throws products::TooLarge where that takes more than the budget.
  std::shared_ptr<const ProductTables> tabulate(const Model& model) const;

  struct Layout;

 private:
  // The fewest parts that take no more, or those that take least.
  std::size_t parts_within(double bytes) const;

  std::unique_ptr<const Layout> layout_;
};

class ProductTables {
 public:
  CauseSums weigh(const CaseNumbers& numbers) const;
  std::size_t bytes() const;

 private:
  friend class CauseProducts;
  std::size_t values_ = 0, numbers_ = 0, cells_ = 0;
  std::vector<std::uint32_t> observed_;
  std::uint32_t focus_ = 0;
  std::vector<std::uint32_t> near_;    // tests with a table of their own
  std::vector<double> all_, tables_;   // cells, values; near test, t, cells, values
  std::vector<double> by_conditions_;  // conditions, cells, values
  // Of tests that depend on the conditions alone: P(S <= t | conditions).
  std::vector<std::uint32_t> far_;
  std::vector<double> far_at_most_;  // far test, t, conditions
};

}  // namespace faultodds::diagnosis
