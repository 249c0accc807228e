// Learning through the circuit while it runs: records as patterns, parameters, the E and the M
// step. Of learning.cpp and learner*.cpp alone. What a record says is made in job.cpp.
#pragma once

#include <algorithm>
#include <array>
#include <cstdint>
#include <limits>
#include <map>
#include <optional>
#include <set>
#include <string>
#include <utility>
#include <vector>

#include "core/diagnosis/evidence.h"
#include "core/diagnosis/program.h"
#include "core/reading/reading.h"
#include "priors/learning.h"
#include "priors/levels.h"
#include "priors/record_plan.h"

namespace faultodds::priors {

// Why a record may not be taken at its word; each happens in a share of cases.
enum Doubt : std::size_t {
  // Instead of the next look a part is booked that nobody looked at: before any part was found
  // sound, after one, after two, after more; the fifth, by finding, when sound parts were not
  // written down. Whether anybody looked is not told.
  not_told = 0,
  said_seen = 5,    // likewise, though somebody is said to have looked
  overlooked = 10,  // a fault of a part that was found sound
  unexplained,      // the complaint had a cause, and the order has no finding
};
inline constexpr std::size_t looks_told_apart = 4;
inline constexpr std::size_t bookings = 10;  // the first ones
inline constexpr std::size_t doubts = 12;
inline Doubt untold(Doubt booking) { return static_cast<Doubt>(booking + looks_told_apart); }
inline Doubt after(Doubt booking, std::size_t looks) {
  return static_cast<Doubt>(booking + std::min(looks, looks_told_apart - 1));
}

// What grades of a mode a record leaves possible, times a sign: the record's probability is a sum
// of such terms, by inclusion and exclusion over its ambiguous findings, and over which of its
// findings say nothing where records are doubted.
struct Term {
  double sign = 1;
  std::map<std::uint32_t, Grades> grades;
  std::vector<std::uint32_t> sound;             // modes said to be sound
  std::array<int, bookings> blind{}, looked{};  // parts that were booked unseen, and looked at
  std::array<int, 2> seen{};  // findings that somebody saw: not told so, and told so
};
inline void restrict_to(Term& term, std::uint32_t mode, const Grades& possible) {
  const auto [at, added] = term.grades.emplace(mode, possible);
  if (added) return;
  for (std::size_t g = 0; g < 3; ++g) at->second[g] *= possible[g];
}

// Jobs that say the same on the same circuit at the same site.
struct Pattern {
  std::uint32_t circuit = 0;
  std::size_t site = 0;
  std::optional<std::uint32_t> complaint;
  diagnosis::Case evidence;
  std::vector<Term> terms;
  const Job* example = nullptr;
  double jobs = 0;
  bool telling = true;  // when parts that were found sound were written down
  std::size_t plan = 0;
  // Of the complaint among the observations made, where there is one.
  std::optional<std::size_t> complaint_at;
  bool found = false, not_looked_at = false;  // faults, but for those that nobody looked at
  // Nothing was found, which speaks against a cause.
  bool unexplained() const { return complaint_at && !found && !not_looked_at; }
};

// One grade distribution for each (type, mode) that the circuits do not fix.
struct Parameter {
  ModeName name;
  Dirichlet prior;
};

// Outcome statistics learned together: of one kind, or of one hand-written observation.
struct OutcomeGroup {
  std::optional<circuit::ObservationKind> kind;
  std::string id;
  circuit::OutcomeModel start;
};

// Expected pairs of the grade an instrument saw and what it said, and of the unmodelled cause.
struct OutcomeCounts {
  std::vector<std::vector<double>> seen;  // [grade seen][outcome]
  Grades background{};
};

// All that is estimated.
struct State {
  std::vector<Grades> middle;                 // by parameter: of no site in particular
  std::vector<std::vector<Grades>> at_site;   // by site
  std::vector<circuit::OutcomeModel> models;  // by group
  std::array<double, doubts> share{};
  double site_spread = 0;
  double judged_spread = 0;  // how far off judgement of a mode mostly is, in log odds
};

class Learner {
 public:
  Learner(const std::vector<circuit::Analysis>& circuits, const std::vector<Job>& jobs,
          const std::map<ModeName, Dirichlet>& judgement, const LearnOptions& options);

  Learned run(std::size_t jobs);

  // With the priors before any record.
  Confirmed confirmed();

 private:
  static constexpr std::size_t fixed = static_cast<std::size_t>(-1);
  static constexpr std::size_t block = 32;      // records
  static constexpr double certain = 0.95;       // of a grade
  static constexpr double most_of_sound = 0.7;  // of what sound parts let through
  // Of RecordErrors, worth so many findings, those of booking a quarter each; working judgement.
  static constexpr Beta before_not_told{0.5, 4.5}, before_said_seen{0.125, 6.125};
  static constexpr std::array<Beta, doubts> doubt_prior{
      before_not_told,  before_not_told,  before_not_told,  before_not_told,
      Beta{2, 18},      before_said_seen, before_said_seen, before_said_seen,
      before_said_seen, Beta{0.5, 24.5},  Beta{1, 49},      Beta{1, 9}};
  static constexpr double spread_before = 0.4, spread_worth = 10;  // of modes at sites
  static constexpr double background_worth = 10;  // times that of a row of outcomes

