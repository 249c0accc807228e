#include "core/network/conditioning.h"

#include <algorithm>
#include <cmath>
#include <limits>
#include <optional>
#include <queue>
#include <string>

#include "core/error.h"

namespace faultodds::network {
namespace {

// An answer visits no more clique entries than this, but looks at some instances always.
constexpr double kEntriesVisited = 0x1p28;
constexpr std::size_t kLeastInstances = 64;
// Where not all instances can be looked at, so small a share of the evidence may go unseen.
constexpr double kNegligible = 1e-12;
// What rounding leaves of 1 minus a sum of probabilities.
constexpr double kRounding = 4e-15;

// With more variables cut than this, the instances that can be looked at are next to nothing of
// all.
constexpr std::size_t kMostCut = 32;
// Cliques of more variables than this have more entries than can be counted.
constexpr std::size_t kMostInClique = 63;
// Dense tables of more entries than this are far from fitting, however many zeros they have. For
// each kFarther times as many one variable more is cut at once, up to kMostAtOnce.
constexpr double kFar = 0x1p36;
constexpr double kFarther = 16;
constexpr std::size_t kMostAtOnce = 8;

std::vector<const Factor*> pointers_to(const std::vector<Factor>& factors) {
  std::vector<const Factor*> pointers;
  for (const Factor& f : factors) pointers.push_back(&f);
  return pointers;
}

// The candidates that stand in the way most: those whose cliques are the largest together, or,
// where there is no triangulation, that most factors mention. One, or more where the tree is far
// too large. Candidates that only one factor mentions are no use.
std::vector<Var> widest(const std::vector<std::size_t>& states,
                        const std::vector<std::vector<Var>>& scopes,
                        const std::optional<CliqueTree>& tree, const std::vector<Var>& candidates) {
  std::vector<std::size_t> mentions(states.size(), 0);
  for (const auto& scope : scopes) {
    for (Var v : scope) ++mentions[v];
  }
  std::vector<double> weight(mentions.begin(), mentions.end());
  std::size_t count = kMostAtOnce;
  if (tree) {
    weight.assign(states.size(), 0);
    for (const auto& clique : tree->cliques) {
      double entries = 1;
      for (Var v : clique) entries *= static_cast<double>(states[v]);
      for (Var v : clique) weight[v] += entries;
    }
    const double more = std::log(tree->total_entries / kFar) / std::log(kFarther);
    count = std::min(kMostAtOnce, 1 + static_cast<std::size_t>(std::max(more, 0.0)));
  }
  std::vector<Var> best;
  for (Var v : candidates) {
    if (mentions[v] > 1) best.push_back(v);
  }
  std::stable_sort(best.begin(), best.end(), [&](Var a, Var b) { return weight[a] > weight[b]; });
  if (best.size() > count) best.resize(count);
  return best;
}

}  // namespace

ConditionedTree::ConditionedTree(const Network& network, const std::vector<Var>& candidates,
                                 const TreeOptions& options, std::size_t most_instances) {
  network.check_complete();
  std::vector<std::size_t> states = network.all_states();
  std::vector<Factor> factors;
  for (Var v = 0; v < network.size(); ++v) factors.push_back(network.table(v));
  asked_ = options.asked;
  if (asked_.empty()) {
    for (Var v = 0; v < network.size(); ++v) asked_.push_back(v);
  }
  std::sort(asked_.begin(), asked_.end());
  asked_.erase(std::unique(asked_.begin(), asked_.end()), asked_.end());
  TreeOptions tree_options{options.memory_budget, asked_};
  // To cut a variable takes at most one from the largest clique.
  if (least_largest_clique(states.size(), scopes_of(pointers_to(factors))) >
      kMostInClique + kMostCut) {
    throw Error(Code::limit_exceeded, "exact inference needs tables of more than " +
                                          std::to_string(kMostInClique) + " variables, even with " +
                                          std::to_string(kMostCut) + " more of them fixed");
  }
  while (!tree_) {
    const std::vector<const Factor*> pointers = pointers_to(factors);
    const std::vector<std::vector<Var>> scopes = scopes_of(pointers);
    std::optional<CliqueTree> cliques;
    try {
      cliques = triangulate(states, scopes, {}, Orders::one);
      tree_ = std::make_unique<JunctionTree>(states, pointers, *cliques, std::vector<Var>{},
                                             tree_options);
    } catch (const Error& error) {
      if (error.code() != Code::limit_exceeded) throw;
      const std::vector<Var> next = widest(states, scopes, cliques, candidates);
      if (next.empty() || cuts_.size() + next.size() > kMostCut) {
        throw Error(Code::limit_exceeded,
                    "with " + std::to_string(cuts_.size()) + " variables fixed, " + error.what());
      }
      for (const Var v : next) {
        Cut cut{{v}, states[v]};
        // The table of v keeps v itself; every other factor gets a copy, with a uniform prior.
        const std::size_t count = factors.size();
        for (std::size_t f = 0; f < count; ++f) {
          const auto at = std::find(factors[f].scope.begin(), factors[f].scope.end(), v);
          if (f == v || at == factors[f].scope.end()) continue;
          const auto copy = static_cast<Var>(states.size());
          *at = copy;
          states.push_back(cut.states);
          const auto n = static_cast<double>(cut.states);
          factors.push_back({{copy}, std::vector<double>(cut.states, 1 / n)});
          log_copies_ += std::log(n);
          cut.copies.push_back(copy);
        }
        tree_options.asked.insert(tree_options.asked.end(), cut.copies.begin(), cut.copies.end());
        cuts_.push_back(std::move(cut));
      }
    }
  }
  const double affordable =
      kEntriesVisited / static_cast<double>(std::max<std::size_t>(tree_->entries(), 1));
  if (affordable < static_cast<double>(most_instances)) {
    most_instances =
        std::min(most_instances, std::max(kLeastInstances, static_cast<std::size_t>(affordable)));
  }
  list_instances(most_instances);
}

// Lists instances by the product of the cut variables' own probabilities, largest first; then finds
// what each has in truth.
void ConditionedTree::list_instances(std::size_t most) {
  std::vector<std::vector<std::pair<double, std::uint16_t>>> by_probability;  // falling
  for (const Cut& cut : cuts_) {
    const auto prior = tree_->prior(cut.copies[0]);
    auto& list = by_probability.emplace_back();
    for (std::size_t s = 0; s < cut.states; ++s) {
      if (prior[s] > 0) list.emplace_back(-prior[s], static_cast<std::uint16_t>(s));
    }
    std::sort(list.begin(), list.end());
  }
  // An instance is a place in each list. Its successors step one place on in the last variable that
  // is not at its first place, or in one after it: each instance has one predecessor only.
  using Places = std::vector<std::uint16_t>;
  const auto log_product = [&](const Places& places) {
    double sum = 0;
    for (std::size_t k = 0; k < places.size(); ++k) {
      sum += std::log(-by_probability[k][places[k]].first);
    }
    return sum;
  };
  std::priority_queue<std::pair<double, Places>> queue;
  const Places first(cuts_.size(), 0);
  queue.emplace(log_product(first), first);
  std::size_t count = 0;
  while (!queue.empty() && count < most) {
    const Places places = queue.top().second;
    queue.pop();
    ++count;
    for (std::size_t k = 0; k < places.size(); ++k) {
      states_.push_back(by_probability[k][places[k]].second);
    }
    std::size_t from = places.size();
    while (from > 0 && places[from - 1] == 0) --from;
    for (std::size_t k = from == 0 ? 0 : from - 1; k < places.size(); ++k) {
      if (places[k] + 1u >= by_probability[k].size()) continue;
      Places next = places;
      ++next[k];
      queue.emplace(log_product(next), std::move(next));
    }
  }
  exhaustive_ = queue.empty();
  mass_.resize(count);
  Lanes workspace(*tree_);
  for (std::size_t i = 0; i < count; i += kLanes) {
    const std::size_t n = std::min(kLanes, count - i);
    workspace.clear();
    for (std::size_t l = 0; l < n; ++l) fix(workspace, i + l, l);
    workspace.collect_or_refuse();
    for (std::size_t l = 0; l < n; ++l) {
      mass_[i + l] = std::exp(workspace.log_evidence(l) + log_copies_);
    }
  }
}

void ConditionedTree::fix(Lanes& workspace, std::size_t instance, std::size_t lane) const {
  std::vector<double> only;
  for (std::size_t k = 0; k < cuts_.size(); ++k) {
    only.assign(cuts_[k].states, 0.0);
    only[states_[instance * cuts_.size() + k]] = 1;
    for (Var v : cuts_[k].copies) workspace.multiply(v, only, lane);
  }
}

ConditionedTree::Answer ConditionedTree::answer(const Tell& evidence, const Tell& priors) const {
  Lanes workspace(*tree_);
  Answer answer;
  std::size_t numbers = 0;
  for (Var v = 0; v < tree_->variables(); ++v) numbers += tree_->states(v);
  answer.posterior.assign(numbers, 0.0);
  // Sums are kept relative to exp(scale).
  double scale = kLogOfZero, sum = 0, looked_at = 0;
  const auto unseen = [&](std::size_t next) {
    return exhaustive_ && next == mass_.size() ? 0.0 : std::max(0.0, 1 - looked_at) + kRounding;
  };
  std::size_t next = 0;
  while (next < mass_.size()) {
    const std::size_t n = std::min(kLanes, mass_.size() - next);
    if (priors) {
      workspace.clear();
      for (std::size_t l = 0; l < n; ++l) {
        priors(workspace, l);
        fix(workspace, next + l, l);
      }
      workspace.collect_or_refuse();
      for (std::size_t l = 0; l < n; ++l) {
        looked_at += std::exp(workspace.log_evidence(l) + log_copies_);
      }
    } else {
      for (std::size_t l = 0; l < n; ++l) looked_at += mass_[next + l];
    }
    workspace.clear();
    for (std::size_t l = 0; l < n; ++l) {
      if (priors) priors(workspace, l);
      evidence(workspace, l);
      fix(workspace, next + l, l);
    }
    workspace.collect_or_refuse();
    workspace.distribute();
    for (std::size_t l = 0; l < n; ++l) {
      const double log_share = workspace.log_evidence(l) + log_copies_;
      if (!(log_share > kLogOfZero)) continue;
      if (log_share > scale) {
        const double shrink = std::exp(scale - log_share);
        for (double& p : answer.posterior) p *= shrink;
        sum *= shrink;
        scale = log_share;
      }
      const double share = std::exp(log_share - scale);
      sum += share;
      const Posterior posterior(workspace, l);
      for (Var v : asked_) {
        double* into = answer.posterior.data() + tree_->first_state(v);
        for (std::size_t s = 0; s < tree_->states(v); ++s) into[s] += share * posterior(v, s);
      }
    }
    next += n;
    if (!exhaustive_ && unseen(next) <= kNegligible * sum * std::exp(scale)) break;
  }
  answer.log_evidence = sum > 0 ? scale + std::log(sum) : kLogOfZero;
  const double rest = unseen(next);
  answer.missed = rest > 0 ? rest / (std::exp(answer.log_evidence) + rest) : 0;
  for (double& p : answer.posterior) p /= sum;
  return answer;
}

}  // namespace faultodds::network
