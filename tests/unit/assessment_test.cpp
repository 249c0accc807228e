// What an assessment refuses, and that cases assessed together are answered and refused as alone.
#include <array>
#include <catch2/catch.hpp>
#include <cmath>
#include <functional>
#include <limits>
#include <string>
#include <vector>

#include "core/diagnosis/assessment.h"
#include "core/diagnosis/program.h"
#include "core/error.h"
#include "tests/unit/advice_enumeration.h"

namespace assessment_test {

using namespace advice_test;
using faultodds::Code;
using faultodds::Error;
using faultodds::diagnosis::assess;
using faultodds::diagnosis::assess_many;
using faultodds::diagnosis::Assessed;
using faultodds::diagnosis::Pack;

namespace {

const std::vector<std::vector<double>> kSharp{{1, 0}, {0, 1}, {0, 1}};
const std::vector<std::vector<double>> kBlunt{{0.9, 0.1}, {0.4, 0.6}, {0.1, 0.9}};

// A pump and a valve, a complaint that either causes, a test of the pump and a setup step.
Machine two_parts() {
  Machine machine;
  const auto pump = machine.part("pump", 0.2), valve = machine.part("valve", 0.1);
  machine.observation("slow", {{pump}, {valve}}, kBlunt, true);
  machine.observation("pump_flow", {{pump}}, kSharp);
  machine.observation("pump_noise", {{pump}}, kSharp);
  for (auto& observation : machine.analysis.observations) observation.background = {1, 0, 0};
  machine.setup("lockout", 5);
  return machine;
}

Evidence seen(std::uint32_t observation, std::uint32_t outcome) {
  Evidence e = saw(observation, outcome);
  e.pointer = "/observations/0";
  return e;
}

Evidence likely(const std::array<double, 3>& likelihood) {
  Evidence e;
  e.likelihood = likelihood;
  e.pointer = "/observations/0";
  return e;
}

}  // namespace

TEST_CASE("a case that cannot be is refused at its place, with what was expected") {
  const double infinity = std::numeric_limits<double>::infinity();
  struct Row {
    std::string what;
    std::function<void(Case&)> spoil;
    std::string pointer;
    std::vector<std::string> words;
  };
  const Row rows[] = {
      {"no such observation",
       [](Case& c) { c.evidence = {seen(3, 0)}; },
       "/observations/0/observation",
       {"3", "there are 3"}},
      {"no such outcome",
       [](Case& c) { c.evidence = {seen(0, 2)}; },
       "/observations/0/outcome",
       {"2", "slow", "there are 2"}},
      {"nothing seen",
       [](Case& c) {
         c.evidence = {seen(0, 0)};
         c.evidence[0].outcome.reset();
       },
       "/observations/0",
       {"slow", "exactly one"}},
      {"outcome and likelihood",
       [](Case& c) {
         c.evidence = {likely({1, 1, 1})};
         c.evidence[0].outcome = 0;
       },
       "/observations/0",
       {"slow", "2 of", "exactly one"}},
      {"likelihood below 0",
       [](Case& c) {
         c.evidence = {likely({1, -1, 1})};
       },
       "/observations/0/likelihood",
       {"-1", "finite"}},
      {"likelihood without end",
       [=](Case& c) {
         c.evidence = {likely({1, infinity, 1})};
       },
       "/observations/0/likelihood",
       {"inf", "finite"}},
      {"hours of no component",
       [](Case& c) { c.component_hours["motor"] = 1; },
       "/asset/component_hours/motor",
       {"motor"}},
      {"no such setup step",
       [](Case& c) {
         c.setup_done = {"lockout", "drain"};
       },
       "/setup_done/1",
       {"drain"}},
      {"a repair of no component",
       [](Case& c) {
         c.repairs = {{{"motor"}, "/observations/0"}};
       },
       "/observations/0/repaired/0",
       {"motor"}},
      {"a component repaired twice at once",
       [](Case& c) {
         c.repairs = {{{"pump", "pump"}, "/observations/0"}};
       },
       "/observations/0/repaired/1",
       {"pump", "twice"}},
      {"seen after a repair that was not made",
       [](Case& c) {
         c.repairs = {{{"pump"}, "/observations/1"}};
         c.evidence = {seen(0, 0)};
         c.evidence[0].repairs_before = 2;
       },
       "/observations/0",
       {"more repairs"}},
  };
  const Model model = two_parts().compile();
  for (const Row& row : rows) {
    INFO(row.what);
    Case the_case;
    row.spoil(the_case);
    try {
      assess(model, the_case);
      FAIL_CHECK("it was answered");
    } catch (const Error& error) {
      INFO(error.what());
      CHECK(error.code() == Code::invalid_case);
      CHECK(error.pointer() == row.pointer);
      for (const std::string& word : row.words) CHECK_THAT(error.what(), Catch::Contains(word));
    }
  }
}

TEST_CASE("a case replaces 500 components, and no more") {
  const Model model = two_parts().compile();
  Case the_case;
  for (int i = 0; i < 250; ++i) {
    the_case.repairs.push_back({{"pump", "valve"}, "/observations/" + std::to_string(i)});
  }
  CHECK_NOTHROW(assess(model, the_case));
  the_case.repairs.push_back({{"valve"}, "/observations/250"});
  try {
    assess(model, the_case);
    FAIL("it was answered");
  } catch (const Error& error) {
    CHECK(error.code() == Code::limit_exceeded);
    CHECK(error.pointer() == "/observations/250/repaired/0");
    CHECK_THAT(error.what(), Catch::Contains("500"));
  }
}

TEST_CASE("cases assessed together are each answered or refused as alone") {
  const Model model = two_parts().compile();
  std::vector<Case> cases(5);
  cases[0].evidence = {saw(1, 1), saw(2, 1)};
  cases[1].evidence = {saw(1, 0), saw(2, 1)};  // cannot be
  cases[2].evidence = {saw(1, 0), saw(2, 0)};
  cases[3].evidence = {saw(1, 1), saw(0, 1)};
  cases[3].repairs = {{{"pump"}, ""}};
  cases[3].evidence[1].repairs_before = 1;
  cases[4].setup_done = {"drain"};  // no step of the machine
  std::vector<const Case*> list;
  for (const Case& one : cases) list.push_back(&one);
  std::vector<Assessed> results(cases.size());
  assess_many(model, list, results);
  for (const std::size_t i : {0U, 2U, 3U}) {
    INFO(i);
    const auto alone = assess(model, cases[i]);
    REQUIRE(!results[i].error);
    CHECK(results[i].assessment.log_evidence == alone.log_evidence);
    REQUIRE(results[i].assessment.faults.size() == alone.faults.size());
    for (std::size_t f = 0; f < alone.faults.size(); ++f) {
      CHECK(results[i].assessment.faults[f].grades == alone.faults[f].grades);
    }
  }
  REQUIRE(results[1].error);
  CHECK(results[1].error->code() == Code::conflicting_evidence);
  REQUIRE(results[4].error);
  CHECK(results[4].error->code() == Code::invalid_case);
  CHECK(results[4].error->pointer() == "/setup_done/0");
}

TEST_CASE("a failure mode is raised by ten conditions at most") {
  Machine machine = two_parts();
  for (int i = 0; i < 10; ++i) {
    faultodds::circuit::ConditionEffect condition;
    condition.id = condition.title = "c" + std::to_string(i);
    condition.probability = 0.1;
    condition.raises = {{0, 2.0}};
    machine.analysis.conditions.push_back(condition);
  }
  CHECK_NOTHROW(machine.compile());
  machine.analysis.conditions.push_back(machine.analysis.conditions[0]);
  try {
    machine.compile();
    FAIL("it was compiled");
  } catch (const Error& error) {
    CHECK(error.code() == Code::limit_exceeded);
    CHECK(error.pointer() == "/conditions");
    CHECK_THAT(error.what(), Catch::Contains("pump.m0") && Catch::Contains("11 conditions"));
  }
}

TEST_CASE("what cannot be is refused with the smallest set of observations that excludes it") {
  Machine machine = two_parts();
  const auto never = machine.observation("never", {{machine.part("sound part", 0)}}, kSharp);
  machine.analysis.observations[never].background = {1, 0, 0};
  const auto refusal = [](const Model& model, const Case& the_case) {
    try {
      assess(model, the_case);
    } catch (const Error& error) {
      CHECK(error.code() == Code::conflicting_evidence);
      return std::string(error.what());
    }
    return std::string("it was answered");
  };
  Case alone, together;
  alone.evidence = {seen(0, 1), seen(never, 1)};
  together.evidence = {seen(0, 1), seen(1, 1), seen(2, 0)};
  const std::string of_one = "what was observed of 'never' is impossible in this circuit";
  const std::string of_two =
      "these observations cannot all be true in this circuit: 'pump_flow', 'pump_noise'";
  CHECK(refusal(machine.compile(), alone) == of_one);
  CHECK(refusal(machine.compile(), together) == of_two);

  // The same where the circuit is answered by bounded conditioning, all instances looked at.
  std::vector<std::uint32_t> parts;
  for (int i = 0; i < 6; ++i) parts.push_back(machine.part("part" + std::to_string(i), 0.1));
  for (std::size_t i = 0; i < parts.size(); ++i) {
    for (std::size_t k = i + 1; k < parts.size(); ++k) {
      machine.observation("pair", {{parts[i]}, {parts[k]}}, kBlunt);
    }
  }
  bool bounded = false;
  for (std::size_t budget = 1024; budget < 4'000'000 && !bounded; budget += budget / 4) {
    try {
      const Model model = Model::compile(machine.analysis, Pack{}, {}, {budget});
      if (model.program().has_tree()) break;
      if (assess(model, {}).method != "exact") continue;
      for (const Case* one : {&alone, &together}) {  // that there is room for the evidence, too
        try {
          assess(model, *one);
        } catch (const Error& error) {
          if (error.code() == Code::limit_exceeded) throw;
        }
      }
      bounded = true;
      CHECK(refusal(model, alone) == of_one);
      CHECK(refusal(model, together) == of_two);
    } catch (const Error& error) {
      REQUIRE(error.code() == Code::limit_exceeded);
    }
  }
  CHECK(bounded);
}

namespace {

// What is said with the answer of a machine whose complaint and tests are pairs of its parts, each
// of which every other shares, within 400 kB.
faultodds::Messages warnings_of_pairs(std::uint32_t count) {
  Machine machine;
  std::vector<std::vector<std::uint32_t>> parts, pairs;
  for (std::uint32_t i = 0; i < count; ++i) {
    parts.push_back({machine.part("part" + std::to_string(i), 0.0005)});
    for (std::uint32_t k = 0; k < i; ++k) pairs.push_back({parts[k][0], parts[i][0]});
  }
  Case the_case;
  the_case.evidence = {seen(machine.observation("symptom", pairs, kBlunt, true), 1)};
  for (std::size_t i = 0; i < pairs.size(); ++i) {
    const auto test = machine.observation("test", {pairs[i], parts[i % count]}, kBlunt);
    if (i % (pairs.size() / 6) != 0 || the_case.evidence.size() > 6) continue;
    the_case.evidence.push_back(
        seen(test, static_cast<std::uint32_t>(the_case.evidence.size() % 2)));
  }
  const auto answer = assess(Model::compile(machine.analysis, Pack{}, {}, {400'000}), the_case);
  CHECK((answer.method == "exact") == (answer.error_bound == 0));
  return answer.warnings;
}

}  // namespace

TEST_CASE("who is shown an approximate answer is told so, and how wrong it may be") {
  CHECK(warnings_of_pairs(5).empty());
  const faultodds::Messages approximate = warnings_of_pairs(14);
  REQUIRE(approximate.size() == 1);
  CHECK(approximate[0].id == "warning.approximate");
  REQUIRE(approximate[0].values.size() == 1);
  CHECK(approximate[0].values[0].second.number > 0);
  CHECK(approximate[0].values[0].second.number <= 0.05);
}

TEST_CASE("after a repair what operators report costs no further half of the budget") {
  // The machine as repaired is made of the one given, and only of that a part that knows the
  // reports: not a part, its machine as repaired and a part of that, each with half of the last.
  Machine machine;
  const auto a = machine.part("a", 0.1), b = machine.part("b", 0.1);
  const auto symptom = machine.observation("symptom", {{a}, {b}}, kBlunt, true);
  const auto reported = machine.observation("hot/b", {{b}}, kBlunt, true);
  Case the_case;
  the_case.evidence = {seen(symptom, 1), seen(reported, 1), seen(symptom, 1)};
  the_case.evidence.back().repairs_before = 1;
  the_case.repairs = {{{"a"}, "/observations/2"}};
  const Model model = machine.compile();
  REQUIRE(model.program().has_tree());
  CHECK(assess(model, the_case).method == "exact");
  CHECK(model.program().relevant_parts().counts().made == 0);
  the_case.evidence.pop_back();
  the_case.repairs.clear();
  assess(model, the_case);
  CHECK(model.program().relevant_parts().counts().made == 1);
}

}  // namespace assessment_test
