#include "core/diagnosis/after_repair.h"

#include <algorithm>
#include <cmath>
#include <initializer_list>

namespace faultodds::diagnosis {

using network::Var;

AfterRepair::AfterRepair(const Model& model, std::vector<std::uint32_t> repaired,
                         std::vector<std::uint32_t> left, std::vector<std::uint32_t> tests,
                         std::vector<std::uint32_t> observed)
    : observed_(std::move(observed)) {
  const circuit::Analysis& analysis = model.analysis();
  NetworkBuilder builder(analysis, model.program().mode_conditions());
  std::sort(repaired.begin(), repaired.end());
  const auto is_new = [&](std::uint32_t m) {
    return std::binary_search(repaired.begin(), repaired.end(),
                              static_cast<std::uint32_t>(analysis.modes[m].component_index));
  };
  std::vector<std::vector<Var>> lists;
  for (std::uint32_t o : observed_) lists.push_back(builder.parts(o));
  for (std::uint32_t o : tests) {
    std::vector<Var> list;
    for (const auto& set : analysis.observations[o].sets) {
      // A set with a sound mode in it shows nothing.
      if (std::any_of(set.modes.begin(), set.modes.end(), is_new)) continue;
      list.push_back(builder.effective(set));
    }
    lists.push_back(std::move(list));
  }
  const std::vector<Var> max = builder.shared_max(std::move(lists));
  const auto middle = max.begin() + static_cast<std::ptrdiff_t>(observed_.size());
  evidence_nodes_.assign(max.begin(), middle);
  test_nodes_.assign(middle, max.end());
  for (std::uint32_t m : left) left_nodes_.push_back(builder.mode(m));
  tree_ = std::make_unique<network::JunctionTree>(network::JunctionTree::of(
      builder.network(), builder.options_to_ask(max, model.program().account().budget() / 4)));
  modes_ = prior_nodes(model, builder);
}

std::size_t AfterRepair::bytes() const {
  return sizeof *this + tree_->bytes() + modes_.size() * sizeof(PriorNode) +
         (observed_.size() + evidence_nodes_.size() + test_nodes_.size() + left_nodes_.size()) *
             sizeof(Var);
}

std::shared_ptr<const AfterRepair> AfterRepair::of(const Model& model, const CaseNumbers& numbers,
                                                   const std::vector<std::uint32_t>& repaired,
                                                   const std::vector<std::uint32_t>& left,
                                                   const std::vector<std::uint32_t>& tests) {
  constexpr auto kEnd = static_cast<std::uint32_t>(-1);
  std::vector<std::uint32_t> observed, key;
  for (const ObservedGrade& seen : numbers.observed) observed.push_back(seen.observation);
  for (const std::vector<std::uint32_t>* list :
       std::initializer_list<const std::vector<std::uint32_t>*>{&observed, &repaired, &left,
                                                                &tests}) {
    key.insert(key.end(), list->begin(), list->end());
    key.push_back(kEnd);
  }
  return model.program().after_repairs().get(key, [&] {
    return std::make_shared<const AfterRepair>(model, repaired, left, tests, observed);
  });
}

std::vector<AfterRepair::Prediction> AfterRepair::predict(const Model& model,
                                                          const CaseNumbers& numbers) const {
  network::Propagation propagation(*tree_);
  for (std::size_t i = 0; i < evidence_nodes_.size(); ++i) {
    propagation.multiply(evidence_nodes_[i], numbers.observed[i].likelihood);
  }
  apply_priors(model, numbers, modes_, propagation);
  std::vector<Prediction> result(test_nodes_.size());
  const auto read = [&](Grades Prediction::*into, double scale) {
    propagation.distribute();
    for (std::size_t i = 0; i < test_nodes_.size(); ++i) {
      const auto p = propagation.posterior(test_nodes_[i]);
      for (std::size_t s = 0; s < 3; ++s) (result[i].*into)[s] = scale * p[s];
    }
  };
  const double log_evidence = propagation.collect();
  read(&Prediction::grades, 1);
  static constexpr Grades kSound{1, 0, 0};
  for (Var v : left_nodes_) propagation.multiply(v, kSound);
  const double with_all_sound = propagation.collect();
  if (std::isfinite(with_all_sound)) {
    read(&Prediction::none_left, std::min(1.0, std::exp(with_all_sound - log_evidence)));
  }
  return result;
}

}  // namespace faultodds::diagnosis
