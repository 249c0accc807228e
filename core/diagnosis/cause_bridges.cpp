// Which modes are bridges between groups: part of cause_layout.h.
#include <algorithm>
#include <cmath>
#include <numeric>

#include "core/diagnosis/cause_layout.h"
#include "core/stop.h"

namespace faultodds::diagnosis {

using namespace products;

namespace {

// Combinations of bridges that are gone through at most.
constexpr double kMostBridged = 1 << 14;
// Operations on a lane for a column and an atom, and for a test on a combination of the bridges,
// about, as CauseProducts::operations() has them.
constexpr double kOfColumn = 6, kOfAtom = 2, kOfLane = 4, kOfTest = 8;

}  // namespace

// Observations that share a mode which is no bridge are one part.
CauseProducts::Layout::Parts CauseProducts::Layout::parts_without(
    const circuit::Analysis& analysis, const std::vector<bool>& bridge) const {
  std::vector<std::size_t> part(observed.size());
  std::iota(part.begin(), part.end(), std::size_t{0});
  const auto find = [&](std::size_t i) {
    while (part[i] != i) i = part[i];
    return i;
  };
  std::vector<std::size_t> first_with(analysis.modes.size(), observed.size());
  for (std::size_t i = 0; i < observed.size(); ++i) {
    for (const auto& set : analysis.observations[observed[i]].sets) {
      for (std::uint32_t m : set.modes) {
        if (bridge[m]) continue;
        if (first_with[m] == observed.size()) {
          first_with[m] = i;
        } else {
          const std::size_t a = find(first_with[m]), b = find(i);
          part[std::max(a, b)] = std::min(a, b);
        }
      }
    }
  }
  const std::size_t at_focus = *position(observed, focus);
  std::vector<std::size_t> roots{find(at_focus)};
  for (std::size_t i = 0; i < observed.size(); ++i) {
    if (find(i) == i && i != roots[0]) roots.push_back(i);
  }
  Parts parts;
  for (const std::size_t root : roots) {
    std::vector<std::size_t>& of = parts.emplace_back();
    for (std::size_t i = 0; i < observed.size(); ++i) {
      if (find(i) == root) of.push_back(i);
    }
  }
  return parts;
}

// Modes of several observations are made bridges, those of most first, as long as what is to be
// summed becomes less. Nothing of it changes a sum but by rounding.
void CauseProducts::Layout::choose_bridges(const circuit::Analysis& analysis, double most_lanes,
                                           std::size_t wanted, std::vector<Where>& where) {
  std::vector<std::size_t> seen_by(analysis.modes.size(), 0);
  std::vector<std::uint32_t> modes;
  for (const std::uint32_t o : observed) {
    std::vector<std::uint32_t> of;
    for (const auto& set : analysis.observations[o].sets) {
      of.insert(of.end(), set.modes.begin(), set.modes.end());
    }
    for (const std::uint32_t m : sorted_unique(std::move(of))) {
      if (seen_by[m]++ == 0) modes.push_back(m);
    }
  }
  modes = sorted_unique(std::move(modes));
  std::map<std::uint32_t, StatesAlike> alike = told_apart(analysis, observed, modes);
  std::vector<StateClasses> classes(analysis.modes.size());
  for (const std::uint32_t m : modes) classes[m] = alike.at(m).classes();
  const auto count = [&](std::uint32_t m) { return static_cast<double>(classes[m].count); };

  double largest = 0;  // number of lanes of a group
  const auto work = [&](const std::vector<bool>& bridge, double bridged) {
    double sum = 0;
    largest = 0;
    const Parts parts = parts_without(analysis, bridge);
    for (std::size_t p = 0; p < parts.size(); ++p) {
      std::vector<std::vector<std::uint32_t>> sets;
      std::vector<std::uint32_t> all, known;
      for (const std::size_t i : parts[p]) {
        for (const auto& set : analysis.observations[observed[i]].sets) {
          std::vector<std::uint32_t> others;
          for (const std::uint32_t m : set.modes) (bridge[m] ? known : others).push_back(m);
          all.insert(all.end(), others.begin(), others.end());
          sets.push_back(std::move(others));
        }
      }
      const std::vector<std::uint32_t> cut = cutset(std::move(sets));
      const std::size_t atoms = sorted_unique(std::move(all)).size() - cut.size();
      double lanes = std::pow(3.0, static_cast<double>(parts[p].size() - (p == 0 ? 1 : 0)));
      for (const std::uint32_t m : cut) lanes *= count(m);
      for (const std::uint32_t m : sorted_unique(std::move(known))) lanes *= count(m);
      if (p == 0) lanes *= static_cast<double>(marks());
      largest = std::max(largest, lanes);
      sum += lanes * (kOfAtom * static_cast<double>(atoms) + kOfLane +
                      (p == 0 ? kOfColumn * static_cast<double>(columns) : 0));
    }
    return sum + bridged * static_cast<double>(wanted * parts.size()) * kOfTest;
  };

  std::vector<bool> bridge(analysis.modes.size(), false), best_bridge = bridge;
  double least = work(bridge, 1);
  if (largest <= most_lanes) return;
  std::erase_if(modes, [&](std::uint32_t m) { return seen_by[m] < 2; });
  std::stable_sort(modes.begin(), modes.end(),
                   [&](std::uint32_t a, std::uint32_t b) { return seen_by[a] > seen_by[b]; });
  double bridged = 1;
  for (const std::uint32_t m : modes) {
    check_stop();
    bridged *= count(m);
    if (bridged > kMostBridged) break;
    bridge[m] = true;
    const double now = work(bridge, bridged);
    if (now < least) {
      least = now;
      best_bridge = bridge;
    }
  }
  for (std::uint32_t m = 0; m < best_bridge.size(); ++m) {
    if (!best_bridge[m]) continue;
    where[m].bridge = static_cast<std::uint32_t>(bridges.size());
    bridges.push_back(m);
    bridge_digits.classes.push_back(classes[m]);
  }
}

}  // namespace faultodds::diagnosis
