#include "capi/documents/prior_tasks.h"

#include <algorithm>
#include <map>
#include <optional>
#include <utility>
#include <vector>

#include "capi/documents/audit_writer.h"
#include "capi/documents/circuit_reader.h"
#include "capi/documents/coding_tasks.h"
#include "capi/documents/document.h"
#include "capi/documents/embedded.h"
#include "capi/documents/json.h"
#include "capi/documents/json_text.h"
#include "capi/documents/learned_pack.h"
#include "core/circuit/order.h"
#include "core/error.h"
#include "core/quoted_text.h"
#include "priors/distinct_orders.h"
#include "priors/learning.h"
#include "priors/statistics.h"

namespace faultodds::documents {
namespace {

using namespace priors;

// Statistics of many classes are large.
Document pack_json(std::string_view text) {
  JsonLimits limits;
  limits.bytes = std::size_t{256} << 20;
  limits.values = 30'000'000;
  return read_document(text, limits);
}

std::vector<circuit::ComponentType> catalogue() {
  return read_catalogue(read_document(kCatalogue));
}

Vocabulary vocabulary_for(std::string_view circuit) { return vocabulary_of(types_for(circuit)); }

void write(JsonText& out, const ReadSummary& summary) {
  out.begin_object().member("rows", summary.rows).member("used", summary.used);
  out.member("rejected", summary.rejected_rows()).key("reasons").begin_object();
  for (std::size_t i = 0; i < reason_count; ++i) {
    if (summary.rejected[i] > 0) out.member(name_of(static_cast<Reason>(i)), summary.rejected[i]);
  }
  out.end_object();
  if (const auto confirmed = summary.confirmed_share()) out.member("confirmed", *confirmed);
  out.member("blank_lines", summary.blank_lines);
  out.member("duplicates_may_be_missed", summary.duplicates_may_be_missed).end_object();
}

void add(Source& source, const ReadSummary& summary) {
  source.rows_used += summary.used;
  source.rows_rejected += summary.rejected_rows();
  for (std::size_t i = 0; i < reason_count; ++i) {
    if (summary.rejected[i] == 0) continue;
    source.rejected[name_of(static_cast<Reason>(i))] += summary.rejected[i];
  }
}

void write(JsonText& out, std::string_view name, const Interval& interval) {
  out.key(name).begin_list().value(interval.lower).value(interval.upper).end_list();
}

void write(JsonText& out, std::string_view name, const Backtest& replayed) {
  out.key(name).begin_object();
  out.member("log_score", replayed.log_score).member("brier", replayed.brier);
  out.member("rank", replayed.rank).member("first_ranked", replayed.first_ranked);
  out.member("tests", replayed.tests).member("minutes", replayed.minutes);
  out.member("isolated", replayed.isolated).key("calibration").begin_list();
  for (const CalibrationBin& bin : replayed.calibration) {
    out.begin_object().member("predicted", bin.predicted).member("found", bin.found);
    out.member("count", static_cast<std::uint64_t>(bin.count));
    write(out, "interval", bin.interval);
    out.end_object();
  }
  out.end_list().end_object();
}

void write(JsonText& out, std::string_view name, const PairedDifference& difference) {
  out.key(name).begin_object().member("mean", difference.mean);
  write(out, "interval", difference.interval);
  out.end_object();
}

void write(JsonText& out, const std::string& name, const Booked& booked) {
  out.member(name, booked.share);
  write(out, name + "_interval", booked.interval);
  out.member(name + "_told", booked.told);
}

// The work orders of a circuit as jobs on it, the rows of each brought together.
class JobsOn {
 public:
  // Both are kept by reference.
  JobsOn(const circuit::Analysis& circuit, const Vocabulary& vocabulary)
      : circuit_(&circuit), vocabulary_(&vocabulary) {}

  // Orders of other circuits are left out, and those whose job `wanted` does not want. Whether the
  // order was taken.
  template <typename Wanted>
  bool add(const WorkOrder& order, const Wanted& wanted) {
    if (!order.circuit.empty() && order.circuit != circuit_->id) return false;
    try {
      Job job = job_of(order, *vocabulary_, *circuit_, 0);
      if (!wanted(job)) return false;
      said_before += place_.contains(job.id) ? 0 : job.said_before;
      const auto [at, added] = place_.emplace(job.id, jobs.size());
      if (added) {
        jobs.push_back(std::move(job));
      } else {
        add_row(jobs[at->second], job);
      }
      return true;
    } catch (const Error& error) {
      if (error.code() != Code::invalid_case) throw;
      refuse(error.what());
      return false;
    }
  }
  void refuse(const std::string& why) {
    if (++not_understood == 1) first_not_understood = why;
  }

