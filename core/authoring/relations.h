// Whether the values of a circuit fit each other: a rod and its bore, a pump's flow and its
// displacement, a rating and the relief that protects it, one setting and the others of the
// machine. Values that are wrong by themselves are in usual_values.h, joints in joints.h.
#pragma once

#include "core/authoring/finding.h"
#include "core/circuit/hydraulic_graph.h"

namespace faultodds::authoring {

void check_relations(const circuit::HydraulicGraph& graph, const Written& written,
                     Findings* findings);

}  // namespace faultodds::authoring
