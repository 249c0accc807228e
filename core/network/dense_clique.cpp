#include "core/network/dense_clique.h"

#include <algorithm>
#include <cmath>
#include <limits>

#include "core/network/lanes.h"
#include "core/stop.h"

namespace faultodds::network {
namespace {

// A block has so many entries at least, and at most where one variable alone has not more.
constexpr std::size_t kLeastBlock = 64;
constexpr std::size_t kMostBlock = 512;
constexpr std::size_t kInBlock = std::numeric_limits<std::size_t>::max();
constexpr std::size_t kBlocksBetweenStops = 1 << 10;

FAULTODDS_LANE_CLONES void times_in_order(const double* by, std::size_t n, double* entry) {
  for (std::size_t j = 0; j < n; ++j) entry[j] *= by[j];
}
FAULTODDS_LANE_CLONES void times_placed(const double* by, const std::uint32_t* place, std::size_t n,
                                        double* entry) {
  for (std::size_t j = 0; j < n; ++j) entry[j] *= by[place[j]];
}
FAULTODDS_LANE_CLONES void start_in_order(double first, const double* by, std::size_t n,
                                          double* entry) {
  for (std::size_t j = 0; j < n; ++j) entry[j] = first * by[j];
}
FAULTODDS_LANE_CLONES void start_placed(double first, const double* by, const std::uint32_t* place,
                                        std::size_t n, double* entry) {
  for (std::size_t j = 0; j < n; ++j) entry[j] = first * by[place[j]];
}
FAULTODDS_LANE_CLONES void add_in_order(const double* entry, std::size_t n, double* sum) {
  for (std::size_t j = 0; j < n; ++j) sum[j] += entry[j];
}
// In one order, whatever the width of the processor's vectors.
FAULTODDS_LANE_CLONES double total(const double* entry, std::size_t n) {
  double sum[8] = {};
  std::size_t j = 0;
  for (; j + 8 <= n; j += 8) {
    for (std::size_t l = 0; l < 8; ++l) sum[l] += entry[j + l];
  }
  for (; j < n; ++j) sum[0] += entry[j];
  return ((sum[0] + sum[1]) + (sum[2] + sum[3])) + ((sum[4] + sum[5]) + (sum[6] + sum[7]));
}

// Sets entry[j] to first * by..., or to sums where these are logarithms.
template <bool logs>
class Entries {
 public:
  Entries(double first, std::size_t n, double* entry) : first_(first), n_(n), entry_(entry) {}

  void take(const double* by, const std::uint32_t* place, bool in_order) {
    if constexpr (logs) {
      for (std::size_t j = 0; j < n_; ++j) {
        entry_[j] = (started_ ? entry_[j] : first_) + by[in_order ? j : place[j]];
      }
    } else if (started_) {
      in_order ? times_in_order(by, n_, entry_) : times_placed(by, place, n_, entry_);
    } else {
      in_order ? start_in_order(first_, by, n_, entry_)
               : start_placed(first_, by, place, n_, entry_);
    }
    started_ = true;
  }
  void end() {
    if (!started_) std::fill_n(entry_, n_, first_);
  }

