#include "bindings/http/case_routes.h"

#include <sys/random.h>

#include <algorithm>
#include <array>
#include <charconv>
#include <chrono>
#include <condition_variable>
#include <ctime>
#include <list>
#include <memory>
#include <mutex>
#include <nlohmann/json.hpp>
#include <optional>
#include <set>
#include <stdexcept>
#include <string>
#include <utility>
#include <variant>

#include "bindings/http/case_text.h"
#include "bindings/http/exchange.h"
#include "bindings/http/fingerprint.h"
#include "bindings/http/learning_routes.h"
#include "bindings/http/members.h"
#include "bindings/http/question.h"

namespace faultodds_http {
namespace {

using nlohmann::ordered_json;

constexpr std::string_view cases_path = "/v1/cases";
constexpr std::size_t default_page = 100, largest_page = 1000;
constexpr std::size_t longest_key = 128;
// How often a write that names no revision is tried anew when another adapter's was faster.
constexpr int most_attempts = 20;

// ---- names, revisions, times -------------------------------------------------------------------

// 2 * bytes hexadecimal digits that nobody has drawn before.
std::string drawn(std::size_t bytes) {
  std::array<unsigned char, 16> random{};
  if (::getrandom(random.data(), bytes, 0) != static_cast<ssize_t>(bytes)) {
    throw std::runtime_error("no random bytes");
  }
  std::string out;
  for (std::size_t i = 0; i < bytes; ++i) {
    out += "0123456789abcdef"[random[i] >> 4];
    out += "0123456789abcdef"[random[i] & 15];
  }
  return out;
}

std::string etag_of(const Revision& revision) {
  return "\"" + revision.life + "-" + std::to_string(revision.number) + "\"";
}

std::string rfc3339(std::int64_t seconds) {
  const std::time_t time = seconds;
  std::tm parts{};
  ::gmtime_r(&time, &parts);
  std::array<char, 32> text{};
  std::strftime(text.data(), text.size(), "%Y-%m-%dT%H:%M:%SZ", &parts);
  return text.data();
}

ordered_json summary(const CaseEntry& entry) {
  return {{"id", entry.id},
          {"circuit", entry.circuit},
          {"revision", entry.revision.number},
          {"etag", etag_of(entry.revision)},
          {"changed", rfc3339(entry.changed)}};
}

Problem unknown_case(const std::string& id) {
  return {404, "unknown_case", "there is no case " + quoted(id), ""};
}

bool is_closed(const StoredCase& stored) {
  const auto body = read_case_body(stored.text);
  const auto* read = std::get_if<CaseBody>(&body);
  return read != nullptr && !read->closing.empty();
}

Problem closed_case(const std::string& id) {
  return {409, "case_closed",
          "case " + quoted(id) + " is closed; put it without `closing` to open it again", ""};
}

// ---- Idempotency-Key ---------------------------------------------------------------------------

bool is_key(std::string_view key) {
  return !key.empty() && key.size() <= longest_key && std::ranges::all_of(key, [](char c) {
    return (c >= 'A' && c <= 'Z') || (c >= 'a' && c <= 'z') || (c >= '0' && c <= '9') ||
           std::string_view("_.:~+/=-").find(c) != std::string_view::npos;
  });
}

// Empty when there is none. The draft's quotes may be left out.
std::variant<std::string, Problem> key_of(const Request& request) {
  const std::size_t count = request.field_count("idempotency-key");
  if (count == 0) return std::string();
  const std::string value(request.field("idempotency-key"));
  std::string_view key = value;
  if (key.size() >= 2 && key.front() == '"' && key.back() == '"') {
    key = key.substr(1, key.size() - 2);
  }
  if (count > 1 || !is_key(key)) {
    return Problem{400, "bad_request",
                   "Idempotency-Key is " + quoted(value) + "; expected one of 1 to 128 of the " +
                       "characters A-Z a-z 0-9 _ . : ~ + / = -, best in quotes",
                   ""};
  }
  return std::string(key);
}

// The keys of the requests this process is working on.
class KeysAtWork {
 public:
  bool begin(const std::string& key) {
    const std::lock_guard lock(mutex_);
    return keys_.insert(key).second;
  }
  void end(const std::string& key) {
    const std::lock_guard lock(mutex_);
    keys_.erase(key);
  }

