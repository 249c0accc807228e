#include "core/circuit/kinds.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <string_view>

#include "core/circuit/names.h"

namespace faultodds::circuit {

std::string kind_name(ObservationKind kind) { return defaults_of(kind).name; }

bool is_symptom(ObservationKind kind) { return defaults_of(kind).complaint; }

bool names_reported(std::string_view id) {
  constexpr std::array<std::string_view, 7> families = {"no_pressure/", "hot/", "noisy/", "jerky/",
                                                        "moves/",       "dip/", "uneven/"};
  return std::any_of(families.begin(), families.end(), [&](std::string_view family) {
    return id.substr(0, family.size()) == family;
  });
}

bool is_reported(const Observation& observation) {
  return observation.kind == ObservationKind::symptom && !observation.written &&
         names_reported(observation.id);
}

bool takes_an_instrument(const Observation& observation) {
  const bool fitted = observation.written && observation.setup.empty();  // a gauge that is there
  return observation.energised && !is_symptom(observation.kind) && !fitted &&
         observation.kind != ObservationKind::temperature;
}

void set_defaults(ObservationKind kind, Observation* observation) {
  const KindDefaults& defaults = defaults_of(kind);
  observation->kind = kind;
  observation->symptom = defaults.complaint;
  observation->energised = defaults.energised;
  observation->people = defaults.people;
  observation->background = defaults.background;
  observation->leak_median = defaults.leak_median;
  observation->leak_sigma = defaults.leak_sigma;
  if (defaults.outcomes[0] == nullptr) return;
  observation->outcomes.assign(defaults.outcomes.begin(), defaults.outcomes.end());
  observation->matrix.clear();
  for (const auto& row : defaults.matrix) observation->matrix.emplace_back(row.begin(), row.end());
}

ModeSize default_size(SizeLaw law) {
  switch (law) {
    case SizeLaw::laminar:
      return {law, {{{4, 1.2}, {30, 1}, {1000, 1}}}};
    case SizeLaw::orifice:
      return {law, {{{0.3, 1}, {30, 1}, {1000, 1}}}};
    case SizeLaw::loss:
      break;
  }
  return {law, {{{0, 1}, {12, 0.6}, {50, 0.5}}}};
}

Times::Times(const std::map<std::string, double>& given)
    : minutes_{{"lockout", 10}, {"open_line", 5}, {"remove_cartridge", 8}, {"install_meter", 20}} {
  for (const KindDefaults& kind : kObservationKinds) minutes_[kind.minutes_key] = kind.minutes;
  std::vector<std::string> known;
  for (const auto& [key, value] : minutes_) known.push_back(key);
  for (const auto& [key, value] : given) {
    const std::string pointer = at("/times", key);
    if (!minutes_.contains(key)) {
      refuse("times names " + quoted(key) + ", which is no known step or test" +
                 expected(key, known, "times"),
             pointer);
    }
    minutes_[key] = value;
  }
}

double Times::to_perform(ObservationKind kind) const { return of(defaults_of(kind).minutes_key); }

}  // namespace faultodds::circuit
