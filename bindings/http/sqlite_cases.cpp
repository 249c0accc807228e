// The case store in one SQLite file. Write-ahead log, synchronous=FULL: a commit is on the disk
// when it returns. Writes take turns; reads go on beside them, each thread on a connection of its
// own. Several adapters of one machine may share a file; none on a network file system.
#include <sqlite3.h>

#include <cerrno>
#include <cstring>
#include <new>
#include <stdexcept>
#include <thread>
#include <utility>

#include "bindings/http/case_store.h"
#include "bindings/http/pool.h"

namespace faultodds_http {
namespace {

constexpr std::int64_t sqlite_schema_version = 1;    // PRAGMA user_version
constexpr std::int64_t application_id = 0x666f6463;  // "fodc": it is one of ours

constexpr const char* sqlite_schema = R"sql(
CREATE TABLE cases (
  id TEXT NOT NULL PRIMARY KEY,
  life TEXT NOT NULL,
  revision INTEGER NOT NULL,
  circuit TEXT NOT NULL,
  changed INTEGER NOT NULL,
  body TEXT NOT NULL
) STRICT;
CREATE TABLE keys (
  n INTEGER PRIMARY KEY AUTOINCREMENT,
  key TEXT NOT NULL UNIQUE,
  fingerprint TEXT NOT NULL,
  made INTEGER NOT NULL,
  status INTEGER NOT NULL,
  id TEXT NOT NULL,
  etag TEXT NOT NULL,
  body TEXT NOT NULL
) STRICT;
CREATE TABLE counts (cases INTEGER NOT NULL) STRICT;
INSERT INTO counts VALUES (0);
)sql";

struct Failure : std::runtime_error {
  Failure(int result, int system_error, const std::string& message)
      : std::runtime_error(message), code(result), system(system_error) {}
  int code;    // extended result code
  int system;  // errno, where the code is of input or output
};

// Why the system refused the last write to the log. SQLite's own record of it may be overwritten.
int log_errno(sqlite3* db) {
  sqlite3_file* log = nullptr;
  int number = 0;
  if (sqlite3_file_control(db, "main", SQLITE_FCNTL_JOURNAL_POINTER, &log) == SQLITE_OK &&
      log != nullptr && log->pMethods != nullptr) {
    log->pMethods->xFileControl(log, SQLITE_FCNTL_LAST_ERRNO, &number);
  }
  return number;
}

[[noreturn]] void fail(sqlite3* db, int code) {
  if ((code & 0xff) == SQLITE_NOMEM) throw std::bad_alloc();
  const std::string message = sqlite3_errmsg(db);
  int system = sqlite3_system_errno(db);
  if (code == SQLITE_IOERR_WRITE && system == 0) system = log_errno(db);
  throw Failure(code, system, message);
}

Problem problem_of(const Failure& failure) {
  const int kind = failure.code & 0xff;
  const bool no_room =
      failure.system == ENOSPC || failure.system == EDQUOT || failure.system == EFBIG;
  if (kind == SQLITE_FULL || (kind == SQLITE_IOERR && no_room)) {
    return {507, "disk_full", "there is no room for the case store to grow; nothing was changed",
            ""};
  }
  if (kind == SQLITE_BUSY || kind == SQLITE_LOCKED) {
    return {503, "store_unavailable", "the case store is in use by another; try again", ""};
  }
  return {500, "store_failed", std::string("the case store: ") + failure.what(), ""};
}

// A prepared statement. Bound views need live only until the Run ends.
class Statement {
 public:
  Statement(sqlite3* db, const char* sql) : db_(db) {
    const int code =
        sqlite3_prepare_v3(db, sql, -1, SQLITE_PREPARE_PERSISTENT, &statement_, nullptr);
    if (code != SQLITE_OK) fail(db, code);
  }
  ~Statement() { sqlite3_finalize(statement_); }
  Statement(const Statement&) = delete;
  Statement& operator=(const Statement&) = delete;

 private:
  friend class Run;
  sqlite3* db_;
  sqlite3_stmt* statement_ = nullptr;
};

// One execution of a statement, which is ready for the next at the end of the scope.
class Run {
 public:
  template <class... Values>
  explicit Run(Statement& statement, const Values&... values) : statement_(statement) {
    (bind(values), ...);
  }
  ~Run() {
    sqlite3_reset(statement_.statement_);
    sqlite3_clear_bindings(statement_.statement_);
  }
  Run(const Run&) = delete;
  Run& operator=(const Run&) = delete;

