// How large a set of failure modes must be to show in an observation: sizes of modes, limits of
// observations and, for each minimal set, the sizes from which its effect passes the limits. What
// effects are is effect.h's; what follows for probabilities is decided elsewhere.
//
// Limits (EffectLimits), where the circuit says nothing else:
// - hold: flow in mL/min that the hand pump gives at the test pressure, oil as cold as the shop.
//   `second` is what a hand pump delivers, 150 mL/min; `first` lies between what the sound parts
//   take and what the least worn one does (working judgement, all of it).
// - drift: `drift_limit` of the circuit, 4 mm/min at the rod where it has none (published limits
// are
//   3 to 6 mm/min); of a motor 0.5 rev/min (working judgement). Ten times it is `second`.
// - look: a film of oil from 1 mL/min, drips from 10, at the 20 bar of a parked machine;
// temperature:
//   20 and 100 W that the leak turns into heat at 150 bar (working judgement).
// - delivery: 10 % and 60 % of a function's speed; flow: 10 % and 30 % of rated flow (working
//   judgement).
#pragma once

#include <vector>

#include "core/circuit/analysis.h"
#include "core/circuit/structure.h"
#include "core/hydraulics/effect.h"

namespace faultodds::hydraulics {

// What a mode's sizes are where its type and component say nothing: circuit::default_size of a gap
// for lands of a spool, pumps and motors, of a loss for what restricts or weakens, else of a seat.
circuit::ModeSize default_size(const circuit::Structure& structure, circuit::Index mode);

// Sets FailureMode::size and size_is_own of the structure's modes.
void set_mode_sizes(circuit::Structure& structure);

// What every mode leaks where it stands under pressure, by mode; after set_mode_sizes.
std::vector<Leak> leaks_of(const circuit::Structure& structure);

// What the load of a drift's actuator puts on the contracting side: the median, and what it is cut
// at. Bar.
struct HeldLoad {
  double median = 0, most = 0;
};
HeldLoad held_load(const circuit::Component& actuator, const EffectOfSets& solve);

// Where that is done, sets of every derived observation its limits and
// its sets' shown_from, with the sets that the flow adds (a piston's seal alone, where that lifts a
// relief). Where a solve is not possible (an area or a pump's flow is not known) the observation
// keeps going by grades.
void add_sizes(circuit::Structure& structure, std::vector<circuit::Observation>& observations);

}  // namespace faultodds::hydraulics
