// Before anything is summed: the views and reaches that tests need of each group's lanes
// (cause_summation_lanes.cpp), and what of a test no group has.
#include <algorithm>
#include <numeric>

#include "core/diagnosis/cause_summation.h"
#include "core/diagnosis/program.h"
#include "core/stop.h"

namespace faultodds::diagnosis::products {
namespace {

// Numbers that the quotients of one group may keep.
constexpr double kMostKept = std::size_t{1} << 22;

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
}  // namespace

template <typename Real>
Summation<Real>::Summation(const Layout& layout, const Model& model, const CaseNumbers* numbers,
                           const Nodes& nodes, bool with_tests, double most_bytes, Part part)
    : layout_(layout), model_(model), numbers_(numbers), most_bytes_(most_bytes) {
  const std::vector<Mark<Real>> marks =
      marks_of<Real>(model.analysis().observations[layout.focus], layout.focus, numbers, nodes);
  const auto boundary = [&](std::size_t index) {
    return marks.begin() + static_cast<std::ptrdiff_t>(marks.size() * index / part.of);
  };
  marks_.assign(boundary(part.index), boundary(part.index + 1));
  by_set_ = std::any_of(marks_.begin(), marks_.end(),
                        [](const auto& mark) { return mark.elsewhere_by_set != 0; });
  rows_.resize(model.analysis().modes.size());
  fold_row_.resize(layout.folds.size());
  cells_ = numbers == nullptr ? power_of_3(layout.groups.front().others.size()) * kGrades : 1;
  for (const Group& group : layout.groups) {
    lanes_.push_back(lanes_of(group));
    add_view(lanes_.size() - 1, ~std::uint64_t{0});
  }
  width_ = layout.columns + 2;
  cause_.assign(cells_ * width_, 0);
  restricted_.assign(layout.columns, 0);
  for (std::size_t g = 0; g < lanes_.size(); ++g) reach(g, 0, {}, {});  // the first: of all
  if (!with_tests) return;
  for (const TestLayout& test : layout.tests) {
    check_stop();
    tests_.push_back(prepare(test));
  }
  split_by_class();
  chain_views();
  take_sums();
}

// Of what run() takes: the sums of reaches, and the quotients that one of them needs at once. What
// is left of it further quotients may keep.
template <typename Real>
void Summation<Real>::take_sums() {
  std::size_t numbers = 0;
  for (std::size_t g = 0; g < lanes_.size(); ++g) {
    const Lanes& lanes = lanes_[g];
    numbers += lanes.reaches.size() * lanes.slices * (g == 0 ? slice_size() : 1);
    std::size_t most = 0;
    for (const Reach& reach : lanes.reaches) {
      std::size_t together = 0;
      for (const std::uint32_t q : reach.quotients) {
        const std::uint32_t atom = lanes.quotients[q].atom;
        together += lanes.tables[atom].size * (1 + lanes.columns_of_atom[atom].size());
      }
      most = std::max(most, together);
    }
    numbers += most;
  }
  take(static_cast<double>(numbers * sizeof(Real)));
  const double left = (most_bytes_ - taken_) / sizeof(Real);
  most_kept_ =
      static_cast<std::size_t>(std::min(kMostKept, left / static_cast<double>(lanes_.size())));
}

// The view of a group's lanes that keeps some coordinates, made on first use; all bits: all lanes.
template <typename Real>
std::size_t Summation<Real>::add_view(std::size_t group, std::uint64_t keeps) {
  Lanes& lanes = lanes_[group];
  const Group& of = layout_.groups[group];
  for (std::size_t v = 0; v < lanes.views.size(); ++v) {
    if (lanes.views[v].keeps == keeps) return v;
  }
  const std::size_t cuts = of.cut.size(), marks = of.focus ? marks_.size() : 1;
  const std::size_t combinations = lanes.per_cut / marks;
  View view;
  view.keeps = keeps;
  if (keeps == ~std::uint64_t{0}) {  // counted with the lanes
    view.lane.resize(lanes.count);
    std::iota(view.lane.begin(), view.lane.end(), 0u);
    view.cell = view.lane;
    view.run.resize(lanes.count / marks);
    std::iota(view.run.begin(), view.run.end(), 0u);
  } else {
    // A cell's key has the coordinates that are kept as its digits, and the mark.
    std::size_t keys = marks;
    std::vector<std::size_t> of_cut(lanes.cuts, 0), of_combination(combinations, 0);
    for (std::size_t i = 0; i < cuts; ++i) {
      if (!(keeps >> i & 1)) continue;
      for (std::size_t c = 0; c < lanes.cuts; ++c) of_cut[c] += keys * of.digits.of(c, i);
      keys *= of.digits.classes[i].count;
    }
    std::size_t place = 1;
    for (std::size_t k = 0; k < of.others.size(); ++k) {
      const std::size_t size = lanes.thresholds[k];
      for (std::size_t c = 0; c < combinations && keeps >> (cuts + k) & 1; ++c) {
        of_combination[c] += keys * (c / place % size);
      }
      if (keeps >> (cuts + k) & 1) keys *= size;
      place *= size;
    }
    std::vector<std::uint32_t> cell_of(keys, kNone);
    std::size_t lane = 0;
    for (std::size_t c = 0; c < lanes.cuts; ++c) {
      check_stop();
      for (std::size_t combination = 0; combination < combinations; ++combination) {
        for (std::size_t m = 0; m < marks; ++m, ++lane) {
          std::uint32_t& cell = cell_of[of_cut[c] + of_combination[combination] + m];
          if (cell == kNone) {
            cell = static_cast<std::uint32_t>(view.lane.size());
            view.lane.push_back(static_cast<std::uint32_t>(lane));
            if (m == 0) view.run.push_back(static_cast<std::uint32_t>(lane / marks));
          }
          view.cell.push_back(cell);
        }
      }
    }
    // Each cell's weights, z and shares.
    take(static_cast<double>(view.lane.size()) * static_cast<double>(layout_.columns + 6) *
             sizeof(Real) +
         static_cast<double>(lanes.count) * sizeof(std::uint32_t));
  }
  for (std::size_t i = 0; i < view.lane.size(); ++i) {
    const std::size_t cut = view.lane[i] / lanes.per_cut;
    const std::size_t cell = of.slice_of(cut) * (of.focus ? cells_ : 1) + lanes.cell[view.lane[i]];
    if (view.blocks.empty() || view.blocks.back().cut != cut || view.blocks.back().cell != cell) {
      view.blocks.push_back({i, i, cut, cell, false});
    }
    Block& block = view.blocks.back();
    block.end = i + 1;
    if (!of.focus) continue;
    const Mark<Real>& mark = marks_[view.lane[i] % marks];
    block.shares = block.shares || mark.set != 0 || mark.elsewhere_by_set != 0;
    view.set.push_back(mark.set);
    view.elsewhere.push_back(mark.elsewhere);
    view.nothing.push_back(mark.nothing);
    view.elsewhere_by_set.push_back(mark.elsewhere_by_set);
  }
  take(static_cast<double>(view.blocks.size() * sizeof(Block)));
  lanes.views.push_back(std::move(view));
  return lanes.views.size() - 1;
}

// Views of the focus's group are summed from the smallest that has all they keep, largest first.
template <typename Real>
void Summation<Real>::chain_views() {
  std::vector<View>& views = lanes_.front().views;
  view_order_.resize(views.size());
  std::iota(view_order_.begin(), view_order_.end(), std::size_t{0});
  std::stable_sort(view_order_.begin() + 1, view_order_.end(), [&](std::size_t a, std::size_t b) {
    return views[a].lane.size() > views[b].lane.size();
  });
  for (std::size_t k = view_order_.size(); k-- > 1;) {  // smallest first: others are whole still
    View& view = views[view_order_[k]];
    for (std::size_t before = 0; before < k; ++before) {
      const View& other = views[view_order_[before]];
      if ((view.keeps & ~other.keeps) == 0) view.from = view_order_[before];
    }
    std::vector<std::uint32_t> cell;
    for (const std::uint32_t lane : views[view.from].lane) cell.push_back(view.cell[lane]);
    view.cell = std::move(cell);
  }
}

template <typename Real>
typename Summation<Real>::Prepared Summation<Real>::prepare(const TestLayout& test) {
  Prepared prepared;
  prepared.layout = &test;
  prepared.combinations = test.digits.place.back();
  take(static_cast<double>(kThresholds * (cells_ * width_ + prepared.combinations) * sizeof(Real)));
  prepared.at_most.assign(kThresholds * cells_ * width_, 0);
  prepared.fixed.assign(prepared.combinations * kThresholds, 1);
  for (const Occurrence& one : test.fixed) {
    for (std::size_t y = 0; y < prepared.combinations; ++y) {
      const double* most = one.at_most.data() + one.entry(test.digits, y) * kThresholds;
      for (std::size_t t = 0; t < kThresholds; ++t) {
        prepared.fixed[y * kThresholds + t] *= static_cast<Real>(most[t]);
      }
    }
  }
  for (std::size_t entry = 0; entry < test.touches.size(); ++entry) {
    prepared.reach.push_back(reaches_of(test, entry));
  }
  prepare_free(prepared);
  prepare_bridges(prepared);
  return prepared;
}

template <typename Real>
void Summation<Real>::prepare_bridges(Prepared& prepared) {
  const TestLayout& test = *prepared.layout;
  Digits digits;  // of the bridges that the test's cutset has
  for (const Pinned& bridge : test.bridges) {
    digits.classes.push_back(layout_.bridge_digits.classes[bridge.index]);
  }
  digits.set_places();
  prepared.bridged.resize(digits.place.back());
  for (std::uint32_t b = 0; b < layout_.bridge_digits.place.back(); ++b) {
    std::size_t at = 0;
    for (std::size_t i = 0; i < test.bridges.size(); ++i) {
      at += digits.place[i] * layout_.bridge_digits.of(b, test.bridges[i].index);
    }
    prepared.bridged[at].push_back(b);
  }
  for (std::size_t y = 0; y < prepared.combinations; ++y) {
    std::size_t at = 0;
    for (std::size_t i = 0; i < test.bridges.size(); ++i) {
      const std::uint32_t cut = test.bridges[i].cut;
      at += digits.place[i] * test.of_evidence[cut][test.digits.of(y, cut)];
    }
    prepared.with.push_back(static_cast<std::uint32_t>(at));
  }
}

// By combination of a test's cutset and t: what it needs of a group that it touches.
template <typename Real>
std::vector<std::uint32_t> Summation<Real>::reaches_of(const TestLayout& test, std::size_t entry) {
  const std::size_t g = test.touches[entry];
  const Group& group = layout_.groups[g];
  std::uint64_t keeps = kept(group, test, entry);
  if (numbers_ == nullptr) {  // by cell, thresholds are told apart in any case
    for (std::size_t k = group.cut.size(); k < group.coordinates(); ++k) {
      keeps |= std::uint64_t{1} << k;
    }
  }
  const std::uint64_t every = (std::uint64_t{1} << group.coordinates()) - 1;
  const std::size_t view = add_view(g, !group.focus || keeps == every ? ~std::uint64_t{0} : keeps);
  std::vector<std::vector<double>> psis;
  std::vector<std::uint32_t> tied;  // positions in the test's cutset that restrictions depend on
  for (const Touched& one : test.touched[entry]) {
    psis.push_back(psi<double>(test.digits, one));
    for (const Occurrence& in : one.in) tied.insert(tied.end(), in.cut.begin(), in.cut.end());
  }
  // Where restrictions depend on a bridge, only the slices of its class are wanted.
  std::vector<std::pair<std::uint32_t, const Pinned*>> slices;  // positions in the group's cutset
  for (const Pinned& bridge : test.bridges) {
    const auto at = position(group.bridges, bridge.index);
    if (!at || std::find(tied.begin(), tied.end(), bridge.cut) == tied.end()) continue;
    slices.emplace_back(static_cast<std::uint32_t>(group.own_cuts) + *at, &bridge);
  }
  std::vector<std::uint32_t> result;
  std::vector<double> weight;
  for (std::size_t y = 0; y < test.digits.place.back(); ++y) {
    if (y % 64 == 0) check_stop();
    std::vector<std::pair<std::uint32_t, std::size_t>> hubs;
    for (const Pinned& hub : test.hub[entry]) {
      hubs.emplace_back(hub.index, test.of_evidence[hub.cut][test.digits.of(y, hub.cut)]);
    }
    for (const auto& [index, bridge] : slices) {
      const std::uint8_t known = test.of_evidence[bridge->cut][test.digits.of(y, bridge->cut)];
      hubs.emplace_back(index, group.of_bridge[index - group.own_cuts][known]);
    }
    for (std::size_t t = 0; t < kThresholds; ++t) {
      std::vector<std::uint32_t> quotients;
      const auto add = [&](std::uint32_t atom) {
        if (std::all_of(weight.begin(), weight.end(), [](double w) { return w == 1; })) return;
        quotients.push_back(quotient(lanes_[g], atom, weight));
      };
      for (std::size_t k = 0; k < psis.size(); ++k) {
        const Touched& one = test.touched[entry][k];
        const double* of_class = psis[k].data() + (y * kThresholds + t) * one.classes.count;
        weight.clear();
        for (const std::uint8_t e : one.classes.of) weight.push_back(of_class[e]);
        add(one.index);
      }
      for (const Pinned& one : test.in_cut[entry]) {
        weight.clear();
        for (const std::uint8_t e : test.digits.classes[one.cut].of) {
          weight.push_back(e == test.digits.of(y, one.cut) ? 1 : 0);
        }
        add(one.index);
      }
      std::sort(quotients.begin(), quotients.end());
      result.push_back(reach(g, view, std::move(quotients), hubs));
    }
  }
  return result;
}

template <typename Real>
std::uint32_t Summation<Real>::quotient(Lanes& lanes, std::uint32_t atom,
                                        const std::vector<double>& weight) {
  std::vector<double> key = weight;
  key.push_back(atom);
  const auto id = static_cast<std::uint32_t>(lanes.quotients.size());
  const auto [at, is_new] = lanes.quotient_ids.try_emplace(std::move(key), id);
  if (is_new) {
    take(static_cast<double>(sizeof(Quotient) + 2 * weight.size() * sizeof(double)));
    Quotient& one = lanes.quotients.emplace_back();
    one.atom = atom;
    one.weight = weight;
  }
  return at->second;
}

// `hubs`: positions in the group's cutset, and their classes.
template <typename Real>
std::uint32_t Summation<Real>::reach(
    std::size_t group, std::size_t view, std::vector<std::uint32_t> quotients,
    const std::vector<std::pair<std::uint32_t, std::size_t>>& hubs) {
  Lanes& lanes = lanes_[group];
  std::vector<std::uint32_t> key;
  key.reserve(quotients.size() + 2 * hubs.size() + 2);
  key.insert(key.end(), quotients.begin(), quotients.end());
  key.push_back(kNone);
  for (const auto& [index, digit] : hubs) {
    key.push_back(index);
    key.push_back(static_cast<std::uint32_t>(digit));
  }
  key.push_back(static_cast<std::uint32_t>(view));
  const std::size_t key_bytes = key.size() * sizeof(std::uint32_t);
  const auto id = static_cast<std::uint32_t>(lanes.reaches.size());
  const auto [at, is_new] = lanes.reach_ids.try_emplace(std::move(key), id);
  if (!is_new) return at->second;
  Reach& one = lanes.reaches.emplace_back();
  one.view = view;
  one.quotients = std::move(quotients);
  const auto& blocks = lanes.views[view].blocks;
  for (std::uint32_t b = 0; b < blocks.size(); ++b) {
    if (std::all_of(hubs.begin(), hubs.end(), [&](const auto& hub) {
          return layout_.groups[group].digits.of(blocks[b].cut, hub.first) == hub.second;
        })) {
      one.blocks.push_back(b);
      if (one.ranges.empty() || one.ranges.back().second != blocks[b].begin) {
        one.ranges.emplace_back(blocks[b].begin, blocks[b].begin);
      }
      one.ranges.back().second = blocks[b].end;
    }
  }
  take(static_cast<double>(sizeof one + key_bytes + one.blocks.size() * sizeof(std::uint32_t) +
                           one.ranges.size() * sizeof one.ranges[0]));
  return id;
}

// Many restrictions of one atom alone are summed class by class.
template <typename Real>
void Summation<Real>::split_by_class() {
  Lanes& lanes = lanes_.front();
  std::map<std::pair<std::size_t, std::uint32_t>, std::vector<std::uint32_t>> alone;
  for (std::uint32_t id = 0; id < lanes.reaches.size(); ++id) {
    const Reach& one = lanes.reaches[id];
    if (one.quotients.size() != 1 || one.blocks.size() != lanes.views[one.view].blocks.size()) {
      continue;
    }
    alone[{one.view, lanes.quotients[one.quotients[0]].atom}].push_back(id);
  }
  for (const auto& [place, ids] : alone) {
    const StateClasses& classes = layout_.groups.front().classes[place.second];
    if (ids.size() <= classes.count) continue;
    std::vector<std::uint32_t> by_class;
    for (std::size_t e = 0; e < classes.count; ++e) {
      std::vector<double> weight;
      for (const std::uint8_t of : classes.of) weight.push_back(of == e ? 1 : 0);
      by_class.push_back(reach(0, place.first, {quotient(lanes, place.second, weight)}, {}));
    }
    for (const std::uint32_t id : ids) {
      if (std::find(by_class.begin(), by_class.end(), id) == by_class.end()) {
        lanes.reaches[id].by_class = by_class;
      }
    }
  }
}

// The factor of the modes that no group has, by combination of those conditions on them that the
// groups know; others are summed out.
template <typename Real>
void Summation<Real>::prepare_free(Prepared& prepared) {
  const TestLayout& test = *prepared.layout;
  const std::size_t all = test.conditions.size(), n = layout_.conditions.size();
  std::vector<std::size_t> common;  // places among the test's conditions, and so `own`
  std::vector<std::size_t> own;
  for (std::size_t i = 0; i < all; ++i) {
    const auto at = position(layout_.conditions, test.conditions[i]);
    if (at) prepared.common.push_back(n - 1 - *at);
    (at ? common : own).push_back(i);
  }
  const std::size_t commons = std::size_t{1} << common.size();
  const std::size_t entries = prepared.combinations * kThresholds;
  take(static_cast<double>(entries * commons * sizeof(Real)));
  prepared.free.assign(entries * commons, 0);
  // Of each mode: combination of its own conditions, then combination of the cutset and t.
  std::vector<std::vector<Real>> factors;
  std::vector<const std::vector<std::uint32_t>*> conditions;
  const auto add = [&](std::uint32_t mode, const StateClasses& classes, const auto& factor) {
    const std::size_t states = states_of(model_.analysis().modes[mode]).size();
    const std::vector<Real>& by = rows(mode);
    auto& of = factors.emplace_back();
    for (std::size_t k = 0; k * states < by.size(); ++k) {
      const ByClass p = lump(by.data() + k * states, classes);
      for (std::size_t entry = 0; entry < entries; ++entry) of.push_back(factor(p, entry));
    }
    conditions.push_back(&model_.program().mode_conditions()[mode].conditions);
  };
  for (const std::uint32_t cut : test.free_cut) {
    add(test.cut[cut], test.digits.classes[cut], [&](const ByClass& p, std::size_t entry) {
      return p[test.digits.of(entry / kThresholds, cut)];
    });
  }
  for (const Touched& one : test.free) {
    const std::vector<Real> most = psi<Real>(test.digits, one);
    add(one.index, one.classes, [&](const ByClass& p, std::size_t entry) {
      Real sum = 0;
      for (std::size_t e = 0; e < one.classes.count; ++e) {
        sum += p[e] * most[entry * one.classes.count + e];
      }
      return sum;
    });
  }
  std::vector<Real> product(entries);
  std::vector<bool> holds(all);
  for (std::size_t k = 0; k < std::size_t{1} << all; ++k) {
    check_stop();
    Real probability = 1;
    std::size_t at = 0;
    for (std::size_t i = 0; i < all; ++i) holds[i] = k >> i & 1;
    for (const std::size_t i : common) at = at * 2 + holds[i];
    for (const std::size_t i : own) {
      const Real p =
          static_cast<Real>(model_.analysis().conditions[test.conditions[i]].probability);
      probability *= holds[i] ? p : 1 - p;
    }
    product.assign(entries, probability);
    for (std::size_t i = 0; i < factors.size(); ++i) {
      std::size_t combination = 0;
      for (const std::uint32_t c : *conditions[i]) {
        combination = combination * 2 + holds[*position(test.conditions, c)];
      }
      const Real* factor = factors[i].data() + combination * entries;
      for (std::size_t entry = 0; entry < entries; ++entry) product[entry] *= factor[entry];
    }
    for (std::size_t entry = 0; entry < entries; ++entry) {
      prepared.free[entry * commons + at] += product[entry];
    }
  }
}

// The constructors bring with them all that they call.
template Summation<double>::Summation(const Layout&, const Model&, const CaseNumbers*, const Nodes&,
                                      bool, double, Part);
template Summation<long double>::Summation(const Layout&, const Model&, const CaseNumbers*,
                                           const Nodes&, bool, double, Part);

}  // namespace faultodds::diagnosis::products
