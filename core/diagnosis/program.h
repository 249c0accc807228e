// The inference program of a model: the circuit's modes, conditions and observations as a Bayesian
// network, compiled. It holds numbers only; what they mean for a technician is assessment.h's.
//
// Every observation's class of effect S is a max over its sets of what each shows: the min of its
// modes' grades, or of what each mode's size lets it show. Maxes and mins are built from two-input
// nodes that observations share, so cliques stay small however many modes an observation has.
#pragma once

#include <array>
#include <atomic>
#include <condition_variable>
#include <map>
#include <memory>
#include <mutex>
#include <optional>
#include <span>
#include <string>
#include <tuple>
#include <unordered_map>
#include <vector>

#include "core/circuit/analysis.h"
#include "core/diagnosis/model.h"
#include "core/diagnosis/plan_cache.h"
#include "core/memory_account.h"
#include "core/network/conditioning.h"
#include "core/network/junction_tree.h"
#include "core/network/network.h"

namespace faultodds::diagnosis {

inline constexpr std::size_t kGrades = 3;
using Grades = std::array<double, kGrades>;

// How the conditions act on one mode.
struct ModeConditions {
  std::vector<std::uint32_t> conditions;  // ascending
  std::vector<double> factors;            // odds factor of each
};

// P(grade | conditions hold as in bits of `combination`, first condition in the highest bit).
Grades conditioned(const circuit::GradeDistribution& prior, const ModeConditions& by,
                   std::size_t combination);

// The conditions on each mode.
std::vector<ModeConditions> mode_conditions(const circuit::Analysis& analysis);

// Builds network nodes for modes, sets and observations on demand, each once. Used for the whole
// circuit and for the small networks behind single joint queries.
class NetworkBuilder {
 public:
  // Both are kept by reference. If not `sharing`, sets and observations have no node in common but
  // the modes and conditions.
  NetworkBuilder(const circuit::Analysis& analysis, const std::vector<ModeConditions>& by,
                 bool sharing = true);

  network::Var condition(std::uint32_t c);
  network::Var mode(std::uint32_t m);
  // Its state, below its grade; the same node where the grade is all.
  network::Var state(std::uint32_t m);
  // Min over the modes of a set.
  network::Var set_grade(const std::vector<std::uint32_t>& modes);
  // What a set shows: by its link, or where it has none its grade when it is effective with its
  // probability, else 0.
  network::Var effective(const circuit::ModeSet& set);
  // The same with two states more: that it shows 1, or 2, and all its modes are sound.
  network::Var effective_or_sound(const circuit::ModeSet& set);
  // The nodes whose max is S of an observation. Call it once per observation.
  std::vector<network::Var> parts(std::uint32_t o);
  // The max of each list, parts that several lists have in common built once.
  std::vector<network::Var> shared_max(std::vector<std::vector<network::Var>> lists);

  // The variable whose state is the combination of the conditions that raise m; none if no
  // condition does.
  std::optional<network::Var> conditions_of(std::uint32_t m) const;
  // The node of a mode, if it was built.
  std::optional<network::Var> find_mode(std::uint32_t m) const;
  // The nodes of conditions, of their combinations and of modes built so far.
  std::vector<network::Var> causes() const;
  // How to compile the network to be told of its causes and of some other nodes.
  network::TreeOptions options_to_ask(const std::vector<network::Var>& nodes,
                                      std::size_t memory_budget) const;

  const network::Network& network() const { return network_; }

 private:
  // A variable with a table of so many rows. Throws Error(limit_exceeded).
  network::Var add(std::string name, std::size_t states, std::size_t rows);
  network::Var two_input(network::Var a, network::Var b, bool is_max);
  network::Var max_of(const std::vector<network::Var>& nodes);  // grade 0 for none
  network::Var by_link(const circuit::ModeSet& set);
  // Lists of nodes, what is in several and what in one alone; and where each of the former is.
  struct Shared {
    std::vector<std::vector<network::Var>> lists, alone;
    std::unordered_map<network::Var, std::vector<std::size_t>> lists_of;
  };
  Shared in_common(std::vector<std::vector<network::Var>> lists);
  std::vector<bool> join_pairs(Shared& shared);

