#include "core/hydraulics/effect.h"

#include <algorithm>
#include <boost/math/distributions/normal.hpp>
#include <boost/range/iterator_range.hpp>
#include <cmath>
#include <map>
#include <set>
#include <tuple>
#include <unordered_map>

#include "core/error.h"
#include "core/math_policy.h"
#include "core/stop.h"
#include "core/unit_factors.h"

namespace faultodds::hydraulics {
namespace {

constexpr double kReliefFlow = 40'000;  // mL/min, rated flow of a relief; working judgement
constexpr double kLarge = 1e6;          // mL/min: a thousand times a failed seat
constexpr double kSquareCm = 1e4;       // per m2
constexpr double kCubicCm = 1e6;        // per m3
constexpr double kMmPerCm = 10;
constexpr double kTurn = 2 * 3.14159265358979323846;  // rad
constexpr int kScan = 48;                             // loads tried in search of crossings
constexpr int kBisections = 24;

using circuit::ElementKind;
using circuit::PlacedElement;
using circuit::Structure;

struct Built {
  FlowCircuit circuit;
  std::map<circuit::Index, std::vector<std::size_t>> elements;  // of each mode
  std::map<circuit::Index, Index> volume_of;                    // by gallery
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

// The flow circuit of a situation. Of the whole circuit it looks only at what it keeps and at what
// joins that, since every observation has a flow circuit of its own.
class Builder {
 public:
  Builder(const circuit::HydraulicGraph& graph, const Situation& situation,
          const std::vector<Leak>& leaks)
      : structure_(graph.structure()), graph_(graph), situation_(situation), leaks_(leaks) {
    out_.circuit.volumes.push_back({0.0});
    vertices_.emplace_back();
  }

  Built build() {
    if (situation_.pressed != circuit::kNone) out_.pressed = volume(situation_.pressed);
    if (situation_.actuator != circuit::kNone) add_actuator();
    // What is numbered is within reach; its elements number more.
    for (Index v = 1; v < vertices_.size(); ++v) {
      for (std::size_t i = 0; i < vertices_[v].size(); ++i) look_around(vertices_[v][i]);
    }
    for (const circuit::Index i : reached_) add(i);
    if (out_.pressed != kNowhere) {
      out_.circuit.volumes[out_.pressed].held = situation_.pressure;
      for (const circuit::Index open : situation_.open) {
        const auto known = number_.find(structure_.gallery[open]);
        if (known != number_.end() && known->second != out_.pressed)
          out_.circuit.volumes[known->second].held = 0;
      }
    }
    out_.volume_of.insert(number_.begin(), number_.end());
    return std::move(out_);
  }

 private:
  auto arcs_of(circuit::Index vertex) const {
    return boost::make_iterator_range(boost::out_edges(vertex, graph_.graph()));
  }
  bool passes_both_ways(const circuit::Arc& arc) const {
    const auto& configuration = situation_.configuration;
    circuit::Arc back = arc;
    back.forward = !arc.forward;
    return graph_.present(arc, configuration) && graph_.passes(arc, configuration) &&
           graph_.passes(back, configuration);
  }

  // The number of a gallery and of all that whatever passes both ways joins to it. The reservoirs
  // are 0, and nothing is looked for behind them.
  Index volume(circuit::Index of) {
    const circuit::Index first = structure_.gallery[of];
    if (const auto known = number_.find(first); known != number_.end()) return known->second;
    const auto made = static_cast<Index>(out_.circuit.volumes.size());
    std::vector<circuit::Index> found{first};
    number_[first] = made;
    bool reservoir = false;
    for (std::size_t next = 0; next < found.size() && !reservoir; ++next) {
      const circuit::Index here = found[next];
      reservoir = here == structure_.tank() || here == structure_.outside();
      if (reservoir) break;
      for (const auto edge : arcs_of(here)) {
        if (!passes_both_ways(graph_.graph()[edge])) continue;
        const auto there = static_cast<circuit::Index>(boost::target(edge, graph_.graph()));
        const auto [known, added] = number_.try_emplace(there, made);
        if (added) found.push_back(there);
        reservoir = reservoir || known->second == 0;
      }
    }
    if (reservoir) {
      for (const circuit::Index vertex : found) number_[vertex] = 0;
      return 0;
    }
    out_.circuit.volumes.emplace_back();
    vertices_.push_back(std::move(found));
    return made;
  }

  bool opens_at_a_setting(const PlacedElement& placed) const {
    const auto& setting = structure_.description->components[placed.component].setting;
    return placed.element->kind == ElementKind::relief && setting && *setting > 0;
  }

