#include "core/hydraulics/pressure_search.h"

#include <algorithm>
#include <cmath>
#include <limits>
#include <stdexcept>
#include <string>

namespace faultodds::hydraulics {
namespace {

constexpr double kVoid = 1e5;            // mL/min per bar below -1 bar, while it is not known where
constexpr double kLeastFlow = 1e-10;     // mL/min: less amiss is nothing
constexpr double kFlowRounding = 2e-15;  // of the terms that are summed
constexpr double kEdge = 1e-13;  // bar and of the pressures, where an element may be open or shut
constexpr double kLeastDamping = 1e-9;  // mL/min per bar
constexpr double kOfDiagonal = 1e-13;   // the same, of a volume's largest slope
constexpr double kFlat = 0.5;           // of the slope along a step, where its search ends
constexpr double kNothing = 1e-6;       // of that, what is no slope any more
constexpr double kShortest = 1e-9;      // of a step
constexpr double kCoupling = 1;         // mL/min per bar: how stiffly a piston ties its chambers
constexpr double kImbalance = 1e-9;     // of an actuator's force
constexpr double kSlack = 100;  // times what rounding is thought to be, after kPatience steps
constexpr int kPatience = 40;
constexpr int kMostSteps = 400;
constexpr int kMostSearches = 60;
constexpr int kMostVoidChanges = 40;

void require(bool holds, const char* what, std::size_t which) {
  if (!holds)
    throw std::invalid_argument(what + std::string(" of number ") + std::to_string(which));
}

void check_circuit(const FlowCircuit& circuit) {
  const std::size_t volumes = circuit.volumes.size();
  for (std::size_t i = 0; i < circuit.elements.size(); ++i) {
    const FlowElement& one = circuit.elements[i];
    require(one.from < volumes && one.to < volumes && one.from != one.to, "element: volumes", i);
    require(one.pilot == kNowhere || one.pilot < volumes, "element: pilot", i);
    require(one.conductance >= 0 && std::isfinite(one.conductance), "element: conductance", i);
    require(one.setting >= 0 && std::isfinite(one.setting), "element: setting", i);
    require(one.ratio >= 0 && std::isfinite(one.ratio), "element: ratio", i);
    require(one.law != FlowLaw::pump || (one.flow >= 0 && std::isfinite(one.flow)), "element: flow",
            i);
    require(one.law != FlowLaw::pump || one.setting > 0, "element: limit", i);
  }
  for (std::size_t k = 0; k < circuit.actuators.size(); ++k) {
    const Actuator& one = circuit.actuators[k];
    require(one.contracting < volumes, "actuator: contracting volume", k);
    require(one.expanding == kNowhere || one.expanding < volumes, "actuator: expanding volume", k);
    require(one.area_contracting > 0 && std::isfinite(one.area_contracting),
            "actuator: contracting area", k);
    require(one.area_expanding >= 0 && std::isfinite(one.area_expanding),
            "actuator: expanding area", k);
    require(std::isfinite(one.force), "actuator: force", k);
  }
}

}  // namespace

PressureSearch::PressureSearch(const FlowCircuit& circuit) {
  check_circuit(circuit);
  number_unknowns(circuit);
  const auto actuators = static_cast<Eigen::Index>(circuit.actuators.size());
  element_slots_.reserve(circuit.elements.size());
  for (const FlowElement& one : circuit.elements) element_slots_.push_back(slots(one.from, one.to));
  for (const Actuator& one : circuit.actuators) {
    actuator_slots_.push_back(slots(one.contracting, one.expanding));
  }
  for (std::size_t i = 0; i < circuit.elements.size(); ++i) {
    const FlowElement& one = circuit.elements[i];
    if (one.law == FlowLaw::one_way && one.pilot != kNowhere) piloted_.push_back(i);
  }
  pressure_.resize(circuit.volumes.size());
  move_.resize(circuit.volumes.size());
  threshold_.resize(circuit.elements.size());
  flow_.resize(circuit.elements.size());
  slope_.resize(circuit.elements.size());
  void_.resize(static_cast<std::size_t>(size_));
  for (Vector* one : {&speed_, &speed_move_}) *one = Vector::Zero(actuators);
  for (Vector* one : {&amiss_, &tolerance_, &right_, &solution_}) *one = Vector::Zero(size_);
  gives_ = response_ = Matrix::Zero(size_, actuators);
}

// Volumes in an order in which elimination fills in little.
void PressureSearch::number_unknowns(const FlowCircuit& circuit) {
  row_.assign(circuit.volumes.size(), -1);
  for (std::size_t v = 0; v < circuit.volumes.size(); ++v) {
    if (!circuit.volumes[v].held) row_[v] = size_++;
  }
  using Triplet = Eigen::Triplet<double>;
  const auto pattern = [&] {
    std::vector<Triplet> places;
    for (int i = 0; i < size_; ++i) places.emplace_back(i, i, 1.0);
    const auto join = [&](Index a, Index b) {
      if (a == kNowhere || b == kNowhere || row_[a] < 0 || row_[b] < 0) return;
      places.emplace_back(std::min(row_[a], row_[b]), std::max(row_[a], row_[b]), 1.0);
    };
    for (const FlowElement& one : circuit.elements) join(one.from, one.to);
    for (const Actuator& one : circuit.actuators) join(one.contracting, one.expanding);
    Sparse made(size_, size_);
    made.setFromTriplets(places.begin(), places.end());
    return made;
  };
  volume_.resize(static_cast<std::size_t>(size_));
  if (size_ > 0) {
    const Sparse first = pattern();
    Eigen::PermutationMatrix<Eigen::Dynamic, Eigen::Dynamic, int> order;
    Eigen::AMDOrdering<int>()(first.selfadjointView<Eigen::Upper>(), order);
    std::vector<int> place(static_cast<std::size_t>(size_));
    for (int i = 0; i < size_; ++i) place[static_cast<std::size_t>(order.indices()[i])] = i;
    for (int& row : row_) {
      if (row >= 0) row = place[static_cast<std::size_t>(row)];
    }
  }
  for (std::size_t v = 0; v < row_.size(); ++v) {
    if (row_[v] >= 0) volume_[static_cast<std::size_t>(row_[v])] = static_cast<Index>(v);
  }
  matrix_ = pattern();
  matrix_.makeCompressed();
  factor_.analyzePattern(matrix_);
  for (int i = 0; i < size_; ++i)
    diagonal_.push_back(slots(volume_[static_cast<std::size_t>(i)], kNowhere).from);
}

PressureSearch::Slots PressureSearch::slots(Index a, Index b) const {
  const auto find = [this](int row, int column) {
    const int* begin = matrix_.innerIndexPtr() + matrix_.outerIndexPtr()[column];
    const int* end = matrix_.innerIndexPtr() + matrix_.outerIndexPtr()[column + 1];
    return static_cast<int>(std::lower_bound(begin, end, row) - matrix_.innerIndexPtr());
  };
  Slots out;
  const int i = a == kNowhere ? -1 : row_[a], j = b == kNowhere ? -1 : row_[b];
  if (i >= 0) out.from = find(i, i);
  if (j >= 0) out.to = find(j, j);
  if (i >= 0 && j >= 0 && i != j) out.both = find(std::min(i, j), std::max(i, j));
  return out;
}

// The unknown of a volume's pressure; -1 where it is held or stands at -1 bar.
int PressureSearch::free_row(Index volume) const {
  if (volume == kNowhere) return -1;
  const int row = row_[volume];
  return row >= 0 && void_[static_cast<std::size_t>(row)] ? -1 : row;
}

void PressureSearch::rest() {
  for (std::size_t v = 0; v < pressure_.size(); ++v)
    pressure_[v] = circuit_->volumes[v].held.value_or(0);
  std::fill(void_.begin(), void_.end(), char{0});
  speed_.setZero();
  for (const std::size_t i : piloted_) threshold_[i] = circuit_->elements[i].setting;
  at_rest_ = false;
}

PressureSearch::Flow PressureSearch::flow_of(std::size_t element, double dp) const {
  static const double root = std::sqrt(kOrificeRounding);
  const FlowElement& one = circuit_->elements[element];
  const double c = one.conductance;
  switch (one.law) {
    case FlowLaw::laminar:
      return {c * dp, c};
    case FlowLaw::orifice: {
      const double size = std::abs(dp);
      if (size <= kOrificeRounding) return {c * dp / root, c / root};
      const double flow = c * std::sqrt(size);
      return {dp > 0 ? flow : -flow, flow / (2 * size)};
    }
    case FlowLaw::one_way: {
      const double above = dp - threshold_[element];
      return above > 0 ? Flow{c * above, c} : Flow{0, 0};
    }
    case FlowLaw::pump: {
      const double band = kOverride * one.setting;
      const double share = (one.setting + band + dp) / band;  // the rise is -dp
      if (share >= 1) return {one.flow, 0};
      return share > 0 ? Flow{one.flow * share, one.flow / band} : Flow{0, 0};
    }
  }
  return {0, 0};
}

// Flows, and what is amiss in every volume, at pressure_ and speed_.
void PressureSearch::evaluate() {
  amiss_.setZero();
  tolerance_.setConstant(kLeastFlow);
  for (std::size_t i = 0; i < circuit_->elements.size(); ++i) {
    const FlowElement& one = circuit_->elements[i];
    const double a = pressure_[one.from], b = pressure_[one.to];
    const Flow now = flow_of(i, a - b);
    flow_[i] = now.flow;
    slope_[i] = now.slope;
    const double terms = std::abs(a) + std::abs(b) + threshold_[i];
    // At the edge of opening either slope is right; the steeper one is never stuck there.
    if (one.law == FlowLaw::one_way && std::abs(a - b - threshold_[i]) <= kEdge * (1 + terms))
      slope_[i] = one.conductance;
    const double rounding = kFlowRounding * (slope_[i] * terms + std::abs(now.flow));
    if (const int row = row_[one.from]; row >= 0) {
      amiss_[row] += now.flow;
      tolerance_[row] += rounding;
    }
    if (const int row = row_[one.to]; row >= 0) {
      amiss_[row] -= now.flow;
      tolerance_[row] += rounding;
    }
  }
  for (Eigen::Index k = 0; k < speed_.size(); ++k) {
    const Actuator& one = circuit_->actuators[static_cast<std::size_t>(k)];
    const auto give = [&](Index volume, double area) {
      if (volume == kNowhere || row_[volume] < 0) return;
      amiss_[row_[volume]] -= area * speed_[k];
      tolerance_[row_[volume]] += kFlowRounding * std::abs(area * speed_[k]);
    };
    give(one.contracting, one.area_contracting);
    give(one.expanding, -one.area_expanding);
  }
  for (int i = 0; i < size_; ++i) {
    const auto u = static_cast<std::size_t>(i);
    const double below = kLeastPressure - pressure_[volume_[u]];
    if (!void_[u] && below > 0) amiss_[i] -= kVoid * below;
  }
}

double PressureSearch::largest_amiss() const {
  double largest = 0;
  for (int i = 0; i < size_; ++i) {
    if (!void_[static_cast<std::size_t>(i)]) largest = std::max(largest, std::abs(amiss_[i]));
  }
  return largest;
}

bool PressureSearch::settled(double slack) const {
  for (int i = 0; i < size_; ++i) {
    if (void_[static_cast<std::size_t>(i)]) continue;
    if (!(std::abs(amiss_[i]) <= slack * tolerance_[i])) return false;
  }
  return true;
}

// The slopes of R, damped, with a piston's chambers tied (which its balance, kept by every step,
// allows). Volumes at -1 bar are left out.
void PressureSearch::assemble() {
  double* values = matrix_.valuePtr();
  std::fill(values, values + matrix_.nonZeros(), 0.0);
  const auto add = [&](Index a, Index b, const Slots& slot, double aa, double bb, double ab) {
    const bool first = free_row(a) >= 0, second = free_row(b) >= 0;
    if (first) values[slot.from] += aa;
    if (second) values[slot.to] += bb;
    if (first && second && slot.both >= 0) values[slot.both] += ab;
  };
  for (std::size_t i = 0; i < circuit_->elements.size(); ++i) {
    const FlowElement& one = circuit_->elements[i];
    const double slope = slope_[i];
    if (slope > 0) add(one.from, one.to, element_slots_[i], slope, slope, -slope);
  }
  gives_.setZero();
  for (std::size_t k = 0; k < circuit_->actuators.size(); ++k) {
    const Actuator& one = circuit_->actuators[k];
    const double c = one.area_contracting, e = one.expanding == kNowhere ? 0 : one.area_expanding;
    const double tie = kCoupling / (c * c + e * e);
    const auto column = static_cast<Eigen::Index>(k);
    if (one.contracting == one.expanding) {
      add(one.contracting, kNowhere, actuator_slots_[k], tie * (c - e) * (c - e), 0, 0);
    } else {
      add(one.contracting, one.expanding, actuator_slots_[k], tie * c * c, tie * e * e,
          -tie * c * e);
    }
    if (const int row = free_row(one.contracting); row >= 0) gives_(row, column) += c;
    if (const int row = free_row(one.expanding); row >= 0) gives_(row, column) -= e;
  }
  for (int i = 0; i < size_; ++i) {
    const auto u = static_cast<std::size_t>(i);
    double& value = values[diagonal_[u]];
    if (void_[u]) {
      value = 1;
      continue;
    }
    if (pressure_[volume_[u]] < kLeastPressure) value += kVoid;
    value += std::max({std::abs(amiss_[i]) / farthest_, kOfDiagonal * value, kLeastDamping});
  }
}

// The least x, of those that come nearest to matrix x = right.
PressureSearch::Matrix PressureSearch::least_solution(const Matrix& matrix, const Matrix& right) {
  return matrix.completeOrthogonalDecomposition().solve(right);
}

bool PressureSearch::factorise() {
  assemble();
  double more = kLeastDamping;
  for (int attempt = 0; attempt < 12; ++attempt) {
    factor_.factorize(matrix_);
    if (factor_.info() == Eigen::Success) break;
    more *= 100;
    for (int i = 0; i < size_; ++i)
      matrix_.valuePtr()[diagonal_[static_cast<std::size_t>(i)]] += more;
  }
  if (factor_.info() != Eigen::Success) return false;
  for (Eigen::Index k = 0; k < gives_.cols(); ++k) response_.col(k) = factor_.solve(gives_.col(k));
  return true;
}

// move_ and speed_move_ from what is amiss; a step leaves every balance as it is.
bool PressureSearch::step() {
  if (!factorise()) return false;
  for (int i = 0; i < size_; ++i) right_[i] = void_[static_cast<std::size_t>(i)] ? 0 : -amiss_[i];
  solution_ = factor_.solve(right_);
  if (gives_.cols() == 1) {
    const double own = gives_.col(0).dot(response_.col(0));
    speed_move_[0] = own > 0 ? -gives_.col(0).dot(solution_) / own : 0;
    solution_ += response_.col(0) * speed_move_[0];
  } else if (gives_.cols() > 1) {
    const Matrix own = gives_.transpose().lazyProduct(response_);
    speed_move_ = least_solution(own, -gives_.transpose().lazyProduct(solution_));
    solution_ += response_.lazyProduct(speed_move_);
  }
  std::fill(move_.begin(), move_.end(), 0.0);
  for (int i = 0; i < size_; ++i) {
    const auto u = static_cast<std::size_t>(i);
    if (!void_[u]) move_[volume_[u]] = solution_[i];
  }
  return solution_.allFinite() && speed_move_.allFinite();
}

// Slope, at `length` of the step, of the convex function whose slopes are R.
double PressureSearch::slope_along(double length) const {
  double sum = 0;
  for (std::size_t i = 0; i < circuit_->elements.size(); ++i) {
    const FlowElement& one = circuit_->elements[i];
    const double along = move_[one.from] - move_[one.to];
    if (along == 0) continue;
    const double dp = pressure_[one.from] - pressure_[one.to] + length * along;
    sum += flow_of(i, dp).flow * along;
  }
  for (std::size_t u = 0; u < volume_.size(); ++u) {
    const double along = move_[volume_[u]];
    const double below = kLeastPressure - pressure_[volume_[u]] - length * along;
    if (below > 0 && along != 0) sum -= kVoid * below * along;
  }
  return sum;
}

// How far along the step: where the slope is small beside what it was. The slope grows with the
// length, so it is bracketed and regula falsi (Illinois) finds it.
double PressureSearch::search_along() {
  const double begin = slope_along(0), enough = kFlat * std::abs(begin);
  double low = 0, at_low = begin, high = 1, at_high = slope_along(1);
  if (at_high < -enough) farthest_ *= 2;  // much of the way is left: damped too much
  if (!(begin < 0)) return 1;
  const auto flat = [&](double slope) { return std::abs(slope) <= kNothing * enough; };
  if (flat(at_high) && flat(slope_along(0.5))) {
    // Nothing flows any more: no farther than where that begins.
    high = 0.5;
    while (high > kShortest && flat(slope_along(high / 2))) high /= 2;
    low = high / 2;
    for (int i = 0; i < kMostSearches / 4; ++i) {
      const double middle = (low + high) / 2;
      (flat(slope_along(middle)) ? high : low) = middle;
    }
    return high;
  }
  if (!(at_high > enough)) return 1;
  for (int i = 0; i < kMostSearches; ++i) {
    double length = high - at_high * (high - low) / (at_high - at_low);
    if (!(length > low && length < high) || i % 4 == 3) length = (low + high) / 2;
    const double at = slope_along(length);
    if (std::abs(at) <= enough) return length;
    if (at > 0) {
      high = length;
      at_high = at;
      at_low /= 2;
    } else {
      low = length;
      at_low = at;
      at_high /= 2;
    }
  }
  return low > 0 ? low : high;
}

// Pressures moved to where every actuator's balance holds, as little as that takes. False where
// none does.
bool PressureSearch::balance() {
  const auto count = speed_.size();
  if (count == 0) return true;
  Vector missing(count), scale(count);
  const auto imbalance = [&] {
    for (Eigen::Index k = 0; k < count; ++k) {
      const Actuator& one = circuit_->actuators[static_cast<std::size_t>(k)];
      const double push = pressure_[one.contracting] * one.area_contracting;
      const double back =
          one.expanding == kNowhere ? 0 : pressure_[one.expanding] * one.area_expanding;
      missing[k] = one.force - push + back;
      scale[k] = std::abs(one.force) + std::abs(push) + std::abs(back) + one.area_contracting;
    }
  };
  for (std::size_t k = 0; k < circuit_->actuators.size(); ++k) {
    const Actuator& one = circuit_->actuators[k];
    const auto column = static_cast<Eigen::Index>(k);
    gives_.col(column).setZero();
    if (const int row = free_row(one.contracting); row >= 0)
      gives_(row, column) += one.area_contracting;
    if (const int row = free_row(one.expanding); row >= 0)
      gives_(row, column) -= one.area_expanding;
  }
  const Matrix gram = gives_.transpose().lazyProduct(gives_);
  for (int round = 0; round < 3; ++round) {
    imbalance();
    if ((missing.array().abs() <= kFlowRounding * scale.array()).all()) return true;
    const Vector share = count == 1 ? Vector(missing / std::max(gram(0, 0), 1e-300))
                                    : Vector(least_solution(gram, missing));
    if (!share.allFinite()) return false;
    for (int i = 0; i < size_; ++i) {
      if (gram.size() == 1 && gram(0, 0) <= 0) break;
      pressure_[volume_[static_cast<std::size_t>(i)]] += gives_.row(i).dot(share);
    }
  }
  imbalance();
  return (missing.array().abs() <= kImbalance * scale.array()).all();
}

bool PressureSearch::newton() {
  farthest_ = kFarthest;
  for (int i = 0; i < kMostSteps; ++i) {
    evaluate();
    if (settled(i < kPatience ? 1 : kSlack)) return true;
    ++steps_;
    if (!step()) return false;
    const double length = search_along();
    for (std::size_t v = 0; v < pressure_.size(); ++v) pressure_[v] += length * move_[v];
    speed_ += length * speed_move_;
  }
  evaluate();
  return settled(kSlack);
}

// A volume found below -1 bar stands there from now on; one that fills is let go. Of a piston's two
// chambers one at most stands there, else nothing would be left to hold its load.
bool PressureSearch::change_voids() {
  bool changed = false;
  const auto stand = [&](int row, bool yes) {
    void_[static_cast<std::size_t>(row)] = yes;
    if (yes) pressure_[volume_[static_cast<std::size_t>(row)]] = kLeastPressure;
    changed = true;
  };
  for (int i = 0; i < size_; ++i) {
    const auto u = static_cast<std::size_t>(i);
    if (void_[u] && amiss_[i] < -tolerance_[i]) stand(i, false);
  }
  std::vector<int> lowest_first;
  for (int i = 0; i < size_; ++i) {
    const auto u = static_cast<std::size_t>(i);
    if (!void_[u] && pressure_[volume_[u]] < kLeastPressure) lowest_first.push_back(i);
  }
  std::sort(lowest_first.begin(), lowest_first.end(), [&](int a, int b) {
    return pressure_[volume_[static_cast<std::size_t>(a)]] <
           pressure_[volume_[static_cast<std::size_t>(b)]];
  });
  std::vector<char> taken(circuit_->actuators.size(), 0);
  for (const int row : lowest_first) {
    const Index volume = volume_[static_cast<std::size_t>(row)];
    bool may = true;
    for (std::size_t k = 0; k < taken.size(); ++k) {
      const Actuator& one = circuit_->actuators[k];
      if (one.contracting == volume || one.expanding == volume) may = may && !taken[k];
    }
    if (!may) continue;
    for (std::size_t k = 0; k < taken.size(); ++k) {
      const Actuator& one = circuit_->actuators[k];
      if (one.contracting != volume && one.expanding != volume) continue;
      taken[k] = 1;
      const Index other = one.contracting == volume ? one.expanding : one.contracting;
      if (other == kNowhere || other == volume || row_[other] < 0) continue;
      if (void_[static_cast<std::size_t>(row_[other])]) stand(row_[other], false);
    }
    stand(row, true);
  }
  return changed;
}

// With the thresholds as they are.
Status PressureSearch::solve_convex() {
  for (int round = 0; round < kMostVoidChanges; ++round) {
    if (!balance()) {
      if (round > 0 || std::none_of(void_.begin(), void_.end(), [](char v) { return v != 0; }))
        return Status::unbalanced;
      std::fill(void_.begin(), void_.end(), char{0});  // those of another load
      if (!balance()) return Status::unbalanced;
    }
    if (!newton()) return Status::not_converged;
    if (!change_voids()) return Status::solved;
  }
  return Status::not_converged;
}

void PressureSearch::write(Status status) {
  evaluate();
  state_.status = status;
  state_.residual = largest_amiss();
  state_.steps = steps_;
  state_.pressure = pressure_;
  state_.flow = flow_;
  state_.speed.assign(speed_.data(), speed_.data() + speed_.size());
  state_.open.resize(flow_.size());
  state_.supply.assign(pressure_.size(), 0.0);
  for (std::size_t i = 0; i < flow_.size(); ++i) {
    const FlowElement& one = circuit_->elements[i];
    state_.open[i] = one.law == FlowLaw::one_way && flow_[i] > 0;
    state_.supply[one.from] += flow_[i];
    state_.supply[one.to] -= flow_[i];
  }
  for (std::size_t k = 0; k < circuit_->actuators.size(); ++k) {
    const Actuator& one = circuit_->actuators[k];
    state_.supply[one.contracting] -= one.area_contracting * state_.speed[k];
    if (one.expanding != kNowhere)
      state_.supply[one.expanding] += one.area_expanding * state_.speed[k];
  }
  for (std::size_t u = 0; u < volume_.size(); ++u) {
    if (!void_[u]) state_.supply[volume_[u]] = 0;
  }
  if (status != Status::solved) at_rest_ = true;
}

}  // namespace faultodds::hydraulics
