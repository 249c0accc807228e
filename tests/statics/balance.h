// A second statics, for checking what the engine proposes. It takes nothing from the engine and
// shares no code or method with it: for every combination of what may leak and of valves that may
// stand open it finds the state in which all oil, checks and pistons are at rest, by descending to
// the least energy of compliant volumes, and looks at each pressure there. It reads the circuit
// document itself and trusts it.
#pragma once

#include <map>
#include <nlohmann/json.hpp>
#include <optional>
#include <set>
#include <string>
#include <vector>

namespace balance {

using Json = nlohmann::ordered_json;

struct Proposal {
  std::string observation;         // `static/<port>` or `static/<port>/plugged/<cartridge>`
  std::optional<double> pressure;  // Pa; without one only the rules of `never` are looked at
  std::set<std::string> lines_off;
  std::vector<std::string> steps;  // ids of the test's own
  std::set<std::string> verified;  // volumes of the step that verifies zero
};

enum class Kind {
  above_rating,
  above_relief,
  unknown,  // a figure although something reached has no limit
  pump_or_motor,
  accumulator,
  no_line,
  brake_or_steering,
  moves,         // a piston moves and no step puts it on its stop
  last_relief,   // no relief in reach and no step sets the hand pump's
  not_verified,  // no step verifies zero in a volume that was reached
  trapped        // no step releases what a load-holding valve traps
};
inline constexpr int kKinds = static_cast<int>(Kind::trapped) + 1;
const char* name(Kind kind);

struct Fault {
  Kind kind;
  std::string where;
  double pressure = 0, allowed = 0;
};

class Machine {
 public:
  Machine(const Json& circuit, const Json& catalogue);

  // What is wrong with a proposal; empty when nothing is.
  std::vector<Fault> faults(const Proposal& proposal) const;

  // Pressure at a port, per pressure at the port tested, with every suspect tight; 0 where nothing
  // is reached.
  double factor(const Proposal& proposal, const std::string& port) const;

 private:
  struct Element {
    std::string kind, component, name;
    int from, to, pilot;
    bool load_holding, pilot_known, clearance;
    std::set<std::string> open_in;
    std::optional<double> setting, ratio;
  };
  struct Line {
    std::string id;
    int a, b;
  };
  struct Limit {
    double stands;
    std::string what;
  };
  struct Chamber {
    int node;
    double sign;
    std::optional<double> area;
  };
  struct Piston {
    std::string component;
    bool motor;
    std::vector<Chamber> chambers;
  };
  struct Test;   // a proposal placed in the machine
  struct State;  // pressures at rest

  int node(const std::string& volume) const;
  void place_part(const Json& component, const Json& type);
  Test place(const Proposal& proposal) const;
  State rest(const Test& test, const std::set<int>& leaks) const;
  std::vector<std::set<int>> leaks(const Test& test, const State& tight) const;

  std::map<std::string, int> volume_;            // by name, before galleries are joined
  std::vector<int> gallery_;                     // volume -> node
  std::vector<std::vector<std::string>> named_;  // node -> volumes
  std::vector<Element> elements_;
  std::vector<Line> lines_;
  std::vector<Piston> pistons_;
  std::map<int, std::vector<Limit>> limits_;
  std::map<int, std::string> machine_, gas_, safety_;        // node -> component
  std::map<std::string, std::vector<std::set<int>>> modes_;  // component -> elements of each mode
  std::set<std::string> openable_, actuators_, allowed_;
  std::map<std::string, std::vector<std::string>> ports_;
};

}  // namespace balance
