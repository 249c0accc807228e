// What one record says of failure modes, as a sum of products over them: its probability and the
// grades of every mode that it is about. Exact, and far cheaper than a propagation through the
// whole circuit, which it is held to (tests/unit/priors_record_plan.cpp). With S_o the largest of
// what the sets of observation o show,
//
//   P(record) = sum over thresholds u of  product over o of (l_o(u_o) - l_o(u_o + 1))
//                                         product over blocks of modes of P(block shows at most u)
//
// a block being modes that no set ties to others (D. Heckerman's quickscore, 1989, for grades; from
// memory). Conditions are summed out. Nothing is learned here (learner.h).
#pragma once

#include <array>
#include <cstdint>
#include <map>
#include <span>
#include <vector>

#include "core/circuit/analysis.h"
#include "core/diagnosis/program.h"

namespace faultodds::priors {

using diagnosis::Grades;

// Prior grades of every mode of a circuit, by the combination of the conditions on it.
using PriorTables = std::vector<std::vector<Grades>>;
PriorTables prior_tables(const std::vector<Grades>& priors,
                         const std::vector<diagnosis::ModeConditions>& by);

class RecordPlan {
 public:
  // Observations that there is evidence of, ascending, and modes that findings name.
  RecordPlan(const circuit::Analysis& analysis, const std::vector<diagnosis::ModeConditions>& by,
             std::vector<std::uint32_t> observations, const std::vector<std::uint32_t>& named);

  // Where it is not, a propagation through the circuit is cheaper.
  bool affordable() const { return affordable_; }
  // What a record of these observations and findings is about, ascending.
  const std::vector<std::uint32_t>& modes() const { return modes_; }

  struct Answer {
    double probability = 0;
    std::vector<Grades> modes;     // posterior, as modes() has them
    std::vector<Grades> observed;  // of S of each observation
  };
  struct Scratch {
    std::vector<double> before, after, value, shown, left;
    std::vector<std::uint16_t> place;
  };
  // `likelihood` of S of each observation; `restricted`: likelihoods of grades of modes.
  Answer sum(const PriorTables& priors, std::span<const Grades> likelihood,
             const std::map<std::uint32_t, Grades>& restricted, bool with_observed,
             Scratch& scratch) const;

 private:
  // One joint state of the modes and links of a block.
  struct State {
    std::uint16_t place = 0;  // what it shows
    double weight = 1;        // of its links
    std::vector<std::uint8_t> grades;
  };
  struct Block {
    std::vector<std::uint32_t> digits;   // observations it shows in
    std::vector<std::uint32_t> members;  // places in modes_
    std::vector<State> states;           // empty: each mode shows its grade in all of them
    std::size_t size = 1, first = 0;     // of its values, among those of all blocks
  };
  // Grades times likelihoods of the modes in one context.
  using Weights = std::vector<Grades>;

  void make_blocks(const circuit::Analysis& analysis);
  bool add_states(const circuit::Analysis& analysis, Block& block) const;
  void lay_out(Scratch& scratch) const;
  void show(const Block& block, const Weights& weights, double* values) const;
  void collect(const Block& block, const Weights& weights, double times, double* values,
               std::vector<Grades>& sums) const;

  std::vector<std::uint32_t> observations_, modes_;
  std::vector<Block> blocks_;
  std::size_t thresholds_ = 1, values_ = 0;
  struct Condition {
    double probability;
  };
  std::vector<Condition> conditions_;
  // By mode: which of conditions_ act on it, the highest bit of its combination first.
  std::vector<std::vector<std::uint8_t>> acting_;
  bool affordable_ = true;
};

}  // namespace faultodds::priors
