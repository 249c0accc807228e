#include "core/diagnosis/mode_states.h"

#include <algorithm>
#include <map>

namespace faultodds::diagnosis {

std::span<const circuit::ModeState> states_of(const circuit::FailureMode& mode) {
  static constexpr circuit::ModeState kSteps[3] = {{0, 1, 0, 0}, {1, 1, 0, 0}, {2, 1, 0, 0}};
  if (mode.states.empty()) return kSteps;
  return mode.states;
}

circuit::SetLink link_of(const circuit::Analysis& analysis, const circuit::ModeSet& set) {
  if (!set.link.weight.empty()) return set.link;
  circuit::SetLink link{{set.probability}, {}};
  for (std::uint32_t m : set.modes) {
    const auto states = states_of(analysis.modes[m]);
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

void StatesAlike::add(const circuit::SetLink& link, std::size_t place) {
  const std::vector<double>& exceeds = link.exceeds[place];
  const std::size_t n = key_.size();
  for (std::size_t k = 0; k < n; ++k) {
    for (std::size_t row = 0; row < exceeds.size() / n; ++row) {
      key_[k].push_back(exceeds[row * n + k]);
    }
  }
}

void StatesAlike::add(std::span<const std::uint8_t> also) {
  for (std::size_t k = 0; k < key_.size(); ++k) key_[k].push_back(also[k]);
}

StateClasses StatesAlike::classes() const {
  StateClasses result;
  std::map<std::vector<double>, std::uint8_t> known;
  for (const std::vector<double>& key : key_) {
    const auto at = known.try_emplace(key, static_cast<std::uint8_t>(known.size())).first;
    result.of.push_back(at->second);
  }
  result.count = known.size();
  return result;
}

}  // namespace faultodds::diagnosis
