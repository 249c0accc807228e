#include "core/diagnosis/after_repair.h"

#include <algorithm>
#include <cmath>
#include <initializer_list>
#include <map>
#include <optional>

namespace faultodds::diagnosis {

using network::Var;

AfterRepair::AfterRepair(const Model& model, std::vector<std::uint32_t> repaired,
                         std::vector<std::uint32_t> complaint, std::vector<std::uint32_t> tests,
                         std::vector<std::uint32_t> observed)
    : observed_(std::move(observed)), complaint_(std::move(complaint)), tests_(std::move(tests)) {
  const circuit::Analysis& analysis = model.analysis();
  NetworkBuilder builder(analysis, model.program().mode_conditions());
  std::sort(repaired.begin(), repaired.end());
  const auto is_new = [&](std::uint32_t m) {
    return std::binary_search(repaired.begin(), repaired.end(),
                              static_cast<std::uint32_t>(analysis.modes[m].component_index));
  };
  // What a set shows is the same before and after the repair and in each repetition.
  std::map<std::uint32_t, std::vector<Var>> parts;
  const auto parts_of = [&](std::uint32_t o) -> const std::vector<Var>& {
    const auto known = parts.find(o);
    return known != parts.end() ? known->second : parts.emplace(o, builder.parts(o)).first->second;
  };
  // A set with a new part in it shows nothing.
  const auto left_of = [&](std::uint32_t o) {
    const auto& sets = analysis.observations[o].sets;
    const std::vector<Var>& all = parts_of(o);
    std::vector<Var> list;
    for (std::size_t j = 0; j < sets.size(); ++j) {
      if (std::none_of(sets[j].modes.begin(), sets[j].modes.end(), is_new)) list.push_back(all[j]);
    }
    return list;
  };
  std::vector<std::vector<Var>> lists;
  for (std::uint32_t o : observed_) lists.push_back(parts_of(o));
  for (std::uint32_t o : tests_) lists.push_back(left_of(o));
  for (std::uint32_t o : complaint_) {
    const std::vector<Var> left = left_of(o);
    left_nodes_.insert(left_nodes_.end(), left.begin(), left.end());
  }
  const std::vector<Var> max = builder.shared_max(std::move(lists));
  const auto middle = max.begin() + static_cast<std::ptrdiff_t>(observed_.size());
  evidence_nodes_.assign(max.begin(), middle);
  test_nodes_.assign(middle, max.end());
  std::vector<Var> told = max;
  told.insert(told.end(), left_nodes_.begin(), left_nodes_.end());
  tree_ = std::make_unique<network::JunctionTree>(network::JunctionTree::of(
      builder.network(), builder.options_to_ask(told, model.program().account().budget() / 4)));
  modes_ = prior_nodes(model, builder);
}

std::size_t AfterRepair::bytes() const {
  return sizeof *this + tree_->bytes() + modes_.size() * sizeof(PriorNode) +
         (observed_.size() + evidence_nodes_.size() + test_nodes_.size() + left_nodes_.size()) *
             sizeof(Var);
}

std::shared_ptr<const AfterRepair> AfterRepair::of(const Model& model, const CaseNumbers& numbers,
                                                   const std::vector<std::uint32_t>& repaired,
                                                   const std::vector<std::uint32_t>& complaint,
                                                   const std::vector<std::uint32_t>& tests) {
  constexpr auto kEnd = static_cast<std::uint32_t>(-1);
  std::vector<std::uint32_t> observed, key;
  for (const ObservedGrade& seen : numbers.observed) observed.push_back(seen.observation);
  for (const std::vector<std::uint32_t>* list :
       std::initializer_list<const std::vector<std::uint32_t>*>{&observed, &repaired, &complaint,
                                                                &tests}) {
    key.insert(key.end(), list->begin(), list->end());
    key.push_back(kEnd);
  }
  return model.program().after_repairs().get(key, [&] {
    return std::make_shared<const AfterRepair>(model, repaired, complaint, tests, observed);
  });
}

std::vector<AfterRepair::Prediction> AfterRepair::predict(const Model& model,
                                                          const CaseNumbers& numbers) const {
  const auto& observations = model.analysis().observations;
  network::Propagation propagation(*tree_);
  const auto place = [&](std::uint32_t o) {
    return static_cast<std::size_t>(std::find(observed_.begin(), observed_.end(), o) -
                                    observed_.begin());
  };
  // What is known, and where `cured` that nothing of the complaint is left.
  const auto begin = [&](bool cured) {
    propagation.clear();
    for (std::size_t i = 0; i < evidence_nodes_.size(); ++i) {
      propagation.multiply(evidence_nodes_[i], numbers.observed[i].likelihood);
    }
    apply_priors(model, numbers, modes_, propagation);
    if (!cured) return;
    static constexpr Grades kNothing{1, 0, 0};
    for (Var v : left_nodes_) propagation.multiply(v, kNothing);
    for (const std::uint32_t o : complaint_) {
      const std::size_t i = place(o);
      if (i == observed_.size()) continue;
      propagation.multiply(evidence_nodes_[i],
                           without_background(observations[o], &numbers.observed[i]));
    }
  };
  begin(false);
  const double log_evidence = propagation.collect();
  double unmodelled = 1;  // no background of a part of the complaint that was not observed
  for (const std::uint32_t o : complaint_) {
    if (place(o) == observed_.size()) unmodelled *= observations[o].background[0];
  }
  std::vector<Prediction> result(test_nodes_.size());
  // Propagates what is told so far; 0 where that is impossible.
  const auto propagate = [&](bool cured) {
    const double log_joint = propagation.collect();
    if (!std::isfinite(log_joint)) return 0.0;
    propagation.distribute();
    return std::min(1.0, std::exp(log_joint - log_evidence)) * (cured ? unmodelled : 1);
  };
  // Adds what that says of the i-th test, where the background is `b`, or not known.
  const auto add = [&](std::size_t i, bool cured, double scale, std::optional<std::size_t> b) {
    if (scale == 0) return;
    const auto posterior = propagation.posterior(test_nodes_[i]);
    Grades grades{posterior[0], posterior[1], posterior[2]};
    if (!b) grades = with_background(observations[tests_[i]], grades);
    Grades& into = cured ? result[i].cured : result[i].grades;
    for (std::size_t s = 0; s < 3; ++s) into[std::max(s, b.value_or(0))] += scale * grades[s];
  };
  for (const bool cured : {false, true}) {
    begin(cured);
    const double scale = propagate(cured);
    std::vector<std::size_t> again;  // tests whose background is known better than before
    for (std::size_t i = 0; i < tests_.size(); ++i) {
      const bool complaint =
          std::find(complaint_.begin(), complaint_.end(), tests_[i]) != complaint_.end();
      if (cured && complaint) {
        add(i, true, scale, 0);
      } else if (place(tests_[i]) == observed_.size()) {
        add(i, cured, scale, std::nullopt);
      } else {
        again.push_back(i);
      }
    }
    for (const std::size_t i : again) {
      const std::size_t seen = place(tests_[i]);
      const auto factor = by_background(observations[tests_[i]], numbers.observed[seen]);
      for (std::size_t b = 0; b < 3; ++b) {
        begin(cured);
        propagation.multiply(evidence_nodes_[seen], factor[b]);
        add(i, cured, propagate(cured), b);
      }
    }
  }
  return result;
}

}  // namespace faultodds::diagnosis
