#include "core/diagnosis/advice.h"

#include <algorithm>
#include <memory>

#include "core/diagnosis/adviser.h"
#include "core/diagnosis/program.h"
#include "core/diagnosis/relevant_part.h"
#include "core/error.h"
#include "core/number_text.h"

namespace faultodds::diagnosis {
namespace {

// A part that is new in the case is not ordered again before a test of it, made since, was
// abnormal. The complaint alone says nothing of which part it is.
void hold_back_untested(const circuit::Analysis& analysis, const Present& present,
                        const CaseNumbers& numbers, std::span<const PartBefore> replaced,
                        std::vector<RepairItem>& items) {
  for (RepairItem& item : items) {
    if (std::none_of(replaced.begin(), replaced.end(), [&](const PartBefore& before) {
          return before.component == item.component;
        })) {
      continue;
    }
    item.may_be_ordered = std::any_of(
        numbers.observed.begin(), numbers.observed.end(), [&](const ObservedGrade& seen) {
          const Grades& l = seen.likelihood;
          const circuit::Observation& of = analysis.observations[seen.observation];
          if (seen.observation >= present.observations || of.symptom) return false;
          if (!(std::max(l[1], l[2]) > l[0])) return false;
          return std::any_of(of.sets.begin(), of.sets.end(), [&](const circuit::ModeSet& set) {
            return std::any_of(set.modes.begin(), set.modes.end(), [&](std::uint32_t m) {
              return analysis.modes[m].component_index == item.component;
            });
          });
        });
  }
}

// `replaced`: parts taken out in the course of the case.
std::optional<Advice> advise_on(const Model& model, const Case& the_case, const Present& present,
                                std::span<const PartBefore> replaced, bool all = true) {
  if (const auto told = with_reports(model, the_case)) {
    return advise_on(*told, the_case, present, replaced, all);
  }
  const CaseNumbers numbers = read_case(model, the_case);
  std::vector<RepairItem> items = repair_items(model.analysis(), numbers, the_case, present);
  if (items.empty()) return std::nullopt;
  hold_back_untested(model.analysis(), present, numbers, replaced, items);
  const std::shared_ptr<const Model> part = relevant_part(model, numbers, items);
  return Adviser(part ? *part : model, the_case, numbers, present, items).advise(replaced, all);
}

}  // namespace

std::optional<Advice> advise(const Model& model, const Case& the_case) {
  if (the_case.repairs.empty()) return advise_on(model, the_case, present_of(model), {});
  const Extended extended = extend(model, the_case);
  const RenewedCircuit& circuit = *extended.circuit;
  return advise_on(circuit.model, extended.the_case, circuit.present, circuit.replaced);
}

std::size_t KeptAdvice::bytes() const {
  constexpr std::size_t kText = 128;  // of a string and what holds it
  if (!advice) return sizeof *this;
  std::size_t bytes = sizeof *this + advice->tests.size() * sizeof(TestValue) +
                      advice->outcomes.size() * sizeof(double) +
                      advice->verify.size() * sizeof(Verification) +
                      advice->replaced.size() * sizeof(ReplacedPart) +
                      advice->second_fault.checks.size() * sizeof(SecondFaultCheck) + 8 * kText;
  for (const RepairPlan& plan : advice->alternatives) {
    bytes += sizeof plan + plan.components.size() * sizeof(std::uint32_t);
  }
  for (const FaultTrail& fault : advice->trail.faults) {
    bytes += sizeof fault + fault.weights.size() * sizeof(Weight);
  }
  bytes += advice->trail.turns.size() * (sizeof(Turn) + kText) +
           advice->trail.unexplained.size() * 2 * sizeof(double);
  for (const BringItem& item : advice->bring.items) bytes += (4 + item.ports.size()) * kText;
  if (advice->visit) bytes += advice->visit->tests.size() * sizeof(VisitTest);
  return bytes;
}

std::shared_ptr<const KeptAdvice> advise_once(const Model& model, const Case& the_case,
                                              std::string_view question) {
  return model.program().advices().get(text_key(question), [&] {
    return std::make_shared<const KeptAdvice>(KeptAdvice{advise(model, the_case)});
  });
}

std::optional<Advice> decide(const Model& model, const Case& the_case, const Present& present,
                             std::span<const PartBefore> replaced) {
  return advise_on(model, the_case, present, replaced, false);
}

}  // namespace faultodds::diagnosis
