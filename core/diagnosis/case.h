// What is known of one machine so far: the evidence of a work order. A value type; not thread-safe
// while it is changed. It refers to observations and modes by index into the model's analysis.
#pragma once

#include <array>
#include <cstdint>
#include <map>
#include <optional>
#include <string>
#include <vector>

#include "core/diagnosis/economics.h"
#include "core/reading/reading.h"

namespace faultodds::diagnosis {

// One observation made. Exactly one of outcome, reading and likelihood is set.
struct Evidence {
  std::uint32_t observation = 0;         // index into Analysis::observations
  std::optional<std::uint32_t> outcome;  // index into its outcomes
  std::optional<reading::Reading> reading;
  std::optional<std::array<double, 3>> likelihood;  // over the structural grade S
  std::string pointer;                              // its place in the case document
  std::uint32_t repairs_before = 0;                 // how many of Case::repairs preceded it
  std::string at;      // when it was made, as the case says it; not interpreted
  bool again = false;  // looked at once more, though it says what an earlier entry says
};

// Components replaced by new ones in the course of the case.
struct Repair {
  std::vector<std::string> components;
  std::string pointer;
};

// A test that cannot be made on this machine: it is never proposed.
struct NotPossible {
  std::uint32_t observation = 0;
  std::string reason;
};

// An adapter, plug, cavity plug or flow meter, as a test's Bring names it. What is not said fits
// any.
struct FittingAtHand {
  std::string what, standard, size;
};

// What there is to work with. What a case does not say is no obstacle.
struct Work {
  std::vector<std::string> parts;                      // components or types that are on the shelf
  std::optional<std::vector<FittingAtHand>> fittings;  // that are there; unsaid: all
  double fetch_minutes = 0;                            // once, for whatever is not there
  std::optional<double> block_load_minutes;            // once, before anything is opened
  std::optional<int> people;                           // 1 or 2
  std::optional<double> second_person_minutes;         // until a second comes to one; unsaid: never
  std::optional<double> ready_within_minutes;          // in which the machine must run
  std::vector<std::uint32_t> order;                    // tests that the technician wants to make
};

// What is asked: the cause of the complaint, of one observation, or all faults of the circuit.
enum class Focus { automatic, complaint, circuit, observation };

struct Case {
  std::vector<Evidence> evidence;  // each counts: what is said twice is in it once (said.h)
  // Entries that were left out because they were said before, by observation.
  std::map<std::uint32_t, std::uint32_t> said_before;
  std::vector<std::string> setup_done;
  std::map<std::string, double> component_hours;
  std::map<std::string, double> sound_at;  // hours of a component when it was last known sound
  std::optional<double> meter_hours;  // of the machine: of components whose hours are not given
  Focus focus = Focus::automatic;
  std::uint32_t focus_observation = 0;    // where focus is Focus::observation
  std::vector<Repair> repairs;            // in the order made
  std::vector<NotPossible> not_possible;  // each observation once
  // Observations from this index on were made of parts since replaced (renewal.h).
  std::uint32_t past_from = static_cast<std::uint32_t>(-1);
  // For advice.h:
  Economics economics;
  Work work;
  std::optional<double> visit_minutes;  // what a visit may take
  bool look_further = true;             // one test further before saying stop
  // What tests tell of all failure modes is computed where it does not rank them, too.
  bool fault_bits = true;
  // Causes of what was complained of before the last repair are shown, too.
  bool earlier_causes = true;

  bool can_make(std::uint32_t observation) const {
    for (const NotPossible& one : not_possible) {
      if (one.observation == observation) return false;
    }
    return true;
  }
};

}  // namespace faultodds::diagnosis