 private:
  double first_;
  std::size_t n_;
  double* entry_;
  bool started_ = false;
};

bool holds(const std::vector<Var>& list, Var v) {
  return std::find(list.begin(), list.end(), v) != list.end();
}

}  // namespace

DenseClique::Order DenseClique::order_of(const std::vector<Var>& vars,
                                         const std::vector<std::size_t>& states,
                                         const std::vector<DenseScope>& scopes) {
  // Zeros are worth finding before the block.
  constexpr double kOfZeros = 1.5;
  std::vector<bool> varies(scopes.size(), false);
  std::vector<Var> block;
  double positions = 1;
  while (positions < kLeastBlock && block.size() < vars.size()) {
    Var best = 0;
    double least = std::numeric_limits<double>::infinity();
    for (Var v : vars) {
      const auto n = static_cast<double>(states[v]);
      if (holds(block, v) || (!block.empty() && positions * n > kMostBlock)) continue;
      double cost = n > kMostBlock ? 1e6 : 0;
      for (std::size_t r = 0; r < scopes.size(); ++r) {
        if (!varies[r] && holds(scopes[r].scope, v)) cost += scopes[r].has_zeros ? kOfZeros : 1;
      }
      // Per doubling of the block.
      cost /= std::log2(std::max(n, 1.5));
      if (cost < least) {
        least = cost;
        best = v;
      }
    }
    if (std::isinf(least)) break;
    block.push_back(best);
    positions *= static_cast<double>(states[best]);
    for (std::size_t r = 0; r < scopes.size(); ++r) {
      if (holds(scopes[r].scope, best)) varies[r] = true;
    }
  }
  // The more of what varies a variable is in, the later it comes.
  const auto count = [&](Var v) {
    std::size_t in = 0;
    for (const DenseScope& s : scopes) in += holds(s.scope, v) ? 1 : 0;
    return in;
  };
  std::stable_sort(block.begin(), block.end(), [&](Var a, Var b) { return count(a) < count(b); });
  // Outside the block first what many are in: they are settled soonest.
  Order order;
  for (Var v : vars) {
    if (!holds(block, v)) order.vars.push_back(v);
  }
  std::stable_sort(order.vars.begin(), order.vars.end(),
                   [&](Var a, Var b) { return count(a) > count(b); });
  order.vars.insert(order.vars.end(), block.begin(), block.end());
  order.in_block = block.size();
  return order;
}

DenseClique::DenseClique(const Order& order, const std::vector<std::size_t>& states,
                         const std::vector<std::vector<Var>>& scopes,
                         const std::vector<Var>& attached) {
  const std::size_t outer = order.vars.size() - order.in_block;
  for (std::size_t i = 0; i < order.vars.size(); ++i) {
    (i < outer ? outer_.emplace_back(1) : block_) *= states[order.vars[i]];
  }
  // The state of the i-th variable, one of the block, at each position.
  const auto states_in_block = [&](std::size_t i) {
    std::size_t repeat = 1;
    for (std::size_t k = i + 1; k < order.vars.size(); ++k) repeat *= states[order.vars[k]];
    std::vector<std::uint32_t> state(block_);
    for (std::size_t j = 0; j < block_; ++j) {
      state[j] = static_cast<std::uint32_t>(j / repeat % states[order.vars[i]]);
    }
    return state;
  };
  steps_.resize(outer);
  settled_.resize(outer + 1);
  for (std::uint32_t r = 0; r < scopes.size(); ++r) {
    Relation& relation = relations_.emplace_back();
    std::uint32_t stride = 1;
    for (std::size_t k = scopes[r].size(); k-- > 0;) {
      const auto i = static_cast<std::size_t>(
          std::find(order.vars.begin(), order.vars.end(), scopes[r][k]) - order.vars.begin());
      if (i < outer) {
        steps_[i].push_back({r, stride});
        relation.complete = std::max(relation.complete, i + 1);
      } else {
        const std::vector<std::uint32_t> state = states_in_block(i);
        relation.place.resize(block_, 0);
        for (std::size_t j = 0; j < block_; ++j) relation.place[j] += stride * state[j];
      }
      stride *= static_cast<std::uint32_t>(states[scopes[r][k]]);
    }
    relation.in_order = !relation.place.empty();
    for (std::size_t j = 0; j < relation.place.size(); ++j) {
      relation.in_order = relation.in_order && relation.place[j] == j;
    }
    if (relation.place.empty()) settled_[relation.complete].push_back(r);
  }
  for (Var v : attached) {
    const auto i = static_cast<std::size_t>(std::find(order.vars.begin(), order.vars.end(), v) -
                                            order.vars.begin());
    attached_.push_back(i < outer ? Attached{i, {}} : Attached{kInBlock, states_in_block(i)});
  }
}

std::size_t DenseClique::bytes() const {
  std::size_t numbers = 0;
  for (const Relation& r : relations_) numbers += r.place.size();
  for (const Attached& a : attached_) numbers += a.state.size();
  std::size_t bytes = sizeof(DenseClique) + relations_.size() * (sizeof(Relation) + 4) +
                      attached_.size() * sizeof(Attached) +
                      (outer_.size() + 1) * (sizeof(std::size_t) + 2 * sizeof(steps_[0]));
  for (const auto& steps : steps_) bytes += steps.size() * sizeof(Step);
  return bytes + numbers * sizeof(std::uint32_t);
}

// Where a visit is: the states of the outer variables and the place in each relation.
struct DenseClique::Block {
  std::vector<std::uint32_t> state, key;
};

// Depth-first over the states of the outer variables; a relation is multiplied in as soon as it is
// settled, and what is 0 then is left. `use` gets each block.
template <bool logs, typename Use>
void DenseClique::visit(const Numbers& numbers, const Use& use) const {
  const std::size_t depths = outer_.size();
  const double zero = logs ? kLogOfZero : 0;
  const auto combine = [](double a, double b) { return logs ? a + b : a * b; };
  std::vector<double> product(depths + 1, logs ? 0 : 1), entry(block_), of_block;
  for (std::uint32_t r : settled_[0]) {
    if (numbers.of_scope[r]) product[0] = combine(product[0], numbers.of_scope[r][0]);
  }
  // What attached variables weigh, at the depth where they are settled and in the block.
  std::vector<std::vector<const double*>> weights(depths);
  for (std::size_t a = 0; a < attached_.size(); ++a) {
    const double* weight = numbers.of_attached[a];
    if (!weight) continue;
    if (attached_[a].outer != kInBlock) {
      weights[attached_[a].outer].push_back(weight);
      continue;
    }
    of_block.resize(block_, logs ? 0 : 1);
    for (std::size_t j = 0; j < block_; ++j) {
      of_block[j] = combine(of_block[j], weight[attached_[a].state[j]]);
    }
  }
  std::vector<std::uint32_t> varying;
  for (std::uint32_t r = 0; r < relations_.size(); ++r) {
    if (!relations_[r].place.empty() && numbers.of_scope[r]) varying.push_back(r);
  }
  Block at{std::vector<std::uint32_t>(depths, 0), std::vector<std::uint32_t>(relations_.size(), 0)};
  std::vector<std::size_t> next(depths, 0);
  std::size_t depth = 0, blocks = 0;
  while (true) {
    if (depth == depths) {
      if (++blocks % kBlocksBetweenStops == 0) check_stop();
      Entries<logs> entries(product[depth], block_, entry.data());
      if (!of_block.empty()) entries.take(of_block.data(), nullptr, true);
      for (std::uint32_t r : varying) {
        entries.take(numbers.of_scope[r] + at.key[r], relations_[r].place.data(),
                     relations_[r].in_order);
      }
      entries.end();
      use(at, entry.data());
      if (depths == 0) return;
      --depth;
      continue;
    }
    const std::size_t s = next[depth];
    if (s == outer_[depth]) {
      for (const Step& step : steps_[depth]) {
        at.key[step.relation] -= static_cast<std::uint32_t>(s - 1) * step.by;
      }
      next[depth] = 0;
      if (depth == 0) return;
      --depth;
      continue;
    }
    if (s > 0) {
      for (const Step& step : steps_[depth]) at.key[step.relation] += step.by;
    }
    ++next[depth];
    at.state[depth] = static_cast<std::uint32_t>(s);
    double value = product[depth];
    for (const double* weight : weights[depth]) value = combine(value, weight[s]);
    for (std::uint32_t r : settled_[depth + 1]) {
      if (numbers.of_scope[r]) value = combine(value, numbers.of_scope[r][at.key[r]]);
    }
    if (value == zero) continue;
    product[++depth] = value;
  }
}

namespace {

struct Summed {
  std::uint32_t relation;
  double* into;
};

}  // namespace

template <typename Entry>
void DenseClique::sum_blocks(const Sums& sums, std::vector<double>& block_sum, const Block& at,
                             const Entry* entry) const {
  const double all = total(entry, block_);
  for (std::uint32_t r = 0; r < relations_.size(); ++r) {
    double* into = sums.of_scope[r];
    if (!into) continue;
    into += at.key[r];
    const Relation& relation = relations_[r];
    if (relation.place.empty()) {
      *into += all;
    } else if (relation.in_order) {
      add_in_order(entry, block_, into);
    } else {
      for (std::size_t j = 0; j < block_; ++j) into[relation.place[j]] += entry[j];
    }
  }
  for (std::size_t a = 0; a < attached_.size(); ++a) {
    if (sums.of_attached[a] && attached_[a].outer != kInBlock) {
      sums.of_attached[a][at.state[attached_[a].outer]] += all;
    }
  }
  if (!block_sum.empty()) add_in_order(entry, block_, block_sum.data());
}

void DenseClique::sum_attached_in_block(const Sums& sums,
                                        const std::vector<double>& block_sum) const {
  for (std::size_t a = 0; a < attached_.size(); ++a) {
    if (!sums.of_attached[a] || attached_[a].outer != kInBlock) continue;
    for (std::size_t j = 0; j < block_; ++j) {
      sums.of_attached[a][attached_[a].state[j]] += block_sum[j];
    }
  }
}

void DenseClique::sum(const Numbers& numbers, const Sums& sums, Count* count) const {
  const bool any = std::any_of(sums.of_attached.begin(), sums.of_attached.end(),
                               [](const double* into) { return into != nullptr; });
  std::vector<double> block_sum(any ? block_ : 0, 0.0);
  visit<false>(numbers, [&](const Block& at, const double* entry) {
    sum_blocks(sums, block_sum, at, entry);
    if (!count) return;
    count->visited += static_cast<double>(block_);
    count->possible +=
        static_cast<double>(std::count_if(entry, entry + block_, [](double p) { return p > 0; }));
  });
  if (any) sum_attached_in_block(sums, block_sum);
}

void DenseClique::largest_logs(const Numbers& numbers, double* most) const {
  visit<true>(numbers, [&](const Block& at, const double* entry) {
    for (std::size_t j = 0; j < block_; ++j) {
      double& cell = most[at.key[0] + (relations_[0].place.empty() ? 0 : relations_[0].place[j])];
      cell = std::max(cell, entry[j]);
    }
  });
}

void DenseClique::sum_logs(const Numbers& numbers, const double* most, const Sums& sums) const {
  std::vector<double> block_sum(block_, 0.0), number(block_);
  visit<true>(numbers, [&](const Block& at, const double* entry) {
    for (std::size_t j = 0; j < block_; ++j) {
      const std::size_t cell =
          at.key[0] + (relations_[0].place.empty() ? 0 : relations_[0].place[j]);
      const double top = most ? most[cell] : 0;
      number[j] = entry[j] > kLogOfZero ? std::exp(entry[j] - top) : 0;
    }
    sum_blocks(sums, block_sum, at, number.data());
  });
  sum_attached_in_block(sums, block_sum);
}

}  // namespace faultodds::network
