// One request as the HTTP library reads it and its answer as the library writes it, both in memory:
// the library sees this request and no other byte. It knows no sockets.
#pragma once

#include <httplib.h>

#include <cstddef>
#include <string>
#include <string_view>

namespace faultodds_http {

class RequestStream final : public httplib::Stream {
 public:
  // Both outlive it.
  RequestStream(std::string_view head, std::string_view body);

  bool is_readable() const override { return true; }
  bool is_writable() const override { return true; }
  ssize_t read(char* data, std::size_t size) override;
  ssize_t write(const char* data, std::size_t size) override;
  // The adapter does not ask who the other side is.
  void get_remote_ip_and_port(std::string&, int&) const override {}
  void get_local_ip_and_port(std::string&, int&) const override {}
  socket_t socket() const override { return INVALID_SOCKET; }

  std::string take_answer();

 private:
  std::string_view head_, body_;  // what is yet to be read
  std::string answer_;
};

// The status of an answer; 0 when it is none.
int status_of(std::string_view answer);

// Makes an answer that was to keep its connection one that ends it.
void say_close(std::string& answer);

}  // namespace faultodds_http
