// What each way of testing costs on thousands of simulated machines: minutes of work and money to
// the right repair, wrong parts, faults left behind, and whether the probabilities were true.
//
//   decision_benchmark [machines per circuit]
#include <algorithm>
#include <cmath>
#include <cstdio>
#include <cstdlib>
#include <stdexcept>

#include "capi/documents/circuit_reader.h"
#include "capi/documents/embedded.h"
#include "capi/documents/json.h"
#include "tests/benchmarks/decision/circuits.h"
#include "tests/benchmarks/decision/policies.h"
#include "tests/benchmarks/decision/simulator.h"
#include "tests/unit/advice_optimum.h"

namespace {

using namespace faultodds;
using namespace faultodds::benchmark;
using diagnosis::Case;

constexpr std::size_t kTraining = 20000;  // machines whose tests teach the outcome statistics
constexpr double kAsWell = 20;            // tests of its kind that one test is taken to resemble
constexpr int kMostVisits = 12;
constexpr double kComeBack = 3500;  // a second visit, and several parts still to be replaced

// ---- one machine, one way of testing ------------------------------------------------------------

struct Job {
  Simulator::Machine machine;
  std::uint32_t complaint = 0, outcome = 0;
  std::uint64_t seed = 0;
};

struct Result {
  double minutes = 0, cost = 0;
  int tests = 0, visits = 0, wrong_parts = 0;
  bool left = false;  // the first repair left a faulty part that can cause the complaint
};

class Bench {
 public:
  Bench(const BenchmarkCircuit& circuit, bool learn)
      : description_(documents::read_circuit(documents::parse_json(circuit.document))),
        catalogue_(documents::read_catalogue(documents::parse_json(documents::kCatalogue))),
        simulator_(description_, catalogue_),
        model_(compile(learn)) {}

  const diagnosis::Model& model() const { return model_; }
  const circuit::Analysis& analysis() const { return model_.analysis(); }

  Case opened(const Job& job) const {
    Case the_case = after(model_, economics(), job.complaint, job.outcome);
    the_case.setup_done.clear();
    return the_case;
  }
  static Case economics() {
    Case the_case;
    the_case.economics.come_back = kComeBack;
    return the_case;
  }

  // A machine whose operator looked at one of its symptoms and complains.
  Job draw(std::uint64_t seed) const {
    std::vector<std::uint32_t> symptoms;
    for (std::uint32_t o = 0; o < analysis().observations.size(); ++o) {
      if (analysis().observations[o].symptom) symptoms.push_back(o);
    }
    Simulator::Chance chance(seed);
    Job job;
    job.seed = seed;
    job.complaint = symptoms[chance() % symptoms.size()];
    do {
      job.machine = simulator_.draw(chance);
      job.outcome = simulator_.perform(job.machine, id(job.complaint), chance).outcome;
    } while (job.outcome == 0);
    return job;
  }

  Result run(const Job& job, const Policy& policy) const {
    Result result;
    Simulator::Machine machine = job.machine;
    Case now = opened(job);
    const diagnosis::Economics& economics = now.economics;
    const auto spend = [&](double minutes) {
      result.minutes += minutes;
      result.cost += minutes * economics.per_minute();
    };
    while (result.visits < kMostVisits) {
      ++result.visits;
      while (const auto test = policy.test(now)) {
        spend(minutes_of(*test, now.setup_done));
        ++result.tests;
        now = after(model_, std::move(now), *test, outcome_of(machine, *test, job, result.visits));
      }
      diagnosis::Repair repair;
      const std::vector<std::uint32_t> parts = policy.repair(now);
      if (!parts.empty()) spend(lockout(now.setup_done));
      for (std::uint32_t c : parts) {
        const circuit::Component& part = analysis().components[c];
        spend(*part.minutes);
        result.cost += *part.part_cost;
        if (is_sound(machine, c)) ++result.wrong_parts;
        simulator_.renew(machine, part.id);
        repair.components.push_back(part.id);
      }
      spend(analysis().observations[job.complaint].perform_minutes);  // is it cured?
      if (result.visits == 1) result.left = can_cause(machine, job.complaint);
      const std::uint32_t again = simulator_.exact(machine, id(job.complaint)).outcome;
      if (again == 0) break;
      result.cost += economics.second_visit;
      if (!repair.components.empty()) now.repairs.push_back(std::move(repair));
      now = after(model_, std::move(now), job.complaint, again);
      now.setup_done.clear();
    }
    return result;
  }

