// Random networks small enough to enumerate, and their enumeration. Only tests of inference on
// general networks use it.
#pragma once

#include <cstddef>
#include <random>
#include <string>
#include <vector>

#include "core/network/network.h"

namespace faultodds::network {

// Random network of at most 8 variables of 1 to 3 states, a third of whose table entries are zero.
inline Network random_network(std::mt19937& random) {
  Network net;
  const std::size_t n = 2 + random() % 7;
  for (Var v = 0; v < n; ++v) {
    net.add("v" + std::to_string(v), 1 + random() % 3);
    std::vector<Var> parents;
    std::size_t rows = 1;
    for (Var p = 0; p < v; ++p) {
      if (random() % 3 == 0 && parents.size() < 3) {
        parents.push_back(p);
        rows *= net.states(p);
      }
    }
    std::vector<double> table;
    for (std::size_t r = 0; r < rows; ++r) {
      std::vector<double> row(net.states(v));
      double sum = 0;
      for (double& x : row) {
        x = random() % 3 == 0 ? 0.0 : static_cast<double>(random() % 1000) / 1000;
        sum += x;
      }
      if (sum == 0) sum = row[0] = 1;
      for (double x : row) table.push_back(x / sum);
    }
    net.set_table(v, parents, table);
  }
  return net;
}

struct Enumerated {
  double evidence = 0;
  std::vector<std::vector<double>> posterior;  // unnormalised
  std::vector<double> joint;                   // over `scope`, unnormalised
};

inline Enumerated enumerate(const Network& net, const std::vector<std::vector<double>>& weight,
                            const std::vector<Var>& scope) {
  Enumerated result;
  std::size_t cells = 1;
  for (Var v : scope) cells *= net.states(v);
  result.joint.assign(cells, 0.0);
  for (Var v = 0; v < net.size(); ++v) result.posterior.emplace_back(net.states(v), 0.0);
  std::vector<std::size_t> index(net.size(), 0);
  do {
    double p = 1;
    for (Var v = 0; v < net.size(); ++v) {
      std::size_t at = 0;
      for (Var u : net.table(v).scope) at = at * net.states(u) + index[u];
      p *= net.table(v).table[at] * weight[v][index[v]];
    }
    result.evidence += p;
    for (Var v = 0; v < net.size(); ++v) result.posterior[v][index[v]] += p;
    std::size_t cell = 0;
    for (Var v : scope) cell = cell * net.states(v) + index[v];
    result.joint[cell] += p;
  } while (next_combination(index, net.all_states()));
  return result;
}

}  // namespace faultodds::network
