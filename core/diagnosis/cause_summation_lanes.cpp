// The lanes of a group before anything is summed: all combinations of its cutset's classes, of the
// thresholds of its observations and of the marks, the marks lowest; and what each class of a mode
// lets a lane have. Part of cause_summation.h.
#include <algorithm>
#include <array>

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
  // By lane of one combination of the cutset; with the thresholds' weights where `weighed`.
  void write(const Product& product, bool weighed, Real* into) {
    by_combination_.assign(1, 1);
    for (std::size_t k = 0; k < thresholds_.size(); ++k) {
      next_.clear();
      for (const auto& [t, weight] : thresholds_[k]) {
        const Real by = product.by_threshold[k][t] * (weighed ? weight : 1);
        for (const Real one : by_combination_) next_.push_back(one * by);
      }
      by_combination_.swap(next_);
    }
    for (const Real one : by_combination_) {
      for (const Real by : product.by_mark) *into++ = one * by;
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
  const std::size_t atoms = group.atoms.size();
  lanes.factor.assign(atoms, std::vector<Real>(lanes.count));
  lanes.inverse = lanes.factor;
  lanes.row.assign(atoms, nullptr);
  lanes.fold.assign(atoms, kNone);
  for (std::uint32_t f = 0; group.focus && f < layout_.folds.size(); ++f) {
    lanes.fold[*position(group.atoms, layout_.folds[f].mode)] = f;
  }
  lanes.version.assign(atoms, 0);
  lanes.z.resize(lanes.count);
  lanes.fixed.assign(lanes.count, 1);
  lanes.cell.assign(lanes.count, 0);
  lanes.columns_of_atom.resize(group.atoms.size());
  const std::size_t columns = group.focus ? layout_.columns : 0;
  lanes.sphi.assign(columns, {});
  lanes.sphi_atom.assign(columns, kNone);
  const auto& though_sound = layout_.values.though_sound;
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
  lanes.share.assign(lanes.count * columns, 0);
  fill_lanes(group, thresholds, lanes);
  return lanes;
}

template <typename Real>
void Summation<Real>::fill_lanes(const Group& group, const Thresholds& thresholds, Lanes& lanes) {
  static const std::vector<Mark<Real>> kNoMarks(1);
  const auto& marks = group.focus ? marks_ : kNoMarks;
  const auto& though_sound = layout_.values.though_sound;
  // The column of a set's share: with all its modes sound, of its own.
  const auto column = [&](const Occurrence& one, std::size_t entry) {
    const auto twin = one.sound[entry] ? position(though_sound, one.set) : std::nullopt;
    return twin ? layout_.focus_sets + *twin : one.set;
  };
  LaneFactors<Real> factors(thresholds, marks);
  for (std::size_t cut = 0; cut < lanes.cuts; ++cut) {
    const std::size_t begin = cut * lanes.per_cut;
    auto fixed = factors.ones();
    for (const Occurrence& one : group.fixed) {
      const std::size_t entry = one.entry(group.digits, cut);
      factors.multiply(one, entry, fixed);
      if (one.slot != kFocus) continue;
      Real* into = lanes.share.data() + column(one, entry) * lanes.count + begin;
      for (std::size_t i = 0; i < lanes.per_cut; ++i) {
        into[i] = factors.share(one, entry, marks[i % marks.size()]);
      }
    }
    factors.write(fixed, true, lanes.fixed.data() + begin);
    for (std::size_t a = 0; a < group.in.size(); ++a) {
      check_stop();
      for (std::size_t e = 0; e < group.classes[a].count; ++e) {
        auto product = factors.ones();
        for (const Occurrence& one : group.in[a]) {
          factors.multiply(one, one.entry(group.digits, cut) + e, product);
        }
        Real* const phi = lanes.phi[a].data() + e * lanes.count + begin;
        factors.write(product, false, phi);
        for (const Occurrence& one : group.in[a]) {
          if (one.slot != kFocus) continue;
          const std::size_t entry = one.entry(group.digits, cut) + e;
          Real* into = lanes.sphi[column(one, entry)].data() + e * lanes.count + begin;
          for (std::size_t m = 0; m < marks.size(); ++m) {
            const Real part = factors.share(one, entry, marks[m]);
            for (std::size_t i = m; i < lanes.per_cut; i += marks.size()) into[i] = phi[i] * part;
          }
        }
      }
    }
  }
  if (numbers_ == nullptr) number_cells<Real>(thresholds, marks, lanes.per_cut, lanes.cell);
}

template Summation<double>::Lanes Summation<double>::lanes_of(const Group&);
template Summation<long double>::Lanes Summation<long double>::lanes_of(const Group&);

}  // namespace faultodds::diagnosis::products
