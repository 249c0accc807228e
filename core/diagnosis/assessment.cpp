#include "core/diagnosis/assessment.h"

#include <algorithm>
#include <cmath>
#include <limits>
#include <map>
#include <numeric>
#include <tuple>
#include <utility>

#include "core/circuit/kinds.h"
#include "core/diagnosis/cause.h"
#include "core/diagnosis/cause_hypotheses.h"
#include "core/diagnosis/cure_sums.h"
#include "core/diagnosis/entropy.h"
#include "core/diagnosis/evidence.h"
#include "core/diagnosis/inferred.h"
#include "core/diagnosis/information.h"
#include "core/diagnosis/program.h"
#include "core/diagnosis/relevant_part.h"
#include "core/diagnosis/renewal.h"
#include "core/error.h"
#include "core/in_parallel.h"
#include "core/ranked.h"

namespace faultodds::diagnosis {
namespace {

// Tests that the circuit gives no minutes at all are ranked as if they took this long.
constexpr double kLeastRankedMinutes = 0.01;

double odds(const Grades& grades) {
  const double not_sound = grades[1] + grades[2];
  if (grades[0] > 0) return not_sound / grades[0];
  return not_sound > 0 ? std::numeric_limits<double>::infinity() : 0.0;
}

void assess_faults(const Model& model, const CaseNumbers& numbers,
                   const std::vector<Grades>& grades, std::vector<FaultAssessment>& faults) {
  const auto& analysis = model.analysis();
  const Program& program = model.program();
  faults.resize(analysis.modes.size());
  auto own = numbers.priors.begin();
  for (std::uint32_t m = 0; m < analysis.modes.size(); ++m) {
    FaultAssessment& fault = faults[m];
    fault.mode = m;
    fault.grades = grades[m];
    Grades before{};
    if (own != numbers.priors.end() && own->mode == m) {
      before = program.prior(m, own->grades);
      ++own;
    } else {
      before = program.prior(m);
    }
    fault.prior_odds = odds(before);
    fault.posterior_odds = odds(fault.grades);
    fault.decibans = fault.prior_odds > 0 && std::isfinite(fault.prior_odds)
                         ? 10 * std::log10(fault.posterior_odds / fault.prior_odds)
                         : 0;
  }
  std::sort(faults.begin(), faults.end(), [](const FaultAssessment& a, const FaultAssessment& b) {
    const double one = ranked(a.grades[1] + a.grades[2]), other = ranked(b.grades[1] + b.grades[2]);
    return one != other ? one > other : a.mode < b.mode;
  });
}

// A case read and checked, before any inference.
struct Prepared {
  CaseNumbers numbers;
  Preparation preparation;
};

Prepared prepare(const Model& model, const Case& the_case) {
  Prepared prepared{read_case(model, the_case), Preparation(model, the_case)};
  for (std::size_t i = 0; i < the_case.setup_done.size(); ++i) {
    if (!prepared.preparation.knows(the_case.setup_done[i])) {
      throw Error(Code::invalid_case,
                  "setup step '" + the_case.setup_done[i] + "' is not one of this circuit's",
                  "/setup_done/" + std::to_string(i));
    }
  }
  return prepared;
}

// What was made once for all tests of a case.
struct Questions {
  std::optional<CauseAnswer> cause;  // of the complaint
  bool by_cause = false;             // tests are ranked by what they tell of it
  bool of_faults = true;             // whether it is asked what they tell of all failure modes
  std::shared_ptr<const InformationPlan> information;
};

CauseAssessment shares(const circuit::Analysis& analysis, std::uint32_t observation,
                       const CauseAnswer& answer) {
  CauseValues values = cause_values(analysis, observation);
  CauseAssessment result;
  result.observation = observation;
  for (std::size_t v = 0; v < values.components.size(); ++v) {
    result.causes.push_back({std::move(values.components[v]), answer.share(v)});
  }
  result.by_design = answer.share(values.by_design());
  result.elsewhere = answer.share(values.elsewhere());
  result.nothing = answer.share(values.nothing());
  std::stable_sort(result.causes.begin(), result.causes.end(), [](const Cause& a, const Cause& b) {
    return ranked(a.probability) > ranked(b.probability);
  });
  return result;
}

// The complaint's causes first, then those of the other abnormal symptoms: they are put into
// `causes`. What the tests tell of the complaint's, where that was found.
std::optional<CauseAnswer> ask_for_causes(const Model& model, const Case& the_case,
                                          const CaseNumbers& numbers, Inferred& inferred,
                                          std::vector<CauseAssessment>& causes) {
  causes.clear();
  const auto complaint = complaint_of(model.analysis(), numbers, the_case);
  if (!complaint || (!inferred.cause && inferred.missed > 0)) return std::nullopt;
  std::optional<CauseAnswer> cause = std::move(inferred.cause);
  if (!cause) {
    cause =
        CausePlan::of(model, numbers, *complaint, CauseTests::observations)->answer(model, numbers);
  }
  causes.push_back(shares(model.analysis(), *complaint, *cause));
  const auto shown = [&](std::uint32_t o) {
    return o != *complaint && (the_case.earlier_causes || o < the_case.past_from);
  };
  if (inferred.other_causes) {
    for (const auto& [o, answer] : *inferred.other_causes) {
      if (shown(o)) causes.push_back(shares(model.analysis(), o, answer));
    }
    return cause;
  }
  for (std::uint32_t o : numbers.complaint) {
    if (!shown(o)) continue;
    causes.push_back(
        shares(model.analysis(), o,
               CausePlan::of(model, numbers, o, CauseTests::none)->answer(model, numbers)));
  }
  return cause;
}

Questions ask(const Model& model, const Case& the_case, const CaseNumbers& numbers,
              Inferred& inferred, std::vector<CauseAssessment>& causes) {
  Questions questions;
  questions.cause = ask_for_causes(model, the_case, numbers, inferred, causes);
  questions.by_cause = questions.cause && the_case.focus != Focus::circuit;
  questions.of_faults = the_case.fault_bits || !questions.by_cause;
  if (questions.of_faults) questions.information = InformationPlan::of(model, numbers);
  return questions;
}

void assess_test(const Model& model, const Questions& questions, const Prepared& prepared,
                 const Inferred& inferred, std::uint32_t o, TestAssessment& test,
                 double* error_bound) {
  const Program& program = model.program();
  const auto& observation = model.analysis().observations[o];
  test.observation = o;
  test.setup.clear();
  test.suspects.clear();
  test.because.clear();
  test.probability.assign(observation.outcomes.size(), 0.0);
  test.grades = inferred.observations[o];
  program.add_outcomes(o, test.grades, {test.probability.data(), test.probability.size()});
  test.information_bits = 0;
  if (questions.of_faults) {
    const Bits bits =
        information(model, prepared.numbers, questions.information.get(), o, test.grades,
                    {test.probability.data(), test.probability.size()}, inferred.missed);
    test.information_bits = bits.information;
    *error_bound = std::max(*error_bound, bits.error_bound);
  }
  test.cause_bits = 0;
  if (questions.cause) {
    test.cause_bits = questions.cause->bits(o, program.rows(o));
    // I(cause; O) = H(O) - H(O | cause), of a mixture of what was looked at and what was missed.
    const double missed[] = {inferred.missed, 1 - inferred.missed};
    const auto n = test.probability.size();
    *error_bound = std::max(*error_bound, entropy_bits_error(inferred.missed, n) +
                                              inferred.missed * std::log2(static_cast<double>(n)) +
                                              entropy_bits(missed));
  }
  test.minutes = prepared.preparation.minutes(o, prepared.preparation.done());
}

// Puts tests in the order a technician shall see them: those that need an instrument on a machine
// under power last, then by bits per minute.
void rank(const circuit::Analysis& analysis, std::vector<TestAssessment>& tests) {
  struct Place {
    bool instrument;
    double bits_per_minute;
    std::uint32_t from;
  };
  boost::container::small_vector<Place, 64> order;
  for (std::uint32_t i = 0; i < tests.size(); ++i) {
    order.push_back({circuit::takes_an_instrument(analysis.observations[tests[i].observation]),
                     ranked(tests[i].bits_per_minute), i});
  }
  std::sort(order.begin(), order.end(), [](const Place& a, const Place& b) {
    return std::tuple(a.instrument, -a.bits_per_minute, a.from) <
           std::tuple(b.instrument, -b.bits_per_minute, b.from);
  });
  // Each cycle of the permutation moves its tests round, one of them by way of `first`.
  for (std::uint32_t start = 0; start < order.size(); ++start) {
    if (order[start].from == start) continue;
    TestAssessment first = std::move(tests[start]);
    std::uint32_t at = start;
    while (order[at].from != start) {
      const std::uint32_t from = std::exchange(order[at].from, at);
      tests[at] = std::move(tests[from]);
      at = from;
    }
    order[at].from = at;
    tests[at] = std::move(first);
  }
}

// Everything after the propagation. What `assessment` held before is replaced, its memory kept.
void finish(const Model& model, const Case& the_case, const Prepared& prepared, Inferred& inferred,
            Assessment& assessment) {
  const auto& analysis = model.analysis();
  const CaseNumbers& numbers = prepared.numbers;
  assessment.log_evidence = inferred.log_evidence;
  assessment.error_bound = std::max(inferred.missed, inferred.log_evidence_off);
  for (const ObservedGrade& seen : numbers.observed) assessment.log_evidence += seen.log_scale;
  assessment.complaint = numbers.complaint;
  assessment.not_possible = the_case.not_possible;
  assessment.not_proposed.clear();
  assessment.warnings = numbers.warnings;
  if (inferred.missed > 0) {
    assessment.warnings.push_back({"warning.approximate"});
    assessment.warnings.back().with("error", MessageValue::Kind::share, inferred.missed);
  }
  assess_faults(model, numbers, inferred.modes, assessment.faults);

  const Questions questions = ask(model, the_case, numbers, inferred, assessment.causes);
  std::size_t proposed = 0;
  auto seen = numbers.observed.begin();
  for (std::uint32_t o = 0; o < analysis.observations.size(); ++o) {
    if (seen != numbers.observed.end() && seen->observation == o) {
      ++seen;
      continue;
    }
    const circuit::Observation& asked = analysis.observations[o];
    if (asked.withheld || circuit::is_reported(asked) || !the_case.can_make(o)) continue;
    if (auto refused = prepared.preparation.refused(o)) {
      assessment.not_proposed.push_back(std::move(*refused));
      continue;
    }
    if (proposed == assessment.tests.size()) assessment.tests.emplace_back();
    TestAssessment* test = &assessment.tests[proposed++];
    assess_test(model, questions, prepared, inferred, o, *test, &assessment.error_bound);
    test->bits_per_minute = (questions.by_cause ? test->cause_bits : test->information_bits) /
                            std::max(test->minutes, kLeastRankedMinutes);
  }
  assessment.tests.resize(proposed);
  assessment.method = inferred.missed > 0          ? inferred.method
                      : assessment.error_bound > 0 ? "bounded mutual information"
                                                   : "exact";
  rank(analysis, assessment.tests);
}

// The same; where the tree's answer is there but why the machine is as it is takes more memory than
// there is, approximately.
void finish_or_approximate(const Model& model, const Case& the_case, const Prepared& prepared,
                           Inferred& inferred, Assessment& assessment) {
  try {
    finish(model, the_case, prepared, inferred, assessment);
    return;
  } catch (const Error& error) {
    if (error.code() != Code::limit_exceeded || inferred.missed > 0) throw;
  }
  inferred = infer_approximately(model, the_case, prepared.numbers);
  finish(model, the_case, prepared, inferred, assessment);
}

}  // namespace

Assessment assess(const Model& model, const Case& the_case) {
  if (!the_case.repairs.empty()) return assess_extended(model, the_case);
  if (const auto told = with_reports(model, the_case)) return assess(*told, the_case);
  const Prepared prepared = prepare(model, the_case);
  Inferred inferred = infer(model, the_case, prepared.numbers);
  if (!std::isfinite(inferred.log_evidence)) refuse_conflict(model, prepared.numbers);
  Assessment assessment;
  finish_or_approximate(model, the_case, prepared, inferred, assessment);
  return assessment;
}

std::size_t KeptAssessment::bytes() const {
  constexpr std::size_t kText = 128;  // of a string and what holds it
  std::size_t bytes = sizeof *this + assessment.faults.size() * sizeof(FaultAssessment) +
                      assessment.complaint.size() * sizeof(std::uint32_t) +
                      (assessment.warnings.size() + assessment.not_possible.size() +
                       assessment.not_proposed.size()) *
                          3 * kText;
  for (const CauseAssessment& cause : assessment.causes) {
    bytes += sizeof cause + cause.causes.size() * (sizeof(Cause) + 2 * sizeof(std::uint32_t));
  }
  for (const TestAssessment& test : assessment.tests) {
    bytes += sizeof test + (test.setup.size() + test.suspects.size()) * sizeof(std::uint32_t) +
             (test.work.size() + test.because.size()) * 2 * kText;
  }
  return bytes;
}

std::shared_ptr<const KeptAssessment> assess_once(const Model& model, const Case& the_case,
                                                  std::string_view question) {
  return model.program().assessments().get(text_key(question), [&] {
    auto kept = std::make_shared<KeptAssessment>(KeptAssessment{assess(model, the_case)});
    explain(model, the_case, kept->assessment);
    return kept;
  });
}

namespace {

void assess_slice(const Model& model, std::span<const Case* const> cases,
                  std::span<Assessed> results) {
  std::vector<std::optional<Prepared>> prepared(cases.size());
  // Cases with one pattern of evidence are propagated side by side.
  std::map<std::vector<std::uint32_t>, std::vector<std::size_t>> by_pattern;
  for (std::size_t i = 0; i < cases.size(); ++i) {
    results[i].error.reset();
    try {
      if (!cases[i]->repairs.empty() || !model.program().has_tree() ||
          with_reports(model, *cases[i])) {
        results[i].assessment = assess(model, *cases[i]);
        continue;
      }
      prepared[i].emplace(prepare(model, *cases[i]));
      if (!tree_answers(model, *cases[i], prepared[i]->numbers)) {
        results[i].assessment = assess(model, *cases[i]);
        continue;
      }
    } catch (const Error& error) {
      results[i] = {{}, error};
      continue;
    }
    by_pattern[pattern_key(prepared[i]->numbers)].push_back(i);
  }
  if (by_pattern.empty()) return;
  Program::LaneLease propagation(model.program());
  for (const auto& [pattern, members] : by_pattern) {
    for (std::size_t first = 0; first < members.size(); first += network::kLanes) {
      const std::size_t count = std::min(network::kLanes, members.size() - first);
      propagation->clear();
      for (std::size_t l = 0; l < count; ++l) {
        apply(model, prepared[members[first + l]]->numbers, *propagation, l);
      }
      propagation->collect_all();
      propagation->distribute();
      for (std::size_t l = 0; l < count; ++l) {
        const std::size_t i = members[first + l];
        try {
          if (propagation->doubtful(l) || !std::isfinite(propagation->log_evidence(l))) {
            results[i].assessment = assess(model, *cases[i]);
            continue;
          }
          Inferred inferred;
          inferred.log_evidence = propagation->log_evidence(l);
          read({*propagation, l}, model, inferred);
          finish_or_approximate(model, *cases[i], *prepared[i], inferred, results[i].assessment);
        } catch (const Error& error) {
          results[i] = {{}, error};
        }
      }
    }
  }
}

}  // namespace

void assess_many(const Model& model, std::span<const Case* const> cases,
                 std::span<Assessed> results, std::size_t threads) {
  const std::size_t slices =
      std::clamp<std::size_t>(threads, 1, std::max<std::size_t>(cases.size(), 1));
  in_parallel(slices, slices, [&](std::size_t slice) {
    const std::size_t first = cases.size() * slice / slices;
    const std::size_t count = cases.size() * (slice + 1) / slices - first;
    assess_slice(model, cases.subspan(first, count), results.subspan(first, count));
  });
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
