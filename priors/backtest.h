// Replays closed work orders in time order, with only what was known when each was opened, and says
// how good a pack's odds were and what following its ranking would have cost. Prequential: the pack
// for a job is asked for by the day the job was opened, so that it can be fitted on orders closed
// before that day. A test's recorded outcome is revealed only when the ranking asks for that test;
// how often it asked for a test nobody made is reported. It learns nothing itself (learning.h,
// pack.h).
#pragma once

#include <cstdint>
#include <functional>
#include <memory>
#include <optional>
#include <string>
#include <vector>

#include "core/circuit/analysis.h"
#include "core/diagnosis/model.h"
#include "priors/distributions.h"
#include "priors/learning.h"

namespace faultodds::priors {

// The pack to be used for a job opened that day on a circuit. Called in order of days; returning
// the same pointer as before spares compiling it again.
using PackOnDay = std::function<std::shared_ptr<const diagnosis::Pack>(Date day)>;

// The same pack whatever the day: the shipped one.
PackOnDay fixed_pack(diagnosis::Pack pack);

// Learns anew on the jobs closed before the day asked for, after `at_least` more of them and half
// as many again as before, which keeps the work to three times that of learning once.
PackOnDay relearned_pack(const std::vector<circuit::Analysis>& circuits,
                         const std::vector<Job>& jobs,
                         const std::map<ModeName, Dirichlet>& judgement,
                         const LearnOptions& options, std::size_t at_least);

// What the replay ranks tests by, per minute and locked-out ones first either way.
enum class Ranking {
  suspect_bits,  // suspect_bits.h: thousands of jobs on a large circuit in minutes
  cause_bits,    // as an assessment ranks: some twenty times the work once ten tests are known
};

struct BacktestOptions {
  std::string asset_class;
  Ranking ranking = Ranking::suspect_bits;
  std::size_t most_jobs = 0;    // replayed, evenly spaced in time; 0: all
  std::size_t threads = 1;      // the result does not depend on it
  double isolated = 0.9;        // the true cause at least this sure, and first
  std::size_t most_tests = 50;  // of one job
  std::function<bool(std::size_t jobs_done)> progress;  // false cancels
};

// How one job went.
struct Replay {
  std::string job, machine;  // the machine empty: not recorded
  // On all recorded outcomes, over the components that were opened:
  double log_score = 0;  // nats: -ln of what was said of each being as it was found, summed
  double brier = 0;      // mean squared error of P(not sound)
  // Where a cause was found; jobs where none was count in the scores only, for leaving them out
  // would make every fault look likelier than it was:
  bool cause_found = false;
  // Of the first true cause among all components, from 1, after the complaint. No proper score: of
  // several faulty components a record names the one that was opened first, and the true odds need
  // not rank that one best.
  double rank = 0;
  bool isolated = false;                      // on the recorded outcomes
  std::size_t tests = 0, tests_recorded = 0;  // until isolated, by the ranking and as recorded
  double minutes = 0, minutes_recorded = 0;
  std::size_t unmade = 0;  // times the ranking asked for a test that nobody made
};

// A component opened second was opened because the first was sound, which its forecast does not
// know: the middle of the curve lies a little high for a true pack.
struct CalibrationBin {
  double low = 0, high = 1;         // of P(not sound) before the component was opened
  double predicted = 0, found = 0;  // mean of it, and share found not sound
  std::size_t count = 0;
  Interval interval;  // of the share, Jeffreys
};

struct Backtest {
  std::vector<Replay> jobs;  // in the order replayed
  std::size_t left_out = 0;  // without an opening day, a complaint or anything examined
  std::size_t not_sampled = 0;
  std::size_t with_cause = 0;
  double log_score = 0, brier = 0;  // means
  // Of the jobs with a cause found: means and shares.
  double rank = 0, first_ranked = 0;
  double tests = 0, tests_recorded = 0, minutes = 0, minutes_recorded = 0;
  double isolated = 0;
  std::size_t unmade = 0, asked = 0;
  std::vector<CalibrationBin> calibration;
};

Backtest backtest(const std::vector<circuit::Analysis>& circuits, const std::vector<Job>& jobs,
                  const PackOnDay& pack, const BacktestOptions& options = {});

// Of the second pack against the first on the same jobs (tests and minutes: those with a cause
// found); negative is better.
struct PairedDifference {
  double mean = 0;
  // 90 %, Student's on the paired differences summed by machine: jobs of one machine are no
  // independent witnesses (K.-Y. Liang and S. L. Zeger 1986, from memory). Where the machine is not
  // recorded each job stands alone.
  Interval interval;
};

// By the log score alone. It is proper: no pack is expected to do better than the true one, which
// is therefore called worse in one fleet of twenty at most. Tests and minutes are no proper scores
// (a true pack may ask for more tests than a rash one) and are told, not judged by.
enum class Verdict {
  better,       // beyond chance, and its findings were looked at
  cannot_tell,  // neither, or better on findings that nobody looked at
  worse,        // beyond chance
};

// Of findings that were looked at, below which a better score recommends nothing: a shop that books
// what was proposed to it scores its own proposals. Working judgement.
inline constexpr double kLeastConfirmed = 0.5;

struct Comparison {
  std::size_t jobs = 0, machines = 0;
  std::optional<double> confirmed;  // share of the findings that were looked at; none: not recorded
  PairedDifference log_score, brier, tests, minutes;
  Verdict verdict = Verdict::cannot_tell;
  std::string because;  // one sentence
};

// Throws Error(invalid_argument) unless both replayed the same jobs in the same order, 10 at least.
Comparison compare(const Backtest& first, const Backtest& second,
                   std::optional<double> confirmed = std::nullopt);

// Multiclass scores of one forecast, for tests and other uses.
double brier_score(const std::vector<double>& forecast, std::size_t happened);
double log_score(const std::vector<double>& forecast, std::size_t happened);

}  // namespace faultodds::priors
