// Which mutant is in force, and which were reached. Compiled into the mutated library alone.
#include "tests/mutation/mutants.h"

#include <array>
#include <cstdio>
#include <cstdlib>

namespace mutants {

namespace {

constexpr int kMost = 1 << 16;
std::array<bool, kMost> seen{};

// Before any other constructor: constants of the library may call a mutant.
__attribute__((constructor(101))) void choose() {
  const char* const number = std::getenv("FAULTODDS_MUTANT");
  if (number != nullptr) in_force = std::atoi(number);
}

__attribute__((destructor(101))) void tell() {
  const char* const path = std::getenv("FAULTODDS_MUTANTS_REACHED");
  if (in_force >= 0 || path == nullptr) return;
  std::FILE* const file = std::fopen(path, "a");
  if (file == nullptr) return;
  for (int mutant = 0; mutant < kMost; ++mutant) {
    if (seen[static_cast<std::size_t>(mutant)]) std::fprintf(file, "%d\n", mutant);
  }
  std::fclose(file);
}

}  // namespace

int in_force = 0;

bool reached(int mutant) {
  seen[static_cast<std::size_t>(mutant)] = true;
  return false;
}

}  // namespace mutants
