#include "core/diagnosis/cause_layout.h"

#include <cmath>
#include <map>

#include "core/diagnosis/program.h"
#include "core/stop.h"

namespace faultodds::diagnosis {

using namespace products;

namespace {

// Coordinates of one group's lanes have a bit each; of lanes, of combinations of one cutset and of
// entries of one set's table there are at most so many. Where there are more, nothing is
// summed.
constexpr std::size_t kMostCoordinates = 40;
constexpr double kMostCombinations = 1 << 26;
constexpr std::size_t kMostEntries = 1 << 16;

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

// The group's class of each of a finer partition's classes.
std::vector<std::uint8_t> coarser(const StateClasses& fine, const StateClasses& coarse) {
  std::vector<std::uint8_t> of(fine.count);
  for (std::size_t k = 0; k < fine.of.size(); ++k) of[fine.of[k]] = coarse.of[k];
  return of;
}

}  // namespace

std::vector<std::uint32_t> products::cutset(std::vector<std::vector<std::uint32_t>> sets) {
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

std::vector<std::uint32_t> products::sorted_unique(std::vector<std::uint32_t> v) {
  std::sort(v.begin(), v.end());
  v.erase(std::unique(v.begin(), v.end()), v.end());
  return v;
}

CauseProducts::Layout::Layout(const Model& model, std::vector<std::uint32_t> seen, std::uint32_t q,
                              std::vector<std::uint32_t> wanted, double most_lanes)
    : observed(std::move(seen)),
      focus(q),
      numbers(model.analysis().observations.size() + model.analysis().modes.size()),
      values(cause_values(model.analysis(), q)) {
  const circuit::Analysis& analysis = model.analysis();
  focus_sets = analysis.observations[q].sets.size();
  columns = focus_sets + values.though_sound.size();
  nodes = quadrature_nodes(focus_sets);
  std::vector<Where> where(analysis.modes.size());
  choose_bridges(analysis, most_lanes, wanted.size(), where);
  bridge_digits.set_places();
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
  SetLinks links(analysis);
  for (std::uint32_t o : wanted) {
    if (too_large) break;
    tests.push_back(test_layout(model, o, where, links));
  }
}

void CauseProducts::Layout::make_groups(const circuit::Analysis& analysis,
                                        std::vector<Where>& where) {
  std::vector<bool> bridge(analysis.modes.size(), false);
  for (const std::uint32_t m : bridges) bridge[m] = true;
  for (const Fold& fold : folds) bridge[fold.mode] = true;
  for (const std::vector<std::size_t>& part : parts_without(analysis, bridge)) {
    Group group = group_of(analysis, part, where);
    fill_group(analysis, group, where);
    groups.push_back(std::move(group));
  }
}

Group CauseProducts::Layout::group_of(const circuit::Analysis& analysis,
                                      const std::vector<std::size_t>& part,
                                      const std::vector<Where>& where) const {
  Group group;
  group.focus = groups.empty();
  const std::size_t at_focus = *position(observed, focus);
  std::vector<std::vector<std::uint32_t>> sets;
  std::vector<std::uint32_t> modes;
  for (const std::size_t i : part) {
    if (i != at_focus) group.others.push_back(static_cast<std::uint32_t>(i));
    for (const auto& set : analysis.observations[observed[i]].sets) {
      std::vector<std::uint32_t>& own = sets.emplace_back();
      for (const std::uint32_t m : set.modes) {
        if (where[m].bridge != kNone) {
          group.bridges.push_back(where[m].bridge);
        } else if (where[m].fold != kNone && !group.focus) {
          group.fold = where[m].fold;
        } else {
          own.push_back(m);
        }
      }
      modes.insert(modes.end(), own.begin(), own.end());
    }
  }
  group.cut = cutset(std::move(sets));
  modes = sorted_unique(std::move(modes));
  std::set_difference(modes.begin(), modes.end(), group.cut.begin(), group.cut.end(),
                      std::back_inserter(group.atoms));
  group.own_cuts = group.cut.size();
  group.bridges = sorted_unique(std::move(group.bridges));
  for (const std::uint32_t i : group.bridges) group.cut.push_back(bridges[i]);
  if (group.fold != kNone) group.cut.push_back(folds[group.fold].mode);
  return group;
}

// Which states of `modes` are told apart by some observations, and by who is to blame.
std::map<std::uint32_t, StatesAlike> CauseProducts::Layout::told_apart(
    const circuit::Analysis& analysis, const std::vector<std::uint32_t>& by,
    const std::vector<std::uint32_t>& modes) const {
  std::map<std::uint32_t, StatesAlike> alike;
  SetLinks links(analysis);
  for (const std::uint32_t m : modes) alike.try_emplace(m, states_of(analysis.modes[m]).size());
  for (const std::uint32_t o : by) {
    const auto& sets = analysis.observations[o].sets;
    for (std::uint32_t j = 0; j < sets.size(); ++j) {
      const circuit::SetLink& link = links.of(sets[j]);
      const bool though_sound = o == focus && std::binary_search(values.though_sound.begin(),
                                                                 values.though_sound.end(), j);
      for (std::size_t i = 0; i < sets[j].modes.size(); ++i) {
        const std::uint32_t m = sets[j].modes[i];
        const auto at = alike.find(m);
        if (at == alike.end()) continue;
        at->second.add(link, i);
        if (!though_sound) continue;
        std::vector<std::uint8_t> faulty;
        for (const auto& state : states_of(analysis.modes[m])) faulty.push_back(state.grade > 0);
        at->second.add(faulty);
      }
    }
  }
  return alike;
}

void CauseProducts::Layout::classify(const circuit::Analysis& analysis, Group& group) const {
  std::vector<std::uint32_t> by, modes = group.cut;
  if (group.focus) by.push_back(focus);
  for (std::uint32_t i : group.others) by.push_back(observed[i]);
  modes.insert(modes.end(), group.atoms.begin(), group.atoms.end());
  std::map<std::uint32_t, StatesAlike> alike = told_apart(analysis, by, modes);
  for (std::uint32_t m : group.cut) group.digits.classes.push_back(alike.at(m).classes());
  for (std::uint32_t m : group.atoms) group.classes.push_back(alike.at(m).classes());
  if (group.focus) {
    for (const Fold& fold : folds) {
      group.classes[*position(group.atoms, fold.mode)] = fold.classes;
    }
  }
  if (group.fold != kNone) {
    group.of_fold = coarser(folds[group.fold].classes, group.digits.classes.back());
  }
  for (std::size_t i = 0; i < group.bridges.size(); ++i) {
    group.of_bridge.push_back(
        coarser(bridge_digits.classes[group.bridges[i]], group.digits.classes[group.own_cuts + i]));
  }
}

void CauseProducts::Layout::fill_group(const circuit::Analysis& analysis, Group& group,
                                       std::vector<Where>& where) {
  const auto number = static_cast<std::uint32_t>(groups.size());
  const auto place = [&](std::uint32_t m, bool cut, std::uint32_t index) {
    where[m].group = number;
    where[m].cut = cut;
    where[m].index = index;
  };
  for (std::uint32_t i = 0; i < group.own_cuts; ++i) place(group.cut[i], true, i);
  for (std::uint32_t i = 0; i < group.atoms.size(); ++i) place(group.atoms[i], false, i);
  // A mode's position in the cutset.
  const auto in_cut = [&](std::uint32_t m) -> std::optional<std::uint32_t> {
    if (group.fold != kNone && m == group.cut.back()) {
      return static_cast<std::uint32_t>(group.own_cuts);
    }
    if (where[m].bridge == kNone) {
      return where[m].cut ? std::optional(where[m].index) : std::nullopt;
    }
    return static_cast<std::uint32_t>(group.own_cuts) + *position(group.bridges, where[m].bridge);
  };
  classify(analysis, group);
  const double lanes = group.digits.combinations() *
                       std::pow(3.0, static_cast<double>(group.others.size())) *
                       static_cast<double>(group.focus ? marks() : 1);
  too_large = too_large || group.coordinates() > kMostCoordinates || !(lanes <= kMostCombinations);
  if (too_large) return;
  group.digits.set_places();
  group.lanes = static_cast<std::size_t>(lanes);
  group.in.resize(group.atoms.size());
  SetLinks links(analysis);
  const auto add = [&](std::uint32_t o, int slot) {
    const auto& list = analysis.observations[o].sets;
    for (std::uint32_t j = 0; j < list.size(); ++j) {
      Occurrence one;
      one.slot = slot;
      one.set = j;
      const Places places = split(one, list[j], in_cut);
      const std::uint32_t atom = places.own ? where[list[j].modes[*places.own]].index : kNone;
      if (!fill_table(one, analysis, list[j], links.of(list[j]), group.digits, places,
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
                                     const std::vector<Where>& where, SetLinks& links,
                                     TestLayout& test, std::vector<Touched>& outside) {
  std::vector<StatesAlike> alike;
  const auto evidence = [&](std::uint32_t m) -> const StateClasses* {
    const Where& w = where[m];
    if (w.bridge != kNone) return &bridge_digits.classes[w.bridge];
    if (w.group == kNone) return nullptr;
    const Group& group = groups[w.group];
    return w.cut ? &group.digits.classes[w.index] : &group.classes[w.index];
  };
  for (std::uint32_t m : modes) {
    alike.emplace_back(states_of(analysis.modes[m]).size());
    if (const StateClasses* of = evidence(m)) alike.back().add(of->of);
  }
  for (const circuit::ModeSet& set : sets) {
    const circuit::SetLink& link = links.of(set);
    for (std::size_t i = 0; i < set.modes.size(); ++i) {
      alike[*position(modes, set.modes[i])].add(link, i);
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
  }
  for (std::uint32_t j = 0; j < sets.size(); ++j) {
    Occurrence one;
    one.slot = 0;
    one.set = j;
    const Places places =
        split(one, sets[j], [&](std::uint32_t m) { return position(test.cut, m); });
    Touched* at = places.own ? &outside[*position(modes, sets[j].modes[*places.own])] : nullptr;
    if (!fill_table(one, analysis, sets[j], links.of(sets[j]), test.digits, places,
                    at ? &at->classes : nullptr)) {
      too_large = true;
      return;
    }
    if (test.observation >= analysis.observations.size()) {  // a mode: small numbers keep digits
      for (double& p : one.at_most) p = 1 - p;
    }
    (at ? at->in : test.fixed).push_back(std::move(one));
  }
}

TestLayout CauseProducts::Layout::test_layout(const Model& model, std::uint32_t o,
                                              const std::vector<Where>& where, SetLinks& links) {
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
  // Lanes know the grades of a group's cutset: these modes are in the test's own, too. So is the
  // fold by which a group that is touched touches the focus's.
  for (std::uint32_t m : std::vector(modes)) {
    if (where[m].cut || where[m].bridge != kNone) test.cut.push_back(m);
    if (where[m].group == kNone) continue;
    test.touches.push_back(where[m].group);
    const std::uint32_t fold = groups[where[m].group].fold;
    if (fold == kNone) continue;
    test.touches.push_back(0);
    test.cut.push_back(folds[fold].mode);
    modes.push_back(folds[fold].mode);
  }
  modes = sorted_unique(std::move(modes));
  test.cut = sorted_unique(std::move(test.cut));
  test.touches = sorted_unique(std::move(test.touches));
  test.touched.resize(test.touches.size());
  test.in_cut.resize(test.touches.size());
  test.hub.resize(test.touches.size());
  for (const std::uint32_t g : test.touches) {
    const std::uint32_t fold = groups[g].fold;
    test.fold.push_back(fold == kNone ? kNone : *position(test.cut, folds[fold].mode));
  }

  std::vector<Touched> outside;
  classify(model.analysis(), sets, modes, where, links, test, outside);
  if (too_large) return test;
  for (std::uint32_t i = 0; i < modes.size(); ++i) {
    const Where& w = where[modes[i]];
    const auto cut = position(test.cut, modes[i]);
    if (w.bridge != kNone) {
      test.bridges.push_back({w.bridge, *cut});
      continue;
    }
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

double CauseProducts::Layout::numbers_per_lane(const Group& group) const {
  constexpr double kOwn = 9;  // z and weights, of the view too, and what is multiplied
  constexpr double kOfMark = 4;
  const double places = 0.5 * static_cast<double>(group.atoms.size() + 1);
  return kOwn + places + (group.focus ? static_cast<double>(columns) + kOfMark : 0);
}

double CauseProducts::Layout::numbers_of_atoms(const Group& group, double marks) const {
  double numbers_of_all = 0;
  for (std::size_t a = 0; a < group.atoms.size(); ++a) {
    double own = 0;
    for (const Occurrence& one : group.in[a]) {
      if (one.slot == kFocus) own += position(values.though_sound, one.set) ? 2 : 1;
    }
    double entries = own > 0 ? marks : 1;
    for (std::size_t k = 0; k < group.coordinates(); ++k) {
      if (!(group.depends[a] >> k & 1)) continue;
      entries *=
          k < group.cut.size() ? static_cast<double>(group.digits.classes[k].count) : kGrades;
    }
    numbers_of_all += entries * (static_cast<double>(group.classes[a].count) * (1 + own) + 2 + own);
  }
  return numbers_of_all;
}
}  // namespace faultodds::diagnosis
