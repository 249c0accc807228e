// The lanes of a group before anything is summed: all combinations of its cutset's classes, of the
// thresholds of its observations and of the marks, the marks lowest; and what each class of a mode
// lets a lane have. Part of cause_summation.h.
#include <algorithm>
#include <array>
#include <numeric>

#include "core/diagnosis/cause_summation.h"
#include "core/diagnosis/program.h"
#include "core/stop.h"

namespace faultodds::diagnosis::products {
namespace {

// What an occurrence lets a lane have depends on its class and either a threshold or the mark: a
// product over occurrences is one over thresholds times one over marks.
template <typename Real>
class LaneFactors {
 public:
  // By other observation of the group: the thresholds that count, and their weights.
  using Thresholds = std::vector<std::vector<std::pair<std::size_t, Real>>>;
  struct Product {
    std::vector<std::array<Real, kGrades>> by_threshold;
    std::vector<Real> by_mark;
  };

  LaneFactors(const Thresholds& thresholds, const std::vector<Mark<Real>>& marks)
      : thresholds_(thresholds), marks_(marks) {}

  Product ones() const {
    return {std::vector<std::array<Real, kGrades>>(thresholds_.size(), {1, 1, 1}),
            std::vector<Real>(marks_.size(), 1)};
  }
  // P(the set shows at most what the lane allows).
  void multiply(const Occurrence& one, std::size_t entry, Product& product) const {
    const double* most = one.at_most.data() + entry * kThresholds;
    if (one.slot != kFocus) {
      auto& by = product.by_threshold[static_cast<std::size_t>(one.slot)];
      for (std::size_t t = 0; t < kThresholds; ++t) by[t] *= static_cast<Real>(most[t]);
      return;
    }
    for (std::size_t m = 0; m < marks_.size(); ++m) product.by_mark[m] *= at(most, marks_[m]);
  }
  // The part of it at the mark's grade, of a set of the focus.
  Real share(const Occurrence& one, std::size_t entry, const Mark<Real>& mark) const {
    if (mark.grade == 0) return 0;
    const double* most = one.at_most.data() + entry * kThresholds;
    const Real shows = up_to(most, mark.grade) - static_cast<Real>(most[mark.grade - 1]);
    return shows > 0 ? shows / at(most, mark) : Real(0);
  }
  // By combination of the thresholds of `which` observations and, where `marked`, by mark; with the
  // thresholds' weights where `weighed`.
  void write(const Product& product, const std::vector<std::uint32_t>& which, bool marked,
             bool weighed, Real* into) {
    by_combination_.assign(1, 1);
    for (const std::uint32_t k : which) {
      next_.clear();
      for (const auto& [t, weight] : thresholds_[k]) {
        const Real by = product.by_threshold[k][t] * (weighed ? weight : 1);
        for (const Real one : by_combination_) next_.push_back(one * by);
      }
      by_combination_.swap(next_);
    }
    for (const Real one : by_combination_) {
      if (!marked) *into++ = one;
      for (std::size_t m = 0; marked && m < marks_.size(); ++m) *into++ = one * product.by_mark[m];
    }
  }

 private:
  static Real up_to(const double* most, std::size_t grade) {
    return grade < kThresholds ? static_cast<Real>(most[grade]) : Real(1);
  }
  static Real at(const double* most, const Mark<Real>& mark) {
    const Real below = mark.grade > 0 ? static_cast<Real>(most[mark.grade - 1]) : 0;
    return below + mark.x * (up_to(most, mark.grade) - below);
  }

