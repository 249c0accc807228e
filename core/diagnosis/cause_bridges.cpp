// Which modes are bridges between groups: part of cause_layout.h.
#include <algorithm>
#include <cmath>
#include <iterator>
#include <limits>
#include <numeric>

#include "core/diagnosis/cause_layout.h"
#include "core/stop.h"

namespace faultodds::diagnosis {

using namespace products;

namespace {

// Combinations of bridges that are gone through at most.
constexpr double kMostBridged = 1 << 14;
constexpr std::size_t kMostObserved = 24;
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

// What the observations of a case have to do with each other, and what it takes to sum them where
// some modes are gone through one by one.
class CauseProducts::Layout::Division {
 public:
  Division(const Layout& layout, const circuit::Analysis& analysis, std::size_t wanted)
      : layout_(layout),
        analysis_(analysis),
        tests_(static_cast<double>(wanted)),
        seen_by_(analysis.modes.size(), 0),
        classes_(analysis.modes.size()) {
    std::vector<std::uint32_t> modes;
    for (const std::uint32_t o : layout.observed) {
      std::vector<std::uint32_t> of;
      for (const auto& set : analysis.observations[o].sets) {
        of.insert(of.end(), set.modes.begin(), set.modes.end());
      }
      of_observation_.push_back(sorted_unique(std::move(of)));
      for (const std::uint32_t m : of_observation_.back()) {
        if (seen_by_[m]++ == 0) modes.push_back(m);
      }
    }
    std::map<std::uint32_t, StatesAlike> alike =
        layout.told_apart(analysis, layout.observed, modes);
    for (const std::uint32_t m : modes) classes_[m] = alike.at(m).classes();
    std::erase_if(modes, [&](std::uint32_t m) { return seen_by_[m] < 2; });
    shared_ = sorted_unique(std::move(modes));
    fixed_.assign(analysis.modes.size(), false);
    divide();
  }

  // Looks for the modes to be fixed for which the sum takes least: those that most observations
  // have, all that tie one of them to others, or all that tie those together which have less in
  // common than others.
  void search() {
    std::vector<bool> best = fixed_;
    double least = work_;
    const auto consider = [&] {
      check_stop();
      divide();
      if (work_ < least) {
        least = work_;
        best = fixed_;
      }
    };
    std::vector<std::uint32_t> by_number = shared_;
    std::stable_sort(by_number.begin(), by_number.end(),
                     [&](std::uint32_t a, std::uint32_t b) { return seen_by_[a] > seen_by_[b]; });
    for (std::size_t i = 0; i < std::min(by_number.size(), kMostFixed); ++i) {
      fixed_[by_number[i]] = true;
      consider();
    }
    std::vector<bool> now(fixed_.size(), false);
    for (std::size_t round = 0; round < kMostRounds; ++round) {
      std::vector<bool> next;
      double least_next = std::numeric_limits<double>::infinity();
      for (const std::vector<std::uint32_t>& modes : of_observation_) {
        fixed_ = now;
        for (const std::uint32_t m : modes) {
          if (seen_by_[m] > 1) fixed_[m] = true;
        }
        if (fixed_ == now) continue;
        consider();
        if (work_ >= least_next) continue;
        least_next = work_;
        next = fixed_;
      }
      if (next.empty()) break;
      now = next;
    }
    const std::size_t n = of_observation_.size();
    std::vector<std::size_t> cluster(n);
    std::iota(cluster.begin(), cluster.end(), std::size_t{0});
    for (const auto& [a, b] : closest_first()) {
      if (cluster[a] == cluster[b]) continue;
      const std::size_t from = cluster[a], into = cluster[b];
      for (std::size_t& one : cluster) one = one == from ? into : one;
      std::fill(fixed_.begin(), fixed_.end(), false);
      std::vector<std::size_t> in(fixed_.size(), n);
      for (std::size_t i = 0; i < n; ++i) {
        for (const std::uint32_t m : of_observation_[i]) {
          if (in[m] != n && in[m] != cluster[i]) fixed_[m] = true;
          in[m] = cluster[i];
        }
      }
      consider();
    }
    fixed_ = best;
    divide();
  }

  double largest() const { return largest_; }  // number of lanes of a group
  const std::vector<std::uint32_t>& bridges() const { return bridges_; }
  const std::vector<std::uint32_t>& folds() const { return folds_; }
  const StateClasses& classes(std::uint32_t mode) const { return classes_[mode]; }

 private:
  static constexpr std::size_t kMostFixed = 12, kMostRounds = 8;
  struct Part {
    std::vector<std::vector<std::uint32_t>> sets;  // without the fixed modes
    std::vector<std::uint32_t> fixed;              // in its sets, ascending
  };

