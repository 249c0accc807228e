#include "capi/documents/assessment_writer.h"

#include <algorithm>
#include <optional>

#include "capi/documents/advice_writer.h"
#include "capi/documents/json_text.h"
#include "capi/documents/size_reader.h"
#include "capi/documents/wording.h"
#include "core/circuit/cautions.h"
#include "core/circuit/kinds.h"
#include "core/diagnosis/sizes.h"
#include "core/reading/units.h"
#include "core/stop.h"

namespace faultodds::documents {
namespace {

using circuit::Analysis;
using circuit::Observation;
using circuit::TestStep;
using diagnosis::Assessment;
using diagnosis::FaultAssessment;
using diagnosis::Model;
using diagnosis::TestAssessment;

void optional_pressure(JsonText& out, std::string_view name, const std::optional<double>& pascal) {
  out.key(name);
  if (pascal) {
    out.value(reading::format_pressure(*pascal));
  } else {
    out.null();
  }
}

void mode_ids(JsonText& out, const Analysis& analysis, const std::vector<std::uint32_t>& modes) {
  out.begin_list();
  for (const std::uint32_t mode : modes) out.value(analysis.modes[mode].id);
  out.end_list();
}

void groups(JsonText& out, const Analysis& analysis) {
  out.key("ambiguity_groups").begin_list();
  for (const auto& group : diagnosis::ambiguity_groups(analysis)) mode_ids(out, analysis, group);
  out.end_list();
}

}  // namespace

void write_asset(JsonText& out, const Asset& asset) {
  if (asset.id.empty() && asset.asset_class.empty() && !asset.meter_hours &&
      asset.component_hours.empty() && asset.sound_at.empty()) {
    return;
  }
  out.key("asset").begin_object();
  if (!asset.id.empty()) out.member("id", asset.id);
  if (!asset.asset_class.empty()) out.member("class", asset.asset_class);
  if (asset.meter_hours) out.member("meter_hours", *asset.meter_hours);
  const auto write = [&](const char* key, const std::map<std::string, double>& by_component) {
    if (by_component.empty()) return;
    out.key(key).begin_object();
    for (const auto& [component, hours] : by_component) out.member(component, hours);
    out.end_object();
  };
  write("component_hours", asset.component_hours);
  write("sound_at", asset.sound_at);
  out.end_object();
}

namespace {

void write_fault(JsonText& out, const Words& words, const FaultAssessment& fault) {
  const circuit::FailureMode& mode = words.analysis().modes[fault.mode];
  out.begin_object()
      .member("mode", mode.id)
      .member("component", mode.component)
      .member("code", mode.code)
      .member("title", words.mode(mode))
      .list("grades", fault.grades)
      .member("prior_odds", fault.prior_odds)
      .member("posterior_odds", fault.posterior_odds)
      .member("decibans", fault.decibans)
      .end_object();
}

void write_causes(JsonText& out, const Analysis& analysis, const diagnosis::CauseAssessment& of) {
  out.begin_object().member("observation", analysis.observations[of.observation].id);
  out.key("shares").begin_list();
  for (const diagnosis::Cause& cause : of.causes) {
    out.begin_object().key("components").begin_list();
    for (const std::uint32_t c : cause.components) out.value(analysis.components[c].id);
    out.end_list().member("probability", cause.probability).end_object();
  }
  out.end_list()
      .member("by_design", of.by_design)
      .member("elsewhere", of.elsewhere)
      .member("nothing", of.nothing)
      .end_object();
}

void reason_members(JsonText& out, const circuit::NotProposed& one, const Words& words) {
  out.member("reason", one.reason).member("volume", one.volume);
  if (!one.part.empty()) out.member("part", one.part);
  out.member("why", words.reason(one));
}

}  // namespace

void write_reason(JsonText& out, const circuit::NotProposed& one, const Words& words) {
  out.begin_object();
  reason_members(out, one, words);
  out.end_object();
}

void write_pressure_limit(JsonText& out, const circuit::TestPressureLimit& limit,
                          const Words& words) {
  out.begin_object().member("volume", limit.volume).member("by", limit.by);
  if (!limit.part.empty()) out.member("part", limit.part);
  out.member("stands", reading::format_pressure(limit.stands));
  if (limit.factor > 1 + 1e-9 || limit.factor < 1 - 1e-9) out.member("factor", limit.factor);
  if (!limit.suspect.empty()) out.member("suspect", limit.suspect);
  out.member("why", words.limit(limit)).end_object();
}

void write_not_possible(JsonText& out, const Words& words,
                        const std::vector<diagnosis::NotPossible>& list) {
  if (list.empty()) return;
  out.key("not_possible").begin_list();
  for (const diagnosis::NotPossible& one : list) {
    const Observation& observation = words.analysis().observations[one.observation];
    out.begin_object()
        .member("observation", observation.id)
        .member("title", words.observation(observation))
        .member("reason", one.reason)
        .end_object();
  }
  out.end_list();
}

void write_not_proposed(JsonText& out, const Words& words,
                        const std::vector<diagnosis::NotProposed>& list, std::size_t most) {
  if (list.empty()) return;
  out.key("not_proposed").begin_list();
  for (std::size_t i = 0; i < std::min(most, list.size()); ++i) {
    const diagnosis::NotProposed& one = list[i];
    out.begin_object()
        .member("observation", words.analysis().observations[one.observation].id)
        .member("reason",
                one.reason == diagnosis::NotProposed::Reason::people ? "people" : "ready_within");
    write_said(out, "why", {one.why}, words);
    out.end_object();
  }
  out.end_list();
}

void write_bring(JsonText& out, const Observation& observation) {
  out.key("bring").begin_list();
  for (const circuit::Bring& item : observation.bring) {
    out.begin_object()
        .member("what", item.what)
        .member("port", item.port)
        .member("standard", item.standard)
        .member("size", item.size);
    optional_pressure(out, "rated_for",
                      item.rated_for ? item.rated_for : observation.test_pressure);
    out.end_object();
  }
  out.end_list();
}

namespace {

// Which volume limits the pressure of a hold and why; or why there is no figure, or no hold.
void write_statics(JsonText& out, const Words& words, const Observation& observation) {
  optional_pressure(out, "test_pressure", observation.test_pressure);
  out.key("pressure_limit");
  if (observation.pressure_limit) {
    write_pressure_limit(out, *observation.pressure_limit, words);
  } else {
    out.null();
  }
  out.key("no_pressure");
  if (observation.no_figure) {
    write_reason(out, *observation.no_figure, words);
  } else {
    out.null();
  }
}

void write_step(JsonText& out, const std::string& id, const std::string& title, double minutes) {
  out.begin_object()
      .member("id", id)
      .member("title", title)
      .member("minutes", minutes)
      .end_object();
}

void write_own_steps(JsonText& out, const Words& words, const Observation& observation,
                     TestStep::When when) {
  for (const TestStep& step : observation.steps) {
    if (step.when != when) continue;
    out.begin_object()
        .member("id", step.id)
        .member("title", words.step(step))
        .member("minutes", 0.0);
    if (!step.at.empty()) out.list("at", step.at);
    if (!step.past_leak.empty()) out.list("past_leak", step.past_leak);
    out.end_object();
  }
}

// `setup`: the steps left that tests share. `steps`: all that is left to do before the pressure, in
// order, those of this test alone included; `afterwards`: what ends it.
void write_setup(JsonText& out, const Words& words, const Observation& observation,
                 const std::vector<std::uint32_t>& setup,
                 const std::vector<circuit::SetupStep>& work) {
  const std::vector<circuit::SetupStep>& steps = words.analysis().setup_steps;
  const auto shared = [&](const circuit::SetupStep& step) {
    write_step(out, step.id, words.step(step), step.minutes);
  };
  out.key("setup").begin_list();
  for (const circuit::SetupStep& step : work) shared(step);
  for (const std::uint32_t index : setup) shared(steps[index]);
  out.end_list().key("steps").begin_list();
  for (const circuit::SetupStep& step : work) shared(step);
  write_own_steps(out, words, observation, TestStep::When::before_lockout);
  bool opening = false;
  for (const std::uint32_t index : setup) {
    if (!opening && steps[index].id != "lockout") {
      opening = true;
      write_own_steps(out, words, observation, TestStep::When::before_opening);
    }
    shared(steps[index]);
  }
  write_own_steps(out, words, observation, TestStep::When::before_pressure);
  out.end_list().key("afterwards").begin_list();
  write_own_steps(out, words, observation, TestStep::When::afterwards);
  out.end_list();
}

// The holds that the circuit has but that are not proposed, and why.
void write_withheld(JsonText& out, const Words& words) {
  out.key("withheld").begin_list();
  for (const Observation& observation : words.analysis().observations) {
    check_stop();
    if (!observation.withheld) continue;
    out.begin_object().member("observation", observation.id);
    reason_members(out, *observation.withheld, words);
    out.end_object();
  }
  out.end_list();
}

void write_test(JsonText& out, const Words& words, const TestAssessment& test) {
  const Observation& observation = words.analysis().observations[test.observation];
  out.begin_object()
      .member("observation", observation.id)
      .member("title", words.observation(observation))
      .member("kind", circuit::kind_name(observation.kind));
  if (test.again) out.member("again", true);
  out.key("probability").begin_object();
  for (std::size_t i = 0; i < test.probability.size(); ++i) {
    out.member(observation.outcomes[i], test.probability[i]);
  }
  out.end_object()
      .member("information_bits", test.information_bits)
      .member("cause_bits", test.cause_bits)
      .member("minutes", test.minutes)
      .member("bits_per_minute", test.bits_per_minute);
  write_setup(out, words, observation, test.setup, test.work);
  write_statics(out, words, observation);
  write_bring(out, observation);
  out.member("energised", observation.energised)
      .list("cautions", words.cautions(observation.cautions));
  write_said(out, "because", test.because, words);
  out.key("suspects");
  mode_ids(out, words.analysis(), test.suspects);
  out.end_object();
}

}  // namespace

const char* unit_of(circuit::EffectLimits::Unit unit) {
  switch (unit) {
    case circuit::EffectLimits::Unit::ml_per_min:
      return "mL/min";
    case circuit::EffectLimits::Unit::mm_per_min:
      return "mm/min";
    case circuit::EffectLimits::Unit::rev_per_min:
      return "rev/min";
    case circuit::EffectLimits::Unit::percent:
      break;
  }
  return "%";
}

void write_limits(JsonText& out, const Observation& observation) {
  if (!observation.limits) return;
  const circuit::EffectLimits& limits = *observation.limits;
  out.key("limits").begin_object().member("unit", unit_of(limits.unit));
  out.member("first", limits.first).member("second", limits.second);
  out.member("floor", limits.floor).member("resolution", limits.resolution);
  if (limits.seconds) out.member("seconds", *limits.seconds);
  out.end_object();
}

namespace {

// What a set shows of the sizes of its modes; nothing where it shows their least grade.
void write_link(JsonText& out, const Analysis& analysis, const circuit::ModeSet& set) {
  if (!set.shown_from.empty()) {
    out.key("shown_from").begin_list();
    for (const circuit::ShownFrom& level : set.shown_from) {
      out.begin_object().member("weight", level.weight).list("size", level.size).end_object();
    }
    out.end_list();
  }
  if (set.link.weight.empty()) return;
  out.key("link").begin_object().list("weight", set.link.weight).key("exceeds").begin_list();
  for (std::size_t i = 0; i < set.modes.size(); ++i) {  // [mode][level][limit][state]
    const std::size_t states = analysis.modes[set.modes[i]].states.size();
    auto next = set.link.exceeds[i].begin();
    out.begin_list();
    for (std::size_t level = 0; level < set.link.weight.size(); ++level) {
      out.begin_list();
      for (std::size_t limit = 0; limit < 2; ++limit) {
        out.begin_list();
        for (std::size_t state = 0; state < states; ++state) out.value(*next++);
        out.end_list();
      }
      out.end_list();
    }
    out.end_list();
  }
  out.end_list().end_object();
}

// How large a mode is at each grade, and the states that are told apart.
void write_states(JsonText& out, const circuit::FailureMode& mode,
                  const std::vector<double>& limits) {
  if (mode.states.empty()) return;
  const bool loss = mode.size.law == circuit::SizeLaw::loss;
  const char* const grades[] = {"sound", "worn", "failed"};
  out.key("sizes").begin_object().member("law", law_name(mode.size.law));
  out.member("unit", loss ? "%" : "mL/min");
  for (std::size_t grade = 0; grade < 3; ++grade) {
    const circuit::ModeSize::OfGrade& of = mode.size.of_grade[grade];
    if (of.median == 0) continue;  // a sound loss is none
    out.key(grades[grade]).begin_object().member("median", of.median);
    out.member("spread", of.spread).end_object();
  }
  out.end_object().key("states").begin_list();
  for (const circuit::ModeState& state : mode.states) {
    out.begin_object()
        .member("grade", static_cast<std::uint64_t>(state.grade))
        .member("low", state.low)
        .member("high", state.high)
        .member("share", state.share)
        .member("prior", mode.prior[state.grade] * state.share)
        .end_object();
  }
  out.end_list().list("unsplit",
                      diagnosis::unsplit_limits(mode.size, mode.prior, limits, mode.states));
}

void write_observation(JsonText& out, const Words& words, const Observation& observation) {
  const Analysis& analysis = words.analysis();
  out.begin_object()
      .member("observation", observation.id)
      .member("title", words.observation(observation))
      .member("own_title", !observation.title.empty())
      .member("subject", observation.subject)
      .member("kind", circuit::kind_name(observation.kind))
      .member("symptom", observation.symptom)
      .member("energised", observation.energised)
      .list("outcomes", observation.outcomes);
  out.key("matrix").begin_list();
  for (const auto& row : observation.matrix) {
    out.begin_list();
    for (const double share : row) out.value(share);
    out.end_list();
  }
  out.end_list().list("background", observation.background);
  write_limits(out, observation);
  out.key("sets").begin_list();
  for (const circuit::ModeSet& set : observation.sets) {
    out.begin_object().key("modes");
    mode_ids(out, analysis, set.modes);
    out.member("probability", set.probability);
    write_link(out, analysis, set);
    out.end_object();
  }
  out.end_list().member("minutes", observation.perform_minutes);
  if (observation.people > 1) out.member("people", std::uint64_t{2});
  out.list("setup", observation.setup);
  write_statics(out, words, observation);
  out.key("own_setup").begin_list();
  for (const TestStep::When when : {TestStep::When::before_lockout, TestStep::When::before_opening,
                                    TestStep::When::before_pressure}) {
    write_own_steps(out, words, observation, when);
  }
  out.end_list().key("afterwards").begin_list();
  write_own_steps(out, words, observation, TestStep::When::afterwards);
  out.end_list();
  write_bring(out, observation);
  out.list("cautions", words.cautions(observation.cautions)).end_object();
}

}  // namespace

std::string write_assessment(const Words& words, const Assessment& assessment, const Asset& asset,
                             const diagnosis::Advice* advice,
                             const diagnosis::BeforeService* before_service) {
  const Analysis& analysis = words.analysis();
  JsonText out;
  out.begin_object().member("format", "faultodds-assessment/1").member("circuit", analysis.id);
  write_asset(out, asset);
  out.key("causes").begin_list();
  for (const auto& of : assessment.causes) write_causes(out, analysis, of);
  out.end_list();
  out.member("log_evidence", assessment.log_evidence);
  write_method(out, assessment);
  out.key("complaint").begin_list();
  for (const std::uint32_t index : assessment.complaint) {
    out.value(analysis.observations[index].id);
  }
  out.end_list().key("faults").begin_list();
  for (const FaultAssessment& fault : assessment.faults) {
    check_stop();
    write_fault(out, words, fault);
  }
  out.end_list().key("tests").begin_list();
  for (const TestAssessment& test : assessment.tests) {
    check_stop();
    write_test(out, words, test);
  }
  out.end_list();
  write_withheld(out, words);
  write_not_possible(out, words, assessment.not_possible);
  write_not_proposed(out, words, assessment.not_proposed, assessment.not_proposed.size());
  if (advice != nullptr) {
    out.key("advice");
    write_advice(out, words, *advice);
  }
  if (before_service != nullptr) {
    out.key("before_service");
    write_before_service(out, analysis, *before_service);
  }
  groups(out, analysis);
  write_warnings(out, assessment.warnings, words);
  out.list("cautions", words.cautions(circuit::general_cautions())).end_object();
  return out.take();
}

void write_method(JsonText& out, const Assessment& assessment) {
  out.key("method");
  if (assessment.error_bound > 0) {
    out.begin_object()
        .member("name", assessment.method)
        .member("error_bound", assessment.error_bound)
        .end_object();
  } else {
    out.value(assessment.method);
  }
}

void write_warnings(JsonText& out, const Messages& warnings, const Words& words) {
  out.key("warnings").begin_list();
  for (const Message& warning : warnings) out.value(words.say(warning));
  out.end_list();
  write_messages(out, "warnings_said", warnings);
}

std::string write_model(const Words& words, const Titles& titles) {
  const Model& model = words.model();
  const Analysis& analysis = model.analysis();
  const std::vector<std::vector<double>> limits = diagnosis::limits_of_modes(analysis);
  JsonText out;
  out.begin_object()
      .member("format", "faultodds-model/1")
      .member("circuit", analysis.id)
      .member("title", analysis.title);
  write_titles(out, titles);
  out.key("components").begin_list();
  for (const circuit::Component& component : analysis.components) {
    out.begin_object()
        .member("id", component.id)
        .member("type", component.type)
        .member("title", component.title)
        .end_object();
  }
  out.end_list().key("modes").begin_list();
  for (std::size_t i = 0; i < analysis.modes.size(); ++i) {
    check_stop();
    const circuit::FailureMode& mode = analysis.modes[i];
    out.begin_object()
        .member("mode", mode.id)
        .member("component", mode.component)
        .member("type", mode.type)
        .member("code", mode.code)
        .member("title", mode.title)
        .list("prior", mode.prior);
    write_states(out, mode, limits[i]);
    if (i < model.wear_out().size() && model.wear_out()[i]) {
      const diagnosis::WearOut& wear = *model.wear_out()[i];
      out.key("wear_out")
          .begin_object()
          .member("shape", wear.shape)
          .member("scale_hours", wear.scale_hours)
          .member("failed_share", wear.failed_share)
          .end_object();
    }
    out.end_object();
  }
  out.end_list().key("observations").begin_list();
  for (const Observation& observation : analysis.observations) {
    check_stop();
    write_observation(out, words, observation);
  }
  out.end_list();
  write_withheld(out, words);
  out.key("setup").begin_list();
  for (const circuit::SetupStep& step : analysis.setup_steps) {
    write_step(out, step.id, words.step(step), step.minutes);
  }
  out.end_list().key("conditions").begin_list();
  for (const circuit::ConditionEffect& condition : analysis.conditions) {
    out.begin_object()
        .member("id", condition.id)
        .member("title", condition.title)
        .member("probability", condition.probability);
    out.key("raises").begin_object();
    for (const auto& [mode, factor] : condition.raises) {
      out.member(analysis.modes[mode].id, factor);
    }
    out.end_object().end_object();
  }
  out.end_list();
  groups(out, analysis);
  out.list("cautions", words.cautions(circuit::general_cautions())).end_object();
  return out.take();
}

std::string write_error(Code code, std::string_view message, std::string_view pointer) {
  JsonText out;
  out.begin_object()
      .member("code", code_name(static_cast<int>(code)))
      .member("message", message)
      .member("pointer", pointer)
      .end_object();
  return out.take();
}

const char* code_name(int code) {
  switch (static_cast<Code>(code)) {
    case Code::ok:
      return "ok";
    case Code::invalid_argument:
      return "invalid_argument";
    case Code::invalid_json:
      return "invalid_json";
    case Code::invalid_document:
      return "invalid_document";
    case Code::invalid_circuit:
      return "invalid_circuit";
    case Code::invalid_case:
      return "invalid_case";
    case Code::invalid_priors:
      return "invalid_priors";
    case Code::conflicting_evidence:
      return "conflicting_evidence";
    case Code::limit_exceeded:
      return "limit_exceeded";
    case Code::out_of_memory:
      return "out_of_memory";
    case Code::cancelled:
      return "cancelled";
    case Code::internal:
      return "internal";
  }
  return "unknown";
}

}  // namespace faultodds::documents
