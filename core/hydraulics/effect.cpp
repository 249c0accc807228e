#include "core/hydraulics/effect.h"

#include <algorithm>
#include <boost/math/distributions/normal.hpp>
#include <cmath>
#include <numeric>
#include <set>

#include "core/error.h"

namespace faultodds::hydraulics {
namespace {

constexpr double kReliefFlow = 40'000;  // mL/min, rated flow of a relief; working judgement
constexpr double kLarge = 1e6;          // mL/min: a thousand times a failed seat
constexpr double kPascalPerBar = 1e5;
constexpr double kSquareCm = 1e4;  // per m2
constexpr double kCubicCm = 1e6;   // per m3
constexpr double kMmPerCm = 10;
constexpr double kTurn = 2 * 3.14159265358979323846;  // rad
constexpr int kScan = 48;                             // loads tried in search of crossings
constexpr int kBisections = 24;

using circuit::ElementKind;
using circuit::PlacedElement;
using circuit::Structure;

// Galleries joined by whatever passes both ways; each becomes a volume of the flow circuit. The
// reservoirs are volume 0.
class Joined {
 public:
  Joined(const Structure& structure, const circuit::HydraulicGraph& graph,
         const circuit::Configuration& configuration)
      : structure_(structure), parent_(structure.vertex_count) {
    std::iota(parent_.begin(), parent_.end(), circuit::Index{0});
    join(structure.tank(), structure.outside());
    for (circuit::Index i = 0; i < structure.lines.size(); ++i) {
      const circuit::Line& line = structure.lines[i];
      if (graph.present({circuit::kNone, i, true}, configuration))
        join(vertex(line.ends[0].volume), vertex(line.ends[1].volume));
    }
    for (circuit::Index i = 0; i < structure.elements.size(); ++i) {
      const circuit::Arc there{i, circuit::kNone, true}, back{i, circuit::kNone, false};
      if (graph.present(there, configuration) && graph.passes(there, configuration) &&
          graph.passes(back, configuration)) {
        join(vertex(structure.elements[i].from), vertex(structure.elements[i].to));
      }
    }
  }

  circuit::Index of(circuit::Index volume) { return root(vertex(volume)); }
  circuit::Index reservoir() { return root(structure_.tank()); }

 private:
  circuit::Index vertex(circuit::Index volume) const { return structure_.gallery[volume]; }
  circuit::Index root(circuit::Index v) {
    while (parent_[v] != v) v = parent_[v] = parent_[parent_[v]];
    return v;
  }
  void join(circuit::Index a, circuit::Index b) { parent_[root(a)] = root(b); }