 private:
  std::mutex mutex_;
  std::set<std::string> keys_;
};

// A request's key while it is worked on; without a key it does nothing.
class KeyAtWork {
 public:
  KeyAtWork(KeysAtWork& keys, std::string key)
      : keys_(keys), key_(std::move(key)), alone_(key_.empty() || keys_.begin(key_)) {}
  ~KeyAtWork() {
    if (alone_ && !key_.empty()) keys_.end(key_);
  }
  KeyAtWork(const KeyAtWork&) = delete;
  KeyAtWork& operator=(const KeyAtWork&) = delete;

  const std::string& key() const { return key_; }
  bool alone() const { return alone_; }

 private:
  KeysAtWork& keys_;
  std::string key_;
  bool alone_;
};

// The writes of each case by this process, one after another in the order they came: planned at
// once, all but one would be planned anew, and one might never be the fastest.
class CaseTurns {
 public:
  using Turn = std::list<std::string>::iterator;

  // The caller's turn with this case; nothing when the request's time was over before it came.
  std::optional<Turn> take(const std::string& id, const TimeLimit& limit) {
    std::unique_lock lock(mutex_);
    const Turn turn = turns_.insert(turns_.end(), id);
    while (std::ranges::find(turns_, id) != turn) {
      if (limit.passed()) {
        turns_.erase(turn);
        return std::nullopt;
      }
      // Awake now and then: nobody tells when the client has gone.
      ended_.wait_for(lock, std::chrono::milliseconds(50));
    }
    return turn;
  }
  void end(Turn turn) {
    {
      const std::lock_guard lock(mutex_);
      turns_.erase(turn);
    }
    ended_.notify_all();
  }

 private:
  std::mutex mutex_;
  std::condition_variable ended_;
  std::list<std::string> turns_;  // the first of each case's is its turn
};

// A request's turn with the case it writes; a case that is being made has no id and needs none.
class CaseTurn {
 public:
  CaseTurn(CaseTurns& turns, const std::string& id, const TimeLimit& limit) : turns_(turns) {
    if (id.empty()) return;
    turn_ = turns_.take(id, limit);
    came_ = turn_.has_value();
  }
  ~CaseTurn() {
    if (turn_) turns_.end(*turn_);
  }
  CaseTurn(const CaseTurn&) = delete;
  CaseTurn& operator=(const CaseTurn&) = delete;

  bool came() const { return came_; }

 private:
  CaseTurns& turns_;
  std::optional<CaseTurns::Turn> turn_;
  bool came_ = true;
};

// ---- preconditions -----------------------------------------------------------------------------

// What is wrong with writing, replacing or deleting `stored`; nothing when it may go on.
std::optional<Problem> judge(const Request& request, const std::string& id,
                             const std::optional<StoredCase>& stored) {
  const std::string etag = stored ? etag_of(stored->entry.revision) : "";
  if (request.has_field("if-none-match") && stored) {
    return Problem{412, "precondition_failed", "case " + quoted(id) + " exists already", ""};
  }
  if (request.has_field("if-match")) {
    if (!stored || !names_etag(request.field("if-match"), etag)) {
      return Problem{412, "precondition_failed",
                     stored ? "case " + quoted(id) + " is now " + etag
                            : "case " + quoted(id) + " does not exist",
                     ""};
    }
  } else if (stored) {
    return Problem{428, "precondition_required",
                   "case " + quoted(id) + " exists; send If-Match with the ETag it was read with",
                   ""};
  }
  return std::nullopt;
}

// ---- the routes --------------------------------------------------------------------------------

class CaseRoutes {
 public:
  CaseRoutes(CaseStore& cases, const CircuitStore& circuits, const CaseRouteOptions& options)
      : cases_(cases), circuits_(circuits), options_(options) {}

  void list(const Request& request, Response& response) {
    std::size_t limit = default_page;
    if (const auto asked = request.param("limit")) {
      const std::string& text = *asked;
      const auto [end, error] = std::from_chars(text.data(), text.data() + text.size(), limit);
      if (error != std::errc() || end != text.data() + text.size() || limit < 1 ||
          limit > largest_page) {
        return refuse(
            response,
            {400, "bad_request",
             "`limit` is " + quoted(text) + "; expected 1 to " + std::to_string(largest_page), ""});
      }
    }
    const std::string after = request.param("after").value_or("");
    if (!after.empty() && !is_circuit_id(after)) {
      return refuse(response, {400, "bad_request",
                               "`after` is " + quoted(after) + "; expected the id of a case", ""});
    }
    auto found = cases_.list(after, limit + 1);
    if (const auto* problem = std::get_if<Problem>(&found)) return refuse(response, *problem);
    auto& entries = std::get<0>(found);
    const bool more = entries.size() > limit;
    if (more) entries.pop_back();
    ordered_json cases = ordered_json::array();
    for (const CaseEntry& entry : entries) cases.push_back(summary(entry));
    ordered_json body = {{"cases", std::move(cases)}, {"next", nullptr}};
    if (more) body["next"] = entries.back().id;
    answer(response, 200, body.dump());
  }

