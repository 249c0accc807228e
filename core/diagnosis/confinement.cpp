#include "core/diagnosis/confinement.h"

#include <algorithm>
#include <cmath>

#include "core/error.h"

namespace faultodds::diagnosis {

Confinement::Confinement(const Model& model, const CaseNumbers& numbers,
                         std::span<const RepairItem> items, std::vector<Supposition> supposed)
    : model_(model),
      numbers_(numbers),
      items_(items),
      supposed_(std::move(supposed)),
      propagation_(model.program()),
      all_(items.size()) {
  for (std::size_t i = 0; i < items.size(); ++i) all_.add(i);
  of(all_);
  const Program& program = model.program();
  for (std::uint32_t m = 0; m < model.analysis().modes.size(); ++m) {
    const auto p = propagation_->posterior(program.mode(m));
    not_sound_.push_back(p[1] + p[2]);
  }
  for (const RepairItem& item : items) {
    double sum = 0;
    for (std::uint32_t m : item.modes) sum += not_sound_[m];
    at_most_faulty_.push_back(std::min(1.0, sum));
  }
}

const Confinement::Of& Confinement::of(const ItemSet& set) {
  const auto [at, is_new] = kept_.try_emplace(set);
  Of& result = at->second;
  if (!is_new) return result;
  const Program& program = model_.program();
  static constexpr Grades kSound{1, 0, 0};
  propagation_->clear();
  apply(model_, numbers_, *propagation_);
  for (const Supposition& s : supposed_) {
    propagation_->multiply(program.observation(s.observation), s.likelihood);
  }
  for (std::size_t i = 0; i < items_.size(); ++i) {
    if (set.has(i)) continue;
    for (std::uint32_t m : items_[i].modes) propagation_->multiply(program.mode(m), kSound);
  }
  const double log_evidence = propagation_->collect();
  const std::size_t observations = model_.analysis().observations.size();
  if (set == all_) {
    if (!std::isfinite(log_evidence)) {
      throw Error(Code::conflicting_evidence, "what is supposed of a test is impossible");
    }
    log_evidence_ = log_evidence;
  }
  result.grades.assign(observations, Grades{});
  if (!std::isfinite(log_evidence)) return result;
  result.probability = std::min(1.0, std::exp(log_evidence - log_evidence_));
  propagation_->distribute();
  for (std::uint32_t o = 0; o < observations; ++o) {
    const auto p = propagation_->posterior(program.observation(o));
    for (std::size_t s = 0; s < 3; ++s) result.grades[o][s] = result.probability * p[s];
  }
  return result;
}

}  // namespace faultodds::diagnosis
