#include "core/diagnosis/evidence.h"

#include <algorithm>
#include <cmath>
#include <map>

#include "core/diagnosis/sizes.h"
#include "core/error.h"
#include "core/number_text.h"

namespace faultodds::diagnosis {
namespace {

// Index of the largest, the first of equals.
std::size_t favoured(const Grades& likelihood) {
  return static_cast<std::size_t>(std::max_element(likelihood.begin(), likelihood.end()) -
                                  likelihood.begin());
}

// Scales so that the largest is 1; false when all are 0.
bool rescale(Grades& likelihood, double& log_scale) {
  const double largest = *std::max_element(likelihood.begin(), likelihood.end());
  if (!(largest > 0)) return false;
  for (double& x : likelihood) x /= largest;
  log_scale += std::log(largest);
  return true;
}

struct Gathered {
  Grades over_g{1, 1, 1};  // outcomes and readings, given G
  Grades over_s{1, 1, 1};  // callers' own likelihoods
  double log_scale = 0;
  bool seen_through_g = false;
  bool abnormal = false;
  std::string at;
  std::string pointer;
};

std::string pointer_into(const Evidence& entry, const std::string& relative) {
  return entry.pointer + relative;
}

Grades own_likelihood(const Evidence& entry) {
  const Grades& likelihood = *entry.likelihood;
  for (double x : likelihood) {
    if (!(x >= 0) || !std::isfinite(x)) {
      throw Error(Code::invalid_case,
                  "likelihood holds " + fixed_text(x) + "; expected three finite numbers >= 0",
                  pointer_into(entry, "/likelihood"));
    }
  }
  return likelihood;
}

Grades reading_likelihood(const circuit::Observation& observation, const Evidence& entry,
                          double& log_scale, Messages& warnings) {
  try {
    return likelihood_of(observation, *entry.reading, &log_scale, &warnings);
  } catch (const Error& error) {
    throw Error(error.code(), "reading of '" + observation.id + "': " + error.what(),
                pointer_into(entry, "/reading" + error.pointer()));
  }
}

}  // namespace

circuit::GradeDistribution at_hours(const WearOut& model, double usually, double hours,
                                    double sound_at, bool noticed) {
  double from = sound_at;
  if (noticed) {
    const double mean_life = model.scale_hours * std::tgamma(1 + 1 / model.shape);
    from = std::max(from, hours - usually * mean_life);
  }
  const auto hazard = [&](double h) { return std::pow(h / model.scale_hours, model.shape); };
  const double not_sound = -std::expm1(hazard(std::clamp(from, 0.0, hours)) - hazard(hours));
  return {1 - not_sound, not_sound * (1 - model.failed_share), not_sound * model.failed_share};
}

reading::Setting setting_of(const circuit::Observation& observation) {
  reading::Setting setting;
  setting.drift = observation.kind == circuit::ObservationKind::drift;
  setting.flow_test = observation.kind == circuit::ObservationKind::flow;
  setting.reference_pressure =
      observation.reference_pressure ? observation.reference_pressure : observation.test_pressure;
  setting.contracting_area = observation.contracting_area;
  setting.rated_flow = observation.rated_flow;
  setting.volume = observation.volume;
  setting.gas_volume = observation.gas_volume;
  setting.median = observation.leak_median;
  setting.sigma = observation.leak_sigma;
  return setting;
}

Grades likelihood_of(const circuit::Observation& observation, const reading::Reading& reading,
                     double* log_scale, Messages* warnings) {
  using Kind = circuit::ObservationKind;
  if (observation.kind == Kind::look || observation.kind == Kind::temperature) {
    throw Error(Code::invalid_case,
                "is of a test that is judged by eye or against the parts beside it; expected its "
                "`outcome`: " +
                    observation.outcomes[0] + ", " + observation.outcomes[1] + " or " +
                    observation.outcomes[2]);
  }
  const reading::Setting setting = setting_of(observation);
  Messages said;
  double scale = 0;
  Grades result{};
  if (observation.limits) {
    const reading::EffectScale limits = scale_of(*observation.limits);
    reading::MeasuredEffect measured = reading::measured_effect(reading, setting, limits);
    said = std::move(measured.warnings);
    result = reading::effect_likelihood(measured, limits, &scale);
  } else {
    const reading::LeakRate rate = reading::leak_rate(reading, setting);
    said = rate.warnings;
    result = reading::likelihood(rate, setting, &scale);
  }
  *log_scale += scale;
  for (Message& warning : said) {
    warnings->push_back(std::move(warning.with("test", MessageValue::observation(observation.id))));
  }
  return result;
}

namespace {

// Multiplies what is known of an observation by what one entry of the case says.
void gather(const circuit::Observation& observation, const Evidence& entry, Gathered& all,
            Messages& warnings) {
  const int given = (entry.outcome ? 1 : 0) + (entry.reading ? 1 : 0) + (entry.likelihood ? 1 : 0);
  if (given != 1) {
    throw Error(Code::invalid_case,
                "observation '" + observation.id + "' has " + std::to_string(given) +
                    " of outcome, reading and likelihood; expected exactly one",
                entry.pointer);
  }
  if (all.pointer.empty()) all.pointer = entry.pointer;
  if (!entry.at.empty() && (all.at.empty() || entry.at < all.at)) all.at = entry.at;
  Grades* part = &all.over_g;
  Grades factor{};
  if (entry.outcome) {
    if (*entry.outcome >= observation.outcomes.size()) {
      throw Error(Code::invalid_case,
                  "outcome " + std::to_string(*entry.outcome) + " of '" + observation.id +
                      "' does not exist; there are " + std::to_string(observation.outcomes.size()),
                  pointer_into(entry, "/outcome"));
    }
    for (std::size_t g = 0; g < 3; ++g) factor[g] = observation.matrix[g][*entry.outcome];
    all.abnormal |= *entry.outcome > 0;
  } else if (entry.reading) {
    factor = reading_likelihood(observation, entry, all.log_scale, warnings);
    all.abnormal |= favoured(factor) > 0;
  } else {
    factor = own_likelihood(entry);
    all.abnormal |= favoured(factor) > 0;
    part = &all.over_s;
  }
  all.seen_through_g |= part == &all.over_g;
  for (std::size_t g = 0; g < 3; ++g) (*part)[g] *= factor[g];
  if (!rescale(*part, all.log_scale)) {
    throw Error(Code::conflicting_evidence,
                "what was observed of '" + observation.id + "' is impossible at every grade",
                all.pointer);
  }
}

// All that was said of one observation, through the background where it was an outcome or a
// reading.
ObservedGrade observed_grade(std::uint32_t o, const circuit::Observation& observation,
                             const Gathered& all) {
  ObservedGrade seen;
  seen.observation = o;
  seen.log_scale = all.log_scale;
  seen.abnormal = all.abnormal;
  seen.at = all.at;
  seen.pointer = all.pointer;
  if (all.seen_through_g) seen.over_g = all.over_g;
  seen.over_s = all.over_s;
  for (std::size_t s = 0; s < 3; ++s) {
    double through = 0;
    for (std::size_t b = 0; b < 3; ++b) {
      through += observation.background[b] * all.over_g[std::max(s, b)];
    }
    seen.likelihood[s] = (all.seen_through_g ? through : 1) * all.over_s[s];
  }
  const bool possible = rescale(seen.likelihood, seen.log_combined);
  seen.log_scale += seen.log_combined;
  if (!possible) {
    throw Error(Code::conflicting_evidence,
                "what was observed of '" + observation.id + "' is impossible at every grade",
                all.pointer);
  }
  return seen;
}

void check_hours(const Model& model, const std::map<std::string, double>& by_component,
                 const char* key) {
  for (const auto& [component, hours] : by_component) {
    if (!model.find_component(component)) {
      throw Error(Code::invalid_case, "component '" + component + "' is not in the circuit",
                  std::string("/asset/") + key + "/" + component);
    }
  }
}

// Hours in service, as priors of their own.
void read_hours(const Model& model, const Case& the_case, CaseNumbers& numbers) {
  const circuit::Analysis& analysis = model.analysis();
  check_hours(model, the_case.component_hours, "component_hours");
  check_hours(model, the_case.sound_at, "sound_at");
  const bool noticed = the_case.focus != Focus::circuit;
  for (std::uint32_t m = 0; m < analysis.modes.size(); ++m) {
    const auto& wear_out = model.wear_out()[m];
    if (!wear_out) continue;
    const circuit::FailureMode& mode = analysis.modes[m];
    const auto& exact = model.exact_prior()[m];
    const auto at = the_case.component_hours.find(mode.component);
    std::optional<double> hours = the_case.meter_hours;
    if (at != the_case.component_hours.end()) hours = at->second;
    if (hours) {
      const auto sound = the_case.sound_at.find(mode.component);
      const double sound_at = sound == the_case.sound_at.end() ? 0 : sound->second;
      if (sound_at > *hours) {
        throw Error(Code::invalid_case,
                    "'" + mode.component + "' was last known sound at " + fixed_text(sound_at) +
                        " h; expected no more than its hours, " + fixed_text(*hours),
                    "/asset/sound_at/" + mode.component);
      }
      const double usually = 1 - (exact ? *exact : mode.prior)[0];
      numbers.priors.push_back({m, at_hours(*wear_out, usually, *hours, sound_at, noticed)});
    } else if (exact) {
      numbers.priors.push_back({m, *exact});
    }
  }
}

}  // namespace

CaseNumbers read_case(const Model& model, const Case& the_case) {
  const circuit::Analysis& analysis = model.analysis();
  CaseNumbers numbers;
  std::map<std::uint32_t, Gathered> gathered;
  for (const Evidence& entry : the_case.evidence) {
    if (entry.observation >= analysis.observations.size()) {
      throw Error(Code::invalid_case,
                  "observation " + std::to_string(entry.observation) +
                      " does not exist; there are " + std::to_string(analysis.observations.size()),
                  pointer_into(entry, "/observation"));
    }
    gather(analysis.observations[entry.observation], entry, gathered[entry.observation],
           numbers.warnings);
  }
  for (const auto& [o, all] : gathered) {
    ObservedGrade seen = observed_grade(o, analysis.observations[o], all);
    if (seen.abnormal && analysis.observations[o].symptom) numbers.complaint.push_back(o);
    numbers.observed.push_back(std::move(seen));
  }
  read_hours(model, the_case, numbers);
  return numbers;
}

circuit::GradeDistribution prior_in(const Model& model, const CaseNumbers& numbers,
                                    std::uint32_t mode) {
  const auto own = std::lower_bound(numbers.priors.begin(), numbers.priors.end(), mode,
                                    [](const OwnPrior& p, std::uint32_t m) { return p.mode < m; });
  if (own != numbers.priors.end() && own->mode == mode) return own->grades;
  return model.analysis().modes[mode].prior;
}

std::vector<std::uint32_t> pattern_key(const CaseNumbers& numbers) {
  std::vector<std::uint32_t> key = numbers.complaint;
  key.push_back(static_cast<std::uint32_t>(-1));
  for (const ObservedGrade& seen : numbers.observed) key.push_back(seen.observation);
  return key;
}

namespace {

template <std::size_t Lanes>
void multiply_prior(const Model& model, const OwnPrior& own, network::Var grade,
                    std::optional<network::Var> conditions,
                    network::LanePropagation<Lanes>& propagation, std::size_t lane) {
  // The compiled table holds the model's prior; the ratio to it is evidence on the grade, and the
  // ratio of the normalising constants evidence on the conditions.
  const auto& compiled = model.analysis().modes[own.mode].prior;
  Grades ratio{};
  for (std::size_t g = 0; g < 3; ++g) ratio[g] = own.grades[g] / compiled[g];
  propagation.multiply(grade, ratio, lane);
  if (!conditions) return;
  const ModeConditions& by = model.program().mode_conditions()[own.mode];
  // Any grade that can occur gives the same constant.
  const auto g = favoured(own.grades);
  std::vector<double> constant;
  for (std::size_t i = 0; i < std::size_t{1} << by.conditions.size(); ++i) {
    const Grades now = conditioned(own.grades, by, i), then = conditioned(compiled, by, i);
    constant.push_back(now[g] / then[g] / ratio[g]);
  }
  propagation.multiply(*conditions, constant, lane);
}

}  // namespace

template <std::size_t Lanes>
void apply_evidence(const Model& model, const CaseNumbers& numbers,
                    network::LanePropagation<Lanes>& propagation, std::size_t lane) {
  for (const ObservedGrade& seen : numbers.observed) {
    propagation.multiply(model.program().observation(seen.observation), seen.likelihood, lane);
  }
}

template <std::size_t Lanes>
void apply_priors(const Model& model, std::span<const OwnPrior> priors,
                  network::LanePropagation<Lanes>& propagation, std::size_t lane) {
  const Program& program = model.program();
  for (const OwnPrior& own : priors) {
    multiply_prior(model, own, program.mode(own.mode), program.conditions_of(own.mode), propagation,
                   lane);
  }
}

template void apply_evidence(const Model&, const CaseNumbers&, network::LanePropagation<1>&,
                             std::size_t);
template void apply_evidence(const Model&, const CaseNumbers&,
                             network::LanePropagation<network::kLanes>&, std::size_t);
template void apply_priors(const Model&, std::span<const OwnPrior>, network::LanePropagation<1>&,
                           std::size_t);
template void apply_priors(const Model&, std::span<const OwnPrior>,
                           network::LanePropagation<network::kLanes>&, std::size_t);

void apply_bounded_evidence(const Model& model, const CaseNumbers& numbers,
                            network::ConditionedTree::Lanes& lanes, std::size_t lane) {
  for (const ObservedGrade& seen : numbers.observed) {
    lanes.multiply(model.program().bounded_observation(seen.observation), seen.likelihood, lane);
  }
}

void apply_bounded_priors(const Model& model, std::span<const OwnPrior> priors,
                          network::ConditionedTree::Lanes& lanes, std::size_t lane) {
  const Program& program = model.program();
  for (const OwnPrior& own : priors) {
    multiply_prior(model, own, program.bounded_mode(own.mode),
                   program.bounded_conditions_of(own.mode), lanes, lane);
  }
}

std::vector<PriorNode> prior_nodes(const Model& model, const NetworkBuilder& builder) {
  std::vector<PriorNode> nodes;
  for (std::uint32_t m = 0; m < model.wear_out().size(); ++m) {
    if (!model.wear_out()[m]) continue;
    if (const auto grade = builder.find_mode(m)) {
      nodes.push_back({m, *grade, builder.conditions_of(m)});
    }
  }
  return nodes;
}

void apply_priors(const Model& model, const CaseNumbers& numbers,
                  const std::vector<PriorNode>& nodes, network::Propagation& propagation) {
  auto own = numbers.priors.begin();  // both lists ascend
  for (const PriorNode& node : nodes) {
    while (own != numbers.priors.end() && own->mode < node.mode) ++own;
    if (own == numbers.priors.end()) break;
    if (own->mode == node.mode) {
      multiply_prior<1>(model, *own, node.grade, node.conditions, propagation, 0);
    }
  }
}

}  // namespace faultodds::diagnosis