  void get(const Request& request, Response& response) {
    const auto stored = found(request, response);
    if (!stored) return;
    answer_stored(request, response, std::make_shared<const std::string>(stored->text),
                  etag_of(stored->entry.revision));
  }

  void answer_question(const Request& request, Response& response, const Question& question) {
    const auto stored = found(request, response);
    if (!stored) return;
    const auto body = read_case_body(stored->text);
    if (const auto* problem = std::get_if<Problem>(&body)) return refuse(response, *problem);
    const auto text =
        ask(question, std::get<CaseBody>(body).asked, circuits_, options_.answers, request.limit);
    if (const auto* problem = std::get_if<Problem>(&text)) return refuse(response, *problem);
    answer(response, 200, std::get<Answer>(text), question.media_type);
    response.set_field("Case-ETag", etag_of(stored->entry.revision));
  }

  void create(const Request& request, Response& response) {
    if (const auto problem = no_json_body(request)) return refuse(response, *problem);
    const std::string text(request.body);
    write(request, response, text, true, [&] { return plan(drawn(16), {}, text, request.limit); });
  }

  void put(const Request& request, Response& response) {
    if (const auto problem = no_json_body(request)) return refuse(response, *problem);
    const std::string text(request.body);
    const std::string id = request.id;
    if (!is_circuit_id(id)) {
      return refuse(response, {400, "bad_request",
                               quoted(id) + " cannot be a case's id; expected at most 128 of the "
                                            "characters A-Z a-z 0-9 _ . -",
                               ""});
    }
    if (request.has_field("if-none-match") && request.field("if-none-match") != "*") {
      return refuse(response, {400, "bad_request", "the only If-None-Match of a PUT is *", ""});
    }
    write(request, response, text, false, [&]() -> Plan {
      auto stored = cases_.find(id);
      if (auto* problem = std::get_if<Problem>(&stored)) return std::move(*problem);
      const auto& before = std::get<0>(stored);
      if (auto problem = judge(request, id, before)) return std::move(*problem);
      return plan(id, before, text, request.limit);
    });
  }

  void append(const Request& request, Response& response) {
    change(request, response, [](const std::string& text, const std::string& entry) {
      Appended appended = with_observation(text, entry);
      return Changed{std::move(appended.text),
                     "/case/observations/" + std::to_string(appended.position)};
    });
  }

  // The case as it stands, closed with the body.
  void close(const Request& request, Response& response) {
    change(request, response, [](const std::string& text, const std::string& closing) {
      return Changed{with_closing(text, closing), "/closing"};
    });
  }

  void record(const Request& request, Response& response) {
    const auto stored = found(request, response);
    if (!stored) return;
    const auto body = read_case_body(stored->text);
    if (const auto* problem = std::get_if<Problem>(&body)) return refuse(response, *problem);
    const CaseBody& read = std::get<CaseBody>(body);
    if (read.closing.empty()) {
      return refuse(response, {404, "not_closed", "case " + quoted(request.id) + " is open", ""});
    }
    tell_record(request, read.asked, read.closing, circuits_, response);
    if (response.status == 200) {
      response.set_field("Case-ETag", etag_of(stored->entry.revision));
    }
  }

  void erase(const Request& request, Response& response) {
    const std::string id = request.id;
    write(request, response, "", false, [&]() -> Plan {
      auto stored = cases_.find(id);
      if (auto* problem = std::get_if<Problem>(&stored)) return std::move(*problem);
      const auto& before = std::get<0>(stored);
      if (!before) return unknown_case(id);
      if (auto problem = judge(request, id, before)) return std::move(*problem);
      Planned planned;
      planned.status = 204;
      planned.write.entry = before->entry;
      planned.write.before = before->entry.revision;
      planned.write.erase = true;
      return planned;
    });
  }

