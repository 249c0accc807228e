#include "bindings/http/case_store.h"

#include <stdexcept>

namespace faultodds_http {

std::variant<std::unique_ptr<CaseStore>, std::string> open_case_store(
    const std::string& url, const CaseStoreSettings& settings) {
  try {
    if (url.starts_with("sqlite:")) {
#ifdef FAULTODDS_HTTP_SQLITE
      return open_sqlite_cases(url.substr(7), settings);
#else
      return "this program was built without SQLite";
#endif
    }
    if (url.starts_with("postgresql://") || url.starts_with("postgres://")) {
#ifdef FAULTODDS_HTTP_POSTGRESQL
      return open_postgres_cases(url, settings);
#else
      return "this program was built without PostgreSQL";
#endif
    }
  } catch (const std::runtime_error& problem) {
    return problem.what();
  }
  return "expected sqlite:PATH or postgresql://...";
}

std::int64_t now() {
  return std::chrono::duration_cast<std::chrono::seconds>(
             std::chrono::system_clock::now().time_since_epoch())
      .count();
}

}  // namespace faultodds_http
