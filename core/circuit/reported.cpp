#include "core/circuit/reported.h"

#include <algorithm>
#include <map>
#include <optional>
#include <set>
#include <string>

#include "core/circuit/cautions.h"
#include "core/circuit/series.h"
#include "core/circuit/type_check.h"
#include "core/stop.h"

namespace faultodds::circuit {
namespace {

using Rows = std::vector<std::vector<double>>;

// What a report of a kind says of a grade, and what else than the circuit's parts brings it about.
// Working judgement, all of it.
struct Family {
  std::vector<std::string> outcomes;
  Rows matrix;
  GradeDistribution background;
};

const Family kPressure = {{"normal", "low", "none"},
                          {{0.99, 0.008, 0.002}, {0.4, 0.55, 0.05}, {0.04, 0.26, 0.7}},
                          {0.97, 0.02, 0.01}};
const Family kHot = {{"normal", "warm", "hot"},
                     {{0.97, 0.025, 0.005}, {0.3, 0.55, 0.15}, {0.1, 0.35, 0.55}},
                     {0.95, 0.035, 0.015}};
const Family kNoise = {{"quiet", "noisy", "loud"},
                       {{0.97, 0.025, 0.005}, {0.25, 0.6, 0.15}, {0.05, 0.3, 0.65}},
                       {0.96, 0.03, 0.01}};
const Family kJerks = {{"smooth", "uneven", "jerky"},
                       {{0.97, 0.025, 0.005}, {0.35, 0.5, 0.15}, {0.1, 0.3, 0.6}},
                       {0.96, 0.03, 0.01}};
const Family kMoves = {{"stands", "creeps", "runs"},
                       {{0.994, 0.005, 0.001}, {0.3, 0.6, 0.1}, {0.05, 0.35, 0.6}},
                       {0.99, 0.008, 0.002}};
const Family kDips = {{"none", "dips", "drops"},
                      {{0.9975, 0.002, 0.0005}, {0.2, 0.7, 0.1}, {0.05, 0.25, 0.7}},
                      {0.997, 0.002, 0.001}};
const Family kUneven = {{"even", "uneven", "apart"},
                        {{0.98, 0.017, 0.003}, {0.3, 0.6, 0.1}, {0.05, 0.35, 0.6}},
                        {0.97, 0.02, 0.01}};

using Sets = std::vector<std::vector<Index>>;

Sets singles(const std::set<Index>& modes) {
  Sets sets;
  for (const Index mode : modes) sets.push_back({mode});
  return sets;
}

class Reported {
 public:
  Reported(const HydraulicGraph& graph, const Times& times, const std::vector<FunctionWays>& ways,
           Passages& passages, LeakSearch& search)
      : graph_(graph),
        structure_(graph.structure()),
        times_(times),
        ways_(ways),
        passages_(passages),
        series_(structure_, &passages),
        search_(search) {
    for (Index f = 0; f < structure_.functions.size(); ++f) {
      const PlacedFunction& function = structure_.functions[f];
      if (function.source == function.contracting) continue;
      of_supplier_[structure_.volume_component[function.source]].push_back(f);
    }
  }

  std::vector<Observation> run() {
    for (const auto& [supplier, functions] : of_supplier_) add_no_pressure(supplier, functions);
    for (const auto& [supplier, functions] : of_supplier_) add_hot(supplier, functions);
    for (Index c = 0; c < structure_.type.size(); ++c) add_noisy(c);
    for (Index c = 0; c < structure_.type.size(); ++c) add_jerky(c);
    for (Index f = 0; f < structure_.functions.size(); ++f) add_moves(f);
    for (Index f = 0; f < structure_.functions.size(); ++f) add_dip(f);
    for (Index f = 0; f < structure_.functions.size(); ++f) add_uneven(f);
    return std::move(symptoms_);
  }

 private:
  Index vertex(Index volume) const { return structure_.gallery[volume]; }
  const Component& component(Index c) const { return structure_.description->components[c]; }
  const FailureModeType& mode_type(Index mode) const {
    const auto c = static_cast<Index>(structure_.modes[mode].component_index);
    return structure_.type[c]->failure_modes[mode - structure_.first_mode[c]];
  }
  std::string function_title(Index f) const {
    const Function& one = structure_.description->functions[f];
    return one.title.empty() ? one.id : one.title;
  }
  Configuration commanded(Index f) const {
    Configuration out;
    out.positions = structure_.functions[f].positions;
    return out;
  }

  // `subject`: what the document calls the function; else the id says of which part it is.
  void add(const std::string& id, const Family& family, std::string subject, Sets sets) {
    sets = minimal(std::move(sets));
    if (sets.empty()) return;
    if (std::any_of(symptoms_.begin(), symptoms_.end(),
                    [&](const Observation& known) { return known.id == id; })) {
      return;  // of the function that says it first
    }
    Observation one;
    set_defaults(ObservationKind::symptom, &one);
    one.id = id;
    one.subject = std::move(subject);
    one.outcomes = family.outcomes;
    one.matrix = family.matrix;
    one.matrix_is_own = true;  // nobody reports what is not so as often as an instrument slips
    one.background = family.background;
    one.perform_minutes = times_.to_perform(ObservationKind::delivery);
    for (std::vector<Index>& set : sets) one.sets.push_back({std::move(set), 1});
    one.cautions = general_cautions();
    one.cautions.insert(one.cautions.end(), power_on_cautions().begin(), power_on_cautions().end());
    symptoms_.push_back(std::move(one));
  }

