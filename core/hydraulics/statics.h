// What may be proposed: the one place that says whether a pressure hold may be made, and at what
// pressure, so that nothing it reaches passes what it is made for. It knows the circuit and no
// probability, and gives reasons and limits as ids with what they are of.
//
// Reach. Pressure goes from the port tested through galleries, lines, passages, open lands and
// checks in their free direction. Limits hold with every suspect tight, and with any one failure
// mode leaking through any of its elements into what is closed behind them; what drains to tank or
// to an open port stays without pressure. Clearances of pumps and motors always leak.
// Free pistons. A pressed chamber raises its closed opposite one to p A_pressed / A_opposite, from
// there on again; with further chambers joined to the port tested, the difference of areas pushes.
// A chamber that passes oil back to the pressed one is joined with it. A motor passes on the same
// pressure. The load holds nothing back. Leaks add reach and never drain anything.
// Limits. For a reached volume at factor f, p f is at most the rating of every port, fitting, line,
// component and cavity there, what its type stands (`rated`), the setting of what keeps it reduced,
// and 0.8 times the setting of every relief in place there; p (f + ratio f_pilot) for a relief with
// a pilot. Also at most 0.8 times what protects the port in service and the working pressure of a
// function that presses it: no question needs more.
//
// What is decided when:
//   withheld (the hold may never be made as it stands): a pump's or motor's volume is pressed, of a
//     type without `hold`; an accumulator's is; a port has no line or plug to open; a brake's or
//     steering's volume is pressed and the circuit does not allow that hold by name; a load-holding
//     valve is reached on its load side whose pilot pressure or ratio is not known, so that it may
//     stand open; pressure grows round a loop of pistons; the limit is less than a gauge shows.
//   without a figure ("from the maker's documents"): a reached volume has neither rating nor relief
//     with a setting, a relief there has no setting, a piston's areas are not known, or the port
//     drains to tank in every service and no line, component or type there says what it stands.
#pragma once

#include <optional>
#include <string>
#include <unordered_map>
#include <vector>

#include "core/circuit/hydraulic_graph.h"

namespace faultodds::hydraulics {

using circuit::Index;

enum class Reason {
  none,
  pump_or_motor,
  accumulator,
  no_line,
  brake,
  steering,
  may_stand_open,
  grows,
  below_gauge,
  not_rated,
  no_setting,
  no_areas,
  low_pressure_port
};
enum class Verdict { proposed, no_figure, withheld };

// Why a volume limits the pressure.
enum class LimitBy { fitting, cavity, component, type, line, reduced, relief, in_service, working };

struct PressureLimit {
  std::string volume;  // `component.port`
  LimitBy by = LimitBy::fitting;
  std::string part;     // component, port or line whose limit it is
  double stands = 0;    // Pa, before any share
  double factor = 1;    // pressure there per pressure at the port tested
  std::string suspect;  // the failure mode that leaks, if any
};

struct Refusal {
  Reason reason = Reason::none;
  std::string volume;  // `component.port`
  std::string part;    // component, if another than the volume's
};

struct Reached {
  std::string volume;
  double factor = 1;
  bool by_leak = false;  // only past a suspect
};

struct Stop {
  Index actuator = circuit::kNone;
  std::string direction;
};

// What pressing a port leads to, as the cautions and steps of the test need it.
struct Consequences {
  std::vector<Stop> stops;          // pistons that would move: on their stop, or pinned
  std::vector<Index> load_holding;  // valves that trap pressure where something is opened
  std::vector<Reached> volumes;     // one name for each volume, the port tested first
  bool both_sides_closed = false;   // a piston stands between closed volumes
  bool pump_or_motor = false;
  bool gas = false;  // an accumulator is joined, tightly or past a suspect
  bool brake_or_steering = false;
};

struct HoldStatics {
  Verdict verdict = Verdict::withheld;
  double pressure = 0;                 // Pa, a mark of the gauge; 0 unless proposed
  std::optional<double> ceiling;       // Pa, before rounding, of what is known
  std::optional<PressureLimit> limit;  // what sets it
  Refusal refusal;
  Consequences consequences;
};

// One proposal: pressure into `port` with the machine as `configuration` says.
struct Hold {
  Index port = circuit::kNone;           // volume
  circuit::Configuration configuration;  // lines off are plugged at both ends, but for:
  std::vector<Index> open_ports;         // volumes that stay open to atmosphere
  std::string observation;               // what the circuit names when it allows the hold
};

enum class GaugeUnit { bar, psi };  // a gauge shows steps of 5 bar, or of 100 psi
double rounded_to_gauge(double pressure, GaugeUnit unit = GaugeUnit::bar);

class Statics {
 public:
  // Keeps references to both.
  Statics(const circuit::HydraulicGraph& graph, circuit::StepBudget* budget);

  HoldStatics judge(const Hold& hold);

  // The lowest setting of a relief that a volume sees with the machine as it stands: what a meter
  // there must stand. None when no relief is known to protect it.
  std::optional<double> meter_pressure(Index volume);

 private:
  friend class Judgement;
  struct Mark {  // a limit of a vertex
    Index volume;
    LimitBy by;
    std::string part;
    double stands;
  };
  struct Chamber {
    Index actuator, volume;
    int side;  // pushes with +1 or -1
    std::optional<double> area;
  };

  struct Pressed {                // by a function
    std::vector<Index> vertices;  // ascending
    std::optional<PressureLimit> limit;
  };

  const Pressed& pressed_by(std::size_t function);
  void place_limits();
  void place_chambers();
  void place_parts();
  bool drains_in_service(Index vertex);
  std::optional<PressureLimit> lowest_relief(Index from,
                                             const circuit::Configuration& configuration);
  void take_in_service(Index volume, HoldStatics* out);
  std::optional<PressureLimit> in_service(Index volume);

  const circuit::HydraulicGraph& graph_;
  const circuit::Structure& structure_;
  circuit::StepBudget* budget_;
  circuit::Passages passages_;
  std::unordered_map<Index, std::optional<PressureLimit>> in_service_;  // by volume asked for
  std::vector<std::optional<Pressed>> pressed_;                         // by function
  std::vector<std::vector<Mark>> limits_;                               // by vertex
  std::vector<std::vector<Index>> components_at_;                       // by vertex
  std::vector<std::vector<Index>> volumes_at_;                          // by vertex
  std::vector<std::vector<Chamber>> chambers_;                          // by component
  std::vector<std::vector<Index>> actuators_at_;                        // by vertex
  std::vector<bool> gas_, machine_, brake_, steering_;                  // by vertex
  std::vector<Index> clearances_;                     // elements of pumps and motors
  std::vector<std::vector<Index>> elements_of_mode_;  // by mode, those it makes leak
};

// Stable words for documents.
const char* reason_id(Reason reason);
const char* limit_id(LimitBy by);

}  // namespace faultodds::hydraulics
