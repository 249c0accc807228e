// From a circuit description to what can be seen of it: its failure modes, and every observation
// with the minimal sets of failure modes that would show there. Pure structure: no probability is
// computed here (priors and outcome matrices are carried through).
//
// Each rule is stated at the function of this folder that applies it.
#pragma once

#include <cstddef>
#include <cstdint>
#include <optional>
#include <string>
#include <vector>

#include "core/circuit/description.h"

namespace faultodds::circuit {

// A state of a failure mode: its grade and how large it is then.
struct ModeState {
  std::uint8_t grade = 0;
  double share = 1;          // P(state | grade)
  double low = 0, high = 0;  // of its size, in the unit of ModeSize; both 0: its grade is all
};

struct FailureMode {
  std::string id;         // `component.mode`
  std::string type_mode;  // `type.mode`, what patterns and prior packs match
  std::string component, type, name, code, title;
  std::size_t component_index = 0;  // into Analysis::components
  GradeDistribution prior{1, 0, 0};
  bool prior_is_own = false;  // given by the component itself: a prior pack does not override it
  ModeSize size{};
  bool size_is_own = false;         // given by the component itself, likewise
  std::vector<ModeState> states{};  // by grade; empty: one for each grade
};

// From which size a set, every mode of it that large, shows more than an observation's limits.
struct ShownFrom {
  double weight = 1;             // of this level of the load; those of a set sum to 1
  std::array<double, 2> size{};  // in the unit of ModeSize; infinite where it never does
};

// P(the set shows more than limit t | states of its modes)
//   = sum over levels l of weight[l] product over modes i of exceeds[i][(2 l + t) n_i + state],
// n_i the number of states of the set's i-th mode.
struct SetLink {
  std::vector<double> weight;
  std::vector<std::vector<double>> exceeds;
};

// One minimal set of an observation: all its modes are needed. Sorted, without repetition.
struct ModeSet {
  std::vector<std::uint32_t> modes;  // indices into Analysis::modes
  double probability = 1;  // of being effective; below 1 only in hand-written observations
  std::vector<ShownFrom> shown_from{};  // of the solve; empty where there was none: by grades
  SetLink link{};                       // empty: what it shows is the least grade of its modes
};

// Between which effects an observation's outcomes lie. `first` and `second` part three classes of
// effect: none, the first abnormal outcome's and the second's.
struct EffectLimits {
  enum class Unit { ml_per_min, mm_per_min, rev_per_min, percent } unit = Unit::ml_per_min;
  double first = 0, second = 0;  // in the unit; of a hold: the flow at its test pressure
  double floor = 0;              // shown where every mode is sound and of no size
  double resolution = 0;         // of what it is read with, in the unit
  // Of a hold, in trade units: it holds if it takes longer than `seconds` from the test pressure to
  // half of it.
  std::optional<double> seconds{};
};

// One opened port or cavity and what closes or joins it during the test.
struct Bring {
  std::string what;      // `adapter`, `plug`, `cavity plug`, `flow meter`
  std::string port;      // `component.port` or component
  std::string standard;  // may be empty when the circuit does not say
  std::string size;
  std::optional<double> rated_for{};  // Pa that it must stand
};

// A step of one test only, besides the setup that tests share. `when` says where it stands among
// the steps of the setup.
struct TestStep {
  enum class When { before_lockout, before_opening, before_pressure, afterwards };
  When when = When::before_opening;
  std::string id;  // `stop/<actuator>/<direction>`, `release/<valve>`, `hand_pump_relief`,
                   // `release`, `verify_zero`
  std::vector<std::string> at{};         // verify_zero: `component.port` of each volume reached
  std::vector<std::string> past_leak{};  // and of those only reached past a leak
};

// Which volume limits a test pressure, and why.
struct TestPressureLimit {
  std::string volume;   // `component.port`
  std::string by;       // `relief`, `fitting`, ...
  std::string part;     // component, port, line or function whose limit it is
  double stands = 0;    // Pa, before any share of it
  double factor = 1;    // pressure there per pressure at the port tested
  std::string suspect;  // the failure mode past which it is reached, `clearance`, or empty
};

// Why a hold is not proposed, or only without a figure.
struct NotProposed {
  std::string reason;  // an id
  std::string volume;  // `component.port`
  std::string part;    // component, if another than the volume's
};

struct Observation {
  std::string id;
  std::string title;    // as the circuit's document says; empty: the id says what it is
  std::string subject;  // of a function: what the document calls it
  ObservationKind kind = ObservationKind::static_hold;
  bool symptom = false;             // drift, delivery and hand-written symptoms: can be a complaint
  bool energised = false;           // needs the machine running, or a load left up
  bool written = false;             // hand-written
  bool statistics_are_own = false;  // matrix or background given by the circuit: a pack yields
  bool matrix_is_own = false;       // given by the circuit or a pack: not computed from `limits`
  std::vector<ModeSet> sets;
  std::vector<std::string> outcomes;
  std::vector<std::vector<double>> matrix;  // [grade][outcome]
  std::optional<EffectLimits> limits{};     // where the effects of its sets were solved
  GradeDistribution background{1, 0, 0};    // of the grade of an unmodelled cause
  std::array<double, 3> leak_median{};      // mL/min (share of rated flow for flow tests)
  std::array<double, 3> leak_sigma{};       // of ln leak rate
  double perform_minutes = 0;
  int people = 1;                       // that it takes
  std::vector<std::string> setup;       // ids in the order done: lockout, line/..., cartridge/...
  std::vector<TestStep> steps;          // of this test alone, in the order done
  std::optional<double> test_pressure;  // Pa
  std::optional<double> pressure_ceiling;    // Pa, what no pressure given for it may pass
  std::optional<double> reference_pressure;  // Pa, of readings, where it is not test_pressure
  std::optional<TestPressureLimit> pressure_limit;  // of test_pressure
  std::optional<NotProposed> withheld;              // may never be made as it stands: not proposed
  std::optional<NotProposed> no_figure;    // its pressure is to be had from the maker's documents
  std::optional<double> contracting_area;  // m2, drift only
  std::optional<double> rated_flow;        // m3/s, flow only
  std::optional<double> volume;            // trapped volume if the circuit gives it, m3
  double gas_volume = 0;                   // m3 of accumulators that a hold goes into
  std::vector<Bring> bring;
  std::vector<std::string> cautions;  // ids of cautions.h, most general first, then own texts
};

// A derived observation that this circuit does not have, and why.
struct Absent {
  enum class Why {
    open,            // oil flows with nothing leaking: open by design, or joined wrongly
    nothing_shows,   // no failure mode shows there
    load_other_way,  // a drift against the load
  } why = Why::open;
  std::string id;
  ObservationKind kind = ObservationKind::static_hold;
  std::vector<std::string> way;  // open: the elements that oil passes, `component.element`
};

struct SetupStep {
  std::string id;  // `lockout`, `line/<id>`, `cartridge/<component>`, `meter/<component>`
  double minutes = 0;
  std::vector<std::string> ends{};  // of a line: `component.port`
};

struct ConditionEffect {
  std::string id, title;
  double probability = 0;
  std::vector<std::pair<std::uint32_t, double>> raises;  // mode index, product of odds factors
};

struct Analysis {
  std::string id, title;
  std::vector<Component> components;  // as described
  std::vector<FailureMode> modes;
  std::vector<Observation> observations;
  std::vector<Absent> absent;
  std::vector<SetupStep> setup_steps;
  std::vector<ConditionEffect> conditions;
};

struct Limits {
  std::size_t components = 20000;
  std::size_t modes = 100000;
  std::size_t observations = 100000;
  std::size_t volumes = 200'000;            // ports and inner volumes of all components
  std::size_t elements = 1'000'000;         // of all components, and what modes do to them
  std::size_t type_volumes = 256;           // ports and inner volumes of one type
  std::size_t positions = 64;               // of one type; in which one element passes
  std::size_t lines_at_port = 64;           // that end at one port
  std::size_t conditions_per_mode = 10;     // that raise one mode
  std::size_t pattern_steps = 3'000'000;    // of comparing the patterns of conditions with modes
  std::size_t path_steps = 20'000'000;      // edges walked over all path searches
  std::size_t sets_per_observation = 4096;  // minimal sets kept
  std::size_t sets = 20'000;                // over all observations
  int barriers_per_path = 4;                // longer paths are ignored
};

// Throws Error (invalid_circuit, limit_exceeded) with a JSON pointer into the circuit document.
// `catalogue` holds the shipped types; the description's own types override them by name.
Analysis analyse(const Description& description, const std::vector<ComponentType>& catalogue,
                 const Limits& limits = {});

}  // namespace faultodds::circuit
