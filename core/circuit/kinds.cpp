#include "core/circuit/kinds.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <string_view>

#include "core/circuit/names.h"

namespace faultodds::circuit {

std::string kind_name(ObservationKind kind) {
  switch (kind) {
    case ObservationKind::static_hold:
      return "static";
    case ObservationKind::drift:
      return "drift";
    case ObservationKind::delivery:
      return "delivery";
    case ObservationKind::flow:
      return "flow";
    case ObservationKind::look:
      return "look";
    case ObservationKind::temperature:
      return "temperature";
    case ObservationKind::symptom:
      return "symptom";
    case ObservationKind::test:
      break;
  }
  return "test";
}

bool is_symptom(ObservationKind kind) {
  return kind == ObservationKind::drift || kind == ObservationKind::delivery ||
         kind == ObservationKind::symptom;
}

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
  observation->kind = kind;
  observation->symptom = is_symptom(kind);
  observation->leak_median = {0.5, 30, 1000};
  observation->leak_sigma = {1.2, 1.0, 1.0};
  switch (kind) {
    case ObservationKind::static_hold:
      observation->outcomes = {"held", "bled_down", "would_not_build"};
      observation->matrix = {{0.96, 0.03, 0.01}, {0.10, 0.80, 0.10}, {0.02, 0.13, 0.85}};
      observation->background = {0.985, 0.010, 0.005};
      break;
    case ObservationKind::drift:
      observation->outcomes = {"none", "slow", "fast"};
      observation->matrix = {{0.97, 0.025, 0.005}, {0.15, 0.75, 0.10}, {0.03, 0.22, 0.75}};
      observation->background = {0.97, 0.02, 0.01};
      observation->energised = true;  // the load is left up: stored energy
      break;
    case ObservationKind::delivery:
      observation->outcomes = {"normal", "slow", "stalled"};
      observation->matrix = {{0.96, 0.035, 0.005}, {0.15, 0.75, 0.10}, {0.03, 0.22, 0.75}};
      observation->background = {0.96, 0.03, 0.01};
      observation->energised = true;
      break;
    case ObservationKind::flow:
      observation->outcomes = {"normal", "low", "very_low"};
      observation->matrix = {{0.95, 0.04, 0.01}, {0.10, 0.80, 0.10}, {0.02, 0.18, 0.80}};
      observation->background = {0.99, 0.007, 0.003};
      observation->energised = true;
      observation->people = 2;  // at the controls and at the meter; common practice, no source
      observation->leak_median = {0.03, 0.12, 0.35};  // share of rated flow lost
      observation->leak_sigma = {0.6, 0.5, 0.5};
      break;
    case ObservationKind::look:
      observation->outcomes = {"dry", "wet", "drips"};
      observation->matrix = {{0.95, 0.04, 0.01}, {0.20, 0.70, 0.10}, {0.03, 0.22, 0.75}};
      observation->background = {0.97, 0.025, 0.005};
      break;
    case ObservationKind::temperature:
      observation->outcomes = {"normal", "warm", "hot"};
      observation->matrix = {{0.95, 0.04, 0.01}, {0.30, 0.60, 0.10}, {0.05, 0.35, 0.60}};
      observation->background = {0.96, 0.03, 0.01};
      observation->energised = true;
      break;
    case ObservationKind::symptom:
      observation->background = {1, 0, 0};
      observation->energised = true;  // it shows on the working machine
      break;
    case ObservationKind::test:
      observation->background = {1, 0, 0};
      break;
  }
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
    : minutes_{{"lockout", 10},         {"open_line", 5},   {"remove_cartridge", 8},
               {"install_meter", 20},   {"static_test", 3}, {"drift_test", 6},
               {"delivery_test", 5},    {"flow_test", 10},  {"look_test", 3},
               {"temperature_test", 8}, {"written_test", 5}} {
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

double Times::to_perform(ObservationKind kind) const {
  switch (kind) {
    case ObservationKind::static_hold:
      return of("static_test");
    case ObservationKind::drift:
      return of("drift_test");
    case ObservationKind::delivery:
      return of("delivery_test");
    case ObservationKind::flow:
      return of("flow_test");
    case ObservationKind::look:
      return of("look_test");
    case ObservationKind::temperature:
      return of("temperature_test");
    case ObservationKind::symptom:
    case ObservationKind::test:
      break;
  }
  return of("written_test");
}

}  // namespace faultodds::circuit
