#include "core/wording/choice.h"

#include <algorithm>
#include <cmath>

#include "core/stop.h"

namespace faultodds::wording {
namespace {

constexpr int kRounds = 300;
constexpr double kSettled = 1e-5;  // largest change of a weight in a round

std::vector<double> shares(const std::vector<double>& scores) {
  const double most = *std::max_element(scores.begin(), scores.end());
  std::vector<double> p(scores.size());
  double sum = 0;
  for (std::size_t k = 0; k < p.size(); ++k) sum += p[k] = std::exp(scores[k] - most);
  for (double& value : p) value /= sum;
  return p;
}

}  // namespace

void Choice::expect(const std::string& feature, std::uint32_t option, double weight) {
  for (auto* weights : {&expected_, &weights_}) {
    std::vector<double>& of = (*weights)[feature];
    of.resize(options_);
    of[option] = weight;
  }
}

const std::vector<double>* Choice::find(const Weights& weights, std::string_view feature) {
  auto found = weights.find(feature);
  const std::size_t colon = feature.find(':');
  if (found == weights.end() && colon != std::string_view::npos) {
    found = weights.find(std::string(feature.substr(0, colon)) + ":*");
  }
  return found == weights.end() ? nullptr : &found->second;
}

std::vector<double> Choice::scores(const Shown& shown) const {
  std::vector<double> sums(options_);
  for (const std::string& feature : shown) {
    const std::vector<double>* of = find(weights_, feature);
    if (of == nullptr) continue;
    for (std::size_t k = 0; k < options_; ++k) sums[k] += (*of)[k];
  }
  return sums;
}

std::vector<double> Choice::probabilities(const Shown& shown) const {
  return shares(scores(shown));
}

std::vector<Deciding> Choice::deciding(const Shown& shown, std::uint32_t option) const {
  const std::vector<double> sums = scores(shown);
  std::size_t other = option == 0 ? 1 : 0;
  for (std::size_t k = 0; k < options_; ++k) {
    if (k != option && sums[k] > sums[other]) other = k;
  }
  std::vector<Deciding> all;
  for (const std::string& feature : shown) {
    const std::vector<double>* of = find(weights_, feature);
    if (of == nullptr || options_ < 2) continue;
    const double weight = (*of)[option] - (*of)[other];
    if (weight > 0.05) all.push_back({feature, weight});
  }
  std::stable_sort(all.begin(), all.end(),
                   [](const Deciding& a, const Deciding& b) { return a.weight > b.weight; });
  return all;
}

// Descent of the convex posterior with one step length per feature: the curvature of a softmax is
// at most 1/2 for each answer that shows it times how many features stand in that answer (D.
// Boehning 1992, from memory), so that no step overshoots.
void Choice::learn(const std::vector<Answer>& answers, double word_spread, double line_spread) {
  weights_ = expected_;
  if (answers.empty() || options_ < 2) return;
  std::map<std::string, std::size_t, std::less<>> index;
  for (const Answer& answer : answers) {
    for (const std::string& feature : answer.shown) index.emplace(feature, index.size());
  }
  const std::size_t n = index.size();
  std::vector<std::vector<std::size_t>> of(answers.size());
  std::vector<double> precision(n);
  for (const auto& [feature, f] : index) {
    const double spread = feature.find(':') == std::string::npos ? line_spread : word_spread;
    precision[f] = 1 / (spread * spread);
  }
  std::vector<double> curvature = precision;
  for (std::size_t a = 0; a < answers.size(); ++a) {
    for (const std::string& feature : answers[a].shown)
      of[a].push_back(index.find(feature)->second);
    for (std::size_t f : of[a]) {
      curvature[f] += 0.5 * answers[a].times * static_cast<double>(of[a].size());
    }
  }
  std::vector<double> start(n * options_), weight;
  for (const auto& [feature, f] : index) {
    const std::vector<double>* of_feature = find(expected_, feature);
    if (of_feature == nullptr) continue;
    std::copy(of_feature->begin(), of_feature->end(),
              start.begin() + static_cast<std::ptrdiff_t>(f * options_));
  }
  weight = start;
  std::vector<double> slope(n * options_), sums(options_);
  for (int round = 0; round < kRounds; ++round) {
    check_stop();
    for (std::size_t i = 0; i < slope.size(); ++i) {
      slope[i] = precision[i / options_] * (weight[i] - start[i]);
    }
    for (std::size_t a = 0; a < answers.size(); ++a) {
      std::fill(sums.begin(), sums.end(), 0.0);
      for (std::size_t f : of[a]) {
        for (std::size_t k = 0; k < options_; ++k) sums[k] += weight[f * options_ + k];
      }
      std::vector<double> miss = shares(sums);
      miss[answers[a].option] -= 1;
      for (std::size_t f : of[a]) {
        for (std::size_t k = 0; k < options_; ++k) {
          slope[f * options_ + k] += answers[a].times * miss[k];
        }
      }
    }
    double moved = 0;
    for (std::size_t f = 0; f < n; ++f) {
      for (std::size_t k = 0; k < options_; ++k) {
        const double step = slope[f * options_ + k] / curvature[f];
        weight[f * options_ + k] -= step;
        moved = std::max(moved, std::abs(step));
      }
    }
    if (moved < kSettled) break;
  }
  for (const auto& [feature, f] : index) {
    std::vector<double>& to = weights_[feature];
    const auto from = weight.begin() + static_cast<std::ptrdiff_t>(f * options_);
    to.assign(from, from + static_cast<std::ptrdiff_t>(options_));
  }
}

}  // namespace faultodds::wording
