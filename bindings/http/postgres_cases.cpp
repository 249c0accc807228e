// The case store in a PostgreSQL database, for several adapters at once. Each call takes one of a
// few connections; one that is found broken is replaced, so the store comes back when the database
// does. Every wait for the server has an end. When the connection breaks while a COMMIT is under
// way nobody can know what became of it: the answer is then 503, and the key that was stored in the
// same transaction tells a second try what happened to the first.
#include <libpq-fe.h>
#include <poll.h>

#include <array>
#include <charconv>
#include <stdexcept>
#include <string>
#include <utility>

#include "bindings/http/case_store.h"
#include "bindings/http/pool.h"

namespace faultodds_http {
namespace {

using Clock = std::chrono::steady_clock;

constexpr int schema_version = 1;
constexpr const char* setting_up = "SELECT pg_advisory_xact_lock(1718576227)";  // "fodc"

constexpr std::array schema = {
    "CREATE TABLE faultodds_store (schema integer NOT NULL, cases bigint NOT NULL)",
    R"(CREATE TABLE faultodds_cases (
         id text COLLATE "C" PRIMARY KEY,
         life text NOT NULL,
         revision bigint NOT NULL,
         circuit text NOT NULL,
         changed bigint NOT NULL,
         body text NOT NULL))",
    R"(CREATE TABLE faultodds_keys (
         n bigint GENERATED ALWAYS AS IDENTITY PRIMARY KEY,
         key text COLLATE "C" NOT NULL UNIQUE,
         fingerprint text NOT NULL,
         made bigint NOT NULL,
         status integer NOT NULL,
         id text NOT NULL,
         etag text NOT NULL,
         body text NOT NULL))",
    "INSERT INTO faultodds_store VALUES (1, 0)"};

// The connection is of no more use, and the server may or may not have done what it was last told.
struct Lost : std::runtime_error {
  using std::runtime_error::runtime_error;
};
// It is not known to be broken, but the server said nothing for too long.
struct Silent : Lost {
  using Lost::Lost;
};

// The server refused a statement.
struct Refused : std::runtime_error {
  Refused(std::string code, const std::string& message)
      : std::runtime_error(message), state(std::move(code)) {}
  std::string state;  // SQLSTATE
};

std::string first_line(const char* text) {
  const std::string all = text == nullptr ? "" : text;
  return all.substr(0, all.find('\n'));
}

Problem unreachable() {
  return {503, "store_unavailable", "the case store cannot be reached; nothing was changed", ""};
}

Problem problem_of(const Refused& refused) {
  const std::string& state = refused.state;
  if (state == "53100") {
    return {507, "disk_full", "there is no room for the case store to grow; nothing was changed",
            ""};
  }
  // Want of resources, an operator at work, a conflict of transactions, a lock or statement that
  // took too long, a server that has become a standby.
  if (state.starts_with("53") || state.starts_with("57") || state.starts_with("40") ||
      state == "55P03" || state == "25006") {
    return {503, "store_unavailable",
            std::string("the case store: ") + refused.what() + "; nothing was changed", ""};
  }
  return {500, "store_failed", std::string("the case store: ") + refused.what(), ""};
}

class Rows {
 public:
  explicit Rows(PGresult* result) : result_(result, &PQclear) {}

  int count() const { return PQntuples(result_.get()); }
  // Rows inserted, updated or deleted.
  int changed() const {
    const std::string_view text = PQcmdTuples(result_.get());
    int value = 0;
    std::from_chars(text.data(), text.data() + text.size(), value);
    return value;
  }
  std::string text(int row, int column) const {
    return {PQgetvalue(result_.get(), row, column),
            static_cast<std::size_t>(PQgetlength(result_.get(), row, column))};
  }
  std::int64_t number(int row, int column) const {
    const std::string value = text(row, column);
    std::int64_t out = 0;
    std::from_chars(value.data(), value.data() + value.size(), out);
    return out;
  }
  std::string_view tag() const { return PQcmdStatus(result_.get()); }

 private:
  std::unique_ptr<PGresult, decltype(&PQclear)> result_;
};

