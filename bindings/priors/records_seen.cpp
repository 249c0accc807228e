#include "bindings/priors/records_seen.h"

#include <utility>

#include "capi/documents/coding_tasks.h"
#include "capi/documents/prior_tasks.h"

namespace faultodds_priors {

using namespace faultodds;
using namespace faultodds::priors;

RecordsSeen records_seen(ByteSource orders, ByteSource exposure, std::string_view mapping,
                         std::string_view circuit) {
  constexpr std::size_t examples = 3;
  const documents::RecordsMapping read = documents::records_mapping_of(mapping);
  const Vocabulary vocabulary = vocabulary_of(documents::types_for(circuit));
  RecordsSeen seen;
  ReadSinks sinks;
  sinks.reject = [&seen](const Reject& reject) {
    std::vector<std::string>& of_reason = seen.rejected[reject.reason];
    if (of_reason.size() >= examples) return;
    of_reason.push_back("line " + std::to_string(reject.line) + ": " + reject.detail);
  };
  seen.orders = read_work_orders(std::move(orders), read.mapping, vocabulary, sinks,
                                 [&seen](const WorkOrder& order) {
                                   seen.histories.add(order);
                                   seen.with_tests += order.tests.empty() ? 0 : 1;
                                   seen.with_complaint += order.complaint.empty() ? 0 : 1;
                                   if (order.modes.empty()) return;
                                   ++seen.findings;
                                   seen.ambiguous += order.modes.size() > 1 ? 1 : 0;
                                   seen.with_asset += order.asset.empty() ? 0 : 1;
                                   seen.with_hours += order.hours ? 1 : 0;
                                   seen.with_grade += order.grade ? 1 : 0;
                                   seen.with_sound_at += order.sound_at ? 1 : 0;
                                 });
  if (exposure) {
    seen.exposure = read_exposure(std::move(exposure), read.mapping, vocabulary, sinks,
                                  [&seen](const Exposure& row) { seen.histories.add(row); });
  }
  return seen;
}

}  // namespace faultodds_priors
