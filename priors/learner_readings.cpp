// What readings and outcomes of a record add to what is known of instruments, leak rates and sizes.
#include <algorithm>
#include <cmath>
#include <limits>
#include <set>
#include <tuple>

#include "core/diagnosis/program.h"
#include "core/error.h"
#include "core/hydraulics/effect.h"
#include "core/in_parallel.h"
#include "core/reading/reading.h"
#include "priors/estimators.h"
#include "priors/learner.h"
#include "priors/maximise.h"

namespace faultodds::priors {

void Learner::count_outcomes(const Pattern& pattern, const std::vector<Grades>& observed,
                             double times, Step& step) const {
  const std::vector<diagnosis::Evidence>& all = pattern.evidence.evidence;
  std::map<std::uint32_t, std::pair<int, const diagnosis::Evidence*>> made;
  for (const diagnosis::Evidence& e : all) {
    ++made[e.observation].first;
    made[e.observation].second = &e;
  }
  std::size_t i = 0;
  for (const auto& [o, of] : made) {
    const Grades& structural = observed[i++];
    const std::size_t place = group_of_[pattern.circuit][o];
    if (place == fixed || (options_.select_by_complaint && pattern.complaint == o)) continue;
    if (of.first != 1 || !of.second->outcome) continue;
    OutcomeCounts& counts = step.outcomes[place];
    const circuit::Observation& observation = observations_[pattern.circuit][o];
    const std::size_t outcome = *of.second->outcome;
    for (std::size_t s = 0; s < 3; ++s) {
      double through = 0;
      for (std::size_t b = 0; b < 3; ++b) {
        through += observation.background[b] * observation.matrix[std::max(s, b)][outcome];
      }
      if (!(through > 0)) continue;
      for (std::size_t b = 0; b < 3; ++b) {
        const std::size_t g = std::max(s, b);
        const double share = observation.background[b] * observation.matrix[g][outcome] / through;
        const double count = times * structural[s] * share;
        counts.seen[g][outcome] += count;
        counts.background[b] += count;
      }
    }
  }
}

std::optional<Learner::SingleReading> Learner::single_reading(
    const circuit::Observation& observation, const Pattern& pattern,
    const diagnosis::Evidence& made) const {
  const auto same = [&](const diagnosis::Evidence& e) { return e.observation == made.observation; };
  const std::vector<diagnosis::Evidence>& all = pattern.evidence.evidence;
  if ((options_.select_by_complaint && pattern.complaint == made.observation) ||
      std::count_if(all.begin(), all.end(), same) != 1) {
    return std::nullopt;
  }
  const reading::Setting setting = diagnosis::setting_of(observation);
  const reading::LeakRate rate = reading::leak_rate(*made.reading, setting);
  const auto above_0 = [](double x) { return x > 0; };
  if (rate.censored || !(rate.value > 0) ||
      !std::all_of(setting.median.begin(), setting.median.end(), above_0) ||
      !std::all_of(setting.sigma.begin(), setting.sigma.end(), above_0)) {
    return std::nullopt;
  }
  SingleReading one{setting, rate, pattern.evidence};
  std::erase_if(one.rest.evidence, same);
  return one;
}

namespace {

// Of each order that the pattern stands for, as if one after the other: sums are exact.
template <typename Statistics>
void add_each(Statistics& to, Statistics one, const Pattern& pattern) {
  for (auto left = static_cast<std::uint64_t>(pattern.jobs); left > 0; left /= 2) {
    if (left % 2 == 1) to.add(one);
    if (left > 1) one.add(Statistics(one));
  }
}

}  // namespace

void Learner::count_rate(std::size_t c, const diagnosis::Model& model, const Pattern& pattern,
                         const diagnosis::Evidence& made, network::Propagation& propagation,
                         LeakRates& rates) const {
  const std::uint32_t o = made.observation;
  const circuit::Observation& observation = model.analysis().observations[o];
  if (group_of_[c][o] == fixed || observation.kind == circuit::ObservationKind::flow) return;
  const std::optional<SingleReading> single = single_reading(observation, pattern, made);
  if (!single) return;
  const auto& [setting, rate, rest] = *single;
  const Grades structural = grades_given(model, diagnosis::read_case(model, rest), pattern,
                                         model.program().observation(o), propagation);
  if (!(std::max({structural[0], structural[1], structural[2]}) >= certain)) return;
  double scale = 0;
  const auto likelihood = reading::likelihood(rate, setting, &scale);
  Grades seen{};
  double total = 0;
  for (std::size_t s = 0; s < 3; ++s) {
    for (std::size_t b = 0; b < 3; ++b) {
      const std::size_t g = std::max(s, b);
      const double joint = structural[s] * observation.background[b] * likelihood[g];
      seen[g] += joint;
      total += joint;
    }
  }
  if (!(total > 0)) return;
  const OutcomeGroup& group = groups_[group_of_[c][o]];
  LeakRateStatistics fresh;
  fresh.median = observation.leak_median;
  fresh.sigma = observation.leak_sigma;
  fresh.worth = options_.rate_worth;
  const LeakRateKey key{group.kind, group.id};
  LeakRateStatistics& statistics = rates.emplace(key, fresh).first->second;
  fresh.grades = {};
  for (std::size_t g = 0; g < 3; ++g) {
    fresh.grades[g].add(std::log(rate.value), seen[g] / total);
  }
  add_each(statistics, fresh, pattern);
}

void Learner::count_size(const diagnosis::Model& model, const Pattern& pattern,
                         const diagnosis::Evidence& made, network::Propagation& propagation,
                         Sizes& sizes) const {
  const circuit::Observation& hold = model.analysis().observations[made.observation];
  if (hold.kind != circuit::ObservationKind::static_hold || hold.written) return;
  const std::optional<SingleReading> single = single_reading(hold, pattern, made);
  if (!single) return;
  const auto& [setting, rate, rest] = *single;
  const diagnosis::CaseNumbers numbers = diagnosis::read_case(model, rest);
  const double pressure =
      setting.reference_pressure.value_or(hydraulics::kReferencePressure * 1e5) / 1e5;
  const auto passed = [&](std::uint32_t m, double size) {
    return model.analysis().modes[m].size.law == circuit::SizeLaw::laminar
               ? hydraulics::laminar_conductance(size, hydraulics::kShopViscosity) * pressure
               : hydraulics::orifice_conductance(size) * std::sqrt(pressure);
  };
  // Every mode must be all but certainly of one grade, and at most one not sound.
  std::optional<std::uint32_t> leaking, largest;
  std::size_t grade = 0;
  double probability = 1, sound = 0, most = 0;
  for (const circuit::ModeSet& set : hold.sets) {
    for (const std::uint32_t m : set.modes) {
      if (model.analysis().modes[m].size.law == circuit::SizeLaw::loss) return;
      const Grades p = grades_given(model, numbers, pattern, model.program().mode(m), propagation);
      const auto likeliest =
          static_cast<std::size_t>(std::max_element(p.begin(), p.end()) - p.begin());
      if (!(p[likeliest] >= certain)) return;
      if (likeliest > 0) {
        if (set.modes.size() > 1 || (leaking && *leaking != m)) return;
        leaking = m;
        grade = likeliest;
        probability = p[likeliest];
      }
      if (set.modes.size() > 1) continue;
      const double here = passed(m, model.analysis().modes[m].size.of_grade[0].median);
      sound += here;
      if (here > most) {
        most = here;
        largest = m;
      }
    }
  }
  if (!leaking) {
    if (!largest || !(most >= most_of_sound * sound)) return;
    leaking = largest;
    probability = certain;
  }
  const circuit::FailureMode& mode = model.analysis().modes[*leaking];
  if (mode.size_is_own) return;
  SizeStatistics one;
  one.law = mode.size.law;
  for (std::size_t g = 0; g < 3; ++g) {
    one.of.median[g] = mode.size.of_grade[g].median;
    one.of.sigma[g] = mode.size.of_grade[g].spread;
  }
  one.of.worth = options_.rate_worth;
  SizeStatistics& known = sizes.emplace(std::pair(mode.type, mode.name), one).first->second;
  if (known.law != one.law || known.of.median != one.of.median || known.of.sigma != one.of.sigma) {
    return;
  }
  // What an unmodelled cause let through is no size of this mode's.
  double scale = 0, all_causes = 0;
  const auto likelihood = reading::likelihood(rate, setting, &scale);
  for (std::size_t b = 0; b < 3; ++b) {
    all_causes += hold.background[b] * likelihood[std::max(grade, b)];
  }
  if (!(all_causes > 0)) return;
  probability *= hold.background[0] * likelihood[grade] / all_causes;
  one.of.grades[grade].add(std::log(rate.value / passed(*leaking, 1)), probability);
  add_each(known, one, pattern);
}

Grades Learner::grades_given(const diagnosis::Model& model, const diagnosis::CaseNumbers& numbers,
                             const Pattern& pattern, network::Var node,
                             network::Propagation& propagation) const {
  std::vector<std::pair<double, Grades>> parts;  // sign, and grades
  std::vector<double> logs;
  double largest = -std::numeric_limits<double>::infinity();
  for (const Term& term : pattern.terms) {
    const Inference found = propagate(model, numbers, {}, term.grades, {}, propagation);
    if (!std::isfinite(found.log_probability)) continue;
    const auto p = propagation.posterior(node);
    parts.emplace_back(term.sign, Grades{p[0], p[1], p[2]});
    logs.push_back(found.log_probability);
    largest = std::max(largest, found.log_probability);
  }
  Grades sum{};
  double total = 0;
  for (std::size_t t = 0; t < parts.size(); ++t) {
    const double weight = parts[t].first * std::exp(logs[t] - largest);
    total += weight;
    for (std::size_t g = 0; g < 3; ++g) sum[g] += weight * parts[t].second[g];
  }
  if (!(total > 1e-12)) return {};
  for (double& p : sum) p = std::max(0.0, p / total);
  return sum;
}

}  // namespace faultodds::priors
