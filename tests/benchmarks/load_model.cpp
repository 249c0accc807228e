#include "tests/benchmarks/load_model.h"

#include "capi/documents/circuit_reader.h"
#include "capi/documents/embedded.h"
#include "capi/documents/json.h"
#include "capi/documents/pack_reader.h"

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

}  // namespace faultodds::benchmark
