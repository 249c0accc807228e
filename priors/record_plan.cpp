#include "priors/record_plan.h"

#include <algorithm>
#include <numeric>
#include <set>

namespace faultodds::priors {
namespace {

constexpr std::size_t most_observations = 9;
constexpr std::size_t most_conditions = 6;
constexpr double least_context = 5e-3;  // of several conditions together
constexpr std::size_t most_hubs = 4;
constexpr std::size_t most_states = 243;  // of a block
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
      if (at == conditions_.size()) conditions_.push_back(analysis.conditions[c].probability);
      acting_[m].push_back(at);
    }
  }
  affordable_ = observations_.size() <= most_observations && conditions_.size() <= most_conditions;
  if (!affordable_) return;
  thresholds_ = power_of_3(observations_.size());
  double kept = 0;
  for (std::size_t context = 0; context < std::size_t{1} << conditions_.size(); ++context) {
    double probability = 1;
    for (std::size_t c = 0; c < conditions_.size(); ++c) {
      probability *= ((context >> c) & 1) != 0 ? conditions_[c] : 1 - conditions_[c];
    }
    if (conditions_.size() > 1 && probability < least_context) continue;
    contexts_.emplace_back(context, probability);
    kept += probability;
  }
  for (auto& [unused, probability] : contexts_) probability /= kept;
  const std::size_t contexts = contexts_.size();
  // Structure is largest where hubs cap nothing.
  for (Layout widest;; widest = {}) {
    std::uint32_t hub = 0;
    if (lay_out(analysis, std::vector<std::uint8_t>(hubs_.size(), 2), widest, hub)) {
      const std::size_t work = power_of_3(hubs_.size()) * contexts * thresholds_;
      affordable_ = work * widest.blocks.size() <= most_work;
      break;
    }
    hubs_.push_back(hub);
    affordable_ = hubs_.size() <= most_hubs;
    if (!affordable_) return;
  }
  for (std::size_t j = 0; j < power_of_3(hubs_.size()) && affordable_; ++j) {
    Layout layout;
    for (std::size_t rest = j, i = 0; i < hubs_.size(); ++i, rest /= 3) {
      layout.hubs.push_back(static_cast<std::uint8_t>(rest % 3));
    }
    std::uint32_t unused = 0;
    affordable_ = lay_out(analysis, layout.hubs, layout, unused);
    layouts_.push_back(std::move(layout));
  }
}

std::vector<RecordPlan::Shown> RecordPlan::shown_with(const circuit::Analysis& analysis,
                                                      const std::vector<std::uint8_t>& hubs) const {
  std::vector<Shown> result;
  for (std::uint32_t d = 0; d < observations_.size(); ++d) {
    for (const circuit::ModeSet& set : analysis.observations[observations_[d]].sets) {
      Shown shown{d, set.probability, 2, {}};
      for (const std::uint32_t m : set.modes) {
        const auto place = static_cast<std::uint32_t>(
            std::lower_bound(modes_.begin(), modes_.end(), m) - modes_.begin());
        const auto hub = std::find(hubs_.begin(), hubs_.end(), place);
        if (hub == hubs_.end()) {
          shown.members.push_back(place);
        } else {
          shown.most = std::min(shown.most, hubs[static_cast<std::size_t>(hub - hubs_.begin())]);
        }
      }
      if (shown.most > 0) result.push_back(std::move(shown));
    }
  }
  return result;
}

bool RecordPlan::lay_out(const circuit::Analysis& analysis, const std::vector<std::uint8_t>& hubs,
                         Layout& layout, std::uint32_t& hub) const {
  const std::vector<Shown> all = shown_with(analysis, hubs);
  Joined joined(modes_.size());
  std::vector<bool> tied(modes_.size(), false);
  std::vector<std::size_t> ties(modes_.size(), 0);
  std::vector<std::set<std::uint32_t>> shown_in(modes_.size());
  Block of_hubs;
  std::vector<Shown> by_hubs;
  for (const Shown& shown : all) {
    for (const std::uint32_t m : shown.members) {
      joined.join(shown.members[0], m);
      if (shown.members.size() > 1 || shown.probability < 1 || shown.most < 2) tied[m] = true;
      ties[m] += shown.members.size() - 1;
      shown_in[m].insert(shown.digit);
    }
    if (shown.members.empty()) by_hubs.push_back(shown);
  }
  std::map<std::vector<std::uint32_t>, Block> alone;
  std::map<std::size_t, Block> together;
  for (std::uint32_t m = 0; m < modes_.size(); ++m) {
    if (std::find(hubs_.begin(), hubs_.end(), m) != hubs_.end()) continue;
    Block& block =
        tied[m] ? together[joined.root(m)] : alone[{shown_in[m].begin(), shown_in[m].end()}];
    block.members.push_back(m);
    std::set<std::uint32_t> digits(block.digits.begin(), block.digits.end());
    digits.insert(shown_in[m].begin(), shown_in[m].end());
    block.digits.assign(digits.begin(), digits.end());
  }
  for (auto& [unused, block] : alone) layout.blocks.push_back(std::move(block));
  for (auto& [root, block] : together) {
    std::vector<Shown> of_block;
    for (const Shown& shown : all) {
      if (!shown.members.empty() && joined.root(shown.members[0]) == root) {
        of_block.push_back(shown);
      }
    }
    if (!add_states(of_block, block)) {
      hub = *std::max_element(block.members.begin(), block.members.end(),
                              [&](std::uint32_t a, std::uint32_t b) { return ties[a] < ties[b]; });
      return false;
    }
    layout.blocks.push_back(std::move(block));
  }
  if (!by_hubs.empty()) {
    for (const Shown& shown : by_hubs) {
      if (of_hubs.digits.empty() || of_hubs.digits.back() != shown.digit) {
        of_hubs.digits.push_back(shown.digit);
      }
    }
    if (!add_states(by_hubs, of_hubs)) return false;
    layout.blocks.push_back(std::move(of_hubs));
  }
  for (Block& block : layout.blocks) {
    block.size = power_of_3(block.digits.size());
    block.first = layout.values;
    layout.values += block.size;
  }
  return true;
}