class Session {
 public:
  Session(const std::string& url, std::chrono::milliseconds patience) : patience_(patience) {
    // What the URL says goes before what is said here, but for its end.
    const std::string timeout = std::to_string((patience.count() + 999) / 1000);
    const std::array keys = {"connect_timeout",      "application_name",
                             "target_session_attrs", "dbname",
                             "client_encoding",      static_cast<const char*>(nullptr)};
    const std::array values = {timeout.c_str(), "faultodds-http",
                               "read-write",    url.c_str(),
                               "UTF8",          static_cast<const char*>(nullptr)};
    connection_.reset(PQconnectdbParams(keys.data(), values.data(), 1));
    if (PQstatus(connection_.get()) != CONNECTION_OK) {
      throw Lost(first_line(PQerrorMessage(connection_.get())));
    }
    // It would print them.
    PQsetNoticeReceiver(
        connection_.get(), [](void*, const PGresult*) {}, nullptr);
    PQsetnonblocking(connection_.get(), 1);
    const std::string limit = std::to_string(patience.count());
    const Rows settings = run(
        "SELECT set_config('statement_timeout', $1, false), set_config('lock_timeout', $1, false), "
        "set_config('idle_in_transaction_session_timeout', $1, false), "
        "set_config('synchronous_commit', CASE WHEN current_setting('synchronous_commit') = 'off' "
        "THEN 'on' ELSE current_setting('synchronous_commit') END, false), "
        "current_setting('fsync'), current_setting('server_encoding')",
        limit);
    if (settings.text(0, 4) != "on") {
      throw Refused("", "the server runs with fsync off, and would lose cases in a crash");
    }
    if (settings.text(0, 5) != "UTF8") {
      throw Refused("", "the database's encoding is " + settings.text(0, 5) + "; expected UTF8");
    }
  }

  // Throws Lost or Refused.
  template <class... Values>
  Rows run(const char* sql, const Values&... values) {
    const std::array<std::string, sizeof...(values)> texts = {text_of(values)...};
    std::array<const char*, sizeof...(values) + 1> pointers{};
    for (std::size_t i = 0; i < texts.size(); ++i) pointers[i] = texts[i].c_str();
    PGconn* connection = connection_.get();
    // A server that is stopped, or a network that swallows, does not time statements out itself.
    const auto deadline = Clock::now() + patience_ + std::chrono::seconds(1);
    if (PQsendQueryParams(connection, sql, sizeof...(values), nullptr, pointers.data(), nullptr,
                          nullptr, 0) == 0) {
      throw Lost(first_line(PQerrorMessage(connection)));
    }
    for (int unsent = PQflush(connection); unsent != 0; unsent = PQflush(connection)) {
      if (unsent < 0) throw Lost(first_line(PQerrorMessage(connection)));
      wait(POLLIN | POLLOUT, deadline);
      take_in();
    }
    std::unique_ptr<PGresult, decltype(&PQclear)> last(nullptr, &PQclear);
    while (true) {
      while (PQisBusy(connection) != 0) {
        wait(POLLIN, deadline);
        take_in();
      }
      PGresult* result = PQgetResult(connection);
      if (result == nullptr) break;
      last.reset(result);
    }
    const ExecStatusType status = PQresultStatus(last.get());
    if (status == PGRES_TUPLES_OK || status == PGRES_COMMAND_OK) return Rows(last.release());
    const char* state = PQresultErrorField(last.get(), PG_DIAG_SQLSTATE);
    const char* primary = PQresultErrorField(last.get(), PG_DIAG_MESSAGE_PRIMARY);
    const std::string code = state == nullptr ? "" : state;
    // 57P01 to 57P03: the server ends, crashes or starts. It closes the connection.
    if (PQstatus(connection) != CONNECTION_OK || code.empty() || code.starts_with("57P") ||
        code.starts_with("08")) {
      throw Lost(first_line(primary == nullptr ? PQerrorMessage(connection) : primary));
    }
    throw Refused(code, first_line(primary));
  }

  bool in_transaction() const { return PQtransactionStatus(connection_.get()) != PQTRANS_IDLE; }

 private:
  static std::string text_of(std::string_view value) { return std::string(value); }
  static std::string text_of(std::int64_t value) { return std::to_string(value); }

  void wait(short events, Clock::time_point deadline) {
    const auto left =
        std::chrono::duration_cast<std::chrono::milliseconds>(deadline - Clock::now()).count();
    pollfd entry{PQsocket(connection_.get()), events, 0};
    if (left < 0 || ::poll(&entry, 1, static_cast<int>(left + 1)) == 0) {
      throw Silent("the server did not answer in time");
    }
  }
  void take_in() {
    if (PQconsumeInput(connection_.get()) == 0) {
      throw Lost(first_line(PQerrorMessage(connection_.get())));
    }
  }

  std::chrono::milliseconds patience_;
  std::unique_ptr<PGconn, decltype(&PQfinish)> connection_{nullptr, &PQfinish};
};

