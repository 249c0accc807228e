// The circuit document "faultodds-circuit/1" to a circuit::Description, and the shipped catalogue
// of component types to a list of types. It checks shapes and units of single fields; whether names
// resolve and tests are safe is for circuit::analyse.
//
// Quantities are strings with a unit. Plain numbers stand where the name says the unit or there is
// none: `part_cost`, `lead_days` (days), probabilities, factors, `sigma`. Minutes (`minutes`,
// `times`) are a plain number of minutes or a string such as "12 min".
#pragma once

#include <vector>

#include "capi/documents/circuit_document.h"
#include "capi/documents/json.h"
#include "capi/documents/place.h"
#include "core/circuit/description.h"

namespace faultodds::documents {

// Throws Error(invalid_document) with a pointer into the document. What the `sizes` of a component
// leave unsaid is as its type has it: the circuit's own, else the one of `catalogue`.
// A document without assemblies and bases; the other takes whatever its author wrote, and what it
// throws points there.
circuit::Description read_circuit(const Json& document,
                                  const std::vector<circuit::ComponentType>& catalogue = {});
circuit::Description read_circuit(const CircuitDocument& document,
                                  const std::vector<circuit::ComponentType>& catalogue = {});

// A document with the key `types`, in the form a circuit document uses.
std::vector<circuit::ComponentType> read_catalogue(const Json& document);

// Parts that the prior pack shares.
circuit::ObservationKind observation_kind_of(const Json& value, const Place& place);
class Fields;
// The keys outcomes, matrix, background and leak_rates. `flow_shares`: leak rates may be plain
// numbers, the share of rated flow lost.
circuit::OutcomeModel read_outcome_model(const Fields& fields, bool flow_shares);

}  // namespace faultodds::documents
