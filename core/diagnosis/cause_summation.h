// The sums of cause_products.h over what cause_layout.h lays out, for one case or by cell of its
// tables. `Real` is double or long double.
//
// Lanes are the combinations of a group's cutset, thresholds and marks; a run of them differs by
// the mark alone. One combination of the conditions after the other, each differing from the last
// by one, gives the lanes their weights z and the sets their shares of them. What does not depend
// on the condition that changed is kept. What an atom lets a lane have depends on few of its
// coordinates: it is kept in a table of these.
// What a test needs of a group is a *reach*: the sums over lanes with some modes restricted, each
// by a *quotient* of its factor, and the cutset's classes fixed. Tests have many reaches in common,
// a section's with those of every other section; each is summed once per combination.
#pragma once

#include <algorithm>
#include <array>
#include <cstddef>
#include <cstdint>
#include <map>
#include <utility>
#include <vector>

#include "core/diagnosis/cause_layout.h"
#include "core/diagnosis/evidence.h"
#include "core/diagnosis/gauss_legendre.h"
#include "core/diagnosis/marks.h"
#include "core/diagnosis/model.h"
#include "core/diagnosis/tie_loss.h"

namespace faultodds::diagnosis::products {

template <typename Real>
class Summation {
 public:
  using Layout = CauseProducts::Layout;
  using Nodes = std::vector<QuadratureNode<Real>>;

  // Of the marks of the focus, the `index`-th of so many parts: sums over parts add up to the
  // whole, in less memory.
  struct Part {
    std::size_t index = 0, of = 1;
  };

  // Without numbers: by cell, under the model's own priors. What would take more bytes than
  // `most_bytes`, here or in run(), throws TooLarge before it does.
  Summation(const Layout& layout, const Model& model, const CaseNumbers* numbers,
            const Nodes& nodes, bool with_tests, double most_bytes, Part part = {});

  void run();
  // Of what was run: adds what another part summed; and gives back what only run() needs.
  void add(const Summation& other);
  void keep_sums_only() { lanes_ = {}; }
  // Instead of run(), without tests and with the one node x = 1.
  TieLoss measure_ties();

  // cells, columns and then `elsewhere` and `nothing`.
  const std::vector<Real>& cause() const { return cause_; }
  const std::vector<Real>& by_conditions() const { return by_conditions_; }
  // Of the i-th test: t, cells, values.
  const std::vector<Real>& at_most(std::size_t i) const { return tests_[i].at_most; }
  // P(S <= t | combination of the layout's conditions) of a test that touches no group.
  Real far(std::size_t i, std::size_t t, std::size_t c) const;
  std::size_t cells() const { return cells_; }
  std::size_t width() const { return width_; }
  Real magnitude() const { return absolute_; }

