#include "core/circuit/derived.h"

#include <algorithm>
#include <boost/range/iterator_range.hpp>
#include <optional>

#include "core/circuit/cautions.h"
#include "core/circuit/leak_paths.h"
#include "core/circuit/names.h"
#include "core/circuit/type_check.h"

namespace faultodds::circuit {
namespace {

constexpr std::size_t kPositionsTried = 256;  // in search of advice
constexpr std::size_t kValvesShown = 12;      // in a message
constexpr double kShareOfRelief = 0.8;  // of the lowest relief setting: a relief weeps near it

void add_cautions(const std::vector<std::string>& texts, Observation* observation) {
  observation->cautions.insert(observation->cautions.end(), texts.begin(), texts.end());
}

std::string with_spaces(std::string text) {
  std::replace(text.begin(), text.end(), '_', ' ');
  return text;
}

class Derivation {
 public:
  Derivation(const HydraulicGraph& graph, const Times& times, const Limits& limits)
      : graph_(graph),
        structure_(graph.structure()),
        times_(times),
        most_observations_(limits.observations),
        most_sets_(limits.sets),
        budget_(limits.path_steps),
        passages_(graph, &budget_),
        search_(graph, limits, &budget_),
        rating_(structure_.vertex_count),
        moves_(structure_.vertex_count, false) {
    for (Index c = 0; c < structure_.type.size(); ++c) {
      for (const ComponentType::Direction& direction : structure_.type[c]->directions) {
        moves_[vertex(volume_of(structure_, c, direction.expanding))] = true;
      }
    }
    for (const auto& [volume, fitting] : structure_.fitting) {
      if (!fitting->rating) continue;
      std::optional<double>& lowest = rating_[structure_.gallery[volume]];
      lowest = std::min(lowest.value_or(*fitting->rating), *fitting->rating);
    }
  }

  std::vector<Observation> run() {
    for (Index c = 0; c < structure_.type.size(); ++c) add_drifts(c);
    for (Index c = 0; c < structure_.type.size(); ++c) {
      if (is_actuator(*structure_.type[c])) {
        add_actuator_holds(c);
      } else {
        add_valve_holds(c);
      }
    }
    for (Index f = 0; f < structure_.functions.size(); ++f) add_delivery(f);
    for (Index c = 0; c < structure_.type.size(); ++c) add_flow(c);
    return std::move(observations_);
  }

 private:
  Index vertex(Index volume) const { return structure_.gallery[volume]; }
  const Component& component(Index c) const { return structure_.description->components[c]; }

  Observation begin(ObservationKind kind, std::string id) const {
    Observation one;
    set_defaults(kind, &one);
    one.id = std::move(id);
    one.perform_minutes = times_.to_perform(kind);
    one.cautions = general_cautions();
    return one;
  }

  static std::string what_of(const Observation& one) {
    return "searching leak paths of " + quoted(one.id);
  }

  static std::vector<ModeSet> mode_sets(const std::vector<std::vector<Index>>& sets) {
    std::vector<ModeSet> out;
    for (const std::vector<Index>& set : sets) out.push_back({set, 1});
    return out;
  }

  // Drift: the source is the contracting volume with all lines on and every valve in neutral. The
  // expanding volume is a sink only when its area is at least the contracting one; else the oil has
  // nowhere to go but further.
  void add_drifts(Index c) {
    for (const ComponentType::Direction& direction : structure_.type[c]->directions) {
      const Configuration as_is;
      Observation one =
          begin(ObservationKind::drift, "drift/" + component(c).id + "/" + direction.name);
      const Index source = vertex(volume_of(structure_, c, direction.contracting));
      std::vector<Index> sinks = {structure_.tank(), structure_.outside()};
      if (expanding_takes_all(structure_, c, direction)) {
        sinks.push_back(vertex(volume_of(structure_, c, direction.expanding)));
      }
      const LeakSets leaks = search_.search(source, sinks, as_is, what_of(one));
      if (leaks.open || leaks.sets.empty()) continue;
      one.sets = mode_sets(leaks.sets);
      one.title = structure_.component_title(c) + " creeps (" + with_spaces(direction.name) +
                  ") with the lever released";
      one.contracting_area = area_of(structure_, c, direction.contracting);
      one.volume = component(c).volume;
      add_cautions(drift_cautions(), &one);
      keep(std::move(one));
    }
  }

