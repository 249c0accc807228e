#include "core/diagnosis/cause.h"

#include <algorithm>
#include <cmath>

#include "core/circuit/kinds.h"
#include "core/diagnosis/program.h"
#include "core/error.h"

namespace faultodds::diagnosis {
namespace {

// Elementary operations above which a tree is asked in place of products, and above which it is so
// even if it takes longer. At 0.1 to 2 ns each.
constexpr double kManyOperations = 4e9, kMostOperations = 3e10;
// Products that take so many bytes at once take from 0.1 to several seconds: a tree is tried first,
// unless it is so large that it takes as long.
constexpr double kManyBytes = 64 * 1024.0 * 1024.0;
constexpr std::size_t kSmallTree = std::size_t{4} << 20;
constexpr std::size_t kMostTableBytes = std::size_t{1} << 20;
// Digits lost to subtraction (CauseSums::wants_tree()) from which it is a tree or nothing.
constexpr double kNoneFrom = 1e9;
// What rounding leaves of bits that are 0.
constexpr double kNoBits = 1e-13;

std::vector<std::uint32_t> observed_of(const CaseNumbers& pattern) {
  std::vector<std::uint32_t> observed;
  for (const ObservedGrade& seen : pattern.observed) observed.push_back(seen.observation);
  return observed;
}

std::vector<std::uint32_t> tests_of(const circuit::Analysis& analysis,
                                    const std::vector<std::uint32_t>& observed, CauseTests tests) {
  std::vector<std::uint32_t> result;
  if (tests == CauseTests::none) return result;
  const std::size_t observations = analysis.observations.size();
  const std::size_t end =
      observations + (tests == CauseTests::everything ? analysis.modes.size() : 0);
  for (std::uint32_t o = 0; o < end; ++o) {
    if (std::binary_search(observed.begin(), observed.end(), o)) continue;
    // What people report is not asked for.
    if (o < observations && circuit::is_reported(analysis.observations[o])) continue;
    result.push_back(o);
  }
  return result;
}

bool own_likelihood(const CaseNumbers& numbers, std::uint32_t focus) {
  return std::any_of(numbers.observed.begin(), numbers.observed.end(), [&](const auto& seen) {
    return seen.observation == focus && seen.over_s != Grades{1, 1, 1};
  });
}

}  // namespace

CauseAnswer::CauseAnswer(CauseSums sums) : sums_(std::move(sums)) {
  for (double& x : sums_.cause) {
    x = std::max(0.0, x);
    total_ += x;
  }
  if (!(total_ > 0)) {
    throw Error(Code::conflicting_evidence, "what was observed is impossible in this circuit");
  }
}

double CauseAnswer::over_causes(std::size_t test, std::size_t t) const {
  double sum = 0;
  for (std::size_t v = 0; v < sums_.values; ++v) sum += at_most(test, t, v);
  return sum;
}

Grades CauseAnswer::grades(std::size_t observation) const {
  const double first = std::clamp(over_causes(observation, 0), 0.0, 1.0);
  const double second = std::clamp(over_causes(observation, 1), first, 1.0);
  return {first, second - first, 1 - second};
}

Grades CauseAnswer::mode_grades(std::size_t test) const {
  const double first = std::clamp(over_causes(test, 0), 0.0, 1.0);
  const double second = std::clamp(over_causes(test, 1), 0.0, first);
  return {1 - first, first - second, second};
}

double CauseAnswer::log_evidence() const { return std::log(total_) + sums_.log_scale; }

double CauseAnswer::bits(std::uint32_t o, std::span<const std::vector<double>> rows) const {
  const std::size_t outcomes = rows[0].size();
  std::vector<double> sum(outcomes, 0.0), joint(outcomes);
  double given_cause = 0;  // sum of p(v, i) log p(i | v)
  for (std::size_t v = 0; v < sums_.values; ++v) {
    const double p = share(v);
    if (!(p > 0)) continue;
    const double first = std::clamp(at_most(o, 0, v), 0.0, p);
    const double second = std::clamp(at_most(o, 1, v), first, p);
    const double grades[3] = {first, second - first, p - second};
    for (std::size_t i = 0; i < outcomes; ++i) {
      joint[i] = grades[0] * rows[0][i] + grades[1] * rows[1][i] + grades[2] * rows[2][i];
      sum[i] += joint[i];
      if (joint[i] > 0) given_cause += joint[i] * std::log2(joint[i] / p);
    }
  }
  double entropy = 0;
  for (double p : sum) {
    if (p > 0) entropy -= p * std::log2(p);
  }
  const double bits = entropy + given_cause;
  return bits > kNoBits ? bits : 0;
}

namespace {

double budget_of(const Model& model) {
  return static_cast<double>(model.program().account().budget());
}

// Bytes that a tree as large as may be passes over. At a third of a nanosecond each.
double passes_of_largest_tree(const Model& model, std::uint32_t focus) {
  return CauseTrees::propagations(model.analysis().observations[focus].sets.size()) *
         budget_of(model) / 4;
}

}  // namespace

CausePlan::CausePlan(const Model& model, const CaseNumbers& pattern, std::uint32_t focus,
                     CauseTests tests)
    : observed_(observed_of(pattern)),
      tests_(tests_of(model.analysis(), observed_, tests)),
      focus_(focus),
      products_(model, observed_, focus, tests_),
      by_products_((products_.operations() <= kManyOperations ||
                    products_.operations() <=
                        std::min(kMostOperations, passes_of_largest_tree(model, focus))) &&
                   products_.fits(budget_of(model))),
      tree_first_(products_.scratch(1) > kManyBytes) {
  const std::size_t bytes = products_.table_bytes();
  const bool fixed_priors = std::none_of(model.wear_out().begin(), model.wear_out().end(),
                                         [](const auto& w) { return w.has_value(); });
  if (fixed_priors && by_products_ && bytes > 0 && bytes <= kMostTableBytes) {
    try {
      tables_ = products_.tabulate(model);
    } catch (const products::TooLarge&) {  // each case is summed
    }
  }
}

std::shared_ptr<const CausePlan> CausePlan::of(const Model& model, const CaseNumbers& pattern,
                                               std::uint32_t focus, CauseTests tests) {
  std::vector<std::uint32_t> key = observed_of(pattern);
  key.push_back(static_cast<std::uint32_t>(-1));
  key.push_back(focus);
  key.push_back(static_cast<std::uint32_t>(tests));
  return model.program().cause_plans().get(
      key, [&] { return std::make_shared<const CausePlan>(model, pattern, focus, tests); });
}

std::shared_ptr<const CauseTrees> CausePlan::small_tree(const Model& model) const {
  {
    // Not the larger ones that another case may have asked for: which method answers is the same in
    // every order of cases.
    const std::lock_guard lock(mutex_);
    if (small_tree_) return *small_tree_;
  }
  std::shared_ptr<const CauseTrees> made;
  try {
    made = std::make_shared<const CauseTrees>(
        model, observed_, focus_, tests_,
        std::min(kSmallTree, model.program().account().budget() / 4), false);
  } catch (const Error& error) {
    if (error.code() != Code::limit_exceeded) throw;
  }
  const std::lock_guard lock(mutex_);
  if (!small_tree_) small_tree_ = made;
  return *small_tree_;
}

CauseAnswer CausePlan::answer(const Model& model, const CaseNumbers& numbers) const {
  MethodCounts& counts = model.program().method_counts();
  if (tree_first_) {
    if (const auto trees = small_tree(model)) {
      ++counts.junction_tree;
      return CauseAnswer(trees->sum(model, numbers));
    }
  }
  if (by_products_) {
    if (auto answer = by_products(model, numbers)) return std::move(*answer);
  }
  ++counts.junction_tree;
  return answer_by(CauseMethod::junction_tree, model, numbers);
}

// Nothing where a tree has to do: products would lose too many digits, or don't fit.
std::optional<CauseAnswer> CausePlan::by_products(const Model& model,
                                                  const CaseNumbers& numbers) const {
  MethodCounts& counts = model.program().method_counts();
  const bool tabulated = tables_ && !own_likelihood(numbers, focus_);
  std::atomic<std::uint64_t>* by = tabulated ? &counts.tables : &counts.products;
  CauseSums sums;
  try {
    sums = tabulated ? tables_->weigh(numbers) : products_.sum(model, numbers, false);
    if (sums.wants_care()) by = &counts.careful_products;
    sums = products_.with_care(std::move(sums), model, numbers);
  } catch (const Error& error) {
    if (error.code() != Code::limit_exceeded) throw;
    return std::nullopt;
  }
  if (sums.wants_tree()) {
    if (sums.magnitude > kNoneFrom) return std::nullopt;
    try {
      CauseAnswer answer = answer_by(CauseMethod::junction_tree, model, numbers);
      ++counts.junction_tree;
      return answer;
    } catch (const Error& error) {
      if (error.code() != Code::limit_exceeded) throw;
    }
  }
  ++*by;
  return CauseAnswer(std::move(sums));
}

CauseAnswer CausePlan::answer_by(CauseMethod method, const Model& model,
                                 const CaseNumbers& numbers) const {
  if (method != CauseMethod::junction_tree) {
    return CauseAnswer(products_.sum(model, numbers, method == CauseMethod::careful_products));
  }
  std::shared_ptr<const CauseTrees> trees;
  {
    const std::lock_guard lock(mutex_);
    if (no_trees_) throw Error(*no_trees_);
    trees = trees_;
  }
  if (!trees) {
    try {
      trees = std::make_shared<const CauseTrees>(model, observed_, focus_, tests_,
                                                 model.program().account().budget() / 4);
    } catch (const Error& error) {
      if (error.code() == Code::limit_exceeded) {
        const std::lock_guard lock(mutex_);
        no_trees_ = error;
      }
      throw;
    }
    const std::lock_guard lock(mutex_);
    if (!trees_) trees_ = trees;
  }
  return CauseAnswer(trees->sum(model, numbers));
}

std::size_t CausePlan::bytes() const {
  std::size_t bytes =
      sizeof *this + products_.bytes() + (observed_.size() + tests_.size()) * sizeof(std::uint32_t);
  if (tables_) bytes += tables_->bytes();
  const std::lock_guard lock(mutex_);
  if (trees_) bytes += trees_->bytes();
  if (small_tree_ && *small_tree_) bytes += (*small_tree_)->bytes();
  return bytes;
}

}  // namespace faultodds::diagnosis
