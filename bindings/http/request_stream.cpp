#include "bindings/http/request_stream.h"

#include <algorithm>
#include <charconv>
#include <cstring>
#include <utility>

namespace faultodds_http {

RequestStream::RequestStream(std::string_view head, std::string_view body)
    : head_(head), body_(body) {}

ssize_t RequestStream::read(char* data, std::size_t size) {
  std::string_view& from = head_.empty() ? body_ : head_;
  const std::size_t n = std::min(size, from.size());
  std::memcpy(data, from.data(), n);
  from.remove_prefix(n);
  return static_cast<ssize_t>(n);
}

ssize_t RequestStream::write(const char* data, std::size_t size) {
  answer_.append(data, size);
  return static_cast<ssize_t>(size);
}

std::string RequestStream::take_answer() { return std::exchange(answer_, {}); }

int status_of(std::string_view answer) {
  constexpr std::string_view version = "HTTP/1.1 ";
  int status = 0;
  if (answer.starts_with(version) && answer.size() >= version.size() + 3) {
    std::from_chars(answer.data() + version.size(), answer.data() + version.size() + 3, status);
  }
  return status;
}

void say_close(std::string& answer) {
  const std::size_t end = answer.find("\r\n\r\n");
  if (end == std::string::npos) return;
  constexpr std::string_view keep = "\r\nKeep-Alive: ";
  const std::size_t kept = std::string_view(answer).substr(0, end).find(keep);
  if (kept != std::string::npos) answer.erase(kept, answer.find("\r\n", kept + 2) - kept);
  answer.insert(answer.find("\r\n"), "\r\nConnection: close");
}

}  // namespace faultodds_http
