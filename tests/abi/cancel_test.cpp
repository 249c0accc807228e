// Calls that are ended: by another thread, by their time, or before they begin. Whatever they were
// given is good for the next call.
#include <array>
#include <catch2/catch.hpp>
#include <chrono>
#include <cstddef>
#include <cstring>
#include <fstream>
#include <memory>
#include <nlohmann/json.hpp>
#include <string>
#include <thread>
#include <vector>

#include "faultodds.h"

#include "tests/network_options.h"
#include "tests/until.h"

namespace cancel_test {

namespace {

struct Free {
  void operator()(faultodds_cancel* p) const { faultodds_cancel_free(p); }
  void operator()(faultodds_model* p) const { faultodds_model_free(p); }
  void operator()(faultodds_case* p) const { faultodds_case_free(p); }
  void operator()(faultodds_network* p) const { faultodds_network_free(p); }
  void operator()(faultodds_network_case* p) const { faultodds_network_case_free(p); }
  void operator()(faultodds_error* p) const { faultodds_error_free(p); }
  void operator()(char* p) const { faultodds_free(p); }
};
template <typename T>
using Owned = std::unique_ptr<T, Free>;

Owned<faultodds_cancel> token() {
  faultodds_cancel* made = nullptr;
  REQUIRE(faultodds_cancel_new(&made, nullptr) == FAULTODDS_OK);
  return Owned<faultodds_cancel>(made);
}

Owned<faultodds_cancel> spent() {
  auto made = token();
  faultodds_cancel_now(made.get());
  return made;
}

const nlohmann::ordered_json& table() {
  static const auto all = [] {
    std::ifstream file(VECTORS "/bad_documents.json");
    return nlohmann::ordered_json::parse(file);
  }();
  return all;
}
const std::string& circuit() {
  static const std::string text = table().at("circuit").dump();
  return text;
}
const std::string& the_case() {
  static const std::string text = table().at("case").dump();
  return text;
}

// Calls with nothing to end it, with one already spent, and with nothing again.
template <typename Call>
void ends_and_works_again(Call call) {
  const auto gone = spent();
  CHECK(call(nullptr) == FAULTODDS_OK);
  CHECK(call(gone.get()) == FAULTODDS_CANCELLED);
  faultodds_cancel_reset(gone.get());
  CHECK(call(gone.get()) == FAULTODDS_OK);
}

faultodds_status load(const faultodds_cancel* cancel, faultodds_model** model,
                      faultodds_error** error = nullptr) {
  faultodds_model_options options{};
  options.struct_size = sizeof options;
  options.cancel = cancel;
  return faultodds_model_load(circuit().data(), circuit().size(), nullptr, 0, &options, model,
                              error);
}

Owned<faultodds_model> loaded() {
  faultodds_model* model = nullptr;
  REQUIRE(load(nullptr, &model) == FAULTODDS_OK);
  return Owned<faultodds_model>(model);
}

// A grid of two-state variables, each with the one above and the one before it as parents: exact
// inference is as wide as the grid.
std::string grid(int side) {
  std::string text;
  const auto name = [](int row, int column) {
    return "v" + std::to_string(row) + "_" + std::to_string(column);
  };
  for (int r = 0; r < side; ++r) {
    for (int c = 0; c < side; ++c) {
      text += "variable " + name(r, c) + " { type discrete [ 2 ] { x, y }; }\n";
      std::vector<std::string> parents;
      if (r > 0) parents.push_back(name(r - 1, c));
      if (c > 0) parents.push_back(name(r, c - 1));
      text += "probability ( " + name(r, c);
      for (std::size_t i = 0; i < parents.size(); ++i) text += (i == 0 ? " | " : ", ") + parents[i];
      text += " ) { ";
      text += parents.empty() ? "table 0.4 0.6; }\n" : "default 0.3 0.7; }\n";
    }
  }
  return text;
}

}  // namespace

TEST_CASE("a spent token ends the one call, and its error says so") {
  ends_and_works_again([&](const faultodds_cancel* cancel) {
    char *answer = nullptr, *error = nullptr;
    const faultodds_status status =
        faultodds_assess_json(circuit().data(), circuit().size(), the_case().data(),
                              the_case().size(), nullptr, 0, Until(cancel), &answer, &error);
    const Owned<char> owned_answer(answer), owned_error(error);
    CHECK((answer != nullptr) == (status == FAULTODDS_OK));
    if (status == FAULTODDS_CANCELLED)
      CHECK(std::string(error).find("cancelled") != std::string::npos);
    return status;
  });
}

TEST_CASE("a spent token ends the loading of a model") {
  ends_and_works_again([&](const faultodds_cancel* cancel) {
    faultodds_model* model = nullptr;
    faultodds_error* error = nullptr;
    const faultodds_status status = load(cancel, &model, &error);
    const Owned<faultodds_model> owned(model);
    const Owned<faultodds_error> owned_error(error);
    CHECK((model != nullptr) == (status == FAULTODDS_OK));
    CHECK(faultodds_error_code(error) == status);
    return status;
  });
}

TEST_CASE("a spent token ends describing, closing, comparing and observing") {
  const auto model = loaded();
  const std::string closing =
      R"({"format":"faultodds-closing/1","work_order":"7","closed":"2026-03-31"})";
  const auto pack = [](const std::string& id) {
    return R"({"format":"faultodds-priors/1","id":")" + id + R"(","modes":[]})";
  };
  const auto gives_text = [](auto call) {
    ends_and_works_again([&](const faultodds_cancel* cancel) {
      char* text = nullptr;
      const faultodds_status status = call(cancel, &text);
      const Owned<char> owned(text);
      return status;
    });
  };
  gives_text([&](const faultodds_cancel* cancel, char** text) {
    return faultodds_model_describe_json(model.get(), Until(cancel), text, nullptr);
  });
  gives_text([&](const faultodds_cancel* cancel, char** text) {
    return faultodds_model_close(model.get(), the_case().data(), the_case().size(), closing.data(),
                                 closing.size(), FAULTODDS_RECORD_JSON, Until(cancel), text,
                                 nullptr);
  });
  const std::string first = pack("a");
  gives_text([&](const faultodds_cancel* cancel, char** text) {
    return faultodds_priors_diff_json(nullptr, 0, first.data(), first.size(), Until(cancel), text,
                                      nullptr);
  });
  faultodds_case* opened = nullptr;
  REQUIRE(faultodds_case_open(model.get(), &opened, nullptr) == FAULTODDS_OK);
  const Owned<faultodds_case> owned(opened);
  const std::string entry = R"({"repaired":[]})";
  ends_and_works_again([&](const faultodds_cancel* cancel) {
    return faultodds_case_observe_json(opened, entry.data(), entry.size(), Until(cancel), nullptr);
  });
}

// What is ready of a plan is its card; the drawing behind it comes last.
TEST_CASE("a card for which the time is over is given as far as it is, without its drawing") {
  const auto model = loaded();
  const auto cancel = token();
  int without_drawing = 0, whole = 0;
  for (std::uint64_t wait = 1; whole == 0 && wait < 20'000; wait += wait / 8 + 1) {
    faultodds_cancel_reset(cancel.get());
    faultodds_cancel_after_ms(cancel.get(), wait);
    char* card = nullptr;
    const faultodds_status status =
        faultodds_model_plan(model.get(), the_case().data(), the_case().size(), FAULTODDS_PLAN_HTML,
                             Until(cancel.get()), &card, nullptr);
    const Owned<char> owned(card);
    REQUIRE((status == FAULTODDS_OK || status == FAULTODDS_CANCELLED));
    if (status != FAULTODDS_OK) continue;
    ++(std::string(card).find("<figure") == std::string::npos ? without_drawing : whole);
  }
  CHECK(whole == 1);
  CHECK(without_drawing > 0);
}

TEST_CASE("a spent token ends assessments, notes and batches; cases keep what they know") {
  const auto model = loaded();
  ends_and_works_again([&](const faultodds_cancel* cancel) {
    char* answer = nullptr;
    const faultodds_status status = faultodds_model_assess_json(
        model.get(), the_case().data(), the_case().size(), Until(cancel), &answer, nullptr);
    const Owned<char> owned(answer);
    return status;
  });
  ends_and_works_again([&](const faultodds_cancel* cancel) {
    char* note = nullptr;
    const faultodds_status status =
        faultodds_model_note(model.get(), the_case().data(), the_case().size(), FAULTODDS_NOTE_TEXT,
                             Until(cancel), &note, nullptr);
    const Owned<char> owned(note);
    return status;
  });
  ends_and_works_again([&](const faultodds_cancel* cancel) {
    char* plan = nullptr;
    const faultodds_status status =
        faultodds_model_plan(model.get(), the_case().data(), the_case().size(), FAULTODDS_PLAN_JSON,
                             Until(cancel), &plan, nullptr);
    const Owned<char> owned(plan);
    return status;
  });
  std::array<Owned<faultodds_case>, 3> cases;
  std::array<faultodds_case*, 3> handles{};
  for (std::size_t i = 0; i < cases.size(); ++i) {
    REQUIRE(faultodds_case_open(model.get(), &handles[i], nullptr) == FAULTODDS_OK);
    cases[i].reset(handles[i]);
    REQUIRE(faultodds_case_observe_outcome(handles[i], 0, 1, nullptr) == FAULTODDS_OK);
  }
  ends_and_works_again([&](const faultodds_cancel* cancel) {
    return faultodds_case_assess(handles[0], Until(cancel), nullptr);
  });
  ends_and_works_again([&](const faultodds_cancel* cancel) {
    char* answer = nullptr;
    const faultodds_status status =
        faultodds_case_answer_json(handles[0], Until(cancel), &answer, nullptr);
    const Owned<char> owned(answer);
    return status;
  });
  ends_and_works_again([&](const faultodds_cancel* cancel) {
    std::array<faultodds_status, 3> statuses{};
    const faultodds_status status =
        faultodds_cases_assess(handles.data(), 3, 2, Until(cancel), statuses.data(), nullptr);
    for (const faultodds_status each : statuses) CHECK(each == status);
    return status;
  });
  const auto log_evidence_of = [&] {
    faultodds_case_summary summary{};
    summary.struct_size = sizeof summary;
    REQUIRE(faultodds_case_read_summary(handles[2], &summary, nullptr) == FAULTODDS_OK);
    return summary.log_evidence;
  };
  const double together = log_evidence_of();
  REQUIRE(faultodds_case_assess(handles[2], nullptr, nullptr) == FAULTODDS_OK);
  const double alone = log_evidence_of();
  CHECK(alone == together);
  CHECK(alone < 0);
}

TEST_CASE("a spent token ends the loading of a network, queries and open cases") {
  const std::string text = grid(3);
  ends_and_works_again([&](const faultodds_cancel* cancel) {
    faultodds_network* network = nullptr;
    const faultodds_status status = faultodds_network_load(
        text.data(), text.size(), FAULTODDS_BIF, NetworkOptions(0, cancel), &network, nullptr);
    const Owned<faultodds_network> owned(network);
    return status;
  });
  faultodds_network* network = nullptr;
  REQUIRE(faultodds_network_load(text.data(), text.size(), FAULTODDS_BIF, nullptr, &network,
                                 nullptr) == FAULTODDS_OK);
  const Owned<faultodds_network> owned(network);
  faultodds_network_case* opened = nullptr;
  REQUIRE(faultodds_network_case_open(network, &opened, nullptr) == FAULTODDS_OK);
  const Owned<faultodds_network_case> owned_case(opened);
  double log_evidence = 0;
  ends_and_works_again([&](const faultodds_cancel* cancel) {
    std::size_t written = 0;
    return faultodds_network_query(network, nullptr, 0, Until(cancel), nullptr, 0, &written,
                                   &log_evidence, nullptr);
  });
  ends_and_works_again([&](const faultodds_cancel* cancel) {
    return faultodds_network_case_solve(opened, Until(cancel), &log_evidence, nullptr);
  });
}

TEST_CASE("a spent token ends learning and replaying") {
  std::string rows = "work_order,closed,asset_class,component,finding,grade\r\n";
  for (int i = 1; i <= 28; ++i) {
    rows += std::to_string(i) + ",2024-02-" + (i < 10 ? "0" : "") + std::to_string(i) +
            ",balers,port_relief,seat_leak,failed\r\n";
  }
  faultodds_records records{};
  records.struct_size = sizeof records;
  records.text = rows.data();
  records.text_len = rows.size();
  ends_and_works_again([&](const faultodds_cancel* cancel) {
    faultodds_learn_options options{};
    options.struct_size = sizeof options;
    options.source = "yard";
    options.source_len = 4;
    options.cancel = cancel;
    char* pack = nullptr;
    const faultodds_status status =
        faultodds_priors_learn(&records, nullptr, &options, &pack, nullptr, nullptr);
    const Owned<char> owned(pack);
    return status;
  });
  const auto gone = spent();
  faultodds_backtest_options options{};
  options.struct_size = sizeof options;
  options.cancel = gone.get();
  char* answer = nullptr;
  CHECK(faultodds_priors_backtest_json(circuit().data(), circuit().size(), &records, &options,
                                       &answer, nullptr) == FAULTODDS_CANCELLED);
  CHECK(answer == nullptr);
}

TEST_CASE("another thread ends a call that would last") {
  // Tables of 2^26 entries to find out about, and a budget that allows it.
  const std::string text = grid(25);
  const auto cancel = token();
  std::thread other([&] {
    std::this_thread::sleep_for(std::chrono::milliseconds(50));
    faultodds_cancel_now(cancel.get());
  });
  faultodds_network* network = nullptr;
  faultodds_error* error = nullptr;
  const faultodds_status status = faultodds_network_load(
      text.data(), text.size(), FAULTODDS_BIF, NetworkOptions(std::uint64_t{1} << 40, cancel.get()),
      &network, &error);
  other.join();
  const Owned<faultodds_error> owned(error);
  CHECK(status == FAULTODDS_CANCELLED);
  CHECK(network == nullptr);
  CHECK(std::string(faultodds_error_message(error)) == "the call was cancelled");
}

TEST_CASE("a call ends when its time is over, and a later time takes the place of an earlier") {
  const std::string text = grid(25);
  const auto cancel = token();
  faultodds_cancel_after_ms(cancel.get(), 30);
  faultodds_network* network = nullptr;
  faultodds_error* error = nullptr;
  CHECK(faultodds_network_load(text.data(), text.size(), FAULTODDS_BIF,
                               NetworkOptions(std::uint64_t{1} << 40, cancel.get()), &network,
                               &error) == FAULTODDS_CANCELLED);
  CHECK(std::string(faultodds_error_message(error)) == "the call's time is over");
  faultodds_error_free(error);
  faultodds_cancel_after_ms(cancel.get(), UINT64_MAX);
  faultodds_model* model = nullptr;
  CHECK(load(cancel.get(), &model) == FAULTODDS_OK);
  faultodds_model_free(model);
}

TEST_CASE("wherever in its course the loading of a model is ended, it says that it was") {
  // The reading of what is inside the library too, which begins it.
  std::size_t ended = 0;
  for (int at = 0; at < 200; ++at) {
    const auto cancel = token();
    std::thread other([&] {
      std::this_thread::sleep_for(std::chrono::microseconds(10 * at));
      faultodds_cancel_now(cancel.get());
    });
    faultodds_model* model = nullptr;
    const faultodds_status status = load(cancel.get(), &model);
    other.join();
    CHECK((status == FAULTODDS_OK || status == FAULTODDS_CANCELLED));
    CHECK((model != nullptr) == (status == FAULTODDS_OK));
    faultodds_model_free(model);
    ended += status == FAULTODDS_CANCELLED;
  }
  CHECK(ended > 0);
}

TEST_CASE("nothing happens to a token that is none") {
  faultodds_cancel_now(nullptr);
  faultodds_cancel_after_ms(nullptr, 1);
  faultodds_cancel_reset(nullptr);
  faultodds_cancel_free(nullptr);
  faultodds_error* error = nullptr;
  CHECK(faultodds_cancel_new(nullptr, &error) == FAULTODDS_INVALID_ARGUMENT);
  faultodds_error_free(error);
}

TEST_CASE("limits of the options are kept, and the message names them") {
  const auto refused = [&](auto set, const char* words) {
    faultodds_model_options options{};
    options.struct_size = sizeof options;
    set(options);
    faultodds_model* model = nullptr;
    faultodds_error* error = nullptr;
    CHECK(faultodds_model_load(circuit().data(), circuit().size(), nullptr, 0, &options, &model,
                               &error) == FAULTODDS_LIMIT_EXCEEDED);
    CHECK(model == nullptr);
    const Owned<faultodds_error> owned(error);
    CAPTURE(faultodds_error_message(error));
    CHECK(std::string(faultodds_error_message(error)).find(words) != std::string::npos);
  };
  refused([](auto& o) { o.search_steps = 3; }, "more than 3 steps");
  refused([](auto& o) { o.modes = 2; }, "more than 2 failure modes");
  refused([](auto& o) { o.observations = 1; }, "more than 1 observations");
  refused([](auto& o) { o.sets_per_observation = 1; }, "1");
}

TEST_CASE("a reserved field is refused unless it is 0") {
  faultodds_model_options options{};
  options.struct_size = sizeof options;
  options.reserved = 7;
  faultodds_model* model = nullptr;
  faultodds_error* error = nullptr;
  CHECK(faultodds_model_load(circuit().data(), circuit().size(), nullptr, 0, &options, &model,
                             &error) == FAULTODDS_INVALID_ARGUMENT);
  CHECK(model == nullptr);
  const Owned<faultodds_error> owned(error);
  CHECK(std::string(faultodds_error_message(error)) == "options->reserved is 7; expected 0");
}

}  // namespace cancel_test