  // Whether there is a row.
  bool step() {
    const int code = sqlite3_step(statement_.statement_);
    if (code == SQLITE_ROW) return true;
    if (code != SQLITE_DONE) fail(statement_.db_, code);
    return false;
  }
  // Rows changed.
  int done() {
    step();
    return sqlite3_changes(statement_.db_);
  }
  std::string text(int column) const {
    const auto* bytes =
        reinterpret_cast<const char*>(sqlite3_column_text(statement_.statement_, column));
    if (bytes == nullptr) return {};
    return {bytes, static_cast<std::size_t>(sqlite3_column_bytes(statement_.statement_, column))};
  }
  std::int64_t number(int column) const {
    return sqlite3_column_int64(statement_.statement_, column);
  }

 private:
  void bind(std::string_view text) {
    check(sqlite3_bind_text64(statement_.statement_, ++bound_, text.data(), text.size(),
                              SQLITE_STATIC, SQLITE_UTF8));
  }
  void bind(std::int64_t number) {
    check(sqlite3_bind_int64(statement_.statement_, ++bound_, number));
  }
  void check(int code) {
    if (code != SQLITE_OK) fail(statement_.db_, code);
  }

  Statement& statement_;
  int bound_ = 0;
};

class Database {
 public:
  Database(const std::string& path, std::chrono::milliseconds patience) {
    const int code =
        sqlite3_open_v2(path.c_str(), &db_,
                        SQLITE_OPEN_READWRITE | SQLITE_OPEN_CREATE | SQLITE_OPEN_NOMUTEX, nullptr);
    if (code != SQLITE_OK) {
      const Failure failure(code, 0, db_ != nullptr ? sqlite3_errmsg(db_) : "not enough memory");
      sqlite3_close_v2(db_);
      throw failure;
    }
    sqlite3_extended_result_codes(db_, 1);
    sqlite3_busy_timeout(db_, static_cast<int>(patience.count()));
  }
  ~Database() { sqlite3_close_v2(db_); }
  Database(const Database&) = delete;
  Database& operator=(const Database&) = delete;

  sqlite3* get() const { return db_; }

  void execute(const char* sql) {
    const int code = sqlite3_exec(db_, sql, nullptr, nullptr, nullptr);
    if (code != SQLITE_OK) fail(db_, code);
  }
  std::int64_t number(const char* sql) {
    Statement statement(db_, sql);
    Run run(statement);
    return run.step() ? run.number(0) : 0;
  }
  std::string text(const char* sql) {
    Statement statement(db_, sql);
    Run run(statement);
    return run.step() ? run.text(0) : std::string();
  }

 private:
  sqlite3* db_ = nullptr;
};

// Undone unless committed.
class SqliteTransaction {
 public:
  explicit SqliteTransaction(Database& database) : database_(database) {
    database.execute("BEGIN IMMEDIATE");
  }
  ~SqliteTransaction() {
    // A full disk may have rolled it back already.
    if (sqlite3_get_autocommit(database_.get()) == 0) {
      sqlite3_exec(database_.get(), "ROLLBACK", nullptr, nullptr, nullptr);
    }
  }
  SqliteTransaction(const SqliteTransaction&) = delete;
  SqliteTransaction& operator=(const SqliteTransaction&) = delete;
  void commit() { database_.execute("COMMIT"); }

 private:
  Database& database_;
};

// A database in use, with every statement the store makes.
struct Connection {
  Connection(const std::string& path, std::chrono::milliseconds patience)
      : database(path, patience) {
    database.execute("PRAGMA synchronous = FULL");
    database.execute("PRAGMA trusted_schema = OFF");
  }