  void look_around(circuit::Index vertex) {
    for (const auto edge : arcs_of(vertex)) {
      const circuit::Arc& arc = graph_.graph()[edge];
      if (arc.element == circuit::kNone || !graph_.present(arc, situation_.configuration)) continue;
      const PlacedElement& placed = structure_.elements[arc.element];
      if (placed.leaking.empty() && placed.element->kind != ElementKind::check &&
          !opens_at_a_setting(placed)) {
        continue;
      }
      if (!reached_.insert(arc.element).second) continue;
      const Index from = volume(placed.from);
      volume(placed.to);
      if (from != 0 && placed.pilot != circuit::kNone) volume(placed.pilot);
    }
  }

  void add(circuit::Index element) {
    const PlacedElement& placed = structure_.elements[element];
    const Index from = volume(placed.from), to = volume(placed.to);
    if (from == to) return;
    auto& elements = out_.circuit.elements;
    if (placed.element->kind == ElementKind::check) elements.push_back(check(from, to));
    if (opens_at_a_setting(placed)) {
      const circuit::Component& component = structure_.description->components[placed.component];
      const double bar = *component.setting / kPascalPerBar;
      const double conductance = relief_conductance(kReliefFlow, bar);
      elements.push_back(relief(from, to, bar, conductance));
      if (placed.pilot != circuit::kNone && component.ratio) {
        // What pilots it may be out of reach: then nothing presses it.
        const auto pilot = number_.find(structure_.gallery[placed.pilot]);
        if (pilot != number_.end())
          elements.back() =
              piloted_relief(from, to, bar, conductance, pilot->second, *component.ratio);
      }
    }
    for (const circuit::Index mode : placed.leaking) {
      const FlowLaw law = leaks_[mode].law;
      const auto [known, first] =
          leak_between_.try_emplace({std::min(from, to), std::max(from, to), law}, elements.size());
      if (first) {
        elements.push_back(passage(from, to, 0));
        elements.back().law = law;
      }
      if (leaks_there_.emplace(mode, known->second).second)
        out_.elements[mode].push_back(known->second);
    }
  }

  void add_actuator() {
    const circuit::ComponentType::Direction& direction = *situation_.direction;
    const auto side = [&](const std::string& name) {
      return volume(circuit::volume_of(structure_, situation_.actuator, name));
    };
    Actuator one;
    one.contracting = side(direction.contracting);
    one.expanding = side(direction.expanding);
    one.area_contracting = area(structure_, situation_.actuator, direction.contracting);
    one.area_expanding = area(structure_, situation_.actuator, direction.expanding);
    one.force = situation_.load * one.area_contracting;
    out_.circuit.actuators.push_back(one);
  }

