#include "priors/record_plan.h"

#include <algorithm>
#include <numeric>
#include <set>

namespace faultodds::priors {
namespace {

constexpr std::size_t most_observations = 9;
constexpr std::size_t most_conditions = 6;
constexpr std::size_t most_states = 729;  // of a block
constexpr std::size_t most_work = 4'000'000;

std::size_t power_of_3(std::size_t n) {
  std::size_t result = 1;
  while (n-- > 0) result *= 3;
  return result;
}

// Lists of a partition by what joins them.
class Joined {
 public:
  explicit Joined(std::size_t count) : parent_(count) {
    std::iota(parent_.begin(), parent_.end(), std::size_t{0});
  }
  std::size_t root(std::size_t i) {
    while (parent_[i] != i) i = parent_[i] = parent_[parent_[i]];
    return i;
  }
  void join(std::size_t a, std::size_t b) { parent_[root(b)] = root(a); }

 private:
  std::vector<std::size_t> parent_;
};

// Sums over all values at most, or at least, each digit's.
void sum_up(double* values, std::size_t digits, bool at_most) {
  const std::size_t size = power_of_3(digits);
  for (std::size_t step = 1; step < size; step *= 3) {
    for (std::size_t i = 0; i < size; i += 3 * step) {
      for (std::size_t j = i; j < i + step; ++j) {
        double& low = values[j];
        double& middle = values[j + step];
        double& high = values[j + 2 * step];
        if (at_most) {
          middle += low;
          high += middle;
        } else {
          middle += high;
          low += middle;
        }
      }
    }
  }
}

std::size_t least_digit(std::size_t value, std::size_t digits) {
  std::size_t least = 2;
  for (std::size_t d = 0; d < digits; ++d, value /= 3) least = std::min(least, value % 3);
  return least;
}

}  // namespace

PriorTables prior_tables(const std::vector<Grades>& priors,
                         const std::vector<diagnosis::ModeConditions>& by) {
  PriorTables tables(priors.size());
  for (std::size_t m = 0; m < priors.size(); ++m) {
    const std::size_t combinations = std::size_t{1} << (by.empty() ? 0 : by[m].conditions.size());
    for (std::size_t k = 0; k < combinations; ++k) {
      tables[m].push_back(combinations == 1 ? priors[m]
                                            : diagnosis::conditioned(priors[m], by[m], k));
    }
  }
  return tables;
}

RecordPlan::RecordPlan(const circuit::Analysis& analysis,
                       const std::vector<diagnosis::ModeConditions>& by,
                       std::vector<std::uint32_t> observations,
                       const std::vector<std::uint32_t>& named)
    : observations_(std::move(observations)) {
  std::set<std::uint32_t> modes(named.begin(), named.end());
  for (const std::uint32_t o : observations_) {
    for (const circuit::ModeSet& set : analysis.observations[o].sets) {
      modes.insert(set.modes.begin(), set.modes.end());
    }
  }
  modes_.assign(modes.begin(), modes.end());
  std::map<std::uint32_t, std::uint8_t> place;
  acting_.resize(modes_.size());
  for (std::size_t m = 0; m < modes_.size() && !by.empty(); ++m) {
    for (const std::uint32_t c : by[modes_[m]].conditions) {
      const auto at = place.emplace(c, static_cast<std::uint8_t>(place.size())).first->second;
      if (at == conditions_.size()) conditions_.push_back({analysis.conditions[c].probability});
      acting_[m].push_back(at);
    }
  }
  affordable_ = observations_.size() <= most_observations && conditions_.size() <= most_conditions;
  if (!affordable_) return;
  thresholds_ = power_of_3(observations_.size());
  make_blocks(analysis);
  const std::size_t contexts = std::size_t{1} << conditions_.size();
  affordable_ = affordable_ && contexts * thresholds_ * blocks_.size() <= most_work;
}

void RecordPlan::make_blocks(const circuit::Analysis& analysis) {
  const auto place_of = [&](std::uint32_t m) {
    return static_cast<std::size_t>(std::lower_bound(modes_.begin(), modes_.end(), m) -
                                    modes_.begin());
  };
  Joined joined(modes_.size());
  std::vector<bool> tied(modes_.size(), false);
  std::vector<std::set<std::uint32_t>> shown_in(modes_.size());
  for (std::size_t d = 0; d < observations_.size(); ++d) {
    for (const circuit::ModeSet& set : analysis.observations[observations_[d]].sets) {
      for (const std::uint32_t m : set.modes) {
        joined.join(place_of(set.modes[0]), place_of(m));
        if (set.modes.size() > 1 || set.probability < 1) tied[place_of(m)] = true;
        shown_in[place_of(m)].insert(static_cast<std::uint32_t>(d));
      }
    }
  }
  std::map<std::vector<std::uint32_t>, Block> alone;
  std::map<std::size_t, Block> together;
  for (std::size_t m = 0; m < modes_.size(); ++m) {
    Block& block = tied[m] ? together[joined.root(m)]
                           : alone[{shown_in[m].begin(), shown_in[m].end()}];
    block.members.push_back(static_cast<std::uint32_t>(m));
    std::set<std::uint32_t> digits(block.digits.begin(), block.digits.end());
    digits.insert(shown_in[m].begin(), shown_in[m].end());
    block.digits.assign(digits.begin(), digits.end());
  }
  for (auto& [unused, block] : alone) blocks_.push_back(std::move(block));
  for (auto& [unused, block] : together) {
    affordable_ = affordable_ && add_states(analysis, block);
    blocks_.push_back(std::move(block));
  }
  for (Block& block : blocks_) {
    block.size = power_of_3(block.digits.size());
    block.first = values_;
    values_ += block.size;
  }
}

bool RecordPlan::add_states(const circuit::Analysis& analysis, Block& block) const {
  struct Shown {
    std::size_t digit;
    double probability;
    std::vector<std::size_t> members;
  };
  std::vector<Shown> sets;
  std::size_t links = 0;
  for (std::size_t d = 0; d < block.digits.size(); ++d) {
    for (const circuit::ModeSet& set :
         analysis.observations[observations_[block.digits[d]]].sets) {
      Shown shown{power_of_3(d), set.probability, {}};
      for (std::size_t i = 0; i < block.members.size(); ++i) {
        const std::uint32_t m = modes_[block.members[i]];
        if (std::find(set.modes.begin(), set.modes.end(), m) != set.modes.end()) {
          shown.members.push_back(i);
        }
      }
      if (shown.members.empty()) continue;
      if (shown.probability < 1) ++links;
      sets.push_back(std::move(shown));
    }
  }
  if (block.members.size() > 6 || links > 6) return false;
  const std::size_t joint = power_of_3(block.members.size());
  if ((joint << links) > most_states) return false;
  for (std::size_t j = 0; j < joint; ++j) {
    std::vector<std::uint8_t> grades;
    for (std::size_t rest = j, i = 0; i < block.members.size(); ++i, rest /= 3) {
      grades.push_back(static_cast<std::uint8_t>(rest % 3));
    }
    std::map<std::uint16_t, double> weights;
    for (std::size_t l = 0; l < std::size_t{1} << links; ++l) {
      std::map<std::size_t, std::uint8_t> most;  // by digit
      double weight = 1;
      std::size_t link = 0;
      for (const Shown& set : sets) {
        bool effective = true;
        if (set.probability < 1) {
          effective = ((l >> link++) & 1) != 0;
          weight *= effective ? set.probability : 1 - set.probability;
        }
        std::uint8_t least = effective ? 2 : 0;
        for (const std::size_t i : set.members) least = std::min(least, grades[i]);
        most[set.digit] = std::max(most[set.digit], least);
      }
      std::size_t place = 0;
      for (const auto& [digit, grade] : most) place += digit * grade;
      weights[static_cast<std::uint16_t>(place)] += weight;
    }
    for (const auto& [place, weight] : weights) block.states.push_back({place, weight, grades});
  }
  return true;
}

void RecordPlan::lay_out(Scratch& scratch) const {
  scratch.place.assign(blocks_.size() * thresholds_, 0);
  for (std::size_t b = 0; b < blocks_.size(); ++b) {
    std::uint16_t* place = &scratch.place[b * thresholds_];
    std::uint16_t unit = 1;
    for (const std::uint32_t d : blocks_[b].digits) {
      const std::size_t step = power_of_3(d);
      for (std::size_t u = 0; u < thresholds_; ++u) {
        place[u] = static_cast<std::uint16_t>(place[u] + u / step % 3 * unit);
      }
      unit = static_cast<std::uint16_t>(unit * 3);
    }
  }
}

// P(the block shows at most this), by value.
void RecordPlan::show(const Block& block, const Weights& weights, double* values) const {
  if (block.states.empty()) {
    Grades at_most{1, 1, 1};
    for (const std::uint32_t m : block.members) {
      const Grades& w = weights[m];
      at_most[0] *= w[0];
      at_most[1] *= w[0] + w[1];
      at_most[2] *= w[0] + w[1] + w[2];
    }
    for (std::size_t v = 0; v < block.size; ++v) {
      values[v] = at_most[least_digit(v, block.digits.size())];
    }
    return;
  }
  std::fill(values, values + block.size, 0.0);
  for (const State& state : block.states) {
    double p = state.weight;
    for (std::size_t i = 0; i < block.members.size(); ++i) {
      p *= weights[block.members[i]][state.grades[i]];
    }
    values[state.place] += p;
  }
  sum_up(values, block.digits.size(), true);
}

// Adds what all else leaves to each value (`values`, spent) to the grades of the block's modes.
void RecordPlan::collect(const Block& block, const Weights& weights, double times, double* values,
                         std::vector<Grades>& sums) const {
  if (!block.states.empty()) {
    sum_up(values, block.digits.size(), false);
    for (const State& state : block.states) {
      double p = state.weight * times * values[state.place];
      for (std::size_t i = 0; i < block.members.size(); ++i) {
        p *= weights[block.members[i]][state.grades[i]];
      }
      for (std::size_t i = 0; i < block.members.size(); ++i) {
        sums[block.members[i]][state.grades[i]] += p;
      }
    }
    return;
  }
  Grades rest{};  // by what the block may show at most
  for (std::size_t v = 0; v < block.size; ++v) {
    rest[least_digit(v, block.digits.size())] += times * values[v];
  }
  const std::size_t n = block.members.size();
  std::vector<Grades> after(n + 1, {1, 1, 1});
  const auto at_most = [](const Grades& w) { return Grades{w[0], w[0] + w[1], w[0] + w[1] + w[2]}; };
  for (std::size_t i = n; i-- > 0;) {
    const Grades here = at_most(weights[block.members[i]]);
    for (std::size_t t = 0; t < 3; ++t) after[i][t] = after[i + 1][t] * here[t];
  }
  Grades before{1, 1, 1};
  for (std::size_t i = 0; i < n; ++i) {
    const Grades& w = weights[block.members[i]];
    double left = 0;
    for (std::size_t g = 3; g-- > 0;) {
      left += rest[g] * before[g] * after[i + 1][g];
      sums[block.members[i]][g] += w[g] * left;
    }
    const Grades here = at_most(w);
    for (std::size_t t = 0; t < 3; ++t) before[t] *= here[t];
  }
}

RecordPlan::Answer RecordPlan::sum(const PriorTables& priors, std::span<const Grades> likelihood,
                                   const std::map<std::uint32_t, Grades>& restricted,
                                   bool with_observed, Scratch& scratch) const {
  const std::size_t n = thresholds_, digits = observations_.size();
  lay_out(scratch);
  scratch.value.assign(n, 1);
  for (std::size_t u = 0; u < n; ++u) {
    for (std::size_t rest = u, d = 0; d < digits; ++d, rest /= 3) {
      const Grades& l = likelihood[d];
      scratch.value[u] *= rest % 3 == 2 ? l[2] : l[rest % 3] - l[rest % 3 + 1];
    }
  }
  scratch.before.resize((blocks_.size() + 1) * n);
  scratch.shown.resize(values_);
  scratch.left.resize(values_);
  Answer answer;
  answer.modes.assign(modes_.size(), {});
  std::vector<Grades> up_to(with_observed ? digits : 0, Grades{});
  Weights weights(modes_.size());
  for (std::size_t context = 0; context < std::size_t{1} << conditions_.size(); ++context) {
    double times = 1;
    for (std::size_t c = 0; c < conditions_.size(); ++c) {
      const double p = conditions_[c].probability;
      times *= ((context >> c) & 1) != 0 ? p : 1 - p;
    }
    for (std::size_t m = 0; m < modes_.size(); ++m) {
      std::size_t combination = 0;
      for (const std::uint8_t c : acting_[m]) combination = 2 * combination + ((context >> c) & 1);
      weights[m] = priors[modes_[m]][combination];
      const auto at = restricted.find(modes_[m]);
      if (at == restricted.end()) continue;
      for (std::size_t g = 0; g < 3; ++g) weights[m][g] *= at->second[g];
    }
    std::fill(scratch.before.begin(), scratch.before.begin() + static_cast<std::ptrdiff_t>(n), 1.0);
    for (std::size_t b = 0; b < blocks_.size(); ++b) {
      double* values = &scratch.shown[blocks_[b].first];
      show(blocks_[b], weights, values);
      const std::uint16_t* place = &scratch.place[b * n];
      const double* before = &scratch.before[b * n];
      double* next = &scratch.before[(b + 1) * n];
      for (std::size_t u = 0; u < n; ++u) next[u] = before[u] * values[place[u]];
    }
    const double* all = &scratch.before[blocks_.size() * n];
    for (std::size_t u = 0; u < n; ++u) answer.probability += times * scratch.value[u] * all[u];
    for (std::size_t d = 0; d < up_to.size(); ++d) {
      for (std::size_t u = 0; u < n; ++u) {
        double others = times * all[u];
        for (std::size_t rest = u, e = 0; e < digits; ++e, rest /= 3) {
          const Grades& l = likelihood[e];
          if (e != d) others *= rest % 3 == 2 ? l[2] : l[rest % 3] - l[rest % 3 + 1];
        }
        up_to[d][u / power_of_3(d) % 3] += others;
      }
    }
    scratch.after = scratch.value;
    std::fill(scratch.left.begin(), scratch.left.end(), 0.0);
    for (std::size_t b = blocks_.size(); b-- > 0;) {
      const std::uint16_t* place = &scratch.place[b * n];
      const double* before = &scratch.before[b * n];
      const double* values = &scratch.shown[blocks_[b].first];
      double* left = &scratch.left[blocks_[b].first];
      for (std::size_t u = 0; u < n; ++u) {
        left[place[u]] += before[u] * scratch.after[u];
        scratch.after[u] *= values[place[u]];
      }
      collect(blocks_[b], weights, times, left, answer.modes);
    }
  }
  if (!(answer.probability > 0)) return answer;
  for (Grades& mode : answer.modes) {
    for (double& p : mode) p = std::max(0.0, p / answer.probability);
  }
  for (std::size_t d = 0; d < up_to.size(); ++d) {
    Grades grades{};
    for (std::size_t s = 0; s < 3; ++s) {
      const double here = up_to[d][s] - (s > 0 ? up_to[d][s - 1] : 0);
      grades[s] = std::max(0.0, likelihood[d][s] * here / answer.probability);
    }
    answer.observed.push_back(grades);
  }
  return answer;
}

}  // namespace faultodds::priors