  struct Step {
    // Expected complete data by site, machines that did not complain included, and without them.
    std::vector<std::vector<Grades>> counts, recorded;
    std::vector<OutcomeCounts> outcomes;     // by group
    std::array<double, doubts> yes{}, no{};  // how often each doubt was justified
    // Findings that somebody saw, not told so and told so, when sound parts were told too.
    std::array<double, 2> seen{};
    double log_likelihood = 0, log_posterior = 0;

    void add(const Step& other);
  };

  std::size_t parameter(const circuit::FailureMode& mode,
                        const std::map<ModeName, Dirichlet>& judgement);

  std::size_t group(const circuit::Observation& observation);

  // What the records as a whole leave out.
  void see_what_is_told(const std::vector<Job>& jobs);
  // When parts that were found sound were written down, as far as the records' days compare.
  void see_when_sound_is_told(const std::vector<Job>& jobs);
  void make_patterns(const std::vector<Job>& jobs);
  std::vector<Term> terms_of(const Job& job, bool telling) const;
  // Where only what was found is told: that it was found first of all that is faulty.
  void found_first(const Job& job, std::vector<Term>& terms) const;
  // Modes of the parts that a complaint has opened, its causes or not.
  std::set<std::uint32_t> suspects(std::uint32_t c, std::uint32_t complaint) const;
  // Findings, and parts where it is not told which was next, among which one that nobody saw might
  // have been booked, for this one.
  double choices(const Job& job, const Finding& finding) const;
  std::size_t plan_of(const Pattern& pattern);

  State first_state() const;

  static Grades mean_of(const Dirichlet& prior, const Grades& counts);

  // Mode priors that, with the circuit's conditions summed out, have these marginals.
  diagnosis::Model compile(std::size_t c, const State& state) const;

  // Priors of the modes of a circuit, before any condition acts on them.
  std::vector<Grades> base_priors(std::size_t c, const std::vector<Grades>& theta) const;

  static Grades without_conditions(const circuit::Analysis& analysis,
                                   const diagnosis::ModeConditions& by, const Grades& wanted);

  // What is the same for all records while the state is.
  void prepare(const State& state);

  // The grades of the modes that a plan is about, under one term of a record.
  struct Inference {
    double log_probability = -std::numeric_limits<double>::infinity();
    std::vector<Grades> modes;
    std::vector<Grades> observed;  // S of each observation with evidence
  };

  // Likelihood of S of each observation of a pattern, ascending; adds to *log_scale.
  std::vector<Grades> likelihoods(const State& state, const Pattern& pattern,
                                  double* log_scale) const;
  diagnosis::Case case_of(const State& state, const Pattern& pattern) const;

  struct Workspace {
    RecordPlan::Scratch scratch;
    std::optional<diagnosis::Program::Lease> propagation;
  };
  Inference infer(const State& state, const Pattern& pattern, const std::vector<Grades>& likelihood,
                  const std::map<std::uint32_t, Grades>& restricted, Workspace& workspace) const;
  // The same by a propagation, where products would cost more.
  Inference propagate(const diagnosis::Model& model, const diagnosis::CaseNumbers& numbers,
                      const std::vector<diagnosis::OwnPrior>& priors,
                      const std::map<std::uint32_t, Grades>& restricted,
                      const std::vector<std::uint32_t>& modes,
                      network::Propagation& propagation) const;

  void count_modes(const Pattern& pattern, const std::vector<Grades>& modes, double times,
                   std::vector<std::vector<Grades>>& counts) const;

  Step nothing_counted() const;

  // The E step. Records are added up in blocks of fixed size and the blocks in their order, so the
  // result is the same every time and with any number of threads.
  Step expect(const State& state);
  void add_prior(const State& state, Step& step) const;

  // One record of the E step.
  void add_record(const State& state, const Pattern& pattern, Workspace& workspace,
                  Step& step) const;

  // The machines that are not on record: for every job of this complaint, (1 - P) / P of them. They
  // did not complain of it or, where orders tell of faults alone, nothing was found.
  void add_silent(const State& state, std::size_t c, std::size_t site, std::uint32_t observation,
                  double jobs, Workspace& workspace, Step& step) const;

  // Expected pairs of the grade an instrument saw and what it said. Under selection the complaint's
  // own outcome is left out: all of them are abnormal, which says nothing of how often that is.
  void count_outcomes(const Pattern& pattern, const std::vector<Grades>& observed, double times,
                      Step& step) const;

  // A reading that is the only one of its observation and gives a rate, and all else of its record.
  struct SingleReading {
    reading::Setting setting;
    reading::LeakRate rate;
    diagnosis::Case rest;
  };
  std::optional<SingleReading> single_reading(const circuit::Observation& observation,
                                              const Pattern& pattern,
                                              const diagnosis::Evidence& made) const;

  // One reading of a record, if its grade is known without it.
  void count_rate(std::size_t c, const diagnosis::Model& model, const Pattern& pattern,
                  const diagnosis::Evidence& made, network::Propagation& propagation,
                  LeakRates& rates) const;

