#include "core/network/tree_builder.h"

#include <algorithm>
#include <cmath>
#include <string>

#include "core/error.h"
#include "core/stop.h"

namespace faultodds::network {
namespace {

// Where the owner allows dense cliques and there are so many entries in all, those of so many can
// be dense.
constexpr double kLeastDenseTotal = 16384;
constexpr double kLeastDense = 2048;
constexpr std::size_t kLooksBetweenStops = std::size_t{1} << 16;

bool has_zeros(const Factor& factor) {
  return std::any_of(factor.table.begin(), factor.table.end(), [](double p) { return !(p > 0); });
}

}  // namespace

std::vector<std::uint64_t> strides(const std::vector<Var>& clique, const std::vector<Var>& scope,
                                   const std::vector<std::size_t>& states) {
  std::vector<std::uint64_t> stride(clique.size(), 0);
  std::uint64_t step = 1;
  for (std::size_t k = scope.size(); k-- > 0;) {
    const auto at = std::find(clique.begin(), clique.end(), scope[k]) - clique.begin();
    stride[static_cast<std::size_t>(at)] = step;
    step *= states[scope[k]];
  }
  return stride;
}

TreeBuilder::TreeBuilder(JunctionTree& tree, const std::vector<const Factor*>& factors,
                         const CliqueTree& from, const std::vector<Var>& root_scope,
                         const TreeOptions& options, JunctionTree::Plan& plan)
    : tree_(tree),
      factors_(factors),
      from_(from),
      root_scope_(root_scope),
      options_(options),
      plan_(plan),
      states_(tree.states_),
      cliques_(tree.cliques_),
      dense_(tree.dense_),
      collect_order_(tree.collect_order_),
      home_(tree.home_),
      home_is_separator_(tree.home_is_separator_),
      states_of_(tree.states_of_),
      few_cells_of_(tree.few_cells_of_),
      cells_of_(tree.cells_of_),
      bounds_(tree.bounds_),
      value_(tree.value_),
      up_(tree.up_),
      holders_(states_.size()) {}

void TreeBuilder::build() {
  tree_.dense_entries_ = from_.total_entries;
  tree_.largest_clique_ = from_.largest_clique;
  collect_order_.assign(from_.collect_order.begin(), from_.collect_order.end());
  place_variables();
  assign_factors();
  order_dense();
  list_entries();
  choose_homes();
  lay_out();
  renumber_cliques();
  number_cells();
  measure();
}

void TreeBuilder::refuse(double bytes) const {
  const auto whole = [](double x) {
    return std::to_string(static_cast<std::uint64_t>(std::min(std::ceil(x), 1e18)));
  };
  throw Error(Code::limit_exceeded,
              "exact inference needs more than " + whole(bytes) + " bytes, " +
                  whole(std::max(bytes, all_possible_bytes_)) +
                  " if no combination of states is impossible; the memory budget is " +
                  std::to_string(options_.memory_budget));
}

void TreeBuilder::refuse_looking() const {
  throw Error(Code::limit_exceeded,
              "exact inference looks at more than " + std::to_string(most_looked_at()) +
                  " combinations of states, as many as the memory budget has bytes");
}

void TreeBuilder::check_memory() const {
  if (bytes_ > static_cast<double>(options_.memory_budget)) refuse(bytes_);
}

// Separator variables first, so that entries listed in order are grouped by separator cell.
void TreeBuilder::place_variables() {
  const std::size_t m = from_.cliques.size();
  cliques_.resize(m);
  for (std::size_t c = 0; c < m; ++c) {
    Clique& clique = cliques_[c];
    clique.parent = from_.parent[c];
    const auto& vars = from_.cliques[c];
    std::vector<Var> rest;
    for (Var v : vars) {
      const bool shared =
          clique.parent >= 0 &&
          std::binary_search(from_.cliques[static_cast<std::size_t>(clique.parent)].begin(),
                             from_.cliques[static_cast<std::size_t>(clique.parent)].end(), v);
      (shared ? clique.vars : rest).push_back(v);
      holders_[v].push_back(static_cast<std::uint32_t>(c));
    }
    clique.separator_vars = clique.vars.size();
    clique.vars.insert(clique.vars.end(), rest.begin(), rest.end());
    double combinations = 1;
    for (Var v : clique.vars) combinations *= static_cast<double>(states_[v]);
    if (combinations > 0x1p62) refuse(combinations * 8);
  }
  for (std::size_t c = 0; c < m; ++c) {
    if (cliques_[c].parent >= 0) {
      cliques_[static_cast<std::size_t>(cliques_[c].parent)].children.push_back(
          {static_cast<std::uint32_t>(c), 0});
    }
  }
}

// Each factor goes to the smallest clique that holds its scope.
void TreeBuilder::assign_factors() {
  const std::size_t m = from_.cliques.size();
  for (const Clique& clique : cliques_) {
    double entries = 1;
    for (Var v : clique.vars) entries *= static_cast<double>(states_[v]);
    combinations_.push_back(entries);
  }
  assigned_.resize(m);
  for (const Factor* f : factors_) {
    if (f->scope.empty()) continue;
    const Var* rarest = &f->scope[0];
    for (const Var& v : f->scope) {
      if (holders_[v].size() < holders_[*rarest].size()) rarest = &v;
    }
    std::uint32_t best = kNone;
    for (std::uint32_t c : holders_[*rarest]) {
      const bool holds = std::all_of(f->scope.begin(), f->scope.end(), [&](Var v) {
        return std::binary_search(from_.cliques[c].begin(), from_.cliques[c].end(), v);
      });
      if (holds && (best == kNone || combinations_[c] < combinations_[best])) best = c;
    }
    assigned_[best].push_back(f);
  }
  for (std::size_t c = 0; c < m; ++c) {
    all_possible_bytes_ += combinations_[c] * static_cast<double>(row_bytes_of(cliques_[c]));
  }
}

// Dense cliques are numbered from the root down, so that what varies together lies together.
void TreeBuilder::order_dense() {
  order_.resize(from_.cliques.size());
  const bool some_dense = options_.dense_cliques && from_.total_entries >= kLeastDenseTotal;
  for (auto it = collect_order_.rbegin(); some_dense && it != collect_order_.rend(); ++it) {
    Clique& clique = cliques_[*it];
    if (clique.parent >= 0 && order_[static_cast<std::size_t>(clique.parent)]) {
      const std::vector<Var>& above = order_[static_cast<std::size_t>(clique.parent)]->vars;
      std::sort(clique.vars.begin(),
                clique.vars.begin() + static_cast<std::ptrdiff_t>(clique.separator_vars),
                [&](Var a, Var b) {
                  return std::find(above.begin(), above.end(), a) <
                         std::find(above.begin(), above.end(), b);
                });
    }
    if (combinations_[*it] < kLeastDense || (clique.parent < 0 && !root_scope_.empty())) continue;
    std::vector<DenseScope> scopes{{clique.separator(), false}};
    for (const Child& child : clique.children) {
      scopes.push_back({cliques_[child.clique].separator(), false});
    }
    for (const Factor* f : assigned_[*it]) scopes.push_back({f->scope, has_zeros(*f)});
    order_[*it] = DenseClique::order_of(clique.vars, states_, scopes);
  }
}

// Of one entry while compiling: value, cell, cells of the children, states, and its place in what
// is kept.
std::size_t TreeBuilder::row_bytes_of(const Clique& clique) {
  return 24 + sizeof(std::uint32_t) * clique.children.size() +
         sizeof(std::uint16_t) * clique.vars.size();
}

bool TreeBuilder::occurs(std::uint32_t c, std::uint64_t cell) const {
  return c >= plan_.occurs.size() || plan_.occurs[c].empty() ||
         plan_.occurs[c][static_cast<std::size_t>(cell)];
}

// How many states a separator has.
double TreeBuilder::separator_cells(const Clique& clique) const {
  double cells = 1;
  for (std::size_t i = 0; i < clique.separator_vars; ++i) {
    cells *= static_cast<double>(states_[clique.vars[i]]);
  }
  return cells;
}

void TreeBuilder::list_entries() {
  const std::size_t m = from_.cliques.size();
  rows_.resize(m);
  cell_index_.reserve(m);
  cell_count_.assign(m, 0);
  for (std::size_t c = 0; c < m; ++c) cell_index_.emplace_back(0.0);
  for (std::uint32_t c : collect_order_) {
    check_stop();
    const Relations relations = relations_of(c);
    if (order_[c] && (plan_.listed.empty() || !plan_.listed[c])) {
      go_without_list(c);
    } else {
      list_clique(c, relations);
    }
    forget_children(c);
  }
}

// The children's numbering has served.
void TreeBuilder::forget_children(std::uint32_t c) {
  for (const Child& child : cliques_[c].children) {
    bytes_ -= cell_index_[child.clique].bytes();
    cell_index_[child.clique] = CellIndex(0.0);
  }
}

TreeBuilder::Relations TreeBuilder::relations_of(std::uint32_t c) const {
  const Clique& clique = cliques_[c];
  const std::size_t k = clique.vars.size();
  Relations of;
  std::vector<Relation>& relations = of.all;
  for (const Child& child : clique.children) {
    const Clique& below = cliques_[child.clique];
    const std::vector<Var> scope = below.separator();
    relations.push_back(
        {nullptr, &cell_index_[child.clique], strides(clique.vars, scope, states_)});
  }
  const std::size_t children = of.children = relations.size();
  for (std::size_t r = 0; r < children; ++r) {
    if (cliques_[clique.children[r].clique].dense != kListed) relations[r].cells = nullptr;
  }
  for (const Factor* f : assigned_[c]) {
    relations.push_back({f, nullptr, strides(clique.vars, f->scope, states_)});
  }
  of.complete.resize(k);
  for (std::size_t r = 0; r < relations.size(); ++r) {
    std::size_t last = 0;
    for (std::size_t i = 0; i < k; ++i) {
      if (relations[r].stride[i] != 0) last = i;
    }
    of.complete[last].push_back(r);
  }
  return of;
}

// Goes without a list. The cells of those below are numbered as if each were possible.
void TreeBuilder::go_without_list(std::uint32_t c) {
  Clique& clique = cliques_[c];
  const double cells = separator_cells(clique);
  clique.dense = 0;
  rows_[c] = Rows{};
  bytes_ -= cell_index_[c].bytes();
  cell_index_[c] = CellIndex(0.0);
  bytes_ += cells * 3 * sizeof(double);
  looked_at_ += static_cast<std::size_t>(combinations_[c]);
  if (looked_at_ > most_looked_at()) refuse_looking();
  check_memory();
  cell_count_[c] = static_cast<std::uint32_t>(cells);
  for (const Child& child : clique.children) {
    Clique& below = cliques_[child.clique];
    below.below_dense = true;
    if (below.dense != kListed) continue;
    const std::vector<std::uint64_t> key = cell_index_[child.clique].keys();
    for (std::uint32_t& cell : rows_[child.clique].cell) {
      cell = static_cast<std::uint32_t>(key[cell]);
    }
    bytes_ += (separator_cells(below) - cell_count_[child.clique]) * 3 * sizeof(double);
    cell_count_[child.clique] = static_cast<std::uint32_t>(separator_cells(below));
  }
}

// Depth-first over states; a relation is checked as soon as its last variable is set.
void TreeBuilder::list_clique(std::uint32_t c, const Relations& among) {
  const Clique& clique = cliques_[c];
  const std::vector<Relation>& relations = among.all;
  const std::size_t k = clique.vars.size(), children = among.children;
  cell_index_[c] = CellIndex(separator_cells(clique));
  bytes_ += cell_index_[c].bytes();
  check_memory();
  rows_[c].child.resize(children);
  std::vector<std::uint16_t> state(k, 0);
  // The place of the current states in each relation, and in the separator (the last key).
  std::vector<std::uint64_t> key(relations.size() + 1, 0);
  std::vector<std::vector<std::pair<std::size_t, std::uint64_t>>> steps(k);
  for (std::size_t r = 0; r < relations.size(); ++r) {
    for (std::size_t i = 0; i < k; ++i) {
      if (relations[r].stride[i] != 0) steps[i].emplace_back(r, relations[r].stride[i]);
    }
  }
  const auto separator_stride = strides(clique.vars, clique.separator(), states_);
  for (std::size_t i = 0; i < clique.separator_vars; ++i) {
    steps[i].emplace_back(relations.size(), separator_stride[i]);
  }
  std::vector<double> product(k + 1, 1.0);
  std::vector<std::uint32_t> child_cell(children, 0);
  std::vector<std::size_t> next(k, 0), states;
  for (Var v : clique.vars) states.push_back(states_[v]);
  std::size_t depth = 0;
  while (true) {
    if (++looked_at_ % kLooksBetweenStops == 0) {
      check_stop();
      if (looked_at_ > most_looked_at()) refuse_looking();
    }
    if (depth == k) {
      add_row(c, product[k], key[relations.size()], child_cell, state);
      if (k == 0) break;
      --depth;
      continue;
    }
    const std::size_t s = next[depth];
    if (s == states[depth]) {
      for (const auto& [r, stride] : steps[depth]) key[r] -= (s - 1) * stride;
      next[depth] = 0;
      if (depth == 0) break;
      --depth;
      continue;
    }
    if (s > 0) {
      for (const auto& [r, stride] : steps[depth]) key[r] += stride;
    }
    ++next[depth];
    state[depth] = static_cast<std::uint16_t>(s);
    double value = product[depth];
    bool possible = true;
    for (std::size_t r : among.complete[depth]) {
      if (r < children) {
        child_cell[r] = relations[r].cells ? relations[r].cells->find(key[r])
                                           : static_cast<std::uint32_t>(key[r]);
        possible = child_cell[r] != kNone && occurs(clique.children[r].clique, key[r]);
      } else {
        value *= relations[r].factor->table[static_cast<std::size_t>(key[r])];
        possible = value > 0;
      }
      if (!possible) break;
    }
    if (depth + 1 == clique.separator_vars) possible = possible && occurs(c, key.back());
    if (!possible) continue;
    product[depth + 1] = value;
    ++depth;
  }
}

void TreeBuilder::add_row(std::uint32_t c, double value, std::uint64_t cell,
                          const std::vector<std::uint32_t>& child_cell,
                          const std::vector<std::uint16_t>& state) {
  Rows& out = rows_[c];
  out.value.push_back(value);
  out.cell.push_back(cell_index_[c].add(cell));
  if (cell_index_[c].count() > cell_count_[c]) {
    cell_count_[c] = cell_index_[c].count();
    bytes_ += cell_index_[c].cell_bytes();
  }
  for (std::size_t r = 0; r < child_cell.size(); ++r) out.child[r].push_back(child_cell[r]);
  out.state.insert(out.state.end(), state.begin(), state.end());
  bytes_ += static_cast<double>(row_bytes_of(cliques_[c]));
  check_memory();
}

}  // namespace faultodds::network
