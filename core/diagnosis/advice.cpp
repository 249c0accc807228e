#include "core/diagnosis/advice.h"

#include <algorithm>
#include <cmath>
#include <limits>
#include <memory>
#include <set>

#include "core/circuit/kinds.h"
#include "core/diagnosis/assessment.h"
#include "core/diagnosis/cause.h"
#include "core/diagnosis/cause_hypotheses.h"
#include "core/diagnosis/cause_values.h"
#include "core/diagnosis/preparation.h"
#include "core/diagnosis/program.h"
#include "core/diagnosis/relevant_part.h"
#include "core/diagnosis/renewal.h"
#include "core/error.h"
#include "core/number_text.h"

namespace faultodds::diagnosis {
namespace {

constexpr std::size_t kAlternatives = 3;
constexpr std::size_t kMostChecks = 6;      // second-fault checks in a row
constexpr double kLeastImprovement = 1e-4;  // of a second fault's probability, to be a check
constexpr double kLeastMinutes = 0.01;      // a test that takes no time
constexpr std::size_t kBoundItems = 12;     // in the bound on perfect information
constexpr int kMostLooks = 2;               // at the complaint
constexpr std::size_t kFirstTests = 6;      // looked one step further at
constexpr std::size_t kFamily = network::kLanes - 1;      // sets considered after two tests
constexpr double kRounding = 1e-9;                        // relative, of money
constexpr double kEqual = 1e-9;                           // probabilities apart by rounding
constexpr std::size_t kQuickTree = std::size_t{8} << 20;  // bytes

class Adviser {
 public:
  Adviser(const Model& model, const Case& the_case, const CaseNumbers& numbers,
          const Present& present, std::span<const RepairItem> items)
      : model_(model),
        analysis_(model.analysis()),
        program_(model.program()),
        case_(the_case),
        numbers_(numbers),
        present_(present),
        items_(items),
        cure_(model, numbers, items, complained_of(model.analysis(), numbers, present)),
        decision_(cure_, items, {the_case.economics.come_back, the_case.economics.second_visit}),
        preparation_(model, the_case),
        done_(preparation_.done()),
        left_(the_case.work.ready_within_minutes.value_or(std::numeric_limits<double>::infinity())),
        observed_(present.observations, false) {
    decision_.within(left_);
    for (const ObservedGrade& seen : numbers.observed) {
      if (seen.observation < present.observations) observed_[seen.observation] = true;
    }
  }

  // All of it, or what is to be done alone.
  Advice advise(std::span<const PartBefore> replaced, bool all = true) {
    Advice advice;
    advice.currency = case_.economics.currency;
    advice.come_back = decision_.come_back(cure_.nothing());
    best_ = decision_.best();
    advice.repair = plan_of(best_.set);
    if (all) alternatives(advice);
    values(advice);
    advice.perfect_information = perfect_information();
    decide(advice);
    if (!contradict(advice, all)) doubt(advice);
    own_order(advice);
    in_time(advice);
    if (all) second_fault(advice);
    verify(advice);
    advice.error = cure_.error();
    if (!all) return advice;
    advice.trail = evidence_trail(model_, case_, numbers_, decision_, best_.set);
    if (case_.visit_minutes) {
      advice.visit = plan_visit(model_, case_, numbers_, items_, cure_, present_.observations,
                                std::min(*case_.visit_minutes, left_));
    }
    bring(advice);
    reason(advice);
    if (best_.within > kRounding * std::max(1.0, best_.loss)) {
      advice.reason +=
          " Too many parts are alike to compare every set of them: another may cost up to " +
          money(best_.within) + " less.";
    }
    if (advice.own_order) advice.reason = own_order_text(advice, advice.reason);
    if (advice.in_time) advice.reason += in_time_text(advice);
    if (advice.contradiction && advice.test != advice.contradiction->observation) {
      advice.reason += " But " + contradiction(*advice.contradiction);
    }
    as_original(advice);
    for (const PartBefore& before : replaced) {
      advice.replaced.push_back({before.component, 1 - cure_.all_sound(before.modes)});
    }
    return advice;
  }

