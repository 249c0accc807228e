#include "core/diagnosis/cause_products.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <limits>
#include <map>
#include <numeric>
#include <optional>
#include <set>

#include "core/diagnosis/marks.h"
#include "core/diagnosis/mode_states.h"
#include "core/diagnosis/program.h"
#include "core/error.h"
#include "core/stop.h"

namespace faultodds::diagnosis {
namespace {

constexpr std::size_t kGrades = 3;
constexpr std::size_t kThresholds = 2;  // S <= 0 and S <= 1; S <= 2 is certain
constexpr int kFocus = -1;              // slot of an occurrence in a set of the focus
constexpr auto kNone = static_cast<std::uint32_t>(-1);
// Coordinates of one group's lanes have a bit each; of lanes, of combinations of one cutset and of
// entries of one set's table there are at most so many. Where there are more, nothing is
// summed.
constexpr std::size_t kMostCoordinates = 40;
constexpr double kMostCombinations = 1 << 26;
constexpr std::size_t kMostEntries = 1 << 16;

std::size_t power_of_3(std::size_t n) {
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

// Where the modes of a set stand in it: those of the cutset, and the one outside if there is one.
struct Places {
  std::vector<std::size_t> cut;
  std::optional<std::size_t> own;
};

// Fills in which modes of a set are in the cutset; `position` tells a mode's place there.
template <typename Position>
Places split(Occurrence& one, const circuit::ModeSet& set, const Position& position) {
  Places places;
  for (std::size_t i = 0; i < set.modes.size(); ++i) {
    if (const std::optional<std::uint32_t> c = position(set.modes[i])) {
      one.cut.push_back(*c);
      places.cut.push_back(i);
    } else {
      places.own = i;
    }
  }
  return places;
}

// Fills in what an occurrence shows; false where that takes too large a table. `own_classes` are
// those of the mode outside the cutset.
bool fill_table(Occurrence& one, const circuit::Analysis& analysis, const circuit::ModeSet& set,
                const circuit::SetLink& link, const Digits& digits, const Places& places,
                const StateClasses* own_classes) {
  std::size_t entries = places.own ? own_classes->count : 1;
  one.stride.clear();
  for (std::uint32_t c : one.cut) {
    one.stride.push_back(entries);
    entries *= digits.classes[c].count;
    if (entries > kMostEntries) return false;
  }
  std::vector<std::size_t> states(set.modes.size());
  one.at_most.resize(entries * kThresholds);
  if (one.slot == kFocus) one.sound.resize(entries);
  for (std::size_t entry = 0; entry < entries; ++entry) {
    std::size_t rest = entry;
    if (places.own) {
      states[*places.own] = own_classes->representative(rest % own_classes->count);
      rest /= own_classes->count;
    }
    for (std::size_t i = 0; i < one.cut.size(); ++i) {
      const StateClasses& classes = digits.classes[one.cut[i]];
      states[places.cut[i]] = classes.representative(rest % classes.count);
      rest /= classes.count;
    }
    if (one.slot == kFocus) {
      bool sound = true;
      for (std::size_t i = 0; i < states.size(); ++i) {
        sound &= states_of(analysis.modes[set.modes[i]])[states[i]].grade == 0;
      }
      one.sound[entry] = sound;
    }
    for (std::size_t t = 0; t < kThresholds; ++t) {
      one.at_most[entry * kThresholds + t] = at_most(link, t, states);
    }
  }
  return true;
}

// Fewest modes, about, such that every set has at most one mode outside them: those in most sets
// first, the lowest index among equals.
std::vector<std::uint32_t> cutset(std::vector<std::vector<std::uint32_t>> sets) {
  std::vector<std::uint32_t> cut;
  for (;;) {
    std::erase_if(sets, [](const auto& set) { return set.size() < 2; });
    if (sets.empty()) break;
    std::vector<std::pair<std::uint32_t, std::size_t>> count;
    for (const auto& set : sets) {
      for (std::uint32_t m : set) {
        const auto at = std::lower_bound(count.begin(), count.end(), std::pair(m, std::size_t{0}));
        if (at != count.end() && at->first == m) {
          ++at->second;
        } else {
          count.insert(at, {m, 1});
        }
      }
    }
    const auto most = std::max_element(count.begin(), count.end(),
                                       [](auto a, auto b) { return a.second < b.second; });
    cut.push_back(most->first);
    for (auto& set : sets) std::erase(set, most->first);
  }
  std::sort(cut.begin(), cut.end());
  return cut;
}

std::vector<std::uint32_t> sorted_unique(std::vector<std::uint32_t> v) {
  std::sort(v.begin(), v.end());
  v.erase(std::unique(v.begin(), v.end()), v.end());
  return v;
}

std::optional<std::uint32_t> position(const std::vector<std::uint32_t>& sorted, std::uint32_t x) {
  const auto at = std::lower_bound(sorted.begin(), sorted.end(), x);
  if (at == sorted.end() || *at != x) return std::nullopt;
  return static_cast<std::uint32_t>(at - sorted.begin());
}

// Observations with evidence that share modes.
struct Group {
  bool focus = false;
  std::vector<std::uint32_t> others;  // positions in `observed`, but the focus
  std::vector<std::uint32_t> cut, atoms;
  Digits digits;                            // of the cutset
  std::vector<StateClasses> classes;        // by atom
  std::vector<std::vector<Occurrence>> in;  // by atom
  std::vector<Occurrence> fixed;            // sets inside the cutset
  // Coordinates that an atom's factor depends on: modes of the cutset, then the others.
  std::vector<std::uint64_t> depends;
  std::size_t lanes = 0;  // of one combination of conditions, all thresholds
  std::size_t coordinates() const { return cut.size() + others.size(); }
};

// Where a mode stands among the groups.
struct Where {
  std::uint32_t group = kNone;
  bool cut = false;
  std::uint32_t index = 0;
};

// A mode outside a test's own cutset, and the sets of the test it is in.
struct Touched {
  std::uint32_t index = 0;  // atom of its group, or a mode
  std::vector<Occurrence> in;
  StateClasses classes;                   // that neither the test nor the evidence tells apart
  std::vector<std::uint8_t> of_evidence;  // by class: its group's class
};

// A mode of a group whose grade the test's cutset fixes.
struct Pinned {
  std::uint32_t index = 0;  // atom of the group, or position in the group's cutset
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
  std::vector<Touched> free;                  // modes of no group
  std::vector<std::uint32_t> free_cut;        // positions in `cut`
  std::vector<std::uint32_t> conditions;      // of the free modes, ascending
  bool near() const { return !touches.empty() && touches.front() == 0; }
};

// The coordinates of a group that a test depends on.
std::uint64_t kept(const Group& group, const TestLayout& test, std::size_t entry) {
  std::uint64_t keeps = 0;
  for (const Touched& one : test.touched[entry]) keeps |= group.depends[one.index];
  for (const Pinned& one : test.in_cut[entry]) keeps |= group.depends[one.index];
  for (const Pinned& one : test.hub[entry]) keeps |= std::uint64_t{1} << one.index;
  return keeps;
}

// The group's class of each of a finer partition's classes.
std::vector<std::uint8_t> coarser(const StateClasses& fine, const StateClasses& coarse) {
  std::vector<std::uint8_t> of(fine.count);
  for (std::size_t k = 0; k < fine.of.size(); ++k) of[fine.of[k]] = coarse.of[k];
  return of;
}

}  // namespace

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
  std::vector<Group> groups;              // the focus's first
  std::vector<TestLayout> tests;

  Layout(const Model& model, std::vector<std::uint32_t> seen, std::uint32_t q,
         std::vector<std::uint32_t> wanted);
  std::size_t marks() const { return 2 * nodes + 1; }

