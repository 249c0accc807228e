// The least expected cost that testing and then repairing can have, by dynamic programming over
// everything that may be observed, and what any way of choosing tests costs, exactly: the yardstick
// of the advice. It rests on advice_enumeration.h alone; the number of states is the product over
// the tests of their outcomes plus one, so it is for small machines.
//
// The problem is the one that advice.h states: a test costs its minutes, with setup not yet done;
// in the end a set of components is replaced, and a come-back is paid when that does not cure the
// complaint, which may be looked at once more before.
#pragma once

#include <algorithm>
#include <cstdint>
#include <functional>
#include <limits>
#include <map>
#include <optional>
#include <unordered_map>
#include <vector>

#include "tests/unit/advice_enumeration.h"

namespace advice_test {

class Optimum {
 public:
  // The test to make next in a case, or none: replace what costs the least now.
  using Policy = std::function<std::optional<std::uint32_t>(const Case&)>;

  // Both are kept by reference. The come-back cost must be given. At most 16 components can cause
  // the complaint.
  Optimum(const Analysis& analysis, const Case& the_case)
      : analysis_(analysis), case_(the_case), causes_(causes_of(analysis, the_case)) {
    for (const auto& set : all_sets(analysis, causes_)) {
      cost_.push_back(cost_of(analysis, the_case.economics, set));
    }
    std::vector<bool> seen(analysis.observations.size(), false);
    for (const Evidence& e : the_case.evidence) seen[e.observation] = true;
    complaint_ = the_case.evidence[0].observation;
    for (std::uint32_t o = 0; o < analysis.observations.size(); ++o) {
      if ((!seen[o] || o == complaint_) && !analysis.observations[o].sets.empty())
        tests_.push_back(o);
    }
    gather_worlds();
  }

  // Of the best way from here on.
  double cost() { return least(start()).cost; }
  // What it does first.
  std::optional<std::uint32_t> first_test() { return least(start()).test; }
  // What it does in a case that began as this one did.
  std::optional<std::uint32_t> test_in(const Case& later) {
    State state = start();
    for (std::size_t i = case_.evidence.size(); i < later.evidence.size(); ++i) {
      const Evidence& e = later.evidence[i];
      const auto at = std::find(tests_.begin(), tests_.end(), e.observation);
      state = after(state, static_cast<std::size_t>(at - tests_.begin()), *e.outcome);
    }
    return least(state).test;
  }
  // Of making no test at all.
  double stopping() { return repair(start()); }
  double following(const Policy& policy) { return follow(start(), case_, policy); }

 private:
  // What was observed, and the weight of each world under it: P(world, all that was seen | e).
  struct State {
    std::vector<std::uint8_t> seen;  // by test: 0, or its outcome plus 1
    std::vector<double> weight;
    double probability = 0;
  };
  struct Best {
    double cost = 0;  // times the state's probability
    std::optional<std::uint32_t> test;
  };

  // Worlds in which the same sets cure and every test answers alike are one.
  void gather_worlds() {
    const Enumeration posterior(analysis_, case_);
    std::map<std::pair<std::vector<double>, std::vector<double>>, double> alike;
    const auto sets = all_sets(analysis_, causes_);
    looks_ = analysis_.observations[complaint_].outcomes.size();
    for (const World& world : posterior.worlds()) {
      std::vector<double> well;
      for (const auto& set : sets) {
        well.push_back(cured(analysis_, causes_, set, world.grade));
        for (std::uint32_t i = 0; i < looks_; ++i) {
          well.push_back(cured(analysis_, causes_, set, world.grade, Again{complaint_, i}));
        }
      }
      std::vector<double> answers;
      for (std::uint32_t o : tests_) {
        for (std::uint32_t i = 0; i < analysis_.observations[o].outcomes.size(); ++i) {
          answers.push_back(next_outcome(analysis_, causes_, o, i, world.grade));
        }
      }
      alike[{std::move(well), std::move(answers)}] += world.weight / posterior.total();
    }
    for (const auto& [world, weight] : alike) {
      well_.push_back(world.first);
      answers_.push_back(world.second);
      prior_.push_back(weight);
    }
    std::size_t column = 0;
    for (std::uint32_t o : tests_) {
      first_answer_.push_back(column);
      column += analysis_.observations[o].outcomes.size();
    }
  }

  State start() const {
    State state{std::vector<std::uint8_t>(tests_.size(), 0), prior_, 0};
    for (double w : state.weight) state.probability += w;
    return state;
  }

  State after(const State& before, std::size_t test, std::size_t outcome) const {
    State state = before;
    state.seen[test] = static_cast<std::uint8_t>(outcome + 1);
    state.probability = 0;
    for (std::size_t w = 0; w < state.weight.size(); ++w) {
      state.weight[w] *= answers_[w][first_answer_[test] + outcome];
      state.probability += state.weight[w];
    }
    return state;
  }

