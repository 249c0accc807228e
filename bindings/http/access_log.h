// One line of JSON for each request. It is given nothing of a case, no id and no token: only the
// route of the table, the label of the token, and numbers. Safe from any number of threads.
#pragma once

#include <cstddef>
#include <mutex>
#include <optional>
#include <string>
#include <string_view>

namespace faultodds_http {

struct AccessLine {
  std::string_view method, route;  // empty when it never was a request
  int status = 0;
  std::size_t bytes = 0;
  double milliseconds = 0;
  std::string_view traceparent, token;  // may be empty; `token` is its label
};

class AccessLog {
 public:
  AccessLog() = default;
  ~AccessLog();
  AccessLog(const AccessLog&) = delete;
  AccessLog& operator=(const AccessLog&) = delete;

  // "-" is standard output. Opens anew what was moved away. A message when that fails; then it goes
  // on as before.
  std::optional<std::string> open(const std::string& file);

  void write(const AccessLine& line);

 private:
  std::mutex mutex_;
  int file_ = -1;
};

}  // namespace faultodds_http
