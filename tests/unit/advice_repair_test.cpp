// The best repair set, what each test is worth, and what is left in doubt, against enumeration of
// every fault and every set of components.
#include <algorithm>
#include <catch2/catch.hpp>
#include <cmath>
#include <iterator>
#include <set>

#include "capi/documents/wording.h"
#include "core/diagnosis/advice.h"
#include "core/diagnosis/cure.h"
#include "core/diagnosis/repair_set.h"
#include "tests/unit/advice_enumeration.h"

using namespace advice_test;
using faultodds::diagnosis::Advice;
using faultodds::diagnosis::advise;
using faultodds::diagnosis::CaseNumbers;
using faultodds::diagnosis::complained_of;
using faultodds::diagnosis::Cure;
using faultodds::diagnosis::Economics;
using faultodds::diagnosis::ItemSet;
using faultodds::diagnosis::order_by_ratio;
using faultodds::diagnosis::present_of;
using faultodds::diagnosis::read_case;
using faultodds::diagnosis::RepairChoice;
using faultodds::diagnosis::RepairDecision;
using faultodds::diagnosis::TestValue;
using faultodds::documents::Words;

namespace {

constexpr std::uint64_t kSamples = 120;

double minutes_of(const Analysis& analysis, const Case& the_case, std::uint32_t o) {
  double minutes = analysis.observations[o].perform_minutes;
  for (const std::string& id : analysis.observations[o].setup) {
    bool done = false;
    for (const std::string& d : the_case.setup_done) done = done || d == id;
    for (const auto& step : analysis.setup_steps) {
      if (step.id == id && !done) minutes += step.minutes;
    }
  }
  return minutes;
}

}  // namespace

TEST_CASE("the probability that a repair set cures the complaint is exact for every set") {
  for (std::uint64_t seed = 0; seed < 40; ++seed) {
    const Sample sample = random_sample(seed);
    const Analysis& analysis = sample.machine.analysis;
    const Model model = sample.machine.compile();
    const CaseNumbers numbers = read_case(model, sample.the_case);
    const auto items = repair_items(analysis, numbers, sample.the_case, present_of(model));
    const Causes causes = causes_of(analysis, sample.the_case);
    REQUIRE(items.size() == causes.components.size());
    Cure cure(model, numbers, items, complained_of(analysis, numbers, present_of(model)));
    const Enumeration posterior(analysis, sample.the_case);
    for (std::size_t bits = 0; bits < (std::size_t{1} << items.size()); ++bits) {
      ItemSet set(items.size());
      std::vector<bool> replaced(analysis.components.size(), false);
      for (std::size_t i = 0; i < items.size(); ++i) {
        if ((bits >> i & 1) == 0) continue;
        set.add(i);
        replaced[items[i].component] = true;
      }
      const double expected = posterior.mean(
          [&](const std::vector<int>& grade) { return cured(analysis, causes, replaced, grade); });
      INFO("seed " << seed << ", set " << bits);
      CHECK(cure.of(set).probability * cure.new_parts(set) ==
            Approx(expected).epsilon(1e-9).margin(1e-12));
      const std::uint32_t last = static_cast<std::uint32_t>(analysis.observations.size() - 1);
      for (std::size_t s = 0; s < 3; ++s) {
        const double joint = posterior.mean([&](const std::vector<int>& grade) {
          return cured(analysis, causes, replaced, grade) * grade_of(analysis, last, grade)[s];
        });
        CHECK(cure.of(set).grades[last][s] * cure.new_parts(set) ==
              Approx(joint).epsilon(1e-9).margin(1e-12));
      }
    }
  }
}

TEST_CASE("a set of items lists its members in order, however many items there are") {
  ItemSet set(200);
  for (const std::size_t i : {0U, 63U, 64U, 70U, 127U, 128U, 199U}) set.add(i);
  CHECK(set.members() == std::vector<std::uint32_t>{0, 63, 64, 70, 127, 128, 199});
}

