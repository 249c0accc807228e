#include "bindings/http/learning_routes.h"

#include <charconv>
#include <cstdint>
#include <string>
#include <utility>
#include <variant>

#include "bindings/http/case_text.h"
#include "bindings/http/exchange.h"
#include "bindings/http/members.h"

namespace faultodds_http {
namespace {

constexpr std::uint32_t default_audit = 20;

// Rows of every closed case that the store has of a circuit; of every circuit if `circuit` is
// empty. Cases that the circuit no longer understands are left out and counted.
struct Records {
  std::string rows;
  std::uint64_t closed = 0, left_out = 0;
};

Problem out_of_time_to_read() {
  return {503, "cancelled", "the time for a request was over before all closed cases were read",
          ""};
}

std::variant<Records, Problem> records_of(const std::string& circuit, CaseStore& cases,
                                          const CircuitStore& circuits, const TimeLimit& limit) {
  constexpr std::size_t page = 500;
  Records records;
  std::string after;
  for (;;) {
    auto listed = cases.list(after, page);
    if (auto* problem = std::get_if<Problem>(&listed)) return std::move(*problem);
    const auto& entries = std::get<0>(listed);
    for (const CaseEntry& entry : entries) {
      if (limit.passed()) return out_of_time_to_read();
      after = entry.id;
      if (!circuit.empty() && entry.circuit != circuit) continue;
      auto found = cases.find(entry.id);
      if (auto* problem = std::get_if<Problem>(&found)) return std::move(*problem);
      const auto& stored = std::get<0>(found);
      if (!stored) continue;  // deleted meanwhile
      const auto body = read_case_body(stored->text);
      const auto* read = std::get_if<CaseBody>(&body);
      if (read == nullptr || read->closing.empty()) continue;
      const int format = records.closed == 0 ? FAULTODDS_RECORD_CSV_HEADED : FAULTODDS_RECORD_CSV;
      const auto rows = close(read->asked, read->closing, format, circuits, limit);
      if (std::holds_alternative<Problem>(rows)) {
        ++records.left_out;
        continue;
      }
      ++records.closed;
      records.rows += *std::get<Answer>(rows);
    }
    if (entries.size() < page) return records;
  }
}

faultodds_records csv(const std::string& rows) {
  faultodds_records records{};
  records.struct_size = sizeof records;
  records.text = rows.data();
  records.text_len = rows.size();
  return records;
}

bool flag_of(const Member& member) {
  if (member.text == "true") return true;
  if (member.text == "false") return false;
  throw Problem{422, "invalid_document", quoted(member.name) + " is neither true nor false",
                pointer_to(member.name)};
}

std::string text_of(const Member& member) {
  if (!member.text.starts_with('"')) {
    throw Problem{422, "invalid_document", quoted(member.name) + " is no text; expected a string",
                  pointer_to(member.name)};
  }
  return string_value(member.text);
}

std::uint32_t count_of(const Member& member) {
  std::uint32_t count = 0;
  const char* const end = member.text.data() + member.text.size();
  const auto [at, error] = std::from_chars(member.text.data(), end, count);
  if (error != std::errc() || at != end || count > 1000) {
    throw Problem{422, "invalid_document",
                  quoted(member.name) + " is " + quoted(std::string(member.text)) +
                      "; expected a whole number up to 1000",
                  pointer_to(member.name)};
  }
  return count;
}

struct LearnAsked {
  std::string source = "cases", title;
  std::string_view judgement;
  bool through_circuit = false, learn_outcomes = false, pool_classes = true;
  std::uint32_t audit_orders = default_audit;
};

std::variant<LearnAsked, Problem> read_learn(std::string_view body) {
  LearnAsked asked;
  try {
    for (const Member& member : members_of(body)) {
      if (member.name == "source") {
        asked.source = text_of(member);
      } else if (member.name == "title") {
        asked.title = text_of(member);
      } else if (member.name == "judgement") {
        asked.judgement = member.text;
      } else if (member.name == "through_circuit") {
        asked.through_circuit = flag_of(member);
      } else if (member.name == "learn_outcomes") {
        asked.learn_outcomes = flag_of(member);
      } else if (member.name == "pool_classes") {
        asked.pool_classes = flag_of(member);
      } else if (member.name == "audit_orders") {
        asked.audit_orders = count_of(member);
      } else {
        return Problem{422, "invalid_document",
                       "unknown member " + quoted(member.name) +
                           "; expected `source`, `title`, `judgement`, `through_circuit`, "
                           "`learn_outcomes`, `pool_classes` or `audit_orders`",
                       pointer_to(member.name)};
      }
    }
  } catch (const NotAnObject& problem) {
    return Problem{400, "invalid_json",
                   std::string("the body is not a JSON object: ") + problem.what(), ""};
  } catch (const Problem& problem) {
    return problem;
  }
  return asked;
}

// The circuit that a pack's id names; null for the default pack.
std::variant<std::shared_ptr<const StoredCircuit>, Problem> circuit_of_pack(
    const std::string& id, const CircuitStore& circuits) {
  if (id == CircuitStore::default_pack) return nullptr;
  auto circuit = circuits.find(id);
  if (!circuit) {
    return Problem{404, "unknown_circuit",
                   "there is no circuit " + quoted(id) + ", and so no pack of its own", ""};
  }
  return circuit;
}

// The pack in force under this id; null where it is the shipped one.
std::shared_ptr<const std::string> in_force(const std::string& id, const CircuitStore& circuits) {
  for (const std::string& name : {id, std::string(CircuitStore::default_pack)}) {
    if (const auto pack = circuits.pack(name)) return pack->versions.back().text;
  }
  return circuits.settings().priors;
}

// `{"format": ..., "changes": [...]}`.
std::variant<std::string, Problem> difference_from(const std::string& id, std::string_view pack,
                                                   const CircuitStore& circuits,
                                                   const TimeLimit& limit) {
  const auto before = in_force(id, circuits);
  char* text = nullptr;
  faultodds_error* error = nullptr;
  const faultodds_status status =
      faultodds_priors_diff_json(before ? before->data() : nullptr, before ? before->size() : 0,
                                 pack.data(), pack.size(), limit.options(), &text, &error);
  const Text owned_text(text);
  const ErrorHandle owned_error(error);
  if (status != FAULTODDS_OK) return from_error(error, "");
  return std::string(text);
}

class LearningRoutes {
 public:
  LearningRoutes(CaseStore& cases, const CircuitStore& circuits)
      : cases_(cases), circuits_(circuits) {}

