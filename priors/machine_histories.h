// What orders and exposure say of each machine by itself: its class, the days it was under watch,
// and those on which a fault was found on it. It grows with machines and faults, unlike
// statistics.h, and tests nothing (recurrence.h).
#pragma once

#include <cstddef>
#include <cstdint>
#include <functional>
#include <map>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "priors/records.h"
#include "priors/recurrence.h"

namespace faultodds::priors {

// Machines of one asset class, in days since each came under watch. A fault is half a day after its
// day began, so that none falls on an end.
struct ClassHistory {
  std::string asset_class;
  std::vector<Watched> machines;
  std::size_t without_days = 0;  // of them, whose days under watch are those of the table
  std::size_t outside = 0;       // faults before or after the days under watch, left out
};

class MachineHistories {
 public:
  static constexpr std::size_t most_faults = 20'000'000;

  // A fault: an order that found something, once however many rows it has.
  void add(const WorkOrder& order);
  // Days under watch: `from` to `to` of the machine's rows.
  void add(const Exposure& exposure);

  // By name. A machine without days of its own is taken as watched from the first to the last day
  // on which any order was closed.
  std::vector<ClassHistory> classes() const;

  std::uint64_t without_asset() const { return without_asset_; }  // faults on nobody knows what
  std::uint64_t too_many() const { return too_many_; }            // faults left out
  bool any_days() const { return any_days_; }                     // of a machine's own

 private:
  struct Fault {
    std::int32_t day = 0;
    std::uint64_t order = 0;  // fingerprint of its id
    bool operator==(const Fault&) const = default;
    bool operator<(const Fault& other) const {
      return day != other.day ? day < other.day : order < other.order;
    }
  };
  struct Machine {
    std::string asset_class;
    std::optional<Date> from, to;
    std::vector<Fault> faults;
  };

  Machine& machine(std::string_view asset, std::string_view asset_class);

  std::map<std::string, Machine, std::less<>> machines_;
  std::optional<Date> first_, last_;
  std::uint64_t without_asset_ = 0, too_many_ = 0;
  std::size_t faults_ = 0;
  bool any_days_ = false;
};

}  // namespace faultodds::priors
