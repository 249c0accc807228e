#include "core/network/junction_tree.h"

#include <algorithm>
#include <cmath>
#include <limits>
#include <optional>
#include <unordered_map>

#include "core/error.h"
#include "core/network/lanes.h"
#include "core/network/logarithms.h"
#include "core/stop.h"

namespace faultodds::network {
namespace {

constexpr std::uint32_t kNone = std::numeric_limits<std::uint32_t>::max();

// Numbers the combinations of a few variables that occur, in the order they are first met.
class CellIndex {
 public:
  explicit CellIndex(double combinations) {
    if (combinations <= static_cast<double>(1u << 22)) {
      dense_.assign(static_cast<std::size_t>(combinations), kNone);
    } else {
      is_dense_ = false;
    }
  }
  std::uint32_t find(std::uint64_t key) const {
    if (is_dense_) return dense_[static_cast<std::size_t>(key)];
    auto at = sparse_.find(key);
    return at == sparse_.end() ? kNone : at->second;
  }
  std::uint32_t add(std::uint64_t key) {
    std::uint32_t& cell = is_dense_ ? dense_[static_cast<std::size_t>(key)]
                                    : sparse_.try_emplace(key, kNone).first->second;
    if (cell == kNone) cell = count_++;
    return cell;
  }
  std::uint32_t count() const { return count_; }
  // Of each cell, by number.
  std::vector<std::uint64_t> keys() const {
    std::vector<std::uint64_t> keys(count_);
    for (std::size_t key = 0; key < dense_.size(); ++key) {
      if (dense_[key] != kNone) keys[dense_[key]] = key;
    }
    for (const auto& [key, cell] : sparse_) keys[cell] = key;
    return keys;
  }
  // About what it takes, and what one more cell takes: the hash map's key, cell, link and bucket.
  double bytes() const { return 4.0 * static_cast<double>(dense_.size()) + count_ * cell_bytes(); }
  double cell_bytes() const { return is_dense_ ? 0 : 40; }

