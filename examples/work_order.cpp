// Walks one work order the way a technician meets it: for each case document a page with the
// suspects, the next tests and their cautions. Links the C interface only; JSON is read with the
// program's own library, as a program that embeds faultodds would.
//
//   work_order circuit.json case.json...
#include <faultodds.h>

#include <algorithm>
#include <cmath>
#include <cstdio>
#include <fstream>
#include <iterator>
#include <memory>
#include <nlohmann/json.hpp>
#include <stdexcept>
#include <string>
#include <vector>

namespace {

using Json = nlohmann::ordered_json;
using Texts = std::vector<std::string>;

constexpr std::size_t kColumns = 80;
constexpr std::size_t kSuspectsShown = 6;
constexpr std::size_t kTestsShown = 3;
constexpr double kWorthNaming = 0.02;  // probability of not sound from which a suspect is listed
constexpr double kSpeaksFor = 1;       // decibans from which what was seen speaks for a suspect
constexpr double kGoodEnough = 0.9;    // from which this page proposes the repair

// ---- the library -------------------------------------------------------------------------------

struct Free {
  void operator()(char* text) const { faultodds_free(text); }
  void operator()(faultodds_error* error) const { faultodds_error_free(error); }
  void operator()(faultodds_model* model) const { faultodds_model_free(model); }
};
using Text = std::unique_ptr<char, Free>;
using Error = std::unique_ptr<faultodds_error, Free>;
using Model = std::unique_ptr<faultodds_model, Free>;

[[noreturn]] void refused(const std::string& file, faultodds_error* raw) {
  const Error error(raw);
  throw std::runtime_error(file + ": " + faultodds_error_message(error.get()) + " (at " +
                           faultodds_error_pointer(error.get()) + ")");
}

Model load(const std::string& file, const std::string& circuit) {
  faultodds_model* model = nullptr;
  faultodds_error* error = nullptr;
  if (faultodds_model_load(circuit.data(), circuit.size(), nullptr, 0, nullptr, &model, &error) !=
      FAULTODDS_OK) {
    refused(file, error);
  }
  return Model(model);
}

// The whole answer: every suspect with its odds.
Json assess(const Model& model, const std::string& file, std::string the_case) {
  Json document = Json::parse(the_case, nullptr, false);
  if (document.is_object()) {
    document["detail"] = "full";
    the_case = document.dump();
  }
  char* answer = nullptr;
  faultodds_error* error = nullptr;
  if (faultodds_model_assess_json(model.get(), the_case.data(), the_case.size(), nullptr, &answer,
                                  &error) != FAULTODDS_OK) {
    refused(file, error);
  }
  return Json::parse(Text(answer).get());
}

// ---- the page ----------------------------------------------------------------------------------

std::string read_file(const std::string& file) {
  std::ifstream in(file, std::ios::binary);
  const std::string text{std::istreambuf_iterator<char>(in), {}};
  if (text.empty()) throw std::runtime_error(file + ": could not be read or is empty");
  return text;
}

// Prints `text` behind `label`, wrapped at the last column, later lines indented as far.
void wrapped(const std::string& label, const std::string& text) {
  std::string line = label;
  bool empty = true;
  std::size_t at = 0;
  while (at < text.size()) {
    const std::size_t end = std::min(text.find(' ', at), text.size());
    const std::string word = text.substr(at, end - at);
    at = end + 1;
    if (!empty && line.size() + 1 + word.size() > kColumns) {
      std::puts(line.c_str());
      line.assign(label.size(), ' ');
      empty = true;
    }
    if (!empty) line += ' ';
    line += word;
    empty = false;
  }
  std::puts(line.c_str());
}

void heading(const std::string& text) { std::printf("\n%s\n", text.c_str()); }

std::string capital(std::string text) {
  if (!text.empty() && text[0] >= 'a' && text[0] <= 'z') {
    text[0] = static_cast<char>(text[0] - 'a' + 'A');
  }
  return text;
}

// `bled_down` as people read it.
std::string spaced(std::string name) {
  std::replace(name.begin(), name.end(), '_', ' ');
  return name;
}

std::string percent(double p) {
  if (p < 0.005) return "<1 %";
  if (p > 0.995) return ">99 %";
  return std::to_string(static_cast<int>(std::lround(100 * p))) + " %";
}

std::string minutes(double value) {
  return std::to_string(static_cast<int>(std::lround(value))) + " min";
}

std::string joined(const Texts& parts, const std::string& with) {
  std::string text;
  for (const std::string& part : parts) text += (text.empty() ? "" : with) + part;
  return text;
}

// "55 mL/min at 1750 psi", from whatever the technician wrote down.
std::string reading_text(const Json& reading) {
  static const std::vector<std::pair<std::string, std::string>> order = {
      {"leak_rate", ""}, {"supply_flow", ""},   {"flow", ""},    {"below", "below "}, {"speed", ""},
      {"distance", ""},  {"pressure_drop", ""}, {"time", "in "}, {"pressure", "at "}};
  Texts parts;
  for (const auto& [key, before] : order) {
    if (reading.contains(key)) parts.push_back(before + reading[key].get<std::string>());
  }
  return joined(parts, " ");
}

// What is known of an observation that does not depend on the case.
const Json& described(const Json& model, const std::string& list, const std::string& key,
                      const std::string& id) {
  for (const Json& item : model.at(list)) {
    if (item.at(key) == id) return item;
  }
  throw std::runtime_error("the model has no " + id);
}

void print_observations(const Json& the_case, const Json& model) {
  heading("SEEN SO FAR");
  for (const Json& made : the_case.value("observations", Json::array())) {
    const std::string id = made.at("observation");
    const std::string title = described(model, "observations", "observation", id).at("title");
    const std::string found = made.contains("reading")   ? reading_text(made["reading"])
                              : made.contains("outcome") ? made["outcome"].get<std::string>()
                                                         : "own likelihood";
    std::string text = title + ": " + found;
    if (made.contains("note")) text += " (" + made["note"].get<std::string>() + ")";
    wrapped("  - ", text);
  }
}

std::vector<Json> by_probability(const Json& answer) {
  std::vector<Json> faults(answer.at("faults").begin(), answer.at("faults").end());
  std::stable_sort(faults.begin(), faults.end(), [](const Json& a, const Json& b) {
    return a["grades"][0].get<double>() < b["grades"][0].get<double>();
  });
  return faults;
}

std::string title_of(const Json& fault, const Json& model) {
  return described(model, "components", "id", fault.at("component")).at("title");
}

double number_of(const Json& value, double otherwise) {
  return value.is_null() ? otherwise : value.get<double>();
}

// What is probably behind each abnormal symptom, the complaint first.
void print_causes(const Json& answer, const Json& model) {
  for (const Json& of : answer.at("causes")) {
    const std::string id = of.at("observation");
    std::puts("");
    wrapped("PROBABLE CAUSE  ",
            described(model, "observations", "observation", id).at("title").get<std::string>());
    std::vector<std::pair<double, std::string>> causes = {
        {of.at("by_design"), "what leaks although all is sound"},
        {of.at("elsewhere"), "something the circuit document does not describe"},
        {of.at("nothing"), "nothing wrong found: a false report"}};
    for (const Json& share : of.at("shares")) {
      Texts parts;
      for (const std::string part : share.at("components")) {
        parts.push_back(described(model, "components", "id", part).at("title"));
      }
      causes.emplace_back(share.at("probability"), joined(parts, " and "));
    }
    std::stable_sort(causes.begin(), causes.end(),
                     [](const auto& a, const auto& b) { return a.first > b.first; });
    double left = 1;
    std::size_t shown = 0;
    for (const auto& [p, what] : causes) {
      if (p < kWorthNaming || shown++ == kSuspectsShown) break;
      std::string label = percent(p);
      label.insert(0, 6 - std::min<std::size_t>(6, label.size()), ' ');
      wrapped(label + "  ", what);
      left -= p;
    }
    wrapped("  ", "Everything else together: " + percent(left) + ".");
  }
}

void print_suspects(const std::vector<Json>& faults, const Json& model) {
  heading("SUSPECTS                                    before   now  weight of evidence");
  std::size_t shown = 0;
  for (const Json& fault : faults) {
    const double now = 1 - fault["grades"][0].get<double>();
    const double weight = number_of(fault["decibans"], 999);
    if (now < kWorthNaming || shown == kSuspectsShown) break;
    if (weight < kSpeaksFor) continue;
    ++shown;
    const double odds = number_of(fault["prior_odds"], 1e9);
    const std::string who = title_of(fault, model) + ": " + fault["title"].get<std::string>();
    const bool fits = who.size() <= 41;
    if (!fits) wrapped("  ", who);
    std::printf("  %-41s %6s %5s  %+.1f decibans\n", fits ? who.c_str() : "",
                percent(odds / (1 + odds)).c_str(), percent(now).c_str(), weight);
  }
  wrapped("  ", std::to_string(faults.size() - shown) +
                    " other failure modes: what was seen says "
                    "little for them, or speaks against them.");
}

// All cautions of the tests on this page, each once; the numbers tests refer to.
Texts all_cautions(const Json& answer, const std::vector<Json>& tests) {
  Texts all = answer.at("cautions").get<Texts>();
  for (const Json& test : tests) {
    for (const std::string text : test.at("cautions")) {
      if (std::find(all.begin(), all.end(), text) == all.end()) all.push_back(text);
    }
  }
  return all;
}

// "1-6, 8" for the cautions of one test.
std::string numbers(const Json& cautions, const Texts& all) {
  std::vector<std::size_t> found;
  for (const std::string text : cautions) {
    found.push_back(
        1 + static_cast<std::size_t>(std::find(all.begin(), all.end(), text) - all.begin()));
  }
  std::sort(found.begin(), found.end());
  Texts runs;
  for (std::size_t i = 0; i < found.size();) {
    std::size_t last = i;
    while (last + 1 < found.size() && found[last + 1] == found[last] + 1) ++last;
    runs.push_back(std::to_string(found[i]) + (last > i ? "-" + std::to_string(found[last]) : ""));
    i = last + 1;
  }
  return joined(runs, ", ");
}

// Whether it is made on a locked-out machine, be the lockout done already or not.
bool locked_out(const Json& observation) {
  const Json& setup = observation.at("setup");
  return std::find(setup.begin(), setup.end(), Json("lockout")) != setup.end();
}

void print_test(std::size_t number, const Json& test, const Json& model, const Texts& cautions) {
  const std::string rank = " " + std::to_string(number) + ". ";
  wrapped(rank, test.at("title").get<std::string>());
  Texts steps;
  double setup = 0;
  for (const Json& step : test.at("setup")) {
    steps.push_back(step["title"].get<std::string>() + " (" + minutes(step["minutes"]) + ")");
    setup += step["minutes"].get<double>();
  }
  const double all = test.at("minutes");
  wrapped("    Time   ", minutes(all) + (setup > 0 ? ": " + minutes(setup) + " to prepare, " +
                                                         minutes(all - setup) + " to do"
                                                   : ""));
  if (!steps.empty()) wrapped("    First  ", joined(steps, "; "));
  Texts how;
  const Json& observation = described(model, "observations", "observation", test.at("observation"));
  how.push_back(test.at("energised")      ? "MACHINE UNDER POWER OR LOAD LEFT UP"
                : locked_out(observation) ? "locked out"
                                          : "machine stopped");
  if (!test.at("test_pressure").is_null()) {
    how.push_back("test pressure " + test["test_pressure"].get<std::string>());
  }
  wrapped("    How    ", joined(how, ", "));
  Texts bring;
  for (const Json& item : test.at("bring")) {
    const std::string fitting = item["size"].get<std::string>();
    bring.push_back(
        item["what"].get<std::string>() + " for " + item["port"].get<std::string>() +
        (fitting.empty() ? "" : " (" + fitting + ", " + item["standard"].get<std::string>() + ")"));
  }
  if (!bring.empty()) wrapped("    Bring  ", joined(bring, "; "));
  Texts expected;
  for (const auto& [outcome, p] : test.at("probability").items()) {
    expected.push_back(spaced(outcome) + " " + percent(p));
  }
  wrapped("    Expect ", joined(expected, ", "));
  wrapped("    Why    ", test.at("because").get<std::string>());
  wrapped("    Heed   ", "cautions " + numbers(test.at("cautions"), cautions));
}

void print_repair(const Json& fault, const Json& model, const Json& circuit,
                  const std::vector<Json>& complaint, const Texts& cautions) {
  heading("REPAIR");
  const std::string id = fault.at("component");
  const Json& part = described(circuit, "components", "id", id);
  std::string text = capital(title_of(fault, model)) + " (" + id +
                     "): " + fault["title"].get<std::string>() + ", " +
                     percent(1 - fault["grades"][0].get<double>()) + ".";
  if (part.contains("part_cost")) text += " Part cost " + part["part_cost"].dump() + ".";
  if (part.contains("lead_days")) text += " Delivered in " + part["lead_days"].dump() + " days.";
  if (part.contains("minutes")) text += " Exchange takes " + minutes(part["minutes"]) + ".";
  wrapped("  ", text);
  for (const Json& symptom : complaint) {
    wrapped("  Then see again: ", symptom.at("title").get<std::string>() + "; cautions " +
                                      numbers(symptom.at("cautions"), cautions) + ".");
  }
}

void print_page(const Json& circuit, const Json& the_case, const Json& model, const Json& answer) {
  const std::string rule(kColumns, '=');
  std::puts(rule.c_str());
  wrapped("WORK ORDER " + the_case.value("id", "") + "  ", the_case.value("title", ""));
  const Json asset = the_case.value("asset", Json::object());
  std::string machine = asset.value("id", "");
  if (asset.contains("meter_hours")) machine += ", " + asset["meter_hours"].dump() + " h";
  wrapped("Machine     ", (machine.empty() ? "" : machine + ". ") + circuit.value("title", ""));
  std::puts(rule.c_str());

  std::vector<Json> tests;
  for (const Json& test : answer.at("tests")) {
    if (tests.size() < kTestsShown) tests.push_back(test);
  }
  const std::vector<Json> faults = by_probability(answer);
  const bool found = !faults.empty() && 1 - faults[0]["grades"][0].get<double>() >= kGoodEnough;
  std::vector<Json> complaint;  // what is seen again once the repair is made
  if (found) {
    for (const std::string id : answer.at("complaint")) {
      complaint.push_back(described(model, "observations", "observation", id));
    }
  }
  std::vector<Json> shown = tests;
  shown.insert(shown.end(), complaint.begin(), complaint.end());
  const Texts cautions = all_cautions(answer, shown);
  heading("CAUTIONS: read before the first test");
  for (std::size_t i = 0; i < cautions.size(); ++i) {
    wrapped((i < 9 ? "  " : " ") + std::to_string(i + 1) + ". ", cautions[i]);
  }

  print_observations(the_case, model);
  print_causes(answer, model);
  print_suspects(faults, model);
  for (const std::string text : answer.at("warnings")) wrapped("  Note: ", text);

  if (found) {
    print_repair(faults[0], model, circuit, complaint, cautions);
    heading("WHAT OTHER TESTS WOULD STILL TELL");
  } else {
    heading("NEXT TESTS: the one that pays most, then by what they tell per minute");
  }
  for (std::size_t i = 0; i < tests.size(); ++i) {
    if (i > 0) std::puts("");
    print_test(i + 1, tests[i], model, cautions);
  }
  std::puts("");
}

int run(const std::string& circuit_file, const Texts& case_files) {
  const std::string circuit = read_file(circuit_file);
  const Model model = load(circuit_file, circuit);
  char* description = nullptr;
  faultodds_error* error = nullptr;
  if (faultodds_model_describe_json(model.get(), nullptr, &description, &error) != FAULTODDS_OK) {
    refused(circuit_file, error);
  }
  const Json model_json = Json::parse(Text(description).get());
  const Json circuit_json = Json::parse(circuit);
  for (const std::string& file : case_files) {
    const std::string text = read_file(file);
    const Json answer = assess(model, file, text);
    print_page(circuit_json, Json::parse(text), model_json, answer);
  }
  return 0;
}

}  // namespace

int main(int argc, char** argv) {
  if (argc < 3) {
    std::fprintf(stderr, "usage: work_order circuit.json case.json...\n");
    return 2;
  }
  try {
    return run(argv[1], Texts(argv + 2, argv + argc));
  } catch (const std::exception& problem) {
    std::fprintf(stderr, "work_order: %s\n", problem.what());
    return 1;
  }
}
