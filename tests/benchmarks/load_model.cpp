#include "tests/benchmarks/load_model.h"

#include <map>
#include <stdexcept>
#include <utility>

#include "capi/documents/circuit_reader.h"
#include "capi/documents/embedded.h"
#include "capi/documents/json.h"
#include "capi/documents/pack_reader.h"
#include "tests/benchmarks/machine.h"

namespace faultodds::benchmark {

circuit::Analysis analyse(const std::string& circuit_document) {
  return circuit::analyse(documents::read_circuit(documents::parse_json(circuit_document)),
                          documents::read_catalogue(documents::parse_json(documents::kCatalogue)));
}

diagnosis::Pack shipped_pack() {
  return documents::read_pack(documents::parse_json(documents::kShippedPack));
}

diagnosis::Model load_model(const std::string& circuit_document) {
  return diagnosis::Model::compile(analyse(circuit_document), shipped_pack());
}

const diagnosis::Model& machine_model(int sections, int conditions) {
  static std::map<std::pair<int, int>, diagnosis::Model> models;
  const std::pair key(sections, conditions);
  auto at = models.find(key);
  if (at == models.end()) {
    at = models.emplace(key, load_model(machine(sections, conditions))).first;
  }
  return at->second;
}

void observe(const diagnosis::Model& model, diagnosis::Case& the_case, const std::string& id,
             std::uint32_t outcome) {
  const auto observation = model.find_observation(id);
  if (!observation) throw std::logic_error("the benchmark's circuit has no observation " + id);
  diagnosis::Evidence evidence;
  evidence.observation = *observation;
  evidence.outcome = outcome;
  the_case.evidence.push_back(std::move(evidence));
}

}  // namespace faultodds::benchmark
