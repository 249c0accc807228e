// A circuit document to a compiled model, as the C interface does it, and a case on it, for
// programs that look at the engine from inside.
#pragma once

#include <cstdint>
#include <string>

#include "core/circuit/analysis.h"
#include "core/diagnosis/case.h"
#include "core/diagnosis/model.h"

namespace faultodds::benchmark {

circuit::Analysis analyse(const std::string& circuit_document);

diagnosis::Pack shipped_pack();

diagnosis::Model load_model(const std::string& circuit_document);

// The model of machine() with so many sections and conditions, made once.
const diagnosis::Model& machine_model(int sections, int conditions = 0);

// Adds an outcome to the case. Throws std::logic_error if the circuit has no such observation.
void observe(const diagnosis::Model& model, diagnosis::Case& the_case, const std::string& id,
             std::uint32_t outcome);

}  // namespace faultodds::benchmark
