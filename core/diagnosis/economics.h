// What a decision costs: the money side of a case, as plain values with defaults. It computes
// nothing (repair_items.h does) and converts no currency: every amount is in the one the case
// names.
//
// The defaults are working judgement for a truck or press whose parts are on the shelf; a workshop
// gives its own numbers.
#pragma once

#include <map>
#include <optional>
#include <string>

namespace faultodds::diagnosis {

// What one component costs to replace, where the case knows better than the circuit.
struct ReplacementCost {
  std::optional<double> part, minutes, lead_days;
};

struct Economics {
  std::string currency = "XXX";  // ISO 4217; XXX is its code for no currency in particular
  double labour_per_hour = 80;
  double downtime_per_hour = 60;      // what the machine costs while it does not work
  double downtime_hours_per_day = 8;  // of each day it waits for a part
  // Of having to come again because the complaint is not cured. Where it is not given it is what
  // follows: second visits, and the parts that are replaced then (repair_set.h).
  std::optional<double> come_back;
  double second_visit = 600;
  // By how much more than its cost a part counts where repairs are compared, for what no invoice
  // shows: a sound joint opened, a part on the shelf, trust. Expected costs do not contain it.
  std::optional<double> per_part;
  double part_cost = 150;      // where neither the circuit nor the case says
  double repair_minutes = 60;  // likewise
  double lead_days = 0;        // likewise
  std::map<std::string, ReplacementCost> components;
  double bad_new_part = 0.01;         // P(a new part is bad or wrongly fitted); working judgement
  double worn_fails = 0.3;            // P(a worn part fails before the next service); judgement
  double second_fault_target = 0.05;  // largest probability of a second fault to leave with

  double per_minute() const { return (labour_per_hour + downtime_per_hour) / 60; }
  // Half a second visit where the owner does not say; nothing where coming again has a flat price.
  double restraint() const { return per_part.value_or(come_back ? 0 : second_visit / 2); }
};

}  // namespace faultodds::diagnosis
