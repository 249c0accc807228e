#include "core/hydraulics/solver.h"

#include "core/hydraulics/pressure_search.h"

namespace faultodds::hydraulics {

const SteadyState& PressureSearch::solve(const FlowCircuit& circuit) {
  circuit_ = &circuit;
  steps_ = 0;
  for (std::size_t i = 0; i < circuit.elements.size(); ++i) {
    const FlowElement& one = circuit.elements[i];
    if (one.law == FlowLaw::one_way && one.pilot == kNowhere) threshold_[i] = one.setting;
  }
  if (at_rest_) rest();
  for (std::size_t v = 0; v < circuit.volumes.size(); ++v) {
    if (circuit.volumes[v].held) pressure_[v] = *circuit.volumes[v].held;
  }
  write(piloted_.empty() ? solve_convex() : solve_pilots());
  circuit_ = nullptr;
  return state_;
}

SteadyFlow::SteadyFlow(FlowCircuit given)
    : circuit(std::move(given)), search_(std::make_unique<PressureSearch>(circuit)) {}
SteadyFlow::~SteadyFlow() = default;
SteadyFlow::SteadyFlow(SteadyFlow&&) noexcept = default;
SteadyFlow& SteadyFlow::operator=(SteadyFlow&&) noexcept = default;

const SteadyState& SteadyFlow::solve() { return search_->solve(circuit); }
void SteadyFlow::from_rest() { search_->from_rest(); }

SteadyState steady_state(const FlowCircuit& circuit) { return SteadyFlow(circuit).solve(); }

}  // namespace faultodds::hydraulics
