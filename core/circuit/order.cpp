#include "core/circuit/order.h"

#include <algorithm>
#include <string>
#include <tuple>

#include "core/error.h"

namespace faultodds::circuit {
namespace {

template <typename Item, typename Key>
void sort_by(std::vector<Item>& items, Key key) {
  std::stable_sort(items.begin(), items.end(),
                   [&](const Item& a, const Item& b) { return key(a) < key(b); });
}

template <typename Item>
void sort_by_id(std::vector<Item>& items) {
  sort_by(items, [](const Item& item) -> const std::string& { return item.id; });
}

template <typename Item>
void sort_by_name(std::vector<Item>& items) {
  sort_by(items, [](const Item& item) -> const std::string& { return item.name; });
}

void put_in_order(ComponentType& type) {
  sort_by_name(type.elements);
  sort_by_name(type.failure_modes);
  sort_by_name(type.directions);
  for (FailureModeType& mode : type.failure_modes) {
    for (auto* list : {&mode.leaks, &mode.restricts, &mode.weakens}) {
      std::sort(list->begin(), list->end());
    }
  }
  for (auto* list : {&type.ports, &type.volumes, &type.reduces, &type.parameters}) {
    std::sort(list->begin(), list->end());
  }
}

}  // namespace

Description in_order(Description description) {
  sort_by_name(description.types);
  for (ComponentType& type : description.types) put_in_order(type);
  sort_by_id(description.components);
  sort_by(description.connections,
          [](const Connection& one) { return std::tie(one.from, one.to, one.line); });
  sort_by(description.fittings,
          [](const Fitting& one) { return std::tie(one.port, one.standard, one.size); });
  sort_by_id(description.functions);
  sort_by_id(description.observations);
  for (WrittenObservation& observation : description.observations) {
    for (Shows& shows : observation.shows) std::sort(shows.modes.begin(), shows.modes.end());
    sort_by(observation.shows,
            [](const Shows& one) { return std::tie(one.modes, one.probability); });
  }
  sort_by_id(description.conditions);
  for (Condition& condition : description.conditions) {
    sort_by(condition.raises, [](const auto& one) { return std::tie(one.pattern, one.factor); });
  }
  return description;
}

Analysis analyse_in_order(const Description& as_written,
                          const std::vector<ComponentType>& catalogue, const Limits& limits) {
  try {
    return analyse(in_order(as_written), catalogue, limits);
  } catch (const Error& error) {
    if (error.code() != Code::invalid_circuit && error.code() != Code::limit_exceeded) throw;
    analyse(as_written, catalogue, limits);
    throw;
  }
}

}  // namespace faultodds::circuit
