// Faulty machines that behave by hydraulics, for comparing ways of testing. From a circuit's
// description it takes the topology alone: which elements join which volumes, what each failure
// mode acts on, how probable it is. What a test shows is then the flow through clearances, scored
// seats and choked passages of random size, read on a gauge, a stopwatch and a ruler, each with its
// error. It shares no code with the engine's leak paths, network or readings.
//
// Assumed: a leak of a worn part is about 30 mL/min at 100 bar and of a failed one 1 L/min (a pump
// loses 12 and 35 % of its flow, a choked passage passes a tenth and a thirtieth), spread
// log-normally; a main relief that leaks passes as much as such a pump loses; trapped air, a
// cooling line and a badly made-up adapter look like small leaks; loads are light enough that a
// piston with a leaking seal comes to rest below the relief settings; a relief without a setting
// stays shut. All invented, to be plausible.
#pragma once

#include <cstdint>
#include <map>
#include <optional>
#include <random>
#include <string>
#include <vector>

#include "core/circuit/description.h"
#include "tests/benchmarks/decision/leak_network.h"

namespace faultodds::benchmark {

struct ModeState {
  int grade = 0;
  double leak = 0;  // mL/min at 100 bar through each element it makes leak
  double open = 1;  // share of a passage that is left
  double loss = 0;  // share of a pump's flow
};

// A test as it went: the outcome as a technician would write it down, and what it rests on.
struct Shown {
  std::uint32_t outcome = 0;  // 0 normal, 1, 2
  double leak = 0;            // mL/min, or the share of flow or speed lost
};

class Simulator {
 public:
  // Takes what it needs; throws std::runtime_error for what it cannot simulate.
  Simulator(const circuit::Description& description,
            const std::vector<circuit::ComponentType>& catalogue);

  struct Mode {
    std::string id, component;  // `component.mode`
    bool leaks = false, restricts = false, weakens = false;
    bool supply = false;  // a leak of it is measured in the pump's flow
    circuit::GradeDistribution prior{1, 0, 0};
  };
  const std::vector<Mode>& modes() const { return modes_; }

  using Machine = std::vector<ModeState>;  // by mode
  using Chance = std::mt19937_64;
  Machine sound() const { return Machine(modes_.size()); }
  Machine draw(Chance& chance) const;
  ModeState of_grade(std::size_t mode, int grade, Chance& chance) const;
  // Puts new parts in.
  void renew(Machine& machine, const std::string& component) const;

  // Observations by the ids that the README lists: drift/, static/, delivery/, flow/; and
  // look/<component>: a part taken out, or moved by hand, and looked at.
  Shown perform(const Machine& machine, const std::string& observation, Chance& chance) const;
  // The same without any error or accident: what the hydraulics alone would show.
  Shown exact(const Machine& machine, const std::string& observation) const;
  // What the machine does: flow out of the tested port (static), the piston's leak (drift), in
  // mL/min; the share of speed (delivery), flow (flow) or passage (look) that is lost.
  double effect(const Machine& machine, const std::string& observation) const;
  // The network of a static hold with the port held at the test pressure, solved.
  LeakNetwork held(const Machine& machine, const std::string& observation) const;
  double test_pressure() const { return test_pressure_; }

 private:
  struct Placed {
    circuit::ElementKind kind = circuit::ElementKind::seal;
    std::size_t component = 0, from = 0, to = 0;  // volumes
    std::vector<std::string> open_in;
    std::vector<std::size_t> leaking, restricting;  // modes
    double setting = 0;
  };
  struct Line {
    std::string id;
    std::size_t a = 0, b = 0;
  };
  struct Standing {  // how the machine stands
    std::map<std::string, std::string> positions;
    std::vector<bool> line_off;
    std::optional<std::size_t> removed;  // component
  };
  struct Plumbing {
    std::vector<std::size_t> node;  // of each volume
    std::size_t nodes = 0;
  };

  std::size_t volume(const std::string& name) const;
  const circuit::ComponentType& type_of(std::size_t component) const;
  Plumbing plumb(const Standing& standing) const;
  void fill(LeakNetwork& network, const Plumbing& plumbing, const Machine& machine,
            const Standing& standing) const;
  Piston piston(const Plumbing& plumbing, std::size_t actuator, const std::string& direction) const;
  LeakNetwork holding(const Machine& machine, const std::string& observation, bool by_pressure,
                      std::size_t& source) const;
  double drift(const Machine& machine, const std::string& observation) const;
  double speed(const Machine& machine, const circuit::Function& function) const;
  double slip(const Machine& machine, const std::string& component) const;
  double seen_damage(const Machine& machine, const std::string& component) const;

  circuit::Description description_;
  std::map<std::string, circuit::ComponentType> types_;
  std::map<std::string, std::size_t> component_, volume_;
  std::vector<std::vector<std::size_t>> joined_;  // pairs of volumes of one gallery
  std::vector<Line> lines_;
  std::vector<Placed> elements_;
  std::vector<Mode> modes_;
  std::vector<std::size_t> mode_component_;
  std::vector<std::vector<std::size_t>> weakening_;  // modes, by component
  double test_pressure_ = 100, least_setting_ = 0;
  std::map<std::string, double> sound_speed_;  // of each function
};

}  // namespace faultodds::benchmark