TEST_CASE("the recommended repair set costs no more than any set of components") {
  std::set<std::size_t> sizes;
  for (std::uint64_t seed = 0; seed < kSamples; ++seed) {
    const Sample sample = random_sample(seed);
    const Analysis& analysis = sample.machine.analysis;
    const auto advice = advise(sample.machine.compile(), sample.the_case);
    REQUIRE(advice);
    if (advice->unfounded) continue;  // nothing is ordered, whatever it costs
    const Enumeration posterior(analysis, sample.the_case);
    const Causes causes = causes_of(analysis, sample.the_case);
    std::vector<bool> best;
    const double least =
        least_loss(analysis, posterior, causes, sample.the_case.economics, one, &best);
    INFO("seed " << seed);
    CHECK(advice->repair.expected_cost == Approx(least).epsilon(1e-9));
    CHECK(as_components(analysis, advice->repair.components) == best);
    CHECK(advice->repair.residual_risk ==
          Approx(1 - posterior.mean([&](const std::vector<int>& grade) {
            return cured(analysis, causes, best, grade);
          }))
              .epsilon(1e-9)
              .margin(1e-12));
    CHECK(advice->repair.cost ==
          Approx(cost_of(analysis, sample.the_case.economics, best)).margin(1e-12));
    sizes.insert(advice->repair.components.size());
    for (const auto& other : advice->alternatives) {
      CHECK(other.expected_cost >= advice->repair.expected_cost - 1e-9);
    }
  }
  CHECK(sizes.size() >= 3);  // the samples do call for nothing, one part and several
}

TEST_CASE(
    "what a part counts besides its cost weighs in the choice, not in what is said to be paid") {
  std::size_t fewer = 0;
  for (std::uint64_t seed = 0; seed < kSamples; ++seed) {
    Sample sample = random_sample(seed);
    const Analysis& analysis = sample.machine.analysis;
    const Enumeration posterior(analysis, sample.the_case);
    const Causes causes = causes_of(analysis, sample.the_case);
    auto& economics = sample.the_case.economics;
    std::vector<bool> freely, best;
    least_loss(analysis, posterior, causes, economics, one, &freely);
    economics.per_part = 0.3 * *economics.come_back;
    const double least = least_loss(analysis, posterior, causes, economics, one, &best);
    const auto parts = std::count(best.begin(), best.end(), true);
    const auto advice = advise(sample.machine.compile(), sample.the_case);
    REQUIRE(advice);
    if (advice->unfounded) continue;  // nothing is ordered, whatever it costs
    INFO("seed " << seed);
    CHECK(as_components(analysis, advice->repair.components) == best);
    CHECK(advice->repair.cost == Approx(cost_of(analysis, economics, best)).margin(1e-12));
    CHECK(advice->repair.expected_cost ==
          Approx(least - *economics.per_part * static_cast<double>(parts)).epsilon(1e-9));
    CHECK(parts <= std::count(freely.begin(), freely.end(), true));
    fewer += parts < std::count(freely.begin(), freely.end(), true) ? 1 : 0;
  }
  CHECK(fewer >= 3);
}

TEST_CASE("a part counts half a second visit more than it costs where the owner does not say") {
  Economics economics;
  CHECK(economics.restraint() == economics.second_visit / 2);
  economics.come_back = 900;  // a flat price: what the owner says is all that counts
  CHECK(economics.restraint() == 0);
  economics.per_part = 40;
  CHECK(economics.restraint() == 40);
}

TEST_CASE("the alternatives are nothing, one part less or one more, the cheapest first") {
  for (std::uint64_t seed = 0; seed < kSamples; ++seed) {
    const Sample sample = random_sample(seed);
    const Analysis& analysis = sample.machine.analysis;
    const Economics& economics = sample.the_case.economics;
    const auto advice = advise(sample.machine.compile(), sample.the_case);
    REQUIRE(advice);
    if (advice->unfounded) continue;  // nothing is ordered, whatever it costs
    const Enumeration posterior(analysis, sample.the_case);
    const Causes causes = causes_of(analysis, sample.the_case);
    const auto best = as_components(analysis, advice->repair.components);
    const auto loss = [&](const std::vector<bool>& set) {
      const double well = posterior.mean(
          [&](const std::vector<int>& grade) { return cured(analysis, causes, set, grade); });
      return cost_of(analysis, economics, set) + *economics.come_back * (1 - well);
    };
    INFO("seed " << seed);
    double least_so_far = 0;
    std::set<std::vector<bool>> seen{best};
    for (const auto& other : advice->alternatives) {
      const auto set = as_components(analysis, other.components);
      CHECK(seen.insert(set).second);  // another than the best and than those before
      std::size_t differs = 0;
      for (std::size_t c = 0; c < set.size(); ++c) differs += set[c] != best[c] ? 1 : 0;
      CHECK((differs == 1 || other.components.empty()));
      CHECK(other.expected_cost == Approx(loss(set)).epsilon(1e-9));
      CHECK(other.expected_cost >= least_so_far - 1e-9);
      least_so_far = other.expected_cost;
    }
    // As many as there are, up to three.
    std::set<std::vector<bool>> all{best, std::vector<bool>(best.size(), false)};
    for (const std::uint32_t c : causes.components) {
      auto other = best;
      other[c] = !other[c];
      all.insert(other);
    }
    CHECK(advice->alternatives.size() == std::min<std::size_t>(3, all.size() - 1));
  }
}

