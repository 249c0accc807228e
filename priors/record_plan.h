// What one record says of failure modes, as a sum of products over them: its probability and the
// grades of every mode that it is about. Exact, and far cheaper than a propagation through the
// whole circuit, which it is held to (tests/unit/priors_record_plan.cpp). With S_o the largest of
// what the sets of observation o show,
//
//   P(record) = sum over thresholds u of  product over o of (l_o(u_o) - l_o(u_o + 1))
//                                         product over blocks of modes of P(block shows at most u)
//
// a block being modes that no set ties to others once the grades of some, hubs, are given (D.
// Heckerman's quickscore, 1989, for grades; from memory). Conditions are summed out, but for what
// is less likely than 1 in 200 of several at once. Nothing is learned here (learner.h).
#pragma once

#include <array>
#include <cstdint>
#include <map>
#include <span>
#include <utility>
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
    std::vector<double> before, after, value, all, shown, left;
    std::vector<std::uint16_t> place;
  };
  // `likelihood` of S of each observation; `restricted`: likelihoods of grades of modes.
  Answer sum(const PriorTables& priors, std::span<const Grades> likelihood,
             const std::map<std::uint32_t, Grades>& restricted, bool with_observed,
             Scratch& scratch) const;

 private:
  // What a set shows of the modes that are not hubs, capped by those that are.
  struct Shown {
    std::uint32_t digit = 0;
    double probability = 1;
    std::uint8_t most = 2;
    std::vector<std::uint32_t> members;  // places in modes_
  };
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
  // The blocks where hubs, the modes that tie most others together, have certain grades.
  struct Layout {
    std::vector<std::uint8_t> hubs;
    std::vector<Block> blocks;
    std::size_t values = 0;
  };
  // Grades times likelihoods of the modes in one context.
  using Weights = std::vector<Grades>;

  std::vector<Shown> shown_with(const circuit::Analysis& analysis,
                                const std::vector<std::uint8_t>& hubs) const;
  // False where a block has too many states; then `hub` is the mode that ties most of it.
  bool lay_out(const circuit::Analysis& analysis, const std::vector<std::uint8_t>& hubs,
               Layout& layout, std::uint32_t& hub) const;
  static bool add_states(const std::vector<Shown>& shown, Block& block);
  void places(const Layout& layout, Scratch& scratch) const;
  static Grades all_but(std::size_t digit, const std::vector<Grades>& steps, Scratch& scratch);
  static void show(const Block& block, const Weights& weights, double* values);
  static void collect(const Block& block, const Weights& weights, double times, double* values,
                      std::vector<Grades>& sums);
  // Weights of the modes in a context of the conditions.
  void weigh(std::size_t context, const PriorTables& priors,
             const std::map<std::uint32_t, Grades>& restricted, Weights& weights) const;
  // One layout in one context.
  void add(const Layout& layout, const Weights& weights, double times, bool with_observed,
           Scratch& scratch, Answer& answer) const;

  std::vector<std::uint32_t> observations_, modes_, hubs_;
  std::vector<Layout> layouts_;
  std::size_t thresholds_ = 1;
  std::vector<double> conditions_;                        // probabilities
  std::vector<std::pair<std::size_t, double>> contexts_;  // which of them hold, how likely
  // By mode: which of conditions_ act on it, the highest bit of its combination first.
  std::vector<std::vector<std::uint8_t>> acting_;
  bool affordable_ = true;
};

}  // namespace faultodds::priors
