#include "priors/recurrence.h"

#include <algorithm>
#include <cmath>
#include <string>

#include "core/error.h"
#include "core/number_text.h"
#include "priors/generator.h"

namespace faultodds::priors {
namespace {

void check(const std::vector<Watched>& machines) {
  for (std::size_t j = 0; j < machines.size(); ++j) {
    const Watched& machine = machines[j];
    const std::string name = "machine " + std::to_string(j);
    if (!std::isfinite(machine.from) || !std::isfinite(machine.to) ||
        !(machine.to > machine.from)) {
      throw Error(Code::invalid_argument, name + " is under watch from " +
                                              fixed_text(machine.from) + " to " +
                                              fixed_text(machine.to) + "; expected a later end");
    }
    for (const double at : machine.events) {
      if (!(at > machine.from && at <= machine.to)) {
        throw Error(Code::invalid_argument, name + " has a failure at " + fixed_text(at) +
                                                "; expected one after " + fixed_text(machine.from) +
                                                ", up to " + fixed_text(machine.to));
      }
    }
  }
}

// What happens to machines, in order of time: those that leave at an age still count at it, those
// that come at it do not yet.
struct Happening {
  double at = 0;
  enum class What { failure, leaves, comes } what = What::failure;
  std::size_t machine = 0;

  bool operator<(const Happening& other) const {
    return at != other.at ? at < other.at : what < other.what;
  }
};

std::vector<Happening> happenings(const std::vector<Watched>& machines) {
  std::vector<Happening> all;
  for (std::size_t j = 0; j < machines.size(); ++j) {
    all.push_back({machines[j].from, Happening::What::comes, j});
    all.push_back({machines[j].to, Happening::What::leaves, j});
    for (const double at : machines[j].events) all.push_back({at, Happening::What::failure, j});
  }
  std::stable_sort(all.begin(), all.end());
  return all;
}

// What each machine adds to the variance is g = (its failures, each by 1 / r) - (what is expected
// of it since it came). The sums over the machines under watch are kept as g changes.
class Variance {
 public:
  explicit Variance(std::size_t machines) : own_(machines), expected_at_(machines) {}

  void comes(std::size_t machine) {
    expected_at_[machine] = expected_;
    under_watch_ += 1;
  }
  void leaves(std::size_t machine) {
    const double g = value(machine);
    under_watch_ -= 1;
    sum_ -= g;
    squares_ -= g * g;
    left_ += g * g;
  }
  void fails(std::size_t machine, double at_risk) {
    const double before = value(machine), after = before + 1 / at_risk;
    own_[machine] += 1 / at_risk;
    sum_ += after - before;
    squares_ += after * after - before * before;
  }
  void expect(double failures, double at_risk) {
    const double each = failures / (at_risk * at_risk);
    squares_ += under_watch_ * each * each - 2 * each * sum_;
    sum_ -= under_watch_ * each;
    expected_ += each;
  }
  double variance() const { return std::max(squares_, 0.0) + left_; }

 private:
  double value(std::size_t machine) const {
    return own_[machine] - (expected_ - expected_at_[machine]);
  }

  std::vector<double> own_, expected_at_;
  double expected_ = 0, under_watch_ = 0, sum_ = 0, squares_ = 0, left_ = 0;
};

double two_sided(double cdf) { return std::min(1.0, 2 * std::min(cdf, 1 - cdf)); }

double cramer_von_mises(std::vector<double> z) {
  std::sort(z.begin(), z.end());
  const double count = static_cast<double>(z.size());
  double sum = 1 / (12 * count);
  for (std::size_t i = 0; i < z.size(); ++i) {
    const double off = (static_cast<double>(i) + 0.5) / count - z[i];
    sum += off * off;
  }
  return sum;
}

// z of failures whose relative times are these, the shape being estimated from them.
std::vector<double> transformed(const std::vector<double>& relative) {
  double logarithms = 0;
  for (const double u : relative) logarithms -= std::log(u);
  const double shape = logarithms > 0 ? (static_cast<double>(relative.size()) - 1) / logarithms : 1;
  std::vector<double> z;
  for (const double u : relative) z.push_back(std::pow(u, shape));
  return z;
}

double share_beyond(double statistic, std::size_t failures) {
  constexpr int samples = 4999;
  Random random(failures);
  std::vector<double> relative(std::min<std::size_t>(failures, 500));
  int beyond = 1;
  for (int i = 0; i < samples; ++i) {
    for (double& u : relative) u = 1 - random.uniform();
    beyond += cramer_von_mises(transformed(relative)) >= statistic ? 1 : 0;
  }
  return static_cast<double>(beyond) / (samples + 1);
}

}  // namespace

std::vector<MeanCumulativePoint> mean_cumulative(const std::vector<Watched>& machines,
                                                 double level) {
  check(machines);
  const double z = normal_quantile((1 + level) / 2);
  const std::vector<Happening> all = happenings(machines);
  Variance variance(machines.size());
  std::vector<MeanCumulativePoint> points;
  double at_risk = 0, mean = 0;
  for (std::size_t i = 0; i < all.size();) {
    if (all[i].what == Happening::What::comes) {
      variance.comes(all[i++].machine);
      at_risk += 1;
      continue;
    }
    if (all[i].what == Happening::What::leaves) {
      variance.leaves(all[i++].machine);
      at_risk -= 1;
      continue;
    }
    MeanCumulativePoint point;
    point.at = all[i].at;
    point.at_risk = at_risk;
    for (; i < all.size() && all[i].what == Happening::What::failure && all[i].at == point.at;
         ++i) {
      point.events += 1;
      variance.fails(all[i].machine, at_risk);
    }
    variance.expect(point.events, at_risk);
    point.mean = mean += point.events / at_risk;
    point.variance = variance.variance();
    const double half = z * std::sqrt(point.variance) / mean;
    point.interval = {mean * std::exp(-half), mean * std::exp(half)};
    points.push_back(point);
  }
  return points;
}

Trend trend_of(const std::vector<Watched>& machines) {
  check(machines);
  Trend trend;
  double off = 0, spread = 0, logarithms = 0;
  std::vector<double> relative;
  for (const Watched& machine : machines) {
    const double width = machine.to - machine.from;
    trend.machines += machine.events.empty() ? 0 : 1;
    for (const double at : machine.events) {
      const double u = (at - machine.from) / width;
      relative.push_back(u);
      off += width * (u - 0.5);
      spread += width * width / 12;
      logarithms -= std::log(u);
    }
  }
  trend.events = relative.size();
  if (trend.events < 3) {
    throw Error(Code::invalid_argument, "there are " + std::to_string(trend.events) +
                                            " failures; expected 3 or more for a test of trend");
  }
  const double count = static_cast<double>(trend.events);
  trend.laplace = off / std::sqrt(spread);
  trend.laplace_p = std::erfc(std::abs(trend.laplace) / std::sqrt(2.0));
  // Chi-squared with 2 n degrees is a gamma of shape n and rate 1/2.
  const Gamma chi_squared{count, 0.5};
  trend.handbook = 2 * logarithms;
  trend.handbook_p = two_sided(chi_squared.cdf(trend.handbook));
  trend.shape = logarithms > 0 ? count / logarithms : 1;
  const double tail = (1 - credible_level) / 2;
  trend.shape_interval = {trend.shape * chi_squared.quantile(tail) / (2 * count),
                          trend.shape * chi_squared.quantile(1 - tail) / (2 * count)};
  trend.cramer_von_mises = cramer_von_mises(transformed(relative));
  trend.fit_p = share_beyond(trend.cramer_von_mises, trend.events);
  return trend;
}

}  // namespace faultodds::priors
