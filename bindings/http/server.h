// The HTTP library's server with the door guarded: every connection's head is read and judged here,
// under limits and deadlines, before the library parses it. One request per connection: the answer
// says `Connection: close` and the connection is closed, so nothing a client sends after its
// request can ever be taken for a second one. Routes are added by routes.cpp.
#pragma once

#include <httplib.h>

#include <atomic>
#include <chrono>
#include <cstddef>
#include <string>

#include "bindings/http/request_head.h"

namespace faultodds_http {

struct ServerOptions {
  std::size_t threads = 4;
  std::size_t queue = 64;  // connections that wait for a thread; more get 503
  HeadLimits head;
  std::size_t head_bytes = 16 * 1024;         // more is 431
  std::chrono::milliseconds timeout{10'000};  // for the head, for the body, and for the answer
};

class Server final : public httplib::Server {
 public:
  explicit Server(const ServerOptions& options);

  // Binds; port 0 takes a free one. Returns the port, or -1 with errno set.
  int bind(const std::string& host, int port);

  // Serves until stop(); false when accepting failed.
  bool serve();

  // From any thread, once serve() runs. Connections admitted before are answered.
  void stop_serving();

 private:
  bool process_and_close_socket(socket_t socket) override;
  void serve_connection(int socket);

  ServerOptions options_;
  std::atomic<bool> stopping_{false};
};

}  // namespace faultodds_http
