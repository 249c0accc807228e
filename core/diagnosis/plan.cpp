#include "core/diagnosis/plan.h"

#include <algorithm>
#include <map>
#include <set>
#include <utility>

#include "core/diagnosis/cause_values.h"
#include "core/diagnosis/evidence.h"
#include "core/diagnosis/preparation.h"
#include "core/diagnosis/renewal.h"
#include "core/error.h"

namespace faultodds::diagnosis {
namespace {

class Planner {
 public:
  Planner(const Model& model, const Present& present, std::span<const PartBefore> replaced)
      : model_(model), present_(present), replaced_(replaced) {}

  std::optional<Plan> plan(const Case& the_case) {
    const CaseNumbers numbers = read_case(model_, the_case);
    const auto complaint = complaint_of(model_.analysis(), numbers, the_case);
    plan_.nodes.emplace_back();
    std::optional<Advice> first = decide(model_, the_case, present_, replaced_);
    if (!first || !complaint) return std::nullopt;
    plan_.complaint = present_.original(*complaint);
    plan_.currency = first->currency;
    plan_.come_back = first->come_back;
    plan_.approximate = first->error;
    plan_.not_possible = the_case.not_possible;
    plan_.warnings = numbers.warnings;
    settle(0, the_case, std::move(first));
    while (!open_.empty()) {
      const auto next =
          std::max_element(open_.begin(), open_.end(), [&](const auto& a, const auto& b) {
            const double p = plan_.nodes[a.node].reached, q = plan_.nodes[b.node].reached;
            return p != q ? p < q : a.node > b.node;
          });
      const Open open = std::move(*next);
      open_.erase(next);
      try {
        settle(open.node, open.the_case, decide(model_, open.the_case, present_, replaced_));
      } catch (const Error& error) {
        if (error.code() == Code::cancelled) {
          cut(open.node, PlanNode::Cut::time);
          for (const Open& other : open_) cut(other.node, PlanNode::Cut::time);
          break;
        }
        if (error.code() != Code::limit_exceeded && error.code() != Code::conflicting_evidence) {
          throw;
        }
        cut(open.node, PlanNode::Cut::limit);
      }
    }
    sum_up();
    return std::move(plan_);
  }

 private:
  struct Open {
    std::size_t node = 0;
    Case the_case;
  };

  void cut(std::size_t node, PlanNode::Cut why) {
    plan_.nodes[node].cut = why;
    plan_.left_out += plan_.nodes[node].reached;
  }

  // Takes over what the advice says at a node, and opens what follows it.
  void settle(std::size_t at, const Case& the_case, std::optional<Advice> advice) {
    if (!advice) return;
    const PlanNode here = plan_.nodes[at];
    if (!advice->test || here.depth == kPlanDepth) {
      PlanNode& leaf = plan_.nodes[at];
      if (advice->test) leaf.cut = PlanNode::Cut::depth;
      leaf.repair = std::move(advice->repair);
      leaf.verify = std::move(advice->verify);
      return;
    }
    const std::uint32_t test = *advice->test;
    std::vector<PlanNode::Branch> branches;
    for (std::uint32_t i = 0; i < advice->outcomes.size(); ++i) {
      PlanNode::Branch branch{i, advice->outcomes[i], std::nullopt};
      const double reached = here.reached * branch.probability;
      if (reached > kLeastReached) {
        branch.to = plan_.nodes.size();
        PlanNode next;
        next.reached = reached;
        next.depth = here.depth + 1;
        plan_.nodes.push_back(std::move(next));
        open_.push_back({*branch.to, after(the_case, test, i)});
      } else {
        plan_.left_out += reached;
      }
      branches.push_back(branch);
    }
    PlanNode& node = plan_.nodes[at];
    node.test = test;
    node.again = advice->again;
    node.contradicts = advice->contradiction && advice->contradiction->observation == test;
    node.minutes = advice->minutes;
    node.branches = std::move(branches);
  }

  // The case once that outcome was seen.
  Case after(const Case& before, std::uint32_t test, std::uint32_t outcome) const {
    Case the_case = before;
    Evidence seen;
    seen.observation = test;
    seen.outcome = outcome;
    seen.again = true;
    the_case.evidence.push_back(std::move(seen));
    const Preparation preparation(model_, before);
    for (const std::uint32_t step : preparation.of(test)) {
      the_case.setup_done.push_back(preparation.step(step).id);
    }
    if (the_case.work.ready_within_minutes) {
      *the_case.work.ready_within_minutes -= preparation.minutes(test, preparation.done());
    }
    // As it was seen last.
    if (present_.original(the_case.focus_observation) == test) the_case.focus_observation = test;
    return the_case;
  }

  void sum_up() {
    std::set<std::uint32_t> tests;
    std::map<std::uint32_t, double> parts;
    for (const PlanNode& node : plan_.nodes) {
      if (node.test) tests.insert(*node.test);
      for (const Verification& one : node.verify) tests.insert(one.observation);
      if (!node.repair) continue;
      for (const std::uint32_t c : node.repair->components) parts[c] += node.reached;
    }
    for (const auto& [c, p] : parts) plan_.parts.push_back({c, p});
    std::stable_sort(
        plan_.parts.begin(), plan_.parts.end(),
        [](const PartNeeded& a, const PartNeeded& b) { return a.probability > b.probability; });
    const std::vector<std::uint32_t> list(tests.begin(), tests.end());
    plan_.bring = bring_list(model_.analysis(), list);
  }

  const Model& model_;
  const Present& present_;
  std::span<const PartBefore> replaced_;
  Plan plan_;
  std::vector<Open> open_;
};

}  // namespace

std::optional<Plan> make_plan(const Model& model, const Case& the_case) {
  if (the_case.repairs.empty()) {
    const Present present = present_of(model);
    return Planner(model, present, {}).plan(the_case);
  }
  const Extended extended = extend(model, the_case);
  const RenewedCircuit& circuit = *extended.circuit;
  return Planner(circuit.model, circuit.present, circuit.replaced).plan(extended.the_case);
}

}  // namespace faultodds::diagnosis
