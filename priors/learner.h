// Learning through the circuit while it runs: records as patterns, parameters, the E and the M
// step. Of learning.cpp and learner*.cpp alone. What a record says is made in job.cpp.
#pragma once

#include <array>
#include <cstdint>
#include <limits>
#include <map>
#include <optional>
#include <string>
#include <utility>
#include <vector>

#include "core/diagnosis/evidence.h"
#include "core/diagnosis/program.h"
#include "core/reading/reading.h"
#include "priors/learning.h"

namespace faultodds::priors {

using Grades = std::array<double, 3>;

// What grades of a mode a record leaves possible, times a sign: the record's probability is a sum
// of such terms, by inclusion and exclusion over its ambiguous findings.
struct Term {
  double sign = 1;
  std::map<std::uint32_t, Grades> grades;
};
inline void restrict_to(Term& term, std::uint32_t mode, const Grades& possible) {
  const auto [at, added] = term.grades.emplace(mode, possible);
  if (added) return;
  for (std::size_t g = 0; g < 3; ++g) at->second[g] *= possible[g];
}

// Jobs that say the same on the same circuit.
struct Pattern {
  std::uint32_t circuit = 0;
  std::optional<std::uint32_t> complaint;
  diagnosis::Case evidence;
  std::vector<Term> terms;
  const Job* example = nullptr;
  double jobs = 0;
};

// The parameters: one grade distribution for each (type, mode) that the circuits do not fix.
struct Parameter {
  ModeName name;
  Dirichlet prior;
};

// Outcome statistics learned together: of one kind, or of one hand-written observation.
struct OutcomeGroup {
  std::optional<circuit::ObservationKind> kind;
  std::string id;
  circuit::OutcomeModel start, model;
};

// Expected pairs of the grade an instrument saw and what it said, and of the unmodelled cause.
struct OutcomeCounts {
  std::vector<std::vector<double>> seen;  // [grade seen][outcome]
  Grades background{};
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
  static constexpr std::size_t enough_records = 1000;
  static constexpr std::size_t block = 32;      // records
  static constexpr double certain = 0.95;       // of a grade
  static constexpr double most_of_sound = 0.7;  // of what sound parts let through

  struct Step {
    std::vector<Grades> counts;  // expected complete data, machines that did not complain included
    std::vector<Grades> recorded;
    std::vector<OutcomeCounts> outcomes;  // by group
    double log_likelihood = 0, log_posterior = 0;

    void add(const Step& other) {
      for (std::size_t p = 0; p < counts.size(); ++p) {
        for (std::size_t g = 0; g < 3; ++g) {
          counts[p][g] += other.counts[p][g];
          recorded[p][g] += other.recorded[p][g];
        }
      }
      for (std::size_t i = 0; i < outcomes.size(); ++i) {
        for (std::size_t g = 0; g < 3; ++g) {
          outcomes[i].background[g] += other.outcomes[i].background[g];
          for (std::size_t k = 0; k < outcomes[i].seen[g].size(); ++k) {
            outcomes[i].seen[g][k] += other.outcomes[i].seen[g][k];
          }
        }
      }
      log_likelihood += other.log_likelihood;
    }
  };

  std::size_t parameter(const circuit::FailureMode& mode,
                        const std::map<ModeName, Dirichlet>& judgement);

  std::size_t group(const circuit::Observation& observation);

  static Grades mean_of(const Dirichlet& prior, const Grades& counts);

  // Mode priors that, with the circuit's conditions summed out, have these marginals.
  diagnosis::Model compile(std::size_t c, const std::vector<Grades>& theta) const;

  // The same priors for a model compiled with others.
  std::vector<diagnosis::OwnPrior> own_priors(std::size_t c, const std::vector<Grades>& theta,
                                              const diagnosis::Model& model) const;

  static Grades without_conditions(const circuit::Analysis& analysis,
                                   const diagnosis::ModeConditions& by, const Grades& wanted);

  // Grades of every mode under one term of a record; its log probability, or -infinity.
  struct Inference {
    double log_probability = -std::numeric_limits<double>::infinity();
    std::vector<Grades> modes;
    std::vector<Grades> observed;  // S of each observation with evidence
  };

  Inference infer(const diagnosis::Model& model, const diagnosis::CaseNumbers& numbers,
                  const std::map<std::uint32_t, Grades>& restricted,
                  network::Propagation& propagation) const;

  void count_modes(std::size_t c, const std::vector<Grades>& modes, double times,
                   std::vector<Grades>& counts) const;

  Step nothing_counted() const;

  // The E step. Records are added up in blocks of fixed size and the blocks in their order, so the
  // result is the same every time and with any number of threads.
  Step expect(const std::vector<Grades>& theta);

  // One record of the E step.
  void add_record(std::size_t c, const diagnosis::Model& model, const Pattern& pattern,
                  network::Propagation& propagation, Step& step) const;

  // The machines that did not complain of this symptom: for every job that did, (1 - P) / P of
  // them.
  void add_silent(std::size_t c, const diagnosis::Model& model, std::uint32_t observation,
                  double jobs, network::Propagation& propagation, Step& step) const;

  // Expected pairs of the grade an instrument saw and what it said. Under selection the complaint's
  // own outcome is left out: all of them are abnormal, which says nothing of how often that is.
  void count_outcomes(std::size_t c, const diagnosis::Model& model, const Pattern& pattern,
                      const diagnosis::CaseNumbers& numbers, const std::vector<Grades>& observed,
                      double times, Step& step) const;

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
  std::vector<Grades> maximise(const Step& step);

  // Along the curve of EM's own steps, in the logarithms of the odds against sound.
  static std::vector<Grades> extrapolate(const std::vector<Grades>& start,
                                         const std::vector<Grades>& first,
                                         const std::vector<Grades>& second);

  // Score of the log odds of not sound (Fisher's identity), for all parameters at once.
  std::vector<double> score(const std::vector<Grades>& theta);

  static Grades with_log_odds(const Grades& theta, double change);

  // Posterior spread from the observed information: minus the derivative of the score.
  void report(const std::vector<Grades>& theta, const Step& step, Learned& learned);

  const std::vector<circuit::Analysis>& circuits_;
  const LearnOptions& options_;
  std::vector<Pattern> patterns_;
  std::vector<Parameter> parameters_;
  std::map<ModeName, std::size_t> place_;
  std::vector<std::vector<std::size_t>> parameter_of_, group_of_;
  std::vector<OutcomeGroup> groups_;
  std::vector<std::optional<diagnosis::Model>> compiled_;
  std::vector<std::vector<const Pattern*>> records_of_;  // by circuit
  std::vector<diagnosis::OwnPrior> own_priors_;
};

}  // namespace faultodds::priors
