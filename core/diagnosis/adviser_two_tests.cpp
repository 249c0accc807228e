// What two tests save together: where neither pays alone, and where a look may go before the test
// that saves most. The value of one test is in adviser.cpp.
#include <algorithm>
#include <array>
#include <limits>

#include "core/diagnosis/adviser.h"
#include "core/diagnosis/program.h"
#include "core/ranked.h"

namespace faultodds::diagnosis {
namespace {

constexpr std::size_t kFirstTests = 6;                // looked one step further at
constexpr std::size_t kFamily = network::kLanes - 1;  // sets considered after two tests

}  // namespace

std::vector<ItemSet> Adviser::family(std::span<const TestValue* const> tests) {
  std::vector<ItemSet> sets{best_.set};
  const auto add = [&](const ItemSet& set) {
    if (sets.size() < kFamily && std::find(sets.begin(), sets.end(), set) == sets.end()) {
      sets.push_back(set);
    }
  };
  add(ItemSet(items_.size()));
  std::vector<std::uint32_t> others;
  for (std::uint32_t i = 0; i < items_.size(); ++i) {
    if (best_.set.has(i)) {
      add(best_.set.without(i));
    } else if (items_[i].may_be_ordered) {
      others.push_back(i);
    }
  }
  std::stable_sort(others.begin(), others.end(), [&](std::uint32_t a, std::uint32_t b) {
    return cure_.at_most_cured(a) > cure_.at_most_cured(b);
  });
  for (std::size_t k = 0; k < std::min(kAlternatives, others.size()); ++k) {
    add(best_.set.with(others[k]));
  }
  for (const TestValue* value : tests) {
    const std::uint32_t o = value->observation;
    for (std::size_t i = 0; i < outcomes(o); ++i) {
      add(decision_.best_given(o, weights(o, i), left_ - value->minutes).set);
    }
  }
  return sets;
}

const TestValue* Adviser::first_of(std::span<const TestValue* const> paying) {
  const TestValue* const most = paying.front();
  const auto look = std::find_if(paying.begin(), paying.end(), [&](const TestValue* value) {
    const auto kind = analysis_.observations[value->observation].kind;
    return kind == circuit::ObservationKind::look;
  });
  if (look == paying.end() || *look == most || !case_.look_further) return most;
  const TestValue* const pool[] = {most, *look};
  const std::vector<ItemSet> sets = family(pool);
  const double net = second_step(*most, pool, sets).net();
  return ranked(second_step(**look, pool, sets).net()) < ranked(net) ? most : *look;
}

std::optional<TwoTests> Adviser::look_further(const Advice& advice) {
  std::vector<const TestValue*> tests;
  for (const TestValue& value : advice.tests) {
    // Two tests save no more than perfect information, and the second costs something too.
    if (value.cost < advice.perfect_information && bears_on_items(value.observation)) {
      tests.push_back(&value);
    }
  }
  if (tests.size() < 2) return std::nullopt;
  std::vector<const TestValue*> saving;
  for (const TestValue& value : advice.tests) {
    if (value.expected_saving > 0) saving.push_back(&value);
  }
  const std::vector<ItemSet> sets = family(saving);
  std::optional<TwoTests> best;
  for (std::size_t k = 0; k < std::min(kFirstTests, tests.size()); ++k) {
    TwoTests two = second_step(*tests[k], tests, sets);
    if (two.seconds.empty()) continue;
    if (two.net() > (best ? best->net() : kRounding * std::max(1.0, best_.loss))) {
      best = std::move(two);
    }
  }
  return best;
}

TwoTests Adviser::second_step(const TestValue& first, std::span<const TestValue* const> seconds,
                              const std::vector<ItemSet>& sets) {
  const std::uint32_t o1 = first.observation;
  // By grade of the first test: P(cured by the set, S1 = s, S2 = .): of the sets, of those that
  // the price of coming again rests on, and whatever happens.
  std::vector<ItemSet> asked = sets;
  for (const ItemSet& set : decision_.stake_sets()) asked.push_back(set);
  asked.push_back(Cure::whatever());
  std::vector<std::uint32_t> told;
  for (const TestValue* value : seconds) told.push_back(value->observation);
  const std::array<Cure::BySet, 3> joint = cure_.by_grade(asked, o1, told);
  std::vector<double> cost, minutes, new_parts;
  for (const ItemSet& set : sets) {
    cost.push_back(compared_cost(items_, set));
    minutes.push_back(repair_minutes(items_, set));
    new_parts.push_back(cure_.new_parts(set));
  }
  // The least loss of these sets; `p` is P(cured, what is known then), asked by asked.
  const auto smallest = [&](const std::vector<double>& p, double left) {
    const double all = p.back();
    const std::span<const double> stake(p.data() + sets.size(), p.size() - sets.size() - 1);
    const RepairDecision::Prices prices = decision_.prices(RepairDecision::stake_of(all, stake));
    double least = std::numeric_limits<double>::infinity();
    for (std::size_t r = 0; r < sets.size(); ++r) {
      if (minutes[r] > left) continue;
      least = std::min(least, cost[r] * all + prices.of(sets[r], p[r], new_parts[r]));
    }
    return least;
  };

  TwoTests two;
  two.first = first;
  two.cost = first.cost;
  const std::vector<bool> done = with_setup(done_, o1);
  double after = 0;
  std::vector<Grades> given(asked.size());
  std::vector<double> weighed(asked.size());
  const auto weigh = [](const Grades& p, const Grades& w) {
    return p[0] * w[0] + p[1] * w[1] + p[2] * w[2];
  };
  for (std::size_t i = 0; i < outcomes(o1); ++i) {
    const OutcomeWeights w1 = weights(o1, i);
    const double p = weigh(cure_.anything().grades[o1], w1.whatever);
    const double left = left_ - first.minutes;
    double least = decision_.best_given(o1, w1, left).loss, second_cost = 0;
    std::optional<std::uint32_t> second;
    for (const TestValue* value : seconds) {
      const std::uint32_t o2 = value->observation;
      if (o2 == o1) continue;
      const double takes = minutes_of(o2, done);
      if (takes > left) continue;
      const double price = p * takes * case_.economics.per_minute();
      for (std::size_t r = 0; r < asked.size(); ++r) {
        const Grades& w = r + 1 == asked.size() ? w1.whatever : w1.cured;
        given[r] = {};
        for (std::size_t s = 0; s < 3; ++s) {
          for (std::size_t t = 0; t < 3; ++t) given[r][t] += w[s] * joint[s][r][o2][t];
        }
      }
      double then = price;
      for (std::size_t k = 0; k < outcomes(o2) && then < least; ++k) {
        const OutcomeWeights w2 = weights(o2, k);
        for (std::size_t r = 0; r < asked.size(); ++r) {
          weighed[r] = weigh(given[r], r + 1 == asked.size() ? w2.whatever : w2.cured);
        }
        then += smallest(weighed, left - takes);
      }
      if (then < least - kRounding) {
        least = then;
        second = o2;
        second_cost = price;
      }
    }
    after += least - second_cost;
    two.cost += second_cost;
    if (second && std::find(two.seconds.begin(), two.seconds.end(), *second) == two.seconds.end()) {
      two.seconds.push_back(*second);
    }
  }
  two.expected_saving = best_.loss - after;
  return two;
}

bool Adviser::bears_on_items(std::uint32_t o) {
  if (item_observations_.empty()) {
    item_observations_.assign(analysis_.observations.size(), false);
    for (const RepairItem& item : items_) {
      for (std::uint32_t m : item.modes) {
        for (std::uint32_t seen : program_.observations_of_mode()[m]) {
          item_observations_[seen] = true;
        }
      }
    }
  }
  return item_observations_[o];
}

}  // namespace faultodds::diagnosis
