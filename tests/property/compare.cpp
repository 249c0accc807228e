#include "tests/property/compare.h"

#include <algorithm>
#include <cmath>
#include <cstdio>
#include <functional>

namespace oracle {
namespace {

std::optional<double> number_or_null(const Json& object, const char* key) {
  return object.at(key).is_null() ? std::nullopt : std::optional<double>(object.at(key));
}

using Check = std::function<void(const std::string&, double want, double got, bool relative)>;
using Same = std::function<bool(const std::string&, bool equal)>;

// The complaint's first; the others in whatever order the symptoms are in.
void compare_causes(std::vector<Causes> expected, std::vector<Causes> actual, const Check& check,
                    const Same& same) {
  for (std::vector<Causes>* causes : {&expected, &actual}) {
    if (causes->size() < 3) continue;
    std::stable_sort(causes->begin() + 1, causes->end(), [](const Causes& a, const Causes& b) {
      return a.observation < b.observation;
    });
  }
  if (!same("causes: not of as many observations", expected.size() == actual.size())) return;
  for (std::size_t i = 0; i < expected.size(); ++i) {
    const Causes &want = expected[i], &got = actual[i];
    const std::string of = "cause of " + want.observation;
    if (!same(of + ": got that of " + got.observation, want.observation == got.observation)) {
      continue;
    }
    auto sets = want.sets;  // one that is not there has probability 0
    sets.insert(got.sets.begin(), got.sets.end());
    for (const auto& entry : sets) {
      auto in = [&](const Causes& side) {
        const auto found = side.sets.find(entry.first);
        return found == side.sets.end() ? 0.0 : found->second;
      };
      std::string named = of + ":";
      for (const auto& component : entry.first) named += " " + component;
      check(named, in(want), in(got), false);
    }
    check(of + " by design", want.by_design, got.by_design, false);
    check(of + " elsewhere", want.elsewhere, got.elsewhere, false);
    check(of + " nothing", want.nothing, got.nothing, false);
  }
}

}  // namespace

Answer from_assessment(const Json& assessment) {
  Answer answer;
  answer.log_evidence = assessment.at("log_evidence");
  for (const auto& id : assessment.at("complaint")) answer.complaint.insert(id);
  if (assessment.contains("causes")) {
    answer.causes.emplace();
    for (const auto& of : assessment["causes"]) {
      Causes& made = answer.causes->emplace_back();
      made.observation = of.at("observation");
      for (const auto& share : of.at("shares")) {
        const std::set<std::string> components = share.at("components");
        made.sets[components] += share.at("probability").get<double>();
      }
      made.by_design = of.at("by_design");
      made.elsewhere = of.at("elsewhere");
      made.nothing = of.at("nothing");
    }
  }
  for (const auto& fault : assessment.at("faults")) {
    Fault& made = answer.faults[fault.at("mode")];
    for (std::size_t g = 0; g < 3; ++g) made.grades[g] = fault.at("grades").at(g);
    made.prior_odds = number_or_null(fault, "prior_odds");
    made.posterior_odds = number_or_null(fault, "posterior_odds");
    made.decibans = number_or_null(fault, "decibans");
  }
  for (const auto& test : assessment.at("tests")) {
    if (test.contains("again")) continue;  // the complaint once more, which is no test of its own
    Test& made = answer.tests[test.at("observation")];
    for (const auto& [outcome, p] : test.at("probability").items()) made.probability[outcome] = p;
    made.information_bits = test.at("information_bits");
    if (test.contains("cause_bits")) made.cause_bits = test.at("cause_bits");
    made.minutes = test.at("minutes");
    made.energised = test.at("energised").get<bool>();
  }
  for (const auto& one : assessment.value("withheld", Json::array())) {
    answer.withheld.insert(one.at("observation"));
  }
  return answer;
}

std::vector<std::string> differences(const Answer& expected, const Answer& actual,
                                     double tolerance) {
  std::vector<std::string> found;
  auto check = [&](const std::string& what, double want, double got, bool relative) {
    const double scale = relative ? std::max(1.0, std::abs(want)) : 1.0;
    if (std::abs(want - got) <= tolerance * scale) return;
    char numbers[96];
    std::snprintf(numbers, sizeof numbers, ": expected %.17g, got %.17g", want, got);
    found.push_back(what + numbers);
  };
  auto same = [&](const std::string& what, bool equal) {
    if (!equal) found.push_back(what);
    return equal;
  };

  check("log_evidence", expected.log_evidence, actual.log_evidence, true);
  same("complaint: not the same observations", expected.complaint == actual.complaint);

  for (const auto& entry : actual.faults) {
    same("mode not expected: " + entry.first, expected.faults.count(entry.first) > 0);
  }
  for (const auto& entry : expected.faults) {
    const auto& id = entry.first;
    const auto& want = entry.second;
    if (!same("mode missing: " + id, actual.faults.count(id) > 0)) continue;
    const Fault& got = actual.faults.at(id);
    for (std::size_t g = 0; g < 3; ++g) {
      check(id + " grade " + std::to_string(g), want.grades[g], got.grades[g], false);
    }
    auto odds = [&](const char* what, const std::optional<double>& a,
                    const std::optional<double>& b) {
      if (a && b) check(id + " " + what, *a, *b, true);
    };
    odds("prior odds", want.prior_odds, got.prior_odds);
    // Odds of 1e9 and more hang on a P(sound) known to 1e-9 only.
    if (want.grades[0] > 1e-6) odds("posterior odds", want.posterior_odds, got.posterior_odds);
    if (want.grades[0] > 1e-6 && want.grades[0] < 1 - 1e-6) {
      odds("decibans", want.decibans, got.decibans);
    }
  }

  if (expected.causes && actual.causes) {
    compare_causes(*expected.causes, *actual.causes, check, same);
  }

  for (const auto& entry : actual.tests) {
    same("test not expected: " + entry.first, expected.tests.count(entry.first) > 0);
  }
  for (const auto& [id, want] : expected.tests) {
    if (actual.withheld.count(id)) continue;  // may not be made: tests/statics looks at that
    if (!same("test missing: " + id, actual.tests.count(id) > 0)) continue;
    const Test& got = actual.tests.at(id);
    if (same(id + ": not the same outcomes", want.probability.size() == got.probability.size())) {
      for (const auto& [outcome, p] : want.probability) {
        if (!same(id + ": outcome missing: " + outcome, got.probability.count(outcome) > 0))
          continue;
        check(id + " P(" + outcome + ")", p, got.probability.at(outcome), false);
      }
    }
    check(id + " information_bits", want.information_bits, got.information_bits, false);
    if (want.cause_bits && got.cause_bits) {
      check(id + " cause_bits", *want.cause_bits, *got.cause_bits, false);
    }
    check(id + " minutes", want.minutes, got.minutes, false);
    if (want.energised && got.energised) {
      same(id + ": energised differs", *want.energised == *got.energised);
    }
  }
  return found;
}

}  // namespace oracle