  // A reading of a hold whose leak is one mode's, as the size of that mode.
  void count_size(const diagnosis::Model& model, const Pattern& pattern,
                  const diagnosis::Evidence& made, network::Propagation& propagation,
                  Sizes& sizes) const;

  // The grades of a node, given a record's findings and evidence; all 0 if they are impossible.
  Grades grades_given(const diagnosis::Model& model, const diagnosis::CaseNumbers& numbers,
                      const Pattern& pattern, network::Var node,
                      network::Propagation& propagation) const;

  // The M step.
  State maximise(const State& state, const Step& step, bool spread_too) const;
  // Where orders tell of faults alone, they tell how modes compare: at what level all are together
  // stays judgement's. Takes a state there.
  void hold_level(const Step& step, State& state) const;
  // How far all modes are from judgement together, and how much each says of that.
  Level level_of(const State& state, const Step& step, std::vector<double>& weights) const;
  // What how far off judgement mostly is adds to the precision of one mode's log odds, where it
  // says more than its jobs' worth.
  double judged_closer(std::size_t p, const State& state) const;
  // Of one mode, at one site; then over the sites; its spread there, with what is not known of it,
  // is added.
  void maximise_one(std::size_t p, const Step& step, State& state) const;
  void maximise_sites(std::size_t p, const Step& step, State& state, double& spread,
                      double& modes) const;

  // All that is estimated but the spread between sites, in logarithms of odds, and back.
  std::vector<double> coordinates(const State& state) const;
  State at(const std::vector<double>& coordinates, const State& like) const;

  // EM from a state until nothing moves; the E step of what it came to is returned.
  Step climb(State& state, Learned& learned);
  // How much of what complete data would say of a mode at a site the records say.
  void see_what_sites_say(const State& state, const Step& step);

  static double farthest(const State& from, const State& to);

  // Along the curve of EM's own steps.
  State extrapolate(const State& start, const State& first, const State& second,
                    const Step& at_first) const;

  // Score of the log odds of not sound of each parameter by site (Fisher's identity), no prior.
  std::vector<std::vector<double>> scores(const State& state);

  // Minus the derivative of the score, by site. No prior.
  using Matrix = std::vector<std::vector<double>>;
  std::vector<Matrix> information(const State& state);
  // What not knowing instruments and booking takes off the information; empty where they are known.
  struct ErrorInformation {
    Matrix errors, across, lost;  // of errors; with modes, a row each; taken off that of modes
    Matrix by_borrowed;           // with modes, of shares that are taken from other times
  };
  ErrorInformation lost_to_errors(const State& state);
  struct Covariance {
    Matrix modes;   // of the log odds of the middles
    Matrix doubts;  // of those of the shares
  };
  Covariance covariance(const State& state, const Step& step);  // `step` at that state
  // The share of findings of that kind that nobody saw.
  Booked booked_unseen(Doubt kind, const State& state, const Step& step,
                       const Matrix& variance) const;
  std::vector<double> nuisance_scores(const State& state, const Step& step) const;

  struct CommonOff {
    double mean = 0, variance = 0;
  };
  CommonOff common_off(const State& state, const Matrix& variance) const;

  void report(const State& state, const Step& step, Learned& learned);

  bool learns_instruments() const { return options_.learn_outcomes || options_.doubt_records; }

  const std::vector<circuit::Analysis>& circuits_;
  const LearnOptions& options_;
  std::vector<Pattern> patterns_;
  std::vector<Parameter> parameters_;
  std::map<ModeName, std::size_t> place_;
  std::vector<std::string> sites_;
  std::vector<std::vector<std::size_t>> parameter_of_, group_of_;
  std::vector<OutcomeGroup> groups_;
  std::vector<std::vector<diagnosis::ModeConditions>> conditions_;  // by circuit
  std::vector<RecordPlan> plans_;
  using PlanKey = std::pair<std::vector<std::uint32_t>, std::vector<std::uint32_t>>;
  std::map<std::pair<std::uint32_t, PlanKey>, std::size_t> plan_place_;
  std::map<std::pair<std::uint32_t, std::uint32_t>, std::size_t> silent_plan_;
  bool faults_alone_ = false;                            // orders without a finding are not kept
  bool sound_untold_ = false;                            // nor which parts were opened and sound
  std::vector<bool> telling_;                            // by job
  std::vector<std::vector<double>> said_;                // by site and parameter; empty: all
  Doubt booking_ = not_told;                             // of most findings
  std::vector<bool> takes_tree_;                         // by circuit
  std::vector<std::vector<const Pattern*>> records_of_;  // by circuit
  // Of prepare():
  std::vector<std::vector<circuit::Observation>> observations_;            // by circuit
  std::vector<std::vector<PriorTables>> tables_;                           // by circuit and site
  std::vector<std::optional<diagnosis::Model>> compiled_;                  // by circuit
  std::vector<std::vector<std::vector<diagnosis::OwnPrior>>> own_priors_;  // likewise, and site
};

}  // namespace faultodds::priors