TEST_CASE("a test's expected saving is what the best repair after each outcome saves",
          "[enumerated]") {
  std::size_t worth_something = 0;
  for (std::uint64_t seed = 0; seed < kSamples; ++seed) {
    const Sample sample = random_sample(seed);
    const Analysis& analysis = sample.machine.analysis;
    const Economics& economics = sample.the_case.economics;
    const auto advice = advise(sample.machine.compile(), sample.the_case);
    REQUIRE(advice);
    const Enumeration posterior(analysis, sample.the_case);
    const Causes causes = causes_of(analysis, sample.the_case);
    const double now = least_loss(analysis, posterior, causes, economics, one);
    double most = 0;
    for (const TestValue& value : advice->tests) {
      double after = 0;
      for (std::size_t i = 0; i < analysis.observations[value.observation].outcomes.size(); ++i) {
        if (causes.complaint.contains(value.observation)) {
          const Again again{value.observation, static_cast<std::uint32_t>(i)};
          after += least_loss(analysis, posterior, causes, economics, one, nullptr, again);
          continue;
        }
        after +=
            least_loss(analysis, posterior, causes, economics, [&](const std::vector<int>& grade) {
              return outcome_probability(analysis, value.observation, i, grade);
            });
      }
      INFO("seed " << seed << ", " << analysis.observations[value.observation].id);
      CHECK(value.expected_saving == Approx(now - after).epsilon(1e-7).margin(1e-6));
      CHECK(value.minutes ==
            Approx(minutes_of(analysis, sample.the_case, value.observation)).margin(1e-12));
      CHECK(value.cost == Approx(value.minutes * economics.per_minute()).margin(1e-12));
      most = std::max(most, value.expected_saving);
      if (value.expected_saving > 1) ++worth_something;
    }
    // Knowing the grades, which is less than everything: the best set for them.
    const double certain = posterior.mean([&](const std::vector<int>& grade) {
      double least = std::numeric_limits<double>::infinity();
      for (const auto& set : all_sets(analysis, causes)) {
        least =
            std::min(least, cost_of(analysis, economics, set) +
                                *economics.come_back * (1 - cured(analysis, causes, set, grade)));
      }
      return least;
    });
    INFO("seed " << seed);
    CHECK(advice->perfect_information >= now - certain - 1e-9);
    CHECK(advice->perfect_information >= most - 1e-6);
  }
  CHECK(worth_something > 50);
}

TEST_CASE(
    "testing goes on exactly while a test, or two in a row, save more than their time costs") {
  for (std::uint64_t seed = 0; seed < kSamples; ++seed) {
    const Sample sample = random_sample(seed);
    const auto advice = advise(sample.machine.compile(), sample.the_case);
    REQUIRE(advice);
    INFO("seed " << seed);
    const bool one_pays = !advice->tests.empty() && advice->tests.front().net() > 0;
    CHECK(advice->stop == !(one_pays || advice->two_tests));
    CHECK(advice->test.has_value() == !advice->stop);
    CHECK(!(one_pays && advice->two_tests));
    REQUIRE(!advice->reason.empty());
    CHECK(advice->reason.front().id.starts_with("reason."));
  }
}

TEST_CASE("a locked-out test that pays comes before an energised one that pays more") {
  Machine machine;
  const auto a = machine.part("a", 0.3), b = machine.part("b", 0.3);
  const auto symptom = machine.observation("symptom", {{a}, {b}}, kTelling, true);
  const auto live = machine.observation("live", {{a}}, kTelling, false, 1);
  const auto blunt =
      machine.observation("locked out", {{a}}, {{0.95, 0.05}, {0.1, 0.9}, {0.05, 0.95}}, false, 1);
  machine.analysis.observations[live].energised = true;
  Case the_case;
  the_case.evidence = {saw(symptom, 1)};
  the_case.economics.come_back = 900;
  const auto advice = advise(machine.compile(), the_case);
  REQUIRE(advice);
  CHECK(advice->tests.front().observation == live);
  CHECK(advice->test == blunt);
}

