#include "core/diagnosis/model.h"

#include <algorithm>

#include "core/diagnosis/program.h"
#include "core/error.h"

namespace faultodds::diagnosis {
namespace {

// The most specific entry of a pack: one for the asset class before one for every class.
const PackPrior* find_prior(const Pack& pack, const circuit::FailureMode& mode,
                            const std::string& asset_class) {
  const PackPrior* best = nullptr;
  for (const PackPrior& entry : pack.priors) {
    if (entry.type != mode.type || entry.mode != mode.name) continue;
    if (!entry.asset_class.empty() && entry.asset_class != asset_class) continue;
    if (!best || (best->asset_class.empty() && !entry.asset_class.empty())) best = &entry;
  }
  return best;
}

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
  }
  if (model.background) observation.background = *model.background;
  if (model.leak_median) observation.leak_median = *model.leak_median;
  if (model.leak_sigma) observation.leak_sigma = *model.leak_sigma;
}

void apply_outcomes(circuit::Analysis& analysis, const Pack& pack) {
  for (circuit::Observation& observation : analysis.observations) {
    const PackOutcomes* by_kind = nullptr;
    const PackOutcomes* by_id = nullptr;
    for (const PackOutcomes& entry : pack.outcomes) {
      if (entry.observation == observation.id) by_id = &entry;
      if (entry.observation.empty() && entry.kind == observation.kind) by_kind = &entry;
    }
    if (by_kind && !observation.statistics_are_own) replace_statistics(observation, by_kind->model);
    if (by_id) replace_statistics(observation, by_id->model);
  }
}

}  // namespace

Model Model::compile(circuit::Analysis analysis, const Pack& pack, const std::string& asset_class,
                     const Options& options) {
  std::vector<std::optional<WearOut>> wear_out(analysis.modes.size());
  std::vector<std::optional<circuit::GradeDistribution>> exact_prior(analysis.modes.size());
  for (std::size_t m = 0; m < analysis.modes.size(); ++m) {
    circuit::FailureMode& mode = analysis.modes[m];
    if (mode.prior_is_own) continue;
    const PackPrior* entry = find_prior(pack, mode, asset_class);
    if (!entry) continue;
    if (entry->grades) mode.prior = *entry->grades;
    if (entry->wear_out) {
      wear_out[m] = entry->wear_out;
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
  return compile(std::move(analysis), std::move(wear_out), std::move(exact_prior), options);
}

Model Model::compile(circuit::Analysis analysis, std::vector<std::optional<WearOut>> wear_out,
                     std::vector<std::optional<circuit::GradeDistribution>> exact_prior,
                     const Options& options) {
  Model model;
  auto shared = std::make_shared<const circuit::Analysis>(std::move(analysis));
  model.analysis_ = shared;
  model.wear_out_ =
      std::make_shared<const std::vector<std::optional<WearOut>>>(std::move(wear_out));
  model.exact_prior_ =
      std::make_shared<const std::vector<std::optional<circuit::GradeDistribution>>>(
          std::move(exact_prior));
  model.program_ = std::make_shared<const Program>(*shared, options);
  return model;
}

std::optional<std::uint32_t> Model::find_observation(const std::string& id) const {
  const auto& list = analysis_->observations;
  const auto at = std::find_if(list.begin(), list.end(), [&](const auto& o) { return o.id == id; });
  if (at == list.end()) return std::nullopt;
  return static_cast<std::uint32_t>(at - list.begin());
}

std::optional<std::uint32_t> Model::find_mode(const std::string& id) const {
  const auto& list = analysis_->modes;
  const auto at = std::find_if(list.begin(), list.end(), [&](const auto& m) { return m.id == id; });
  if (at == list.end()) return std::nullopt;
  return static_cast<std::uint32_t>(at - list.begin());
}

std::optional<std::uint32_t> Model::find_setup(const std::string& id) const {
  const auto& list = analysis_->setup_steps;
  const auto at = std::find_if(list.begin(), list.end(), [&](const auto& s) { return s.id == id; });
  if (at == list.end()) return std::nullopt;
  return static_cast<std::uint32_t>(at - list.begin());
}

}  // namespace faultodds::diagnosis