  std::vector<Job> jobs;
  std::size_t not_understood = 0;
  std::string first_not_understood;
  std::size_t said_before = 0;

 private:
  const circuit::Analysis* circuit_;
  const Vocabulary* vocabulary_;
  std::map<std::string, std::size_t> place_;
};

// Of every order; `taken` is called with those that the circuit has.
ReadSummary read_jobs(ByteSource orders, const Mapping& mapping, const Vocabulary& vocabulary,
                      const ReadSinks& sinks, JobsOn& into,
                      const std::function<void(const WorkOrder&)>& taken) {
  return read_work_orders(std::move(orders), mapping, vocabulary, sinks,
                          [&](const WorkOrder& order) {
                            if (into.add(order, [](const Job&) { return true; })) taken(order);
                          });
}

void refuse_counted(const WorkOrder& order) {
  if (order.orders == 1) return;
  throw Error(Code::invalid_argument,
              "work order " + printable(order.id) + " stands for " + std::to_string(order.orders) +
                  " orders; only learning through a circuit takes such a table");
}

void add_day(Source& source, Date closed) {
  source.first = std::min(source.first.value_or(closed), closed);
  source.last = std::max(source.last.value_or(closed), closed);
}

// Judgement of every mode, whatever the asset class.
std::map<ModeName, Dirichlet> judgement_in(const PriorPack& pack) {
  std::map<ModeName, Dirichlet> judgement;
  for (const auto& [key, judged] : pack.judgements) {
    if (key.asset_class.empty()) judgement[{key.type, key.mode}] = judged.grades;
  }
  return judgement;
}

// Of the log odds between sites that records do not tell apart; working judgement.
constexpr double kUnseenSpread = 0.2;

// Of the same failure, so soon after another order of it. Returns how many.
std::uint64_t take_off_repeats(std::vector<Job>& jobs) {
  constexpr std::int32_t same_failure_days = 14;
  std::stable_sort(jobs.begin(), jobs.end(),
                   [](const Job& a, const Job& b) { return a.closed < b.closed; });
  std::map<std::pair<std::string, std::vector<std::uint32_t>>, Date> last;
  return std::erase_if(jobs, [&](const Job& job) {
    if (job.asset.empty()) return false;
    bool repeated = !job.findings.empty();
    for (const priors::Finding& finding : job.findings) {
      if (finding.confirmed == false) return false;  // nobody looked: it is no failure
      const auto [at, added] = last.emplace(std::pair(job.asset, finding.modes), job.closed);
      repeated = repeated && !added && job.closed.days - at->second.days <= same_failure_days;
      at->second = job.closed;
    }
    return repeated;
  });
}

void learn_through_circuit(LearnRequest& request, const Mapping& mapping,
                           const Vocabulary& vocabulary, Source& source, LearnedRecords& learned) {
  if (request.circuit.empty()) {
    throw Error(Code::invalid_argument,
                "there is no circuit to learn through; expected a circuit document");
  }
  const std::vector<circuit::Analysis> circuits{circuit_of(request.circuit)};
  JobsOn read(circuits[0], vocabulary);
  DistinctOrders distinct(vocabulary);
  learned.orders = read_jobs(std::move(request.orders), mapping, vocabulary, request.sinks, read,
                             [&](const WorkOrder& order) {
                               if (learned.audit) learned.audit->add(order);
                               if (request.count_distinct) distinct.add(order);
                             });
  learned.not_understood = read.not_understood;
  learned.first_not_understood = std::move(read.first_not_understood);
  learned.said_before = read.said_before;
  std::vector<Job> jobs = read.jobs;
  learned.repeats = take_off_repeats(jobs);
  for (const Job& job : read.jobs) add_day(source, job.closed);
  if (request.count_distinct) {
    learned.distinct = distinct.table(jobs);
    return;
  }
  LearnOptions options;
  options.learn_outcomes = request.learn_outcomes;
  options.threads = request.threads;
  options.tolerance = 1e-5;
  options.doubt_records = true;
  options.unseen_spread = kUnseenSpread;
  const std::map<ModeName, Dirichlet> judged_before = judgement_in(learned.pack);
  const Learned result = learn(circuits, jobs, judged_before, options);
  const std::string said = std::to_string(result.jobs) + " work orders of " + request.source +
                           " through circuit " + circuits[0].id;
  learned.errors = result.errors;
  learned.not_looked_at = result.errors.not_looked_at;
  learned.not_told_apart = result.not_told_apart;
  for (const auto& [name, mode] : result.modes) {
    Judgement& judged = learned.pack.judgements[{name.type, name.mode, ""}];
    judged.grades = mode.posterior;
    judged.source = said;
  }
  if (!request.learn_outcomes) return;
  learned.pack.outcomes = result.outcomes;
  options.doubt_records = false;  // a leak rate is told by its instrument, whoever books
  const Confirmed confirmed = confirmed_by(circuits, read.jobs, judged_before, options);
  add(learned.pack.leak_rates, confirmed.leak_rates);
  add(learned.pack.learned_sizes, confirmed.sizes);
}

// Records with leak rates among those counted, as jobs on the circuit. Memory grows with them only.
class RateRecords {
 public:
  RateRecords(std::string_view circuit, const Vocabulary& vocabulary)
      : circuits_{circuit_of(circuit)}, read_(circuits_[0], vocabulary) {}

