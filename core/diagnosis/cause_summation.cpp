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

void TieLoss::add(std::size_t cell, double ties, double weight) {
  if (weight > 0) weight_[cell][static_cast<std::uint32_t>(std::ceil(4 * ties))] += weight;
}

// The error of n nodes on T_k, of Chebyshev's polynomials on [0, 1], is 0 for k < 2n and odd k, and
// at most (2 + 2 / (k^2 - 1)) / 2 else. A function bounded by M within the ellipse of radius r has
// coefficients of at most 2 M r^-k (Trefethen 2013, theorem 8.1), so that the error is at most
// 32/15 M r^-2n / (1 - r^-2). With the number of ties N at x = 1, M is at most
// E[X^N] <= exp(E[N] (X^m - 1) / m) at the ellipse's right end X, where a mode is in m sets.
double TieLoss::lost(std::size_t cell, std::size_t nodes) const {
  double sum = 0;
  const double m = static_cast<double>(sets_of_mode_);
  for (const auto& [quarters, weight] : weight_[cell]) {
    const double ties = 0.25 * quarters;
    double least = 0;  // logarithm; nothing is lost of more than all
    for (double r = 1.5; r < 1e4; r *= 1.5) {
      const double x = (1 + (r + 1 / r) / 2) / 2;
      const double together = m > 1 ? (std::pow(x, m) - 1) / m : x - 1;
      least =
          std::min(least, std::log(32.0 / 15 / (1 - 1 / (r * r))) + ties * together +
                              (m - 1) * std::log(x) - 2 * static_cast<double>(nodes) * std::log(r));
    }
    sum += weight * std::exp(least);
  }
  return sum;
}

std::size_t TieLoss::nodes(std::size_t all, double tolerance) const {
  std::size_t n = std::min<std::size_t>(all, 4);
  for (std::size_t cell = 0; cell < weight_.size(); ++cell) {
    while (n < all && !(lost(cell, n) <= tolerance * std::abs(total_[cell]))) ++n;
  }
  return n;
}

template <typename Real>
Summation<Real>::Summation(const Layout& layout, const Model& model, const CaseNumbers* numbers,
                           const Nodes& nodes, bool with_tests)
    : layout_(layout), model_(model), numbers_(numbers) {
  marks_ =
      marks_of<Real>(model.analysis().observations[layout.focus], layout.focus, numbers, nodes);
  by_set_ = std::any_of(marks_.begin(), marks_.end(),
                        [](const auto& mark) { return mark.elsewhere_by_set != 0; });
  rows_.resize(model.analysis().modes.size());
  for (const Group& group : layout.groups) {
    lanes_.push_back(lanes_of(group));
    add_view(lanes_.size() - 1, ~std::uint64_t{0});
  }
  cells_ = numbers == nullptr ? power_of_3(layout.groups.front().others.size()) * kGrades : 1;
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
}

