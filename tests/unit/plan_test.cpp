// The plan: every probability in it against enumeration, every node against the advice of its own.
#include "core/diagnosis/plan.h"

#include <catch2/catch.hpp>
#include <chrono>
#include <cmath>
#include <limits>
#include <set>

#include "core/diagnosis/assessment.h"
#include "core/error.h"
#include "core/stop.h"
#include "tests/unit/plan_enumeration.h"

using namespace plan_test;
using faultodds::StopScope;
using faultodds::StopSignal;
using faultodds::diagnosis::Advice;
using faultodds::diagnosis::advise;
using faultodds::diagnosis::assess;
using faultodds::diagnosis::kLeastReached;
using faultodds::diagnosis::kPlanDepth;
using faultodds::diagnosis::make_plan;
using faultodds::diagnosis::Model;
using faultodds::diagnosis::Plan;
using faultodds::diagnosis::PlanNode;
using faultodds::diagnosis::Verification;

namespace {

// How many of each there were.
struct Met {
  std::size_t plans = 0, tests = 0, leaves = 0, again = 0, contradicts = 0, repaired = 0,
              verified = 0, depth = 0, not_possible = 0, left_out = 0;
};

Case after(const Analysis& analysis, const Case& before, const PlanNode& node,
           std::uint32_t outcome) {
  Case the_case = before;
  Evidence seen = advice_test::saw(*node.test, outcome);
  seen.again = true;
  seen.repairs_before = static_cast<std::uint32_t>(the_case.repairs.size());
  the_case.evidence.push_back(seen);
  const auto& steps = analysis.observations[*node.test].setup;
  the_case.setup_done.insert(the_case.setup_done.end(), steps.begin(), steps.end());
  return the_case;
}

double minutes_left(const Analysis& analysis, const Case& the_case, std::uint32_t o) {
  double minutes = analysis.observations[o].perform_minutes;
  for (const auto& step : analysis.setup_steps) {
    const auto& needed = analysis.observations[o].setup;
    const auto& done = the_case.setup_done;
    if (std::count(needed.begin(), needed.end(), step.id) > 0 &&
        std::count(done.begin(), done.end(), step.id) == 0) {
      minutes += step.minutes;
    }
  }
  return minutes;
}

void check_leaf(const Analysis& original, const Case& the_case, const Course& course,
                const Enumeration& posterior, const PlanNode& node, Met& met) {
  const Analysis& analysis = course.analysis;
  REQUIRE(node.repair);
  const auto replaced = advice_test::as_components(analysis, node.repair->components);
  const double risk = 1 - posterior.mean([&](const std::vector<int>& grade) {
    return advice_test::cured(analysis, course.causes, replaced, grade);
  });
  const double cost = advice_test::cost_of(
      original, the_case.economics, advice_test::as_components(original, node.repair->components));
  CHECK(node.repair->residual_risk == Approx(risk).margin(1e-9));
  CHECK(node.repair->expected_cost ==
        Approx(cost + *the_case.economics.come_back * risk).epsilon(1e-9));
  for (const Verification& one : node.verify) {
    const std::uint32_t o = one.observation;
    const auto normal = [&](const std::vector<int>& grade) {
      return normal_after(course, o, grade, replaced);
    };
    const double p = posterior.mean(normal);
    const double none = posterior.mean([&](const std::vector<int>& grade) {
      const bool all_well = course.causes.complaint.contains(o);  // then it shows nothing
      return advice_test::cured(analysis, course.causes, replaced, grade) *
             (all_well ? analysis.observations[o].matrix[0][0] : normal(grade));
    });
    CHECK(one.normal == Approx(p).epsilon(1e-9));
    CHECK(one.risk_if_normal == Approx(1 - none / p).margin(1e-9));
    CHECK(the_case.can_make(o));
    ++met.verified;
  }
  ++met.leaves;
}

void check_node(const Analysis& original, const Model& model, const Case& the_case,
                const Plan& plan, std::size_t at, double reached, std::size_t depth,
                std::vector<bool>& visited, Met& met) {
  const PlanNode& node = plan.nodes[at];
  REQUIRE(!visited[at]);
  visited[at] = true;
  CHECK(node.reached == Approx(reached).epsilon(1e-12));
  CHECK(node.depth == depth);
  const auto advice = advise(model, the_case);
  REQUIRE(advice);
  const Course course = course_of(original, the_case);
  const Enumeration posterior = posterior_of(course);
  if (!node.test) {
    CHECK((node.cut == PlanNode::Cut::depth) == advice->test.has_value());
    if (advice->test) {
      CHECK(depth == kPlanDepth);
      ++met.depth;
    }
    CHECK(node.repair->components == advice->repair.components);
    check_leaf(original, the_case, course, posterior, node, met);
    return;
  }
  CHECK(depth < kPlanDepth);
  CHECK(*node.test == advice->test);
  CHECK(node.again == advice->again);
  CHECK(node.contradicts ==
        (advice->contradiction && advice->contradiction->observation == *node.test));
  CHECK(the_case.can_make(*node.test));
  CHECK(node.minutes == Approx(minutes_left(original, the_case, *node.test)));
  ++met.tests;
  met.again += node.again;
  met.contradicts += node.contradicts;
  double sum = 0;
  REQUIRE(node.branches.size() == original.observations[*node.test].outcomes.size());
  for (const PlanNode::Branch& branch : node.branches) {
    const double p = posterior.mean([&](const std::vector<int>& grade) {
      return next_seen(course, *node.test, branch.outcome, grade);
    });
    CHECK(branch.probability == Approx(p).epsilon(1e-9).margin(1e-12));
    sum += branch.probability;
    CHECK(branch.to.has_value() == (reached * branch.probability > kLeastReached));
    if (!branch.to) continue;
    check_node(original, model, after(original, the_case, node, branch.outcome), plan, *branch.to,
               reached * branch.probability, depth + 1, visited, met);
  }
  CHECK(sum == Approx(1).epsilon(1e-9));
}

Met check_plans(std::uint64_t first, std::uint64_t samples) {
  Met met;
  for (std::uint64_t seed = first; seed < first + samples; ++seed) {
    const Sample sample = random_course(seed);
    const Analysis& analysis = sample.machine.analysis;
    const Model model = sample.machine.compile();
    INFO("seed " << seed);
    const auto plan = make_plan(model, sample.the_case);
    REQUIRE(plan);
    ++met.plans;
    met.repaired += !sample.the_case.repairs.empty();
    met.not_possible += !sample.the_case.not_possible.empty();
    const auto advice = advise(model, sample.the_case);
    REQUIRE(advice);
    CHECK(plan->nodes[0].test == advice->test);
    std::vector<bool> visited(plan->nodes.size(), false);
    check_node(analysis, model, sample.the_case, *plan, 0, 1, 0, visited, met);
    CHECK(std::count(visited.begin(), visited.end(), false) == 0);
    // What is left out and what is said are all.
    double said = 0;
    for (const PlanNode& node : plan->nodes) {
      if (!node.test) said += node.reached;
    }
    CHECK(said + plan->left_out == Approx(1).epsilon(1e-9));
    met.left_out += plan->left_out > 0;
  }
  CHECK(met.leaves > samples);
  CHECK(met.tests > samples / 2);
  CHECK(met.repaired > samples / 10);
  CHECK(met.not_possible > samples / 4);
  CHECK(met.again > 0);
  CHECK(met.contradicts > 0);
  CHECK(met.verified > samples / 2);
  CHECK(met.left_out > 0);
  return met;
}

}  // namespace

