#include "core/diagnosis/contradiction.h"

#include <algorithm>
#include <cmath>
#include <memory>
#include <vector>

#include "core/diagnosis/hypotheses.h"
#include "core/diagnosis/log_evidence.h"
#include "core/stop.h"

namespace faultodds::diagnosis {
namespace {

// Of the largest likelihood: what makes a finding wrong. Working judgement.
constexpr double kWrong = 0.125;

// Without what speaks against it: the classes of effect that make it improbable.
Grades cut(Grades likelihood) {
  const double largest = *std::max_element(likelihood.begin(), likelihood.end());
  for (double& l : likelihood) {
    if (l < kWrong * largest) l = 0;
  }
  return likelihood;
}

// The same findings, were they right.
ObservedGrade if_right(const Model& model, ObservedGrade seen) {
  const circuit::Observation& observation = model.analysis().observations[seen.observation];
  seen.over_g = cut(seen.over_g);
  seen.over_s = cut(seen.over_s);
  const double scale = std::exp(-seen.log_combined);
  for (std::size_t s = 0; s < seen.likelihood.size(); ++s) {
    double through = 0;
    for (std::size_t b = 0; b < observation.background.size(); ++b) {
      through += observation.background[b] * seen.over_g[std::max(s, b)];
    }
    seen.likelihood[s] = through * seen.over_s[s] * scale;
  }
  return seen;
}

}  // namespace

Doubts::Doubts(const Model& model, const CaseNumbers& numbers, const Hypotheses* hypotheses)
    : model_(model), numbers_(numbers), hypotheses_(hypotheses) {}
Doubts::~Doubts() = default;

double Doubts::wrong(const CaseNumbers& right) {
  if (!evidence_) evidence_ = std::make_unique<LogEvidence>(model_, numbers_);
  if (!all_) all_ = (*evidence_)(numbers_);
  return std::clamp(-std::expm1((*evidence_)(right) - *all_), 0.0, 1.0);
}

double Doubts::wrong(const Hypotheses& hypotheses, std::size_t from, std::size_t end) const {
  std::vector<ObservedGrade> right;
  for (std::size_t i = from; i < end; ++i) {
    right.push_back(if_right(model_, numbers_.observed[i]));
  }
  double all_right = 0;
  for (std::size_t h = 0; h < hypotheses.size(); ++h) {
    if (h % 256 == 0) check_stop();
    double share = hypotheses.weight(h);
    for (std::size_t i = from; i < end; ++i) {
      const ObservedGrade& seen = numbers_.observed[i];
      const std::uint32_t o = seen.observation;
      const bool known = hypotheses.knows(o);
      const double most0 = known ? hypotheses.at_most(h, o, 0) : 1;
      const double most1 = known ? hypotheses.at_most(h, o, 1) : 1;
      const double all = weighed(seen.likelihood, most0, most1);
      share *= all > 0 ? weighed(right[i - from].likelihood, most0, most1) / all : 0;
    }
    all_right += share;
  }
  return std::clamp(1 - all_right, 0.0, 1.0);
}

double Doubts::any() {
  if (hypotheses_) return wrong(*hypotheses_, 0, numbers_.observed.size());
  CaseNumbers right = numbers_;
  for (ObservedGrade& seen : right.observed) seen = if_right(model_, seen);
  return wrong(right);
}

double Doubts::wrong(std::size_t i) {
  if (hypotheses_) return wrong(*hypotheses_, i, i + 1);
  CaseNumbers right = numbers_;
  right.observed[i] = if_right(model_, right.observed[i]);
  return wrong(right);
}

}  // namespace faultodds::diagnosis
