// The steady state of a flow circuit while it is looked for. Of solver.cpp, pressure_search.cpp and
// pilot_search.cpp alone; solver.h says what is solved.
#pragma once

#include <Eigen/Dense>
#include <Eigen/SparseCholesky>
#include <cstddef>
#include <optional>
#include <vector>

#include "core/hydraulics/solver.h"

namespace faultodds::hydraulics {

constexpr double kFarthest = 500;  // bar: about as far as a step may go where nothing holds

class PressureSearch {
 public:
  explicit PressureSearch(const FlowCircuit& circuit);

  const SteadyState& solve(const FlowCircuit& circuit);
  void from_rest() { at_rest_ = true; }

 private:
  using Sparse = Eigen::SparseMatrix<double>;
  using Vector = Eigen::VectorXd;
  using Matrix = Eigen::MatrixXd;
  struct Flow {
    double flow, slope;
  };
  struct Slots {
    int from = -1, to = -1, both = -1;  // into the values of matrix_
  };

  void number_unknowns(const FlowCircuit& circuit);
  Slots slots(Index a, Index b) const;
  int free_row(Index volume) const;
  void rest();

  Flow flow_of(std::size_t element, double dp) const;
  void evaluate();
  double largest_amiss() const;
  bool settled(double slack) const;
  void assemble();
  static Matrix least_solution(const Matrix& matrix, const Matrix& right);
  bool factorise();
  bool step();
  double slope_along(double length) const;
  double search_along();
  bool balance();
  bool newton();
  bool change_voids();
  Status solve_convex();

  double piloted_threshold(std::size_t element) const;
  Status solve_at(std::size_t which, double threshold);
  double threshold_error(std::size_t which) const;
  std::optional<Vector> thresholds_move(const Vector& error);
  bool improve_all_thresholds(Status* status);
  Status settle_threshold(std::size_t which);
  Status solve_pilots();
  void write(Status status);

  const FlowCircuit* circuit_ = nullptr;
  int size_ = 0;               // unknown pressures
  std::vector<int> row_;       // volume -> unknown, -1 where held
  std::vector<Index> volume_;  // unknown -> volume
  std::vector<Slots> element_slots_, actuator_slots_;
  std::vector<std::size_t> piloted_;  // elements with a pilot
  Sparse matrix_;                     // upper half
  std::vector<int> diagonal_;         // unknown -> value in matrix_
  Eigen::SimplicialLLT<Sparse, Eigen::Upper, Eigen::NaturalOrdering<int>> factor_;

  std::vector<double> pressure_;      // volume
  std::vector<double> threshold_;     // element
  std::vector<double> flow_, slope_;  // element
  std::vector<double> move_;          // volume: the step
  std::vector<char> void_;            // unknown: stands at -1 bar
  Vector speed_, speed_move_;         // actuator
  Vector amiss_, tolerance_;          // unknown: R and what of it is rounding
  Vector right_, solution_;
  Matrix gives_, response_;  // unknown x actuator: A, and H^-1 A
  double farthest_ = kFarthest;
  int steps_ = 0;
  bool at_rest_ = true;
  SteadyState state_;
};

}  // namespace faultodds::hydraulics