  void records(const Request& request, Response& response) const {
    const std::string circuit = request.param("circuit").value_or("");
    const auto found = records_of(circuit, cases_, circuits_, request.limit);
    if (const auto* problem = std::get_if<Problem>(&found)) return refuse(response, *problem);
    const Records& records = std::get<Records>(found);
    answer(response, 200, records.rows, "text/csv; charset=utf-8");
    response.set_field("Cases-Left-Out", std::to_string(records.left_out));
  }

  void learn(const Request& request, Response& response) const {
    if (const auto problem = no_json_body(request)) return refuse(response, *problem);
    const auto read = read_learn(request.body);
    if (const auto* problem = std::get_if<Problem>(&read)) return refuse(response, *problem);
    const LearnAsked& asked = std::get<LearnAsked>(read);
    const auto of_pack = circuit_of_pack(request.id, circuits_);
    if (const auto* problem = std::get_if<Problem>(&of_pack)) return refuse(response, *problem);
    const auto& circuit = std::get<0>(of_pack);
    if (!circuit && (asked.through_circuit || asked.learn_outcomes)) {
      return refuse(response, {422, "invalid_document",
                               "the default pack has no circuit to learn through; expected the id "
                               "of a circuit in the path",
                               ""});
    }
    const auto found = records_of(circuit ? request.id : "", cases_, circuits_, request.limit);
    if (const auto* problem = std::get_if<Problem>(&found)) return refuse(response, *problem);
    const Records& records = std::get<Records>(found);
    if (records.closed == 0) return refuse(response, no_records());

    faultodds_learn_options options{};
    options.struct_size = sizeof options;
    options.source = asked.source.data();
    options.source_len = asked.source.size();
    options.title = asked.title.data();
    options.title_len = asked.title.size();
    if (circuit) {
      options.circuit = circuit->text().data();
      options.circuit_len = circuit->text().size();
    }
    if (!asked.judgement.empty()) {
      options.judgement = asked.judgement.data();
      options.judgement_len = asked.judgement.size();
    }
    options.no_pooling = asked.pool_classes ? 0 : 1;
    options.through_circuit = asked.through_circuit ? 1 : 0;
    options.learn_outcomes = asked.learn_outcomes ? 1 : 0;
    options.audit_orders = asked.audit_orders;
    options.cancel = request.limit.cancel();
    const faultodds_records orders = csv(records.rows);
    char *pack = nullptr, *summary = nullptr;
    faultodds_error* error = nullptr;
    const faultodds_status status =
        faultodds_priors_learn(&orders, nullptr, &options, &pack, &summary, &error);
    const Text owned_pack(pack), owned_summary(summary);
    const ErrorHandle owned_error(error);
    if (status == FAULTODDS_INVALID_ARGUMENT) {
      return refuse(response, {422, "no_usable_record", faultodds_error_message(error), ""});
    }
    if (status != FAULTODDS_OK) {
      return refuse(response, from_error(error, asked.judgement.empty() ? "" : "/judgement"));
    }
    const auto difference = difference_from(request.id, pack, circuits_, request.limit);
    if (const auto* problem = std::get_if<Problem>(&difference)) return refuse(response, *problem);
    answer(response, 200,
           "{\"format\": \"faultodds-learned/1\", \"cases\": " + std::to_string(records.closed) +
               ", \"left_out\": " + std::to_string(records.left_out) + ", \"summary\": " + summary +
               ", \"difference\": " + std::get<std::string>(difference) + ", \"pack\": " + pack +
               "}");
  }

