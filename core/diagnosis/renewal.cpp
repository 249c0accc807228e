#include "core/diagnosis/renewal.h"

#include <algorithm>
#include <map>
#include <set>
#include <utility>

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

namespace {

// Which parts were replaced when.
class Repairs {
 public:
  Repairs(const circuit::Analysis& original, const Case& the_case) : original_(original) {
    own_.resize(original.components.size());
    for (std::uint32_t m = 0; m < original.modes.size(); ++m) {
      auto& modes = own_[original.modes[m].component_index];
      place_.push_back(static_cast<std::uint32_t>(modes.size()));
      modes.push_back(m);
    }
    fitted_.emplace_back(original.components.size(), 0);
    for (const Repair& repair : the_case.repairs) read(repair);
  }

  std::size_t count() const { return fitted_.size() - 1; }
  const std::vector<std::uint32_t>& order() const { return order_; }  // of the components
  const std::vector<std::uint32_t>& modes_of(std::uint32_t component) const {
    return own_[component];
  }
  std::uint32_t component_of(std::uint32_t mode) const {
    return static_cast<std::uint32_t>(original_.modes[mode].component_index);
  }
  bool renewed(std::uint32_t mode) const { return fitted_.back()[component_of(mode)] > 0; }

  // The part of the mode's component that was in when r repairs were done: how many came before it;
  // none where it still is in.
  std::optional<std::uint32_t> generation(std::uint32_t mode, std::uint32_t r) const {
    const std::uint32_t c = component_of(mode), then = fitted_[r][c];
    if (then == fitted_.back()[c]) return std::nullopt;
    return then;
  }
  bool as_now(const circuit::Observation& observation, std::uint32_t r) const {
    return std::all_of(observation.sets.begin(), observation.sets.end(), [&](const auto& set) {
      return std::all_of(set.modes.begin(), set.modes.end(),
                         [&](std::uint32_t m) { return !generation(m, r); });
    });
  }
  // Whether an observation saw the same parts after r repairs as after q.
  bool alike(const circuit::Observation& observation, std::uint32_t r, std::uint32_t q) const {
    return std::all_of(observation.sets.begin(), observation.sets.end(), [&](const auto& set) {
      return std::all_of(set.modes.begin(), set.modes.end(), [&](std::uint32_t m) {
        return fitted_[r][component_of(m)] == fitted_[q][component_of(m)];
      });
    });
  }

  // before[c][g][k]: the mode that stands for the k-th of component c in its g-th part.
  using Before = std::vector<std::vector<std::vector<std::uint32_t>>>;
  std::uint32_t stands_for(std::uint32_t mode, std::uint32_t r, const Before& before) const {
    const auto g = generation(mode, r);
    return g ? before[component_of(mode)][*g][place_[mode]] : mode;
  }

 private:
  void read(const Repair& repair) {
    fitted_.push_back(fitted_.back());
    std::set<std::string> named;
    for (std::size_t i = 0; i < repair.components.size(); ++i) {
      const std::string& id = repair.components[i];
      const auto at = std::find_if(original_.components.begin(), original_.components.end(),
                                   [&](const auto& c) { return c.id == id; });
      const std::string pointer = repair.pointer + "/repaired/" + std::to_string(i);
      if (at == original_.components.end()) {
        throw Error(Code::invalid_case, "component '" + id + "' is not in the circuit", pointer);
      }
      if (!named.insert(id).second) {
        throw Error(Code::invalid_case, "component '" + id + "' is repaired twice at once",
                    pointer);
      }
      if (order_.size() == kMostReplaced) {
        throw Error(Code::limit_exceeded,
                    "more than " + std::to_string(kMostReplaced) + " components replaced", pointer);
      }
      const auto c = static_cast<std::uint32_t>(at - original_.components.begin());
      ++fitted_.back()[c];
      order_.push_back(c);
    }
  }

  const circuit::Analysis& original_;
  std::vector<std::vector<std::uint32_t>> own_;     // modes by component
  std::vector<std::uint32_t> place_;                // of a mode among them
  std::vector<std::vector<std::uint32_t>> fitted_;  // how often, by repairs done, component
  std::vector<std::uint32_t> order_;
};

// An observation of parts some of which were replaced since.
struct PastObservation {
  std::uint32_t observation = 0, repairs = 0;
};

// Makes the circuit of these repairs and observations.
class Renewing {
 public:
  Renewing(const Model& model, const Repairs& repairs)
      : model_(model),
        original_(model.analysis()),
        repairs_(repairs),
        analysis_(model.analysis()),
        wear_out_(model.wear_out()),
        exact_prior_(model.exact_prior()),
        share_(shares_of_faults(model.analysis())),
        before_(model.analysis().components.size()) {}

  RenewedCircuit with(const std::vector<PastObservation>& past) {
    Present present = present_of(model_);
    std::vector<PartBefore> replaced;
    for (const std::uint32_t c : repairs_.order()) replaced.push_back(part_before(c));
    renew_priors();
    move_conditions();
    for (const PastObservation& one : past) {
      analysis_.observations.push_back(as_it_was(one));
      present.was.push_back(one.observation);
    }
    return {Model::compile(std::move(analysis_), std::move(wear_out_), std::move(exact_prior_),
                           Options{model_.program().account().budget() / 2}),
            std::move(present), std::move(replaced)};
  }

