#include "core/diagnosis/query.h"

#include <algorithm>

#include "core/diagnosis/entropy.h"
#include "core/diagnosis/program.h"
#include "core/error.h"

namespace faultodds::diagnosis {

using network::Var;

namespace {

constexpr std::size_t kMaxCombinations = std::size_t{1} << 20;  // of T
constexpr std::size_t kMaxBytes = std::size_t{256} << 20;       // of the query's tables

}  // namespace

void QueryTargets::append_key(std::vector<std::uint32_t>& key) const {
  auto append = [&](const std::vector<std::uint32_t>& list) {
    key.push_back(static_cast<std::uint32_t>(list.size()));
    key.insert(key.end(), list.begin(), list.end());
  };
  key.push_back(static_cast<std::uint32_t>(groups.size()));
  for (const auto& group : groups) {
    key.push_back(static_cast<std::uint32_t>(group.size()));
    for (const auto& set : group) append(set);
  }
  key.push_back(static_cast<std::uint32_t>(sets.size()));
  for (const auto& set : sets) append(set);
  append(modes);
  append(not_sound);
  append(with_conditions ? conditions : std::vector<std::uint32_t>{});
}

Query::Query(const Model& model, const std::vector<std::uint32_t>& evidence,
             const QueryTargets& targets, std::uint32_t test)
    : test_(test) {
  const circuit::Analysis& analysis = model.analysis();
  const Program& program = model.program();
  NetworkBuilder builder(analysis, program.mode_conditions());
  std::vector<std::vector<Var>> lists;
  for (std::uint32_t o : evidence) lists.push_back(builder.parts(o));
  lists.push_back(builder.parts(test));
  for (const auto& group : targets.groups) {
    std::vector<Var> list;
    for (const auto& set : group) list.push_back(builder.set_grade(set));
    lists.push_back(std::move(list));
  }
  const std::vector<Var> max = builder.shared_max(std::move(lists));
  evidence_.assign(max.begin(), max.begin() + static_cast<std::ptrdiff_t>(evidence.size()));
  const Var s = max[evidence.size()];
  for (std::size_t i = evidence.size() + 1; i < max.size(); ++i) scope_.push_back(max[i]);
  for (const auto& set : targets.sets) scope_.push_back(builder.set_grade(set));
  for (std::uint32_t m : targets.modes) scope_.push_back(builder.mode(m));
  for (std::uint32_t m : targets.not_sound) scope_.push_back(builder.not_sound(m));
  if (targets.with_conditions) {
    for (std::uint32_t c : targets.conditions) scope_.push_back(builder.condition(c));
  }
  std::sort(scope_.begin(), scope_.end());
  scope_.erase(std::unique(scope_.begin(), scope_.end()), scope_.end());
  for (Var v : scope_) {
    combinations_ *= builder.network().states(v);
    if (combinations_ > kMaxCombinations) {
      throw Error(Code::limit_exceeded, "the joint of the complaint is too large to enumerate");
    }
  }
  // S may itself be one of the targets; root_joint reads a variable twice without harm.
  scope_.push_back(s);

  std::vector<const network::Factor*> factors;
  for (Var v = 0; v < builder.network().size(); ++v) factors.push_back(&builder.network().table(v));
  std::vector<Var> root = scope_;
  std::sort(root.begin(), root.end());
  root.erase(std::unique(root.begin(), root.end()), root.end());
  tree_ = std::make_unique<network::JunctionTree>(builder.network().all_states(), factors, root,
                                                  network::TreeOptions{kMaxBytes});

  if (std::any_of(model.wear_out().begin(), model.wear_out().end(),
                  [](const auto& w) { return w.has_value(); })) {
    modes_.resize(analysis.modes.size());
    for (std::uint32_t m = 0; m < analysis.modes.size(); ++m) {
      if (!builder.has_mode(m)) continue;
      modes_[m].present = true;
      modes_[m].grade = builder.mode(m);
      if (const auto by = builder.conditions_of(m)) {
        modes_[m].conditioned = true;
        modes_[m].conditions = *by;
      }
    }
  }
}

double Query::conditional_entropy(const Model& model, const CaseNumbers& numbers) const {
  network::Propagation propagation(*tree_);
  for (std::size_t i = 0; i < evidence_.size(); ++i) {
    propagation.multiply(evidence_[i], numbers.observed[i].likelihood);
  }
  for (const OwnPrior& own : numbers.priors) {
    const PriorNode& node = modes_[own.mode];
    if (!node.present) continue;
    multiply_prior(model, own, node.grade,
                   node.conditioned ? std::optional(node.conditions) : std::nullopt, propagation);
  }
  propagation.collect();
  const std::vector<double> joint = propagation.root_joint(scope_);
  const auto& rows = model.program().rows(test_);
  std::vector<double> mixed(rows[0].size());
  double h = 0;
  for (std::size_t t = 0; t < combinations_; ++t) {
    const double* p = joint.data() + t * 3;
    const double total = p[0] + p[1] + p[2];
    if (!(total > 0)) continue;
    std::fill(mixed.begin(), mixed.end(), 0.0);
    for (std::size_t s = 0; s < 3; ++s) {
      for (std::size_t i = 0; i < mixed.size(); ++i) mixed[i] += p[s] / total * rows[s][i];
    }
    h += total * entropy_bits(mixed);
  }
  return h;
}

}  // namespace faultodds::diagnosis