// Undone unless committed.
class Transaction {
 public:
  explicit Transaction(Session& session) : session_(session) {
    session.run("BEGIN ISOLATION LEVEL READ COMMITTED");
  }
  ~Transaction() {
    if (!session_.in_transaction()) return;
    try {
      session_.run("ROLLBACK");
    } catch (const std::runtime_error&) {
      // The session says the same to whoever looks at it next, and is discarded.
    }
  }
  Transaction(const Transaction&) = delete;
  Transaction& operator=(const Transaction&) = delete;

  void commit() {
    if (session_.run("COMMIT").tag() != "COMMIT") {
      throw Refused("40000", "the transaction was rolled back");
    }
  }

 private:
  Session& session_;
};

CaseEntry entry_of(const Rows& rows, int row) {
  return {rows.text(row, 0),
          {rows.text(row, 1), rows.number(row, 2)},
          rows.text(row, 3),
          rows.number(row, 4)};
}

constexpr const char* key_query =
    "SELECT key, fingerprint, status, id, etag, body FROM faultodds_keys "
    "WHERE key = $1 AND made >= $2";

KeyedAnswer answer_of(const Rows& rows) {
  return {rows.text(0, 0), rows.text(0, 1), static_cast<int>(rows.number(0, 2)),
          rows.text(0, 3), rows.text(0, 4), rows.text(0, 5)};
}

// Makes the tables where there are none; adapters that start at once take turns.
void prepare(Session& session) {
  Transaction transaction(session);
  session.run(setting_up);
  if (session.run("SELECT to_regclass('faultodds_store')").text(0, 0).empty()) {
    for (const char* statement : schema) session.run(statement);
  } else {
    const std::int64_t version = session.run("SELECT schema FROM faultodds_store").number(0, 0);
    if (version != schema_version) {
      throw Refused("", "the tables were made by another version of this program (schema " +
                            std::to_string(version) + "; this one knows " +
                            std::to_string(schema_version) + ")");
    }
  }
  transaction.commit();
}

class PostgresCases final : public CaseStore {
 public:
  PostgresCases(const std::string& url, const CaseStoreSettings& settings)
      : settings_(settings), sessions_(settings.connections, [url, settings] {
          return std::make_unique<Session>(url, settings.patience);
        }) {
    auto session = sessions_.borrow(settings.patience);
    prepare(*session);
  }

  std::variant<std::optional<StoredCase>, Problem> find(const std::string& id) override {
    using Result = std::variant<std::optional<StoredCase>, Problem>;
    return guarded<Result>([&](Session& session) -> Result {
      const Rows rows = session.run(
          "SELECT id, life, revision, circuit, changed, body FROM faultodds_cases WHERE id = $1",
          id);
      if (rows.count() == 0) return std::nullopt;
      return StoredCase{entry_of(rows, 0), rows.text(0, 5)};
    });
  }

  std::variant<std::vector<CaseEntry>, Problem> list(const std::string& after,
                                                     std::size_t limit) override {
    using Result = std::variant<std::vector<CaseEntry>, Problem>;
    return guarded<Result>([&](Session& session) -> Result {
      const Rows rows = session.run(
          "SELECT id, life, revision, circuit, changed FROM faultodds_cases WHERE id > $1 "
          "ORDER BY id LIMIT $2",
          after, static_cast<std::int64_t>(limit));
      std::vector<CaseEntry> entries;
      for (int row = 0; row < rows.count(); ++row) entries.push_back(entry_of(rows, row));
      return entries;
    });
  }

  std::variant<std::optional<KeyedAnswer>, Problem> remembered(const std::string& key) override {
    using Result = std::variant<std::optional<KeyedAnswer>, Problem>;
    return guarded<Result>([&](Session& session) -> Result {
      const Rows rows = session.run(key_query, key, oldest_key());
      if (rows.count() == 0) return std::nullopt;
      return answer_of(rows);
    });
  }

  WriteResult write(const CaseWrite& write) override {
    bool committing = false;
    return guarded<WriteResult>(
        [&](Session& session) { return write_now(session, write, committing); }, &committing);
  }

  std::optional<Problem> unavailable() override {
    return guarded<std::optional<Problem>>([](Session& session) -> std::optional<Problem> {
      const Rows rows = session.run(
          "SELECT schema, current_setting('transaction_read_only') FROM faultodds_store");
      if (rows.count() == 1 && rows.text(0, 1) == "off") return std::nullopt;
      return Problem{503, "store_unavailable", "the case store cannot be written", ""};
    });
  }

 private:
  std::int64_t oldest_key() const { return now() - settings_.keep_keys.count(); }