  Database database;
  sqlite3* db = database.get();
  Statement find{db, "SELECT id, life, revision, circuit, changed, body FROM cases WHERE id = ?"};
  Statement list{db,
                 "SELECT id, life, revision, circuit, changed FROM cases WHERE id > ? "
                 "ORDER BY id LIMIT ?"};
  Statement remembered{db,
                       "SELECT key, fingerprint, status, id, etag, body FROM keys "
                       "WHERE key = ? AND made >= ?"};
  Statement forget_key{db, "DELETE FROM keys WHERE key = ? AND made < ?"};
  Statement remember{db,
                     "INSERT INTO keys (key, fingerprint, made, status, id, etag, body) "
                     "VALUES (?, ?, ?, ?, ?, ?, ?) ON CONFLICT (key) DO NOTHING"};
  // A few at each write, so that none has to forget many.
  Statement forget_old{db,
                       "DELETE FROM keys WHERE n IN (SELECT n FROM keys ORDER BY n LIMIT 4) "
                       "AND (made < ? OR n <= ?)"};
  Statement create{db,
                   "INSERT INTO cases (id, life, revision, circuit, changed, body) "
                   "VALUES (?, ?, ?, ?, ?, ?) ON CONFLICT (id) DO NOTHING"};
  Statement replace{db,
                    "UPDATE cases SET revision = ?, circuit = ?, changed = ?, body = ? "
                    "WHERE id = ? AND life = ? AND revision = ?"};
  Statement erase{db, "DELETE FROM cases WHERE id = ? AND life = ? AND revision = ?"};
  Statement count_up{db, "UPDATE counts SET cases = cases + 1 WHERE cases < ?"};
  Statement count_down{db, "UPDATE counts SET cases = cases - 1"};
  Statement ready{db, "SELECT cases FROM counts"};
};

CaseEntry entry_of(const Run& row) {
  return {row.text(0), {row.text(1), row.number(2)}, row.text(3), row.number(4)};
}

KeyedAnswer answer_of(const Run& row) {
  return {row.text(0), row.text(1), static_cast<int>(row.number(2)),
          row.text(3), row.text(4), row.text(5)};
}

// Judges the file, makes the tables in an empty one, and looks for damage.
void prepare(const std::string& path, std::chrono::milliseconds patience) {
  Database database(path, patience);
  const auto judge = [&] {
    const bool known = database.number("PRAGMA application_id") == application_id;
    const std::int64_t version = database.number("PRAGMA user_version");
    if (known && version > sqlite_schema_version) {
      throw std::runtime_error("it was written by a later version of this program (schema " +
                               std::to_string(version) + "; this one knows up to " +
                               std::to_string(sqlite_schema_version) + ")");
    }
    const bool empty = database.number("SELECT count(*) FROM sqlite_schema") == 0;
    if (!known && (!empty || version != 0)) {
      throw std::runtime_error("it is the SQLite database of another program");
    }
    return known;
  };
  // Of one moment, while another may be making the tables.
  database.execute("BEGIN");
  const bool ours = judge();
  database.execute("COMMIT");
  if (ours) {
    const std::string found = database.text("PRAGMA quick_check(1)");
    if (found != "ok") throw std::runtime_error("it is damaged: " + found);
  }
  // SQLite does not wait for others when it changes the mode.
  const auto deadline = std::chrono::steady_clock::now() + patience;
  while (true) {
    try {
      const std::string mode = database.text("PRAGMA journal_mode = WAL");
      if (mode == "wal") break;
      throw std::runtime_error("its file system does not allow a write-ahead log");
    } catch (const Failure& failure) {
      if ((failure.code & 0xff) != SQLITE_BUSY || std::chrono::steady_clock::now() > deadline) {
        throw;
      }
      std::this_thread::sleep_for(std::chrono::milliseconds(20));
    }
  }
  database.execute("PRAGMA synchronous = FULL");
  SqliteTransaction transaction(database);
  if (!judge()) {  // nobody else was faster
    database.execute(sqlite_schema);
    database.execute(("PRAGMA application_id = " + std::to_string(application_id)).c_str());
    database.execute(("PRAGMA user_version = " + std::to_string(sqlite_schema_version)).c_str());
  }
  transaction.commit();
}

class SqliteCases final : public CaseStore {
 public:
  SqliteCases(const std::string& path, const CaseStoreSettings& settings)
      : settings_(settings),
        writer_(1, [=] { return std::make_unique<Connection>(path, settings.patience); }),
        readers_(settings.connections,
                 [=] { return std::make_unique<Connection>(path, settings.patience); }) {
    prepare(path, settings.patience);
    if (const auto problem = unavailable()) throw std::runtime_error(problem->detail);
  }

