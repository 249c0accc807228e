#include "core/diagnosis/contradiction.h"

#include <algorithm>
#include <cmath>
#include <memory>

#include "core/diagnosis/cause.h"
#include "core/diagnosis/cure_sums.h"
#include "core/diagnosis/program.h"
#include "core/error.h"

namespace faultodds::diagnosis {
namespace {

constexpr double kQuickOperations = 1e8;  // beyond which products take longer than a tree
// Of the largest likelihood: what makes a finding wrong. Working judgement.
constexpr double kWrong = 0.125;

// Log P(what was observed) of one pattern of evidence, as far as the likelihoods are scaled and the
// same priors apply.
class LogEvidence {
 public:
  LogEvidence(const Model& model, const CaseNumbers& pattern) : model_(model) {
    if (model.program().has_tree()) {
      propagation_.emplace(model.program());
      return;
    }
    for (const ObservedGrade& seen : pattern.observed) observed_.push_back(seen.observation);
    products_.emplace(model, observed_, observed_.front(), std::vector<std::uint32_t>{});
  }

  double operator()(const CaseNumbers& numbers) {
    if (!propagation_) return by_question(numbers);
    (*propagation_)->clear();
    apply(model_, numbers, **propagation_);
    return (*propagation_)->collect();
  }

 private:
  std::optional<CauseSums> by_products(const CaseNumbers& numbers) const {
    if (products_->operations() > kQuickOperations) return std::nullopt;
    CauseSums sums = products_->with_care(products_->sum(model_, numbers, false), model_, numbers);
    if (sums.wants_tree()) return std::nullopt;
    return sums;
  }

  CauseSums by_tree(const CaseNumbers& numbers) {
    if (!trees_) {
      trees_ = std::make_unique<CauseTrees>(model_, observed_, observed_.front(),
                                            std::vector<std::uint32_t>{},
                                            model_.program().account().budget() / 4);
    }
    return trees_->sum(model_, numbers);
  }

  double by_question(const CaseNumbers& numbers) {
    std::optional<CauseSums> sums = by_products(numbers);
    if (!sums) sums = by_tree(numbers);
    double total = 0;
    for (const double p : sums->cause) total += std::max(0.0, p);
    return std::log(total) + sums->log_scale - numbers.observed.front().log_combined;
  }

  const Model& model_;
  std::vector<std::uint32_t> observed_;
  std::optional<Program::Lease> propagation_;
  std::optional<CauseProducts> products_;
  std::unique_ptr<CauseTrees> trees_;
};

// Without what speaks against it: the classes of effect that make it improbable.
Grades cut(Grades likelihood) {
  const double largest = *std::max_element(likelihood.begin(), likelihood.end());
  for (double& l : likelihood) {
    if (l < kWrong * largest) l = 0;
  }
  return likelihood;
}

// The same findings, were they right.
ObservedGrade if_right(const circuit::Observation& observation, ObservedGrade seen) {
  seen.over_g = cut(seen.over_g);
  seen.over_s = cut(seen.over_s);
  const double scale = std::exp(-seen.log_combined);
  for (std::size_t s = 0; s < seen.likelihood.size(); ++s) {
    double through = 0;
    for (std::size_t b = 0; b < observation.background.size(); ++b) {
      through += observation.background[b] * seen.over_g[std::max(s, b)];
    }
    seen.likelihood[s] = through * seen.over_s[s] * scale;
  }
  return seen;
}

}  // namespace

std::optional<Doubts> doubts(const Model& model, const CaseNumbers& numbers) {
  Doubts doubts;
  try {
    LogEvidence log_evidence(model, numbers);
    const double all = log_evidence(numbers);
    const auto wrong = [&](const CaseNumbers& right) {
      return std::clamp(-std::expm1(log_evidence(right) - all), 0.0, 1.0);
    };
    CaseNumbers every = numbers;
    for (std::size_t i = 0; i < numbers.observed.size(); ++i) {
      const circuit::Observation& of =
          model.analysis().observations[numbers.observed[i].observation];
      every.observed[i] = if_right(of, numbers.observed[i]);
      CaseNumbers one = numbers;
      one.observed[i] = every.observed[i];
      doubts.wrong.push_back(wrong(one));
    }
    doubts.any = wrong(every);
  } catch (const Error& error) {
    if (error.code() != Code::limit_exceeded) throw;
    return std::nullopt;
  }
  return doubts;
}

}  // namespace faultodds::diagnosis
