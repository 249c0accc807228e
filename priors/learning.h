// Learning through a diagnosis model: grade priors and outcome statistics from closed work orders
// whose cause is ambiguous ("whole valve replaced"), partly tested, or recorded only because of a
// complaint. Expectation-maximisation with exact inference; intervals from the observed
// information, so what ambiguity costs shows in them.
//
// Selection: a job that exists because symptom C was seen enters with P(record | C), not P(record):
// the machines that did not complain are missing data. Where orders tell of faults alone, those of
// which nothing was found are too, of several faults the order names the first that was opened, and
// at what level all modes are together stays as judged. Which tests were made may depend on what
// was recorded before and needs no model. That only suspects are opened and confirmed does not bias
// this as it biases counting, as long as the outcomes that raised the suspicion are in the record.
//
// Not learned here: wear-out (pack.h), conditions (kept as the circuit has them; what they raise is
// taken off the learned prior to first order), leak-rate bands of flow tests (records hold their
// outcomes).
#pragma once

#include <array>
#include <cstdint>
#include <functional>
#include <map>
#include <optional>
#include <string>
#include <string_view>
#include <tuple>
#include <vector>

#include "core/circuit/analysis.h"
#include "core/diagnosis/case.h"
#include "core/diagnosis/model.h"
#include "priors/distributions.h"
#include "priors/leak_rates.h"
#include "priors/records.h"
#include "priors/sizes.h"

