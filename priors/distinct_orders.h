// Work orders as learning through a circuit counts them: each different one once, with how many say
// it, as a table of our own field names (records.h). Tables of parts of the records are put
// together by adding up `orders` of the orders that are alike, and what is learned of that is what
// is learned of all records, bit for bit. What is not learned from is left out: names of orders and
// machines, hours, minutes, text.
#pragma once

#include <string>
#include <unordered_map>
#include <vector>

#include "priors/learning.h"
#include "priors/records.h"

namespace faultodds::priors {

class DistinctOrders {
 public:
  explicit DistinctOrders(const Vocabulary& vocabulary) : vocabulary_(&vocabulary) {}

  // A row that was understood on the circuit.
  void add(const WorkOrder& order);

  // Of the orders that became these jobs. `finding` is `none`, or modes with + between.
  std::string table(const std::vector<Job>& jobs) const;

 private:
  struct Order {
    std::string closed, site, complaint, tests;  // of its first row, as jobs have them
    std::vector<std::string> rows;               // component to confirmed
  };
  const Vocabulary* vocabulary_;
  std::unordered_map<std::string, Order> orders_;
};

}  // namespace faultodds::priors
