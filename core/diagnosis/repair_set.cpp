#include "core/diagnosis/repair_set.h"

#include <algorithm>
#include <cmath>
#include <limits>
#include <numeric>

namespace faultodds::diagnosis {

namespace {

// Sets that one search branches from, of the case as it is, given an outcome and at another price;
// what is left then is bounded, not looked at.
constexpr std::size_t kMostSets = 500, kMostGiven = 32, kMostElse = 200;
constexpr std::size_t kMostCompleted = 8;  // good sets that one search then looks for
constexpr int kParts = 2;                  // of an item, that the bound goes through
constexpr std::size_t kSteps = 1024;       // of what is cured, that it is known for
constexpr double kRiskRounding = 1e-12;
constexpr double kLeastPrice = 1e-6;  // of an item that costs nothing
constexpr double kCounted = 0.005;    // P(an item shows in the complaint), to be counted
// Visits that finding out what it is takes, where the tests of this one were not enough. Judgement:
// on simulated machines 2 and 3 cost more than 6, for tests that do not exist cannot be counted on,
// and what is cheap to come back for is guessed at.
constexpr double kFinding = 6;

}  // namespace

OutcomeWeights outcome_weights(const circuit::Observation& observation, const ObservedGrade* seen,
                               std::size_t outcome) {
  Grades any{}, cured{};
  for (std::size_t s = 0; s < 3; ++s) {
    double sum = 0, all = 0;
    for (std::size_t b = 0; b < 3; ++b) {
      const std::size_t g = std::max(s, b);
      const double p = observation.background[b] * (seen ? seen->over_g[g] : 1);
      sum += p * observation.matrix[g][outcome];
      all += p;
    }
    any[s] = all > 0 ? sum / all : 0;
    cured[s] = observation.matrix[s][outcome];
  }
  return seen ? OutcomeWeights(any, cured) : OutcomeWeights(any);
}

// Which numbers count: all, or those of one observation weighed by grade; and how much dearer
// coming again is.
struct RepairDecision::View {
  double factor = 1;
  bool given = false;
  std::uint32_t observation = 0;
  OutcomeWeights weight{Grades{}};
  double minutes = std::numeric_limits<double>::infinity();  // in which a set must be in