namespace faultodds::priors {

// At least one of these modes was not sound; the worst of them as graded, if it was.
struct Finding {
  std::vector<std::uint32_t> modes;    // indices into the circuit's modes, ascending
  std::optional<int> grade;            // 1 or 2
  std::optional<bool> confirmed = {};  // somebody looked; no: booked as it was proposed
  bool operator==(const Finding&) const = default;
  bool operator<(const Finding& other) const {
    return std::tie(modes, grade, confirmed) < std::tie(other.modes, other.grade, other.confirmed);
  }
};

// One closed work order, understood on its circuit.
struct Job {
  std::string id;
  std::string asset;                          // the machine; empty: not recorded
  std::string site;                           // whose machines these are; empty: not recorded
  std::uint32_t circuit = 0;                  // index into the circuits it was resolved against
  std::optional<std::uint32_t> complaint;     // the symptom that brought the machine in
  std::vector<diagnosis::Evidence> evidence;  // in the order recorded, the complaint's included
  std::size_t said_before = 0;       // what a row says twice without `again`, and is in it once
  std::vector<Finding> findings;     // four ambiguous ones at most
  std::vector<std::uint32_t> sound;  // modes found sound, ascending
  std::map<std::string, double> component_hours;
  std::optional<Date> opened;
  Date closed;
  std::optional<double> minutes;
  std::uint64_t orders = 1;  // that say this
};

struct ModeName {
  std::string type, mode;
  bool operator==(const ModeName&) const = default;
  bool operator<(const ModeName& other) const {
    return std::tie(type, mode) < std::tie(other.type, other.mode);
  }
};

struct LearnOptions {
  bool select_by_complaint = true;
  bool learn_outcomes = false;
  // Records are not taken at their word: parts are booked faulty that nobody opened, faults are
  // overlooked, tests are less sharp than the circuit says and sites differ. How much is estimated,
  // each with a prior of its own (RecordErrors), and intervals carry what that costs.
  bool doubt_records = false;
  double unseen_spread = 0;   // of the log odds, between sites that records do not tell apart
  double outcome_worth = 10;  // jobs' worth of each row of the present outcome matrices
  double rate_worth = 5;      // readings' worth of the present leak-rate bands of each grade
  int most_iterations = 2000;
  bool intervals = true;    // costs some EM steps for every mode; else posteriors are only as
                            // sure as the judgement
  double tolerance = 1e-8;  // of the grade distributions
  std::size_t threads = 1;  // the result does not depend on it
  // Called after every iteration with its number and the log posterior; false cancels.
  std::function<bool(int, double)> progress;
};

struct LearnedMode {
  Dirichlet prior, posterior;      // posterior: what is known, its weight the information left
  std::array<double, 3> counts{};  // expected grades among the machines recorded
  double not_sound = 0;
  Interval not_sound_interval;
};

// Share of findings of parts that nobody looked at. Records tell it by how often the next part that
// is looked at should be faulty and is booked so, and by the modes that it is booked with.
struct Booked {
  double share = 0;
  Interval interval;
  bool told = false;  // else it is mostly what was judged before
};

// How far records can be taken at their word, as estimated. The priors are working judgement.
struct RecordErrors {
  Booked booked_unseen;    // where it is not told whether anybody looked
  Booked confirmed_wrong;  // though somebody is said to have looked
  double overlooked = 0;   // share of faults of parts that were looked at and found sound
  double unexplained = 0;  // share of complaints with a cause whose order has no finding
  double site_spread = 0;  // between sites, of the log odds of a mode
  std::size_t sites = 1;
  std::size_t not_looked_at = 0;  // findings booked as proposed, which count for nothing
  // Orders without a finding are not kept: how often a part is faulty stays as judged, and records
  // tell how modes compare.
  bool faults_alone = false;
};

// Two modes whose sum the records tell better than either: the correlation of their log odds.
struct NotToldApart {
  ModeName first, second;
  double correlation = 0;
};

struct Learned {
  std::map<ModeName, LearnedMode> modes;
  RecordErrors errors;
  std::vector<NotToldApart> not_told_apart;       // the worst first
  std::vector<diagnosis::PackOutcomes> outcomes;  // by kind, or by id where hand-written
  double log_likelihood = 0;                      // of the records, given their complaints
  std::size_t jobs = 0, patterns = 0;             // different records among them
  int iterations = 0;
  bool converged = false;
};

// `judgement` gives the prior of each mode; modes without one get Jeffreys'. Modes whose prior the
// circuit gives itself are left alone. Throws Error(invalid_case) naming the job whose record is
// impossible or wrong, Error(cancelled).
Learned learn(const std::vector<circuit::Analysis>& circuits, const std::vector<Job>& jobs,
              const std::map<ModeName, Dirichlet>& judgement, const LearnOptions& options = {});

// What readings say where a record settles which grade, or which mode, they are of.
struct Confirmed {
  // Of records where the grade S that the circuit's faults give the observation is all but certain
  // (95 %, by exact inference) from what was found and from the other evidence, the reading itself
  // left out. A reading is shared between that grade and those of an unmodelled cause by the
  // circuit's background and bands. Left out as in learning outcomes: repeats, the complaint's own
  // reading under selection; and rates of 0, flow tests, and records that are impossible on their
  // circuit or hold evidence that cannot be used there.
  LeakRates leak_rates;
  // From the same readings of locked-out holds: of the one mode that is worn or failed and shows in
  // the hold by itself, or of the one that by its median takes most of what sound parts let through
  // where all are sound; both all but certain likewise. In mL/min at 100 bar and 46 mm2/s by the
  // mode's law, the oil as cold as the shop. Modes that are a loss of flow, and those whose size
  // the circuit's component gives, are left out; so are circuits that give a type other sizes than
  // an earlier one did.
  Sizes sizes;
};

// Depends on the record, `judgement` and the circuit only, never on other records: sums from parts
// of the records add up to the sums from all.
Confirmed confirmed_by(const std::vector<circuit::Analysis>& circuits, const std::vector<Job>& jobs,
                       const std::map<ModeName, Dirichlet>& judgement,
                       const LearnOptions& options = {});

// The learned priors and outcomes as a pack for the engine, for one asset class or every.
diagnosis::Pack learned_pack(const Learned& learned, const std::string& id,
                             const std::string& asset_class = {});

// Throws Error(invalid_case) that names the work order.
[[noreturn]] void refuse_job(const Job& job, const std::string& message);

// A work order's `complaint` ("drift/lift/retract" or "drift/lift/retract=fast") and `tests`
// ("static/valve.a=held; static/valve.b=40 mL/min"), in the order made, on a circuit. Findings are
// resolved for component `component` (an id of the circuit), else for the order's `position`, else
// for all components of the order's type.
// Rows of one work order are brought together by add_row.
// Throws Error(invalid_case) that names the observation or outcome that is not the circuit's.
Job job_of(const WorkOrder& order, const Vocabulary& vocabulary, const circuit::Analysis& circuit,
           std::uint32_t circuit_index, std::string_view component = {});

// Adds what another row of the same work order found to `job`.
void add_row(Job& job, const Job& row);

}  // namespace faultodds::priors
