// What an advice says in sentences: the reason, the technician's own order, the time that is left.
// Nothing is decided here.
#include <algorithm>
#include <limits>

#include "core/diagnosis/adviser.h"
#include "core/number_text.h"

namespace faultodds::diagnosis {

std::string Adviser::contradiction(const Contradiction& it) const {
  return "what was seen contradicts itself, some of it is wrong with probability " +
         percent_text(it.any_wrong) + ". Look again at " +
         analysis_.observations[it.observation].title + ", which is the most doubtful (" +
         percent_text(it.wrong) + ").";
}

std::string Adviser::titles_of(const RepairPlan& plan) const {
  std::string text;
  for (std::size_t i = 0; i < plan.components.size(); ++i) {
    if (i > 0) text += i + 1 == plan.components.size() ? " and " : ", ";
    text += component_title(plan.components[i]);
  }
  return text;
}

std::string Adviser::own_order_text(const Advice& advice, const std::string& reason) const {
  const OwnOrder& own = *advice.own_order;
  std::string text = "As your own order says: " + analysis_.observations[own.test].title + ".";
  if (own.instead_of == own.test) return text + " " + reason;
  text += " It is expected to cost " + money(std::max(0.0, own.extra_cost)) + " more than ";
  return text +
         (own.instead_of ? analysis_.observations[*own.instead_of].title
                         : std::string("to stop testing")) +
         ", which would be advised.";
}

std::string Adviser::in_time_text(const Advice& advice) const {
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

void Adviser::reason(Advice& advice) const {
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

}  // namespace faultodds::diagnosis
