#include "priors/machine_histories.h"

#include <algorithm>

namespace faultodds::priors {
namespace {

// FNV-1a.
std::uint64_t fingerprint(std::string_view text) {
  std::uint64_t hash = 14695981039346656037ull;
  for (const char c : text) hash = (hash ^ static_cast<unsigned char>(c)) * 1099511628211ull;
  return hash;
}

}  // namespace

MachineHistories::Machine& MachineHistories::machine(std::string_view asset,
                                                     std::string_view asset_class) {
  auto at = machines_.find(asset);
  if (at == machines_.end()) at = machines_.emplace(std::string(asset), Machine{}).first;
  if (at->second.asset_class.empty()) at->second.asset_class = std::string(asset_class);
  return at->second;
}

void MachineHistories::add(const WorkOrder& order) {
  first_ = std::min(first_.value_or(order.closed), order.closed);
  last_ = std::max(last_.value_or(order.closed), order.closed);
  if (order.asset.empty()) {
    without_asset_ += order.modes.empty() ? 0 : 1;
    return;
  }
  Machine& of = machine(order.asset, order.asset_class);
  if (order.modes.empty()) return;
  if (faults_ >= most_faults) {
    ++too_many_;
    return;
  }
  ++faults_;
  of.faults.push_back({order.closed.days, fingerprint(order.id)});
}

void MachineHistories::add(const Exposure& exposure) {
  if (exposure.asset.empty() || !exposure.from || !exposure.to) return;
  any_days_ = true;
  Machine& of = machine(exposure.asset, exposure.asset_class);
  of.from = std::min(of.from.value_or(*exposure.from), *exposure.from);
  of.to = std::max(of.to.value_or(*exposure.to), *exposure.to);
}

std::vector<ClassHistory> MachineHistories::classes() const {
  std::map<std::string, ClassHistory> classes;
  for (const auto& [asset, machine] : machines_) {
    const bool own_days = machine.from.has_value();
    if (!own_days && !first_) continue;
    const std::int32_t from = own_days ? machine.from->days : first_->days;
    const std::int32_t to = own_days ? machine.to->days : last_->days;
    ClassHistory& history = classes[machine.asset_class];
    history.asset_class = machine.asset_class;
    history.without_days += own_days ? 0 : 1;
    std::vector<Fault> faults = machine.faults;
    std::sort(faults.begin(), faults.end());
    faults.erase(std::unique(faults.begin(), faults.end()), faults.end());
    Watched watched{0, static_cast<double>(to - from) + 1, {}};
    for (const Fault& fault : faults) {
      if (fault.day < from || fault.day > to) {
        ++history.outside;
      } else {
        watched.events.push_back(fault.day - from + 0.5);
      }
    }
    history.machines.push_back(std::move(watched));
  }
  std::vector<ClassHistory> result;
  for (auto& [name, history] : classes) result.push_back(std::move(history));
  return result;
}

}  // namespace faultodds::priors