 private:
  // A case's text with the body of a request in it, and where in it that is.
  struct Changed {
    std::string text, place;
  };

  // Puts the body into a case that is open; `make` throws NotAnObject.
  template <typename Make>
  void change(const Request& request, Response& response, Make make) {
    if (const auto problem = no_json_body(request)) return refuse(response, *problem);
    const std::string body(request.body);
    const std::string id = request.id;
    write(request, response, body, false, [&]() -> Plan {
      auto stored = cases_.find(id);
      if (auto* problem = std::get_if<Problem>(&stored)) return std::move(*problem);
      const auto& before = std::get<0>(stored);
      if (!before) return unknown_case(id);
      if (auto problem = judge(request, id, before)) return std::move(*problem);
      if (is_closed(*before)) return closed_case(id);
      Changed changed;
      try {
        changed = make(before->text, body);
      } catch (const NotAnObject& problem) {
        return Problem{400, "invalid_json",
                       std::string("the body is not a JSON object: ") + problem.what(), ""};
      }
      if (changed.text.size() > options_.max_body) {
        return Problem{
            422, "limit_exceeded",
            "the case would be larger than " + std::to_string(options_.max_body) + " bytes", ""};
      }
      auto planned = plan(id, before, std::move(changed.text), request.limit);
      if (auto* problem = std::get_if<Problem>(&planned)) {
        // Into the body of this request where that is at fault.
        const bool inside = problem->pointer.starts_with(changed.place);
        problem->pointer = inside ? problem->pointer.substr(changed.place.size()) : "";
      }
      return planned;
    });
  }

  struct Planned {
    int status = 0;  // when it is written
    CaseWrite write;
    std::string text;
  };
  using Plan = std::variant<Planned, Problem>;

  // The stored case that the path names; otherwise the refusal is in the response.
  std::optional<StoredCase> found(const Request& request, Response& response) {
    const std::string id = request.id;
    auto stored = cases_.find(id);
    if (const auto* problem = std::get_if<Problem>(&stored)) {
      refuse(response, *problem);
      return std::nullopt;
    }
    if (!std::get<0>(stored)) refuse(response, unknown_case(id));
    return std::get<0>(std::move(stored));
  }

  // `text` as the case of this id, once the library has assessed it.
  Plan plan(const std::string& id, const std::optional<StoredCase>& before, std::string text,
            const TimeLimit& limit) const {
    const auto body = read_case_body(text);
    if (const auto* problem = std::get_if<Problem>(&body)) return *problem;
    const CaseBody& read = std::get<CaseBody>(body);
    auto assessed = ask(assessment, read.asked, circuits_, options_.answers, limit);
    if (auto* problem = std::get_if<Problem>(&assessed)) return std::move(*problem);
    if (!read.closing.empty()) {
      auto record =
          faultodds_http::close(read.asked, read.closing, FAULTODDS_RECORD_JSON, circuits_, limit);
      if (auto* problem = std::get_if<Problem>(&record)) return std::move(*problem);
    }
    Planned planned;
    planned.status = before ? 200 : 201;
    CaseEntry& entry = planned.write.entry;
    entry.id = id;
    entry.circuit = read.circuit;
    entry.changed = now();
    if (before) {
      planned.write.before = before->entry.revision;
      entry.revision = {before->entry.revision.life, before->entry.revision.number + 1};
    } else {
      entry.revision = {drawn(8), 1};
    }
    planned.text = std::move(text);
    return planned;
  }

