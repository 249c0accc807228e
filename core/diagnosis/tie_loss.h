// What the polynomial of ties (cause_products.h) loses by fewer nodes than its degree asks for. The
// sums are cause_summation.h's.
#pragma once

#include <cstddef>
#include <cstdint>
#include <map>
#include <vector>

namespace faultodds::diagnosis::products {

// What the polynomial of ties may lose by fewer nodes than its degree asks for: how much weight it
// has at x = 1 by the expected number of sets that tie (rounded up).
class TieLoss {
 public:
  // `sets_of_mode`: in how many sets of the focus one mode may be.
  TieLoss(std::size_t cells, std::size_t sets_of_mode)
      : weight_(cells), total_(cells, 0), sets_of_mode_(sets_of_mode) {}
  // `weight`, not below 0, of what has so many ties; `sum`, of either sign, of what is asked.
  void add(std::size_t cell, double ties, double weight);
  void add_total(std::size_t cell, double sum) { total_[cell] += sum; }
  // Of the same cells, other marks.
  void add(const TieLoss& other);
  // Fewest nodes, at most `all`, that lose no more than `tolerance` of any cell's total.
  std::size_t nodes(std::size_t all, double tolerance) const;
  // Bound of what so many nodes lose of a cell.
  double lost(std::size_t cell, std::size_t nodes) const;

 private:
  std::vector<std::map<std::uint32_t, double>> weight_;  // by cell: quarters of a tie
  std::vector<double> total_;
  std::size_t sets_of_mode_;
};

}  // namespace faultodds::diagnosis::products
