// A second, deliberately naive reading of what a circuit and a case mean, for checking the engine.
// Volumes are merged by repetition, leak paths enumerated one by one, and every probability summed
// over the full joint distribution of the conditions and of the three grades of every mode. It
// takes nothing from the engine, shares no code with it, and is not fast: up to about ten modes.
//
// It trusts its input: documents come from the generator or from a test's author. What it does
// check is what the semantics make meaningful to refuse: a function that cannot work, and evidence
// of probability zero.
#pragma once

#include <array>
#include <map>
#include <nlohmann/json.hpp>
#include <optional>
#include <set>
#include <stdexcept>
#include <string>
#include <vector>

namespace oracle {

using Json = nlohmann::ordered_json;
using Grades = std::array<double, 3>;

// The rules of the semantics, each of which can be broken on purpose: a comparison that still
// passes with a broken rule is not checking that rule.
enum class Broken {
  nothing,
  expanding_chamber,     // the expanding volume is a sink when its area is smaller, not larger
  check_direction,       // a check passes to -> from
  relief_passes,         // a relief passes from -> to
  open_in,               // `open_in` is ignored: every land blocks
  neutral_default,       // functions leave every valve in neutral
  lines_stay_on,         // a static test is made with its lines on
  other_ports,           // a static test of an actuator ignores its other ports
  plug_leaves_elements,  // a plugged cartridge keeps its elements
  path_limit,            // no limit on blocking elements
  minimal_sets,          // sets that contain another set are kept
  delivery_minimal,      // delivery: leak sets that contain a restriction are kept
  shared_background,     // each piece of evidence has a background of its own
  background,            // no background at all
  noisy_sets,            // `probability` of a hand-written set is ignored
  conditions,            // conditions never hold
  one_factor,            // only the largest factor of the conditions acts on a mode
  restrictions,          // delivery ignores restrictions
  weak_source,           // delivery ignores a weak source
  return_side,           // delivery: the contracting volume is not a sink
  normal_exponent,       // q_ref = q (p_ref/p), whatever the exponent
  censored_as_seen,      // a reading below the limit counts as one at the limit
  sum_of_modes,          // information about the faults is the sum over single modes
  likelihood_of_all,     // a caller's likelihood is over G, not over S
  cause_ties,            // of equal sets the first is the cause
  cause_background,      // what the circuit does not model gives way to a set of its grade
  cause_of_all_sets,     // a hand-written set that does not show may still be the cause
  complaint_focus,       // the complaint is not what `focus` names
  complaint_time,        // the complaint is the first by id, whatever the times
  complaint_tests,       // an abnormal test never stands for the complaint
  repairs,               // what was seen before a repair counts as seen of the new part
  new_parts,             // a part fitted has the prior of the one that was in
  pack_over_own,         // a prior pack replaces a prior of the component's own
  class_of_asset,        // the asset's class does not matter to the pack
  hours,                 // hours in service do not matter
  pack_outcomes,         // outcome statistics of a pack do not matter
  said_twice,            // what is said twice counts twice
  looked_again,          // `again` does not matter
  said_at,               // `at` does not matter
};
inline constexpr int kBrokenCount = static_cast<int>(Broken::said_at) + 1;
const char* name(Broken rule);

// The document, or the case, is refused; `status` is the snake_case name of the C ABI's status.
struct Refused : std::runtime_error {
  Refused(std::string status_name, const std::string& message)
      : std::runtime_error(message), status(std::move(status_name)) {}
  std::string status;
};

struct Set {
  std::set<int> modes;  // indices into Structure::modes
  double probability = 1;
};

struct Mode {
  std::string id, type_mode, component;
  Grades prior{1, 0, 0};
  struct WearOut {  // P(not sound by h hours) = 1 - exp(-(h/scale)^shape)
    double shape = 1, scale_hours = 1, failed_share = 0.5;
  };
  std::optional<WearOut> wear_out;  // rules where the case gives the component's hours
};

struct Observation {
  std::string id, kind;
  bool symptom = false, written = false;
  std::optional<bool> energised;
  std::vector<Set> sets;
  std::vector<std::string> outcomes;
  std::vector<std::vector<double>> matrix;  // [grade][outcome]
  Grades background{1, 0, 0};
  Grades median{0.5, 30, 1000}, sigma{1.2, 1.0, 1.0};
  std::optional<double> reference_pressure, area, rated_flow, volume;  // SI
  double minutes = 0;
  std::vector<std::string> setup;
  // Static holds: what no test pressure may exceed, 80 % of the lowest relief setting the port sees
  // and the rating of every fitting on the way.
  std::optional<double> pressure_ceiling;
};

struct Condition {
  double probability = 0;
  std::map<int, double> factors;  // mode -> product of its factors in this condition
};

struct Structure {
  std::vector<Mode> modes;
  std::vector<Observation> observations;
  std::vector<Condition> conditions;
  std::map<std::string, double> setup_minutes;
  std::map<std::string, int> features;  // what occurred, for coverage counts
  bool doubtful = false;  // rests on something the semantics do not settle; see oracle.cpp

  const Observation* find(const std::string& id) const;
};

// Throws Refused. `pack` is a prior pack document, of which `asset_class` selects. The circuit's
// own `types` are all there are.
Structure analyse(const Json& circuit, Broken rule = Broken::nothing,
                  const Json& pack = Json::object(), const std::string& asset_class = {});

// `asset` `class` of a case document, empty if it has none.
std::string asset_class(const Json& the_case);

struct Fault {
  Grades grades{};
  std::optional<double> prior_odds, posterior_odds, decibans;  // none: infinite or undefined
};

struct Test {
  std::map<std::string, double> probability;
  double information_bits = 0, minutes = 0;
  std::optional<double> cause_bits;  // none: not given by the side compared
  std::optional<bool> energised;
};

// What ruled one observation: the distribution of its cause, which sums to one.
struct Causes {
  std::string observation;
  std::map<std::set<std::string>, double> sets;  // by the components of the set
  double by_design = 0, elsewhere = 0, nothing = 0;
};

struct Answer {
  double log_evidence = 0;
  std::map<std::string, Fault> faults;
  std::map<std::string, Test> tests;
  std::set<std::string> complaint;  // all abnormal symptoms
  // Of the complaint that was chosen, then of every other abnormal symptom in the circuit's order.
  // None: not given by the side compared.
  std::optional<std::vector<Causes>> causes;
  std::set<std::string> withheld;  // holds that an engine may not propose; the oracle has none
  std::map<std::string, int> features;
};

// Throws Refused.
Answer assess(const Structure& structure, const Json& the_case, Broken rule = Broken::nothing);

// Seconds, metres, pascals, ...: the value of "3 mm/min" in SI units.
double quantity(const std::string& text);

}  // namespace oracle
