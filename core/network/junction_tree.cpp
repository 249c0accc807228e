#include "core/network/junction_tree.h"

#include <algorithm>
#include <cmath>
#include <utility>

#include "core/error.h"
#include "core/network/exponents.h"
#include "core/network/lanes.h"
#include "core/network/tree_builder.h"

namespace faultodds::network {
namespace {

// A clique is listed where no larger a share of what a visit gets to is possible, as long as a tree
// takes no more bytes for each variable than this; with a very small share in any case.
constexpr double kListedShare = 0.75;
constexpr double kBytesPerVariable = 15360;
constexpr double kAlwaysListedShare = 1.0 / 16;
// What a cell and an entry of a list take, places and propagation counted.
constexpr double kCellBytes = 24;
constexpr double kEntryBytes = 30;

// What an entry takes, at least: beyond the budget over it no tree fits but by its zeros.
constexpr double kLeastEntryBytes = 8;

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
  TreeBuilder(*this, factors, cliques, root_scope, options, plan).build();
  compute_priors(plan);
  if (choose_listed(plan)) {
    JunctionTree again;
    again.states_ = states_;
    again.state_offset_ = state_offset_;
    *this = std::move(again);
    TreeBuilder(*this, factors, cliques, root_scope, options, plan).build();
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

// What the entries of a clique sum to without evidence, by cell: of those below it first.
void JunctionTree::sum_dense(Clique& clique) {
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
}

void JunctionTree::sum_listed(Clique& clique) {
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

// Adds a clique's entries, as the belief in its separator has them, to the beliefs below it and the
// priors.
void JunctionTree::weigh_dense(std::uint32_t c, std::vector<double>& down, Plan& plan) {
  const Clique& clique = cliques_[c];
  const double* belief = belief_.data() + clique.first_cell;
  const double* up = up_.data() + clique.first_cell;
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
  dense.clique.sum(numbers, sums, plan.listed.empty() ? &plan.entries[c] : nullptr);
}

void JunctionTree::weigh_listed(const Clique& clique, std::vector<double>& entry) {
  const double* belief = belief_.data() + clique.first_cell;
  const double* up = up_.data() + clique.first_cell;
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

void JunctionTree::compute_priors(Plan& plan) {
  plan.entries.assign(cliques_.size(), {});
  for (std::uint32_t c : collect_order_) {
    Clique& clique = cliques_[c];
    if (clique.dense != kListed) {
      sum_dense(clique);
    } else {
      sum_listed(clique);
    }
  }
  std::size_t all_states = 0;
  for (std::size_t n : states_) all_states += n;
  prior_.assign(all_states, 0.0);
  std::vector<double> down;   // of a dense clique: what its entries weigh
  std::vector<double> entry;  // beliefs of a listed one's
  for (auto it = collect_order_.rbegin(); it != collect_order_.rend(); ++it) {
    const Clique& clique = cliques_[*it];
    double* belief = belief_.data() + clique.first_cell;
    if (clique.parent < 0 && clique.cells > 0) belief[0] = 1;
    for (const Attached& a : clique.on_separator) {
      lanes::add_by<1>(states_of_.data() + a.map, belief, clique.cells,
                       prior_.data() + state_offset_[a.var], states_[a.var]);
    }
    if (clique.dense != kListed) {
      weigh_dense(*it, down, plan);
    } else {
      weigh_listed(clique, entry);
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

}  // namespace faultodds::network
