// How large failure modes are, from readings of holds: for each mode of a type the sizes before any
// record, and what the records add, by grade. A reading counts for a mode where the record's other
// evidence leaves it no other (learning.h decides that); here it is a number in mL/min at 100 bar
// and 46 mm2/s. The estimate is leak_rates.h's, on sizes instead of bands. No documents.
#pragma once

#include <map>
#include <string>
#include <utility>
#include <vector>

#include "core/circuit/description.h"
#include "core/diagnosis/model.h"
#include "priors/leak_rates.h"

namespace faultodds::priors {

struct SizeStatistics {
  circuit::SizeLaw law = circuit::SizeLaw::orifice;
  LeakRateStatistics of;

  // Throws Error(invalid_priors) where laws or the sizes before any record differ.
  void add(const SizeStatistics& other);
  bool operator==(const SizeStatistics&) const = default;
};

using Sizes = std::map<std::pair<std::string, std::string>, SizeStatistics>;  // type, mode

void add(Sizes& to, const Sizes& from);

// What these statistics make of the sizes of a mode.
circuit::ModeSize size_of(const SizeStatistics& statistics);

// Sets the entries of the same type and mode; adds those that are not there.
void put_sizes(const Sizes& sizes, std::vector<diagnosis::PackSize>& entries);

}  // namespace faultodds::priors
