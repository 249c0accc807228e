// How the hypotheses of a case are looked for: all joint states where they are few, else the
// probable ones by a beam over single changes. Of hypotheses.cpp, hypothesis_layout.cpp and
// hypothesis_sample.cpp alone; what is left out is the sample's business.
#pragma once

#include <cstddef>
#include <cstdint>
#include <vector>

#include "core/diagnosis/hypotheses.h"

namespace faultodds::diagnosis {

constexpr double kMostComplete = 20'000;  // joint states that are all looked at
constexpr std::size_t kMostSeen = 400'000;
constexpr double kLeastWeight = 1e-8;  // of the heaviest, that is kept

// The finaliser of splitmix64 (Steele, Lea & Flood 2014).
inline std::uint64_t mixed(std::uint64_t x) {
  x += 0x9e3779b97f4a7c15u;
  x = (x ^ (x >> 30)) * 0xbf58476d1ce4e5b9u;
  x = (x ^ (x >> 27)) * 0x94d049bb133111ebu;
  return x ^ (x >> 31);
}

struct Hypotheses::Variable {
  std::size_t count = 2;
  // Of a mode: its conditions, as variables, the first in the highest bit; P(class) by combination.
  std::vector<std::uint32_t> conditions;
  std::vector<std::vector<double>> rows;
  // Of a condition: P(it holds), and the modes that it raises, as variables.
  double holds = 0;
  std::vector<std::uint32_t> raises;
  bool is_condition = false;
  std::vector<std::uint32_t> evidence;  // observations with evidence that it is seen in
};

// Looks for the probable ones.
struct Hypotheses::Search {
  struct Seen {
    std::uint32_t observation = 0;
    Grades likelihood{};
  };
  struct One {
    std::vector<std::uint8_t> classes;
    double prior = 0;
    std::vector<double> likelihood;  // of each that was seen
    std::uint64_t key = 0;
    double rank = 0, weight = 0;
  };

  Hypotheses& into;
  std::vector<Variable> variables;
  std::vector<Seen> seen;

  double prior_of(std::uint32_t v, const std::vector<std::uint8_t>& classes) const {
    const Variable& of = variables[v];
    if (of.is_condition) return classes[v] != 0 ? of.holds : 1 - of.holds;
    std::size_t combination = 0;
    for (const std::uint32_t c : of.conditions) combination = combination * 2 + classes[c];
    return of.rows[combination][classes[v]];
  }

  double likelihood_of(const Seen& one, const std::uint8_t* classes) const {
    double most[2] = {1, 1};
    const std::size_t first = into.first_set_[one.observation];
    for (std::size_t k = first; k < first + into.sets_[one.observation]; ++k) {
      const SetTable& table = into.tables_[k];
      const double* at = table.at_most.data() + 2 * into.entry(table, classes);
      most[0] *= at[0];
      most[1] *= at[1];
    }
    return weighed(one.likelihood, most[0], most[1]);
  }

  void weigh(One& one) const;

  One whole(std::vector<std::uint8_t> classes) const;

  // Makes of `one`, which is `from`, the same with one variable changed; changed_back() undoes it.
  void change(const One& from, std::uint32_t v, std::uint8_t value, std::uint64_t key,
              One& one) const;
  void changed_back(const One& from, std::uint32_t v, One& one) const;

  std::vector<One> all() const;

  // Each variable where it is most probable a priori.
  std::vector<std::uint8_t> most_probable() const;

  // `all`: the sum of all weights seen; `last`: of those seen last.
  std::vector<One> probable(const Effort& effort, double& all, double& last) const;

  static bool before(const One& a, const One& b) {
    return a.rank != b.rank ? a.rank > b.rank : a.classes < b.classes;
  }
  // The `most` of largest weight, in no order. The least of them.
  static double keep_heaviest(std::vector<One>& list, std::size_t most);
  // The `most` of highest rank, in no order. The lowest of them.
  static double keep_first(std::vector<One>& list, std::size_t most);
};

}  // namespace faultodds::diagnosis
