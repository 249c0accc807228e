#include "core/diagnosis/cause_tree.h"

#include <algorithm>
#include <cmath>
#include <exception>
#include <limits>
#include <utility>

#include "core/diagnosis/marks.h"
#include "core/diagnosis/program.h"
#include "core/error.h"
#include "core/stop.h"

namespace faultodds::diagnosis {

using network::Var;

namespace {

// Natural logarithms by which a sum may pass what is divided out of all before it is divided anew.
constexpr double kMostAbove = 200;
// Bytes of trees times propagations, at a third of a nanosecond each.
constexpr double kMostPasses = 3e11;

}  // namespace

CauseTrees::CauseTrees(const Model& model, std::vector<std::uint32_t> observed, std::uint32_t focus,
                       const std::vector<std::uint32_t>& tests, std::size_t memory_budget,
                       bool in_parts)
    : observed_(std::move(observed)),
      focus_(focus),
      memory_budget_(memory_budget),
      values_(cause_values(model.analysis(), focus)) {
  if (add(model, tests)) return;
  if (!in_parts) std::rethrow_exception(refused_);
  // Where not even one test fits, no half of them is tried.
  const std::vector<std::uint32_t> one(tests.begin(), tests.begin() + (tests.size() > 1));
  if (tests.size() < 2 || !add(model, one)) std::rethrow_exception(refused_);
  trees_.clear();
  bytes_ = 0;
  add_halves(model, tests);
}

void CauseTrees::add_halves(const Model& model, const std::vector<std::uint32_t>& tests) {
  if (tests.size() < 2) std::rethrow_exception(refused_);
  const auto half = tests.begin() + static_cast<std::ptrdiff_t>(tests.size() / 2);
  for (const std::vector<std::uint32_t>& part : {std::vector<std::uint32_t>(tests.begin(), half),
                                                 std::vector<std::uint32_t>(half, tests.end())}) {
    if (!add(model, part)) add_halves(model, part);
  }
}

bool CauseTrees::add(const Model& model, const std::vector<std::uint32_t>& tests) {
  check_stop();
  Tree tree;
  tree.tests = tests;
  NetworkBuilder builder(model.analysis(), model.program().mode_conditions());
  std::vector<std::vector<Var>> lists;
  for (std::uint32_t o : observed_) {
    if (o != focus_) lists.push_back(builder.parts(o));
  }
  const std::size_t evidence = lists.size();
  const auto observations = static_cast<std::uint32_t>(model.analysis().observations.size());
  for (std::uint32_t o : tests) {
    if (o < observations) {
      lists.push_back(builder.parts(o));
    } else {
      lists.push_back({builder.mode(o - observations)});
    }
  }
  const std::vector<Var> max = builder.shared_max(std::move(lists));
  tree.evidence.assign(max.begin(), max.begin() + static_cast<std::ptrdiff_t>(evidence));
  tree.test_nodes.assign(max.begin() + static_cast<std::ptrdiff_t>(evidence), max.end());
  const auto& sets = model.analysis().observations[focus_].sets;
  for (std::uint32_t j = 0; j < sets.size(); ++j) {
    const auto& sound = values_.though_sound;
    tree.sets.push_back(std::binary_search(sound.begin(), sound.end(), j)
                            ? builder.effective_or_sound(sets[j])
                            : builder.effective(sets[j]));
  }
  std::vector<Var> asked = max;
  asked.insert(asked.end(), tree.sets.begin(), tree.sets.end());
  try {
    tree.tree = std::make_unique<network::JunctionTree>(network::JunctionTree::of(
        builder.network(), builder.options_to_ask(asked, memory_budget_)));
  } catch (const Error& error) {
    if (error.code() != Code::limit_exceeded) throw;
    refused_ = std::current_exception();
    return false;
  }
  tree.modes = prior_nodes(model, builder);
  bytes_ += tree.tree->bytes();
  if (static_cast<double>(bytes_) * propagations(sets.size()) > kMostPasses) {
    throw Error(Code::limit_exceeded, "what causes '" + model.analysis().observations[focus_].id +
                                          "' takes too long to be summed exactly");
  }
  trees_.push_back(std::move(tree));
  return true;
}

std::size_t CauseTrees::bytes() const { return bytes_; }

namespace {

// Sums of what propagations say, scaled alike.
class Scaled {
 public:
  explicit Scaled(CauseSums& sums) : sums_(sums) {}
  double scale() const { return std::isfinite(scale_) ? scale_ : 0; }