  // P(nothing but new parts shows, what is given).
  double of(Cure& cure, const ItemSet& set) const {
    if (!given) return set == Cure::whatever() ? 1 : cure.probability(set);
    return cure.weighed(set, observation, set == Cure::whatever() ? weight.whatever : weight.cured);
  }
};

RepairDecision::RepairDecision(Cure& cure, std::span<const RepairItem> items, ComeBack price)
    : cure_(cure), items_(items), price_(price) {
  if (price.flat) return;
  for (std::uint32_t i = 0; i < items.size(); ++i) {
    if (cure.at_most_cured(i) >= kCounted) counted_.push_back(i);
  }
}

std::vector<ItemSet> RepairDecision::stake_sets() const {
  if (price_.flat) return {};
  std::vector<ItemSet> sets{cure_.nothing(), cure_.all()};
  for (const std::uint32_t i : counted_) sets.push_back(cure_.nothing().with(i));
  for (const std::uint32_t i : counted_) sets.push_back(cure_.all().without(i));
  return sets;
}

RepairDecision::Stake RepairDecision::stake_of(double total, std::span<const double> cured) {
  Stake stake;
  stake.total = total;
  if (cured.empty()) return stake;
  stake.nothing = cured[0];
  stake.all = cured[1];
  const auto half = static_cast<std::ptrdiff_t>(cured.size() / 2 - 1);
  stake.single.assign(cured.begin() + 2, cured.begin() + 2 + half);
  stake.without.assign(cured.begin() + 2 + half, cured.end());
  return stake;
}

RepairDecision::Prices::Prices(std::span<const RepairItem> items, const ComeBack& price,
                               std::span<const std::uint32_t> counted, const Stake& stake,
                               bool restrained)
    : items_(items),
      price_(price),
      restrained_(restrained),
      total_(stake.total),
      finding_(kFinding * price.second_visit) {
  if (price.flat) {
    beyond_ = least_ = most_ = *price.flat;
    return;
  }
  double mean = 0, cheapest = std::numeric_limits<double>::infinity();
  for (std::uint32_t i = 0; i < items.size(); ++i) {
    const double cost = part(i);
    mean += cost / static_cast<double>(items.size());
    cheapest = std::min(cheapest, cost);
    most_ += price.second_visit + cost;
  }
  for (std::size_t k = 0; k < counted.size(); ++k) {
    const double alone = std::max(0.0, stake.single[k] - stake.nothing);
    const double needed = std::max(0.0, stake.all - stake.without[k]);
    if (!(std::max(alone, needed) > kRiskRounding * stake.total)) continue;
    order_.push_back({counted[k], alone, std::max(0.0, needed - alone)});
  }
  cheapest_ = price.second_visit + (order_.empty() ? 0 : std::numeric_limits<double>::infinity());
  for (const Needed& one : order_) {
    cheapest_ = std::min(cheapest_, price.second_visit + part(one.item));
  }
  const auto rate = [&](const Needed& one) {
    return one.alone / std::max(kLeastPrice, price.second_visit + part(one.item));
  };
  std::stable_sort(order_.begin(), order_.end(),
                   [&](const Needed& a, const Needed& b) { return rate(a) > rate(b); });
  all_ = std::min(stake.all, stake.total);
  together_ = std::max(0.0, stake.all - stake.nothing);
  for (const Needed& one : order_) together_ -= one.alone;
  beyond_ = price.second_visit + mean;
  least_ = std::min(beyond_, price.second_visit + cheapest);
  most_ += finding_ + beyond_;
}

double RepairDecision::Prices::part(std::uint32_t i) const {
  const RepairItem& item = items_[i];
  return item.cost + item.waiting + (restrained_ ? item.restraint : 0);
}

double RepairDecision::Prices::helpless() const {
  return price_.flat ? *price_.flat : finding_ + beyond_;
}

double RepairDecision::Prices::of(const ItemSet& set, double cured, double new_parts) const {
  if (price_.flat) return *price_.flat * std::max(0.0, total_ - cured * new_parts);
  const double failed = std::max(0.0, total_ - cured);
  const double helpless = std::min(failed, total_ - all_);
  // After some items, one after the other: what all who are left paid, and what those whom one item
  // helps pay for their own. That none helps has to be found out as well, else a useless part that
  // is fitted now would save the search for it.
  double paid = 0, left = failed, several = failed - helpless, own = 0;
  double least = left * finding_;
  for (const Needed& one : order_) {
    if (set.has(one.item) || !(one.alone > 0) || !(several > 0)) continue;
    const double each = price_.second_visit + part(one.item);
    const double here = std::min(several, one.alone);
    paid += left * each;
    own += here * each;
    left -= here;
    several -= here;
    // `least` is less `own`, all of which those pay for whom it was found out at once.
    least = std::min(least, paid - own + left * finding_);
  }
  least += own;
  if (several > 0) {
    least += several * price_.second_visit;
    for (const Needed& one : order_) {
      if (!set.has(one.item)) least += std::min(several, one.with_others) * part(one.item);
    }
  }
  return least + helpless * beyond_ + cured * (1 - new_parts) * price_.second_visit;
}

double RepairDecision::Prices::at_least(double cured, double either) const {
  if (price_.flat) return *price_.flat * std::max(0.0, total_ - cured);
  cured = std::min(cured, all_);
  // As in of(), but while an item's visits are paid for, those whom it helps become fewer bit by
  // bit, for which what they pay themselves is counted by half; an item is left before its end
  // where nobody is left whom one helps; and who needs several pays a visit.
  const double helpless = total_ - all_;
  const double together = std::clamp(together_ + either, 0.0, all_ - cured);
  double several = all_ - cured - together, left = helpless + several, paid = 0, helped = 0;
  double least = left * finding_;
  for (const Needed& one : order_) {
    if (!(one.alone > 0)) continue;
    if (!(several > 0)) break;
    const double here = std::min(several, one.alone);
    paid += (left - here / 2) * (price_.second_visit + part(one.item)) * (here / one.alone);
    left -= here;
    several -= here;
    helped += here;
    least = std::min(least, paid + helped * cheapest_ / 2 + left * finding_);
  }
  return least + (several + together) * price_.second_visit + helpless * beyond_;
}

double RepairDecision::Prices::again_at_least(double cured, double new_parts) const {
  return cured * (1 - new_parts) * (price_.flat ? *price_.flat : price_.second_visit);
}

RepairDecision::Stake RepairDecision::stake(const View& view) {
  const std::vector<ItemSet> sets = stake_sets();
  cure_.prepare(sets, view.given);
  std::vector<double> cured;
  for (const ItemSet& set : sets) cured.push_back(view.of(cure_, set));
  return stake_of(view.of(cure_, Cure::whatever()), cured);
}

struct RepairDecision::Search {
  Cure& cure;
  std::span<const RepairItem> items;
  const View& view;
  const Prices& prices;
  double total;  // of the weights
  // By item: P(it is needed, what is given), or more.
  std::vector<double> needed;
  double all = 0;     // P(cured by all items, what is given)
  double either = 0;  // P(one of several items cures, what is given), or more
  std::vector<double> steps = std::vector<double>(kSteps + 1, -1.0);
  RepairChoice best{{}, std::numeric_limits<double>::infinity(), 0};
  std::size_t looked_at = 0, completed = 0;
  double least_left = std::numeric_limits<double>::infinity();  // bound of what was not looked at

