#include "capi/documents/advice_writer.h"

#include <algorithm>
#include <optional>

#include "core/reading/units.h"

namespace faultodds::documents {
namespace {

using circuit::Analysis;
using diagnosis::Advice;
using diagnosis::EvidenceTrail;
using diagnosis::RepairPlan;

void components(JsonText& out, const Analysis& analysis, const std::vector<std::uint32_t>& list) {
  out.key("components").begin_list();
  for (const std::uint32_t c : list) out.value(analysis.components[c].id);
  out.end_list();
}

void observation(JsonText& out, const Analysis& analysis, std::uint32_t o) {
  out.member("observation", analysis.observations[o].id);
}

}  // namespace

void write_repair(JsonText& out, const Analysis& analysis, const RepairPlan& plan) {
  out.begin_object();
  components(out, analysis, plan.components);
  out.member("cost", plan.cost)
      .member("residual_risk", plan.residual_risk)
      .member("expected_cost", plan.expected_cost)
      .end_object();
}

namespace {

void write_tests(JsonText& out, const Analysis& analysis, const Advice& advice) {
  out.key("tests").begin_list();
  for (const diagnosis::TestValue& value : advice.tests) {
    if (!(value.expected_saving > 0)) continue;
    out.begin_object();
    observation(out, analysis, value.observation);
    out.member("minutes", value.minutes)
        .member("cost", value.cost)
        .member("expected_saving", value.expected_saving)
        .end_object();
  }
  out.end_list().key("two_tests");
  if (!advice.two_tests) {
    out.null();
    return;
  }
  const diagnosis::TwoTests& two = *advice.two_tests;
  out.begin_object().member("first", analysis.observations[two.first.observation].id);
  out.key("then").begin_list();
  for (const std::uint32_t o : two.seconds) out.value(analysis.observations[o].id);
  out.end_list()
      .member("cost", two.cost)
      .member("expected_saving", two.expected_saving)
      .end_object();
}

// Left open, for the checks.
void begin_second_fault(JsonText& out, const diagnosis::SecondFault& second) {
  out.key("second_fault")
      .begin_object()
      .member("probability", second.probability)
      .member("target", second.target)
      .member("reached", second.reached);
}

void write_second_fault(JsonText& out, const Analysis& analysis, const Advice& advice) {
  const diagnosis::SecondFault& second = advice.second_fault;
  begin_second_fault(out, second);
  out.key("checks").begin_list();
  for (const diagnosis::SecondFaultCheck& check : second.checks) {
    out.begin_object();
    observation(out, analysis, check.observation);
    out.member("minutes", check.minutes).member("probability", check.probability).end_object();
  }
  out.end_list().end_object();
}

}  // namespace

void write_verify(JsonText& out, const Words& words,
                  const std::vector<diagnosis::Verification>& list) {
  const Analysis& analysis = words.analysis();
  out.key("verify").begin_list();
  for (const diagnosis::Verification& one : list) {
    const circuit::Observation& test = analysis.observations[one.observation];
    out.begin_object();
    observation(out, analysis, one.observation);
    out.member("title", words.observation(test))
        .member("minutes", one.minutes)
        .member("normal", one.normal)
        .member("risk_if_normal", one.risk_if_normal)
        .member("is_complaint", one.is_complaint)
        .member("energised", test.energised)
        .list("cautions", words.cautions(test.cautions))
        .end_object();
  }
  out.end_list();
}

namespace {

void write_evidence(JsonText& out, const Words& words, const EvidenceTrail& trail) {
  const Analysis& analysis = words.analysis();
  out.key("evidence").begin_object();
  write_said(out, "sentence", trail.sentences, words);
  out.key("faults").begin_list();
  for (const diagnosis::FaultTrail& fault : trail.faults) {
    out.begin_object()
        .member("mode", analysis.modes[fault.mode].id)
        .member("prior_decibans", fault.prior_decibans)
        .member("decibans", fault.decibans);
    out.key("weights").begin_list();
    for (const diagnosis::Weight& weight : fault.weights) {
      out.begin_object();
      observation(out, analysis, weight.observation);
      out.member("decibans", weight.decibans).end_object();
    }
    out.end_list().end_object();
  }
  out.end_list().member("conflict_bits", trail.conflict_bits).key("most_at_odds");
  if (trail.most_at_odds) {
    out.value(analysis.observations[*trail.most_at_odds].id);
  } else {
    out.null();
  }
  out.key("unexplained").begin_list();
  for (const auto& [o, p] : trail.unexplained) {
    out.begin_object();
    observation(out, analysis, o);
    out.member("probability", p).end_object();
  }
  out.end_list().end_object();
}

void write_come_back(JsonText& out, const Analysis& analysis, std::string_view name,
                     const std::optional<diagnosis::ComeBackTurn>& turn) {
  out.key(name);
  if (!turn) {
    out.null();
    return;
  }
  out.begin_object().member("come_back", turn->come_back);
  components(out, analysis, turn->components);
  out.end_object();
}

void write_turns(JsonText& out, const Analysis& analysis, const EvidenceTrail& trail) {
  out.key("would_change").begin_object().key("observations").begin_list();
  for (const diagnosis::Turn& turn : trail.turns) {
    out.begin_object();
    observation(out, analysis, turn.observation);
    out.member("factor", turn.factor);
    components(out, analysis, turn.components);
    out.end_object();
  }
  out.end_list();
  write_come_back(out, analysis, "come_back_below", trail.below);
  write_come_back(out, analysis, "come_back_above", trail.above);
  out.end_object();
}

void write_visit(JsonText& out, const Analysis& analysis, const Advice& advice) {
  out.key("visit");
  if (advice.visit) {
    out.begin_object()
        .member("available", advice.visit->available)
        .member("minutes", advice.visit->minutes)
        .member("information_bits", advice.visit->information_bits)
        .member("guarantee", advice.visit->guarantee);
    out.key("tests").begin_list();
    for (const diagnosis::VisitTest& test : advice.visit->tests) {
      out.begin_object();
      observation(out, analysis, test.observation);
      out.member("minutes", test.minutes).member("bits", test.bits).end_object();
    }
    out.end_list().end_object();
  } else {
    out.null();
  }
  write_bring_list(out, advice.bring);
}

}  // namespace

void write_bring_list(JsonText& out, const diagnosis::BringList& bring) {
  out.key("bring").begin_object().key("items").begin_list();
  for (const diagnosis::BringItem& item : bring.items) {
    out.begin_object()
        .member("what", item.what)
        .member("standard", item.standard)
        .member("size", item.size)
        .member("count", std::uint64_t{item.count})
        .list("ports", item.ports)
        .end_object();
  }
  out.end_list().key("gauge_for");
  if (bring.gauge_pressure > 0) {
    out.value(reading::format_pressure(bring.gauge_pressure));
  } else {
    out.null();
  }
  out.end_object();
}

void write_before_service(JsonText& out, const Analysis& analysis,
                          const diagnosis::BeforeService& service) {
  out.begin_object().member("currency", service.currency).key("tests").begin_list();
  for (const diagnosis::ServiceTest& test : service.tests) {
    out.begin_object();
    observation(out, analysis, test.observation);
    out.member("minutes", test.minutes)
        .member("cost", test.cost)
        .member("expected_saving", test.expected_saving)
        .member("net", test.net());
    out.key("finds").begin_list();
    for (const diagnosis::ServiceTest::Find& find : test.finds) {
      out.begin_object()
          .member("component", analysis.components[find.component].id)
          .member("probability", find.probability)
          .end_object();
    }
    out.end_list().end_object();
  }
  out.end_list().key("replace").begin_list();
  for (const diagnosis::ServicePart& part : service.replace) {
    out.begin_object()
        .member("component", analysis.components[part.component].id)
        .member("fails", part.fails)
        .member("saving", part.saving)
        .end_object();
  }
  out.end_list();
  if (!service.not_reckoned.empty()) {
    out.key("not_reckoned").begin_list();
    for (const std::uint32_t o : service.not_reckoned) out.value(analysis.observations[o].id);
    out.end_list();
  }
  out.end_object();
}

namespace {

void write_in_time(JsonText& out, const Analysis& analysis, const diagnosis::InTime& in_time) {
  out.key("in_time")
      .begin_object()
      .member("ready_within", in_time.ready_within)
      .member("minutes", in_time.minutes);
  out.key("too_long").begin_list();
  for (const diagnosis::InTime::TooLong& part : in_time.too_long) {
    out.begin_object()
        .member("component", analysis.components[part.component].id)
        .member("minutes", part.minutes)
        .member("lead_days", part.lead_days)
        .end_object();
  }
  out.end_list().key("later");
  if (in_time.later) {
    write_repair(out, analysis, *in_time.later);
  } else {
    out.null();
  }
  out.end_object();
}

}  // namespace

namespace {

// What to do next and what it is about, up to the repair.
void write_verdict(JsonText& out, const Words& words, const Advice& advice) {
  const Analysis& analysis = words.analysis();
  out.member("stop", advice.stop);
  write_said(out, "reason", advice.reason, words);
  out.key("test");
  if (advice.test) {
    out.value(analysis.observations[*advice.test].id);
  } else {
    out.null();
  }
  if (advice.error > 0) out.member("error", advice.error);
  if (advice.elsewhere) out.member("elsewhere", *advice.elsewhere);
  if (advice.renewed_shows) out.member("renewed_shows", true);
  if (advice.unfounded) out.member("unfounded", *advice.unfounded);
  if (advice.contradiction) {
    out.key("contradiction").begin_object();
    observation(out, analysis, advice.contradiction->observation);
    out.member("wrong", advice.contradiction->wrong)
        .member("any_wrong", advice.contradiction->any_wrong)
        .end_object();
  }
  if (advice.own_order) {
    out.key("own_order").begin_object();
    out.member("test", analysis.observations[advice.own_order->test].id).key("instead_of");
    if (advice.own_order->instead_of) {
      out.value(analysis.observations[*advice.own_order->instead_of].id);
    } else {
      out.null();
    }
    out.member("extra_cost", advice.own_order->extra_cost).end_object();
  }
  if (advice.in_time) write_in_time(out, analysis, *advice.in_time);
  out.member("currency", advice.currency).member("come_back", advice.come_back).key("repair");
  write_repair(out, analysis, advice.repair);
}

}  // namespace

void write_advice_in_short(JsonText& out, const Words& words, const Advice& advice) {
  out.begin_object();
  write_verdict(out, words, advice);
  if (!advice.stop && advice.test) {
    const auto value = std::find_if(advice.tests.begin(), advice.tests.end(),
                                    [&](const auto& t) { return t.observation == *advice.test; });
    if (value != advice.tests.end()) {
      out.member("test_cost", value->cost).member("test_saving", value->expected_saving);
    }
  }
  begin_second_fault(out, advice.second_fault);
  out.end_object();
  write_bring_list(out, advice.bring);
}

void write_advice(JsonText& out, const Words& words, const Advice& advice) {
  const Analysis& analysis = words.analysis();
  out.begin_object();
  write_verdict(out, words, advice);
  out.key("alternatives").begin_list();
  for (const RepairPlan& plan : advice.alternatives) write_repair(out, analysis, plan);
  out.end_list();
  write_tests(out, analysis, advice);
  out.member("perfect_information", advice.perfect_information);
  write_second_fault(out, analysis, advice);
  write_verify(out, words, advice.verify);
  if (!advice.replaced.empty()) {
    out.key("replaced").begin_list();
    for (const diagnosis::ReplacedPart& part : advice.replaced) {
      out.begin_object()
          .member("component", analysis.components[part.component].id)
          .member("faulty", part.faulty)
          .end_object();
    }
    out.end_list();
  }
  write_evidence(out, words, advice.trail);
  write_turns(out, analysis, advice.trail);
  write_visit(out, analysis, advice);
  out.end_object();
}

}  // namespace faultodds::documents
