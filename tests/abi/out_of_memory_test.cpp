// Memory that runs out at any point of a call gives FAULTODDS_OUT_OF_MEMORY, and nothing is lost:
// operator new of this program, which the library uses too, is made to fail at a chosen allocation.
#include <catch2/catch.hpp>
#include <cstdlib>
#include <cstring>
#include <fstream>
#include <new>
#include <nlohmann/json.hpp>
#include <string>

#include "faultodds_network.h"

#include "tests/sanitized.h"
#include "tests/until.h"

namespace {

// Of this thread, while `armed`.
struct Allocations {
  bool armed = false;
  long until_failure = 0;
  long living = 0;
  bool failed = false;
};
thread_local Allocations allocations;

void* allocate(std::size_t size, std::size_t alignment) noexcept {
  if (allocations.armed) ++allocations.living;
  if (size == 0) size = 1;
  return alignment <= alignof(std::max_align_t)
             ? std::malloc(size)
             : std::aligned_alloc(alignment, (size + alignment - 1) / alignment * alignment);
}

void* allocate_or_throw(std::size_t size, std::size_t alignment) {
  if (allocations.armed && allocations.until_failure-- == 0) {
    allocations.failed = true;
    throw std::bad_alloc();
  }
  void* const memory = allocate(size, alignment);
  if (memory == nullptr) throw std::bad_alloc();
  return memory;
}

void release(void* memory) noexcept {
  if (allocations.armed && memory != nullptr) --allocations.living;
  std::free(memory);
}

}  // namespace

void* operator new(std::size_t size) { return allocate_or_throw(size, 1); }
void* operator new(std::size_t size, std::align_val_t alignment) {
  return allocate_or_throw(size, static_cast<std::size_t>(alignment));
}
void* operator new(std::size_t size, const std::nothrow_t&) noexcept { return allocate(size, 1); }
void operator delete(void* memory) noexcept { release(memory); }
void operator delete(void* memory, std::size_t) noexcept { release(memory); }
void operator delete(void* memory, std::align_val_t) noexcept { release(memory); }
void operator delete(void* memory, std::size_t, std::align_val_t) noexcept { release(memory); }
void operator delete(void* memory, const std::nothrow_t&) noexcept { release(memory); }

namespace {

struct Documents {
  std::string circuit, the_case, priors;
};

Documents documents() {
  std::ifstream file(VECTORS "/bad_documents.json");
  const auto table = nlohmann::json::parse(file);
  return {table.at("circuit").dump(), table.at("case").dump(), table.at("priors").dump()};
}

// Calls `attempt` with ever more allocations granted, until one call has all it needs. Every
// allocation is tried at first, then a hundredth more each time.
constexpr long kShare = tests::kSanitized ? 20 : 100;

template <typename Attempt>
long grant_until_enough(Attempt attempt) {
  REQUIRE(attempt() == FAULTODDS_OK);  // constants of the library are made now, once and for all
  for (long granted = 0;; granted += 1 + granted / kShare) {
    allocations = {true, granted, 0, false};
    const faultodds_status status = attempt();
    allocations.armed = false;
    CAPTURE(granted);
    CHECK(allocations.living == 0);
    if (!allocations.failed) {
      CHECK(status == FAULTODDS_OK);
      return granted;
    }
    // Some allocations it can do without: those that only give unused memory back.
    if (status != FAULTODDS_OUT_OF_MEMORY && status != FAULTODDS_OK) {
      FAIL("status " << faultodds_status_name(status));
    }
  }
}

}  // namespace

TEST_CASE("the one call survives the failure of any allocation") {
  const Documents in = documents();
  const long needed = grant_until_enough([&] {
    char* answer = nullptr;
    char* error = nullptr;
    const faultodds_status status = faultodds_assess_json(
        in.circuit.data(), in.circuit.size(), in.the_case.data(), in.the_case.size(),
        in.priors.data(), in.priors.size(), nullptr, &answer, &error);
    if ((answer == nullptr) == (status == FAULTODDS_OK)) std::abort();
    faultodds_free(answer);
    faultodds_free(error);
    return status;
  });
  CHECK(needed > 100);
}