  // What may be put on a port: 80 % of the lowest relief setting it sees (reliefs whose `from` side
  // is freely joined to it), never above the rating of a fitting on the way. Nothing is proposed
  // for a port that drains freely to tank in service: what is joined to it may be built for low
  // pressure.
  std::optional<double> relief_pressure(const std::vector<Index>& region,
                                        const Configuration& configuration) const {
    std::optional<double> lowest;
    for (const Index at : region) {
      if (at == structure_.tank() || at == structure_.outside()) continue;
      for (const auto edge : boost::make_iterator_range(boost::out_edges(at, graph_.graph()))) {
        const Arc& arc = graph_.graph()[edge];
        if (arc.element == kNone || !arc.forward || !graph_.present(arc, configuration)) continue;
        const PlacedElement& placed = structure_.elements[arc.element];
        if (placed.element->kind != ElementKind::relief) continue;
        const std::optional<double>& setting = component(placed.component).setting;
        if (setting) lowest = std::min(lowest.value_or(*setting), *setting);
      }
    }
    if (lowest) *lowest *= kShareOfRelief;
    return lowest;
  }

  std::optional<double> lowest_rating(const std::vector<Index>& region) const {
    std::optional<double> lowest;
    for (const Index at : region) {
      if (rating_[at]) lowest = std::min(lowest.value_or(*rating_[at]), *rating_[at]);
    }
    return lowest;
  }

  bool drains_in_service(Index from) {
    if (!passages_.reaches(from, structure_.tank(), {})) return false;
    return std::all_of(structure_.functions.begin(), structure_.functions.end(),
                       [&](const PlacedFunction& function) {
                         Configuration commanded;
                         commanded.positions = function.positions;
                         return passages_.reaches(from, structure_.tank(), commanded);
                       });
  }

  // What protects a port in service, with its lines on: the reliefs it sees in neutral, or where it
  // drains to tank in neutral, those it sees while a function keeps it from tank.
  std::optional<double> relief_in_service(Index source) {
    const auto seen = [&](const Configuration& configuration, bool* drains) {
      const std::vector<Index> region = passages_.region(source, configuration);
      *drains = std::find(region.begin(), region.end(), structure_.tank()) != region.end();
      return *drains ? std::nullopt : relief_pressure(region, configuration);
    };
    bool drains = false;
    std::optional<double> lowest = seen({}, &drains);
    if (!drains) return lowest;
    for (const PlacedFunction& function : structure_.functions) {
      Configuration commanded;
      commanded.positions = function.positions;
      const std::optional<double> pressure = seen(commanded, &drains);
      if (pressure) lowest = std::min(lowest.value_or(*pressure), *pressure);
    }
    return lowest;
  }

  // A port with its lines off may see no relief; then the ones count that it sees in service.
  void set_test_pressure(Index source, const Configuration& configuration, Observation* one) {
    if (drains_in_service(source)) {
      add_cautions(low_pressure_port_cautions(), one);
      return;
    }
    const std::vector<Index> region = passages_.region(source, configuration);
    std::optional<double> pressure = relief_pressure(region, configuration);
    if (!pressure) pressure = relief_in_service(source);
    if (!pressure) {
      add_cautions(no_test_pressure_cautions(), one);
      return;
    }
    const std::optional<double> rating = lowest_rating(region);
    one->test_pressure = rating ? std::min(*pressure, *rating) : *pressure;
  }

  // Whether oil put in at a port gets to an actuator and can move it.
  bool reaches_actuator(Index source, const Configuration& configuration) {
    const std::vector<Index> region = passages_.region(source, configuration);
    return std::any_of(region.begin(), region.end(), [&](Index at) { return moves_[at]; });
  }

  Bring bring(const char* what, Index volume) const {
    Bring one;
    one.what = what;
    one.port = structure_.volume_name(volume);
    const auto fitting = structure_.fitting.find(volume);
    if (fitting != structure_.fitting.end()) {
      one.standard = fitting->second->standard;
      one.size = fitting->second->size;
    }
    return one;
  }

  std::string line_setup(Index line) const { return "line/" + structure_.lines[line].id; }

