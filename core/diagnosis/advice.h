// What to do now: repair what, make which test, or stop testing; what else might be faulty, and how
// to prove the repair. Everything is expected cost under the posterior, exact where a junction tree
// holds the circuit, else over the most probable hypotheses; how it is shown is the documents'
// business.
//
//   cost of a repair set R   cost(R) + P(R does not cure the complaint | e) x what follows
//   value of a test          what the best set costs now, less what it is expected to cost once the
//                            outcome is known; worth making while that exceeds its minutes' cost
//
// Two tests may each be worth nothing and together a lot, so before it says stop it looks one test
// further.
#pragma once

#include <cstddef>
#include <cstdint>
#include <memory>
#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <vector>

#include "core/diagnosis/case.h"
#include "core/diagnosis/contradiction.h"
#include "core/diagnosis/evidence_trail.h"
#include "core/diagnosis/model.h"
#include "core/diagnosis/renewal.h"
#include "core/diagnosis/visit.h"
#include "core/message.h"

namespace faultodds::diagnosis {

struct RepairPlan {
  std::vector<std::uint32_t> components;  // in the order to exchange and check them
  double cost = 0;                        // parts, labour, downtime, waiting
  double residual_risk = 0;               // P(it does not cure the complaint | e)
  double expected_cost = 0;               // cost + residual risk x what follows
};

struct TestValue {
  std::uint32_t observation = 0;
  double minutes = 0;          // setup still to do included
  double cost = 0;             // of those minutes
  double expected_saving = 0;  // by the best repair after each outcome
  double net() const { return expected_saving - cost; }
};

// A first test that pays because of what can be tested after it.
struct TwoTests {
  TestValue first;                     // its saving on its own
  std::vector<std::uint32_t> seconds;  // tests that follow some outcome of the first
  double expected_saving = 0;          // of both, the second only where it pays; at least this
  double cost = 0;                     // of the first, and of the second as often as it is made
  double net() const { return expected_saving - cost; }
};

struct SecondFaultCheck {
  std::uint32_t observation = 0;
  double minutes = 0;      // setup of the checks before it done
  double probability = 0;  // of a second fault, this and all checks before it normal
};

struct SecondFault {
  double target = 0;
  double probability = 0;                // now: P(the repair does not cure the complaint | e)
  std::vector<SecondFaultCheck> checks;  // none where nothing is to be ordered
  bool reached = false;                  // by the checks, all normal
};

struct Verification {
  std::uint32_t observation = 0;
  double minutes = 0;
  double normal = 0;          // P(normal outcome) if the repair is sound
  double risk_if_normal = 0;  // P(the complaint stays) then
  bool is_complaint = false;  // the complaint itself looked for again
};

// What must be ready in time, where the case says in which.
struct InTime {
  struct TooLong {
    std::uint32_t component = 0;
    double minutes = 0;  // until it is in: labour, and delivery by the calendar
    double lead_days = 0;
  };
  double ready_within = 0;          // minutes
  double minutes = 0;               // that `Advice::repair` takes
  std::vector<TooLong> too_long;    // parts that cannot be in by then
  std::optional<RepairPlan> later;  // the best without that limit, where it is another
};

// The technician's own next test, where the case says an order.
struct OwnOrder {
  std::uint32_t test = 0;
  std::optional<std::uint32_t> instead_of;  // what would be advised; none: to stop testing
  double extra_cost = 0;                    // expected, above that; looking no further ahead
};

// A part taken out in the course of the case, in hindsight.
struct ReplacedPart {
  std::uint32_t component = 0;
  double faulty = 0;  // P(it was not sound | everything known now)
};

struct Advice {
  std::string currency;  // ISO 4217, of every amount
  double come_back = 0;  // what coming again costs where nothing was repaired
  double error = 0;      // estimate of how far any probability in it is off; 0: exact
  bool stop = true;
  Messages reason;
  std::optional<std::uint32_t> test;  // to make next, when not to stop
  bool again = false;                 // it was made before, and is looked at once more
  double minutes = 0;                 // of that test, with the setup still to do
  std::vector<double> outcomes;       // P(outcome | e) of it
  // P(the cause is none that the circuit describes | e), where nothing is likelier: then no part is
  // ordered before the complaint, the connections and the circuit document were looked at.
  std::optional<double> elsewhere;
  // Likewise P(nothing is wrong and the complaint within its limits | e), where that is likelier
  // than not.
  std::optional<double> unfounded;
  // All that is worth ordering is new already: it is not ordered once more before somebody looked
  // for another cause, and the complaint was seen three times since. First of `alternatives`: what
  // was held back.
  bool renewed_shows = false;
  // What is most doubtful of all that was seen, where that contradicts itself. No part is ordered
  // before it was looked at again, which is the test to make next where no other pays.
  std::optional<Contradiction> contradiction;
  std::optional<OwnOrder> own_order;  // then `test` is its
  std::optional<InTime> in_time;
  RepairPlan repair;
  std::vector<RepairPlan> alternatives;  // next best sets
  std::vector<TestValue> tests;          // largest net saving first
  std::optional<TwoTests> two_tests;
  double perfect_information = 0;  // no tests whatever can save more than this
  SecondFault second_fault;
  std::vector<Verification> verify;  // after the repair
  std::vector<ReplacedPart> replaced;
  EvidenceTrail trail;
  std::optional<VisitPlan> visit;  // when the case says how long it may take
  BringList bring;                 // for every test named above
};

// Nothing when no abnormal observation is recorded: there is no complaint to cure.
// Throws Error (invalid_case, conflicting_evidence).
std::optional<Advice> advise(const Model& model, const Case& the_case);

// Advice as a model keeps it, for screens are drawn again and notes are written of what was asked
// before. Nothing where there was no complaint.
struct KeptAdvice {
  std::optional<Advice> advice;
  std::size_t bytes() const;  // about
};

// advise(), or what it said of the same `question`, which has to tell all of the case, byte for
// byte.
std::shared_ptr<const KeptAdvice> advise_once(const Model& model, const Case& the_case,
                                              std::string_view question);

// Of the same what is to be done alone: test, repair, verification. The case's repairs are in the
// model, in `present` and in `replaced` already (renewal.h).
std::optional<Advice> decide(const Model& model, const Case& the_case, const Present& present,
                             std::span<const PartBefore> replaced);

}  // namespace faultodds::diagnosis
