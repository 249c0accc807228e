#include "core/diagnosis/assessment.h"

#include <algorithm>
#include <cmath>
#include <limits>
#include <map>
#include <set>
#include <tuple>

#include "core/diagnosis/entropy.h"
#include "core/diagnosis/evidence.h"
#include "core/diagnosis/information.h"
#include "core/diagnosis/program.h"
#include "core/error.h"

namespace faultodds::diagnosis {
namespace {

// Tests that the circuit gives no minutes at all are ranked as if they took this long.
constexpr double kLeastMinutes = 0.01;

double odds(const Grades& grades) {
  const double not_sound = grades[1] + grades[2];
  if (grades[0] > 0) return not_sound / grades[0];
  return not_sound > 0 ? std::numeric_limits<double>::infinity() : 0.0;
}

// A smallest set of observations that cannot all be true: what cannot be left out without making
// the rest possible.
std::vector<ObservedGrade> conflicting(const Model& model, const CaseNumbers& numbers,
                                       network::Propagation& propagation) {
  CaseNumbers rest = numbers;
  for (std::size_t i = 0; i < rest.observed.size();) {
    CaseNumbers without = rest;
    without.observed.erase(without.observed.begin() + static_cast<std::ptrdiff_t>(i));
    propagation.clear();
    apply(model, without, propagation);
    if (std::isfinite(propagation.collect())) {
      ++i;
    } else {
      rest = std::move(without);
    }
  }
  return rest.observed;
}

[[noreturn]] void refuse_conflict(const Model& model, const CaseNumbers& numbers,
                                  network::Propagation& propagation) {
  const std::vector<ObservedGrade> conflict = conflicting(model, numbers, propagation);
  std::string names;
  for (const ObservedGrade& seen : conflict) {
    if (!names.empty()) names += ", ";
    names += "'" + model.analysis().observations[seen.observation].id + "'";
  }
  throw Error(Code::conflicting_evidence,
              conflict.size() == 1
                  ? "what was observed of " + names + " is impossible in this circuit"
                  : "these observations cannot all be true in this circuit: " + names,
              conflict.empty() ? std::string{} : conflict.back().pointer);
}

std::vector<FaultAssessment> assess_faults(const Model& model, const CaseNumbers& numbers,
                                           const network::Propagation& posterior) {
  const auto& analysis = model.analysis();
  const Program& program = model.program();
  std::vector<FaultAssessment> faults(analysis.modes.size());
  auto own = numbers.priors.begin();
  for (std::uint32_t m = 0; m < analysis.modes.size(); ++m) {
    FaultAssessment& fault = faults[m];
    fault.mode = m;
    const auto p = posterior.posterior(program.mode(m));
    std::copy(p.begin(), p.end(), fault.grades.begin());
    Grades before{};
    if (own != numbers.priors.end() && own->mode == m) {
      before = program.prior(m, own->grades);
      ++own;
    } else {
      const auto prior = program.tree().prior(program.mode(m));
      std::copy(prior.begin(), prior.end(), before.begin());
    }
    fault.prior_odds = odds(before);
    fault.posterior_odds = odds(fault.grades);
    fault.decibans = fault.prior_odds > 0 && std::isfinite(fault.prior_odds)
                         ? 10 * std::log10(fault.posterior_odds / fault.prior_odds)
                         : 0;
  }
  std::stable_sort(
      faults.begin(), faults.end(),
      [](const FaultAssessment& a, const FaultAssessment& b) { return a.grades[0] < b.grades[0]; });
  return faults;
}

}  // namespace

Assessment assess(const Model& model, const Case& the_case) {
  const auto& analysis = model.analysis();
  const Program& program = model.program();
  const CaseNumbers numbers = read_case(model, the_case);

  std::vector<bool> step_done(analysis.setup_steps.size(), false);
  for (std::size_t i = 0; i < the_case.setup_done.size(); ++i) {
    const auto step = model.find_setup(the_case.setup_done[i]);
    if (!step) {
      throw Error(Code::invalid_case,
                  "setup step '" + the_case.setup_done[i] + "' is not one of this circuit's",
                  "/setup_done/" + std::to_string(i));
    }
    step_done[*step] = true;
  }

  Program::Lease propagation(program);
  apply(model, numbers, *propagation);
  Assessment assessment;
  assessment.log_evidence = propagation->collect();
  if (!std::isfinite(assessment.log_evidence)) refuse_conflict(model, numbers, *propagation);
  for (const ObservedGrade& seen : numbers.observed) assessment.log_evidence += seen.log_scale;
  propagation->distribute();

  assessment.complaint = numbers.complaint;
  assessment.warnings = numbers.warnings;
  assessment.faults = assess_faults(model, numbers, *propagation);

  std::vector<bool> observed(analysis.observations.size(), false);
  for (const ObservedGrade& seen : numbers.observed) observed[seen.observation] = true;
  const auto plan = InformationPlan::of(model, numbers);
  const bool by_complaint = !numbers.complaint.empty() && the_case.focus != Focus::circuit;
  for (std::uint32_t o = 0; o < analysis.observations.size(); ++o) {
    if (observed[o]) continue;
    const auto& observation = analysis.observations[o];
    TestAssessment test;
    test.observation = o;
    const auto grades = propagation->posterior(program.observation(o));
    std::copy(grades.begin(), grades.end(), test.grades.begin());
    test.probability.assign(observation.outcomes.size(), 0.0);
    for (std::size_t s = 0; s < 3; ++s) {
      const auto& row = program.rows(o)[s];
      for (std::size_t i = 0; i < row.size(); ++i) test.probability[i] += grades[s] * row[i];
    }
    const Bits bits = plan->bits(model, numbers, *propagation, o, test.probability);
    test.information_bits = bits.information;
    test.complaint_bits = bits.complaint;
    assessment.error_bound = std::max(assessment.error_bound, bits.error_bound);
    test.minutes = observation.perform_minutes;
    for (std::uint32_t step : program.setup(o)) {
      if (!step_done[step]) test.minutes += analysis.setup_steps[step].minutes;
    }
    test.bits_per_minute = (by_complaint ? test.complaint_bits : test.information_bits) /
                           std::max(test.minutes, kLeastMinutes);
    assessment.tests.push_back(std::move(test));
  }
  if (assessment.error_bound > 0) assessment.method = "bounded mutual information";
  std::stable_sort(assessment.tests.begin(), assessment.tests.end(),
                   [&](const TestAssessment& a, const TestAssessment& b) {
                     const bool a_live = analysis.observations[a.observation].energised;
                     const bool b_live = analysis.observations[b.observation].energised;
                     return std::tuple(a_live, -a.bits_per_minute) <
                            std::tuple(b_live, -b.bits_per_minute);
                   });
  return assessment;
}

std::vector<std::vector<std::uint32_t>> ambiguity_groups(const circuit::Analysis& analysis) {
  // A mode is known by the sets it appears in, itself left out.
  using Appearance = std::tuple<std::uint32_t, double, std::vector<std::uint32_t>>;
  std::vector<std::vector<Appearance>> seen_as(analysis.modes.size());
  for (std::uint32_t o = 0; o < analysis.observations.size(); ++o) {
    for (const auto& set : analysis.observations[o].sets) {
      for (std::uint32_t m : set.modes) {
        std::vector<std::uint32_t> others = set.modes;
        std::erase(others, m);
        seen_as[m].emplace_back(o, set.probability, std::move(others));
      }
    }
  }
  std::map<std::vector<Appearance>, std::vector<std::uint32_t>> groups;
  for (std::uint32_t m = 0; m < analysis.modes.size(); ++m) {
    std::sort(seen_as[m].begin(), seen_as[m].end());
    groups[std::move(seen_as[m])].push_back(m);
  }
  std::vector<std::vector<std::uint32_t>> result;
  for (auto& [appearance, modes] : groups) {
    if (modes.size() > 1) result.push_back(std::move(modes));
  }
  std::sort(result.begin(), result.end());
  return result;
}

}  // namespace faultodds::diagnosis
