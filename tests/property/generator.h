// Random circuits small enough to enumerate, with a case and a prior pack for each: the same seed
// gives the same documents everywhere. Half are machines (pump, valve, actuator and what stands
// between), half are components joined at random, which no machine has but the semantics must cover
// all the same.
#pragma once

#include <cstdint>

#include "tests/property/oracle.h"

namespace oracle {

struct Sample {
  std::uint64_t seed = 0;
  Json circuit, the_case, pack;
  // Other cases of the same machine: some with evidence on the same observations, some fresh.
  std::vector<Json> further_cases;
};

struct Sizes {
  std::size_t modes = 8;     // at most
  std::size_t evidence = 6;  // entries at most
  // What a job in its course has more than a case: observations whose sets share modes every way,
  // several conditions, times, parts replaced, and an observation named as the complaint.
  bool job = false;
};

// Sizes of jobs, whose parts fitted in their course are modes as well.
inline constexpr Sizes kJob{6, 6, true};

// Never gives a document whose meaning the semantics leave open (Structure::doubtful), nor one that
// must be refused for its circuit.
Sample generate(std::uint64_t seed, const Sizes& sizes = {});

// The sample's circuit as its pack and the class of its asset make it.
inline Structure analyse(const Sample& sample, Broken rule = Broken::nothing) {
  return analyse(sample.circuit, rule, sample.pack, asset_class(sample.the_case));
}

}  // namespace oracle
