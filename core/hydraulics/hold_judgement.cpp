#include <algorithm>
#include <deque>

#include "core/circuit/names.h"
#include "core/circuit/type_check.h"
#include "core/hydraulics/hold_judgement.h"

namespace faultodds::hydraulics {

using circuit::Arc;
using circuit::ElementKind;
using circuit::kNone;
using circuit::PlacedElement;

namespace {

constexpr double kMostFactor = 100;             // beyond it pressure is said to grow without end
constexpr std::size_t kMostSubsetElements = 5;  // of one failure mode, for all its combinations

}  // namespace

Judgement::Judgement(Statics& statics, const Hold& hold)
    : statics_(statics),
      structure_(statics.structure_),
      graph_(statics.graph_.graph()),
      hold_(hold),
      source_(structure_.gallery[hold.port]) {
  for (const Index volume : hold.open_ports) open_.insert(structure_.gallery[volume]);
}

HoldStatics Judgement::judge() {
  if (!openable()) return std::move(out_);
  find_factors();
  out_.consequences.volumes = volumes();
  find_stops();
  find_trapped();
  find_parts();
  if (never()) return std::move(out_);
  out_.verdict = Verdict::no_figure;
  const bool known = all_known();
  find_limit();
  if (known) propose();
  return std::move(out_);
}

bool Judgement::passes(const Arc& arc, const Elements& leaks) const {
  return statics_.graph_.passes(arc, hold_.configuration) ||
         (arc.element != kNone && leaks.contains(arc.element));
}

std::vector<Index> Judgement::region(Index from, const Elements& leaks) {
  std::vector<Index> found = {from};
  std::set<Index> seen = {from};
  for (std::size_t next = 0; next < found.size(); ++next) {
    if (drained(found[next])) continue;
    each_arc(found[next], [&](const Arc& arc, Index there) {
      if (passes(arc, leaks) && seen.insert(there).second) found.push_back(there);
    });
  }
  return found;
}

bool Judgement::reaches(Index from, Index to, const Elements& leaks) {
  const std::vector<Index> found = region(from, leaks);
  return std::find(found.begin(), found.end(), to) != found.end();
}

bool Judgement::closed(Index vertex) {
  const auto known = closed_.find(vertex);
  if (known != closed_.end()) return known->second;
  const std::vector<Index> found = region(vertex, {});
  const bool is = std::none_of(found.begin(), found.end(), [&](Index v) { return drained(v); });
  return closed_[vertex] = is;
}

bool Judgement::openable() {
  std::vector<Index> needed = hold_.open_ports;
  needed.insert(needed.begin(), hold_.port);
  for (const Index volume : needed) {
    const auto fitting = structure_.fitting.find(volume);
    const bool plug = fitting != structure_.fitting.end() && fitting->second->plug;
    if (!structure_.lines_at[volume].empty() || plug) continue;
    refuse(Reason::no_line, structure_.volume_name(volume));
    return false;
  }
  return true;
}

Judgement::Factors Judgement::factors(const Elements& leaks) {
  Factors factor = {{source_, 1.0}};
  std::deque<Index> raised = {source_};
  const auto raise = [&](Index vertex, double value) {
    if (vertex == source_ || drained(vertex) || !closed(vertex)) return;
    if (value > kMostFactor) {
      grows_at_ = vertex;
      return;
    }
    double& now = factor[vertex];
    if (value <= now * (1 + 1e-12)) return;
    now = value;
    raised.push_back(vertex);
  };
  while (!raised.empty()) {
    const Index here = raised.front();
    raised.pop_front();
    const double pressure = factor.at(here);
    each_arc(here, [&](const Arc& arc, Index there) {
      if (passes(arc, leaks)) raise(there, pressure);
    });
    for (const Index actuator : statics_.actuators_at_[here]) {
      press(actuator, leaks, factor, raise);
    }
  }
  return factor;
}

void Judgement::find_factors() {
  for (;;) {
    scenarios_.clear();
    no_areas_at_ = grows_at_ = kNone;
    add_scenarios({});
    if (!opened_.empty()) add_scenarios(opened_);
    if (!find_opened()) return;
  }
}

void Judgement::add_scenarios(const Elements& always) {
  Elements base = always;
  const Factors tight = factors(base);
  // Clearances of what is reached leak by design.
  for (const Index e : statics_.clearances_) base.insert(e);
  scenarios_.push_back({"", always, tight});
  const Factors with_clearances = factors(base);
  if (with_clearances.size() != tight.size() || with_clearances != tight) {
    scenarios_.push_back({"clearance", base, with_clearances});
  }
  const std::set<Index> modes = suspects(with_clearances);
  add_suspects(always, tight, modes);
  if (base != always) add_suspects(base, tight, modes);
}

bool Judgement::holds_pressure(Index volume) {
  const Index vertex = structure_.gallery[volume];
  return !drained(vertex) && closed(vertex);
}

void Judgement::add_suspects(const Elements& base, const Factors& tight,
                             const std::set<Index>& modes) {
  for (const Index mode : modes) {
    std::vector<Index> elements;
    for (const Index e : statics_.elements_of_mode_[mode]) {
      const PlacedElement& placed = structure_.elements[e];
      const Index removed = hold_.configuration.removed;
      if (removed != kNone && placed.component == removed) continue;
      // What leaks into a volume that drains, or comes from one, raises nothing.
      if (!holds_pressure(placed.from) || !holds_pressure(placed.to)) continue;
      elements.push_back(e);
    }
    const std::size_t count = elements.size();
    const bool all = count <= kMostSubsetElements;
    const std::size_t subsets = all ? (std::size_t{1} << count) - 1 : count + 1;
    for (std::size_t s = 1; s <= subsets; ++s) {
      Elements leaks = base;
      for (std::size_t i = 0; i < count; ++i) {
        const bool in = all ? ((s >> i) & 1) != 0 : s == count + 1 || s == i + 1;
        if (in) leaks.insert(elements[i]);
      }
      Factors reached = factors(leaks);
      if (reached == tight) continue;
      scenarios_.push_back({structure_.modes[mode].id, std::move(leaks), std::move(reached)});
    }
  }
}

std::set<Index> Judgement::suspects(const Factors& reached) {
  std::set<Index> modes;
  for (const auto& [vertex, factor] : reached) {
    each_arc(vertex, [&](const Arc& arc, Index) {
      if (arc.element == kNone) return;
      const PlacedElement& placed = structure_.elements[arc.element];
      modes.insert(placed.leaking.begin(), placed.leaking.end());
    });
  }
  return modes;
}

bool Judgement::pilot_known(const PlacedElement& placed) const {
  if (placed.pilot == kNone) return false;
  const bool connected = statics_.volumes_at_[structure_.gallery[placed.pilot]].size() > 1 ||
                         !structure_.lines_at[placed.pilot].empty();
  return connected && structure_.description->components[placed.component].ratio;
}

bool Judgement::find_opened() {
  Elements now = opened_;
  for (const Scenario& scenario : scenarios_) {
    for (const auto& [vertex, factor] : scenario.factors) {
      for (const Index c : statics_.components_at_[vertex]) {
        for (Index e = structure_.first_element[c]; e < structure_.first_element[c + 1]; ++e) {
          const PlacedElement& placed = structure_.elements[e];
          if (!opens_by_pilot(placed) || c == hold_.configuration.removed) continue;
          if (pilot_known(placed) && structure_.gallery[placed.pilot] != vertex) continue;
          now.insert(e);
        }
      }
    }
  }
  const bool more = now.size() > opened_.size();
  opened_ = std::move(now);
  return more;
}

template <typename Raise>
void Judgement::press(Index actuator, const Elements& leaks, const Factors& factor, Raise raise) {
  const std::vector<Statics::Chamber>& chambers = statics_.chambers_[actuator];
  for (const Statics::Chamber& opposite : chambers) {
    const Index there = structure_.gallery[opposite.volume];
    if (there == source_ || drained(there) || !closed(there)) continue;
    // `area`: what is left of the opposite side where chambers that push are joined with it.
    double push = 0, highest = 0, joined_to = 0, area = opposite.area.value_or(0);
    bool known = opposite.area.has_value(), to_source = false;
    for (const Statics::Chamber& other : chambers) {
      const Index here = structure_.gallery[other.volume];
      const auto reached = factor.find(here);
      if (&other == &opposite || reached == factor.end()) continue;
      if (other.side == opposite.side) {
        if (here != there && two_way(here)) push -= other.area.value_or(0);
        continue;
      }
      known = known && other.area;
      highest = std::max(highest, reached->second);
      if (reaches(there, here, leaks)) {
        joined_to = std::max(joined_to, reached->second);
        to_source = to_source || here == source_;
        area -= other.area.value_or(0);
      } else {
        push += reached->second * other.area.value_or(0);
      }
    }
    if (highest == 0) continue;
    if (joined_to > 0) raise(there, joined_to);
    // Joined with all that pushes: regeneration, with nothing more to press.
    if (joined_to > 0 && (to_source || push <= 0)) continue;
    if (!known) {
      no_areas_at_ = opposite.volume;
      if (leaks.empty()) out_.consequences.both_sides_closed = true;
    } else if (push > 0 && area > 0) {
      if (leaks.empty()) out_.consequences.both_sides_closed = true;
      raise(there, push / area);
    }
  }
}

}  // namespace faultodds::hydraulics
