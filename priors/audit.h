// Which work orders moved which failure mode: for somebody who asks where an odd comes from. It
// counts and names orders as they are read and estimates nothing; what the modes moved by stands in
// the packs before and after.
#pragma once

#include <cstddef>
#include <cstdint>
#include <map>
#include <set>
#include <string>

#include "priors/pack.h"
#include "priors/records.h"

namespace faultodds::priors {

// What an order says of a mode.
enum class Said { failed, worn, not_sound, one_of_several };
inline constexpr const char* kSaid[] = {"failed", "worn", "not_sound", "one_of_several"};

struct AuditedOrder {
  Date closed;
  std::string work_order;
  Said said = Said::failed;
  bool operator==(const AuditedOrder&) const = default;
  // The latest first, then by name.
  bool operator<(const AuditedOrder& other) const;
};

struct AuditedMode {
  std::uint64_t found = 0;             // rows of orders that found it not sound, alone
  std::uint64_t one_of_several = 0;    // or one of several that may have been
  std::uint64_t sound = 0;             // or sound
  std::multiset<AuditedOrder> orders;  // of the first two kinds, the latest; a row is one

  std::uint64_t left_out() const { return found + one_of_several - orders.size(); }
};

class Audit {
 public:
  // Of each mode at most so many orders are named. Otherwise as Tally: `others_sound` where one
  // mode is named. Without `by_class` modes are not told apart by asset class.
  Audit(Vocabulary vocabulary, std::size_t most_orders, bool others_sound, bool by_class);

  void add(const WorkOrder& order);
  std::size_t most_orders() const { return most_orders_; }
  const std::map<PackKey, AuditedMode>& modes() const { return modes_; }

 private:
  Vocabulary vocabulary_;
  std::size_t most_orders_;
  bool others_sound_, by_class_;
  std::map<PackKey, AuditedMode> modes_;
};

}  // namespace faultodds::priors