 private:
  void make_groups(const circuit::Analysis& analysis, std::vector<Where>& where);
  void fill_group(const circuit::Analysis& analysis, Group& group, std::vector<Where>& where);
  void classify(const circuit::Analysis& analysis, Group& group) const;
  TestLayout test_layout(const Model& model, std::uint32_t o, const std::vector<Where>& where);
  void classify(const circuit::Analysis& analysis, const std::vector<circuit::ModeSet>& sets,
                const std::vector<std::uint32_t>& modes, const std::vector<Where>& where,
                TestLayout& test, std::vector<Touched>& outside);
};

CauseProducts::Layout::Layout(const Model& model, std::vector<std::uint32_t> seen, std::uint32_t q,
                              std::vector<std::uint32_t> wanted)
    : observed(std::move(seen)),
      focus(q),
      numbers(model.analysis().observations.size() + model.analysis().modes.size()),
      values(cause_values(model.analysis(), q)) {
  const circuit::Analysis& analysis = model.analysis();
  focus_sets = analysis.observations[q].sets.size();
  columns = focus_sets + values.though_sound.size();
  nodes = quadrature_nodes(focus_sets);
  std::vector<Where> where(analysis.modes.size());
  make_groups(analysis, where);
  for (const Group& group : groups) {
    for (const auto* list : {&group.cut, &group.atoms}) {
      for (std::uint32_t m : *list) {
        const auto& by = model.program().mode_conditions()[m].conditions;
        conditions.insert(conditions.end(), by.begin(), by.end());
      }
    }
  }
  conditions = sorted_unique(std::move(conditions));
  for (std::uint32_t o : wanted) {
    if (too_large) break;
    tests.push_back(test_layout(model, o, where));
  }
}

void CauseProducts::Layout::make_groups(const circuit::Analysis& analysis,
                                        std::vector<Where>& where) {
  // Observations that share a mode are one group.
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
  for (std::size_t root : roots) {
    Group group;
    group.focus = root == roots[0];
    std::vector<std::vector<std::uint32_t>> sets;
    std::vector<std::uint32_t> modes;
    for (std::size_t i = 0; i < observed.size(); ++i) {
      if (find(i) != root) continue;
      if (i != at_focus) group.others.push_back(static_cast<std::uint32_t>(i));
      for (const auto& set : analysis.observations[observed[i]].sets) {
        sets.push_back(set.modes);
        modes.insert(modes.end(), set.modes.begin(), set.modes.end());
      }
    }
    group.cut = cutset(std::move(sets));
    modes = sorted_unique(std::move(modes));
    std::set_difference(modes.begin(), modes.end(), group.cut.begin(), group.cut.end(),
                        std::back_inserter(group.atoms));
    fill_group(analysis, group, where);
    groups.push_back(std::move(group));
  }
}

// Which of a group's states are told apart by what is known, and by who is to blame.
void CauseProducts::Layout::classify(const circuit::Analysis& analysis, Group& group) const {
  std::map<std::uint32_t, StatesAlike> alike;
  for (const auto* list : {&group.cut, &group.atoms}) {
    for (std::uint32_t m : *list) alike.try_emplace(m, states_of(analysis.modes[m]).size());
  }
  const auto add = [&](std::uint32_t o) {
    const auto& sets = analysis.observations[o].sets;
    for (std::uint32_t j = 0; j < sets.size(); ++j) {
      const circuit::SetLink link = link_of(analysis, sets[j]);
      const bool though_sound = o == focus && std::binary_search(values.though_sound.begin(),
                                                                 values.though_sound.end(), j);
      for (std::size_t i = 0; i < sets[j].modes.size(); ++i) {
        const std::uint32_t m = sets[j].modes[i];
        alike.at(m).add(link, i);
        if (!though_sound) continue;
        std::vector<std::uint8_t> faulty;
        for (const auto& state : states_of(analysis.modes[m])) faulty.push_back(state.grade > 0);
        alike.at(m).add(faulty);
      }
    }
  };
  if (group.focus) add(focus);
  for (std::uint32_t i : group.others) add(observed[i]);
  for (std::uint32_t m : group.cut) group.digits.classes.push_back(alike.at(m).classes());
  for (std::uint32_t m : group.atoms) group.classes.push_back(alike.at(m).classes());
}

void CauseProducts::Layout::fill_group(const circuit::Analysis& analysis, Group& group,
                                       std::vector<Where>& where) {
  const auto number = static_cast<std::uint32_t>(groups.size());
  for (std::uint32_t i = 0; i < group.cut.size(); ++i) where[group.cut[i]] = {number, true, i};
  for (std::uint32_t i = 0; i < group.atoms.size(); ++i) {
    where[group.atoms[i]] = {number, false, i};
  }
  classify(analysis, group);
  const double lanes = group.digits.combinations() *
                       std::pow(3.0, static_cast<double>(group.others.size())) *
                       static_cast<double>(group.focus ? marks() : 1);
  too_large = too_large || group.coordinates() > kMostCoordinates || !(lanes <= kMostCombinations);
  if (too_large) return;
  group.digits.set_places();
  group.lanes = static_cast<std::size_t>(lanes);
  group.in.resize(group.atoms.size());
  const auto add = [&](std::uint32_t o, int slot) {
    const auto& list = analysis.observations[o].sets;
    for (std::uint32_t j = 0; j < list.size(); ++j) {
      Occurrence one;
      one.slot = slot;
      one.set = j;
      const Places places = split(one, list[j], [&](std::uint32_t m) {
        return where[m].cut ? std::optional(where[m].index) : std::nullopt;
      });
      const std::uint32_t atom = places.own ? where[list[j].modes[*places.own]].index : kNone;
      if (!fill_table(one, analysis, list[j], link_of(analysis, list[j]), group.digits, places,
                      places.own ? &group.classes[atom] : nullptr)) {
        too_large = true;
        return;
      }
      if (atom != kNone) {
        for (std::uint32_t i : one.cut) group.depends[atom] |= std::uint64_t{1} << i;
        if (slot != kFocus) {
          group.depends[atom] |= std::uint64_t{1}
                                 << (group.cut.size() + static_cast<std::size_t>(slot));
        }
      }
      (atom == kNone ? group.fixed : group.in[atom]).push_back(std::move(one));
    }
  };
  group.depends.assign(group.atoms.size(), 0);
  if (group.focus) add(focus, kFocus);
  for (std::size_t k = 0; k < group.others.size(); ++k) {
    add(observed[group.others[k]], static_cast<int>(k));
  }
}

// Which states a test and what is known together tell apart. `outside` has the modes outside the
// test's cutset.
void CauseProducts::Layout::classify(const circuit::Analysis& analysis,
                                     const std::vector<circuit::ModeSet>& sets,
                                     const std::vector<std::uint32_t>& modes,
                                     const std::vector<Where>& where, TestLayout& test,
                                     std::vector<Touched>& outside) {
  std::vector<StatesAlike> alike;
  const auto evidence = [&](std::uint32_t m) -> const StateClasses* {
    const Where& w = where[m];
    if (w.group == kNone) return nullptr;
    const Group& group = groups[w.group];
    return w.cut ? &group.digits.classes[w.index] : &group.classes[w.index];
  };
  for (std::uint32_t m : modes) {
    alike.emplace_back(states_of(analysis.modes[m]).size());
    if (const StateClasses* of = evidence(m)) alike.back().add(of->of);
  }
  std::vector<circuit::SetLink> links;
  for (const circuit::ModeSet& set : sets) {
    links.push_back(link_of(analysis, set));
    for (std::size_t i = 0; i < set.modes.size(); ++i) {
      alike[*position(modes, set.modes[i])].add(links.back(), i);
    }
  }
  for (std::uint32_t m : test.cut) {
    test.digits.classes.push_back(alike[*position(modes, m)].classes());
    const StateClasses* of = evidence(m);
    test.of_evidence.push_back(of ? coarser(test.digits.classes.back(), *of)
                                  : std::vector<std::uint8_t>{});
  }
  too_large = too_large || !(test.digits.combinations() <= kMostCombinations);
  if (too_large) return;
  test.digits.set_places();
  outside.resize(modes.size());
  for (std::size_t i = 0; i < modes.size(); ++i) {
    if (position(test.cut, modes[i])) continue;
    outside[i].classes = alike[i].classes();
    if (const StateClasses* of = evidence(modes[i])) {
      outside[i].of_evidence = coarser(outside[i].classes, *of);
    }
  }
  for (std::uint32_t j = 0; j < sets.size(); ++j) {
    Occurrence one;
    one.slot = 0;
    one.set = j;
    const Places places =
        split(one, sets[j], [&](std::uint32_t m) { return position(test.cut, m); });
    Touched* at = places.own ? &outside[*position(modes, sets[j].modes[*places.own])] : nullptr;
    if (!fill_table(one, analysis, sets[j], links[j], test.digits, places,
                    at ? &at->classes : nullptr)) {
      too_large = true;
      return;
    }
    (at ? at->in : test.fixed).push_back(std::move(one));
  }
}

TestLayout CauseProducts::Layout::test_layout(const Model& model, std::uint32_t o,
                                              const std::vector<Where>& where) {
  const std::size_t observations = model.analysis().observations.size();
  circuit::ModeSet grade;  // of a mode asked for
  grade.modes = {o < observations ? 0 : static_cast<std::uint32_t>(o - observations)};
  const std::vector<circuit::ModeSet> one_mode{std::move(grade)};
  const auto& sets = o < observations ? model.analysis().observations[o].sets : one_mode;
  TestLayout test;
  test.observation = o;
  std::vector<std::vector<std::uint32_t>> lists;
  std::vector<std::uint32_t> modes;
  for (const auto& set : sets) {
    lists.push_back(set.modes);
    modes.insert(modes.end(), set.modes.begin(), set.modes.end());
  }
  modes = sorted_unique(std::move(modes));
  test.cut = cutset(std::move(lists));
  for (std::uint32_t m : modes) {
    if (where[m].group == kNone) continue;
    test.touches.push_back(where[m].group);
    // Lanes know the grades of a group's cutset: these modes are in the test's own, too.
    if (where[m].cut) test.cut.push_back(m);
  }
  test.cut = sorted_unique(std::move(test.cut));
  test.touches = sorted_unique(std::move(test.touches));
  test.touched.resize(test.touches.size());
  test.in_cut.resize(test.touches.size());
  test.hub.resize(test.touches.size());

  std::vector<Touched> outside;
  classify(model.analysis(), sets, modes, where, test, outside);
  if (too_large) return test;
  for (std::uint32_t i = 0; i < modes.size(); ++i) {
    const Where& w = where[modes[i]];
    const auto cut = position(test.cut, modes[i]);
    if (w.group == kNone) {
      if (cut) {
        test.free_cut.push_back(*cut);
      } else {
        outside[i].index = modes[i];
        test.free.push_back(std::move(outside[i]));
      }
      const auto& by = model.program().mode_conditions()[modes[i]].conditions;
      test.conditions.insert(test.conditions.end(), by.begin(), by.end());
      continue;
    }
    const std::size_t at = *position(test.touches, w.group);
    if (!cut) {
      outside[i].index = w.index;
      test.touched[at].push_back(std::move(outside[i]));
    } else {
      (w.cut ? test.hub : test.in_cut)[at].push_back({w.index, *cut});
    }
  }
  test.conditions = sorted_unique(std::move(test.conditions));
  return test;
}

namespace {

// P(no set of a test that the mode is in shows more than t | its class): by combination of the
// test's cutset, t, class.
template <typename Real>
std::vector<Real> psi(const Digits& digits, const Touched& touched) {
  const std::size_t n = touched.classes.count;
  std::vector<Real> result(digits.place.back() * kThresholds * n, 1);
  for (const Occurrence& one : touched.in) {
    for (std::size_t y = 0; y < digits.place.back(); ++y) {
      const double* most = one.at_most.data() + one.entry(digits, y) * kThresholds;
      for (std::size_t t = 0; t < kThresholds; ++t) {
        Real* into = result.data() + (y * kThresholds + t) * n;
        for (std::size_t e = 0; e < n; ++e) into[e] *= static_cast<Real>(most[e * kThresholds + t]);
      }
    }
  }
  return result;
}

// The sums of one pattern, for one case or by cell. `Real` is double or long double.
template <typename Real>
class Summation {
 public:
  using Layout = CauseProducts::Layout;

