// `faultodds-priors inspect` and `faultodds-priors code`: what a table of somebody else's making
// seems to be, and findings proposed from its free text. What is proposed, and how sure, is
// priors/coding.h's and priors/inspection.h's.
#pragma once

#include <string>
#include <vector>

namespace faultodds_priors {

struct InspectPaths {
  std::string orders, circuit, mapping_out;
};

struct CodePaths {
  std::string orders, mapping, circuit, out, review, others, mapping_out, questions;
  std::vector<std::string> answers, words;
  std::size_t ask = 20;
  double sure = 0.9;
  bool choices = false;
};

// 0: there is something to learn from or to code; 1 and words on what to do: there is not.
int inspect_orders(const InspectPaths& paths);
int code_orders(const CodePaths& paths);

}  // namespace faultodds_priors