  // The body's pack against the one in force: what changes and, on a circuit's closed cases, which
  // gives the better odds.
  void compare(const Request& request, Response& response) const {
    if (const auto problem = no_json_body(request)) return refuse(response, *problem);
    const auto of_pack = circuit_of_pack(request.id, circuits_);
    if (const auto* problem = std::get_if<Problem>(&of_pack)) return refuse(response, *problem);
    const auto& circuit = std::get<0>(of_pack);
    const auto difference = difference_from(request.id, request.body, circuits_, request.limit);
    if (const auto* problem = std::get_if<Problem>(&difference)) return refuse(response, *problem);
    std::string backtest = "null";
    if (circuit) {
      auto replayed = replay(request, *circuit);
      if (const auto* problem = std::get_if<Problem>(&replayed)) return refuse(response, *problem);
      backtest = std::get<std::string>(std::move(replayed));
    }
    answer(response, 200,
           "{\"format\": \"faultodds-compared/1\", \"difference\": " +
               std::get<std::string>(difference) + ", \"backtest\": " + backtest + "}");
  }

 private:
  static Problem no_records() {
    return {409, "no_closed_case", "no closed case is stored that records could be made of", ""};
  }

  // "faultodds-backtest/1", or null where there are too few closed cases for one.
  std::variant<std::string, Problem> replay(const Request& request,
                                            const StoredCircuit& circuit) const {
    auto found = records_of(circuit.id(), cases_, circuits_, request.limit);
    if (auto* problem = std::get_if<Problem>(&found)) return std::move(*problem);
    const Records& records = std::get<Records>(found);
    if (records.closed == 0) return std::string("null");
    const auto before = in_force(request.id, circuits_);
    faultodds_backtest_options options{};
    options.struct_size = sizeof options;
    if (before) {
      options.before = before->data();
      options.before_len = before->size();
    }
    options.after = request.body.data();
    options.after_len = request.body.size();
    options.cancel = request.limit.cancel();
    const faultodds_records orders = csv(records.rows);
    char* text = nullptr;
    faultodds_error* error = nullptr;
    const faultodds_status status = faultodds_priors_backtest_json(
        circuit.text().data(), circuit.text().size(), &orders, &options, &text, &error);
    const Text owned_text(text);
    const ErrorHandle owned_error(error);
    if (status == FAULTODDS_INVALID_ARGUMENT) return std::string("null");
    if (status != FAULTODDS_OK) return from_error(error, "");
    return std::string(text);
  }

  CaseStore& cases_;
  const CircuitStore& circuits_;
};

}  // namespace

void tell_record(const Request& request, const Asked& asked, std::string_view closing,
                 const CircuitStore& circuits, Response& response) {
  const std::string_view accept = request.field("accept");
  const bool rows = accept.find("text/csv") != std::string_view::npos &&
                    accept.find("application/json") == std::string_view::npos;
  const auto record =
      close(asked, closing, rows ? FAULTODDS_RECORD_CSV_HEADED : FAULTODDS_RECORD_JSON, circuits,
            request.limit);
  if (const auto* problem = std::get_if<Problem>(&record)) return refuse(response, *problem);
  answer(response, 200, std::get<Answer>(record),
         rows ? "text/csv; charset=utf-8" : json_media_type);
}

void close_case(const Request& request, const CircuitStore& circuits, Response& response) {
  if (const auto problem = no_json_body(request)) return refuse(response, *problem);
  Asked asked;
  std::string_view closing;
  try {
    for (const Member& member : members_of(request.body)) {
      std::string_view* into = member.name == "circuit"   ? &asked.circuit
                               : member.name == "case"    ? &asked.the_case
                               : member.name == "closing" ? &closing
                                                          : nullptr;
      if (into == nullptr) {
        return refuse(response, {422, "invalid_document",
                                 "unknown member " + quoted(member.name) +
                                     "; expected `circuit`, `case` and `closing`",
                                 pointer_to(member.name)});
      }
      *into = member.text;
    }
  } catch (const NotAnObject& problem) {
    return refuse(response, {400, "invalid_json",
                             std::string("the body is not a JSON object: ") + problem.what(), ""});
  }
  for (const auto& [name, text] :
       {std::pair("circuit", asked.circuit), {"case", asked.the_case}, {"closing", closing}}) {
    if (!text.empty()) continue;
    return refuse(response,
                  {422, "invalid_document", "`" + std::string(name) + "` is missing; expected it",
                   pointer_to(name)});
  }
  tell_record(request, asked, closing, circuits, response);
}

void add_learning_routes(Router& router, CaseStore& cases, const CircuitStore& circuits) {
  const auto routes = std::make_shared<LearningRoutes>(cases, circuits);
  router.add("GET", "/v1/records", [routes](const Request& request, Response& response) {
    routes->records(request, response);
  });
  router.add("POST", "/v1/priors/{id}/learn", [routes](const Request& request, Response& response) {
    routes->learn(request, response);
  });
  router.add(
      "POST", "/v1/priors/{id}/compare",
      [routes](const Request& request, Response& response) { routes->compare(request, response); });
}

}  // namespace faultodds_http
