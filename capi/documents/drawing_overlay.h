// What an assessment says of a circuit's drawing: suspects, the complaint and its likeliest set,
// the next test; and which parts of the circuit all that concerns. It draws nothing.
#pragma once

#include <map>
#include <string>
#include <vector>

#include "capi/documents/wording.h"
#include "core/circuit/analysis.h"
#include "core/circuit/hydraulic_graph.h"
#include "core/diagnosis/assessment.h"

namespace faultodds::documents {

struct Overlay {
  std::map<std::string, double> suspects;  // component -> probability
  std::string complaint;                   // observation
  std::vector<std::string> modes;          // components of the likeliest set of it
  std::string test, test_title;
  std::vector<std::string> cautions;
};

Overlay overlay_of(const Words& words, const diagnosis::Assessment& assessment);

// By component: the suspects, what oil passes on its way where they leak, what the complaint is of,
// and what the next test reaches. Never the tank, which is drawn where it is met.
std::vector<bool> concerned_parts(const circuit::HydraulicGraph& graph,
                                  const circuit::Analysis& analysis, const Overlay& overlay);

}  // namespace faultodds::documents
