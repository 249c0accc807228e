#include "core/diagnosis/before_service.h"

#include <algorithm>
#include <cmath>
#include <map>
#include <memory>
#include <span>

#include "core/diagnosis/evidence.h"
#include "core/diagnosis/preparation.h"
#include "core/diagnosis/program.h"
#include "core/diagnosis/renewal.h"
#include "core/diagnosis/repair_items.h"
#include "core/error.h"
#include "core/network/junction_tree.h"
#include "core/stop.h"

namespace faultodds::diagnosis {
namespace {

using network::Var;

constexpr double kLeastTestMinutes = 0.01;  // a test that takes no time
constexpr double kMoneyRounding = 1e-9;     // relative, of money

// What a component costs, and what replacing it now saves.
struct Stake {
  double unplanned = 0, planned = 0, bad = 0;
  double saving(double fails) const { return std::max(0.0, (fails - bad) * unplanned - planned); }
};

Stake stake_of(const circuit::Component& component, const Case& the_case) {
  const Economics& economics = the_case.economics;
  const auto [part, minutes, lead_days] = replacement_of(component, economics);
  const double days = is_at_hand(component, the_case.work) ? 0 : lead_days;
  return {economics.second_visit + part + minutes * economics.per_minute() +
              days * economics.downtime_hours_per_day * economics.downtime_per_hour,
          part + minutes * economics.labour_per_hour / 60, economics.bad_new_part};
}

// The network of one observation (or of none), of what was observed and of some components.
class Part {
 public:
  Part(const Model& model, const CaseNumbers& numbers, std::optional<std::uint32_t> test,
       std::span<const std::uint32_t> components, double worn_fails)
      : model_(model), numbers_(numbers), worn_fails_(worn_fails) {
    const circuit::Analysis& analysis = model.analysis();
    NetworkBuilder builder(analysis, model.program().mode_conditions());
    std::vector<std::vector<Var>> lists;
    for (const ObservedGrade& seen : numbers.observed) {
      lists.push_back(builder.parts(seen.observation));
    }
    if (test) lists.push_back(builder.parts(*test));
    const std::vector<Var> max = builder.shared_max(std::move(lists));
    evidence_.assign(max.begin(),
                     max.begin() + static_cast<std::ptrdiff_t>(numbers.observed.size()));
    if (test) test_ = max.back();
    for (const std::uint32_t c : components) {
      modes_.emplace_back();
      for (std::uint32_t m = 0; m < analysis.modes.size(); ++m) {
        if (analysis.modes[m].component_index == c) modes_.back().push_back(builder.mode(m));
      }
    }
    tree_ = std::make_unique<network::JunctionTree>(network::JunctionTree::of(
        builder.network(), builder.options_to_ask(max, model.program().account().budget() / 4)));
    priors_ = prior_nodes(model, builder);
    propagation_ = std::make_unique<network::Propagation>(*tree_);
    log_evidence_ = tell(nullptr);
  }

  // P(S = s | e) of the test, by s, or with the k-th component: P(that, it does not fail | e).
  Grades joint(std::optional<std::size_t> k = std::nullopt) {
    const double p = probability(k);
    Grades result{};
    if (!(p > 0)) return result;
    propagation_->distribute();
    const auto posterior = propagation_->posterior(test_);
    for (std::size_t s = 0; s < result.size(); ++s) result[s] = p * posterior[s];
    return result;
  }
  // P(the k-th does not fail | e); 1 without.
  double probability(std::optional<std::size_t> k) {
    return std::exp(tell(k ? &modes_[*k] : nullptr) - log_evidence_);
  }

 private:
  double tell(const std::vector<Var>* sound) {
    network::Propagation& p = *propagation_;
    p.clear();
    for (std::size_t i = 0; i < evidence_.size(); ++i) {
      p.multiply(evidence_[i], numbers_.observed[i].likelihood);
    }
    apply_priors(model_, numbers_, priors_, p);
    if (sound != nullptr) {
      const Grades lasts{1, 1 - worn_fails_, 0};
      for (const Var v : *sound) p.multiply(v, lasts);
    }
    return p.collect();
  }

  const Model& model_;
  const CaseNumbers& numbers_;
  std::vector<Var> evidence_;
  Var test_ = 0;
  std::vector<std::vector<Var>> modes_;  // by component
  std::vector<PriorNode> priors_;
  std::unique_ptr<network::JunctionTree> tree_;
  std::unique_ptr<network::Propagation> propagation_;
  double worn_fails_ = 0, log_evidence_ = 0;
};

class Service {
 public:
  Service(const Model& model, const Case& the_case, const Present& present)
      : model_(model),
        analysis_(model.analysis()),
        case_(the_case),
        present_(present),
        numbers_(read_case(model, the_case)),
        preparation_(model, the_case) {}

