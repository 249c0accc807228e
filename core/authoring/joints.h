// Whether the parts of a circuit are joined as such parts are joined: ports that nothing joins,
// parts the wrong way round, lines to the wrong side, positions that move nothing. Structure alone;
// names that do not resolve are refused by core/circuit/structure.h, and what cannot be observed is
// in shown.h.
#pragma once

#include "core/authoring/finding.h"
#include "core/circuit/hydraulic_graph.h"

namespace faultodds::authoring {

void check_joints(const circuit::HydraulicGraph& graph, const Written& written, Findings* findings);

// What stands in the way of a function whose driven volume its source does not reach.
std::string why_not_reached(const circuit::HydraulicGraph& graph, std::size_t function);

}  // namespace faultodds::authoring
