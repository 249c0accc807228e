// Lays out what was listed: from the root down, entries whose separator cell the parent never uses
// dropped, cells renumbered, everything in one block per kind. Listing is tree_builder.cpp's.
#include <algorithm>
#include <utility>

#include "core/network/exponents.h"
#include "core/network/tree_builder.h"

namespace faultodds::network {
namespace {

constexpr std::uint32_t kFewCells = 1u << 16;
// Of the separators of dense cliques, those with more cells have their beliefs without evidence
// forgotten: it is not looked whether they moved.
constexpr std::size_t kMostRemembered = std::size_t{1} << 17;

std::vector<std::uint32_t> pick(const std::vector<std::uint32_t>& from,
                                const std::vector<std::uint32_t>& at) {
  std::vector<std::uint32_t> picked;
  picked.reserve(at.size());
  for (std::uint32_t i : at) picked.push_back(from[i]);
  return picked;
}

}  // namespace

double TreeBuilder::size_of(std::uint32_t c) const {
  return cliques_[c].dense != kListed ? combinations_[c]
                                      : static_cast<double>(rows_[c].value.size());
}

// Where evidence on a variable is told: in the smallest of the cliques and separators that have it.
void TreeBuilder::choose_homes() {
  home_.assign(states_.size(), kNone);
  home_is_separator_.assign(states_.size(), false);
  for (Var v = 0; v < states_.size(); ++v) {
    for (std::uint32_t c : holders_[v]) {
      if (home_[v] == kNone || size_of(c) < size_of(home_[v])) home_[v] = c;
    }
    // Of two cliques' variables there are fewer combinations than of either's.
    double least = size_of(home_[v]);
    for (std::uint32_t c : holders_[v]) {
      const auto& vars = cliques_[c].vars;
      const auto end = vars.begin() + static_cast<std::ptrdiff_t>(cliques_[c].separator_vars);
      if (!(cell_count_[c] < least) || std::find(vars.begin(), end, v) == end) continue;
      least = cell_count_[c];
      home_[v] = c;
      home_is_separator_[v] = true;
    }
  }
  if (!options_.asked.empty()) {
    std::vector<bool> asked(states_.size(), false);
    for (Var v : options_.asked) asked[v] = true;
    for (Var v = 0; v < states_.size(); ++v) {
      if (!asked[v]) home_[v] = kNone;
    }
  }
  for (Var v : root_scope_) {
    home_[v] = collect_order_.back();
    home_is_separator_[v] = false;
  }
}

// A clique that has one entry to each cell of its separator sums nothing; where it makes for less
// work, the clique above takes over its values, variables and children.
void TreeBuilder::lay_out() {
  const std::size_t m = from_.cliques.size();
  kept_cell_.resize(m);
  absorbed_.assign(m, false);
  for (auto it = collect_order_.rbegin(); it != collect_order_.rend(); ++it) {
    const std::uint32_t c = *it;
    if (absorbed_[c]) continue;
    if (cliques_[c].parent < 0) kept_cell_[c].assign(cell_count_[c], 0);
    if (cliques_[c].dense != kListed) {
      lay_out_dense(c);
    } else {
      lay_out_listed(c);
    }
  }
}

// The states, in each cell of the separator, of the variables whose home that is. Where every
// cell is numbered they follow from the number.
void TreeBuilder::attach_to_separator(std::uint32_t c,
                                      const std::vector<std::uint32_t>& first_row) {
  Clique& clique = cliques_[c];
  const Rows& in = rows_[c];
  const bool all = clique.dense != kListed || clique.below_dense;
  const auto stride = strides(clique.vars, clique.separator(), states_);
  for (std::size_t i = 0; i < clique.separator_vars; ++i) {
    const Var v = clique.vars[i];
    if (home_[v] != c || !home_is_separator_[v]) continue;
    clique.on_separator.push_back({v, states_of_.size()});
    for (std::size_t cell = 0; cell < clique.cells; ++cell) {
      states_of_.push_back(all ? static_cast<std::uint16_t>(cell / stride[i] % states_[v])
                               : in.state[first_row[cell] * clique.vars.size() + i]);
    }
  }
}

void TreeBuilder::lay_out_dense(std::uint32_t c) {
  Clique& clique = cliques_[c];
  clique.dense = static_cast<std::int32_t>(dense_.size());
  clique.first = value_.size();
  clique.first_cell = up_.size();
  clique.first_bound = bounds_.size();
  clique.cells = cell_count_[c];
  up_.resize(up_.size() + clique.cells, 0.0);
  tree_.entries_ += static_cast<std::size_t>(combinations_[c]);
  for (std::uint32_t i = 0; i < clique.cells; ++i) kept_cell_[c][i] = i;
  std::vector<std::vector<Var>> scopes{clique.separator()};
  for (const Child& child : clique.children) {
    kept_cell_[child.clique].assign(cell_count_[child.clique], 0);
    scopes.push_back(cliques_[child.clique].separator());
  }
  for (const Factor* f : assigned_[c]) scopes.push_back(f->scope);
  std::vector<Var> at_home;
  for (Var v : clique.vars) {
    if (home_[v] != c || home_is_separator_[v]) continue;
    at_home.push_back(v);
    clique.attached.push_back({v, 0});
  }
  dense_.push_back({DenseClique(*order_[c], states_, scopes, at_home), assigned_[c]});
  attach_to_separator(c, {});
  for (const Factor* f : assigned_[c]) {
    dense_.back().least_exponent += least_exponent(f->table.data(), f->table.size());
  }
}

// The entries that are kept. The first row of each cell.
std::vector<std::uint32_t> TreeBuilder::lay_out_entries(std::uint32_t c,
                                                        const std::vector<std::uint32_t>& keep) {
  Clique& clique = cliques_[c];
  const Rows& in = rows_[c];
  clique.first = value_.size();
  clique.size = keep.size();
  clique.first_cell = up_.size();
  clique.first_bound = bounds_.size();
  std::uint32_t cells = 0;
  std::uint32_t previous = kNone;
  std::vector<std::uint32_t> first_row;  // of each cell
  for (std::size_t i = 0; i < keep.size(); ++i) {
    const std::uint32_t old = in.cell[keep[i]];
    for (; clique.below_dense && cells < old; ++cells) {  // impossible
      bounds_.push_back(static_cast<std::uint32_t>(i));
    }
    if (old != previous) {
      kept_cell_[c][old] = cells++;
      first_row.push_back(keep[i]);
      bounds_.push_back(static_cast<std::uint32_t>(i));
      previous = old;
    }
    value_.push_back(in.value[keep[i]]);
  }
  for (; clique.below_dense && cells < cell_count_[c]; ++cells) {
    bounds_.push_back(static_cast<std::uint32_t>(keep.size()));
  }
  bounds_.push_back(static_cast<std::uint32_t>(keep.size()));
  clique.cells = cells;
  up_.resize(up_.size() + cells, 0.0);
  return first_row;
}

// The states in the rows of a clique, here or below it, of the variables whose home it is.
void TreeBuilder::attach(std::uint32_t c, std::uint32_t from,
                         const std::vector<std::uint32_t>& row) {
  Clique& clique = cliques_[c];
  const auto& vars = cliques_[from].vars;
  for (std::size_t i = 0; i < vars.size(); ++i) {
    if (home_[vars[i]] != from || (from == c && home_is_separator_[vars[i]])) continue;
    clique.attached.push_back({vars[i], states_of_.size()});
    for (std::uint32_t r : row) states_of_.push_back(rows_[from].state[r * vars.size() + i]);
  }
}

bool TreeBuilder::worth_absorbing(std::uint32_t below, std::size_t kept) const {
  const Clique& other = cliques_[below];
  const Rows& its = rows_[below];
  const auto homes = static_cast<std::size_t>(std::count_if(
      other.vars.begin(), other.vars.end(), [&](Var v) { return home_[v] == below; }));
  // Passes over the entries of either, counted once for collecting and distributing together.
  const std::size_t maps = other.children.size() + homes;
  return other.dense == kListed && its.value.size() == cell_count_[below] &&
         kept * maps <= kept + its.value.size() * (maps + 2);
}

void TreeBuilder::lay_out_listed(std::uint32_t c) {
  Clique& clique = cliques_[c];
  Rows& in = rows_[c];
  std::vector<std::uint32_t> keep;
  for (std::uint32_t i = 0; i < in.value.size(); ++i) {
    if (kept_cell_[c][in.cell[i]] != kNone) keep.push_back(i);
  }
  const std::vector<std::uint32_t> first_row = lay_out_entries(c, keep);
  attach(c, c, keep);
  attach_to_separator(c, first_row);
  std::vector<Below> below;
  for (std::size_t r = 0; r < clique.children.size(); ++r) {
    below.push_back({clique.children[r].clique, pick(in.child[r], keep)});
  }
  clique.children.clear();
  while (!below.empty()) {
    const Below next = std::move(below.back());
    below.pop_back();
    if (!worth_absorbing(next.clique, keep.size())) {
      lay_out_below(c, next);
      continue;
    }
    const Clique& other = cliques_[next.clique];
    Rows& its = rows_[next.clique];
    absorbed_[next.clique] = true;  // its rows are in the order of its cells
    for (std::size_t i = 0; i < keep.size(); ++i) {
      value_[clique.first + i] *= its.value[next.cell[i]];
    }
    attach(c, next.clique, next.cell);
    for (std::size_t r = 0; r < other.children.size(); ++r) {
      below.push_back({other.children[r].clique, pick(its.child[r], next.cell)});
    }
    its = Rows{};
  }
  in = Rows{};
}

// A clique below that stays one of its own.
void TreeBuilder::lay_out_below(std::uint32_t c, const Below& next) {
  Clique& clique = cliques_[c];
  cliques_[next.clique].parent = static_cast<std::int32_t>(c);
  // Old cell numbers for now; renumbered once the child has been laid out.
  auto& used = kept_cell_[next.clique];
  used.assign(cell_count_[next.clique], kNone);
  for (std::uint32_t cell : next.cell) used[cell] = 0;
  if (cell_count_[next.clique] <= kFewCells) {
    clique.children.push_back({next.clique, few_cells_of_.size(), true});
    for (std::uint32_t cell : next.cell) {
      few_cells_of_.push_back(static_cast<std::uint16_t>(cell));
    }
  } else {
    clique.children.push_back({next.clique, cells_of_.size()});
    cells_of_.insert(cells_of_.end(), next.cell.begin(), next.cell.end());
  }
}

// In what clique knows of those below it: their old cells become the new ones.
void TreeBuilder::renumber_cells(const Clique& clique) {
  for (const Child& child : clique.children) {
    const std::vector<std::uint32_t>& now = kept_cell_[child.clique];
    for (std::size_t i = child.map; i < child.map + clique.size; ++i) {
      if (child.few) {
        few_cells_of_[i] = static_cast<std::uint16_t>(now[few_cells_of_[i]]);
      } else {
        cells_of_[i] = now[cells_of_[i]];
      }
    }
  }
}

// Those that were taken into others are gone.
void TreeBuilder::renumber_cliques() {
  const std::size_t m = from_.cliques.size();
  std::vector<std::uint32_t> number(m, kNone);  // of the cliques that are left
  std::uint32_t left = 0;
  for (std::uint32_t c = 0; c < m; ++c) {
    if (absorbed_[c]) continue;
    Clique& clique = cliques_[c];
    renumber_cells(clique);
    for (const JunctionTree::Attached& a : clique.attached) {
      home_[a.var] = left;
      home_is_separator_[a.var] = false;
    }
    for (const JunctionTree::Attached& a : clique.on_separator) home_[a.var] = left;
    number[c] = left++;
  }
  std::erase_if(collect_order_, [&](std::uint32_t c) { return absorbed_[c]; });
  for (std::uint32_t& c : collect_order_) c = number[c];
  for (std::uint32_t c = 0; c < m; ++c) {
    if (absorbed_[c]) continue;
    Clique& clique = cliques_[c];
    for (Child& child : clique.children) child.clique = number[child.clique];
    if (clique.parent >= 0) {
      clique.parent = static_cast<std::int32_t>(number[static_cast<std::size_t>(clique.parent)]);
    }
    if (number[c] != c) cliques_[number[c]] = std::move(clique);
  }
  cliques_.resize(left);
  plan_.clique.resize(left);
  for (std::uint32_t c = 0; c < m; ++c) {
    if (!absorbed_[c]) plan_.clique[number[c]] = c;
  }
}

// Cells of listed cliques first: propagations keep more of those.
void TreeBuilder::number_cells() {
  std::size_t cells = 0;
  const auto kind = [](const Clique& clique) {
    return clique.dense == kListed ? 0 : clique.cells <= kMostRemembered ? 1 : 2;
  };
  for (const int next : {0, 1, 2}) {
    for (Clique& clique : cliques_) {
      if (kind(clique) != next) continue;
      clique.first_cell = cells;
      cells += clique.cells;
    }
    if (next == 0) tree_.listed_cells_ = cells;
    if (next == 1) tree_.remembered_cells_ = cells;
  }
}

void TreeBuilder::measure() {
  tree_.belief_.assign(up_.size(), 0.0);
  tree_.entries_ += value_.size();
  value_.shrink_to_fit();
  states_of_.shrink_to_fit();
  few_cells_of_.shrink_to_fit();
  cells_of_.shrink_to_fit();
  bounds_.shrink_to_fit();
  up_.shrink_to_fit();
  tree_.bytes_ = sizeof(JunctionTree) + cliques_.size() * sizeof(Clique) +
                 (value_.size() + up_.size() + tree_.remembered_cells_) * sizeof(double) +
                 (cells_of_.size() + bounds_.size()) * sizeof(std::uint32_t) +
                 (states_of_.size() + few_cells_of_.size()) * sizeof(std::uint16_t);
  for (const JunctionTree::Dense& d : dense_) {
    tree_.bytes_ +=
        sizeof(JunctionTree::Dense) + d.clique.bytes() + d.factors.size() * sizeof(Factor*);
  }
  for (const Clique& clique : cliques_) {
    tree_.bytes_ +=
        clique.vars.size() * sizeof(Var) +
        (clique.attached.size() + clique.on_separator.size()) * sizeof(JunctionTree::Attached) +
        clique.children.size() * sizeof(Child);
  }
}

}  // namespace faultodds::network
