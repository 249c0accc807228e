#include "core/diagnosis/cause_tree.h"

#include <algorithm>
#include <cmath>
#include <limits>

#include "core/diagnosis/marks.h"
#include "core/diagnosis/program.h"
#include "core/error.h"
#include "core/stop.h"

namespace faultodds::diagnosis {

using network::Var;

namespace {

// Natural logarithms by which a sum may pass what is divided out of all before it is divided anew.
constexpr double kMostAbove = 200;

}  // namespace

CauseTrees::CauseTrees(const Model& model, std::vector<std::uint32_t> observed, std::uint32_t focus,
                       const std::vector<std::uint32_t>& tests, std::size_t memory_budget)
    : observed_(std::move(observed)),
      focus_(focus),
      memory_budget_(memory_budget),
      values_(cause_values(model.analysis(), focus)) {
  add(model, tests);
}

void CauseTrees::add(const Model& model, std::vector<std::uint32_t> tests) {
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
    if (error.code() != Code::limit_exceeded || tests.size() < 2) throw;
    const auto half = tests.begin() + static_cast<std::ptrdiff_t>(tests.size() / 2);
    add(model, {tests.begin(), half});
    add(model, {half, tests.end()});
    return;
  }
  tree.modes = prior_nodes(model, builder);
  bytes_ += tree.tree->bytes();
  trees_.push_back(std::move(tree));
}

std::size_t CauseTrees::bytes() const { return bytes_; }

CauseSums CauseTrees::sum(const Model& model, const CaseNumbers& numbers) const {
  const std::size_t observations = model.analysis().observations.size();
  const std::size_t numbers_of_tests = observations + model.analysis().modes.size();
  const std::size_t sets = values_.of_set.size();
  const auto marks = marks_of<double>(model.analysis().observations[focus_], focus_, &numbers,
                                      gauss_legendre<double>(quadrature_nodes(sets)));
  CauseSums sums;
  sums.values = values_.size();
  sums.cause.assign(sums.values, 0);
  sums.at_most.assign(numbers_of_tests * 2 * sums.values, 0);
  double scale = -std::numeric_limits<double>::infinity();  // log of what is divided out
  bool first_tree = true;
  for (const Tree& tree : trees_) {
    network::Propagation propagation(*tree.tree);
    // Adds what one run says to `into`.
    const auto run = [&](const Mark<double>& mark, const Var* test, const Grades& allowed,
                         double* into) {
      check_stop();
      propagation.clear();
      std::size_t k = 0;
      for (const ObservedGrade& seen : numbers.observed) {
        if (seen.observation == focus_) continue;
        propagation.multiply(tree.evidence[k++], seen.likelihood);
      }
      apply_priors(model, numbers, tree.modes, propagation);
      Grades likelihood{};
      for (std::size_t s = 0; s <= mark.grade; ++s) likelihood[s] = s < mark.grade ? 1 : mark.x;
      const double with_sound[5] = {likelihood[0], likelihood[1], likelihood[2], likelihood[1],
                                    likelihood[2]};
      for (Var v : tree.sets) {
        propagation.multiply(v, {with_sound, tree.tree->states(v)});
      }
      if (test != nullptr) propagation.multiply(*test, allowed);
      const double log_evidence = propagation.collect();
      if (!std::isfinite(log_evidence)) return;
      if (log_evidence > scale + kMostAbove) {  // the first of all, too
        const double by = std::exp(scale - log_evidence);
        for (double& x : sums.cause) x *= by;
        for (double& x : sums.at_most) x *= by;
        scale = log_evidence;
      }
      const double z = std::exp(log_evidence - scale);
      into[values_.elsewhere()] += z * mark.elsewhere;
      into[values_.nothing()] += z * mark.nothing;
      if (mark.set == 0 && mark.elsewhere_by_set == 0) return;
      propagation.distribute();
      for (std::size_t j = 0; j < sets; ++j) {
        const auto p = propagation.posterior(tree.sets[j]);
        const double faulty = z * p[mark.grade] / mark.x;
        const double sound = p.size() > 3 ? z * p[mark.grade + 2] / mark.x : 0;
        into[values_.of_set[j]] += mark.set * faulty;
        into[values_.by_design()] += mark.set * sound;
        into[values_.elsewhere()] += mark.elsewhere_by_set * (faulty + sound);
      }
    };
    for (const Mark<double>& mark : marks) {
      if (mark.set + mark.elsewhere + mark.nothing + mark.elsewhere_by_set == 0) continue;
      if (first_tree) run(mark, nullptr, {1, 1, 1}, sums.cause.data());
      for (std::size_t i = 0; i < tree.tests.size(); ++i) {
        for (std::size_t t = 0; t < 2; ++t) {
          const double middle = t == 1 ? 1 : 0;
          const Grades at_most{1, middle, 0}, above{0, 1 - middle, 1};
          run(mark, &tree.test_nodes[i], tree.tests[i] < observations ? at_most : above,
              sums.at_most.data() + (tree.tests[i] * 2 + t) * sums.values);
        }
      }
    }
    first_tree = false;
  }
  sums.log_scale = std::isfinite(scale) ? scale : 0;
  return sums;
}

}  // namespace faultodds::diagnosis
