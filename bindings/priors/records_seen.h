// Records read for the report: what a pack's statistics no longer hold, each machine by itself and
// examples of rows that were not used. Learning does not come from here.
#pragma once

#include <map>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "priors/machine_histories.h"
#include "priors/records.h"

namespace faultodds_priors {

struct RecordsSeen {
  faultodds::priors::ReadSummary orders;
  std::optional<faultodds::priors::ReadSummary> exposure;
  // The first few of each reason: "line 7: ...".
  std::map<faultodds::priors::Reason, std::vector<std::string>> rejected;
  std::uint64_t with_asset = 0, with_hours = 0, with_grade = 0, with_sound_at = 0;  // findings
  std::uint64_t findings = 0, ambiguous = 0;
  std::uint64_t with_tests = 0, with_complaint = 0;  // rows
  faultodds::priors::MachineHistories histories;
};

// `exposure` may be empty; `mapping` and `circuit` are documents that may be.
RecordsSeen records_seen(faultodds::priors::ByteSource orders,
                         faultodds::priors::ByteSource exposure, std::string_view mapping,
                         std::string_view circuit);

}  // namespace faultodds_priors
