// Why an observation of a circuit shows what it shows: its minimal sets as sentences, the way of
// the oil over named parts, and what the solve says of each at one size. It derives nothing: sets
// are those of circuit::analyse, ways those of core/authoring/ways.h, figures those of
// core/hydraulics.
#pragma once

#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "core/authoring/ways.h"
#include "core/circuit/analysis.h"

namespace faultodds::documents {

// "faultodds-explanation/1". Throws Error.
std::string explain_observation(std::string_view circuit, std::string_view observation,
                                std::optional<std::string_view> size);

// The way of the oil where the modes of a set leak, from what is pressed or held to where it goes;
// empty where the set leaks nowhere on the way (it chokes or weakens).
std::vector<authoring::WayStep> way_of_set(const circuit::HydraulicGraph& graph,
                                           const circuit::Observation& observation,
                                           const std::vector<circuit::Index>& modes);

}  // namespace faultodds::documents
