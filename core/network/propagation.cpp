// One thread's evidence and its posterior: what is told is collected towards the root and
// distributed from it. The tree itself is junction_tree.cpp's; where doubles do not do,
// logarithms.cpp's.
#include <algorithm>
#include <cmath>
#include <limits>

#include "core/error.h"
#include "core/network/exponents.h"
#include "core/network/junction_tree.h"
#include "core/network/lane_kernel.h"
#include "core/network/logarithms.h"
#include "core/stop.h"

namespace faultodds::network {

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
  if (tree_->home_[v] == JunctionTree::kNone) {
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