  // Without numbers: by cell, under the model's own priors.
  Summation(const Layout& layout, const Model& model, const CaseNumbers* numbers)
      : layout_(layout), model_(model), numbers_(numbers) {
    marks_ = marks_of<Real>(model.analysis().observations[layout.focus], layout.focus, numbers);
    rows_.resize(model.analysis().modes.size());
    for (const Group& group : layout.groups) lanes_.push_back(lanes_of(group));
    cells_ = numbers == nullptr ? power_of_3(layout.groups.front().others.size()) * kGrades : 1;
    width_ = layout.columns + 2;
    cause_.assign(cells_ * width_, 0);
    for (const TestLayout& test : layout.tests) tests_.push_back(prepare(test));
  }

  void run() {
    const std::size_t n = layout_.conditions.size();
    if (numbers_ == nullptr) by_conditions_.assign((std::size_t{1} << n) * cells_ * width_, 0);
    for (std::size_t c = 0; c < std::size_t{1} << n; ++c) {
      check_stop();
      add_conditions(c);
    }
  }

  const std::vector<Real>& cause() const { return cause_; }
  const std::vector<Real>& by_conditions() const { return by_conditions_; }
  // Of the i-th test: t, cells, values.
  const std::vector<Real>& at_most(std::size_t i) const { return tests_[i].at_most; }
  // P(S <= t | combination of the layout's conditions) of a test that touches no group.
  Real far(std::size_t i, std::size_t t, std::size_t c) const {
    const Prepared& test = tests_[i];
    Real sum = 0;
    for (std::size_t y = 0; y < test.combinations; ++y) {
      sum += test.fixed[y * kThresholds + t] * free_factor(test, y, t, c);
    }
    return sum;
  }
  std::size_t cells() const { return cells_; }
  std::size_t width() const { return width_; }
  Real magnitude() const { return absolute_; }

 private:
  using ByClass = std::array<Real, kMostStates>;
  // The lanes of a group summed over the coordinates that some tests do not depend on. Coordinates
  // are the modes of the cutset, then the other observations; marks are always kept.
  struct View {
    std::uint64_t keeps = 0;          // a bit per coordinate
    std::vector<std::uint32_t> cell;  // by lane
    std::vector<std::uint32_t> lane;  // by cell: one that is in it
    // Of the conditions at hand, of the focus's group only:
    std::vector<Real> z;      // by cell
    std::vector<Real> share;  // by cell, column: z times the column's share
  };
  // The lanes of one group: its cutset's classes, then thresholds, then marks.
  struct Lanes {
    std::size_t cuts = 1, per_cut = 1, count = 1;
    std::vector<std::size_t> thresholds;   // by other observation: how many count
    std::vector<std::vector<Real>> phi;    // by atom: class, lane
    std::vector<std::vector<Real>> sphi;   // by column with an atom: class, lane
    std::vector<std::uint32_t> sphi_atom;  // kNone: a set inside the cutset
    std::vector<Real> fixed;               // by lane: sets inside the cutset, threshold weights
    std::vector<Real> fixed_share;         // those of the focus: lane, column
    std::vector<std::vector<std::uint32_t>> columns_of_atom;
    std::vector<std::uint32_t> cell;  // by lane
    std::vector<View> views;
    // Of the conditions at hand:
    std::vector<ByClass> atom_row, cut_row;  // P(class) of each
    std::vector<std::vector<Real>> inverse;  // by atom: lane: 1 over its factor
    std::vector<Real> z;                     // lane
    Real sum = 0, absolute = 0;              // of z
  };
  struct Prepared {
    const TestLayout* layout = nullptr;
    std::size_t combinations = 1;     // of its cutset
    std::vector<Real> fixed;          // combination, t
    std::vector<Real> free;           // combination, t, combination of common conditions
    std::vector<std::size_t> common;  // bits of the layout's conditions
    // psi of a touched atom: by touched, combination, t, class.
    std::vector<std::vector<std::vector<Real>>> psi;  // by entry of `touches`, touched
    std::vector<std::size_t> view;                    // by entry of `touches`
    std::vector<Real> at_most;                        // t, cells, values
    // Of the conditions at hand: P(class) of what is touched, by entry of `touches`; of the cut.
    std::vector<std::vector<ByClass>> row;
    std::vector<ByClass> cut_row;
  };

  Lanes lanes_of(const Group& group);
  Prepared prepare(const TestLayout& test);
  void prepare_free(Prepared& prepared);
  const std::vector<Real>& rows(std::uint32_t mode);
  const Real* row(std::uint32_t mode, std::size_t c);
  static ByClass lump(const Real* row, const StateClasses& classes);
  Real free_factor(const Prepared& prepared, std::size_t y, std::size_t t, std::size_t c) const {
    std::size_t k = 0;
    for (std::size_t bit : prepared.common) k = k * 2 + (c >> bit & 1);
    return prepared.free[(y * kThresholds + t) * (std::size_t{1} << prepared.common.size()) + k];
  }

  void add_conditions(std::size_t c);
  void fill(const Group& group, Lanes& lanes, std::size_t c);
  void add_cause(Real scale, Real magnitude, std::size_t c);
  void add_test(Prepared& prepared, std::size_t c, Real probability);
  std::size_t view_for(Lanes& lanes, const Group& group, const TestLayout& test,
                       std::size_t entry) const;
  void ratios(const Prepared& prepared, std::size_t entry, std::size_t y, std::size_t t);
  void add_near(Prepared& prepared, std::size_t t, Real untouched);
  std::uint32_t allowed(const Prepared& prepared, std::size_t entry, std::size_t k, std::size_t y,
                        std::size_t t, ByClass& p) const;
  void fill_test(Prepared& prepared, std::size_t c);
  Real hubs(const Prepared& prepared, std::size_t y) const;