 private:
  using ByClass = std::array<Real, kMostStates>;
  // Lanes of a view that belong to one combination of the cutset and one cell of the tables. `cell`
  // counts the tables' cells slice by slice.
  struct Block {
    std::size_t begin = 0, end = 0, cut = 0, cell = 0;
    bool shares = false;  // whether a set may be the cause in it
  };
  // The lanes of a group summed over the coordinates that some tests do not depend on. Coordinates
  // are the modes of the cutset, then the other observations; marks are always kept. The first view
  // of a group has all lanes. What is here called a cell is a lane of the view.
  struct View {
    std::uint64_t keeps = 0;          // a bit per coordinate
    std::vector<std::uint32_t> lane;  // by cell: one that is in it
    std::vector<std::uint32_t> run;   // by run of cells: a run of lanes that is in it
    std::size_t from = 0;             // the view it is summed from
    std::vector<std::uint32_t> cell;  // by cell of that
    std::vector<Block> blocks;
    // Of the focus's group: weights of the cell's mark.
    std::vector<Real> set, elsewhere, nothing, elsewhere_by_set;
    // Of the conditions at hand:
    std::vector<Real> z;      // by cell
    std::vector<Real> share;  // by column, cell: z times the column's share
  };
  // What depends on some coordinates of a lane alone.
  struct Table {
    std::size_t size = 0;
    bool by_mark = false;
    std::vector<std::uint32_t> at;  // by run of lanes: where its entries begin, or its one entry
  };
  // The runs of a view, of so many marks.
  struct Runs {
    const std::vector<std::uint32_t>& run;
    std::size_t marks;
    // z[i] = x[i] times the table's entry, for whole runs.
    void multiply(const Real* x, const std::vector<Real>& by, const Table& table, std::size_t begin,
                  std::size_t end, Real* z) const;
    // The sum of a[i] times the entry, of a table by mark.
    Real dot(const Real* a, const Real* by, const Table& table, std::size_t begin,
             std::size_t end) const;
  };
  // An atom whose states are restricted: what is left of its factor.
  struct Quotient {
    std::uint32_t atom = 0;
    std::vector<double> weight;  // by state
    std::uint64_t version = 0;   // of the atom's row
    std::vector<Real> left;      // by entry of the atom's table
    std::vector<Real> share;     // by column of the atom, entry: the column's share of what is left
  };
  struct Reach {
    std::size_t view = 0;
    std::vector<std::uint32_t> quotients, blocks;
    std::vector<std::pair<std::size_t, std::size_t>> ranges;  // of cells: the blocks'
    // A single quotient that many tests have others of: the reaches of the atom's classes, whose
    // weighted sum it is.
    std::vector<std::uint32_t> by_class;
    std::uint64_t step = 0;  // that it was summed at
    // Slices, cells, columns + 2; of other groups than the focus's slices.
    std::vector<Real> sums;
  };
  // The lanes of one group: its cutset's classes, then thresholds, then marks.
  struct Lanes {
    std::size_t cuts = 1, per_cut = 1, count = 1, slices = 1;
    std::vector<std::uint32_t> slice;  // by combination of the bridges
    bool folded = false;               // its sums are a likelihood of an atom of the focus's group
    std::vector<std::size_t> thresholds;   // by other observation: how many count
    std::vector<Table> tables;             // of the atoms, and last of the cutset and the mark
    std::vector<std::vector<Real>> phi;    // by atom: class, entry
    std::vector<std::vector<Real>> sphi;   // by column with an atom: class, entry
    std::vector<std::uint32_t> table_of;   // by column: of its atom; the last: inside the cutset
    std::vector<Real> fixed;               // by lane: sets inside the cutset, threshold weights
    std::vector<std::vector<Real>> share;  // by column: entry: of the sets, at the row at hand
    std::vector<std::vector<std::uint32_t>> columns_of_atom;
    std::vector<std::uint32_t> cell;  // by lane
    std::vector<View> views;
    std::vector<Quotient> quotients;
    std::vector<Reach> reaches;
    std::map<std::vector<double>, std::uint32_t> quotient_ids;
    std::map<std::vector<std::uint32_t>, std::uint32_t> reach_ids;
    // Of the conditions at hand:
    std::vector<std::uint32_t> fold;                 // by atom: which it is, or kNone
    std::vector<const Real*> row;                    // by atom: P(state)
    std::vector<std::uint64_t> version;              // by atom: counts its rows
    std::vector<ByClass> cut_row;                    // P(class) of each of its own cutset
    std::vector<std::vector<Real>> factor, inverse;  // by atom: entry
    std::vector<Real> z;                             // lane
    std::vector<Real> sum, absolute;                 // of z, by slice
    std::size_t kept = 0;                            // numbers that quotients keep
  };
  struct Prepared {
    const TestLayout* layout = nullptr;
    std::size_t combinations = 1;     // of its cutset
    std::vector<Real> fixed;          // combination, t
    std::vector<Real> free;           // combination, t, combination of common conditions
    std::vector<std::size_t> common;  // bits of the layout's conditions
    // Combinations of the bridges: `bridged[with[y]]` go with the classes that y gives its bridges.
    std::vector<std::vector<std::uint32_t>> bridged;
    std::vector<std::uint32_t> with;
    std::vector<std::vector<std::uint32_t>> reach;  // by entry of `touches`: combination, t
    std::vector<Real> at_most;                      // t, cells, values
  };

