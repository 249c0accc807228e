#include "core/diagnosis/renewal.h"

#include <algorithm>
#include <map>
#include <set>

#include "core/diagnosis/program.h"
#include "core/error.h"

namespace faultodds::diagnosis {
namespace {

// The set with other modes in their places, ascending again.
template <typename Other>
circuit::ModeSet with_modes(const circuit::ModeSet& set, const Other& other) {
  std::vector<std::pair<std::uint32_t, std::size_t>> order;
  for (std::size_t i = 0; i < set.modes.size(); ++i) order.emplace_back(other(set.modes[i]), i);
  std::sort(order.begin(), order.end());
  circuit::ModeSet result = set;
  for (std::size_t i = 0; i < order.size(); ++i) {
    result.modes[i] = order[i].first;
    if (!set.link.exceeds.empty()) result.link.exceeds[i] = set.link.exceeds[order[i].second];
  }
  return result;
}

// Its own, where that is better than a new part's: as it was given, not as it was compiled, since
// no hours change it any more. A part is bad by one of its modes, by each as often as its priors
// say: `share` is this mode's.
circuit::GradeDistribution prior_of_new(const circuit::GradeDistribution& compiled,
                                        const std::optional<circuit::GradeDistribution>& exact,
                                        double share) {
  const circuit::GradeDistribution bad{1 - share * (1 - kNewPart[0]), share * kNewPart[1],
                                       share * kNewPart[2]};
  if (compiled[0] < bad[0]) return bad;
  return exact ? *exact : compiled;
}

// Of each mode among those of its component.
std::vector<double> shares_of_faults(const circuit::Analysis& analysis) {
  std::vector<double> total(analysis.components.size(), 0), shares;
  for (const auto& mode : analysis.modes) total[mode.component_index] += 1 - mode.prior[0];
  for (const auto& mode : analysis.modes) {
    const double all = total[mode.component_index];
    shares.push_back(all > 0 ? (1 - mode.prior[0]) / all : 0);
  }
  return shares;
}

}  // namespace

Present present_of(const Model& model) {
  const circuit::Analysis& analysis = model.analysis();
  return {analysis.components.size(), analysis.modes.size(), analysis.observations.size(), {}};
}

Extended extend(const Model& model, const Case& the_case) {
  const circuit::Analysis& original = model.analysis();
  Present present = present_of(model);
  circuit::Analysis analysis = original;
  std::vector<std::optional<WearOut>> wear_out = model.wear_out();
  std::vector<std::optional<circuit::GradeDistribution>> exact_prior = model.exact_prior();

  const std::vector<double> share = shares_of_faults(original);
  // part[c][g]: modes of the g-th part in component c, by position among the component's modes.
  std::vector<std::vector<std::uint32_t>> own(original.components.size());
  for (std::uint32_t m = 0; m < original.modes.size(); ++m) {
    own[original.modes[m].component_index].push_back(m);
  }
  // fitted[r][c]: how many times component c had been replaced when r repairs were done.
  std::vector<std::vector<std::uint32_t>> fitted{
      std::vector<std::uint32_t>(original.components.size(), 0)};
  std::vector<std::uint32_t> order;
  for (const Repair& repair : the_case.repairs) {
    fitted.push_back(fitted.back());
    std::set<std::string> named;
    for (std::size_t i = 0; i < repair.components.size(); ++i) {
      const std::string& id = repair.components[i];
      const auto at = std::find_if(original.components.begin(), original.components.end(),
                                   [&](const auto& c) { return c.id == id; });
      const std::string pointer = repair.pointer + "/repaired/" + std::to_string(i);
      if (at == original.components.end()) {
        throw Error(Code::invalid_case, "component '" + id + "' is not in the circuit", pointer);
      }
      if (!named.insert(id).second) {
        throw Error(Code::invalid_case, "component '" + id + "' is repaired twice at once",
                    pointer);
      }
      if (order.size() == kMostReplaced) {
        throw Error(Code::limit_exceeded,
                    "more than " + std::to_string(kMostReplaced) + " components replaced", pointer);
      }
      const auto c = static_cast<std::uint32_t>(at - original.components.begin());
      ++fitted.back()[c];
      order.push_back(c);
    }
  }

  Extended result{model, the_case, {}, {}};
  // The parts that were in before get modes and a component of their own.
  std::map<std::pair<std::uint32_t, std::uint32_t>, std::vector<std::uint32_t>> before;
  std::vector<std::uint32_t> seen(original.components.size(), 0);
  for (std::uint32_t c : order) {
    const std::uint32_t generation = seen[c]++;
    circuit::Component part = original.components[c];
    const std::string suffix = "@" + std::to_string(generation);
    if (part.title.empty()) part.title = part.id;
    part.title += generation == 0 ? " (the part that was in)" : " (a part fitted since)";
    part.id += suffix;
    std::vector<std::uint32_t> modes;
    for (std::uint32_t m : own[c]) {
      circuit::FailureMode mode = original.modes[m];
      mode.id += suffix;
      mode.component_index = analysis.components.size();
      const bool first = generation == 0;
      if (!first) mode.prior = prior_of_new(mode.prior, model.exact_prior()[m], share[m]);
      modes.push_back(static_cast<std::uint32_t>(analysis.modes.size()));
      analysis.modes.push_back(std::move(mode));
      wear_out.push_back(first ? model.wear_out()[m] : std::nullopt);
      exact_prior.push_back(first ? model.exact_prior()[m] : std::nullopt);
    }
    analysis.components.push_back(std::move(part));
    result.replaced.push_back({c, modes});
    before[{c, generation}] = std::move(modes);
  }
  for (std::uint32_t m = 0; m < present.modes; ++m) {
    const auto c = static_cast<std::uint32_t>(original.modes[m].component_index);
    if (fitted.back()[c] == 0) continue;
    analysis.modes[m].prior = prior_of_new(analysis.modes[m].prior, exact_prior[m], share[m]);
    wear_out[m] = std::nullopt;
    exact_prior[m] = std::nullopt;
  }
  for (circuit::ConditionEffect& condition : analysis.conditions) {
    for (auto& [m, factor] : condition.raises) {
      const auto c = static_cast<std::uint32_t>(original.modes[m].component_index);
      if (fitted.back()[c] == 0) continue;
      const auto position = std::find(own[c].begin(), own[c].end(), m) - own[c].begin();
      m = before.at({c, 0})[static_cast<std::size_t>(position)];
    }
    std::sort(condition.raises.begin(), condition.raises.end());
  }

  // The mode that stood for m when r repairs were done.
  const auto then = [&](std::uint32_t m, std::uint32_t r) {
    const auto c = static_cast<std::uint32_t>(original.modes[m].component_index);
    const std::uint32_t generation = fitted[r][c];
    if (generation == fitted.back()[c]) return m;
    const auto position = std::find(own[c].begin(), own[c].end(), m) - own[c].begin();
    return before.at({c, generation})[static_cast<std::size_t>(position)];
  };
  std::map<std::pair<std::uint32_t, std::vector<std::vector<std::uint32_t>>>, std::uint32_t> past;
  for (Evidence& e : result.the_case.evidence) {
    const std::uint32_t r = e.repairs_before;
    if (r > the_case.repairs.size()) {
      throw Error(Code::invalid_case, "an observation follows more repairs than there are",
                  e.pointer);
    }
    e.repairs_before = 0;
    if (e.observation >= original.observations.size()) continue;  // refused where it is read
    const bool focus = e.observation == the_case.focus_observation;
    const circuit::Observation& now = original.observations[e.observation];
    std::vector<std::vector<std::uint32_t>> sets;
    bool as_now = true;
    for (const auto& set : now.sets) {
      sets.emplace_back();
      for (std::uint32_t m : set.modes) {
        sets.back().push_back(then(m, r));
        as_now = as_now && sets.back().back() == m;
      }
      std::sort(sets.back().begin(), sets.back().end());
    }
    if (as_now) {
      if (focus) result.the_case.focus_observation = e.observation;  // as it was seen last
      continue;
    }
    const auto next = static_cast<std::uint32_t>(analysis.observations.size());
    const auto [at, is_new] = past.try_emplace({e.observation, sets}, next);
    if (is_new) {
      circuit::Observation one = now;
      one.id += "@" + std::to_string(r);
      one.title += " (before the repair)";
      for (std::size_t i = 0; i < sets.size(); ++i) {
        one.sets[i] = with_modes(now.sets[i], [&](std::uint32_t m) { return then(m, r); });
      }
      analysis.observations.push_back(std::move(one));
      present.was.push_back(e.observation);
    }
    e.observation = at->second;
    if (focus) result.the_case.focus_observation = e.observation;
  }
  result.the_case.repairs.clear();
  result.the_case.past_from = static_cast<std::uint32_t>(present.observations);
  result.present = std::move(present);
  result.model = Model::compile(std::move(analysis), std::move(wear_out), std::move(exact_prior),
                                Options{model.program().account().budget()});
  return result;
}

Assessment assess_extended(const Model& model, const Case& the_case) {
  const Extended extended = extend(model, the_case);
  const Present& present = extended.present;
  Assessment assessment = assess(extended.model, extended.the_case);
  std::erase_if(assessment.faults,
                [&](const FaultAssessment& fault) { return fault.mode >= present.modes; });
  for (CauseAssessment& of : assessment.causes) {
    of.observation = present.original(of.observation);
    for (Cause& cause : of.causes) {
      for (std::uint32_t& c : cause.components) {
        if (c >= present.components) c = extended.replaced[c - present.components].component;
      }
      std::sort(cause.components.begin(), cause.components.end());
    }
  }
  if (!assessment.causes.empty()) {
    std::stable_sort(assessment.causes.begin() + 1, assessment.causes.end(),
                     [](const CauseAssessment& a, const CauseAssessment& b) {
                       return a.observation < b.observation;
                     });
  }
  std::set<std::uint32_t> complaint;
  for (std::uint32_t o : assessment.complaint) complaint.insert(present.original(o));
  assessment.complaint.assign(complaint.begin(), complaint.end());
  return assessment;
}

}  // namespace faultodds::diagnosis
