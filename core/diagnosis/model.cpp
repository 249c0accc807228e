#include "core/diagnosis/model.h"

#include <algorithm>
#include <map>
#include <utility>

#include "core/diagnosis/program.h"
#include "core/diagnosis/sizes.h"
#include "core/error.h"
#include "core/stop.h"

namespace faultodds::diagnosis {
namespace {

// The most specific entries of a pack for each mode of a type, that with grades and that with
// wear-out: one for the asset class before one for every class, and of several the first. A class
// whose entry has no wear-out keeps that of every class.
class PriorsOfPack {
 public:
  PriorsOfPack(const Pack& pack, const std::string& asset_class) {
    for (const PackPrior& entry : pack.priors) {
      if (!entry.asset_class.empty() && entry.asset_class != asset_class) continue;
      Entries& of = by_mode_[{entry.type, entry.mode}];
      if (entry.grades) take(entry, of.grades);
      if (entry.wear_out) take(entry, of.wear_out);
    }
  }
  struct Entries {
    const PackPrior* grades = nullptr;
    const PackPrior* wear_out = nullptr;
  };
  Entries find(const circuit::FailureMode& mode) const {
    const auto found = by_mode_.find({mode.type, mode.name});
    return found == by_mode_.end() ? Entries{} : found->second;
  }

 private:
  static void take(const PackPrior& entry, const PackPrior*& best) {
    if (!best || (best->asset_class.empty() && !entry.asset_class.empty())) best = &entry;
  }
  std::map<std::pair<std::string_view, std::string_view>, Entries> by_mode_;
};

void replace_statistics(circuit::Observation& observation, const circuit::OutcomeModel& model) {
  if (!model.outcomes.empty() && model.outcomes != observation.outcomes) {
    throw Error(Code::invalid_priors, "the prior pack gives outcomes for '" + observation.id +
                                          "' that are not this observation's");
  }
  if (!model.matrix.empty()) {
    const bool fits = model.matrix.size() == 3 &&
                      std::all_of(model.matrix.begin(), model.matrix.end(), [&](const auto& row) {
                        return row.size() == observation.outcomes.size();
                      });
    if (!fits) {
      throw Error(Code::invalid_priors,
                  "the prior pack's matrix for '" + observation.id + "' is not 3 rows of " +
                      std::to_string(observation.outcomes.size()) + " numbers");
    }
    observation.matrix = model.matrix;
    observation.matrix_is_own = true;
  }
  if (model.background) observation.background = *model.background;
  if (model.leak_median) observation.leak_median = *model.leak_median;
  if (model.leak_sigma) observation.leak_sigma = *model.leak_sigma;
}

void apply_outcomes(circuit::Analysis& analysis, const Pack& pack) {
  std::map<circuit::ObservationKind, const PackOutcomes*> by_kind;  // the last of several counts
  std::unordered_map<std::string_view, const PackOutcomes*> by_id;
  for (const PackOutcomes& entry : pack.outcomes) {
    if (!entry.observation.empty()) {
      by_id[entry.observation] = &entry;
    } else if (entry.kind) {
      by_kind[*entry.kind] = &entry;
    }
  }
  if (pack.outcomes.empty()) return;
  for (circuit::Observation& observation : analysis.observations) {
    const auto kind = by_kind.find(observation.kind);
    const auto id = by_id.find(observation.id);
    if (kind != by_kind.end() && !observation.statistics_are_own) {
      replace_statistics(observation, kind->second->model);
    }
    if (id != by_id.end()) replace_statistics(observation, id->second->model);
  }
}

void apply_sizes(circuit::Analysis& analysis, const Pack& pack) {
  std::map<std::pair<std::string_view, std::string_view>, const circuit::ModeSize*> by_mode;
  for (const PackSize& entry : pack.sizes) by_mode[{entry.type, entry.mode}] = &entry.size;
  if (by_mode.empty()) return;
  for (circuit::FailureMode& mode : analysis.modes) {
    const auto entry = by_mode.find({mode.type, mode.name});
    if (entry == by_mode.end() || mode.size_is_own) continue;
    if (entry->second->law != mode.size.law) {
      throw Error(Code::invalid_priors, "the prior pack's sizes of '" + mode.type_mode +
                                            "' go by another law than the circuit's; expected "
                                            "the same `law`");
    }
    mode.size = *entry->second;
  }
}

}  // namespace

Model Model::compile(circuit::Analysis analysis, const Pack& pack, const std::string& asset_class,
                     const Options& options) {
  std::vector<std::optional<WearOut>> wear_out(analysis.modes.size());
  std::vector<std::optional<circuit::GradeDistribution>> exact_prior(analysis.modes.size());
  const PriorsOfPack priors(pack, asset_class);
  check_stop();
  for (std::size_t m = 0; m < analysis.modes.size(); ++m) {
    circuit::FailureMode& mode = analysis.modes[m];
    if (mode.prior_is_own) continue;
    const PriorsOfPack::Entries entries = priors.find(mode);
    if (entries.grades) mode.prior = *entries.grades->grades;
    if (entries.wear_out) {
      wear_out[m] = entries.wear_out->wear_out;
      // A case changes this prior by a ratio to it, so no grade may be impossible in it.
      constexpr double kLeast = 1e-12;
      if (*std::min_element(mode.prior.begin(), mode.prior.end()) < kLeast) {
        exact_prior[m] = mode.prior;
      }
      double total = 0;
      for (double& p : mode.prior) total += p = std::max(p, kLeast);
      for (double& p : mode.prior) p /= total;
    }
  }
  apply_outcomes(analysis, pack);
  apply_sizes(analysis, pack);
  size_up(analysis);
  return compile(std::move(analysis), std::move(wear_out), std::move(exact_prior), options);
}

Model Model::compile(circuit::Analysis analysis, std::vector<std::optional<WearOut>> wear_out,
                     std::vector<std::optional<circuit::GradeDistribution>> exact_prior,
                     const Options& options) {
  Model model;
  auto shared = std::make_shared<const circuit::Analysis>(std::move(analysis));
  model.analysis_ = shared;
  Indices indices;
  const auto add = [](const auto& list, Index& index) {
    index.reserve(list.size());
    for (const auto& one : list) index.emplace(one.id, static_cast<std::uint32_t>(index.size()));
  };
  add(shared->observations, indices.observations);
  add(shared->modes, indices.modes);
  add(shared->setup_steps, indices.setup);
  add(shared->components, indices.components);
  model.indices_ = std::make_shared<const Indices>(std::move(indices));
  model.wear_out_ =
      std::make_shared<const std::vector<std::optional<WearOut>>>(std::move(wear_out));
  model.exact_prior_ =
      std::make_shared<const std::vector<std::optional<circuit::GradeDistribution>>>(
          std::move(exact_prior));
  model.program_ = std::make_shared<const Program>(*shared, options);
  return model;
}

namespace {

std::optional<std::uint32_t> found_in(
    const std::unordered_map<std::string_view, std::uint32_t>& index, std::string_view id) {
  const auto at = index.find(id);
  if (at == index.end()) return std::nullopt;
  return at->second;
}

}  // namespace

std::optional<std::uint32_t> Model::find_observation(std::string_view id) const {
  return found_in(indices_->observations, id);
}

std::optional<std::uint32_t> Model::find_mode(std::string_view id) const {
  return found_in(indices_->modes, id);
}

std::optional<std::uint32_t> Model::find_setup(std::string_view id) const {
  return found_in(indices_->setup, id);
}

std::optional<std::uint32_t> Model::find_component(std::string_view id) const {
  return found_in(indices_->components, id);
}

}  // namespace faultodds::diagnosis
