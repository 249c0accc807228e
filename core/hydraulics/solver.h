// The steady state of a flow circuit: the pressure of every volume and the speed of every actuator
// at which as much oil comes into each volume as goes out. It finds pressures; what they mean for a
// part or an outcome is not decided here.
//
// Equations. For every volume i that is not held, with the laws of flow_circuit.h:
//   R_i = sum of q out - sum of q in - sum of A_c v (contracting here) + sum of A_e v (expanding
//   here) 0 <= p_i + 1 bar,  0 <= R_i,  one of the two 0     (complementarity)
// so oil is conserved, but for a volume that stands at -1 bar: more would go out than comes in, and
// it is not filled. For every actuator: p_c A_c - p_e A_e = force. Threshold of a piloted relief:
// T = max(0, setting - ratio p_pilot).
//
// Every flow grows with the pressure across it. With thresholds given, R is the slope of a convex
// function of the pressures and an actuator's speed is the multiplier of its balance, so flows and
// speeds are unique, and Newton's method with a search along each step on that slope finds them
// from anywhere. Each step is damped by as much flow per 500 bar as is amiss in a volume (damping
// that vanishes with the residual keeps the convergence of Newton's method where pressures float:
// Yamashita & Fukushima, Computing Supplement 15, 2001). Thresholds are an outer Newton, kept in a
// bracket. A piloted relief that its own flow opens further has more than one steady state; the one
// found is sought from the valve closed.
#pragma once

#include <memory>
#include <vector>

#include "core/hydraulics/flow_circuit.h"

namespace faultodds::hydraulics {

enum class Status {
  solved,
  unbalanced,     // no pressures hold the load of an actuator: it runs away
  not_converged,  // `residual` says by how much
};

struct SteadyState {
  Status status = Status::not_converged;
  double residual = 0;           // mL/min: largest of what is amiss in a volume
  int steps = 0;                 // of Newton's method, over all
  std::vector<double> pressure;  // of every volume
  std::vector<double> flow;      // of every element, from -> to
  std::vector<bool> open;        // one_way elements that pass
  std::vector<double> speed;     // of every actuator, positive as it contracts
  // What has to be put into every volume: for a held one the flow its port needs, for one that
  // stands at -1 bar what it lacks, else 0.
  std::vector<double> supply;
};

class PressureSearch;

// Solves one circuit again and again with other values, each time from the last state. What joins
// what, which volumes are held, the laws and the pilots stay.
class SteadyFlow {
 public:
  // Throws std::invalid_argument where an index is out of range or a value senseless.
  explicit SteadyFlow(FlowCircuit circuit);
  ~SteadyFlow();
  SteadyFlow(SteadyFlow&&) noexcept;
  SteadyFlow& operator=(SteadyFlow&&) noexcept;

  FlowCircuit circuit;  // change conductances, settings, held pressures, forces, areas

  const SteadyState& solve();
  void from_rest();  // the next solve does not begin at the last state

 private:
  std::unique_ptr<PressureSearch> search_;
};

// One circuit, once.
SteadyState steady_state(const FlowCircuit& circuit);

}  // namespace faultodds::hydraulics
