// faultodds-circuit: checks, explains, compares, begins and draws circuit documents, over the C
// interface. It decides nothing by itself.
#include <faultodds_circuit.h>
#include <unistd.h>

#include <CLI/CLI.hpp>
#include <cstdio>
#include <filesystem>
#include <fstream>
#include <iostream>
#include <memory>
#include <nlohmann/json.hpp>
#include <optional>
#include <sstream>
#include <stdexcept>

#include "bindings/files/output_file.h"
#include "bindings/http/circuit_bases.h"

namespace {

using nlohmann::ordered_json;

constexpr int exit_found = 2;  // the document does not load, or is warned of with --strict

// What was read so far: none of it is written.
std::vector<faultodds_files::Named>& files_read() {
  static std::vector<faultodds_files::Named> all;
  return all;
}

std::string read_file(const std::string& path) {
  files_read().push_back({"a document that is read", path == "-" ? "/dev/stdin" : path});
  std::ostringstream text;
  if (path == "-") {
    text << std::cin.rdbuf();
    return text.str();
  }
  std::ifstream file(path, std::ios::binary);
  if (!file)
    throw std::runtime_error("file " + path + " cannot be opened; expected a readable file");
  text << file.rdbuf();
  return text.str();
}

// A circuit, with the documents that it extends by name: those beside it.
std::string read_circuit_file(const std::string& path) {
  const std::filesystem::path folder = path == "-" ? "" : std::filesystem::path(path).parent_path();
  const auto beside = [&](const std::string& name) -> std::optional<std::string> {
    const std::filesystem::path file = folder / (name + ".json");
    const bool plain = name.find_first_of("/\\") == std::string::npos;
    if (!plain || !std::filesystem::exists(file)) return std::nullopt;
    return read_file(file.string());
  };
  const auto bases = faultodds_http::with_bases(read_file(path), beside);
  if (!bases.problem.empty()) {
    throw std::runtime_error(bases.problem + " at " + bases.pointer +
                             "; expected the name of a circuit document beside " + path +
                             ", without .json");
  }
  return bases.text;
}

// What a call gave, or its error thrown.
template <typename Call>
std::string asked(Call call) {
  char* answer = nullptr;
  faultodds_error* error = nullptr;
  const faultodds_status status = call(&answer, &error);
  if (status != FAULTODDS_OK) {
    std::string message = faultodds_error_message(error);
    const std::string pointer = faultodds_error_pointer(error);
    if (!pointer.empty()) message += " at " + pointer;
    faultodds_error_free(error);
    throw std::runtime_error(message);
  }
  const std::unique_ptr<char, void (*)(char*)> owner(answer, faultodds_free);
  return answer;
}

void put(const std::string& path, const std::string& text) {
  if (path.empty() || path == "-") {
    std::fwrite(text.data(), 1, text.size(), stdout);
    return;
  }
  if (const auto why = faultodds_files::one_file_twice({{"--out", path}}, files_read())) {
    throw std::runtime_error(*why);
  }
  faultodds_files::OutputFile file(path);
  file.write(text);
  file.put_in_place();
}

std::string text_of(const ordered_json& object, const char* key) {
  return object.contains(key) ? object[key].get<std::string>() : std::string();
}

void print_findings(const ordered_json& check, bool notes) {
  for (const ordered_json& one : check["findings"]) {
    const std::string severity = one["severity"];
    if (severity == "note" && !notes) continue;
    const std::string pointer = one["pointer"];
    std::printf("%s: %s: %s\n", pointer.empty() ? "/" : pointer.c_str(), severity.c_str(),
                text_of(one, "message").c_str());
    if (const std::string expected = text_of(one, "expected"); !expected.empty()) {
      std::printf("    expected: %s\n", expected.c_str());
    }
    if (const std::string cause = text_of(one, "cause"); !cause.empty()) {
      std::printf("    probably: %s\n", cause.c_str());
    }
    if (severity != "error") std::printf("    source: %s\n", text_of(one, "source").c_str());
  }
  std::printf("%s: %zu errors, %zu warnings, %zu notes%s\n", text_of(check, "circuit").c_str(),
              check["errors"].get<std::size_t>(), check["warnings"].get<std::size_t>(),
              check["notes"].get<std::size_t>(), notes ? "" : " (--notes shows them)");
}

void print_explanation(const ordered_json& of) {
  if (of.contains("cautions")) {
    for (const ordered_json& caution : of["cautions"]) {
      std::printf("%s\n", caution.get<std::string>().c_str());
    }
    std::printf("\n");
  }
  std::printf("%s: %s\n", text_of(of, "observation").c_str(), text_of(of, "title").c_str());
  if (of.contains("load")) std::printf("Load: %s\n", text_of(of, "load").c_str());
  if (of.contains("test_pressure")) {
    std::printf("Test pressure: %s\n", text_of(of, "test_pressure").c_str());
  }
  for (const ordered_json& set : of["sets"]) {
    std::printf("\n- %s\n", text_of(set, "sentence").c_str());
    if (set.contains("size")) {
      std::printf("  At %s each: %s, without %s\n", text_of(set, "size").c_str(),
                  text_of(set, "shown").c_str(), text_of(set, "without").c_str());
    }
    if (!set.contains("way")) continue;
    for (const ordered_json& step : set["way"]) {
      std::string text = "    " + text_of(step, "from") + " -> " + text_of(step, "to");
      if (step.contains("line")) text += "  line " + text_of(step, "line");
      if (step.contains("title")) {
        text += "  " + text_of(step, "title") + ", " + text_of(step, "element") +
                (step["leaks"].get<bool>() ? " (leaks)" : "");
      }
      if (step.contains("flow")) text += "  " + text_of(step, "flow");
      if (step.contains("pressure")) text += "  " + text_of(step, "pressure");
      if (step.contains("pressure_after")) text += " to " + text_of(step, "pressure_after");
      std::printf("%s\n", text.c_str());
    }
  }
}

void print_list(const char* what, const ordered_json& names) {
  for (const ordered_json& name : names) {
    std::printf("%s %s\n", what, name.get<std::string>().c_str());
  }
}

void print_difference(const ordered_json& of) {
  print_list("+ component", of["components"]["added"]);
  print_list("- component", of["components"]["removed"]);
  print_list("+ mode", of["modes"]["added"]);
  print_list("- mode", of["modes"]["removed"]);
  for (const ordered_json& mode : of["modes"]["changed"]) {
    std::printf("~ mode %s%s%s\n", text_of(mode, "mode").c_str(),
                mode.contains("prior") ? ", prior" : "", mode.contains("size") ? ", size" : "");
  }
  print_list("+ observation", of["observations"]["added"]);
  for (const ordered_json& one : of["observations"]["removed"]) {
    std::printf("- observation %s: %s\n", text_of(one, "observation").c_str(),
                text_of(one, "why").c_str());
  }
  for (const ordered_json& one : of["observations"]["changed"]) {
    std::printf("~ observation %s\n", text_of(one, "observation").c_str());
    if (one.contains("sets_added")) print_list("    + set", one["sets_added"]);
    if (one.contains("sets_removed")) print_list("    - set", one["sets_removed"]);
    if (one.contains("test_pressure")) {
      std::printf("    test pressure: %s -> %s\n", text_of(one["test_pressure"], "before").c_str(),
                  text_of(one["test_pressure"], "after").c_str());
    }
  }
  if (!of.contains("answer")) return;
  for (const char* when : {"before", "after"}) {
    const ordered_json& answer = of["answer"][when];
    std::printf("answer %s:\n", when);
    if (answer["first_test"].is_object()) {
      for (const ordered_json& caution : answer["first_test"]["cautions"]) {
        std::printf("    %s\n", caution.get<std::string>().c_str());
      }
      std::printf("    first test %s\n", text_of(answer["first_test"], "observation").c_str());
    }
    for (const auto& [names, share] : answer["shares"].items()) {
      std::printf("    %4.1f %%  %s\n", 100 * share.get<double>(), names.c_str());
    }
  }
}

struct Options {
  std::string circuit, other, observation, size, the_case, out,
      id = "machine", title, format = "faultodds-circuit/1", extends;
  std::vector<std::string> parts;
  bool json = false, notes = false, strict = false, replace = false;
};

int run_check(const Options& options) {
  const std::string circuit = read_circuit_file(options.circuit);
  const std::string text = asked([&](char** answer, faultodds_error** error) {
    return faultodds_circuit_check_json(circuit.data(), circuit.size(), nullptr, answer, error);
  });
  const ordered_json check = ordered_json::parse(text);
  if (options.json) {
    std::printf("%s\n", check.dump(2).c_str());
  } else {
    print_findings(check, options.notes);
  }
  if (check["errors"] != 0 || (options.strict && check["warnings"] != 0)) return exit_found;
  return 0;
}

int run_explain(const Options& options) {
  const std::string circuit = read_circuit_file(options.circuit);
  const ordered_json explanation =
      ordered_json::parse(asked([&](char** answer, faultodds_error** error) {
        return faultodds_circuit_explain_json(
            circuit.data(), circuit.size(), options.observation.data(), options.observation.size(),
            options.size.empty() ? nullptr : options.size.data(), options.size.size(), nullptr,
            answer, error);
      }));
  if (options.json) {
    std::printf("%s\n", explanation.dump(2).c_str());
  } else {
    print_explanation(explanation);
  }
  return 0;
}

int run_diff(const Options& options) {
  const std::string before = read_circuit_file(options.circuit),
                    after = read_circuit_file(options.other);
  const std::string of = options.the_case.empty() ? "" : read_file(options.the_case);
  const ordered_json difference =
      ordered_json::parse(asked([&](char** answer, faultodds_error** error) {
        return faultodds_circuit_diff_json(before.data(), before.size(), after.data(), after.size(),
                                           of.empty() ? nullptr : of.data(), of.size(), nullptr,
                                           answer, error);
      }));
  if (options.json) {
    std::printf("%s\n", difference.dump(2).c_str());
  } else {
    print_difference(difference);
  }
  return 0;
}

// `id:type` with `,key=value` after it, or one path of a document "faultodds-parts/1".
std::string parts_document(const Options& options) {
  if (options.parts.size() == 1 && options.parts[0].find(':') == std::string::npos) {
    return read_file(options.parts[0]);
  }
  ordered_json parts = ordered_json::array();
  for (const std::string& text : options.parts) {
    std::istringstream words(text);
    std::string word;
    ordered_json part;
    while (std::getline(words, word, ',')) {
      const std::size_t at = word.find(part.empty() ? ':' : '=');
      if (at == std::string::npos) {
        throw std::runtime_error("part " + text +
                                 "; expected id:type and then key=value, such as "
                                 "lift:single_rod_cylinder,bore=80 mm,rod=45 mm");
      }
      if (part.empty()) {
        part = {{"id", word.substr(0, at)}, {"type", word.substr(at + 1)}};
      } else {
        const std::string key = word.substr(0, at), value = word.substr(at + 1);
        const bool plain = key == "ratio" || key == "part_cost" || key == "lead_days";
        part[key] = plain ? ordered_json::parse(value) : ordered_json(value);
      }
    }
    parts.push_back(std::move(part));
  }
  ordered_json document = {{"format", "faultodds-parts/1"}, {"id", options.id}};
  if (!options.title.empty()) document["title"] = options.title;
  document["parts"] = std::move(parts);
  return document.dump();
}

// What somebody has worked on since is not begun anew.
void keep_what_is_there(const Options& options) {
  if (options.replace || !faultodds_files::is_file(options.out)) return;
  throw std::runtime_error(
      "--out names " + options.out +
      ", which is there; expected another name, or --replace to begin it anew");
}

// The check goes to stderr: standard output may be where the document goes.
int run_new(const Options& options) {
  keep_what_is_there(options);
  const std::string parts = parts_document(options);
  const std::string circuit = asked([&](char** answer, faultodds_error** error) {
    return faultodds_circuit_new_json(parts.data(), parts.size(), nullptr, answer, error);
  });
  put(options.out, circuit);
  const std::string text = asked([&](char** answer, faultodds_error** error) {
    return faultodds_circuit_check_json(circuit.data(), circuit.size(), nullptr, answer, error);
  });
  std::fflush(stdout);
  ::dup2(STDERR_FILENO, STDOUT_FILENO);
  print_findings(ordered_json::parse(text), options.notes);
  return 0;
}

// A variant with nothing changed yet.
int run_new_variant(const Options& options) {
  keep_what_is_there(options);
  const std::filesystem::path base(options.extends);
  read_circuit_file(options.extends);  // there, and its bases too
  ordered_json document = {{"format", "faultodds-circuit/1"}, {"id", options.id}};
  if (!options.title.empty()) document["title"] = options.title;
  document["extends"] = base.stem().string();
  document["overrides"] = ordered_json::object();
  put(options.out, document.dump(2) + "\n");
  return 0;
}

int run_expand(const Options& options) {
  const std::string circuit = read_circuit_file(options.circuit);
  put(options.out, asked([&](char** answer, faultodds_error** error) {
        return faultodds_circuit_expand_json(circuit.data(), circuit.size(), nullptr, answer,
                                             error);
      }));
  return 0;
}

int run_schema(const Options& options) {
  put(options.out, asked([&](char** answer, faultodds_error** error) {
                     return faultodds_schema_json(options.format.data(), options.format.size(),
                                                  nullptr, answer, error);
                   }) + "\n");
  return 0;
}

int run_draw(const Options& options) {
  const std::string circuit = read_circuit_file(options.circuit);
  const std::string of = options.the_case.empty() ? "" : read_file(options.the_case);
  put(options.out, asked([&](char** answer, faultodds_error** error) {
        return faultodds_circuit_draw_svg(circuit.data(), circuit.size(),
                                          of.empty() ? nullptr : of.data(), of.size(), nullptr,
                                          answer, error);
      }));
  return 0;
}

}  // namespace

