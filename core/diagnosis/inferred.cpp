#include "core/diagnosis/inferred.h"

#include <algorithm>
#include <cmath>
#include <limits>
#include <numeric>
#include <utility>

#include "core/diagnosis/assessment.h"
#include "core/diagnosis/cause_hypotheses.h"
#include "core/diagnosis/cure_sums.h"
#include "core/diagnosis/information.h"
#include "core/diagnosis/log_evidence.h"
#include "core/diagnosis/program.h"
#include "core/error.h"

namespace faultodds::diagnosis {
namespace {

// A smaller tree takes no longer than tables do. Larger tables take long to make.
constexpr std::size_t kLargeTree = std::size_t{200} << 10;
constexpr std::size_t kMostTables = std::size_t{1500} << 10;
// An approximation that may be wrong by more, on a probability, says nothing.
constexpr double kMostMissed = 0.05;
constexpr Hypotheses::Effort kEfforts[] = {{8'000, 300, 8'000}, {30'000, 1'500, 30'000}};

// The case with something to ask about: where nothing was observed, an observation of which
// nothing is known.
CaseNumbers with_focus(const CaseNumbers& numbers, std::uint32_t unknown) {
  CaseNumbers result = numbers;
  if (result.observed.empty()) {
    ObservedGrade none;
    none.observation = unknown;
    none.likelihood = {1, 1, 1};
    result.observed.push_back(std::move(none));
  }
  return result;
}

// Where there is no tree for the whole circuit, or a large one: by what the evidence needs of it.
Inferred infer_by_question(const Model& model, const Case& the_case, const CaseNumbers& numbers) {
  const circuit::Analysis& analysis = model.analysis();
  const auto complaint = complaint_of(analysis, numbers, the_case);
  const auto observations = static_cast<std::uint32_t>(analysis.observations.size());
  Inferred inferred;
  inferred.modes.resize(analysis.modes.size());
  inferred.observations.resize(observations);
  const auto ask = [&](const CaseNumbers& of, std::uint32_t focus) {
    CauseAnswer answer = CausePlan::of(model, of, focus, CauseTests::everything)->answer(model, of);
    for (std::uint32_t o = 0; o < observations; ++o) inferred.observations[o] = answer.grades(o);
    for (std::uint32_t m = 0; m < analysis.modes.size(); ++m) {
      inferred.modes[m] = answer.mode_grades(observations + m);
    }
    inferred.log_evidence = answer.log_evidence();
    for (const ObservedGrade& seen : of.observed) {
      if (seen.observation == focus) inferred.log_evidence -= seen.log_combined;
    }
    return answer;
  };
  if (numbers.observed.empty() && observations > 1) {
    ask(with_focus(numbers, 1), 1);
    const Grades first = inferred.observations[0];
    ask(with_focus(numbers, 0), 0);
    inferred.observations[0] = first;
    inferred.log_evidence = 0;
    return inferred;
  }
  const CaseNumbers of = with_focus(numbers, 0);
  CauseAnswer answer = ask(of, complaint.value_or(of.observed.front().observation));
  if (complaint) inferred.cause = std::move(answer);
  return inferred;
}

// Log P(e) where it is had quickly.
std::optional<double> quick_log_evidence(const Model& model, const CaseNumbers& numbers) {
  if (numbers.observed.empty()) return std::nullopt;
  try {
    return LogEvidence(model, numbers)(numbers);
  } catch (const Error& error) {
    if (error.code() != Code::limit_exceeded) throw;
    return std::nullopt;
  }
}

// Before anything was observed.
Inferred prior_by_hypotheses(const Model& model, const CaseNumbers& numbers,
                             const Hypotheses::Effort& effort) {
  const circuit::Analysis& analysis = model.analysis();
  std::vector<std::uint32_t> all(analysis.observations.size());
  std::iota(all.begin(), all.end(), 0u);
  const Hypotheses hypotheses(model, numbers, {}, all, effort);
  Inferred inferred;
  ++model.program().method_counts().bounded;
  for (const std::uint32_t o : all) {
    double most[2] = {0, 0};
    for (std::size_t h = 0; h < hypotheses.size(); ++h) {
      for (std::size_t t = 0; t < 2; ++t) {
        most[t] += hypotheses.weight(h) * hypotheses.at_most(h, o, t);
      }
    }
    inferred.observations.push_back(
        with_background(analysis.observations[o], {most[0], most[1] - most[0], 1 - most[1]}));
  }
  for (std::uint32_t m = 0; m < analysis.modes.size(); ++m) {
    inferred.modes.push_back(model.program().prior(m, prior_in(model, numbers, m)));
  }
  inferred.method = "most probable hypotheses";
  inferred.missed = hypotheses.estimated_error();
  return inferred;
}

// The same from the most probable hypotheses, where neither products nor a tree fit. What they
// leave out is known where P(e) is.
std::optional<Inferred> infer_by_hypotheses(const Model& model, const Case& the_case,
                                            const CaseNumbers& numbers,
                                            std::optional<double> log_exact,
                                            const Hypotheses::Effort& effort) {
  const circuit::Analysis& analysis = model.analysis();
  if (numbers.observed.empty()) return prior_by_hypotheses(model, numbers, effort);
  const auto complaint = complaint_of(analysis, numbers, the_case);
  const std::uint32_t focus = complaint.value_or(numbers.observed.front().observation);
  if (seen_of(numbers, focus) == nullptr) return std::nullopt;
  const auto observations = static_cast<std::uint32_t>(analysis.observations.size());
  std::vector<std::uint32_t> all(observations);
  std::iota(all.begin(), all.end(), 0u);
  const Hypotheses hypotheses(model, numbers, {}, all, effort);
  CauseAnswer answer(cause_sums(model, numbers, focus, hypotheses));
  Inferred inferred;
  ++model.program().method_counts().bounded;
  for (std::uint32_t o = 0; o < observations; ++o) {
    inferred.observations.push_back(answer.grades(o));
  }
  for (std::uint32_t m = 0; m < analysis.modes.size(); ++m) {
    inferred.modes.push_back(answer.mode_grades(observations + m));
  }
  inferred.log_evidence = hypotheses.log_evidence();
  inferred.method = "most probable hypotheses";
  inferred.missed = hypotheses.estimated_error();
  inferred.log_evidence_off = hypotheses.log_evidence_error();
  if (log_exact) {
    inferred.log_evidence = *log_exact;
    inferred.log_evidence_off = 0;
  }
  if (complaint) inferred.cause = std::move(answer);
  auto& others = inferred.other_causes.emplace();
  for (std::uint32_t o : numbers.complaint) {
    if (o != complaint) others.emplace_back(o, cause_sums(model, numbers, o, hypotheses));
  }
  return inferred;
}

// The answer where nothing exact fits.
Inferred infer_bounded(const Model& model, const CaseNumbers& numbers) {
  using Lanes = network::ConditionedTree::Lanes;
  const Program& program = model.program();
  const network::ConditionedTree& bounded = program.bounded();
  network::ConditionedTree::Tell priors;
  if (!numbers.priors.empty()) {
    priors = [&](Lanes& lanes, std::size_t lane) {
      apply_bounded_priors(model, numbers.priors, lanes, lane);
    };
  }
  const auto answer = bounded.answer(
      [&](Lanes& lanes, std::size_t lane) { apply_bounded_evidence(model, numbers, lanes, lane); },
      priors);
  ++program.method_counts().bounded;
  Inferred inferred;
  // Of what was missed it may have anything from nothing to all.
  inferred.missed = answer.missed;
  inferred.log_evidence_off = -std::log1p(-answer.missed) / 2;
  inferred.log_evidence = answer.log_evidence + inferred.log_evidence_off;
  inferred.method = "bounded conditioning";
  if (!std::isfinite(answer.log_evidence)) return inferred;
  const network::Posterior posterior = bounded.view(answer);
  const auto grades = [&](network::Var v) {
    return Grades{posterior(v, 0), posterior(v, 1), posterior(v, 2)};
  };
  for (std::uint32_t m = 0; m < model.analysis().modes.size(); ++m) {
    inferred.modes.push_back(grades(program.bounded_mode(m)));
  }
  for (std::uint32_t o = 0; o < model.analysis().observations.size(); ++o) {
    inferred.observations.push_back(grades(program.bounded_observation(o)));
  }
  return inferred;
}

}  // namespace

void read(const network::Posterior& posterior, const Model& model, Inferred& into) {
  const Program& program = model.program();
  const auto grades = [&](network::Var v) {
    return Grades{posterior(v, 0), posterior(v, 1), posterior(v, 2)};
  };
  into.modes.resize(model.analysis().modes.size());
  into.observations.resize(model.analysis().observations.size());
  for (std::uint32_t m = 0; m < into.modes.size(); ++m) into.modes[m] = grades(program.mode(m));
  for (std::uint32_t o = 0; o < into.observations.size(); ++o) {
    into.observations[o] = grades(program.observation(o));
  }
}

bool tree_answers(const Model& model, const Case& the_case, const CaseNumbers& numbers) {
  const Program& program = model.program();
  if (!program.has_tree()) return false;
  const std::size_t tree = program.tree().bytes();
  if (numbers.observed.empty() || tree < kLargeTree || !numbers.priors.empty()) return true;
  const circuit::Analysis& analysis = model.analysis();
  const std::uint32_t focus =
      complaint_of(analysis, numbers, the_case).value_or(numbers.observed.front().observation);
  const double most = 16 *
                      static_cast<double>(analysis.observations.size() + analysis.modes.size()) *
                      std::pow(3.0, static_cast<double>(numbers.observed.size())) *
                      static_cast<double>(analysis.observations[focus].sets.size() + 3);
  if (most > static_cast<double>(std::min(tree, kMostTables))) return true;
  return CausePlan::of(model, numbers, focus, CauseTests::everything)->table_bytes() == 0;
}

Inferred infer(const Model& model, const Case& the_case, const CaseNumbers& numbers) {
  if (tree_answers(model, the_case, numbers)) {
    Program::Lease propagation(model.program());
    apply(model, numbers, *propagation);
    ++model.program().method_counts().tree;
    Inferred inferred;
    inferred.log_evidence = propagation->collect();
    if (!std::isfinite(inferred.log_evidence)) return inferred;
    propagation->distribute();
    read(*propagation, model, inferred);
    return inferred;
  }
  try {
    return infer_by_question(model, the_case, numbers);
  } catch (const Error& error) {
    if (error.code() == Code::conflicting_evidence) {
      Inferred impossible;
      impossible.log_evidence = -std::numeric_limits<double>::infinity();
      return impossible;
    }
    if (error.code() != Code::limit_exceeded) throw;
  }
  return infer_approximately(model, the_case, numbers);
}

Inferred infer_approximately(const Model& model, const Case& the_case, const CaseNumbers& numbers) {
  try {
    const std::optional<double> log_exact = quick_log_evidence(model, numbers);
    for (const Hypotheses::Effort& effort : kEfforts) {
      std::optional<Inferred> found =
          infer_by_hypotheses(model, the_case, numbers, log_exact, effort);
      if (found && found->missed <= kMostMissed) return std::move(*found);
    }
  } catch (const Error& error) {
    if (error.code() != Code::limit_exceeded && error.code() != Code::conflicting_evidence) {
      throw;
    }
  }
  Inferred inferred = infer_bounded(model, numbers);
  if (inferred.missed > kMostMissed ||
      (inferred.missed > 0 && !std::isfinite(inferred.log_evidence))) {
    throw Error(Code::limit_exceeded,
                "this circuit and what was observed need more memory than the budget of " +
                    std::to_string(model.program().account().budget()) +
                    " bytes for an exact answer, and no approximation is closer than " +
                    std::to_string(kMostMissed) + " on a probability");
  }
  return inferred;
}

namespace {

// A smallest set of observations that cannot all be true: what cannot be left out without making
// the rest possible.
std::vector<ObservedGrade> conflicting(const Model& model, const CaseNumbers& numbers) {
  CaseNumbers rest = numbers;
  for (std::size_t i = 0; i < rest.observed.size();) {
    CaseNumbers without = rest;
    without.observed.erase(without.observed.begin() + static_cast<std::ptrdiff_t>(i));
    if (std::isfinite(infer(model, {}, without).log_evidence)) {
      ++i;
    } else {
      rest = std::move(without);
    }
  }
  return rest.observed;
}

}  // namespace

void refuse_conflict(const Model& model, const CaseNumbers& numbers) {
  const std::vector<ObservedGrade> conflict = conflicting(model, numbers);
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

}  // namespace faultodds::diagnosis