  void add(const WorkOrder& order) {
    if (order.tests.find('=') == std::string_view::npos) return;
    read_.add(order, [](const Job& job) {
      return std::any_of(job.evidence.begin(), job.evidence.end(),
                         [](const auto& e) { return e.reading.has_value(); });
    });
  }

  void learn(LearnedRecords& learned) {
    const auto too_open = [&](const Job& job) {
      const auto several = [](const priors::Finding& finding) { return finding.modes.size() > 1; };
      if (std::count_if(job.findings.begin(), job.findings.end(), several) <= 4) return false;
      read_.refuse("work order " + job.id +
                   ": it has more than the four ambiguous findings allowed");
      return true;
    };
    std::erase_if(read_.jobs, too_open);
    learned.not_understood = read_.not_understood;
    learned.first_not_understood = std::move(read_.first_not_understood);
    learned.said_before = read_.said_before;
    const Confirmed confirmed = confirmed_by(circuits_, read_.jobs, judgement_in(learned.pack));
    priors::add(learned.pack.leak_rates, confirmed.leak_rates);
    priors::add(learned.pack.learned_sizes, confirmed.sizes);
  }

 private:
  std::vector<circuit::Analysis> circuits_;
  JobsOn read_;
};

}  // namespace

std::vector<circuit::ComponentType> types_for(std::string_view circuit) {
  std::vector<circuit::ComponentType> types = catalogue();
  if (!circuit.empty()) {
    for (circuit::ComponentType& type : read_circuit(CircuitDocument(circuit), types).types) {
      std::erase_if(types, [&](const auto& known) { return known.name == type.name; });
      types.push_back(std::move(type));
    }
  }
  return types;
}

PriorPack prior_pack_of(std::string_view document, double worth_jobs) {
  return read_prior_pack(pack_json(document.empty() ? kShippedPack : document), worth_jobs);
}

// Records say worn or failed and never how large: learning and backtests go by grades, whatever the
// circuit's assessments are solved from.
circuit::Analysis circuit_of(std::string_view document) {
  const std::vector<circuit::ComponentType> types = catalogue();
  const CircuitDocument written(document);
  circuit::Description description = read_circuit(written, types);
  description.by_grades = true;
  return written.said_of_author([&] { return circuit::analyse_in_order(description, types); });
}

LearnedRecords learn_from_records(LearnRequest request) {
  const RecordsMapping records = records_mapping_of(request.mapping);
  const Vocabulary vocabulary = vocabulary_for(request.circuit);
  LearnedRecords learned;
  learned.pack = prior_pack_of(request.judgement, request.worth_jobs);
  if (request.audit_orders > 0) {
    learned.audit.emplace(vocabulary, request.audit_orders, records.others_sound,
                          !request.through_circuit);
    learned.before = learned.pack;
  }
  Tally tally(vocabulary, records.others_sound);
  Source source;
  source.id = request.source;
  source.title = request.title;
  if (request.through_circuit) {
    learn_through_circuit(request, records.mapping, vocabulary, source, learned);
  } else {
    std::optional<RateRecords> rates;
    if (request.learn_outcomes) {
      if (request.circuit.empty()) {
        throw Error(Code::invalid_argument,
                    "there is no circuit to learn outcomes on; expected a circuit document");
      }
      rates.emplace(request.circuit, vocabulary);
    }
    learned.orders = read_work_orders(std::move(request.orders), records.mapping, vocabulary,
                                      request.sinks, [&](const WorkOrder& order) {
                                        refuse_counted(order);
                                        add_day(source, order.closed);
                                        tally.add(order);
                                        if (rates) rates->add(order);
                                        if (learned.audit) learned.audit->add(order);
                                      });
    if (rates) rates->learn(learned);
    learned.repeats = tally.repeats();
    learned.not_looked_at = tally.not_looked_at();
  }
  add(source, learned.orders);
  if (request.exposure) {
    learned.exposure = read_exposure(std::move(request.exposure), records.mapping, vocabulary,
                                     request.sinks, [&](const Exposure& row) { tally.add(row); });
    add(source, *learned.exposure);
  }
  PriorPack& pack = learned.pack;
  pack.id = request.source;
  pack.title = request.title.empty() ? "Learned from " + request.source : request.title;
  if (source.last) pack.date = *source.last;
  pack.settings.pool_classes = request.pool_classes;
  const auto same = [&](const Source& known) { return known.id == source.id; };
  if (std::any_of(pack.sources.begin(), pack.sources.end(), same)) {
    throw Error(Code::invalid_priors, "source is '" + printable(source.id) +
                                          "', whose records the pack to start from holds already; "
                                          "expected the id of other records");
  }
  pack.sources.push_back(std::move(source));
  pack.statistics.add(tally.statistics());
  estimate(pack);
  return learned;
}

RecordFile unused_file(const LearnedRecords& learned) {
  // A source has a first day where an order counted, on the circuit where it was learned through.
  if (!learned.pack.sources.back().first) return RecordFile::orders;
  if (learned.exposure && learned.exposure->used == 0) return RecordFile::exposure;
  return RecordFile::none;
}

std::string why_unused(const LearnedRecords& learned, RecordFile file, const std::string& name) {
  const ReadSummary& rows = file == RecordFile::exposure ? *learned.exposure : learned.orders;
  std::string text = "no row of " + name + " was used; expected one at least. It has " +
                     std::to_string(rows.rows) + (rows.rows == 1 ? " row" : " rows");
  for (std::size_t i = 0; i < reason_count; ++i) {
    if (rows.rejected[i] == 0) continue;
    text += std::string(", ") + name_of(static_cast<Reason>(i)) + " " +
            std::to_string(rows.rejected[i]);
  }
  if (file == RecordFile::orders && rows.used > 0) {
    text += ", " + std::to_string(rows.used) + " not of this circuit";
    if (learned.not_understood > 0) text += " (the first: " + learned.first_not_understood + ")";
  }
  return text;
}

std::string write_summary(const LearnedRecords& learned) {
  JsonText out;
  out.begin_object().member("format", "faultodds-records-summary/1").key("work_orders");
  write(out, learned.orders);
  if (learned.exposure) {
    out.key("exposure");
    write(out, *learned.exposure);
  }
  out.member("not_understood", static_cast<std::uint64_t>(learned.not_understood));
  out.member("said_before", static_cast<std::uint64_t>(learned.said_before));
  if (learned.audit) {
    out.key("audit");
    write_audit(out, *learned.audit, *learned.before, learned.pack);
  }
  const Source& source = learned.pack.sources.back();
  if (!learned.distinct.empty() && source.first && source.last) {
    out.key("closed").begin_object().member("first", to_string(*source.first));
    out.member("last", to_string(*source.last)).end_object();
  }
  out.member("repeats", learned.repeats).member("not_looked_at", learned.not_looked_at);
  if (learned.errors) {
    const RecordErrors& errors = *learned.errors;
    out.key("record_errors").begin_object();
    write(out, "booked_unseen", errors.booked_unseen);
    write(out, "confirmed_wrong", errors.confirmed_wrong);
    out.member("overlooked", errors.overlooked).member("unexplained", errors.unexplained);
    if (errors.sites > 1) out.member("site_spread", errors.site_spread);
    out.member("sites", static_cast<std::uint64_t>(errors.sites));
    out.member("faults_alone", errors.faults_alone).end_object();
    out.key("not_told_apart").begin_list();
    for (const NotToldApart& pair : learned.not_told_apart) {
      out.begin_object().member("first", pair.first.type + "." + pair.first.mode);
      out.member("second", pair.second.type + "." + pair.second.mode);
      out.member("correlation", pair.correlation).end_object();
    }
    out.end_list();
  }
  out.end_object();
  return out.take();
}

PriorPack merge_packs(const std::vector<std::string_view>& documents, double worth_jobs) {
  if (documents.size() < 2) {
    throw Error(Code::invalid_argument, "there are " + std::to_string(documents.size()) +
                                            " packs to merge; expected two or more");
  }
  PriorPack merged = prior_pack_of(documents.front(), worth_jobs);
  for (std::size_t i = 1; i < documents.size(); ++i) {
    merged = merge(merged, prior_pack_of(documents[i], worth_jobs));
  }
  return merged;
}

std::string write_difference(const std::vector<priors::Change>& changes) {
  JsonText out;
  out.begin_object().member("format", "faultodds-priors-diff/1").key("changes").begin_list();
  for (const priors::Change& change : changes) {
    out.begin_object().member("type", change.key.type).member("mode", change.key.mode);
    if (!change.key.asset_class.empty()) out.member("asset_class", change.key.asset_class);
    const auto side = [&](const char* name, const std::optional<double>& not_sound,
                          const Interval& interval, double jobs) {
      if (!not_sound) return;
      out.key(name).begin_object().member("not_sound", *not_sound);
      write(out, "interval", interval);
      out.member("jobs", jobs).end_object();
    };
    side("before", change.before, change.before_interval, change.jobs_before);
    side("after", change.after, change.after_interval, change.jobs_after);
    if (change.before && change.after) {
      out.member("decibans", change.decibans).member("sure", change.sure);
    }
    out.end_object();
  }
  out.end_list().end_object();
  return out.take();
}

BacktestAnswer run_backtest(BacktestRequest request) {
  const std::vector<circuit::Analysis> circuits{circuit_of(request.circuit)};
  const RecordsMapping records = records_mapping_of(request.mapping);
  const Vocabulary vocabulary = vocabulary_for(request.circuit);
  BacktestAnswer answer;
  answer.before = prior_pack_of(request.before, request.worth_jobs);
  if (!request.after.empty()) answer.after = prior_pack_of(request.after, request.worth_jobs);
  JobsOn read(circuits[0], vocabulary);
  answer.orders =
      read_jobs(std::move(request.orders), records.mapping, vocabulary, {}, read, refuse_counted);
  const std::vector<Job>& jobs = read.jobs;
  answer.not_understood = read.not_understood;
  answer.first_not_understood = std::move(read.first_not_understood);
  answer.said_before = read.said_before;
  answer.present =
      backtest(circuits, jobs, fixed_pack(diagnosis_pack(answer.before)), request.options);
  PackOnDay offered;
  if (answer.after) {
    offered = fixed_pack(diagnosis_pack(*answer.after));
  } else {
    LearnOptions learn;
    learn.threads = request.options.threads;
    offered = relearned_pack(circuits, jobs, judgement_in(answer.before), learn, 50);
  }
  answer.offered = backtest(circuits, jobs, offered, request.options);
  answer.comparison = compare(answer.present, answer.offered, answer.orders.confirmed_share());
  return answer;
}

std::string write_backtest(const BacktestAnswer& answer) {
  static const char* const verdicts[] = {"better", "cannot_tell", "worse"};
  JsonText out;
  out.begin_object().member("format", "faultodds-backtest/1").key("work_orders");
  write(out, answer.orders);
  out.member("not_understood", static_cast<std::uint64_t>(answer.not_understood));
  out.member("said_before", static_cast<std::uint64_t>(answer.said_before));
  out.member("jobs", static_cast<std::uint64_t>(answer.comparison.jobs));
  out.member("machines", static_cast<std::uint64_t>(answer.comparison.machines));
  out.member("with_cause", static_cast<std::uint64_t>(answer.offered.with_cause));
  write(out, "present", answer.present);
  write(out, "offered", answer.offered);
  out.key("recorded").begin_object().member("tests", answer.offered.tests_recorded);
  out.member("minutes", answer.offered.minutes_recorded).end_object();
  out.key("difference").begin_object();
  write(out, "log_score", answer.comparison.log_score);
  write(out, "brier", answer.comparison.brier);
  write(out, "tests", answer.comparison.tests);
  write(out, "minutes", answer.comparison.minutes);
  out.end_object();
  out.member("verdict", verdicts[static_cast<int>(answer.comparison.verdict)]);
  out.member("because", answer.comparison.because).end_object();
  return out.take();
}

}  // namespace faultodds::documents
