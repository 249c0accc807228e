#include "core/diagnosis/cause_summation.h"

#include <algorithm>
#include <cmath>
#include <numeric>

#include "core/diagnosis/program.h"
#include "core/stop.h"

namespace faultodds::diagnosis::products {
template <typename Real>
void Summation<Real>::Runs::multiply(const Real* x, const std::vector<Real>& by, const Table& table,
                                     std::size_t begin, std::size_t end, Real* z) const {
  const Real* entries = by.data();
  if (marks == 1) {
    for (std::size_t i = begin; i < end; ++i) z[i] = x[i] * entries[table.at[run[i]]];
    return;
  }
  for (std::size_t i = begin; i < end; i += marks) {
    const Real* of = entries + table.at[run[i / marks]];
    if (table.by_mark) {
      for (std::size_t m = 0; m < marks; ++m) z[i + m] = x[i + m] * of[m];
    } else {
      for (std::size_t m = 0; m < marks; ++m) z[i + m] = x[i + m] * *of;
    }
  }
}

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
    sum_.assign(focus.count, 0);
    for (std::size_t j = 0; j < layout_.columns; ++j) {
      const Table& table = focus.tables[focus.table_of[j]];
      for (std::size_t run = 0; run < table.at.size(); ++run) {
        const Real* share = focus.share[j].data() + table.at[run];
        for (std::size_t m = 0; m < marks_.size(); ++m) sum_[run * marks_.size() + m] += share[m];
      }
    }
    for (std::size_t lane = 0; lane < focus.count; ++lane) {
      const Mark<Real>& mark = marks_[lane % marks_.size()];
      const Real scale = scale_[lane / (focus.count / focus.slices)];
      const double weight = static_cast<double>(scale * focus.z[lane]);
      if (weight == 0) continue;
      const auto of_sets = static_cast<double>(mark.set);
      const auto others = static_cast<double>(mark.elsewhere);
      auto ties = static_cast<double>(sum_[lane]);
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
  const Runs runs{lanes.views.front().run, marks(group)};
  for (std::size_t a = 0; a < lanes.factor.size(); ++a) {
    runs.multiply(lanes.z.data(), lanes.factor[a], lanes.tables[a], 0, lanes.count, lanes.z.data());
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
  const std::size_t classes = group.classes[atom].count, entries = lanes.tables[atom].size;
  std::vector<Real>& inverse = lanes.inverse[atom];
  sum_classes(p, classes, lanes.phi[atom], entries, lanes.factor[atom].data());
  for (std::size_t i = 0; i < entries; ++i) {
    const Real f = lanes.factor[atom][i];
    inverse[i] = f > 0 ? 1 / f : 0;
  }
  for (const std::uint32_t j : lanes.columns_of_atom[atom]) {
    sum_classes(p, classes, lanes.sphi[j], entries, lanes.share[j].data());
    for (std::size_t i = 0; i < entries; ++i) lanes.share[j][i] *= inverse[i];
  }
}

template <typename Real>
void Summation<Real>::fill_views() {
  Lanes& lanes = lanes_.front();
  const std::size_t columns = layout_.columns;
  View& all = lanes.views.front();
  all.z = lanes.z;
  all.share.resize(columns * lanes.count);
  const Runs runs{all.run, marks_.size()};
  for (std::size_t j = 0; j < columns; ++j) {
    runs.multiply(lanes.z.data(), lanes.share[j], lanes.tables[lanes.table_of[j]], 0, lanes.count,
                  all.share.data() + j * lanes.count);
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

template class Summation<double>;
template class Summation<long double>;

}  // namespace faultodds::diagnosis::products
