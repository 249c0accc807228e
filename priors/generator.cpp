#include "priors/generator.h"

#include <algorithm>
#include <numeric>
#include <set>

#include "core/error.h"

namespace faultodds::priors {

std::uint64_t Random::bits() {
  state_ += 0x9E3779B97F4A7C15u;
  std::uint64_t z = state_;
  z = (z ^ (z >> 30)) * 0xBF58476D1CE4E5B9u;
  z = (z ^ (z >> 27)) * 0x94D049BB133111EBu;
  return z ^ (z >> 31);
}

double Random::uniform() { return static_cast<double>(bits() >> 11) * 0x1p-53; }

std::size_t Random::below(std::size_t count) {
  return std::min(count - 1, static_cast<std::size_t>(uniform() * static_cast<double>(count)));
}

Generator::Generator(const circuit::Analysis& circuit,
                     const std::map<ModeName, std::array<double, 3>>& truth,
                     const GeneratorOptions& options)
    : circuit_(circuit), options_(options), random_(options.seed) {
  for (circuit::FailureMode& mode : circuit_.modes) {
    const auto known = truth.find({mode.type, mode.name});
    if (known != truth.end()) mode.prior = known->second;
  }
  modes_of_.resize(circuit_.components.size());
  for (std::uint32_t m = 0; m < circuit_.modes.size(); ++m) {
    modes_of_.at(circuit_.modes[m].component_index).push_back(m);
  }
  for (std::uint32_t o = 0; o < circuit_.observations.size(); ++o) {
    const circuit::Observation& observation = circuit_.observations[o];
    std::set<std::uint32_t> components;
    for (const circuit::ModeSet& set : observation.sets) {
      for (std::uint32_t m : set.modes) {
        components.insert(static_cast<std::uint32_t>(circuit_.modes[m].component_index));
      }
    }
    shown_by_.emplace_back(components.begin(), components.end());
    if (observation.symptom) symptoms_.push_back(o);
  }
  if (symptoms_.empty()) {
    throw Error(Code::invalid_argument,
                "circuit " + circuit_.id + " has no symptom; expected one to complain of");
  }
}

std::size_t Generator::draw(const std::vector<double>& probabilities) {
  double at = random_.uniform();
  for (std::size_t i = 0; i + 1 < probabilities.size(); ++i) {
    at -= probabilities[i];
    if (at < 0) return i;
  }
  return probabilities.size() - 1;
}

std::size_t Generator::draw(const std::array<double, 3>& probabilities) {
  const double at = random_.uniform();
  return at < probabilities[0] ? 0 : at < probabilities[0] + probabilities[1] ? 1 : 2;
}

void Generator::draw_machine() {
  std::vector<double> factor(circuit_.modes.size(), 1);
  for (const circuit::ConditionEffect& condition : circuit_.conditions) {
    if (!random_.chance(condition.probability)) continue;
    for (const auto& [mode, times] : condition.raises) factor[mode] *= times;
  }
  grades_.clear();
  for (std::size_t m = 0; m < circuit_.modes.size(); ++m) {
    std::array<double, 3> p = circuit_.modes[m].prior;
    p[1] *= factor[m];
    p[2] *= factor[m];
    const double total = p[0] + p[1] + p[2];
    for (double& x : p) x /= total;
    grades_.push_back(static_cast<int>(draw(p)));
  }
}

std::uint32_t Generator::outcome_of(std::uint32_t o) {
  const circuit::Observation& observation = circuit_.observations[o];
  int structural = 0;
  for (const circuit::ModeSet& set : observation.sets) {
    int smallest = 2;
    for (std::uint32_t m : set.modes) smallest = std::min(smallest, grades_[m]);
    if (smallest > 0 && set.probability < 1 && !random_.chance(set.probability)) smallest = 0;
    structural = std::max(structural, smallest);
  }
  const int seen = std::max(structural, static_cast<int>(draw(observation.background)));
  return static_cast<std::uint32_t>(draw(observation.matrix[static_cast<std::size_t>(seen)]));
}

void Generator::open(std::size_t component, Job& job) {
  const std::vector<std::uint32_t>& modes = modes_of_[component];
  const bool sound =
      std::all_of(modes.begin(), modes.end(), [&](std::uint32_t m) { return grades_[m] == 0; });
  if (modes.size() > 1 && !sound && random_.chance(options_.ambiguous)) {
    job.findings.push_back({modes, std::nullopt});
    return;
  }
  for (std::uint32_t m : modes) {
    if (grades_[m] == 0) {
      job.sound.push_back(m);
    } else {
      job.findings.push_back({{m}, grades_[m]});
    }
  }
}

Job Generator::next() {
  Job job;
  const std::uint32_t symptom = symptoms_[random_.below(symptoms_.size())];
  std::uint32_t outcome = 0;
  do {
    draw_machine();
    outcome = outcome_of(symptom);
  } while (options_.complaint_only && outcome == 0);
  job.complaint = symptom;
  diagnosis::Evidence complaint;
  complaint.observation = symptom;
  complaint.outcome = outcome;
  job.evidence.push_back(complaint);

  // Tests that could show something the symptom shows, in an order of habit.
  const std::vector<std::uint32_t>& suspects = shown_by_[symptom];
  std::vector<std::uint32_t> tests;
  for (std::uint32_t o = 0; o < circuit_.observations.size(); ++o) {
    if (o == symptom) continue;
    const bool relevant =
        std::any_of(shown_by_[o].begin(), shown_by_[o].end(), [&](std::uint32_t c) {
          return std::find(suspects.begin(), suspects.end(), c) != suspects.end();
        });
    if (relevant) tests.push_back(o);
  }
  for (std::size_t i = tests.size(); i > 1; --i) std::swap(tests[i - 1], tests[random_.below(i)]);
  const auto range = static_cast<std::size_t>(options_.most_tests - options_.fewest_tests + 1);
  const std::size_t wanted = static_cast<std::size_t>(options_.fewest_tests) + random_.below(range);
  if (tests.size() > wanted) tests.resize(wanted);
  std::vector<double> suspicion(circuit_.components.size(), 0);
  double minutes = 0;
  std::set<std::string> setup;
  for (std::uint32_t o : tests) {
    diagnosis::Evidence evidence;
    evidence.observation = o;
    evidence.outcome = outcome_of(o);
    for (std::uint32_t c : shown_by_[o]) {
      suspicion[c] +=
          (*evidence.outcome > 0 ? 1.0 : -1.0) / static_cast<double>(shown_by_[o].size());
    }
    minutes += circuit_.observations[o].perform_minutes;
    for (const std::string& step : circuit_.observations[o].setup) {
      if (!setup.insert(step).second) continue;
      for (const circuit::SetupStep& known : circuit_.setup_steps) {
        if (known.id == step) minutes += known.minutes;
      }
    }
    job.evidence.push_back(evidence);
  }

  std::vector<std::uint32_t> order = suspects;
  std::stable_sort(order.begin(), order.end(),
                   [&](std::uint32_t a, std::uint32_t b) { return suspicion[a] > suspicion[b]; });
  for (std::uint32_t component : order) {
    if (modes_of_[component].empty()) continue;
    const std::size_t found = job.findings.size();
    open(component, job);
    minutes += circuit_.components[component].minutes.value_or(30);
    if (job.findings.size() > found) break;
  }
  std::sort(job.sound.begin(), job.sound.end());
  std::sort(job.findings.begin(), job.findings.end());
  job.minutes = minutes;
  ++made_;
  job.id = circuit_.id + "-" + std::to_string(100'000'000 + made_).substr(1);
  job.opened = Date{options_.start.days + static_cast<std::int32_t>(made_ / 2)};
  job.closed = Date{job.opened->days + static_cast<std::int32_t>(random_.below(4))};
  return job;
}

}  // namespace faultodds::priors
