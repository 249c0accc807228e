#include "core/hydraulics/statics.h"

#include <algorithm>
#include <boost/range/iterator_range.hpp>
#include <cmath>
#include <deque>
#include <map>
#include <set>
#include <unordered_map>

#include "core/circuit/names.h"
#include "core/circuit/type_check.h"

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

// A relief weeps near its setting (common practice, no source: 80 to 85 %).
constexpr double kShareOfRelief = 0.8;
constexpr double kMostFactor = 100;             // beyond it pressure is said to grow without end
constexpr std::size_t kMostSubsetElements = 5;  // of one failure mode, for all its combinations

bool is_pump_or_motor(const ComponentType& type) {
  return type.flow_test || std::any_of(type.areas.begin(), type.areas.end(), [](const auto& area) {
           return area.second == AreaRule::displacement;
         });
}

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

// The element by which a load-holding valve opens; a type may call its position `piloted` without
// saying where the pilot is.
bool opens_by_pilot(const PlacedElement& placed) {
  const auto& open_in = placed.element->open_in;
  return placed.element->kind == ElementKind::seal &&
         (placed.pilot != kNone ||
          std::find(open_in.begin(), open_in.end(), "piloted") != open_in.end());
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
    if (owner != kNone) source[owner] = true;
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

// One hold, judged. Lives as long as the call.
class Judgement {
 public:
  Judgement(Statics& statics, const Hold& hold)
      : statics_(statics),
        structure_(statics.structure_),
        graph_(statics.graph_.graph()),
        hold_(hold),
        source_(structure_.gallery[hold.port]) {
    for (const Index volume : hold.open_ports) open_.insert(structure_.gallery[volume]);
  }

  HoldStatics judge() {
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

 private:
  using Factors = std::map<Index, double>;  // vertex -> pressure per pressure at the port
  using Elements = std::set<Index>;
  struct Scenario {
    std::string suspect;
    Elements leaks;
    Factors factors;
    bool tight() const { return suspect.empty(); }
  };

  void refuse(Reason reason, std::string volume, std::string part = "") {
    out_.refusal = {reason, std::move(volume), std::move(part)};
  }

  bool drained(Index vertex) const {
    return vertex == structure_.tank() || vertex == structure_.outside() || open_.contains(vertex);
  }

  template <typename Visit>
  void each_arc(Index from, Visit visit) {
    static const std::string what = "following the pressure of a hold";
    for (const auto edge : boost::make_iterator_range(boost::out_edges(from, graph_))) {
      statics_.budget_->spend(1, what);
      const Arc& arc = graph_[edge];
      if (!statics_.graph_.present(arc, hold_.configuration)) continue;
      visit(arc, static_cast<Index>(boost::target(edge, graph_)));
    }
  }

  bool passes(const Arc& arc, const Elements& leaks) const {
    return statics_.graph_.passes(arc, hold_.configuration) ||
           (arc.element != kNone && leaks.contains(arc.element));
  }

  // Vertices that oil reaches from `from`, over `leaks` too; drained ones are named, not left.
  std::vector<Index> region(Index from, const Elements& leaks) {
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

  bool reaches(Index from, Index to, const Elements& leaks) {
    const std::vector<Index> found = region(from, leaks);
    return std::find(found.begin(), found.end(), to) != found.end();
  }

  // No way to tank, to outside or to an open port.
  bool closed(Index vertex) {
    const auto known = closed_.find(vertex);
    if (known != closed_.end()) return known->second;
    const std::vector<Index> found = region(vertex, {});
    const bool is = std::none_of(found.begin(), found.end(), [&](Index v) { return drained(v); });
    return closed_[vertex] = is;
  }

  bool openable() {
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

  // Pressure of every vertex reached, by raising it until nothing rises.
  Factors factors(const Elements& leaks) {
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

  template <typename Raise>
  void press(Index actuator, const Elements& leaks, const Factors& factor, Raise raise) {
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

  // Joined with the port tested, both ways.
  bool two_way(Index vertex) {
    return vertex == source_ || (reaches(source_, vertex, {}) && reaches(vertex, source_, {}));
  }

  // The tight case first, then each suspect; again while a pilot is found in reach.
  void find_factors() {
    for (;;) {
      scenarios_.clear();
      no_areas_at_ = grows_at_ = kNone;
      add_scenarios({});
      if (!opened_.empty()) add_scenarios(opened_);
      if (!find_opened()) return;
    }
  }

  void add_scenarios(const Elements& always) {
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

  bool holds_pressure(Index volume) {
    const Index vertex = structure_.gallery[volume];
    return !drained(vertex) && closed(vertex);
  }

  // Every way in which one failure mode can leak.
  void add_suspects(const Elements& base, const Factors& tight, const std::set<Index>& modes) {
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

  // Failure modes that make an element leak on which the pressure stands.
  std::set<Index> suspects(const Factors& reached) {
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

  bool pilot_known(const PlacedElement& placed) const {
    if (placed.pilot == kNone) return false;
    const bool connected = statics_.volumes_at_[structure_.gallery[placed.pilot]].size() > 1 ||
                           !structure_.lines_at[placed.pilot].empty();
    return connected && structure_.description->components[placed.component].ratio;
  }

  // Load-holding valves that stand, or may stand, open: their pilot is in reach, or it or its ratio
  // is not known and a side of the valve is in reach.
  bool find_opened() {
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

  const Factors& tight() const { return scenarios_.front().factors; }

  // A port's name that people can find: one with a line, with a fitting, else the first.
  Index named_volume(Index vertex) const {
    const std::vector<Index>& volumes = statics_.volumes_at_[vertex];
    for (const Index v : volumes) {
      if (!structure_.lines_at[v].empty()) return v;
    }
    for (const Index v : volumes) {
      if (structure_.fitting.contains(v)) return v;
    }
    return volumes.front();
  }
  std::string name(Index vertex) const { return structure_.volume_name(named_volume(vertex)); }

  std::vector<Reached> volumes() {
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

  void add_stop(Index actuator, const Statics::Chamber& pressed, const Statics::Chamber& opposite) {
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

  // A piston moves where its opposite chamber drains, or is joined with the pressed one. A load
  // that a valve holds which may stand open has to be on its stop.
  void find_stops() {
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

  // Load-holding valves with a piston behind them, next to anything that is opened.
  void find_trapped() {
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

  bool holds_piston(Index vertex) {
    const std::vector<Index> found = statics_.passages_.region(vertex, {});
    return std::any_of(found.begin(), found.end(),
                       [&](Index v) { return !statics_.actuators_at_[v].empty(); });
  }

  void find_parts() {
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

  bool never() {
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

  std::string machine_volume(Index vertex) const {
    for (const Index v : statics_.volumes_at_[vertex]) {
      const Index c = structure_.volume_component[v];
      if (c != kNone && is_pump_or_motor(*structure_.type[c])) return structure_.volume_name(v);
    }
    return name(vertex);
  }

  std::string gas_volume(Index vertex) const {
    for (const Index v : statics_.volumes_at_[vertex]) {
      const Index c = structure_.volume_component[v];
      if (c != kNone && structure_.type[c]->stores_gas) return structure_.volume_name(v);
    }
    return name(vertex);
  }

  // A valve that may stand open lets the pressure go to tank: such a hold shows nothing.
  bool stands_open() {
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

  // Reliefs that the pressure of a vertex can open, with the machine as it stands for this hold.
  template <typename Visit>
  void each_relief(Index vertex, Visit visit) {
    each_arc(vertex, [&](const Arc& arc, Index there) {
      if (arc.element == kNone || !arc.forward) return;
      const PlacedElement& placed = structure_.elements[arc.element];
      if (placed.element->kind != ElementKind::relief || reaches(vertex, there, {})) return;
      visit(placed);
    });
  }

  bool has_limit(Index vertex) {
    if (!statics_.limits_[vertex].empty()) return true;
    bool found = false;
    each_relief(vertex, [&](const PlacedElement& placed) {
      if (structure_.description->components[placed.component].setting) found = true;
    });
    return found;
  }

  // Vertices whose volume has a limit: its own or one that oil passes on to or comes from.
  std::set<Index> known(const Factors& reached) {
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

  bool all_known() {
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

  bool settings_known(Index vertex) {
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

  // A line, a component or its type says what the volume of a return or case port stands; the
  // rating of a port's standard alone does not say it of the housing.
  bool says_what_it_stands() {
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

  void take(double ceiling, const PressureLimit& limit) {
    if (out_.ceiling && ceiling >= *out_.ceiling * (1 - 1e-12)) return;
    out_.ceiling = ceiling;
    out_.limit = limit;
  }

  void find_limit() {
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

  void propose() {
    out_.pressure = rounded_to_gauge(*out_.ceiling);
    if (out_.pressure > 0) {
      out_.verdict = Verdict::proposed;
      return;
    }
    out_.verdict = Verdict::withheld;
    refuse(Reason::below_gauge, out_.limit->volume, out_.limit->part);
  }

  void take_reliefs(const Scenario& scenario, Index vertex, double factor) {
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

  Statics& statics_;
  const circuit::Structure& structure_;
  const circuit::Graph& graph_;
  const Hold& hold_;
  const Index source_;
  std::set<Index> open_;
  std::unordered_map<Index, bool> closed_;
  std::vector<Scenario> scenarios_;
  Elements opened_;
  Index no_areas_at_ = kNone, grows_at_ = kNone;
  HoldStatics out_;
};

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
