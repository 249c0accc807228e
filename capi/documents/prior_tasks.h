// What is done with records and prior packs from end to end, documents in and documents out: learn,
// merge, compare, backtest. The C interface and the command faultodds-priors are both made of it.
// How anything is estimated is the business of priors/.
#pragma once

#include <functional>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "core/circuit/analysis.h"
#include "priors/audit.h"
#include "priors/backtest.h"
#include "priors/learning.h"
#include "priors/pack.h"
#include "priors/records.h"

namespace faultodds::documents {

inline constexpr double kWorthJobs = 20;  // of a pack without records

// A pack document; empty: the shipped one.
priors::PriorPack prior_pack_of(std::string_view document, double worth_jobs = kWorthJobs);
circuit::Analysis circuit_of(std::string_view document);
// The catalogue's component types, and those of a circuit's own (empty: none).
std::vector<circuit::ComponentType> types_for(std::string_view circuit);

struct LearnRequest {
  priors::ByteSource orders, exposure;  // exposure may be empty
  std::string_view mapping;             // "faultodds-records/1"; empty: our own field names
  std::string_view circuit;             // whose own component types are known too; may be empty
  std::string_view judgement;           // pack to start from; empty: the shipped one
  double worth_jobs = kWorthJobs;
  bool pool_classes = true;
  std::string source, title;  // of the records; of the pack
  priors::ReadSinks sinks;
  // Learn through `circuit` by expectation-maximisation, so that what was tested counts and that a
  // machine is only recorded because of a complaint is corrected for. What comes out stands in the
  // pack as judgement: it can be learned on from, but not merged with another's.
  bool through_circuit = false;
  bool learn_outcomes = false;  // outcome statistics too; not through the circuit: leak-rate bands
  std::size_t threads = 1;      // likewise
  // Through the circuit, nothing is learned but how many orders say what: see `distinct`.
  bool count_distinct = false;
  // Work orders that the audit names for each failure mode; 0: there is no audit.
  std::size_t audit_orders = 0;
};

struct LearnedRecords {
  priors::PriorPack pack;
  priors::ReadSummary orders;
  std::optional<priors::ReadSummary> exposure;
  std::size_t not_understood = 0;  // rows that the circuit has not, where one was learned through
  std::string first_not_understood;
  std::size_t said_before = 0;      // what those jobs' rows say twice without `again`: counted once
  std::uint64_t repeats = 0;        // orders of a failure that an earlier one counts
  std::uint64_t not_looked_at = 0;  // findings booked as proposed, which count for nothing
  std::string distinct;             // the orders as priors/distinct_orders.h has them
  // Where they were learned through the circuit.
  std::optional<priors::RecordErrors> errors;
  std::vector<priors::NotToldApart> not_told_apart;
  // Which orders moved which mode, of those that counted, and the pack that was started from.
  std::optional<priors::Audit> audit;
  std::optional<priors::PriorPack> before;
};

// The pack is none to hand out where a file gave it nothing: see unused_file.
LearnedRecords learn_from_records(LearnRequest request);

// The file of which no row was used, whatever became of the rest: it is not what was meant.
enum class RecordFile { none, orders, exposure };
RecordFile unused_file(const LearnedRecords& learned);
// Why, in words: how many rows there were and what became of them. `name` of the file.
std::string why_unused(const LearnedRecords& learned, RecordFile file, const std::string& name);

// "faultodds-records-summary/1": rows, those used, those rejected by reason, and the audit.
std::string write_summary(const LearnedRecords& learned);

// Two packs or more.
priors::PriorPack merge_packs(const std::vector<std::string_view>& documents, double worth_jobs);

// "faultodds-priors-diff/1".
std::string write_difference(const std::vector<priors::Change>& changes);

struct BacktestRequest {
  priors::ByteSource orders;
  std::string_view mapping;
  std::string_view circuit;  // of the orders
  std::string_view before;   // present pack; empty: the shipped one
  std::string_view after;    // pack offered; empty: learned through the circuit as the replay goes
  double worth_jobs = kWorthJobs;
  priors::BacktestOptions options;
};

struct BacktestAnswer {
  priors::PriorPack before;
  std::optional<priors::PriorPack> after;  // none where it was learned in the replay
  priors::ReadSummary orders;
  std::size_t not_understood = 0;  // rows whose observations or component the circuit has not
  std::string first_not_understood;
  std::size_t said_before = 0;
  priors::Backtest present, offered;
  priors::Comparison comparison;
};

BacktestAnswer run_backtest(BacktestRequest request);

// "faultodds-backtest/1".
std::string write_backtest(const BacktestAnswer& answer);

}  // namespace faultodds::documents
