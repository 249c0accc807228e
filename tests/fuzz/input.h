// What the fuzz targets read their bytes as, and what they demand of every call. It belongs to no
// fuzzer: replay.cpp runs the same targets over files.
#pragma once

#include <sys/time.h>
#include <unistd.h>

#include <cmath>
#include <csignal>
#include <cstddef>
#include <cstdint>
#include <cstdio>
#include <cstdlib>
#include <cstring>
#include <fstream>
#include <nlohmann/json.hpp>
#include <string>
#include <string_view>
#include <vector>

#include "faultodds.h"

namespace fuzz {

// Ends the process with a sentence: a finding.
inline void demand(bool good, const char* sentence) {
  if (good) return;
  std::fprintf(stderr, "demanded: %s\n", sentence);
  std::abort();
}

// An input of more than 30 s of processor time is a finding. A clock would see one in every input
// of a busy machine, so that libFuzzer's own limit, which is of the clock, is only for what waits
// and does not end.
class ProcessorTimeLimit {
 public:
  ProcessorTimeLimit() {
    static const bool listening = [] {
      std::signal(SIGPROF, [](int) {
        static const char sentence[] = "demanded: an input ends within 30 s of processor time\n";
        [[maybe_unused]] const auto written = ::write(STDERR_FILENO, sentence, sizeof sentence - 1);
        std::abort();
      });
      return true;
    }();
    (void)listening;
    set(30);
  }
  ~ProcessorTimeLimit() { set(0); }
  ProcessorTimeLimit(const ProcessorTimeLimit&) = delete;
  ProcessorTimeLimit& operator=(const ProcessorTimeLimit&) = delete;

 private:
  static void set(long seconds) {
    const itimerval timer{{0, 0}, {seconds, 0}};
    ::setitimer(ITIMER_PROF, &timer, nullptr);
  }
};

// A text in a block of just its size, so that a read past its end is seen.
class Text {
 public:
  explicit Text(std::string_view text) : bytes_(text.begin(), text.end()) {
    bytes_.shrink_to_fit();
  }
  const char* data() const { return bytes_.empty() ? "" : bytes_.data(); }
  std::size_t size() const { return bytes_.size(); }
  bool empty() const { return bytes_.empty(); }

 private:
  std::vector<char> bytes_;
};

class Input {
 public:
  Input(const std::uint8_t* data, std::size_t size)
      : rest_(reinterpret_cast<const char*>(data), size) {}

  bool done() const { return rest_.empty(); }
  std::uint8_t byte() {  // 0 at the end
    if (rest_.empty()) return 0;
    const char first = rest_.front();
    rest_.remove_prefix(1);
    return static_cast<std::uint8_t>(first);
  }
  Text text() {  // up to the next NUL or the end
    const std::string_view all = rest_;
    const std::size_t end = std::min(all.find('\0'), all.size());
    rest_.remove_prefix(std::min(end + 1, all.size()));
    return Text(all.substr(0, end));
  }
  Text rest() {
    const Text all(rest_);
    rest_ = {};
    return all;
  }

 private:
  std::string_view rest_;
};

inline void demand_failure(faultodds_status status, const faultodds_error* error) {
  demand(status != FAULTODDS_INTERNAL, "no document is a defect of the library");
  demand(status > FAULTODDS_OK && status < FAULTODDS_INTERNAL, "a status of the list");
  demand(error == nullptr || faultodds_error_code(error) == status, "the error has the status");
  demand(error == nullptr || faultodds_error_message(error)[0] != '\0', "an error says something");
}

// Frees `error`. Whether the call succeeded.
inline bool succeeded(faultodds_status status, faultodds_error* error) {
  if (status == FAULTODDS_OK) {
    demand(error == nullptr, "no error on success");
    return true;
  }
  demand(error != nullptr, "an error on failure");
  demand_failure(status, error);
  faultodds_error_free(error);
  return false;
}

// The text goes with success and only then; where `json` it is a document.
inline bool took(faultodds_status status, char* text, faultodds_error* error, bool json = true) {
  demand((text != nullptr) == (status == FAULTODDS_OK), "a text exactly on success");
  if (text != nullptr && json) {
    demand(nlohmann::json::accept(text), "an answer is well-formed JSON");
  }
  faultodds_free(text);
  return succeeded(status, error);
}

inline void demand_distribution(const double* numbers, std::size_t count) {
  double sum = 0;
  for (std::size_t i = 0; i < count; ++i) {
    demand(numbers[i] >= -1e-9 && numbers[i] <= 1 + 1e-9, "a probability between 0 and 1");
    sum += numbers[i];
  }
  demand(std::abs(sum - 1) < 1e-6, "probabilities that sum to 1");
}

// A small circuit, a case on it and a pack for it: those that the bad documents are variations of.
struct Documents {
  Text circuit, the_case, priors;
  Text by_grades;  // the circuit with no effects to solve for
};

inline const Documents& documents() {
  static const Documents all = [] {
    std::ifstream file(VECTORS "/bad_documents.json");
    const auto table = nlohmann::ordered_json::parse(file);
    nlohmann::ordered_json by_grades = table.at("circuit");
    by_grades["effects"] = "grades";
    return Documents{Text(table.at("circuit").dump()), Text(table.at("case").dump()),
                     Text(table.at("priors").dump()), Text(by_grades.dump())};
  }();
  return all;
}

// Little memory: what needs more is slow, and inputs shall be many.
inline faultodds_model_options small_model() {
  faultodds_model_options options{};
  options.struct_size = sizeof options;
  options.memory_budget = 64 << 20;
  return options;
}

inline faultodds_model* load(const Text& circuit, const Text& priors) {
  const faultodds_model_options options = small_model();
  faultodds_model* model = nullptr;
  faultodds_error* error = nullptr;
  const faultodds_status status =
      faultodds_model_load(circuit.data(), circuit.size(), priors.empty() ? nullptr : priors.data(),
                           priors.size(), &options, &model, &error);
  demand((model != nullptr) == (status == FAULTODDS_OK), "a model exactly on success");
  succeeded(status, error);
  return model;
}

// Of the small circuit; lives as long as the process.
inline const faultodds_model* small_circuit() {
  static const faultodds_model* const model = load(documents().circuit, Text(""));
  return model;
}

}  // namespace fuzz

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size);
