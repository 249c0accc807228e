#include "priors/audit.h"

#include <algorithm>
#include <iterator>
#include <tuple>
#include <utility>

namespace faultodds::priors {

bool AuditedOrder::operator<(const AuditedOrder& other) const {
  return std::tie(other.closed, work_order, said) < std::tie(closed, other.work_order, other.said);
}

Audit::Audit(Vocabulary vocabulary, std::size_t most_orders, bool others_sound, bool by_class)
    : vocabulary_(std::move(vocabulary)),
      most_orders_(most_orders),
      others_sound_(others_sound),
      by_class_(by_class) {}

void Audit::add(const WorkOrder& order) {
  const Vocabulary::Type& type = vocabulary_.types[order.type];
  const bool several = order.modes.size() > 1;
  const Said said = several            ? Said::one_of_several
                    : order.grade == 2 ? Said::failed
                    : order.grade == 1 ? Said::worn
                                       : Said::not_sound;
  PackKey key{type.name, "", by_class_ ? std::string(order.asset_class) : ""};
  for (std::uint32_t m = 0; m < type.modes.size(); ++m) {
    const bool named = std::find(order.modes.begin(), order.modes.end(), m) != order.modes.end();
    if (!named && !order.modes.empty() && !others_sound_) continue;
    key.mode = type.modes[m].name;
    AuditedMode& mode = modes_[key];
    if (!named) {
      ++mode.sound;
      continue;
    }
    ++(several ? mode.one_of_several : mode.found);
    // What is later than all that are kept pushes the earliest out.
    mode.orders.insert({order.closed, std::string(order.id), said});
    if (mode.orders.size() > most_orders_) mode.orders.erase(std::prev(mode.orders.end()));
  }
}

}  // namespace faultodds::priors
