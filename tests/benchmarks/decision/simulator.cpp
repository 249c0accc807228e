#include "tests/benchmarks/decision/simulator.h"

#include <algorithm>
#include <cmath>
#include <numbers>
#include <numeric>
#include <stdexcept>

namespace faultodds::benchmark {
namespace {

using circuit::ElementKind;

constexpr double kBar = 1e5;  // Pa
// A worn and a failed part, median and spread (of the logarithm).
constexpr double kLeak[3] = {0, 30, 1000}, kLeakSpread = 0.8;     // mL/min at 100 bar
constexpr double kOpen[3] = {1, 0.10, 0.033}, kOpenSpread = 0.3;  // of a passage
constexpr double kLoss[3] = {0, 0.12, 0.35}, kLossSpread = 0.3;   // of a pump's flow
// Machines.
constexpr double kPumpFlow = 60000;                        // mL/min
const double kPassage = kPumpFlow * std::sqrt(100.0 / 2);  // 2 bar at that flow
constexpr double kReliefSlope = 1e4;                       // mL/min per bar
constexpr double kLoad = 80, kHoldingLoad = 100;           // bar on the piston
constexpr double kArea = 78.5, kRodArea = 53.9;            // cm2: bore 100 mm, rod 56 mm
constexpr double kLightest = 0.9;                          // of what would lift a relief
// Instruments and their errors.
constexpr double kHandPump = 200;   // mL/min that a hand pump keeps up
constexpr double kHeld = 6;         // mL/min below which a hold counts as held
constexpr double kFall = 10;        // bar: how long does the gauge take to fall by it
constexpr double kLongest = 2;      // minutes that one waits for it
constexpr double kGauge = 0.4;      // bar, standard deviation of a difference
constexpr double kWatch = 0.01;     // minutes
constexpr double kRuler = 0.04;     // cm, of a distance
constexpr double kStiffness = 1e4;  // bar, of oil in hoses
constexpr double kTrapped = 500;    // mL
constexpr double kDriftMinutes = 5;
constexpr double kMeter = 0.02;                 // share, of a flow meter and of a timed stroke
constexpr double kAir = 0.4, kAirSpread = 1.1;  // mL/min that trapped air and cooling look like
constexpr double kBadAdapter = 0.015, kAdapterLeak = 60;
constexpr double kLeaks[2] = {kHeld, kHandPump};
constexpr double kSlow[2] = {0.10, 0.45};  // lost share of speed: slow, stalled
constexpr double kSeen[2] = {0.60, 0.95};  // what a look takes for worn, for failed
constexpr double kEye = 0.08;              // its error
constexpr double kLow[2] = {0.06, 0.20};   // lost share of a pump's flow: low, very low

double lognormal(double median, double spread, Simulator::Chance& chance) {
  return median * std::exp(spread * std::normal_distribution<double>()(chance));
}

double normal(double spread, Simulator::Chance& chance) {
  return spread * std::normal_distribution<double>()(chance);
}

std::vector<std::string> split(const std::string& id) {
  std::vector<std::string> parts{""};
  for (char c : id) {
    if (c == '/') {
      parts.emplace_back();
    } else {
      parts.back() += c;
    }
  }
  return parts;
}

// The outcome as a technician would write it down.
Shown judged(const std::string& observation, double effect) {
  const std::string kind = split(observation)[0];
  const double* const limits = kind == "delivery" ? kSlow
                               : kind == "flow"   ? kLow
                               : kind == "look"   ? kSeen
                                                  : kLeaks;
  return {effect < limits[0] ? 0u : effect < limits[1] ? 1u : 2u, effect};
}

std::string owner(const std::string& port) { return port.substr(0, port.find('.')); }

}  // namespace

Simulator::Simulator(const circuit::Description& description,
                     const std::vector<circuit::ComponentType>& catalogue)
    : description_(description) {
  for (const auto& type : catalogue) types_[type.name] = type;
  for (const auto& type : description.types) types_[type.name] = type;
  volume_ = {{"tank", 0}, {"outside", 1}};
  for (std::size_t c = 0; c < description.components.size(); ++c) {
    const circuit::Component& component = description.components[c];
    component_[component.id] = c;
    const circuit::ComponentType& type = type_of(c);
    for (const auto* names : {&type.ports, &type.volumes}) {
      for (const std::string& name : *names) {
        volume_.emplace(component.id + "." + name, volume_.size());
      }
    }
    const std::size_t first_element = elements_.size();
    for (const circuit::Element& element : type.elements) {
      const auto place = [&](const std::string& name) {
        return name == "tank" || name == "outside" ? volume_.at(name)
                                                   : volume_.at(component.id + "." + name);
      };
      elements_.push_back({element.kind,
                           c,
                           place(element.from),
                           place(element.to),
                           element.open_in,
                           {},
                           {},
                           component.setting.value_or(1e9) / kBar});
    }
    weakening_.emplace_back();
    for (const circuit::FailureModeType& mode : type.failure_modes) {
      const std::size_t m = modes_.size();
      const auto own = component.priors.find(mode.name);
      modes_.push_back({component.id + "." + mode.name, component.id, !mode.leaks.empty(),
                        !mode.restricts.empty(), !mode.weakens.empty(), type.name == "main_relief",
                        own == component.priors.end() ? mode.prior : own->second});
      mode_component_.push_back(c);
      if (modes_.back().weakens) weakening_.back().push_back(m);
      for (std::size_t e = 0; e < type.elements.size(); ++e) {
        const auto acts_on = [&](const std::vector<std::string>& names) {
          return std::find(names.begin(), names.end(), type.elements[e].name) != names.end();
        };
        if (acts_on(mode.leaks)) elements_[first_element + e].leaking.push_back(m);
        if (acts_on(mode.restricts)) elements_[first_element + e].restricting.push_back(m);
      }
    }
    if (component.setting) {
      const double setting = *component.setting / kBar;
      least_setting_ = least_setting_ > 0 ? std::min(least_setting_, setting) : setting;
    }
  }
  for (const circuit::Connection& connection : description.connections) {
    const std::size_t a = volume(connection.from), b = volume(connection.to);
    if (connection.line.empty()) {
      joined_.push_back({a, b});
    } else {
      lines_.push_back({connection.line, a, b});
    }
  }
  if (least_setting_ > 0) test_pressure_ = 0.8 * least_setting_;
  for (const circuit::Function& function : description.functions) {
    sound_speed_[function.id] = speed(sound(), function);
  }
}

std::size_t Simulator::volume(const std::string& name) const {
  const auto at = volume_.find(name);
  if (at == volume_.end()) throw std::runtime_error("no volume " + name);
  return at->second;
}

const circuit::ComponentType& Simulator::type_of(std::size_t component) const {
  return types_.at(description_.components[component].type);
}

ModeState Simulator::of_grade(std::size_t mode, int grade, Chance& chance) const {
  ModeState state;
  state.grade = grade;
  if (grade == 0) return state;
  state.leak = lognormal(kLeak[grade], kLeakSpread, chance);
  state.open = std::min(0.5, lognormal(kOpen[grade], kOpenSpread, chance));
  state.loss = std::min(0.95, lognormal(kLoss[grade], kLossSpread, chance));
  if (modes_[mode].supply) state.leak = state.loss * kPumpFlow;
  return state;
}

Simulator::Machine Simulator::draw(Chance& chance) const {
  Machine machine;
  for (const Mode& mode : modes_) {
    const double at = std::uniform_real_distribution<double>()(chance);
    const int grade = at < mode.prior[0] ? 0 : at < mode.prior[0] + mode.prior[1] ? 1 : 2;
    machine.push_back(of_grade(machine.size(), grade, chance));
  }
  return machine;
}

void Simulator::renew(Machine& machine, const std::string& component) const {
  for (std::size_t m = 0; m < modes_.size(); ++m) {
    if (modes_[m].component == component) machine[m] = {};
  }
}

Simulator::Plumbing Simulator::plumb(const Standing& standing) const {
  std::vector<std::size_t> parent(volume_.size());
  std::iota(parent.begin(), parent.end(), std::size_t{0});
  const auto root = [&](std::size_t v) {
    while (parent[v] != v) v = parent[v] = parent[parent[v]];
    return v;
  };
  for (const auto& pair : joined_) parent[root(pair[0])] = root(pair[1]);
  for (std::size_t l = 0; l < lines_.size(); ++l) {
    if (!standing.line_off[l]) parent[root(lines_[l].a)] = root(lines_[l].b);
  }
  Plumbing plumbing;
  plumbing.node.assign(parent.size(), 0);
  std::map<std::size_t, std::size_t> number;
  for (std::size_t v = 0; v < parent.size(); ++v) {
    plumbing.node[v] = number.emplace(root(v), number.size()).first->second;
  }
  plumbing.nodes = number.size();
  return plumbing;
}

void Simulator::fill(LeakNetwork& network, const Plumbing& plumbing, const Machine& machine,
                     const Standing& standing) const {
  network.hold(plumbing.node[volume_.at("tank")], 0);
  network.hold(plumbing.node[volume_.at("outside")], 0);
  for (const Placed& element : elements_) {
    if (standing.removed == element.component) continue;
    const std::size_t from = plumbing.node[element.from], to = plumbing.node[element.to];
    double open = 1;
    for (std::size_t m : element.restricting) open *= machine[m].open;
    const auto at = standing.positions.find(description_.components[element.component].id);
    const std::string position = at == standing.positions.end() ? "neutral" : at->second;
    const bool is_open = std::find(element.open_in.begin(), element.open_in.end(), position) !=
                         element.open_in.end();
    switch (element.kind) {
      case ElementKind::passage:
        network.add({from, to, Law::orifice, kPassage * open, 0});
        break;
      case ElementKind::check:
        network.add({from, to, Law::check, kPassage * open, 0});
        break;
      case ElementKind::relief:
        network.add({from, to, Law::relief, kReliefSlope, element.setting});
        break;
      case ElementKind::seal:
        if (is_open) network.add({from, to, Law::orifice, kPassage * open, 0});
        break;
    }
    const Law leaking = element.kind == ElementKind::seal ? Law::laminar : Law::orifice;
    for (std::size_t m : element.leaking) {
      if (machine[m].leak > 0) network.add({from, to, leaking, machine[m].leak, 0});
    }
  }
}

Piston Simulator::piston(const Plumbing& plumbing, std::size_t actuator,
                         const std::string& direction) const {
  const circuit::ComponentType& type = type_of(actuator);
  for (const auto& one : type.directions) {
    if (one.name != direction) continue;
    const std::string& id = description_.components[actuator].id;
    const auto area = [&](const std::string& name) {
      const auto rule = type.areas.find(name);
      const bool bore =
          rule == type.areas.end() ? name == "cap" : rule->second == circuit::AreaRule::bore;
      return bore ? kArea : kRodArea;
    };
    Piston result;
    result.contracting = plumbing.node[volume(id + "." + one.contracting)];
    result.expanding = plumbing.node[volume(id + "." + one.expanding)];
    result.area_c = area(one.contracting);
    result.area_e = area(one.expanding);
    return result;
  }
  throw std::runtime_error("no direction " + direction);
}

// The test bench of a static hold: lines off, a cartridge perhaps out, the port fed.
LeakNetwork Simulator::holding(const Machine& machine, const std::string& observation,
                               bool by_pressure, std::size_t& source) const {
  const std::vector<std::string> parts = split(observation);
  const std::string& port = parts.at(1);
  const std::size_t component = component_.at(owner(port));
  const circuit::ComponentType& type = type_of(component);
  Standing standing;
  standing.line_off.assign(lines_.size(), false);
  const Plumbing off = [&] {
    Standing none;
    none.line_off.assign(lines_.size(), true);
    return plumb(none);
  }();
  std::vector<std::size_t> ports;  // galleries whose lines come off
  if (type.directions.empty()) {
    ports.push_back(off.node[volume(port)]);
  } else {
    for (const std::string& name : type.ports) {
      ports.push_back(off.node[volume(owner(port) + "." + name)]);
    }
  }
  for (std::size_t l = 0; l < lines_.size(); ++l) {
    for (std::size_t end : {lines_[l].a, lines_[l].b}) {
      if (std::find(ports.begin(), ports.end(), off.node[end]) != ports.end()) {
        standing.line_off[l] = true;
      }
    }
  }
  if (parts.size() > 3) standing.removed = component_.at(parts[3]);
  const Plumbing plumbing = plumb(standing);
  LeakNetwork network(plumbing.nodes);
  fill(network, plumbing, machine, standing);
  source = plumbing.node[volume(port)];
  if (!type.directions.empty()) {
    for (const std::string& name : type.ports) {
      const std::size_t other = plumbing.node[volume(owner(port) + "." + name)];
      if (other != source) network.hold(other, 0);  // open, over a tray
    }
  }
  if (by_pressure) {
    network.hold(source, test_pressure_);
  } else {
    network.inject(source, kHandPump);
  }
  network.solve();
  return network;
}

LeakNetwork Simulator::held(const Machine& machine, const std::string& observation) const {
  std::size_t source = 0;
  return holding(machine, observation, true, source);
}

double Simulator::drift(const Machine& machine, const std::string& observation) const {
  const std::vector<std::string> parts = split(observation);
  Standing standing;
  standing.line_off.assign(lines_.size(), false);
  const Plumbing plumbing = plumb(standing);
  LeakNetwork network(plumbing.nodes);
  fill(network, plumbing, machine, standing);
  Piston load = piston(plumbing, component_.at(parts.at(1)), parts.at(2));
  double pressure = kHoldingLoad;
  const double ratio = load.area_e / load.area_c;
  if (ratio < 1 && least_setting_ > 0) {
    pressure = std::min(pressure, kLightest * least_setting_ * (1 - ratio));
  }
  load.force = pressure * load.area_c;
  network.set_piston(load);
  network.solve();
  return std::max(0.0, network.speed() * load.area_c);
}

double Simulator::slip(const Machine& machine, const std::string& component) const {
  double left = 1;
  for (std::size_t m : weakening_[component_.at(component)]) left *= 1 - machine[m].loss;
  return 1 - left;
}

// What one sees of a part in the hand: a passage that is blocked, a scored seat of the supply.
double Simulator::seen_damage(const Machine& machine, const std::string& component) const {
  double worst = 0;
  for (std::size_t m = 0; m < modes_.size(); ++m) {
    if (modes_[m].component != component) continue;
    if (modes_[m].restricts) worst = std::max(worst, 1 - machine[m].open);
    if (modes_[m].supply) worst = std::max(worst, std::sqrt(machine[m].leak / kPumpFlow) + 0.4);
  }
  return worst;
}

// Of a function's piston, cm/min.
double Simulator::speed(const Machine& machine, const circuit::Function& function) const {
  Standing standing;
  standing.positions = function.positions;
  standing.line_off.assign(lines_.size(), false);
  const Plumbing plumbing = plumb(standing);
  LeakNetwork network(plumbing.nodes);
  fill(network, plumbing, machine, standing);
  Piston load = piston(plumbing, component_.at(function.actuator), function.direction);
  load.force = -kLoad * load.area_e;
  network.set_piston(load);
  const std::string source =
      function.source.find('.') == std::string::npos ? function.source + ".out" : function.source;
  network.inject(plumbing.node[volume(source)], kPumpFlow * (1 - slip(machine, owner(source))));
  network.solve();
  return network.speed();
}

double Simulator::effect(const Machine& machine, const std::string& observation) const {
  const std::vector<std::string> parts = split(observation);
  if (parts[0] == "static") {
    std::size_t source = 0;
    return holding(machine, observation, true, source).outflow(source);
  }
  if (parts[0] == "drift") return drift(machine, observation);
  if (parts[0] == "flow") return slip(machine, parts.at(1));
  if (parts[0] == "look") return seen_damage(machine, parts.at(1));
  if (parts[0] == "delivery") {
    for (const circuit::Function& function : description_.functions) {
      if (function.id == parts.at(1)) {
        return 1 - speed(machine, function) / sound_speed_.at(function.id);
      }
    }
  }
  throw std::runtime_error("cannot simulate " + observation);
}

Shown Simulator::exact(const Machine& machine, const std::string& observation) const {
  return judged(observation, effect(machine, observation));
}

Shown Simulator::perform(const Machine& machine, const std::string& observation,
                         Chance& chance) const {
  const std::string kind = split(observation)[0];
  double effect = this->effect(machine, observation);
  if (kind == "delivery" || kind == "flow") {
    return judged(observation, effect + normal(kMeter, chance));
  }
  if (kind == "look") return judged(observation, effect + normal(kEye, chance));
  effect += lognormal(kAir, kAirSpread, chance);
  if (kind == "drift") {
    const double distance = std::max(0.0, effect / kArea * kDriftMinutes + normal(kRuler, chance));
    return judged(observation, distance / kDriftMinutes * kArea);
  }
  if (std::uniform_real_distribution<double>()(chance) < kBadAdapter) {
    effect += lognormal(kAdapterLeak, 1, chance);
  }
  if (effect > kHandPump) return {2, effect};
  // The valve of the hand pump is shut and the gauge watched.
  const double rate = kStiffness * effect / kTrapped;  // bar per minute
  const double time = std::min(kLongest, kFall / rate);
  const double fall = std::max(0.0, rate * time + normal(kGauge, chance));
  const double seen = fall / std::max(0.02, time + normal(kWatch, chance));
  return judged(observation, seen * kTrapped / kStiffness);
}

}  // namespace faultodds::benchmark