template <typename Real>
void Summation<Real>::run() {
  const std::size_t n = layout_.conditions.size();
  if (numbers_ == nullptr) by_conditions_.assign((std::size_t{1} << n) * cells_ * width_, 0);
  for_each_condition([&](std::size_t c, Real probability, Real scale, Real magnitude) {
    fill_views();
    add_cause(scale, magnitude, c);
    std::size_t done = 0;
    for (Prepared& test : tests_) {
      if (done++ % 16 == 0) check_stop();
      if (numbers_ == nullptr && !test.layout->near()) continue;  // by_conditions_ has it
      add_test(test, c, probability);
    }
  });
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
  for_each_condition([&](std::size_t, Real, Real scale, Real) {
    for (std::size_t lane = 0; lane < focus.count; ++lane) {
      const Mark<Real>& mark = marks_[lane % marks_.size()];
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
  const std::size_t atoms = group.atoms.size();
  lanes.factor.assign(atoms, std::vector<Real>(lanes.count));
  lanes.inverse = lanes.factor;
  lanes.row.assign(atoms, nullptr);
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
  const std::size_t combinations = lanes.per_cut / marks.size();
  const auto& though_sound = layout_.values.though_sound;
  // The column of a set's share: with all its modes sound, of its own.
  const auto column = [&](const Occurrence& one, std::size_t entry) {
    const auto twin = one.sound[entry] ? position(though_sound, one.set) : std::nullopt;
    return twin ? layout_.focus_sets + *twin : one.set;
  };
  std::vector<std::size_t> threshold(group.others.size());
  for (std::size_t lane = 0; lane < lanes.count; ++lane) {
    if (lane % 64 == 0) check_stop();
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
        lanes.share[column(one, entry) * lanes.count + lane] = share(one, entry);
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
}

// The view of a group's lanes that keeps some coordinates, made on first use; all bits: all lanes.
template <typename Real>
std::size_t Summation<Real>::add_view(std::size_t group, std::uint64_t keeps) {
  Lanes& lanes = lanes_[group];
  const Group& of = layout_.groups[group];
  for (std::size_t v = 0; v < lanes.views.size(); ++v) {
    if (lanes.views[v].keeps == keeps) return v;
  }
  const bool all = keeps == ~std::uint64_t{0};
  const std::size_t cuts = of.cut.size(), marks = of.focus ? marks_.size() : 1;
  View view;
  view.keeps = keeps;
  std::map<std::vector<std::uint32_t>, std::uint32_t> cells;
  std::vector<std::uint32_t> key;
  for (std::size_t lane = 0; lane < lanes.count; ++lane) {
    if (lane % 256 == 0) check_stop();
    if (all) {
      view.lane.push_back(static_cast<std::uint32_t>(lane));
      view.cell.push_back(static_cast<std::uint32_t>(lane));
      continue;
    }
    key.clear();
    key.push_back(static_cast<std::uint32_t>(lane % marks));
    for (std::size_t i = 0; i < cuts; ++i) {
      if (keeps >> i & 1) {
        key.push_back(static_cast<std::uint32_t>(of.digits.of(lane / lanes.per_cut, i)));
      }
    }
    std::size_t rest = lane / marks % (lanes.per_cut / marks);
    for (std::size_t k = 0; k < of.others.size(); ++k) {
      const std::size_t size = lanes.thresholds[k];
      if (keeps >> (cuts + k) & 1) key.push_back(static_cast<std::uint32_t>(rest % size));
      rest /= size;
    }
    const auto next = static_cast<std::uint32_t>(view.lane.size());
    const auto [at, is_new] = cells.try_emplace(key, next);
    if (is_new) view.lane.push_back(static_cast<std::uint32_t>(lane));
    view.cell.push_back(at->second);
  }
  for (std::size_t i = 0; i < view.lane.size(); ++i) {
    const std::size_t cut = view.lane[i] / lanes.per_cut, cell = lanes.cell[view.lane[i]];
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
  return prepared;
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
  for (const Touched& one : test.touched[entry]) psis.push_back(psi<double>(test.digits, one));
  std::vector<std::uint32_t> result;
  std::vector<double> weight;
  for (std::size_t y = 0; y < test.digits.place.back(); ++y) {
    if (y % 64 == 0) check_stop();
    std::vector<std::pair<std::uint32_t, std::size_t>> hubs;
    for (const Pinned& hub : test.hub[entry]) {
      hubs.emplace_back(hub.index, test.of_evidence[hub.cut][test.digits.of(y, hub.cut)]);
    }
    for (std::size_t t = 0; t < kThresholds; ++t) {
      std::vector<std::uint32_t> quotients;
      const auto add = [&](std::uint32_t atom) {
        if (std::all_of(weight.begin(), weight.end(), [](double w) { return w == 1; })) return;
        quotients.push_back(quotient(lanes_[g], view, atom, weight));
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
std::uint32_t Summation<Real>::quotient(Lanes& lanes, std::size_t view, std::uint32_t atom,
                                        const std::vector<double>& weight) {
  std::vector<double> key = weight;
  key.push_back(static_cast<double>(view));
  key.push_back(atom);
  const auto id = static_cast<std::uint32_t>(lanes.quotients.size());
  const auto [at, is_new] = lanes.quotient_ids.try_emplace(std::move(key), id);
  if (is_new) {
    Quotient& one = lanes.quotients.emplace_back();
    one.view = view;
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
  if (quotients.empty()) key.push_back(static_cast<std::uint32_t>(view));
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
      by_class.push_back(
          reach(0, place.first, {quotient(lanes, place.first, place.second, weight)}, {}));
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

// Visits every combination of the conditions that is possible, in an order in which the lanes
// change little: by a Gray code, in which what acts on few modes changes most often. `scale` is the
// combination's probability times the sums of the groups without the focus, `magnitude` what these
// lost.
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
    for (std::size_t i = 0; i < lanes_.size(); ++i) fill(layout_.groups[i], lanes_[i], c);
    Real scale = probability, magnitude = 0;
    for (std::size_t i = 1; i < lanes_.size(); ++i) {
      scale *= lanes_[i].sum;
      if (lanes_[i].sum != 0) magnitude += lanes_[i].absolute / std::abs(lanes_[i].sum);
    }
    visit(c, probability, scale, magnitude);
  }
}

template <typename Real>
void Summation<Real>::fill(const Group& group, Lanes& lanes, std::size_t c) {
  for (std::uint32_t a = 0; a < group.atoms.size(); ++a) {
    const Real* now = row(group.atoms[a], c);
    if (now == lanes.row[a]) continue;
    lanes.row[a] = now;
    refresh(group, lanes, a);
  }
  lanes.cut_row.clear();
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
  for (const std::vector<Real>& factor : lanes.factor) {
    for (std::size_t lane = 0; lane < lanes.count; ++lane) lanes.z[lane] *= factor[lane];
  }
  if (group.focus) return;
  lanes.sum = lanes.absolute = 0;
  for (Real z : lanes.z) {
    lanes.sum += z;
    lanes.absolute += std::abs(z);
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
void Summation<Real>::add_cause(Real scale, Real magnitude, std::size_t c) {
  at_conditions_ = reached(0, 0);
  const View& all = lanes_.front().views.front();
  const std::size_t lanes = all.lane.size();
  sum_.assign(lanes, 0);
  for (std::size_t j = 0; j < layout_.columns; ++j) {
    const Real* share = all.share.data() + j * lanes;
    for (std::size_t lane = 0; lane < lanes; ++lane) sum_[lane] += share[lane];
  }
  Real absolute = 0, sum = 0;
  for (std::size_t lane = 0; lane < lanes; ++lane) {
    const Real weight = (all.set[lane] + all.elsewhere_by_set[lane]) * sum_[lane] +
                        (all.elsewhere[lane] + all.nothing[lane]) * all.z[lane];
    absolute += std::abs(weight);
    sum += weight;
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

// Of the focus's group the sums by cell and column, of another the sum of its lanes.
template <typename Real>
const std::vector<Real>& Summation<Real>::reached(std::size_t group, std::uint32_t id) {
  Lanes& lanes = lanes_[group];
  Reach& one = lanes.reaches[id];
  if (one.step == step_) return one.sums;
  one.step = step_;
  one.sums.assign(group == 0 ? cells_ * width_ : 1, 0);
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
  if (group > 0) {
    for (const auto& [begin, end] : reach.ranges) {
      reach.sums[0] += dot(view.z.data() + begin, product_.data() + begin, end - begin);
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
// apart further. By combination of the test's cutset: P(the test's classes | the group's).
template <typename Real>
void Summation<Real>::fill_hubs(const Prepared& prepared, std::size_t c) {
  const TestLayout& test = *prepared.layout;
  hubs_.assign(prepared.combinations, 1);
  for (std::size_t entry = 0; entry < test.touches.size(); ++entry) {
    const Lanes& lanes = lanes_[test.touches[entry]];
    for (const Pinned& hub : test.hub[entry]) {
      const ByClass of = lump(row(test.cut[hub.cut], c), test.digits.classes[hub.cut]);
      for (std::size_t y = 0; y < prepared.combinations; ++y) {
        const std::size_t digit = test.digits.of(y, hub.cut);
        const Real whole = lanes.cut_row[hub.index][test.of_evidence[hub.cut][digit]];
        hubs_[y] *= whole > 0 ? of[digit] / whole : 0;
      }
    }
  }
}

template <typename Real>
void Summation<Real>::add_test(Prepared& prepared, std::size_t c, Real probability) {
  const TestLayout& test = *prepared.layout;
  Real untouched = probability;
  for (std::uint32_t i = 1; i < lanes_.size(); ++i) {
    if (!position(test.touches, i)) untouched *= lanes_[i].sum;
  }
  fill_hubs(prepared, c);
  const std::size_t commons = std::size_t{1} << prepared.common.size();
  const std::size_t common = common_of(prepared, c), size = cells_ * width_;
  for (std::size_t t = 0; t < kThresholds; ++t) {
    Real* into = prepared.at_most.data() + t * size;
    Real alone = 0;  // where the focus's group is not touched
    for (std::size_t y = 0; y < prepared.combinations; ++y) {
      const std::size_t at = y * kThresholds + t;
      Real factor =
          untouched * prepared.fixed[at] * prepared.free[at * commons + common] * hubs_[y];
      for (std::size_t entry = test.near() ? 1 : 0; entry < test.touches.size() && factor != 0;
           ++entry) {
        factor *= reached(test.touches[entry], prepared.reach[entry][at])[0];
      }
      if (factor == 0) continue;
      if (!test.near()) {
        alone += factor;
        continue;
      }
      const std::vector<Real>& sums = reached(0, prepared.reach[0][at]);
      for (std::size_t i = 0; i < size; ++i) into[i] += factor * sums[i];
    }
    if (test.near() || alone == 0) continue;
    for (std::size_t i = 0; i < size; ++i) into[i] += alone * at_conditions_[i];
  }
}

template class Summation<double>;
template class Summation<long double>;

}  // namespace faultodds::diagnosis::products