 private:
  RepairPlan plan_of(const ItemSet& set) {
    RepairPlan plan;
    std::vector<double> probability, cost;
    const std::vector<std::uint32_t> members = set.members();
    for (std::uint32_t i : members) {
      probability.push_back(cure_.at_most_cured(i));
      cost.push_back(items_[i].cost);
    }
    for (std::uint32_t k : order_by_ratio(probability, cost)) {
      plan.components.push_back(items_[members[k]].component);
    }
    plan.cost = repair_cost(items_, set);
    plan.residual_risk = decision_.risk(set);
    plan.expected_cost = decision_.expected_cost(set);
    return plan;
  }

  // Nothing, the best set less one item, and the best set and one of the more probable others.
  void alternatives(Advice& advice) {
    std::vector<ItemSet> sets;
    const auto consider = [&](ItemSet set) {
      if (set != best_.set && std::find(sets.begin(), sets.end(), set) == sets.end()) {
        sets.push_back(std::move(set));
      }
    };
    consider(ItemSet(items_.size()));
    std::vector<std::uint32_t> others;
    for (std::uint32_t i = 0; i < items_.size(); ++i) {
      if (best_.set.has(i)) {
        consider(best_.set.without(i));
      } else if (items_[i].may_be_ordered) {
        others.push_back(i);
      }
    }
    std::stable_sort(others.begin(), others.end(), [&](std::uint32_t a, std::uint32_t b) {
      return cure_.at_most_cured(a) > cure_.at_most_cured(b);
    });
    for (std::size_t k = 0; k < std::min(kAlternatives, others.size()); ++k) {
      consider(best_.set.with(others[k]));
    }
    std::erase_if(sets, [&](const ItemSet& set) { return repair_minutes(items_, set) > left_; });
    for (const ItemSet& set : sets) advice.alternatives.push_back(plan_of(set));
    std::stable_sort(
        advice.alternatives.begin(), advice.alternatives.end(),
        [](const RepairPlan& a, const RepairPlan& b) { return a.expected_cost < b.expected_cost; });
    if (advice.alternatives.size() > kAlternatives) advice.alternatives.resize(kAlternatives);
  }

  double minutes_of(std::uint32_t o, const std::vector<bool>& done) const {
    return preparation_.minutes(o, done);
  }
  std::vector<bool> with_setup(std::vector<bool> done, std::uint32_t o) const {
    for (const std::uint32_t step : preparation_.of(o)) done[step] = true;
    return done;
  }

  bool may_propose(std::uint32_t o) const { return preparation_.may_propose(o); }
  std::size_t outcomes(std::uint32_t o) const { return analysis_.observations[o].outcomes.size(); }
  OutcomeWeights weights(std::uint32_t o, std::size_t outcome) const {
    return outcome_weights(analysis_.observations[o], seen_of(numbers_, o), outcome);
  }
  // Whether the complaint may be looked at once more.
  bool again(std::uint32_t o) const {
    const auto complaint = complaint_of(analysis_, numbers_, case_);
    if (!complaint || o != *complaint) return false;
    const auto looks = std::count_if(case_.evidence.begin(), case_.evidence.end(),
                                     [&](const Evidence& e) { return e.observation == o; });
    return looks < kMostLooks;
  }

  // What knowing the outcome of o saves, before its cost; `now` is the loss without it.
  double saving(RepairDecision& decision, std::uint32_t o, double now) {
    double after = 0;
    for (std::size_t i = 0; i < outcomes(o); ++i)
      after += decision.best_given(o, weights(o, i), left_ - minutes_of(o, done_)).loss;
    const double saved = now - after;
    return saved > kRounding * std::max(1.0, now) ? saved : 0;
  }

  void values(Advice& advice) {
    for (std::uint32_t o = 0; o < present_.observations; ++o) {
      if (analysis_.observations[o].sets.empty() || !cure_.knows(o)) continue;
      if (observed_[o] && !again(o)) continue;
      if (!may_propose(o)) continue;
      TestValue value;
      value.observation = o;
      value.minutes = minutes_of(o, done_);
      value.cost = value.minutes * case_.economics.per_minute();
      value.expected_saving = saving(decision_, o, best_.loss);
      advice.tests.push_back(value);
    }
    std::stable_sort(advice.tests.begin(), advice.tests.end(),
                     [](const TestValue& a, const TestValue& b) { return a.net() > b.net(); });
  }