TEST_CASE("every probability in a plan is exact, and every node is the advice there") {
  check_plans(0, 60);
}

TEST_CASE("every probability in 2,000 plans is exact", "[.long]") {
  const Met met = check_plans(0, 2000);
  WARN(met.plans << " plans, " << met.tests << " tests, " << met.again << " of them again, "
                 << met.contradicts << " for a contradiction, " << met.leaves << " leaves, "
                 << met.depth << " cut by depth, " << met.verified << " verifications; "
                 << met.repaired << " after a repair, " << met.not_possible
                 << " with impossible tests");
}

TEST_CASE("without a complaint there is no plan") {
  Sample sample = random_course(3);
  sample.the_case.evidence.clear();
  sample.the_case.repairs.clear();
  CHECK_FALSE(make_plan(sample.machine.compile(), sample.the_case));
}

TEST_CASE("a test that cannot be made is neither ranked nor advised") {
  std::size_t was_named = 0;
  for (std::uint64_t seed = 0; seed < 30; ++seed) {
    Sample sample = advice_test::random_sample(seed);
    sample.the_case.visit_minutes = 120;
    const Model model = sample.machine.compile();
    const auto first = advise(model, sample.the_case);
    REQUIRE(first);
    for (std::uint32_t o = 0; o < sample.machine.analysis.observations.size(); ++o) {
      Case the_case = sample.the_case;
      the_case.not_possible.push_back({o, "the port is painted over"});
      was_named += first->test == o;
      for (const auto& test : assess(model, the_case).tests) CHECK(test.observation != o);
      const auto advice = advise(model, the_case);
      REQUIRE(advice);
      CHECK(advice->test != o);
      for (const auto& test : advice->tests) CHECK(test.observation != o);
      for (const auto& check : advice->second_fault.checks) CHECK(check.observation != o);
      for (const auto& one : advice->verify) CHECK(one.observation != o);
      if (advice->two_tests) {
        for (const std::uint32_t second : advice->two_tests->seconds) CHECK(second != o);
      }
      REQUIRE(advice->visit);
      for (const auto& test : advice->visit->tests) CHECK(test.observation != o);
    }
  }
  CHECK(was_named > 5);
}

