// The same bytes whatever locale the host has set, also while it sets another. LOCPATH names the
// directory of make_locales.sh.
#include <atomic>
#include <catch2/catch.hpp>
#include <chrono>
#include <clocale>
#include <cstdlib>
#include <fstream>
#include <iterator>
#include <string>
#include <thread>
#include <vector>

#include "faultodds_circuit.h"
#include "faultodds_network.h"

namespace {

std::string read(const std::string& name) {
  std::ifstream in(CIRCUITS "/" + name, std::ios::binary);
  REQUIRE(in.good());
  return {std::istreambuf_iterator<char>(in), {}};
}

struct Documents {
  std::string circuit = read("circuit.json"), the_case = read("arm_sinks_2_valve_port.json");
};

void take(std::string& all, char* text) {
  all += text == nullptr ? "(none)" : text;
  all += '\n';
  faultodds_free(text);
}

void take(std::string& all, faultodds_error* error) {
  all += faultodds_error_message(error);
  all += '\n';
  faultodds_error_free(error);
}

// The next text or refusal of a call.
template <typename Call, typename... Arguments>
void take_call(std::string& all, Call call, Arguments... arguments) {
  char* text = nullptr;
  faultodds_error* error = nullptr;
  call(arguments..., nullptr, &text, &error);
  take(all, text);
  take(all, error);
}

// What authors of circuits are told, and what a screen shows.
void take_what_is_shown(std::string& all, const faultodds_model* model,
                        const Documents& documents) {
  const std::string& circuit = documents.circuit;
  const std::string& the_case = documents.the_case;
  const std::string words = "der Arm sinkt in 2,5 Minuten ab", language = "de";
  const std::string hold = "static/arm_section.a", size = "12.5 mL/min";
  const std::string parts =
      R"({"format":"faultodds-parts/1","id":"n","parts":[{"id":"pump","type":"fixed_pump",)"
      R"("displacement":"12.5 cm3/rev"},{"id":"r","type":"main_relief","setting":"187.5 bar"}]})";
  take_call(all, faultodds_model_describe_screen_json, model);
  take_call(all, faultodds_model_propose_json, model, words.data(), words.size(), language.data(),
            language.size());
  for (const std::uint32_t width : {0U, 360U}) {
    take_call(all, faultodds_model_draw_svg, model, the_case.data(), the_case.size(), width,
              language.data(), language.size());
  }
  take_call(all, faultodds_circuit_check_json, circuit.data(), circuit.size());
  take_call(all, faultodds_circuit_explain_json, circuit.data(), circuit.size(), hold.data(),
            hold.size(), size.data(), size.size());
  take_call(all, faultodds_circuit_diff_json, circuit.data(), circuit.size(), circuit.data(),
            circuit.size(), the_case.data(), the_case.size());
  take_call(all, faultodds_circuit_new_json, parts.data(), parts.size());
  take_call(all, faultodds_circuit_draw_svg, circuit.data(), circuit.size(), the_case.data(),
            the_case.size());
  take_call(all, faultodds_circuit_expand_json, circuit.data(), circuit.size());
}

// Everything in which numbers are read or written: answers, notes, packs, networks, refusals.
std::string all_answers(const Documents& documents) {
  std::string all;
  char *text = nullptr, *refusal = nullptr;
  faultodds_assess_json(documents.circuit.data(), documents.circuit.size(),
                        documents.the_case.data(), documents.the_case.size(), nullptr, 0, nullptr,
                        &text, &refusal);
  take(all, text);
  take(all, refusal);
  faultodds_model* model = nullptr;
  faultodds_error* error = nullptr;
  faultodds_model_load(documents.circuit.data(), documents.circuit.size(), nullptr, 0, nullptr,
                       &model, &error);
  take(all, error);
  faultodds_model_describe_json(model, nullptr, &text, &error);
  take(all, text);
  take(all, error);
  for (const std::int32_t format : {FAULTODDS_NOTE_TEXT, FAULTODDS_NOTE_HTML}) {
    faultodds_model_note(model, documents.the_case.data(), documents.the_case.size(), format,
                         nullptr, &text, &error);
    take(all, text);
    take(all, error);
  }
  for (const std::int32_t format : {FAULTODDS_PLAN_JSON, FAULTODDS_PLAN_HTML}) {
    faultodds_model_plan(model, documents.the_case.data(), documents.the_case.size(), format,
                         nullptr, &text, &error);
    take(all, text);
    take(all, error);
  }
  const std::string closing =
      R"({"format":"faultodds-closing/1","work_order":"7","closed":"2026-03-31","minutes":12.5})";
  faultodds_model_close(model, documents.the_case.data(), documents.the_case.size(), closing.data(),
                        closing.size(), FAULTODDS_RECORD_JSON, nullptr, &text, &error);
  take(all, text);
  take(all, error);
  take_what_is_shown(all, model, documents);
  faultodds_model_free(model);

  const std::string rows =
      "work_order,closed,component,finding,grade,hours\n"
      "1,2024-03-01,port_relief,seat_leak,worn,1234.5\n2,2024-03-02,port_relief,none,,1.5e3\n"
      "3,2024-03-02,port_relief,none,,1,5\n";
  faultodds_records records{};
  records.struct_size = sizeof records;
  records.text = rows.data();
  records.text_len = rows.size();
  faultodds_learn_options options{};
  options.struct_size = sizeof options;
  options.source = "depot";
  options.source_len = 5;
  options.worth_jobs = 12.25;
  faultodds_priors_learn(&records, nullptr, &options, &text, nullptr, &error);
  const std::string pack = text == nullptr ? "" : text;
  take(all, text);
  take(all, error);
  faultodds_priors_diff_json(nullptr, 0, pack.data(), pack.size(), nullptr, &text, &error);
  take(all, text);
  take(all, error);

  const std::string bif =
      "variable v { type discrete [ 2 ] { x, y }; } probability ( v ) { table .25 7.5e-1; }";
  faultodds_network* network = nullptr;
  faultodds_network_load(bif.data(), bif.size(), FAULTODDS_BIF, nullptr, &network, &error);
  take(all, error);
  double posteriors[2] = {0, 0}, log_evidence = 0;
  std::size_t written = 0;
  faultodds_network_query(network, nullptr, 0, nullptr, posteriors, 2, &written, &log_evidence,
                          &error);
  take(all, error);
  all += posteriors[0] == 0.25 && posteriors[1] == 0.75 ? "as written\n" : "read otherwise\n";
  faultodds_network_free(network);

  for (const char* wrong :
       {R"({"format":"faultodds-circuit/1","id":"c","components":[{"id":"p","type":"port_relief",)"
        R"("priors":{"seat_leak":[0.5,0.25,0.125]}}]})",
        R"({"format":"faultodds-circuit/1","id":"c","components":[{"id":"p","type":"port_relief",)"
        R"("setting":"1.5e-400 bar"}]})",
        R"({"format":"faultodds-circuit/1","id":"c","components":[],"times":{"lockout":-2.5}})",
        R"({"format":"faultodds-circuit/1","id":"c","components":[],"times":{"lockout":1e-400}})",
        R"({"format":"faultodds-circuit/1","id":"c","components":[],"times":{"lockout":2,5}})"}) {
    const std::string document = wrong;
    faultodds_model_load(document.data(), document.size(), nullptr, 0, nullptr, &model, &error);
    take(all, error);
    faultodds_model_free(model);
  }
  return all;
}

const std::vector<const char*>& names() {
  static const std::vector<const char*> all = {"de_DE.UTF-8", "hi_IN.UTF-8", "de_CH.UTF-8"};
  return all;
}

// In the locale C, which each test begins in.
const std::string& plain_answers(const Documents& documents) {
  static const std::string plain = all_answers(documents);
  return plain;
}

struct HostLocale {
  ~HostLocale() { std::setlocale(LC_ALL, "C"); }
};

}  // namespace