  // Locked-out hold into a port from which its line was taken off there, and the same again with
  // each cartridge taken out that could explain a loss.
  void add_valve_holds(Index c) {
    const ComponentType& type = *structure_.type[c];
    for (std::size_t p = 0; p < type.ports.size(); ++p) {
      const Index volume = structure_.first_volume[c] + static_cast<Index>(p);
      const std::vector<Index>& lines = structure_.lines_at[volume];
      if (lines.empty()) continue;
      Configuration tested;
      tested.lines_off = lines;
      const std::vector<Index> sinks = {structure_.tank(), structure_.outside()};
      Observation one =
          begin(ObservationKind::static_hold, "static/" + structure_.volume_name(volume));
      const LeakSets leaks = search_.search(vertex(volume), sinks, tested, what_of(one));
      if (leaks.open || leaks.sets.empty()) continue;
      one.sets = mode_sets(leaks.sets);
      one.title = "Pressure hold into port " + type.ports[p] + " of " +
                  structure_.component_title(c) + ", line " + structure_.lines[lines[0]].id +
                  " taken off there";
      one.volume = component(c).volume;
      one.setup = {"lockout"};
      for (const Index line : lines) one.setup.push_back(line_setup(line));
      one.bring.push_back(bring("adapter", volume));
      for (std::size_t i = 0; i < lines.size(); ++i) one.bring.push_back(bring("plug", volume));
      add_cautions(static_hold_cautions(), &one);
      if (reaches_actuator(vertex(volume), tested)) {
        add_cautions(actuator_reached_cautions(), &one);
      }
      set_test_pressure(vertex(volume), tested, &one);

      std::vector<Index> cartridges;
      for (const std::vector<Index>& set : leaks.sets) {
        for (const Index mode : set) {
          const auto owner = static_cast<Index>(structure_.modes[mode].component_index);
          if (structure_.type[owner]->cartridge) cartridges.push_back(owner);
        }
      }
      std::sort(cartridges.begin(), cartridges.end());
      cartridges.erase(std::unique(cartridges.begin(), cartridges.end()), cartridges.end());
      keep(one);
      for (const Index cartridge : cartridges) add_plugged(one, vertex(volume), tested, cartridge);
    }
  }

  // The test pressure stays that of the port with everything in place: taking a relief out does not
  // make the port stronger.
  void add_plugged(const Observation& whole, Index source, Configuration tested, Index cartridge) {
    tested.removed = cartridge;
    Observation one = whole;
    one.id = whole.id + "/plugged/" + component(cartridge).id;
    const LeakSets leaks =
        search_.search(source, {structure_.tank(), structure_.outside()}, tested, what_of(one));
    if (leaks.open || leaks.sets.empty()) return;
    one.sets = mode_sets(leaks.sets);
    one.title += ", " + structure_.component_title(cartridge) + " taken out and its cavity plugged";
    one.setup.push_back("cartridge/" + component(cartridge).id);
    Bring plug;
    plug.what = "cavity plug";
    plug.port = component(cartridge).id;
    const auto cavity = structure_.cavity.find(cartridge);
    if (cavity != structure_.cavity.end()) {
      plug.standard = cavity->second->standard;
      plug.size = cavity->second->size;
    }
    one.bring.push_back(std::move(plug));
    add_cautions(plugged_cavity_cautions(), &one);
    keep(std::move(one));
  }

  // Locked-out hold into an actuator's port with all its lines off: oil that comes out of another
  // of its ports has passed the piston.
  void add_actuator_holds(Index c) {
    const ComponentType& type = *structure_.type[c];
    const Index first = structure_.first_volume[c];
    Configuration tested;
    std::vector<Bring> plugs;
    for (std::size_t p = 0; p < type.ports.size(); ++p) {
      const Index volume = first + static_cast<Index>(p);
      for (const Index line : structure_.lines_at[volume]) {
        plugs.push_back(bring("plug", volume));
        tested.lines_off.push_back(line);
      }
    }
    // A line may join two ports of one actuator.
    std::sort(tested.lines_off.begin(), tested.lines_off.end());
    tested.lines_off.erase(std::unique(tested.lines_off.begin(), tested.lines_off.end()),
                           tested.lines_off.end());
    for (std::size_t p = 0; p < type.ports.size(); ++p) {
      const Index volume = first + static_cast<Index>(p);
      std::vector<Index> sinks = {structure_.tank(), structure_.outside()};
      for (std::size_t other = 0; other < type.ports.size(); ++other) {
        if (other != p) sinks.push_back(vertex(first + static_cast<Index>(other)));
      }
      Observation one =
          begin(ObservationKind::static_hold, "static/" + structure_.volume_name(volume));
      const LeakSets leaks = search_.search(vertex(volume), sinks, tested, what_of(one));
      if (leaks.open || leaks.sets.empty()) continue;
      one.sets = mode_sets(leaks.sets);
      one.title = "Pressure hold into port " + type.ports[p] + " of " +
                  structure_.component_title(c) + ", its lines taken off";
      one.volume = component(c).volume;
      one.setup = {"lockout"};
      for (const Index line : tested.lines_off) one.setup.push_back(line_setup(line));
      one.bring.push_back(bring("adapter", volume));
      one.bring.insert(one.bring.end(), plugs.begin(), plugs.end());
      add_cautions(static_hold_cautions(), &one);
      add_cautions(actuator_hold_cautions(), &one);
      set_test_pressure(vertex(volume), tested, &one);
      keep(std::move(one));
    }
  }

