// Why an advice is as it is: the reason, the technician's own order, the time that is left, as
// messages. Nothing is decided here.
#include <algorithm>
#include <limits>

#include "core/diagnosis/adviser.h"

namespace faultodds::diagnosis {
namespace {

using ValueKind = MessageValue::Kind;

}  // namespace

MessageValue Adviser::said(std::uint32_t observation) const {
  return MessageValue::observation(analysis_.observations[observation].id);
}

MessageValue Adviser::said(const RepairPlan& plan) const {
  std::vector<std::string> ids;
  for (const std::uint32_t c : plan.components) ids.push_back(analysis_.components[c].id);
  return MessageValue::components(std::move(ids));
}

MessageValue Adviser::money(double amount) const {
  return MessageValue::money(amount, case_.economics.currency);
}

Message Adviser::contradiction(const char* id, const Contradiction& it) const {
  Message message{id};
  message.with("any_wrong", ValueKind::share, it.any_wrong).with("test", said(it.observation));
  return std::move(message.with("wrong", ValueKind::share, it.wrong));
}

// Stands before the reason, or instead of it where the order is another.
void Adviser::own_order_reason(Advice& advice) const {
  const OwnOrder& own = *advice.own_order;
  Message order{"reason.own_order"};
  order.with("test", said(own.test));
  if (own.instead_of == own.test) {
    advice.reason.insert(advice.reason.begin(), std::move(order));
    return;
  }
  Message dearer{own.instead_of ? "reason.own_order_dearer" : "reason.own_order_no_stop"};
  dearer.with("extra", money(std::max(0.0, own.extra_cost)));
  if (own.instead_of) dearer.with("instead_of", said(*own.instead_of));
  advice.reason = {std::move(order), std::move(dearer)};
}

void Adviser::in_time_reason(Advice& advice) const {
  const InTime& in_time = *advice.in_time;
  if (!in_time.later) return;
  const bool nothing = in_time.later->components.empty();
  Message later{nothing ? "reason.later_nothing" : "reason.later_replace"};
  later.with("limit", ValueKind::minutes, in_time.ready_within);
  if (!nothing) later.with("parts", said(*in_time.later));
  later.with("later", ValueKind::share, in_time.later->residual_risk);
  advice.reason.push_back(
      std::move(later.with("now", ValueKind::share, advice.repair.residual_risk)));
}

Message Adviser::reason_of_test(const Advice& advice) const {
  if (advice.two_tests) {
    const TwoTests& two = *advice.two_tests;
    Message message{"reason.two_tests"};
    message.with("first", said(two.first.observation)).with("then", said(two.seconds.front()));
    message.with("saving", money(two.expected_saving));
    return std::move(message.with("cost", money(two.cost)));
  }
  if (advice.again) {
    return std::move(Message{"reason.again"}.with("nothing", ValueKind::share, advice.outcomes[0]));
  }
  const auto value = std::find_if(advice.tests.begin(), advice.tests.end(),
                                  [&](const auto& t) { return t.observation == *advice.test; });
  Message message{"reason.test"};
  message.with("test", said(*advice.test));
  message.with("saving", money(value == advice.tests.end() ? 0 : value->expected_saving));
  return std::move(message.with("cost", money(advice.minutes * case_.economics.per_minute())));
}

void Adviser::reason(Advice& advice) const {
  if (advice.elsewhere) {
    advice.reason = {
        Message{"reason.elsewhere"}.with("probability", ValueKind::share, *advice.elsewhere)};
    return;
  }
  if (advice.renewed_shows) {
    advice.reason = {Message{"reason.renewed"}.with("parts", said(advice.alternatives.front()))};
    return;
  }
  if (advice.unfounded) {
    advice.reason = {
        Message{"reason.unfounded"}.with("probability", ValueKind::share, *advice.unfounded)};
    return;
  }
  if (advice.contradiction && advice.again && advice.test == advice.contradiction->observation) {
    advice.reason = {contradiction("reason.contradiction", *advice.contradiction)};
    return;
  }
  if (advice.two_tests || advice.again || !advice.stop) {
    advice.reason = {reason_of_test(advice)};
    return;
  }
  const bool nothing = advice.repair.components.empty();
  Message repair{nothing ? "reason.nothing" : "reason.replace"};
  if (!nothing) repair.with("parts", said(advice.repair));
  advice.reason = {std::move(repair.with("risk", ValueKind::share, advice.repair.residual_risk))};
  if (advice.tests.empty()) {
    advice.reason.push_back({"reason.no_test_left"});
    return;
  }
  const TestValue& best = advice.tests.front();
  double cheapest = std::numeric_limits<double>::infinity();
  for (const TestValue& t : advice.tests) cheapest = std::min(cheapest, t.cost);
  if (advice.perfect_information <= cheapest) {
    advice.reason.push_back({"reason.certainty"});
    advice.reason.back().with("saving", money(advice.perfect_information));
    return;
  }
  Message nearest{"reason.no_test_pays"};
  nearest.with("test", said(best.observation)).with("saving", money(best.expected_saving));
  advice.reason.push_back(std::move(nearest.with("cost", money(best.cost))));
}

}  // namespace faultodds::diagnosis