TEST_CASE("an item that waits for its part is not ordered where the shelf has another answer") {
  Machine machine;
  const auto a = machine.mode(machine.component("shelf", 100, 0), {0.5, 0.25, 0.25});
  const auto b = machine.mode(machine.component("ordered", 100, 10), {0.7, 0.15, 0.15});
  const auto symptom = machine.observation("symptom", {{a}, {b}}, kTelling, true);
  Case the_case;
  the_case.evidence = {saw(symptom, 1)};
  the_case.economics.come_back = 1000;
  the_case.economics.downtime_per_hour = 60;
  auto advice = advise(machine.compile(), the_case);
  REQUIRE(advice);
  CHECK(advice->repair.components == std::vector<std::uint32_t>{0});
  the_case.economics.components["ordered"].lead_days = 0;
  advice = advise(machine.compile(), the_case);
  CHECK(advice->repair.components.size() == 2);
}

TEST_CASE("parts that are surely faulty are replaced however dear they are together") {
  Machine machine;
  std::vector<std::uint32_t> parts;
  std::vector<std::vector<std::uint32_t>> sets;
  for (const char* id : {"a", "b", "c"}) {
    parts.push_back(machine.part(id, 0.3, 1500));
    sets.push_back({parts.back()});
  }
  const auto symptom = machine.observation("symptom", sets, kTelling, true);
  Case the_case;
  the_case.evidence = {saw(symptom, 1)};
  for (const std::uint32_t part : parts) {
    const auto test =
        machine.observation("sees " + std::to_string(part), {{part}}, {{1, 0}, {0, 1}, {0, 1}});
    the_case.evidence.push_back(saw(test, 1));
  }
  const auto advice = advise(machine.compile(), the_case);
  REQUIRE(advice);
  CHECK(advice->repair.components == std::vector<std::uint32_t>{0, 1, 2});
}

TEST_CASE("there is no advice while nothing abnormal was observed") {
  Machine machine;
  const auto a = machine.part("a", 0.3);
  const auto symptom = machine.observation("symptom", {{a}}, kTelling, true);
  Case the_case;
  CHECK(!advise(machine.compile(), the_case));
  the_case.evidence = {saw(symptom, 0)};
  CHECK(!advise(machine.compile(), the_case));
}

TEST_CASE("nothing is ordered for a complaint whose likeliest cause is none of the circuit's") {
  Machine machine;
  const auto a = machine.part("a", 0.05), b = machine.part("b", 0.02);
  const auto symptom = machine.observation("symptom", {{a}, {b}}, kTelling, true);
  Case the_case;
  the_case.evidence = {saw(symptom, 1)};
  the_case.economics.come_back = 1e6;
  for (const double elsewhere : {0.01, 0.2}) {
    machine.analysis.observations[symptom].background = {1 - elsewhere, elsewhere / 2,
                                                         elsewhere / 2};
    const auto advice = advise(machine.compile(), the_case);
    REQUIRE(advice);
    CHECK(advice->stop);
    CHECK(advice->repair.components.empty() == (elsewhere > 0.1));
    CHECK(advice->elsewhere.has_value() == (elsewhere > 0.1));
  }
}

TEST_CASE("nothing is ordered for a complaint that is most likely unfounded") {
  Machine machine;
  const auto a = machine.part("a", 0.03);
  for (const double mistaken : {0.001, 0.2}) {
    Machine one = machine;
    const auto symptom = one.observation(
        "symptom", {{a}}, {{1 - mistaken, mistaken}, {0.05, 0.95}, {0.02, 0.98}}, true);
    one.analysis.observations[symptom].background = {1, 0, 0};
    Case the_case;
    the_case.evidence = {saw(symptom, 1), saw(symptom, 1)};  // twice: that is all that can be seen
    the_case.economics.come_back = 1e6;
    const auto advice = advise(one.compile(), the_case);
    REQUIRE(advice);
    CHECK(advice->repair.components.empty() == (mistaken > 0.1));
    CHECK(advice->unfounded.has_value() == (mistaken > 0.1));
    CHECK(!advice->elsewhere);
  }
}

