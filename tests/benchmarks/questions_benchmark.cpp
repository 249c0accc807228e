// Machines as they are, asked as embedders ask: questions through the C interface, each with a
// pattern of evidence that the model has not met, each in a process of its own with a limit of
// processor time. Prints, per circuit, what they took and which had no exact answer; then what
// patterns met before, jobs step by step and two threads make of it.
//
//   bench_questions [--full] [--whole] [--seconds S] [--only PART] [CIRCUIT...]
//
// Without --full some 50 questions per circuit, and short series of the rest. With --whole
// questions ask for all there is, otherwise for what a screen needs. PART is new, process,
// repeated, jobs or threads.
#include <algorithm>
#include <cmath>
#include <cstdio>
#include <cstdlib>
#include <fstream>
#include <functional>
#include <map>
#include <memory>
#include <nlohmann/json.hpp>
#include <random>
#include <set>
#include <sstream>
#include <stdexcept>
#include <string>
#include <thread>
#include <vector>

#include "faultodds.h"
#include "tests/benchmarks/child.h"
#include "tests/benchmarks/machine.h"
#include "tests/until.h"

namespace {

using namespace faultodds::benchmark;
using nlohmann::json;

// Asked for a screen, as applications do, or for all there is.
enum class Detail { screen, full };

struct Options {
  bool full = false;
  Detail detail = Detail::screen;
  unsigned seconds = 2;
  std::string only;
  std::vector<std::string> circuits;
};

// ---- circuits and questions -------------------------------------------------------------------

std::string file(const std::string& path) {
  std::ifstream stream(path);
  if (!stream) throw std::runtime_error("cannot read " + path);
  std::ostringstream text;
  text << stream.rdbuf();
  return text.str();
}

struct Circuit {
  std::string name;
  std::function<std::string()> document;
};

// The same circuit with its effects by grades, or solved.
std::string with_effects(const std::string& document, const char* effects) {
  json circuit = json::parse(document);
  circuit["effects"] = effects;
  return circuit.dump();
}

std::string demo(const std::string& name, const char* effects) {
  return with_effects(file(EXAMPLES "/" + name + "/circuit.json"), effects);
}

const std::vector<Circuit>& circuits() {
  static const std::vector<Circuit> all = {
      {"refuse_truck", [] { return demo("refuse_truck", "grades"); }},
      {"refuse_truck_solved", [] { return demo("refuse_truck", "solved"); }},
      {"veneer_press", [] { return demo("veneer_press", "grades"); }},
      {"veneer_press_solved", [] { return demo("veneer_press", "solved"); }},
      {"16_sections_3_conditions", [] { return with_effects(machine(16, 3), "grades"); }},
      {"16_sections_3_solved", [] { return with_effects(machine(16, 3), "solved"); }},
      {"16_sections_7_conditions", [] { return with_effects(machine(16, 7), "grades"); }},
      {"16_sections_7_solved", [] { return with_effects(machine(16, 7), "solved"); }},
      {"gallery_of_40", [] { return with_effects(gallery(40), "grades"); }},
      {"gallery_of_40_solved", [] { return with_effects(gallery(40), "solved"); }}};
  return all;
}

class Model {
 public:
  explicit Model(const std::string& document) {
    faultodds_model* model = nullptr;
    faultodds_error* error = nullptr;
    if (faultodds_model_load(document.data(), document.size(), nullptr, 0, nullptr, &model,
                             &error) != FAULTODDS_OK) {
      throw std::runtime_error(faultodds_error_message(error));
    }
    model_.reset(model);
    char* text = nullptr;
    if (faultodds_model_describe_json(model, nullptr, &text, nullptr) != FAULTODDS_OK) {
      throw std::runtime_error("the circuit is not described");
    }
    described_ = json::parse(text);
    faultodds_free(text);
  }

  const json& observations() const { return described_["observations"]; }

  // The answer, which is null where there is none.
  json ask(const json& the_case, Record& record, const faultodds_cancel* until = nullptr) const {
    const std::string text = the_case.dump();
    char* answer = nullptr;
    const double start = processor_seconds(), began = wall_seconds();
    record.status = faultodds_model_assess_json(model_.get(), text.data(), text.size(),
                                                Until(until), &answer, nullptr);
    record.seconds = processor_seconds() - start;
    record.wall = wall_seconds() - began;
    if (answer == nullptr) return nullptr;
    const json document = json::parse(answer);
    faultodds_free(answer);
    record.approximate = document.value("method", json("exact")) != "exact";
    record.with_advice = document.contains("advice") && !document["advice"].is_null();
    return document;
  }