  // The modes of a source by which it delivers less there.
  std::set<Index> weakening(Index source) const {
    const Index supplier = structure_.volume_component[source];
    const ComponentType& type = *structure_.type[supplier];
    std::set<Index> modes;
    for (std::size_t m = 0; m < type.failure_modes.size(); ++m) {
      const FailureModeType& mode = type.failure_modes[m];
      const std::string& port = type.ports[source - structure_.first_volume[supplier]];
      if (find_name(mode.weakens, port) < mode.weakens.size()) {
        modes.insert(structure_.first_mode[supplier] + static_cast<Index>(m));
      }
    }
    return modes;
  }

  std::set<Index> weakening_all(const std::vector<Index>& functions) const {
    std::set<Index> modes;
    for (const Index f : functions) {
      const std::set<Index> of_this = weakening(structure_.functions[f].source);
      modes.insert(of_this.begin(), of_this.end());
    }
    return modes;
  }

  // What every function loses: leak sets of one that take in a leak set of each other. A choked way
  // stops no pressure, for at the stop nothing flows.
  void add_no_pressure(Index supplier, const std::vector<Index>& functions) {
    Sets sets;
    std::vector<Sets> lost;  // by function of the circuit
    for (const FunctionWays& ways : ways_) {
      Sets& of_this = lost.emplace_back(ways.leaks.sets);
      of_this.insert(of_this.end(), ways.charge.sets.begin(), ways.charge.sets.end());
    }
    for (const Index f : functions) {
      for (const std::vector<Index>& set : lost[f]) {
        const auto loses = [&](Index other) {
          const Sets& of_other = lost[other];
          return !ways_[other].delivers ||
                 std::any_of(of_other.begin(), of_other.end(), [&](const auto& one) {
                   return std::includes(set.begin(), set.end(), one.begin(), one.end());
                 });
        };
        if (std::all_of(functions.begin(), functions.end(), loses)) sets.push_back(set);
      }
    }
    const Sets weak = singles(weakening_all(functions));
    sets.insert(sets.end(), weak.begin(), weak.end());
    for (const Index mode : series_.starving(supplier, {})) sets.push_back({mode});
    add("no_pressure/" + component(supplier).id, kPressure, {}, std::move(sets));
  }

  bool leaves_the_machine(Index mode) const {
    const auto c = static_cast<Index>(structure_.modes[mode].component_index);
    for (Index e = structure_.first_element[c]; e < structure_.first_element[c + 1]; ++e) {
      const PlacedElement& element = structure_.elements[e];
      if (std::find(element.leaking.begin(), element.leaking.end(), mode) ==
          element.leaking.end()) {
        continue;
      }
      if (vertex(element.to) != structure_.outside() &&
          vertex(element.from) != structure_.outside()) {
        return false;
      }
    }
    return true;
  }

  // Oil that goes from pressure to tank inside is heat; a code of ISO 14224 says what cools too
  // little (IHT) or overheats (OHE).
  void add_hot(Index supplier, const std::vector<Index>& functions) {
    std::set<Index> modes;
    for (const Index f : functions) {
      for (const std::vector<Index>& set : ways_[f].leaks.sets) {
        if (set.size() == 1 && !leaves_the_machine(set.front())) modes.insert(set.front());
      }
    }
    for (const Index mode : weakening_all(functions)) {
      if (!mode_type(mode).leaks.empty()) modes.insert(mode);
    }
    for (Index mode = 0; mode < structure_.modes.size(); ++mode) {
      const std::string& code = mode_type(mode).code;
      if (code == "IHT" || code == "OHE") modes.insert(mode);
    }
    add("hot/" + component(supplier).id, kHot, {}, singles(modes));
  }

  // What starves a pump, by its inlet or by air.
  const std::set<Index>& starved(Index pump) {
    const auto [known, added] = starved_.try_emplace(pump);
    std::set<Index>& modes = known->second;
    if (!added) return modes;
    const std::vector<Index> choked = series_.starving(pump, {}), air = air_leaks(graph_, pump);
    modes.insert(choked.begin(), choked.end());
    modes.insert(air.begin(), air.end());
    for (Index mode = structure_.first_mode[pump]; mode < structure_.first_mode[pump + 1]; ++mode) {
      const FailureModeType& type = mode_type(mode);
      if (type.code == "NOI" || (!type.weakens.empty() && type.code == "PDE")) modes.insert(mode);
    }
    return modes;
  }

  void add_noisy(Index c) {
    if (!structure_.type[c]->flow_test || is_actuator(*structure_.type[c])) return;
    add("noisy/" + component(c).id, kNoise, {}, singles(starved(c)));
  }

