#include "capi/documents/screen_writer.h"

#include <algorithm>
#include <cmath>
#include <map>
#include <vector>

#include "capi/documents/advice_writer.h"
#include "capi/documents/assessment_writer.h"
#include "capi/documents/json_text.h"
#include "core/circuit/cautions.h"
#include "core/circuit/kinds.h"
#include "core/reading/units.h"

namespace faultodds::documents {
namespace {

using circuit::Analysis;
using circuit::Observation;
using circuit::SetupStep;
using circuit::TestStep;
using diagnosis::Assessment;
using diagnosis::TestAssessment;

// How much a screen shows: working judgement, and what keeps an answer within 15 kB.
constexpr std::size_t kCauses = 8;
constexpr double kCause = 0.005;
constexpr std::size_t kFaults = 6;
constexpr std::size_t kWholeTests = 3;
constexpr std::size_t kNamedTests = 5;
constexpr std::size_t kSuspects = 4;
constexpr std::size_t kVerify = 3;

// Six figures: more than anybody reads, and half as long.
double in_short(double value) {
  if (value == 0 || !std::isfinite(value)) return value;
  const double scale = std::pow(10, 5 - std::floor(std::log10(std::abs(value))));
  return std::isfinite(scale) ? std::round(value * scale) / scale : value;
}

class Screen {
 public:
  Screen(const Words& words, const Assessment& assessment)
      : words_(words), analysis_(words.analysis()), assessment_(assessment), own_(analysis_) {}

  std::string write(const Asset& asset, const diagnosis::Advice* advice,
                    const diagnosis::BeforeService* before_service) {
    out_.begin_object()
        .member("format", "faultodds-assessment/1")
        .member("detail", "screen")
        .member("circuit", analysis_.id);
    write_asset(out_, asset);
    out_.key("causes").begin_list();
    for (const diagnosis::CauseAssessment& of : assessment_.causes) causes(of);
    out_.end_list();
    write_method(out_, assessment_);
    out_.key("complaint").begin_list();
    for (const std::uint32_t o : assessment_.complaint) out_.value(analysis_.observations[o].id);
    out_.end_list();
    faults();
    tests();
    write_not_possible(out_, words_, assessment_.not_possible);
    write_not_proposed(out_, words_, assessment_.not_proposed, kNamedTests);
    if (!assessment_.not_proposed.empty()) {
      out_.member("not_proposed_count", std::uint64_t{assessment_.not_proposed.size()});
    }
    if (advice != nullptr) this->advice(*advice);
    if (before_service != nullptr) this->before_service(*before_service);
    write_warnings(out_, assessment_.warnings, words_);
    out_.list("cautions", words_.cautions(circuit::general_cautions()));
    out_.key("further_cautions").begin_object();
    for (const auto& [id, text] : referenced_) out_.member(id, text);
    out_.end_object().end_object();
    return out_.take();
  }

 private:
  void causes(const diagnosis::CauseAssessment& of) {
    out_.begin_object().member("observation", analysis_.observations[of.observation].id);
    std::vector<const diagnosis::Cause*> ranked;
    for (const diagnosis::Cause& cause : of.causes) ranked.push_back(&cause);
    std::stable_sort(ranked.begin(), ranked.end(),
                     [](const auto* a, const auto* b) { return a->probability > b->probability; });
    double rest = 0;
    std::size_t shown = 0;
    out_.key("shares").begin_list();
    for (const diagnosis::Cause* cause : ranked) {
      if (shown >= kCauses || cause->probability < kCause) {
        rest += cause->probability;
        continue;
      }
      ++shown;
      out_.begin_object();
      components(cause->components);
      out_.member("probability", in_short(cause->probability)).end_object();
    }
    out_.end_list()
        .member("rest", in_short(rest))
        .member("by_design", in_short(of.by_design))
        .member("elsewhere", in_short(of.elsewhere))
        .member("nothing", in_short(of.nothing))
        .end_object();
  }