  const Structure& structure_;
  const circuit::HydraulicGraph& graph_;
  const Situation& situation_;
  const std::vector<Leak>& leaks_;  // by mode
  Built out_;
  std::unordered_map<circuit::Index, Index> number_;   // of galleries
  std::vector<std::vector<circuit::Index>> vertices_;  // the galleries of each volume
  std::set<circuit::Index> reached_;                   // elements
  std::map<std::tuple<Index, Index, FlowLaw>, std::size_t> leak_between_;
  std::set<std::pair<circuit::Index, std::size_t>> leaks_there_;  // mode, element
};

// Of `static/component.port`; either id may have points in it.
circuit::Index pressed_volume(const Structure& structure, const std::string& hold) {
  const std::size_t start = std::string("static/").size();
  const std::string port = hold.substr(start, hold.find("/plugged/") - start);
  for (std::size_t point = port.find('.'); point != port.npos; point = port.find('.', point + 1)) {
    const auto component = structure.component_index.find(port.substr(0, point));
    if (component == structure.component_index.end()) continue;
    const auto& ports = structure.type[component->second]->ports;
    const auto name = std::find(ports.begin(), ports.end(), port.substr(point + 1));
    if (name != ports.end()) {
      return structure.first_volume[component->second] +
             static_cast<circuit::Index>(name - ports.begin());
    }
  }
  throw Error(Code::internal, "no port for the hold " + hold);
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
    const std::string of = observation.id.substr(std::string("drift/").size());
    const std::size_t slash = of.rfind('/');
    out.actuator = structure.component_index.at(of.substr(0, slash));
    for (const auto& direction : structure.type[out.actuator]->directions) {
      if (direction.name == of.substr(slash + 1)) out.direction = &direction;
    }
    return out;
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
  out.pressed = pressed_volume(structure, observation.id);
  // Into an actuator: its other ports stand open.
  const circuit::Index component = structure.volume_component[out.pressed];
  const circuit::ComponentType& type = *structure.type[component];
  if (type.directions.empty()) return out;
  for (std::size_t p = 0; p < type.ports.size(); ++p) {
    const circuit::Index other = structure.first_volume[component] + static_cast<circuit::Index>(p);
    if (other != out.pressed) out.open.push_back(other);
  }
  return out;
}

EffectOfSets::EffectOfSets(const Structure& structure, const Situation& situation,
                           const std::vector<Leak>& leaks)
    : EffectOfSets(circuit::HydraulicGraph(structure), situation, leaks) {}

EffectOfSets::EffectOfSets(const circuit::HydraulicGraph& graph, const Situation& situation,
                           const std::vector<Leak>& leaks)
    : viscosity_(situation.viscosity), flow_(FlowCircuit{}) {
  const bool turning =
      situation.direction != nullptr &&
      by_displacement(graph.structure(), situation.actuator, situation.direction->contracting);
  speed_unit_ = turning ? 1 / kTurn : kMmPerCm;
  Built built = Builder(graph, situation, leaks).build();
  pressed_ = built.pressed;
  volume_of_ = std::move(built.volume_of);
  modes_at_.resize(built.circuit.elements.size());
  sound_.resize(built.circuit.elements.size());
  for (auto& [mode, elements] : built.elements) {
    for (const std::size_t i : elements) {
      ++modes_at_[i];
      sound_[i] += conductance(leaks[mode].law, leaks[mode].sound);
      built.circuit.elements[i].conductance = sound_[i];
    }
    leaking_.emplace(mode, Leaking{leaks[mode].sound, std::move(elements)});
  }
  flow_ = SteadyFlow(std::move(built.circuit));
}

double EffectOfSets::conductance(FlowLaw law, double size) const {
  return law == FlowLaw::laminar ? laminar_conductance(size, viscosity_)
                                 : orifice_conductance(size);
}

// A set is asked about at many sizes, one after the other.
void EffectOfSets::choose(const std::vector<circuit::Index>& set) {
  if (set == set_) return;
  set_ = set;
  parts_.clear();
  for (const circuit::Index mode : set) {
    const auto leaking = leaking_.find(mode);
    if (leaking == leaking_.end()) continue;
    for (const std::size_t i : leaking->second.elements) {
      auto part = std::find_if(parts_.begin(), parts_.end(),
                               [&](const Part& known) { return known.element == i; });
      if (part == parts_.end()) part = parts_.insert(part, Part{i, sound_[i], 0});
      part->beside -= conductance(flow_.circuit.elements[i].law, leaking->second.sound);
      ++part->modes;
    }
  }
  for (Part& part : parts_) {  // what rounding leaves is no leak
    if (part.modes == modes_at_[part.element]) part.beside = 0;
    part.beside = std::max(0.0, part.beside);
  }
}

std::optional<double> EffectOfSets::pressure_at(circuit::Index vertex) const {
  const auto volume = volume_of_.find(vertex);
  if (state_ == nullptr || state_->status != Status::solved || volume == volume_of_.end()) {
    return std::nullopt;
  }
  return state_->pressure[volume->second];
}

std::optional<double> EffectOfSets::flow_past(circuit::Index mode) const {
  const auto leaking = leaking_.find(mode);
  if (state_ == nullptr || state_->status != Status::solved || leaking == leaking_.end()) {
    return std::nullopt;
  }
  double flow = 0;
  for (const std::size_t element : leaking->second.elements) flow += state_->flow[element];
  return flow;
}

std::optional<double> EffectOfSets::shown() {
  check_stop();
  state_ = &flow_.solve();
  if (state_->status != Status::solved) return std::nullopt;
  if (pressed_ == kNowhere) return state_->speed[0] * speed_unit_;
  return state_->supply[pressed_];
}

std::optional<double> EffectOfSets::shown(const std::vector<circuit::Index>& set, double size) {
  choose(set);
  auto& elements = flow_.circuit.elements;
  for (const Part& part : parts_) {
    FlowElement& one = elements[part.element];
    one.conductance = part.beside + part.modes * conductance(one.law, size);
  }
  const std::optional<double> out = shown();
  for (const Part& part : parts_) elements[part.element].conductance = sound_[part.element];
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
  const boost::math::normal_distribution<double, MathPolicy> standard;
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
