#include "core/diagnosis/visit.h"

#include <algorithm>
#include <cmath>
#include <functional>
#include <map>
#include <memory>
#include <optional>
#include <set>
#include <tuple>

#include "core/diagnosis/entropy.h"
#include "core/diagnosis/preparation.h"
#include "core/diagnosis/program.h"

namespace faultodds::diagnosis {
namespace {

constexpr std::size_t kMostSetups = 512;         // combinations of setup steps tried
constexpr std::size_t kMostPropagations = 4000;  // in one plan
constexpr double kLeastVisitMinutes = 0.01;      // a test that takes no time
constexpr double kNothing = 1e-9;                // bits that are rounding

using Steps = std::set<std::uint32_t>;

// What each further test adds, given the tests of a set with all their outcomes.
class Gains {
 public:
  // `told`: by observation P(S = s, what is supposed | e).
  using Told = std::function<std::vector<Grades>(std::span<const Supposition>)>;
  Gains(const Model& model, Told told, std::vector<std::uint32_t> candidates)
      : model_(model), told_(std::move(told)), candidates_(std::move(candidates)) {}

  // By candidate, given the candidates in `made` (ascending).
  const std::vector<double>& after(const std::vector<std::size_t>& made) {
    const auto [at, is_new] = kept_.try_emplace(made);
    if (is_new) {
      at->second.assign(candidates_.size(), 0.0);
      std::vector<std::uint32_t> outcome(made.size(), 0);
      branch(made, outcome, 0, at->second);
    }
    return at->second;
  }
  std::size_t propagations() const { return propagations_; }

 private:
  void branch(const std::vector<std::size_t>& made, std::vector<std::uint32_t>& outcome,
              std::size_t depth, std::vector<double>& gains) {
    if (depth < made.size()) {
      const auto outcomes =
          model_.analysis().observations[candidates_[made[depth]]].outcomes.size();
      for (std::uint32_t i = 0; i < outcomes; ++i) {
        outcome[depth] = i;
        branch(made, outcome, depth + 1, gains);
      }
      return;
    }
    const Program& program = model_.program();
    ++propagations_;
    std::vector<Supposition> supposed;
    for (std::size_t k = 0; k < made.size(); ++k) {
      const std::uint32_t o = candidates_[made[k]];
      const auto& rows = program.rows(o);
      supposed.push_back({o, {rows[0][outcome[k]], rows[1][outcome[k]], rows[2][outcome[k]]}});
    }
    const std::vector<Grades> joint = told_(supposed);
    for (std::size_t c = 0; c < candidates_.size(); ++c) {
      const std::uint32_t o = candidates_[c];
      const double p = joint[o][0] + joint[o][1] + joint[o][2];
      if (!(p > 0)) continue;
      const Grades grades{joint[o][0] / p, joint[o][1] / p, joint[o][2] / p};
      std::vector<double> q(program.rows(o)[0].size(), 0.0);
      program.add_outcomes(o, grades, q);
      double given = 0;
      for (std::size_t s = 0; s < 3; ++s) given += grades[s] * program.row_entropy(o)[s];
      gains[c] += p * std::max(0.0, entropy_bits(q) - given);
    }
  }

