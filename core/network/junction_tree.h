// Exact inference: a network compiled once into a junction tree whose clique tables hold only the
// combinations that can occur, and propagated over as often as wanted.
//
// A JunctionTree is immutable and shared between threads. A Propagation is one thread's scratch
// space and result; it is not the network's (file formats and tables live elsewhere) and it knows
// nothing of tests or faults.
//
// How it works. Deterministic tables (max, min, logic) leave most of a clique's table zero, so each
// clique keeps a list of its possible entries, grouped by the state of the separator towards its
// parent; where that is most of them and the owner allows it, none is kept (dense_clique.h). A
// clique that has one entry to each such state is taken into its parent where that saves work. The
// beliefs without evidence are computed when compiling. Evidence then only touches the cliques it
// lies in and those on their way to the root; the way back skips every part whose separator did not
// change. Messages are ratios to the no-evidence messages, rescaled at each clique with the scale
// kept as a logarithm, so that long evidence does not underflow.
//
// Source of the scheme: Lauritzen & Spiegelhalter 1988; Jensen, Lauritzen & Olesen 1990 (Hugin
// division); zero compression: Jensen & Andersen 1990.
#pragma once

#include <cstddef>
#include <cstdint>
#include <limits>
#include <span>
#include <vector>

#include "core/network/dense_clique.h"
#include "core/network/elimination.h"
#include "core/network/network.h"

namespace faultodds::network {

template <std::size_t Lanes>
class LanePropagation;
class Propagation;

struct TreeOptions {
  std::size_t memory_budget = std::size_t{1} << 30;  // bytes for a tree while it is compiled
  // The variables that will be told of or asked about, besides `root_scope`; if empty, all. What is
  // between them costs less: evidence on it is an internal error, its posterior is 0.
  std::vector<Var> asked = {};
  // Whether large cliques of which much is possible may go without a list of their entries. The
  // tree then reads the factors for as long as it lives, and propagates one case at a time.
  bool dense_cliques = false;
  // Combinations of states looked at to find those that are possible; 0: as many as bytes.
  std::size_t most_looked_at = 0;
};

class JunctionTree {
 public:
  // `factors` multiply to an unnormalised joint distribution (for a network: its tables). Each
  // scope lists distinct variables. `root_scope`, if not empty, ends up in one clique whose joint
  // table Propagation::root_joint reads. Throws Error(limit_exceeded) with the bytes needed.
  JunctionTree(const std::vector<std::size_t>& states, const std::vector<const Factor*>& factors,
               const std::vector<Var>& root_scope, const TreeOptions& options);
  // The same with the cliques that triangulate() found.
  JunctionTree(const std::vector<std::size_t>& states, const std::vector<const Factor*>& factors,
               const CliqueTree& cliques, const std::vector<Var>& root_scope,
               const TreeOptions& options);

  static JunctionTree of(const Network& network, const TreeOptions& options = {});

  std::size_t variables() const { return states_.size(); }
  std::size_t states(Var v) const { return states_[v]; }
  // Where the states of v begin in arrays that hold those of all variables in order.
  std::size_t first_state(Var v) const { return state_offset_[v]; }
  std::size_t cliques() const { return cliques_.size(); }
  // Clique entries that a propagation goes through: the possible ones, and all of dense cliques.
  std::size_t entries() const { return entries_; }
  double dense_entries() const { return dense_entries_; }    // were no zero left out
  double largest_clique() const { return largest_clique_; }  // dense entries of the largest
  std::size_t bytes() const { return bytes_; }

  // The possible combinations of the variables of `root_scope`, listed in `scope`, each with its
  // probability without evidence. A combination is numbered row-major in the order of `scope`; the
  // numbers ascend. Throws Error(limit_exceeded) when they do not fit 63 bits.
  struct Joint {
    std::vector<std::uint64_t> combination;
    std::vector<double> probability;
  };
  Joint root_joint(const std::vector<Var>& scope) const;

  // P(v) without evidence, of a variable that is asked about.
  std::span<const double> prior(Var v) const {
    return {prior_.data() + state_offset_[v], states_[v]};
  }

 private:
  JunctionTree() = default;

  template <std::size_t Lanes>
  friend class LanePropagation;
  friend class Propagation;
  friend class Posterior;
  friend class LogarithmicPass;
  friend class TreeBuilder;

  static constexpr std::uint32_t kNone = std::numeric_limits<std::uint32_t>::max();

