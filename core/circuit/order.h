// The order in which a circuit is worked on, whatever order its document was written in: everything
// by its id or name. So neither an answer nor its rounding depends on who moved a line of the
// document. Checks nothing: duplicates stay beside each other, for analysis.h to refuse.
#pragma once

#include <vector>

#include "core/circuit/analysis.h"
#include "core/circuit/description.h"

namespace faultodds::circuit {

// Components, connections, fittings, functions, observations and conditions by id (connections by
// their ends, fittings by port), and so what the circuit's own types list. What is to be read in an
// order keeps it: outcomes, cautions, setup.
Description in_order(Description description);

// `analyse` of the description in order; an error points to where the author wrote what is wrong.
Analysis analyse_in_order(const Description& as_written,
                          const std::vector<ComponentType>& catalogue, const Limits& limits = {});

}  // namespace faultodds::circuit
