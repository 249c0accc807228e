#include "core/diagnosis/query.h"

#include <algorithm>
#include <cmath>
#include <map>
#include <set>
#include <string>
#include <unordered_map>

#include "core/diagnosis/entropy.h"
#include "core/diagnosis/program.h"
#include "core/error.h"

namespace faultodds::diagnosis {

using network::Var;

namespace {

constexpr std::size_t kMaxCombinations = std::size_t{1} << 16;  // of T
constexpr std::size_t kMaxBytes = std::size_t{16} << 20;        // of a tree's tables
constexpr std::size_t kMaxTabulatedBytes = std::size_t{4} << 20;
constexpr std::size_t kMaxTabulatedEvidence = 4;         // observations
constexpr std::size_t kMaxTable = std::size_t{1} << 16;  // numbers
constexpr double kAlike = 1e-12;                         // relative: what rounding leaves
constexpr auto kNoPosition = static_cast<std::size_t>(-1);

std::vector<Var> sorted_variables(std::vector<Var> vars) {
  std::sort(vars.begin(), vars.end());
  vars.erase(std::unique(vars.begin(), vars.end()), vars.end());
  return vars;
}

std::size_t grade_combinations(std::size_t n) {
  std::size_t p = 1;
  while (n-- > 0) p *= 3;
  return p;
}

// The modes that targets are made of, ascending.
std::vector<std::uint32_t> modes_of(const QueryTargets& targets) {
  std::set<std::uint32_t> modes;
  for (const auto& set : targets.sets) modes.insert(set.begin(), set.end());
  for (const auto& group : targets.groups) {
    for (const auto& set : group) modes.insert(set.begin(), set.end());
  }
  return {modes.begin(), modes.end()};
}

constexpr std::size_t kMaxWeights = 81;  // 3 to the power kMaxTabulatedEvidence

// The product of one likelihood per observation for every combination of their grades, the last
// observation fastest.
void expand(const Grades* likelihoods, std::size_t count, double* weight) {
  weight[0] = 1;
  for (std::size_t k = 0, n = 1; k < count; ++k, n *= 3) {
    for (std::size_t i = n; i-- > 0;) {
      const double w = weight[i];
      for (std::size_t g = 3; g-- > 0;) weight[i * 3 + g] = w * likelihoods[k][g];
    }
  }
}

double mixed_entropy(const std::vector<std::vector<double>>& rows, const double* grades,
                     double total) {
  double h = 0;
  for (std::size_t i = 0; i < rows[0].size(); ++i) {
    double p = 0;
    for (std::size_t s = 0; s < 3; ++s) p += grades[s] * rows[s][i];
    p /= total;
    if (p > 0) h -= p * std::log2(p);
  }
  return h;
}

}  // namespace

Query::Query(const Model& model, const std::vector<std::uint32_t>& evidence,
             const QueryTargets& targets, std::uint32_t test)
    : test_(test), evidence_(evidence) {
  NetworkBuilder builder(model.analysis(), model.program().mode_conditions());
  enumerate(builder, targets);
  scope_.push_back(test_node_);  // S may itself be enumerated
  modes_ = prior_nodes(model, builder);
  if (modes_.empty() && evidence.size() <= kMaxTabulatedEvidence) {
    try {
      classify(model, tables_by_value(builder));
    } catch (const Error& error) {
      if (error.code() != Code::limit_exceeded) throw;
    }
  }
  if (total_.empty()) tree_ = compile(builder, scope_, kMaxBytes);
}

// Builds the network and fixes what is enumerated: scope_, and how it gives the value of T.
void Query::enumerate(NetworkBuilder& builder, const QueryTargets& targets) {
  const std::vector<std::uint32_t> modes = modes_of(targets);
  const bool by_modes = modes.size() < targets.groups.size() + targets.sets.size();
  std::vector<std::vector<Var>> lists;
  for (std::uint32_t o : evidence_) lists.push_back(builder.parts(o));
  lists.push_back(builder.parts(test_));
  if (!by_modes) {
    for (const auto& group : targets.groups) {
      std::vector<Var> list;
      for (const auto& set : group) list.push_back(builder.set_grade(set));
      lists.push_back(std::move(list));
    }
  }
  const std::vector<Var> max = builder.shared_max(std::move(lists));
  const auto test = max.begin() + static_cast<std::ptrdiff_t>(evidence_.size());
  evidence_nodes_.assign(max.begin(), test);
  test_node_ = *test;
  if (by_modes) {
    for (std::uint32_t m : modes) scope_.push_back(builder.mode(m));
  } else {
    scope_.assign(test + 1, max.end());
    for (const auto& set : targets.sets) scope_.push_back(builder.set_grade(set));
    scope_ = sorted_variables(std::move(scope_));
  }
  for (Var v : scope_) {
    combinations_ *= builder.network().states(v);
    if (combinations_ > kMaxCombinations) {
      throw Error(Code::limit_exceeded, "the sets of a test are too many to enumerate");
    }
  }
  if (by_modes) number_values(modes, targets);
}

std::unique_ptr<network::JunctionTree> Query::compile(const NetworkBuilder& builder,
                                                      std::vector<Var> root,
                                                      std::size_t bytes) const {
  const network::Network& net = builder.network();
  std::vector<const network::Factor*> factors;
  for (Var v = 0; v < net.size(); ++v) factors.push_back(&net.table(v));
  return std::make_unique<network::JunctionTree>(net.all_states(), factors,
                                                 sorted_variables(std::move(root)),
                                                 builder.options_to_ask(evidence_nodes_, bytes));
}

// Row-major, as in `scope_`.
void Query::number_values(const std::vector<std::uint32_t>& modes, const QueryTargets& targets) {
  std::vector<char> grade(modes.empty() ? 0 : modes.back() + 1, 0);
  std::string value;
  const auto least = [&](const std::vector<std::uint32_t>& set) {
    char g = 2;
    for (std::uint32_t m : set) g = std::min(g, grade[m]);
    return g;
  };
  std::unordered_map<std::string, std::uint32_t> numbers;
  value_.reserve(combinations_);
  for (std::size_t t = 0; t < combinations_; ++t) {
    std::size_t rest = t;
    for (std::size_t i = modes.size(); i-- > 0; rest /= 3) {
      grade[modes[i]] = static_cast<char>(rest % 3);
    }
    value.clear();
    for (const auto& group : targets.groups) {
      char g = 0;
      for (const auto& set : group) g = std::max(g, least(set));
      value.push_back(g);
    }
    for (const auto& set : targets.sets) value.push_back(least(set));
    value_.push_back(
        numbers.emplace(value, static_cast<std::uint32_t>(numbers.size())).first->second);
  }
  values_ = numbers.size();
}

// For each value of T, in the order met: P(T, S, grades of the evidence).
std::vector<double> Query::tables_by_value(const NetworkBuilder& builder) {
  std::vector<Var> scope = scope_;
  scope.insert(scope.end(), evidence_nodes_.begin(), evidence_nodes_.end());
  const network::JunctionTree::Joint joint =
      compile(builder, scope, kMaxTabulatedBytes)->root_joint(scope);
  const std::size_t cells = 3 * grade_combinations(evidence_.size());

  std::vector<double> tables;
  std::vector<std::size_t> table_of(value_.empty() ? 0 : values_, kNoPosition);
  std::uint64_t last = kNoPosition;
  for (std::size_t r = 0; r < joint.combination.size(); ++r) {
    const std::uint64_t t = joint.combination[r] / cells;
    std::size_t at = tables.size();
    if (!value_.empty()) {
      std::size_t& known = table_of[value_[static_cast<std::size_t>(t)]];
      if (known == kNoPosition) known = at;
      at = known;
    } else if (t == last) {
      at -= cells;
    }
    last = t;
    if (at == tables.size()) tables.resize(at + cells, 0.0);
    tables[at + joint.combination[r] % cells] += joint.probability[r];
  }
  return tables;
}

void Query::classify(const Model& model, const std::vector<double>& tables) {
  const std::size_t seen = grade_combinations(evidence_.size());
  const std::size_t cells = 3 * seen;  // of one value of T: S, then the evidence
  // Values of T that predict S alike whatever the evidence become one class. Given the weights w of
  // the evidence's grades i, a table t predicts P(S = s) = sum_i w_i t(s, i) / sum_i w_i t(i). Two
  // predict alike for every w when their tables are proportional, or when in neither P(S = s) hangs
  // on i and it is the same in both; not otherwise. Numbers are compared relative to their size:
  // what is improbable here may be all that strong evidence leaves.
  const auto alike = [](double a, double b) { return std::fabs(a - b) <= kAlike * std::max(a, b); };
  struct Class {
    bool constant;
    std::size_t key;  // where it starts in keys: P(S), or the table scaled to sum to 1
  };
  std::vector<Class> classes;
  std::vector<double> keys, key;
  std::multimap<double, std::size_t> by_mix;  // a class by a mixture of the numbers of its key
  std::vector<double> merged;                 // per class, `cells` numbers
  for (std::size_t from = 0; from < tables.size(); from += cells) {
    const double* table = tables.data() + from;
    bool constant = true;
    double total = 0;
    key.clear();
    for (std::size_t i = 0; i < seen; ++i) {
      const double column = table[i] + table[seen + i] + table[2 * seen + i];
      if (!(column > 0)) continue;
      total += column;
      const bool first = key.empty();
      for (std::size_t s = 0; s < 3; ++s) {
        const double p = table[s * seen + i] / column;
        if (first) key.push_back(p);
        constant = constant && alike(key[s], p);
      }
    }
    if (!(total > 0)) continue;
    if (!constant) {
      key.assign(table, table + cells);
      for (double& p : key) p /= total;
    }
    double mix = constant ? 0 : 1, share = 1;
    for (double p : key) mix += p * (share = share < 1.5 ? share + 0.4142135 : share - 0.5857865);
    auto at = by_mix.lower_bound(mix * (1 - 2 * kAlike));
    const auto end = by_mix.upper_bound(mix * (1 + 2 * kAlike));
    while (at != end &&
           !(classes[at->second].constant == constant &&
             std::equal(key.begin(), key.end(), keys.data() + classes[at->second].key, alike))) {
      ++at;
    }
    if (at == end) {
      by_mix.emplace(mix, classes.size());
      classes.push_back({constant, keys.size()});
      keys.insert(keys.end(), key.begin(), key.end());
      merged.insert(merged.end(), table, table + cells);
    } else {
      double* into = merged.data() + at->second * cells;
      for (std::size_t i = 0; i < cells; ++i) into[i] += table[i];
    }
  }
  if (merged.size() > kMaxTable) return;

  // Classes that predict S alike whatever the evidence need no logarithm when a case is weighed; of
  // the others only what can occur is kept.
  const auto& rows = model.program().rows(test_);
  weighted_entropy_.assign(seen, 0.0);
  total_.assign(seen, 0.0);
  bound_.assign(1, 0);
  for (std::size_t c = 0; c < classes.size(); ++c) {
    const double* of_class = merged.data() + c * cells;
    if (!classes[c].constant) {
      for (std::size_t i = 0; i < cells; ++i) {
        if (of_class[i] > 0) {
          cell_.push_back(static_cast<std::uint8_t>(i % seen));
          probability_.push_back(of_class[i]);
        }
        if (i % seen + 1 == seen) bound_.push_back(static_cast<std::uint32_t>(cell_.size()));
      }
      continue;
    }
    const double h = mixed_entropy(rows, keys.data() + classes[c].key, 1.0);
    for (std::size_t i = 0; i < cells; ++i) {
      weighted_entropy_[i % seen] += of_class[i] * h;
      total_[i % seen] += of_class[i];
    }
  }
}

double Query::weigh_table(const Model& model, const CaseNumbers& numbers) const {
  Grades likelihoods[kMaxTabulatedEvidence];
  auto at = numbers.observed.begin();  // both lists ascend
  for (std::size_t k = 0; k < evidence_.size(); ++k) {
    while (at->observation != evidence_[k]) ++at;
    likelihoods[k] = at->likelihood;
  }
  double weight[kMaxWeights];
  expand(likelihoods, evidence_.size(), weight);
  const std::size_t seen = grade_combinations(evidence_.size());
  double h = 0, all = 0;
  for (std::size_t i = 0; i < seen; ++i) {
    h += weighted_entropy_[i] * weight[i];
    all += total_[i] * weight[i];
  }
  const auto& rows = model.program().rows(test_);
  for (std::size_t c = 0; c + 1 < bound_.size(); c += 3) {
    double p[3];
    for (std::size_t s = 0; s < 3; ++s) {
      p[s] = 0;
      for (std::uint32_t i = bound_[c + s]; i < bound_[c + s + 1]; ++i) {
        p[s] += probability_[i] * weight[cell_[i]];
      }
    }
    const double total = p[0] + p[1] + p[2];
    if (!(total > 0)) continue;
    all += total;
    h += total * mixed_entropy(rows, p, total);
  }
  return h / all;
}

double Query::propagate(const Model& model, const CaseNumbers& numbers) const {
  network::Propagation propagation(*tree_);
  auto seen = numbers.observed.begin();
  for (std::size_t i = 0; i < evidence_.size(); ++i) {
    while (seen->observation != evidence_[i]) ++seen;
    propagation.multiply(evidence_nodes_[i], seen->likelihood);
  }
  apply_priors(model, numbers, modes_, propagation);
  propagation.collect();
  const std::vector<double> joint = propagation.root_joint(scope_);
  const auto& rows = model.program().rows(test_);
  std::vector<double> by_value;
  const double* first = joint.data();
  std::size_t count = combinations_;
  if (!value_.empty()) {
    by_value.assign(3 * values_, 0.0);
    for (std::size_t i = 0; i < joint.size(); ++i) by_value[3 * value_[i / 3] + i % 3] += joint[i];
    first = by_value.data();
    count = values_;
  }
  double h = 0;
  for (std::size_t t = 0; t < count; ++t) {
    const double* p = first + t * 3;
    const double total = p[0] + p[1] + p[2];
    if (total > 0) h += total * mixed_entropy(rows, p, total);
  }
  return h;
}

double Query::conditional_entropy(const Model& model, const CaseNumbers& numbers) const {
  return tree_ ? propagate(model, numbers) : weigh_table(model, numbers);
}

std::size_t Query::bytes() const {
  return sizeof *this + (tree_ ? tree_->bytes() : 0) + value_.size() * sizeof value_[0] +
         (weighted_entropy_.size() + total_.size() + probability_.size()) * sizeof(double) +
         cell_.size() + bound_.size() * sizeof bound_[0];
}

}  // namespace faultodds::diagnosis
