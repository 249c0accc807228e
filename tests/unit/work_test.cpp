// What there is to work with: hands, fittings, parts, time, and the technician's own order.
#include <catch2/catch.hpp>
#include <limits>

#include "core/diagnosis/advice.h"
#include "core/diagnosis/assessment.h"
#include "core/diagnosis/plan.h"
#include "core/diagnosis/preparation.h"
#include "tests/unit/advice_enumeration.h"

namespace work_test {

using namespace advice_test;
using faultodds::diagnosis::advise;
using faultodds::diagnosis::assess;
using faultodds::diagnosis::FittingAtHand;
using faultodds::diagnosis::make_plan;
using faultodds::diagnosis::NotProposed;
using faultodds::diagnosis::Preparation;

namespace {

const std::vector<std::vector<double>> kSharp{
    {0.98, 0.01, 0.01}, {0.02, 0.96, 0.02}, {0.02, 0.02, 0.96}};

// Two parts of a complaint, a test of either that opens a line, and one that takes two people.
struct Bench {
  Machine machine;
  std::uint32_t symptom = 0, tests_a = 0, tests_b = 0, by_two = 0;
  Case the_case;

  Bench() {
    machine.setup("lockout", 10);
    machine.setup("line/a", 5);
    machine.setup("line/b", 5);
    const auto a = machine.part("a", 0.2), b = machine.part("b", 0.15);
    symptom = machine.observation("symptom", {{a}, {b}}, kSharp, true);
    tests_a = machine.observation("tests a", {{a}}, kSharp, false, 3);
    tests_b = machine.observation("tests b", {{b}}, kSharp, false, 3);
    by_two = machine.observation("by two", {{a}}, kSharp, false, 3);
    auto& observations = machine.analysis.observations;
    observations[tests_a].setup = {"lockout", "line/a"};
    observations[tests_b].setup = {"lockout", "line/b"};
    observations[tests_a].bring = {{"adapter", "a.port", "ISO 6162-1", "19", {}}};
    observations[tests_b].bring = {{"adapter", "b.port", "ISO 6162-1", "25", {}}};
    observations[by_two].people = 2;
    for (auto& o : observations) o.background = {1, 0, 0};
    the_case.evidence = {saw(symptom, 1)};
    the_case.evidence[0].again = true;
    the_case.economics.come_back = 3000;
  }
  double minutes(std::uint32_t o) const {
    const Model model = machine.compile();
    const Preparation preparation(model, the_case);
    return preparation.minutes(o, preparation.done());
  }
};

}  // namespace

TEST_CASE("blocking the load takes its minutes once, before the first test that opens something") {
  Bench it;
  CHECK(it.minutes(it.tests_a) == 18);
  it.the_case.work.block_load_minutes = 12;
  CHECK(it.minutes(it.tests_a) == 30);
  CHECK(it.minutes(it.by_two) == 3);
  it.the_case.setup_done = {"lockout", "line/a", "block_load"};
  CHECK(it.minutes(it.tests_a) == 3);
  CHECK(it.minutes(it.tests_b) == 8);
  it.the_case.setup_done.clear();
  it.the_case.visit_minutes = 60;
  const auto advice = advise(it.machine.compile(), it.the_case);
  REQUIRE(advice);
  REQUIRE(advice->visit);
  CHECK(advice->visit->tests.size() == 3);
  CHECK(advice->visit->minutes == 12 + 10 + 5 + 3 + 5 + 3 + 3);
}

TEST_CASE("a test without its adapter costs the minutes to fetch it, and one trip fetches all") {
  Bench it;
  it.the_case.work.fittings = {FittingAtHand{"adapter", "", "19"}};
  it.the_case.work.fetch_minutes = 40;
  CHECK(it.minutes(it.tests_a) == 18);
  CHECK(it.minutes(it.tests_b) == 58);
  it.the_case.work.fittings->clear();
  CHECK(it.minutes(it.tests_a) == 58);
  it.the_case.setup_done = {"fetch"};
  CHECK(it.minutes(it.tests_a) == 18);
  CHECK(it.minutes(it.tests_b) == 18);
}

TEST_CASE(
    "a test that takes two is not proposed to one, or costs the minutes until a second comes") {
  Bench it;
  const auto proposed = [&] {
    const auto assessment = assess(it.machine.compile(), it.the_case);
    return std::any_of(assessment.tests.begin(), assessment.tests.end(),
                       [&](const auto& test) { return test.observation == it.by_two; });
  };
  CHECK(proposed());
  it.the_case.work.people = 2;
  CHECK(proposed());
  it.the_case.work.people = 1;
  CHECK_FALSE(proposed());
  const auto left_out = assess(it.machine.compile(), it.the_case).not_proposed;
  REQUIRE(left_out.size() == 1);
  CHECK(left_out[0].observation == it.by_two);
  CHECK(left_out[0].reason == NotProposed::Reason::people);
  const auto advice = advise(it.machine.compile(), it.the_case);
  REQUIRE(advice);
  for (const auto& value : advice->tests) CHECK(value.observation != it.by_two);
  it.the_case.work.second_person_minutes = 25;
  CHECK(proposed());
  CHECK(it.minutes(it.by_two) == 28);
}

TEST_CASE("nobody waits for a part that is on the shelf, by its id or its type") {
  Bench it;
  for (auto& component : it.machine.analysis.components) {
    component.type = "valve_" + component.id;
    component.lead_days = 2;
  }
  const auto cost = [&](std::vector<std::string> parts) {
    it.the_case.work.parts = std::move(parts);
    const auto advice = advise(it.machine.compile(), it.the_case);
    for (const auto& plan : advice->alternatives) {
      if (plan.components == std::vector<std::uint32_t>{0}) return plan.cost;
    }
    return advice->repair.cost;
  };
  const double wait =
      2 * it.the_case.economics.downtime_hours_per_day * it.the_case.economics.downtime_per_hour;
  CHECK(cost({"b"}) - cost({"a"}) == Approx(wait));
  CHECK(cost({"valve_b"}) - cost({"valve_a"}) == Approx(wait));
}

TEST_CASE("the repair is the best of those that are in within the time, and what is not is named") {
  std::size_t limited = 0, later = 0;
  for (std::uint64_t seed = 0; seed < 60; ++seed) {
    Sample sample = random_sample(seed);
    Analysis& analysis = sample.machine.analysis;
    for (std::size_t c = 0; c < analysis.components.size(); ++c) {
      analysis.components[c].minutes = 20 + 15 * static_cast<double>(c);
      if (c % 2 == 0) analysis.components[c].lead_days = 0;
    }
    const double within = 15 + 20 * static_cast<double>(seed % 6);
    sample.the_case.work.ready_within_minutes = within;
    INFO("seed " << seed << " within " << within);
    const auto advice = advise(sample.machine.compile(), sample.the_case);
    REQUIRE(advice);
    if (advice->elsewhere) continue;
    const Enumeration posterior(analysis, sample.the_case);
    const Causes causes = causes_of(analysis, sample.the_case);
    const auto minutes_of = [&](const std::vector<bool>& set) {
      double labour = 0, delivery = 0;
      for (std::size_t c = 0; c < set.size(); ++c) {
        if (!set[c]) continue;
        labour += *analysis.components[c].minutes;
        delivery = std::max(delivery, *analysis.components[c].lead_days * 1440);
      }
      return labour + delivery;
    };
    double least = std::numeric_limits<double>::infinity(), unlimited = least;
    for (const auto& set : all_sets(analysis, causes)) {
      const double well = posterior.mean(
          [&](const std::vector<int>& grade) { return cured(analysis, causes, set, grade); });
      double cost = 0, wait = 0;
      for (std::size_t c = 0; c < set.size(); ++c) {
        if (!set[c]) continue;
        const auto& e = sample.the_case.economics;
        cost +=
            *analysis.components[c].part_cost + *analysis.components[c].minutes * e.per_minute();
        wait = std::max(wait, *analysis.components[c].lead_days * e.downtime_hours_per_day *
                                  e.downtime_per_hour);
      }
      const double loss = cost + wait + *sample.the_case.economics.come_back * (1 - well);
      unlimited = std::min(unlimited, loss);
      if (minutes_of(set) <= within) least = std::min(least, loss);
    }
    CHECK(advice->repair.expected_cost == Approx(least).epsilon(1e-9));
    REQUIRE(advice->in_time);
    CHECK(advice->in_time->minutes <= within);
    CHECK(advice->in_time->later.has_value() == (unlimited < least - 1e-9));
    if (advice->in_time->later) {
      CHECK(advice->in_time->later->expected_cost == Approx(unlimited).epsilon(1e-9));
      CHECK(advice->reason.back().id.starts_with("reason.later_"));
      ++later;
    }
    for (const auto& part : advice->in_time->too_long) {
      std::vector<bool> alone(analysis.components.size(), false);
      alone[part.component] = true;
      CHECK(part.minutes == Approx(minutes_of(alone)));
      CHECK(part.minutes > within);
    }
    for (const auto& value : advice->tests) CHECK(value.minutes <= within);
    ++limited;
  }
  CHECK(limited > 40);
  CHECK(later > 5);
}

TEST_CASE("time that a test takes is no longer there for what follows it in the plan") {
  Bench it;
  for (auto& component : it.machine.analysis.components) component.minutes = 60;
  it.the_case.work.ready_within_minutes = 100;
  const auto plan = make_plan(it.machine.compile(), it.the_case);
  REQUIRE(plan);
  REQUIRE(plan->nodes.size() > 1);
  for (const auto& node : plan->nodes) {
    if (node.repair) CHECK(node.repair->components.size() <= 1);  // two take 120 min
  }
}

TEST_CASE("the technician's own next test is taken, and what it costs above the advice is said") {
  Bench it;
  const Model model = it.machine.compile();
  const auto own_way = advise(model, it.the_case);
  REQUIRE(own_way);
  REQUIRE(own_way->test);
  const std::uint32_t other = *own_way->test == it.tests_b ? it.tests_a : it.tests_b;
  it.the_case.work.order = {other};
  const auto advice = advise(model, it.the_case);
  REQUIRE(advice);
  REQUIRE(advice->own_order);
  CHECK(advice->test == other);
  CHECK_FALSE(advice->stop);
  CHECK(advice->own_order->instead_of == own_way->test);
  const auto net = [&](std::uint32_t o) {
    for (const auto& value : advice->tests) {
      if (value.observation == o) return value.net();
    }
    FAIL("not valued");
    return 0.0;
  };
  CHECK(advice->own_order->extra_cost == Approx(net(*own_way->test) - net(other)));
  CHECK(advice->reason.front().id == "reason.own_order");

  it.the_case.work.order = {*own_way->test};
  const auto same = advise(model, it.the_case);
  CHECK(same->own_order->extra_cost == 0);

  it.the_case.work.order = {other};
  Evidence made = saw(other, 0);
  it.the_case.evidence.push_back(made);
  const auto after = advise(model, it.the_case);
  CHECK_FALSE(after->own_order);
}

TEST_CASE("a plan follows the technician's order first") {
  Bench it;
  it.the_case.work.order = {it.tests_b, it.tests_a};
  const auto plan = make_plan(it.machine.compile(), it.the_case);
  REQUIRE(plan);
  CHECK(plan->nodes[0].test == it.tests_b);
  for (const auto& branch : plan->nodes[0].branches) {
    if (branch.to) CHECK(plan->nodes[*branch.to].test == it.tests_a);
  }
}

}  // namespace work_test
