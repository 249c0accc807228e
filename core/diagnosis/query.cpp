#include "core/diagnosis/query.h"

#include <algorithm>
#include <cmath>
#include <map>
#include <random>

#include "core/diagnosis/entropy.h"
#include "core/diagnosis/program.h"
#include "core/error.h"

namespace faultodds::diagnosis {

using network::Var;

namespace {

constexpr std::size_t kMaxCombinations = std::size_t{1} << 20;  // of T
constexpr std::size_t kMaxBytes = std::size_t{256} << 20;       // of a tree's tables
constexpr std::size_t kMaxTabulatedBytes = std::size_t{4} << 20;
constexpr std::size_t kMaxTabulatedEvidence = 4;         // observations
constexpr std::size_t kMaxTable = std::size_t{1} << 16;  // numbers
constexpr int kProbes = 3;  // random evidence on which combinations of T must agree to be merged

std::vector<Var> sorted_unique(std::vector<Var> vars) {
  std::sort(vars.begin(), vars.end());
  vars.erase(std::unique(vars.begin(), vars.end()), vars.end());
  return vars;
}

std::size_t power_of_3(std::size_t n) {
  std::size_t p = 1;
  while (n-- > 0) p *= 3;
  return p;
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
  const circuit::Analysis& analysis = model.analysis();
  NetworkBuilder builder(analysis, model.program().mode_conditions());
  std::vector<std::vector<Var>> lists;
  for (std::uint32_t o : evidence) lists.push_back(builder.parts(o));
  lists.push_back(builder.parts(test));
  for (const auto& group : targets.groups) {
    std::vector<Var> list;
    for (const auto& set : group) list.push_back(builder.set_grade(set));
    lists.push_back(std::move(list));
  }
  const std::vector<Var> max = builder.shared_max(std::move(lists));
  evidence_nodes_.assign(max.begin(), max.begin() + static_cast<std::ptrdiff_t>(evidence.size()));
  const Var s = max[evidence.size()];
  for (std::size_t i = evidence.size() + 1; i < max.size(); ++i) scope_.push_back(max[i]);
  for (const auto& set : targets.sets) scope_.push_back(builder.set_grade(set));
  for (std::uint32_t m : targets.modes) scope_.push_back(builder.mode(m));
  for (std::uint32_t m : targets.not_sound) scope_.push_back(builder.not_sound(m));
  for (std::uint32_t c : targets.conditions) scope_.push_back(builder.condition(c));
  scope_ = sorted_unique(std::move(scope_));
  for (Var v : scope_) {
    combinations_ *= builder.network().states(v);
    if (combinations_ > kMaxCombinations) {
      throw Error(Code::limit_exceeded, "the joint of the complaint is too large to enumerate");
    }
  }
  scope_.push_back(s);  // S may itself be one of T

  std::vector<const network::Factor*> factors;
  for (Var v = 0; v < builder.network().size(); ++v) factors.push_back(&builder.network().table(v));
  auto compile = [&](const std::vector<Var>& root, std::size_t bytes) {
    return std::make_unique<network::JunctionTree>(
        builder.network().all_states(), factors, sorted_unique(root), network::TreeOptions{bytes});
  };

  for (std::uint32_t m = 0; m < analysis.modes.size(); ++m) {
    if (model.wear_out()[m] && builder.has_mode(m)) {
      modes_.push_back({m, builder.mode(m), builder.conditions_of(m)});
    }
  }
  if (modes_.empty() && evidence.size() <= kMaxTabulatedEvidence) {
    std::vector<Var> root = scope_;
    root.insert(root.end(), evidence_nodes_.begin(), evidence_nodes_.end());
    try {
      tree_ = compile(root, kMaxTabulatedBytes);
      tabulate(model);
    } catch (const Error& error) {
      if (error.code() != Code::limit_exceeded) throw;
    }
    tree_.reset();
  }
  if (table_.empty() && weighted_entropy_.empty()) tree_ = compile(scope_, kMaxBytes);
}

void Query::tabulate(const Model& model) {
  std::vector<Var> scope = scope_;
  scope.insert(scope.end(), evidence_nodes_.begin(), evidence_nodes_.end());
  const network::JunctionTree::Joint joint = tree_->root_joint(scope);
  const std::size_t seen = power_of_3(evidence_.size());
  const std::size_t cells = 3 * seen;  // of one combination of T: S, then the evidence

  double weights[kProbes][kMaxWeights];
  std::mt19937_64 random(1);
  std::uniform_real_distribution<double> uniform(0.05, 1.0);
  for (auto& weight : weights) {
    Grades likelihoods[kMaxTabulatedEvidence];
    for (Grades& likelihood : likelihoods) {
      for (double& x : likelihood) x = uniform(random);
    }
    expand(likelihoods, evidence_.size(), weight);
  }

  // Combinations of T that predict S alike on every probe become one class.
  using Prediction = std::array<double, kProbes * 3>;
  constexpr double kAlike = 1e-13;
  const auto alike = [](const Prediction& a, const Prediction& b) {
    for (std::size_t i = 0; i < a.size(); ++i) {
      if (std::fabs(a[i] - b[i]) > kAlike) return false;
    }
    return true;
  };
  std::vector<Prediction> predictions;          // per class
  std::multimap<double, std::size_t> by_first;  // a class by its first prediction
  std::vector<double> merged;                   // per class, `cells` numbers
  bool fixed = true;
  std::vector<double> table(cells);
  for (std::size_t r = 0; r < joint.combination.size();) {
    const std::uint64_t t = joint.combination[r] / cells;
    std::fill(table.begin(), table.end(), 0.0);
    Prediction prediction{};
    for (; r < joint.combination.size() && joint.combination[r] / cells == t; ++r) {
      const std::size_t cell = joint.combination[r] % cells;
      table[cell] = joint.probability[r];
      for (std::size_t probe = 0; probe < kProbes; ++probe) {
        prediction[probe * 3 + cell / seen] += joint.probability[r] * weights[probe][cell % seen];
      }
    }
    for (std::size_t probe = 0; probe < kProbes; ++probe) {
      double* p = prediction.data() + probe * 3;
      const double total = p[0] + p[1] + p[2];
      for (std::size_t s = 0; s < 3; ++s) {
        p[s] /= total;
        if (std::fabs(p[s] - prediction[s]) > kAlike) fixed = false;
      }
    }
    auto at = by_first.lower_bound(prediction[0] - kAlike);
    const auto end = by_first.upper_bound(prediction[0] + kAlike);
    while (at != end && !alike(prediction, predictions[at->second])) ++at;
    if (at == end) {
      by_first.emplace(prediction[0], predictions.size());
      predictions.push_back(prediction);
      merged.insert(merged.end(), table.begin(), table.end());
    } else {
      double* into = merged.data() + at->second * cells;
      for (std::size_t i = 0; i < cells; ++i) into[i] += table[i];
    }
  }
  const auto& rows = model.program().rows(test_);
  if (!fixed) {
    if (merged.size() > kMaxTable) return;
    classes_ = predictions.size();
    table_ = std::move(merged);
    return;
  }
  weighted_entropy_.assign(seen, 0.0);
  total_.assign(seen, 0.0);
  for (std::size_t c = 0; c < predictions.size(); ++c) {
    const double* of_class = merged.data() + c * cells;
    const double h = mixed_entropy(rows, predictions[c].data(), 1.0);
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
  const std::size_t seen = power_of_3(evidence_.size());
  if (!weighted_entropy_.empty()) {
    double h = 0, total = 0;
    for (std::size_t i = 0; i < seen; ++i) {
      h += weighted_entropy_[i] * weight[i];
      total += total_[i] * weight[i];
    }
    return h / total;
  }
  const auto& rows = model.program().rows(test_);
  double h = 0, all = 0;
  const double* table = table_.data();
  for (std::size_t c = 0; c < classes_; ++c) {
    double p[3] = {0, 0, 0};
    for (double& sum : p) {
      for (std::size_t i = 0; i < seen; ++i) sum += table[i] * weight[i];
      table += seen;
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
  auto own = numbers.priors.begin();
  for (const ModeNodes& node : modes_) {
    while (own != numbers.priors.end() && own->mode < node.mode) ++own;
    if (own == numbers.priors.end()) break;
    if (own->mode == node.mode) {
      multiply_prior(model, *own, node.grade, node.conditions, propagation);
    }
  }
  propagation.collect();
  const std::vector<double> joint = propagation.root_joint(scope_);
  const auto& rows = model.program().rows(test_);
  double h = 0;
  for (std::size_t t = 0; t < combinations_; ++t) {
    const double* p = joint.data() + t * 3;
    const double total = p[0] + p[1] + p[2];
    if (total > 0) h += total * mixed_entropy(rows, p, total);
  }
  return h;
}

double Query::conditional_entropy(const Model& model, const CaseNumbers& numbers) const {
  return tree_ ? propagate(model, numbers) : weigh_table(model, numbers);
}

}  // namespace faultodds::diagnosis