TEST_CASE("answers, notes, packs and refusals are the same bytes in every locale") {
  const Documents documents;
  const HostLocale restored;
  const std::string& plain = plain_answers(documents);
  CHECK(plain.find("as written") != std::string::npos);
  CHECK(plain.find("(none)") > plain.find("\"faults\""));
  for (const char* name : names()) {
    INFO(name);
    REQUIRE(std::setlocale(LC_ALL, name) != nullptr);
    CHECK((std::localeconv()->decimal_point != std::string(".") ||
           std::localeconv()->grouping != std::string("")));
    CHECK(all_answers(documents) == plain);
    CHECK(std::setlocale(LC_ALL, nullptr) == std::string(name));  // the host's is not touched
  }
}

TEST_CASE("answers are the same while the host changes its locale in another thread") {
  const Documents documents;
  const HostLocale restored;
  const std::string& plain = plain_answers(documents);
  std::atomic<bool> done{false};
  std::atomic<int> changes{0};
  std::thread host([&] {
    while (!done) {
      for (const char* name : names()) {
        std::setlocale(LC_ALL, name);
        std::setlocale(LC_ALL, "C");
        ++changes;
        std::this_thread::sleep_for(std::chrono::milliseconds(1));
      }
    }
  });
  const bool same = all_answers(documents) == plain;
  done = true;
  host.join();
  CHECK(same);
  CHECK(changes > 0);
}
