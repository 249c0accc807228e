// Whether a hold may be proposed and at what pressure: the limits of all that its pressure reaches.
// What it reaches is found in hold_judgement.cpp.
#include <algorithm>

#include "core/circuit/names.h"
#include "core/circuit/type_check.h"
#include "core/hydraulics/hold_judgement.h"

namespace faultodds::hydraulics {

using circuit::Arc;
using circuit::Component;
using circuit::ComponentType;
using circuit::ElementKind;
using circuit::kNone;
using circuit::PlacedElement;

bool Judgement::never() {
  const std::vector<std::string>& allowed = structure_.description->allow_hold;
  const bool is_allowed =
      std::find(allowed.begin(), allowed.end(), hold_.observation) != allowed.end();
  for (const Scenario& scenario : scenarios_) {
    if (!scenario.tight()) continue;
    for (const auto& [vertex, factor] : scenario.factors) {
      if (statics_.machine_[vertex]) {
        refuse(Reason::pump_or_motor, machine_volume(vertex));
      } else if (statics_.gas_[vertex]) {
        refuse(Reason::accumulator, gas_volume(vertex));
      } else if (statics_.brake_[vertex] && !is_allowed) {
        refuse(Reason::brake, name(vertex));
      } else if (statics_.steering_[vertex] && !is_allowed) {
        refuse(Reason::steering, name(vertex));
      } else {
        continue;
      }
      return true;
    }
  }
  if (grows_at_ != kNone) {
    refuse(Reason::grows, name(grows_at_));
    return true;
  }
  return stands_open();
}

std::string Judgement::machine_volume(Index vertex) const {
  for (const Index v : statics_.volumes_at_[vertex]) {
    const Index c = structure_.volume_component[v];
    if (c != kNone && is_pump_or_motor(*structure_.type[c])) return structure_.volume_name(v);
  }
  return name(vertex);
}

std::string Judgement::gas_volume(Index vertex) const {
  for (const Index v : statics_.volumes_at_[vertex]) {
    const Index c = structure_.volume_component[v];
    if (c != kNone && structure_.type[c]->stores_gas) return structure_.volume_name(v);
  }
  return name(vertex);
}

bool Judgement::stands_open() {
  const std::vector<Index> pressed = region(source_, {});
  for (const Index e : opened_) {
    const PlacedElement& placed = structure_.elements[e];
    const Index load = structure_.gallery[placed.from];
    if (std::find(pressed.begin(), pressed.end(), load) == pressed.end() ||
        closed(structure_.gallery[placed.to]))
      continue;
    refuse(Reason::may_stand_open, structure_.volume_name(placed.from),
           structure_.description->components[placed.component].id);
    return true;
  }
  return false;
}

bool Judgement::has_limit(Index vertex) {
  if (!statics_.limits_[vertex].empty()) return true;
  bool found = false;
  each_relief(vertex, [&](const PlacedElement& placed) {
    if (structure_.description->components[placed.component].setting) found = true;
  });
  return found;
}

std::set<Index> Judgement::known(const Factors& reached) {
  std::set<Index> out;
  std::vector<Index> stack;
  for (const auto& [vertex, factor] : reached) {
    const std::vector<Index> onward = region(vertex, {});
    if (std::any_of(onward.begin(), onward.end(),
                    [&](Index v) { return !drained(v) && has_limit(v); })) {
      out.insert(vertex);
      stack.push_back(vertex);
    }
  }
  while (!stack.empty()) {
    const Index from = stack.back();
    stack.pop_back();
    each_arc(from, [&](const Arc& arc, Index there) {
      if (passes(arc, {}) && reached.contains(there) && out.insert(there).second) {
        stack.push_back(there);
      }
    });
  }
  return out;
}

bool Judgement::all_known() {
  if (no_areas_at_ != kNone) {
    refuse(Reason::no_areas, structure_.volume_name(no_areas_at_));
    return false;
  }
  if (statics_.drains_in_service(source_) && !says_what_it_stands()) {
    refuse(Reason::low_pressure_port, structure_.volume_name(hold_.port));
    return false;
  }
  std::set<Index> settled;
  for (const Scenario& scenario : scenarios_) {
    const std::set<Index> with_limit = known(scenario.factors);
    for (const auto& [vertex, factor] : scenario.factors) {
      if (!with_limit.contains(vertex)) {
        refuse(Reason::not_rated,
               vertex == source_ ? structure_.volume_name(hold_.port) : name(vertex));
        return false;
      }
      if (settled.insert(vertex).second && !settings_known(vertex)) return false;
    }
  }
  return true;
}

bool Judgement::settings_known(Index vertex) {
  Index unknown = kNone;
  each_relief(vertex, [&](const PlacedElement& placed) {
    if (!structure_.description->components[placed.component].setting) unknown = placed.component;
  });
  for (const Index v : statics_.volumes_at_[vertex]) {
    const Index c = structure_.volume_component[v];
    if (c == kNone || structure_.description->components[c].setting) continue;
    const ComponentType& type = *structure_.type[c];
    for (const std::string& reduced : type.reduces) {
      if (circuit::volume_of(structure_, c, reduced) == v) unknown = c;
    }
  }
  if (unknown == kNone) return true;
  refuse(Reason::no_setting, name(vertex), structure_.description->components[unknown].id);
  return false;
}

bool Judgement::says_what_it_stands() {
  const std::vector<Index> found = region(source_, {});
  return std::any_of(found.begin(), found.end(), [&](Index vertex) {
    const auto& limits = statics_.limits_[vertex];
    return !drained(vertex) &&
           std::any_of(limits.begin(), limits.end(), [](const Statics::Mark& mark) {
             return mark.by == LimitBy::line || mark.by == LimitBy::component ||
                    mark.by == LimitBy::type || mark.by == LimitBy::reduced;
           });
  });
}

void Judgement::take(double ceiling, const PressureLimit& limit) {
  if (out_.ceiling && ceiling >= *out_.ceiling * (1 - 1e-12)) return;
  out_.ceiling = ceiling;
  out_.limit = limit;
}

void Judgement::find_limit() {
  for (const Scenario& scenario : scenarios_) {
    for (const auto& [vertex, factor] : scenario.factors) {
      for (const Statics::Mark& mark : statics_.limits_[vertex]) {
        take(mark.stands / factor, {structure_.volume_name(mark.volume), mark.by, mark.part,
                                    mark.stands, factor, scenario.suspect});
      }
      take_reliefs(scenario, vertex, factor);
    }
  }
  statics_.take_in_service(hold_.port, &out_);
}

void Judgement::propose() {
  out_.pressure = rounded_to_gauge(*out_.ceiling);
  if (out_.pressure > 0) {
    out_.verdict = Verdict::proposed;
    return;
  }
  out_.verdict = Verdict::withheld;
  refuse(Reason::below_gauge, out_.limit->volume, out_.limit->part);
}

void Judgement::take_reliefs(const Scenario& scenario, Index vertex, double factor) {
  each_relief(vertex, [&](const PlacedElement& placed) {
    const Component& owner = structure_.description->components[placed.component];
    if (!owner.setting) return;
    double lifting = factor;
    if (placed.pilot != kNone && owner.ratio) {
      const auto pilot = scenario.factors.find(structure_.gallery[placed.pilot]);
      if (pilot != scenario.factors.end()) lifting += *owner.ratio * pilot->second;
    }
    take(kShareOfRelief * *owner.setting / lifting,
         {structure_.volume_name(placed.from), LimitBy::relief, owner.id, *owner.setting, lifting,
          scenario.suspect});
  });
}

}  // namespace faultodds::hydraulics
