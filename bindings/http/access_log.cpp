#include "bindings/http/access_log.h"

#include <fcntl.h>
#include <unistd.h>

#include <array>
#include <cerrno>
#include <cstdio>
#include <cstring>
#include <ctime>
#include <nlohmann/json.hpp>

namespace faultodds_http {
namespace {

std::string now_text() {
  timespec now{};
  ::clock_gettime(CLOCK_REALTIME, &now);
  std::tm parts{};
  ::gmtime_r(&now.tv_sec, &parts);
  std::array<char, 64> seconds{}, text{};
  std::strftime(seconds.data(), seconds.size(), "%Y-%m-%dT%H:%M:%S", &parts);
  std::snprintf(text.data(), text.size(), "%.19s.%03ldZ", seconds.data(), now.tv_nsec / 1'000'000);
  return text.data();
}

}  // namespace

AccessLog::~AccessLog() {
  if (file_ > STDERR_FILENO) ::close(file_);
}

std::optional<std::string> AccessLog::open(const std::string& file) {
  int opened = STDOUT_FILENO;
  if (file != "-") {
    opened = ::open(file.c_str(), O_WRONLY | O_CREAT | O_APPEND | O_CLOEXEC, 0640);
    if (opened < 0) return file + ": " + std::strerror(errno);
  }
  const std::lock_guard lock(mutex_);
  if (file_ > STDERR_FILENO) ::close(file_);
  file_ = opened;
  return std::nullopt;
}

void AccessLog::write(const AccessLine& line) {
  nlohmann::ordered_json entry = {{"time", now_text()},  {"method", line.method},
                                  {"route", line.route}, {"status", line.status},
                                  {"bytes", line.bytes}, {"ms", line.milliseconds}};
  // The trace id is the second part of a traceparent.
  if (line.traceparent.size() == 55) entry["trace"] = line.traceparent.substr(3, 32);
  if (!line.token.empty()) entry["token"] = line.token;
  const std::string text =
      entry.dump(-1, ' ', true, nlohmann::ordered_json::error_handler_t::replace) + '\n';
  const std::lock_guard lock(mutex_);
  // A line is one write; what a full disk does not take is lost, and requests go on.
  if (file_ >= 0 && ::write(file_, text.data(), text.size()) < 0) return;
}

}  // namespace faultodds_http
