#include "core/diagnosis/confinement.h"

#include <algorithm>
#include <cmath>

#include "core/error.h"

namespace faultodds::diagnosis {
namespace {

constexpr std::size_t kFewest = 3;  // sets from which it pays to propagate side by side

}  // namespace

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

template <std::size_t Lanes>
void Confinement::tell(const ItemSet& set, const Supposition* more,
                       network::LanePropagation<Lanes>& propagation, std::size_t lane) const {
  const Program& program = model_.program();
  static constexpr Grades kSound{1, 0, 0};
  apply(model_, numbers_, propagation, lane);
  for (const Supposition& s : supposed_) {
    propagation.multiply(program.observation(s.observation), s.likelihood, lane);
  }
  if (more) propagation.multiply(program.observation(more->observation), more->likelihood, lane);
  for (std::size_t i = 0; i < items_.size(); ++i) {
    if (set.has(i)) continue;
    for (std::uint32_t m : items_[i].modes) propagation.multiply(program.mode(m), kSound, lane);
  }
}

void Confinement::read(const network::Posterior& posterior, double probability,
                       std::vector<Grades>& grades) const {
  for (std::uint32_t o = 0; o < grades.size(); ++o) {
    const network::Var v = model_.program().observation(o);
    for (std::size_t s = 0; s < 3; ++s) grades[o][s] = probability * posterior(v, s);
  }
}

std::vector<Grades> Confinement::no_grades() const {
  return std::vector<Grades>(model_.analysis().observations.size(), Grades{});
}

// P(no item outside the set is faulty | e), left collected in propagation_ where it is not 0.
double Confinement::collect(const ItemSet& set) {
  propagation_->clear();
  tell(set, nullptr, *propagation_, 0);
  const double log_evidence = propagation_->collect();
  if (set == all_) {
    if (!std::isfinite(log_evidence)) {
      throw Error(Code::conflicting_evidence, "what is supposed of a test is impossible");
    }
    log_evidence_ = log_evidence;
  }
  return std::isfinite(log_evidence) ? std::min(1.0, std::exp(log_evidence - log_evidence_)) : 0;
}

double Confinement::probability(const ItemSet& set) {
  const auto [at, is_new] = kept_.try_emplace(set);
  if (is_new) at->second.probability = collect(set);
  return at->second.probability;
}

const Confinement::Of& Confinement::of(const ItemSet& set) {
  Of& result = kept_[set];
  if (!result.grades.empty()) return result;
  result.probability = collect(set);
  result.grades = no_grades();
  if (result.probability > 0) {
    propagation_->distribute();
    read(*propagation_, result.probability, result.grades);
  }
  return result;
}

void Confinement::prepare(std::span<const ItemSet> sets, bool grades) {
  std::vector<const ItemSet*> missing;
  for (const ItemSet& set : sets) {
    const auto kept = kept_.find(set);
    if (kept != kept_.end() && !(grades && kept->second.grades.empty())) continue;
    const auto same = [&](const ItemSet* other) { return *other == set; };
    if (std::none_of(missing.begin(), missing.end(), same)) missing.push_back(&set);
  }
  if (missing.size() < kFewest) return;
  Program::LaneLease lanes(model_.program());
  for (std::size_t first = 0; first < missing.size(); first += network::kLanes) {
    const std::size_t count = std::min(network::kLanes, missing.size() - first);
    lanes->clear();
    for (std::size_t l = 0; l < count; ++l) tell(*missing[first + l], nullptr, *lanes, l);
    lanes->collect_or_refuse();
    if (grades) lanes->distribute();
    for (std::size_t l = 0; l < count; ++l) {
      Of& result = kept_[*missing[first + l]];
      if (grades) result.grades = no_grades();
      if (!std::isfinite(lanes->log_evidence(l))) continue;
      result.probability = std::min(1.0, std::exp(lanes->log_evidence(l) - log_evidence_));
      if (grades) read({*lanes, l}, result.probability, result.grades);
    }
  }
}

std::vector<std::vector<Grades>> Confinement::with(std::span<const ItemSet> sets,
                                                   const Supposition& supposed) {
  std::vector<std::vector<Grades>> result(sets.size(), no_grades());
  Program::LaneLease lanes(model_.program());
  for (std::size_t first = 0; first < sets.size(); first += network::kLanes) {
    const std::size_t count = std::min(network::kLanes, sets.size() - first);
    lanes->clear();
    for (std::size_t l = 0; l < count; ++l) tell(sets[first + l], &supposed, *lanes, l);
    lanes->collect_or_refuse();
    lanes->distribute();
    for (std::size_t l = 0; l < count; ++l) {
      if (!std::isfinite(lanes->log_evidence(l))) continue;
      read({*lanes, l}, std::exp(lanes->log_evidence(l) - log_evidence_), result[first + l]);
    }
  }
  return result;
}

}  // namespace faultodds::diagnosis