  // P(cured by the set in this world, and what was seen | what was seen but of the complaint once
  // more), which the state's weight has as P(what was seen).
  double well(const State& state, std::size_t w, std::size_t set) const {
    const std::size_t look = look_of(state);
    const double* of = &well_[w][set * (looks_ + 1)];
    if (look == 0) return of[0];
    const double seen = answers_[w][first_answer_[test_of_complaint()] + look - 1];
    return seen > 0 ? of[look] / seen : 0;
  }
  std::size_t test_of_complaint() const {
    return static_cast<std::size_t>(std::find(tests_.begin(), tests_.end(), complaint_) -
                                    tests_.begin());
  }
  std::size_t look_of(const State& state) const { return state.seen[test_of_complaint()]; }

  double repair(const State& state) const {
    double least = std::numeric_limits<double>::infinity();
    for (std::size_t set = 0; set < cost_.size(); ++set) {
      double cure = 0;
      for (std::size_t w = 0; w < state.weight.size(); ++w) {
        cure += state.weight[w] * well(state, w, set);
      }
      least = std::min(least, cost_[set] * state.probability +
                                  *case_.economics.come_back * (state.probability - cure));
    }
    return least;
  }

  // Nothing can cost less: the best set for each world.
  double certain(const State& state) const {
    double cost = 0;
    for (std::size_t w = 0; w < state.weight.size(); ++w) {
      double least = std::numeric_limits<double>::infinity();
      for (std::size_t set = 0; set < cost_.size(); ++set) {
        least =
            std::min(least, cost_[set] + *case_.economics.come_back * (1 - well(state, w, set)));
      }
      cost += state.weight[w] * least;
    }
    return cost;
  }

  double price(const State& state, std::size_t test) const {
    std::vector<std::string> done = case_.setup_done;
    for (std::size_t t = 0; t < tests_.size(); ++t) {
      if (state.seen[t] == 0) continue;
      const auto& steps = analysis_.observations[tests_[t]].setup;
      done.insert(done.end(), steps.begin(), steps.end());
    }
    double minutes = analysis_.observations[tests_[test]].perform_minutes;
    for (const std::string& id : analysis_.observations[tests_[test]].setup) {
      if (std::find(done.begin(), done.end(), id) != done.end()) continue;
      for (const auto& step : analysis_.setup_steps) {
        if (step.id == id) minutes += step.minutes;
      }
    }
    return minutes * case_.economics.per_minute();
  }

  std::size_t outcomes(std::size_t test) const {
    return analysis_.observations[tests_[test]].outcomes.size();
  }

  Best least(const State& state) {
    const std::string key(state.seen.begin(), state.seen.end());
    if (const auto known = best_.find(key); known != best_.end()) return known->second;
    Best best{repair(state), std::nullopt};
    const double at_least = certain(state);
    for (std::size_t t = 0; t < tests_.size(); ++t) {
      if (state.seen[t] != 0) continue;
      double cost = price(state, t) * state.probability;
      if (cost + at_least >= best.cost) continue;
      for (std::size_t i = 0; i < outcomes(t) && cost < best.cost; ++i) {
        cost += least(after(state, t, i)).cost;
      }
      if (cost < best.cost) best = {cost, tests_[t]};
    }
    return best_[key] = best;
  }

  double follow(const State& state, const Case& now, const Policy& policy) {
    const std::optional<std::uint32_t> test = policy(now);
    if (!test) return repair(state);
    const auto at = std::find(tests_.begin(), tests_.end(), *test);
    const std::size_t t = static_cast<std::size_t>(at - tests_.begin());
    double cost = price(state, t) * state.probability;
    for (std::size_t i = 0; i < outcomes(t); ++i) {
      State next = after(state, t, i);
      if (!(next.probability > 0)) continue;
      Case later = now;
      later.evidence.push_back(saw(*test, static_cast<std::uint32_t>(i)));
      const auto& steps = analysis_.observations[*test].setup;
      later.setup_done.insert(later.setup_done.end(), steps.begin(), steps.end());
      cost += follow(next, later, policy);
    }
    return cost;
  }

  const Analysis& analysis_;
  const Case& case_;
  Causes causes_;
  std::vector<double> cost_;  // of each set of the causes' components, by bits
  std::vector<std::uint32_t> tests_;
  std::uint32_t complaint_ = 0;               // that may be looked at once more
  std::size_t looks_ = 0;                     // its outcomes
  std::vector<std::vector<double>> well_;     // by world: set, nothing more or outcome of the look
  std::vector<std::vector<double>> answers_;  // by world: P(outcome) of every test, one after other
  std::vector<std::size_t> first_answer_;     // of a test
  std::vector<double> prior_;
  std::unordered_map<std::string, Best> best_;
};

}  // namespace advice_test