  // Predicted and true, of every mode that can cause the complaint.
  template <typename Use>
  void compare(const Job& job, const diagnosis::Assessment& assessment, Use use) const {
    std::vector<bool> suspect(analysis().modes.size(), false);
    for (const auto& set : analysis().observations[job.complaint].sets) {
      for (std::uint32_t m : set.modes) suspect[m] = true;
    }
    for (const auto& fault : assessment.faults) {
      if (suspect[fault.mode]) use(1 - fault.grades[0], job.machine[fault.mode].grade > 0);
    }
  }

  std::uint32_t outcome_of(const Simulator::Machine& machine, std::uint32_t test, const Job& job,
                           int visit) const {
    // The same test on the same machine shows the same whoever makes it.
    Simulator::Chance chance(job.seed * 1000003 + test * 101 + static_cast<std::uint64_t>(visit));
    return simulator_.perform(machine, id(test), chance).outcome;
  }

 private:
  const std::string& id(std::uint32_t o) const { return analysis().observations[o].id; }

  // Nothing is exchanged that is not locked out.
  double lockout(const std::vector<std::string>& done) const {
    if (std::find(done.begin(), done.end(), "lockout") != done.end()) return 0;
    return analysis().setup_steps[*model_.find_setup("lockout")].minutes;
  }

  double minutes_of(std::uint32_t o, const std::vector<std::string>& done) const {
    double minutes = analysis().observations[o].perform_minutes;
    for (const std::string& step : analysis().observations[o].setup) {
      if (std::find(done.begin(), done.end(), step) != done.end()) continue;
      minutes += analysis().setup_steps[*model_.find_setup(step)].minutes;
    }
    return minutes;
  }

  bool is_sound(const Simulator::Machine& machine, std::uint32_t component) const {
    for (std::size_t m = 0; m < machine.size(); ++m) {
      if (machine[m].grade > 0 && analysis().modes[m].component_index == component) return false;
    }
    return true;
  }

  bool can_cause(const Simulator::Machine& machine, std::uint32_t complaint) const {
    for (const auto& set : analysis().observations[complaint].sets) {
      for (std::uint32_t m : set.modes) {
        if (machine[m].grade > 0) return true;
      }
    }
    return false;
  }

  // Outcome statistics by what machines showed whose grades are known, as records would teach them.
  diagnosis::Model compile(bool learn) const {
    circuit::Analysis analysis = circuit::analyse(description_, catalogue_);
    if (!learn) return diagnosis::Model::compile(std::move(analysis), diagnosis::Pack{});
    const std::size_t observations = analysis.observations.size();
    using Table = std::vector<std::vector<double>>;
    std::vector<Table> counts;
    std::map<circuit::ObservationKind, Table> by_kind;
    for (const auto& o : analysis.observations) {
      counts.emplace_back(3, std::vector<double>(o.outcomes.size(), 0.0));
      by_kind.emplace(o.kind, Table(3, std::vector<double>(o.outcomes.size(), 1.0)));
    }
    Simulator::Chance chance(4711);
    for (std::size_t i = 0; i < kTraining; ++i) {
      const Simulator::Machine machine = simulator_.draw(chance);
      for (std::size_t o = 0; o < observations; ++o) {
        int grade = 0;
        for (const auto& set : analysis.observations[o].sets) {
          int least = 2;
          for (std::uint32_t m : set.modes) least = std::min(least, machine[m].grade);
          grade = std::max(grade, least);
        }
        const auto outcome =
            simulator_.perform(machine, analysis.observations[o].id, chance).outcome;
        ++counts[o][static_cast<std::size_t>(grade)][outcome];
        ++by_kind.at(analysis.observations[o].kind)[static_cast<std::size_t>(grade)][outcome];
      }
    }
    diagnosis::Pack pack;
    for (std::size_t o = 0; o < observations; ++o) {
      const auto& observation = analysis.observations[o];
      diagnosis::PackOutcomes learned;
      learned.observation = observation.id;
      learned.model.outcomes = observation.outcomes;
      learned.model.background = circuit::GradeDistribution{1, 0, 0};
      for (std::size_t g = 0; g < 3; ++g) {
        const std::vector<double>& kind = by_kind.at(observation.kind)[g];
        double all = 0, of_kind = 0;
        for (std::size_t i = 0; i < kind.size(); ++i) {
          all += counts[o][g][i];
          of_kind += kind[i];
        }
        std::vector<double> row;
        for (std::size_t i = 0; i < kind.size(); ++i) {
          row.push_back((counts[o][g][i] + kAsWell * kind[i] / of_kind) / (all + kAsWell));
        }
        learned.model.matrix.push_back(std::move(row));
      }
      pack.outcomes.push_back(std::move(learned));
    }
    return diagnosis::Model::compile(std::move(analysis), pack);
  }

