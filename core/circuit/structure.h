// A circuit with its names resolved and checked: every volume, element, line and failure mode has a
// number. It is not the graph that paths are searched in (hydraulic_graph.h) and knows nothing of
// observations.
#pragma once

#include <array>
#include <cstdint>
#include <optional>
#include <string>
#include <unordered_map>
#include <vector>

#include "core/circuit/analysis.h"
#include "core/circuit/description.h"

namespace faultodds::circuit {

using Index = std::uint32_t;
inline constexpr Index kNone = ~Index{0};

// The reservoirs are the first two volumes.
inline constexpr Index kTank = 0;
inline constexpr Index kOutside = 1;

// An element of one component.
struct PlacedElement {
  const Element* element = nullptr;
  Index component = kNone;
  Index from = kNone, to = kNone;  // volumes
  Index pilot = kNone;             // volume whose pressure opens it
  std::vector<Index> leaking;      // modes that make it leak
  std::vector<Index> restricting;  // modes that choke it
};

struct LineEnd {
  Index volume = kNone;
  Index component = kNone;  // kNone at a reservoir
};

struct Line {
  std::string id;
  std::array<LineEnd, 2> ends;
  std::optional<double> rating{};  // Pa
  std::optional<Use> use;
};

struct PlacedFunction {
  Index actuator = kNone;  // component
  const ComponentType::Direction* direction = nullptr;
  Index contracting = kNone, expanding = kNone, source = kNone;  // volumes
  std::unordered_map<Index, std::string> positions;              // valve component -> position
};

struct Structure {
  const Description* description = nullptr;
  std::vector<const ComponentType*> type;  // of each component
  std::unordered_map<std::string, Index> component_index;
  std::vector<Index> first_volume;      // of each component, and one past the last
  std::vector<Index> volume_component;  // kNone for the reservoirs
  std::vector<PlacedElement> elements;
  std::vector<Index> first_element;  // of each component, and one past the last
  std::vector<FailureMode> modes;
  std::vector<Index> first_mode;  // of each component, and one past the last
  std::vector<Index> gallery;     // volume -> vertex: volumes joined by galleries share one
  Index vertex_count = 0;
  std::vector<Line> lines;
  std::unordered_map<std::string, Index> line_index;
  std::vector<std::vector<Index>> lines_at;           // volume -> lines that end there
  std::unordered_map<Index, const Fitting*> fitting;  // by volume of its port
  std::unordered_map<Index, const Fitting*> cavity;   // by cartridge component
  std::vector<PlacedFunction> functions;

  Index tank() const { return gallery[kTank]; }
  Index outside() const { return gallery[kOutside]; }
  std::string volume_name(Index volume) const;           // `component.port`, `tank`, `outside`
  std::string component_title(Index component) const;    // its title, else its id
  std::string component_pointer(Index component) const;  // `/components/3`
};

// Throws Error (invalid_circuit, limit_exceeded). The result points into both arguments.
Structure resolve(const Description& description, const std::vector<ComponentType>& catalogue,
                  const Limits& limits);

// The volume of `name` in a component's type: a port, or an inner volume.
Index volume_of(const Structure& structure, Index component, const std::string& name);

// Effective area of an actuator's volume in m2, when the circuit gives enough to compute it.
std::optional<double> area_of(const Structure& structure, Index component,
                              const std::string& volume);

// Whether the expanding volume of a direction takes in at least what the contracting one gives out.
// Decided by the numbers when both are known and else by the rules (the bore's area is larger than
// the annulus'). Throws Error(invalid_circuit) when neither decides.
bool expanding_takes_all(const Structure& structure, Index component,
                         const ComponentType::Direction& direction);

}  // namespace faultodds::circuit