  const Thresholds& thresholds_;
  const std::vector<Mark<Real>>& marks_;
  std::vector<Real> by_combination_, next_;
};

// The cell of the tables by lane: its thresholds, the first the highest, and the mark's grade.
template <typename Real>
void number_cells(const typename LaneFactors<Real>::Thresholds& thresholds,
                  const std::vector<Mark<Real>>& marks, std::size_t per_cut,
                  std::vector<std::uint32_t>& cells) {
  const std::size_t combinations = per_cut / marks.size();
  for (std::size_t lane = 0; lane < cells.size(); ++lane) {
    std::size_t rest = lane / marks.size() % combinations, cell = 0;
    for (const auto& list : thresholds) {
      cell = cell * kGrades + list[rest % list.size()].first;
      rest /= list.size();
    }
    cells[lane] = static_cast<std::uint32_t>(cell * kGrades + marks[lane % marks.size()].grade);
  }
}

}  // namespace

template <typename Real>
typename Summation<Real>::Lanes Summation<Real>::lanes_of(const Group& group) {
  Lanes lanes;
  lanes.cuts = group.digits.place.back();
  lanes.slices = group.slices();
  lanes.folded = group.fold != kNone;
  for (std::size_t b = 0; b < layout_.bridge_digits.place.back(); ++b) {
    lanes.slice.push_back(static_cast<std::uint32_t>(group.slice_of(layout_.bridge_digits, b)));
  }
  // Thresholds whose weight is 0 are left out.
  Thresholds thresholds;
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
  lanes.per_cut = marks(group);
  for (const auto& list : thresholds) {
    lanes.per_cut *= list.size();
    lanes.thresholds.push_back(list.size());
  }
  lanes.count = lanes.cuts * lanes.per_cut;
  take(static_cast<double>(lanes.count) * layout_.numbers_per_lane(group) * sizeof(Real));
  const std::size_t atoms = group.atoms.size();
  lanes.row.assign(atoms, nullptr);
  lanes.fold.assign(atoms, kNone);
  for (std::uint32_t f = 0; group.focus && f < layout_.folds.size(); ++f) {
    lanes.fold[*position(group.atoms, layout_.folds[f].mode)] = f;
  }
  lanes.version.assign(atoms, 0);
  lanes.z.resize(lanes.count);
  lanes.fixed.assign(lanes.count, 1);
  lanes.cell.assign(lanes.count, 0);
  add_tables(group, lanes);
  fill_cutset(group, thresholds, lanes);
  for (std::uint32_t atom = 0; atom < atoms; ++atom) {
    check_stop();
    fill_atom(group, thresholds, atom, lanes);
  }
  if (numbers_ == nullptr) {
    number_cells<Real>(thresholds, marks_of_group(group), lanes.per_cut, lanes.cell);
  }
  return lanes;
}

// The tables, and which columns go by which.
template <typename Real>
void Summation<Real>::add_tables(const Group& group, Lanes& lanes) {
  const std::size_t atoms = group.atoms.size(), marks = this->marks(group);
  const std::size_t combinations = lanes.per_cut / marks;
  lanes.columns_of_atom.resize(atoms);
  const std::size_t columns = group.focus ? layout_.columns : 0;
  lanes.sphi.resize(columns);
  lanes.share.resize(columns);
  lanes.table_of.assign(columns, static_cast<std::uint32_t>(atoms));
  for (std::uint32_t a = 0; a < atoms; ++a) {
    for (const Occurrence& one : group.in[a]) {
      if (one.slot != kFocus) continue;
      const auto add = [&](std::size_t j) {
        lanes.table_of[j] = a;
        lanes.columns_of_atom[a].push_back(static_cast<std::uint32_t>(j));
      };
      add(one.set);
      if (const auto twin = position(layout_.values.though_sound, one.set)) {
        add(layout_.focus_sets + *twin);
      }
    }
  }
  const std::uint64_t cutset = (std::uint64_t{1} << group.cut.size()) - 1;
  for (std::size_t i = 0; i <= atoms; ++i) {
    const std::uint64_t depends = i < atoms ? group.depends[i] : cutset;
    Table& table = lanes.tables.emplace_back();
    table.by_mark = i == atoms || !lanes.columns_of_atom[i].empty();
    table.size = table.by_mark ? marks : 1;
    table.at.assign(lanes.cuts * combinations, 0);
    // Digits of an entry: the mark, thresholds, the cutset's classes.
    std::vector<std::uint32_t> by_combination(combinations, 0), by_cut(lanes.cuts, 0);
    const auto add = [&](std::size_t of, std::size_t place, std::vector<std::uint32_t>& by) {
      for (std::size_t k = 0; k < by.size(); ++k) {
        by[k] += static_cast<std::uint32_t>(k / place % of * table.size);
      }
      table.size *= of;
    };
    std::size_t place = 1;
    for (std::size_t k = 0; k < group.others.size(); ++k) {
      if (depends >> (group.cut.size() + k) & 1) add(lanes.thresholds[k], place, by_combination);
      place *= lanes.thresholds[k];
    }
    for (std::size_t k = 0; k < group.cut.size(); ++k) {
      if (depends >> k & 1) add(group.digits.classes[k].count, group.digits.place[k], by_cut);
    }
    for (std::size_t run = 0; run < table.at.size(); ++run) {
      table.at[run] = by_cut[run / combinations] + by_combination[run % combinations];
    }
  }
}

// What sets inside the cutset let each lane have, and their shares.
template <typename Real>
void Summation<Real>::fill_cutset(const Group& group, const Thresholds& thresholds, Lanes& lanes) {
  const auto& marks = marks_of_group(group);
  const Table& table = lanes.tables.back();
  std::vector<std::uint32_t> all(thresholds.size());
  std::iota(all.begin(), all.end(), 0u);
  for (std::size_t j = 0; j < lanes.share.size(); ++j) {
    if (lanes.table_of[j] + 1 != lanes.tables.size()) continue;
    take(static_cast<double>(table.size * sizeof(Real)));
    lanes.share[j].assign(table.size, 0);
  }
  LaneFactors<Real> factors(thresholds, marks);
  for (std::size_t cut = 0; cut < lanes.cuts; ++cut) {
    auto fixed = factors.ones();
    for (const Occurrence& one : group.fixed) {
      const std::size_t entry = one.entry(group.digits, cut);
      factors.multiply(one, entry, fixed);
      if (one.slot != kFocus) continue;
      Real* into = lanes.share[column(one, entry)].data() + cut * marks.size();
      for (std::size_t m = 0; m < marks.size(); ++m) into[m] = factors.share(one, entry, marks[m]);
    }
    factors.write(fixed, all, true, true, lanes.fixed.data() + cut * lanes.per_cut);
  }
}

// By class and entry of its table what an atom lets lanes have, and the shares of its sets.
template <typename Real>
void Summation<Real>::fill_atom(const Group& group, const Thresholds& thresholds,
                                std::uint32_t atom, Lanes& lanes) {
  const auto& marks = marks_of_group(group);
  const Table& table = lanes.tables[atom];
  const std::size_t classes = group.classes[atom].count, cuts = group.cut.size();
  std::vector<std::uint32_t> which;
  for (std::uint32_t k = 0; k < thresholds.size(); ++k) {
    if (group.depends[atom] >> (cuts + k) & 1) which.push_back(k);
  }
  const auto& own = lanes.columns_of_atom[atom];
  take(static_cast<double>((classes * (1 + own.size()) + 2 + own.size()) * table.size *
                           sizeof(Real)));
  std::vector<Real>& phi = lanes.phi.emplace_back(classes * table.size);
  lanes.factor.emplace_back(table.size);
  lanes.inverse.emplace_back(table.size);
  for (const std::uint32_t j : own) {
    lanes.sphi[j].assign(classes * table.size, 0);
    lanes.share[j].resize(table.size);
  }
  std::size_t of_cut = table.by_mark ? marks.size() : 1;  // entries of one combination of classes
  for (const std::uint32_t k : which) of_cut *= thresholds[k].size();
  std::vector<bool> done(table.size / of_cut, false);
  LaneFactors<Real> factors(thresholds, marks);
  for (std::size_t cut = 0; cut < lanes.cuts; ++cut) {
    const std::size_t begin = table.at[cut * (lanes.per_cut / marks.size())];
    if (done[begin / of_cut]) continue;
    done[begin / of_cut] = true;
    for (std::size_t e = 0; e < classes; ++e) {
      auto product = factors.ones();
      for (const Occurrence& one : group.in[atom]) {
        factors.multiply(one, one.entry(group.digits, cut) + e, product);
      }
      Real* const of_class = phi.data() + e * table.size + begin;
      factors.write(product, which, table.by_mark, false, of_class);
      for (const Occurrence& one : group.in[atom]) {
        if (one.slot != kFocus) continue;
        const std::size_t entry = one.entry(group.digits, cut) + e;
        Real* into = lanes.sphi[column(one, entry)].data() + e * table.size + begin;
        for (std::size_t m = 0; m < marks.size(); ++m) {
          const Real part = factors.share(one, entry, marks[m]);
          for (std::size_t i = m; i < of_cut; i += marks.size()) into[i] = of_class[i] * part;
        }
      }
    }
  }
}

template Summation<double>::Lanes Summation<double>::lanes_of(const Group&);
template Summation<long double>::Lanes Summation<long double>::lanes_of(const Group&);

}  // namespace faultodds::diagnosis::products