TEST_CASE("a model and a case survive the failure of any allocation") {
  const Documents in = documents();
  grant_until_enough([&] {
    faultodds_model* model = nullptr;
    faultodds_case* the_case = nullptr;
    faultodds_error* error = nullptr;
    char* answer = nullptr;
    faultodds_status status = faultodds_model_load(in.circuit.data(), in.circuit.size(), nullptr, 0,
                                                   nullptr, &model, &error);
    if (status == FAULTODDS_OK) status = faultodds_case_open(model, &the_case, nullptr);
    if (status == FAULTODDS_OK) status = faultodds_case_observe_outcome(the_case, 0, 1, nullptr);
    if (status == FAULTODDS_OK) status = faultodds_case_assess(the_case, nullptr, nullptr);
    if (status == FAULTODDS_OK)
      status = faultodds_case_answer_json(the_case, nullptr, &answer, nullptr);
    faultodds_free(answer);
    faultodds_error_free(error);
    faultodds_case_free(the_case);
    faultodds_model_free(model);
    return status;
  });
}

TEST_CASE("a note, a plan and a record survive the failure of any allocation") {
  const Documents in = documents();
  const std::string closing =
      R"({"format": "faultodds-closing/1", "work_order": "7", "closed": "2026-03-31"})";
  grant_until_enough([&] {
    faultodds_model* model = nullptr;
    char *note = nullptr, *plan = nullptr, *record = nullptr;
    faultodds_status status = faultodds_model_load(in.circuit.data(), in.circuit.size(), nullptr, 0,
                                                   nullptr, &model, nullptr);
    if (status == FAULTODDS_OK) {
      status = faultodds_model_note(model, in.the_case.data(), in.the_case.size(),
                                    FAULTODDS_NOTE_HTML, nullptr, &note, nullptr);
    }
    if (status == FAULTODDS_OK) {
      status = faultodds_model_plan(model, in.the_case.data(), in.the_case.size(),
                                    FAULTODDS_PLAN_HTML, nullptr, &plan, nullptr);
    }
    if (status == FAULTODDS_OK) {
      status =
          faultodds_model_close(model, in.the_case.data(), in.the_case.size(), closing.data(),
                                closing.size(), FAULTODDS_RECORD_JSON, nullptr, &record, nullptr);
    }
    faultodds_free(note);
    faultodds_free(plan);
    faultodds_free(record);
    faultodds_model_free(model);
    return status;
  });
}

TEST_CASE("a network and a case on it survive the failure of any allocation") {
  const std::string bif =
      "variable a { type discrete [ 2 ] { x, y }; } variable b { type discrete [ 2 ] { x, y }; }"
      "probability ( a ) { table 0.5 0.5; } probability ( b | a ) { default 0.5 0.5; (y) 0 1; }";
  const std::string xml =
      "<BIF><NETWORK><VARIABLE><NAME>a</NAME><OUTCOME>x</OUTCOME></VARIABLE>"
      "<DEFINITION><FOR>a</FOR><TABLE>1</TABLE></DEFINITION></NETWORK></BIF>";
  grant_until_enough([&] {
    faultodds_network* network = nullptr;
    faultodds_network* other = nullptr;
    faultodds_network_case* the_case = nullptr;
    faultodds_error* error = nullptr;
    double posteriors[4], log_evidence = 0;
    std::size_t written = 0;
    faultodds_network_evidence evidence[2] = {};
    evidence[0].struct_size = evidence[1].struct_size = sizeof evidence[0];
    evidence[0].state = 1;
    evidence[1].variable = 1;
    faultodds_status status =
        faultodds_network_load(bif.data(), bif.size(), FAULTODDS_BIF, nullptr, &network, &error);
    if (status == FAULTODDS_OK) {
      status = faultodds_network_load(xml.data(), xml.size(), FAULTODDS_XMLBIF, nullptr, &other,
                                      nullptr);
    }
    if (status == FAULTODDS_OK) {
      status = faultodds_network_query(network, evidence, 1, nullptr, posteriors, 4, &written,
                                       &log_evidence, nullptr);
    }
    if (status == FAULTODDS_OK) {
      // Impossible evidence: the search for the conflict allocates too.
      status = faultodds_network_query(network, evidence, 2, nullptr, posteriors, 4, &written,
                                       &log_evidence, nullptr);
      if (status == FAULTODDS_CONFLICTING_EVIDENCE) status = FAULTODDS_OK;
    }
    if (status == FAULTODDS_OK) status = faultodds_network_case_open(network, &the_case, nullptr);
    if (status == FAULTODDS_OK) {
      status = faultodds_network_case_observe(the_case, evidence, nullptr);
    }
    if (status == FAULTODDS_OK) {
      status = faultodds_network_case_solve(the_case, nullptr, &log_evidence, nullptr);
    }
    faultodds_error_free(error);
    faultodds_network_case_free(the_case);
    faultodds_network_free(network);
    faultodds_network_free(other);
    return status;
  });
}