  // Does `work` on a session, and once more on another when the first was found broken: it may
  // have broken long before. Not so once `*committing`.
  template <class Result, class Work>
  Result guarded(const Work& work, const bool* committing = nullptr) {
    for (std::size_t attempt = 0; attempt <= settings_.connections; ++attempt) {
      try {
        auto session = sessions_.borrow(settings_.patience);
        if (!session) {
          return Problem{503, "store_unavailable", "every connection is in use; try again", ""};
        }
        try {
          Result result = work(*session);
          if ((*session).in_transaction()) session.discard();
          return result;
        } catch (const Refused& refused) {
          // A server that does not take writes any more has a successor, perhaps.
          if ((*session).in_transaction() || refused.state == "25006") session.discard();
          return problem_of(refused);
        } catch (const Lost& lost) {
          session.discard();
          if (committing != nullptr && *committing) {
            return Problem{503, "store_unavailable",
                           "the case store was lost while it committed: it is not known whether "
                           "the write was made; send it again with its Idempotency-Key",
                           ""};
          }
          if (dynamic_cast<const Silent*>(&lost) != nullptr) return unreachable();
        }
      } catch (const Lost&) {  // no new connection either
        return unreachable();
      } catch (const Refused& refused) {
        return problem_of(refused);
      }
    }
    return unreachable();
  }

  WriteResult write_now(Session& session, const CaseWrite& write, bool& committing) {
    Transaction transaction(session);
    if (write.answer) {
      const KeyedAnswer& answer = *write.answer;
      session.run("DELETE FROM faultodds_keys WHERE key = $1 AND made < $2", answer.key,
                  oldest_key());
      // Waits for another transaction that is about to store the same key.
      const Rows claimed = session.run(
          "INSERT INTO faultodds_keys (key, fingerprint, made, status, id, etag, body) "
          "VALUES ($1, $2, $3, $4, $5, $6, $7) ON CONFLICT (key) DO NOTHING RETURNING n",
          answer.key, answer.fingerprint, now(), std::int64_t{answer.status}, answer.id,
          answer.etag, answer.body);
      if (claimed.count() == 0) {
        const Rows known = session.run(key_query, answer.key, std::int64_t{0});
        if (known.count() == 0) throw Refused("40001", "the key was forgotten this moment");
        return answer_of(known);
      }
      // A few at each write, so that none has to forget many.
      session.run(
          "DELETE FROM faultodds_keys WHERE n IN (SELECT n FROM faultodds_keys ORDER BY n LIMIT 4 "
          "FOR UPDATE SKIP LOCKED) AND (made < $1 OR n <= $2)",
          oldest_key(), claimed.number(0, 0) - settings_.key_capacity);
    }
    const CaseEntry& entry = write.entry;
    if (!write.before) {
      const Rows created = session.run(
          "INSERT INTO faultodds_cases (id, life, revision, circuit, changed, body) "
          "VALUES ($1, $2, $3, $4, $5, $6) ON CONFLICT (id) DO NOTHING",
          entry.id, entry.revision.life, entry.revision.number, entry.circuit, entry.changed,
          write.text);
      if (created.changed() == 0) return Conflict{};
      const Rows counted = session.run(
          "UPDATE faultodds_store SET cases = cases + 1 WHERE cases < $1", settings_.capacity);
      if (counted.changed() == 0) {
        return Problem{507, "store_full",
                       "there are " + std::to_string(settings_.capacity) + " cases", ""};
      }
    } else if (write.erase) {
      const Rows erased =
          session.run("DELETE FROM faultodds_cases WHERE id = $1 AND life = $2 AND revision = $3",
                      entry.id, write.before->life, write.before->number);
      if (erased.changed() == 0) return Conflict{};
      session.run("UPDATE faultodds_store SET cases = cases - 1");
    } else {
      const Rows replaced = session.run(
          "UPDATE faultodds_cases SET revision = $1, circuit = $2, changed = $3, body = $4 "
          "WHERE id = $5 AND life = $6 AND revision = $7",
          entry.revision.number, entry.circuit, entry.changed, write.text, entry.id,
          write.before->life, write.before->number);
      if (replaced.changed() == 0) return Conflict{};
    }
    committing = true;
    transaction.commit();
    return Written{};
  }

  CaseStoreSettings settings_;
  Pool<Session> sessions_;
};

}  // namespace

std::unique_ptr<CaseStore> open_postgres_cases(const std::string& url,
                                               const CaseStoreSettings& settings) {
  // What libpq says of a connection never holds the password; what it says of a URL may.
  PQconninfoOption* parsed = PQconninfoParse(url.c_str(), nullptr);
  if (parsed == nullptr) throw std::runtime_error("the postgresql:// URL is not well formed");
  PQconninfoFree(parsed);
  return std::make_unique<PostgresCases>(url, settings);
}

}  // namespace faultodds_http
