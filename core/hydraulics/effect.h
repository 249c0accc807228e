// What an observation shows of a set of leaking modes: its situation as a flow circuit, solved with
// the set at a size and every other mode at its sound median. Structure comes from the circuit and
// how the machine stands; which sets are worth asking about, and what an effect makes of outcomes,
// is decided elsewhere. Nothing here is a probability but the weights of a load's levels.
//
// What passes both ways (galleries, lines that are on, passages, spool lands in position) joins its
// volumes into one; checks and reliefs with a setting are elements; each mode is one leak between
// every two volumes that its elements part, so a valve whose check and relief share a seat leaks
// once. Modes that leak between the same two volumes by the same law are one element of the flow
// circuit, as large as they are together. A blocking element without a mode never leaks.
#pragma once

#include <map>
#include <optional>
#include <vector>

#include "core/circuit/hydraulic_graph.h"
#include "core/hydraulics/solver.h"

namespace faultodds::hydraulics {

// Oil in a warm machine, and where it stands locked out in the shop (VG 46 at about 60 C and 20 C;
// viscosity grades: ISO 3448; the temperatures are working judgement).
inline constexpr double kHotViscosity = 20, kShopViscosity = 105;  // mm2/s

// How a mode leaks: size in mL/min at reference.
struct Leak {
  FlowLaw law = FlowLaw::orifice;
  double sound = 0;  // median size of a sound one
};

// An observation as a steady state: either a port pressed (hold), or an actuator's load held
// (drift).
struct Situation {
  circuit::Configuration configuration;
  double viscosity = kReferenceViscosity;
  // hold: the volume pressed, its pressure in bar, and volumes that stand open to the air
  circuit::Index pressed = circuit::kNone;
  double pressure = 0;
  std::vector<circuit::Index> open;
  // drift: the actuator's component, the direction in which its load drives it, and the pressure
  // the load puts on the contracting side, in bar
  circuit::Index actuator = circuit::kNone;
  const circuit::ComponentType::Direction* direction = nullptr;
  double load = 0;
};

// The situation of a derived hold or drift; nothing for other observations. `pressure` in bar is
// what the port is pressed with, or what the load puts on the contracting side. Others' loads are
// blocked.
std::optional<Situation> situation_of(const circuit::Structure& structure,
                                      const circuit::Observation& observation, double pressure);

class EffectOfSets {
 public:
  // Throws Error(invalid_circuit) for a drift whose actuator has no areas. `leaks` by mode. Of the
  // circuit only what leaks, checks and reliefs join to the port or the actuator is solved.
  EffectOfSets(const circuit::Structure& structure, const Situation& situation,
               const std::vector<Leak>& leaks);
  // Likewise, for who asks of many situations of one circuit.
  EffectOfSets(const circuit::HydraulicGraph& graph, const Situation& situation,
               const std::vector<Leak>& leaks);

  // Holds: mL/min that the pressed port takes; drift: mm/min at the rod, of a motor rev/min. Of all
  // sound modes, and with the modes of `set` at `size`. Nothing where the solve found no steady
  // state.
  std::optional<double> shown();
  std::optional<double> shown(const std::vector<circuit::Index>& set, double size);

  // shown(set at size) - shown(set at zero), not below 0. Whoever asks of many sizes solves the
  // latter once, as `without`.
  std::optional<double> effect(const std::vector<circuit::Index>& set, double size);
  std::optional<double> effect(const std::vector<circuit::Index>& set, double size,
                               std::optional<double> without);

  // Whether the set shows at any size: a thousand times a failed seat does more than `least`.
  bool shows(const std::vector<circuit::Index>& set, double least);

  void set_load(double load);  // drift: bar on the contracting side
  bool turns() const;          // drift: of a motor
  double area() const;         // drift: of the contracting side, cm2 or cm3/rad
  // drift: setting of the lowest relief at the contracting side, bar.
  std::optional<double> lowest_relief() const;

  // Loads within [low, high] at which an element begins to pass or ceases to, the set at `size`.
  std::vector<double> crossings(const std::vector<circuit::Index>& set, double size, double low,
                                double high);

  // Of the last solve: bar at a gallery that is within reach, and mL/min through the leaks that a
  // mode is part of, from -> to of its element.
  std::optional<double> pressure_at(circuit::Index vertex) const;
  std::optional<double> flow_past(circuit::Index mode) const;

  const FlowCircuit& circuit() const { return flow_.circuit; }
  const SteadyState& state() const { return *state_; }  // of the last solve

 private:
  // What leaks of an element of the flow circuit: `beside` is the conductance of the sound modes
  // that are not in the set, `modes` of its modes are.
  struct Part {
    std::size_t element = 0;
    double beside = 0;
    int modes = 0;
  };
  double conductance(FlowLaw law, double size) const;
  void choose(const std::vector<circuit::Index>& set);

  struct Leaking {
    double sound = 0;                   // size
    std::vector<std::size_t> elements;  // of the flow circuit
  };
  std::map<circuit::Index, Leaking> leaking_;  // modes that leak there
  std::vector<int> modes_at_;                  // of each element, how many leak there
  std::vector<double> sound_;                  // conductance of each element
  std::vector<circuit::Index> set_;            // chosen last
  std::vector<Part> parts_;                    // its elements
  std::map<circuit::Index, Index> volume_of_;  // by gallery
  double viscosity_, speed_unit_ = 1;
  Index pressed_ = kNowhere;
  const SteadyState* state_ = nullptr;
  SteadyFlow flow_;
};

struct LoadLevel {
  double load = 0;    // bar
  double weight = 0;  // sum to 1
};

// A log-normal load cut at `most`, as levels: about ten classes of equal weight, cut at the
// crossings as well, each at its median.
std::vector<LoadLevel> load_levels(double median, double spread, double most,
                                   std::vector<double> crossings, int classes = 10);

}  // namespace faultodds::hydraulics