  std::string positions_text(const PlacedFunction& function) const {
    std::string text;
    std::vector<std::pair<Index, std::string>> sorted(function.positions.begin(),
                                                      function.positions.end());
    std::sort(sorted.begin(), sorted.end());
    for (std::size_t i = 0; i < std::min(sorted.size(), kValvesShown); ++i) {
      text += quoted(component(sorted[i].first).id) + " in " + quoted(sorted[i].second) + ", ";
    }
    if (sorted.size() > kValvesShown) {
      text += std::to_string(sorted.size() - kValvesShown) + " more in theirs, ";
    }
    return text + (text.empty() ? "every valve in `neutral`" : "every other valve in `neutral`");
  }

  // Which single change of position would let the function work, for the message that refuses it.
  std::string position_advice(const PlacedFunction& function, Configuration commanded) {
    std::size_t tried = 0;
    for (Index valve = 0; valve < structure_.type.size(); ++valve) {
      for (const std::string& position : positions_of(*structure_.type[valve])) {
        const auto given = function.positions.find(valve);
        const std::string now = given == function.positions.end() ? "neutral" : given->second;
        if (position == now) continue;
        if (++tried > kPositionsTried) return "";
        commanded.positions[valve] = position;
        const bool works =
            passages_.reaches(vertex(function.source), vertex(function.expanding), commanded);
        if (given == function.positions.end()) {
          commanded.positions.erase(valve);
        } else {
          commanded.positions[valve] = given->second;
        }
        if (works) {
          return "; it would be with " + quoted(component(valve).id) + " in " + quoted(position);
        }
      }
    }
    return "";
  }

  // Delivery: valves in the function's positions. A mode shows when it chokes an element in series
  // (on every free path from the source to the driven volume, or from the contracting volume to
  // tank), when it weakens the source or chokes something inside it, or when it is part of a leak
  // from what is pressurised. The contracting volume is not pressurised: a way into it is a way to
  // tank.
  void add_delivery(Index f) {
    const PlacedFunction& function = structure_.functions[f];
    const Function& described = structure_.description->functions[f];
    Configuration commanded;
    commanded.positions = function.positions;
    const Index source = vertex(function.source);
    const Index driven = vertex(function.expanding);
    const Index contracting = vertex(function.contracting);
    if (!passages_.reaches(source, driven, commanded)) {
      refuse("function " + quoted(described.id) + ": the driven volume " +
                 quoted(structure_.volume_name(function.expanding)) +
                 " cannot be reached from the source " +
                 quoted(structure_.volume_name(function.source)) +
                 " through elements that pass, with " + positions_text(function) +
                 position_advice(function, commanded),
             at(at("/functions", std::size_t{f}), "positions"));
    }
    Observation one = begin(ObservationKind::delivery, "delivery/" + described.id);
    const LeakSets leaks = search_.search(
        source, {structure_.tank(), structure_.outside(), contracting}, commanded, what_of(one));
    if (leaks.open) return;
    std::vector<std::vector<Index>> sets = leaks.sets;
    const auto add_modes = [&sets](const std::vector<Index>& modes) {
      for (const Index mode : modes) sets.push_back({mode});
    };
    std::vector<Index> series = passages_.series_elements(source, driven, commanded);
    const std::vector<Index> back =
        passages_.series_elements(contracting, structure_.tank(), commanded);
    series.insert(series.end(), back.begin(), back.end());
    for (const Index element : series) add_modes(structure_.elements[element].restricting);

    const Index supplier = structure_.volume_component[function.source];
    const ComponentType& type = *structure_.type[supplier];
    const std::string& port = type.ports[function.source - structure_.first_volume[supplier]];
    for (std::size_t m = 0; m < type.failure_modes.size(); ++m) {
      const FailureModeType& mode = type.failure_modes[m];
      if (!mode.restricts.empty() || find_name(mode.weakens, port) < mode.weakens.size()) {
        sets.push_back({structure_.first_mode[supplier] + static_cast<Index>(m)});
      }
    }
    sets = minimal(std::move(sets));
    if (sets.empty()) return;
    one.sets = mode_sets(sets);
    one.title = (described.title.empty() ? described.id : described.title) + " is slow or weak";
    add_cautions(power_on_cautions(), &one);
    keep(std::move(one));
  }

