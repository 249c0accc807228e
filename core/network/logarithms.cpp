#include "core/network/logarithms.h"

#include <algorithm>
#include <cmath>
#include <cstdint>
#include <vector>

namespace faultodds::network {
namespace {

double log_of(double x) { return x > 0 ? std::log(x) : kLogOfZero; }

std::vector<double> logs_of(const double* numbers, std::size_t n) {
  std::vector<double> logs(n);
  for (std::size_t i = 0; i < n; ++i) logs[i] = log_of(numbers[i]);
  return logs;
}

}  // namespace

// What a dense clique is multiplied from, in logarithms; `kept` holds those made here.
DenseClique::Numbers LogarithmicPass::dense_numbers(std::uint32_t c,
                                                    std::vector<std::vector<double>>& kept) const {
  const JunctionTree& tree = *in_->tree_;
  const auto& clique = tree.cliques_[c];
  const auto& dense = tree.dense_[static_cast<std::size_t>(clique.dense)];
  DenseClique::Numbers numbers{{nullptr}, {}};
  for (const auto& child : clique.children) {
    const auto& below = tree.cliques_[child.clique];
    if (in_->dirty_[child.clique]) {
      numbers.of_scope.push_back(in_->ratio_.data() + below.first_cell);
    } else {
      kept.push_back(logs_of(tree.up_.data() + below.first_cell, below.cells));
      numbers.of_scope.push_back(kept.back().data());
    }
  }
  for (std::size_t f = 0; f < dense.factors.size(); ++f) {
    kept.push_back(logs_of(dense.factors[f]->table.data(), dense.factors[f]->table.size()));
    numbers.of_scope.push_back(kept.back().data());
  }
  for (const auto& a : clique.attached) {
    numbers.of_attached.push_back(
        in_->changed_[a.var] ? log_weight_.data() + tree.state_offset_[a.var] : nullptr);
  }
  return numbers;
}

// Sums the entries of a dense clique.
std::vector<double> LogarithmicPass::dense_up(std::uint32_t c) const {
  const JunctionTree& tree = *in_->tree_;
  const auto& clique = tree.cliques_[c];
  const auto& dense = tree.dense_[static_cast<std::size_t>(clique.dense)];
  std::vector<std::vector<double>> kept;
  const DenseClique::Numbers numbers = dense_numbers(c, kept);
  std::vector<double> most(clique.cells, kLogOfZero), up(clique.cells, 0.0);
  dense.clique.largest_logs(numbers, most.data());
  DenseClique::Sums sums = tree.no_sums(clique);
  sums.of_scope[0] = up.data();
  dense.clique.sum_logs(numbers, most.data(), sums);
  for (std::size_t s = 0; s < clique.cells; ++s) {
    up[s] = most[s] + log_of(up[s]) + std::log(dense.scale);
  }
  return up;
}

double* LogarithmicPass::belief(std::uint32_t c) {
  const auto& clique = in_->tree_->cliques_[c];
  const bool listed = clique.dense == JunctionTree::kListed;
  return (listed ? in_->belief_ : dense_belief_).data() + clique.first_cell;
}

// As LanePropagation::weigh_dense does.
void LogarithmicPass::weigh_dense(std::uint32_t c) {
  const JunctionTree& tree = *in_->tree_;
  const auto& clique = tree.cliques_[c];
  const auto& dense = tree.dense_[static_cast<std::size_t>(clique.dense)];
  std::vector<std::vector<double>> kept;
  DenseClique::Numbers numbers = dense_numbers(c, kept);
  std::vector<double> up = in_->dirty_[c] == in_->kEntries
                               ? dense_up(c)
                               : logs_of(tree.up_.data() + clique.first_cell, clique.cells);
  std::vector<double> down(clique.cells, kLogOfZero);
  const double* belief_here = belief(c);
  for (std::size_t s = 0; s < clique.cells; ++s) {
    if (!(belief_here[s] > 0)) continue;
    down[s] = std::log(belief_here[s]) + std::log(dense.scale) - up[s];
  }
  numbers.of_scope[0] = down.data();
  DenseClique::Sums sums = tree.no_sums(clique);
  for (std::size_t k = 0; k < clique.children.size(); ++k) {
    const auto& below = tree.cliques_[clique.children[k].clique];
    sums.of_scope[1 + k] = belief(clique.children[k].clique);
    std::fill_n(sums.of_scope[1 + k], below.cells, 0.0);
  }
  for (std::size_t k = 0; k < clique.attached.size(); ++k) {
    const Var v = clique.attached[k].var;
    sums.of_attached[k] = in_->posterior_.data() + tree.state_offset_[v];
    std::fill_n(sums.of_attached[k], tree.states_[v], 0.0);
  }
  dense.clique.sum_logs(numbers, nullptr, sums);
}

void LogarithmicPass::collect_listed(std::uint32_t c) {
  const JunctionTree& tree = *in_->tree_;
  const auto& clique = tree.cliques_[c];
  double* value = in_->value_.data() + clique.first;
  for (std::size_t i = 0; i < clique.size; ++i) {
    value[i] = log_of(tree.value_[clique.first + i]);
  }
  const auto add = [&](const auto* at, const double* term) {
    for (std::size_t i = 0; i < clique.size; ++i) value[i] += term[at[i]];
  };
  for (const auto& a : clique.attached) {
    if (!in_->changed_[a.var]) continue;
    add(tree.states_of_.data() + a.map, log_weight_.data() + tree.state_offset_[a.var]);
  }
  for (const auto& child : clique.children) {
    if (!in_->dirty_[child.clique]) continue;
    const double* ratio = in_->ratio_.data() + tree.cliques_[child.clique].first_cell;
    tree.with_cells(child, [&](const auto* at) { add(at, ratio); });
  }
  const std::uint32_t* bound = tree.bounds_.data() + clique.first_bound;
  double* up = in_->up_.data() + clique.first_cell;
  for (std::size_t s = 0; s < clique.cells; ++s) {
    double most = kLogOfZero;
    for (std::uint32_t i = bound[s]; i < bound[s + 1]; ++i) most = std::max(most, value[i]);
    double sum = 0;
    if (most > kLogOfZero) {
      for (std::uint32_t i = bound[s]; i < bound[s + 1]; ++i) sum += std::exp(value[i] - most);
    }
    up[s] = most + log_of(sum);
  }
}

double LogarithmicPass::collect() {
  const JunctionTree& tree = *in_->tree_;
  double log_evidence = 0;
  for (std::uint32_t c : in_->dirty_list_) {
    const auto& clique = tree.cliques_[c];
    const bool entries = in_->dirty_[c] == in_->kEntries;
    std::vector<double> of_dense;
    const double* up = nullptr;
    if (entries && clique.dense == JunctionTree::kListed) {
      collect_listed(c);
      up = in_->up_.data() + clique.first_cell;
    } else if (entries) {
      of_dense = dense_up(c);
      up = of_dense.data();
    }
    double* ratio = in_->ratio_.data() + clique.first_cell;
    for (std::size_t s = 0; s < clique.cells; ++s) {
      const double before = tree.up_[clique.first_cell + s];
      ratio[s] = !(before > 0) ? kLogOfZero : entries ? up[s] - std::log(before) : 0;
    }
    for (const auto& a : clique.on_separator) {
      if (!in_->changed_[a.var]) continue;
      const std::uint16_t* state = tree.states_of_.data() + a.map;
      const double* weight = log_weight_.data() + tree.state_offset_[a.var];
      for (std::size_t s = 0; s < clique.cells; ++s) ratio[s] += weight[state[s]];
    }
    double largest = kLogOfZero;
    for (std::size_t s = 0; s < clique.cells; ++s) largest = std::max(largest, ratio[s]);
    if (!(largest > kLogOfZero)) return kLogOfZero;
    for (std::size_t s = 0; s < clique.cells; ++s) {
      ratio[s] -= largest;
      if (clique.below_dense) ratio[s] += log_of(tree.up_[clique.first_cell + s]);
    }
    log_evidence += largest;
  }
  return log_evidence;
}

void LogarithmicPass::distribute() {
  const JunctionTree& tree = *in_->tree_;
  // Beliefs and posteriors are probabilities given the evidence: what of them underflows is 0.
  std::copy(tree.prior_.begin(), tree.prior_.end(), in_->posterior_.begin());
  in_->moved_.clear();
  if (!tree.dense_.empty()) dense_belief_.assign(tree.up_.size(), 0.0);
  for (Var v = 0; v < tree.states_.size(); ++v) in_->moved_.push_back(v);
  for (auto it = tree.collect_order_.rbegin(); it != tree.collect_order_.rend(); ++it) {
    const std::uint32_t c = *it;
    const auto& clique = tree.cliques_[c];
    double* belief = this->belief(c);
    if (clique.parent < 0) std::fill_n(belief, clique.cells, 1.0);
    for (const auto& a : clique.on_separator) {
      const std::uint16_t* state = tree.states_of_.data() + a.map;
      double* sum = in_->posterior_.data() + tree.state_offset_[a.var];
      std::fill_n(sum, tree.states_[a.var], 0.0);
      for (std::size_t s = 0; s < clique.cells; ++s) sum[state[s]] += belief[s];
    }
    if (clique.dense != JunctionTree::kListed) {
      weigh_dense(c);
      continue;
    }
    const std::uint32_t* bound = tree.bounds_.data() + clique.first_bound;
    double* entry = in_->entry_.data();
    for (std::size_t s = 0; s < clique.cells; ++s) {
      for (std::uint32_t i = bound[s]; i < bound[s + 1]; ++i) {
        if (!(belief[s] > 0)) {
          entry[i] = 0;
        } else if (in_->dirty_[c] == in_->kEntries) {
          entry[i] =
              belief[s] * std::exp(in_->value_[clique.first + i] - in_->up_[clique.first_cell + s]);
        } else {
          entry[i] = belief[s] * tree.value_[clique.first + i] / tree.up_[clique.first_cell + s];
        }
      }
    }
    const auto sum_to = [&](const auto* at, double* sum, std::size_t n) {
      std::fill_n(sum, n, 0.0);
      for (std::size_t i = 0; i < clique.size; ++i) sum[at[i]] += entry[i];
    };
    for (const auto& child : clique.children) {
      const auto& below = tree.cliques_[child.clique];
      double* sum = this->belief(child.clique);
      tree.with_cells(child, [&](const auto* at) { sum_to(at, sum, below.cells); });
    }
    for (const auto& a : clique.attached) {
      sum_to(tree.states_of_.data() + a.map, in_->posterior_.data() + tree.state_offset_[a.var],
             tree.states_[a.var]);
    }
  }
}

}  // namespace faultodds::network
