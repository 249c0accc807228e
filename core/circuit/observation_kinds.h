// The kinds of observation, and what each is where nobody says otherwise: its name in documents,
// outcomes, how often each grade gives which, and how long it takes. The numbers are working
// defaults from judgement, to be replaced by what records show. Which components have one is in
// derived.h, unopened.h and reported.h; from which sizes it shows, in hydraulics/shown_from.h.
#pragma once

#include <array>
#include <cstddef>
#include <string>
#include <vector>

#include "core/circuit/cautions.h"

namespace faultodds::circuit {

enum class ObservationKind { static_hold, drift, delivery, flow, look, temperature, symptom, test };

struct KindDefaults {
  ObservationKind kind;
  const char* name;         // as in documents
  const char* minutes_key;  // of a circuit's `times`
  double minutes;
  bool complaint = false;  // what an operator can complain of
  bool energised = false;  // a machine under power, or a load that is left up
  int people = 1;
  // The normal one first; of a kind whose observations each have their own, none.
  std::array<const char*, 3> outcomes{};
  std::array<std::array<double, 3>, 3> matrix{};  // by grade, outcome
  std::array<double, 3> background{1, 0, 0};      // by grade
  std::array<double, 3> leak_median{0.5, 30,
                                    1000};  // by grade: mL/min; of a flow test the share lost
  std::array<double, 3> leak_sigma{1.2, 1.0, 1.0};
  // Besides those of all work on a machine, and of a machine under power.
  const std::vector<std::string>& (*cautions)() = nullptr;
};

// In the order of the enumerators.
inline constexpr KindDefaults kObservationKinds[] = {
    {.kind = ObservationKind::static_hold,
     .name = "static",
     .minutes_key = "static_test",
     .minutes = 3,
     .outcomes = {"held", "bled_down", "would_not_build"},
     .matrix = {{{0.96, 0.03, 0.01}, {0.10, 0.80, 0.10}, {0.02, 0.13, 0.85}}},
     .background = {0.985, 0.010, 0.005},
     .cautions = static_hold_cautions},
    {.kind = ObservationKind::drift,
     .name = "drift",
     .minutes_key = "drift_test",
     .minutes = 6,
     .complaint = true,
     .energised = true,  // the load is left up: stored energy
     .outcomes = {"none", "slow", "fast"},
     .matrix = {{{0.97, 0.025, 0.005}, {0.15, 0.75, 0.10}, {0.03, 0.22, 0.75}}},
     .background = {0.97, 0.02, 0.01},
     .cautions = drift_cautions},
    {.kind = ObservationKind::delivery,
     .name = "delivery",
     .minutes_key = "delivery_test",
     .minutes = 5,
     .complaint = true,
     .energised = true,
     .outcomes = {"normal", "slow", "stalled"},
     .matrix = {{{0.96, 0.035, 0.005}, {0.15, 0.75, 0.10}, {0.03, 0.22, 0.75}}},
     .background = {0.96, 0.03, 0.01}},
    {.kind = ObservationKind::flow,
     .name = "flow",
     .minutes_key = "flow_test",
     .minutes = 10,
     .energised = true,
     .people = 2,  // at the controls and at the meter; common practice, no source
     .outcomes = {"normal", "low", "very_low"},
     .matrix = {{{0.95, 0.04, 0.01}, {0.10, 0.80, 0.10}, {0.02, 0.18, 0.80}}},
     .background = {0.99, 0.007, 0.003},
     .leak_median = {0.03, 0.12, 0.35},
     .leak_sigma = {0.6, 0.5, 0.5},
     .cautions = flow_meter_cautions},
    {.kind = ObservationKind::look,
     .name = "look",
     .minutes_key = "look_test",
     .minutes = 3,
     .outcomes = {"dry", "wet", "drips"},
     .matrix = {{{0.95, 0.04, 0.01}, {0.20, 0.70, 0.10}, {0.03, 0.22, 0.75}}},
     .background = {0.97, 0.025, 0.005},
     .cautions = look_cautions},
    {.kind = ObservationKind::temperature,
     .name = "temperature",
     .minutes_key = "temperature_test",
     .minutes = 8,
     .energised = true,
     .outcomes = {"normal", "warm", "hot"},
     .matrix = {{{0.95, 0.04, 0.01}, {0.30, 0.60, 0.10}, {0.05, 0.35, 0.60}}},
     .background = {0.96, 0.03, 0.01},
     .cautions = temperature_cautions},
    {.kind = ObservationKind::symptom,
     .name = "symptom",
     .minutes_key = "written_test",
     .minutes = 5,
     .complaint = true,
     .energised = true},  // it shows on the working machine
    {.kind = ObservationKind::test, .name = "test", .minutes_key = "written_test", .minutes = 5},
};

constexpr const KindDefaults& defaults_of(ObservationKind kind) {
  return kObservationKinds[static_cast<std::size_t>(kind)];
}

}  // namespace faultodds::circuit
