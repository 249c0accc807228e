#include "core/diagnosis/cause_hypotheses.h"

#include <algorithm>
#include <cmath>

#include "core/diagnosis/cure_sums.h"
#include "core/diagnosis/marks.h"
#include "core/stop.h"

namespace faultodds::diagnosis {
namespace {

// P(cause = v, what was seen of the focus | h), by value.
void causes_of(const Hypotheses& hypotheses, std::size_t h, const circuit::Analysis& analysis,
               std::uint32_t focus, const CauseValues& values,
               const std::vector<Mark<double>>& marks, std::vector<double>& into) {
  const auto& sets = analysis.observations[focus].sets;
  std::vector<double> most(2 * sets.size());
  for (std::size_t j = 0; j < sets.size(); ++j) {
    for (std::size_t t = 0; t < 2; ++t) most[2 * j + t] = hypotheses.at_most(h, focus, j, t);
  }
  // Whose cause a set is here: all of its modes sound, or its components.
  std::vector<std::size_t> value;
  for (std::uint32_t j = 0; j < sets.size(); ++j) {
    const bool sound =
        std::all_of(sets[j].modes.begin(), sets[j].modes.end(),
                    [&](std::uint32_t m) { return hypotheses.not_sound(h, m) == 0; });
    value.push_back(sound ? values.by_design() : values.of_set[j]);
  }
  std::fill(into.begin(), into.end(), 0.0);
  std::vector<double> factor(sets.size());
  for (const Mark<double>& mark : marks) {
    double all = 1;
    for (std::size_t j = 0; j < sets.size(); ++j) {
      const double below = mark.grade > 0 ? most[2 * j + mark.grade - 1] : 0;
      const double up_to = mark.grade < 2 ? most[2 * j + mark.grade] : 1;
      factor[j] = below + mark.x * (up_to - below);
      all *= factor[j];
    }
    into[values.elsewhere()] += mark.elsewhere * all;
    into[values.nothing()] += mark.nothing * all;
    if (mark.grade == 0) continue;
    double shares = 0;
    for (std::size_t j = 0; j < sets.size(); ++j) {
      const double up_to = mark.grade < 2 ? most[2 * j + mark.grade] : 1;
      const double at = up_to - most[2 * j + mark.grade - 1];
      if (!(at > 0)) continue;
      double others = 1;
      if (factor[j] > 0) {
        others = all / factor[j];
      } else {
        for (std::size_t k = 0; k < sets.size(); ++k) {
          if (k != j) others *= factor[k];
        }
      }
      into[value[j]] += mark.set * at * others;
      shares += at * others;
    }
    into[values.elsewhere()] += mark.elsewhere_by_set * shares;
  }
}

}  // namespace

CauseSums cause_sums(const Model& model, const CaseNumbers& numbers, std::uint32_t focus,
                     const Hypotheses& hypotheses) {
  const circuit::Analysis& analysis = model.analysis();
  const std::size_t observations = analysis.observations.size();
  const std::size_t n = hypotheses.size();
  const CauseValues values = cause_values(analysis, focus);
  const auto marks = marks_of<double>(
      analysis.observations[focus], focus, &numbers,
      gauss_legendre<double>(quadrature_nodes(analysis.observations[focus].sets.size())));
  const ObservedGrade* seen = seen_of(numbers, focus);
  CauseSums sums;
  sums.values = values.size();
  // The hypotheses weigh what was seen of the focus as the likelihood of S does.
  sums.log_scale = hypotheses.log_evidence() + seen->log_combined;
  sums.cause.assign(sums.values, 0);
  sums.at_most.assign((observations + analysis.modes.size()) * 2 * sums.values, 0);
  std::vector<double> shares(n * sums.values), one(sums.values);
  for (std::size_t h = 0; h < n; ++h) {
    if (h % 256 == 0) check_stop();
    causes_of(hypotheses, h, analysis, focus, values, marks, one);
    double all = 0;
    for (const double p : one) all += p;
    for (std::size_t v = 0; v < sums.values; ++v) {
      shares[h * sums.values + v] = all > 0 ? hypotheses.weight(h) * one[v] / all : 0;
      sums.cause[v] += shares[h * sums.values + v];
    }
  }
  const auto add = [&](std::size_t test, std::size_t h, double most0, double most1) {
    double* into = sums.at_most.data() + test * 2 * sums.values;
    const double* share = shares.data() + h * sums.values;
    for (std::size_t v = 0; v < sums.values; ++v) {
      into[v] += most0 * share[v];
      into[sums.values + v] += most1 * share[v];
    }
  };
  for (std::uint32_t o = 0; o < observations; ++o) {
    check_stop();
    const ObservedGrade* of = seen_of(numbers, o);
    const bool known = hypotheses.knows(o);
    for (std::size_t h = 0; h < n; ++h) {
      double most0 = known ? hypotheses.at_most(h, o, 0) : 1;
      double most1 = known ? hypotheses.at_most(h, o, 1) : 1;
      if (of) {
        const Grades given = given_seen(of->likelihood, most0, most1);
        most0 = given[0];
        most1 = given[0] + given[1];
      }
      add(o, h, most0, most1);
    }
  }
  for (std::uint32_t m = 0; m < analysis.modes.size(); ++m) {
    for (std::size_t h = 0; h < n; ++h) {
      const Grades grades = hypotheses.grades(h, m);
      add(observations + m, h, grades[1] + grades[2], grades[2]);
    }
  }
  return sums;
}

}  // namespace faultodds::diagnosis