  const Model& model_;
  Told told_;
  std::vector<std::uint32_t> candidates_;
  std::size_t propagations_ = 0;
  std::map<std::vector<std::size_t>, std::vector<double>> kept_;
};

// By propagation over the model's tree.
Gains::Told by_propagation(const Model& model, const CaseNumbers& numbers) {
  const auto propagation = std::make_shared<Program::Lease>(model.program());
  const auto base = std::make_shared<std::optional<double>>();
  return [&model, &numbers, propagation, base](std::span<const Supposition> supposed) {
    const Program& program = model.program();
    network::Propagation& tree = **propagation;
    const auto told = [&](std::span<const Supposition> list) {
      tree.clear();
      apply(model, numbers, tree);
      for (const Supposition& s : list) {
        tree.multiply(program.observation(s.observation), s.likelihood);
      }
      return tree.collect();
    };
    if (!*base) *base = told({});
    const double log_evidence = told(supposed);
    std::vector<Grades> joint(model.analysis().observations.size(), Grades{});
    if (!std::isfinite(log_evidence)) return joint;
    const double p = std::exp(log_evidence - **base);
    tree.distribute();
    for (std::uint32_t o = 0; o < joint.size(); ++o) {
      const auto grades = tree.posterior(program.observation(o));
      for (std::size_t s = 0; s < 3; ++s) joint[o][s] = p * grades[s];
    }
    return joint;
  };
}

struct Chosen {
  std::vector<std::size_t> tests;  // in the order chosen
  double total = 0;
};

std::vector<std::size_t> sorted(std::vector<std::size_t> list) {
  std::sort(list.begin(), list.end());
  return list;
}

// A visit's tests and how long their setups take.
struct Candidates {
  std::vector<std::uint32_t> tests;  // observations
  std::vector<Steps> steps;          // still to be done for each
  std::vector<double> minutes;       // of each, its setup done
};

double minutes_of(const Preparation& preparation, const Steps& steps) {
  double sum = 0;
  for (std::uint32_t step : steps) sum += preparation.step(step).minutes;
  return sum;
}

// Tests of what could be repaired, not made yet, that fit into the visit.
Candidates candidates_of(const Model& model, const CaseNumbers& numbers,
                         std::span<const RepairItem> items, const Preparation& preparation,
                         std::size_t observations, double minutes) {
  std::vector<bool> seen(observations, false);
  for (const ObservedGrade& s : numbers.observed) {
    if (s.observation < observations) seen[s.observation] = true;
  }
  std::set<std::uint32_t> looked_at;
  for (const RepairItem& item : items) {
    for (std::uint32_t m : item.modes) {
      for (std::uint32_t o : model.program().observations_of_mode()[m]) {
        if (o < observations && !seen[o] && preparation.may_propose(o)) looked_at.insert(o);
      }
    }
  }
  Candidates candidates;
  for (std::uint32_t o : looked_at) {
    Steps needed;
    double setup = 0;
    for (const std::uint32_t step : preparation.of(o)) {
      if (preparation.done()[step]) continue;
      needed.insert(step);
      setup += preparation.step(step).minutes;
    }
    const double own = model.analysis().observations[o].perform_minutes;
    if (setup + own > minutes) continue;
    candidates.tests.push_back(o);
    candidates.steps.push_back(std::move(needed));
    candidates.minutes.push_back(own);
  }
  return candidates;
}

// Every union of the tests' setups that can be paid for.
std::set<Steps> setups_of(const Candidates& candidates, const Preparation& preparation,
                          double minutes, bool& complete) {
  std::set<Steps> setups{{}};
  for (const Steps& needed : candidates.steps) {
    std::vector<Steps> larger;
    for (const Steps& have : setups) {
      Steps both = have;
      both.insert(needed.begin(), needed.end());
      if (minutes_of(preparation, both) <= minutes) larger.push_back(std::move(both));
    }
    setups.insert(larger.begin(), larger.end());
    if (setups.size() > kMostSetups) {
      complete = false;
      break;
    }
  }
  return setups;
}

// With the setups of `paid` done: test after test the one that adds most per minute, or a single
// one where that tells more.
Chosen choose(const Candidates& candidates, const Steps& paid, double budget, Gains& gains,
              bool& complete) {
  std::vector<std::size_t> possible;
  for (std::size_t c = 0; c < candidates.tests.size(); ++c) {
    const Steps& steps = candidates.steps[c];
    const bool ready = std::includes(paid.begin(), paid.end(), steps.begin(), steps.end());
    if (ready && candidates.minutes[c] <= budget) possible.push_back(c);
  }
  Chosen greedy;
  double left = budget;
  while (true) {
    const std::vector<double>& gain = gains.after(sorted(greedy.tests));
    std::optional<std::size_t> next;
    double best_rate = 0;
    for (std::size_t c : possible) {
      const double own = candidates.minutes[c];
      const bool made =
          std::find(greedy.tests.begin(), greedy.tests.end(), c) != greedy.tests.end();
      if (made || own > left || gain[c] < kNothing) continue;
      const double rate = gain[c] / std::max(own, kLeastVisitMinutes);
      if (!next || rate > best_rate) {
        next = c;
        best_rate = rate;
      }
    }
    if (!next) break;
    if (greedy.tests.size() == kMostVisitTests) {
      complete = false;
      break;
    }
    greedy.total += gain[*next];
    left -= candidates.minutes[*next];
    greedy.tests.push_back(*next);
  }
  for (std::size_t c : possible) {
    const double alone = gains.after({})[c];
    if (alone > greedy.total) greedy = {{c}, alone};
  }
  return greedy;
}

// The tests in the order to make them, locked out first.
void write_tests(const circuit::Analysis& analysis, const Candidates& candidates,
                 const Preparation& preparation, Chosen best, Gains& gains, VisitPlan& plan) {
  std::stable_sort(best.tests.begin(), best.tests.end(), [&](std::size_t a, std::size_t b) {
    return analysis.observations[candidates.tests[a]].energised <
           analysis.observations[candidates.tests[b]].energised;
  });
  Steps open;
  std::vector<std::size_t> before_it;
  for (const std::size_t c : best.tests) {
    const double before = minutes_of(preparation, open);
    open.insert(candidates.steps[c].begin(), candidates.steps[c].end());
    VisitTest test;
    test.observation = candidates.tests[c];
    test.minutes = candidates.minutes[c] + minutes_of(preparation, open) - before;
    test.bits = gains.after(sorted(before_it))[c];
    before_it.push_back(c);
    plan.minutes += test.minutes;
    plan.tests.push_back(test);
  }
}

}  // namespace

VisitPlan plan_visit(const Model& model, const Case& the_case, const CaseNumbers& numbers,
                     std::span<const RepairItem> items, Cure& cure, std::size_t observations,
                     double minutes) {
  const Preparation preparation(model, the_case);
  VisitPlan plan;
  plan.available = minutes;
  const Candidates candidates =
      candidates_of(model, numbers, items, preparation, observations, minutes);
  if (candidates.tests.empty()) {
    plan.guarantee = 1;  // nothing fits
    return plan;
  }
  bool complete = true;
  const std::set<Steps> setups = setups_of(candidates, preparation, minutes, complete);
  const auto summed = [&](std::span<const Supposition> supposed) {
    const ItemSet whatever = Cure::whatever();
    return cure.with(std::span(&whatever, 1), supposed, candidates.tests).front();
  };
  Gains gains(model,
              model.program().has_tree() ? by_propagation(model, numbers) : Gains::Told(summed),
              candidates.tests);
  Chosen best;
  for (const Steps& paid : setups) {
    if (gains.propagations() > kMostPropagations) {
      complete = false;
      break;
    }
    Chosen greedy =
        choose(candidates, paid, minutes - minutes_of(preparation, paid), gains, complete);
    if (greedy.total > best.total + kNothing) best = std::move(greedy);
  }
  write_tests(model.analysis(), candidates, preparation, best, gains, plan);
  plan.information_bits = best.total;
  if (complete) plan.guarantee = (1 - std::exp(-1.0)) / 2;
  return plan;
}

BringList bring_list(const circuit::Analysis& analysis, std::span<const std::uint32_t> tests) {
  using Key = std::tuple<std::string, std::string, std::string>;
  std::map<Key, BringItem> items;
  BringList list;
  for (std::uint32_t o : tests) {
    const circuit::Observation& observation = analysis.observations[o];
    if (observation.test_pressure) {
      list.gauge_pressure = std::max(list.gauge_pressure, *observation.test_pressure);
    }
    std::map<Key, std::size_t> here;
    for (const circuit::Bring& b : observation.bring) {
      const Key key{b.what, b.standard, b.size};
      BringItem& item = items[key];
      item.what = b.what;
      item.standard = b.standard;
      item.size = b.size;
      item.count = std::max(item.count, ++here[key]);
      if (std::find(item.ports.begin(), item.ports.end(), b.port) == item.ports.end()) {
        item.ports.push_back(b.port);
      }
    }
  }
  for (auto& [key, item] : items) list.items.push_back(std::move(item));
  return list;
}

double joint_information(const Model& model, const CaseNumbers& numbers,
                         std::span<const std::uint32_t> tests) {
  Gains gains(model, by_propagation(model, numbers), {tests.begin(), tests.end()});
  double total = 0;
  std::vector<std::size_t> made;
  for (std::size_t c = 0; c < tests.size(); ++c) {
    total += gains.after(made)[c];
    made.push_back(c);
  }
  return total;
}

}  // namespace faultodds::diagnosis