  const circuit::Analysis* analysis_;
  const std::vector<ModeConditions>* mode_conditions_;
  bool sharing_;
  std::size_t bytes_ = 0;  // that the network takes, about
  network::Network network_;
  std::unordered_map<std::uint32_t, network::Var> conditions_, modes_, states_;
  // What a mode lets a set show, by mode and exceeds.
  std::map<std::pair<std::uint32_t, std::vector<double>>, network::Var> levels_;
  std::map<std::vector<std::uint32_t>, network::Var> combinations_;  // of conditions
  std::map<std::pair<network::Var, network::Var>, network::Var> max_, min_;
  std::optional<network::Var> zero_;
};

class AfterRepair;      // after_repair.h
class CausePlan;        // cause.h
class InformationPlan;  // information.h

// How many answers each method gave.
struct MethodCounts {
  std::atomic<std::uint64_t> tree{0};              // of the whole circuit
  std::atomic<std::uint64_t> tables{0};            // of a pattern seen before, weighed
  std::atomic<std::uint64_t> products{0};          // over failure modes given the conditions
  std::atomic<std::uint64_t> careful_products{0};  // the same with long doubles
  std::atomic<std::uint64_t> junction_tree{0};     // of what the question needs
  std::atomic<std::uint64_t> bounded{0};           // approximate
};

// A model of a part of the circuit (relevant_part.h).
struct RelevantPart {
  Model model;
  std::size_t bytes() const;
};

struct KeptAdvice;      // advice.h
struct KeptAssessment;  // assessment.h
struct RenewedCircuit;  // renewal.h

class Program {
 public:
  Program(const circuit::Analysis& analysis, const Options& options);
  ~Program();

  // Whether one tree for the whole circuit fits the memory budget. Where not, each question has a
  // network of its own (cause.h).
  bool has_tree() const { return tree_ != nullptr; }
  // Whether that tree knows of what operators report; else it is as if they never show.
  bool has_reports() const { return reports_; }
  const network::JunctionTree& tree() const { return *tree_; }
  // Bounded conditioning, for questions that nothing exact fits; made on first use. Throws
  // Error(limit_exceeded) where even that does not fit.
  const network::ConditionedTree& bounded() const;
  network::Var mode(std::uint32_t m) const { return mode_[m]; }
  network::Var observation(std::uint32_t o) const { return observation_[o]; }
  // What the j-th minimal set of an observation shows.
  network::Var part(std::uint32_t o, std::size_t j) const { return parts_[o][j]; }
  // The same in bounded().
  network::Var bounded_mode(std::uint32_t m) const { return bounded_mode_[m]; }
  network::Var bounded_observation(std::uint32_t o) const { return bounded_observation_[o]; }
  std::optional<network::Var> conditions_of(std::uint32_t m) const { return conditions_of_[m]; }
  std::optional<network::Var> bounded_conditions_of(std::uint32_t m) const {
    return bounded_conditions_[m];
  }
  const std::vector<ModeConditions>& mode_conditions() const { return mode_conditions_; }
  const std::vector<std::vector<std::uint32_t>>& observations_of_mode() const {
    return observations_of_mode_;
  }
  // P(outcome | S) for S = 0, 1, 2 with the unmodelled background summed out, and its entropy in
  // bits.
  const std::vector<std::vector<double>>& rows(std::uint32_t o) const { return rows_[o]; }
  const Grades& row_entropy(std::uint32_t o) const { return row_entropy_[o]; }
  // P(outcome of o) for P(S), added up in `into`, which has a place per outcome and holds zeros.
  void add_outcomes(std::uint32_t o, const Grades& grades, std::span<double> into) const;
  // Setup steps of an observation, indices into Analysis::setup_steps.
  const std::vector<std::uint32_t>& setup(std::uint32_t o) const { return setup_[o]; }
  // Prior probability of grades, conditions summed out: the model's, or with another for the mode.
  Grades prior(std::uint32_t m) const;
  Grades prior(std::uint32_t m, const circuit::GradeDistribution& own) const;

