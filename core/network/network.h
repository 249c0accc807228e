// A discrete Bayesian network as plain values: variables with a number of states, and one
// conditional table each. It is not compiled and answers nothing (junction_tree.h does), reads no
// file formats, and knows nothing of hydraulics.
#pragma once

#include <cstddef>
#include <cstdint>
#include <limits>
#include <string>
#include <vector>

namespace faultodds::network {

using Var = std::uint32_t;

inline constexpr double kLogOfZero = -std::numeric_limits<double>::infinity();

// A non-negative table over some variables. Row-major: the last variable of `scope` varies fastest,
// so a conditional table P(child | parents) lists its parents first and has rows that sum to 1.
struct Factor {
  std::vector<Var> scope;
  std::vector<double> table;
};

class Network {
 public:
  // Returns the new variable's index. Throws Error(invalid_argument) unless 1 <= states <= 65535.
  Var add(std::string name, std::size_t states, std::vector<std::string> state_names = {});

  // Sets P(child | parents); `table` has one row per combination of parent states, the last parent
  // varying fastest. Throws Error(invalid_argument) naming the variable when the length is wrong, a
  // number is negative or not finite, a row does not sum to 1 within 1e-6, a parent is listed
  // twice, or a cycle would form. Rows are rescaled to sum to 1 exactly.
  void set_table(Var child, const std::vector<Var>& parents, std::vector<double> table);

  // A variable whose state is a function of its parents'. `function` is called once per
  // combination.
  template <typename Function>
  void set_function(Var child, const std::vector<Var>& parents, Function function);

  std::size_t size() const { return states_.size(); }
  std::size_t states(Var v) const { return states_[v]; }
  const std::string& name(Var v) const { return names_[v]; }
  const std::vector<std::string>& state_names(Var v) const { return state_names_[v]; }
  // The conditional table of v, parents first; empty scope when it was never set.
  const Factor& table(Var v) const { return tables_[v]; }
  const std::vector<std::size_t>& all_states() const { return states_; }

  // Throws Error(invalid_argument) naming the first variable that has no table.
  void check_complete() const;

 private:
  bool reaches(Var from, Var to) const;

  std::vector<std::size_t> states_;
  std::vector<std::string> names_;
  std::vector<std::vector<std::string>> state_names_;
  std::vector<Factor> tables_;
  bool ordered_ = true;  // every parent has a smaller index than its child
};

// Steps `index` through all combinations of states, the last variable fastest. False after the
// last.
bool next_combination(std::vector<std::size_t>& index, const std::vector<std::size_t>& states);

template <typename Function>
void Network::set_function(Var child, const std::vector<Var>& parents, Function function) {
  std::vector<std::size_t> sizes;
  for (Var p : parents) sizes.push_back(states_[p]);
  std::vector<std::size_t> index(parents.size(), 0);
  std::vector<double> table;
  do {
    std::size_t state = function(index);
    for (std::size_t s = 0; s < states_[child]; ++s) table.push_back(s == state ? 1.0 : 0.0);
  } while (next_combination(index, sizes));
  set_table(child, parents, std::move(table));
}

}  // namespace faultodds::network