  // An upper bound: where all items cheaper than one together do not cure, even who knows
  // everything pays for that one or a dearer one, or for a come-back.
  double perfect_information() {
    const double come_back = decision_.least_come_back();
    std::vector<std::pair<double, std::uint32_t>> least;
    for (std::uint32_t i = 0; i < items_.size(); ++i) {
      const RepairItem& item = items_[i];
      least.emplace_back(std::min(item.cost + item.waiting + item.restraint, come_back), i);
    }
    std::sort(least.begin(), least.end());
    if (least.size() > kBoundItems) {
      // As if each of the cheapest cost no more than the last of them.
      least.erase(least.begin(), least.end() - static_cast<std::ptrdiff_t>(kBoundItems));
    }
    ItemSet cheaper = cure_.nothing();
    for (std::uint32_t i = 0; i < items_.size(); ++i) {
      if (std::none_of(least.begin(), least.end(), [&](const auto& l) { return l.second == i; })) {
        cheaper.add(i);
      }
    }
    double at_least = 0, before = 0;
    for (const auto& [cost, i] : least) {
      at_least += (cost - before) * (1 - cure_.probability(cheaper));
      before = cost;
      cheaper.add(i);
    }
    at_least += (come_back - before) * (1 - cure_.probability(cheaper));
    return std::max(0.0, best_.loss - at_least);
  }

  void decide(Advice& advice) {
    const TestValue* locked_out = nullptr;
    const TestValue* any = nullptr;
    for (const TestValue& value : advice.tests) {
      if (!(value.net() > 0)) break;
      if (!any) any = &value;
      if (!locked_out && !circuit::takes_an_instrument(analysis_.observations[value.observation])) {
        locked_out = &value;
      }
    }
    if (any) {
      advice.stop = false;
      propose(advice, (locked_out ? locked_out : any)->observation);
      return;
    }
    if (!case_.look_further) return;
    advice.two_tests = look_further(advice);
    if (advice.two_tests) {
      advice.stop = false;
      propose(advice, advice.two_tests->first.observation);
    }
  }

  // No part on findings that contradict each other, before the most doubtful was looked at again.
  // Returns whether they do. Where other tests come first it is said only, if `say`.
  bool contradict(Advice& advice, bool say) {
    const bool orders = advice.stop && !best_.set.empty();
    if (!orders && (advice.stop || !say)) return false;
    const std::optional<Doubts> all = doubts(model_, numbers_);
    if (!all || all->any < kContradiction) return false;  // or nobody knows
    std::optional<Contradiction> most;
    for (std::size_t i = 0; i < all->wrong.size(); ++i) {
      const std::uint32_t o = numbers_.observed[i].observation;
      if (!may_look_again(o)) continue;
      const double more = all->wrong[i] - (most ? most->wrong : 0);
      const bool sooner = most && minutes_of(o, done_) < minutes_of(most->observation, done_);
      if (more > kEqual || (sooner && more > -kEqual)) most = {o, all->wrong[i], all->any};
    }
    if (!most) return false;
    advice.contradiction = *most;
    order_nothing(advice);
    if (!orders) return true;
    advice.stop = false;
    propose(advice, most->observation);
    return true;
  }

  // Whether it was seen once only, of the parts that are in now, and can be seen again.
  bool may_look_again(std::uint32_t o) const {
    if (o >= present_.observations || !may_propose(o)) return false;
    std::size_t looks = 0;
    for (const Evidence& e : case_.evidence) {
      if (e.observation != o) continue;
      if (e.again) return false;
      ++looks;
    }
    return looks == 1;
  }

  void order_nothing(Advice& advice) {
    std::erase_if(advice.alternatives, [](const auto& plan) { return plan.components.empty(); });
    advice.alternatives.insert(advice.alternatives.begin(), advice.repair);
    if (advice.alternatives.size() > kAlternatives) advice.alternatives.resize(kAlternatives);
    best_ = {cure_.nothing(), decision_.loss(cure_.nothing()), 0};
    advice.repair = plan_of(best_.set);
  }