  // Scratch space for one call, taken from and given back to a pool. `Kind` is
  // network::Propagation or network::LanePropagation<network::kLanes>. A Lease or LaneLease throws
  // Error(limit_exceeded) where there is no tree.
  template <typename Kind>
  class Scratch {
   public:
    explicit Scratch(const Program& program);
    ~Scratch();
    Scratch(const Scratch&) = delete;
    Scratch& operator=(const Scratch&) = delete;
    Kind& operator*() { return *propagation_; }
    Kind* operator->() { return propagation_.get(); }

   private:
    const Program* program_;
    std::unique_ptr<Kind> propagation_;
  };
  using Lease = Scratch<network::Propagation>;
  using LaneLease = Scratch<network::LanePropagation<network::kLanes>>;

  // Plans by pattern of evidence, kept because patterns recur.
  PlanCache<CausePlan>& cause_plans() const { return cause_plans_; }
  PlanCache<InformationPlan>& information_plans() const { return information_plans_; }
  PlanCache<AfterRepair>& after_repairs() const { return after_repairs_; }
  PlanCache<RelevantPart>& relevant_parts() const { return relevant_parts_; }
  PlanCache<RenewedCircuit>& renewed_circuits() const { return renewed_circuits_; }
  // Advice and assessments by question.
  PlanCache<KeptAdvice>& advices() const { return advices_; }
  PlanCache<KeptAssessment>& assessments() const { return assessments_; }

  MethodCounts& method_counts() const { return method_counts_; }
  // Of all caches together.
  PlanCounts plan_counts() const;

  // Everything that is kept counts against it.
  MemoryAccount& account() const { return account_; }
  // Takes bytes from the account, dropping plans for them; false where they are not to be had.
  bool take(std::size_t bytes) const;
  // The same for work that takes nothing else before it gives them back: waits while other calls
  // have bytes so, and looks at the call's cancel meanwhile.
  bool take_for_now(std::size_t bytes) const;
  void give_back_from_now(std::size_t bytes) const;

 private:
  // Gives every mode and observation its node, and tells those of sets where they will be told of.
  network::TreeOptions add_nodes(NetworkBuilder& builder, bool reports, std::size_t memory_budget,
                                 std::vector<network::Var>& mode,
                                 std::vector<network::Var>& observation,
                                 std::vector<std::vector<network::Var>>* parts) const;
  void compile_exact(const Options& options);

  const circuit::Analysis* analysis_;
  bool reports_ = false;
  std::unique_ptr<network::JunctionTree> tree_;
  mutable std::once_flag bounded_made_;
  mutable std::unique_ptr<network::ConditionedTree> bounded_;
  mutable std::vector<network::Var> bounded_mode_, bounded_observation_;
  mutable std::vector<std::optional<network::Var>> bounded_conditions_;
  std::vector<network::Var> mode_, observation_;
  std::vector<std::vector<network::Var>> parts_;  // by observation, set
  std::vector<std::optional<network::Var>> conditions_of_;
  std::vector<ModeConditions> mode_conditions_;
  std::vector<std::vector<std::uint32_t>> observations_of_mode_;
  std::vector<std::vector<std::vector<double>>> rows_;
  std::vector<Grades> row_entropy_;
  std::vector<std::vector<std::uint32_t>> setup_;
  mutable std::mutex mutex_;
  mutable std::tuple<std::vector<std::unique_ptr<network::Propagation>>,
                     std::vector<std::unique_ptr<network::LanePropagation<network::kLanes>>>>
      pools_;
  const Program* whole_ = nullptr;  // of which this is a part
  mutable std::mutex for_now_mutex_;
  mutable std::condition_variable for_now_over_;
  mutable std::size_t for_now_ = 0;  // how many have bytes for now, of the whole
  mutable MethodCounts method_counts_;
  mutable MemoryAccount account_;
  mutable PlanCache<CausePlan> cause_plans_;
  mutable PlanCache<InformationPlan> information_plans_;
  mutable PlanCache<AfterRepair> after_repairs_;
  mutable PlanCache<RelevantPart> relevant_parts_;
  mutable PlanCache<RenewedCircuit> renewed_circuits_;
  mutable PlanCache<KeptAdvice> advices_;
  mutable PlanCache<KeptAssessment> assessments_;
};

}  // namespace faultodds::diagnosis