  double loss(const ItemSet& set) {
    return compared_cost(items, set) * total +
           view.factor * prices.of(set, view.of(cure, set), cure.new_parts(set));
  }
  bool in_time(const ItemSet& set) const {
    return !std::isfinite(view.minutes) || repair_minutes(items, set) <= view.minutes;
  }
  void consider(const ItemSet& set) {
    if (!in_time(set)) return;
    const double here = loss(set);
    if (here < best.loss) best = {set, here, 0};
  }
  // By those whom no more than so much cures; to the next step up.
  double paid_at_least(double cures) {
    // Of next to nothing both are rounding, and may be below 0.
    const double share = all > 0 ? std::clamp(cures / all, 0.0, 1.0) : 0.0;
    const auto step = static_cast<std::size_t>(std::ceil(share * kSteps));
    double& paid = steps[step];
    if (paid < 0) paid = prices.at_least(all * static_cast<double>(step) / kSteps, either);
    return paid;
  }
  double paid_for(std::uint32_t i) const { return (items[i].cost + items[i].restraint) * total; }

  // No set with `in`, item i and any of `open` loses less; `cured` is P(cured by `in`, what is
  // given), `open` in the order of by_need(). Not above `enough`, from which on it does not matter.
  double bound(const ItemSet& in, std::uint32_t i, const std::vector<std::uint32_t>& open,
               double cured, double enough) {
    const ItemSet with = in.with(i);
    const double new_parts = cure.new_parts(with);
    double cost = compared_cost(items, with) * total, most = cured + needed[i];
    const auto at = [&](double cures) {
      return view.factor *
             (paid_at_least(cures) + prices.again_at_least(std::min(cures, all), new_parts));
    };
    double least = cost + at(most);
    for (const std::uint32_t j : open) {
      if (j == i || cost >= std::min(least, enough)) continue;
      // Of so much of the item, less than what it costs so far and what it cures then.
      for (int part = 0; part < kParts; ++part) {
        most += needed[j] / kParts;
        least = std::min(least, cost + at(most));
        cost += paid_for(j) / kParts;
      }
    }
    return least;
  }
  std::vector<std::uint32_t> by_need(std::vector<std::uint32_t> open) const {
    std::stable_sort(open.begin(), open.end(), [&](std::uint32_t a, std::uint32_t b) {
      return paid_for(a) * needed[b] < paid_for(b) * needed[a];
    });
    return open;
  }

  // Sets R with in <= R <= in + open.
  void visit(const ItemSet& in, std::vector<std::uint32_t> open) {
    consider(in);
    if (open.empty()) return;
    const double cured = view.of(cure, in);
    const std::vector<std::uint32_t> sorted = by_need(open);
    double cheapest = std::numeric_limits<double>::infinity();
    std::erase_if(open, [&](std::uint32_t i) {
      if (!in_time(in.with(i))) return true;
      const double one = bound(in, i, sorted, cured, best.loss);
      if (one >= best.loss) return true;
      cheapest = std::min(cheapest, one);
      return false;
    });
    if (open.empty()) return;
    looked_at += open.size();
    if (looked_at > (view.given ? kMostGiven : view.factor == 1 ? kMostSets : kMostElse)) {
      least_left = std::min(least_left, cheapest);
      if (completed++ < kMostCompleted) complete(in, open);
      return;
    }
    std::vector<ItemSet> children;
    for (const std::uint32_t i : open) children.push_back(in.with(i));
    cure.prepare(children, view.given);
    // The most promising first: good sets are found early then.
    std::vector<double> of_child;
    for (const ItemSet& child : children) of_child.push_back(loss(child));
    std::vector<std::size_t> order(open.size());
    std::iota(order.begin(), order.end(), std::size_t{0});
    std::stable_sort(order.begin(), order.end(),
                     [&](std::size_t a, std::size_t b) { return of_child[a] < of_child[b]; });
    for (const std::size_t k : order) consider(children[k]);
    for (std::size_t k = 0; k < order.size(); ++k) {
      std::vector<std::uint32_t> later;
      for (std::size_t l = k + 1; l < order.size(); ++l) later.push_back(open[order[l]]);
      visit(children[order[k]], std::move(later));
    }
  }