  void components(const std::vector<std::uint32_t>& list) {
    out_.key("components").begin_list();
    for (const std::uint32_t c : list) out_.value(analysis_.components[c].id);
    out_.end_list();
  }

  void faults() {
    std::vector<const diagnosis::FaultAssessment*> ranked;
    for (const auto& fault : assessment_.faults) ranked.push_back(&fault);
    std::stable_sort(ranked.begin(), ranked.end(),
                     [](const auto* a, const auto* b) { return a->grades[0] < b->grades[0]; });
    ranked.resize(std::min(ranked.size(), kFaults));
    out_.key("faults").begin_list();
    for (const diagnosis::FaultAssessment* fault : ranked) {
      const circuit::FailureMode& mode = analysis_.modes[fault->mode];
      out_.begin_object()
          .member("mode", mode.id)
          .member("component", mode.component)
          .member("title", words_.mode(mode))
          .key("grades")
          .begin_list();
      for (const double grade : fault->grades) out_.value(in_short(grade));
      out_.end_list().member("posterior_odds", in_short(fault->posterior_odds)).end_object();
    }
    out_.end_list();
  }

  // Those beside the general ones, which are in `cautions`.
  void caution_ids(const Observation& observation) {
    out_.key("caution_ids").begin_list();
    for (const std::string& caution : observation.cautions) {
      if (is_general_caution(caution)) continue;
      const std::string id = own_.id_of(caution);
      referenced_.emplace(id, words_.caution(caution));
      out_.value(id);
    }
    out_.end_list();
  }

  void step(const std::string& id, const std::string& title, double minutes) {
    out_.begin_object().member("id", id).member("title", title);
    if (minutes > 0) out_.member("minutes", minutes);
    out_.end_object();
  }

  void own_steps(const Observation& observation, TestStep::When when) {
    for (const TestStep& one : observation.steps) {
      if (one.when == when) step(one.id, words_.step(one), 0);
    }
  }

  // In the order done, the steps that tests share have `minutes`.
  void steps(const Observation& observation, const TestAssessment& test) {
    out_.key("steps").begin_list();
    for (const SetupStep& one : test.work) step(one.id, words_.step(one), one.minutes);
    own_steps(observation, TestStep::When::before_lockout);
    bool opening = false;
    for (const std::uint32_t s : test.setup) {
      const SetupStep& one = analysis_.setup_steps[s];
      if (!opening && one.id != "lockout") {
        opening = true;
        own_steps(observation, TestStep::When::before_opening);
      }
      step(one.id, words_.step(one), one.minutes);
    }
    own_steps(observation, TestStep::When::before_pressure);
    out_.end_list().key("afterwards").begin_list();
    own_steps(observation, TestStep::When::afterwards);
    out_.end_list();
  }

  void pressure(const Observation& observation) {
    if (observation.test_pressure) {
      out_.member("test_pressure", reading::format_pressure(*observation.test_pressure));
    }
    if (observation.pressure_limit) {
      out_.key("pressure_limit");
      write_pressure_limit(out_, *observation.pressure_limit, words_);
    }
    if (observation.no_figure) {
      out_.key("no_pressure");
      write_reason(out_, *observation.no_figure, words_);
    }
  }

  void named(const Observation& observation, double minutes) {
    out_.member("observation", observation.id)
        .member("title", words_.observation(observation))
        .member("kind", circuit::kind_name(observation.kind))
        .member("minutes", minutes)
        .member("energised", observation.energised);
  }

