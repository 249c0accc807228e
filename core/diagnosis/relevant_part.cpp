#include "core/diagnosis/relevant_part.h"

#include <algorithm>

#include "core/circuit/kinds.h"
#include "core/diagnosis/program.h"

namespace faultodds::diagnosis {
namespace {

// Up to this share of all minimal sets the part is worth a network of its own.
constexpr double kWorthwhile = 0.6;
// Bytes of its tree where the whole has none: many propagations over a larger one take longer than
// sums over hypotheses.
constexpr std::size_t kQuickTree = std::size_t{8} << 20;

std::shared_ptr<const Model> part_of(const Model& model, const std::vector<bool>& kept) {
  Options options{model.program().account().budget() / 2, &model.program(), true};
  if (!model.program().has_tree()) options.largest_tree = kQuickTree;
  PlanCache<RelevantPart>::Key key;
  for (std::uint32_t o = 0; o < kept.size(); ++o) {
    if (kept[o]) key.push_back(o);
  }
  const auto part = model.program().relevant_parts().get(key, [&] {
    circuit::Analysis own = model.analysis();
    for (std::size_t o = 0; o < kept.size(); ++o) {
      if (!kept[o]) own.observations[o].sets.clear();
    }
    return std::make_shared<const RelevantPart>(RelevantPart{
        Model::compile(std::move(own), model.wear_out(), model.exact_prior(), options)});
  });
  return {part, &part->model};
}

}  // namespace

std::shared_ptr<const Model> with_reports(const Model& model, const Case& the_case) {
  if (!model.program().has_tree() || model.program().has_reports()) return nullptr;
  const auto& observations = model.analysis().observations;
  std::vector<bool> kept(observations.size());
  for (std::size_t o = 0; o < kept.size(); ++o) kept[o] = !circuit::is_reported(observations[o]);
  bool told = false;
  for (const Evidence& one : the_case.evidence) {
    told = told || !kept[one.observation];
    kept[one.observation] = true;
  }
  return told ? part_of(model, kept) : nullptr;
}

std::shared_ptr<const Model> relevant_part(const Model& model, const CaseNumbers& numbers,
                                           std::span<const RepairItem> items) {
  const circuit::Analysis& analysis = model.analysis();
  std::vector<bool> relevant(analysis.observations.size(), false);
  for (const RepairItem& item : items) {
    for (std::uint32_t m : item.modes) {
      for (std::uint32_t o : model.program().observations_of_mode()[m]) {
        relevant[o] = !circuit::is_reported(analysis.observations[o]);
      }
    }
  }
  for (const ObservedGrade& seen : numbers.observed) relevant[seen.observation] = true;
  std::size_t kept = 0, all = 0;
  for (std::uint32_t o = 0; o < relevant.size(); ++o) {
    all += analysis.observations[o].sets.size();
    if (!relevant[o]) continue;
    kept += analysis.observations[o].sets.size();
  }
  if (static_cast<double>(kept) > kWorthwhile * static_cast<double>(all)) return nullptr;
  auto part = part_of(model, relevant);
  if (!model.program().has_tree() && !part->program().has_tree()) return nullptr;
  return part;
}

std::size_t RelevantPart::bytes() const {
  // The analysis is a copy: texts and sets, about. What its program takes counts as it is taken.
  const circuit::Analysis& analysis = model.analysis();
  return sizeof(circuit::Analysis) + analysis.observations.size() * 1500 +
         analysis.modes.size() * 400;
}

}  // namespace faultodds::diagnosis
