// What pressing a port leads to: pistons that move, valves that trap pressure, parts that stand it
// ill. Pressures are found in hold_judgement.cpp.
#include <algorithm>

#include "core/circuit/names.h"
#include "core/circuit/type_check.h"
#include "core/hydraulics/hold_judgement.h"

namespace faultodds::hydraulics {

using circuit::Arc;
using circuit::ComponentType;
using circuit::Configuration;
using circuit::ElementKind;
using circuit::kNone;
using circuit::PlacedElement;

Index Judgement::named_volume(Index vertex) const {
  const std::vector<Index>& volumes = statics_.volumes_at_[vertex];
  for (const Index v : volumes) {
    if (!structure_.lines_at[v].empty()) return v;
  }
  for (const Index v : volumes) {
    if (structure_.fitting.contains(v)) return v;
  }
  return volumes.front();
}

std::vector<Reached> Judgement::volumes() {
  std::map<Index, Reached> reached;
  for (const Scenario& scenario : scenarios_) {
    for (const auto& [vertex, factor] : scenario.factors) {
      const auto [entry, is_new] = reached.try_emplace(vertex);
      if (is_new) entry->second = {name(vertex), factor, !scenario.tight()};
      entry->second.factor = std::max(entry->second.factor, factor);
    }
  }
  reached.at(source_).volume = structure_.volume_name(hold_.port);
  // One for each volume: what oil passes between both ways.
  std::vector<Reached> out = {reached.at(source_)};
  std::set<Index> told;
  const auto tell = [&](Index from) {
    std::vector<Index> found = {from};
    told.insert(from);
    for (std::size_t next = 0; next < found.size(); ++next) {
      each_arc(found[next], [&](const Arc& arc, Index there) {
        const bool both = arc.line != kNone ||
                          structure_.elements[arc.element].element->kind != ElementKind::check;
        if (both && passes(arc, {}) && reached.contains(there) && told.insert(there).second) {
          found.push_back(there);
        }
      });
    }
  };
  tell(source_);
  for (const auto& [vertex, one] : reached) {
    if (told.contains(vertex)) continue;
    out.push_back(one);
    tell(vertex);
  }
  return out;
}

void Judgement::add_stop(Index actuator, const Statics::Chamber& pressed,
                         const Statics::Chamber& opposite) {
  const ComponentType& type = *structure_.type[actuator];
  const auto volume_name = [&](Index volume) {
    return circuit::volumes_of(type)[volume - structure_.first_volume[actuator]];
  };
  Stop stop{actuator, "away_from_" + volume_name(pressed.volume)};
  for (const ComponentType::Direction& one : type.directions) {
    if (one.expanding == volume_name(pressed.volume) &&
        one.contracting == volume_name(opposite.volume)) {
      stop.direction = one.name;
    }
  }
  auto& stops = out_.consequences.stops;
  const bool there = std::any_of(stops.begin(), stops.end(), [&](const Stop& one) {
    return one.actuator == stop.actuator && one.direction == stop.direction;
  });
  if (!there) stops.push_back(std::move(stop));
}

void Judgement::find_stops() {
  std::set<Index> actuators;
  for (const auto& [vertex, factor] : tight()) {
    for (const Index actuator : statics_.actuators_at_[vertex]) actuators.insert(actuator);
  }
  for (const Index actuator : actuators) {
    if (is_pump_or_motor(*structure_.type[actuator])) continue;
    for (const Statics::Chamber& pressed : statics_.chambers_[actuator]) {
      const Index here = structure_.gallery[pressed.volume];
      if (!tight().contains(here)) continue;
      for (const Statics::Chamber& opposite : statics_.chambers_[actuator]) {
        if (opposite.side == pressed.side || opposite.volume == pressed.volume) continue;
        const Index there = structure_.gallery[opposite.volume];
        const std::vector<Index> onward = region(there, opened_);
        const bool moves = std::any_of(onward.begin(), onward.end(),
                                       [&](Index v) { return drained(v) || v == here; });
        // Another piston on the same closed volume, or a stronger push against the port tested.
        const bool shared = std::any_of(onward.begin(), onward.end(), [&](Index v) {
          const std::vector<Index>& at = statics_.actuators_at_[v];
          return std::any_of(at.begin(), at.end(), [&](Index c) { return c != actuator; });
        });
        const bool stronger =
            tight().contains(there) && pressed.area && opposite.area &&
            tight().at(here) * *pressed.area > tight().at(there) * *opposite.area * (1 + 1e-6);
        const bool weaker =
            there == here && pressed.area && opposite.area && *pressed.area <= *opposite.area;
        if ((moves || shared || stronger) && !weaker) add_stop(actuator, pressed, opposite);
      }
    }
  }
  for (const Index e : opened_) {
    const std::vector<Index> held =
        region(structure_.gallery[structure_.elements[e].from], opened_);
    for (const Index vertex : held) {
      for (const Index actuator : statics_.actuators_at_[vertex]) {
        for (const Statics::Chamber& load : statics_.chambers_[actuator]) {
          if (structure_.gallery[load.volume] != vertex) continue;
          for (const Statics::Chamber& opposite : statics_.chambers_[actuator]) {
            if (opposite.side != load.side) add_stop(actuator, opposite, load);
          }
        }
      }
    }
  }
}

void Judgement::find_trapped() {
  std::vector<Index> openings = {source_};
  for (const Index line : hold_.configuration.lines_off) {
    for (const circuit::LineEnd& end : structure_.lines[line].ends) {
      openings.push_back(structure_.gallery[end.volume]);
    }
  }
  const Index removed = hold_.configuration.removed;
  if (removed != kNone) {
    for (Index v = structure_.first_volume[removed]; v < structure_.first_volume[removed + 1];
         ++v) {
      openings.push_back(structure_.gallery[v]);
    }
  }
  const Configuration as_it_stands;
  std::set<Index> valves;
  for (const Index opening : openings) {
    for (const Index vertex : statics_.passages_.region(opening, as_it_stands)) {
      if (vertex == structure_.tank() || vertex == structure_.outside()) continue;
      if (statics_.gas_[vertex]) out_.consequences.gas = true;
      for (const Index c : statics_.components_at_[vertex]) {
        for (Index e = structure_.first_element[c]; e < structure_.first_element[c + 1]; ++e) {
          const PlacedElement& placed = structure_.elements[e];
          if (opens_by_pilot(placed) && holds_piston(structure_.gallery[placed.from])) {
            valves.insert(c);
          }
        }
      }
    }
  }
  out_.consequences.load_holding.assign(valves.begin(), valves.end());
}

bool Judgement::holds_piston(Index vertex) {
  const std::vector<Index> found = statics_.passages_.region(vertex, {});
  return std::any_of(found.begin(), found.end(),
                     [&](Index v) { return !statics_.actuators_at_[v].empty(); });
}

void Judgement::find_parts() {
  Consequences& found = out_.consequences;
  for (const Scenario& scenario : scenarios_) {
    for (const auto& [vertex, factor] : scenario.factors) {
      if (statics_.gas_[vertex]) found.gas = true;
      if (statics_.brake_[vertex] || statics_.steering_[vertex]) found.brake_or_steering = true;
      if (!scenario.tight()) continue;
      for (const Index c : statics_.components_at_[vertex]) {
        if (is_pump_or_motor(*structure_.type[c])) found.pump_or_motor = true;
      }
    }
  }
}

}  // namespace faultodds::hydraulics
