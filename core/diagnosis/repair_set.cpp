#include "core/diagnosis/repair_set.h"

#include <algorithm>
#include <limits>
#include <numeric>

namespace faultodds::diagnosis {

namespace {

// Branchings of one search; what is left then is bounded, not looked at.
constexpr std::size_t kMostNodes = 64;

}  // namespace

// Which numbers of a confinement count: all, or those of one observation weighed by grade.
struct RepairDecision::View {
  double come_back = 0;
  bool given = false;
  std::uint32_t observation = 0;
  Grades weight{};

  double of(Confinement& confinement, const ItemSet& set) const {
    if (!given) return confinement.probability(set);
    const Grades& g = confinement.of(set).grades[observation];
    return g[0] * weight[0] + g[1] * weight[1] + g[2] * weight[2];
  }
};

struct RepairDecision::Search {
  Confinement& confinement;
  std::span<const RepairItem> items;
  const View& view;
  double total;  // of the weights
  RepairChoice best{{}, std::numeric_limits<double>::infinity(), 0};
  std::size_t nodes = 0;
  double least_left = std::numeric_limits<double>::infinity();  // bound of what was not looked at

  double confined(const ItemSet& set) { return view.of(confinement, set); }
  double loss(const ItemSet& set) {
    return repair_cost(items, set) * total + view.come_back * (total - confined(set));
  }
  // What adding i to `set` saves, and what it costs at least.
  bool pays(const ItemSet& set, std::size_t i) {
    const ItemSet larger = set.with(i);
    const double gain = view.come_back * (confined(larger) - confined(set));
    const double price = items[i].cost + longest_wait(items, larger) - longest_wait(items, set);
    return gain > price * total;
  }

  // Sets R with in <= R <= in + open.
  void visit(ItemSet in, std::vector<std::uint32_t> open) {
    ItemSet top = in;
    for (std::uint32_t i : open) top.add(i);
    // In rounds, each against the same two sets, whose neighbours are computed side by side.
    for (bool changed = true; changed && !open.empty();) {
      std::vector<ItemSet> neighbours{top, in};
      for (std::uint32_t i : open) {
        neighbours.push_back(top.without(i));
        neighbours.push_back(in.with(i));
      }
      confinement.prepare(neighbours, view.given);
      const ItemSet largest = top, smallest = in;
      changed = std::erase_if(open, [&](std::uint32_t i) {
                  if (!pays(largest.without(i), i)) {
                    top.remove(i);
                    return true;
                  }
                  if (pays(smallest, i)) {
                    in.add(i);
                    return true;
                  }
                  return false;
                }) > 0;
    }
    if (open.empty()) {
      const double here = loss(in);
      if (here < best.loss) best = {in, here, 0};
      return;
    }
    const double bound = repair_cost(items, in) * total + view.come_back * (total - confined(top));
    if (bound >= best.loss) return;
    if (++nodes > kMostNodes) {
      least_left = std::min(least_left, bound);
      complete(std::move(in), open);
      return;
    }
    const std::uint32_t i = open.front();
    open.erase(open.begin());
    visit(in.with(i), open);
    visit(std::move(in), std::move(open));
  }

  // One good set: items that pay join one after the other, those first that are listed first.
  void complete(ItemSet in, const std::vector<std::uint32_t>& open) {
    for (std::uint32_t i : open) {
      if (pays(in, i)) in.add(i);
    }
    const double here = loss(in);
    if (here < best.loss) best = {in, here, 0};
  }

  RepairChoice found() {
    best.within = std::max(0.0, best.loss - std::min(best.loss, least_left));
    return best;
  }
};

RepairChoice RepairDecision::search(const View& view) {
  const double total = view.of(confinement_, confinement_.all());
  Search search{confinement_, items_, view, total};
  // Two bounds on P(item faulty, evidence), the second exact but one propagation each.
  const double largest =
      view.given ? *std::max_element(view.weight.begin(), view.weight.end()) : 1.0;
  std::vector<std::uint32_t> open;
  std::vector<ItemSet> without;
  for (std::uint32_t i = 0; i < items_.size(); ++i) {
    if (view.come_back * confinement_.at_most_faulty(i) * largest <= items_[i].cost * total) {
      continue;
    }
    open.push_back(i);
    without.push_back(confinement_.all().without(i));
  }
  confinement_.prepare(without, view.given);
  std::erase_if(open, [&](std::uint32_t i) {
    const double faulty = total - search.confined(confinement_.all().without(i));
    return view.come_back * faulty <= items_[i].cost * total;
  });
  // Those that are probably faulty first: good sets are found early then.
  std::stable_sort(open.begin(), open.end(), [&](std::uint32_t a, std::uint32_t b) {
    return confinement_.at_most_faulty(a) > confinement_.at_most_faulty(b);
  });
  search.visit(ItemSet(items_.size()), std::move(open));
  return search.found();
}

RepairChoice RepairDecision::best() { return search({come_back_, false, 0, {}}); }

RepairChoice RepairDecision::best_given(std::uint32_t observation, const Grades& weight) {
  return search({come_back_, true, observation, weight});
}

RepairChoice RepairDecision::best_for_come_back(double come_back) {
  return search({come_back, false, 0, {}});
}

double RepairDecision::loss(const ItemSet& set) {
  return repair_cost(items_, set) + come_back_ * (1 - confinement_.probability(set));
}

double RepairDecision::loss_given(const ItemSet& set, std::uint32_t observation,
                                  const Grades& weight) {
  const View view{come_back_, true, observation, weight};
  const double total = view.of(confinement_, confinement_.all());
  return repair_cost(items_, set) * total + come_back_ * (total - view.of(confinement_, set));
}

std::vector<std::uint32_t> order_by_ratio(std::span<const double> probability,
                                          std::span<const double> cost, double* expected) {
  std::vector<std::uint32_t> order(probability.size());
  std::iota(order.begin(), order.end(), 0u);
  // p/c compared as products, so that a cost of 0 comes first.
  std::stable_sort(order.begin(), order.end(), [&](std::uint32_t a, std::uint32_t b) {
    return probability[a] * cost[b] > probability[b] * cost[a];
  });
  if (expected) {
    *expected = 0;
    double left = std::accumulate(probability.begin(), probability.end(), 0.0);
    for (std::uint32_t i : order) {
      *expected += left * cost[i];
      left -= probability[i];
    }
  }
  return order;
}

}  // namespace faultodds::diagnosis
