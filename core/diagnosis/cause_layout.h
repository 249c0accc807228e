// How the evidence of one pattern and the tests tie modes together, and which states of each are
// told apart: what cause_summation.h sums over. Part of cause_products.h, which says how. No
// probabilities of modes; of links only.
#pragma once

#include <algorithm>
#include <cstddef>
#include <cstdint>
#include <map>
#include <optional>
#include <vector>

#include "core/diagnosis/cause_products.h"
#include "core/diagnosis/marks.h"
#include "core/diagnosis/mode_states.h"

namespace faultodds::diagnosis {
namespace products {

inline constexpr std::size_t kThresholds = 2;  // S <= 0 and S <= 1; S <= 2 is certain
inline constexpr int kFocus = -1;              // slot of an occurrence in a set of the focus
inline constexpr auto kNone = static_cast<std::uint32_t>(-1);

inline std::size_t power_of_3(std::size_t n) {
  std::size_t p = 1;
  while (n-- > 0) p *= kGrades;
  return p;
}

// The modes of a cutset: a combination of their classes of states is a number whose digits they
// are, the first mode's the lowest.
struct Digits {
  std::vector<StateClasses> classes;
  std::vector<std::size_t> place;  // of each, and the number of combinations

  double combinations() const {
    double n = 1;
    for (const StateClasses& one : classes) n *= static_cast<double>(one.count);
    return n;
  }
  void set_places() {
    place.assign(1, 1);
    for (const StateClasses& one : classes) place.push_back(place.back() * one.count);
  }
  std::size_t of(std::size_t combination, std::size_t i) const {
    return combination / place[i] % classes[i].count;
  }
};

// Fewest modes, about, such that every set has at most one mode outside them: those in most sets
// first, the lowest index among equals. Ascending.
std::vector<std::uint32_t> cutset(std::vector<std::vector<std::uint32_t>> sets);
std::vector<std::uint32_t> sorted_unique(std::vector<std::uint32_t> v);

// A mode's place in one set of an observation; the other modes of the set are in the cutset.
struct Occurrence {
  int slot = kFocus;               // of a group's other observations
  std::uint32_t set = 0;           // of its observation
  std::vector<std::uint32_t> cut;  // positions in the cutset
  // P(the set shows at most t): by the combination of the classes of the cut modes, the mode's own
  // class lowest, and t.
  std::vector<double> at_most;
  std::vector<std::size_t> stride;  // of each cut mode
  std::vector<std::uint8_t> sound;  // whether all its modes are, by combination; focus only
  std::size_t entry(const Digits& digits, std::size_t combination) const {
    std::size_t at = 0;
    for (std::size_t i = 0; i < cut.size(); ++i) at += stride[i] * digits.of(combination, cut[i]);
    return at;
  }
};
inline std::optional<std::uint32_t> position(const std::vector<std::uint32_t>& sorted,
                                             std::uint32_t x) {
  const auto at = std::lower_bound(sorted.begin(), sorted.end(), x);
  if (at == sorted.end() || *at != x) return std::nullopt;
  return static_cast<std::uint32_t>(at - sorted.begin());
}

// Observations with evidence that share modes other than bridges.
struct Group {
  bool focus = false;
  std::vector<std::uint32_t> others;      // positions in `observed`, but the focus
  std::vector<std::uint32_t> cut, atoms;  // of the cutset those first that are no bridges
  std::size_t own_cuts = 0;               // how many these are
  std::vector<std::uint32_t> bridges;     // positions in the layout's, of the cutset's others
  std::vector<std::vector<std::uint8_t>> of_bridge;  // by bridge of it, class of that: its class
  // Instead of bridges: the mode that ties it to the focus's group, and by class of that its class.
  std::uint32_t fold = kNone;
  std::vector<std::uint8_t> of_fold;
  Digits digits;                            // of the cutset
  std::vector<StateClasses> classes;        // by atom
  std::vector<std::vector<Occurrence>> in;  // by atom
  std::vector<Occurrence> fixed;            // sets inside the cutset
  // Coordinates that an atom's factor depends on: modes of the cutset, then the others.
  std::vector<std::uint64_t> depends;
  std::size_t lanes = 0;  // of one combination of conditions, all thresholds
  std::size_t coordinates() const { return cut.size() + others.size(); }
  // Combinations of the classes of its bridges, or its fold's, the highest digits of the cutset's.
  std::size_t slices() const { return digits.place.back() / digits.place[own_cuts]; }
  std::size_t slice_of(std::size_t combination) const {
    return combination / digits.place[own_cuts];
  }
  // By combination of all bridges of the layout.
  std::size_t slice_of(const Digits& all, std::size_t bridged) const {
    std::size_t combination = 0;
    for (std::size_t i = 0; i < bridges.size(); ++i) {
      combination += digits.place[own_cuts + i] * of_bridge[i][all.of(bridged, bridges[i])];
    }
    return slice_of(combination);
  }
};

// Where a mode stands among the groups.
struct Where {
  std::uint32_t group = kNone;
  bool cut = false;
  std::uint32_t index = 0;
  std::uint32_t bridge = kNone;  // position among the bridges; of no group then
  std::uint32_t fold = kNone;    // position among the folds; an atom of the focus's group then
};

// A mode outside a test's own cutset, and the sets of the test it is in.
struct Touched {
  std::uint32_t index = 0;  // atom of its group, or a mode
  std::vector<Occurrence> in;
  StateClasses classes;  // that neither the test nor the evidence tells apart
};

// A mode of a group whose grade the test's cutset fixes.
struct Pinned {
  std::uint32_t index = 0;  // atom of the group, or position in the group's cutset or of the bridge
  std::uint32_t cut = 0;    // position in the test's cutset
};

struct TestLayout {
  std::uint32_t observation = 0;
  std::vector<std::uint32_t> cut;                      // modes
  Digits digits;                                       // of them
  std::vector<std::vector<std::uint8_t>> of_evidence;  // by cut mode, class: its group's class
  std::vector<Occurrence> fixed;                       // sets inside the cutset
  std::vector<std::uint32_t> touches;                  // groups, ascending
  // By entry of `touches`:
  std::vector<std::vector<Touched>> touched;  // atoms
  std::vector<std::vector<Pinned>> in_cut;    // atoms of the group in the test's cutset
  std::vector<std::vector<Pinned>> hub;       // modes of both cutsets
  std::vector<std::uint32_t> fold;            // of the group: position in `cut`, or kNone
  std::vector<Pinned> bridges;                // that are in its cutset
  std::vector<Touched> free;                  // modes of no group
  std::vector<std::uint32_t> free_cut;        // positions in `cut`
  std::vector<std::uint32_t> conditions;      // of the free modes, ascending
  bool near() const { return !touches.empty() && touches.front() == 0; }
};

// The coordinates of a group that a test depends on.
inline std::uint64_t kept(const Group& group, const TestLayout& test, std::size_t entry) {
  std::uint64_t keeps = 0;
  for (const Touched& one : test.touched[entry]) keeps |= group.depends[one.index];
  for (const Pinned& one : test.in_cut[entry]) keeps |= group.depends[one.index];
  for (const Pinned& one : test.hub[entry]) keeps |= std::uint64_t{1} << one.index;
  for (std::size_t i = group.own_cuts; i < group.cut.size(); ++i) keeps |= std::uint64_t{1} << i;
  return keeps;
}
}  // namespace products

struct CauseProducts::Layout {
  std::vector<std::uint32_t> observed;
  std::uint32_t focus = 0;
  std::size_t focus_sets = 0;
  std::size_t columns = 0;  // of shares: its sets, then those of its sets that show though sound
  bool too_large = false;   // to be summed
  std::size_t nodes = 1;    // of the quadrature
  std::size_t numbers = 0;  // of observations and modes
  CauseValues values;
  std::vector<std::uint32_t> conditions;  // on modes of groups, ascending
  // Modes that would tie observations to one group too large to be summed at once: their classes
  // are gone through combination by combination, as those of the conditions are.
  std::vector<std::uint32_t> bridges;
  products::Digits bridge_digits;
  // A fold is an atom of the focus's group, and all that ties some other groups to it: their sums,
  // by its class, are a likelihood of it.
  struct Fold {
    std::uint32_t mode = 0;
    StateClasses classes;  // that any of the observations tells apart
  };
  std::vector<Fold> folds;
  std::vector<products::Group> groups;  // the focus's first
  std::vector<products::TestLayout> tests;