TEST_CASE(
    "a part that is new in the case is ordered again only when a test since then shows it, and the "
    "complaint was looked at twice more") {
  Machine machine;
  const auto a = machine.part("a", 0.5, 10), b = machine.part("b", 0.001, 10);
  const auto symptom = machine.observation("symptom", {{a}, {b}}, kTelling, true);
  const auto test = machine.observation("test", {{a}}, kTelling);
  machine.analysis.observations[symptom].background = {1, 0, 0};
  Case the_case;
  the_case.evidence = {saw(symptom, 1), saw(symptom, 1)};
  the_case.repairs = {{{"a"}, "/observations/1"}};
  the_case.evidence[1].repairs_before = 1;
  the_case.economics.come_back = 1e6;
  const auto untested = advise(machine.compile(), the_case);
  REQUIRE(untested);
  CHECK(std::count(untested->repair.components.begin(), untested->repair.components.end(), 0u) ==
        0);
  the_case.evidence.push_back(saw(test, 1));
  the_case.evidence.back().repairs_before = 1;
  const auto shown = advise(machine.compile(), the_case);
  REQUIRE(shown);
  CHECK(shown->renewed_shows);
  CHECK(shown->repair.components.empty());
  CHECK(shown->alternatives.front().components == std::vector<std::uint32_t>{0});
  for (int looks = 0; looks < 2; ++looks) {
    the_case.evidence.push_back(saw(symptom, 1));
    the_case.evidence.back().repairs_before = 1;
  }
  const auto again = advise(machine.compile(), the_case);
  REQUIRE(again);
  CHECK(!again->renewed_shows);
  CHECK(std::count(again->repair.components.begin(), again->repair.components.end(), 0u) == 1);
}

TEST_CASE("an abnormal test stands for the complaint where no symptom was reported") {
  Machine machine;
  const auto a = machine.part("a", 0.3), b = machine.part("b", 0.3);
  machine.observation("symptom", {{a}, {b}}, kTelling, true);
  const auto test = machine.observation("test", {{b}}, kTelling);
  Case the_case;
  the_case.evidence = {saw(test, 1)};
  const auto advice = advise(machine.compile(), the_case);
  REQUIRE(advice);
  CHECK(advice->repair.components == std::vector<std::uint32_t>{1});
}

TEST_CASE("certainty that is cheaper than any test ends the testing, and the reason says so") {
  Machine machine;
  const auto a = machine.part("a", 0.3, 10), b = machine.part("b", 0.0001, 10);
  const auto symptom =
      machine.observation("symptom", {{a}, {b}}, {{1, 0}, {0.01, 0.99}, {0, 1}}, true);
  machine.observation("test", {{a}}, kTelling, false, 60);
  Case the_case;
  the_case.evidence = {saw(symptom, 1)};
  const Model model = machine.compile();
  const auto advice = advise(model, the_case);
  REQUIRE(advice);
  CHECK(advice->stop);
  CHECK(advice->perfect_information < advice->tests.front().cost);
  const std::string reason = Words(model).say(advice->reason);
  CHECK(reason.find("Even certainty") != std::string::npos);
  CHECK(reason.find("Replace a") == 0);
}

TEST_CASE("of one part, certainty saves all but what a faulty one costs") {
  // The part waits a day, so that what is saved is not the price alone.
  Machine machine;
  const auto part = machine.mode(machine.component("part", 100, 1), {0.6, 0.2, 0.2});
  const auto symptom = machine.observation("symptom", {{part}}, {{0.7, 0.3}, {0, 1}, {0, 1}}, true);
  machine.observation("test", {{part}}, kTelling);
  Case the_case;
  the_case.evidence = {saw(symptom, 1)};
  the_case.economics.come_back = 900;
  the_case.economics.downtime_per_hour = 20;
  the_case.economics.downtime_hours_per_day = 8;
  const auto advice = advise(machine.compile(), the_case);
  REQUIRE(advice);
  const double faulty = 0.4 / (0.4 + 0.6 * 0.3);
  const double order = 100 + 8 * 20;
  const double expected = order + (1 - kSoundNewPart) * 900;
  CHECK(advice->repair.expected_cost == Approx(expected));
  CHECK(advice->perfect_information == Approx(expected - faulty * order));
}

