#include "core/diagnosis/cause_summation.h"

#include <algorithm>
#include <cmath>
#include <numeric>

#include "core/diagnosis/dot.h"
#include "core/diagnosis/program.h"
#include "core/stop.h"

namespace faultodds::diagnosis::products {
namespace {

// Numbers that the quotients of one group may keep.
constexpr std::size_t kMostKept = std::size_t{1} << 22;

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
void multiply(const std::vector<Real>& a, const std::vector<Real>& b, std::size_t begin,
              std::size_t end, std::vector<Real>& into) {
  const Real* x = a.data();
  const Real* y = b.data();
  Real* z = into.data();
  for (std::size_t i = begin; i < end; ++i) z[i] = x[i] * y[i];
}

}  // namespace

template <typename Real>
void Summation<Real>::run() {
  const std::size_t n = layout_.conditions.size();
  if (numbers_ == nullptr) by_conditions_.assign((std::size_t{1} << n) * cells_ * width_, 0);
  for_each_condition([&](std::size_t c, Real probability) {
    fill_views();
    add_cause(c);
    std::size_t done = 0;
    for (Prepared& test : tests_) {
      if (done++ % 16 == 0) check_stop();
      if (numbers_ == nullptr && !test.layout->near()) continue;  // by_conditions_ has it
      add_test(test, c, probability);
    }
  });
}

template <typename Real>
void Summation<Real>::add(const Summation& other) {
  const auto to = [](std::vector<Real>& sums, const std::vector<Real>& more) {
    for (std::size_t i = 0; i < sums.size(); ++i) sums[i] += more[i];
  };
  to(cause_, other.cause_);
  to(by_conditions_, other.by_conditions_);
  for (std::size_t i = 0; i < tests_.size(); ++i) to(tests_[i].at_most, other.tests_[i].at_most);
  absolute_ += other.absolute_;
}

template <typename Real>
TieLoss Summation<Real>::measure_ties() {
  std::size_t sets_of_mode = 1;
  const Lanes& focus = lanes_.front();
  for (const auto& columns : focus.columns_of_atom) {
    sets_of_mode = std::max(sets_of_mode, columns.size());
  }
  TieLoss loss(cells_, sets_of_mode);
  const auto& background = model_.analysis().observations[layout_.focus].background;
  const double up_to[3] = {background[0], background[0] + background[1], 1};
  for_each_condition([&](std::size_t, Real) {
    for (std::size_t lane = 0; lane < focus.count; ++lane) {
      const Mark<Real>& mark = marks_[lane % marks_.size()];
      const Real scale = scale_[lane / (focus.count / focus.slices)];
      const double weight = static_cast<double>(scale * focus.z[lane]);
      if (weight == 0) continue;
      const auto of_sets = static_cast<double>(mark.set);
      const auto others = static_cast<double>(mark.elsewhere);
      double ties = 0;
      for (std::size_t j = 0; j < layout_.columns; ++j) {
        ties += static_cast<double>(focus.share[j * focus.count + lane]);
      }
      const double sum = ties * of_sets + others;
      if (mark.grade > 0 && up_to[mark.grade] > 0)
        ties += background[mark.grade] / up_to[mark.grade];
      loss.add(focus.cell[lane], ties, std::abs(weight) * (of_sets * std::max(1.0, ties) + others));
      loss.add_total(focus.cell[lane],
                     weight * (sum / (1 + ties) + static_cast<double>(mark.nothing)));
    }
  });
  return loss;
}

template <typename Real>
Real Summation<Real>::far(std::size_t i, std::size_t t, std::size_t c) const {
  const Prepared& test = tests_[i];
  const std::size_t commons = std::size_t{1} << test.common.size(), common = common_of(test, c);
  Real sum = 0;
  for (std::size_t y = 0; y < test.combinations; ++y) {
    sum += test.fixed[y * kThresholds + t] * test.free[(y * kThresholds + t) * commons + common];
  }
  return sum;
}

template <typename Real>
const std::vector<Real>& Summation<Real>::rows(std::uint32_t mode) {
  std::vector<Real>& result = rows_[mode];
  if (!result.empty()) return result;
  const circuit::GradeDistribution prior =
      numbers_ != nullptr ? prior_in(model_, *numbers_, mode) : model_.analysis().modes[mode].prior;
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

// Visits every combination of the conditions that is possible, in an order in which the lanes
// change little: by a Gray code, in which what acts on few modes changes most often.
template <typename Real>
template <typename Visit>
void Summation<Real>::for_each_condition(Visit visit) {
  const std::size_t n = layout_.conditions.size();
  std::vector<std::size_t> acts(n, 0), order(n);
  for (const Group& group : layout_.groups) {
    for (const std::uint32_t m : group.atoms) {
      for (const std::uint32_t condition : model_.program().mode_conditions()[m].conditions) {
        ++acts[n - 1 - *position(layout_.conditions, condition)];
      }
    }
  }
  std::iota(order.begin(), order.end(), std::size_t{0});
  std::stable_sort(order.begin(), order.end(),
                   [&](std::size_t a, std::size_t b) { return acts[a] < acts[b]; });
  for (std::size_t k = 0; k < std::size_t{1} << n; ++k) {
    check_stop();
    std::size_t c = 0;
    Real probability = 1;
    for (std::size_t i = 0; i < n; ++i) {
      const bool holds = (k ^ (k >> 1)) >> i & 1;
      if (holds) c |= std::size_t{1} << order[i];
      const Real p = static_cast<Real>(
          model_.analysis().conditions[layout_.conditions[n - 1 - order[i]]].probability);
      probability *= holds ? p : 1 - p;
    }
    if (probability == 0) continue;
    ++step_;
    for (std::size_t i = 1; i < lanes_.size(); ++i) fill(layout_.groups[i], lanes_[i], c);
    fill_folds(c);
    fill(layout_.groups[0], lanes_[0], c);
    fill_bridges(c);
    fill_scales(probability);
    visit(c, probability);
  }
}

// What is known of a fold through its groups.
template <typename Real>
void Summation<Real>::fill_folds(std::size_t c) {
  constexpr Real kSlight = Real(1e-6);  // part of a sum whose digits do not count
  fold_magnitude_ = 0;
  for (std::uint32_t f = 0; f < layout_.folds.size(); ++f) {
    const auto& fold = layout_.folds[f];
    const std::size_t states = fold.classes.of.size();
    const Real* prior = row(fold.mode, c);
    fold_row_[f].assign(prior, prior + states);
    for (std::size_t i = 1; i < lanes_.size(); ++i) {
      const Group& group = layout_.groups[i];
      if (group.fold != f) continue;
      Real total = 0;
      for (std::size_t k = 0; k < states; ++k) {
        // Below zero by rounding alone.
        fold_row_[f][k] *= std::max(Real(0), lanes_[i].sum[group.of_fold[fold.classes.of[k]]]);
        total += fold_row_[f][k];
      }
      Real most = 0;
      for (std::size_t k = 0; k < states; ++k) {
        const std::size_t slice = group.of_fold[fold.classes.of[k]];
        if (fold_row_[f][k] <= kSlight * total) continue;
        most = std::max(most, lanes_[i].absolute[slice] / lanes_[i].sum[slice]);
      }
      fold_magnitude_ += most;
    }
  }
}

template <typename Real>
void Summation<Real>::fill_bridges(std::size_t c) {
  const Digits& digits = layout_.bridge_digits;
  bridge_row_.clear();
  for (std::size_t i = 0; i < layout_.bridges.size(); ++i) {
    bridge_row_.push_back(lump(row(layout_.bridges[i], c), digits.classes[i]));
  }
  bridged_.assign(digits.place.back(), 1);
  for (std::size_t b = 0; b < bridged_.size(); ++b) {
    for (std::size_t i = 0; i < bridge_row_.size(); ++i) {
      bridged_[b] *= bridge_row_[i][digits.of(b, i)];
    }
  }
}

template <typename Real>
void Summation<Real>::fill_scales(Real probability) {
  const Lanes& focus = lanes_.front();
  scale_.assign(focus.slices, 0);
  size_of_scale_.assign(focus.slices, 0);
  magnitude_.assign(focus.slices, 0);
  for (std::size_t b = 0; b < bridged_.size(); ++b) {
    Real scale = probability * bridged_[b], magnitude = fold_magnitude_;
    for (std::size_t i = 1; i < lanes_.size(); ++i) {
      if (lanes_[i].folded) continue;
      const std::uint32_t slice = lanes_[i].slice[b];
      const Real sum = lanes_[i].sum[slice];
      scale *= sum;
      if (sum != 0) magnitude += lanes_[i].absolute[slice] / std::abs(sum);
    }
    const std::uint32_t slice = focus.slice[b];
    scale_[slice] += scale;
    size_of_scale_[slice] += std::abs(scale);
    magnitude_[slice] += std::abs(scale) * magnitude;
  }
}

template <typename Real>
void Summation<Real>::fill(const Group& group, Lanes& lanes, std::size_t c) {
  for (std::uint32_t a = 0; a < group.atoms.size(); ++a) {
    const std::uint32_t fold = lanes.fold[a];
    const Real* now = fold == kNone ? row(group.atoms[a], c) : fold_row_[fold].data();
    if (now == lanes.row[a] && fold == kNone) continue;
    lanes.row[a] = now;
    refresh(group, lanes, a);
  }
  lanes.cut_row.clear();
  for (std::size_t i = 0; i < group.own_cuts; ++i) {
    lanes.cut_row.push_back(lump(row(group.cut[i], c), group.digits.classes[i]));
  }
  for (std::size_t cut = 0; cut < lanes.cuts; ++cut) {
    Real prior = 1;
    for (std::uint32_t i = 0; i < group.own_cuts; ++i) {
      prior *= lanes.cut_row[i][group.digits.of(cut, i)];
    }
    for (std::size_t lane = cut * lanes.per_cut; lane < (cut + 1) * lanes.per_cut; ++lane) {
      lanes.z[lane] = prior * lanes.fixed[lane];
    }
  }
  for (const std::vector<Real>& factor : lanes.factor) {
    for (std::size_t lane = 0; lane < lanes.count; ++lane) lanes.z[lane] *= factor[lane];
  }
  if (group.focus) return;
  lanes.sum.assign(lanes.slices, 0);
  lanes.absolute.assign(lanes.slices, 0);
  const std::size_t in_slice = lanes.count / lanes.slices;
  for (std::size_t lane = 0; lane < lanes.count; ++lane) {
    lanes.sum[lane / in_slice] += lanes.z[lane];
    lanes.absolute[lane / in_slice] += std::abs(lanes.z[lane]);
  }
  lanes.views.front().z = lanes.z;
}

// What depends on the row of an atom.
template <typename Real>
void Summation<Real>::refresh(const Group& group, Lanes& lanes, std::uint32_t atom) {
  ++lanes.version[atom];
  const ByClass p = lump(lanes.row[atom], group.classes[atom]);
  const std::size_t classes = group.classes[atom].count;
  sum_classes(p, classes, lanes.phi[atom], lanes.count, lanes.factor[atom]);
  Real* inverse = lanes.inverse[atom].data();
  for (std::size_t lane = 0; lane < lanes.count; ++lane) {
    const Real f = lanes.factor[atom][lane];
    inverse[lane] = f > 0 ? 1 / f : 0;
  }
  for (const std::uint32_t j : lanes.columns_of_atom[atom]) {
    sum_classes(p, classes, lanes.sphi[j], lanes.count, sum_);
    Real* share = lanes.share.data() + j * lanes.count;
    for (std::size_t lane = 0; lane < lanes.count; ++lane) share[lane] = sum_[lane] * inverse[lane];
  }
}

template <typename Real>
void Summation<Real>::fill_views() {
  Lanes& lanes = lanes_.front();
  const std::size_t columns = layout_.columns;
  View& all = lanes.views.front();
  all.z = lanes.z;
  all.share.resize(columns * lanes.count);
  for (std::size_t j = 0; j < columns; ++j) {
    const Real* share = lanes.share.data() + j * lanes.count;
    Real* into = all.share.data() + j * lanes.count;
    for (std::size_t lane = 0; lane < lanes.count; ++lane) into[lane] = lanes.z[lane] * share[lane];
  }
  for (std::size_t k = 1; k < view_order_.size(); ++k) {
    View& view = lanes.views[view_order_[k]];
    const View& from = lanes.views[view.from];
    const std::size_t cells = view.lane.size(), n = from.lane.size();
    view.z.assign(cells, 0);
    view.share.assign(cells * columns, 0);
    for (std::size_t i = 0; i < n; ++i) view.z[view.cell[i]] += from.z[i];
    for (std::size_t j = 0; j < columns; ++j) {
      Real* into = view.share.data() + j * cells;
      const Real* share = from.share.data() + j * n;
      for (std::size_t i = 0; i < n; ++i) into[view.cell[i]] += share[i];
    }
  }
}

template <typename Real>
void Summation<Real>::add_cause(std::size_t c) {
  const std::vector<Real>& whole = reached(0, 0);
  const View& all = lanes_.front().views.front();
  const std::size_t lanes = all.lane.size(), slices = lanes_.front().slices;
  sum_.assign(lanes, 0);
  for (std::size_t j = 0; j < layout_.columns; ++j) {
    const Real* share = all.share.data() + j * lanes;
    for (std::size_t lane = 0; lane < lanes; ++lane) sum_[lane] += share[lane];
  }
  for (std::size_t slice = 0; slice < slices; ++slice) {
    Real absolute = 0, sum = 0;
    for (std::size_t lane = slice * (lanes / slices); lane < (slice + 1) * (lanes / slices);
         ++lane) {
      const Real weight = (all.set[lane] + all.elsewhere_by_set[lane]) * sum_[lane] +
                          (all.elsewhere[lane] + all.nothing[lane]) * all.z[lane];
      absolute += std::abs(weight);
      sum += weight;
    }
    // Errors of factors add up.
    absolute_ += size_of_scale_[slice] * absolute + magnitude_[slice] * std::abs(sum);
    const Real* of_slice = whole.data() + slice * slice_size();
    for (std::size_t i = 0; i < slice_size(); ++i) cause_[i] += scale_[slice] * of_slice[i];
    if (by_conditions_.empty()) continue;
    for (std::size_t i = 0; i < slice_size(); ++i) {
      by_conditions_[c * slice_size() + i] += scale_[slice] * of_slice[i];
    }
  }
}

template <typename Real>
const typename Summation<Real>::Quotient& Summation<Real>::left(std::size_t group,
                                                                std::uint32_t id) {
  Lanes& lanes = lanes_[group];
  Quotient& one = lanes.quotients[id];
  if (one.version == lanes.version[one.atom]) return one;
  one.version = lanes.version[one.atom];
  const View& view = lanes.views[one.view];
  const StateClasses& classes = layout_.groups[group].classes[one.atom];
  const std::size_t cells = view.lane.size();
  const std::vector<std::uint32_t>& own = lanes.columns_of_atom[one.atom];
  if (one.left.empty()) lanes.kept += cells * (1 + own.size());
  const Real* inverse = lanes.inverse[one.atom].data();
  ByClass p;
  std::fill_n(p.begin(), classes.count, Real(0));
  for (std::size_t k = 0; k < classes.of.size(); ++k) {
    p[classes.of[k]] += lanes.row[one.atom][k] * static_cast<Real>(one.weight[k]);
  }
  const auto sum = [&](const std::vector<Real>& by_class, Real* into) {
    std::fill_n(into, cells, Real(0));
    for (std::size_t e = 0; e < classes.count; ++e) {
      if (p[e] == 0) continue;
      const Real* of = by_class.data() + e * lanes.count;
      for (std::size_t i = 0; i < cells; ++i) into[i] += p[e] * of[view.lane[i]];
    }
  };
  one.left.resize(cells);
  sum(lanes.phi[one.atom], one.left.data());
  one.share.resize(cells * own.size());
  for (std::size_t k = 0; k < own.size(); ++k) {
    Real* share = one.share.data() + k * cells;
    sum(lanes.sphi[own[k]], share);
    for (std::size_t i = 0; i < cells; ++i) share[i] = one.left[i] > 0 ? share[i] / one.left[i] : 0;
  }
  for (std::size_t i = 0; i < cells; ++i) one.left[i] *= inverse[view.lane[i]];
  return one;
}

// Of the focus's group the sums by slice, cell and column, of another the sums of its slices.
template <typename Real>
const std::vector<Real>& Summation<Real>::reached(std::size_t group, std::uint32_t id) {
  Lanes& lanes = lanes_[group];
  Reach& one = lanes.reaches[id];
  if (one.step == step_) return one.sums;
  one.step = step_;
  one.sums.assign(lanes.slices * (group == 0 ? slice_size() : 1), 0);
  if (one.by_class.empty()) {
    if (lanes.kept > kMostKept) {
      for (Quotient& quotient : lanes.quotients) {
        quotient.version = 0;
        quotient.left = quotient.share = {};
      }
      lanes.kept = 0;
    }
    sum_reach(group, one);
    return one.sums;
  }
  const Quotient& quotient = lanes.quotients[one.quotients[0]];
  const StateClasses& classes = layout_.groups[group].classes[quotient.atom];
  const Real* row = lanes.row[quotient.atom];
  ByClass whole = lump(row, classes), part;
  std::fill_n(part.begin(), classes.count, Real(0));
  for (std::size_t k = 0; k < classes.of.size(); ++k) {
    part[classes.of[k]] += row[k] * static_cast<Real>(quotient.weight[k]);
  }
  for (std::size_t e = 0; e < classes.count; ++e) {
    if (part[e] == 0) continue;
    const Real share = part[e] / whole[e];
    const std::vector<Real>& of_class = reached(group, one.by_class[e]);
    for (std::size_t i = 0; i < one.sums.size(); ++i) one.sums[i] += share * of_class[i];
  }
  return one.sums;
}

template <typename Real>
void Summation<Real>::sum_reach(std::size_t group, Reach& reach) {
  const Lanes& lanes = lanes_[group];
  const View& view = lanes.views[reach.view];
  product_.assign(view.lane.size(), 1);
  for (const std::uint32_t q : reach.quotients) {
    const std::vector<Real>& by = left(group, q).left;
    for (const auto& [begin, end] : reach.ranges) multiply(product_, by, begin, end, product_);
  }
  if (group > 0 && lanes.slices == 1) {
    for (const auto& [begin, end] : reach.ranges) {
      reach.sums[0] += dot(view.z.data() + begin, product_.data() + begin, end - begin);
    }
    return;
  }
  if (group > 0) {
    for (const std::uint32_t b : reach.blocks) {
      const Block& block = view.blocks[b];
      reach.sums[block.cell] +=
          dot(view.z.data() + block.begin, product_.data() + block.begin, block.end - block.begin);
    }
    return;
  }
  for (const std::uint32_t q : reach.quotients) {
    for (const std::uint32_t j : lanes.columns_of_atom[lanes.quotients[q].atom]) restricted_[j] = 1;
  }
  add_columns(reach, view.set, false);
  if (by_set_) add_columns(reach, view.elsewhere_by_set, true);
  std::fill(restricted_.begin(), restricted_.end(), std::uint8_t{0});
  for (const std::uint32_t b : reach.blocks) {
    const Block& block = view.blocks[b];
    Real elsewhere = 0, nothing = 0;
    for (std::size_t i = block.begin; i < block.end; ++i) {
      const Real z = product_[i] * view.z[i];
      elsewhere += z * view.elsewhere[i];
      nothing += z * view.nothing[i];
    }
    Real* into = reach.sums.data() + block.cell * width_ + layout_.columns;
    into[0] += elsewhere;
    into[1] += nothing;
  }
}

// Adds the shares of the columns, each mark weighed; all `together` to `elsewhere`.
template <typename Real>
void Summation<Real>::add_columns(Reach& reach, const std::vector<Real>& weight, bool together) {
  const Lanes& lanes = lanes_.front();
  const View& view = lanes.views[reach.view];
  const std::size_t cells = view.lane.size(), columns = layout_.columns;
  weighed_.resize(cells);
  weighed_z_.resize(cells);
  for (const auto& [begin, end] : reach.ranges) {
    multiply(product_, weight, begin, end, weighed_);
    multiply(weighed_, view.z, begin, end, weighed_z_);
  }
  const auto add = [&](std::size_t column, const std::vector<Real>& by, const Real* share) {
    for (const std::uint32_t b : reach.blocks) {
      const Block& block = view.blocks[b];
      if (!block.shares) continue;
      reach.sums[block.cell * width_ + (together ? columns : column)] +=
          dot(by.data() + block.begin, share + block.begin, block.end - block.begin);
    }
  };
  for (std::size_t j = 0; j < columns; ++j) {
    if (!restricted_[j]) add(j, weighed_, view.share.data() + j * cells);
  }
  for (const std::uint32_t q : reach.quotients) {
    const Quotient& quotient = lanes.quotients[q];
    const std::vector<std::uint32_t>& own = lanes.columns_of_atom[quotient.atom];
    for (std::size_t k = 0; k < own.size(); ++k) {
      add(own[k], weighed_z_, quotient.share.data() + k * cells);
    }
  }
}

// Lanes know the class of a mode of their cutset that the evidence tells apart; a test may tell it
// apart further, and so of a bridge. By combination of the test's cutset: P(the test's classes |
// the group's, and the bridges').
template <typename Real>
void Summation<Real>::fill_hubs(const Prepared& prepared, std::size_t c) {
  const TestLayout& test = *prepared.layout;
  hubs_.assign(prepared.combinations, 1);
  const auto fill = [&](const Pinned& hub, const ByClass& known) {
    const ByClass of = lump(row(test.cut[hub.cut], c), test.digits.classes[hub.cut]);
    for (std::size_t y = 0; y < prepared.combinations; ++y) {
      const std::size_t digit = test.digits.of(y, hub.cut);
      const Real whole = known[test.of_evidence[hub.cut][digit]];
      hubs_[y] *= whole > 0 ? of[digit] / whole : 0;
    }
  };
  for (std::size_t entry = 0; entry < test.touches.size(); ++entry) {
    const Lanes& lanes = lanes_[test.touches[entry]];
    for (const Pinned& hub : test.hub[entry]) fill(hub, lanes.cut_row[hub.index]);
  }
  for (const Pinned& bridge : test.bridges) fill(bridge, bridge_row_[bridge.index]);
}

template <typename Real>
void Summation<Real>::add_test(Prepared& prepared, std::size_t c, Real probability) {
  const TestLayout& test = *prepared.layout;
  untouched_.resize(bridged_.size());
  for (std::size_t b = 0; b < bridged_.size(); ++b) {
    untouched_[b] = probability * bridged_[b];
    for (std::uint32_t i = 1; i < lanes_.size(); ++i) {
      if (lanes_[i].folded || position(test.touches, i)) continue;
      untouched_[b] *= lanes_[i].sum[lanes_[i].slice[b]];
    }
  }
  fill_hubs(prepared, c);
  const std::size_t commons = std::size_t{1} << prepared.common.size();
  const std::size_t common = common_of(prepared, c), size = slice_size();
  const Lanes& focus = lanes_.front();
  for (std::size_t t = 0; t < kThresholds; ++t) {
    Real* into = prepared.at_most.data() + t * size;
    const auto add = [&](const std::vector<Real>& sums) {
      for (std::size_t slice = 0; slice < focus.slices; ++slice) {
        const Real factor = alone_[slice];
        if (factor == 0) continue;
        const Real* of_slice = sums.data() + slice * size;
        for (std::size_t i = 0; i < size; ++i) into[i] += factor * of_slice[i];
      }
    };
    // What the focus's group is multiplied with, by its slice.
    alone_.assign(focus.slices, 0);
    for (std::size_t y = 0; y < prepared.combinations; ++y) {
      const std::size_t at = y * kThresholds + t;
      const Real known = prepared.fixed[at] * prepared.free[at * commons + common] * hubs_[y];
      if (known == 0) continue;
      for (const std::uint32_t b : prepared.bridged[prepared.with[y]]) {
        Real factor = untouched_[b] * known;
        for (std::size_t entry = test.near() ? 1 : 0; entry < test.touches.size() && factor != 0;
             ++entry) {
          const std::uint32_t group = test.touches[entry];
          const std::vector<Real>& sums = reached(group, prepared.reach[entry][at]);
          if (test.fold[entry] == kNone) {
            factor *= sums[lanes_[group].slice[b]];
            continue;
          }
          // The fold's row has the group's sum as its likelihood already.
          const std::uint32_t cut = test.fold[entry];
          const std::size_t slice =
              layout_.groups[group].of_fold[test.of_evidence[cut][test.digits.of(y, cut)]];
          const Real sum = lanes_[group].sum[slice];
          factor = sum > 0 ? factor * sums[slice] / sum : 0;
        }
        alone_[focus.slice[b]] += factor;
      }
      if (!test.near()) continue;
      add(reached(0, prepared.reach[0][at]));
      std::fill(alone_.begin(), alone_.end(), Real(0));
    }
    if (!test.near()) add(reached(0, 0));
  }
}

template class Summation<double>;
template class Summation<long double>;

}  // namespace faultodds::diagnosis::products
