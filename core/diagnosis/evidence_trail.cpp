#include "core/diagnosis/evidence_trail.h"

#include <algorithm>
#include <cmath>
#include <limits>

#include "core/diagnosis/assessment.h"
#include "core/diagnosis/program.h"
#include "core/number_text.h"

namespace faultodds::diagnosis {
namespace {

constexpr std::size_t kFaultsShown = 5;
constexpr double kWorthShowing = 0.01;  // P(not sound) of a suspect whose trail is shown
constexpr double kTurnsWithin = 30;     // decibans: turns further off are not worth mentioning
constexpr double kComeBackWithin = 10;  // factor, likewise
constexpr double kPlainConflict = 1;    // bits from which the sentence mentions a conflict
constexpr int kMostSteps = 50;
constexpr int kTurnHalvings = 14;

double log10_odds(std::span<const double> p) {
  double rest = 0;
  for (std::size_t s = 1; s < p.size(); ++s) rest += p[s];
  return 10 * (std::log10(rest) - std::log10(p[0]));
}

double expected(std::span<const double> p, std::span<const double> likelihood) {
  double sum = 0;
  for (std::size_t s = 0; s < p.size(); ++s) sum += p[s] * likelihood[s];
  return sum;
}

// Where the line of `best` is crossed by that of another set: `loss` and `other` give expected cost
// as constant + slope x parameter.
struct Line {
  double constant = 0, slope = 0;
  double at(double x) const { return constant + slope * x; }
};

// Starts from the set that is best at the far end and comes nearer until nothing beats `best`.
template <typename LineOf, typename BestAt>
std::optional<Crossing> nearest_crossing(const ItemSet& best, ItemSet far, LineOf line_of,
                                         BestAt best_at) {
  const Line own = line_of(best);
  std::optional<Crossing> found;
  for (int step = 0; step < kMostSteps; ++step) {
    if (far == best) return found;
    const Line other = line_of(far);
    if (own.slope == other.slope) return found;
    const double x = (other.constant - own.constant) / (own.slope - other.slope);
    found = {x, far};
    ItemSet nearer = best_at(x);
    const double tolerance = 1e-12 * std::max(1.0, std::fabs(own.at(x)));
    if (line_of(nearer).at(x) >= own.at(x) - tolerance) return found;
    far = std::move(nearer);
  }
  return found;
}

// Where coming again has no flat price, losses are not quite linear: the nearest factor within
// kTurnsWithin at which another set is better, by halving.
std::optional<Crossing> sought_turn(RepairDecision& decision, const ItemSet& best,
                                    std::uint32_t observation, bool upwards) {
  const auto better_at = [&](double db) -> std::optional<ItemSet> {
    const OutcomeWeights weight(Grades{std::pow(10, db / 10), 1, 1});
    const RepairChoice choice = decision.best_given(observation, weight);
    const double own = decision.loss_given(best, observation, weight);
    if (choice.set == best || choice.loss >= own - 1e-9 * std::max(1.0, own)) return std::nullopt;
    return choice.set;
  };
  double near = 0, far = upwards ? kTurnsWithin : -kTurnsWithin;
  std::optional<ItemSet> other = better_at(far);
  if (!other) return std::nullopt;
  for (int halving = 0; halving < kTurnHalvings; ++halving) {
    const double middle = (near + far) / 2;
    if (auto set = better_at(middle)) {
      far = middle;
      other = std::move(set);
    } else {
      near = middle;
    }
  }
  return Crossing{std::pow(10, far / 10), *other};
}

std::vector<std::uint32_t> components_of(std::span<const RepairItem> items, const ItemSet& set) {
  std::vector<std::uint32_t> list;
  for (std::uint32_t i : set.members()) list.push_back(items[i].component);
  return list;
}

Messages trail_sentences(const circuit::Analysis& analysis, const EvidenceTrail& trail) {
  if (trail.faults.empty()) return {};
  const FaultTrail& leading = trail.faults.front();
  const Weight *most_for = nullptr, *most_against = nullptr;
  for (const Weight& w : leading.weights) {
    if (w.decibans > 0.05 && (!most_for || w.decibans > most_for->decibans)) most_for = &w;
    if (w.decibans < -0.05 && (!most_against || w.decibans < most_against->decibans)) {
      most_against = &w;
    }
  }
  const auto named = [&](std::uint32_t o) {
    return MessageValue::observation(analysis.observations[o].id);
  };
  Message message{most_for ? (most_against ? "trail.for_and_against" : "trail.for")
                           : (most_against ? "trail.against" : "trail.neither")};
  message.with("fault", {MessageValue::Kind::modes, {analysis.modes[leading.mode].id}});
  if (most_for) {
    message.with("most_for", named(most_for->observation));
    message.with("weight_for", MessageValue::Kind::decibans, most_for->decibans);
  }
  if (most_against) {
    message.with("most_against", named(most_against->observation));
    message.with("weight_against", MessageValue::Kind::decibans, most_against->decibans);
  }
  Messages sentences{std::move(message)};
  if (trail.most_at_odds && trail.conflict_bits >= kPlainConflict) {
    sentences.push_back({"trail.conflict"});
    sentences.back().with("test", named(*trail.most_at_odds));
  }
  return sentences;
}

}  // namespace

std::vector<std::vector<double>> weights_of_evidence(network::Propagation& propagation,
                                                     std::span<const Finding> findings,
                                                     std::span<const network::Var> hypotheses) {
  std::vector<double> before(hypotheses.size());
  const auto read = [&](std::vector<double>& odds) {
    propagation.collect();
    propagation.distribute();
    for (std::size_t h = 0; h < hypotheses.size(); ++h) {
      odds[h] = log10_odds(propagation.posterior(hypotheses[h]));
    }
  };
  read(before);
  std::vector<std::vector<double>> weights;
  for (const Finding& finding : findings) {
    propagation.multiply(finding.variable, finding.likelihood);
    std::vector<double> after(hypotheses.size());
    read(after);
    weights.emplace_back();
    for (std::size_t h = 0; h < hypotheses.size(); ++h) {
      weights.back().push_back(after[h] - before[h]);
    }
    before = std::move(after);
  }
  return weights;
}

Conflict conflict_of(network::Propagation& propagation,
                     const std::function<void(network::Propagation&)>& begin,
                     std::span<const Finding> findings) {
  const auto log_evidence_without = [&](std::size_t left_out) {
    propagation.clear();
    begin(propagation);
    for (std::size_t i = 0; i < findings.size(); ++i) {
      if (i != left_out) propagation.multiply(findings[i].variable, findings[i].likelihood);
    }
    return propagation.collect();
  };
  propagation.clear();
  begin(propagation);
  const double nothing = propagation.collect();
  propagation.distribute();
  std::vector<double> alone;
  double sum = 0;
  for (const Finding& f : findings) {
    alone.push_back(std::log(expected(propagation.posterior(f.variable), f.likelihood)));
    sum += alone.back();
  }
  const double all = log_evidence_without(findings.size()) - nothing;
  Conflict conflict;
  conflict.bits = findings.size() < 2 ? 0 : (sum - all) / std::log(2.0);
  if (!(conflict.bits > 0)) return conflict;
  for (std::size_t i = 0; i < findings.size(); ++i) {
    const double rest = log_evidence_without(i) - nothing;
    conflict.of_each.push_back((alone[i] + rest - all) / std::log(2.0));
  }
  return conflict;
}

std::optional<Crossing> turn_of(RepairDecision& decision, const ItemSet& best,
                                std::uint32_t observation, bool upwards) {
  static constexpr Grades kOnly{1, 0, 0}, kNever{0, 1, 1};
  if (!decision.price().flat) return sought_turn(decision, best, observation, upwards);
  const auto line_of = [&](const ItemSet& set) {
    return Line{decision.loss_given(set, observation, kNever),
                decision.loss_given(set, observation, kOnly)};
  };
  const Grades& end = upwards ? kOnly : kNever;
  const RepairChoice far = decision.best_given(observation, end);
  const double own = decision.loss_given(best, observation, end);
  if (far.loss >= own - 1e-12 * std::max(1.0, std::fabs(own))) return std::nullopt;
  return nearest_crossing(best, far.set, line_of, [&](double x) {
    return decision.best_given(observation, Grades{x, 1, 1}).set;
  });
}

std::optional<Crossing> come_back_turn(RepairDecision& decision, const ItemSet& best,
                                       bool upwards) {
  const double now = decision.come_back(decision.cure().nothing());
  const auto line_of = [&](const ItemSet& set) {
    const double cost = compared_cost(decision.items(), set);
    return Line{cost, (decision.loss(set) - cost) / now};
  };
  const double end = upwards ? kComeBackWithin * now : 0.0;
  const RepairChoice far = decision.best_at(end / now);
  const double own = line_of(best).at(end);
  if (far.loss >= own - 1e-12 * std::max(1.0, std::fabs(own))) return std::nullopt;
  return nearest_crossing(best, far.set, line_of,
                          [&](double x) { return decision.best_at(x / now).set; });
}

namespace {

// The leading suspects with the weights of what was observed, and how far that agrees; of a model
// with a tree.
void weigh_faults(const Model& model, const Case& the_case, const CaseNumbers& numbers,
                  RepairDecision& decision, EvidenceTrail& trail) {
  const Program& program = model.program();
  // Observations in the order in which the case first mentions them.
  std::vector<std::uint32_t> order;
  for (const Evidence& e : the_case.evidence) {
    if (std::find(order.begin(), order.end(), e.observation) == order.end()) {
      order.push_back(e.observation);
    }
  }
  std::vector<Finding> findings;
  for (std::uint32_t o : order) {
    const ObservedGrade* seen = seen_of(numbers, o);
    findings.push_back(
        {program.observation(o), {seen->likelihood.begin(), seen->likelihood.end()}});
  }

  // The leading suspects among the causes of the complaint.
  const std::vector<double>& not_sound = decision.cure().not_sound();
  std::vector<std::uint32_t> modes;
  for (const RepairItem& item : decision.items()) {
    for (std::uint32_t m : item.modes) {
      if (not_sound[m] >= kWorthShowing) modes.push_back(m);
    }
  }
  std::stable_sort(modes.begin(), modes.end(),
                   [&](std::uint32_t a, std::uint32_t b) { return not_sound[a] > not_sound[b]; });
  if (modes.size() > kFaultsShown) modes.resize(kFaultsShown);

  CaseNumbers before = numbers;
  before.observed.clear();
  const auto begin = [&](network::Propagation& p) { apply(model, before, p); };
  Program::Lease propagation(program);
  begin(*propagation);
  std::vector<network::Var> hypotheses;
  for (std::uint32_t m : modes) hypotheses.push_back(program.mode(m));
  const auto weights = weights_of_evidence(*propagation, findings, hypotheses);
  for (std::size_t h = 0; h < modes.size(); ++h) {
    FaultTrail fault;
    fault.mode = modes[h];
    for (std::size_t k = 0; k < findings.size(); ++k) {
      fault.weights.push_back({order[k], weights[k][h]});
      fault.decibans += weights[k][h];
    }
    fault.prior_decibans =
        log10_odds(propagation->posterior(program.mode(modes[h]))) - fault.decibans;
    trail.faults.push_back(std::move(fault));
  }

  const Conflict conflict = conflict_of(*propagation, begin, findings);
  trail.conflict_bits = conflict.bits;
  if (conflict.bits > 0) {
    const auto most = std::max_element(conflict.of_each.begin(), conflict.of_each.end());
    trail.most_at_odds = order[static_cast<std::size_t>(most - conflict.of_each.begin())];
  }
}

}  // namespace

EvidenceTrail evidence_trail(const Model& model, const Case& the_case, const CaseNumbers& numbers,
                             RepairDecision& decision, const ItemSet& best) {
  const circuit::Analysis& analysis = model.analysis();
  EvidenceTrail trail;
  if (model.program().has_tree()) weigh_faults(model, the_case, numbers, decision, trail);
  for (const ObservedGrade& seen : numbers.observed) {
    if (seen.abnormal) {
      trail.unexplained.emplace_back(seen.observation,
                                     decision.cure().anything().grades[seen.observation][0]);
    }
  }

  for (const ObservedGrade& seen : numbers.observed) {
    for (bool upwards : {false, true}) {
      const auto turn = turn_of(decision, best, seen.observation, upwards);
      if (!turn || !(std::fabs(10 * std::log10(turn->at)) <= kTurnsWithin)) continue;
      trail.turns.push_back(
          {seen.observation, turn->at, components_of(decision.items(), turn->set)});
    }
  }
  std::stable_sort(trail.turns.begin(), trail.turns.end(), [](const Turn& a, const Turn& b) {
    return std::fabs(std::log(a.factor)) < std::fabs(std::log(b.factor));
  });
  for (bool upwards : {false, true}) {
    const auto turn = come_back_turn(decision, best, upwards);
    if (!turn) continue;
    (upwards ? trail.above : trail.below) =
        ComeBackTurn{turn->at, components_of(decision.items(), turn->set)};
  }
  trail.sentences = trail_sentences(analysis, trail);
  return trail;
}

}  // namespace faultodds::diagnosis
