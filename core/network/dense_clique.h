// A clique whose table is not kept: its entries are multiplied from factors and messages each time
// they are wanted, a block of them at once. Where few entries are 0 that takes far less memory than
// a list of them and less time to make, and reads less. It knows nothing of evidence, trees or what
// the numbers mean (junction_tree.h does), and keeps none: whoever visits it brings them.
#pragma once

#include <cstddef>
#include <cstdint>
#include <span>
#include <vector>

#include "core/network/network.h"

namespace faultodds::network {

// What the entries are multiplied from or summed into: a factor, or the cells of a separator.
struct DenseScope {
  std::vector<Var> scope;
  bool has_zeros = false;
};

class DenseClique {
 public:
  // The order in which the entries are gone through: the variables of the block are the last.
  // `scopes` are what it will have to do with; the block is chosen so that few of them vary in it.
  struct Order {
    std::vector<Var> vars;
    std::size_t in_block = 0;  // of them
  };
  static Order order_of(const std::vector<Var>& vars, const std::vector<std::size_t>& states,
                        const std::vector<DenseScope>& scopes);

  // Each of `scopes` is numbered row-major. `attached`: variables whose states can be weighed and
  // summed.
  DenseClique(const Order& order, const std::vector<std::size_t>& states,
              const std::vector<std::vector<Var>>& scopes, const std::vector<Var>& attached);

  std::size_t block() const { return block_; }
  std::size_t bytes() const;

  // What a visit multiplies, by place in `scopes` and in `attached`: null where there is nothing.
  // In logarithms it adds instead.
  struct Numbers {
    std::vector<const double*> of_scope, of_attached;
  };
  // What a visit sums its entries into, likewise.
  struct Sums {
    std::vector<double*> of_scope, of_attached;
  };
  // Of the entries: how many a visit gets to, and how many of those are not 0.
  struct Count {
    double visited = 0, possible = 0;
  };
  // For numbers as they are. Counts too, if `count` is not null.
  void sum(const Numbers& numbers, const Sums& sums, Count* count = nullptr) const;
  // Numbers are natural logs. `most` gets the largest entry of each cell of the first scope.
  void largest_logs(const Numbers& numbers, double* most) const;
  // Numbers are natural logs; sums are of exp(entry), or of exp(entry - most of its cell of the
  // first scope) if `most` is not null.
  void sum_logs(const Numbers& numbers, const double* most, const Sums& sums) const;

 private:
  struct Relation {
    std::vector<std::uint32_t> place;  // of each position in the block; none if all are at 0
    bool in_order = false;             // place[j] == j
    std::size_t complete = 0;          // outer variables that settle it
  };
  struct Step {
    std::uint32_t relation, by;
  };
  struct Attached {
    std::size_t outer;                 // place among the outer variables; kInBlock if in the block
    std::vector<std::uint32_t> state;  // of each position in the block
  };
  struct Block;

  template <bool logs, typename Use>
  void visit(const Numbers& numbers, const Use& use) const;
  template <typename Entry>
  void sum_blocks(const Sums& sums, std::vector<double>& block_sum, const Block& at,
                  const Entry* entry) const;
  void sum_attached_in_block(const Sums& sums, const std::vector<double>& block_sum) const;

  std::vector<std::size_t> outer_;                   // states of each outer variable
  std::size_t block_ = 1;                            // positions
  std::vector<Relation> relations_;                  // by place in `scopes`
  std::vector<std::vector<Step>> steps_;             // by outer variable
  std::vector<std::vector<std::uint32_t>> settled_;  // by outer variables set: relations
  std::vector<Attached> attached_;
};

}  // namespace faultodds::network
