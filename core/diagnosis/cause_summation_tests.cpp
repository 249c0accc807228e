// What tests need of the lanes of the groups that they touch, under the conditions at hand: reaches
// and quotients. Part of cause_summation.h.
#include <algorithm>

#include "core/diagnosis/cause_summation.h"
#include "core/diagnosis/dot.h"
#include "core/diagnosis/program.h"

namespace faultodds::diagnosis::products {
namespace {

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
Real Summation<Real>::Runs::dot(const Real* a, const Real* by, const Table& table,
                                std::size_t begin, std::size_t end) const {
  Real sum = 0;
  for (std::size_t i = begin; i < end;) {
    const std::size_t first = i / marks * marks, stop = std::min(end, first + marks);
    sum += diagnosis::dot(a + i, by + table.at[run[i / marks]] + (i - first), stop - i);
    i = stop;
  }
  return sum;
}

template <typename Real>
const typename Summation<Real>::Quotient& Summation<Real>::left(std::size_t group,
                                                                std::uint32_t id) {
  Lanes& lanes = lanes_[group];
  Quotient& one = lanes.quotients[id];
  if (one.version == lanes.version[one.atom]) return one;
  one.version = lanes.version[one.atom];
  const StateClasses& classes = layout_.groups[group].classes[one.atom];
  const std::size_t entries = lanes.tables[one.atom].size;
  const std::vector<std::uint32_t>& own = lanes.columns_of_atom[one.atom];
  if (one.left.empty()) lanes.kept += entries * (1 + own.size());
  ByClass p;
  std::fill_n(p.begin(), classes.count, Real(0));
  for (std::size_t k = 0; k < classes.of.size(); ++k) {
    p[classes.of[k]] += lanes.row[one.atom][k] * static_cast<Real>(one.weight[k]);
  }
  one.left.resize(entries);
  sum_classes(p, classes.count, lanes.phi[one.atom], entries, one.left.data());
  one.share.resize(entries * own.size());
  for (std::size_t k = 0; k < own.size(); ++k) {
    Real* share = one.share.data() + k * entries;
    sum_classes(p, classes.count, lanes.sphi[own[k]], entries, share);
    for (std::size_t i = 0; i < entries; ++i) {
      share[i] = one.left[i] > 0 ? share[i] / one.left[i] : 0;
    }
  }
  const std::vector<Real>& inverse = lanes.inverse[one.atom];
  for (std::size_t i = 0; i < entries; ++i) one.left[i] *= inverse[i];
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
    if (lanes.kept > most_kept_) {
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
  const Runs runs{view.run, marks(layout_.groups[group])};
  product_.assign(view.lane.size(), 1);
  for (const std::uint32_t q : reach.quotients) {
    const Quotient& by = left(group, q);
    for (const auto& [begin, end] : reach.ranges) {
      runs.multiply(product_.data(), by.left, lanes.tables[by.atom], begin, end, product_.data());
    }
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
  const auto each_block = [&](std::size_t column, const auto& sum) {
    for (const std::uint32_t b : reach.blocks) {
      const Block& block = view.blocks[b];
      if (!block.shares) continue;
      reach.sums[block.cell * width_ + (together ? columns : column)] += sum(block);
    }
  };
  for (std::size_t j = 0; j < columns; ++j) {
    if (restricted_[j]) continue;
    const Real* share = view.share.data() + j * cells;
    each_block(j, [&](const Block& block) {
      return dot(weighed_.data() + block.begin, share + block.begin, block.end - block.begin);
    });
  }
  const Runs runs{view.run, marks_.size()};
  for (const std::uint32_t q : reach.quotients) {
    const Quotient& quotient = lanes.quotients[q];
    const Table& table = lanes.tables[quotient.atom];
    const std::vector<std::uint32_t>& own = lanes.columns_of_atom[quotient.atom];
    for (std::size_t k = 0; k < own.size(); ++k) {
      const Real* share = quotient.share.data() + k * table.size;
      each_block(own[k], [&](const Block& block) {
        return runs.dot(weighed_z_.data(), share, table, block.begin, block.end);
      });
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

template const std::vector<double>& Summation<double>::reached(std::size_t, std::uint32_t);
template const std::vector<long double>& Summation<long double>::reached(std::size_t,
                                                                         std::uint32_t);
template void Summation<double>::add_test(Prepared&, std::size_t, double);
template void Summation<long double>::add_test(Prepared&, std::size_t, long double);

}  // namespace faultodds::diagnosis::products
