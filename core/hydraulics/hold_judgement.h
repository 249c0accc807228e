// One hold while it is judged: how far and how high its pressure goes, past each suspect, and what
// that moves, traps and may burst. Of statics.cpp and hold_judgement*.cpp alone; what is the same
// for every hold of a circuit is in Statics.
#pragma once

#include <boost/range/iterator_range.hpp>
#include <map>
#include <set>
#include <string>
#include <unordered_map>
#include <vector>

#include "core/hydraulics/statics.h"

namespace faultodds::hydraulics {

// A relief weeps near its setting (common practice, no source: 80 to 85 %).
constexpr double kShareOfRelief = 0.8;

bool is_pump_or_motor(const circuit::ComponentType& type);
// The element by which a load-holding valve opens; a type may call its position `piloted` without
// saying where the pilot is.
bool opens_by_pilot(const circuit::PlacedElement& placed);

// One hold, judged. Lives as long as the call.
class Judgement {
 public:
  Judgement(Statics& statics, const Hold& hold);

  HoldStatics judge();

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
      const circuit::Arc& arc = graph_[edge];
      if (!statics_.graph_.present(arc, hold_.configuration)) continue;
      visit(arc, static_cast<Index>(boost::target(edge, graph_)));
    }
  }

  bool passes(const circuit::Arc& arc, const Elements& leaks) const;

  // Vertices that oil reaches from `from`, over `leaks` too; drained ones are named, not left.
  std::vector<Index> region(Index from, const Elements& leaks);

  bool reaches(Index from, Index to, const Elements& leaks);

  // No way to tank, to outside or to an open port.
  bool closed(Index vertex);

  bool openable();

  // Pressure of every vertex reached, by raising it until nothing rises.
  Factors factors(const Elements& leaks);

  template <typename Raise>
  void press(Index actuator, const Elements& leaks, const Factors& factor, Raise raise);

  // Joined with the port tested, both ways.
  bool two_way(Index vertex) {
    return vertex == source_ || (reaches(source_, vertex, {}) && reaches(vertex, source_, {}));
  }

  // The tight case first, then each suspect; again while a pilot is found in reach.
  void find_factors();

  void add_scenarios(const Elements& always);

  bool holds_pressure(Index volume);

  // Every way in which one failure mode can leak.
  void add_suspects(const Elements& base, const Factors& tight, const std::set<Index>& modes);

  // Failure modes that make an element leak on which the pressure stands.
  std::set<Index> suspects(const Factors& reached);

  bool pilot_known(const circuit::PlacedElement& placed) const;

  // Load-holding valves that stand, or may stand, open: their pilot is in reach, or it or its ratio
  // is not known and a side of the valve is in reach.
  bool find_opened();

  const Factors& tight() const { return scenarios_.front().factors; }

  // A port's name that people can find: one with a line, with a fitting, else the first.
  Index named_volume(Index vertex) const;
  std::string name(Index vertex) const { return structure_.volume_name(named_volume(vertex)); }

  std::vector<Reached> volumes();

  void add_stop(Index actuator, const Statics::Chamber& pressed, const Statics::Chamber& opposite);

  // A piston moves where its opposite chamber drains, or is joined with the pressed one. A load
  // that a valve holds which may stand open has to be on its stop.
  void find_stops();

  // Load-holding valves with a piston behind them, next to anything that is opened.
  void find_trapped();

  bool holds_piston(Index vertex);

  void find_parts();

  bool never();

  std::string machine_volume(Index vertex) const;

  std::string gas_volume(Index vertex) const;

  // A valve that may stand open lets the pressure go to tank: such a hold shows nothing.
  bool stands_open();

  // Reliefs that the pressure of a vertex can open, with the machine as it stands for this hold.
  template <typename Visit>
  void each_relief(Index vertex, Visit visit) {
    each_arc(vertex, [&](const circuit::Arc& arc, Index there) {
      if (arc.element == circuit::kNone || !arc.forward) return;
      const circuit::PlacedElement& placed = structure_.elements[arc.element];
      if (placed.element->kind != circuit::ElementKind::relief || reaches(vertex, there, {}))
        return;
      visit(placed);
    });
  }

  bool has_limit(Index vertex);

  // Vertices whose volume has a limit: its own or one that oil passes on to or comes from.
  std::set<Index> known(const Factors& reached);

  bool all_known();

  bool settings_known(Index vertex);

  // A line, a component or its type says what the volume of a return or case port stands; the
  // rating of a port's standard alone does not say it of the housing.
  bool says_what_it_stands();

  void take(double ceiling, const PressureLimit& limit);

  void find_limit();

  void propose();

  void take_reliefs(const Scenario& scenario, Index vertex, double factor);

  Statics& statics_;
  const circuit::Structure& structure_;
  const circuit::Graph& graph_;
  const Hold& hold_;
  const Index source_;
  std::set<Index> open_;
  std::unordered_map<Index, bool> closed_;
  std::vector<Scenario> scenarios_;
  Elements opened_;
  Index no_areas_at_ = circuit::kNone, grows_at_ = circuit::kNone;
  HoldStatics out_;
};

}  // namespace faultodds::hydraulics
