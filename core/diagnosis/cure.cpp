#include "core/diagnosis/cure.h"

#include <algorithm>
#include <cmath>
#include <numeric>
#include <set>

#include "core/circuit/kinds.h"
#include "core/diagnosis/after_repair.h"
#include "core/diagnosis/mode_states.h"
#include "core/error.h"

namespace faultodds::diagnosis {
namespace {

constexpr std::size_t kFewest = 3;  // sets from which it pays to propagate side by side

}  // namespace

double new_part_shows_nothing(const circuit::Analysis& analysis, const RepairItem& item,
                              std::span<const std::uint32_t> complaint) {
  double nothing = item.sound_when_new;
  SetLinks links(analysis);
  for (const std::uint32_t o : complaint) {
    for (const circuit::ModeSet& set : analysis.observations[o].sets) {
      const circuit::SetLink& link = links.of(set);
      const std::size_t levels = link.weight.size();
      double shows = 0;
      bool touched = false;
      for (std::size_t l = 0; l < levels; ++l) {
        double at_level = link.weight[l];
        for (std::size_t i = 0; i < set.modes.size(); ++i) {
          const circuit::FailureMode& mode = analysis.modes[set.modes[i]];
          if (mode.component_index != item.component) continue;
          touched = true;
          const auto states = states_of(mode);
          const double* exceeds = link.exceeds[i].data() + 2 * l * states.size();
          double sound = 0, all = 0;
          for (std::size_t k = 0; k < states.size(); ++k) {
            if (states[k].grade != 0) continue;
            sound += states[k].share * exceeds[k];
            all += states[k].share;
          }
          at_level *= sound / all;
        }
        shows += at_level;
      }
      if (touched) nothing *= 1 - shows;
    }
  }
  return nothing;
}

Cure::Cure(const Model& model, const CaseNumbers& numbers, std::span<const RepairItem> items,
           std::vector<std::uint32_t> complaint)
    : Cure(model, numbers, items, std::move(complaint), {}, nullptr) {}

Cure::Cure(const Cure& other, std::vector<Supposition> supposed)
    : Cure(other.model_, other.numbers_, other.items_, other.complaint_, std::move(supposed),
           other.sums_) {}

Cure::Cure(const Model& model, const CaseNumbers& numbers, std::span<const RepairItem> items,
           std::vector<std::uint32_t> complaint, std::vector<Supposition> supposed,
           std::shared_ptr<const CureSums> sums)
    : model_(model),
      numbers_(numbers),
      items_(items),
      complaint_(std::move(complaint)),
      supposed_(std::move(supposed)),
      sums_(std::move(sums)) {
  const circuit::Analysis& analysis = model.analysis();
  const Program& program = model.program();
  if (program.has_tree()) {
    propagation_.emplace(program);
  } else if (!sums_) {
    std::set<std::uint32_t> asked;
    for (const RepairItem& item : items) {
      for (const std::uint32_t m : item.modes) {
        for (const std::uint32_t o : program.observations_of_mode()[m]) {
          const circuit::Observation& one = analysis.observations[o];
          if (!one.withheld && !circuit::is_reported(one)) asked.insert(o);
        }
      }
    }
    const std::vector<std::uint32_t> list(asked.begin(), asked.end());
    sums_ = std::make_shared<const CureSums>(model, numbers, complaint_, list);
  }
  if (sums_) error_ = sums_->hypotheses().estimated_error();
  for (const std::uint32_t o : complaint_) {
    const auto& sets = analysis.observations[o].sets;
    for (std::size_t j = 0; j < sets.size(); ++j) {
      if (propagation_) shown_.push_back(program.part(o, j));
      auto& in = items_in_.emplace_back();
      for (std::uint32_t i = 0; i < items.size(); ++i) {
        if (std::any_of(sets[j].modes.begin(), sets[j].modes.end(), [&](std::uint32_t m) {
              return analysis.modes[m].component_index == items[i].component;
            })) {
          in.push_back(i);
        }
      }
    }
  }
  if (sums_ && supposed_.empty()) shares_.emplace(*sums_, items_in_);
  weigh_items();
}

void Cure::weigh_items() {
  const circuit::Analysis& analysis = model_.analysis();
  of(whatever());
  at_most_cured_.assign(items_.size(), 0);
  at_most_shared_.assign(items_.size(), 0);
  if (sums_) {
    for (std::uint32_t m = 0; m < analysis.modes.size(); ++m) {
      not_sound_.push_back(sums_->not_sound(m));
    }
    for (std::size_t i = 0; i < items_.size(); ++i) {
      std::vector<bool> chosen, shared;
      for (const auto& in : items_in_) {
        chosen.push_back(std::find(in.begin(), in.end(), i) != in.end());
        shared.push_back(chosen.back() && in.size() > 1);
      }
      at_most_cured_[i] = sums_->shows(chosen);
      const bool any = std::find(shared.begin(), shared.end(), true) != shared.end();
      at_most_shared_[i] = any ? sums_->shows(shared) : 0;
    }
  } else {
    for (std::uint32_t m = 0; m < analysis.modes.size(); ++m) {
      const auto p = (*propagation_)->posterior(model_.program().mode(m));
      not_sound_.push_back(p[1] + p[2]);
    }
    for (std::size_t k = 0; k < shown_.size(); ++k) {
      const auto p = (*propagation_)->posterior(shown_[k]);
      for (const std::uint32_t i : items_in_[k]) {
        at_most_cured_[i] += p[1] + p[2];
        if (items_in_[k].size() > 1) at_most_shared_[i] += p[1] + p[2];
      }
    }
  }
  for (std::size_t i = 0; i < items_.size(); ++i) {
    at_most_cured_[i] = std::min(1.0, at_most_cured_[i]);
    new_part_.push_back(new_part_shows_nothing(analysis, items_[i], complaint_));
  }
}

double Cure::at_most_either() const {
  // A set that n items are in is counted by each.
  const double all = std::accumulate(at_most_shared_.begin(), at_most_shared_.end(), 0.0);
  return std::min(1.0, all);
}

std::vector<bool> Cure::left_by(const ItemSet& set) const {
  std::vector<bool> left;
  for (const auto& in : items_in_) {
    left.push_back(std::none_of(in.begin(), in.end(), [&](std::uint32_t i) { return set.has(i); }));
  }
  return left;
}

ItemSet Cure::all() const {
  ItemSet set(items_.size());
  for (std::size_t i = 0; i < items_.size(); ++i) set.add(i);
  return set;
}

double Cure::new_parts(const ItemSet& set) const {
  double p = 1;
  for (const std::uint32_t i : set.members()) p *= new_part_[i];
  return p;
}

template <std::size_t Lanes>
void Cure::tell(const ItemSet& set, std::span<const Supposition> more,
                network::LanePropagation<Lanes>& propagation, std::size_t lane) const {
  const Program& program = model_.program();
  apply(model_, numbers_, propagation, lane);
  for (const std::span<const Supposition> list : {std::span<const Supposition>(supposed_), more}) {
    for (const Supposition& s : list) {
      propagation.multiply(program.observation(s.observation), s.likelihood, lane);
    }
  }
  if (set == whatever()) return;
  static constexpr Grades kNothing{1, 0, 0};
  const std::vector<bool> left = left_by(set);
  for (std::size_t k = 0; k < shown_.size(); ++k) {
    if (left[k]) propagation.multiply(shown_[k], kNothing, lane);
  }
  for (const std::uint32_t o : complaint_) {
    propagation.multiply(
        program.observation(o),
        without_background(model_.analysis().observations[o], seen_of(numbers_, o)), lane);
  }
}

void Cure::read(const network::Posterior& posterior, double probability, std::uint32_t observation,
                std::vector<Grades>& grades) const {
  const network::Var v = model_.program().observation(observation);
  for (std::size_t s = 0; s < 3; ++s) grades[observation][s] = probability * posterior(v, s);
}

void Cure::read(const network::Posterior& posterior, double probability,
                std::vector<Grades>& grades) const {
  for (std::uint32_t o = 0; o < grades.size(); ++o) read(posterior, probability, o, grades);
}

std::vector<Grades> Cure::no_grades() const {
  return std::vector<Grades>(model_.analysis().observations.size(), Grades{});
}

// P(cured by the set | e), left collected in propagation_ where it is not 0.
double Cure::collect(const ItemSet& set) {
  (*propagation_)->clear();
  tell(set, {}, **propagation_, 0);
  const double log_evidence = (*propagation_)->collect();
  if (set == whatever()) {
    if (!std::isfinite(log_evidence)) {
      throw Error(Code::conflicting_evidence, "what is supposed of a test is impossible");
    }
    log_evidence_ = log_evidence;
  }
  return std::isfinite(log_evidence) ? std::min(1.0, std::exp(log_evidence - log_evidence_)) : 0;
}

Cure::Of Cure::summed(const ItemSet& set, bool grades) const {
  const std::vector<bool> left = set == whatever() ? std::vector<bool>{} : left_by(set);
  Of of = sums_->sum(set == whatever() ? nullptr : &left, supposed_, grades);
  const double scale = std::exp(-log_evidence_);
  of.probability = std::min(1.0, of.probability * scale);
  for (Grades& g : of.grades) {
    for (double& p : g) p *= scale;
  }
  return of;
}

double Cure::probability(const ItemSet& set) {
  if (shares_ && set != whatever()) {
    return std::min(1.0, shares_->probability(set) * std::exp(-log_evidence_));
  }
  const auto [at, is_new] = kept_.try_emplace(set);
  if (is_new) at->second.probability = sums_ ? summed(set, false).probability : collect(set);
  return at->second.probability;
}

double Cure::weighed(const ItemSet& set, std::uint32_t observation, const Grades& weight) {
  if (shares_ && set != whatever()) {
    return shares_->weighed(set, observation, weight) * std::exp(-log_evidence_);
  }
  const Grades& g = of(set).grades[observation];
  return g[0] * weight[0] + g[1] * weight[1] + g[2] * weight[2];
}

const Cure::Of& Cure::of(const ItemSet& set) {
  Of& result = kept_[set];
  if (!result.grades.empty()) return result;
  if (sums_) {
    if (set == whatever()) {
      const double all = sums_->sum(nullptr, supposed_, false).probability;
      if (!(all > 0)) {
        throw Error(Code::conflicting_evidence, "what is supposed of a test is impossible");
      }
      log_evidence_ = std::log(all);
    }
    result = summed(set, true);
    return result;
  }
  result.probability = collect(set);
  result.grades = no_grades();
  if (result.probability > 0) {
    (*propagation_)->distribute();
    read(**propagation_, result.probability, result.grades);
  }
  return result;
}

void Cure::prepare(std::span<const ItemSet> sets, bool grades) {
  if (sums_) return;
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
    for (std::size_t l = 0; l < count; ++l) tell(*missing[first + l], {}, *lanes, l);
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

std::array<Cure::BySet, 3> Cure::by_grade(std::span<const ItemSet> sets, std::uint32_t observation,
                                          std::span<const std::uint32_t> asked) {
  static constexpr Grades kOnly[3] = {{1, 0, 0}, {0, 1, 0}, {0, 0, 1}};
  std::array<BySet, 3> result;
  if (shares_ && !sums_->complained(observation)) {
    std::vector<ItemSet> repaired;
    for (const ItemSet& set : sets) {
      if (set != whatever()) repaired.push_back(set);
    }
    std::vector<BySet> of_repaired = shares_->with(repaired, observation, kOnly, asked);
    const double scale = std::exp(-log_evidence_);
    for (std::size_t s = 0; s < 3; ++s) {
      auto next = of_repaired[s].begin();
      const std::vector<Supposition> supposed{{observation, kOnly[s]}};
      for (const ItemSet& set : sets) {
        result[s].push_back(set == whatever() ? sums_->sum(nullptr, supposed, true).grades
                                              : std::move(*next++));
        for (Grades& g : result[s].back()) {
          for (double& p : g) p *= scale;
        }
      }
    }
    return result;
  }
  // Where a tree answers, of the first grade what is left of that without the observation.
  for (std::size_t s = propagation_ ? 1 : 0; s < 3; ++s) {
    result[s] = with(sets, std::vector<Supposition>{{observation, kOnly[s]}}, asked);
  }
  if (!propagation_) return result;
  prepare(sets, true);
  for (std::size_t r = 0; r < sets.size(); ++r) {
    std::vector<Grades>& left = result[0].emplace_back(of(sets[r]).grades);
    for (const std::uint32_t o : asked) {
      for (std::size_t t = 0; t < 3; ++t) {
        left[o][t] = std::max(0.0, left[o][t] - result[1][r][o][t] - result[2][r][o][t]);
      }
    }
  }
  return result;
}

Cure::BySet Cure::with(std::span<const ItemSet> sets, std::span<const Supposition> supposed,
                       std::span<const std::uint32_t> asked) {
  BySet result(sets.size(), no_grades());
  if (sums_) {
    std::vector<Supposition> all = supposed_;
    all.insert(all.end(), supposed.begin(), supposed.end());
    for (std::size_t i = 0; i < sets.size(); ++i) {
      const std::vector<bool> left = sets[i] == whatever() ? std::vector<bool>{} : left_by(sets[i]);
      result[i] = sums_->sum(sets[i] == whatever() ? nullptr : &left, all, true).grades;
      for (Grades& g : result[i]) {
        for (double& p : g) p *= std::exp(-log_evidence_);
      }
    }
    return result;
  }
  Program::LaneLease lanes(model_.program());
  for (std::size_t first = 0; first < sets.size(); first += network::kLanes) {
    const std::size_t count = std::min(network::kLanes, sets.size() - first);
    lanes->clear();
    for (std::size_t l = 0; l < count; ++l) tell(sets[first + l], supposed, *lanes, l);
    lanes->collect_or_refuse();
    lanes->distribute();
    for (std::size_t l = 0; l < count; ++l) {
      if (!std::isfinite(lanes->log_evidence(l))) continue;
      const double probability = std::exp(lanes->log_evidence(l) - log_evidence_);
      for (const std::uint32_t o : asked) read({*lanes, l}, probability, o, result[first + l]);
    }
  }
  return result;
}

std::vector<CureSums::After> Cure::after(const ItemSet& set,
                                         const std::vector<std::uint32_t>& tests) {
  std::vector<std::uint32_t> repaired;
  for (const std::uint32_t i : set.members()) repaired.push_back(items_[i].component);
  if (!sums_) {
    return AfterRepair::of(model_, numbers_, repaired, complaint_, tests)
        ->predict(model_, numbers_);
  }
  const circuit::Analysis& analysis = model_.analysis();
  const std::vector<bool> left = left_by(set);
  std::vector<CureSums::After> out;
  for (const std::uint32_t o : tests) {
    std::vector<bool> renewed;
    for (const circuit::ModeSet& of : analysis.observations[o].sets) {
      renewed.push_back(std::any_of(of.modes.begin(), of.modes.end(), [&](std::uint32_t m) {
        const auto c = static_cast<std::uint32_t>(analysis.modes[m].component_index);
        return std::find(repaired.begin(), repaired.end(), c) != repaired.end();
      }));
    }
    out.push_back(sums_->after(o, renewed, left));
  }
  return out;
}

double Cure::all_sound(std::span<const std::uint32_t> modes) {
  if (sums_) return sums_->all_sound(modes);
  Program::Lease sound(model_.program());
  apply(model_, numbers_, *sound);
  const double known = sound->collect();
  static constexpr Grades kSound{1, 0, 0};
  for (const std::uint32_t m : modes) sound->multiply(model_.program().mode(m), kSound);
  return std::clamp(std::exp(sound->collect() - known), 0.0, 1.0);
}

}  // namespace faultodds::diagnosis