  // Bridges are made where a group would have more than `most_lanes`.
  Layout(const Model& model, std::vector<std::uint32_t> seen, std::uint32_t q,
         std::vector<std::uint32_t> wanted, double most_lanes);
  std::size_t marks() const { return 2 * nodes + 1; }
  // Numbers that a summation (cause_summation.h) keeps of each lane of a group, and of its atoms
  // with all thresholds and so many marks, about.
  double numbers_per_lane(const products::Group& group) const;
  double numbers_of_atoms(const products::Group& group, double marks) const;

 private:
  using Parts =
      std::vector<std::vector<std::size_t>>;  // positions in `observed`, the focus's first
  std::map<std::uint32_t, StatesAlike> told_apart(const circuit::Analysis& analysis,
                                                  const std::vector<std::uint32_t>& by,
                                                  const std::vector<std::uint32_t>& modes) const;
  Parts parts_without(const circuit::Analysis& analysis, const std::vector<bool>& bridge) const;
  products::Group group_of(const circuit::Analysis& analysis, const std::vector<std::size_t>& part,
                           const std::vector<products::Where>& where) const;
  class Division;
  void choose_bridges(const circuit::Analysis& analysis, double most_lanes, std::size_t wanted,
                      std::vector<products::Where>& where);
  void make_groups(const circuit::Analysis& analysis, std::vector<products::Where>& where);
  void fill_group(const circuit::Analysis& analysis, products::Group& group,
                  std::vector<products::Where>& where);
  void classify(const circuit::Analysis& analysis, products::Group& group) const;
  products::TestLayout test_layout(const Model& model, std::uint32_t o,
                                   const std::vector<products::Where>& where, SetLinks& links);
  void classify(const circuit::Analysis& analysis, const std::vector<circuit::ModeSet>& sets,
                const std::vector<std::uint32_t>& modes, const std::vector<products::Where>& where,
                SetLinks& links, products::TestLayout& test,
                std::vector<products::Touched>& outside);
};

}  // namespace faultodds::diagnosis
