#include "core/network/network.h"

#include <cmath>

#include "core/error.h"
#include "core/number_text.h"
#include "core/quoted_text.h"

namespace faultodds::network {

bool next_combination(std::vector<std::size_t>& index, const std::vector<std::size_t>& states) {
  for (std::size_t i = index.size(); i-- > 0;) {
    if (++index[i] < states[i]) return true;
    index[i] = 0;
  }
  return false;
}

Var Network::add(std::string name, std::size_t states, std::vector<std::string> state_names) {
  if (states < 1 || states > 65535) {
    throw Error(Code::invalid_argument, "variable '" + printable(name) + "' has " +
                                            std::to_string(states) +
                                            " states; expected 1 to 65535");
  }
  if (!state_names.empty() && state_names.size() != states) {
    throw Error(Code::invalid_argument, "variable '" + printable(name) + "' has " +
                                            std::to_string(states) + " states but " +
                                            std::to_string(state_names.size()) + " state names");
  }
  states_.push_back(states);
  names_.push_back(std::move(name));
  state_names_.push_back(std::move(state_names));
  tables_.emplace_back();
  return static_cast<Var>(states_.size() - 1);
}

bool Network::reaches(Var from, Var to) const {
  // Walks from a variable to its ancestors.
  std::vector<Var> open{from};
  std::vector<bool> seen(size(), false);
  while (!open.empty()) {
    const Var v = open.back();
    open.pop_back();
    if (v == to) return true;
    if (seen[v]) continue;
    seen[v] = true;
    const auto& scope = tables_[v].scope;
    for (std::size_t i = 0; i + 1 < scope.size(); ++i) open.push_back(scope[i]);
  }
  return false;
}

void Network::set_table(Var child, const std::vector<Var>& parents, std::vector<double> table) {
  std::size_t rows = 1;
  for (Var p : parents) {
    if (p >= size() || p == child) {
      throw Error(Code::invalid_argument, "a parent of '" + printable(names_[child]) +
                                              "' is the variable itself or does not exist");
    }
    rows *= states_[p];
  }
  for (std::size_t i = 0; i < parents.size(); ++i) {
    for (std::size_t j = 0; j < i; ++j) {
      if (parents[i] == parents[j]) {
        throw Error(Code::invalid_argument, "the table of '" + printable(names_[child]) +
                                                "' is given '" + printable(names_[parents[i]]) +
                                                "' twice");
      }
    }
  }
  const std::size_t width = states_[child];
  if (table.size() != rows * width) {
    throw Error(Code::invalid_argument, "the table of '" + printable(names_[child]) + "' has " +
                                            std::to_string(table.size()) + " numbers; expected " +
                                            std::to_string(rows * width));
  }
  // While every parent was added before its child no cycle can form, and the search is skipped.
  for (Var p : parents) ordered_ = ordered_ && p < child;
  if (!ordered_) {
    for (Var p : parents) {
      if (reaches(p, child)) {
        throw Error(Code::invalid_argument, "'" + printable(names_[child]) + "' and '" +
                                                printable(names_[p]) + "' would form a cycle");
      }
    }
  }
  for (std::size_t r = 0; r < rows; ++r) {
    double sum = 0;
    for (std::size_t s = 0; s < width; ++s) {
      const double p = table[r * width + s];
      if (!(p >= 0) || !std::isfinite(p)) {
        throw Error(Code::invalid_argument, "the table of '" + printable(names_[child]) +
                                                "' holds " + fixed_text(p) +
                                                "; expected finite numbers >= 0");
      }
      sum += p;
    }
    if (std::fabs(sum - 1) > 1e-6) {
      throw Error(Code::invalid_argument, "row " + std::to_string(r) + " of the table of '" +
                                              printable(names_[child]) + "' sums to " +
                                              fixed_text(sum) + "; expected 1");
    }
    for (std::size_t s = 0; s < width; ++s) table[r * width + s] /= sum;
  }
  tables_[child].scope = parents;
  tables_[child].scope.push_back(child);
  tables_[child].table = std::move(table);
}

void Network::check_complete() const {
  for (Var v = 0; v < size(); ++v) {
    if (tables_[v].scope.empty()) {
      throw Error(Code::invalid_argument, "variable '" + printable(names_[v]) + "' has no table");
    }
  }
}

}  // namespace faultodds::network
