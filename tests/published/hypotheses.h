// Published networks as circuits: causes become failure modes of one component, findings become
// hand-written observations. A cause that is only present or absent has grades 0 and 2 alone.
#pragma once

#include <string>
#include <vector>

#include "tests/property/engine.h"
#include "tests/property/oracle.h"

namespace published {

using oracle::Answer;
using oracle::Json;

class Hypotheses {
 public:
  Hypotheses() {
    type_ = {{"ports", {"port"}},
             {"elements", {{"wall", {{"kind", "seal"}, {"from", "port"}, {"to", "outside"}}}}},
             {"failure_modes", Json::object()}};
  }

  // A cause with its probability, or with the probabilities of its three grades.
  Hypotheses& cause(const std::string& id, double p) { return cause(id, {1 - p, 0, p}); }
  Hypotheses& cause(const std::string& id, const std::vector<double>& grades) {
    type_["failure_modes"][id] = {
        {"code", "UNK"}, {"title", id}, {"leaks", "wall"}, {"prior", grades}};
    return *this;
  }

  // A shared cause that multiplies the odds of others.
  Hypotheses& condition(const std::string& id, double probability, const Json& raises) {
    Json by_mode;
    for (const auto& [mode, factor] : raises.items()) by_mode["all." + mode] = factor;
    conditions_.push_back(
        {{"id", id}, {"title", id}, {"probability", probability}, {"raises", by_mode}});
    return *this;
  }

  struct Shows {
    std::vector<std::string> causes;
    double probability = 1;
  };

  // A finding that is no or yes, a leaky noisy-OR of its causes.
  Hypotheses& noisy_or(const std::string& id, double leak, const std::vector<Shows>& shows,
                       const std::string& kind = "test") {
    return finding(id, {"no", "yes"}, {{1, 0}, {0, 1}, {0, 1}}, shows, {1 - leak, 0, leak}, kind);
  }

  Hypotheses& finding(const std::string& id, const std::vector<std::string>& outcomes,
                      const std::vector<std::vector<double>>& matrix,
                      const std::vector<Shows>& shows, const std::vector<double>& background,
                      const std::string& kind = "test") {
    Json sets = Json::array();
    for (const auto& one : shows) {
      Json modes = Json::array();
      for (const auto& cause : one.causes) modes.push_back("all." + cause);
      sets.push_back({{"modes", modes}, {"probability", one.probability}});
    }
    observations_.push_back({{"id", id},
                             {"kind", kind},
                             {"outcomes", outcomes},
                             {"matrix", matrix},
                             {"background", background},
                             {"shows", sets},
                             {"energised", false},
                             {"minutes", 1}});
    return *this;
  }

  // Makes cause_bits the information about one cause alone, given evidence that says next to
  // nothing: the case gets `about(id)`. Of several causes, about whether there is any.
  Hypotheses& ask_about(const std::vector<std::string>& causes) {
    std::vector<Shows> shows;
    for (const auto& cause : causes) shows.push_back({{cause}, 1});
    return noisy_or("asked", 0, shows, "symptom");
  }
  static Json about() { return {{"observation", "asked"}, {"likelihood", {1, 1, 1 + 1e-12}}}; }

  Json circuit() const {
    Json document = {
        {"format", "faultodds-circuit/1"}, {"id", "published"}, {"title", "published"}};
    document["types"]["all"] = type_;
    document["components"] = Json::array({{{"id", "all"}, {"type", "all"}}});
    document["observations"] = observations_;
    if (!conditions_.empty()) document["conditions"] = conditions_;
    return document;
  }

 private:
  Json type_, observations_ = Json::array(), conditions_ = Json::array();
};

inline Json saw(const std::string& id, const std::string& outcome) {
  return {{"observation", id}, {"outcome", outcome}};
}

inline Json weighs(const std::string& id, const std::vector<double>& likelihood) {
  return {{"observation", id}, {"likelihood", likelihood}};
}

inline Json the_case(const std::vector<Json>& entries) {
  return {{"format", "faultodds-case/1"}, {"observations", entries}};
}

using Ask = Answer (*)(const Json& circuit, const Json& the_case);

inline Answer by_engine(const Json& circuit, const Json& the_case) {
  const auto reply = oracle::ask_engine(circuit, the_case);
  INFO(reply.document.dump(1));
  REQUIRE(reply.status == FAULTODDS_OK);
  return oracle::from_assessment(reply.document);
}

inline Answer by_brute_force(const Json& circuit, const Json& the_case) {
  return oracle::assess(oracle::analyse(circuit), the_case);
}

// Calls `check` with a test's information about the cause, from a side that gives it.
template <class Check>
void told(const Answer& answer, const char* test, Check check) {
  if (const auto bits = answer.tests.at(test).cause_bits) check(*bits);
}

// P(cause | evidence): not sound.
inline double probability(const Answer& answer, const std::string& cause) {
  return 1 - answer.faults.at("all." + cause).grades[0];
}

}  // namespace published
