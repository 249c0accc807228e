#include "core/diagnosis/adviser.h"

#include <algorithm>
#include <limits>

#include "core/circuit/kinds.h"
#include "core/diagnosis/assessment.h"
#include "core/diagnosis/cause.h"
#include "core/diagnosis/cause_hypotheses.h"
#include "core/diagnosis/cause_values.h"
#include "core/diagnosis/program.h"
#include "core/error.h"
#include "core/ranked.h"

namespace faultodds::diagnosis {
namespace {

constexpr std::size_t kBoundItems = 12;  // in the bound on perfect information
constexpr int kMostLooks = 2;            // at the complaint
constexpr double kEqual = 1e-9;          // probabilities apart by rounding
constexpr double kUnfounded = 0.5;       // P(a false report), from which on nothing is ordered

}  // namespace

Adviser::Adviser(const Model& model, const Case& the_case, const CaseNumbers& numbers,
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

Advice Adviser::advise(std::span<const PartBefore> replaced, bool all) {
  Advice advice;
  advice.currency = case_.economics.currency;
  advice.come_back = decision_.come_back(cure_.nothing());
  best_ = decision_.best();
  advice.repair = plan_of(best_.set);
  if (all) alternatives(advice);
  values(advice);
  advice.perfect_information = perfect_information();
  decide(advice);
  if (!contradict(advice, all) && !doubt_renewed(advice, replaced)) doubt(advice);
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
    advice.reason.push_back({"reason.not_compared"});
    advice.reason.back().with("less", money(best_.within));
  }
  if (advice.own_order) own_order_reason(advice);
  if (advice.in_time) in_time_reason(advice);
  if (advice.contradiction && advice.test != advice.contradiction->observation) {
    advice.reason.push_back(contradiction("reason.but_contradiction", *advice.contradiction));
  }
  as_original(advice);
  for (const PartBefore& before : replaced) {
    advice.replaced.push_back({before.component, 1 - cure_.all_sound(before.modes)});
  }
  return advice;
}

RepairPlan Adviser::plan_of(const ItemSet& set) {
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

void Adviser::alternatives(Advice& advice) {
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
  std::stable_sort(advice.alternatives.begin(), advice.alternatives.end(),
                   [](const RepairPlan& a, const RepairPlan& b) {
                     return ranked(a.expected_cost) < ranked(b.expected_cost);
                   });
  if (advice.alternatives.size() > kAlternatives) advice.alternatives.resize(kAlternatives);
}

std::vector<bool> Adviser::with_setup(std::vector<bool> done, std::uint32_t o) const {
  for (const std::uint32_t step : preparation_.of(o)) done[step] = true;
  return done;
}

bool Adviser::again(std::uint32_t o) const {
  const auto complaint = complaint_of(analysis_, numbers_, case_);
  if (!complaint || o != *complaint) return false;
  const auto looks = std::count_if(case_.evidence.begin(), case_.evidence.end(),
                                   [&](const Evidence& e) { return e.observation == o; });
  return looks < kMostLooks;
}

double Adviser::saving(RepairDecision& decision, std::uint32_t o, double now) {
  double after = 0;
  for (std::size_t i = 0; i < outcomes(o); ++i)
    after += decision.best_given(o, weights(o, i), left_ - minutes_of(o, done_)).loss;
  const double saved = now - after;
  return saved > kRounding * std::max(1.0, now) ? saved : 0;
}

void Adviser::values(Advice& advice) {
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
  std::stable_sort(
      advice.tests.begin(), advice.tests.end(),
      [](const TestValue& a, const TestValue& b) { return ranked(a.net()) > ranked(b.net()); });
}

double Adviser::perfect_information() {
  const auto [come_back, helpless] = decision_.least_come_back();
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
  at_least += (helpless - before) * (1 - cure_.probability(cheaper));
  return std::max(0.0, best_.loss - at_least);
}

void Adviser::decide(Advice& advice) {
  // Those that fit an instrument to a running machine come after all others.
  std::vector<const TestValue*> paying, fitting;
  for (const TestValue& value : advice.tests) {
    if (!(value.net() > 0)) break;
    const auto& observation = analysis_.observations[value.observation];
    (circuit::takes_an_instrument(observation) ? fitting : paying).push_back(&value);
  }
  if (paying.empty()) paying = std::move(fitting);
  if (!paying.empty()) {
    advice.stop = false;
    propose(advice, first_of(paying)->observation);
    return;
  }
  if (!case_.look_further) return;
  advice.two_tests = look_further(advice);
  if (advice.two_tests) {
    advice.stop = false;
    propose(advice, advice.two_tests->first.observation);
  }
}

bool Adviser::contradict(Advice& advice, bool say) {
  const bool orders = advice.stop && !best_.set.empty();
  // Where another look is proposed anyway, it is said why, too.
  if (!orders && (advice.stop || !(say || advice.again))) return false;
  std::optional<Contradiction> most;
  try {
    Doubts doubts(model_, numbers_, cure_.hypotheses());
    const double any = doubts.any();
    if (any < kContradiction) return false;
    for (std::size_t i = 0; i < numbers_.observed.size(); ++i) {
      const std::uint32_t o = numbers_.observed[i].observation;
      if (!may_look_again(o)) continue;
      const double wrong = doubts.wrong(i);
      if (wrong < kDoubtful) continue;
      const double more = wrong - (most ? most->wrong : 0);
      const bool sooner = most && minutes_of(o, done_) < minutes_of(most->observation, done_);
      if (more > kEqual || (sooner && more > -kEqual)) most = {o, wrong, any};
    }
  } catch (const Error& error) {
    if (error.code() != Code::limit_exceeded) throw;
    return false;  // nobody knows
  }
  if (!most) return false;
  advice.contradiction = *most;
  order_nothing(advice);
  if (!orders) return true;
  advice.stop = false;
  propose(advice, most->observation);
  return true;
}

bool Adviser::may_look_again(std::uint32_t o) const {
  if (o >= present_.observations || !may_propose(o)) return false;
  std::size_t looks = 0;
  for (const Evidence& e : case_.evidence) {
    if (e.observation != o) continue;
    if (e.again) return false;
    ++looks;
  }
  return looks == 1;
}

void Adviser::order_nothing(Advice& advice) {
  std::erase_if(advice.alternatives, [](const auto& plan) { return plan.components.empty(); });
  advice.alternatives.insert(advice.alternatives.begin(), advice.repair);
  if (advice.alternatives.size() > kAlternatives) advice.alternatives.resize(kAlternatives);
  best_ = {cure_.nothing(), decision_.loss(cure_.nothing()), 0};
  advice.repair = plan_of(best_.set);
}

void Adviser::doubt(Advice& advice) {
  if (!advice.stop || best_.set.empty()) return;
  const auto complaint = complaint_of(analysis_, numbers_, case_);
  if (!complaint) return;
  try {
    const CauseAnswer cause =
        cure_.hypotheses()
            ? CauseAnswer(cause_sums(model_, numbers_, *complaint, *cure_.hypotheses()))
            : CausePlan::of(model_, numbers_, *complaint, CauseTests::none)
                  ->answer(model_, numbers_);
    const CauseValues values = cause_values(analysis_, *complaint);
    const double elsewhere = cause.share(values.elsewhere()),
                 nothing = cause.share(values.nothing());
    if (nothing > kUnfounded) {
      advice.unfounded = nothing;
    } else {
      for (std::size_t v = 0; v < cause.values(); ++v) {
        if (cause.share(v) > elsewhere) return;
      }
      advice.elsewhere = elsewhere;
    }
  } catch (const Error& error) {
    if (error.code() != Code::limit_exceeded) throw;
    return;  // nobody knows
  }
  order_nothing(advice);
}

// A leak that the circuit does not describe shows in every test of the place where it is, but is
// in each a background of its own; so that a second bad part looks more probable than it is.
bool Adviser::doubt_renewed(Advice& advice, std::span<const PartBefore> replaced) {
  if (!advice.stop || best_.set.empty()) return false;
  for (const std::uint32_t i : best_.set.members()) {
    if (std::none_of(replaced.begin(), replaced.end(), [&](const PartBefore& before) {
          return before.component == items_[i].component;
        })) {
      return false;
    }
  }
  const auto complaint = complaint_of(analysis_, numbers_, case_);
  // What was seen before the last repair is under observations of its own. Two looks are what the
  // advice itself may ask for.
  const auto looks =
      std::count_if(case_.evidence.begin(), case_.evidence.end(), [&](const Evidence& e) {
        return complaint && e.observation == present_.original(*complaint);
      });
  if (looks > kMostLooks) return false;
  order_nothing(advice);
  advice.renewed_shows = true;
  return true;
}

void Adviser::own_order(Advice& advice) {
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

void Adviser::in_time(Advice& advice) {
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

void Adviser::propose(Advice& advice, std::uint32_t o) {
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

void Adviser::bring(Advice& advice) {
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

void Adviser::as_original(Advice& advice) const {
  for (FaultTrail& fault : advice.trail.faults) {
    for (Weight& w : fault.weights) w.observation = present_.original(w.observation);
  }
  if (advice.trail.most_at_odds) {
    advice.trail.most_at_odds = present_.original(*advice.trail.most_at_odds);
  }
  for (auto& [o, p] : advice.trail.unexplained) o = present_.original(o);
  for (Turn& turn : advice.trail.turns) turn.observation = present_.original(turn.observation);
}

}  // namespace faultodds::diagnosis
