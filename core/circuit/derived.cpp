#include "core/circuit/derived.h"

#include <algorithm>
#include <map>
#include <optional>

#include "core/circuit/cautions.h"
#include "core/circuit/charge.h"
#include "core/circuit/leak_paths.h"
#include "core/circuit/names.h"
#include "core/circuit/reported.h"
#include "core/circuit/series.h"
#include "core/circuit/type_check.h"
#include "core/circuit/unopened.h"
#include "core/hydraulics/statics.h"

namespace faultodds::circuit {
namespace {

using hydraulics::Hold;
using hydraulics::HoldStatics;

constexpr std::size_t kPositionsTried = 256;  // in search of advice
constexpr std::size_t kValvesShown = 12;      // in a message
constexpr double kAccumulator = 1e-3;         // m3, of one that does not say; working judgement

void add_cautions(const std::vector<std::string>& ids, Observation* observation) {
  observation->cautions.insert(observation->cautions.end(), ids.begin(), ids.end());
}

class Derivation {
 public:
  Derivation(const HydraulicGraph& graph, const Times& times, const Limits& limits,
             std::vector<Absent>* absent)
      : graph_(graph),
        absent_(absent),
        structure_(graph.structure()),
        times_(times),
        most_observations_(limits.observations),
        most_sets_(limits.sets),
        budget_(limits.path_steps),
        statics_budget_(limits.path_steps),
        passages_(graph, &budget_),
        series_(structure_, &passages_),
        search_(graph, limits, &budget_),
        statics_(graph, &statics_budget_) {
    for (Index v = 0; v < structure_.volume_component.size(); ++v) {
      const Index c = structure_.volume_component[v];
      if (c == kNone || !structure_.type[c]->stores_gas) continue;
      if (v - structure_.first_volume[c] >= structure_.type[c]->ports.size()) continue;
      gas_.emplace(vertex(v), component(c).volume.value_or(kAccumulator));
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
    ways_.resize(structure_.functions.size());
    for (Index f = 0; f < structure_.functions.size(); ++f) add_delivery(f);
    for (Index c = 0; c < structure_.type.size(); ++c) add_flow(c);
    for (Observation& one : unopened_tests(graph_, times_, passages_)) keep(std::move(one));
    if (structure_.description->by_grades) return std::move(observations_);
    for (Observation& one : reported_symptoms(graph_, times_, ways_, passages_, search_)) {
      keep(std::move(one));
    }
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
  // nowhere to go but further. A load whose direction is known drives no other.
  void add_drifts(Index c) {
    const std::optional<Load>& load = component(c).load;
    const bool one_way =
        !structure_.description->by_grades && load.has_value() && !load->direction.empty();
    for (const ComponentType::Direction& direction : structure_.type[c]->directions) {
      const Configuration as_is;
      Observation one =
          begin(ObservationKind::drift, "drift/" + component(c).id + "/" + direction.name);
      if (one_way && load->direction != direction.name) {
        leave_out(one, Absent::Why::load_other_way);
        continue;
      }
      const Index source = vertex(volume_of(structure_, c, direction.contracting));
      std::vector<Index> sinks = {structure_.tank(), structure_.outside()};
      if (expanding_takes_all(structure_, c, direction)) {
        sinks.push_back(vertex(volume_of(structure_, c, direction.expanding)));
      }
      const LeakSets leaks = search_.search(source, sinks, as_is, what_of(one));
      if (left_out(one, leaks, source, sinks, as_is)) continue;
      one.sets = mode_sets(leaks.sets);
      one.contracting_area = area_of(structure_, c, direction.contracting);
      one.volume = component(c).volume;
      add_cautions(drift_cautions(), &one);
      keep(std::move(one));
    }
  }

  // What is done for this hold alone, in order.
  void add_steps(const HoldStatics& judged, Observation* one) const {
    using When = TestStep::When;
    const hydraulics::Consequences& found = judged.consequences;
    for (const hydraulics::Stop& stop : found.stops) {
      one->steps.push_back(
          {When::before_lockout, "stop/" + component(stop.actuator).id + "/" + stop.direction});
    }
    for (const Index valve : found.load_holding) {
      one->steps.push_back({When::before_opening, "release/" + component(valve).id});
    }
    // Also where a relief is in reach: whether it is may hang on where other pistons stand.
    one->steps.push_back({When::before_pressure, "hand_pump_relief"});
    one->steps.push_back({When::afterwards, "release"});
    TestStep zero{When::afterwards, "verify_zero"};
    for (const hydraulics::Reached& reached : found.volumes) {
      (reached.by_leak ? zero.past_leak : zero.at).push_back(reached.volume);
    }
    one->steps.push_back(std::move(zero));
  }

  void add_hold_cautions(const HoldStatics& judged, Observation* one) const {
    const hydraulics::Consequences& found = judged.consequences;
    if (!found.stops.empty() || found.both_sides_closed) {
      add_cautions(actuator_reached_cautions(), one);
    }
    if (found.both_sides_closed) add_cautions(both_sides_closed_cautions(), one);
    if (!found.load_holding.empty()) add_cautions(trapped_pressure_cautions(), one);
    if (found.pump_or_motor) add_cautions(free_shaft_cautions(), one);
    if (found.gas) add_cautions(stored_gas_cautions(), one);
    if (found.brake_or_steering) add_cautions(brake_and_steering_cautions(), one);
    if (judged.refusal.reason == hydraulics::Reason::low_pressure_port) {
      add_cautions(low_pressure_port_cautions(), one);
    } else if (judged.verdict == hydraulics::Verdict::no_figure) {
      add_cautions(no_test_pressure_cautions(), one);
    }
  }

  // Of the accumulators that oil pressed into the port goes into, m3.
  double gas_reached(const Hold& hold) {
    double volume = 0;
    if (gas_.empty()) return volume;
    for (const Index reached : passages_.region(vertex(hold.port), hold.configuration)) {
      const auto [first, last] = gas_.equal_range(reached);
      for (auto at = first; at != last; ++at) volume += at->second;
    }
    return volume;
  }

  // Everything that follows from what the pressure reaches.
  void add_statics(const Hold& hold, Observation* one) {
    one->gas_volume = gas_reached(hold);
    const HoldStatics judged = statics_.judge(hold);
    const NotProposed refused = {hydraulics::reason_id(judged.refusal.reason),
                                 judged.refusal.volume, judged.refusal.part};
    one->pressure_ceiling = judged.ceiling;
    double highest = 1;
    for (const hydraulics::Reached& reached : judged.consequences.volumes) {
      highest = std::max(highest, reached.factor);
    }
    switch (judged.verdict) {
      case hydraulics::Verdict::proposed:
        one->test_pressure = judged.pressure;
        one->pressure_limit = {judged.limit->volume, hydraulics::limit_id(judged.limit->by),
                               judged.limit->part,   judged.limit->stands,
                               judged.limit->factor, judged.limit->suspect};
        for (Bring& item : one->bring) {
          item.rated_for = judged.pressure * (item.what == "adapter" ? 1 : highest);
        }
        break;
      case hydraulics::Verdict::no_figure:
        one->no_figure = refused;
        break;
      case hydraulics::Verdict::withheld:
        one->withheld = refused;
        break;
    }
    add_steps(judged, one);
    add_hold_cautions(judged, one);
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
      if (left_out(one, leaks, vertex(volume), sinks, tested)) continue;
      one.sets = mode_sets(leaks.sets);
      one.volume = component(c).volume;
      one.setup = {"lockout"};
      for (const Index line : lines) one.setup.push_back(line_setup(line));
      one.bring.push_back(bring("adapter", volume));
      for (std::size_t i = 0; i < lines.size(); ++i) one.bring.push_back(bring("plug", volume));
      add_cautions(static_hold_cautions(), &one);

      std::vector<Index> cartridges;
      for (const std::vector<Index>& set : leaks.sets) {
        for (const Index mode : set) {
          const auto owner = static_cast<Index>(structure_.modes[mode].component_index);
          if (structure_.type[owner]->cartridge) cartridges.push_back(owner);
        }
      }
      std::sort(cartridges.begin(), cartridges.end());
      cartridges.erase(std::unique(cartridges.begin(), cartridges.end()), cartridges.end());
      Observation whole = one;
      add_statics({volume, tested, {}, whole.id}, &whole);
      keep(std::move(whole));
      for (const Index cartridge : cartridges) add_plugged(one, volume, tested, cartridge);
    }
  }

  void add_plugged(const Observation& whole, Index volume, Configuration tested, Index cartridge) {
    tested.removed = cartridge;
    Observation one = whole;
    one.id = whole.id + "/plugged/" + component(cartridge).id;
    const LeakSets leaks = search_.search(vertex(volume), {structure_.tank(), structure_.outside()},
                                          tested, what_of(one));
    if (leaks.open || leaks.sets.empty()) return;
    one.sets = mode_sets(leaks.sets);
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
    add_statics({volume, tested, {}, one.id}, &one);
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
      if (left_out(one, leaks, vertex(volume), sinks, tested)) continue;
      one.sets = mode_sets(leaks.sets);
      one.volume = component(c).volume;
      one.setup = {"lockout"};
      for (const Index line : tested.lines_off) one.setup.push_back(line_setup(line));
      one.bring.push_back(bring("adapter", volume));
      one.bring.insert(one.bring.end(), plugs.begin(), plugs.end());
      add_cautions(static_hold_cautions(), &one);
      add_cautions(actuator_hold_cautions(), &one);
      std::vector<Index> others;
      for (std::size_t other = 0; other < type.ports.size(); ++other) {
        if (other != p) others.push_back(first + static_cast<Index>(other));
      }
      add_statics({volume, tested, std::move(others), one.id}, &one);
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
  // (on every free path from the source to the driven volume, from the contracting volume to tank,
  // or where none leads there, to the driven one: regeneration; or between tank and the pump's
  // inlet), when it weakens the source or chokes something inside it, or when it is part of a leak
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
    if (function.source == function.contracting) return add_lowering(f, commanded);
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
    // Regeneration: what comes back goes to the side that is driven, and is lost on both.
    const bool to_tank = passages_.reaches(contracting, structure_.tank(), commanded);
    Configuration past_pump = commanded;  // a closed loop's return is no regeneration
    past_pump.removed = structure_.volume_component[function.source];
    const bool regenerates = !to_tank && passages_.reaches(contracting, driven, past_pump);
    std::vector<Index> sinks = {structure_.tank(), structure_.outside()};
    if (!regenerates) sinks.push_back(contracting);
    LeakSets leaks = search_.search(source, sinks, commanded, what_of(one));
    if (leaks.open) {
      left_out(one, leaks, source, sinks, commanded);
      return;
    }
    if (regenerates) {
      const LeakSets back = search_.search(contracting, sinks, commanded, what_of(one));
      leaks.sets.insert(leaks.sets.end(), back.sets.begin(), back.sets.end());
      leaks.sets = minimal(std::move(leaks.sets));
    }
    ways_[f].delivers = true;
    ways_[f].leaks = leaks;
    std::vector<std::vector<Index>> sets = leaks.sets;
    const auto add_modes = [&sets](const std::vector<Index>& modes) {
      for (const Index mode : modes) sets.push_back({mode});
    };
    const Index supplier = structure_.volume_component[function.source];
    const Index end = to_tank ? structure_.tank() : driven;
    std::vector<Index>& choked = ways_[f].choking = series_.choking(source, driven, commanded);
    for (const Index m : series_.choking(contracting, end, commanded)) choked.push_back(m);
    add_modes(choked);
    add_modes(series_.starving(supplier, commanded));
    const auto charge = charge_pump_of(structure_, passages_, supplier, source, commanded);
    if (charge) {
      std::vector<std::vector<Index>>& lost = ways_[f].charge.sets;
      lost = charge_leaks(structure_, search_, *charge, commanded, what_of(one));
      for (const Index mode : weak_charge(structure_, series_, *charge, commanded)) {
        lost.push_back({mode});
      }
      sets.insert(sets.end(), lost.begin(), lost.end());
    }
    if (!structure_.description->by_grades) {
      add_modes(
          series_.piloting(supplier, source, {{source, driven}, {contracting, end}}, commanded));
    }

    const ComponentType& type = *structure_.type[supplier];
    const std::string& port = type.ports[function.source - structure_.first_volume[supplier]];
    for (std::size_t m = 0; m < type.failure_modes.size(); ++m) {
      const FailureModeType& mode = type.failure_modes[m];
      if (!mode.restricts.empty() || find_name(mode.weakens, port) < mode.weakens.size()) {
        sets.push_back({structure_.first_mode[supplier] + static_cast<Index>(m)});
      }
    }
    sets = minimal(std::move(sets));
    if (sets.empty()) return leave_out(one, Absent::Why::nothing_shows);
    one.sets = mode_sets(sets);
    one.subject = described.title.empty() ? described.id : described.title;
    add_cautions(power_on_cautions(), &one);
    keep(std::move(one));
  }

  // A function whose source is the side that its load presses: it lowers as soon as the way to tank
  // is open, and shows what chokes that way.
  void add_lowering(Index f, const Configuration& commanded) {
    const PlacedFunction& function = structure_.functions[f];
    const Function& described = structure_.description->functions[f];
    const Index contracting = vertex(function.contracting);
    if (!passages_.reaches(contracting, structure_.tank(), commanded)) {
      refuse("function " + quoted(described.id) + ": what its load presses out of " +
                 quoted(structure_.volume_name(function.contracting)) +
                 " does not reach the tank through elements that pass, with " +
                 positions_text(function),
             at(at("/functions", std::size_t{f}), "positions"));
    }
    Observation one = begin(ObservationKind::delivery, "delivery/" + described.id);
    std::vector<std::vector<Index>> sets;
    ways_[f].delivers = true;
    ways_[f].choking = series_.choking(contracting, structure_.tank(), commanded);
    for (const Index mode : ways_[f].choking) sets.push_back({mode});
    sets = minimal(std::move(sets));
    if (sets.empty()) return leave_out(one, Absent::Why::nothing_shows);
    one.sets = mode_sets(sets);
    one.subject = described.title.empty() ? described.id : described.title;
    add_cautions(power_on_cautions(), &one);
    keep(std::move(one));
  }

  // Flow test: every mode of the component that leaks or weakens shows, each by itself, and what
  // chokes its suction.
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
    std::vector<std::vector<Index>> starved;
    for (const Index mode : series_.starving(c, {})) starved.push_back({mode});
    for (ModeSet& set : mode_sets(minimal(std::move(starved)))) one.sets.push_back(std::move(set));
    one.rated_flow = component(c).rated_flow;
    one.setup = {"lockout", "meter/" + component(c).id};
    if (metered.empty() && find_name(type.ports, "out") < type.ports.size()) metered = "out";
    if (metered.empty()) {
      one.bring.push_back({"flow meter", component(c).id, "", "", std::nullopt});
    } else {
      const Index volume = volume_of(structure_, c, metered);
      one.bring.push_back(bring("flow meter", volume));
      one.bring.back().rated_for = statics_.meter_pressure(volume);
    }
    add_cautions(power_on_cautions(), &one);
    add_cautions(flow_meter_cautions(), &one);
    keep(std::move(one));
  }