TEST_CASE("while nothing is worth ordering there is no second fault to look for") {
  Machine machine;
  const auto a = machine.part("a", 0.05, 5000), b = machine.part("b", 0.05, 5000);
  const auto symptom =
      machine.observation("symptom", {{a}, {b}}, {{0.5, 0.5}, {0.4, 0.6}, {0.4, 0.6}}, true);
  machine.observation("test", {{b}}, kTelling);
  Case the_case;
  the_case.evidence = {saw(symptom, 1)};
  the_case.economics.come_back = 100;
  the_case.economics.second_fault_target = 0.01;
  const auto advice = advise(machine.compile(), the_case);
  REQUIRE(advice);
  REQUIRE(advice->repair.components.empty());
  CHECK(advice->second_fault.probability > 0.01);
  CHECK(advice->second_fault.checks.empty());
  CHECK(advice->verify.empty());
}

TEST_CASE("the reason names every part to replace, as a list is written, and the risk left") {
  const auto reason = [](std::vector<const char*> ids) {
    Machine machine;
    std::vector<std::vector<std::uint32_t>> sets;
    for (const char* id : ids) sets.push_back({machine.part(id, 0.3, 10)});
    const auto other = machine.part("other", 0.002, 9000);
    auto causes = sets;
    causes.push_back({other});
    Case the_case;
    const auto symptom = machine.observation("symptom", causes, kTelling, true);
    the_case.evidence = {saw(symptom, 1), saw(symptom, 1)};  // it was looked at twice
    for (const auto& set : sets) {
      const auto test = machine.observation("sees", {set}, {{1, 0}, {0, 1}, {0, 1}});
      the_case.evidence.push_back(saw(test, 1));
    }
    for (auto& o : machine.analysis.observations) o.background = {1, 0, 0};
    const Model model = machine.compile();
    const auto advice = advise(model, the_case);
    REQUIRE(advice);
    REQUIRE(advice->stop);
    // Each part is surely faulty, so that the symptom says hardly anything of the other.
    CHECK(1 - advice->repair.residual_risk ==
          Approx(0.998 * std::pow(kSoundNewPart, ids.size())).epsilon(0.0002));
    return Words(model).say(advice->reason);
  };
  const auto rest = [](const std::string& risk) {
    return ": the complaint stays with probability " + risk + " %. There is no test left to make.";
  };
  CHECK(reason({"a"}) == "Replace a" + rest("1"));
  CHECK(reason({"a", "b"}) == "Replace a and b" + rest("2"));
  CHECK(reason({"a", "b", "c"}) == "Replace a, b and c" + rest("3"));
}

TEST_CASE("an amount of money is written whole, with its currency where there is one") {
  Machine machine;
  machine.part("a", 0.5);
  const Model model = machine.compile();
  const Words words(model);
  CHECK(words.money(1234.4, Economics{}.currency) == "1234");
  CHECK(words.money(1234.6, "EUR") == "1235 EUR");
}

// Kadane & Simon (1977) order; values computed independently by hand from sum of
// P(not yet cured) x cost.
TEST_CASE("single replacements with a check after each go by probability per cost") {
  const std::vector<double> p{0.45, 0.30, 0.15, 0.10}, c{9, 5, 1, 4};
  double expected = 0;
  CHECK(order_by_ratio(p, c, &expected) == std::vector<std::uint32_t>{2, 1, 0, 3});
  CHECK(expected == Approx(10.6));

  // After a test with P(positive | cause) .9 .2 .1 .1.
  const std::vector<double> positive{0.9, 0.2, 0.1, 0.1};
  double p_positive = 0;
  for (std::size_t i = 0; i < 4; ++i) p_positive += p[i] * positive[i];
  CHECK(p_positive == Approx(0.49));
  std::vector<double> after(4), after_not(4);
  for (std::size_t i = 0; i < 4; ++i) {
    after[i] = p[i] * positive[i] / p_positive;
    after_not[i] = p[i] * (1 - positive[i]) / (1 - p_positive);
  }
  double with = 0, without = 0;
  CHECK(order_by_ratio(after, c, &with) == std::vector<std::uint32_t>{0, 2, 1, 3});
  CHECK(with == Approx(9.969388).epsilon(1e-6));
  CHECK(order_by_ratio(after_not, c, &without) == std::vector<std::uint32_t>{2, 1, 3, 0});
  CHECK(without == Approx(6.529412).epsilon(1e-6));
  CHECK(expected - (p_positive * with + (1 - p_positive) * without) == Approx(2.385));
}