  // Flow test: every mode of the component that leaks or weakens shows, each by itself.
  void add_flow(Index c) {
    const ComponentType& type = *structure_.type[c];
    if (!type.flow_test) return;
    Observation one = begin(ObservationKind::flow, "flow/" + component(c).id);
    std::string metered;
    for (std::size_t m = 0; m < type.failure_modes.size(); ++m) {
      const FailureModeType& mode = type.failure_modes[m];
      if (mode.weakens.empty() && mode.leaks.empty()) continue;
      one.sets.push_back({{structure_.first_mode[c] + static_cast<Index>(m)}, 1});
      if (metered.empty() && !mode.weakens.empty()) metered = mode.weakens.front();
    }
    if (one.sets.empty()) return;
    one.title =
        "Flow of " + structure_.component_title(c) + " measured with a flow meter in a closed line";
    one.rated_flow = component(c).rated_flow;
    one.setup = {"lockout", "meter/" + component(c).id};
    if (metered.empty() && find_name(type.ports, "out") < type.ports.size()) metered = "out";
    if (metered.empty()) {
      one.bring.push_back({"flow meter", component(c).id, "", ""});
    } else {
      one.bring.push_back(bring("flow meter", volume_of(structure_, c, metered)));
    }
    add_cautions(power_on_cautions(), &one);
    add_cautions(flow_meter_cautions(), &one);
    keep(std::move(one));
  }

  const HydraulicGraph& graph_;
  const Structure& structure_;
  const Times& times_;
  void keep(Observation one) {
    if (observations_.size() >= most_observations_) {
      throw Error(Code::limit_exceeded,
                  "more than " + std::to_string(most_observations_) + " observations");
    }
    sets_ += one.sets.size();
    if (sets_ > most_sets_) {
      throw Error(Code::limit_exceeded, "more than " + std::to_string(most_sets_) +
                                            " minimal sets over all observations");
    }
    observations_.push_back(std::move(one));
  }

  const std::size_t most_observations_, most_sets_;
  std::size_t sets_ = 0;
  StepBudget budget_;
  Passages passages_;
  LeakSearch search_;
  std::vector<std::optional<double>> rating_;  // lowest rating of a fitting, by vertex
  std::vector<bool> moves_;                    // an actuator moves when oil gets in, by vertex
  std::vector<Observation> observations_;
};

}  // namespace

std::vector<Observation> derive_observations(const HydraulicGraph& graph, const Times& times,
                                             const Limits& limits) {
  return Derivation(graph, times, limits).run();
}

std::vector<SetupStep> setup_steps(const Structure& structure, const Times& times) {
  std::vector<SetupStep> steps;
  steps.push_back(
      {"lockout",
       "Lock out and tag out, lower or block the load, release stored energy and verify "
       "zero pressure",
       times.of("lockout")});
  for (const Line& line : structure.lines) {
    steps.push_back({"line/" + line.id,
                     "Take off line " + line.id + " (" +
                         structure.volume_name(line.ends[0].volume) + " to " +
                         structure.volume_name(line.ends[1].volume) + ")",
                     times.of("open_line")});
  }
  for (Index c = 0; c < structure.type.size(); ++c) {
    if (!structure.type[c]->cartridge) continue;
    steps.push_back({"cartridge/" + structure.description->components[c].id,
                     "Take out " + structure.component_title(c) + " and plug its cavity",
                     times.of("remove_cartridge")});
  }
  for (Index c = 0; c < structure.type.size(); ++c) {
    if (!structure.type[c]->flow_test) continue;
    steps.push_back({"meter/" + structure.description->components[c].id,
                     "Fit a flow meter in a closed line at " + structure.component_title(c) +
                         " while locked out",
                     times.of("install_meter")});
  }
  return steps;
}

}  // namespace faultodds::circuit
