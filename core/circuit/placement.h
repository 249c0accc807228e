// The steps of resolve() (structure.h): each checks one part of the description and puts it into
// the structure, in this order. Nothing outside of resolve() calls them.
#pragma once

#include <set>
#include <string>
#include <vector>

#include "core/circuit/structure.h"

namespace faultodds::circuit {

// placed_components.cpp
void place_components(const std::vector<ComponentType>& catalogue, const Limits& limits,
                      Structure* out);
void place_elements(const Limits& limits, Structure* out);

// placed_connections.cpp
void place_connections(const Limits& limits, Structure* out);
void place_fittings(Structure* out);
void place_functions(Structure* out);

// Refuses what is no id, and what is in `taken`; then it is.
void check_new_id(const std::string& id, const std::string& kind, const std::string& pointer,
                  std::set<std::string>* taken);

}  // namespace faultodds::circuit