  circuit::Description description_;
  std::vector<circuit::ComponentType> catalogue_;
  Simulator simulator_;
  diagnosis::Model model_;
};

// ---- calibration --------------------------------------------------------------------------------

// Expected calibration error over ten bins of equal width.
class Calibration {
 public:
  void add(double predicted, bool happened) {
    Bin& bin = bins_[std::min<std::size_t>(9, static_cast<std::size_t>(predicted * 10))];
    ++bin.count;
    bin.predicted += predicted;
    bin.happened += happened ? 1 : 0;
  }
  double error() const {
    double error = 0, count = 0;
    for (const Bin& bin : bins_) {
      error += std::abs(bin.predicted - bin.happened);
      count += bin.count;
    }
    return count > 0 ? error / count : 0;
  }
  void print() const {
    for (const Bin& bin : bins_) {
      if (bin.count == 0) continue;
      std::printf("    said %.3f  found %.3f  of %.0f\n", bin.predicted / bin.count,
                  bin.happened / bin.count, bin.count);
    }
  }

 private:
  struct Bin {
    double count = 0, predicted = 0, happened = 0;
  };
  Bin bins_[10];
};

// Whether what was said was so: of every suspect, when the case opened and when it was decided, and
// of the likeliest alone.
struct Said {
  Calibration opened, decided, leading;

  void calibrate(const Bench& bench, Engine& engine, const std::vector<Job>& jobs) {
    for (const Job& job : jobs) {
      Case now = bench.opened(job);
      bench.compare(job, engine.assessment(now), [&](double p, bool is) { opened.add(p, is); });
      while (const auto test = engine.advice(now).test) {
        now = after(bench.model(), std::move(now), *test,
                    bench.outcome_of(job.machine, *test, job, 1));
      }
      double most = -1;
      bool faulty = false;
      bench.compare(job, engine.assessment(now), [&](double p, bool is) {
        decided.add(p, is);
        if (p > most) {
          most = p;
          faulty = is;
        }
      });
      leading.add(most, faulty);
    }
  }
};

// ---- the tables ---------------------------------------------------------------------------------

struct Totals {
  double minutes = 0, cost = 0, tests = 0, visits = 0, wrong = 0, left = 0;
  double model_cost = 0;  // expected under the model, exactly; small circuits
};

struct Verdicts {
  double over_optimum = 0;  // largest over the small circuits
  // On circuits of working size, where there is something to find.
  double minutes = 0, likely_minutes = 0, wrong = 0, likely_wrong = 0;
  double left = 0, jobs = 0;  // everywhere
};

void run_circuit(const BenchmarkCircuit& circuit, std::size_t machines, Verdicts& verdicts,
                 Said& said, Said& said_by_default) {
  const Bench bench(circuit, true);
  Engine engine(bench.model());
  std::vector<Job> jobs;
  std::map<std::string, std::pair<Case, double>> complaints;
  for (std::size_t i = 0; i < machines; ++i) {
    jobs.push_back(bench.draw(1000 + i));
    const Case opened_case = bench.opened(jobs.back());
    ++complaints.try_emplace(key_of(opened_case), opened_case, 0.0).first->second.second;
  }
  std::printf("\n%s: %zu modes, %zu observations, %zu machines\n", circuit.name.c_str(),
              bench.analysis().modes.size(), bench.analysis().observations.size(), machines);
  std::printf("%-28s %8s %8s %7s %7s %7s %7s %9s\n", "", "minutes", "cost", "tests", "visits",
              "wrong", "left", "expected");
  const double n = static_cast<double>(machines);
  double optimum = 0, advised = 0;
  for (const Policy& policy : policies(engine, 99)) {
    if (policy.on_small_only && !circuit.small) continue;
    Totals totals;
    for (const Job& job : jobs) {
      const Result result = bench.run(job, policy);
      totals.minutes += result.minutes;
      totals.cost += result.cost;
      totals.tests += result.tests;
      totals.visits += result.visits;
      totals.wrong += result.wrong_parts;
      totals.left += result.left ? 1 : 0;
    }
    std::printf("%-28s %8.1f %8.0f %7.2f %7.2f %7.2f %6.1f%%", policy.name.c_str(),
                totals.minutes / n, totals.cost / n, totals.tests / n, totals.visits / n,
                totals.wrong / n, 100 * totals.left / n);
    const bool is_default = policy.name == "advice (default)";
    if (circuit.small && policy.exactly) {
      for (const auto& [key, complaint] : complaints) {
        advice_test::Optimum tree(bench.analysis(), complaint.first);
        totals.model_cost += complaint.second / n *
                             (policy.on_small_only ? tree.cost() : tree.following(policy.test));
      }
      std::printf(" %9.1f", totals.model_cost);
      if (policy.on_small_only) optimum = totals.model_cost;
      if (is_default) advised = totals.model_cost;
    }
    std::printf("\n");
    if (policy.name == "advice with checks") verdicts.left += totals.left;
    if (is_default && !circuit.small) {
      verdicts.minutes += totals.minutes;
      verdicts.wrong += totals.wrong;
    }
    if (policy.name == "most likely part first" && !circuit.small) {
      verdicts.likely_minutes += totals.minutes;
      verdicts.likely_wrong += totals.wrong;
    }
  }
  verdicts.jobs += n;
  if (circuit.small) {
    std::printf("the default expects %.2f %% more than the optimum\n",
                100 * (advised / optimum - 1));
    verdicts.over_optimum = std::max(verdicts.over_optimum, advised / optimum - 1);
  }
  said.calibrate(bench, engine, jobs);
  const Bench unlearned(circuit, false);
  Engine with_defaults(unlearned.model());
  said_by_default.calibrate(unlearned, with_defaults, jobs);
}

void verdict(const char* what, double value, const char* unit, const char* wanted, bool reached) {
  std::printf("%-58s %6.3f %-3s %-12s %s\n", what, value, unit, wanted,
              reached ? "reached" : "NOT REACHED");
}

}  // namespace

