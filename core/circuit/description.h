// A hydraulic circuit as its author wrote it: plain values, one struct per object of the circuit
// document, in document order. Nothing here is checked against anything else; `analyse` in
// analysis.h does that. It is not the document's reader (capi/documents) and knows no probability
// beyond carrying the priors it was given.
//
// Pressures are in Pa, flows in m3/s, lengths in m, areas in m2, volumes in m3, times in minutes
// where a name says so and seconds elsewhere.
#pragma once

#include <array>
#include <map>
#include <optional>
#include <string>
#include <vector>

#include "core/circuit/observation_kinds.h"

namespace faultodds::circuit {

using GradeDistribution = std::array<double, 3>;  // P(sound), P(worn), P(failed)

enum class ElementKind { seal, check, relief, passage };

// Joins two volumes of a type: a port, an inner volume, or a reservoir (`tank`, `outside`).
struct Element {
  std::string name;
  ElementKind kind = ElementKind::seal;
  std::string from, to;
  std::vector<std::string> open_in;  // seal only: valve positions in which it passes
  std::string pilot{};               // seal and relief: the volume whose pressure opens it
};

// How the oil that a failure mode lets through, or takes from a flow, grows with what drives it.
enum class SizeLaw {
  laminar,  // a gap: with the pressure and 1/viscosity
  orifice,  // a seat, hose or crack: with the root of the pressure
  loss,     // what restricts or weakens: a share of the flow
};

// How large a mode is at each grade: log-normals of its *size*, which is a flow in mL/min at 100
// bar and 46 mm2/s, or for `loss` a share of the flow in percent.
struct ModeSize {
  struct OfGrade {
    double median = 0, spread = 1;  // spread: sigma of ln
    bool operator==(const OfGrade&) const = default;
  };
  SizeLaw law = SizeLaw::orifice;
  std::array<OfGrade, 3> of_grade{};  // a sound `loss` is none: its median is 0
  bool operator==(const ModeSize&) const = default;
};

struct FailureModeType {
  std::string name;                    // `seat_leak`
  std::string code;                    // ISO 14224 failure-mode code, `INL`
  std::string title;                   // `seat leaks`
  std::vector<std::string> leaks;      // elements it makes leak
  std::vector<std::string> restricts;  // elements it chokes
  std::vector<std::string> weakens;    // ports at which a source delivers less
  GradeDistribution prior{1, 0, 0};
  std::optional<ModeSize> size{};  // unsaid: by what it does (sizes of its element kinds)
};

// Effective area of one side of an actuator.
enum class AreaRule { bore, annulus, displacement };

struct ComponentType {
  std::string name;
  std::string title;
  std::vector<std::string> ports;
  std::vector<std::string> volumes;  // inner volumes
  bool cartridge = false;            // can be taken out and its cavity plugged
  bool flow_test = false;            // has a flow/<component> observation
  bool hold = false;                 // a pump or motor whose maker allows a pressure hold into it
  bool stores_gas = false;           // an accumulator
  std::map<std::string, double> rated;  // volume -> Pa that this kind stands there
  std::vector<std::string> reduces;     // volumes kept at the component's setting
  std::vector<Element> elements;
  std::vector<FailureModeType> failure_modes;
  struct Direction {
    std::string name, contracting, expanding;  // `retract`, `cap`, `rod`
  };
  std::vector<Direction> directions;      // empty unless it is an actuator
  std::map<std::string, AreaRule> areas;  // volume -> rule; default: cap bore, rod annulus
  std::vector<std::string> parameters;    // names of the parameters its components may give
  std::string pointer;                    // where it was read, for messages
};

// The load on an actuator: the pressure that it puts on the side that holds it. A log-normal, cut
// at 90 % of the lowest relief that this side sees.
struct Load {
  std::optional<double> pressure{}, force{};  // Pa or N, the median; one of them
  double spread = 0.3;                        // sigma of ln
  std::string direction{};                    // in which it drives; empty: either
};

// What a part serves. A hold into a brake or steering line is made only where the circuit names it.
enum class Use { work, brake, steering };

struct Component {
  std::string id, type, title;
  std::map<std::string, GradeDistribution> priors;  // mode name -> prior of this component
  std::optional<double> bore, rod;                  // m
  std::map<std::string, double> areas;              // volume -> m2
  std::optional<double> setting;                    // relief setting, Pa
  std::optional<double> ratio;                      // pilot ratio of a load-holding valve
  std::optional<double> rating;                     // Pa, of all its volumes
  std::map<std::string, double> rated;              // volume -> Pa, before rating and the type's
  std::optional<Use> use;                           // unsaid: by its name
  std::optional<double> displacement;               // m3 per revolution
  std::optional<double> rated_flow;                 // m3/s
  std::optional<double> volume;                     // trapped volume, m3
  std::optional<double> minutes;                    // labour to exchange it
  std::optional<double> part_cost;
  std::optional<double> lead_days;
  std::map<std::string, ModeSize> sizes{};  // mode name -> size of this component's
  std::optional<Load> load{};               // actuators only

