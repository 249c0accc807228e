#include "tests/hydraulics/random_circuits.h"

#include <cmath>
#include <random>

namespace faultodds::hydraulics {
namespace {

class Draw {
 public:
  explicit Draw(std::uint64_t seed) : bits_(seed * 0x9E3779B97F4A7C15u + 1) {}
  double uniform(double low, double high) {
    return low + (high - low) * (static_cast<double>(bits_() >> 11) * 0x1p-53);
  }
  double log_uniform(double low, double high) {
    return std::exp(uniform(std::log(low), std::log(high)));
  }
  Index below(std::size_t count) { return static_cast<Index>(bits_() % count); }
  bool chance(double probability) { return uniform(0, 1) < probability; }

 private:
  std::mt19937_64 bits_;
};

FlowElement random_element(Draw* draw, Index a, Index b, FlowCircuit* circuit) {
  const std::size_t volumes = circuit->volumes.size();
  const double kind = draw->uniform(0, 1);
  const double size = draw->log_uniform(0.1, 10'000);
  if (kind < 0.30) return laminar_leak(a, b, size, draw->uniform(10, 100));
  if (kind < 0.50) return orifice_leak(a, b, size);
  if (kind < 0.65) return passage(a, b);
  if (kind < 0.80) return check(a, b, draw->chance(0.5) ? 0 : draw->uniform(0.2, 5));
  const double setting = draw->uniform(30, 350);
  const double conductance = relief_conductance(draw->uniform(5'000, 60'000), setting);
  if (kind < 0.92) return relief(a, b, setting, conductance);
  Index pilot = draw->below(volumes);
  while (pilot == a || pilot == b) pilot = draw->below(volumes);
  // Where the pilot's pressure floats, so does what it opens.
  if (pilot != 0) circuit->elements.push_back(laminar_leak(pilot, 0, draw->log_uniform(0.1, 10)));
  return piloted_relief(a, b, setting, conductance, pilot, draw->uniform(1, 6));
}

}  // namespace

FlowCircuit random_circuit(std::uint64_t number) {
  Draw draw(number);
  FlowCircuit circuit;
  const std::size_t volumes = 4 + draw.below(17);
  circuit.volumes.resize(volumes);
  circuit.volumes[0].held = 0;
  const std::size_t actuators = draw.below(3);
  Index next = 1;  // chambers are volumes of their own, and not held
  for (std::size_t k = 0; k < actuators && next + 3 < volumes; ++k) {
    Actuator one;
    one.contracting = next++;
    one.area_contracting = draw.log_uniform(5, 500);
    one.force = one.area_contracting * draw.uniform(5, 300) * (draw.chance(0.2) ? -1 : 1);
    if (draw.chance(0.8)) {
      one.expanding = next++;
      // Nearly equal areas, trapped, would mean any pressure.
      const double ratio = draw.log_uniform(1.1, 3);
      one.area_expanding = one.area_contracting * (draw.chance(0.5) ? ratio : 1 / ratio);
      if (draw.chance(0.7)) {
        circuit.elements.push_back(
            orifice_leak(one.contracting, one.expanding, draw.log_uniform(0.1, 3'000)));
      }
    } else {
      one.force = std::abs(one.force);
    }
    circuit.actuators.push_back(one);
  }
  const Index first_plain = next;
  // A tree to the tank, so that most volumes are joined to something, then more of the same.
  for (Index v = 1; v < volumes; ++v) {
    const Index other = draw.below(v);
    const bool away = draw.chance(0.5);
    const FlowElement one = random_element(&draw, away ? v : other, away ? other : v, &circuit);
    circuit.elements.push_back(one);
  }
  const std::size_t more = draw.below(2 * volumes);
  for (std::size_t i = 0; i < more; ++i) {
    const Index a = draw.below(volumes), b = draw.below(volumes);
    if (a == b) continue;
    const FlowElement one = random_element(&draw, a, b, &circuit);
    circuit.elements.push_back(one);
  }
  if (draw.chance(0.4)) {
    const Index outlet = 1 + draw.below(volumes - 1);
    circuit.elements.push_back(
        pump(0, outlet, draw.log_uniform(100, 60'000), draw.uniform(50, 300)));
  }
  if (draw.chance(0.6) && first_plain < volumes) {
    const Index port = first_plain + draw.below(volumes - first_plain);
    circuit.volumes[port].held = draw.uniform(20, 350);
  }
  return circuit;
}

}  // namespace faultodds::hydraulics
