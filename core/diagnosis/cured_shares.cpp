#include "core/diagnosis/cured_shares.h"

#include <algorithm>

#include "core/diagnosis/dot.h"
#include "core/stop.h"

namespace faultodds::diagnosis {
namespace {

constexpr std::size_t kMostNumbers = std::size_t{1} << 21;  // kept: 16 to 32 MiB
constexpr std::size_t kNear = 4;  // of its hypotheses that part may differ in a set kept as changes

}  // namespace

CuredShares::CuredShares(const CureSums& sums,
                         const std::vector<std::vector<std::uint32_t>>& items_in)
    : sums_(sums), items_in_(items_in), met_(sums.hypotheses().size(), 0) {
  for (std::uint32_t j = 0; j < items_in.size(); ++j) {
    for (const std::uint32_t i : items_in[j]) {
      if (i >= sets_of_.size()) {
        sets_of_.resize(i + 1);
        touched_.resize(i + 1, 0);
      }
      sets_of_[i].push_back(j);
      touched_[i] += sums.shown_in(j).size();
    }
  }
}

CureSums::Left CuredShares::left_by(const ItemSet& set) const {
  std::vector<bool> left;
  for (const auto& in : items_in_) {
    left.push_back(std::none_of(in.begin(), in.end(), [&](std::uint32_t i) { return set.has(i); }));
  }
  return {sums_, std::move(left)};
}

void CuredShares::forget() {
  kept_.clear();
  bases_.clear();
  numbers_ = 0;
}

// The base that the set differs least from; one of its own where none is near.
std::size_t CuredShares::near(const ItemSet& set) {
  const std::size_t n = met_.size();
  std::size_t best = bases_.size(), least = n / kNear;
  for (std::size_t b = 0; b < bases_.size(); ++b) {
    std::size_t touched = 0;
    for (std::size_t i = 0; i < touched_.size() && touched <= least; ++i) {
      if (touched_[i] > 0 && set.has(i) != bases_[b].set.has(i)) touched += touched_[i];
    }
    if (touched > least || (touched == least && best < bases_.size())) continue;
    best = b;
    least = touched;
  }
  if (best < bases_.size()) return best;
  check_stop();
  Base& base = bases_.emplace_back(Base{set, left_by(set), {}});
  for (std::size_t h = 0; h < n; ++h) {
    base.cured.push_back(sums_.cured(h, base.left));
    base.sum += base.cured.back();
  }
  numbers_ += n;
  return best;
}

CuredShares::Kept& CuredShares::kept(const ItemSet& set) {
  const auto known = kept_.find(set);
  if (known != kept_.end()) return known->second;
  if (numbers_ > kMostNumbers) forget();
  Kept kept;
  kept.base = near(set);
  const Base& base = bases_[kept.base];
  kept.sum = base.sum;
  ++meeting_;
  const CureSums::Left left = left_by(set);
  for (std::size_t i = 0; i < sets_of_.size(); ++i) {
    if (touched_[i] == 0 || set.has(i) == base.set.has(i)) continue;
    for (const std::uint32_t j : sets_of_[i]) {
      if (left.has(j) == base.left.has(j)) continue;
      for (const std::uint32_t h : sums_.shown_in(j)) {
        if (met_[h] == meeting_) continue;
        met_[h] = meeting_;
        const double by = sums_.cured(h, left) - base.cured[h];
        if (by == 0) continue;
        kept.changes.push_back({h, by});
        kept.sum += by;
      }
    }
  }
  numbers_ += kept.changes.size() + 16;
  return kept_.emplace(set, std::move(kept)).first->second;
}

double CuredShares::probability(const ItemSet& set) { return std::max(0.0, kept(set).sum); }

double CuredShares::weigh(Kept& kept) {
  Base& base = bases_[kept.base];
  if (base.asked != asked_) {
    base.weighed = dot(base.cured.data(), by_hypothesis_.data(), by_hypothesis_.size());
    base.asked = asked_;
  }
  double sum = base.weighed;
  for (const Change& change : kept.changes) sum += change.by * by_hypothesis_[change.hypothesis];
  return std::max(0.0, sum);
}

void CuredShares::add(std::size_t h, const CureSums::Left& left, double factor,
                      std::vector<Grades>& into) const {
  for (std::size_t q = 0; q < into.size(); ++q) {
    const Grades by = sums_.cured(h, left, q);
    for (std::size_t s = 0; s < 3; ++s) into[q][s] += factor * by[s];
  }
}

double CuredShares::weighed(const ItemSet& set, std::uint32_t observation, const Grades& weight) {
  Kept& kept = this->kept(set);
  if (const auto q = sums_.complained(observation)) {
    if (kept.grades.empty()) {
      Base& base = bases_[kept.base];
      if (base.grades.empty()) {
        base.grades.assign(sums_.complaint().size(), Grades{});
        for (std::size_t h = 0; h < met_.size(); ++h) add(h, base.left, 1, base.grades);
      }
      kept.grades = base.grades;
      const CureSums::Left left = left_by(set);
      for (const Change& change : kept.changes) {
        add(change.hypothesis, left, 1, kept.grades);
        add(change.hypothesis, base.left, -1, kept.grades);
      }
    }
    const Grades& g = kept.grades[*q];
    return g[0] * weight[0] + g[1] * weight[1] + g[2] * weight[2];
  }
  if (asked_ == 0 || observation != observation_ || weight != weight_) {
    observation_ = observation;
    weight_ = weight;
    ++asked_;
    sums_.weigh(observation, weight, by_hypothesis_);
  }
  return weigh(kept);
}

std::vector<CuredShares::BySet> CuredShares::with(std::span<const ItemSet> sets,
                                                  std::uint32_t first,
                                                  std::span<const Grades> weights,
                                                  std::span<const std::uint32_t> asked) {
  const std::size_t n = met_.size();
  std::vector<std::vector<double>> by_hypothesis(weights.size());
  for (std::size_t w = 0; w < weights.size(); ++w) sums_.weigh(first, weights[w], by_hypothesis[w]);
  std::vector<std::size_t> complained;
  for (const std::uint32_t o : asked) {
    if (const auto q = sums_.complained(o)) complained.push_back(*q);
  }
  std::vector<BySet> result(weights.size(), BySet(sets.size(), sums_.no_grades()));
  std::vector<std::vector<double>> cured;  // by set, hypothesis
  for (std::size_t r = 0; r < sets.size(); ++r) {
    check_stop();
    const Kept& kept = this->kept(sets[r]);
    cured.push_back(bases_[kept.base].cured);
    for (const Change& change : kept.changes) cured[r][change.hypothesis] += change.by;
    const CureSums::Left left = left_by(sets[r]);
    for (const std::size_t q : complained) {
      const std::uint32_t o = sums_.complaint()[q];
      for (std::size_t h = 0; h < n; ++h) {
        const Grades by = sums_.cured(h, left, q);
        for (std::size_t w = 0; w < weights.size(); ++w) {
          for (std::size_t s = 0; s < 3; ++s) result[w][r][o][s] += by_hypothesis[w][h] * by[s];
        }
      }
    }
  }
  // One hypothesis after the other: what it shows is read once for all sets.
  std::vector<CureSums::Grader> graders(weights.size() * sets.size(), CureSums::Grader(sums_));
  for (std::size_t h = 0; h < n; ++h) {
    if (h % 256 == 0) check_stop();
    for (std::size_t w = 0; w < weights.size(); ++w) {
      if (by_hypothesis[w][h] == 0) continue;
      for (std::size_t r = 0; r < sets.size(); ++r) {
        graders[w * sets.size() + r].add(h, cured[r][h] * by_hypothesis[w][h]);
      }
    }
  }
  for (std::size_t w = 0; w < weights.size(); ++w) {
    for (std::size_t r = 0; r < sets.size(); ++r) graders[w * sets.size() + r].read(result[w][r]);
  }
  return result;
}

}  // namespace faultodds::diagnosis
