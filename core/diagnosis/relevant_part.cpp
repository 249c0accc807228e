#include "core/diagnosis/relevant_part.h"

#include <algorithm>

#include "core/diagnosis/program.h"

namespace faultodds::diagnosis {
namespace {

// Up to this share of all minimal sets the part is worth a network of its own.
constexpr double kWorthwhile = 0.6;
// That a tree is tried with: each more takes three times the table.
constexpr std::size_t kObservationsOfOneTree = 9;

// Whether the scratch space that a decision takes fits beside the tree: cases one by one, several
// at once, and as much again for what is supposed.
bool leaves_room(const Program& program) {
  const std::size_t scratch = network::Propagation::bytes(program.tree()) +
                              network::LanePropagation<network::kLanes>::bytes(program.tree());
  return program.account().used() + 2 * scratch <= program.account().budget();
}

std::shared_ptr<const Model> part_of(const Model& model, const std::vector<bool>& kept) {
  PlanCache<RelevantPart>::Key key;
  for (std::uint32_t o = 0; o < kept.size(); ++o) {
    if (kept[o]) key.push_back(o);
  }
  const auto part = model.program().relevant_parts().get(key, [&] {
    circuit::Analysis own = model.analysis();
    for (std::size_t o = 0; o < kept.size(); ++o) {
      if (!kept[o]) own.observations[o].sets.clear();
    }
    return std::make_shared<const RelevantPart>(
        RelevantPart{Model::compile(std::move(own), model.wear_out(), model.exact_prior(),
                                    Options{model.program().account().budget() / 2})});
  });
  return {part, &part->model};
}

}  // namespace

std::shared_ptr<const Model> relevant_part(const Model& model, const CaseNumbers& numbers,
                                           std::span<const RepairItem> items) {
  const circuit::Analysis& analysis = model.analysis();
  std::vector<bool> relevant(analysis.observations.size(), false);
  for (const ObservedGrade& seen : numbers.observed) relevant[seen.observation] = true;
  for (const RepairItem& item : items) {
    for (std::uint32_t m : item.modes) {
      for (std::uint32_t o : model.program().observations_of_mode()[m]) relevant[o] = true;
    }
  }
  std::size_t kept = 0, all = 0;
  for (std::uint32_t o = 0; o < relevant.size(); ++o) {
    all += analysis.observations[o].sets.size();
    if (!relevant[o]) continue;
    kept += analysis.observations[o].sets.size();
  }
  if (static_cast<double>(kept) > kWorthwhile * static_cast<double>(all)) return nullptr;
  return part_of(model, relevant);
}

std::shared_ptr<const Model> part_with_tree(const Model& model, const CaseNumbers& numbers,
                                            std::span<const std::uint32_t> tests) {
  std::vector<bool> kept(model.analysis().observations.size(), false);
  for (const ObservedGrade& seen : numbers.observed) kept[seen.observation] = true;
  const std::size_t seen = numbers.observed.size();
  std::size_t most =
      std::min(tests.size(), kObservationsOfOneTree - std::min(seen, kObservationsOfOneTree));
  for (;; most /= 2) {
    std::vector<bool> of_part = kept;
    for (const std::uint32_t o : tests.first(most)) of_part[o] = true;
    std::shared_ptr<const Model> part = part_of(model, of_part);
    if (part->program().has_tree() && leaves_room(part->program())) return part;
    if (most == 0) return nullptr;
  }
}

std::size_t RelevantPart::bytes() const {
  // The analysis is a copy: texts and sets, about.
  const circuit::Analysis& analysis = model.analysis();
  return model.program().account().used() + sizeof(circuit::Analysis) +
         analysis.observations.size() * 1500 + analysis.modes.size() * 400;
}

}  // namespace faultodds::diagnosis
