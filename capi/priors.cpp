// The C ABI of faultodds.h for prior packs and records, over documents/prior_tasks.h. What the
// functions promise is written in the header; circuits are in faultodds.cpp.
#include <algorithm>
#include <cmath>
#include <cstddef>
#include <cstdint>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

#include "capi/boundary.h"
#include "capi/documents/learned_pack.h"
#include "capi/documents/prior_tasks.h"
#include "capi/faultodds.h"
#include "core/error.h"
#include "core/number_text.h"

namespace documents = faultodds::documents;
namespace priors = faultodds::priors;
using namespace faultodds::boundary;
using faultodds::Code;
using faultodds::Error;

namespace {

// Work orders named of each mode: some hundred modes in 500 classes are kept in memory.
constexpr std::uint32_t kMostAudited = 1000;

priors::ByteSource source_of(const faultodds_records* given, const char* name) {
  need(given, name);
  const faultodds_records records = known_part(given, name);
  const std::string field = std::string(name) + ".";
  const std::string_view path =
      text_argument(records.path, records.path_len, (field + "path").c_str());
  const std::string_view text =
      text_argument(records.text, records.text_len, (field + "text").c_str());
  if ((records.path != nullptr) == (records.text != nullptr)) {
    refuse(std::string(name) +
           (records.path != nullptr ? " has both path and text" : " has neither path nor text") +
           "; expected one of them");
  }
  return records.path != nullptr ? priors::file_source(std::string(path))
                                 : priors::text_source(text);
}

double worth_of(double worth) {
  if (worth == 0) return documents::kWorthJobs;
  if (!(worth > 0 && std::isfinite(worth))) {
    refuse("worth_jobs is " + faultodds::fixed_text(worth) +
           "; expected a positive number of jobs, or 0");
  }
  return worth;
}

priors::ReadSinks sinks_of(const faultodds_learn_options& options) {
  priors::ReadSinks sinks;
  if (options.reject != nullptr) {
    sinks.reject = [&options](const priors::Reject& reject) {
      const std::string row = priors::reject_row(reject);
      if (options.reject(options.reject_context, row.data(), row.size()) != 0) {
        throw Error(Code::cancelled, "reading was stopped at line " + std::to_string(reject.line) +
                                         " by the callback for rejected rows");
      }
    };
  }
  if (options.progress != nullptr) {
    sinks.progress = [&options](const priors::ReadSummary& so_far) {
      return options.progress(options.progress_context, so_far.rows) == 0;
    };
  }
  return sinks;
}

}  // namespace

faultodds_status faultodds_priors_learn(const faultodds_records* orders,
                                        const faultodds_records* exposure_or_null,
                                        const faultodds_learn_options* given, char** pack,
                                        char** summary, faultodds_error** error) {
  clear(pack);
  clear(summary);
  return guarded(error, [&] {
    need(given, "options");
    need(pack, "pack");
    const faultodds_learn_options options = known_part(given, "options");
    const faultodds::StopScope scope(signal_of(options.cancel));
    faultodds::check_stop();
    documents::LearnRequest request;
    request.source = text_argument(options.source, options.source_len, "options.source");
    if (request.source.empty()) {
      refuse("options.source is empty; expected an id of these records");
    }
    request.title = text_argument(options.title, options.title_len, "options.title");
    request.mapping = text_argument(options.mapping, options.mapping_len, "options.mapping");
    request.circuit = text_argument(options.circuit, options.circuit_len, "options.circuit");
    request.judgement =
        text_argument(options.judgement, options.judgement_len, "options.judgement");
    request.worth_jobs = worth_of(options.worth_jobs);
    request.pool_classes = options.no_pooling == 0;
    request.through_circuit = options.through_circuit != 0;
    request.learn_outcomes = options.learn_outcomes != 0;
    request.threads = std::max<std::size_t>(options.threads, 1);
    if (options.audit_orders > kMostAudited) {
      refuse("options.audit_orders is " + std::to_string(options.audit_orders) +
             "; expected at most " + std::to_string(kMostAudited));
    }
    request.audit_orders = options.audit_orders;
    if (options.count_distinct != 0 && (!request.through_circuit || request.learn_outcomes)) {
      refuse(
          "options.count_distinct is 1 without options.through_circuit, or with "
          "options.learn_outcomes; expected modes to be learned through a circuit");
    }
    request.count_distinct = options.count_distinct != 0;
    request.sinks = sinks_of(options);
    request.orders = source_of(orders, "orders");
    if (exposure_or_null != nullptr) request.exposure = source_of(exposure_or_null, "exposure");
    const documents::LearnedRecords learned = documents::learn_from_records(std::move(request));
    const documents::RecordFile unused = documents::unused_file(learned);
    if (unused != documents::RecordFile::none) {
      const bool of_orders = unused == documents::RecordFile::orders;
      refuse(documents::why_unused(learned, unused, of_orders ? "`orders`" : "`exposure`"));
    }
    const std::string text =
        options.count_distinct != 0 ? learned.distinct : documents::write_prior_pack(learned.pack);
    if (summary != nullptr) *summary = copy_text(documents::write_summary(learned));
    try {
      *pack = copy_text(text);
    } catch (...) {
      if (summary != nullptr) faultodds_free(*summary);
      clear(summary);
      throw;
    }
  });
}

