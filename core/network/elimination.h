// Elimination orders: from an undirected graph of variables to the cliques of a triangulation and
// the tree that joins them. Several orders are tried, since no single heuristic is best on every
// network: one by each, and others by chance, always the same, within a share of the work that the
// tables will be. The one whose tree has the fewest entries and separator cells is kept. No numbers
// of a network are looked at, only scopes and numbers of states.
#pragma once

#include <cstddef>
#include <vector>

#include "core/network/network.h"

namespace faultodds::network {

struct CliqueTree {
  std::vector<std::vector<Var>> cliques;   // maximal, each sorted by variable
  std::vector<int> parent;                 // of each clique; -1 at a root
  std::vector<std::size_t> collect_order;  // children before parents
  double total_entries = 0;                // sum over cliques of the product of states
  double largest_clique = 0;               // entries of the largest clique
};

// What triangulate() takes of factors.
std::vector<std::vector<Var>> scopes_of(const std::vector<const Factor*>& factors);

// No triangulation has its largest clique of fewer variables than this. `n` variables.
// Source: minor-min-width, Gogate & Dechter, A complete anytime algorithm for treewidth (UAI 2004).
std::size_t least_largest_clique(std::size_t n, const std::vector<std::vector<Var>>& scopes);

// How many orders are tried; one takes less than a quarter of the time.
enum class Orders { several, one };

// `scopes` are made complete: each ends up inside one clique. `root_scope` (may be empty) is made
// complete too and its clique becomes the root. Variables in no scope get a clique of their own.
// The search for a better order takes no longer than it would for `many_entries`: a tree that
// hardly fits is not worth more. Throws Error(limit_exceeded) where no order has fewer than 2^62
// entries.
CliqueTree triangulate(const std::vector<std::size_t>& states,
                       const std::vector<std::vector<Var>>& scopes,
                       const std::vector<Var>& root_scope = {}, Orders orders = Orders::several,
                       double many_entries = 0x1p27);

}  // namespace faultodds::network
