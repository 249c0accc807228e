// One call of the engine's C interface with JSON values, for tests that compare it.
#pragma once

#include <catch2/catch.hpp>
#include <memory>
#include <string>

#include "faultodds.h"
#include "tests/property/compare.h"

namespace oracle {

// A pack that says nothing, so that the shipped one is not used.
inline Json no_priors() {
  return {{"format", "faultodds-priors/1"}, {"id", "none"}, {"title", "none"}};
}

struct Reply {
  faultodds_status status = FAULTODDS_OK;
  Json document;  // the assessment, or the error
};

inline Reply ask_engine(const Json& circuit, const Json& the_case, const Json& pack = no_priors()) {
  const std::string circuit_text = circuit.dump(), case_text = the_case.dump(),
                    pack_text = pack.dump();
  char *answer = nullptr, *error = nullptr;
  Reply reply;
  reply.status =
      faultodds_assess_json(circuit_text.data(), circuit_text.size(), case_text.data(),
                            case_text.size(), pack_text.data(), pack_text.size(), &answer, &error);
  const std::unique_ptr<char, void (*)(char*)> answer_owner(answer, faultodds_free),
      error_owner(error, faultodds_free);
  REQUIRE((answer == nullptr) != (error == nullptr));
  reply.document = Json::parse(answer ? answer : error);
  return reply;
}

}  // namespace oracle