  // No part for what is most likely none of them.
  void doubt(Advice& advice) {
    if (!advice.stop || best_.set.empty()) return;
    const auto complaint = complaint_of(analysis_, numbers_, case_);
    if (!complaint) return;
    try {
      const CauseAnswer cause =
          cure_.hypotheses()
              ? CauseAnswer(cause_sums(model_, numbers_, *complaint, *cure_.hypotheses()))
              : CausePlan::of(model_, numbers_, *complaint, CauseTests::none)
                    ->answer(model_, numbers_);
      const std::size_t elsewhere = cause_values(analysis_, *complaint).elsewhere();
      for (std::size_t v = 0; v < cause.values(); ++v) {
        if (cause.share(v) > cause.share(elsewhere)) return;
      }
      advice.elsewhere = cause.share(elsewhere);
    } catch (const Error& error) {
      if (error.code() != Code::limit_exceeded) throw;
      return;  // nobody knows
    }
    order_nothing(advice);
  }

  // The technician's own next test in place of what is advised.
  void own_order(Advice& advice) {
    const auto made = [&](std::uint32_t o) {
      return std::any_of(case_.evidence.begin(), case_.evidence.end(),
                         [&](const Evidence& e) { return present_.original(e.observation) == o; });
    };
    const auto next =
        std::find_if(case_.work.order.begin(), case_.work.order.end(),
                     [&](std::uint32_t o) { return !made(o) && may_propose(o) && cure_.knows(o); });
    if (next == case_.work.order.end()) return;
    OwnOrder own;
    own.test = *next;
    own.instead_of = advice.test;
    const auto net = [&](std::uint32_t o) {
      for (const TestValue& value : advice.tests) {
        if (value.observation == o) return value.net();
      }
      return -minutes_of(o, done_) * case_.economics.per_minute();
    };
    const double advised =
        advice.two_tests ? advice.two_tests->net() : (advice.test ? net(*advice.test) : 0);
    own.extra_cost = own.instead_of == own.test ? 0 : advised - net(own.test);
    advice.own_order = own;
    if (own.instead_of == own.test) return;
    advice.stop = false;
    advice.two_tests.reset();
    propose(advice, own.test);
  }

  // What the time that is left keeps from being done.
  void in_time(Advice& advice) {
    if (!case_.work.ready_within_minutes) return;
    InTime& in_time = advice.in_time.emplace();
    in_time.ready_within = left_;
    in_time.minutes = repair_minutes(items_, best_.set);
    for (std::uint32_t i = 0; i < items_.size(); ++i) {
      const double minutes = repair_minutes(items_, cure_.nothing().with(i));
      if (minutes > left_) {
        in_time.too_long.push_back({items_[i].component, minutes, items_[i].lead_days});
      }
    }
    decision_.within(std::numeric_limits<double>::infinity());
    const ItemSet later = decision_.best().set;
    decision_.within(left_);
    if (later != best_.set) in_time.later = plan_of(later);
  }

  void propose(Advice& advice, std::uint32_t o) {
    advice.test = o;
    advice.again = observed_[o];
    advice.outcomes.clear();
    const Grades& grades = cure_.anything().grades[o];
    for (std::size_t i = 0; i < outcomes(o); ++i) {
      const Grades w = weights(o, i).whatever;
      advice.outcomes.push_back(grades[0] * w[0] + grades[1] * w[1] + grades[2] * w[2]);
    }
    advice.minutes = minutes_of(o, done_);
  }

  // The sets that two outcomes may make best: the best now, after any one outcome, and what differs
  // from the best by one item.
  std::vector<ItemSet> family(const Advice& advice) {
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
    for (const TestValue& value : advice.tests) {
      if (!(value.expected_saving > 0)) continue;
      for (std::size_t i = 0; i < outcomes(value.observation); ++i) {
        add(decision_
                .best_given(value.observation, weights(value.observation, i), left_ - value.minutes)
                .set);
      }
    }
    return sets;
  }

