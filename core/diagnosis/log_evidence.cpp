#include "core/diagnosis/log_evidence.h"

#include <algorithm>
#include <cmath>
#include <limits>

#include "core/error.h"

namespace faultodds::diagnosis {
namespace {

// Up to the first products take no longer than any tree, up to the second no longer than a tree
// that is not small (a sum takes some 20 ns an operation); beyond, too long.
constexpr double kTreeOperations = 1e7, kMostOfProducts = 1e8;
constexpr std::size_t kSmallTree = std::size_t{32} << 20;

}  // namespace

LogEvidence::LogEvidence(const Model& model, const CaseNumbers& pattern) : model_(model) {
  if (model.program().has_tree()) {
    propagation_.emplace(model.program());
    return;
  }
  for (const ObservedGrade& seen : pattern.observed) observed_.push_back(seen.observation);
  products_.emplace(model, observed_, observed_.front(), std::vector<std::uint32_t>{});
}

double LogEvidence::operator()(const CaseNumbers& numbers) {
  if (propagation_) {
    (*propagation_)->clear();
    apply(model_, numbers, **propagation_);
    return (*propagation_)->collect();
  }
  const CauseSums sums = by_question(numbers);
  double total = 0;
  for (const double p : sums.cause) total += std::max(0.0, p);
  return std::log(total) + sums.log_scale - numbers.observed.front().log_combined;
}

std::optional<CauseSums> LogEvidence::by_products(const CaseNumbers& numbers) const {
  try {
    CauseSums sums = products_->with_care(products_->sum(model_, numbers, false), model_, numbers);
    if (!sums.wants_tree()) return sums;
  } catch (const Error& error) {
    if (error.code() != Code::limit_exceeded) throw;
  }
  return std::nullopt;
}

CauseSums LogEvidence::by_tree(const CaseNumbers& numbers, std::size_t most_bytes) {
  if (!trees_) {
    trees_ = std::make_unique<CauseTrees>(
        model_, observed_, observed_.front(), std::vector<std::uint32_t>{},
        std::min(most_bytes, model_.program().account().budget() / 4));
  }
  return trees_->sum(model_, numbers);
}

CauseSums LogEvidence::by_question(const CaseNumbers& numbers) {
  constexpr std::size_t any = std::numeric_limits<std::size_t>::max();
  const double operations = products_->operations();
  const bool may_sum = operations <= kMostOfProducts &&
                       products_->fits(static_cast<double>(model_.program().account().budget()));
  if ((operations > kTreeOperations || !may_sum) && !tree_refused_) {
    try {
      return by_tree(numbers, may_sum ? kSmallTree : any);
    } catch (const Error& error) {
      if (error.code() != Code::limit_exceeded || !may_sum) throw;
      tree_refused_ = true;
    }
  }
  if (std::optional<CauseSums> sums = by_products(numbers)) return std::move(*sums);
  return by_tree(numbers, any);
}

}  // namespace faultodds::diagnosis