  std::optional<BeforeService> work_out() {
    if (case_.focus != Focus::circuit) return std::nullopt;
    for (const ObservedGrade& seen : numbers_.observed) {
      if (seen.abnormal && seen.observation < present_.observations) return std::nullopt;
    }
    BeforeService result;
    result.currency = case_.economics.currency;
    std::vector<bool> seen(analysis_.observations.size(), false);
    for (const ObservedGrade& one : numbers_.observed) seen[one.observation] = true;
    for (std::uint32_t o = 0; o < present_.observations; ++o) {
      check_stop();
      if (seen[o] || analysis_.observations[o].sets.empty() || !preparation_.may_propose(o)) {
        continue;
      }
      try {
        if (auto test = value(o)) result.tests.push_back(std::move(*test));
      } catch (const Error& error) {
        if (error.code() != Code::limit_exceeded) throw;
        result.not_reckoned.push_back(o);
      }
    }
    const auto rate = [](const ServiceTest& test) {
      return test.net() / std::max(test.minutes, kLeastTestMinutes);
    };
    std::stable_sort(result.tests.begin(), result.tests.end(),
                     [&](const auto& a, const auto& b) { return rate(a) > rate(b); });
    replace(result);
    return result;
  }

 private:
  // Of parts that are in now.
  std::vector<std::uint32_t> looked_at(std::uint32_t o) const {
    std::vector<std::uint32_t> components;
    for (const auto& set : analysis_.observations[o].sets) {
      for (const std::uint32_t m : set.modes) {
        const auto c = static_cast<std::uint32_t>(analysis_.modes[m].component_index);
        if (c < present_.components) components.push_back(c);
      }
    }
    std::sort(components.begin(), components.end());
    components.erase(std::unique(components.begin(), components.end()), components.end());
    return components;
  }

  std::optional<ServiceTest> value(std::uint32_t o) {
    const std::vector<std::uint32_t> components = looked_at(o);
    Part part(model_, numbers_, o, components, case_.economics.worn_fails);
    const auto& rows = model_.program().rows(o);
    const auto by_outcome = [&](const Grades& joint) {
      std::vector<double> p(rows[0].size(), 0.0);
      model_.program().add_outcomes(o, joint, p);
      return p;
    };
    const std::vector<double> outcomes = by_outcome(part.joint());
    ServiceTest test;
    test.observation = o;
    double scale = 0;
    for (std::size_t k = 0; k < components.size(); ++k) {
      const Stake stake = stake_of(analysis_.components[components[k]], case_);
      const std::vector<double> lasts = by_outcome(part.joint(k));
      double failing = 0, after = 0, found = 0;
      for (std::size_t i = 0; i < outcomes.size(); ++i) {
        const double fails = std::max(0.0, outcomes[i] - lasts[i]);  // and this outcome
        failing += fails;
        if (!(outcomes[i] > 0)) continue;
        const double saving = stake.saving(fails / outcomes[i]);
        after += outcomes[i] * saving;
        if (saving > 0) found += fails;
      }
      known_[components[k]] = failing;
      test.expected_saving += after - stake.saving(failing);
      scale += stake.unplanned;
      if (found > 0) test.finds.push_back({components[k], found});
    }
    if (!(test.expected_saving > kMoneyRounding * scale)) return std::nullopt;
    std::stable_sort(test.finds.begin(), test.finds.end(),
                     [](const auto& a, const auto& b) { return a.probability > b.probability; });
    test.minutes = preparation_.minutes(o, preparation_.done());
    test.cost = test.minutes * case_.economics.per_minute();
    return test;
  }

  // Parts that are worth it as it is.
  void replace(BeforeService& result) {
    for (std::uint32_t c = 0; c < present_.components; ++c) {
      check_stop();
      auto at = known_.find(c);
      if (at == known_.end()) {
        try {
          Part part(model_, numbers_, std::nullopt, std::span(&c, 1), case_.economics.worn_fails);
          at = known_.emplace(c, 1 - part.probability(0)).first;
        } catch (const Error& error) {
          if (error.code() != Code::limit_exceeded) throw;
          continue;
        }
      }
      const double saving = stake_of(analysis_.components[c], case_).saving(at->second);
      if (saving > 0) result.replace.push_back({c, at->second, saving});
    }
    std::stable_sort(result.replace.begin(), result.replace.end(),
                     [](const auto& a, const auto& b) { return a.saving > b.saving; });
  }

  const Model& model_;
  const circuit::Analysis& analysis_;
  const Case& case_;
  const Present& present_;
  CaseNumbers numbers_;
  Preparation preparation_;
  std::map<std::uint32_t, double> known_;  // P(a component fails | e)
};

}  // namespace

std::optional<BeforeService> before_service(const Model& model, const Case& the_case) {
  if (the_case.repairs.empty()) {
    const Present present = present_of(model);
    return Service(model, the_case, present).work_out();
  }
  const Extended extended = extend(model, the_case);
  return Service(extended.circuit->model, extended.the_case, extended.circuit->present).work_out();
}

}  // namespace faultodds::diagnosis