  // The best first test when a second may follow it. Nothing when that does not pay either. The
  // repair after both is chosen from a family of sets, so that the saving is at least what it says.
  std::optional<TwoTests> look_further(const Advice& advice) {
    std::vector<const TestValue*> tests;
    for (const TestValue& value : advice.tests) {
      // Two tests save no more than perfect information, and the second costs something too.
      if (value.cost < advice.perfect_information && bears_on_items(value.observation)) {
        tests.push_back(&value);
      }
    }
    if (tests.size() < 2) return std::nullopt;
    const std::vector<ItemSet> sets = family(advice);
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

  TwoTests second_step(const TestValue& first, const std::vector<const TestValue*>& seconds,
                       const std::vector<ItemSet>& sets) {
    const std::uint32_t o1 = first.observation;
    // By grade of the first test: P(cured by the set, S1 = s, S2 = .): of the sets, of those that
    // the price of coming again rests on, and whatever happens.
    std::vector<ItemSet> asked = sets;
    for (const ItemSet& set : decision_.stake_sets()) asked.push_back(set);
    asked.push_back(Cure::whatever());
    std::vector<std::vector<std::vector<Grades>>> joint(3);
    for (std::size_t s = 0; s < 3; ++s) {
      Grades only{};
      only[s] = 1;
      joint[s] = cure_.with(asked, std::vector<Supposition>{{o1, only}});
    }
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
        const double failed = std::max(0.0, all - p[r] * new_parts[r]);
        least = std::min(least, cost[r] * all + prices.of(sets[r], failed));
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
      if (second &&
          std::find(two.seconds.begin(), two.seconds.end(), *second) == two.seconds.end()) {
        two.seconds.push_back(*second);
      }
    }
    two.expected_saving = best_.loss - after;
    return two;
  }