  const HydraulicGraph& graph_;
  std::vector<Absent>* absent_;
  const Structure& structure_;
  const Times& times_;

  void leave_out(const Observation& one, Absent::Why why) {
    if (absent_->size() < most_observations_) absent_->push_back({why, one.id, one.kind, {}});
  }

  // Whether the observation is left out since oil flows with nothing leaking or nothing shows.
  bool left_out(const Observation& one, const LeakSets& leaks, Index source,
                const std::vector<Index>& sinks, const Configuration& configuration) {
    if (!leaks.open && !leaks.sets.empty()) return false;
    leave_out(one, leaks.open ? Absent::Why::open : Absent::Why::nothing_shows);
    if (!leaks.open || absent_->empty() || absent_->back().id != one.id) return true;
    for (const Index e : passages_.way(source, sinks, configuration)) {
      const PlacedElement& placed = structure_.elements[e];
      absent_->back().way.push_back(component(placed.component).id + "." + placed.element->name);
    }
    return true;
  }

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
  StepBudget budget_, statics_budget_;
  Passages passages_;
  Series series_;
  LeakSearch search_;
  std::vector<FunctionWays> ways_;  // by function
  hydraulics::Statics statics_;
  std::multimap<Index, double> gas_;  // m3 of the accumulators at a vertex
  std::vector<Observation> observations_;
};

}  // namespace

std::vector<Observation> derive_observations(const HydraulicGraph& graph, const Times& times,
                                             const Limits& limits, std::vector<Absent>* absent) {
  return Derivation(graph, times, limits, absent).run();
}

std::vector<SetupStep> setup_steps(const Structure& structure, const Times& times) {
  std::vector<SetupStep> steps;
  steps.push_back({"lockout", times.of("lockout")});
  for (const Line& line : structure.lines) {
    steps.push_back(
        {"line/" + line.id,
         times.of("open_line"),
         {structure.volume_name(line.ends[0].volume), structure.volume_name(line.ends[1].volume)}});
  }
  for (Index c = 0; c < structure.type.size(); ++c) {
    if (!structure.type[c]->cartridge) continue;
    steps.push_back(
        {"cartridge/" + structure.description->components[c].id, times.of("remove_cartridge")});
  }
  for (Index c = 0; c < structure.type.size(); ++c) {
    if (!structure.type[c]->flow_test) continue;
    steps.push_back(
        {"meter/" + structure.description->components[c].id, times.of("install_meter")});
  }
  return steps;
}

}  // namespace faultodds::circuit