faultodds_status faultodds_priors_merge(const char* const* packs, const size_t* lengths,
                                        size_t count, const faultodds_call_options* options,
                                        char** merged, faultodds_error** error) {
  clear(merged);
  return guarded(options, error, [&] {
    need(packs, "packs");
    need(lengths, "lengths");
    need(merged, "merged");
    std::vector<std::string_view> texts;
    for (std::size_t i = 0; i < count; ++i) {
      const std::string name = "packs[" + std::to_string(i) + "]";
      texts.push_back(text_argument(packs[i], lengths[i], name.c_str()));
    }
    *merged = copy_text(
        documents::write_prior_pack(documents::merge_packs(texts, documents::kWorthJobs)));
  });
}

faultodds_status faultodds_priors_diff_json(const char* before_or_null, size_t before_len,
                                            const char* after, size_t after_len,
                                            const faultodds_call_options* options,
                                            char** difference, faultodds_error** error) {
  clear(difference);
  return guarded(options, error, [&] {
    need(after, "after");
    need(difference, "difference");
    const std::string_view before = text_argument(before_or_null, before_len, "before_or_null");
    const std::string_view offered = text_argument(after, after_len, "after");
    *difference = copy_text(documents::write_difference(
        priors::difference(documents::prior_pack_of(before), documents::prior_pack_of(offered))));
  });
}

faultodds_status faultodds_priors_backtest_json(const char* circuit, size_t circuit_len,
                                                const faultodds_records* orders,
                                                const faultodds_backtest_options* given,
                                                char** answer, faultodds_error** error) {
  clear(answer);
  return guarded(error, [&] {
    need(circuit, "circuit");
    need(answer, "answer");
    const faultodds_backtest_options options = known_part(given, "options");
    const faultodds::StopScope scope(signal_of(options.cancel));
    faultodds::check_stop();
    documents::BacktestRequest request;
    request.circuit = text_argument(circuit, circuit_len, "circuit");
    request.orders = source_of(orders, "orders");
    request.mapping = text_argument(options.mapping, options.mapping_len, "options.mapping");
    request.before = text_argument(options.before, options.before_len, "options.before");
    request.after = text_argument(options.after, options.after_len, "options.after");
    request.worth_jobs = worth_of(options.worth_jobs);
    request.options.asset_class =
        text_argument(options.asset_class, options.asset_class_len, "options.asset_class");
    request.options.most_jobs = static_cast<std::size_t>(options.most_jobs);
    request.options.threads = std::max<std::size_t>(options.threads, 1);
    if (options.isolated != 0) {
      if (!(options.isolated > 0.5 && options.isolated < 1)) {
        refuse("options.isolated is " + faultodds::fixed_text(options.isolated) +
               "; expected a probability above 0.5 and below 1, or 0");
      }
      request.options.isolated = options.isolated;
    }
    if (options.progress != nullptr) {
      request.options.progress = [&options](std::size_t done) {
        return options.progress(options.progress_context, done) == 0;
      };
    }
    *answer = copy_text(documents::write_backtest(documents::run_backtest(std::move(request))));
  });
}