 private:
  std::unique_ptr<faultodds_model, void (*)(faultodds_model*)> model_{nullptr,
                                                                      faultodds_model_free};
  json described_;
};

json case_of(const std::vector<std::pair<std::string, std::string>>& seen, bool advice,
             Detail detail) {
  json the_case = {{"format", "faultodds-case/1"}, {"observations", json::array()}};
  for (const auto& [observation, outcome] : seen) {
    the_case["observations"].push_back({{"observation", observation}, {"outcome", outcome}});
  }
  if (!advice) the_case["advice"] = false;
  if (detail == Detail::full) the_case["detail"] = "full";
  return the_case;
}

using Question = std::vector<std::pair<std::string, std::string>>;

// What took longest of all that --full asks: parts of two sections and of the pump may be hot.
const std::vector<Question>& slow_before() {
  static const std::vector<Question> all = {
      {{"static/hose_10b.a/plugged/makeup_10a", "bled_down"},
       {"static/hose_11b.a/plugged/relief_11a", "bled_down"},
       {"hot/pump", "warm"}},
      {{"static/hose_11b.a/plugged/makeup_11a", "would_not_build"},
       {"static/hose_3a.a/plugged/makeup_3b", "held"},
       {"hot/pump", "hot"}}};
  return all;
}

bool has(const json& observations, const Question& question) {
  return std::all_of(question.begin(), question.end(), [&](const auto& seen) {
    return std::any_of(observations.begin(), observations.end(),
                       [&](const json& one) { return one["observation"] == seen.first; });
  });
}

// Every outcome of every symptom, then pairs and triples of observations with outcomes drawn, no
// two of which make one pattern: the observations, and which of the symptoms are abnormal. Without
// `full` some of them, and those that were slow.
std::vector<Question> questions(const Model& model, bool full) {
  std::vector<Question> symptoms, drawn;
  const json& all = model.observations();
  for (const json& observation : all) {
    if (!observation["symptom"].get<bool>()) continue;
    for (const json& outcome : observation["outcomes"]) {
      symptoms.push_back({{observation["observation"], outcome}});
    }
  }
  std::mt19937 chance(20240501);
  const auto below = [&](std::size_t n) { return static_cast<std::size_t>(chance()) % n; };
  std::set<std::set<std::string>> patterns;
  const std::size_t wanted = full ? 2000 : 35;
  for (std::size_t tries = 0; drawn.size() < wanted && tries < 20 * wanted; ++tries) {
    const std::size_t size = 2 + below(2);
    std::set<std::size_t> chosen;
    while (chosen.size() < size) chosen.insert(below(all.size()));
    Question question;
    std::set<std::string> pattern;
    for (const std::size_t o : chosen) {
      const std::string id = all[o]["observation"];
      const std::size_t outcome = below(all[o]["outcomes"].size());
      question.emplace_back(id, all[o]["outcomes"][outcome]);
      pattern.insert(id + (all[o]["symptom"].get<bool>() && outcome > 0 ? " abnormal" : ""));
    }
    if (patterns.insert(pattern).second) drawn.push_back(question);
  }
  if (!full) {  // spread over all
    std::vector<Question> some;
    const std::size_t step = std::max<std::size_t>(1, symptoms.size() / 15);
    for (std::size_t i = 1; i < symptoms.size(); i += step) some.push_back(symptoms[i]);
    for (const Question& slow : slow_before()) {
      if (has(all, slow)) some.push_back(slow);
    }
    symptoms = some;
  }
  symptoms.insert(symptoms.end(), drawn.begin(), drawn.end());
  return symptoms;
}

// ---- figures ----------------------------------------------------------------------------------

double quantile(std::vector<double> all, double q) {
  if (all.empty()) return std::nan("");
  std::sort(all.begin(), all.end());
  const auto at = static_cast<std::size_t>(std::ceil(q * static_cast<double>(all.size())));
  return all[std::max<std::size_t>(at, 1) - 1];
}

std::string ms(double seconds) {
  char text[32];
  if (std::isnan(seconds)) return "-";
  if (std::isinf(seconds)) return "over";
  std::snprintf(text, sizeof text, seconds < 0.01 ? "%.3f" : "%.1f", seconds * 1e3);
  return text;
}

void line(const std::vector<std::string>& cells) {
  std::printf("%-26s", cells[0].c_str());
  for (std::size_t i = 1; i < cells.size(); ++i) std::printf(" %11s", cells[i].c_str());
  std::printf("\n");
  std::fflush(stdout);
}

struct Tally {
  std::vector<double> seconds, grown;  // infinite where the limit ended the question
  int exact = 0, approximate = 0, conflicting = 0, refused = 0, over = 0, died = 0, no_advice = 0;
};

void count(Tally& tally, const Work& work, bool advice, double held) {
  tally.grown.push_back(std::max(work.peak - held, 0.0));
  if (work.records.empty()) {
    ++(work.ended == Ended::by_limit ? tally.over : tally.died);
    tally.seconds.push_back(INFINITY);
    return;
  }
  const Record& record = work.records[0];
  tally.seconds.push_back(record.seconds);
  tally.grown.back() = std::max(tally.grown.back(), record.grown);
  if (record.status == FAULTODDS_CONFLICTING_EVIDENCE) {
    ++tally.conflicting;
  } else if (record.status != FAULTODDS_OK) {
    ++tally.refused;
  } else {
    ++(record.approximate ? tally.approximate : tally.exact);
    tally.no_advice += advice && !record.with_advice;
  }
}

void print(const std::string& name, const Tally& tally) {
  const double grown = tally.grown.empty() ? 0 : quantile(tally.grown, 1);
  char memory[32];
  std::snprintf(memory, sizeof memory, "%.1f", grown / 1048576);
  line({name, std::to_string(tally.seconds.size()), ms(quantile(tally.seconds, .5)),
        ms(quantile(tally.seconds, .99)), ms(quantile(tally.seconds, 1)), memory,
        std::to_string(tally.exact), std::to_string(tally.approximate),
        std::to_string(tally.refused), std::to_string(tally.conflicting),
        std::to_string(tally.over), std::to_string(tally.died), std::to_string(tally.no_advice)});
}

// ---- what is measured -------------------------------------------------------------------------

void fresh_patterns(const std::vector<Circuit>& chosen, const Options& options) {
  std::printf(
      "\nQuestions with a pattern new to the model, one process each, ended after %u s of "
      "processor "
      "time.\nMilliseconds; memory is what the process grew by, MiB.\n\n",
      options.seconds);
  line({"circuit", "questions", "median", "99 %", "worst", "memory", "exact", "approximate",
        "refused", "conflicting", "over limit", "died", "no advice"});
  for (const Circuit& circuit : chosen) {
    const Model model(circuit.document());
    const auto all = questions(model, options.full);
    for (const bool advice : {false, true}) {
      Tally tally;
      for (const Question& question : all) {
        const double held = resident_memory();
        const Work work = in_child(options.seconds, [&](const Tell& tell) {
          Record record;
          model.ask(case_of(question, advice, options.detail), record);
          record.grown = peak_memory() - held;
          tell(record);
        });
        count(tally, work, advice, held);
      }
      print(circuit.name + (advice ? ", advice" : ""), tally);
    }
  }
}

// One process that is asked everything, as a service is, each question with a deadline.
void growth(const std::vector<Circuit>& chosen, const Options& options) {
  const double patience = options.full ? 120 : 10;
  std::printf(
      "\nOne process asked one question after the other, without advice, each until %u s have "
      "passed, "
      "all within %.0f s.\n\n",
      options.seconds, patience);
  line({"circuit", "questions", "no answer", "grown MiB", "KiB each"});
  for (const Circuit& circuit : chosen) {
    const Model model(circuit.document());
    const auto all = questions(model, options.full);
    const Work work = in_child(patience, [&](const Tell& tell) {
      const double held = resident_memory(), began = processor_seconds();
      faultodds_cancel* until = nullptr;
      if (faultodds_cancel_new(&until, nullptr) != FAULTODDS_OK) std::abort();
      for (const Question& question : all) {
        if (processor_seconds() - began > patience) break;
        faultodds_cancel_after_ms(until, 1000ull * options.seconds);
        Record record;
        model.ask(case_of(question, false, options.detail), record, until);
        faultodds_cancel_reset(until);
        record.grown = resident_memory() - held;
        tell(record);
      }
      faultodds_cancel_free(until);
    });
    const auto asked = work.records.size();
    const double grown = asked == 0 ? 0 : work.records.back().grown;
    const auto without = std::count_if(work.records.begin(), work.records.end(),
                                       [](const Record& r) { return r.status != FAULTODDS_OK; });
    char mebi[32], each[32];
    std::snprintf(mebi, sizeof mebi, "%.1f", grown / 1048576);
    std::snprintf(each, sizeof each, "%.0f", grown / 1024 / std::max(1.0, double(asked)));
    line({circuit.name, std::to_string(asked), std::to_string(without), mebi, each});
  }
}

Question complaint_of(const Model& model) {
  for (const json& observation : model.observations()) {
    if (observation["kind"] == "drift") {
      return {{observation["observation"], observation["outcomes"][1]}};
    }
  }
  throw std::runtime_error("a circuit of the benchmark has no drift");
}

// A section and 16 of them under three conditions: the first time a pattern is met, and after, as
// screens ask.
void repeated_patterns(const std::vector<Circuit>&, const Options& options) {
  std::printf("\nThe first question with a pattern and the same again, milliseconds.\n\n");
  line({"circuit", "evidence", "first", "again", "with advice", "again", "ratio"});
  for (const int sections : {1, 16}) {
    const Model model(with_effects(machine(sections, 3), "grades"));
    Question question = complaint_of(model);
    for (int evidence = 1; evidence <= 3; ++evidence) {
      if (evidence == 2) question.emplace_back("static/valve0.a", "held");
      if (evidence == 3) question.emplace_back("delivery/extend0", "slow");
      std::map<bool, std::pair<double, double>> took;
      for (const bool advice : {false, true}) {
        const json the_case = case_of(question, advice, options.detail);
        const Work work = in_child(10 * options.seconds, [&](const Tell& tell) {
          for (int i = 0; i < 21; ++i) {
            Record record;
            model.ask(the_case, record);
            tell(record);
          }
        });
        std::vector<double> again;
        for (std::size_t i = 1; i < work.records.size(); ++i) {
          again.push_back(work.records[i].seconds);
        }
        took[advice] = {work.records.empty() ? INFINITY : work.records[0].seconds,
                        quantile(again, .5)};
      }
      char ratio[32];
      std::snprintf(ratio, sizeof ratio, "%.1f", took[true].second / took[false].second);
      line({std::to_string(sections) + " of 3 conditions", std::to_string(evidence),
            ms(took[false].first), ms(took[false].second), ms(took[true].first),
            ms(took[true].second), ratio});
    }
  }
}

// A complaint, then the test ranked first with an outcome drawn from its probabilities, and so on.
void jobs(const std::vector<Circuit>& chosen, const Options& options) {
  constexpr int kSteps = 6, kLongSteps = 24;  // every fifth job is a long one
  const int wanted = options.full ? 100 : 5;
  std::printf(
      "\nJobs of up to %d steps, one in five of up to %d, each the test that the last answer ranks "
      "first; every step has %u s. Milliseconds.\n\n",
      kSteps, kLongSteps, options.seconds);
  line({"circuit", "jobs", "steps", "median", "99 %", "worst", "ended", "with advice:", "median",
        "99 %", "worst", "ended"});
  for (const Circuit& circuit : chosen) {
    const Model model(circuit.document());
    std::vector<Question> complaints;
    for (const Question& question : questions(model, true)) {
      if (question.size() == 1) complaints.push_back(question);
    }
    std::vector<std::string> cells = {circuit.name, std::to_string(wanted)};
    for (const bool advice : {false, true}) {
      std::vector<double> seconds;
      int ended = 0;
      for (int job = 0; job < wanted; ++job) {
        const int steps = job % 5 == 4 ? kLongSteps : kSteps;
        const Work work = in_child(options.seconds, [&](const Tell& tell) {
          std::mt19937 chance(static_cast<unsigned>(job));
          Question seen = complaints[chance() % complaints.size()];
          for (int step = 0; step < steps; ++step) {
            Record record;
            const json answer = model.ask(case_of(seen, advice, options.detail), record);
            tell(record);
            if (answer.is_null() || answer["tests"].empty()) return;
            const json& test = answer["tests"][0];
            double left = static_cast<double>(chance()) * 0x1p-32;
            std::string outcome;
            for (const auto& [name, p] : test["probability"].items()) {
              outcome = name;
              if ((left -= p.get<double>()) < 0) break;
            }
            seen.emplace_back(test["observation"], outcome);
          }
        });
        for (const Record& record : work.records) seconds.push_back(record.seconds);
        if (work.ended != Ended::by_itself) {
          ++ended;
          seconds.push_back(INFINITY);
        }
      }
      if (!advice) cells.push_back(std::to_string(seconds.size()));
      if (advice) cells.emplace_back("");
      for (const double q : {.5, .99, 1.}) cells.push_back(ms(quantile(seconds, q)));
      cells.push_back(std::to_string(ended));
    }
    line(cells);
  }
}

// The same questions, each with a new pattern, by one thread and by two.
void two_threads(const std::vector<Circuit>& chosen, const Options& options) {
  const double patience = options.full ? 200 : 30;
  std::printf(
      "\nNew patterns by one thread and by two, seconds of the clock; of processor time in "
      "brackets.\n\n");
  line({"circuit", "questions", "one", "(cpu)", "two", "(cpu)", "one / two"});
  for (const Circuit& circuit : chosen) {
    const Model model(circuit.document());
    // Those that are answered in half a second, so that there are many.
    std::vector<Question> quick;
    const std::size_t most = options.full ? 400 : 20;
    std::size_t tried = 0;
    for (const Question& question : questions(model, true)) {
      if (quick.size() == most || ++tried > 3 * most) break;
      const Work work = in_child(0.5, [&](const Tell& tell) {
        Record record;
        model.ask(case_of(question, false, options.detail), record);
        tell(record);
      });
      if (!work.records.empty()) quick.push_back(question);
    }
    std::map<std::size_t, Record> took;
    for (const std::size_t threads : {1u, 2u}) {
      const Work work = in_child(patience, [&](const Tell& tell) {
        const auto ask = [&](std::size_t first) {
          for (std::size_t i = first; i < quick.size(); i += threads) {
            Record record;
            model.ask(case_of(quick[i], false, options.detail), record);
          }
        };
        Record all;
        const double cpu = processor_seconds(), clock = wall_seconds();
        std::thread second;
        if (threads == 2) second = std::thread(ask, 1);
        ask(0);
        if (second.joinable()) second.join();
        all.seconds = processor_seconds() - cpu;
        all.wall = wall_seconds() - clock;
        tell(all);
      });
      Record none;
      none.seconds = none.wall = std::nan("");
      took[threads] = work.records.empty() ? none : work.records[0];
    }
    char cells[5][32];
    const double numbers[] = {took[1].wall, took[1].seconds, took[2].wall, took[2].seconds,
                              took[1].wall / took[2].wall};
    for (int i = 0; i < 5; ++i) std::snprintf(cells[i], sizeof cells[i], "%.2f", numbers[i]);
    line({circuit.name, std::to_string(quick.size()), cells[0], cells[1], cells[2], cells[3],
          cells[4]});
  }
}

using Part = void (*)(const std::vector<Circuit>&, const Options&);

const std::map<std::string, Part>& parts() {
  static const std::map<std::string, Part> all = {{"new", fresh_patterns},
                                                  {"process", growth},
                                                  {"repeated", repeated_patterns},
                                                  {"jobs", jobs},
                                                  {"threads", two_threads}};
  return all;
}

Options options_of(int argc, char** argv) {
  Options options;
  for (int i = 1; i < argc; ++i) {
    const std::string argument = argv[i];
    if (argument == "--full") {
      options.full = true;
    } else if (argument == "--whole") {
      options.detail = Detail::full;
    } else if (argument == "--seconds" && i + 1 < argc && std::atoi(argv[i + 1]) > 0) {
      options.seconds = static_cast<unsigned>(std::atoi(argv[++i]));
    } else if (argument == "--only" && i + 1 < argc && parts().count(argv[i + 1]) > 0) {
      options.only = argv[++i];
    } else {
      const bool known = std::any_of(circuits().begin(), circuits().end(),
                                     [&](const Circuit& c) { return c.name == argument; });
      if (!known) {
        std::string names;
        for (const Circuit& circuit : circuits()) names += " " + circuit.name;
        throw std::runtime_error(
            "unknown argument " + argument +
            "; expected --full, --whole, --seconds S, --only with new, process, repeated, "
            "jobs or threads, or circuits of" +
            names);
      }
      options.circuits.push_back(argument);
    }
  }
  return options;
}

}  // namespace

int main(int argc, char** argv) {
  try {
    const Options options = options_of(argc, argv);
    std::vector<Circuit> chosen;
    for (const Circuit& circuit : circuits()) {
      if (options.circuits.empty() ||
          std::count(options.circuits.begin(), options.circuits.end(), circuit.name) > 0) {
        chosen.push_back(circuit);
      }
    }
    for (const char* part : {"new", "process", "repeated", "jobs", "threads"}) {
      if (options.only.empty() || options.only == part) parts().at(part)(chosen, options);
    }
  } catch (const std::exception& error) {
    std::fprintf(stderr, "bench_questions: %s\n", error.what());
    return 1;
  }
}
