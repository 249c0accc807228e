// Where the adapter keeps cases between requests, when it is started with a store. What every store
// promises:
//  (1) What write() reported as written is there after a crash of the adapter, of the database or
//      of the machine. What it did not report as written is there as a whole or not at all.
//  (2) A write names the revision it replaces and changes nothing when the case is at another.
//  (3) A write with a key happens once: the key and what was answered are stored in the transaction
//      of the write, and the same key gives that answer for `keep_keys`, whichever adapter asks.
// Safe from any number of threads. A store knows no HTTP and never looks into a case.
#pragma once

#include <chrono>
#include <cstddef>
#include <cstdint>
#include <memory>
#include <optional>
#include <string>
#include <string_view>
#include <variant>
#include <vector>

#include "bindings/http/problem.h"

namespace faultodds_http {

struct CaseStoreSettings {
  std::int64_t capacity = 1'000'000;  // cases
  std::chrono::seconds keep_keys{24 * 3600};
  std::int64_t key_capacity = 1'000'000;     // the oldest go first
  std::size_t connections = 8;               // to the database at once
  std::chrono::milliseconds patience{5000};  // for a lock, a connection, a statement
};

// One state of one case. `life` is drawn anew when a case is created, so that a revision of a
// deleted case is never taken for one of its successor under the same id.
struct Revision {
  std::string life;
  std::int64_t number = 0;
  bool operator==(const Revision&) const = default;
};

struct CaseEntry {
  std::string id;
  Revision revision;
  std::string circuit;       // id of the stored circuit it is about
  std::int64_t changed = 0;  // s since 1970
};

struct StoredCase {
  CaseEntry entry;
  std::string text;  // byte for byte
};

// What a request with a key was answered.
struct KeyedAnswer {
  std::string key;
  std::string fingerprint;  // of the request; another one under this key is another request
  int status = 0;
  std::string id;  // of the case
  std::string etag;
  std::string body;
};

struct CaseWrite {
  CaseEntry entry;                 // as it is afterwards; the number of a deletion is not used
  std::optional<Revision> before;  // nothing: there must be no such case
  bool erase = false;
  std::string_view text;
  std::optional<KeyedAnswer> answer;  // to be remembered
};

struct Written {};
struct Conflict {};  // the case is not at `before`
// A KeyedAnswer: the key is known already, and nothing was written.
using WriteResult = std::variant<Written, Conflict, KeyedAnswer, Problem>;

class CaseStore {
 public:
  virtual ~CaseStore() = default;

  virtual std::variant<std::optional<StoredCase>, Problem> find(const std::string& id) = 0;

  // By id, bytewise; those after `after`.
  virtual std::variant<std::vector<CaseEntry>, Problem> list(const std::string& after,
                                                             std::size_t limit) = 0;

  virtual std::variant<std::optional<KeyedAnswer>, Problem> remembered(const std::string& key) = 0;

  virtual WriteResult write(const CaseWrite& write) = 0;

  // Nothing when requests could be served now.
  virtual std::optional<Problem> unavailable() = 0;
};

// `url` is sqlite:PATH or postgresql://... Makes the tables in an empty database. Otherwise a
// sentence that says why the store cannot be used; it holds no password.
std::variant<std::unique_ptr<CaseStore>, std::string> open_case_store(
    const std::string& url, const CaseStoreSettings& settings);

// The two there are. Throw std::runtime_error with that sentence.
std::unique_ptr<CaseStore> open_sqlite_cases(const std::string& path,
                                             const CaseStoreSettings& settings);
std::unique_ptr<CaseStore> open_postgres_cases(const std::string& url,
                                               const CaseStoreSettings& settings);

// s since 1970, by this machine's clock.
std::int64_t now();

}  // namespace faultodds_http