 private:
  // A part that was in before gets modes and a component of its own.
  PartBefore part_before(std::uint32_t c) {
    const std::size_t generation = before_[c].size();
    const bool first = generation == 0;
    circuit::Component part = original_.components[c];
    const std::string suffix = "@" + std::to_string(generation);
    part.id += suffix;
    std::vector<std::uint32_t> modes;
    for (const std::uint32_t m : repairs_.modes_of(c)) {
      circuit::FailureMode mode = original_.modes[m];
      mode.id += suffix;
      mode.component_index = analysis_.components.size();
      if (!first) mode.prior = prior_of_new(mode.prior, model_.exact_prior()[m], share_[m]);
      modes.push_back(static_cast<std::uint32_t>(analysis_.modes.size()));
      analysis_.modes.push_back(std::move(mode));
      wear_out_.push_back(first ? model_.wear_out()[m] : std::nullopt);
      exact_prior_.push_back(first ? model_.exact_prior()[m] : std::nullopt);
    }
    analysis_.components.push_back(std::move(part));
    before_[c].push_back(modes);
    return {c, std::move(modes)};
  }

  void renew_priors() {
    for (std::uint32_t m = 0; m < original_.modes.size(); ++m) {
      if (!repairs_.renewed(m)) continue;
      auto& prior = analysis_.modes[m].prior;
      prior = prior_of_new(prior, exact_prior_[m], share_[m]);
      wear_out_[m] = std::nullopt;
      exact_prior_[m] = std::nullopt;
    }
  }

  // Conditions act on the parts that were in first.
  void move_conditions() {
    for (circuit::ConditionEffect& condition : analysis_.conditions) {
      for (auto& [m, factor] : condition.raises) m = repairs_.stands_for(m, 0, before_);
      std::sort(condition.raises.begin(), condition.raises.end());
    }
  }

  circuit::Observation as_it_was(const PastObservation& past) const {
    const circuit::Observation& now = original_.observations[past.observation];
    circuit::Observation one = now;
    one.id += "@" + std::to_string(past.repairs);
    for (circuit::ModeSet& set : one.sets) {
      set = with_modes(
          set, [&](std::uint32_t m) { return repairs_.stands_for(m, past.repairs, before_); });
    }
    return one;
  }

  const Model& model_;
  const circuit::Analysis& original_;
  const Repairs& repairs_;
  circuit::Analysis analysis_;
  std::vector<std::optional<WearOut>> wear_out_;
  std::vector<std::optional<circuit::GradeDistribution>> exact_prior_;
  std::vector<double> share_;
  Repairs::Before before_;
};

// Puts the case's evidence under the observations of the renewed circuit: those of the past, which
// are returned, in the order met.
std::vector<PastObservation> tell_past(const circuit::Analysis& original, const Repairs& repairs,
                                       Case& the_case) {
  std::vector<PastObservation> past;
  std::map<std::uint32_t, std::vector<std::uint32_t>> places;  // in `past`, by observation
  const auto focused = the_case.focus_observation;
  for (Evidence& e : the_case.evidence) {
    const std::uint32_t r = std::exchange(e.repairs_before, 0);
    if (r > repairs.count()) {
      throw Error(Code::invalid_case, "an observation follows more repairs than there are",
                  e.pointer);
    }
    if (e.observation >= original.observations.size()) continue;  // refused where it is read
    const std::uint32_t o = e.observation;
    const circuit::Observation& observation = original.observations[o];
    if (!repairs.as_now(observation, r)) {
      auto& own = places[o];
      auto at = std::find_if(own.begin(), own.end(), [&](std::uint32_t k) {
        return repairs.alike(observation, past[k].repairs, r);
      });
      if (at == own.end()) {
        at = own.insert(at, static_cast<std::uint32_t>(past.size()));
        past.push_back({o, r});
      }
      e.observation = static_cast<std::uint32_t>(original.observations.size()) + *at;
    }
    if (o == focused) the_case.focus_observation = e.observation;  // as it was seen last
  }
  the_case.repairs.clear();
  the_case.past_from = static_cast<std::uint32_t>(original.observations.size());
  return past;
}

PlanCache<RenewedCircuit>::Key key_of(const Case& the_case, const Repairs& repairs,
                                      const std::vector<PastObservation>& past) {
  PlanCache<RenewedCircuit>::Key key;
  auto next = repairs.order().begin();
  for (const Repair& repair : the_case.repairs) {
    key.push_back(static_cast<std::uint32_t>(repair.components.size()));
    for (std::size_t i = 0; i < repair.components.size(); ++i) key.push_back(*next++);
  }
  key.push_back(static_cast<std::uint32_t>(-1));
  for (const PastObservation& one : past) {
    key.push_back(one.observation);
    key.push_back(one.repairs);
  }
  return key;
}

}  // namespace

// All that its model may ever take.
std::size_t RenewedCircuit::bytes() const { return model.program().account().budget(); }

Extended extend(const Model& model, const Case& the_case) {
  const Repairs repairs(model.analysis(), the_case);
  Extended result{nullptr, the_case};
  const std::vector<PastObservation> past = tell_past(model.analysis(), repairs, result.the_case);
  result.circuit = model.program().renewed_circuits().get(key_of(the_case, repairs, past), [&] {
    return std::make_shared<const RenewedCircuit>(Renewing(model, repairs).with(past));
  });
  return result;
}

Assessment assess_extended(const Model& model, const Case& the_case) {
  const Extended extended = extend(model, the_case);
  const Present& present = extended.circuit->present;
  Assessment assessment = assess(extended.circuit->model, extended.the_case);
  std::erase_if(assessment.faults,
                [&](const FaultAssessment& fault) { return fault.mode >= present.modes; });
  for (CauseAssessment& of : assessment.causes) {
    of.observation = present.original(of.observation);
    for (Cause& cause : of.causes) {
      for (std::uint32_t& c : cause.components) {
        if (c >= present.components)
          c = extended.circuit->replaced[c - present.components].component;
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
