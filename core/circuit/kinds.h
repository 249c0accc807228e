// What follows from the kind of an observation, from the table in observation_kinds.h and what a
// circuit says of times.
#pragma once

#include <map>
#include <string>
#include <string_view>
#include <vector>

#include "core/circuit/analysis.h"
#include "core/circuit/description.h"
#include "core/circuit/observation_kinds.h"

namespace faultodds::circuit {

// "static", "drift", ... as in documents.
std::string kind_name(ObservationKind kind);

// Drift, delivery and hand-written symptoms: what an operator can complain of.
bool is_symptom(ObservationKind kind);

// What an operator reports, derived from the circuit (reported.h): told, never proposed as a test.
bool is_reported(const Observation& observation);

// An id as those have: "dip/lift_arm".
bool names_reported(std::string_view id);

// Fits an instrument to the machine under power: those tests come after all others. A hand-written
// one without setup reads what is fitted already.
bool takes_an_instrument(const Observation& observation);

// Sets outcomes, matrix, background and leak statistics to the kind's defaults. Symptoms and tests
// have no default outcomes or matrix.
void set_defaults(ObservationKind kind, Observation* observation);

// How large a failure mode is where nobody said: seats and seals 0.3 mL/min sound, spool lands 4,
// either 30 worn and 1,000 failed; of the flow 12 % worn and 50 % failed. Working judgement.
ModeSize default_size(SizeLaw law);

// Minutes of each step and test. Keys: lockout, open_line, remove_cartridge, install_meter,
// static_test, drift_test, delivery_test, flow_test, look_test, temperature_test, written_test.
class Times {
 public:
  // Throws Error(invalid_circuit) for an unknown key or a negative or non-finite number.
  explicit Times(const std::map<std::string, double>& given);
  double of(const std::string& key) const { return minutes_.at(key); }
  double to_perform(ObservationKind kind) const;

 private:
  std::map<std::string, double> minutes_;
};

}  // namespace faultodds::circuit
