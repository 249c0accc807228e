// Circuits for the statics tests: random ones of every type of the catalogue and of a few that it
// has not (intensifier, motor with a case port, pump with a charge gallery), and random changes of
// a given circuit. Nothing of the engine; what the engine refuses is the caller's to leave out.
#pragma once

#include <cstdint>
#include <nlohmann/json.hpp>

namespace balance {

using Json = nlohmann::ordered_json;

Json random_circuit(std::uint64_t seed, const Json& catalogue);
Json mutated(const Json& circuit, std::uint64_t seed);

// What 0.1 does not read is left out, so that its rule can be looked at too.
Json without_new_keys(Json circuit, const Json& catalogue);

}  // namespace balance