TEST_CASE(
    "what is asked of a model and a case survives the failure of any allocation, and they are good "
    "afterwards") {
  const Documents in = documents();
  faultodds_model* model = nullptr;
  REQUIRE(faultodds_model_load(in.circuit.data(), in.circuit.size(), nullptr, 0, nullptr, &model,
                               nullptr) == FAULTODDS_OK);
  const std::string entry =
      R"({"observation":"static/valve.a","reading":{"leak_rate":"40 mL/min"}})";
  const std::string repair = R"({"repaired":["port_relief"]})";
  double first = 0;
  grant_until_enough([&] {
    faultodds_case* cases[2] = {};
    faultodds_cancel* cancel = nullptr;
    char *document = nullptr, *answer = nullptr;
    uint32_t mode = 0, observation = 0;
    double log_evidence = 0;
    faultodds_status status = faultodds_cancel_new(&cancel, nullptr);
    const auto next = [&](auto call) {
      if (status == FAULTODDS_OK) status = call();
    };
    next([&] {
      return faultodds_model_find(model, FAULTODDS_MODE, "ram.rod_leak", 12, &mode, nullptr);
    });
    next([&] {
      return faultodds_model_find(model, FAULTODDS_OBSERVATION, "wet_rod", 7, &observation,
                                  nullptr);
    });
    next([&] { return faultodds_model_describe_json(model, nullptr, &document, nullptr); });
    for (faultodds_case*& each : cases) {
      next([&] { return faultodds_case_open(model, &each, nullptr); });
      next([&] {
        return faultodds_case_observe_json(each, entry.data(), entry.size(), nullptr, nullptr);
      });
      next([&] {
        return faultodds_case_observe_json(each, repair.data(), repair.size(), nullptr, nullptr);
      });
      next([&] { return faultodds_case_retract(each, observation, nullptr); });
      next([&] { return faultodds_case_setup_done(each, "lockout", 7, nullptr); });
    }
    next([&] { return faultodds_cases_assess(cases, 2, 1, Until(cancel), nullptr, nullptr); });
    next([&] {
      faultodds_case_summary summary{};
      summary.struct_size = sizeof summary;
      const faultodds_status read = faultodds_case_read_summary(cases[1], &summary, nullptr);
      log_evidence = summary.log_evidence;
      return read;
    });
    if (status == FAULTODDS_OK) {
      if (first == 0) first = log_evidence;
      if (log_evidence != first) std::abort();
    }
    faultodds_free(document);
    faultodds_free(answer);
    for (faultodds_case* each : cases) faultodds_case_free(each);
    faultodds_cancel_free(cancel);
    return status;
  });
  faultodds_model_free(model);
}

TEST_CASE("learning, merging and comparing survive the failure of any allocation") {
  const Documents in = documents();
  std::string rows = "work_order,closed,asset_class,component,finding,grade\r\n";
  for (int i = 10; i < 28; ++i) {
    rows += std::to_string(i) + ",2024-02-" + std::to_string(i) +
            ",balers,port_relief,seat_leak,failed\r\n";
  }
  faultodds_records records{};
  records.struct_size = sizeof records;
  records.text = rows.data();
  records.text_len = rows.size();
  grant_until_enough([&] {
    faultodds_status status = FAULTODDS_OK;
    char* packs[2] = {};
    char *summary = nullptr, *merged = nullptr, *difference = nullptr;
    for (int i = 0; i < 2 && status == FAULTODDS_OK; ++i) {
      faultodds_learn_options options{};
      options.struct_size = sizeof options;
      options.source = i == 0 ? "a" : "b";
      options.source_len = 1;
      status = faultodds_priors_learn(&records, nullptr, &options, &packs[i],
                                      i == 0 ? &summary : nullptr, nullptr);
      if (i == 0) {
        faultodds_free(summary);
        summary = nullptr;
      }
    }
    if (status == FAULTODDS_OK) {
      const std::size_t lengths[2] = {std::strlen(packs[0]), std::strlen(packs[1])};
      status = faultodds_priors_merge(packs, lengths, 2, nullptr, &merged, nullptr);
    }
    if (status == FAULTODDS_OK) {
      status = faultodds_priors_diff_json(packs[0], std::strlen(packs[0]), merged,
                                          std::strlen(merged), nullptr, &difference, nullptr);
    }
    for (char* pack : packs) faultodds_free(pack);
    faultodds_free(merged);
    faultodds_free(difference);
    return status;
  });
}

