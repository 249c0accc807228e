// One call of the engine's C interface with JSON values, for tests that compare it.
#pragma once

#include <catch2/catch.hpp>
#include <memory>
#include <string>
#include <vector>

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

// The case, asked for the whole answer.
inline std::string in_full(Json the_case) {
  the_case["detail"] = "full";
  return the_case.dump();
}

inline Reply ask_engine(const Json& circuit, const Json& the_case, const Json& pack = no_priors()) {
  const std::string circuit_text = circuit.dump(), case_text = in_full(the_case),
                    pack_text = pack.dump();
  char *answer = nullptr, *error = nullptr;
  Reply reply;
  reply.status = faultodds_assess_json(circuit_text.data(), circuit_text.size(), case_text.data(),
                                       case_text.size(), pack_text.data(), pack_text.size(),
                                       nullptr, &answer, &error);
  const std::unique_ptr<char, void (*)(char*)> answer_owner(answer, faultodds_free),
      error_owner(error, faultodds_free);
  REQUIRE((answer == nullptr) != (error == nullptr));
  reply.document = Json::parse(answer ? answer : error);
  return reply;
}

// A circuit loaded once.
class LoadedModel {
 public:
  LoadedModel(const Json& circuit, const Json& pack, const std::string& asset_class) {
    REQUIRE(load(circuit, pack, asset_class, 0) == FAULTODDS_OK);
  }
  // With a budget of inference tables in bytes; afterwards status() says whether it was enough.
  LoadedModel(const Json& circuit, const Json& pack, const std::string& asset_class,
              std::uint64_t memory_budget)
      : status_(load(circuit, pack, asset_class, memory_budget)) {}

  faultodds_status status() const { return status_; }
  const faultodds_model* get() const { return model_.get(); }

  Json describe() const {
    char* document = nullptr;
    REQUIRE(faultodds_model_describe_json(model_.get(), nullptr, &document, nullptr) ==
            FAULTODDS_OK);
    const std::unique_ptr<char, void (*)(char*)> owner(document, faultodds_free);
    return Json::parse(document);
  }

  Reply assess(const Json& the_case) const { return ask(in_full(the_case)); }
  Reply assess_for_screen(const Json& the_case) const { return ask(the_case.dump()); }

 private:
  Reply ask(const std::string& text) const {
    char* answer = nullptr;
    Reply reply;
    reply.status = faultodds_model_assess_json(model_.get(), text.data(), text.size(), nullptr,
                                               &answer, nullptr);
    const std::unique_ptr<char, void (*)(char*)> owner(answer, faultodds_free);
    if (answer) reply.document = Json::parse(answer);
    return reply;
  }

  faultodds_status load(const Json& circuit, const Json& pack, const std::string& asset_class,
                        std::uint64_t memory_budget) {
    const std::string circuit_text = circuit.dump(), pack_text = pack.dump();
    faultodds_model_options options{};
    options.struct_size = sizeof options;
    options.memory_budget = memory_budget;
    options.asset_class = asset_class.data();
    options.asset_class_len = asset_class.size();
    faultodds_model* model = nullptr;
    faultodds_error* error = nullptr;
    const auto status =
        faultodds_model_load(circuit_text.data(), circuit_text.size(), pack_text.data(),
                             pack_text.size(), &options, &model, &error);
    UNSCOPED_INFO(faultodds_error_message(error));
    faultodds_error_free(error);
    model_.reset(model);
    return status;
  }

  std::unique_ptr<faultodds_model, void (*)(faultodds_model*)> model_{nullptr,
                                                                      faultodds_model_free};
  faultodds_status status_ = FAULTODDS_OK;
};

// A case by typed calls. Outcomes and likelihoods go in by index, readings as JSON.
class OpenCase {
 public:
  explicit OpenCase(const LoadedModel& model) : model_(&model) {
    faultodds_case* made = nullptr;
    REQUIRE(faultodds_case_open(model.get(), &made, nullptr) == FAULTODDS_OK);
    case_.reset(made);
  }

  void observe(const Json& entry) {
    const std::uint32_t observation = index(entry["observation"]);
    faultodds_status status = FAULTODDS_OK;
    const bool plain = !entry.contains("at") && !entry.contains("again");
    if (plain && entry.contains("likelihood")) {
      const double likelihood[3] = {entry["likelihood"][0], entry["likelihood"][1],
                                    entry["likelihood"][2]};
      status = faultodds_case_observe_likelihood(case_.get(), observation, likelihood, nullptr);
    } else if (plain && entry.contains("outcome")) {
      std::uint32_t outcome = 0;
      while (entry["outcome"] != faultodds_model_outcome_id(model_->get(), observation, outcome)) {
        ++outcome;
      }
      status = faultodds_case_observe_outcome(case_.get(), observation, outcome, nullptr);
    } else {
      const std::string text = entry.dump();
      status = faultodds_case_observe_json(case_.get(), text.data(), text.size(), nullptr, nullptr);
    }
    REQUIRE(status == FAULTODDS_OK);
  }

  void retract(const std::string& observation) {
    REQUIRE(faultodds_case_retract(case_.get(), index(observation), nullptr) == FAULTODDS_OK);
  }

  faultodds_status assess() { return faultodds_case_assess(case_.get(), nullptr, nullptr); }

  faultodds_case_summary summary() const {
    faultodds_case_summary summary{};
    summary.struct_size = sizeof summary;
    REQUIRE(faultodds_case_read_summary(case_.get(), &summary, nullptr) == FAULTODDS_OK);
    return summary;
  }

  double log_evidence() const { return summary().log_evidence; }

  std::vector<double> posteriors() const {
    std::vector<double> grades(3 * faultodds_model_count(model_->get(), FAULTODDS_MODE));
    std::size_t count = 0;
    REQUIRE(faultodds_case_posteriors(case_.get(), grades.data(), grades.size(), &count, nullptr) ==
            FAULTODDS_OK);
    REQUIRE(count == grades.size());
    return grades;
  }

  std::vector<faultodds_ranked_test> tests() const {
    std::vector<faultodds_ranked_test> all(summary().test_count);
    for (std::uint32_t rank = 0; rank < all.size(); ++rank) {
      all[rank].struct_size = sizeof all[rank];
      REQUIRE(faultodds_case_test(case_.get(), rank, &all[rank], nullptr) == FAULTODDS_OK);
    }
    return all;
  }

 private:
  std::uint32_t index(const std::string& observation) const {
    std::uint32_t found = 0;
    REQUIRE(faultodds_model_find(model_->get(), FAULTODDS_OBSERVATION, observation.data(),
                                 observation.size(), &found, nullptr) == FAULTODDS_OK);
    return found;
  }

  const LoadedModel* model_;
  std::unique_ptr<faultodds_case, void (*)(faultodds_case*)> case_{nullptr, faultodds_case_free};
};

}  // namespace oracle
