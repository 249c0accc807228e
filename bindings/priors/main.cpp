// faultodds-priors: from an owner's closed work orders to a prior pack, and what to think of it.
// A program over the priors library; it decides nothing by itself.
#include <unistd.h>

#include <CLI/CLI.hpp>
#include <cstdio>
#include <fstream>
#include <optional>
#include <sstream>
#include <thread>

#include "bindings/files/output_file.h"
#include "bindings/priors/free_text.h"
#include "bindings/priors/report.h"
#include "capi/documents/learned_pack.h"
#include "capi/documents/prior_tasks.h"
#include "core/error.h"
#include "priors/backtest.h"
#include "priors/generator.h"

namespace {

using namespace faultodds;
using namespace faultodds::priors;
using faultodds_files::OutputFile;
using faultodds_priors::records_seen;
using faultodds_priors::RecordsSeen;

constexpr int exit_refused = 2;

std::string read_file(const std::string& path) {
  std::ifstream file(path, std::ios::binary);
  if (!file) {
    throw Error(Code::invalid_argument,
                "file " + path + " cannot be opened; expected a readable file");
  }
  std::ostringstream text;
  text << file.rdbuf();
  return text.str();
}

// Standard output has the file alone where the file goes there; what else there is to say goes to
// stderr.
void keep_apart(const OutputFile& file) {
  if (file.is_standard_output()) ::dup2(STDERR_FILENO, STDOUT_FILENO);
}

void write_file(OutputFile& file, const std::string& text) {
  file.write(text);
  file.put_in_place();
}

// Empty where no path was given: the document's default.
std::string document_at(const std::string& path) {
  return path.empty() ? std::string() : read_file(path);
}

PriorPack pack_at(const std::string& path, double worth = documents::kWorthJobs) {
  return documents::prior_pack_of(document_at(path), worth);
}

ReadSinks sinks_to(OutputFile* rejects, bool quiet) {
  ReadSinks sinks;
  if (rejects != nullptr) {
    sinks.reject = [rejects](const Reject& reject) { rejects->write(reject_row(reject)); };
  }
  if (!quiet) {
    sinks.progress = [](const ReadSummary& so_far) {
      std::fprintf(stderr, "\r%llu rows, %llu MiB", static_cast<unsigned long long>(so_far.rows),
                   static_cast<unsigned long long>(so_far.bytes >> 20));
      return true;
    };
  }
  return sinks;
}

void print_summary(const char* what, const ReadSummary& summary) {
  std::printf("%s: %llu rows, %llu used, %llu rejected\n", what,
              static_cast<unsigned long long>(summary.rows),
              static_cast<unsigned long long>(summary.used),
              static_cast<unsigned long long>(summary.rejected_rows()));
  for (std::size_t i = 0; i < reason_count; ++i) {
    if (summary.rejected[i] == 0) continue;
    std::printf("  %s: %llu\n", name_of(static_cast<Reason>(i)),
                static_cast<unsigned long long>(summary.rejected[i]));
  }
  if (const auto confirmed = summary.confirmed_share()) {
    std::printf(
        "  findings that somebody looked at: %.0f %%%s\n", 100 * *confirmed,
        *confirmed < kLeastConfirmed
            ? "; what is booked as proposed proves the proposals right, and no pack learned "
              "from it is recommended"
            : "");
  }
  if (summary.duplicates_may_be_missed) {
    std::printf(
        "  duplicates far apart may have been missed: the memory for telling them ran out\n");
  }
}

void print_not_understood(std::size_t rows, const std::string& first) {
  if (rows == 0) return;
  std::printf("  not understood on the circuit: %zu, the first: %s\n", rows, first.c_str());
}

void print_said_before(std::size_t times) {
  if (times == 0) return;
  std::printf("  said before in the same row, without `again`, and counted once: %zu\n", times);
}

struct Paths {
  std::string mapping, orders, exposure, judgement, circuit, before, after, out, rejects, html,
      audit;
  std::string source, title, date, asset_class;
  std::vector<std::string> packs;
  double worth = documents::kWorthJobs, sure = 0.9;
  std::string ranking = "suspect";
  std::size_t audit_orders = 20, sample = 0,
              threads = std::max(1u, std::thread::hardware_concurrency());
  bool quiet = false, no_pooling = false, through_circuit = false, learn_outcomes = false;
  bool replace = false;
  int jobs = 1000;
  // A depot that tests at length before it opens anything: a replay reveals no test that nobody
  // made.
  int fewest_tests = 8, most_tests = 20;
  std::uint64_t seed = 1;
};

struct FreeText {
  faultodds_priors::InspectPaths inspect;
  faultodds_priors::CodePaths code;
};

// Of every subcommand: what another does not have is empty.
void check_outputs(const Paths& paths, const FreeText& free_text) {
  const faultodds_priors::CodePaths& code = free_text.code;
  std::vector<faultodds_files::Named> inputs = {{"--orders", free_text.inspect.orders},
                                                {"--circuit", free_text.inspect.circuit},
                                                {"--orders", code.orders},
                                                {"--mapping", code.mapping},
                                                {"--circuit", code.circuit},
                                                {"--orders", paths.orders},
                                                {"--mapping", paths.mapping},
                                                {"--exposure", paths.exposure},
                                                {"--circuit", paths.circuit},
                                                {"--judgement", paths.judgement},
                                                {"--before", paths.before},
                                                {"--after", paths.after}};
  for (const std::string& pack : paths.packs) inputs.push_back({"one of the packs", pack});
  for (const std::string& answers : code.answers) inputs.push_back({"--answers", answers});
  for (const std::string& words : code.words) inputs.push_back({"--words", words});
  const std::vector<faultodds_files::Named> outputs = {
      {"--mapping-out", free_text.inspect.mapping_out},
      {"--out", code.out},
      {"--review", code.review},
      {"--not-ours", code.others},
      {"--mapping-out", code.mapping_out},
      {"--questions", code.questions},
      {"--out", paths.out},
      {"--rejects", paths.rejects},
      {"--audit", paths.audit},
      {"--html", paths.html}};
  if (const auto why = faultodds_files::one_file_twice(outputs, inputs)) {
    throw Error(Code::invalid_argument, *why);
  }
}

std::uint64_t rejected_rows(const documents::LearnedRecords& learned) {
  return learned.orders.rejected_rows() +
         (learned.exposure ? learned.exposure->rejected_rows() : 0);
}

// Orders that tell of faults alone do not tell how many parts have none.
void warn_of_faults_only(const documents::LearnedRecords& learned) {
  constexpr double kFewSound = 0.05;
  const ReadSummary& orders = learned.orders;
  const bool through = learned.errors && learned.errors->faults_alone;
  const bool counted =
      !learned.errors && orders.used > 0 &&
      static_cast<double>(orders.found_sound) < kFewSound * static_cast<double>(orders.used);
  if (learned.exposure || !(through || counted)) return;
  std::printf(
      "  warning: %llu of %llu orders found a part sound, and there is no exposure: the pack tells "
      "how faults share out among modes%s, and how often there is one stays as judged; give "
      "--exposure%s\n",
      static_cast<unsigned long long>(orders.found_sound),
      static_cast<unsigned long long>(orders.used), through ? "" : " of a type",
      through ? "" : ", or learn --through-circuit");
}

int learn_pack(const Paths& paths) {
  OutputFile out(paths.out);
  std::optional<OutputFile> rejects;
  if (!paths.rejects.empty()) rejects.emplace(paths.rejects).write(reject_header());
  std::optional<OutputFile> audit;
  if (!paths.audit.empty()) audit.emplace(paths.audit);
  keep_apart(out);
  if (rejects) keep_apart(*rejects);
  if (audit) keep_apart(*audit);
  const std::string mapping = document_at(paths.mapping), circuit = document_at(paths.circuit),
                    judgement = document_at(paths.judgement);
  documents::LearnRequest request;
  request.orders = file_source(paths.orders);
  if (!paths.exposure.empty()) request.exposure = file_source(paths.exposure);
  request.mapping = mapping;
  request.circuit = circuit;
  request.judgement = judgement;
  request.worth_jobs = paths.worth;
  request.pool_classes = !paths.no_pooling;
  request.through_circuit = paths.through_circuit;
  request.learn_outcomes = paths.learn_outcomes;
  request.threads = paths.threads;
  request.audit_orders = audit ? paths.audit_orders : 0;
  request.source = paths.source;
  request.title = paths.title;
  request.sinks = sinks_to(rejects ? &*rejects : nullptr, paths.quiet);
  const documents::LearnedRecords learned = documents::learn_from_records(std::move(request));
  if (!paths.quiet) std::fprintf(stderr, "\n");
  print_summary("work orders", learned.orders);
  print_not_understood(learned.not_understood, learned.first_not_understood);
  print_said_before(learned.said_before);
  if (learned.exposure) print_summary("exposure", *learned.exposure);
  warn_of_faults_only(learned);
  const documents::RecordFile unused = documents::unused_file(learned);
  if (unused != documents::RecordFile::none) {
    if (rejects && rejected_rows(learned) > 0) rejects->put_in_place();
    const bool orders = unused == documents::RecordFile::orders;
    throw Error(Code::invalid_argument,
                documents::why_unused(learned, unused, orders ? paths.orders : paths.exposure) +
                    ". No pack is written");
  }
  out.write(documents::write_prior_pack(learned.pack));
  if (audit) audit->write(documents::write_summary(learned));
  if (rejects) rejects->finish();
  if (audit) audit->finish();
  out.finish();
  if (rejects) rejects->put_in_place();
  if (audit) audit->put_in_place();
  out.put_in_place();
  return 0;
}

int merge_packs(const Paths& paths) {
  OutputFile out(paths.out);
  std::vector<std::string> texts;
  for (const std::string& path : paths.packs) texts.push_back(read_file(path));
  PriorPack merged = documents::merge_packs({texts.begin(), texts.end()}, documents::kWorthJobs);
  if (!paths.source.empty()) merged.id = paths.source;
  if (!paths.title.empty()) merged.title = paths.title;
  write_file(out, documents::write_prior_pack(merged));
  return 0;
}

int print_difference(const Paths& paths) {
  std::printf("%-48s %10s %10s %23s %10s %8s %6s\n", "failure mode", "before", "after", "90 %",
              "jobs", "db", "sure");
  for (const Change& change : difference(pack_at(paths.before), pack_at(paths.after))) {
    std::string name = change.key.type + "." + change.key.mode;
    if (!change.key.asset_class.empty()) name += " [" + change.key.asset_class + "]";
    const auto shown = [](const std::optional<double>& value) {
      char text[32] = "-";
      if (value) std::snprintf(text, sizeof text, "%.4g", *value);
      return std::string(text);
    };
    std::printf("%-48s %10s %10s", name.c_str(), shown(change.before).c_str(),
                shown(change.after).c_str());
    std::printf(" %11.4g %11.4g %10.0f", change.after_interval.lower, change.after_interval.upper,
                change.jobs_after - change.jobs_before);
    if (change.before && change.after) {
      std::printf(" %8.1f %5.1f%%", change.decibans, 100 * change.sure);
    }
    std::printf("\n");
  }
  return 0;
}

void print_backtest(const char* name, const Backtest& b) {
  std::printf("%-10s %8.4f %8.4f %7.2f %8.1f%% %7.2f %9.1f %9.1f%%\n", name, b.log_score, b.brier,
              b.rank, 100 * b.first_ranked, b.tests, b.minutes, 100 * b.isolated);
}

// Documents are kept by reference.
documents::BacktestRequest backtest_request(const Paths& paths, const std::string& mapping,
                                            const std::string& circuit, const std::string& before,
                                            const std::string& after) {
  documents::BacktestRequest request;
  request.orders = file_source(paths.orders);
  request.mapping = mapping;
  request.circuit = circuit;
  request.before = before;
  request.after = after;
  request.worth_jobs = paths.worth;
  BacktestOptions& options = request.options;
  options.asset_class = paths.asset_class;
  options.ranking = paths.ranking == "cause" ? Ranking::cause_bits : Ranking::suspect_bits;
  options.most_jobs = paths.sample;
  options.isolated = paths.sure;
  options.threads = paths.threads;
  options.progress = [&paths](std::size_t done) {
    if (!paths.quiet) std::fprintf(stderr, "\r%zu jobs replayed", done);
    return true;
  };
  return request;
}

int run_backtest(const Paths& paths) {
  std::optional<OutputFile> page;
  if (!paths.html.empty()) keep_apart(page.emplace(paths.html));
  const std::string mapping = document_at(paths.mapping), circuit = read_file(paths.circuit),
                    before = document_at(paths.before), after = document_at(paths.after);
  const documents::BacktestAnswer answer =
      documents::run_backtest(backtest_request(paths, mapping, circuit, before, after));
  if (!paths.quiet) std::fprintf(stderr, "\n");
  print_summary("work orders", answer.orders);
  print_not_understood(answer.not_understood, answer.first_not_understood);
  print_said_before(answer.said_before);
  const Backtest &present = answer.present, &offered = answer.offered;
  std::printf("%-10s %8s %8s %7s %9s %7s %9s %10s\n", "pack", "log", "Brier", "rank", "first",
              "tests", "minutes", "isolated");
  print_backtest("present", present);
  print_backtest("offered", offered);
  std::printf(
      "recorded order: %.2f tests, %.1f minutes; the ranking asked for a test nobody made "
      "%.0f times in 100\n",
      offered.tests_recorded, offered.minutes_recorded,
      100.0 * static_cast<double>(offered.unmade) /
          std::max<double>(1, static_cast<double>(offered.asked)));
  const Comparison& comparison = answer.comparison;
  const auto show = [](const char* name, const PairedDifference& d) {
    std::printf("%-10s %+.4f (%+.4f to %+.4f)\n", name, d.mean, d.interval.lower, d.interval.upper);
  };
  show("log score", comparison.log_score);
  show("Brier", comparison.brier);
  show("tests", comparison.tests);
  show("minutes", comparison.minutes);
  static const char* const verdicts[] = {"better", "cannot tell", "worse"};
  std::printf("%s: %s\n", verdicts[static_cast<int>(comparison.verdict)],
              comparison.because.c_str());
  if (page) {
    const RecordsSeen records = records_seen(file_source(paths.orders), {}, mapping, circuit);
    write_file(*page, faultodds_priors::write_report(
                          {answer.after ? &*answer.after : &answer.before, &answer.before, &records,
                           &present, &offered, &comparison}));
  }
  return comparison.verdict == Verdict::worse ? exit_refused : 0;
}

int write_page(const Paths& paths) {
  OutputFile page(paths.html);
  const PriorPack before = pack_at(paths.before, paths.worth), after = pack_at(paths.after);
  faultodds_priors::ReportInput input{&after, &before, nullptr, nullptr, nullptr, nullptr};
  const std::string mapping = document_at(paths.mapping), circuit = document_at(paths.circuit);
  std::optional<RecordsSeen> records;
  if (!paths.orders.empty()) {
    ByteSource exposure;
    if (!paths.exposure.empty()) exposure = file_source(paths.exposure);
    records = records_seen(file_source(paths.orders), std::move(exposure), mapping, circuit);
    input.records = &*records;
  }
  std::optional<documents::BacktestAnswer> replayed;
  if (!circuit.empty()) {
    const std::string given_before = document_at(paths.before),
                      given_after = read_file(paths.after);
    replayed = documents::run_backtest(
        backtest_request(paths, mapping, circuit, given_before, given_after));
    if (!paths.quiet) std::fprintf(stderr, "\n");
    input.present = &replayed->present;
    input.offered = &replayed->offered;
    input.comparison = &replayed->comparison;
  }
  write_file(page, faultodds_priors::write_report(input));
  return 0;
}

int write_demo(const Paths& paths) {
  if (!paths.replace && faultodds_files::is_file(paths.out)) {
    throw Error(Code::invalid_argument,
                "--out is " + paths.out +
                    ", a file that is there already; expected a new name for invented orders, or "
                    "--replace to put them in its place");
  }
  OutputFile file(paths.out);
  const circuit::Analysis analysis = documents::circuit_of(read_file(paths.circuit));
  // The invented fleet differs from judgement by a factor drawn for each mode, known from the seed.
  Random random(paths.seed);
  std::map<ModeName, std::array<double, 3>> truth;
  for (const circuit::FailureMode& mode : analysis.modes) {
    if (truth.contains({mode.type, mode.name})) continue;
    const double factor = std::exp((random.uniform() - 0.5) * 4);
    std::array<double, 3> p = mode.prior;
    const double total = p[0] + (p[1] + p[2]) * factor;
    truth[{mode.type, mode.name}] = {p[0] / total, p[1] * factor / total, p[2] * factor / total};
  }
  GeneratorOptions options;
  options.seed = paths.seed;
  options.fewest_tests = paths.fewest_tests;
  options.most_tests = std::max(paths.fewest_tests, paths.most_tests);
  Generator generator(analysis, truth, options);
  file.write(work_order_header());
  for (int i = 0; i < paths.jobs; ++i) {
    file.write(work_order_rows(generator.next(), generator.circuit(), paths.asset_class));
  }
  file.put_in_place();
  return 0;
}

int run(const CLI::App& app, const Paths& paths, const FreeText& free_text) {
  check_outputs(paths, free_text);
  if (app.got_subcommand("inspect")) return faultodds_priors::inspect_orders(free_text.inspect);
  if (app.got_subcommand("code")) return faultodds_priors::code_orders(free_text.code);
  if (app.got_subcommand("learn")) return learn_pack(paths);
  if (app.got_subcommand("merge")) return merge_packs(paths);
  if (app.got_subcommand("diff")) return print_difference(paths);
  if (app.got_subcommand("backtest")) return run_backtest(paths);
  if (app.got_subcommand("report")) return write_page(paths);
  return write_demo(paths);
}

void add_free_text(CLI::App& app, FreeText& free_text) {
  faultodds_priors::InspectPaths& inspect = free_text.inspect;
  CLI::App* look = app.add_subcommand(
      "inspect", "what a table of work orders seems to be, what of it is usable, a mapping");
  look->add_option("--orders", inspect.orders, "the table, CSV of any usual kind")->required();
  look->add_option("--circuit", inspect.circuit, "circuit whose own component types are known too");
  look->add_option("--mapping-out", inspect.mapping_out, "the mapping proposed, JSON, to edit");

  faultodds_priors::CodePaths& code = free_text.code;
  CLI::App* coding = app.add_subcommand(
      "code", "component, failure mode and grade, or none, from the free text of work orders");
  coding->add_option("--orders", code.orders, "closed work orders, CSV of any usual kind");
  coding->add_option("--mapping", code.mapping,
                     "which columns are text, closed, work_order and asset (default: as inspect "
                     "proposes)");
  coding->add_option("--circuit", code.circuit, "circuit whose own component types are known too");
  coding->add_option("--words", code.words, "further words of the trade, JSON");
  coding->add_option("--answers", code.answers,
                     "questions that somebody answered: text, component, finding, grade, CSV");
  coding->add_option("--sure", code.sure, "certainty from which a proposal is taken")
      ->check(CLI::Range(0.5, 1.0))
      ->capture_default_str();
  coding->add_option("--out", code.out, "coded orders that learn reads, CSV");
  coding->add_option("--review", code.review, "orders that nobody can be sure of, CSV");
  coding->add_option("--not-ours", code.others, "orders that are not the catalogue's, CSV");
  coding->add_option("--mapping-out", code.mapping_out, "the mapping for learn, JSON, to edit");
  coding->add_option("--questions", code.questions, "the lines to answer next, CSV");
  coding->add_option("--ask", code.ask, "how many")
      ->check(CLI::Range(1, 10'000))
      ->capture_default_str();
  coding->add_flag("--choices", code.choices, "print what an answer may name, and end");
}

}  // namespace

int main(int argc, char** argv) {
  CLI::App app("Prior packs from closed work orders");
  app.require_subcommand(1);
  Paths paths;
  FreeText free_text;
  add_free_text(app, free_text);
  const auto records = [&](CLI::App* command) {
    command->add_option("--orders", paths.orders, "closed work orders, CSV")->required();
    command->add_option("--mapping", paths.mapping, "the owner's columns and codes, JSON");
    command->add_option("--worth", paths.worth, "jobs that a pack without records is worth");
  };
  CLI::App* learn = app.add_subcommand("learn", "learn a pack from work orders and exposure");
  records(learn);
  learn->add_option("--exposure", paths.exposure, "components in service, hours, renewals, CSV");
  learn->add_option("--judgement", paths.judgement,
                    "pack to start from (default: the shipped one)");
  learn->add_option("--circuit", paths.circuit, "circuit whose own component types are known too");
  learn->add_option("--source", paths.source, "id of these records; merging counts it once")
      ->required();
  learn->add_option("--title", paths.title, "title of the pack");
  learn->add_option("--rejects", paths.rejects, "where rows not used go, CSV");
  learn->add_option("--out", paths.out, "the pack")->required();
  learn->add_option("--audit", paths.audit, "which orders moved which mode, JSON");
  learn
      ->add_option("--audit-orders", paths.audit_orders,
                   "orders that it names for each, the latest")
      ->check(CLI::Range(1, 1000))
      ->capture_default_str();
  learn->add_flag("--no-pooling", paths.no_pooling, "let every asset class stand by itself");
  learn
      ->add_flag("--through-circuit", paths.through_circuit,
                 "through the circuit: what was tested counts, selection by complaint is "
                 "corrected for; cannot be merged")
      ->needs("--circuit");
  learn
      ->add_flag("--learn-outcomes", paths.learn_outcomes,
                 "outcome statistics too; not through the circuit, leak-rate bands only")
      ->needs("--circuit");
  learn->add_option("--threads", paths.threads, "threads, through the circuit")
      ->check(CLI::Range(1, 1024));
  learn->add_flag("--quiet", paths.quiet, "no progress");

  CLI::App* merge = app.add_subcommand("merge", "one pack from those of several depots");
  merge->add_option("packs", paths.packs, "packs")->required()->expected(2, 10'000);
  merge->add_option("--id", paths.source, "id of the merged pack");
  merge->add_option("--title", paths.title, "its title");
  merge->add_option("--out", paths.out, "the pack")->required();

  CLI::App* diff = app.add_subcommand("diff", "what changed, on how many jobs, how sure");
  diff->add_option("before", paths.before, "a pack")->required();
  diff->add_option("after", paths.after, "a pack")->required();

  CLI::App* replay = app.add_subcommand("backtest", "replay closed orders with two packs");
  records(replay);
  replay->add_option("--circuit", paths.circuit, "the circuit of the orders")->required();
  replay->add_option("--before", paths.before, "present pack (default: the shipped one)");
  replay->add_option("--after", paths.after,
                     "pack offered (default: learned through the circuit as the replay goes)");
  replay->add_option("--asset-class", paths.asset_class, "asset class of the machines");
  replay->add_option("--html", paths.html, "report");
  replay->add_option("--sample", paths.sample, "replay so many jobs, evenly spaced (0: all)");
  replay
      ->add_option("--ranking", paths.ranking,
                   "suspect: what a test tells of each suspect; cause: of the cause of the "
                   "complaint, as an assessment ranks, far slower")
      ->check(CLI::IsMember({"suspect", "cause"}))
      ->capture_default_str();
  replay->add_option("--threads", paths.threads, "threads")->check(CLI::Range(1, 1024));
  replay->add_flag("--quiet", paths.quiet, "no progress");

  CLI::App* page = app.add_subcommand("report", "one HTML page on a pack");
  page->add_option("--before", paths.before, "pack to compare with (default: the shipped one)");
  page->add_option("--after", paths.after, "the pack")->required();
  page->add_option("--html", paths.html, "the page")->required();
  page->add_option("--worth", paths.worth, "jobs that a pack without records is worth");
  CLI::Option* orders = page->add_option(
      "--orders", paths.orders, "closed work orders, CSV: faults per machine, quality of records");
  page->add_option("--mapping", paths.mapping, "the owner's columns and codes, JSON");
  page->add_option("--exposure", paths.exposure,
                   "which machines were under watch from when to when, CSV")
      ->needs(orders);
  page->add_option("--circuit", paths.circuit, "the circuit of the orders: they are replayed too")
      ->needs(orders);
  page->add_option("--asset-class", paths.asset_class, "asset class of the machines replayed");
  page->add_option("--sample", paths.sample, "replay so many jobs, evenly spaced (0: all)");
  page->add_option("--threads", paths.threads, "threads")->check(CLI::Range(1, 1024));
  page->add_flag("--quiet", paths.quiet, "no progress");

  CLI::App* demo = app.add_subcommand("demo", "invented closed orders of a circuit, from a seed");
  demo->add_option("--circuit", paths.circuit, "the circuit")->required();
  demo->add_option("--jobs", paths.jobs, "how many")->check(CLI::Range(1, 100'000'000));
  demo->add_option("--seed", paths.seed, "the seed");
  demo->add_option("--asset-class", paths.asset_class, "asset class of the machines");
  demo->add_option("--fewest-tests", paths.fewest_tests, "made on a job")
      ->check(CLI::Range(0, 1000))
      ->capture_default_str();
  demo->add_option("--most-tests", paths.most_tests, "made on a job")
      ->check(CLI::Range(0, 1000))
      ->capture_default_str();
  demo->add_option("--out", paths.out, "the file")->required();
  demo->add_flag("--replace", paths.replace, "replace the file if there is one");

  CLI11_PARSE(app, argc, argv);
  faultodds_files::remove_unfinished_on_signals();
  try {
    const int code = run(app, paths, free_text);
    if (std::fflush(stdout) == 0 && std::ferror(stdout) == 0) return code;
    std::fprintf(stderr, "faultodds-priors: standard output cannot be written\n");
  } catch (const Error& error) {
    std::fprintf(stderr, "faultodds-priors: %s%s%s\n", error.what(),
                 error.pointer().empty() ? "" : " at ", error.pointer().c_str());
  } catch (const std::exception& error) {
    std::fprintf(stderr, "faultodds-priors: %s\n", error.what());
  }
  return 1;
}
