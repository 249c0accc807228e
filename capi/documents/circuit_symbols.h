// The symbols of a circuit drawing, drawn by the rules of ISO 1219-1 (from memory): pumps and
// motors are circles with triangles in the direction of the oil, valves squares with one field a
// position, filters diamonds, checks a ball on its seat, pilot lines dashed. A type without one of
// its own is a box with its ports. They know no places in the drawing and no values.
#pragma once

#include <string>
#include <vector>

#include "core/authoring/layout.h"
#include "core/circuit/description.h"

namespace faultodds::documents {

struct PortUse {
  std::string name;
  bool upwards = false;  // what it is joined with stands in rows above
  bool at_tank = false;
};

struct SymbolPin {
  bool top = false;
  int column = 0;
};

struct Symbol {
  int columns = 2;              // of authoring::kPinDistance
  std::vector<SymbolPin> pins;  // by port
  std::string drawing;          // SVG, from (0, 0), authoring::kSymbolHeight high
};

Symbol symbol_of(const circuit::ComponentType& type, const std::vector<PortUse>& ports);

}  // namespace faultodds::documents
