// What the engine proposes for a circuit, read from what it says of the model through the C ABI, so
// that an older library can be looked at as well.
#pragma once

#include <map>
#include <memory>
#include <optional>
#include <string>
#include <vector>

#include "faultodds.h"
#include "tests/property/oracle.h"
#include "tests/statics/balance.h"

namespace balance {

struct Described {
  Json document;
  std::vector<Proposal> proposals;       // holds that are proposed, with or without a figure
  std::map<std::string, Json> withheld;  // by observation
};

// None when the engine refuses the circuit.
inline std::optional<Described> described(const Json& circuit) {
  const std::string text = circuit.dump();
  const std::string pack = R"({"format": "faultodds-priors/1", "id": "none", "title": "none"})";
  faultodds_model* loaded = nullptr;
  faultodds_error* error = nullptr;
  faultodds_model_load(text.data(), text.size(), pack.data(), pack.size(), nullptr, &loaded,
                       &error);
  faultodds_error_free(error);
  const std::unique_ptr<faultodds_model, void (*)(faultodds_model*)> model(loaded,
                                                                           faultodds_model_free);
  if (!model) return std::nullopt;
  char* document = nullptr;
  if (faultodds_model_describe_json(model.get(), nullptr, &document, nullptr) != FAULTODDS_OK) {
    return std::nullopt;
  }
  const std::unique_ptr<char, void (*)(char*)> owner(document, faultodds_free);
  Described out;
  out.document = Json::parse(document);
  if (out.document.contains("withheld")) {
    for (const Json& one : out.document["withheld"]) out.withheld[one["observation"]] = one;
  }
  for (const Json& one : out.document["observations"]) {
    if (one["kind"] != "static" || out.withheld.count(one["observation"])) continue;
    Proposal proposal;
    proposal.observation = one["observation"];
    if (!one["test_pressure"].is_null()) {
      proposal.pressure = oracle::quantity(one["test_pressure"].get<std::string>());
    }
    for (const Json& step : one["setup"]) {
      const std::string id = step;
      if (id.rfind("line/", 0) == 0) proposal.lines_off.insert(id.substr(5));
    }
    for (const char* list : {"own_setup", "afterwards"}) {
      for (const Json& step : one.value(list, Json::array())) {
        proposal.steps.push_back(step["id"]);
        if (step["id"] != "verify_zero") continue;
        for (const char* volumes : {"at", "past_leak"}) {
          for (const Json& volume : step.value(volumes, Json::array())) {
            proposal.verified.insert(volume.get<std::string>());
          }
        }
      }
    }
    out.proposals.push_back(std::move(proposal));
  }
  return out;
}

}  // namespace balance