TEST_CASE("a backtest survives the failure of any allocation") {
  const Documents in = documents();
  std::string rows =
      "work_order,opened,closed,asset_class,component,position,finding,grade,complaint,tests\r\n";
  for (int i = 10; i < 22; ++i) {
    rows += std::to_string(i) + ",2024-02-01,2024-02-" + std::to_string(i) + ",balers," +
            (i % 3 == 0 ? "ram,ram,rod_leak,failed" : "relief,port_relief,seat_leak,failed") +
            ",drift/ram/retract=fast,static/valve.a=held\r\n";
  }
  faultodds_records records{};
  records.struct_size = sizeof records;
  records.text = rows.data();
  records.text_len = rows.size();
  // With the pack offered, and with one that is learned on the way.
  for (const std::string& offered : {in.priors, std::string()}) {
    std::string first;
    grant_until_enough([&] {
      faultodds_backtest_options options{};
      options.struct_size = sizeof options;
      options.after = offered.empty() ? nullptr : offered.data();
      options.after_len = offered.size();
      char* answer = nullptr;
      faultodds_error* error = nullptr;
      const faultodds_status status = faultodds_priors_backtest_json(
          in.circuit.data(), in.circuit.size(), &records, &options, &answer, &error);
      if ((answer == nullptr) == (status == FAULTODDS_OK)) std::abort();
      const bool same = answer == nullptr || first.empty() || first == answer;
      if (first.empty() && answer != nullptr) first = answer;  // the round in which none fails
      if (!same) std::abort();
      faultodds_free(answer);
      faultodds_error_free(error);
      return status;
    });
    CHECK(first.find("\"jobs\":12,") != std::string::npos);
  }
}

TEST_CASE("queries of a network allocate nothing once one was answered, nor does an open case") {
  // Two evidence nodes so improbable that logarithms are needed, and one that is plain.
  const std::string bif =
      "variable a { type discrete [ 2 ] { x, y }; } variable b { type discrete [ 2 ] { x, y }; }"
      "probability ( a ) { table 0.5 0.5; } probability ( b | a ) { (x) 0.1 0.9; (y) 0.2 0.8; }";
  faultodds_network* network = nullptr;
  faultodds_network_case* the_case = nullptr;
  REQUIRE(faultodds_network_load(bif.data(), bif.size(), FAULTODDS_BIF, nullptr, &network,
                                 nullptr) == FAULTODDS_OK);
  REQUIRE(faultodds_network_case_open(network, &the_case, nullptr) == FAULTODDS_OK);
  const double steep[2] = {1, 1e-300};
  faultodds_network_evidence evidence[3] = {};
  for (auto& entry : evidence) entry.struct_size = sizeof entry;
  evidence[0].variable = 1;
  evidence[1].state = evidence[2].state = -1;
  evidence[1].likelihood = evidence[2].likelihood = steep;
  evidence[1].likelihood_count = evidence[2].likelihood_count = 2;
  double posteriors[4], log_evidence = 0;
  std::size_t written = 0;
  const auto query = [&](std::size_t count) {
    return faultodds_network_query(network, evidence, count, nullptr, posteriors, 4, &written,
                                   &log_evidence, nullptr) == FAULTODDS_OK;
  };
  REQUIRE(query(1));
  allocations = {true, 0, 0, false};
  bool good = true;
  for (std::size_t round = 0; round < 10; ++round) good = good && query(round % 4);
  for (const auto& entry : evidence) {
    good =
        good && faultodds_network_case_observe(the_case, &entry, nullptr) == FAULTODDS_OK &&
        faultodds_network_case_solve(the_case, nullptr, &log_evidence, nullptr) == FAULTODDS_OK &&
        faultodds_network_case_posteriors(the_case, posteriors, 4, &written, nullptr) ==
            FAULTODDS_OK;
  }
  good = good && faultodds_network_case_retract(the_case, 0, nullptr) == FAULTODDS_OK;
  const bool allocated = allocations.failed;
  allocations.armed = false;
  CHECK(good);
  CHECK_FALSE(allocated);
  faultodds_network_case_free(the_case);
  faultodds_network_free(network);
}

TEST_CASE("a refused document loses no memory") {
  const std::string bad = R"({"format": "faultodds-circuit/1", "id": "x", "components": [7]})";
  allocations = {true, -1, 0, false};
  for (int round = 0; round < 100; ++round) {
    faultodds_model* model = nullptr;
    faultodds_error* error = nullptr;
    if (faultodds_model_load(bad.data(), bad.size(), nullptr, 0, nullptr, &model, &error) !=
        FAULTODDS_INVALID_DOCUMENT) {
      std::abort();
    }
    faultodds_error_free(error);
  }
  allocations.armed = false;
  CHECK(allocations.living == 0);
}
