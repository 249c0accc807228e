#include "core/diagnosis/program.h"

#include <algorithm>
#include <numeric>
#include <string>

#include "core/circuit/kinds.h"
#include "core/diagnosis/after_repair.h"
#include "core/diagnosis/cause.h"
#include "core/diagnosis/entropy.h"
#include "core/diagnosis/information.h"
#include "core/error.h"
#include "core/stop.h"

namespace faultodds::diagnosis {

using network::Var;

namespace {

// Conditions on one mode: their combinations are the states of one variable.
constexpr std::size_t kMaxConditionsPerMode = 10;
constexpr std::size_t kMaxBoundedBytes = std::size_t{16} << 20;

}  // namespace

std::vector<ModeConditions> mode_conditions(const circuit::Analysis& analysis) {
  std::vector<ModeConditions> result(analysis.modes.size());
  for (std::uint32_t c = 0; c < analysis.conditions.size(); ++c) {
    for (const auto& [mode, factor] : analysis.conditions[c].raises) {
      result[mode].conditions.push_back(c);
      result[mode].factors.push_back(factor);
    }
  }
  for (std::size_t m = 0; m < result.size(); ++m) {
    if (result[m].conditions.size() > kMaxConditionsPerMode) {
      throw Error(Code::limit_exceeded,
                  "failure mode '" + analysis.modes[m].id + "' is raised by " +
                      std::to_string(result[m].conditions.size()) + " conditions; the limit is " +
                      std::to_string(kMaxConditionsPerMode),
                  "/conditions");
    }
  }
  return result;
}

Grades conditioned(const circuit::GradeDistribution& prior, const ModeConditions& by,
                   std::size_t combination) {
  double factor = 1;
  for (std::size_t i = 0; i < by.factors.size(); ++i) {
    if (combination >> (by.factors.size() - 1 - i) & 1) factor *= by.factors[i];
  }
  const double worn = prior[1] * factor, failed = prior[2] * factor;
  const double total = prior[0] + worn + failed;
  return {prior[0] / total, worn / total, failed / total};
}

Program::Program(const circuit::Analysis& analysis, const Options& options)
    : analysis_(&analysis),
      reports_(options.reports),
      mode_conditions_(diagnosis::mode_conditions(analysis)),
      observations_of_mode_(analysis.modes.size()),
      whole_(options.whole),
      account_(options.memory_budget, whole_ ? &whole_->account() : nullptr),
      cause_plans_(account_),
      information_plans_(account_),
      after_repairs_(account_),
      relevant_parts_(account_),
      renewed_circuits_(account_),
      advices_(account_),
      assessments_(account_, options.memory_budget / 8) {
  try {
    compile_exact(options);
  } catch (const Error& error) {
    if (error.code() != Code::limit_exceeded) throw;
  }

  std::map<std::string, std::uint32_t> steps;
  for (std::uint32_t i = 0; i < analysis.setup_steps.size(); ++i) {
    steps.emplace(analysis.setup_steps[i].id, i);
  }
  for (std::uint32_t o = 0; o < analysis.observations.size(); ++o) {
    const auto& observation = analysis.observations[o];
    for (const auto& set : observation.sets) {
      for (std::uint32_t m : set.modes) {
        auto& list = observations_of_mode_[m];
        if (list.empty() || list.back() != o) list.push_back(o);
      }
    }
    std::vector<std::vector<double>> rows(kGrades);
    Grades entropy{};
    for (std::size_t s = 0; s < kGrades; ++s) {
      rows[s].assign(observation.outcomes.size(), 0.0);
      for (std::size_t b = 0; b < kGrades; ++b) {
        const auto& row = observation.matrix[std::max(s, b)];
        for (std::size_t i = 0; i < row.size(); ++i) {
          rows[s][i] += observation.background[b] * row[i];
        }
      }
      entropy[s] = entropy_bits(rows[s]);
    }
    rows_.push_back(std::move(rows));
    row_entropy_.push_back(entropy);

    std::vector<std::uint32_t> setup;
    for (const std::string& id : observation.setup) setup.push_back(steps.at(id));
    setup_.push_back(std::move(setup));
  }
}

network::TreeOptions Program::add_nodes(NetworkBuilder& builder, bool reports,
                                        std::size_t memory_budget, std::vector<Var>& mode,
                                        std::vector<Var>& observation,
                                        std::vector<std::vector<Var>>* parts) const {
  for (std::uint32_t m = 0; m < analysis_->modes.size(); ++m) mode.push_back(builder.mode(m));
  std::vector<std::vector<Var>> lists;
  for (std::uint32_t o = 0; o < analysis_->observations.size(); ++o) {
    const bool known = reports || !circuit::is_reported(analysis_->observations[o]);
    lists.push_back(known ? builder.parts(o) : std::vector<Var>{});
  }
  if (parts) *parts = lists;
  observation = builder.shared_max(std::move(lists));
  std::vector<Var> asked = observation;
  if (parts) {
    for (const std::vector<Var>& of : *parts) asked.insert(asked.end(), of.begin(), of.end());
  }
  return builder.options_to_ask(asked, memory_budget);
}

void Program::compile_exact(const Options& options) {
  NetworkBuilder builder(*analysis_, mode_conditions_);
  // A tree needs scratch space of about its own size for each call.
  const std::size_t budget = options.memory_budget / 3;
  network::TreeOptions tree_options = add_nodes(
      builder, reports_, std::min(budget, options.largest_tree), mode_, observation_, &parts_);
  tree_options.most_looked_at = budget;
  for (std::uint32_t m = 0; m < analysis_->modes.size(); ++m) {
    conditions_of_.push_back(builder.conditions_of(m));
  }
  auto tree = std::make_unique<network::JunctionTree>(
      network::JunctionTree::of(builder.network(), tree_options));
  if (take(tree->bytes())) tree_ = std::move(tree);
}

// Observations share nothing but their causes here, so that cutting those leaves only chains. The
// tree is kept small, for it is propagated over many times for each answer.
const network::ConditionedTree& Program::bounded() const {
  std::call_once(bounded_made_, [&] {
    NetworkBuilder builder(*analysis_, mode_conditions_, false);
    std::vector<Var> mode, observation;
    const network::TreeOptions tree_options =
        add_nodes(builder, true, std::min(account_.budget() / 3, kMaxBoundedBytes), mode,
                  observation, nullptr);
    bounded_ = std::make_unique<network::ConditionedTree>(builder.network(), builder.causes(),
                                                          tree_options);
    bounded_mode_ = std::move(mode);
    bounded_observation_ = std::move(observation);
    bounded_conditions_.clear();
    for (std::uint32_t m = 0; m < analysis_->modes.size(); ++m) {
      bounded_conditions_.push_back(builder.conditions_of(m));
    }
  });
  return *bounded_;
}

void Program::add_outcomes(std::uint32_t o, const Grades& grades, std::span<double> into) const {
  for (std::size_t s = 0; s < kGrades; ++s) {
    const std::vector<double>& row = rows_[o][s];
    for (std::size_t i = 0; i < row.size(); ++i) into[i] += grades[s] * row[i];
  }
}

Program::~Program() = default;

Grades Program::prior(std::uint32_t m) const {
  if (!tree_) return prior(m, analysis_->modes[m].prior);
  const auto prior = tree_->prior(mode_[m]);
  return {prior[0], prior[1], prior[2]};
}

Grades Program::prior(std::uint32_t m, const circuit::GradeDistribution& own) const {
  const ModeConditions& by = mode_conditions_[m];
  Grades sum{};
  for (std::size_t i = 0; i < std::size_t{1} << by.conditions.size(); ++i) {
    double p = 1;
    for (std::size_t k = 0; k < by.conditions.size(); ++k) {
      const double holds = analysis_->conditions[by.conditions[k]].probability;
      p *= i >> (by.conditions.size() - 1 - k) & 1 ? holds : 1 - holds;
    }
    const Grades row = conditioned(own, by, i);
    for (std::size_t g = 0; g < kGrades; ++g) sum[g] += p * row[g];
  }
  return sum;
}

template <typename Kind>
Program::Scratch<Kind>::Scratch(const Program& program) : program_(&program) {
  if (!program.tree_) {
    throw Error(Code::limit_exceeded,
                "this needs exact inference, which takes more memory for this circuit than the "
                "budget allows");
  }
  {
    const std::lock_guard lock(program.mutex_);
    auto& pool = std::get<std::vector<std::unique_ptr<Kind>>>(program.pools_);
    if (!pool.empty()) {
      propagation_ = std::move(pool.back());
      pool.pop_back();
    }
  }
  if (!propagation_) {
    if (!program.take(Kind::bytes(*program.tree_))) {
      throw Error(Code::limit_exceeded, "the model's memory budget of " +
                                            std::to_string(program.account_.budget()) +
                                            " bytes is used up by calls in progress");
    }
    propagation_ = std::make_unique<Kind>(*program.tree_);
  }
  propagation_->clear();
}

template <typename Kind>
Program::Scratch<Kind>::~Scratch() {
  try {
    const std::lock_guard lock(program_->mutex_);
    std::get<std::vector<std::unique_ptr<Kind>>>(program_->pools_)
        .push_back(std::move(propagation_));
  } catch (...) {
    // No room to keep it: it is freed instead.
    program_->account_.give_back(Kind::bytes(*program_->tree_));
  }
}

template class Program::Scratch<network::Propagation>;
template class Program::Scratch<network::LanePropagation<network::kLanes>>;

PlanCounts Program::plan_counts() const {
  PlanCounts all;
  for (const PlanCounts& counts :
       {cause_plans_.counts(), information_plans_.counts(), after_repairs_.counts(),
        relevant_parts_.counts(), renewed_circuits_.counts(), advices_.counts(),
        assessments_.counts()}) {
    all.made += counts.made;
    all.from_cache += counts.from_cache;
    all.evicted += counts.evicted;
    all.kept += counts.kept;
    all.bytes += counts.bytes;
  }
  return all;
}

bool Program::take(std::size_t bytes) const {
  const auto own = [&] {
    return assessments_.make_room(bytes) || advices_.make_room(bytes) ||
           cause_plans_.make_room(bytes) || information_plans_.make_room(bytes) ||
           after_repairs_.make_room(bytes) || relevant_parts_.make_room(bytes) ||
           renewed_circuits_.make_room(bytes);
  };
  if (own()) return true;
  // What the whole drops for it may be taken by another call meanwhile.
  if (!whole_ || !whole_->take(bytes)) return false;
  whole_->account().give_back(bytes);
  return own();
}

bool Program::take_for_now(std::size_t bytes) const {
  const Program& all = whole_ ? *whole_ : *this;
  std::unique_lock lock(all.for_now_mutex_);
  while (!take(bytes)) {
    if (all.for_now_ == 0) return false;
    all.for_now_over_.wait_for(lock, std::chrono::milliseconds(5));
    check_stop();
  }
  ++all.for_now_;
  return true;
}

void Program::give_back_from_now(std::size_t bytes) const {
  const Program& all = whole_ ? *whole_ : *this;
  const std::lock_guard lock(all.for_now_mutex_);
  account_.give_back(bytes);
  --all.for_now_;
  all.for_now_over_.notify_all();
}

}  // namespace faultodds::diagnosis