  // P(e) of a propagation that was collected, as the sums have it.
  double add(double log_evidence) {
    if (!std::isfinite(log_evidence)) return 0;
    if (log_evidence > scale_ + kMostAbove) {  // the first of all, too
      const double by = std::exp(scale_ - log_evidence);
      for (double& x : sums_.cause) x *= by;
      for (double& x : sums_.at_most) x *= by;
      scale_ = log_evidence;
    }
    return std::exp(log_evidence - scale_);
  }

 private:
  CauseSums& sums_;
  double scale_ = -std::numeric_limits<double>::infinity();  // log of what is divided out
};

}  // namespace

CauseSums CauseTrees::sum(const Model& model, const CaseNumbers& numbers) const {
  const std::size_t observations = model.analysis().observations.size();
  const std::size_t sets = values_.of_set.size();
  const auto marks = marks_of<double>(model.analysis().observations[focus_], focus_, &numbers,
                                      gauss_legendre<double>(quadrature_nodes(sets)));
  CauseSums sums;
  sums.values = values_.size();
  sums.cause.assign(sums.values, 0);
  sums.at_most.assign((observations + model.analysis().modes.size()) * 2 * sums.values, 0);
  Scaled scaled(sums);
  bool first_tree = true;
  for (const Tree& tree : trees_) {
    network::Propagation propagation(*tree.tree);
    // P(e, the sets are as the mark says), of set j, if any, that it is in one state.
    const auto collect = [&](const Mark<double>& mark, std::size_t j, std::size_t state) {
      check_stop();
      propagation.clear();
      std::size_t k = 0;
      for (const ObservedGrade& seen : numbers.observed) {
        if (seen.observation == focus_) continue;
        propagation.multiply(tree.evidence[k++], seen.likelihood);
      }
      apply_priors(model, numbers, tree.modes, propagation);
      double likelihood[5] = {};  // the last two: it shows so much and its modes are sound
      for (std::size_t s = 0; s <= mark.grade; ++s) {
        likelihood[s] = s < mark.grade ? 1 : mark.x;
        if (s > 0) likelihood[s + 2] = likelihood[s];
      }
      for (std::size_t i = 0; i < sets; ++i) {
        double only[5] = {};
        only[state] = 1;
        const Var v = tree.sets[i];
        propagation.multiply(v, {i == j ? only : likelihood, tree.tree->states(v)});
      }
      return scaled.add(propagation.collect());
    };
    // Adds so much of what the propagation says of the tests to a cause.
    const auto add = [&](double weight, std::size_t cause) {
      if (first_tree) sums.cause[cause] += weight;
      for (std::size_t i = 0; i < tree.tests.size(); ++i) {
        const auto p = propagation.posterior(tree.test_nodes[i]);
        double* into = sums.at_most.data() + tree.tests[i] * 2 * sums.values + cause;
        const bool is_mode = tree.tests[i] >= observations;  // then of more than t
        into[0] += weight * (is_mode ? p[1] + p[2] : p[0]);
        into[sums.values] += weight * (is_mode ? p[2] : p[0] + p[1]);
      }
    };
    for (const Mark<double>& mark : marks) {
      const bool by_set = mark.set != 0 || mark.elsewhere_by_set != 0;
      if (!by_set && mark.elsewhere + mark.nothing == 0) continue;
      const double z = collect(mark, sets, 0);
      if (!(z > 0)) continue;
      propagation.distribute();
      if (mark.elsewhere != 0) add(z * mark.elsewhere, values_.elsewhere());
      if (mark.nothing != 0) add(z * mark.nothing, values_.nothing());
      if (!by_set) continue;
      // The sets that may be at the grade, as modes that are not sound or that are.
      std::vector<std::pair<std::size_t, std::size_t>> at_grade;
      for (std::size_t j = 0; j < sets; ++j) {
        const auto p = propagation.posterior(tree.sets[j]);
        for (std::size_t state = mark.grade; state < p.size(); state += 2) {
          if (p[state] > 0) at_grade.emplace_back(j, state);
        }
      }
      for (const auto& [j, state] : at_grade) {
        const double here = collect(mark, j, state);
        if (!(here > 0)) continue;
        propagation.distribute();
        const std::size_t cause = state == mark.grade ? values_.of_set[j] : values_.by_design();
        if (mark.set != 0) add(here * mark.set, cause);
        if (mark.elsewhere_by_set != 0) add(here * mark.elsewhere_by_set, values_.elsewhere());
      }
    }
    first_tree = false;
  }
  sums.log_scale = scaled.scale();
  return sums;
}

}  // namespace faultodds::diagnosis
