// The sample of what the hypotheses leave out: Hypotheses::sample() and the chains that it draws
// from. What was found before is hypothesis_search's.
#include <algorithm>
#include <cmath>
#include <map>
#include <random>
#include <set>
#include <string>
#include <utility>

#include "core/diagnosis/hypothesis_search.h"
#include "core/stop.h"

namespace faultodds::diagnosis {
namespace {

constexpr std::size_t kChains = 10, kForgotten = 8;  // sweeps at the start of each

}  // namespace

// Gibbs sampling of joint states: each variable in its turn is drawn given all others and what was
// seen.
class Hypotheses::Chain {
 public:
  Chain(const Search& search, const std::vector<std::uint8_t>& start, std::uint64_t seed)
      : search_(search), classes_(start), random_(seed) {
    touched_.resize(search.variables.size());
    for (std::size_t s = 0; s < search.seen.size(); ++s) {
      const std::size_t first = search.into.first_set_[search.seen[s].observation];
      auto& sets = shown_.emplace_back();
      for (std::size_t j = 0; j < search.into.sets_[search.seen[s].observation]; ++j) {
        const SetTable& table = search.into.tables_[first + j];
        sets.push_back(at(table));
        for (const std::uint32_t v : table.variables) {
          auto& of = touched_[v];
          if (of.empty() || of.back().seen != s) of.push_back({s, {}});
          of.back().sets.push_back(j);
        }
      }
    }
  }

  // Every variable once.
  void sweep() {
    for (std::uint32_t v = 0; v < classes_.size(); ++v) draw(v);
  }
  const std::vector<std::uint8_t>& classes() const { return classes_; }

 private:
  struct Most {
    double of[2];
  };
  struct Touched {
    std::size_t seen;
    std::vector<std::size_t> sets;  // of it that the variable is in
  };

  Most at(const SetTable& table) const {
    const double* most = table.at_most.data() + 2 * search_.into.entry(table, classes_.data());
    return {{most[0], most[1]}};
  }
  const SetTable& table(std::size_t s, std::size_t j) const {
    return search_.into.tables_[search_.into.first_set_[search_.seen[s].observation] + j];
  }
  double prior(std::uint32_t v) const {
    double p = search_.prior_of(v, classes_);
    for (const std::uint32_t m : search_.variables[v].raises) p *= search_.prior_of(m, classes_);
    return p;
  }

  void draw(std::uint32_t v) {
    // What the sets without it show at most.
    others_.clear();
    for (const Touched& of : touched_[v]) {
      Most most{{1, 1}};
      std::size_t next = 0;
      for (std::size_t j = 0; j < shown_[of.seen].size(); ++j) {
        if (next < of.sets.size() && of.sets[next] == j) {
          ++next;
          continue;
        }
        for (std::size_t t = 0; t < 2; ++t) most.of[t] *= shown_[of.seen][j].of[t];
      }
      others_.push_back(most);
    }
    weight_.assign(search_.variables[v].count, 0);
    const std::uint8_t before = classes_[v];
    double total = 0;
    for (std::size_t k = 0; k < weight_.size(); ++k) {
      classes_[v] = static_cast<std::uint8_t>(k);
      weight_[k] = prior(v);
      for (std::size_t i = 0; i < touched_[v].size() && weight_[k] > 0; ++i) {
        const Touched& of = touched_[v][i];
        Most most = others_[i];
        for (const std::size_t j : of.sets) {
          const Most shown = at(table(of.seen, j));
          for (std::size_t t = 0; t < 2; ++t) most.of[t] *= shown.of[t];
        }
        weight_[k] *= weighed(search_.seen[of.seen].likelihood, most.of[0], most.of[1]);
      }
      total += weight_[k];
    }
    classes_[v] = before;
    if (!(total > 0)) return;
    double left = std::ldexp(static_cast<double>(random_() >> 11), -53) * total;
    std::size_t k = 0;
    while (k + 1 < weight_.size() && (left -= weight_[k]) >= 0) ++k;
    while (!(weight_[k] > 0)) --k;  // rounding
    if (k == before) return;
    classes_[v] = static_cast<std::uint8_t>(k);
    for (const Touched& of : touched_[v]) {
      for (const std::size_t j : of.sets) shown_[of.seen][j] = at(table(of.seen, j));
    }
  }

  const Search& search_;
  std::vector<std::uint8_t> classes_;
  std::mt19937_64 random_;
  std::vector<std::vector<Most>> shown_;       // by what was seen, set
  std::vector<std::vector<Touched>> touched_;  // by variable
  std::vector<Most> others_;
  std::vector<double> weight_;
};

// What is not among the hypotheses yet, by as many states drawn; chains start where the hypotheses
// say that it is probable.
void Hypotheses::sample(const Search& search, std::size_t states) {
  const std::size_t kept = size(), sweeps = (states + kChains - 1) / kChains;
  std::set<std::string> known;
  for (std::size_t h = 0; h < kept; ++h) known.emplace(classes(h), classes(h) + variables_);
  std::map<std::string, double> rest;     // the state's bytes; how often it was drawn
  std::vector<double> share(kChains, 0);  // of the rest, by chain
  double below = 0;
  for (std::size_t chain = 0, h = 0; chain < kChains; ++chain) {
    check_stop();
    const double place = (static_cast<double>(chain) + 0.5) / kChains;
    while (h + 1 < kept && below + weight_[h] < place) below += weight_[h++];
    Chain states_of(search, {classes(h), classes(h) + variables_}, mixed(chain));
    for (std::size_t i = 0; i < kForgotten; ++i) states_of.sweep();
    for (std::size_t i = 0; i < sweeps; ++i) {
      if (i % 64 == 0) check_stop();
      states_of.sweep();
      std::string state(states_of.classes().begin(), states_of.classes().end());
      if (known.count(state) > 0) continue;
      rest[std::move(state)] += 1;
      share[chain] += 1 / static_cast<double>(sweeps);
    }
  }
  double all = 0, spread = 0;
  for (const double one : share) all += one / kChains;
  for (const double one : share) spread += (one - all) * (one - all) / (kChains - 1);
  // How many sweeps say as much as one state drawn independently.
  const double alone = all * (1 - all) / static_cast<double>(sweeps);
  const double each = alone > 0 ? std::max(1.0, spread / alone) : 1;
  const double drawn = all * static_cast<double>(sweeps * kChains);
  // Chains that found nothing of the rest may have missed up to three in as many sweeps.
  const double within =
      drawn > 0 ? all * 0.5 * std::sqrt(each / drawn) : 3 / static_cast<double>(sweeps * kChains);
  const double of_share = std::sqrt(std::max(spread, alone) / kChains);
  error_ = std::min(1.0, 2 * std::hypot(of_share, within));
  for (double& w : weight_) w *= 1 - all;
  const double known_share = std::max(1 - all, 1e-9);
  log_evidence_ -= std::log(known_share);
  log_evidence_error_ = std::log1p(2 * of_share / known_share);
  for (const auto& [state, times] : rest) {
    weight_.push_back(all * times / drawn);
    for (const char k : state) classes_.push_back(static_cast<std::uint8_t>(k));
  }
}

}  // namespace faultodds::diagnosis