bool RecordPlan::add_states(const std::vector<Shown>& shown, Block& block) {
  const auto links = static_cast<std::size_t>(std::count_if(
      shown.begin(), shown.end(), [](const Shown& one) { return one.probability < 1; }));
  if (block.members.size() > 6 || links > 6) return false;
  const std::size_t joint = power_of_3(block.members.size());
  if ((joint << links) > most_states) return false;
  for (std::size_t j = 0; j < joint; ++j) {
    std::map<std::uint32_t, std::uint8_t> grade_of;
    std::vector<std::uint8_t> grades;
    for (std::size_t rest = j, i = 0; i < block.members.size(); ++i, rest /= 3) {
      grades.push_back(static_cast<std::uint8_t>(rest % 3));
      grade_of[block.members[i]] = grades.back();
    }
    std::map<std::uint16_t, double> weights;
    for (std::size_t l = 0; l < std::size_t{1} << links; ++l) {
      std::map<std::uint32_t, std::uint8_t> most;  // by digit
      double weight = 1;
      std::size_t link = 0;
      for (const Shown& one : shown) {
        std::uint8_t least = one.most;
        if (one.probability < 1) {
          const bool effective = ((l >> link++) & 1) != 0;
          weight *= effective ? one.probability : 1 - one.probability;
          if (!effective) least = 0;
        }
        for (const std::uint32_t m : one.members) least = std::min(least, grade_of[m]);
        most[one.digit] = std::max(most[one.digit], least);
      }
      std::size_t place = 0, unit = 1;
      for (const std::uint32_t d : block.digits) {
        place += unit * most[d];
        unit *= 3;
      }
      weights[static_cast<std::uint16_t>(place)] += weight;
    }
    for (const auto& [place, weight] : weights) block.states.push_back({place, weight, grades});
  }
  return true;
}

void RecordPlan::places(const Layout& layout, Scratch& scratch) const {
  scratch.place.assign(layout.blocks.size() * thresholds_, 0);
  for (std::size_t b = 0; b < layout.blocks.size(); ++b) {
    std::uint16_t* place = &scratch.place[b * thresholds_];
    const std::vector<std::uint32_t>& of = layout.blocks[b].digits;
    std::size_t unit = 1, next = 0;
    for (std::size_t d = 0, step = 1; d < observations_.size(); ++d, step *= 3) {
      const bool shows = next < of.size() && of[next] == d;
      for (std::size_t u = 0; u < 2 * step; ++u) {
        place[step + u] = static_cast<std::uint16_t>(place[u % step] +
                                                     (shows ? (u < step ? unit : 2 * unit) : 0));
      }
      if (!shows) continue;
      unit *= 3;
      ++next;
    }
  }
}

