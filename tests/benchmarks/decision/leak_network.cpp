#include "tests/benchmarks/decision/leak_network.h"

#include <Eigen/Dense>
#include <cmath>
#include <limits>
#include <stdexcept>

namespace faultodds::benchmark {
namespace {

constexpr double kRounded = 0.01;    // bar below which an orifice is laminar
constexpr double kSeep = 1e-7;       // mL/min per bar of every node to tank: none is adrift
constexpr double kVapour = 1e5;      // mL/min per bar below the tank's pressure
constexpr double kTolerance = 1e-4;  // mL/min, and its share of the largest flow
constexpr double kRounding = 1e-12;  // relative, of the function that is made least
constexpr double kEnough = 0.05;     // share of the fall that the slope promises
constexpr double kDamping = 1e-2;    // mL/min per bar, to begin with (Levenberg's)
constexpr int kMostSteps = 500;

}  // namespace

LeakNetwork::Value LeakNetwork::value(const Link& link, double difference) {
  const auto linear = [](double slope, double d) {
    return Value{slope * d, slope, slope * d * d / 2};
  };
  const auto orifice = [&](double d) {
    const double squared = d * d + kRounded * kRounded;
    const double root = std::sqrt(std::sqrt(squared));
    const double scale = link.size / 10;  // root of 100 bar
    static const double least = kRounded * std::sqrt(kRounded);
    return Value{scale * d / root, scale * (1 / root - d * d / (2 * squared * root)),
                 scale * 2 / 3 * (root * root * root - least)};
  };
  switch (link.law) {
    case Law::laminar:
      return linear(link.size / 100, difference);
    case Law::orifice:
      return orifice(difference);
    case Law::check:
      return difference > 0 ? orifice(difference) : Value{};
    case Law::relief:
      return difference > link.setting ? linear(link.size, difference - link.setting) : Value{};
  }
  return {};
}

void LeakNetwork::hold(std::size_t node, double pressure) {
  held_[node] = true;
  pressure_[node] = pressure;
}

void LeakNetwork::inject(std::size_t node, double flow) {
  injected_.resize(held_.size(), 0.0);
  injected_[node] += flow;
}

double LeakNetwork::flow(const Link& link) const {
  return value(link, pressure_[link.from] - pressure_[link.to]).flow;
}

double LeakNetwork::outflow(std::size_t node) const {
  double sum = 0;
  for (const Link& link : links_) {
    if (link.from == node) sum += flow(link);
    if (link.to == node) sum -= flow(link);
  }
  return sum;
}

void LeakNetwork::solve() {
  const std::size_t nodes = held_.size();
  injected_.resize(nodes, 0.0);
  constexpr auto kHeld = static_cast<Eigen::Index>(-1);
  std::vector<Eigen::Index> row(nodes, kHeld);
  Eigen::Index size = 0;
  for (std::size_t n = 0; n < nodes; ++n) {
    if (!held_[n]) row[n] = size++;
  }
  const Eigen::Index speed_row = size;
  if (has_piston_) ++size;
  if (size == 0) return;

  if (has_piston_) {  // begin where the piston is in balance
    pressure_[piston_.contracting] = std::max(0.0, piston_.force / piston_.area_c);
    pressure_[piston_.expanding] = std::max(0.0, -piston_.force / piston_.area_e);
  }
  Eigen::VectorXd residual(size);
  Eigen::MatrixXd slopes(size, size);
  double largest = 0, content = 0;
  // What flows out of each node beyond what comes in, and the piston's imbalance.
  const auto evaluate = [&] {
    residual.setZero();
    slopes.setZero();
    largest = content = 0;
    for (const Link& link : links_) {
      const Value v = value(link, pressure_[link.from] - pressure_[link.to]);
      largest = std::max(largest, std::abs(v.flow));
      content += v.content;
      const Eigen::Index a = row[link.from], b = row[link.to];
      if (a != kHeld) residual[a] += v.flow;
      if (b != kHeld) residual[b] -= v.flow;
      if (a != kHeld) slopes(a, a) += v.slope;
      if (b != kHeld) slopes(b, b) += v.slope;
      if (a != kHeld && b != kHeld) {
        slopes(a, b) -= v.slope;
        slopes(b, a) -= v.slope;
      }
    }
    for (std::size_t n = 0; n < nodes; ++n) {
      if (row[n] == kHeld) continue;
      const double p = pressure_[n];
      const bool vapour = has_piston_ && n == piston_.expanding && p < 0;
      const double to_tank = kSeep + (vapour ? kVapour : 0);
      residual[row[n]] += to_tank * p - injected_[n];
      slopes(row[n], row[n]) += to_tank;
      content += to_tank * p * p / 2 - injected_[n] * p;
    }
    if (!has_piston_) return;
    const Eigen::Index c = row[piston_.contracting], e = row[piston_.expanding];
    residual[c] -= piston_.area_c * speed_;
    residual[e] += piston_.area_e * speed_;
    residual[speed_row] = pressure_[piston_.contracting] * piston_.area_c -
                          pressure_[piston_.expanding] * piston_.area_e - piston_.force;
    slopes(c, speed_row) -= piston_.area_c;
    slopes(e, speed_row) += piston_.area_e;
    slopes(speed_row, c) += piston_.area_c;
    slopes(speed_row, e) -= piston_.area_e;
  };

  evaluate();
  double damping = kDamping;
  for (int step = 0; step < kMostSteps; ++step) {
    if (residual.lpNorm<Eigen::Infinity>() <= kTolerance * std::max(1.0, largest * 1e-6)) return;
    Eigen::MatrixXd damped = slopes;
    for (std::size_t n = 0; n < nodes; ++n) {
      if (row[n] != kHeld) damped(row[n], row[n]) += damping;
    }
    const Eigen::VectorXd move = damped.partialPivLu().solve(-residual);
    const double before = content;
    const std::vector<double> from = pressure_;
    const double from_speed = speed_;
    double downhill = 0;  // the piston stays in balance, so its force does no work
    for (std::size_t n = 0; n < nodes; ++n) {
      if (row[n] == kHeld) continue;
      downhill += residual[row[n]] * move[row[n]];
      pressure_[n] += move[row[n]];
    }
    if (has_piston_) speed_ += move[speed_row];
    evaluate();
    if (content <= before + kEnough * downhill + kRounding * std::abs(before)) {
      damping /= 10;
      continue;
    }
    damping = std::max(damping * 10, kDamping);
    pressure_ = from;
    speed_ = from_speed;
    evaluate();
  }
  throw std::runtime_error("the flow in a leak network was not found");
}

}  // namespace faultodds::benchmark
