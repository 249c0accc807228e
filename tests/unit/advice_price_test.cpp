// What coming again costs where the owner does not say, and the best set under it, against sums by
// hand and every set of items.
#include <algorithm>
#include <catch2/catch.hpp>
#include <cmath>
#include <iterator>
#include <limits>
#include <optional>

#include "core/diagnosis/advice.h"
#include "core/diagnosis/cure.h"
#include "core/diagnosis/repair_set.h"
#include "tests/unit/advice_enumeration.h"

using namespace advice_test;
using faultodds::diagnosis::advise;
using faultodds::diagnosis::CaseNumbers;
using faultodds::diagnosis::complained_of;
using faultodds::diagnosis::Cure;
using faultodds::diagnosis::ItemSet;
using faultodds::diagnosis::present_of;
using faultodds::diagnosis::read_case;
using faultodds::diagnosis::RepairDecision;

namespace {

constexpr std::uint64_t kPriced = 120;

// P(the complaint is cured once these components are replaced, by parts that are surely sound).
double cured_by(const Analysis& analysis, const Case& the_case, const std::vector<bool>& replaced) {
  const Causes causes = causes_of(analysis, the_case);
  const double new_parts =
      std::pow(kSoundNewPart, std::count(replaced.begin(), replaced.end(), true));
  return Enumeration(analysis, the_case).mean([&](const std::vector<int>& grade) {
    return cured(analysis, causes, replaced, grade) / new_parts;
  });
}

// Calls `look` with the prices of each random circuit, its cure and its number of items.
template <class Look>
void for_each_priced(const Look& look) {
  for (std::uint64_t seed = 0; seed < kPriced; ++seed) {
    const Sample sample = random_sample(seed);
    const Model model = sample.machine.compile();
    const CaseNumbers numbers = read_case(model, sample.the_case);
    const auto items =
        repair_items(sample.machine.analysis, numbers, sample.the_case, present_of(model));
    const auto complaint = complained_of(sample.machine.analysis, numbers, present_of(model));
    Cure cure(model, numbers, items, complaint);
    RepairDecision decision(cure, items, {std::nullopt, 10.0 * static_cast<double>(seed)});
    std::vector<double> cured;
    for (const ItemSet& set : decision.stake_sets()) cured.push_back(cure.probability(set));
    INFO("seed " << seed);
    look(decision.prices(RepairDecision::stake_of(1, cured)), cure, items.size());
  }
}

ItemSet set_of(std::size_t bits, std::size_t items) {
  ItemSet set(items);
  for (std::uint32_t i = 0; i < items; ++i) {
    if ((bits >> i & 1) != 0) set.add(i);
  }
  return set;
}

}  // namespace

TEST_CASE("after no set of items is less left to pay than the bound by what it cures says") {
  double closest = 0;
  for_each_priced([&](const RepairDecision::Prices& prices, Cure& cure, std::size_t items) {
    const double either = cure.at_most_either();
    for (std::size_t bits = 0; bits < (std::size_t{1} << items); ++bits) {
      const ItemSet set = set_of(bits, items);
      const double well = cure.probability(set), new_parts = cure.new_parts(set);
      const double bound = prices.at_least(well, either) + prices.again_at_least(well, new_parts);
      const double paid = prices.of(set, well, new_parts);
      INFO("set " << bits);
      CHECK(bound <= paid + 1e-9 * std::fabs(paid));
      if (paid > 0) closest = std::max(closest, bound / paid);
    }
  });
  CHECK(closest > 0.9);  // it is near where little else is to be tried
}

TEST_CASE("fitting an item saves later no more than those pay who need it") {
  for_each_priced([&](const RepairDecision::Prices& prices, Cure& cure, std::size_t items) {
    for (std::uint32_t i = 0; i < items; ++i) {
      const double most = cure.at_most_cured(i) * prices.most();
      for (std::size_t bits = 0; bits < (std::size_t{1} << items); ++bits) {
        const ItemSet without = set_of(bits, items), with = without.with(i);
        INFO("item " << i << ", set " << bits);
        // New parts that are bad beside it left out: they are paid for with either set.
        CHECK(prices.of(without, cure.probability(without), 1) <=
              prices.of(with, cure.probability(with), 1) + most + 1e-9);
      }
    }
  });
}

TEST_CASE("a come-back not given costs what follows: a second visit and one more part each time") {
  Machine machine;
  const auto a = machine.part("a", 0.3, 2000), b = machine.part("b", 0.1, 500);
  const auto symptom = machine.observation("symptom", {{a}, {b}}, kTelling, true);
  const auto check = machine.observation("check", {{a}}, kTelling);
  for (auto& o : machine.analysis.observations) o.background = {1, 0, 0};
  Case the_case;
  the_case.evidence = {saw(symptom, 1)};
  const Model model = machine.compile();
  auto advice = advise(model, the_case);
  REQUIRE(advice);
  const auto well = [&](bool first, bool second) {
    return cured_by(machine.analysis, the_case, {first, second});
  };
  // a goes first: dearer, but it cures that much more often. What is left then needs both.
  const double none = 1 - well(false, false), cures_a = well(true, false) - well(false, false),
               cures_b = well(false, true) - well(false, false);
  REQUIRE(cures_b / (600 + 500) < cures_a / (600 + 2000));
  const double left = none - cures_a, both = left - cures_b;
  const double one_by_one = none * (600 + 2000) + left * (600 + 500) + both * 3600;
  const double found = none * (600 + 2000) + left * 3600 + cures_b * (600 + 500);
  const double price = std::min(one_by_one, found) + both * (600 + 2000 + 500);
  CHECK(advice->come_back == Approx(price / none));
  // However dear, a part that is surely at fault is replaced.
  the_case.evidence.push_back(saw(check, 1));
  advice = advise(model, the_case);
  REQUIRE(advice);
  CHECK(advice->repair.components == std::vector<std::uint32_t>{0});
}

TEST_CASE("where no part may help, coming again ends where somebody finds out what it is") {
  Machine machine;
  const auto a = machine.part("a", 0.05, 2000), b = machine.part("b", 0.02, 500);
  const auto symptom = machine.observation("symptom", {{a}, {b}}, kTelling, true);
  for (auto& o : machine.analysis.observations) o.background = {0.8, 0.1, 0.1};
  Case the_case;
  the_case.evidence = {saw(symptom, 1)};
  const auto advice = advise(machine.compile(), the_case);
  REQUIRE(advice);
  const auto well = [&](bool first, bool second) {
    return cured_by(machine.analysis, the_case, {first, second});
  };
  const double none = 1 - well(false, false), elsewhere = 1 - well(true, true),
               cures_a = well(true, false) - well(false, false),
               cures_b = well(false, true) - well(false, false);
  REQUIRE(elsewhere > 0.5 * none);
  REQUIRE(cures_b / (600 + 500) < cures_a / (600 + 2000));
  const double one = none - elsewhere - cures_a, both = one - cures_b;
  const double there = 600 + (2000 + 500) / 2.0;
  // Found out at once, after the first part, or after both.
  const double own_a = cures_a * 2600, own_b = cures_b * 1100;
  const double found[] = {
      none * 3600 + own_a + own_b, none * 2600 + (none - cures_a) * 3600 + own_b,
      none * 2600 + (none - cures_a) * 1100 + (none - cures_a - cures_b) * 3600};
  const double least = *std::min_element(std::begin(found), std::end(found));
  const double price = least + both * (600 + 2000 + 500) + elsewhere * there;
  CHECK(advice->come_back == Approx(price / none));
}