  std::variant<std::optional<StoredCase>, Problem> find(const std::string& id) override {
    using Result = std::variant<std::optional<StoredCase>, Problem>;
    return guarded<Result>(readers_, [&](Connection& connection) -> Result {
      Run row(connection.find, id);
      if (!row.step()) return std::nullopt;
      return StoredCase{entry_of(row), row.text(5)};
    });
  }

  std::variant<std::vector<CaseEntry>, Problem> list(const std::string& after,
                                                     std::size_t limit) override {
    using Result = std::variant<std::vector<CaseEntry>, Problem>;
    return guarded<Result>(readers_, [&](Connection& connection) -> Result {
      std::vector<CaseEntry> entries;
      Run row(connection.list, after, static_cast<std::int64_t>(limit));
      while (row.step()) entries.push_back(entry_of(row));
      return entries;
    });
  }

  std::variant<std::optional<KeyedAnswer>, Problem> remembered(const std::string& key) override {
    using Result = std::variant<std::optional<KeyedAnswer>, Problem>;
    return guarded<Result>(readers_, [&](Connection& connection) -> Result {
      Run row(connection.remembered, key, oldest_key());
      if (!row.step()) return std::nullopt;
      return answer_of(row);
    });
  }

  WriteResult write(const CaseWrite& write) override {
    return guarded<WriteResult>(
        writer_, [&](Connection& connection) { return write_now(connection, write); });
  }

  std::optional<Problem> unavailable() override {
    return guarded<std::optional<Problem>>(readers_, [](Connection& connection) {
      Run(connection.ready).step();
      return std::optional<Problem>();
    });
  }

 private:
  std::int64_t oldest_key() const { return now() - settings_.keep_keys.count(); }

  template <class Result, class Work>
  Result guarded(Pool<Connection>& connections, const Work& work) {
    try {
      auto connection = connections.borrow(settings_.patience);
      if (!connection)
        return Problem{503, "store_unavailable", "too many use the case store at once", ""};
      return work(*connection);
    } catch (const Failure& failure) {
      return problem_of(failure);
    }
  }

  WriteResult write_now(Connection& connection, const CaseWrite& write) {
    SqliteTransaction transaction(connection.database);
    if (write.answer) {
      const KeyedAnswer& answer = *write.answer;
      Run(connection.forget_key, answer.key, oldest_key()).done();
      const int claimed = Run(connection.remember, answer.key, answer.fingerprint, now(),
                              std::int64_t{answer.status}, answer.id, answer.etag, answer.body)
                              .done();
      if (claimed == 0) {
        Run row(connection.remembered, answer.key, std::int64_t{0});
        row.step();
        return answer_of(row);
      }
      Run(connection.forget_old, oldest_key(),
          std::int64_t{sqlite3_last_insert_rowid(connection.db)} - settings_.key_capacity)
          .done();
    }
    const CaseEntry& entry = write.entry;
    if (!write.before) {
      const int created = Run(connection.create, entry.id, entry.revision.life,
                              entry.revision.number, entry.circuit, entry.changed, write.text)
                              .done();
      if (created == 0) return Conflict{};
      if (Run(connection.count_up, settings_.capacity).done() == 0) {
        return Problem{507, "store_full",
                       "there are " + std::to_string(settings_.capacity) + " cases", ""};
      }
    } else if (write.erase) {
      if (Run(connection.erase, entry.id, write.before->life, write.before->number).done() == 0) {
        return Conflict{};
      }
      Run(connection.count_down).done();
    } else {
      const int replaced =
          Run(connection.replace, entry.revision.number, entry.circuit, entry.changed, write.text,
              entry.id, write.before->life, write.before->number)
              .done();
      if (replaced == 0) return Conflict{};
    }
    transaction.commit();
    return Written{};
  }

  CaseStoreSettings settings_;
  Pool<Connection> writer_;  // of one: within this process writes take turns without polling
  Pool<Connection> readers_;
};

}  // namespace

std::unique_ptr<CaseStore> open_sqlite_cases(const std::string& path,
                                             const CaseStoreSettings& settings) {
  if (path.empty() || path.starts_with(':')) {
    throw std::runtime_error("expected the path of a file after sqlite:");
  }
  try {
    return std::make_unique<SqliteCases>(path, settings);
  } catch (const std::runtime_error& problem) {
    throw std::runtime_error(path + ": " + problem.what());
  }
}

}  // namespace faultodds_http