  const std::string& display_title() const { return title.empty() ? id : title; }
};

struct Connection {
  std::string from, to;            // `component.port`, `tank` or `outside`
  std::string line;                // empty: one gallery; else the line's id
  std::optional<double> rating{};  // Pa, of the line
  std::optional<Use> use{};        // of the line; unsaid: by its name
};

struct Fitting {
  std::string port, standard, size;
  std::optional<double> rating{};  // Pa
  bool plug = false;               // closed by a plug that can be taken out
};

struct Function {
  std::string id, title, actuator, direction, source;
  std::map<std::string, std::string> positions;  // valve component -> position
  std::optional<double> working_pressure{};      // Pa
};

struct Shows {
  std::vector<std::string> modes;  // `component.mode`; all of them needed (AND)
  double probability = 1;
};

// Outcome statistics that a circuit or prior pack may override for one observation.
struct OutcomeModel {
  std::vector<std::string> outcomes;        // first is the normal one
  std::vector<std::vector<double>> matrix;  // [grade][outcome]
  std::optional<GradeDistribution> background;
  std::optional<std::array<double, 3>> leak_median;  // mL/min per grade, or loss share for flow
  std::optional<std::array<double, 3>> leak_sigma;   // of ln leak rate, per grade
};

// A hand-written observation, or (with `shows` empty) an override of a derived one of the same id.
struct WrittenObservation {
  std::string id, title;
  std::optional<ObservationKind> kind;  // required unless it overrides a derived observation
  OutcomeModel model;
  std::vector<Shows> shows;
  std::optional<bool> energised, opens_line;
  std::optional<double> minutes;
  std::optional<int> people{};               // 1 or 2 that it takes
  std::optional<double> reference_pressure;  // Pa
  std::vector<std::string> setup;            // `lockout`, `line/<id>`, `cartridge/<component>`
  std::vector<std::string> cautions;
};

// A shared cause. While it holds, the odds of "not sound" of every matching mode are multiplied.
struct Condition {
  std::string id, title;
  double probability = 0;
  struct Raise {
    std::string pattern;  // `*` wildcard over `component.mode` or `type.mode`
    double factor = 1;
  };
  std::vector<Raise> raises;
};

struct Description {
  std::string id, title;
  std::vector<ComponentType> types;  // the circuit's own; they override the catalogue by name
  std::vector<Component> components;
  std::vector<Connection> connections;
  std::vector<Fitting> fittings;
  std::vector<Function> functions;
  std::vector<WrittenObservation> observations;
  std::vector<Condition> conditions;
  std::map<std::string, double> times;  // minutes: `lockout`, `open_line`, `static_test`, ...
  std::optional<double> drift_limit{};  // m/s at the rod, the maker's; unsaid: 4 mm/min
  bool by_grades = false;               // no effect is solved: a set shows its modes' least grade
  std::vector<std::string> allow_hold;  // holds into brake and steering lines, by observation id
};

}  // namespace faultodds::circuit
