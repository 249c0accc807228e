#include "tests/benchmarks/decision/policies.h"

#include <algorithm>
#include <limits>
#include <set>

#include "tests/unit/advice_optimum.h"

namespace faultodds::benchmark {
namespace {

using diagnosis::Advice;
using diagnosis::Assessment;
using diagnosis::Case;
using diagnosis::Evidence;
using Test = std::optional<std::uint32_t>;

constexpr double kTellsNothing = 1e-6;  // bits
constexpr std::size_t kFirstTests = 6;  // that two-step lookahead considers

std::vector<std::uint32_t> best_repair(Engine& engine, const Case& the_case) {
  return engine.advice(the_case).repair.components;
}

// Of the tests that tell anything about the cause of the complaint.
template <typename Choose>
Test while_it_pays(Engine& engine, const Case& the_case, Choose choose) {
  if (engine.advice(the_case).stop) return std::nullopt;
  std::vector<const diagnosis::TestAssessment*> tests;
  for (const auto& test : engine.assessment(the_case).tests) {
    if (test.cause_bits > kTellsNothing) tests.push_back(&test);
  }
  if (tests.empty()) return std::nullopt;
  return choose(tests)->observation;
}

std::vector<std::uint32_t> most_likely(Engine& engine, const Case& the_case) {
  const auto& analysis = engine.model().analysis();
  std::set<std::uint32_t> suspects;
  for (const auto& set : analysis.observations[the_case.evidence.front().observation].sets) {
    suspects.insert(set.modes.begin(), set.modes.end());
  }
  std::map<std::uint32_t, double> sound;
  for (const auto& fault : engine.assessment(the_case).faults) {
    if (suspects.count(fault.mode) == 0) continue;
    const auto component = static_cast<std::uint32_t>(analysis.modes[fault.mode].component_index);
    sound.emplace(component, 1.0).first->second *= fault.grades[0];
  }
  const auto likeliest = std::min_element(
      sound.begin(), sound.end(), [](const auto& a, const auto& b) { return a.second < b.second; });
  return {likeliest->first};
}

// The best of one test more, or none: expected cost from here on, and that test.
struct Step {
  double cost = 0;
  Test test;
};
Step one_step(Engine& engine, Case the_case) {
  the_case.look_further = false;
  const Advice& advice = engine.advice(the_case);
  Step step{advice.repair.expected_cost, std::nullopt};
  if (!advice.tests.empty() && advice.tests.front().net() > 0) {
    step.cost -= advice.tests.front().net();
    step.test = advice.tests.front().observation;
  }
  return step;
}

// The test after which one test more, where it pays, costs the least.
Test two_steps(Engine& engine, const Case& the_case) {
  const Advice& advice = engine.advice(the_case);
  const Step now = one_step(engine, the_case);
  double least = now.cost;
  Test best = now.test;
  for (std::size_t k = 0; k < std::min(kFirstTests, advice.tests.size()); ++k) {
    const auto& first = advice.tests[k];
    double cost = first.cost;
    for (const auto& test : engine.assessment(the_case).tests) {
      if (test.observation != first.observation) continue;
      for (std::uint32_t i = 0; i < test.probability.size() && cost < least; ++i) {
        if (!(test.probability[i] > 0)) continue;
        cost += test.probability[i] *
                one_step(engine, after(engine.model(), the_case, first.observation, i)).cost;
      }
    }
    if (cost < least - 1e-9) {
      least = cost;
      best = first.observation;
    }
  }
  return best;
}

}  // namespace

std::string key_of(const Case& the_case) {
  std::vector<std::string> parts;
  for (const Evidence& e : the_case.evidence) {
    parts.push_back(std::to_string(e.repairs_before) + ":" + std::to_string(e.observation) + "=" +
                    std::to_string(*e.outcome));
  }
  for (const std::string& step : the_case.setup_done) parts.push_back(step);
  std::sort(parts.begin(), parts.end());
  for (const auto& repair : the_case.repairs) {
    parts.emplace_back("repaired");
    parts.insert(parts.end(), repair.components.begin(), repair.components.end());
  }
  std::string key = the_case.look_further ? "" : "near;";
  for (const std::string& part : parts) key += part + ";";
  return key;
}

Case after(const diagnosis::Model& model, Case the_case, std::uint32_t test,
           std::uint32_t outcome) {
  Evidence evidence;
  evidence.observation = test;
  evidence.outcome = outcome;
  evidence.repairs_before = static_cast<std::uint32_t>(the_case.repairs.size());
  the_case.evidence.push_back(evidence);
  for (const std::string& step : model.analysis().observations[test].setup) {
    if (std::find(the_case.setup_done.begin(), the_case.setup_done.end(), step) ==
        the_case.setup_done.end()) {
      the_case.setup_done.push_back(step);
    }
  }
  return the_case;
}

const Advice& Engine::advice(const Case& the_case) {
  const auto [at, is_new] = advice_.try_emplace(key_of(the_case));
  if (is_new) at->second = diagnosis::advise(model_, the_case).value();
  return at->second;
}

const Assessment& Engine::assessment(const Case& the_case) {
  const auto [at, is_new] = assessments_.try_emplace(key_of(the_case));
  if (is_new) at->second = diagnosis::assess(model_, the_case);
  return at->second;
}

std::vector<Policy> policies(Engine& engine, std::uint64_t seed) {
  const auto repair = [&engine](const Case& now) { return best_repair(engine, now); };
  std::vector<Policy> list;
  list.push_back({"random test",
                  [&engine, chance = std::make_shared<std::mt19937_64>(seed)](const Case& now) {
                    return while_it_pays(engine, now, [&](const auto& tests) {
                      return tests[(*chance)() % tests.size()];
                    });
                  },
                  repair, false});
  list.push_back({"cheapest test first",
                  [&engine](const Case& now) {
                    return while_it_pays(engine, now, [](const auto& tests) {
                      return *std::min_element(
                          tests.begin(), tests.end(),
                          [](const auto* a, const auto* b) { return a->minutes < b->minutes; });
                    });
                  },
                  repair});
  list.push_back({"most likely part first", [](const Case&) { return Test(); },
                  [&engine](const Case& now) { return most_likely(engine, now); }, false});
  list.push_back({"cause bits per minute",
                  [&engine](const Case& now) {
                    return while_it_pays(engine, now,
                                         [](const auto& tests) { return tests.front(); });
                  },
                  repair});
  list.push_back(
      {"advice (default)", [&engine](const Case& now) { return engine.advice(now).test; }, repair});
  list.push_back({"advice, energised as soon",
                  [&engine](const Case& now) -> Test {
                    const Advice& advice = engine.advice(now);
                    const bool pays = !advice.tests.empty() && advice.tests.front().net() > 0;
                    return pays ? Test(advice.tests.front().observation) : advice.test;
                  },
                  repair});
  list.push_back({"advice with checks",
                  [&engine](const Case& now) -> Test {
                    const Advice& advice = engine.advice(now);
                    if (!advice.stop || advice.second_fault.checks.empty()) return advice.test;
                    return advice.second_fault.checks.front().observation;
                  },
                  repair});
  list.push_back(
      {"two-step lookahead",
       [&engine, known = std::make_shared<std::map<std::string, Test>>()](const Case& now) {
         const auto [at, is_new] = known->try_emplace(key_of(now));
         if (is_new) at->second = two_steps(engine, now);
         return at->second;
       },
       repair});
  // One program per complaint; on a second visit it goes on as the advice does.
  struct Program {
    Case begin;
    std::unique_ptr<advice_test::Optimum> optimum;
  };
  list.push_back({"optimum (dynamic program)",
                  [&engine, programs = std::make_shared<std::map<std::string, Program>>()](
                      const Case& now) -> Test {
                    const auto complaints = std::count_if(
                        now.evidence.begin(), now.evidence.end(), [&](const Evidence& e) {
                          return e.observation == now.evidence.front().observation;
                        });
                    if (complaints > 1) return engine.advice(now).test;
                    Case begin = now;
                    begin.evidence.resize(1);
                    begin.setup_done.clear();
                    const auto [at, is_new] = programs->try_emplace(key_of(begin));
                    Program& program = at->second;
                    if (is_new) {
                      program.begin = begin;
                      program.optimum = std::make_unique<advice_test::Optimum>(
                          engine.model().analysis(), program.begin);
                    }
                    return program.optimum->test_in(now);
                  },
                  repair, true, true});
  return list;
}

}  // namespace faultodds::benchmark
