// Many cases of one model at once, through the C interface.
#include <catch2/catch.hpp>
#include <fstream>
#include <nlohmann/json.hpp>
#include <random>
#include <string>
#include <vector>

#include "faultodds.h"

using nlohmann::json;

namespace {

struct Batch {
  faultodds_model* model = nullptr;
  std::vector<faultodds_case*> cases;

  Batch() {
    std::ifstream file(VECTORS "/bad_documents.json");
    const std::string circuit = json::parse(file).at("circuit").dump();
    REQUIRE(faultodds_model_load(circuit.data(), circuit.size(), nullptr, 0, nullptr, &model,
                                 nullptr) == FAULTODDS_OK);
  }
  Batch(const Batch&) = delete;
  Batch& operator=(const Batch&) = delete;
  ~Batch() {
    for (faultodds_case* one : cases) faultodds_case_free(one);
    faultodds_model_free(model);
  }
  // Cases with outcomes of up to three observations; few patterns, so that lanes are shared.
  void open(std::size_t count, unsigned seed) {
    std::mt19937 random(seed);
    for (std::size_t i = 0; i < count; ++i) {
      faultodds_case* one = nullptr;
      REQUIRE(faultodds_case_open(model, &one, nullptr) == FAULTODDS_OK);
      cases.push_back(one);
      for (std::uint32_t k = random() % 4; k > 0; --k) {
        const std::uint32_t o = k - 1;
        const std::uint32_t outcome =
            static_cast<std::uint32_t>(random() % faultodds_model_outcome_count(model, o));
        REQUIRE(faultodds_case_observe_outcome(one, o, outcome, nullptr) == FAULTODDS_OK);
      }
    }
  }
  std::string answer(std::size_t i) const {
    char* text = nullptr;
    REQUIRE(faultodds_case_answer_json(cases[i], nullptr, &text, nullptr) == FAULTODDS_OK);
    const std::string copy = text;
    faultodds_free(text);
    return copy;
  }
};

}  // namespace

TEST_CASE(
    "a batch gives each case the answer it gets alone, byte for byte, on any number of threads") {
  Batch batch;
  batch.open(101, 1);  // not a multiple of the lanes
  std::vector<std::string> alone;
  for (std::size_t i = 0; i < batch.cases.size(); ++i) {
    REQUIRE(faultodds_case_assess(batch.cases[i], nullptr, nullptr) == FAULTODDS_OK);
    alone.push_back(batch.answer(i));
  }
  for (const std::uint32_t threads : {0u, 1u, 2u, 7u, 1000u}) {
    std::vector<faultodds_status> statuses(batch.cases.size(), FAULTODDS_INTERNAL);
    REQUIRE(faultodds_cases_assess(batch.cases.data(), batch.cases.size(), threads, nullptr,
                                   statuses.data(), nullptr) == FAULTODDS_OK);
    for (std::size_t i = 0; i < batch.cases.size(); ++i) {
      CHECK(statuses[i] == FAULTODDS_OK);
      CHECK(batch.answer(i) == alone[i]);
    }
  }
}

TEST_CASE("a case of a batch that cannot be assessed is named and does not hold up the others") {
  Batch batch;
  batch.open(20, 2);
  const double sound[3] = {1, 0, 0}, failed[3] = {0, 0, 1};
  REQUIRE(faultodds_case_observe_likelihood(batch.cases[7], 0, sound, nullptr) == FAULTODDS_OK);
  REQUIRE(faultodds_case_observe_likelihood(batch.cases[7], 0, failed, nullptr) == FAULTODDS_OK);
  std::vector<faultodds_status> statuses(20, FAULTODDS_OK);
  faultodds_error* error = nullptr;
  CHECK(faultodds_cases_assess(batch.cases.data(), 20, 2, nullptr, statuses.data(), &error) ==
        FAULTODDS_CONFLICTING_EVIDENCE);
  CHECK(std::string(faultodds_error_pointer(error)).rfind("/cases/7", 0) == 0);
  faultodds_error_free(error);
  for (std::size_t i = 0; i < 20; ++i) {
    CHECK(statuses[i] == (i == 7 ? FAULTODDS_CONFLICTING_EVIDENCE : FAULTODDS_OK));
    faultodds_case_summary summary{};
    summary.struct_size = sizeof summary;
    CHECK(faultodds_case_read_summary(batch.cases[i], &summary, nullptr) ==
          (i == 7 ? FAULTODDS_INVALID_ARGUMENT : FAULTODDS_OK));
  }
}

TEST_CASE("a batch with no case, a missing case, one case twice or another model's case") {
  Batch batch, other;
  batch.open(3, 3);
  other.open(1, 3);
  CHECK(faultodds_cases_assess(nullptr, 0, 1, nullptr, nullptr, nullptr) == FAULTODDS_OK);
  CHECK(faultodds_cases_assess(nullptr, 1, 1, nullptr, nullptr, nullptr) ==
        FAULTODDS_INVALID_ARGUMENT);
  faultodds_case* missing[2] = {batch.cases[0], nullptr};
  CHECK(faultodds_cases_assess(missing, 2, 1, nullptr, nullptr, nullptr) ==
        FAULTODDS_INVALID_ARGUMENT);
  faultodds_case* twice[2] = {batch.cases[0], batch.cases[0]};
  CHECK(faultodds_cases_assess(twice, 2, 1, nullptr, nullptr, nullptr) ==
        FAULTODDS_INVALID_ARGUMENT);
  faultodds_case* foreign[2] = {batch.cases[0], other.cases[0]};
  CHECK(faultodds_cases_assess(foreign, 2, 1, nullptr, nullptr, nullptr) ==
        FAULTODDS_INVALID_ARGUMENT);
}
