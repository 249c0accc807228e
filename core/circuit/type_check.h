// Checks one component type against itself: names, elements, failure modes, areas. What its
// components, connections and functions make of it is checked in structure.cpp; that numbers are
// numbers of their kind, who read them has seen to.
#pragma once

#include <string>
#include <vector>

#include "core/circuit/analysis.h"
#include "core/circuit/description.h"

namespace faultodds::circuit {

// Throws Error (invalid_circuit, limit_exceeded); `pointer` is where the type stands in its
// document.
void check_type(const ComponentType& type, const std::string& pointer, const Limits& limits);

// Throws unless the sizes of a loss are at most 100 % and all grow with the grade.
// `what` names the failure mode.
void check_size(const ModeSize& size, const std::string& what, const std::string& pointer);

// Throws unless `rated`, of the type itself or of a component, names volumes of the type. `pointer`
// is where the object stands that has it.
void check_rated(const std::map<std::string, double>& rated, const ComponentType& type,
                 const std::string& pointer);

// Every position a component of this type can stand in: `neutral` and all its elements' `open_in`.
// Only `neutral` for a type that is no valve.
std::vector<std::string> positions_of(const ComponentType& type);

// Ports and inner volumes in that order, the order in which volumes are numbered.
std::vector<std::string> volumes_of(const ComponentType& type);

bool is_actuator(const ComponentType& type);

// Index of `name` in `names`, or names.size().
std::size_t find_name(const std::vector<std::string>& names, const std::string& name);

}  // namespace faultodds::circuit
