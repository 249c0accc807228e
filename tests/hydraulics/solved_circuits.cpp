// solved_circuits COUNT [FIRST]: random flow circuits with the solver's answers, as JSON lines, for
// independent_solve.py.
#include <cstdlib>
#include <iostream>
#include <nlohmann/json.hpp>

#include "core/hydraulics/solver.h"
#include "tests/hydraulics/random_circuits.h"

using namespace faultodds::hydraulics;
using nlohmann::json;

namespace {

int number(Index volume) { return volume == kNowhere ? -1 : static_cast<int>(volume); }

json as_json(const FlowCircuit& circuit) {
  json held = json::array(), elements = json::array(), actuators = json::array();
  for (const Volume& one : circuit.volumes) held.push_back(one.held ? json(*one.held) : json());
  const char* const laws[] = {"laminar", "orifice", "one_way", "pump"};
  for (const FlowElement& one : circuit.elements) {
    elements.push_back({{"law", laws[static_cast<int>(one.law)]},
                        {"from", one.from},
                        {"to", one.to},
                        {"c", one.conductance},
                        {"setting", one.setting},
                        {"pilot", number(one.pilot)},
                        {"ratio", one.ratio},
                        {"flow", one.flow}});
  }
  for (const Actuator& one : circuit.actuators) {
    actuators.push_back({{"contracting", one.contracting},
                         {"expanding", number(one.expanding)},
                         {"area_contracting", one.area_contracting},
                         {"area_expanding", one.area_expanding},
                         {"force", one.force}});
  }
  return {{"held", held}, {"elements", elements}, {"actuators", actuators}};
}

}  // namespace

int main(int argc, char** argv) {
  const long count = argc > 1 ? std::atol(argv[1]) : 100, first = argc > 2 ? std::atol(argv[2]) : 1;
  for (long i = first; i < first + count; ++i) {
    const FlowCircuit circuit = random_circuit(static_cast<std::uint64_t>(i));
    const SteadyState state = steady_state(circuit);
    std::cout << json{{"number", i},
                      {"circuit", as_json(circuit)},
                      {"solved", state.status == Status::solved},
                      {"pressure", state.pressure},
                      {"flow", state.flow},
                      {"speed", state.speed},
                      {"supply", state.supply}}
                     .dump()
              << '\n';
  }
}
