// How the cliques of a JunctionTree come about: each clique's possible entries are listed, children
// first (tree_builder.cpp), and what is left of them is laid out from the root down
// (tree_layout.cpp). Of junction_tree.cpp alone, which chooses what goes without a list and
// computes the beliefs without evidence.
#pragma once

#include <cstddef>
#include <cstdint>
#include <optional>
#include <utility>
#include <vector>

#include "core/network/cell_index.h"
#include "core/network/dense_clique.h"
#include "core/network/junction_tree.h"

namespace faultodds::network {

class TreeBuilder {
 public:
  TreeBuilder(JunctionTree& tree, const std::vector<const Factor*>& factors, const CliqueTree& from,
              const std::vector<Var>& root_scope, const TreeOptions& options,
              JunctionTree::Plan& plan);

  void build();

 private:
  using Clique = JunctionTree::Clique;
  using Child = JunctionTree::Child;
  static constexpr std::uint32_t kNone = JunctionTree::kNone;
  static constexpr std::int32_t kListed = JunctionTree::kListed;

  // Rows of cell numbers, one column per child, then the states of the clique's variables.
  struct Rows {
    std::vector<double> value;                      // product of the assigned factors
    std::vector<std::uint32_t> cell;                // separator cell of each row
    std::vector<std::vector<std::uint32_t>> child;  // per child, cell of each row
    std::vector<std::uint16_t> state;               // row-major states
  };
  // A relation that the entries of a clique must satisfy: a factor's non-zero cells or the cells of
  // a child's separator. `stride` is per position in the clique's variable list (0 where absent).
  struct Relation {
    const Factor* factor = nullptr;
    const CellIndex* cells = nullptr;
    std::vector<std::uint64_t> stride;
  };
  // What the rows of a clique must satisfy, the children's cells first; those complete at each
  // variable.
  struct Relations {
    std::vector<Relation> all;
    std::size_t children = 0;
    std::vector<std::vector<std::size_t>> complete;
  };
  struct Below {
    std::uint32_t clique;
    std::vector<std::uint32_t> cell;  // of each entry that is kept; the clique's old numbering
  };

  [[noreturn]] void refuse(double bytes) const;
  std::size_t most_looked_at() const {
    return options_.most_looked_at > 0 ? options_.most_looked_at : options_.memory_budget;
  }
  [[noreturn]] void refuse_looking() const;
  void check_memory() const;

  void place_variables();
  void assign_factors();
  void order_dense();
  void list_entries();
  Relations relations_of(std::uint32_t c) const;
  void list_clique(std::uint32_t c, const Relations& relations);
  void go_without_list(std::uint32_t c);
  void forget_children(std::uint32_t c);
  void add_row(std::uint32_t c, double value, std::uint64_t cell,
               const std::vector<std::uint32_t>& child_cell,
               const std::vector<std::uint16_t>& state);
  static std::size_t row_bytes_of(const Clique& clique);
  bool occurs(std::uint32_t c, std::uint64_t cell) const;
  double separator_cells(const Clique& clique) const;

  double size_of(std::uint32_t c) const;
  void choose_homes();
  void lay_out();
  void lay_out_dense(std::uint32_t c);
  void lay_out_listed(std::uint32_t c);
  std::vector<std::uint32_t> lay_out_entries(std::uint32_t c,
                                             const std::vector<std::uint32_t>& keep);
  bool worth_absorbing(std::uint32_t below, std::size_t kept) const;
  void lay_out_below(std::uint32_t c, const Below& next);
  void attach(std::uint32_t c, std::uint32_t from, const std::vector<std::uint32_t>& row);
  void attach_to_separator(std::uint32_t c, const std::vector<std::uint32_t>& first_row);
  void renumber_cells(const Clique& clique);
  void renumber_cliques();
  void number_cells();
  void measure();

  JunctionTree& tree_;
  const std::vector<const Factor*>& factors_;
  const CliqueTree& from_;
  const std::vector<Var>& root_scope_;
  const TreeOptions& options_;
  JunctionTree::Plan& plan_;
  // Of tree_:
  const std::vector<std::size_t>& states_;
  std::vector<Clique>& cliques_;
  std::vector<JunctionTree::Dense>& dense_;
  std::vector<std::uint32_t>& collect_order_;
  std::vector<std::uint32_t>& home_;
  std::vector<bool>& home_is_separator_;
  std::vector<std::uint16_t>&states_of_, &few_cells_of_;
  std::vector<std::uint32_t>&cells_of_, &bounds_;
  std::vector<double>&value_, &up_;

  std::vector<std::vector<std::uint32_t>> holders_;       // by variable: the cliques it is in
  std::vector<double> combinations_;                      // by clique: entries were none impossible
  std::vector<std::vector<const Factor*>> assigned_;      // by clique
  std::vector<std::optional<DenseClique::Order>> order_;  // by clique, of those that may be dense
  std::vector<Rows> rows_;
  std::vector<CellIndex> cell_index_;
  std::vector<std::uint32_t> cell_count_;
  std::vector<std::vector<std::uint32_t>> kept_cell_;  // old cell -> new cell or kNone
  std::vector<bool> absorbed_;
  double all_possible_bytes_ = 0;  // were no combination impossible
  double bytes_ = 0;               // of lists and numbering, while it is built
  // Combinations that turn out impossible take no memory but time; more than the budget has bytes
  // are not looked at.
  std::size_t looked_at_ = 0;
};

// How far apart in the table of `scope` the states of each variable of `clique` are; 0 where it is
// not in it.
std::vector<std::uint64_t> strides(const std::vector<Var>& clique, const std::vector<Var>& scope,
                                   const std::vector<std::size_t>& states);

}  // namespace faultodds::network