  void divide() {
    const Parts parts = layout_.parts_without(analysis_, fixed_);
    std::vector<Part> all;
    for (const std::vector<std::size_t>& part : parts) {
      Part& one = all.emplace_back();
      for (const std::size_t i : part) {
        for (const auto& set : analysis_.observations[layout_.observed[i]].sets) {
          std::vector<std::uint32_t>& others = one.sets.emplace_back();
          for (const std::uint32_t m : set.modes) (fixed_[m] ? one.fixed : others).push_back(m);
        }
      }
      one.fixed = sorted_unique(std::move(one.fixed));
    }
    find_folds(parts, all);
    double bridged = 1;
    for (const std::uint32_t m : bridges_) bridged *= count(m);
    work_ = bridged * static_cast<double>(parts.size()) * tests_ * kOfTest;
    if (bridged > kMostBridged) work_ = std::numeric_limits<double>::infinity();
    largest_ = 0;
    for (std::size_t p = 0; p < parts.size(); ++p) {
      std::vector<std::uint32_t> modes;
      for (const auto& set : all[p].sets) modes.insert(modes.end(), set.begin(), set.end());
      const std::vector<std::uint32_t> cut = cutset(all[p].sets);
      const std::size_t atoms = sorted_unique(std::move(modes)).size() - cut.size();
      double lanes = std::pow(3.0, static_cast<double>(parts[p].size() - (p == 0 ? 1 : 0)));
      for (const std::uint32_t m : cut) lanes *= count(m);
      for (const std::uint32_t m : all[p].fixed) lanes *= count(m);
      if (p == 0) lanes *= static_cast<double>(layout_.marks());
      largest_ = std::max(largest_, lanes);
      work_ += lanes * (kOfAtom * static_cast<double>(atoms) + kOfLane +
                        (p == 0 ? kOfColumn * static_cast<double>(layout_.columns) : 0));
    }
  }

  // Fixed modes that are all that ties some parts to the focus's, and are an atom of that.
  void find_folds(const Parts& parts, std::vector<Part>& all) {
    folds_.clear();
    bridges_.clear();
    std::vector<std::uint32_t> fixed;
    for (const Part& one : all) fixed.insert(fixed.end(), one.fixed.begin(), one.fixed.end());
    std::vector<bool> may(analysis_.modes.size(), false);
    for (const std::uint32_t m : all[0].fixed) may[m] = true;
    for (std::size_t p = 1; p < all.size(); ++p) {
      if (all[p].fixed.size() == 1) continue;
      for (const std::uint32_t m : all[p].fixed) may[m] = false;
    }
    std::vector<std::vector<std::uint32_t>> sets;
    for (const std::size_t i : parts[0]) {
      for (const auto& set : analysis_.observations[layout_.observed[i]].sets) {
        sets.push_back(set.modes);
      }
    }
    for (bool again = true; again;) {
      again = false;
      for (auto& set : sets) {
        std::erase_if(set, [&](std::uint32_t m) { return fixed_[m] && !may[m]; });
      }
      for (const std::uint32_t m : cutset(sets)) {
        if (!fixed_[m]) continue;
        may[m] = false;
        again = true;
      }
    }
    for (const std::uint32_t m : sorted_unique(std::move(fixed))) {
      (may[m] ? folds_ : bridges_).push_back(m);
    }
    all[0].sets = std::move(sets);  // in which folds are modes as others are
    std::erase_if(all[0].fixed, [&](std::uint32_t m) { return may[m]; });
  }

  // Pairs of observations, those first that have most modes in common.
  std::vector<std::pair<std::size_t, std::size_t>> closest_first() const {
    std::vector<std::pair<std::size_t, std::size_t>> pairs;
    std::vector<std::size_t> common;
    for (std::size_t a = 0; a < of_observation_.size(); ++a) {
      for (std::size_t b = 0; b < a; ++b) {
        std::vector<std::uint32_t> both;
        std::set_intersection(of_observation_[a].begin(), of_observation_[a].end(),
                              of_observation_[b].begin(), of_observation_[b].end(),
                              std::back_inserter(both));
        pairs.emplace_back(a, b);
        common.push_back(both.size());
      }
    }
    std::vector<std::size_t> order(pairs.size());
    std::iota(order.begin(), order.end(), std::size_t{0});
    std::stable_sort(order.begin(), order.end(),
                     [&](std::size_t a, std::size_t b) { return common[a] > common[b]; });
    std::vector<std::pair<std::size_t, std::size_t>> sorted;
    for (const std::size_t i : order) sorted.push_back(pairs[i]);
    return sorted;
  }

  double count(std::uint32_t m) const { return static_cast<double>(classes_[m].count); }

  const Layout& layout_;
  const circuit::Analysis& analysis_;
  const double tests_;
  std::vector<std::vector<std::uint32_t>> of_observation_;  // modes
  std::vector<std::size_t> seen_by_;                        // by mode: observations
  std::vector<StateClasses> classes_;
  std::vector<std::uint32_t> shared_;  // by several observations
  std::vector<bool> fixed_;
  // Of the modes that are fixed:
  std::vector<std::uint32_t> bridges_, folds_;
  double work_ = 0, largest_ = 0;
};

// Nothing of this changes a sum but by rounding. Not of so many observations that their groups'
// sums, multiplied, could be less than any number.
void CauseProducts::Layout::choose_bridges(const circuit::Analysis& analysis, double most_lanes,
                                           std::size_t wanted, std::vector<Where>& where) {
  if (observed.size() < 2 || observed.size() > kMostObserved) return;
  Division division(*this, analysis, wanted);
  if (division.largest() <= most_lanes) return;
  division.search();
  for (const std::uint32_t m : division.bridges()) {
    where[m].bridge = static_cast<std::uint32_t>(bridges.size());
    bridges.push_back(m);
    bridge_digits.classes.push_back(division.classes(m));
  }
  for (const std::uint32_t m : division.folds()) {
    where[m].fold = static_cast<std::uint32_t>(folds.size());
    folds.push_back({m, division.classes(m)});
  }
}

}  // namespace faultodds::diagnosis
