// Thresholds that pilots move: where each is what its pilot's pressure makes it. The state at given
// thresholds is pressure_search.cpp's.
#include <algorithm>
#include <cmath>
#include <limits>
#include <optional>

#include "core/hydraulics/pressure_search.h"

namespace faultodds::hydraulics {
namespace {

constexpr double kRounding = 2e-15;      // of the terms that are summed
constexpr double kSamePressure = 1e-11;  // relative, of thresholds
constexpr int kMostThresholdSteps = 60;
constexpr int kMostRounds = 60;

}  // namespace

double PressureSearch::piloted_threshold(std::size_t element) const {
  const FlowElement& one = circuit_->elements[element];
  return std::max(0.0, one.setting - one.ratio * pressure_[one.pilot]);
}

double PressureSearch::threshold_error(std::size_t which) const {
  return threshold_[piloted_[which]] - piloted_threshold(piloted_[which]);
}

Status PressureSearch::solve_at(std::size_t which, double threshold) {
  threshold_[piloted_[which]] = threshold;
  return solve_convex();
}

// Newton's step of all thresholds from their errors, by the slopes at hand; none where it is not
// finite. Only what passes moves pressures with its threshold, so equations are solved for those
// alone, and the others follow.
std::optional<PressureSearch::Vector> PressureSearch::thresholds_move(const Vector& error) {
  amiss_.setZero();
  if (!factorise()) return std::nullopt;
  std::vector<Eigen::Index> passing;
  for (std::size_t j = 0; j < piloted_.size(); ++j) {
    if (slope_[piloted_[j]] > 0) passing.push_back(static_cast<Eigen::Index>(j));
  }
  if (passing.empty()) return error.allFinite() ? std::optional<Vector>(-error) : std::nullopt;
  const auto count = static_cast<Eigen::Index>(passing.size());
  const auto element_of = [&](Eigen::Index j) { return piloted_[static_cast<std::size_t>(j)]; };
  Matrix pressures(size_, count);  // d p / d T
  for (Eigen::Index k = 0; k < count; ++k) {
    const std::size_t element = element_of(passing[static_cast<std::size_t>(k)]);
    const FlowElement& opened = circuit_->elements[element];
    right_.setZero();
    if (const int row = free_row(opened.from); row >= 0) right_[row] += slope_[element];
    if (const int row = free_row(opened.to); row >= 0) right_[row] -= slope_[element];
    pressures.col(k) = factor_.solve(right_);
  }
  if (gives_.cols() > 0) {
    const Matrix own = gives_.transpose().lazyProduct(response_);
    const Matrix unbalanced = gives_.transpose().lazyProduct(pressures);
    pressures -= response_.lazyProduct(least_solution(own, unbalanced));
  }
  Matrix moved = Matrix::Zero(error.size(), count);  // ratio d p / d T at pilots
  for (Eigen::Index i = 0; i < error.size(); ++i) {
    const FlowElement& one = circuit_->elements[element_of(i)];
    const int row = free_row(one.pilot);
    if (row >= 0 && one.setting > one.ratio * pressure_[one.pilot])
      moved.row(i) = one.ratio * pressures.row(row);
  }
  Matrix slopes = Matrix::Identity(count, count);
  Vector of_passing(count);
  for (Eigen::Index k = 0; k < count; ++k) {
    slopes.row(k) += moved.row(passing[static_cast<std::size_t>(k)]);
    of_passing[k] = -error[passing[static_cast<std::size_t>(k)]];
  }
  // T_i + error_i + moved_i T_passing = 0, so what passes moves by its own equations.
  const Vector move = -error - moved.lazyProduct(least_solution(slopes, of_passing));
  if (!move.allFinite()) return std::nullopt;
  return move;
}

// Newton's method on all thresholds at once, each step halved until the errors shrink.
bool PressureSearch::improve_all_thresholds(Status* status) {
  const auto count = static_cast<Eigen::Index>(piloted_.size());
  Vector error(count), tried(count);
  const auto errors = [&](Vector* into) {
    for (Eigen::Index j = 0; j < count; ++j)
      (*into)[j] = threshold_error(static_cast<std::size_t>(j));
  };
  const auto within = [&](const Vector& of, double share) {
    for (Eigen::Index j = 0; j < count; ++j) {
      const FlowElement& one = circuit_->elements[piloted_[static_cast<std::size_t>(j)]];
      const double terms = one.setting + std::abs(one.ratio * pressure_[one.pilot]);
      if (std::abs(of[j]) > share * terms) return false;
    }
    return true;
  };
  *status = solve_convex();
  if (*status != Status::solved) return false;
  errors(&error);
  for (int round = 0; round < kMostThresholdSteps; ++round) {
    if (within(error, kRounding)) return true;
    const std::optional<Vector> move = thresholds_move(error);
    if (!move) return false;
    const std::vector<double> from = threshold_;
    const bool there = within(error, kSamePressure);  // what follows only makes it finer
    double length = 1;
    bool better = false;
    for (int half = 0; half < 12 && !better; ++half, length /= 2) {
      for (Eigen::Index j = 0; j < count; ++j) {
        const std::size_t element = piloted_[static_cast<std::size_t>(j)];
        threshold_[element] = std::max(0.0, from[element] + length * (*move)[j]);
      }
      *status = solve_convex();
      if (*status != Status::solved) return false;
      errors(&tried);
      better = tried.norm() < (1 - 0.1 * length) * error.norm() || within(tried, kRounding);
      if (there) break;
    }
    if (!better) return there;
    error = tried;
  }
  return within(error, kSamePressure);
}

// One threshold, the others as they are: its error is not above 0 at 0 and not below it where the
// pilot's pressure is least, so a root lies between.
Status PressureSearch::settle_threshold(std::size_t which) {
  const FlowElement& one = circuit_->elements[piloted_[which]];
  double high = one.setting - one.ratio * kLeastPressure, low = 0;
  double at_high = 1, at_low = -1;
  bool high_known = false, low_known = false;
  double next = threshold_[piloted_[which]];
  for (int i = 0; i < 4 * kMostThresholdSteps; ++i) {
    if (const Status status = solve_at(which, next); status != Status::solved) return status;
    const double error = threshold_error(which);
    if (std::abs(error) <=
        kSamePressure * (one.setting + std::abs(one.ratio * pressure_[one.pilot])))
      return Status::solved;
    if (error > 0) {
      high = next;
      at_high = error;
      high_known = true;
    } else {
      low = next;
      at_low = error;
      low_known = true;
    }
    if (high - low <= kSamePressure * high) return Status::solved;
    if (high_known && low_known) {
      next = high - at_high * (high - low) / (at_high - at_low);
    } else {
      next -= error;  // what the pilot's pressure makes it
      if (next == low && !low_known) continue;
    }
    if (i % 3 == 2) next = (low + high) / 2;
    if (!(next > low && next < high)) next = (low + high) / 2;
  }
  return Status::not_converged;
}

Status PressureSearch::solve_pilots() {
  Status status = Status::not_converged;
  if (improve_all_thresholds(&status)) return Status::solved;
  if (status == Status::unbalanced) return status;
  rest();
  for (int round = 0; round < kMostRounds; ++round) {
    for (std::size_t j = 0; j < piloted_.size(); ++j) {
      status = settle_threshold(j);
      if (status != Status::solved) return status;
    }
    if (piloted_.size() == 1 || improve_all_thresholds(&status)) return Status::solved;
  }
  // Thresholds that chase each other: all a part of the way, again and again.
  for (double part = 0.5; part > 0.01; part /= 2) {
    rest();
    for (int round = 0; round < 4 * kMostRounds; ++round) {
      if (status = solve_convex(); status != Status::solved) return status;
      for (std::size_t j = 0; j < piloted_.size(); ++j)
        threshold_[piloted_[j]] -= part * threshold_error(j);
    }
    if (improve_all_thresholds(&status)) return Status::solved;
  }
  return Status::not_converged;
}

}  // namespace faultodds::hydraulics
