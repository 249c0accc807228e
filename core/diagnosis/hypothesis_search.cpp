#include "core/diagnosis/hypothesis_search.h"

#include <algorithm>
#include <utility>

#include "core/stop.h"

namespace faultodds::diagnosis {
namespace {

constexpr std::size_t kMostLevels = 10;  // changes from the first
constexpr double kEnough = 1e-5;         // of all, that a level must add
constexpr double kImpossible = 1e-12;    // a likelihood of 0, for the way there

std::uint64_t key_of(std::size_t variable, std::uint8_t value) {
  return mixed((static_cast<std::uint64_t>(variable) << 8) | value);
}

// Keys that were seen, which are mixed already: open addressing with linear probing, half full at
// most.
class SeenKeys {
 public:
  // Whether it was not among them.
  bool insert(std::uint64_t key) {
    if (key == kFree) key = ~kFree;
    if (2 * (size_ + 1) > slots_.size()) grow();
    const bool is_new = put(key);
    size_ += is_new;
    return is_new;
  }
  std::size_t size() const { return size_; }

 private:
  static constexpr std::uint64_t kFree = 0;
  bool put(std::uint64_t key) {
    const std::size_t mask = slots_.size() - 1;
    std::size_t at = static_cast<std::size_t>(key) & mask;
    for (; slots_[at] != kFree; at = (at + 1) & mask) {
      if (slots_[at] == key) return false;
    }
    slots_[at] = key;
    return true;
  }
  void grow() {
    std::vector<std::uint64_t> before(std::max<std::size_t>(4096, 2 * slots_.size()), kFree);
    before.swap(slots_);
    for (const std::uint64_t key : before) {
      if (key != kFree) put(key);
    }
  }

  std::vector<std::uint64_t> slots_;
  std::size_t size_ = 0;
};
}  // namespace

void Hypotheses::Search::weigh(One& one) const {
  one.weight = one.rank = one.prior;
  for (const double l : one.likelihood) {
    one.weight *= l;
    one.rank *= std::max(l, kImpossible);
  }
}

Hypotheses::Search::One Hypotheses::Search::whole(std::vector<std::uint8_t> classes) const {
  One one;
  one.classes = std::move(classes);
  one.prior = 1;
  for (std::uint32_t v = 0; v < variables.size(); ++v) {
    one.prior *= prior_of(v, one.classes);
    one.key ^= key_of(v, one.classes[v]);
  }
  for (const Seen& s : seen) one.likelihood.push_back(likelihood_of(s, one.classes.data()));
  weigh(one);
  return one;
}

void Hypotheses::Search::change(const One& from, std::uint32_t v, std::uint8_t value,
                                std::uint64_t key, One& one) const {
  one.key = key;
  one.prior = from.prior;
  one.classes[v] = value;
  const Variable& of = variables[v];
  const auto replace = [&](std::uint32_t w) {
    const double before = prior_of(w, from.classes);
    one.prior = before > 0 ? one.prior / before * prior_of(w, one.classes) : 0;
  };
  replace(v);
  for (const std::uint32_t m : of.raises) replace(m);
  for (const std::uint32_t s : of.evidence) {
    one.likelihood[s] = likelihood_of(seen[s], one.classes.data());
  }
  weigh(one);
}

void Hypotheses::Search::changed_back(const One& from, std::uint32_t v, One& one) const {
  one.classes[v] = from.classes[v];
  for (const std::uint32_t s : variables[v].evidence) one.likelihood[s] = from.likelihood[s];
}

std::vector<Hypotheses::Search::One> Hypotheses::Search::all() const {
  std::vector<One> out;
  std::vector<std::uint8_t> classes(variables.size(), 0);
  for (;;) {
    if (out.size() % 1024 == 0) check_stop();
    One one = whole(classes);
    if (one.weight > 0) out.push_back(std::move(one));
    std::size_t v = 0;
    for (; v < classes.size(); ++v) {
      if (++classes[v] < variables[v].count) break;
      classes[v] = 0;
    }
    if (v == classes.size()) return out;
  }
}

std::vector<std::uint8_t> Hypotheses::Search::most_probable() const {
  std::vector<std::uint8_t> classes(variables.size(), 0);
  for (std::uint32_t v = 0; v < variables.size(); ++v) {
    double best = -1;
    for (std::uint8_t k = 0; k < variables[v].count; ++k) {
      std::vector<std::uint8_t> other = classes;
      other[v] = k;
      const double p = prior_of(v, other);
      if (p > best) {
        best = p;
        classes[v] = k;
      }
    }
  }
  return classes;
}

std::vector<Hypotheses::Search::One> Hypotheses::Search::probable(const Effort& effort, double& all,
                                                                  double& last) const {
  const std::size_t width = effort.beam;
  std::vector<One> out{whole(most_probable())}, beam = out;
  SeenKeys known;
  known.insert(out.front().key);
  double total = out.front().weight, heaviest = total, least_weight = 0;
  for (std::size_t level = 0; level < kMostLevels && known.size() < kMostSeen; ++level) {
    std::vector<One> next;
    double added = 0, least_rank = 0;
    for (const One& from : beam) {
      check_stop();
      One one = from;
      for (std::uint32_t v = 0; v < variables.size(); ++v) {
        for (std::size_t k = 0; k < variables[v].count; ++k) {
          const auto value = static_cast<std::uint8_t>(k);
          if (value == from.classes[v]) continue;
          const std::uint64_t key = from.key ^ key_of(v, from.classes[v]) ^ key_of(v, value);
          if (!known.insert(key)) continue;
          change(from, v, value, key, one);
          if (one.prior > 0) {
            added += one.weight;
            heaviest = std::max(heaviest, one.weight);
            // What is behind those that were kept would not be kept either.
            if (one.weight > kLeastWeight * heaviest && one.weight >= least_weight) {
              out.push_back(one);
              if (out.size() == 4 * effort.kept) {
                least_weight = keep_heaviest(out, 2 * effort.kept);
              }
            }
            if (one.rank >= least_rank) next.push_back(one);
            if (next.size() == 8 * width) least_rank = keep_first(next, 4 * width);
          }
          changed_back(from, v, one);
        }
      }
    }
    total += added;
    all = total;
    last = added;
    if (next.empty() || (level >= 3 && added < kEnough * total)) break;
    keep_first(next, width);
    std::sort(next.begin(), next.end(), before);
    beam = std::move(next);
  }
  return out;
}

double Hypotheses::Search::keep_heaviest(std::vector<One>& list, std::size_t most) {
  const auto last = list.begin() + static_cast<std::ptrdiff_t>(most) - 1;
  std::nth_element(list.begin(), last, list.end(), [](const One& a, const One& b) {
    return a.weight != b.weight ? a.weight > b.weight : a.classes < b.classes;
  });
  list.resize(most);
  return list.back().weight;
}

double Hypotheses::Search::keep_first(std::vector<One>& list, std::size_t most) {
  if (list.size() <= most) return 0;
  const auto last = list.begin() + static_cast<std::ptrdiff_t>(most) - 1;
  std::nth_element(list.begin(), last, list.end(), before);
  list.resize(most);
  return list.back().rank;
}

}  // namespace faultodds::diagnosis
