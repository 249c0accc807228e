#include "core/network/logarithms.h"

#include <algorithm>
#include <cmath>
#include <cstdint>
#include <limits>
#include <vector>

namespace faultodds::network {
namespace {

constexpr double kNever = -std::numeric_limits<double>::infinity();

}  // namespace

double LogarithmicPass::collect(std::span<const double> log_weight) {
  const JunctionTree& tree = *in_->tree_;
  double log_evidence = 0;
  for (std::uint32_t c : in_->dirty_list_) {
    const auto& clique = tree.cliques_[c];
    double* value = in_->value_.data() + clique.first;
    for (std::size_t i = 0; i < clique.size; ++i) {
      const double before = tree.value_[clique.first + i];
      value[i] = before > 0 ? std::log(before) : kNever;
    }
    const auto add = [&](std::size_t map, const double* term) {
      const std::uint32_t* at = tree.maps_.data() + map;
      for (std::size_t i = 0; i < clique.size; ++i) value[i] += term[at[i]];
    };
    for (const auto& a : clique.attached) {
      if (in_->changed_[a.var]) add(a.map, log_weight.data() + tree.state_offset_[a.var]);
    }
    for (const auto& child : clique.children) {
      if (!in_->dirty_[child.clique]) continue;
      add(child.map, in_->ratio_.data() + tree.cliques_[child.clique].first_cell);
    }
    const std::uint32_t* bound = tree.bounds_.data() + clique.first_bound;
    double* up = in_->up_.data() + clique.first_cell;
    double* ratio = in_->ratio_.data() + clique.first_cell;
    double largest = kNever;
    for (std::size_t s = 0; s < clique.cells; ++s) {
      const double most = *std::max_element(value + bound[s], value + bound[s + 1]);
      double sum = 0;
      if (most > kNever) {
        for (std::uint32_t i = bound[s]; i < bound[s + 1]; ++i) sum += std::exp(value[i] - most);
      }
      const double before = tree.up_[clique.first_cell + s];
      up[s] = sum > 0 ? most + std::log(sum) : kNever;
      ratio[s] = before > 0 ? up[s] - std::log(before) : kNever;
      largest = std::max(largest, ratio[s]);
    }
    if (!(largest > kNever)) return kNever;
    for (std::size_t s = 0; s < clique.cells; ++s) ratio[s] -= largest;
    log_evidence += largest;
  }
  return log_evidence;
}

void LogarithmicPass::distribute() {
  const JunctionTree& tree = *in_->tree_;
  // Beliefs and posteriors are probabilities given the evidence: what of them underflows is 0.
  std::copy(tree.prior_.begin(), tree.prior_.end(), in_->posterior_.begin());
  in_->moved_.clear();
  for (Var v = 0; v < tree.states_.size(); ++v) in_->moved_.push_back(v);
  for (auto it = tree.collect_order_.rbegin(); it != tree.collect_order_.rend(); ++it) {
    const std::uint32_t c = *it;
    const auto& clique = tree.cliques_[c];
    double* belief = in_->belief_.data() + clique.first_cell;
    if (clique.parent < 0) std::fill_n(belief, clique.cells, 1.0);
    const std::uint32_t* bound = tree.bounds_.data() + clique.first_bound;
    double* entry = in_->entry_.data();
    for (std::size_t s = 0; s < clique.cells; ++s) {
      for (std::uint32_t i = bound[s]; i < bound[s + 1]; ++i) {
        if (!(belief[s] > 0)) {
          entry[i] = 0;
        } else if (in_->dirty_[c]) {
          entry[i] =
              belief[s] * std::exp(in_->value_[clique.first + i] - in_->up_[clique.first_cell + s]);
        } else {
          entry[i] = belief[s] * tree.value_[clique.first + i] / tree.up_[clique.first_cell + s];
        }
      }
    }
    const auto sum_to = [&](std::size_t map, double* sum, std::size_t n) {
      std::fill_n(sum, n, 0.0);
      const std::uint32_t* at = tree.maps_.data() + map;
      for (std::size_t i = 0; i < clique.size; ++i) sum[at[i]] += entry[i];
    };
    for (const auto& child : clique.children) {
      const auto& below = tree.cliques_[child.clique];
      sum_to(child.map, in_->belief_.data() + below.first_cell, below.cells);
    }
    for (const auto& a : clique.attached) {
      sum_to(a.map, in_->posterior_.data() + tree.state_offset_[a.var], tree.states_[a.var]);
    }
  }
}

}  // namespace faultodds::network