  struct Attached {  // a variable whose home is this clique or its separator
    Var var;
    std::size_t map;  // into states_of_: state of each entry, or of each cell of the separator
  };
  struct Child {
    std::uint32_t clique;
    std::size_t map;   // into cells_of_ or few_cells_of_: separator cell of each entry
    bool few = false;  // 65,536 cells or fewer
  };
  struct Clique {
    std::vector<Var> vars;  // separator variables first
    std::size_t separator_vars = 0;
    std::int32_t parent = -1;
    std::size_t first = 0, size = 0;        // entries, into value arrays
    std::size_t first_cell = 0, cells = 0;  // separator cells, into cell arrays
    std::size_t first_bound = 0;            // cells + 1 entry bounds, into bounds_
    // Binary, of its smallest entry without evidence; of a dense clique no more than that.
    int least_exponent = 0;
    std::int32_t dense = kListed;  // else into dense_: it has cells but no entries of its own
    bool below_dense = false;      // its parent is dense: cells are numbered row-major
    std::vector<Attached> attached, on_separator;
    std::vector<Child> children;

    std::vector<Var> separator() const {
      return {vars.begin(), vars.begin() + static_cast<std::ptrdiff_t>(separator_vars)};
    }
  };

  static constexpr std::int32_t kListed = -1;

  // `use` gets where the cell of each entry is.
  template <typename Use>
  void with_cells(const Child& child, const Use& use) const {
    if (child.few) {
      use(few_cells_of_.data() + child.map);
    } else {
      use(cells_of_.data() + child.map);
    }
  }

  struct Dense {
    DenseClique clique;  // of the separator, those of the children, the factors
    std::vector<const Factor*> factors;
    int least_exponent = 0;  // of an entry of all factors, or less
    double scale = 1;        // up_ is as many times what the entries sum to
  };
  // What a dense clique is multiplied from when there is no evidence.
  DenseClique::Numbers dense_numbers(const Clique& clique) const;
  DenseClique::Sums no_sums(const Clique& clique) const;

  // Which cliques are dense is chosen when all that can be are and have been gone through once.
  struct Plan {
    std::vector<std::uint32_t> clique;        // of cliques_: its number in the CliqueTree
    std::vector<DenseClique::Count> entries;  // of cliques_: of dense ones
    // By number in the CliqueTree: whether to list it, and which cells of its separator occur,
    // where that is known. Empty the first time.
    std::vector<bool> listed;
    std::vector<std::vector<bool>> occurs;
  };
  void compute_priors(Plan& plan);
  void sum_dense(Clique& clique);
  void sum_listed(Clique& clique);
  void weigh_dense(std::uint32_t c, std::vector<double>& down, Plan& plan);
  void weigh_listed(const Clique& clique, std::vector<double>& entry);
  bool choose_listed(Plan& plan) const;
  // The combination of `scope` that each entry of the root's clique belongs to.
  std::vector<std::uint64_t> root_cells(const std::vector<Var>& scope) const;

  std::vector<std::size_t> states_;
  std::vector<std::size_t> state_offset_;  // into arrays with one double per variable state
  std::vector<Clique> cliques_;
  std::vector<Dense> dense_;
  std::vector<std::uint32_t> collect_order_;
  std::vector<std::uint32_t> home_;  // clique of each variable that is asked about
  std::vector<bool> home_is_separator_;
  std::vector<std::uint16_t> states_of_, few_cells_of_;
  std::vector<std::uint32_t> cells_of_;
  std::vector<std::uint32_t> bounds_;
  std::vector<double> value_;         // per entry: product of factors and of all below, no evidence
  std::vector<double> up_;            // per cell: sum of value_ over the cell's entries
  std::vector<double> belief_;        // per cell: P(cell) without evidence, where remembered
  std::vector<double> prior_;         // per variable state
  std::size_t listed_cells_ = 0;      // those of dense cliques come after
  std::size_t remembered_cells_ = 0;  // the first so many, in belief_
  std::size_t entries_ = 0, bytes_ = 0;
  double dense_entries_ = 0, largest_clique_ = 0;
};

// One thread's evidence and its posterior, for `Lanes` cases at once that have evidence on the same
// variables. Cheap to reuse, not to create. A lane's results are those of a single case, to the
// bit.
template <std::size_t Lanes>
class LanePropagation {
 public:
  explicit LanePropagation(const JunctionTree& tree);

  // The memory that one takes, to a few hundred bytes.
  static std::size_t bytes(const JunctionTree& tree);

  // Forgets all evidence.
  void clear();
  // Multiplies what is known of v in one lane by a likelihood, one non-negative number per state.
  // Hard evidence is a likelihood of 0 everywhere but one state.
  void multiply(Var v, std::span<const double> likelihood, std::size_t lane = 0);

  // Collects the evidence. log_evidence() is -infinity where it is impossible.
  void collect_all();
  double log_evidence(std::size_t lane = 0) const { return log_evidence_[lane]; }
  // After collect_all(): whether the lane's evidence is so improbable or contradictory that
  // products may have left the range of doubles. Its results then mean nothing; Propagation finds
  // them.
  bool doubtful(std::size_t lane) const;
  // collect_all() for those who have no other way: throws Error(limit_exceeded) if a lane is
  // doubtful.
  void collect_or_refuse();
  // After collect_all(): distributes the evidence, after which posteriors are valid in the lanes
  // whose evidence is possible.
  void distribute();