 private:
  bool is_dense_ = true;
  std::uint32_t count_ = 0;
  std::vector<std::uint32_t> dense_;
  std::unordered_map<std::uint64_t, std::uint32_t> sparse_;
};

// A relation that the entries of a clique must satisfy: a factor's non-zero cells or the cells of a
// child's separator. `stride` is per position in the clique's variable list (0 where absent).
struct Relation {
  const Factor* factor = nullptr;
  const CellIndex* cells = nullptr;
  std::vector<std::uint64_t> stride;
};

constexpr std::uint32_t kFewCells = 1u << 16;

// Where the owner allows dense cliques and there are so many entries in all, those of so many can
// be dense.
constexpr double kLeastDenseTotal = 16384;
constexpr double kLeastDense = 2048;
// A clique is listed where no larger a share of what a visit gets to is possible, as long as a tree
// takes no more bytes for each variable than this; with a very small share in any case.
constexpr double kListedShare = 0.75;
constexpr double kBytesPerVariable = 15360;
constexpr double kAlwaysListedShare = 1.0 / 16;
// What a cell and an entry of a list take, places and propagation counted.
constexpr double kCellBytes = 24;
constexpr double kEntryBytes = 30;
// Of the separators of dense cliques, those with more cells have their beliefs without evidence
// forgotten: it is not looked whether they moved.
constexpr std::size_t kMostRemembered = std::size_t{1} << 17;

bool has_zeros(const Factor& factor) {
  return std::any_of(factor.table.begin(), factor.table.end(), [](double p) { return !(p > 0); });
}

// Products above 2^-900 are doubles with all their digits.
constexpr int kLeastExponent = -900;

// The binary exponent of the smallest number above 0 of those `step` apart; 0 if there is none.
int least_exponent(const double* numbers, std::size_t n, std::size_t step = 1) {
  double least = std::numeric_limits<double>::infinity();
  for (std::size_t i = 0; i < n; ++i) {
    if (numbers[i * step] > 0) least = std::min(least, numbers[i * step]);
  }
  return std::isinf(least) ? 0 : std::ilogb(least);
}

// What an entry takes, at least: beyond the budget over it no tree fits but by its zeros.
constexpr double kLeastEntryBytes = 8;

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

}  // namespace

JunctionTree JunctionTree::of(const Network& network, const TreeOptions& options) {
  network.check_complete();
  std::vector<const Factor*> factors;
  for (Var v = 0; v < network.size(); ++v) factors.push_back(&network.table(v));
  return JunctionTree(network.all_states(), factors, {}, options);
}

JunctionTree::JunctionTree(const std::vector<std::size_t>& states,
                           const std::vector<const Factor*>& factors,
                           const std::vector<Var>& root_scope, const TreeOptions& options)
    : JunctionTree(states, factors,
                   triangulate(states, scopes_of(factors), root_scope, Orders::several,
                               static_cast<double>(options.memory_budget) / kLeastEntryBytes),
                   root_scope, options) {}

JunctionTree::JunctionTree(const std::vector<std::size_t>& states,
                           const std::vector<const Factor*>& factors, const CliqueTree& cliques,
                           const std::vector<Var>& root_scope, const TreeOptions& options)
    : states_(states) {
  state_offset_.resize(states_.size());
  std::size_t offset = 0;
  for (std::size_t v = 0; v < states_.size(); ++v) {
    state_offset_[v] = offset;
    offset += states_[v];
  }
  Plan plan;
  build(factors, cliques, root_scope, options, plan);
  compute_priors(plan);
  if (choose_listed(plan)) {
    JunctionTree again;
    again.states_ = states_;
    again.state_offset_ = state_offset_;
    *this = std::move(again);
    build(factors, cliques, root_scope, options, plan);
    compute_priors(plan);
  }
  belief_.resize(remembered_cells_);
  belief_.shrink_to_fit();
}

// Lists take memory and are gone through faster where much is impossible. Returns whether there is
// any to be listed that is not.
bool JunctionTree::choose_listed(Plan& plan) const {
  if (dense_.empty()) return false;
  const std::size_t m = *std::max_element(plan.clique.begin(), plan.clique.end()) + 1;
  plan.occurs.resize(std::max(m, plan.occurs.size()));
  std::vector<std::uint32_t> sparse;
  for (std::uint32_t c = 0; c < cliques_.size(); ++c) {
    const Clique& clique = cliques_[c];
    const DenseClique::Count& count = plan.entries[c];
    if (clique.dense != kListed && count.possible <= kListedShare * count.visited) {
      sparse.push_back(c);
    }
    if (clique.dense == kListed && !clique.below_dense) continue;
    std::vector<bool>& occurs = plan.occurs[plan.clique[c]];
    for (std::size_t s = 0; s < clique.cells; ++s) {
      occurs.push_back(belief_[clique.first_cell + s] > 0);
    }
  }
  std::stable_sort(sparse.begin(), sparse.end(), [&](std::uint32_t a, std::uint32_t b) {
    const DenseClique::Count &of_a = plan.entries[a], &of_b = plan.entries[b];
    return of_a.possible * of_b.visited < of_b.possible * of_a.visited;
  });
  double may_list = (kBytesPerVariable * static_cast<double>(states_.size()) -
                     kCellBytes * static_cast<double>(up_.size())) /
                        kEntryBytes -
                    static_cast<double>(value_.size());
  plan.listed.assign(plan.occurs.size(), false);
  bool any = false;
  for (std::uint32_t c : sparse) {
    const DenseClique::Count& count = plan.entries[c];
    if (count.possible > may_list && count.possible > kAlwaysListedShare * count.visited) continue;
    // A list has no cells that do not occur.
    const std::vector<bool>& occurs = plan.occurs[plan.clique[c]];
    const auto spared = std::count(occurs.begin(), occurs.end(), false);
    may_list += static_cast<double>(spared) * kCellBytes / kEntryBytes - count.possible;
    plan.listed[plan.clique[c]] = true;
    any = true;
  }
  return any;
}

void JunctionTree::build(const std::vector<const Factor*>& factors, const CliqueTree& tree,
                         const std::vector<Var>& root_scope, const TreeOptions& options,
                         Plan& plan) {
  const std::size_t m = tree.cliques.size();
  dense_entries_ = tree.total_entries;
  largest_clique_ = tree.largest_clique;
  collect_order_.assign(tree.collect_order.begin(), tree.collect_order.end());

  double dense_bytes = 0;  // were no combination impossible
  auto refuse = [&](double bytes) {
    const auto whole = [](double x) {
      return std::to_string(static_cast<std::uint64_t>(std::min(std::ceil(x), 1e18)));
    };
    throw Error(Code::limit_exceeded,
                "exact inference needs more than " + whole(bytes) + " bytes, " +
                    whole(std::max(bytes, dense_bytes)) +
                    " if no combination of states is impossible; the memory budget is " +
                    std::to_string(options.memory_budget));
  };

  // Separator variables first, so that entries listed in order are grouped by separator cell.
  cliques_.resize(m);
  std::vector<std::vector<std::uint32_t>> holders(states_.size());
  for (std::size_t c = 0; c < m; ++c) {
    Clique& clique = cliques_[c];
    clique.parent = tree.parent[c];
    const auto& vars = tree.cliques[c];
    std::vector<Var> rest;
    for (Var v : vars) {
      const bool shared =
          clique.parent >= 0 &&
          std::binary_search(tree.cliques[static_cast<std::size_t>(clique.parent)].begin(),
                             tree.cliques[static_cast<std::size_t>(clique.parent)].end(), v);
      (shared ? clique.vars : rest).push_back(v);
      holders[v].push_back(static_cast<std::uint32_t>(c));
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
  // Of one entry while compiling: value, cell, cells of the children, states, and its place in what
  // is kept.
  const auto row_bytes_of = [](const Clique& clique) {
    return 24 + sizeof(std::uint32_t) * clique.children.size() +
           sizeof(std::uint16_t) * clique.vars.size();
  };

  // Each factor goes to the smallest clique that holds its scope.
  auto entries_of = [&](std::size_t c) {
    double p = 1;
    for (Var v : cliques_[c].vars) p *= static_cast<double>(states_[v]);
    return p;
  };
  std::vector<double> dense(m);
  for (std::size_t c = 0; c < m; ++c) dense[c] = entries_of(c);
  std::vector<std::vector<const Factor*>> assigned(m);
  for (const Factor* f : factors) {
    if (f->scope.empty()) continue;
    const Var* rarest = &f->scope[0];
    for (const Var& v : f->scope) {
      if (holders[v].size() < holders[*rarest].size()) rarest = &v;
    }
    std::uint32_t best = kNone;
    for (std::uint32_t c : holders[*rarest]) {
      const bool holds = std::all_of(f->scope.begin(), f->scope.end(), [&](Var v) {
        return std::binary_search(tree.cliques[c].begin(), tree.cliques[c].end(), v);
      });
      if (holds && (best == kNone || dense[c] < dense[best])) best = c;
    }
    assigned[best].push_back(f);
  }
  for (std::size_t c = 0; c < m; ++c) {
    dense_bytes += dense[c] * static_cast<double>(row_bytes_of(cliques_[c]));
  }

  // Dense cliques are numbered from the root down, so that what varies together lies together.
  std::vector<std::optional<DenseClique::Order>> order(m);
  const bool some_dense = options.dense_cliques && tree.total_entries >= kLeastDenseTotal;
  for (auto it = collect_order_.rbegin(); some_dense && it != collect_order_.rend(); ++it) {
    Clique& clique = cliques_[*it];
    if (clique.parent >= 0 && order[static_cast<std::size_t>(clique.parent)]) {
      const std::vector<Var>& above = order[static_cast<std::size_t>(clique.parent)]->vars;
      std::sort(clique.vars.begin(),
                clique.vars.begin() + static_cast<std::ptrdiff_t>(clique.separator_vars),
                [&](Var a, Var b) {
                  return std::find(above.begin(), above.end(), a) <
                         std::find(above.begin(), above.end(), b);
                });
    }
    if (dense[*it] < kLeastDense || (clique.parent < 0 && !root_scope.empty())) continue;
    std::vector<DenseScope> scopes{{clique.separator(), false}};
    for (const Child& child : clique.children) {
      scopes.push_back({cliques_[child.clique].separator(), false});
    }
    for (const Factor* f : assigned[*it]) scopes.push_back({f->scope, has_zeros(*f)});
    order[*it] = DenseClique::order_of(clique.vars, states_, scopes);
  }

  // List the possible entries of each clique, children first: rows of cell numbers, one column per
  // child, then the states of the clique's variables.
  struct Rows {
    std::vector<double> value;                      // product of the assigned factors
    std::vector<std::uint32_t> cell;                // separator cell of each row
    std::vector<std::vector<std::uint32_t>> child;  // per child, cell of each row
    std::vector<std::uint16_t> state;               // row-major states
  };
  std::vector<Rows> rows(m);
  std::vector<CellIndex> cell_index;
  cell_index.reserve(m);
  std::vector<std::uint32_t> cell_count(m, 0);
  for (std::size_t c = 0; c < m; ++c) cell_index.emplace_back(0.0);
  double bytes = 0;
  // Combinations that turn out impossible take no memory but time; more than the budget has bytes
  // are not looked at.
  std::size_t looked_at = 0;
  constexpr std::size_t kLooksBetweenStops = std::size_t{1} << 16;
  const auto refuse_looking = [&] {
    throw Error(Code::limit_exceeded,
                "exact inference looks at more than " + std::to_string(options.memory_budget) +
                    " combinations of states, as many as the memory budget has bytes");
  };

  const auto occurs = [&](std::uint32_t c, std::uint64_t cell) {
    return c >= plan.occurs.size() || plan.occurs[c].empty() ||
           plan.occurs[c][static_cast<std::size_t>(cell)];
  };
  const auto cells_of = [&](const Clique& clique) {
    double cells = 1;
    for (std::size_t i = 0; i < clique.separator_vars; ++i) {
      cells *= static_cast<double>(states_[clique.vars[i]]);
    }
    return cells;
  };
  for (std::uint32_t c : collect_order_) {
    check_stop();
    Clique& clique = cliques_[c];
    // The children's numbering has served.
    const auto forget_children = [&] {
      for (const Child& child : clique.children) {
        bytes -= cell_index[child.clique].bytes();
        cell_index[child.clique] = CellIndex(0.0);
      }
    };
    const std::size_t k = clique.vars.size();
    std::vector<Relation> relations;
    for (const Child& child : clique.children) {
      const Clique& below = cliques_[child.clique];
      const std::vector<Var> scope = below.separator();
      relations.push_back(
          {nullptr, &cell_index[child.clique], strides(clique.vars, scope, states_)});
    }
    const std::size_t children = relations.size();
    for (std::size_t r = 0; r < children; ++r) {
      if (cliques_[clique.children[r].clique].dense != kListed) relations[r].cells = nullptr;
    }
    for (const Factor* f : assigned[c]) {
      relations.push_back({f, nullptr, strides(clique.vars, f->scope, states_)});
    }
    std::vector<std::vector<std::size_t>> complete(k);
    for (std::size_t r = 0; r < relations.size(); ++r) {
      std::size_t last = 0;
      for (std::size_t i = 0; i < k; ++i) {
        if (relations[r].stride[i] != 0) last = i;
      }
      complete[last].push_back(r);
    }
    const double separator_combinations = cells_of(clique);
    // Goes without a list. The cells of those below are numbered as if each were possible.
    const auto make_dense = [&] {
      clique.dense = 0;
      rows[c] = Rows{};
      bytes -= cell_index[c].bytes();
      cell_index[c] = CellIndex(0.0);
      bytes += separator_combinations * 3 * sizeof(double);
      looked_at += static_cast<std::size_t>(dense[c]);
      if (looked_at > options.memory_budget) refuse_looking();
      if (bytes > static_cast<double>(options.memory_budget)) refuse(bytes);
      cell_count[c] = static_cast<std::uint32_t>(separator_combinations);
      for (const Child& child : clique.children) {
        Clique& below = cliques_[child.clique];
        below.below_dense = true;
        if (below.dense != kListed) continue;
        const std::vector<std::uint64_t> key = cell_index[child.clique].keys();
        for (std::uint32_t& cell : rows[child.clique].cell) {
          cell = static_cast<std::uint32_t>(key[cell]);
        }
        bytes += (cells_of(below) - cell_count[child.clique]) * 3 * sizeof(double);
        cell_count[child.clique] = static_cast<std::uint32_t>(cells_of(below));
      }
      forget_children();
    };
    if (order[c] && (plan.listed.empty() || !plan.listed[c])) {
      make_dense();
      continue;
    }
    cell_index[c] = CellIndex(separator_combinations);
    bytes += cell_index[c].bytes();
    if (bytes > static_cast<double>(options.memory_budget)) refuse(bytes);

    // Depth-first over states; a relation is checked as soon as its last variable is set.
    Rows& out = rows[c];
    out.child.resize(children);
    const std::size_t row_bytes = row_bytes_of(clique);
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
    std::vector<std::size_t> next(k, 0);
    std::size_t depth = 0;
    while (true) {
      if (++looked_at % kLooksBetweenStops == 0) {
        check_stop();
        if (looked_at > options.memory_budget) refuse_looking();
      }
      if (depth == k) {
        out.value.push_back(product[k]);
        out.cell.push_back(cell_index[c].add(key[relations.size()]));
        if (cell_index[c].count() > cell_count[c]) {
          cell_count[c] = cell_index[c].count();
          bytes += cell_index[c].cell_bytes();
        }
        for (std::size_t r = 0; r < children; ++r) out.child[r].push_back(child_cell[r]);
        out.state.insert(out.state.end(), state.begin(), state.end());
        bytes += static_cast<double>(row_bytes);
        if (bytes > static_cast<double>(options.memory_budget)) refuse(bytes);
        if (k == 0) break;
        --depth;
        continue;
      }
      const std::size_t s = next[depth];
      if (s == states_[clique.vars[depth]]) {
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
      for (std::size_t r : complete[depth]) {
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
    forget_children();
  }

  const auto size_of = [&](std::uint32_t c) {
    return cliques_[c].dense != kListed ? dense[c] : static_cast<double>(rows[c].value.size());
  };
  home_.assign(states_.size(), kNone);
  home_is_separator_.assign(states_.size(), false);
  for (Var v = 0; v < states_.size(); ++v) {
    for (std::uint32_t c : holders[v]) {
      if (home_[v] == kNone || size_of(c) < size_of(home_[v])) home_[v] = c;
    }
    // Of two cliques' variables there are fewer combinations than of either's.
    double least = size_of(home_[v]);
    for (std::uint32_t c : holders[v]) {
      const auto& vars = cliques_[c].vars;
      const auto end = vars.begin() + static_cast<std::ptrdiff_t>(cliques_[c].separator_vars);
      if (!(cell_count[c] < least) || std::find(vars.begin(), end, v) == end) continue;
      least = cell_count[c];
      home_[v] = c;
      home_is_separator_[v] = true;
    }
  }
  if (!options.asked.empty()) {
    std::vector<bool> asked(states_.size(), false);
    for (Var v : options.asked) asked[v] = true;
    for (Var v = 0; v < states_.size(); ++v) {
      if (!asked[v]) home_[v] = kNone;
    }
  }
  for (Var v : root_scope) {
    home_[v] = collect_order_.back();
    home_is_separator_[v] = false;
  }

  // From the root down, drop the entries whose separator cell the parent never uses, renumber the
  // cells that remain and lay everything out in one block per kind. A clique that has one entry to
  // each cell of its separator sums nothing; where it makes for less work, the clique above takes
  // over its values, variables and children.
  std::vector<std::vector<std::uint32_t>> kept_cell(m);  // old cell -> new cell or kNone
  std::vector<bool> absorbed(m, false);
  struct Below {
    std::uint32_t clique;
    std::vector<std::uint32_t> cell;  // of each entry that is kept; the clique's old numbering
  };
  const auto pick = [](const auto& from, const std::vector<std::uint32_t>& at) {
    std::vector<std::uint32_t> picked;
    picked.reserve(at.size());
    for (std::uint32_t i : at) picked.push_back(from[i]);
    return picked;
  };
  for (auto it = collect_order_.rbegin(); it != collect_order_.rend(); ++it) {
    const std::uint32_t c = *it;
    if (absorbed[c]) continue;
    Clique& clique = cliques_[c];
    Rows& in = rows[c];
    if (clique.parent < 0) kept_cell[c].assign(cell_count[c], 0);
    // The states, in each cell of the separator, of the variables whose home that is. Where every
    // cell is numbered they follow from the number.
    const auto attach_to_separator = [&](const std::vector<std::uint32_t>& first_row) {
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
    };
    if (clique.dense != kListed) {
      clique.dense = static_cast<std::int32_t>(dense_.size());
      clique.first = value_.size();
      clique.first_cell = up_.size();
      clique.first_bound = bounds_.size();
      clique.cells = cell_count[c];
      up_.resize(up_.size() + clique.cells, 0.0);
      entries_ += static_cast<std::size_t>(dense[c]);
      for (std::uint32_t i = 0; i < clique.cells; ++i) kept_cell[c][i] = i;
      std::vector<std::vector<Var>> scopes{clique.separator()};
      for (const Child& child : clique.children) {
        kept_cell[child.clique].assign(cell_count[child.clique], 0);
        scopes.push_back(cliques_[child.clique].separator());
      }
      for (const Factor* f : assigned[c]) scopes.push_back(f->scope);
      std::vector<Var> at_home;
      for (Var v : clique.vars) {
        if (home_[v] != c || home_is_separator_[v]) continue;
        at_home.push_back(v);
        clique.attached.push_back({v, 0});
      }
      dense_.push_back({DenseClique(*order[c], states_, scopes, at_home), assigned[c]});
      attach_to_separator({});
      for (const Factor* f : assigned[c]) {
        dense_.back().least_exponent += least_exponent(f->table.data(), f->table.size());
      }
      continue;
    }
    std::vector<std::uint32_t> keep;
    for (std::uint32_t i = 0; i < in.value.size(); ++i) {
      if (kept_cell[c][in.cell[i]] != kNone) keep.push_back(i);
    }
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
        kept_cell[c][old] = cells++;
        first_row.push_back(keep[i]);
        bounds_.push_back(static_cast<std::uint32_t>(i));
        previous = old;
      }
      value_.push_back(in.value[keep[i]]);
    }
    for (; clique.below_dense && cells < cell_count[c]; ++cells) {
      bounds_.push_back(static_cast<std::uint32_t>(keep.size()));
    }
    bounds_.push_back(static_cast<std::uint32_t>(keep.size()));
    clique.cells = cells;
    up_.resize(up_.size() + cells, 0.0);

    // The states in the rows of a clique, here or below it, of the variables whose home it is.
    const auto attach = [&](std::uint32_t from, const std::vector<std::uint32_t>& row) {
      const auto& vars = cliques_[from].vars;
      for (std::size_t i = 0; i < vars.size(); ++i) {
        if (home_[vars[i]] != from || (from == c && home_is_separator_[vars[i]])) continue;
        clique.attached.push_back({vars[i], states_of_.size()});
        for (std::uint32_t r : row) states_of_.push_back(rows[from].state[r * vars.size() + i]);
      }
    };
    attach(c, keep);
    attach_to_separator(first_row);
    std::vector<Below> below;
    for (std::size_t r = 0; r < clique.children.size(); ++r) {
      below.push_back({clique.children[r].clique, pick(in.child[r], keep)});
    }
    clique.children.clear();
    while (!below.empty()) {
      const Below next = std::move(below.back());
      below.pop_back();
      const Clique& other = cliques_[next.clique];
      Rows& its = rows[next.clique];
      const auto homes = static_cast<std::size_t>(std::count_if(
          other.vars.begin(), other.vars.end(), [&](Var v) { return home_[v] == next.clique; }));
      // Passes over the entries of either, counted once for collecting and distributing together.
      const std::size_t maps = other.children.size() + homes;
      if (other.dense == kListed && its.value.size() == cell_count[next.clique] &&
          keep.size() * maps <= keep.size() + its.value.size() * (maps + 2)) {
        absorbed[next.clique] = true;  // its rows are in the order of its cells
        for (std::size_t i = 0; i < keep.size(); ++i) {
          value_[clique.first + i] *= its.value[next.cell[i]];
        }
        attach(next.clique, next.cell);
        for (std::size_t r = 0; r < other.children.size(); ++r) {
          below.push_back({other.children[r].clique, pick(its.child[r], next.cell)});
        }
        its = Rows{};
        continue;
      }
      cliques_[next.clique].parent = static_cast<std::int32_t>(c);
      // Old cell numbers for now; renumbered once the child has been laid out.
      auto& used = kept_cell[next.clique];
      used.assign(cell_count[next.clique], kNone);
      for (std::uint32_t cell : next.cell) used[cell] = 0;
      if (cell_count[next.clique] <= kFewCells) {
        clique.children.push_back({next.clique, few_cells_of_.size(), true});
        for (std::uint32_t cell : next.cell) {
          few_cells_of_.push_back(static_cast<std::uint16_t>(cell));
        }
      } else {
        clique.children.push_back({next.clique, cells_of_.size()});
        cells_of_.insert(cells_of_.end(), next.cell.begin(), next.cell.end());
      }
    }
    in = Rows{};
  }
  std::vector<std::uint32_t> number(m, kNone);  // of the cliques that are left
  std::uint32_t left = 0;
  for (std::uint32_t c = 0; c < m; ++c) {
    if (absorbed[c]) continue;
    Clique& clique = cliques_[c];
    for (const Child& child : clique.children) {
      const std::vector<std::uint32_t>& now = kept_cell[child.clique];
      for (std::size_t i = child.map; i < child.map + clique.size; ++i) {
        if (child.few) {
          few_cells_of_[i] = static_cast<std::uint16_t>(now[few_cells_of_[i]]);
        } else {
          cells_of_[i] = now[cells_of_[i]];
        }
      }
    }
    for (const Attached& a : clique.attached) {
      home_[a.var] = left;
      home_is_separator_[a.var] = false;
    }
    for (const Attached& a : clique.on_separator) home_[a.var] = left;
    number[c] = left++;
  }
  std::erase_if(collect_order_, [&](std::uint32_t c) { return absorbed[c]; });
  for (std::uint32_t& c : collect_order_) c = number[c];
  for (std::uint32_t c = 0; c < m; ++c) {
    if (absorbed[c]) continue;
    Clique& clique = cliques_[c];
    for (Child& child : clique.children) child.clique = number[child.clique];
    if (clique.parent >= 0) {
      clique.parent = static_cast<std::int32_t>(number[static_cast<std::size_t>(clique.parent)]);
    }
    if (number[c] != c) cliques_[number[c]] = std::move(clique);
  }
  cliques_.resize(left);
  plan.clique.resize(left);
  for (std::uint32_t c = 0; c < m; ++c) {
    if (!absorbed[c]) plan.clique[number[c]] = c;
  }
  // Cells of listed cliques first: propagations keep more of those.
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
    if (next == 0) listed_cells_ = cells;
    if (next == 1) remembered_cells_ = cells;
  }
  belief_.assign(up_.size(), 0.0);
  entries_ += value_.size();
  value_.shrink_to_fit();
  states_of_.shrink_to_fit();
  few_cells_of_.shrink_to_fit();
  cells_of_.shrink_to_fit();
  bounds_.shrink_to_fit();
  up_.shrink_to_fit();
  bytes_ = sizeof(JunctionTree) + cliques_.size() * sizeof(Clique) +
           (value_.size() + up_.size() + remembered_cells_) * sizeof(double) +
           (cells_of_.size() + bounds_.size()) * sizeof(std::uint32_t) +
           (states_of_.size() + few_cells_of_.size()) * sizeof(std::uint16_t);
  for (const Dense& d : dense_) {
    bytes_ += sizeof(Dense) + d.clique.bytes() + d.factors.size() * sizeof(Factor*);
  }
  for (const Clique& clique : cliques_) {
    bytes_ += clique.vars.size() * sizeof(Var) +
              (clique.attached.size() + clique.on_separator.size()) * sizeof(Attached) +
              clique.children.size() * sizeof(Child);
  }
}

DenseClique::Sums JunctionTree::no_sums(const Clique& clique) const {
  const std::size_t scopes =
      1 + clique.children.size() + dense_[static_cast<std::size_t>(clique.dense)].factors.size();
  return {std::vector<double*>(scopes, nullptr),
          std::vector<double*>(clique.attached.size(), nullptr)};
}

DenseClique::Numbers JunctionTree::dense_numbers(const Clique& clique) const {
  DenseClique::Numbers numbers{{nullptr},
                               std::vector<const double*>(clique.attached.size(), nullptr)};
  for (const Child& child : clique.children) {
    numbers.of_scope.push_back(up_.data() + cliques_[child.clique].first_cell);
  }
  const auto& factors = dense_[static_cast<std::size_t>(clique.dense)].factors;
  for (const Factor* f : factors) numbers.of_scope.push_back(f->table.data());
  return numbers;
}

void JunctionTree::compute_priors(Plan& plan) {
  plan.entries.assign(cliques_.size(), {});
  for (std::uint32_t c : collect_order_) {
    Clique& clique = cliques_[c];
    if (clique.dense != kListed) {
      Dense& dense = dense_[static_cast<std::size_t>(clique.dense)];
      double* up = up_.data() + clique.first_cell;
      DenseClique::Sums sums = no_sums(clique);
      sums.of_scope[0] = up;
      dense.clique.sum(dense_numbers(clique), sums);
      const double largest = *std::max_element(up, up + clique.cells);
      if (largest > 0) dense.scale = 1 / largest;
      for (std::size_t s = 0; s < clique.cells; ++s) up[s] *= dense.scale;
      clique.least_exponent = std::ilogb(dense.scale);
      for (const Child& child : clique.children) {
        const Clique& below = cliques_[child.clique];
        clique.least_exponent += least_exponent(up_.data() + below.first_cell, below.cells);
      }
      clique.least_exponent += dense.least_exponent;
      continue;
    }
    double* value = value_.data() + clique.first;
    for (const Child& child : clique.children) {
      const double* up = up_.data() + cliques_[child.clique].first_cell;
      with_cells(child, [&](const auto* cell) {
        for (std::size_t i = 0; i < clique.size; ++i) value[i] *= up[cell[i]];
      });
    }
    double* up = up_.data() + clique.first_cell;
    const std::uint32_t* bound = bounds_.data() + clique.first_bound;
    double largest = 0;
    for (std::size_t s = 0; s < clique.cells; ++s) {
      for (std::uint32_t i = bound[s]; i < bound[s + 1]; ++i) up[s] += value[i];
      largest = std::max(largest, up[s]);
    }
    // Only ratios to these numbers are ever used: keep them near 1. The largest becomes 1, so that
    // any number of children without evidence of their own, whose cells are all alike, multiply
    // to 1.
    if (largest > 0) {
      for (std::size_t i = 0; i < clique.size; ++i) value[i] /= largest;
      for (std::size_t s = 0; s < clique.cells; ++s) up[s] /= largest;
    }
    clique.least_exponent = least_exponent(value, clique.size);
  }
  std::size_t all_states = 0;
  for (std::size_t n : states_) all_states += n;
  prior_.assign(all_states, 0.0);
  std::vector<double> down;   // of a dense clique: what its entries weigh
  std::vector<double> entry;  // beliefs of a listed one's
  for (auto it = collect_order_.rbegin(); it != collect_order_.rend(); ++it) {
    const Clique& clique = cliques_[*it];
    double* belief = belief_.data() + clique.first_cell;
    const double* up = up_.data() + clique.first_cell;
    if (clique.parent < 0 && clique.cells > 0) belief[0] = 1;
    for (const Attached& a : clique.on_separator) {
      lanes::add_by<1>(states_of_.data() + a.map, belief, clique.cells,
                       prior_.data() + state_offset_[a.var], states_[a.var]);
    }
    if (clique.dense != kListed) {
      const Dense& dense = dense_[static_cast<std::size_t>(clique.dense)];
      down.resize(clique.cells);
      for (std::size_t s = 0; s < clique.cells; ++s) {
        down[s] = up[s] > 0 ? belief[s] * dense.scale / up[s] : 0;
      }
      DenseClique::Numbers numbers = dense_numbers(clique);
      numbers.of_scope[0] = down.data();
      DenseClique::Sums sums = no_sums(clique);
      for (std::size_t k = 0; k < clique.children.size(); ++k) {
        sums.of_scope[1 + k] = belief_.data() + cliques_[clique.children[k].clique].first_cell;
      }
      for (std::size_t k = 0; k < clique.attached.size(); ++k) {
        sums.of_attached[k] = prior_.data() + state_offset_[clique.attached[k].var];
      }
      dense.clique.sum(numbers, sums, plan.listed.empty() ? &plan.entries[*it] : nullptr);
      continue;
    }
    const std::uint32_t* bound = bounds_.data() + clique.first_bound;
    entry.resize(clique.size);
    lanes::weigh_segments<1, true>(bound, value_.data() + clique.first, up, belief, clique.cells,
                                   entry.data());
    for (const Child& child : clique.children) {
      const Clique& below = cliques_[child.clique];
      with_cells(child, [&](const auto* cell) {
        lanes::add_by<1>(cell, entry.data(), clique.size, belief_.data() + below.first_cell,
                         below.cells);
      });
    }
    for (const Attached& a : clique.attached) {
      lanes::add_by<1>(states_of_.data() + a.map, entry.data(), clique.size,
                       prior_.data() + state_offset_[a.var], states_[a.var]);
    }
  }
  bytes_ += prior_.size() * sizeof(double);
}

std::vector<std::uint64_t> JunctionTree::root_cells(const std::vector<Var>& scope) const {
  const Clique& clique = cliques_[collect_order_.back()];
  std::vector<std::uint64_t> cell(clique.size, 0);
  double combinations = 1;
  for (Var v : scope) {
    const auto at = std::find_if(clique.attached.begin(), clique.attached.end(),
                                 [&](const Attached& a) { return a.var == v; });
    if (at == clique.attached.end()) {
      throw Error(Code::internal, "root_joint: a variable is not in the root's clique");
    }
    combinations *= static_cast<double>(states_[v]);
    if (combinations > 0x1p63) {
      throw Error(Code::limit_exceeded, "a joint distribution has more than 2^63 combinations");
    }
    const std::uint16_t* state = states_of_.data() + at->map;
    for (std::size_t i = 0; i < clique.size; ++i) cell[i] = cell[i] * states_[v] + state[i];
  }
  return cell;
}

JunctionTree::Joint JunctionTree::root_joint(const std::vector<Var>& scope) const {
  const Clique& clique = cliques_[collect_order_.back()];
  const std::vector<std::uint64_t> cell = root_cells(scope);
  std::vector<std::pair<std::uint64_t, double>> rows(clique.size);
  double total = 0;
  for (std::size_t i = 0; i < clique.size; ++i) {
    rows[i] = {cell[i], value_[clique.first + i]};
    total += rows[i].second;
  }
  std::sort(rows.begin(), rows.end());
  Joint joint;
  for (const auto& [combination, p] : rows) {
    if (joint.combination.empty() || joint.combination.back() != combination) {
      joint.combination.push_back(combination);
      joint.probability.push_back(0);
    }
    joint.probability.back() += p / total;
  }
  return joint;
}

namespace {

// The loops of lanes.h for a number of lanes; those for many are cloned for wider vectors.
template <std::size_t Lanes>
struct Kernel {
  template <typename Place>
  static void multiply_by(const Place* map, const double* factor, std::size_t n, double* value) {
    lanes::multiply_by<Lanes>(map, factor, n, value);
  }
  template <typename Place>
  static void add_by(const Place* map, const double* value, std::size_t n, double* sum,
                     std::size_t cells) {
    lanes::add_by<Lanes>(map, value, n, sum, cells);
  }
  static void sum_segments(const std::uint32_t* bound, const double* value, const double* before,
                           std::size_t cells, double* up, double* ratio, double* largest) {
    lanes::sum_segments<Lanes>(bound, value, before, cells, up, ratio, largest);
  }
  static void weigh(const std::uint32_t* bound, const double* value, const double* up,
                    const double* belief, std::size_t cells, double* entry) {
    lanes::weigh_segments<Lanes, false>(bound, value, up, belief, cells, entry);
  }
  static void weigh_shared(const std::uint32_t* bound, const double* value, const double* up,
                           const double* belief, std::size_t cells, double* entry) {
    lanes::weigh_segments<Lanes, true>(bound, value, up, belief, cells, entry);
  }
};

FAULTODDS_LANE_CLONES void multiply_by_many(const std::uint16_t* map, const double* factor,
                                            std::size_t n, double* value) {
  lanes::multiply_by<kLanes>(map, factor, n, value);
}
FAULTODDS_LANE_CLONES void add_by_many(const std::uint16_t* map, const double* value, std::size_t n,
                                       double* sum, std::size_t cells) {
  lanes::add_by<kLanes>(map, value, n, sum, cells);
}
FAULTODDS_LANE_CLONES void multiply_by_many(const std::uint32_t* map, const double* factor,
                                            std::size_t n, double* value) {
  lanes::multiply_by<kLanes>(map, factor, n, value);
}
FAULTODDS_LANE_CLONES void add_by_many(const std::uint32_t* map, const double* value, std::size_t n,
                                       double* sum, std::size_t cells) {
  lanes::add_by<kLanes>(map, value, n, sum, cells);
}
FAULTODDS_LANE_CLONES void sum_segments_many(const std::uint32_t* bound, const double* value,
                                             const double* before, std::size_t cells, double* up,
                                             double* ratio, double* largest) {
  lanes::sum_segments<kLanes>(bound, value, before, cells, up, ratio, largest);
}
FAULTODDS_LANE_CLONES void weigh_many(const std::uint32_t* bound, const double* value,
                                      const double* up, const double* belief, std::size_t cells,
                                      double* entry) {
  lanes::weigh_segments<kLanes, false>(bound, value, up, belief, cells, entry);
}
FAULTODDS_LANE_CLONES void weigh_shared_many(const std::uint32_t* bound, const double* value,
                                             const double* up, const double* belief,
                                             std::size_t cells, double* entry) {
  lanes::weigh_segments<kLanes, true>(bound, value, up, belief, cells, entry);
}

template <>
struct Kernel<kLanes> {
  template <typename Place>
  static void multiply_by(const Place* map, const double* factor, std::size_t n, double* value) {
    multiply_by_many(map, factor, n, value);
  }
  template <typename Place>
  static void add_by(const Place* map, const double* value, std::size_t n, double* sum,
                     std::size_t cells) {
    add_by_many(map, value, n, sum, cells);
  }
  static constexpr auto sum_segments = sum_segments_many;
  static constexpr auto weigh = weigh_many;
  static constexpr auto weigh_shared = weigh_shared_many;
};

}  // namespace

template <std::size_t Lanes>
std::size_t LanePropagation<Lanes>::largest_listed(const JunctionTree& tree) {
  std::size_t largest = 0;
  for (const auto& clique : tree.cliques_) largest = std::max(largest, clique.size);
  return largest;
}

// Cells of the dense cliques below one, where they are the most.
template <std::size_t Lanes>
std::size_t LanePropagation<Lanes>::most_dense_below(const JunctionTree& tree) {
  std::size_t most = 0;
  for (const auto& clique : tree.cliques_) {
    std::size_t cells = 0;
    for (const auto& child : clique.children) {
      const auto& below = tree.cliques_[child.clique];
      if (below.dense != JunctionTree::kListed) cells += below.cells;
    }
    most = std::max(most, cells);
  }
  return most;
}

template <std::size_t Lanes>
LanePropagation<Lanes>::LanePropagation(const JunctionTree& tree)
    : tree_(&tree),
      weight_(tree.prior_.size() * Lanes, 1.0),
      log_(Lanes == 1 ? tree.prior_.size() : 0, 0.0),
      changed_(tree.states_.size(), 0),
      log_weight_{},
      exponent_{},
      lost_{},
      log_evidence_{},
      dirty_(tree.cliques_.size(), 0),
      value_(tree.value_.size() * Lanes),
      up_(tree.listed_cells_ * Lanes),
      ratio_(tree.up_.size() * Lanes),
      scale_(tree.dense_.empty() ? 0 : tree.cliques_.size()),
      belief_(tree.listed_cells_ * Lanes),
      dense_below_(most_dense_below(tree)),
      visit_(tree.cliques_.size(), 0) {
  const std::size_t largest = largest_listed(tree);
  if (Lanes > 1 && !tree.dense_.empty()) {
    throw Error(Code::internal, "a tree with dense cliques propagates one case at a time");
  }
  entry_.resize(largest * Lanes);
  changed_list_.reserve(tree.states_.size());
  dirty_list_.reserve(tree.cliques_.size());
  moved_.reserve(tree.states_.size());
  for (double p : tree.prior_) posterior_.insert(posterior_.end(), Lanes, p);
}

template <std::size_t Lanes>
std::size_t LanePropagation<Lanes>::bytes(const JunctionTree& tree) {
  const std::size_t largest = largest_listed(tree);
  const std::size_t numbers = tree.value_.size() + 2 * tree.listed_cells_ + tree.up_.size() +
                              2 * tree.prior_.size() + largest;
  const std::size_t of_dense =
      most_dense_below(tree) + (tree.dense_.empty() ? 0 : tree.cliques_.size());
  return (numbers * Lanes + of_dense) * sizeof(double) +
         tree.states_.size() * (2 * sizeof(Var) + 1) +
         tree.cliques_.size() * (sizeof(std::uint32_t) + 2);
}

template <std::size_t Lanes>
void LanePropagation<Lanes>::clear() {
  for (Var v : changed_list_) {
    changed_[v] = 0;
    std::fill_n(weight_.data() + tree_->state_offset_[v] * Lanes, tree_->states_[v] * Lanes, 1.0);
    if (Lanes == 1) std::fill_n(log_.data() + tree_->state_offset_[v], tree_->states_[v], 0.0);
  }
  changed_list_.clear();
  std::fill_n(log_weight_, Lanes, 0.0);
  std::fill_n(exponent_, Lanes, 0);
  std::fill_n(lost_, Lanes, false);
}

template <std::size_t Lanes>
void LanePropagation<Lanes>::multiply(Var v, std::span<const double> likelihood, std::size_t lane) {
  if (tree_->home_[v] == kNone) {
    throw Error(Code::internal, "evidence on a variable that the tree was not compiled for");
  }
  double* weight = weight_.data() + tree_->state_offset_[v] * Lanes + lane;
  double largest = 0;
  for (std::size_t s = 0; s < likelihood.size(); ++s) {
    multiply_weight(weight[s * Lanes], likelihood[s], likelihood[s] > 0, lane);
    largest = std::max(largest, weight[s * Lanes]);
    if (Lanes == 1) {
      log_[tree_->state_offset_[v] + s] +=
          likelihood[s] > 0 ? std::log(likelihood[s]) : -std::numeric_limits<double>::infinity();
    }
  }
  if (largest > 0 && largest != 1) {
    for (std::size_t s = 0; s < likelihood.size(); ++s) weight[s * Lanes] /= largest;
    log_weight_[lane] += std::log(largest);
  }
  // All that was told of v before is counted again here: less than it can be is safe.
  exponent_[lane] += least_exponent(weight, likelihood.size(), Lanes);
  mark_changed(v);
}

template <std::size_t Lanes>
void LanePropagation<Lanes>::multiply_weight(double& weight, double by, bool possible,
                                             std::size_t lane) {
  const bool was_possible = weight > 0;
  weight *= by;
  if (was_possible && possible && !(weight >= std::numeric_limits<double>::min())) {
    lost_[lane] = true;
  }
}

template <std::size_t Lanes>
void LanePropagation<Lanes>::mark_changed(Var v) {
  if (!changed_[v]) {
    changed_[v] = 1;
    changed_list_.push_back(v);
  }
}

template <std::size_t Lanes>
void LanePropagation<Lanes>::collect_all() {
  check_stop();
  stage_ = Stage::collected;
  for (std::uint32_t c : dirty_list_) dirty_[c] = 0;
  dirty_list_.clear();
  for (Var v : changed_list_) {
    auto c = static_cast<std::int32_t>(tree_->home_[v]);
    if (tree_->home_is_separator_[v]) {
      auto& dirty = dirty_[static_cast<std::size_t>(c)];
      dirty = std::max(dirty, kSeparator);
      c = tree_->cliques_[static_cast<std::size_t>(c)].parent;
    }
    for (; c >= 0 && dirty_[static_cast<std::size_t>(c)] != kEntries;
         c = tree_->cliques_[static_cast<std::size_t>(c)].parent) {
      dirty_[static_cast<std::size_t>(c)] = kEntries;
    }
  }
  std::copy_n(log_weight_, Lanes, log_evidence_);
  for (std::uint32_t c : tree_->collect_order_) {
    if (!dirty_[c]) continue;
    dirty_list_.push_back(c);
    const auto& clique = tree_->cliques_[c];
    double* ratio = ratio_.data() + clique.first_cell * Lanes;
    double largest[Lanes], scale[Lanes];
    if (dirty_[c] == kSeparator) {
      for (std::size_t s = 0; s < clique.cells; ++s) {
        const double possible = tree_->up_[clique.first_cell + s] > 0 ? 1 : 0;
        std::fill_n(ratio + s * Lanes, Lanes, possible);
      }
    } else if (clique.dense == JunctionTree::kListed) {
      collect_listed(c, largest);
    } else {
      collect_dense(c, largest);
    }
    bool weighed = dirty_[c] == kSeparator;
    for (const auto& a : clique.on_separator) {
      if (!changed_[a.var]) continue;
      weighed = true;
      Kernel<Lanes>::multiply_by(tree_->states_of_.data() + a.map,
                                 weight_.data() + tree_->state_offset_[a.var] * Lanes, clique.cells,
                                 ratio);
    }
    if (weighed) {
      std::fill_n(largest, Lanes, 0.0);
      for (std::size_t s = 0; s < clique.cells; ++s) {
        for (std::size_t l = 0; l < Lanes; ++l) {
          largest[l] = std::max(largest[l], ratio[s * Lanes + l]);
        }
      }
    }
    for (std::size_t l = 0; l < Lanes; ++l) {
      // In a lane that is impossible everything from here to the root is 0.
      scale[l] = largest[l] > 0 ? 1 / largest[l] : 0;
      log_evidence_[l] +=
          largest[l] > 0 ? std::log(largest[l]) : -std::numeric_limits<double>::infinity();
    }
    for (std::size_t s = 0; s < clique.cells; ++s) {
      for (std::size_t l = 0; l < Lanes; ++l) ratio[s * Lanes + l] *= scale[l];
    }
    if (!scale_.empty()) scale_[c] = scale[0];
    if (clique.below_dense) {
      const double* before = tree_->up_.data() + clique.first_cell;
      for (std::size_t s = 0; s < clique.cells; ++s) ratio[s] *= before[s];
    }
  }
}

// Sums the entries of a clique into up_ and ratio_.
template <std::size_t Lanes>
void LanePropagation<Lanes>::collect_listed(std::uint32_t c, double* largest) {
  using K = Kernel<Lanes>;
  const auto& clique = tree_->cliques_[c];
  const std::size_t n = clique.size;
  double* value = value_.data() + clique.first * Lanes;
  const double* before = tree_->value_.data() + clique.first;
  for (std::size_t i = 0; i < n; ++i) std::fill_n(value + i * Lanes, Lanes, before[i]);
  for (const auto& a : clique.attached) {
    if (!changed_[a.var]) continue;
    K::multiply_by(tree_->states_of_.data() + a.map,
                   weight_.data() + tree_->state_offset_[a.var] * Lanes, n, value);
  }
  for (const auto& child : clique.children) {
    if (!dirty_[child.clique]) continue;
    tree_->with_cells(child, [&](const auto* cell) {
      K::multiply_by(cell, ratio_.data() + tree_->cliques_[child.clique].first_cell * Lanes, n,
                     value);
    });
  }
  K::sum_segments(tree_->bounds_.data() + clique.first_bound, value,
                  tree_->up_.data() + clique.first_cell, clique.cells,
                  up_.data() + clique.first_cell * Lanes, ratio_.data() + clique.first_cell * Lanes,
                  largest);
}

template <std::size_t Lanes>
DenseClique::Numbers LanePropagation<Lanes>::dense_numbers(std::uint32_t c) const {
  const auto& clique = tree_->cliques_[c];
  DenseClique::Numbers numbers = tree_->dense_numbers(clique);
  for (std::size_t k = 0; k < clique.children.size(); ++k) {
    const std::uint32_t below = clique.children[k].clique;
    if (dirty_[below]) numbers.of_scope[1 + k] = ratio_.data() + tree_->cliques_[below].first_cell;
  }
  for (std::size_t k = 0; k < clique.attached.size(); ++k) {
    const Var v = clique.attached[k].var;
    if (changed_[v]) numbers.of_attached[k] = weight_.data() + tree_->state_offset_[v];
  }
  return numbers;
}

template <std::size_t Lanes>
void LanePropagation<Lanes>::collect_dense(std::uint32_t c, double* largest) {
  const auto& clique = tree_->cliques_[c];
  const auto& dense = tree_->dense_[static_cast<std::size_t>(clique.dense)];
  double* ratio = ratio_.data() + clique.first_cell;
  const double* before = tree_->up_.data() + clique.first_cell;
  std::fill_n(ratio, clique.cells, 0.0);
  DenseClique::Sums sums = tree_->no_sums(clique);
  sums.of_scope[0] = ratio;
  dense.clique.sum(dense_numbers(c), sums);
  largest[0] = 0;
  for (std::size_t s = 0; s < clique.cells; ++s) {
    ratio[s] = before[s] > 0 ? ratio[s] * dense.scale / before[s] : 0;
    largest[0] = std::max(largest[0], ratio[s]);
  }
}

template <std::size_t Lanes>
bool LanePropagation<Lanes>::doubtful(std::size_t lane) const {
  if (lost_[lane]) return true;
  // No message is smaller than all that is below it at its smallest: mostly that is enough to know.
  int exponent = exponent_[lane];
  for (std::uint32_t c : dirty_list_) exponent += tree_->cliques_[c].least_exponent;
  if (exponent >= kLeastExponent) return false;
  for (std::uint32_t c : dirty_list_) {
    const auto& clique = tree_->cliques_[c];
    // What an entry is multiplied from, each at its smallest. The messages of the children are
    // sound, because the children came earlier and were found so.
    exponent = clique.least_exponent;
    for (const auto* list : {&clique.attached, &clique.on_separator}) {
      for (const auto& a : *list) {
        if (!changed_[a.var]) continue;
        exponent += least_exponent(weight_.data() + tree_->state_offset_[a.var] * Lanes + lane,
                                   tree_->states_[a.var], Lanes);
      }
    }
    for (const auto& child : clique.children) {
      if (!dirty_[child.clique]) continue;
      const auto& below = tree_->cliques_[child.clique];
      exponent +=
          least_exponent(ratio_.data() + below.first_cell * Lanes + lane, below.cells, Lanes);
      if (exponent < kLeastExponent) return true;
    }
    if (exponent < kLeastExponent) return true;
  }
  return false;
}

template <std::size_t Lanes>
void LanePropagation<Lanes>::collect_or_refuse() {
  collect_all();
  for (std::size_t l = 0; l < Lanes; ++l) {
    if (doubtful(l)) {
      throw Error(Code::limit_exceeded,
                  "the evidence is so improbable or contradictory that this cannot be computed");
    }
  }
}

template <std::size_t Lanes>
void LanePropagation<Lanes>::distribute() {
  check_stop();
  if (!tree_->dense_.empty()) {
    if (stage_ == Stage::distributed) return;
    if (stage_ == Stage::distributing) collect_all();  // it was ended in the middle
    stage_ = Stage::distributing;
  }
  for (Var v : moved_) {
    for (std::size_t s = 0; s < tree_->states_[v]; ++s) {
      const std::size_t at = tree_->state_offset_[v] + s;
      std::fill_n(posterior_.data() + at * Lanes, Lanes, tree_->prior_[at]);
    }
  }
  moved_.clear();
  for (auto it = tree_->collect_order_.rbegin(); it != tree_->collect_order_.rend(); ++it) {
    const std::uint32_t c = *it;
    const auto& clique = tree_->cliques_[c];
    const bool listed = clique.dense == JunctionTree::kListed;
    if (clique.parent < 0) {
      visit_[c] = dirty_[c] != 0;
      double one = 1;
      if (visit_[c] && !listed) {
        go_below(c, &one);
      } else if (listed && clique.cells > 0) {
        std::fill_n(belief_.data() + clique.first_cell * Lanes, Lanes, 1.0);
      }
    }
    if (!visit_[c]) {
      for (const auto& child : clique.children) visit_[child.clique] = 0;
      continue;
    }
    clear_below(c);
    for (const auto& a : clique.attached) {
      std::fill_n(posterior_.data() + tree_->state_offset_[a.var] * Lanes,
                  tree_->states_[a.var] * Lanes, 0.0);
      moved_.push_back(a.var);
    }
    if (listed) {
      weigh_listed(c);
    } else {
      weigh_dense(c);
    }
    for (std::size_t k = 0; k < clique.children.size(); ++k) {
      const std::uint32_t below = clique.children[k].clique;
      visit_[below] = dirty_[below] != 0 || moved(below, below_[k]);
      if (visit_[below]) go_below(below, below_[k]);
    }
  }
  if (stage_ == Stage::distributing) stage_ = Stage::distributed;
}

// Sets below_ to where the beliefs in the separators below a clique are, and those to 0.
template <std::size_t Lanes>
void LanePropagation<Lanes>::clear_below(std::uint32_t c) {
  below_.clear();
  std::size_t used = 0;
  for (const auto& child : tree_->cliques_[c].children) {
    const auto& below = tree_->cliques_[child.clique];
    if (below.dense == JunctionTree::kListed) {
      below_.push_back(belief_.data() + below.first_cell * Lanes);
    } else {
      below_.push_back(dense_below_.data() + used);
      used += below.cells;
    }
    std::fill_n(below_.back(), below.cells * Lanes, 0.0);
  }
}

// Of a clique with no evidence in it or below: where the separator is as it was, so is everything
// under it. Lanes that are as they were are set to exactly that, whether or not others are.
template <std::size_t Lanes>
bool LanePropagation<Lanes>::moved(std::uint32_t c, double* belief) const {
  const auto& clique = tree_->cliques_[c];
  if (clique.first_cell >= tree_->belief_.size()) return true;
  const double* before = tree_->belief_.data() + clique.first_cell;
  bool moved[Lanes] = {};
  for (std::size_t i = 0; i < clique.cells; ++i) {
    for (std::size_t l = 0; l < Lanes; ++l) {
      moved[l] |= std::fabs(belief[i * Lanes + l] - before[i]) > 1e-15 * before[i];
    }
  }
  bool any = false;
  for (std::size_t l = 0; l < Lanes; ++l) {
    any |= moved[l];
    for (std::size_t i = 0; !moved[l] && i < clique.cells; ++i) belief[i * Lanes + l] = before[i];
  }
  return any;
}

// With the belief in a clique's separator: the posteriors of the variables told of there and, for a
// dense clique, what its entries weigh.
template <std::size_t Lanes>
void LanePropagation<Lanes>::go_below(std::uint32_t c, double* belief) {
  const auto& clique = tree_->cliques_[c];
  for (const auto& a : clique.on_separator) {
    double* sum = posterior_.data() + tree_->state_offset_[a.var] * Lanes;
    std::fill_n(sum, tree_->states_[a.var] * Lanes, 0.0);
    Kernel<Lanes>::add_by(tree_->states_of_.data() + a.map, belief, clique.cells, sum,
                          tree_->states_[a.var]);
    moved_.push_back(a.var);
  }
  if (clique.dense == JunctionTree::kListed) return;
  double* down = ratio_.data() + clique.first_cell;
  const double* before = tree_->up_.data() + clique.first_cell;
  double scale = tree_->dense_[static_cast<std::size_t>(clique.dense)].scale;
  if (dirty_[c] != kEntries) {
    for (std::size_t s = 0; s < clique.cells; ++s) {
      down[s] = before[s] > 0 ? belief[s] * scale / before[s] : 0;
    }
    return;
  }
  // The message to the parent was ratio_: what the entries sum to, rescaled, and what was told of
  // the separator. A state that was excluded there has no belief either.
  scale *= scale_[c];
  for (std::size_t s = 0; s < clique.cells; ++s) {
    const double sum = clique.below_dense ? down[s] : down[s] * before[s];
    down[s] = sum > 0 ? belief[s] * scale / sum : 0;
  }
  for (const auto& a : clique.on_separator) {
    if (!changed_[a.var]) continue;
    Kernel<Lanes>::multiply_by(tree_->states_of_.data() + a.map,
                               weight_.data() + tree_->state_offset_[a.var], clique.cells, down);
  }
}

// Adds a clique's entries, as the belief in its separator has them, to the beliefs in the
// separators below it and to the posteriors of what is attached to it.
template <std::size_t Lanes>
void LanePropagation<Lanes>::weigh_listed(std::uint32_t c) {
  using K = Kernel<Lanes>;
  const auto& clique = tree_->cliques_[c];
  const std::uint32_t* bound = tree_->bounds_.data() + clique.first_bound;
  const double* belief = belief_.data() + clique.first_cell * Lanes;
  double* entry = entry_.data();
  if (dirty_[c] == kEntries) {
    K::weigh(bound, value_.data() + clique.first * Lanes, up_.data() + clique.first_cell * Lanes,
             belief, clique.cells, entry);
  } else {
    K::weigh_shared(bound, tree_->value_.data() + clique.first,
                    tree_->up_.data() + clique.first_cell, belief, clique.cells, entry);
  }
  for (std::size_t k = 0; k < clique.children.size(); ++k) {
    const auto& child = clique.children[k];
    tree_->with_cells(child, [&](const auto* cell) {
      K::add_by(cell, entry, clique.size, below_[k], tree_->cliques_[child.clique].cells);
    });
  }
  for (const auto& a : clique.attached) {
    K::add_by(tree_->states_of_.data() + a.map, entry, clique.size,
              posterior_.data() + tree_->state_offset_[a.var] * Lanes, tree_->states_[a.var]);
  }
}

template <std::size_t Lanes>
void LanePropagation<Lanes>::weigh_dense(std::uint32_t c) {
  const auto& clique = tree_->cliques_[c];
  const auto& dense = tree_->dense_[static_cast<std::size_t>(clique.dense)];
  DenseClique::Numbers numbers = dense_numbers(c);
  numbers.of_scope[0] = ratio_.data() + clique.first_cell;
  DenseClique::Sums sums = tree_->no_sums(clique);
  std::copy(below_.begin(), below_.end(), sums.of_scope.begin() + 1);
  for (std::size_t k = 0; k < clique.attached.size(); ++k) {
    sums.of_attached[k] = posterior_.data() + tree_->state_offset_[clique.attached[k].var];
  }
  dense.clique.sum(numbers, sums);
}

template class LanePropagation<1>;
template class LanePropagation<kLanes>;

void Propagation::multiply_logs(Var v, std::span<const double> logs) {
  const double largest = *std::max_element(logs.begin(), logs.end());
  double* weight = weight_.data() + tree_->state_offset_[v];
  for (std::size_t s = 0; s < logs.size(); ++s) {
    const bool possible = std::isfinite(logs[s]);
    multiply_weight(weight[s], possible ? std::exp(logs[s] - largest) : 0, possible, 0);
    log_[tree_->state_offset_[v] + s] += logs[s];
  }
  exponent_[0] += least_exponent(weight, logs.size());
  if (std::isfinite(largest)) log_weight_[0] += largest;
  mark_changed(v);
}

double Propagation::collect() {
  collect_all();
  in_logarithms_ = doubtful(0);
  if (in_logarithms_) log_evidence_[0] = LogarithmicPass(*this, log_).collect();
  return log_evidence();
}

void Propagation::distribute() {
  if (in_logarithms_) {
    LogarithmicPass(*this, log_).distribute();
  } else {
    LanePropagation::distribute();
  }
}

std::vector<double> Propagation::root_joint(const std::vector<Var>& scope) const {
  const std::uint32_t root = tree_->collect_order_.back();
  const auto& clique = tree_->cliques_[root];
  std::size_t size = 1;
  for (Var v : scope) size *= tree_->states_[v];
  const std::vector<std::uint64_t> cell = tree_->root_cells(scope);
  std::vector<double> joint(size, 0.0);
  const double* value = (dirty_[root] ? value_ : tree_->value_).data() + clique.first;
  const bool logs = in_logarithms_ && dirty_[root];
  const double most = logs ? *std::max_element(value, value + clique.size) : 0;
  double total = 0;
  for (std::size_t i = 0; i < clique.size; ++i) {
    const double v = logs ? std::exp(value[i] - most) : value[i];
    joint[static_cast<std::size_t>(cell[i])] += v;
    total += v;
  }
  for (double& p : joint) p /= total;
  return joint;
}

}  // namespace faultodds::network
