// Fuzz target: the C interface as a sequence of calls in any order, with wrong indices, NULLs,
// wrong sizes of structs and handles freed under one another. Each call is a byte that chooses it,
// and further bytes that choose among its arguments, good and bad.
#include <array>

#include "faultodds_circuit.h"
#include "tests/fuzz/input.h"
#include "tests/network_options.h"

namespace {

constexpr std::size_t kSlots = 4;
constexpr int kMostCalls = 64;  // per input
constexpr int kMostPlans = 1;
constexpr int kMostForAuthors = 2;  // each takes as long as thirty other calls

const char kNetwork[] =
    "variable a { type discrete [ 2 ] { x, y }; } variable b { type discrete [ 3 ] { p, q, r }; }"
    "probability ( a ) { table 0.5 0.5; } probability ( b | a ) { (x) 1 0 0; (y) .2 .3 .5; }";
const char kNothing[] = "{}";

const std::array<const char*, 6> kEntries = {
    R"({"observation":"static/valve.a","reading":{"leak_rate":"40 mL/min"}})",
    R"({"observation":"drift/ram/retract","outcome":"slow"})",
    R"({"repaired":["port_relief"]})",
    R"({"observation":"static/valve.b","likelihood":[0,0,1]})",
    R"({"observation":"nowhere","outcome":"slow"})",
    R"([])"};

const std::array<const char*, 4> kWords = {"the ram sinks when the lever is let go",
                                           "oil on the rod", "\xc3\xa9\xff", ""};

class Calls {
 public:
  explicit Calls(fuzz::Input& input) : input_(input) {}
  ~Calls() {
    for (auto* c : cases_) faultodds_case_free(c);
    for (auto* m : models_) faultodds_model_free(m);
    for (auto* c : network_cases_) faultodds_network_case_free(c);
    for (auto* n : networks_) faultodds_network_free(n);
  }
  Calls(const Calls&) = delete;
  Calls& operator=(const Calls&) = delete;

  void make_one();

 private:
  std::size_t slot() { return input_.byte() % kSlots; }
  // Mostly an index that exists, at times one far from it.
  uint32_t index() {
    const uint8_t b = input_.byte();
    return b < 240 ? b % 16U : b < 250 ? b : UINT32_MAX - (255U - b);
  }
  // Mostly right.
  std::size_t struct_size(std::size_t right) {
    switch (input_.byte()) {
      case 0xff:
        return 0;
      case 0xfe:
        return right - 1;
      case 0xfd:
        return SIZE_MAX;
      case 0xfc:
        return 4097;
      default:
        return right;
    }
  }
  faultodds_error** wants_error() { return input_.byte() % 8 == 0 ? nullptr : &error_; }
  // After each call: the error goes with the status, and is freed.
  faultodds_status done(faultodds_status status, faultodds_error** given) {
    if (given != nullptr) {
      fuzz::demand((error_ != nullptr) == (status != FAULTODDS_OK), "an error exactly on failure");
      if (error_ != nullptr) fuzz::demand_failure(status, error_);
      faultodds_error_free(error_);
      error_ = nullptr;
    }
    fuzz::demand(status != FAULTODDS_INTERNAL, "no call is a defect of the library");
    return status;
  }

  void model_call(uint8_t which);
  void shown_call(uint8_t which);
  void author_call();
  void case_call(uint8_t which);
  void result_call(uint8_t which);
  void network_call(uint8_t which);
  void network_case_call(uint8_t which);

