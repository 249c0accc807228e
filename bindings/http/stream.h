// One accepted connection as the HTTP library reads it: the head already judged, then exactly as
// many body bytes as were announced, under a deadline for the whole rather than for each read. It
// does not own the socket.
#pragma once

#include <httplib.h>

#include <chrono>
#include <cstddef>
#include <optional>
#include <string>

namespace faultodds_http {

using Clock = std::chrono::steady_clock;

// Bytes moved, 0 at the end of the stream, -1 on error or when `deadline` passes.
ssize_t receive(int socket, char* data, std::size_t size, Clock::time_point deadline);
ssize_t transmit(int socket, const char* data, std::size_t size, Clock::time_point deadline);

class RequestStream final : public httplib::Stream {
 public:
  // `buffered`: the head for the library and what of the body came with it. `to_come`: body bytes
  // still in the socket.
  RequestStream(int socket, std::string buffered, std::size_t to_come, Clock::duration timeout);

  bool is_readable() const override;
  bool is_writable() const override;
  ssize_t read(char* data, std::size_t size) override;
  ssize_t write(const char* data, std::size_t size) override;
  void get_remote_ip_and_port(std::string& ip, int& port) const override;
  void get_local_ip_and_port(std::string& ip, int& port) const override;
  socket_t socket() const override;

  // Whether the client sent all it announced and the library read it.
  bool drained() const;

 private:
  int socket_;
  std::string buffered_;
  std::size_t read_ = 0;  // of buffered_
  std::size_t to_come_;
  Clock::duration timeout_;
  Clock::time_point read_deadline_;
  std::optional<Clock::time_point> write_deadline_;  // from the first write on
};

}  // namespace faultodds_http