  // A spool, seat or control that sticks comes loose and sticks again; a clogged one does not.
  void add_jerky(Index c) {
    std::set<Index> modes;
    bool moved = false;
    for (Index f = 0; f < structure_.functions.size(); ++f) {
      const PlacedFunction& function = structure_.functions[f];
      if (function.actuator != c) continue;
      moved = true;
      std::vector<Index> found = ways_[f].choking;
      if (function.source != function.contracting) {
        const std::set<Index>& air = starved(structure_.volume_component[function.source]);
        found.insert(found.end(), air.begin(), air.end());
        for (const Index mode : weakening(function.source)) {
          if (mode_type(mode).leaks.empty()) found.push_back(mode);
        }
      }
      for (const Index mode : found) {
        if (mode_type(mode).code != "PLU") modes.insert(mode);
      }
    }
    if (!moved) return;
    add("jerky/" + component(c).id, kJerks, {}, singles(modes));
  }

  // Leak sets from one volume to another by no reservoir and no return line; none where oil flows
  // with nothing leaking.
  Sets leaking(Index from, Index to, const Configuration& stands, const std::string& what) {
    const std::vector<bool> shut = passages_.drained(stands);
    LeakSets leaks = search_.search(from, {to}, stands, what, &shut);
    return leaks.open ? Sets() : std::move(leaks.sets);
  }

  // One of its valves in neutral, the others as commanded (a priority valve, a released brake),
  // from a source that does not stand open to the tank then.
  void add_moves(Index f) {
    const PlacedFunction& function = structure_.functions[f];
    if (function.source == function.contracting) return;
    const Index source = vertex(function.source), driven = vertex(function.expanding);
    const std::string id =
        "moves/" + component(function.actuator).id + "/" + function.direction->name;
    Sets sets;
    const std::map<Index, std::string> in_order(function.positions.begin(),
                                                function.positions.end());
    Configuration stands = commanded(f);
    for (const auto& [valve, position] : in_order) {
      check_stop();
      stands.positions.erase(valve);
      if (!passages_.reaches(source, structure_.tank(), stands)) {
        const Sets found = leaking(source, driven, stands, "searching leak paths of " + id);
        sets.insert(sets.end(), found.begin(), found.end());
      }
      stands.positions[valve] = position;
    }
    add(id, kMoves, function_title(f), std::move(sets));
  }

  // The valve opens before the source has the load's pressure.
  void add_dip(Index f) {
    const PlacedFunction& function = structure_.functions[f];
    const std::optional<Load>& load = component(function.actuator).load;
    if (function.source == function.contracting) return;
    if (load && load->direction == function.direction->name) return;  // it drives that way
    const std::string id = "dip/" + structure_.description->functions[f].id;
    const std::string what = "searching leak paths of " + id;
    add(id, kDips, function_title(f),
        leaking(vertex(function.expanding), vertex(function.source), commanded(f), what));
  }

  // Single modes by which a function is slow, and none of `without`.
  std::set<Index> own_modes(Index f) {
    std::set<Index> modes(ways_[f].choking.begin(), ways_[f].choking.end());
    for (const std::vector<Index>& set : ways_[f].leaks.sets) {
      if (set.size() == 1) modes.insert(set.front());
    }
    return modes;
  }

  // Two actuators of one type that the same positions move at once the same way.
  void add_uneven(Index f) {
    const PlacedFunction& one = structure_.functions[f];
    for (Index g = f + 1; g < structure_.functions.size(); ++g) {
      const PlacedFunction& other = structure_.functions[g];
      const bool lowered = one.source == one.contracting && other.source == other.contracting;
      if (other.actuator == one.actuator || (other.source != one.source && !lowered) ||
          other.positions != one.positions ||
          structure_.type[other.actuator] != structure_.type[one.actuator] ||
          other.direction->name != one.direction->name) {
        continue;
      }
      const std::set<Index> first = own_modes(f), second = own_modes(g);
      // A leak at one is the other's too, while they are joined: what is a part of its own counts.
      std::set<Index> alone;
      std::set_symmetric_difference(first.begin(), first.end(), second.begin(), second.end(),
                                    std::inserter(alone, alone.end()));
      for (const Index actuator : {one.actuator, other.actuator}) {
        for (const Index mode : first) {
          if (structure_.modes[mode].component_index == actuator) alone.insert(mode);
        }
      }
      add("uneven/" + structure_.description->functions[f].id, kUneven, function_title(f),
          singles(alone));
      return;
    }
  }

  const HydraulicGraph& graph_;
  const Structure& structure_;
  const Times& times_;
  const std::vector<FunctionWays>& ways_;
  Passages& passages_;
  Series series_;
  LeakSearch& search_;
  std::map<Index, std::vector<Index>> of_supplier_;  // component -> functions
  std::map<Index, std::set<Index>> starved_;         // by pump
  std::vector<Observation> symptoms_;
};

}  // namespace

std::vector<Observation> reported_symptoms(const HydraulicGraph& graph, const Times& times,
                                           const std::vector<FunctionWays>& ways,
                                           Passages& passages, LeakSearch& search) {
  return Reported(graph, times, ways, passages, search).run();
}

}  // namespace faultodds::circuit
