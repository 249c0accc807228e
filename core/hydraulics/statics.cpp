#include "core/hydraulics/statics.h"

#include <algorithm>
#include <cmath>
#include <map>
#include <set>
#include <unordered_map>

#include "core/circuit/names.h"
#include "core/circuit/type_check.h"
#include "core/hydraulics/hold_judgement.h"

namespace faultodds::hydraulics {

using circuit::Arc;
using circuit::AreaRule;
using circuit::Component;
using circuit::ComponentType;
using circuit::Configuration;
using circuit::ElementKind;
using circuit::kNone;
using circuit::PlacedElement;
using circuit::Use;

namespace {

// A part that the document does not say the use of is taken by its name.
std::optional<Use> use_of(std::optional<Use> said, const std::string& id,
                          const std::string& title) {
  if (said) return said;
  for (std::string text : {id, title}) {
    std::transform(text.begin(), text.end(), text.begin(),
                   [](char c) { return c >= 'A' && c <= 'Z' ? static_cast<char>(c + 32) : c; });
    if (text.find("brake") != std::string::npos) return Use::brake;
    if (text.find("steer") != std::string::npos) return Use::steering;
  }
  return std::nullopt;
}

// +1 or -1 for each volume a type's directions name; empty when they contradict each other.
std::map<std::string, int> sides_of(const ComponentType& type) {
  std::map<std::string, int> side;
  for (std::size_t round = 0; round <= type.directions.size(); ++round) {
    for (const ComponentType::Direction& one : type.directions) {
      const bool known = side.contains(one.contracting) || side.contains(one.expanding);
      if (!known && round == 0 && side.empty()) side[one.expanding] = 1;
      if (side.contains(one.expanding)) side.try_emplace(one.contracting, -side[one.expanding]);
      if (side.contains(one.contracting)) side.try_emplace(one.expanding, -side[one.contracting]);
    }
  }
  for (const ComponentType::Direction& one : type.directions) {
    if (!side.contains(one.expanding) || side[one.expanding] != -side[one.contracting]) return {};
  }
  return side;
}

}  // namespace

bool is_pump_or_motor(const ComponentType& type) {
  return type.flow_test || std::any_of(type.areas.begin(), type.areas.end(), [](const auto& area) {
           return area.second == AreaRule::displacement;
         });
}

bool opens_by_pilot(const PlacedElement& placed) {
  const auto& open_in = placed.element->open_in;
  return placed.element->kind == ElementKind::seal &&
         (placed.pilot != kNone ||
          std::find(open_in.begin(), open_in.end(), "piloted") != open_in.end());
}

double rounded_to_gauge(double pressure, GaugeUnit unit) {
  const double step = unit == GaugeUnit::bar ? 5e5 : 100 * 6894.757293168361;
  return std::floor(pressure / step + 1e-9) * step;
}

Statics::Statics(const circuit::HydraulicGraph& graph, circuit::StepBudget* budget)
    : graph_(graph),
      structure_(graph.structure()),
      budget_(budget),
      passages_(graph, budget),
      limits_(structure_.vertex_count),
      components_at_(structure_.vertex_count),
      volumes_at_(structure_.vertex_count),
      chambers_(structure_.type.size()),
      actuators_at_(structure_.vertex_count),
      gas_(structure_.vertex_count, false),
      machine_(structure_.vertex_count, false),
      brake_(structure_.vertex_count, false),
      steering_(structure_.vertex_count, false),
      elements_of_mode_(structure_.modes.size()) {
  for (std::size_t v = 0; v < structure_.gallery.size(); ++v) {
    const Index vertex = structure_.gallery[v];
    const Index owner = structure_.volume_component[v];
    volumes_at_[vertex].push_back(static_cast<Index>(v));
    if (owner != kNone) components_at_[vertex].push_back(owner);
  }
  place_limits();
  place_chambers();
  place_parts();
}

void Statics::place_limits() {
  const auto add = [this](Index volume, LimitBy by, std::string part, double stands) {
    limits_[structure_.gallery[volume]].push_back({volume, by, std::move(part), stands});
  };
  for (Index c = 0; c < structure_.type.size(); ++c) {
    const Component& component = structure_.description->components[c];
    const ComponentType& type = *structure_.type[c];
    const std::vector<std::string> names = circuit::volumes_of(type);
    for (std::size_t i = 0; i < names.size(); ++i) {
      const Index volume = structure_.first_volume[c] + static_cast<Index>(i);
      const auto fitting = structure_.fitting.find(volume);
      if (fitting != structure_.fitting.end() && fitting->second->rating) {
        add(volume, LimitBy::fitting, structure_.volume_name(volume), *fitting->second->rating);
      }
      const auto cavity = structure_.cavity.find(c);
      if (cavity != structure_.cavity.end() && cavity->second->rating) {
        add(volume, LimitBy::cavity, component.id, *cavity->second->rating);
      }
      const auto own = component.rated.find(names[i]);
      const auto kind = type.rated.find(names[i]);
      if (own != component.rated.end()) {
        add(volume, LimitBy::component, component.id, own->second);
      } else if (component.rating) {
        add(volume, LimitBy::component, component.id, *component.rating);
      } else if (kind != type.rated.end()) {
        add(volume, LimitBy::type, component.id, kind->second);
      }
      if (component.setting && circuit::find_name(type.reduces, names[i]) < type.reduces.size()) {
        add(volume, LimitBy::reduced, component.id, *component.setting);
      }
    }
  }
  for (const circuit::Line& line : structure_.lines) {
    if (!line.rating) continue;
    for (const circuit::LineEnd& end : line.ends) {
      add(end.volume, LimitBy::line, line.id, *line.rating);
    }
  }
}

void Statics::place_chambers() {
  for (Index c = 0; c < structure_.type.size(); ++c) {
    const ComponentType& type = *structure_.type[c];
    if (type.directions.empty()) continue;
    const std::map<std::string, int> sides = sides_of(type);
    std::set<std::string> named;
    for (const ComponentType::Direction& one : type.directions) {
      named.insert({one.contracting, one.expanding});
    }
    const Component& component = structure_.description->components[c];
    std::vector<Chamber>& chambers = chambers_[c];
    std::set<AreaRule> rules;
    int number = 0;
    for (const std::string& name : named) {
      const auto rule = type.areas.find(name);
      const AreaRule is = rule != type.areas.end() ? rule->second
                          : name == "rod"          ? AreaRule::annulus
                                                   : AreaRule::bore;
      rules.insert(is);
      const Index volume = circuit::volume_of(structure_, c, name);
      Chamber chamber{c, volume, sides.empty() ? ++number : sides.at(name),
                      circuit::area_of(structure_, c, name)};
      if (sides.empty()) chamber.area.reset();
      if (is == AreaRule::displacement && !component.areas.contains(name)) chamber.area = 1;
      chambers.push_back(chamber);
      actuators_at_[structure_.gallery[volume]].push_back(c);
    }
    // Equal areas need no number.
    const bool none_known = std::none_of(chambers.begin(), chambers.end(),
                                         [](const Chamber& one) { return one.area.has_value(); });
    if (none_known && rules.size() == 1 && chambers.size() == 2 && !sides.empty()) {
      for (Chamber& chamber : chambers) chamber.area = 1;
    }
  }
}

void Statics::place_parts() {
  const auto mark_use = [this](Index vertex, std::optional<Use> use) {
    if (use == Use::brake) brake_[vertex] = true;
    if (use == Use::steering) steering_[vertex] = true;
  };
  std::vector<bool> source(structure_.type.size(), false);
  for (const circuit::PlacedFunction& function : structure_.functions) {
    const Index owner = structure_.volume_component[function.source];
    if (owner != kNone && function.source != function.contracting) source[owner] = true;
  }
  for (Index c = 0; c < structure_.type.size(); ++c) {
    const ComponentType& type = *structure_.type[c];
    const Component& component = structure_.description->components[c];
    const bool machine = is_pump_or_motor(type) || source[c];
    const std::optional<Use> use = use_of(component.use, component.id, component.title);
    for (Index v = structure_.first_volume[c]; v < structure_.first_volume[c + 1]; ++v) {
      const Index vertex = structure_.gallery[v];
      if (vertex == structure_.tank() || vertex == structure_.outside()) continue;
      if (machine && !type.hold) machine_[vertex] = true;
      if (type.stores_gas) gas_[vertex] = true;
      mark_use(vertex, use);
    }
    if (!machine) continue;
    for (Index e = structure_.first_element[c]; e < structure_.first_element[c + 1]; ++e) {
      if (structure_.elements[e].element->kind != ElementKind::relief) clearances_.push_back(e);
    }
  }
  for (const circuit::Line& line : structure_.lines) {
    const std::optional<Use> use = use_of(line.use, line.id, "");
    for (const circuit::LineEnd& end : line.ends) {
      if (end.component != kNone) mark_use(structure_.gallery[end.volume], use);
    }
  }
  for (std::size_t e = 0; e < structure_.elements.size(); ++e) {
    for (const Index mode : structure_.elements[e].leaking) {
      elements_of_mode_[mode].push_back(static_cast<Index>(e));
    }
  }
}

HoldStatics Statics::judge(const Hold& hold) { return Judgement(*this, hold).judge(); }

// Drains to tank in neutral and in every function.
bool Statics::drains_in_service(Index vertex) {
  if (!passages_.reaches(vertex, structure_.tank(), {})) return false;
  return std::all_of(structure_.functions.begin(), structure_.functions.end(),
                     [&](const circuit::PlacedFunction& function) {
                       Configuration commanded;
                       commanded.positions = function.positions;
                       return passages_.reaches(vertex, structure_.tank(), commanded);
                     });
}

// The lowest setting of a relief among vertices that the machine keeps from tank.
std::optional<PressureLimit> Statics::lowest_relief(Index from,
                                                    const Configuration& configuration) {
  std::optional<PressureLimit> lowest;
  const std::vector<Index> found = passages_.region(from, configuration);
  if (std::find(found.begin(), found.end(), structure_.tank()) != found.end()) return std::nullopt;
  for (const Index at : found) {
    if (at == structure_.outside()) continue;
    for (const auto edge : boost::make_iterator_range(boost::out_edges(at, graph_.graph()))) {
      const Arc& arc = graph_.graph()[edge];
      if (arc.element == kNone || !arc.forward) continue;
      const PlacedElement& placed = structure_.elements[arc.element];
      const Component& owner = structure_.description->components[placed.component];
      if (placed.element->kind != ElementKind::relief || !owner.setting) continue;
      if (lowest && lowest->stands <= *owner.setting) continue;
      lowest = {"", LimitBy::in_service, owner.id, *owner.setting, 1, ""};
    }
  }
  return lowest;
}

namespace {

double ceiling_in_service(const PressureLimit& limit) {
  return limit.stands * (limit.by == LimitBy::in_service ? kShareOfRelief : 1);
}

void take_lower(const std::optional<PressureLimit>& one, std::optional<PressureLimit>* lowest) {
  if (one && (!*lowest || ceiling_in_service(*one) < ceiling_in_service(**lowest))) *lowest = one;
}

}  // namespace

// What a function's source presses, and the highest pressure it works at.
const Statics::Pressed& Statics::pressed_by(std::size_t f) {
  if (pressed_.empty()) pressed_.resize(structure_.functions.size());
  if (pressed_[f]) return *pressed_[f];
  const circuit::PlacedFunction& function = structure_.functions[f];
  const circuit::Function& described = structure_.description->functions[f];
  Configuration commanded;
  commanded.positions = function.positions;
  const Index source = structure_.gallery[function.source];
  Pressed found{passages_.region(source, commanded), lowest_relief(source, commanded)};
  std::sort(found.vertices.begin(), found.vertices.end());
  if (described.working_pressure) {
    take_lower(
        PressureLimit{"", LimitBy::working, described.id, *described.working_pressure, 1, ""},
        &found.limit);
  }
  pressed_[f] = std::move(found);
  return *pressed_[f];
}

// What a port sees in service, with its lines on: the lowest relief in neutral, or where it drains
// to tank in neutral, while a function keeps it from tank; and where every function that presses it
// has a working pressure, said by the circuit or by a relief at its source, the highest of them.
std::optional<PressureLimit> Statics::in_service(Index volume) {
  const auto known = in_service_.find(volume);
  if (known != in_service_.end()) return known->second;
  const Index vertex = structure_.gallery[volume];
  std::optional<PressureLimit> lowest = lowest_relief(vertex, {}), needed;
  const bool drains = passages_.reaches(vertex, structure_.tank(), {});
  bool all_known = true;
  for (std::size_t f = 0; f < structure_.functions.size(); ++f) {
    if (drains) {
      Configuration commanded;
      commanded.positions = structure_.functions[f].positions;
      take_lower(lowest_relief(vertex, commanded), &lowest);
    }
    const Pressed& pressed = pressed_by(f);
    if (!std::binary_search(pressed.vertices.begin(), pressed.vertices.end(), vertex)) continue;
    all_known = all_known && pressed.limit;
    if (pressed.limit &&
        (!needed || ceiling_in_service(*pressed.limit) > ceiling_in_service(*needed))) {
      needed = pressed.limit;
    }
  }
  if (all_known) take_lower(needed, &lowest);
  if (lowest) lowest->volume = structure_.volume_name(volume);
  return in_service_[volume] = lowest;
}

void Statics::take_in_service(Index volume, HoldStatics* out) {
  const std::optional<PressureLimit> service = in_service(volume);
  if (!service) return;
  if (out->ceiling && ceiling_in_service(*service) >= *out->ceiling * (1 - 1e-12)) return;
  out->ceiling = ceiling_in_service(*service);
  out->limit = service;
}

std::optional<double> Statics::meter_pressure(Index volume) {
  const std::optional<PressureLimit> lowest = lowest_relief(structure_.gallery[volume], {});
  if (!lowest) return std::nullopt;
  return lowest->stands;
}

}  // namespace faultodds::hydraulics