  const Structure& structure_;
  std::vector<circuit::Index> parent_;
};

struct Built {
  FlowCircuit circuit;
  std::vector<std::vector<std::size_t>> elements;  // of each mode
  Index pressed = kNowhere;
};

bool by_displacement(const Structure& structure, circuit::Index actuator,
                     const std::string& volume) {
  const auto& rules = structure.type[actuator]->areas;
  const auto rule = rules.find(volume);
  return rule != rules.end() && rule->second == circuit::AreaRule::displacement;
}

// cm2, or cm3/rad of a motor.
double area(const Structure& structure, circuit::Index actuator, const std::string& volume) {
  const auto& displacement = structure.description->components[actuator].displacement;
  if (by_displacement(structure, actuator, volume) && displacement && *displacement > 0)
    return *displacement * kCubicCm / kTurn;
  const std::optional<double> given = circuit::area_of(structure, actuator, volume);
  if (!given || !(*given > 0)) {
    throw Error(Code::invalid_circuit,
                "actuator " + structure.component_title(actuator) + ": the area of `" + volume +
                    "` is needed, from `bore` and `rod`, `displacement` or `areas`",
                structure.component_pointer(actuator));
  }
  return *given * kSquareCm;
}

// What is joined to `start`, reservoirs and what is held apart.
std::vector<bool> within_reach(const FlowCircuit& circuit, std::vector<Index> start) {
  std::vector<bool> in(circuit.volumes.size(), false);
  std::vector<std::vector<Index>> next(circuit.volumes.size());
  for (const FlowElement& element : circuit.elements) {
    next[element.from].push_back(element.to);
    next[element.to].push_back(element.from);
    if (element.pilot != kNowhere) next[element.from].push_back(element.pilot);
  }
  for (const Index v : start) in[v] = true;
  while (!start.empty()) {
    const Index v = start.back();
    start.pop_back();
    if (v == 0) continue;  // the reservoirs join nothing
    for (const Index to : next[v]) {
      if (in[to]) continue;
      in[to] = true;
      start.push_back(to);
    }
  }
  in[0] = true;
  return in;
}

// Leaves out what is not in reach; volumes get new numbers.
void keep_within_reach(Built& built) {
  FlowCircuit& circuit = built.circuit;
  std::vector<Index> start;
  if (built.pressed != kNowhere) start.push_back(built.pressed);
  for (const Actuator& one : circuit.actuators) {
    start.push_back(one.contracting);
    start.push_back(one.expanding);
  }
  const std::vector<bool> in = within_reach(circuit, std::move(start));
  std::vector<Index> number(circuit.volumes.size(), kNowhere);
  std::vector<Volume> volumes;
  for (Index v = 0; v < circuit.volumes.size(); ++v) {
    if (!in[v]) continue;
    number[v] = static_cast<Index>(volumes.size());
    volumes.push_back(circuit.volumes[v]);
  }
  circuit.volumes = std::move(volumes);
  std::vector<FlowElement> elements;
  std::vector<std::size_t> place(circuit.elements.size(), circuit.elements.size());
  for (std::size_t i = 0; i < circuit.elements.size(); ++i) {
    FlowElement one = circuit.elements[i];
    if (number[one.from] == kNowhere || number[one.to] == kNowhere) continue;
    one.from = number[one.from];
    one.to = number[one.to];
    if (one.pilot != kNowhere) one.pilot = number[one.pilot];
    place[i] = elements.size();
    elements.push_back(one);
  }
  const std::size_t gone = circuit.elements.size();
  circuit.elements = std::move(elements);
  for (auto& list : built.elements) {
    for (std::size_t& i : list) i = place[i];
    std::erase(list, gone);
  }
  if (built.pressed != kNowhere) built.pressed = number[built.pressed];
  for (Actuator& one : circuit.actuators) {
    one.contracting = number[one.contracting];
    one.expanding = number[one.expanding];
  }
}

Built build(const Structure& structure, const Situation& situation) {
  const circuit::HydraulicGraph graph(structure);
  Joined joined(structure, graph, situation.configuration);
  Built out;
  out.elements.resize(structure.modes.size());
  std::vector<Index> number(structure.vertex_count, kNowhere);
  out.circuit.volumes.push_back({0.0});
  number[joined.reservoir()] = 0;
  const auto volume = [&](circuit::Index of) {
    Index& known = number[joined.of(of)];
    if (known == kNowhere) {
      known = static_cast<Index>(out.circuit.volumes.size());
      out.circuit.volumes.emplace_back();
    }
    return known;
  };
  if (situation.pressed != circuit::kNone) {
    out.pressed = volume(situation.pressed);
    out.circuit.volumes[out.pressed].held = situation.pressure;
    for (const circuit::Index open : situation.open) {
      if (volume(open) != out.pressed) out.circuit.volumes[volume(open)].held = 0;
    }
  }
  std::vector<std::set<std::pair<Index, Index>>> parted(structure.modes.size());
  for (circuit::Index i = 0; i < structure.elements.size(); ++i) {
    const PlacedElement& placed = structure.elements[i];
    if (!graph.present({i, circuit::kNone, true}, situation.configuration)) continue;
    const Index from = volume(placed.from), to = volume(placed.to);
    if (from == to) continue;
    if (placed.element->kind == ElementKind::check) out.circuit.elements.push_back(check(from, to));
    if (placed.element->kind == ElementKind::relief) {
      const auto& setting = structure.description->components[placed.component].setting;
      if (setting && *setting > 0) {
        const double bar = *setting / kPascalPerBar;
        const double conductance = relief_conductance(kReliefFlow, bar);
        const auto& ratio = structure.description->components[placed.component].ratio;
        out.circuit.elements.push_back(
            placed.pilot != circuit::kNone && ratio
                ? piloted_relief(from, to, bar, conductance, volume(placed.pilot), *ratio)
                : relief(from, to, bar, conductance));
      }
    }
    for (const circuit::Index mode : placed.leaking) {
      if (!parted[mode].insert(std::minmax(from, to)).second) continue;
      out.elements[mode].push_back(out.circuit.elements.size());
      out.circuit.elements.push_back(passage(from, to, 0));
    }
  }
  if (situation.actuator != circuit::kNone) {
    const circuit::ComponentType::Direction& direction = *situation.direction;
    Actuator one;
    one.contracting =
        volume(circuit::volume_of(structure, situation.actuator, direction.contracting));
    one.expanding = volume(circuit::volume_of(structure, situation.actuator, direction.expanding));
    one.area_contracting = area(structure, situation.actuator, direction.contracting);
    one.area_expanding = area(structure, situation.actuator, direction.expanding);
    one.force = situation.load * one.area_contracting;
    out.circuit.actuators.push_back(one);
  }
  keep_within_reach(out);
  return out;
}

}  // namespace

std::optional<Situation> situation_of(const Structure& structure,
                                      const circuit::Observation& observation, double pressure) {
  using Kind = circuit::ObservationKind;
  Situation out;
  if (observation.written) return std::nullopt;
  if (observation.kind == Kind::drift) {
    out.viscosity = kHotViscosity;
    out.load = pressure;
    for (circuit::Index c = 0; c < structure.type.size(); ++c) {
      const std::string of = "drift/" + structure.description->components[c].id + "/";
      for (const circuit::ComponentType::Direction& direction : structure.type[c]->directions) {
        if (observation.id != of + direction.name) continue;
        out.actuator = c;
        out.direction = &direction;
        return out;
      }
    }
  }
  if (observation.kind != Kind::static_hold) return std::nullopt;
  out.viscosity = kShopViscosity;
  out.pressure = pressure;
  for (const std::string& step : observation.setup) {
    const std::string id = step.substr(step.find('/') + 1);
    if (step.starts_with("line/"))
      out.configuration.lines_off.push_back(structure.line_index.at(id));
    if (step.starts_with("cartridge/"))
      out.configuration.removed = structure.component_index.at(id);
  }
  const std::string port = observation.id.substr(0, observation.id.find("/plugged/"));
  for (circuit::Index v = 0; v < structure.volume_component.size(); ++v) {
    if ("static/" + structure.volume_name(v) != port) continue;
    out.pressed = v;
    // Into an actuator: its other ports stand open.
    const circuit::Index component = structure.volume_component[v];
    const circuit::ComponentType& type = *structure.type[component];
    if (type.directions.empty()) return out;
    for (std::size_t p = 0; p < type.ports.size(); ++p) {
      const circuit::Index other =
          structure.first_volume[component] + static_cast<circuit::Index>(p);
      if (other != v) out.open.push_back(other);
    }
    return out;
  }
  return std::nullopt;
}

EffectOfSets::EffectOfSets(const Structure& structure, const Situation& situation,
                           std::vector<Leak> leaks)
    : leaks_(std::move(leaks)), viscosity_(situation.viscosity), flow_(FlowCircuit{}) {
  Built built = build(structure, situation);
  if (situation.direction != nullptr &&
      by_displacement(structure, situation.actuator, situation.direction->contracting)) {
    speed_unit_ = 1 / kTurn;
  } else {
    speed_unit_ = kMmPerCm;
  }
  elements_ = std::move(built.elements);
  pressed_ = built.pressed;
  for (circuit::Index mode = 0; mode < elements_.size(); ++mode) {
    for (const std::size_t i : elements_[mode]) built.circuit.elements[i].law = leaks_[mode].law;
  }
  flow_ = SteadyFlow(std::move(built.circuit));
  for (circuit::Index mode = 0; mode < elements_.size(); ++mode) set_size(mode, leaks_[mode].sound);
}

void EffectOfSets::set_size(circuit::Index mode, double size) {
  const double conductance = leaks_[mode].law == FlowLaw::laminar
                                 ? laminar_conductance(size, viscosity_)
                                 : orifice_conductance(size);
  for (const std::size_t i : elements_[mode]) flow_.circuit.elements[i].conductance = conductance;
}

std::optional<double> EffectOfSets::shown() {
  state_ = &flow_.solve();
  if (state_->status != Status::solved) return std::nullopt;
  if (pressed_ == kNowhere) return state_->speed[0] * speed_unit_;
  return state_->supply[pressed_];
}

std::optional<double> EffectOfSets::shown(const std::vector<circuit::Index>& set, double size) {
  for (const circuit::Index mode : set) set_size(mode, size);
  const std::optional<double> out = shown();
  for (const circuit::Index mode : set) set_size(mode, leaks_[mode].sound);
  return out;
}

bool EffectOfSets::turns() const { return speed_unit_ != kMmPerCm; }

double EffectOfSets::area() const { return flow_.circuit.actuators.front().area_contracting; }

std::optional<double> EffectOfSets::lowest_relief() const {
  std::optional<double> lowest;
  const Index holding = flow_.circuit.actuators.front().contracting;
  for (const FlowElement& one : flow_.circuit.elements) {
    if (one.law != FlowLaw::one_way || one.from != holding || !(one.setting > 0)) continue;
    if (!lowest || one.setting < *lowest) lowest = one.setting;
  }
  return lowest;
}

std::optional<double> EffectOfSets::effect(const std::vector<circuit::Index>& set, double size) {
  return effect(set, size, shown(set, 0));
}

std::optional<double> EffectOfSets::effect(const std::vector<circuit::Index>& set, double size,
                                           std::optional<double> without) {
  const std::optional<double> with = shown(set, size);
  if (!with || !without) return std::nullopt;
  return std::max(0.0, *with - *without);
}

bool EffectOfSets::shows(const std::vector<circuit::Index>& set, double least) {
  return effect(set, kLarge).value_or(0) > least;
}

void EffectOfSets::set_load(double load) {
  for (Actuator& one : flow_.circuit.actuators) one.force = load * one.area_contracting;
}

std::vector<double> EffectOfSets::crossings(const std::vector<circuit::Index>& set, double size,
                                            double low, double high) {
  const double force = flow_.circuit.actuators.empty() ? 0 : flow_.circuit.actuators.front().force;
  const auto open_at = [&](double load) {
    set_load(load);
    const std::optional<double> solved = shown(set, size);
    return solved ? state_->open : std::vector<bool>{};
  };
  std::vector<double> found;
  double before = low;
  std::vector<bool> was = open_at(low);
  for (int i = 1; i <= kScan; ++i) {
    const double next = low * std::pow(high / low, static_cast<double>(i) / kScan);
    const std::vector<bool> now = open_at(next);
    if (now != was) {
      double below = before, above = next;
      for (int b = 0; b < kBisections; ++b) {
        const double middle = (below + above) / 2;
        (open_at(middle) == was ? below : above) = middle;
      }
      found.push_back((below + above) / 2);
    }
    before = next;
    was = now;
  }
  for (Actuator& one : flow_.circuit.actuators) one.force = force;
  return found;
}

std::vector<LoadLevel> load_levels(double median, double spread, double most,
                                   std::vector<double> crossings, int classes) {
  const boost::math::normal standard;
  const double all = boost::math::cdf(standard, std::log(most / median) / spread);
  std::vector<double> bounds{0, 1};  // of the cut load's distribution
  for (const double load : crossings) {
    const double share = boost::math::cdf(standard, std::log(load / median) / spread) / all;
    if (share > 0 && share < 1) bounds.push_back(share);
  }
  const int equal = std::max(1, classes + 2 - static_cast<int>(bounds.size()));
  for (int i = 1; i < equal; ++i) bounds.push_back(static_cast<double>(i) / equal);
  std::sort(bounds.begin(), bounds.end());
  std::vector<LoadLevel> levels;
  for (std::size_t i = 0; i + 1 < bounds.size(); ++i) {
    const double weight = bounds[i + 1] - bounds[i];
    if (weight <= 0) continue;
    const double middle = boost::math::quantile(standard, all * (bounds[i] + bounds[i + 1]) / 2);
    levels.push_back({median * std::exp(spread * middle), weight});
  }
  return levels;
}

}  // namespace faultodds::hydraulics
