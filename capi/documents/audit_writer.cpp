#include "capi/documents/audit_writer.h"

#include <cstdint>
#include <string>

namespace faultodds::documents {
namespace {

using namespace priors;

// Where a class has no entry of its own, what holds for all.
const Estimate* estimate_of(const PriorPack& pack, PackKey key) {
  auto found = pack.estimates.find(key);
  if (found == pack.estimates.end()) {
    key.asset_class.clear();
    found = pack.estimates.find(key);
  }
  return found == pack.estimates.end() ? nullptr : &found->second;
}

// Counts are the pack's own records'; where it was learned through a circuit it has none, and the
// weight of its grades stands for what is known.
void write_side(JsonText& out, const char* name, const PriorPack& pack, const PackKey& key) {
  const Estimate* estimate = estimate_of(pack, key);
  if (estimate == nullptr) {
    out.key(name).null();
    return;
  }
  out.key(name)
      .begin_object()
      .member("not_sound", estimate->not_sound)
      .key("interval")
      .begin_list();
  out.value(estimate->not_sound_interval.lower)
      .value(estimate->not_sound_interval.upper)
      .end_list();
  out.key("counts").begin_list();
  for (const double count : estimate->counts) out.value(count);
  out.end_list().member("worth_jobs", estimate->posterior.weight()).end_object();
}

}  // namespace

void write_audit(JsonText& out, const Audit& audit, const PriorPack& before,
                 const PriorPack& after) {
  out.begin_object();
  out.member("orders_per_mode", static_cast<std::uint64_t>(audit.most_orders()));
  out.key("modes").begin_list();
  for (const auto& [key, mode] : audit.modes()) {
    out.begin_object().member("type", key.type).member("mode", key.mode);
    if (!key.asset_class.empty()) out.member("asset_class", key.asset_class);
    write_side(out, "before", before, key);
    write_side(out, "after", after, key);
    out.member("found", mode.found).member("one_of_several", mode.one_of_several);
    out.member("sound", mode.sound).key("orders").begin_list();
    for (const AuditedOrder& order : mode.orders) {
      out.begin_object().member("work_order", order.work_order);
      out.member("closed", to_string(order.closed));
      out.member("said", kSaid[static_cast<int>(order.said)]).end_object();
    }
    out.end_list().member("left_out", mode.left_out()).end_object();
  }
  out.end_list().end_object();
}

}  // namespace faultodds::documents