int main(int argc, char** argv) {
  CLI::App app("Checks, explains, compares, begins and draws circuit documents.");
  app.set_version_flag("--version", faultodds_version());
  app.require_subcommand(1);
  Options options;

  CLI::App* check = app.add_subcommand("check", "everything the author should look at");
  check->add_option("circuit", options.circuit, "the document, - for standard input")->required();
  check->add_flag("--json", options.json, "the list as JSON");
  check->add_flag("--notes", options.notes, "with what is left out and why");
  check->add_flag("--strict", options.strict, "exit code 2 for warnings too");

  CLI::App* explain = app.add_subcommand("explain", "why an observation shows what it shows");
  explain->add_option("circuit", options.circuit, "the document")->required();
  explain->add_option("observation", options.observation, "its id")->required();
  explain->add_option("--size", options.size, "of each leak, such as \"300 mL/min\"");
  explain->add_flag("--json", options.json, "as JSON");

  CLI::App* diff = app.add_subcommand("diff", "what changes from one document to another");
  diff->add_option("before", options.circuit, "the one")->required();
  diff->add_option("after", options.other, "the other")->required();
  diff->add_option("--case", options.the_case, "a case, whose answers are compared");
  diff->add_flag("--json", options.json, "as JSON");

  CLI::App* begin = app.add_subcommand("new", "a document from a list of parts, checked");
  begin->add_option("parts", options.parts,
                    "id:type,key=value ... in the order of the oil, or a file");
  begin->add_option("--id", options.id, "of the circuit");
  begin->add_option("--title", options.title, "of the circuit");
  begin->add_option("--out", options.out, "the file (default: standard output)");
  begin->add_flag("--notes", options.notes, "with what is left out and why");
  begin->add_flag("--replace", options.replace, "replace the file if there is one");
  begin->add_option("--extends", options.extends, "a variant of this document, beside it");

  CLI::App* expand = app.add_subcommand("expand", "assemblies and bases written out");
  expand->add_option("circuit", options.circuit, "the document")->required();
  expand->add_option("--out", options.out, "the file (default: standard output)");

  CLI::App* schema = app.add_subcommand("json-schema", "JSON Schema (2020-12) of a document");
  schema->add_option("format", options.format, "faultodds-circuit/1, faultodds-case/1, ...");
  schema->add_option("--out", options.out, "the file (default: standard output)");

  CLI::App* draw = app.add_subcommand("draw", "the circuit as SVG");
  draw->add_option("circuit", options.circuit, "the document")->required();
  draw->add_option("--case", options.the_case, "a case, whose suspects are shaded");
  draw->add_option("--out", options.out, "the file (default: standard output)");

  CLI11_PARSE(app, argc, argv);
  faultodds_files::remove_unfinished_on_signals();
  try {
    int code = 0;
    if (check->parsed()) code = run_check(options);
    if (explain->parsed()) code = run_explain(options);
    if (diff->parsed()) code = run_diff(options);
    if (begin->parsed() && options.parts.empty() == options.extends.empty()) {
      throw std::runtime_error("new takes parts, or --extends with a document; expected one");
    }
    if (begin->parsed()) {
      code = options.extends.empty() ? run_new(options) : run_new_variant(options);
    }
    if (expand->parsed()) code = run_expand(options);
    if (schema->parsed()) code = run_schema(options);
    if (draw->parsed()) code = run_draw(options);
    if (std::fflush(stdout) == 0 && std::ferror(stdout) == 0) return code;
    std::fprintf(stderr, "faultodds-circuit: standard output cannot be written\n");
  } catch (const std::exception& error) {
    std::fprintf(stderr, "faultodds-circuit: %s\n", error.what());
  }
  return 1;
}