namespace {

// A node of a plan that was ended is that of the whole plan, or says that it was cut.
void check_ready(const Plan& part, std::size_t at, const Plan& whole, std::size_t there,
                 std::size_t& cut) {
  const PlanNode &node = part.nodes[at], &full = whole.nodes[there];
  CHECK(node.reached == full.reached);
  if (node.cut == PlanNode::Cut::time) {
    CHECK_FALSE(node.test);
    CHECK_FALSE(node.repair);
    ++cut;
    return;
  }
  CHECK(node.test == full.test);
  CHECK(node.repair.has_value() == full.repair.has_value());
  REQUIRE(node.branches.size() == full.branches.size());
  for (std::size_t i = 0; i < node.branches.size(); ++i) {
    CHECK(node.branches[i].probability == full.branches[i].probability);
    REQUIRE(node.branches[i].to.has_value() == full.branches[i].to.has_value());
    if (node.branches[i].to) {
      check_ready(part, *node.branches[i].to, whole, *full.branches[i].to, cut);
    }
  }
}

}  // namespace

TEST_CASE("a plan that is ended keeps what is ready, and says where it was cut") {
  const Sample sample = advice_test::random_sample(11);
  const Model model = sample.machine.compile();
  const auto whole = make_plan(model, sample.the_case);
  REQUIRE(whole);
  REQUIRE(whole->nodes.size() > 3);
  StopSignal signal;
  signal.stop();
  {
    const StopScope scope(&signal);
    CHECK_THROWS_AS(make_plan(model, sample.the_case), faultodds::Error);  // nothing is ready
  }
  std::size_t kept = 0;
  for (double micros = 20; micros < 1e6; micros *= 1.02) {
    signal.reset();
    signal.stop_at(StopSignal::Clock::now() +
                   std::chrono::microseconds(static_cast<std::int64_t>(micros)));
    const StopScope scope(&signal);
    std::optional<Plan> part;
    try {
      part = make_plan(model, sample.the_case);
    } catch (const faultodds::Error& error) {
      CHECK(error.code() == faultodds::Code::cancelled);
      continue;
    }
    std::size_t cut = 0;
    check_ready(*part, 0, *whole, 0, cut);
    kept += cut > 0;
    if (cut == 0) break;
  }
  CHECK(kept > 0);
}