int main(int argc, char** argv) try {
  std::setvbuf(stdout, nullptr, _IOLBF, 0);
  const std::size_t machines = argc > 1 ? static_cast<std::size_t>(std::atol(argv[1])) : 1000;
  Verdicts verdicts;
  Said said, said_by_default;
  std::printf(
      "Per machine: minutes of work and money to the cure (parts, labour, downtime, further "
      "visits), "
      "tests, visits, sound\nparts replaced, faulty parts that can cause the complaint left by the "
      "first repair; expected: cost of testing and\nrepairing under the model, exactly.\n");
  for (const BenchmarkCircuit& circuit : decision_circuits()) {
    run_circuit(circuit, machines, verdicts, said, said_by_default);
  }
  std::printf("\nProbability of each suspect when decided, said and found:\n");
  said.decided.print();
  std::printf("\n");
  const double target = 100 * diagnosis::Economics{}.second_fault_target;
  verdict("default above the optimum's expected cost, small circuits", 100 * verdicts.over_optimum,
          "%", "<= 5", verdicts.over_optimum <= 0.05);
  const double fewer = 1 - verdicts.minutes / verdicts.likely_minutes;
  verdict("fewer minutes than most likely part first, section", 100 * fewer, "%", ">= 30",
          fewer >= 0.3);
  const double wrong = verdicts.wrong / verdicts.likely_wrong;
  verdict("wrong parts, of those of most likely part first, section", 100 * wrong, "%", "<= 50",
          wrong <= 0.5);
  const double left = 100 * verdicts.left / verdicts.jobs;
  verdict("second faults missed, advice with checks", left, "%", "<= target 5", left <= target);
  const auto calibrated = [](const char* what, const Calibration& calibration) {
    verdict(what, calibration.error(), "", "< 0.03", calibration.error() < 0.03);
  };
  calibrated("expected calibration error, case opened", said.opened);
  calibrated("expected calibration error, case decided", said.decided);
  calibrated("  of the leading suspect alone", said.leading);
  calibrated("with default outcome statistics, case opened", said_by_default.opened);
  calibrated("with default outcome statistics, case decided", said_by_default.decided);
  return 0;
} catch (const std::exception& error) {
  std::fprintf(stderr, "decision_benchmark: %s\n", error.what());
  return 1;
}