  // Writes what `plan_now` plans, and plans anew when another write was faster; a request that
  // names a revision is then refused by its plan. With a key, once, however often it is sent.
  template <class PlanNow>
  void write(const Request& request, Response& response, const std::string& body, bool needs_key,
             const PlanNow& plan_now) {
    auto read_key = key_of(request);
    if (const auto* problem = std::get_if<Problem>(&read_key)) return refuse(response, *problem);
    const KeyAtWork work(keys_at_work_, std::get<std::string>(std::move(read_key)));
    const std::string& key = work.key();
    if (key.empty() && needs_key) {
      return refuse(response,
                    {400, "idempotency_key_required",
                     "send an Idempotency-Key, the same when the request is sent again", ""});
    }
    if (!work.alone()) {
      return refuse(response, {409, "request_in_flight",
                               "a request with this Idempotency-Key is being worked on", ""});
    }
    // Not the preconditions: who sends a request again may have read a later revision meanwhile.
    const std::string print = fingerprint(request.head.method + ' ' + request.path + '\n' + body);
    const auto answered_before = [&] {
      if (key.empty()) return false;
      auto remembered = cases_.remembered(key);
      if (const auto* problem = std::get_if<Problem>(&remembered)) {
        refuse(response, *problem);
        return true;
      }
      const auto& known = std::get<0>(remembered);
      if (known) repeat(*known, print, response);
      return known.has_value();
    };
    if (answered_before()) return;
    const CaseTurn turn(case_turns_, request.id, request.limit);
    if (!turn.came()) return refuse(response, too_many_writes());
    for (int attempt = 0; attempt < most_attempts; ++attempt) {
      Plan made = plan_now();
      if (const auto* problem = std::get_if<Problem>(&made)) {
        // Perhaps it is the same request, sent before, that has just changed what was planned on.
        if (!answered_before()) refuse(response, *problem);
        return;
      }
      Planned& planned = std::get<Planned>(made);
      CaseWrite& write = planned.write;
      write.text = planned.text;
      const CaseEntry& entry = write.entry;
      KeyedAnswer answered{key,
                           print,
                           planned.status,
                           entry.id,
                           write.erase ? "" : etag_of(entry.revision),
                           write.erase ? "" : summary(entry).dump()};
      if (!key.empty()) write.answer = answered;
      const WriteResult result = cases_.write(write);
      if (const auto* problem = std::get_if<Problem>(&result)) return refuse(response, *problem);
      if (const auto* known = std::get_if<KeyedAnswer>(&result)) {
        return repeat(*known, print, response);
      }
      if (std::holds_alternative<Written>(result)) return send(answered, response);
    }
    refuse(response, too_many_writes());
  }

  static Problem too_many_writes() {
    return {503, "overloaded", "too many writes of this case at once; try again", ""};
  }

  static void repeat(const KeyedAnswer& known, const std::string& print, Response& response) {
    if (known.fingerprint == print) return send(known, response);
    refuse(response, {422, "idempotency_key_reused",
                      "this Idempotency-Key came with another request before", ""});
  }

  static void send(const KeyedAnswer& answered, Response& response) {
    if (answered.status == 204) {
      response.status = 204;
      response.set_field("Cache-Control", "no-store");
      return;
    }
    answer(response, answered.status, answered.body);
    response.set_field("ETag", answered.etag);
    if (answered.status == 201) {
      response.set_field("Location", std::string(cases_path) + '/' + answered.id);
    }
  }

  CaseStore& cases_;
  const CircuitStore& circuits_;
  CaseRouteOptions options_;
  KeysAtWork keys_at_work_;
  CaseTurns case_turns_;
};

}  // namespace

void add_case_routes(Router& router, CaseStore& cases, const CircuitStore& circuits,
                     const CaseRouteOptions& options) {
  const auto routes = std::make_shared<CaseRoutes>(cases, circuits, options);
  using Handled = void (CaseRoutes::*)(const Request&, Response&);
  const auto add = [&](std::string_view method, std::string_view path, Handled member) {
    router.add(method, path, [routes, member](const Request& request, Response& response) {
      ((*routes).*member)(request, response);
    });
  };
  add("GET", "/v1/cases", &CaseRoutes::list);
  add("POST", "/v1/cases", &CaseRoutes::create);
  add("GET", "/v1/cases/{id}", &CaseRoutes::get);
  add("PUT", "/v1/cases/{id}", &CaseRoutes::put);
  add("DELETE", "/v1/cases/{id}", &CaseRoutes::erase);
  add("POST", "/v1/cases/{id}/observations", &CaseRoutes::append);
  add("POST", "/v1/cases/{id}/close", &CaseRoutes::close);
  add("GET", "/v1/cases/{id}/record", &CaseRoutes::record);
  router.add("GET", "/v1/cases/{id}/assessment",
             [routes](const Request& request, Response& response) {
               routes->answer_question(request, response, assessment);
             });
  router.add("GET", "/v1/cases/{id}/note", [routes](const Request& request, Response& response) {
    routes->answer_question(request, response, note_for(request.field("accept")));
  });
  router.add("GET", "/v1/cases/{id}/plan", [routes](const Request& request, Response& response) {
    routes->answer_question(request, response, plan_for(request.field("accept")));
  });
}

}  // namespace faultodds_http