  bool bears_on_items(std::uint32_t o) {
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

  // Modes of the components to be repaired, and the modes left that could cause the complaint.
  std::vector<bool> repaired_modes() const {
    std::vector<bool> repaired(analysis_.modes.size(), false);
    std::vector<bool> component(analysis_.components.size(), false);
    for (std::uint32_t i : best_.set.members()) component[items_[i].component] = true;
    for (std::size_t m = 0; m < repaired.size(); ++m) {
      repaired[m] = component[analysis_.modes[m].component_index];
    }
    return repaired;
  }

  // Tests that say nothing about what is repaired anyway, chosen one by one by how much a normal
  // outcome lowers the probability of another fault per minute.
  void second_fault(Advice& advice) {
    SecondFault& second = advice.second_fault;
    second.target = case_.economics.second_fault_target;
    second.probability = decision_.risk(best_.set);
    second.reached = second.probability <= second.target;
    if (second.reached || best_.set.empty()) return;  // nothing is ordered yet
    const std::vector<bool> repaired = repaired_modes();
    std::vector<std::uint32_t> candidates;
    for (std::uint32_t o = 0; o < present_.observations; ++o) {
      const auto& sets = analysis_.observations[o].sets;
      if (observed_[o] || !may_propose(o) || !bears_on_items(o)) continue;
      if (std::none_of(sets.begin(), sets.end(), [&](const auto& set) {
            return std::any_of(set.modes.begin(), set.modes.end(),
                               [&](std::uint32_t m) { return repaired[m]; });
          })) {
        candidates.push_back(o);
      }
    }
    std::vector<Supposition> normal;
    std::vector<bool> done = done_;
    double now = second.probability;
    while (second.checks.size() < kMostChecks && !second.reached) {
      std::unique_ptr<Cure> own;
      if (!normal.empty()) own = std::make_unique<Cure>(cure_, normal);
      Cure& cure = own ? *own : cure_;
      const Cure::Of& cured = cure.of(best_.set);
      const Cure::Of& anything = cure.anything();
      const double new_parts = cure.new_parts(best_.set);
      std::optional<SecondFaultCheck> best;
      double best_rate = 0;
      for (std::uint32_t o : candidates) {
        const auto made = [&](const SecondFaultCheck& c) { return c.observation == o; };
        if (std::any_of(second.checks.begin(), second.checks.end(), made)) continue;
        const auto& rows = program_.rows(o);
        double none = 0, all = 0;
        for (std::size_t s = 0; s < 3; ++s) {
          none += rows[s][0] * cured.grades[o][s] * new_parts;
          all += rows[s][0] * anything.grades[o][s];
        }
        if (!(all > 0)) continue;
        SecondFaultCheck check;
        check.observation = o;
        check.minutes = minutes_of(o, done);
        check.probability = std::max(0.0, 1 - none / all);
        const double gain = now - check.probability;
        if (gain < kLeastImprovement) continue;
        double rate = gain / std::max(check.minutes, kLeastMinutes);
        // Locked out while that helps at all.
        if (!analysis_.observations[o].energised) rate += 1e6;
        if (!best || rate > best_rate) {
          best = check;
          best_rate = rate;
        }
      }
      if (!best) break;
      const auto& rows = program_.rows(best->observation);
      normal.push_back({best->observation, {rows[0][0], rows[1][0], rows[2][0]}});
      done = with_setup(std::move(done), best->observation);
      now = best->probability;
      second.reached = now <= second.target;
      second.checks.push_back(*best);
    }
  }

  // The locked-out (else energised) test that looks at the new parts and leaves the least doubt per
  // minute about the others, and the complaint itself once more.
  void verify(Advice& advice) {
    if (best_.set.empty()) return;
    std::vector<bool> causes(analysis_.modes.size(), false);
    for (const std::uint32_t i : best_.set.members()) {
      for (std::uint32_t m : items_[i].modes) causes[m] = true;
    }
    std::vector<bool> is_complaint(present_.observations, false);
    for (std::uint32_t o : numbers_.complaint) is_complaint[present_.original(o)] = true;
    std::vector<std::uint32_t> tests;
    for (std::uint32_t o = 0; o < present_.observations; ++o) {
      const auto& sets = analysis_.observations[o].sets;
      const bool looks_at_it = std::any_of(sets.begin(), sets.end(), [&](const auto& set) {
        return set.modes.size() == 1 && causes[set.modes[0]];
      });
      if (!may_propose(o)) continue;
      if (looks_at_it || is_complaint[o]) tests.push_back(o);
    }
    if (tests.empty()) return;
    const std::vector<CureSums::After> predictions = cure_.after(best_.set, tests);
    std::optional<Verification> best;
    double best_rate = 0;
    const double risk = decision_.risk(best_.set), new_parts = cure_.new_parts(best_.set);
    for (std::size_t k = 0; k < tests.size(); ++k) {
      const auto& matrix = analysis_.observations[tests[k]].matrix;
      Verification one;
      one.observation = tests[k];
      one.minutes = minutes_of(tests[k], done_);
      double cured = 0;
      for (std::size_t s = 0; s < 3; ++s) {
        one.normal += matrix[s][0] * predictions[k].grades[s];
        cured += matrix[s][0] * predictions[k].cured[s] * new_parts;
      }
      one.risk_if_normal = one.normal > 0 ? std::max(0.0, 1 - cured / one.normal) : risk;
      one.is_complaint = is_complaint[tests[k]];
      if (one.is_complaint) {
        advice.verify.push_back(one);
        continue;
      }
      double rate = (risk - one.risk_if_normal) / std::max(one.minutes, kLeastMinutes);
      if (!analysis_.observations[tests[k]].energised) rate += 1e6;
      if (!best || rate > best_rate) {
        best = one;
        best_rate = rate;
      }
    }
    if (best) advice.verify.insert(advice.verify.begin(), *best);
  }

  void bring(Advice& advice) {
    std::vector<std::uint32_t> tests;
    if (advice.test) tests.push_back(*advice.test);
    if (advice.two_tests) {
      tests.insert(tests.end(), advice.two_tests->seconds.begin(), advice.two_tests->seconds.end());
    }
    for (const auto& c : advice.second_fault.checks) tests.push_back(c.observation);
    for (const auto& v : advice.verify) tests.push_back(v.observation);
    if (advice.visit) {
      for (const auto& t : advice.visit->tests) tests.push_back(t.observation);
    }
    advice.bring = bring_list(analysis_, tests);
  }

  std::string component_title(std::uint32_t c) const {
    return analysis_.components[c].display_title();
  }
  std::string money(double amount) const { return money_text(amount, case_.economics.currency); }

  std::string contradiction(const Contradiction& it) const {
    return "what was seen contradicts itself, some of it is wrong with probability " +
           percent_text(it.any_wrong) + ". Look again at " +
           analysis_.observations[it.observation].title + ", which is the most doubtful (" +
           percent_text(it.wrong) + ").";
  }

  std::string titles_of(const RepairPlan& plan) const {
    std::string text;
    for (std::size_t i = 0; i < plan.components.size(); ++i) {
      if (i > 0) text += i + 1 == plan.components.size() ? " and " : ", ";
      text += component_title(plan.components[i]);
    }
    return text;
  }

  std::string own_order_text(const Advice& advice, const std::string& reason) const {
    const OwnOrder& own = *advice.own_order;
    std::string text = "As your own order says: " + analysis_.observations[own.test].title + ".";
    if (own.instead_of == own.test) return text + " " + reason;
    text += " It is expected to cost " + money(std::max(0.0, own.extra_cost)) + " more than ";
    return text +
           (own.instead_of ? analysis_.observations[*own.instead_of].title
                           : std::string("to stop testing")) +
           ", which would be advised.";
  }

  std::string in_time_text(const Advice& advice) const {
    const InTime& in_time = *advice.in_time;
    if (!in_time.later) return "";
    const std::string limit = fixed_text(in_time.ready_within, 0) + " min";
    return " Without the limit of " + limit + " the best would be " +
           (in_time.later->components.empty() ? std::string("to replace nothing")
                                              : "to replace " + titles_of(*in_time.later)) +
           ": the complaint would then stay with probability " +
           percent_text(in_time.later->residual_risk) + " instead of " +
           percent_text(advice.repair.residual_risk) + ".";
  }

  void reason(Advice& advice) const {
    const std::string repair = titles_of(advice.repair);
    const std::string risk = percent_text(advice.repair.residual_risk);
    std::string& text = advice.reason;
    if (advice.elsewhere) {
      text = "Order nothing yet: the likeliest cause is none that this circuit describes (" +
             percent_text(*advice.elsewhere) +
             "). Look at the complaint again, at the hoses and connections against the drawing, "
             "and at the circuit document.";
      return;
    }
    if (advice.contradiction && advice.again && advice.test == advice.contradiction->observation) {
      text = "Order nothing yet: " + contradiction(*advice.contradiction);
      return;
    }
    if (advice.two_tests) {
      const TwoTests& two = *advice.two_tests;
      text = "No test pays on its own, but " + analysis_.observations[two.first.observation].title +
             " and what may follow it (" + analysis_.observations[two.seconds.front()].title +
             ") are expected to save " + money(two.expected_saving) + " for " + money(two.cost) +
             " of time.";
      return;
    }
    if (advice.again) {
      text = "Look once more, before parts are ordered: in " + percent_text(advice.outcomes[0]) +
             " of such cases nothing is found.";
      return;
    }
    if (!advice.stop) {
      const auto value = std::find_if(advice.tests.begin(), advice.tests.end(),
                                      [&](const auto& t) { return t.observation == *advice.test; });
      text = analysis_.observations[*advice.test].title + " is expected to save " +
             money(value == advice.tests.end() ? 0 : value->expected_saving) + " for " +
             money(advice.minutes * case_.economics.per_minute()) + " of time.";
      return;
    }
    text = advice.repair.components.empty()
               ? "No replacement is worth its cost: the complaint stays with probability " + risk
               : "Replace " + repair + ": the complaint stays with probability " + risk;
    if (advice.tests.empty()) {
      text += ", and there is no test left to make.";
      return;
    }
    const TestValue& best = advice.tests.front();
    double cheapest = std::numeric_limits<double>::infinity();
    for (const TestValue& t : advice.tests) cheapest = std::min(cheapest, t.cost);
    if (advice.perfect_information <= cheapest) {
      text += ", and even certainty would save no more than " + money(advice.perfect_information) +
              ", less than the time of any test.";
    } else {
      text += ", and no test is expected to save what its time costs (the nearest, " +
              analysis_.observations[best.observation].title + ", saves " +
              money(best.expected_saving) + " for " + money(best.cost) + ").";
    }
  }

  // In an extended model: evidence from before a repair goes under the observation it was.
  void as_original(Advice& advice) const {
    for (FaultTrail& fault : advice.trail.faults) {
      for (Weight& w : fault.weights) w.observation = present_.original(w.observation);
    }
    if (advice.trail.most_at_odds) {
      advice.trail.most_at_odds = present_.original(*advice.trail.most_at_odds);
    }
    for (auto& [o, p] : advice.trail.unexplained) o = present_.original(o);
    for (Turn& turn : advice.trail.turns) turn.observation = present_.original(turn.observation);
  }

  const Model& model_;
  const circuit::Analysis& analysis_;
  const Program& program_;
  const Case& case_;
  const CaseNumbers& numbers_;
  const Present& present_;
  std::span<const RepairItem> items_;
  Cure cure_;
  RepairDecision decision_;
  Preparation preparation_;
  std::vector<bool> done_;
  double left_;  // minutes
  std::vector<bool> observed_, item_observations_;
  RepairChoice best_;
};

bool is_quick(const Program& program) {
  return program.has_tree() && program.tree().bytes() <= kQuickTree;
}

// A part that is new in the case is not ordered again before a test of it, made since, was
// abnormal. The complaint alone says nothing of which part it is.
void hold_back_untested(const circuit::Analysis& analysis, const Present& present,
                        const CaseNumbers& numbers, std::span<const PartBefore> replaced,
                        std::vector<RepairItem>& items) {
  for (RepairItem& item : items) {
    if (std::none_of(replaced.begin(), replaced.end(), [&](const PartBefore& before) {
          return before.component == item.component;
        })) {
      continue;
    }
    item.may_be_ordered = std::any_of(
        numbers.observed.begin(), numbers.observed.end(), [&](const ObservedGrade& seen) {
          const Grades& l = seen.likelihood;
          const circuit::Observation& of = analysis.observations[seen.observation];
          if (seen.observation >= present.observations || of.symptom) return false;
          if (!(std::max(l[1], l[2]) > l[0])) return false;
          return std::any_of(of.sets.begin(), of.sets.end(), [&](const circuit::ModeSet& set) {
            return std::any_of(set.modes.begin(), set.modes.end(), [&](std::uint32_t m) {
              return analysis.modes[m].component_index == item.component;
            });
          });
        });
  }
}

// Nobody waits for a part that is at hand.
void take_from_shelf(const circuit::Analysis& analysis, const Work& work,
                     std::vector<RepairItem>& items) {
  for (RepairItem& item : items) {
    if (!is_at_hand(analysis.components[item.component], work)) continue;
    item.lead_days = 0;
    item.waiting = 0;
  }
}

// `replaced`: parts taken out in the course of the case.
std::optional<Advice> advise_on(const Model& model, const Case& the_case, const Present& present,
                                std::span<const PartBefore> replaced, bool all = true) {
  const CaseNumbers numbers = read_case(model, the_case);
  std::vector<RepairItem> items =
      repair_items(model.analysis(), numbers, the_case.economics, present);
  if (items.empty()) return std::nullopt;
  take_from_shelf(model.analysis(), the_case.work, items);
  hold_back_untested(model.analysis(), present, numbers, replaced, items);
  std::shared_ptr<const Model> part = relevant_part(model, numbers, items);
  // Many propagations over a large tree take longer than sums over hypotheses.
  if (part && !model.program().has_tree() && !is_quick(part->program())) part = nullptr;
  return Adviser(part ? *part : model, the_case, numbers, present, items).advise(replaced, all);
}

}  // namespace

std::string money_text(double amount, const std::string& currency) {
  const std::string text = fixed_text(amount, 0);
  return currency == Economics{}.currency ? text : text + " " + currency;
}

std::optional<Advice> advise(const Model& model, const Case& the_case) {
  if (the_case.repairs.empty()) return advise_on(model, the_case, present_of(model), {});
  const Extended extended = extend(model, the_case);
  const RenewedCircuit& circuit = *extended.circuit;
  return advise_on(circuit.model, extended.the_case, circuit.present, circuit.replaced);
}

std::optional<Advice> decide(const Model& model, const Case& the_case, const Present& present,
                             std::span<const PartBefore> replaced) {
  return advise_on(model, the_case, present, replaced, false);
}

}  // namespace faultodds::diagnosis
