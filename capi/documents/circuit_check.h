// A circuit document to everything its author should look at: what the readers and circuit::analyse
// refuse, one after the other, and what core/authoring warns of. It refuses nothing itself: where a
// reader stops, the field at fault is mended or left out and reading goes on.
#pragma once

#include <string>
#include <string_view>
#include <vector>

#include "core/authoring/finding.h"
#include "core/circuit/description.h"

namespace faultodds::documents {

struct CheckedCircuit {
  std::string id;
  authoring::Findings findings;  // errors first
};

// Throws Error for what is no fault of the document: cancelled, out_of_memory, internal.
CheckedCircuit check_circuit(std::string_view text);

// "faultodds-check/1".
std::string write_check(const CheckedCircuit& checked);

// The shipped types.
std::vector<circuit::ComponentType> shipped_catalogue();

}  // namespace faultodds::documents