// P(the block shows at most this), by value.
void RecordPlan::show(const Block& block, const Weights& weights, double* values) {
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
                         std::vector<Grades>& sums) {
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
  const auto at_most = [](const Grades& w) {
    return Grades{w[0], w[0] + w[1], w[0] + w[1] + w[2]};
  };
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

// The sum of scratch.all by the threshold of one observation, all others weighed by their steps.
Grades RecordPlan::all_but(std::size_t digit, const std::vector<Grades>& steps, Scratch& scratch) {
  scratch.after = scratch.all;
  std::size_t size = scratch.all.size();
  for (std::size_t d = steps.size(); d-- > digit + 1;) {
    size /= 3;
    for (std::size_t u = 0; u < size; ++u) {
      scratch.after[u] = steps[d][0] * scratch.after[u] + steps[d][1] * scratch.after[size + u] +
                         steps[d][2] * scratch.after[2 * size + u];
    }
  }
  for (std::size_t d = 0; d < digit; ++d) {
    size /= 3;
    for (std::size_t u = 0; u < size; ++u) {
      scratch.after[u] = steps[d][0] * scratch.after[3 * u] +
                         steps[d][1] * scratch.after[3 * u + 1] +
                         steps[d][2] * scratch.after[3 * u + 2];
    }
  }
  return {scratch.after[0], scratch.after[1], scratch.after[2]};
}

void RecordPlan::weigh(std::size_t context, const PriorTables& priors,
                       const std::map<std::uint32_t, Grades>& restricted, Weights& weights) const {
  for (std::size_t m = 0; m < modes_.size(); ++m) {
    std::size_t combination = 0;
    for (const std::uint8_t c : acting_[m]) combination = 2 * combination + ((context >> c) & 1);
    weights[m] = priors[modes_[m]][combination];
  }
  for (const auto& [mode, likelihood] : restricted) {
    const auto m = static_cast<std::size_t>(std::lower_bound(modes_.begin(), modes_.end(), mode) -
                                            modes_.begin());
    for (std::size_t g = 0; g < 3; ++g) weights[m][g] *= likelihood[g];
  }
}

void RecordPlan::add(const Layout& layout, const Weights& weights, double times, bool with_observed,
                     Scratch& scratch, Answer& answer) const {
  for (std::size_t i = 0; i < hubs_.size(); ++i) times *= weights[hubs_[i]][layout.hubs[i]];
  if (!(times > 0)) return;
  const std::size_t n = thresholds_, count = layout.blocks.size();
  scratch.before.resize((count + 1) * n);
  scratch.shown.resize(layout.values);
  scratch.left.assign(layout.values, 0);
  std::fill(scratch.before.begin(), scratch.before.begin() + static_cast<std::ptrdiff_t>(n), 1.0);
  for (std::size_t b = 0; b < count; ++b) {
    double* values = &scratch.shown[layout.blocks[b].first];
    show(layout.blocks[b], weights, values);
    const std::uint16_t* place = &scratch.place[b * n];
    const double* before = &scratch.before[b * n];
    double* next = &scratch.before[(b + 1) * n];
    for (std::size_t u = 0; u < n; ++u) next[u] = before[u] * values[place[u]];
  }
  const double* all = &scratch.before[count * n];
  double sum = 0;
  for (std::size_t u = 0; u < n; ++u) sum += scratch.value[u] * all[u];
  answer.probability += times * sum;
  for (std::size_t i = 0; i < hubs_.size(); ++i) {
    answer.modes[hubs_[i]][layout.hubs[i]] += times * sum;
  }
  for (std::size_t u = 0; u < n && with_observed; ++u) scratch.all[u] += times * all[u];
  scratch.after = scratch.value;
  for (std::size_t b = count; b-- > 0;) {
    const std::uint16_t* place = &scratch.place[b * n];
    const double* before = &scratch.before[b * n];
    const double* values = &scratch.shown[layout.blocks[b].first];
    double* left = &scratch.left[layout.blocks[b].first];
    for (std::size_t u = 0; u < n; ++u) {
      left[place[u]] += before[u] * scratch.after[u];
      scratch.after[u] *= values[place[u]];
    }
    collect(layout.blocks[b], weights, times, left, answer.modes);
  }
}

RecordPlan::Answer RecordPlan::sum(const PriorTables& priors, std::span<const Grades> likelihood,
                                   const std::map<std::uint32_t, Grades>& restricted,
                                   bool with_observed, Scratch& scratch) const {
  const std::size_t n = thresholds_, digits = observations_.size();
  std::vector<Grades> steps;  // of the likelihoods, by threshold
  for (const Grades& l : likelihood) steps.push_back({l[0] - l[1], l[1] - l[2], l[2]});
  scratch.value.assign(n, 1);
  for (std::size_t d = 0, step = 1; d < digits; ++d, step *= 3) {
    for (std::size_t t = 3; t-- > 0;) {
      for (std::size_t u = 0; u < step; ++u) {
        scratch.value[t * step + u] = scratch.value[u] * steps[d][t];
      }
    }
  }
  if (with_observed) scratch.all.assign(n, 0);
  Answer answer;
  answer.modes.assign(modes_.size(), {});
  Weights weights(modes_.size());
  for (const Layout& layout : layouts_) {
    places(layout, scratch);
    for (const auto& [context, probability] : contexts_) {
      weigh(context, priors, restricted, weights);
      add(layout, weights, probability, with_observed, scratch, answer);
    }
  }
  if (!(answer.probability > 0)) return answer;
  for (Grades& mode : answer.modes) {
    for (double& p : mode) p = std::max(0.0, p / answer.probability);
  }
  for (std::size_t d = 0; d < digits && with_observed; ++d) {
    const Grades up_to = all_but(d, steps, scratch);
    Grades grades{};
    for (std::size_t s = 0; s < 3; ++s) {
      const double here = up_to[s] - (s > 0 ? up_to[s - 1] : 0);
      grades[s] = std::max(0.0, likelihood[d][s] * here / answer.probability);
    }
    answer.observed.push_back(grades);
  }
  return answer;
}

}  // namespace faultodds::priors
