#include "core/diagnosis/mode_states.h"

#include <algorithm>

namespace faultodds::diagnosis {

std::span<const circuit::ModeState> states_of(const circuit::FailureMode& mode) {
  static constexpr circuit::ModeState kSteps[3] = {{0, 1, 0, 0}, {1, 1, 0, 0}, {2, 1, 0, 0}};
  if (mode.states.empty()) return kSteps;
  return mode.states;
}

const circuit::SetLink& SetLinks::of(const circuit::ModeSet& set) {
  if (!set.link.weight.empty()) return set.link;
  std::vector<std::uint32_t> modes;
  for (const std::uint32_t m : set.modes) {
    modes.push_back(analysis_.modes[m].states.empty() ? 0 : m + 1);
  }
  const auto [at, is_new] = by_grade_.try_emplace({set.probability, std::move(modes)});
  circuit::SetLink& link = at->second;
  if (!is_new) return link;
  link.weight = {set.probability};
  for (const std::uint32_t m : set.modes) {
    const auto states = states_of(analysis_.modes[m]);
    std::vector<double>& exceeds = link.exceeds.emplace_back();
    for (std::size_t t = 0; t < 2; ++t) {
      for (const circuit::ModeState& state : states) exceeds.push_back(state.grade > t ? 1 : 0);
    }
  }
  return link;
}

double at_most(const circuit::SetLink& link, std::size_t t, std::span<const std::size_t> states) {
  double exceeds = 0;
  for (std::size_t l = 0; l < link.weight.size(); ++l) {
    double product = link.weight[l];
    for (std::size_t i = 0; i < states.size(); ++i) {
      const std::size_t n = link.exceeds[i].size() / (2 * link.weight.size());
      product *= link.exceeds[i][(2 * l + t) * n + states[i]];
    }
    exceeds += product;
  }
  return std::max(0.0, 1 - exceeds);
}

bool shows_though_sound(const circuit::Analysis& analysis, const circuit::ModeSet& set) {
  if (set.link.weight.empty()) return false;  // by grades: sound shows nothing
  for (std::size_t l = 0; l < set.link.weight.size(); ++l) {
    bool all = true;
    for (std::size_t i = 0; i < set.modes.size() && all; ++i) {
      const auto states = states_of(analysis.modes[set.modes[i]]);
      bool some = false;
      for (std::size_t k = 0; k < states.size(); ++k) {
        some |= states[k].grade == 0 && set.link.exceeds[i][2 * l * states.size() + k] > 0;
      }
      all = some;
    }
    if (all) return true;
  }
  return false;
}

std::size_t StateClasses::representative(std::size_t c) const {
  return static_cast<std::size_t>(std::find(of.begin(), of.end(), c) - of.begin());
}

template <typename Value>
void StatesAlike::tell_apart(const Value* by_state) {
  const std::vector<std::uint8_t> before = classes_.of;
  const std::size_t n = before.size();
  if (classes_.count == n) return;
  classes_.count = 0;
  for (std::size_t k = 0; k < n; ++k) {
    std::size_t first = 0;
    while (before[first] != before[k] || by_state[first] != by_state[k]) ++first;
    classes_.of[k] = first < k ? classes_.of[first] : static_cast<std::uint8_t>(classes_.count++);
  }
}

void StatesAlike::add(const circuit::SetLink& link, std::size_t place) {
  const std::vector<double>& exceeds = link.exceeds[place];
  const std::size_t n = classes_.of.size();
  for (std::size_t row = 0; row < exceeds.size() / n; ++row) tell_apart(exceeds.data() + row * n);
}

void StatesAlike::add(std::span<const std::uint8_t> also) { tell_apart(also.data()); }

}  // namespace faultodds::diagnosis