  // By other observation of a group: the thresholds that count, and their weights.
  using Thresholds = std::vector<std::vector<std::pair<std::size_t, Real>>>;
  // Counts memory before it is taken.
  void take(double bytes) {
    taken_ += bytes;
    if (taken_ > most_bytes_) throw TooLarge();
  }
  void take_sums();
  Lanes lanes_of(const Group& group);
  void add_tables(const Group& group, Lanes& lanes);
  void fill_cutset(const Group& group, const Thresholds& thresholds, Lanes& lanes);
  void fill_atom(const Group& group, const Thresholds& thresholds, std::uint32_t atom,
                 Lanes& lanes);
  const std::vector<Mark<Real>>& marks_of_group(const Group& group) const {
    static const std::vector<Mark<Real>> kNoMarks(1);
    return group.focus ? marks_ : kNoMarks;
  }
  std::size_t marks(const Group& group) const { return marks_of_group(group).size(); }
  // The column of a set's share: with all its modes sound, of its own.
  std::size_t column(const Occurrence& one, std::size_t entry) const {
    const auto twin =
        one.sound[entry] ? position(layout_.values.though_sound, one.set) : std::nullopt;
    return twin ? layout_.focus_sets + *twin : one.set;
  }
  std::size_t add_view(std::size_t group, std::uint64_t keeps);
  void chain_views();
  Prepared prepare(const TestLayout& test);
  void prepare_free(Prepared& prepared);
  void prepare_bridges(Prepared& prepared);
  std::vector<std::uint32_t> reaches_of(const TestLayout& test, std::size_t entry);
  std::uint32_t quotient(Lanes& lanes, std::uint32_t atom, const std::vector<double>& weight);
  std::uint32_t reach(std::size_t group, std::size_t view, std::vector<std::uint32_t> quotients,
                      const std::vector<std::pair<std::uint32_t, std::size_t>>& hubs);
  void split_by_class();
  const std::vector<Real>& rows(std::uint32_t mode);
  const Real* row(std::uint32_t mode, std::size_t c);
  static ByClass lump(const Real* row, const StateClasses& classes) {
    ByClass sum;
    std::fill_n(sum.begin(), classes.count, Real(0));
    for (std::size_t k = 0; k < classes.of.size(); ++k) sum[classes.of[k]] += row[k];
    return sum;
  }
  // By entry: the sum over classes of p times what `by_class` has of the class and entry.
  static void sum_classes(const ByClass& p, std::size_t classes, const std::vector<Real>& by_class,
                          std::size_t entries, Real* sum) {
    std::fill_n(sum, entries, Real(0));
    for (std::size_t e = 0; e < classes; ++e) {
      const Real* of = by_class.data() + e * entries;
      if (p[e] == 0) continue;
      for (std::size_t i = 0; i < entries; ++i) sum[i] += p[e] * of[i];
    }
  }
  std::size_t common_of(const Prepared& prepared, std::size_t c) const {
    std::size_t k = 0;
    for (std::size_t bit : prepared.common) k = k * 2 + (c >> bit & 1);
    return k;
  }

  template <typename Visit>
  void for_each_condition(Visit visit);
  void fill(const Group& group, Lanes& lanes, std::size_t c);
  void refresh(const Group& group, Lanes& lanes, std::uint32_t atom);
  void fill_views();
  void fill_folds(std::size_t c);
  void fill_bridges(std::size_t c);
  void fill_scales(Real probability);
  void add_cause(std::size_t c);
  void add_test(Prepared& prepared, std::size_t c, Real probability);
  std::size_t slice_size() const { return cells_ * width_; }
  const Quotient& left(std::size_t group, std::uint32_t id);
  const std::vector<Real>& reached(std::size_t group, std::uint32_t id);
  void sum_reach(std::size_t group, Reach& reach);
  void add_columns(Reach& reach, const std::vector<Real>& weight, bool together);
  void fill_hubs(const Prepared& prepared, std::size_t c);

  const Layout& layout_;
  const Model& model_;
  const CaseNumbers* numbers_;
  const double most_bytes_;
  double taken_ = 0;
  std::size_t most_kept_ = 0;  // numbers of quotients, by group
  std::vector<Mark<Real>> marks_;
  bool by_set_ = false;                  // whether a mark has elsewhere_by_set
  std::vector<std::vector<Real>> rows_;  // by mode: combination of its conditions, state
  std::vector<Lanes> lanes_;
  std::vector<Prepared> tests_;
  std::size_t cells_ = 1, width_ = 0;
  std::uint64_t step_ = 0;  // counts combinations of conditions
  std::vector<Real> cause_, by_conditions_;
  Real absolute_ = 0;
  // Of the conditions at hand:
  std::vector<ByClass> bridge_row_;          // P(class) of each bridge
  std::vector<Real> bridged_;                // by combination of the bridges: its probability
  std::vector<std::vector<Real>> fold_row_;  // of each fold: P(state), times its groups' sums
  Real fold_magnitude_ = 0;                  // what these lost
  // By slice of the focus's group: the probability of the conditions and of the bridges times the
  // sums of the other groups, its absolute values, and what these groups lost of it.
  std::vector<Real> scale_, size_of_scale_, magnitude_;
  // Scratch.
  std::vector<std::size_t> view_order_;                    // of the focus's group
  std::vector<Real> product_, weighed_, weighed_z_, sum_;  // by lane or cell
  std::vector<Real> hubs_;                                 // by combination of a test's cutset
  std::vector<Real> untouched_, alone_;   // by combination of the bridges; by slice
  std::vector<std::uint8_t> restricted_;  // by column
};

// Made for double and long double: laid out (the constructor and what it calls) in
// cause_summation_layout.cpp and cause_summation_lanes.cpp, summed in cause_summation.cpp and
// cause_summation_tests.cpp.

}  // namespace faultodds::diagnosis::products