  const Layout& layout_;
  const Model& model_;
  const CaseNumbers* numbers_;
  std::vector<Mark<Real>> marks_;
  std::vector<std::vector<Real>> rows_;  // by mode: combination of its conditions, state
  std::vector<Lanes> lanes_;
  std::vector<Prepared> tests_;
  std::size_t cells_ = 1, width_ = 0;
  std::vector<Real> cause_, by_conditions_, at_conditions_;
  Real absolute_ = 0;
  // Scratch.
  std::vector<Real> reach_;
  std::vector<std::uint32_t> selected_;      // cells of a view
  std::vector<std::vector<Real>> quotient_;  // by touched mode: selected cell
  std::vector<Real> product_;                // by selected cell: of all of them
  std::vector<std::vector<Real>> touched_share_;
  std::vector<std::pair<std::uint32_t, std::size_t>> own_;  // column, index among the touched
  std::vector<bool> column_touched_;
  std::vector<Real> share_;  // lane, column
  std::vector<Real> sum_;    // by lane
};

template <typename Real>
const std::vector<Real>& Summation<Real>::rows(std::uint32_t mode) {
  std::vector<Real>& result = rows_[mode];
  if (!result.empty()) return result;
  circuit::GradeDistribution prior = model_.analysis().modes[mode].prior;
  if (numbers_ != nullptr) {
    const auto own =
        std::lower_bound(numbers_->priors.begin(), numbers_->priors.end(), mode,
                         [](const OwnPrior& p, std::uint32_t m) { return p.mode < m; });
    if (own != numbers_->priors.end() && own->mode == mode) prior = own->grades;
  }
  const ModeConditions& by = model_.program().mode_conditions()[mode];
  const std::size_t n = by.factors.size();
  for (std::size_t i = 0; i < std::size_t{1} << n; ++i) {
    Real factor = 1;
    for (std::size_t k = 0; k < n; ++k) {
      if (i >> (n - 1 - k) & 1) factor *= static_cast<Real>(by.factors[k]);
    }
    const Real worn = prior[1] * factor, failed = prior[2] * factor;
    const Real total = prior[0] + worn + failed;
    const Real of_grade[kGrades] = {prior[0] / total, worn / total, failed / total};
    for (const circuit::ModeState& state : states_of(model_.analysis().modes[mode])) {
      result.push_back(of_grade[state.grade] * static_cast<Real>(state.share));
    }
  }
  return result;
}

template <typename Real>
typename Summation<Real>::ByClass Summation<Real>::lump(const Real* row,
                                                        const StateClasses& classes) {
  ByClass sum;
  std::fill_n(sum.begin(), classes.count, Real(0));
  for (std::size_t k = 0; k < classes.of.size(); ++k) sum[classes.of[k]] += row[k];
  return sum;
}

// P(state) of a mode of a group under a combination of the layout's conditions, the first in the
// highest bit.
template <typename Real>
const Real* Summation<Real>::row(std::uint32_t mode, std::size_t c) {
  const std::size_t n = layout_.conditions.size();
  std::size_t k = 0;
  for (std::uint32_t condition : model_.program().mode_conditions()[mode].conditions) {
    const std::size_t bit = n - 1 - *position(layout_.conditions, condition);
    k = k * 2 + (c >> bit & 1);
  }
  return rows(mode).data() + k * states_of(model_.analysis().modes[mode]).size();
}

template <typename Real>
typename Summation<Real>::Lanes Summation<Real>::lanes_of(const Group& group) {
  Lanes lanes;
  lanes.cuts = group.digits.place.back();
  // Thresholds whose weight is 0 are left out.
  std::vector<std::vector<std::pair<std::size_t, Real>>> thresholds;
  for (std::uint32_t i : group.others) {
    auto& list = thresholds.emplace_back();
    for (std::size_t t = 0; t < kGrades; ++t) {
      Real weight = 1;
      if (numbers_ != nullptr) {
        const Grades& likelihood = numbers_->observed[i].likelihood;
        weight = static_cast<Real>(likelihood[t]);
        if (t + 1 < kGrades) weight -= static_cast<Real>(likelihood[t + 1]);
      }
      if (weight != 0) list.emplace_back(t, weight);
    }
  }
  std::size_t combinations = 1;
  for (const auto& list : thresholds) {
    combinations *= list.size();
    lanes.thresholds.push_back(list.size());
  }
  static const std::vector<Mark<Real>> kNoMarks(1);
  const auto& marks = group.focus ? marks_ : kNoMarks;
  lanes.per_cut = combinations * marks.size();
  lanes.count = lanes.cuts * lanes.per_cut;
  for (const StateClasses& classes : group.classes) {
    lanes.phi.emplace_back(classes.count * lanes.count, 1);
  }
  lanes.inverse.assign(group.atoms.size(), std::vector<Real>(lanes.count));
  lanes.z.resize(lanes.count);
  lanes.fixed.assign(lanes.count, 1);
  lanes.cell.assign(lanes.count, 0);
  lanes.columns_of_atom.resize(group.atoms.size());
  const std::size_t columns = group.focus ? layout_.columns : 0;
  lanes.sphi.assign(columns, {});
  lanes.sphi_atom.assign(columns, kNone);
  const auto& though_sound = layout_.values.though_sound;
  // The column of a set's share: with all its modes sound, of its own.
  const auto column = [&](const Occurrence& one, std::size_t entry) {
    const auto twin = one.sound[entry] ? position(though_sound, one.set) : std::nullopt;
    return twin ? layout_.focus_sets + *twin : one.set;
  };
  for (std::uint32_t a = 0; a < group.in.size(); ++a) {
    for (const Occurrence& one : group.in[a]) {
      if (one.slot != kFocus) continue;
      const auto add = [&](std::size_t j) {
        lanes.sphi[j].assign(group.classes[a].count * lanes.count, 0);
        lanes.sphi_atom[j] = a;
        lanes.columns_of_atom[a].push_back(static_cast<std::uint32_t>(j));
      };
      add(one.set);
      if (const auto twin = position(though_sound, one.set)) add(layout_.focus_sets + *twin);
    }
  }
  lanes.fixed_share.assign(lanes.count * columns, 0);

  std::vector<std::size_t> threshold(group.others.size());
  for (std::size_t lane = 0; lane < lanes.count; ++lane) {
    const std::size_t cut = lane / lanes.per_cut;
    const Mark<Real>& mark = marks[lane % marks.size()];
    std::size_t rest = lane / marks.size() % combinations, cell = 0;
    for (std::size_t k = 0; k < thresholds.size(); ++k) {
      const auto& [t, weight] = thresholds[k][rest % thresholds[k].size()];
      rest /= thresholds[k].size();
      threshold[k] = t;
      cell = cell * kGrades + t;
      lanes.fixed[lane] *= weight;
    }
    if (numbers_ == nullptr) {
      lanes.cell[lane] = static_cast<std::uint32_t>(cell * kGrades + mark.grade);
    }
    // P(the set shows at most what the lane allows), and the part of it at the mark's grade.
    const auto factor = [&](const Occurrence& one, std::size_t entry) {
      const double* most = one.at_most.data() + entry * kThresholds;
      if (one.slot != kFocus) {
        const std::size_t t = threshold[static_cast<std::size_t>(one.slot)];
        return t < kThresholds ? static_cast<Real>(most[t]) : Real(1);
      }
      const Real below = mark.grade > 0 ? static_cast<Real>(most[mark.grade - 1]) : 0;
      const Real up_to = mark.grade < kThresholds ? static_cast<Real>(most[mark.grade]) : 1;
      return below + mark.x * (up_to - below);
    };
    const auto share = [&](const Occurrence& one, std::size_t entry) {
      if (mark.grade == 0) return Real(0);
      const double* most = one.at_most.data() + entry * kThresholds;
      const Real up_to = mark.grade < kThresholds ? static_cast<Real>(most[mark.grade]) : 1;
      const Real at = up_to - static_cast<Real>(most[mark.grade - 1]);
      return at > 0 ? at / factor(one, entry) : Real(0);
    };
    for (const Occurrence& one : group.fixed) {
      const std::size_t entry = one.entry(group.digits, cut);
      lanes.fixed[lane] *= factor(one, entry);
      if (one.slot == kFocus) {
        lanes.fixed_share[lane * columns + column(one, entry)] = share(one, entry);
      }
    }
    for (std::size_t a = 0; a < group.in.size(); ++a) {
      for (const Occurrence& one : group.in[a]) {
        const std::size_t entry = one.entry(group.digits, cut);
        for (std::size_t e = 0; e < group.classes[a].count; ++e) {
          lanes.phi[a][e * lanes.count + lane] *= factor(one, entry + e);
        }
      }
      for (const Occurrence& one : group.in[a]) {
        if (one.slot != kFocus || mark.grade == 0) continue;
        const std::size_t entry = one.entry(group.digits, cut);
        for (std::size_t e = 0; e < group.classes[a].count; ++e) {
          lanes.sphi[column(one, entry + e)][e * lanes.count + lane] =
              lanes.phi[a][e * lanes.count + lane] * share(one, entry + e);
        }
      }
    }
  }
  return lanes;
}

template <typename Real>
typename Summation<Real>::Prepared Summation<Real>::prepare(const TestLayout& test) {
  Prepared prepared;
  prepared.layout = &test;
  prepared.combinations = test.digits.place.back();
  prepared.at_most.assign(kThresholds * cells_ * width_, 0);
  prepared.psi.resize(test.touches.size());
  prepared.row.resize(test.touches.size());
  for (std::size_t i = 0; i < test.touches.size(); ++i) {
    const std::uint32_t group = test.touches[i];
    prepared.view.push_back(view_for(lanes_[group], layout_.groups[group], test, i));
  }
  for (std::size_t i = 0; i < test.touches.size(); ++i) {
    for (const Touched& touched : test.touched[i]) {
      prepared.psi[i].push_back(psi<Real>(test.digits, touched));
    }
  }
  prepared.fixed.assign(prepared.combinations * kThresholds, 1);
  for (const Occurrence& one : test.fixed) {
    for (std::size_t y = 0; y < prepared.combinations; ++y) {
      const double* most = one.at_most.data() + one.entry(test.digits, y) * kThresholds;
      for (std::size_t t = 0; t < kThresholds; ++t) {
        prepared.fixed[y * kThresholds + t] *= static_cast<Real>(most[t]);
      }
    }
  }
  prepare_free(prepared);
  return prepared;
}

// The factor of the modes that no group has, by combination of those conditions on them that the
// groups know; others are summed out.
template <typename Real>
void Summation<Real>::prepare_free(Prepared& prepared) {
  const TestLayout& test = *prepared.layout;
  std::vector<std::size_t> place;  // bit of each of the test's conditions
  std::vector<std::uint32_t> own;
  const std::size_t n = layout_.conditions.size();
  for (std::uint32_t c : test.conditions) {
    if (const auto at = position(layout_.conditions, c)) {
      prepared.common.push_back(n - 1 - *at);
    } else {
      own.push_back(c);
    }
  }
  const std::size_t commons = std::size_t{1} << prepared.common.size();
  prepared.free.assign(prepared.combinations * kThresholds * commons, 0);
  const std::size_t all = test.conditions.size();
  std::vector<ByClass> at(test.free.size()), cut_at(test.free_cut.size());
  std::vector<std::vector<Real>> free_psi;
  for (const Touched& one : test.free) free_psi.push_back(psi<Real>(test.digits, one));
  for (std::size_t k = 0; k < std::size_t{1} << all; ++k) {
    // k holds the test's conditions, the first in the highest bit.
    Real probability = 1;
    std::size_t common = 0;
    for (std::size_t i = 0; i < all; ++i) {
      const bool holds = k >> (all - 1 - i) & 1;
      if (position(layout_.conditions, test.conditions[i])) {
        common = common * 2 + holds;
      } else {
        const Real p =
            static_cast<Real>(model_.analysis().conditions[test.conditions[i]].probability);
        probability *= holds ? p : 1 - p;
      }
    }
    const auto row_of = [&](std::uint32_t mode) {
      std::size_t index = 0;
      for (std::uint32_t c : model_.program().mode_conditions()[mode].conditions) {
        index = index * 2 + (k >> (all - 1 - *position(test.conditions, c)) & 1);
      }
      return rows(mode).data() + index * states_of(model_.analysis().modes[mode]).size();
    };
    for (std::size_t i = 0; i < test.free.size(); ++i) {
      at[i] = lump(row_of(test.free[i].index), test.free[i].classes);
    }
    for (std::size_t i = 0; i < test.free_cut.size(); ++i) {
      cut_at[i] = lump(row_of(test.cut[test.free_cut[i]]), test.digits.classes[test.free_cut[i]]);
    }
    for (std::size_t y = 0; y < prepared.combinations; ++y) {
      for (std::size_t t = 0; t < kThresholds; ++t) {
        Real product = probability;
        for (std::size_t i = 0; i < test.free_cut.size(); ++i) {
          product *= cut_at[i][test.digits.of(y, test.free_cut[i])];
        }
        for (std::size_t i = 0; i < test.free.size() && product != 0; ++i) {
          const std::size_t classes = test.free[i].classes.count;
          const Real* most = free_psi[i].data() + (y * kThresholds + t) * classes;
          Real sum = 0;
          for (std::size_t e = 0; e < classes; ++e) sum += at[i][e] * most[e];
          product *= sum;
        }
        prepared.free[(y * kThresholds + t) * commons + common] += product;
      }
    }
  }
}

// By lane: the sum over classes of p times what `by_class` has of the class and lane.
template <typename Real>
void sum_classes(const std::array<Real, kMostStates>& p, std::size_t classes,
                 const std::vector<Real>& by_class, std::size_t lanes, std::vector<Real>& sum) {
  sum.assign(lanes, 0);
  for (std::size_t e = 0; e < classes; ++e) {
    const Real* of = by_class.data() + e * lanes;
    if (p[e] == 0) continue;
    for (std::size_t lane = 0; lane < lanes; ++lane) sum[lane] += p[e] * of[lane];
  }
}

template <typename Real>
void Summation<Real>::fill(const Group& group, Lanes& lanes, std::size_t c) {
  lanes.atom_row.clear();
  lanes.cut_row.clear();
  for (std::size_t a = 0; a < group.atoms.size(); ++a) {
    lanes.atom_row.push_back(lump(row(group.atoms[a], c), group.classes[a]));
  }
  for (std::size_t i = 0; i < group.cut.size(); ++i) {
    lanes.cut_row.push_back(lump(row(group.cut[i], c), group.digits.classes[i]));
  }
  for (std::size_t cut = 0; cut < lanes.cuts; ++cut) {
    Real prior = 1;
    for (std::uint32_t i = 0; i < group.cut.size(); ++i) {
      prior *= lanes.cut_row[i][group.digits.of(cut, i)];
    }
    for (std::size_t lane = cut * lanes.per_cut; lane < (cut + 1) * lanes.per_cut; ++lane) {
      lanes.z[lane] = prior * lanes.fixed[lane];
    }
  }
  for (std::size_t a = 0; a < group.atoms.size(); ++a) {
    sum_classes(lanes.atom_row[a], group.classes[a].count, lanes.phi[a], lanes.count, sum_);
    Real* inverse = lanes.inverse[a].data();
    for (std::size_t lane = 0; lane < lanes.count; ++lane) {
      const Real f = sum_[lane];
      inverse[lane] = f > 0 ? 1 / f : 0;
      lanes.z[lane] *= f;
    }
  }
  lanes.sum = lanes.absolute = 0;
  if (group.focus) return;
  for (Real z : lanes.z) {
    lanes.sum += z;
    lanes.absolute += std::abs(z);
  }
}

template <typename Real>
void Summation<Real>::add_cause(Real scale, Real magnitude, std::size_t c) {
  const Lanes& lanes = lanes_.front();
  const std::size_t columns = layout_.columns;
  at_conditions_.assign(cells_ * width_, 0);
  Real absolute = 0, sum = 0;
  for (std::size_t lane = 0; lane < lanes.count; ++lane) {
    const Real z = lanes.z[lane];
    if (z == 0) continue;
    const Mark<Real>& mark = marks_[lane % marks_.size()];
    Real* cell = at_conditions_.data() + lanes.cell[lane] * width_;
    const Real* share = share_.data() + lane * columns;
    Real shares = 0;
    for (std::size_t j = 0; j < columns; ++j) {
      cell[j] += z * mark.set * share[j];
      shares += share[j];
    }
    cell[columns] += z * (mark.elsewhere + mark.elsewhere_by_set * shares);
    cell[columns + 1] += z * mark.nothing;
    const Real weight = (mark.set + mark.elsewhere_by_set) * shares + mark.elsewhere + mark.nothing;
    absolute += std::abs(z) * weight;
    sum += z * weight;
  }
  // Errors of factors add up.
  absolute_ += std::abs(scale) * (absolute + std::abs(sum) * magnitude);
  for (std::size_t i = 0; i < at_conditions_.size(); ++i) cause_[i] += scale * at_conditions_[i];
  if (!by_conditions_.empty()) {
    for (std::size_t i = 0; i < at_conditions_.size(); ++i) {
      by_conditions_[c * cells_ * width_ + i] = scale * at_conditions_[i];
    }
  }
}

template <typename Real>
void Summation<Real>::add_conditions(std::size_t c) {
  const std::size_t n = layout_.conditions.size();
  Real probability = 1;
  for (std::size_t i = 0; i < n; ++i) {
    const Real p =
        static_cast<Real>(model_.analysis().conditions[layout_.conditions[i]].probability);
    probability *= c >> (n - 1 - i) & 1 ? p : 1 - p;
  }
  if (probability == 0) return;
  for (std::size_t i = 0; i < lanes_.size(); ++i) fill(layout_.groups[i], lanes_[i], c);
  Lanes& focus = lanes_.front();
  const std::size_t columns = layout_.columns;
  share_ = focus.fixed_share;
  for (std::size_t j = 0; j < columns; ++j) {
    const std::uint32_t a = focus.sphi_atom[j];
    if (a == kNone) continue;
    const Group& group = layout_.groups.front();
    sum_classes(focus.atom_row[a], group.classes[a].count, focus.sphi[j], focus.count, sum_);
    const Real* inverse = focus.inverse[a].data();
    for (std::size_t lane = 0; lane < focus.count; ++lane) {
      share_[lane * columns + j] = sum_[lane] * inverse[lane];
    }
  }
  Real scale = probability, magnitude = 0;
  for (std::size_t i = 1; i < lanes_.size(); ++i) {
    scale *= lanes_[i].sum;
    if (lanes_[i].sum != 0) magnitude += lanes_[i].absolute / std::abs(lanes_[i].sum);
  }
  add_cause(scale, magnitude, c);
  for (View& view : focus.views) {
    view.z.assign(view.lane.size(), 0);
    view.share.assign(view.lane.size() * columns, 0);
    for (std::size_t lane = 0; lane < focus.count; ++lane) {
      const Real z = focus.z[lane];
      if (z == 0) continue;
      const std::size_t cell = view.cell[lane];
      view.z[cell] += z;
      Real* into = view.share.data() + cell * columns;
      const Real* share = share_.data() + lane * columns;
      for (std::size_t j = 0; j < columns; ++j) into[j] += z * share[j];
    }
  }
  for (Prepared& test : tests_) {
    if (numbers_ == nullptr && !test.layout->near()) continue;  // by_conditions_ has it
    add_test(test, c, probability);
  }
}

// The view of a group's lanes that keeps what a test depends on, made on first use.
template <typename Real>
std::size_t Summation<Real>::view_for(Lanes& lanes, const Group& group, const TestLayout& test,
                                      std::size_t entry) const {
  const std::size_t cuts = group.cut.size(), others = group.others.size();
  std::uint64_t keeps = kept(group, test, entry);
  // By cell, thresholds are told apart in any case; so are all lanes where z is not summed.
  if (numbers_ == nullptr || !group.focus) {
    for (std::size_t k = 0; k < others; ++k) keeps |= std::uint64_t{1} << (cuts + k);
  }
  if (!group.focus) keeps = ~std::uint64_t{0};
  for (std::size_t v = 0; v < lanes.views.size(); ++v) {
    if (lanes.views[v].keeps == keeps) return v;
  }
  View view;
  view.keeps = keeps;
  std::map<std::vector<std::uint32_t>, std::uint32_t> cells;
  const std::size_t marks = group.focus ? marks_.size() : 1;
  for (std::size_t lane = 0; lane < lanes.count; ++lane) {
    std::vector<std::uint32_t> key{static_cast<std::uint32_t>(lane % marks)};
    for (std::size_t i = 0; i < cuts; ++i) {
      if (keeps >> i & 1) {
        key.push_back(static_cast<std::uint32_t>(group.digits.of(lane / lanes.per_cut, i)));
      }
    }
    std::size_t rest = lane / marks % (lanes.per_cut / marks);
    for (std::size_t k = 0; k < others; ++k) {
      const std::size_t size = lanes.thresholds[k];
      if (keeps >> (cuts + k) & 1) key.push_back(static_cast<std::uint32_t>(rest % size));
      rest /= size;
    }
    const auto next = static_cast<std::uint32_t>(view.lane.size());
    const auto [at, is_new] = cells.try_emplace(std::move(key), next);
    if (is_new) view.lane.push_back(static_cast<std::uint32_t>(lane));
    view.cell.push_back(at->second);
  }
  lanes.views.push_back(std::move(view));
  return lanes.views.size() - 1;
}

// Selects the cells of a test's view of a group in which the cutset's classes are as y says. For
// each, what is left of the factor of every mode that the test touches when the test's grade is at
// most t, and the product of these.
template <typename Real>
void Summation<Real>::ratios(const Prepared& prepared, std::size_t entry, std::size_t y,
                             std::size_t t) {
  const TestLayout& test = *prepared.layout;
  const Lanes& lanes = lanes_[test.touches[entry]];
  const View& view = lanes.views[prepared.view[entry]];
  const Digits& digits = layout_.groups[test.touches[entry]].digits;
  std::vector<bool> as_y(lanes.cuts, true);
  for (std::size_t cut = 0; cut < lanes.cuts; ++cut) {
    for (const Pinned& hub : test.hub[entry]) {
      const std::size_t at = test.of_evidence[hub.cut][test.digits.of(y, hub.cut)];
      if (digits.of(cut, hub.index) != at) as_y[cut] = false;
    }
  }
  selected_.clear();
  for (std::uint32_t cell = 0; cell < view.lane.size(); ++cell) {
    if (as_y[view.lane[cell] / lanes.per_cut]) selected_.push_back(cell);
  }
  const std::size_t n = test.touched[entry].size() + test.in_cut[entry].size();
  if (quotient_.size() < n) quotient_.resize(n);
  product_.assign(selected_.size(), 1);
  for (std::size_t k = 0; k < n; ++k) {
    ByClass p;
    const std::uint32_t a = allowed(prepared, entry, k, y, t, p);
    const Real* phi = lanes.phi[a].data();
    const Real* inverse = lanes.inverse[a].data();
    const std::size_t classes = layout_.groups[test.touches[entry]].classes[a].count;
    quotient_[k].resize(std::max(quotient_[k].size(), selected_.size()));
    Real* q = quotient_[k].data();
    std::fill_n(q, selected_.size(), Real(0));
    for (std::size_t e = 0; e < classes; ++e) {
      if (p[e] == 0) continue;
      const Real* of = phi + e * lanes.count;
      for (std::size_t i = 0; i < selected_.size(); ++i) {
        q[i] += p[e] * of[view.lane[selected_[i]]];
      }
    }
    for (std::size_t i = 0; i < selected_.size(); ++i) {
      q[i] *= inverse[view.lane[selected_[i]]];
      product_[i] *= q[i];
    }
  }
}

// The k-th atom that a test touches in a group, and P(its class, the test's grade at most t).
template <typename Real>
std::uint32_t Summation<Real>::allowed(const Prepared& prepared, std::size_t entry, std::size_t k,
                                       std::size_t y, std::size_t t, ByClass& p) const {
  const TestLayout& test = *prepared.layout;
  const auto& touched = test.touched[entry];
  const Group& group = layout_.groups[test.touches[entry]];
  if (k < touched.size()) {
    const Touched& one = touched[k];
    const std::size_t n = one.classes.count;
    std::fill_n(p.begin(), group.classes[one.index].count, Real(0));
    const Real* psi = prepared.psi[entry][k].data() + (y * kThresholds + t) * n;
    const ByClass& row = prepared.row[entry][k];
    for (std::size_t e = 0; e < n; ++e) p[one.of_evidence[e]] += row[e] * psi[e];
    return one.index;
  }
  const Pinned& pinned = test.in_cut[entry][k - touched.size()];
  std::fill_n(p.begin(), group.classes[pinned.index].count, Real(0));
  const std::size_t digit = test.digits.of(y, pinned.cut);
  p[test.of_evidence[pinned.cut][digit]] = prepared.cut_row[pinned.cut][digit];
  return pinned.index;
}

// The probabilities of a test's classes under the conditions at hand.
template <typename Real>
void Summation<Real>::fill_test(Prepared& prepared, std::size_t c) {
  const TestLayout& test = *prepared.layout;
  prepared.cut_row.resize(test.cut.size());
  for (std::size_t entry = 0; entry < test.touches.size(); ++entry) {
    const Group& group = layout_.groups[test.touches[entry]];
    prepared.row[entry].clear();
    for (const Touched& one : test.touched[entry]) {
      prepared.row[entry].push_back(lump(row(group.atoms[one.index], c), one.classes));
    }
    for (const auto* list : {&test.in_cut[entry], &test.hub[entry]}) {
      for (const Pinned& one : *list) {
        prepared.cut_row[one.cut] = lump(row(test.cut[one.cut], c), test.digits.classes[one.cut]);
      }
    }
  }
}

// Lanes know the class of a mode of their cutset that the evidence tells apart; a test may tell it
// apart further. P(the test's classes | the group's).
template <typename Real>
Real Summation<Real>::hubs(const Prepared& prepared, std::size_t y) const {
  const TestLayout& test = *prepared.layout;
  Real factor = 1;
  for (std::size_t entry = 0; entry < test.touches.size(); ++entry) {
    const Lanes& lanes = lanes_[test.touches[entry]];
    for (const Pinned& hub : test.hub[entry]) {
      const std::size_t digit = test.digits.of(y, hub.cut);
      const Real whole = lanes.cut_row[hub.index][test.of_evidence[hub.cut][digit]];
      factor *= whole > 0 ? prepared.cut_row[hub.cut][digit] / whole : 0;
    }
  }
  return factor;
}

template <typename Real>
void Summation<Real>::add_test(Prepared& prepared, std::size_t c, Real probability) {
  const TestLayout& test = *prepared.layout;
  Real untouched = probability;
  for (std::uint32_t i = 1; i < lanes_.size(); ++i) {
    if (!position(test.touches, i)) untouched *= lanes_[i].sum;
  }
  fill_test(prepared, c);
  const Lanes& focus = lanes_.front();
  const std::size_t cells = test.near() ? focus.views[prepared.view[0]].lane.size() : 0;
  own_.clear();
  if (test.near()) {
    const auto& touched = test.touched[0];
    for (std::size_t k = 0; k < touched.size() + test.in_cut[0].size(); ++k) {
      const std::uint32_t a =
          k < touched.size() ? touched[k].index : test.in_cut[0][k - touched.size()].index;
      for (std::uint32_t j : focus.columns_of_atom[a]) own_.emplace_back(j, k);
    }
    if (touched_share_.size() < own_.size()) touched_share_.resize(own_.size());
  }
  for (std::size_t t = 0; t < kThresholds; ++t) {
    Real alone = 0;  // where the focus's group is not touched
    reach_.assign(cells, 0);
    for (std::size_t i = 0; i < own_.size(); ++i) touched_share_[i].assign(cells, 0);
    for (std::size_t y = 0; y < prepared.combinations; ++y) {
      Real factor =
          prepared.fixed[y * kThresholds + t] * free_factor(prepared, y, t, c) * hubs(prepared, y);
      for (std::size_t entry = test.near() ? 1 : 0; entry < test.touches.size() && factor != 0;
           ++entry) {
        ratios(prepared, entry, y, t);
        const Lanes& lanes = lanes_[test.touches[entry]];
        const View& view = lanes.views[prepared.view[entry]];
        Real sum = 0;
        for (std::size_t i = 0; i < selected_.size(); ++i) {
          sum += lanes.z[view.lane[selected_[i]]] * product_[i];
        }
        factor *= sum;
      }
      alone += factor;
      if (!test.near() || factor == 0) continue;
      ratios(prepared, 0, y, t);
      const View& view = focus.views[prepared.view[0]];
      for (std::size_t i = 0; i < selected_.size(); ++i) {
        reach_[selected_[i]] += factor * product_[i];
      }
      const std::size_t n = test.touched[0].size() + test.in_cut[0].size();
      for (std::size_t own = 0; own < own_.size(); ++own) {
        const auto [j, k] = own_[own];
        ByClass p;
        const std::uint32_t a = allowed(prepared, 0, k, y, t, p);
        const Real* sphi = focus.sphi[j].data();
        const std::size_t classes = layout_.groups.front().classes[a].count;
        Real* into = touched_share_[own].data();
        for (std::size_t i = 0; i < selected_.size(); ++i) {
          const std::size_t lane = view.lane[selected_[i]];
          Real others = 1;  // the quotients but the k-th
          if (quotient_[k][i] != 0) {
            others = product_[i] / quotient_[k][i];
          } else {
            for (std::size_t other = 0; other < n; ++other) {
              if (other != k) others *= quotient_[other][i];
            }
          }
          Real own_share = 0;
          for (std::size_t e = 0; e < classes; ++e)
            own_share += p[e] * sphi[e * focus.count + lane];
          into[selected_[i]] += factor * others * focus.inverse[a][lane] * own_share;
        }
      }
    }
    if (test.near()) {
      add_near(prepared, t, untouched);
      continue;
    }
    Real* into = prepared.at_most.data() + t * cells_ * width_;
    for (std::size_t i = 0; i < cells_ * width_; ++i) {
      into[i] += untouched * alone * at_conditions_[i];
    }
  }
}

// Adds what reach_ and touched_share_ say of a test that touches the focus's group.
template <typename Real>
void Summation<Real>::add_near(Prepared& prepared, std::size_t t, Real untouched) {
  const Lanes& focus = lanes_.front();
  const View& view = focus.views[prepared.view[0]];
  const std::size_t columns = layout_.columns;
  Real* into = prepared.at_most.data() + t * cells_ * width_;
  column_touched_.assign(columns, false);
  for (const auto& [j, k] : own_) column_touched_[j] = true;
  std::vector<std::uint32_t> untouched_columns;
  for (std::uint32_t j = 0; j < columns; ++j) {
    if (!column_touched_[j]) untouched_columns.push_back(j);
  }
  for (std::size_t i = 0; i < view.lane.size(); ++i) {
    const std::size_t lane = view.lane[i];
    const Mark<Real>& mark = marks_[lane % marks_.size()];
    Real* cell = into + focus.cell[lane] * width_;
    const Real reach = untouched * reach_[i];
    if (mark.grade > 0) {
      const Real* share = view.share.data() + i * columns;
      Real shares = 0;
      for (std::uint32_t j : untouched_columns) {
        const Real reached = reach * share[j];
        cell[j] += mark.set * reached;
        shares += reached;
      }
      for (std::size_t own = 0; own < own_.size(); ++own) {
        const Real reached = untouched * view.z[i] * touched_share_[own][i];
        cell[own_[own].first] += mark.set * reached;
        shares += reached;
      }
      cell[columns] += mark.elsewhere_by_set * shares;
    }
    cell[columns] += reach * view.z[i] * mark.elsewhere;
    cell[columns + 1] += reach * view.z[i] * mark.nothing;
  }
}

// Sums over columns to sums over values.
template <typename Real>
void by_value(const CauseValues& values, const Real* sums, double* into) {
  const std::size_t sets = values.of_set.size(), columns = sets + values.though_sound.size();
  std::fill(into, into + values.size(), 0.0);
  std::vector<Real> total(values.size(), 0);
  for (std::size_t j = 0; j < columns; ++j) {
    total[j < sets ? values.of_set[j] : values.by_design()] += sums[j];
  }
  total[values.elsewhere()] = sums[columns];
  total[values.nothing()] = sums[columns + 1];
  for (std::size_t v = 0; v < values.size(); ++v) into[v] = static_cast<double>(total[v]);
}

template <typename Real>
CauseSums sums_of(const CauseProducts::Layout& layout, const Model& model,
                  const CaseNumbers& numbers) {
  Summation<Real> summation(layout, model, &numbers);
  summation.run();
  CauseSums sums;
  sums.values = layout.values.size();
  sums.cause.resize(sums.values);
  by_value(layout.values, summation.cause().data(), sums.cause.data());
  sums.at_most.assign(layout.numbers * kThresholds * sums.values, 0);
  for (std::size_t i = 0; i < layout.tests.size(); ++i) {
    for (std::size_t t = 0; t < kThresholds; ++t) {
      by_value(layout.values, summation.at_most(i).data() + t * summation.width(),
               sums.at_most.data() + (layout.tests[i].observation * kThresholds + t) * sums.values);
    }
  }
  Real total = 0;
  for (Real x : summation.cause()) total += x;
  sums.magnitude = total > 0 ? static_cast<double>(summation.magnitude() / total)
                             : std::numeric_limits<double>::infinity();
  return sums;
}

}  // namespace

CauseProducts::CauseProducts(const Model& model, std::vector<std::uint32_t> observed,
                             std::uint32_t focus, std::vector<std::uint32_t> tests)
    : layout_(std::make_unique<const Layout>(model, std::move(observed), focus, std::move(tests))) {
}
CauseProducts::~CauseProducts() = default;
CauseProducts::CauseProducts(CauseProducts&&) noexcept = default;

double CauseProducts::operations() const {
  const Layout& layout = *layout_;
  if (layout.too_large) return std::numeric_limits<double>::infinity();
  const auto sets = static_cast<double>(layout.columns);
  double each = static_cast<double>(layout.groups.front().lanes) * sets * 8, once = 0;
  for (const Group& group : layout.groups) {
    each += static_cast<double>(group.lanes * (group.atoms.size() * 6 + 4));
  }
  std::set<std::uint64_t> views;
  for (const TestLayout& test : layout.tests) {
    const double combinations = test.digits.combinations();
    double touched = 4;
    for (std::size_t i = 0; i < test.touches.size(); ++i) {
      const Group& group = layout.groups[test.touches[i]];
      auto lanes = static_cast<double>(group.lanes);
      if (group.focus) {
        const std::uint64_t keeps = kept(group, test, i);
        views.insert(keeps);
        lanes = static_cast<double>(layout.marks());
        for (std::size_t k = 0; k < group.coordinates(); ++k) {
          if (!(keeps >> k & 1)) continue;
          lanes *=
              static_cast<double>(k < group.cut.size() ? group.digits.classes[k].count : kGrades);
        }
        each += kThresholds * lanes * (sets + 4) * 2;
      }
      // Lanes that a combination leaves are few where it fixes the group's cutset.
      double fixed = 1;
      for (const Pinned& hub : test.hub[i]) {
        fixed *= static_cast<double>(group.digits.classes[hub.index].count);
      }
      touched += lanes / fixed *
                 static_cast<double>(test.touched[i].size() * 12 + test.in_cut[i].size() * 12 + 4);
    }
    each += kThresholds * (combinations * touched + sets);
    once += combinations * std::exp2(static_cast<double>(test.conditions.size())) *
            static_cast<double>(test.free.size() * 8 + 4);
  }
  each += static_cast<double>(views.size() * layout.groups.front().lanes) * (sets + 1) * 2;
  return std::exp2(static_cast<double>(layout.conditions.size())) * each + once;
}

std::size_t CauseProducts::table_bytes() const {
  const Layout& layout = *layout_;
  if (layout.too_large || layout.groups.size() > 1 || layout.conditions.size() > 16) return 0;
  const std::size_t cells = power_of_3(layout.groups.front().others.size()) * kGrades;
  std::size_t near = 0, far = 0;
  for (const TestLayout& test : layout.tests) ++(test.near() ? near : far);
  const std::size_t conditions = std::size_t{1} << layout.conditions.size();
  return sizeof(double) * ((1 + near * kThresholds + conditions) * cells * layout.values.size() +
                           far * kThresholds * conditions);
}

std::size_t CauseProducts::bytes() const {
  std::size_t bytes = sizeof(Layout);
  const auto of = [](const std::vector<Occurrence>& in) {
    std::size_t n = 0;
    for (const Occurrence& one : in) {
      n += sizeof one + one.cut.size() * (sizeof(std::uint32_t) + sizeof(std::size_t)) +
           one.at_most.size() * sizeof(double) + one.sound.size();
    }
    return n;
  };
  for (const Group& group : layout_->groups) {
    bytes += sizeof group + of(group.fixed) + group.atoms.size() * 32;
    for (const auto& in : group.in) bytes += of(in);
  }
  for (const TestLayout& test : layout_->tests) {
    bytes += sizeof test + of(test.fixed) + 256;
    for (const auto& list : test.touched) {
      for (const Touched& one : list) bytes += sizeof one + of(one.in) + 2 * kMostStates;
    }
    for (const Touched& one : test.free) bytes += sizeof one + of(one.in) + 2 * kMostStates;
  }
  return bytes;
}

double CauseProducts::scratch() const {
  double numbers = 0;
  for (const Group& group : layout_->groups) {
    const std::size_t sets = group.focus ? layout_->focus_sets : 0;
    numbers += static_cast<double>(group.lanes) *
               (static_cast<double>(group.atoms.size()) * 4 + static_cast<double>(sets) * 6 + 8);
  }
  return numbers * sizeof(long double);
}

CauseSums CauseProducts::sum(const Model& model, const CaseNumbers& numbers, bool careful) const {
  if (layout_->too_large) {
    throw Error(Code::limit_exceeded, "too many observations share failure modes to be summed");
  }
  return careful ? sums_of<long double>(*layout_, model, numbers)
                 : sums_of<double>(*layout_, model, numbers);
}

std::shared_ptr<const ProductTables> CauseProducts::tabulate(const Model& model) const {
  const Layout& layout = *layout_;
  Summation<double> summation(layout, model, nullptr);
  summation.run();
  auto tables = std::make_shared<ProductTables>();
  tables->values_ = layout.values.size();
  tables->numbers_ = layout.numbers;
  tables->cells_ = summation.cells();
  tables->observed_ = layout.observed;
  tables->focus_ = layout.focus;
  const auto add = [&](const double* cells, std::vector<double>& into) {
    for (std::size_t k = 0; k < summation.cells(); ++k) {
      into.resize(into.size() + layout.values.size());
      by_value(layout.values, cells + k * summation.width(),
               into.data() + into.size() - layout.values.size());
    }
  };
  add(summation.cause().data(), tables->all_);
  const std::size_t conditions = std::size_t{1} << layout.conditions.size();
  const std::size_t block = summation.cells() * summation.width();
  for (std::size_t c = 0; c < conditions; ++c) {
    add(summation.by_conditions().data() + c * block, tables->by_conditions_);
  }
  for (std::size_t i = 0; i < layout.tests.size(); ++i) {
    if (layout.tests[i].near()) {
      tables->near_.push_back(layout.tests[i].observation);
      for (std::size_t t = 0; t < kThresholds; ++t) {
        add(summation.at_most(i).data() + t * block, tables->tables_);
      }
      continue;
    }
    tables->far_.push_back(layout.tests[i].observation);
    for (std::size_t t = 0; t < kThresholds; ++t) {
      for (std::size_t c = 0; c < conditions; ++c) {
        tables->far_at_most_.push_back(summation.far(i, t, c));
      }
    }
  }
  return tables;
}

CauseSums ProductTables::weigh(const CaseNumbers& numbers) const {
  // The weight of each cell: thresholds of the other observations, the grade of the focus last.
  std::vector<double> weight{1};
  const Grades* over_g = nullptr;
  for (const ObservedGrade& seen : numbers.observed) {
    if (seen.observation == focus_) {
      over_g = &seen.over_g;
      continue;
    }
    std::vector<double> next;
    for (double w : weight) {
      for (std::size_t t = 0; t < kGrades; ++t) {
        next.push_back(w * (seen.likelihood[t] - (t + 1 < kGrades ? seen.likelihood[t + 1] : 0)));
      }
    }
    weight = std::move(next);
  }
  std::vector<double> cells;
  for (double w : weight) {
    for (std::size_t g = 0; g < kGrades; ++g) cells.push_back(w * (*over_g)[g]);
  }
  CauseSums sums;
  sums.values = values_;
  const auto contract = [&](const double* table, double* into) {
    for (std::size_t k = 0; k < cells_; ++k) {
      const double w = cells[k];
      if (w == 0) continue;
      for (std::size_t v = 0; v < values_; ++v) into[v] += w * table[k * values_ + v];
    }
  };
  sums.cause.assign(values_, 0);
  contract(all_.data(), sums.cause.data());
  double absolute = 0, total = 0;
  for (std::size_t k = 0; k < cells_; ++k) {
    for (std::size_t v = 0; v < values_; ++v) {
      absolute += std::abs(cells[k] * all_[k * values_ + v]);
    }
  }
  for (double x : sums.cause) total += x;
  sums.magnitude = total > 0 ? absolute / total : std::numeric_limits<double>::infinity();
  sums.at_most.assign(numbers_ * kThresholds * values_, 0);
  for (std::size_t i = 0; i < near_.size(); ++i) {
    for (std::size_t t = 0; t < kThresholds; ++t) {
      contract(tables_.data() + (i * kThresholds + t) * cells_ * values_,
               sums.at_most.data() + (near_[i] * kThresholds + t) * values_);
    }
  }
  const std::size_t conditions = by_conditions_.size() / (cells_ * values_);
  std::vector<double> by_conditions(conditions * values_, 0);
  for (std::size_t c = 0; c < conditions; ++c) {
    contract(by_conditions_.data() + c * cells_ * values_, by_conditions.data() + c * values_);
  }
  for (std::size_t i = 0; i < far_.size(); ++i) {
    for (std::size_t t = 0; t < kThresholds; ++t) {
      double* into = sums.at_most.data() + (far_[i] * kThresholds + t) * values_;
      const double* p = far_at_most_.data() + (i * kThresholds + t) * conditions;
      for (std::size_t c = 0; c < conditions; ++c) {
        for (std::size_t v = 0; v < values_; ++v) into[v] += p[c] * by_conditions[c * values_ + v];
      }
    }
  }
  return sums;
}

std::size_t ProductTables::bytes() const {
  return sizeof *this + sizeof(double) * (all_.size() + tables_.size() + by_conditions_.size() +
                                          far_at_most_.size());
}

}  // namespace faultodds::diagnosis