  fuzz::Input& input_;
  int plans_ = 0, for_authors_ = 0;
  faultodds_error* error_ = nullptr;
  std::array<faultodds_model*, kSlots> models_{};
  std::array<faultodds_case*, kSlots> cases_{};
  std::array<faultodds_network*, kSlots> networks_{};
  std::array<faultodds_network_case*, kSlots> network_cases_{};
};

void Calls::make_one() {
  const uint8_t which = input_.byte();
  switch (which % 5) {
    case 0:
      return which / 5 % 14 < 9    ? model_call(which / 5 % 14)
             : which / 5 % 14 < 13 ? shown_call(which / 5 % 14)
                                   : author_call();
    case 1:
      return case_call(which / 5);
    case 2:
      return result_call(which / 5);
    case 3:
      return network_call(which / 5);
    default:
      return network_case_call(which / 5);
  }
}

void Calls::model_call(uint8_t which) {
  faultodds_model*& model = models_[slot()];
  faultodds_error** const error = wants_error();
  uint32_t found = 0;
  char* text = nullptr;
  switch (which) {
    case 0: {
      faultodds_model_options options = fuzz::small_model();
      options.struct_size = struct_size(sizeof options);
      const uint8_t odd = input_.byte();
      if (odd == 0xff) options.memory_budget = 1;
      if (odd == 0xfe) options.asset_class_len = SIZE_MAX;
      // Mostly by grades: to solve for effects takes four times as long.
      const fuzz::Text& circuit =
          odd / 64 == 2 ? fuzz::documents().circuit : fuzz::documents().by_grades;
      faultodds_model* loaded = nullptr;
      const faultodds_status status =
          done(faultodds_model_load(odd == 0xfd ? nullptr : circuit.data(),
                                    odd == 0xfc ? SIZE_MAX : circuit.size(), nullptr, odd == 0xfb,
                                    odd % 2 == 0 ? &options : nullptr,
                                    odd == 0xfa ? nullptr : &loaded, error),
               error);
      fuzz::demand((loaded != nullptr) == (status == FAULTODDS_OK), "a model exactly on success");
      if (loaded == nullptr) return;
      faultodds_model_free(model);
      model = loaded;
      return;
    }
    case 1:
      faultodds_model_free(model);
      model = nullptr;
      return;
    case 2:
      fuzz::demand(
          (faultodds_model_id(model, FAULTODDS_MODE, index()) == nullptr) || model != nullptr,
          "no names without a model");
      faultodds_model_id(model, FAULTODDS_OBSERVATION, index());
      faultodds_model_outcome_id(model, index(), index());
      faultodds_model_outcome_count(model, index());
      return;
    case 3:
      done(faultodds_model_find(model, FAULTODDS_MODE, "ram.rod_leak", input_.byte() % 13U, &found,
                                error),
           error);
      return;
    case 4:
      done(faultodds_model_find(model, FAULTODDS_OBSERVATION, "wet_rod", input_.byte() % 8U,
                                input_.byte() == 255 ? nullptr : &found, error),
           error);
      return;
    case 5:
      done(faultodds_model_describe_json(model, nullptr, &text, error), error);
      break;
    case 6: {
      const fuzz::Text& the_case = fuzz::documents().the_case;
      done(faultodds_model_note(model, the_case.data(), the_case.size(), input_.byte() % 4, nullptr,
                                &text, error),
           error);
      break;
    }
    case 7: {
      const int32_t format = input_.byte() % 4;
      // A plan takes as long as a hundred other calls.
      if (++plans_ > kMostPlans) return;
      const fuzz::Text& the_case = fuzz::documents().the_case;
      done(faultodds_model_plan(model, the_case.data(), the_case.size(), format, nullptr, &text,
                                error),
           error);
      break;
    }
    default:
      done(faultodds_model_close(model, kNothing, 2, kNothing, input_.byte() % 3U,
                                 input_.byte() % 5, nullptr, &text, error),
           error);
      break;
  }
  faultodds_free(text);
}

// What a screen shows of a model.
void Calls::shown_call(uint8_t which) {
  const faultodds_model* const model = models_[slot()];
  faultodds_error** const error = wants_error();
  char* text = nullptr;
  switch (which) {
    case 9:
      done(faultodds_model_describe_screen_json(model, nullptr, &text, error), error);
      break;
    case 10: {
      const fuzz::Text words(kWords[input_.byte() % kWords.size()]);
      const uint8_t odd = input_.byte();
      done(faultodds_model_propose_json(model, odd == 255 ? nullptr : words.data(),
                                        odd == 254 ? SIZE_MAX : words.size(), "frenglish",
                                        odd % 10U, nullptr, odd == 253 ? nullptr : &text, error),
           error);
      break;
    }
    case 11: {
      const fuzz::Text& the_case = fuzz::documents().the_case;
      const uint8_t odd = input_.byte();
      // A drawing asks for an answer with advice, as a plan does.
      if (++plans_ > kMostPlans) return;
      done(faultodds_model_draw_svg(model, the_case.data(), the_case.size() - odd % 3 / 2,
                                    odd == 255 ? UINT32_MAX : odd * 8U, odd == 254 ? nullptr : "de",
                                    odd % 3U, nullptr, &text, error),
           error);
      break;
    }
    default: {
      faultodds_model_counters counters{};
      counters.struct_size = struct_size(sizeof counters);
      if (counters.struct_size > sizeof counters) counters.struct_size = SIZE_MAX;
      done(faultodds_model_read_counters(model, &counters, error), error);
      return;
    }
  }
  faultodds_free(text);
}

// What authors of circuits are told.
void Calls::author_call() {
  faultodds_error** const error = wants_error();
  const uint8_t which = input_.byte(), odd = input_.byte();
  if (which % 6 != 5 && ++for_authors_ > kMostForAuthors) return;
  const fuzz::Documents& known = fuzz::documents();
  const fuzz::Text& circuit = odd / 64 == 2 ? known.circuit : known.by_grades;
  const std::size_t length = odd == 255 ? SIZE_MAX : odd == 254 ? 0 : circuit.size();
  const char* const begin = odd == 253 ? nullptr : circuit.data();
  const char* const the_case = odd % 3 == 0 ? nullptr : known.the_case.data();
  const std::size_t case_length = odd % 3 == 2 ? 0 : known.the_case.size();
  char* text = nullptr;
  char** const out = odd == 252 ? nullptr : &text;
  switch (which % 6) {
    case 0:
      done(faultodds_circuit_check_json(begin, length, nullptr, out, error), error);
      break;
    case 1:
      done(faultodds_circuit_explain_json(begin, length, "static/valve.a", odd % 2 == 0 ? 14 : 9,
                                          odd % 5 == 0 ? nullptr : "9 mL/min", odd % 5 == 1 ? 0 : 8,
                                          nullptr, out, error),
           error);
      break;
    case 2:
      done(faultodds_circuit_diff_json(begin, length, known.circuit.data(), known.circuit.size(),
                                       the_case, case_length, nullptr, out, error),
           error);
      break;
    case 3:
      done(faultodds_circuit_draw_svg(begin, length, the_case, case_length, nullptr, out, error),
           error);
      break;
    case 4:
      done(odd % 2 == 0 ? faultodds_circuit_expand_json(begin, length, nullptr, out, error)
                        : faultodds_circuit_new_json(kNothing, odd % 4, nullptr, out, error),
           error);
      break;
    default:
      done(faultodds_schema_json("faultodds-case/1", odd == 255 ? SIZE_MAX : odd % 17U, nullptr,
                                 out, error),
           error);
      break;
  }
  faultodds_free(text);
}

void Calls::case_call(uint8_t which) {
  faultodds_case*& the_case = cases_[slot()];
  faultodds_error** const error = wants_error();
  switch (which % 9) {
    case 0: {
      faultodds_case* opened = nullptr;
      done(faultodds_case_open(models_[slot()], &opened, error), error);
      if (opened == nullptr) return;
      faultodds_case_free(the_case);
      the_case = opened;
      return;
    }
    case 1:
      faultodds_case_free(the_case);
      the_case = nullptr;
      return;
    case 2:
      done(faultodds_case_observe_outcome(the_case, index(), index() % 5, error), error);
      return;
    case 3: {
      const std::array<double, 6> values = {0, 1, 1e308, 5e-324, -1, std::nan("")};
      double likelihood[3];
      for (double& l : likelihood) l = values[input_.byte() % values.size()];
      done(faultodds_case_observe_likelihood(the_case, index(),
                                             input_.byte() == 255 ? nullptr : likelihood, error),
           error);
      return;
    }
    case 4: {
      const fuzz::Text entry(kEntries[input_.byte() % kEntries.size()]);
      const std::size_t length = input_.byte() == 255 ? SIZE_MAX / 2 + 1 : entry.size();
      done(faultodds_case_observe_json(the_case, entry.data(), length, nullptr, error), error);
      return;
    }
    case 5:
      done(faultodds_case_retract(the_case, index(), error), error);
      return;
    case 6:
      done(faultodds_case_setup_done(the_case, "lockout", input_.byte() % 8U, error), error);
      return;
    case 7:
      done(faultodds_case_assess(the_case, nullptr, error), error);
      return;
    default: {
      std::array<faultodds_case*, 3> batch{};
      std::array<faultodds_status, 3> statuses{};
      for (auto& c : batch) c = cases_[slot()];
      done(faultodds_cases_assess(batch.data(), input_.byte() % 4U, input_.byte() % 3U, nullptr,
                                  input_.byte() == 255 ? nullptr : statuses.data(), error),
           error);
      return;
    }
  }
}

void Calls::result_call(uint8_t which) {
  const faultodds_case* const the_case = cases_[slot()];
  faultodds_error** const error = wants_error();
  switch (which % 7) {
    case 0: {
      faultodds_case_summary summary{};
      summary.struct_size = sizeof summary - (input_.byte() == 255 ? 1 : 0);
      done(faultodds_case_read_summary(the_case, &summary, error), error);
      return;
    }
    case 2: {
      std::vector<double> grades(input_.byte());
      std::size_t count = 0;
      if (done(faultodds_case_posteriors(the_case, grades.data(), grades.size(), &count, error),
               error) == FAULTODDS_OK) {
        for (std::size_t i = 0; i < count; i += 3) fuzz::demand_distribution(&grades[i], 3);
      }
      return;
    }
    case 4: {
      // A later version's struct may be larger than the one known here.
      struct Larger {
        faultodds_ranked_test test;
        char more[64];
      } larger{};
      larger.test.struct_size = struct_size(sizeof larger.test);
      if (larger.test.struct_size == sizeof larger.test && input_.byte() % 2 == 0) {
        larger.test.struct_size = sizeof larger;
      }
      if (larger.test.struct_size > sizeof larger) larger.test.struct_size = SIZE_MAX;
      done(faultodds_case_test(the_case, index(), &larger.test, error), error);
      return;
    }
    case 5: {
      faultodds_causes causes{};
      causes.struct_size = struct_size(sizeof causes);
      const uint32_t rank = input_.byte() % 4U;
      if (causes.struct_size > sizeof causes) causes.struct_size = SIZE_MAX;
      if (done(faultodds_case_causes(the_case, rank, &causes, error), error) != FAULTODDS_OK)
        return;
      const std::size_t spare = input_.byte() % 3U;
      std::vector<double> shares(causes.share_count + spare);
      std::vector<uint32_t> ends(causes.share_count + spare);
      std::vector<uint32_t> components(causes.component_count + spare);
      if (done(faultodds_case_shares(the_case, rank, shares.data(), ends.data(), shares.size(),
                                     components.data(), components.size(), error),
               error) == FAULTODDS_OK) {
        shares.resize(causes.share_count);
        shares.insert(shares.end(), {causes.by_design, causes.elsewhere, causes.nothing});
        fuzz::demand_distribution(shares.data(), shares.size());
      }
      return;
    }
    default: {
      char* text = nullptr;
      const faultodds_status status = faultodds_case_answer_json(the_case, nullptr, &text, error);
      done(status, error);
      fuzz::demand((text != nullptr) == (status == FAULTODDS_OK), "a text exactly on success");
      faultodds_free(text);
      return;
    }
  }
}

void Calls::network_call(uint8_t which) {
  faultodds_network*& network = networks_[slot()];
  faultodds_error** const error = wants_error();
  switch (which % 6) {
    case 0: {
      faultodds_network* loaded = nullptr;
      const uint8_t odd = input_.byte();
      done(faultodds_network_load(kNetwork, sizeof kNetwork - 1 - (odd == 255 ? 7 : 0),
                                  odd == 254   ? FAULTODDS_XMLBIF
                                  : odd == 253 ? 77
                                               : FAULTODDS_BIF,
                                  NetworkOptions(odd == 252 ? 8 : 1 << 20), &loaded, error),
           error);
      if (loaded == nullptr) return;
      faultodds_network_free(network);
      network = loaded;
      return;
    }
    case 1:
      faultodds_network_free(network);
      network = nullptr;
      return;
    case 2:
      faultodds_network_variable_name(network, index());
      faultodds_network_state_name(network, index(), index());
      faultodds_network_state_count(network, index());
      return;
    case 3: {
      uint32_t found = 0;
      done(faultodds_network_find_variable(network, "b", input_.byte() % 2U, &found, error), error);
      done(faultodds_network_find_state(network, index(), "q", 1, &found, error), error);
      return;
    }
    case 4: {
      faultodds_network_statistics statistics{};
      statistics.struct_size = struct_size(sizeof statistics);
      done(faultodds_network_read_statistics(network, &statistics, error), error);
      return;
    }
    default: {
      std::array<faultodds_network_evidence, 3> evidence{};
      const double likelihood[3] = {1, 1e-200, 0};
      for (auto& entry : evidence) {
        entry.struct_size = struct_size(sizeof entry);
        entry.variable = index() % 3;
        entry.state = static_cast<int32_t>(input_.byte() % 5) - 1;
        if (entry.state == -1) {
          entry.likelihood = likelihood;
          entry.likelihood_count = input_.byte() % 4U;
        }
      }
      std::array<double, 5> posteriors{};
      std::size_t written = 0;
      double log_evidence = 0;
      done(faultodds_network_query(network, evidence.data(), input_.byte() % 4U, nullptr,
                                   posteriors.data(), input_.byte() % 6U, &written, &log_evidence,
                                   error),
           error);
      return;
    }
  }
}

void Calls::network_case_call(uint8_t which) {
  faultodds_network_case*& the_case = network_cases_[slot()];
  faultodds_error** const error = wants_error();
  std::array<double, 5> posteriors{};
  std::size_t written = 0;
  double log_evidence = 0;
  switch (which % 7) {
    case 0: {
      faultodds_network_case* opened = nullptr;
      done(faultodds_network_case_open(networks_[slot()], &opened, error), error);
      if (opened == nullptr) return;
      faultodds_network_case_free(the_case);
      the_case = opened;
      return;
    }
    case 1:
      faultodds_network_case_free(the_case);
      the_case = nullptr;
      return;
    case 2: {
      faultodds_network_evidence entry{};
      entry.struct_size = struct_size(sizeof entry);
      entry.variable = index() % 3;
      entry.state = static_cast<int32_t>(input_.byte() % 5);
      done(faultodds_network_case_observe(the_case, input_.byte() == 255 ? nullptr : &entry, error),
           error);
      return;
    }
    case 3:
      done(faultodds_network_case_retract(the_case, index() % 4, error), error);
      return;
    case 4:
      done(faultodds_network_case_solve(the_case, nullptr,
                                        input_.byte() == 255 ? nullptr : &log_evidence, error),
           error);
      return;
    case 5:
      done(faultodds_network_case_posterior(the_case, index() % 4, posteriors.data(),
                                            input_.byte() % 6U, &written, error),
           error);
      return;
    default:
      if (done(faultodds_network_case_posteriors(the_case, posteriors.data(), input_.byte() % 6U,
                                                 &written, error),
               error) == FAULTODDS_OK) {
        fuzz::demand_distribution(posteriors.data(), 2);
        fuzz::demand_distribution(posteriors.data() + 2, 3);
      }
      return;
  }
}

}  // namespace

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  const fuzz::ProcessorTimeLimit limit;
  fuzz::Input input(data, size);
  Calls calls(input);
  for (int made = 0; made < kMostCalls && !input.done(); ++made) calls.make_one();
  return 0;
}