  void whole(const TestAssessment& test) {
    const Observation& observation = analysis_.observations[test.observation];
    out_.begin_object();
    named(observation, test.minutes);
    if (test.again) out_.member("again", true);
    if (observation.people > 1) out_.member("people", std::uint64_t{2});
    out_.key("probability").begin_object();
    for (std::size_t i = 0; i < test.probability.size(); ++i) {
      out_.member(observation.outcomes[i], in_short(test.probability[i]));
    }
    out_.end_object()
        .member("cause_bits", in_short(test.cause_bits))
        .list("setup_ids", observation.setup);
    caution_ids(observation);
    steps(observation, test);
    pressure(observation);
    write_limits(out_, observation);
    write_bring(out_, observation);
    write_said(out_, "because", test.because, words_);
    out_.key("suspects").begin_list();
    for (std::size_t i = 0; i < std::min(kSuspects, test.suspects.size()); ++i) {
      out_.value(analysis_.modes[test.suspects[i]].id);
    }
    out_.end_list().end_object();
  }

  void tests() {
    const std::vector<TestAssessment>& list = assessment_.tests;
    out_.key("tests").begin_list();
    for (std::size_t i = 0; i < std::min(kWholeTests, list.size()); ++i) whole(list[i]);
    out_.end_list().key("further_tests").begin_list();
    const std::size_t last = std::min(list.size(), kWholeTests + kNamedTests);
    for (std::size_t i = kWholeTests; i < last; ++i) {
      out_.begin_object();
      named(analysis_.observations[list[i].observation], list[i].minutes);
      out_.end_object();
    }
    out_.end_list().member("test_count", static_cast<std::uint64_t>(list.size()));
  }

  void advice(const diagnosis::Advice& advice) {
    out_.key("advice");
    write_advice_in_short(out_, words_, advice);
    out_.key("verify").begin_list();
    for (std::size_t i = 0; i < std::min(kVerify, advice.verify.size()); ++i) {
      const diagnosis::Verification& one = advice.verify[i];
      const Observation& observation = analysis_.observations[one.observation];
      out_.begin_object();
      named(observation, one.minutes);
      out_.member("is_complaint", one.is_complaint).member("risk_if_normal", one.risk_if_normal);
      caution_ids(observation);
      out_.end_object();
    }
    out_.end_list().end_object();
  }

  void before_service(const diagnosis::BeforeService& service) {
    out_.key("before_service");
    write_before_service(out_, analysis_, service);
  }

  const Words& words_;
  const Analysis& analysis_;
  const Assessment& assessment_;
  const OwnCautions own_;
  JsonText out_;
  std::map<std::string, std::string> referenced_;
};

}  // namespace

std::string write_screen_model(const Words& words, const Titles& titles) {
  const Analysis& analysis = words.analysis();
  JsonText out;
  out.begin_object()
      .member("format", "faultodds-model/1")
      .member("detail", "screen")
      .member("circuit", analysis.id)
      .member("title", analysis.title);
  write_titles(out, titles);
  out.key("components").begin_list();
  for (const circuit::Component& component : analysis.components) {
    out.begin_object().member("id", component.id).member("title", component.title).end_object();
  }
  out.end_list().key("modes").begin_list();
  for (const circuit::FailureMode& mode : analysis.modes) {
    out.begin_object().member("mode", mode.id).member("component", mode.component);
    out.member("title", mode.title).end_object();
  }
  out.end_list().key("observations").begin_list();
  for (const Observation& one : analysis.observations) {
    const bool seen = one.symptom || one.kind == circuit::ObservationKind::look ||
                      one.kind == circuit::ObservationKind::temperature;
    if (!seen && one.title.empty()) continue;
    out.begin_object()
        .member("observation", one.id)
        .member("title", words.observation(one))
        .member("kind", circuit::kind_name(one.kind))
        .member("symptom", one.symptom);
    if (!one.title.empty()) out.member("own_title", true);
    if (!one.subject.empty()) out.member("subject", one.subject);
    out.list("outcomes", one.outcomes).end_object();
  }
  out.end_list().list("cautions", words.cautions(circuit::general_cautions())).end_object();
  return out.take();
}

std::string write_screen(const Words& words, const Assessment& assessment, const Asset& asset,
                         const diagnosis::Advice* advice,
                         const diagnosis::BeforeService* before_service) {
  return Screen(words, assessment).write(asset, advice, before_service);
}

}  // namespace faultodds::documents
