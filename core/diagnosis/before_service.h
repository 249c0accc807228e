// What is worth checking on a machine that nobody complains of, while it stands for service.
//
// A component *fails in service* where one of its modes has failed, or is worn and fails before the
// next service, each with the probability w (Economics::worn_fails). Of component c
//
//   U = second visit + part + minutes x (labour and downtime) + waiting: a failure in service
//   K = part + minutes x labour: replaced now, while the machine stands anyway
//   A(p) = max(0, (p - bad new part) U - K): saved by replacing what fails with probability p
//
// With C(o) the components that are in a minimal set of test o, and i its outcomes,
//
//   saving(o) = sum over c in C(o) of
//                 sum over i of P(i | e) A(P(c fails | i, e)) - A(P(c fails | e))
//
// which is what knowing the outcome is worth, before the test's minutes are paid. Parts that are
// worth replacing without any test are listed beside. Exact. It is not the advice on a complaint
// (advice.h).
#pragma once

#include <cstdint>
#include <optional>
#include <string>
#include <vector>

#include "core/diagnosis/case.h"
#include "core/diagnosis/model.h"

namespace faultodds::diagnosis {

struct ServicePart {
  std::uint32_t component = 0;
  double fails = 0;   // P(it fails in service | e)
  double saving = 0;  // A(that)
};

struct ServiceTest {
  struct Find {
    std::uint32_t component = 0;
    double probability = 0;  // P(it would fail, and the outcome has it replaced | e)
  };
  std::uint32_t observation = 0;
  double minutes = 0;  // setup still to do included
  double cost = 0;     // of those minutes
  double expected_saving = 0;
  std::vector<Find> finds;  // most probable first
  double net() const { return expected_saving - cost; }
};

struct BeforeService {
  std::string currency;
  std::vector<ServiceTest> tests;           // that save anything, largest net saving a minute first
  std::vector<ServicePart> replace;         // worth it without a test, largest saving first
  std::vector<std::uint32_t> not_reckoned;  // tests that no network holds
};

// Nothing unless the case asks about the circuit (Focus::circuit) and nothing abnormal was seen.
// Throws as assess() does.
std::optional<BeforeService> before_service(const Model& model, const Case& the_case);

}  // namespace faultodds::diagnosis