 protected:
  // Of dirty_: on the separator of the clique alone, or in it or below.
  static constexpr std::uint8_t kSeparator = 1, kEntries = 2;

  void multiply_weight(double& weight, double by, bool possible, std::size_t lane);
  static std::size_t largest_listed(const JunctionTree& tree);
  static std::size_t most_dense_below(const JunctionTree& tree);
  DenseClique::Numbers dense_numbers(std::uint32_t c) const;
  void collect_listed(std::uint32_t c, double* largest);
  void collect_dense(std::uint32_t c, double* largest);
  void clear_below(std::uint32_t c);
  void weigh_listed(std::uint32_t c);
  void weigh_dense(std::uint32_t c);
  bool moved(std::uint32_t c, double* belief) const;
  void go_below(std::uint32_t c, double* belief);
  void mark_changed(Var v);

  friend class Posterior;
  friend class LogarithmicPass;

  const JunctionTree* tree_;
  std::vector<double> weight_;         // per variable state: evidence
  std::vector<double> log_;            // for one lane only: its logarithm, scale and all
  std::vector<std::uint8_t> changed_;  // per variable: has evidence
  std::vector<Var> changed_list_;
  double log_weight_[Lanes];  // scale taken out of weight_
  int exponent_[Lanes];       // binary: no product of weights above 0 is smaller
  bool lost_[Lanes];          // a weight above 0 left the range of doubles
  double log_evidence_[Lanes];
  std::vector<std::uint8_t> dirty_;  // per clique: where there is evidence
  std::vector<std::uint32_t> dirty_list_;
  std::vector<double> value_;        // per entry, dirty cliques only
  std::vector<double> up_;           // per cell of a listed clique, dirty ones only
  std::vector<double> ratio_;        // per cell: up over no-evidence up, rescaled; below a dense
                                     // clique times no-evidence up. Of a dense clique, once the
                                     // evidence is distributed so far, what its entries weigh
  std::vector<double> scale_;        // per clique: what ratio_ was rescaled by
  std::vector<double> belief_;       // per cell of a listed clique
  std::vector<double> dense_below_;  // beliefs of the dense cliques below one
  std::vector<double*> below_;       // beliefs of all cliques below one
  // With dense cliques, distributing uses up what was collected.
  enum class Stage { collected, distributing, distributed } stage_ = Stage::collected;
  std::vector<double> posterior_;    // per variable state
  std::vector<std::uint8_t> visit_;  // per clique: its separator changed
  std::vector<double> entry_;        // beliefs of one clique's entries
  std::vector<Var> moved_;           // variables whose posterior is not their prior
};

// Where one case's posteriors lie, whichever propagation computed them; valid until it changes.
class Posterior {
 public:
  template <std::size_t Lanes>
  Posterior(const LanePropagation<Lanes>& from, std::size_t lane = 0)  // NOLINT: a view, like span
      : first_(from.posterior_.data() + lane),
        offset_(from.tree_->state_offset_.data()),
        step_(Lanes) {}
  // Of numbers laid out by JunctionTree::first_state.
  Posterior(const JunctionTree& tree, std::span<const double> numbers)
      : first_(numbers.data()), offset_(tree.state_offset_.data()), step_(1) {}

  double operator()(Var v, std::size_t state) const { return first_[(offset_[v] + state) * step_]; }

 private:
  const double* first_;
  const std::size_t* offset_;
  std::size_t step_;
};

// One case. Evidence may be as improbable and as long as it likes: where doubles would not do, it
// works in logarithms.
class Propagation : public LanePropagation<1> {
 public:
  using LanePropagation<1>::LanePropagation;

  // Tells natural logs of a likelihood, -infinity for 0.
  void multiply_logs(Var v, std::span<const double> logs);
  // Natural log of P(evidence).
  double collect();
  // After collect() gave a finite result: distributes the evidence.
  void distribute();
  std::span<const double> posterior(Var v) const {
    return {posterior_.data() + tree_->state_offset_[v], tree_->states_[v]};
  }
  // After collect(): P(scope | evidence) from the root's clique, row-major in the order of `scope`,
  // all of whose variables must have been in the tree's `root_scope`.
  std::vector<double> root_joint(const std::vector<Var>& scope) const;

 private:
  bool in_logarithms_ = false;  // how the evidence was collected
};

constexpr std::size_t kLanes = 8;
extern template class LanePropagation<1>;
extern template class LanePropagation<kLanes>;

}  // namespace faultodds::network
