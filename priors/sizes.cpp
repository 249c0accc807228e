#include "priors/sizes.h"

#include <algorithm>

#include "core/error.h"

namespace faultodds::priors {

void SizeStatistics::add(const SizeStatistics& other) {
  if (law != other.law) {
    throw Error(Code::invalid_priors,
                "the law by which a size leaks differs; expected the same one");
  }
  of.add(other.of);
}

void add(Sizes& to, const Sizes& from) {
  for (const auto& [key, statistics] : from) {
    const auto [at, added] = to.emplace(key, statistics);
    if (!added) at->second.add(statistics);
  }
}

circuit::ModeSize size_of(const SizeStatistics& statistics) {
  const LeakRateBands bands = bands_of(statistics.of);
  circuit::ModeSize size;
  size.law = statistics.law;
  for (std::size_t g = 0; g < 3; ++g) size.of_grade[g] = {bands.median[g], bands.sigma[g]};
  return size;
}

void put_sizes(const Sizes& sizes, std::vector<diagnosis::PackSize>& entries) {
  for (const auto& [key, statistics] : sizes) {
    const auto same = [&, &of = key](const diagnosis::PackSize& entry) {
      return entry.type == of.first && entry.mode == of.second;
    };
    auto entry = std::find_if(entries.begin(), entries.end(), same);
    if (entry == entries.end()) {
      entry = entries.insert(entries.end(), {key.first, key.second, {}});
    }
    entry->size = size_of(statistics);
  }
}

}  // namespace faultodds::priors