  // One good set: items that pay join one after the other, those first that are listed first.
  void complete(ItemSet in, const std::vector<std::uint32_t>& open) {
    double here = loss(in);
    for (const std::uint32_t i : open) {
      if (!in_time(in.with(i))) continue;
      const double more = loss(in.with(i));
      if (more >= here) continue;
      here = more;
      in.add(i);
    }
    if (here < best.loss) best = {in, here, 0};
  }

  // One item more or less, while that is better.
  void improve(const std::vector<std::uint32_t>& open) {
    for (bool better = true; better;) {
      const ItemSet from = best.set;
      std::vector<ItemSet> near;
      for (const std::uint32_t i : open) {
        near.push_back(from.has(i) ? from.without(i) : from.with(i));
      }
      cure.prepare(near, view.given);
      for (const ItemSet& set : near) consider(set);
      better = best.set != from;
    }
  }

  RepairChoice found(const std::vector<std::uint32_t>& open) {
    if (least_left < best.loss) improve(open);
    best.within = std::max(0.0, best.loss - std::min(best.loss, least_left));
    return best;
  }
};

RepairChoice RepairDecision::search(const View& view) {
  const Stake stake = this->stake(view);
  const Prices prices = this->prices(stake);
  Search search{cure_, items_, view, prices, stake.total, {}};
  // What an item may cure at most, its evidence weighed at its largest; and where the stake tells
  // it, whom all but it do not cure, or who need it or another.
  const double largest =
      view.given ? *std::max_element(view.weight.cured.begin(), view.weight.cured.end()) : 1.0;
  search.all = price_.flat ? view.of(cure_, cure_.all()) : stake.all;
  search.either = cure_.at_most_either() * largest;
  for (std::size_t i = 0; i < items_.size(); ++i) {
    search.needed.push_back(std::min(stake.total, cure_.at_most_cured(i) * largest));
  }
  for (std::size_t k = 0; k < stake.without.size(); ++k) {
    double& needed = search.needed[counted_[k]];
    const double alone = std::max(0.0, stake.all - stake.without[k]);
    needed = std::min(needed, alone + cure_.at_most_shared(counted_[k]) * largest);
  }
  std::vector<std::uint32_t> open;
  for (std::uint32_t i = 0; i < items_.size(); ++i) {
    if (!items_[i].may_be_ordered) continue;
    if (view.factor * prices.most() * search.needed[i] > search.paid_for(i)) open.push_back(i);
  }
  std::stable_sort(open.begin(), open.end(), [&](std::uint32_t a, std::uint32_t b) {
    return cure_.at_most_cured(a) > cure_.at_most_cured(b);
  });
  if (view.given && unconditional_) search.consider(*unconditional_);
  search.visit(cure_.nothing(), open);
  return search.found(open);
}

RepairChoice RepairDecision::best() {
  View view;
  view.minutes = minutes_;
  const RepairChoice choice = search(view);
  unconditional_ = choice.set;
  return choice;
}

RepairChoice RepairDecision::best_given(std::uint32_t observation, const OutcomeWeights& weight,
                                        double minutes) {
  return search({1, true, observation, weight, minutes});
}

RepairChoice RepairDecision::best_at(double factor) {
  return search({factor, false, 0, Grades{}, minutes_});
}

double RepairDecision::risk(const ItemSet& set) {
  return 1 - cure_.probability(set) * cure_.new_parts(set);
}

double RepairDecision::come_back(const ItemSet& set) {
  const double failed = std::max(risk(set), kRiskRounding);
  return prices(View{}, false).of(set, cure_.probability(set), cure_.new_parts(set)) / failed;
}

RepairDecision::LeastComeBack RepairDecision::least_come_back() {
  const Prices price = prices(View{});
  return {price.least(), price.helpless()};
}

double RepairDecision::expected_cost(const ItemSet& set) {
  return repair_cost(items_, set) +
         prices(View{}, false).of(set, cure_.probability(set), cure_.new_parts(set));
}

double RepairDecision::loss(const ItemSet& set) {
  return compared_cost(items_, set) +
         prices(View{}).of(set, cure_.probability(set), cure_.new_parts(set));
}

double RepairDecision::loss_given(const ItemSet& set, std::uint32_t observation,
                                  const OutcomeWeights& weight) {
  const View view{1, true, observation, weight};
  const double total = view.of(cure_, Cure::whatever());
  return compared_cost(items_, set) * total +
         prices(view).of(set, view.of(cure_, set), cure_.new_parts(set));
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
