// The HTTP library's parser and routes behind a door of our own. Connections are watched by one
// epoll set and cost no thread while nothing arrives; each request is read, judged and cut out by
// connection.h before the library sees it, and the library is given that request alone, from
// memory. Routes are added by routes.cpp.
#pragma once

#include <httplib.h>

#include <atomic>
#include <chrono>
#include <cstddef>
#include <cstdint>
#include <deque>
#include <functional>
#include <memory>
#include <mutex>
#include <string>
#include <string_view>
#include <thread>
#include <unordered_map>
#include <vector>

#include "bindings/http/connection.h"

namespace faultodds_http {

// One request that was answered, for metrics and the access log.
struct Served {
  const RequestHead* head = nullptr;  // null: it was refused before it was a request
  int status = 0;
  std::size_t bytes = 0;   // of the answer, its head included
  Clock::duration took{};  // from the last byte of the request to the answer being ready
};

struct ServerOptions {
  std::size_t threads = 4;
  std::size_t queue = 64;  // requests that wait for a thread; more get 503
  std::size_t connections = 4096;
  ConnectionLimits limits;
  std::function<TlsSession()> tls;               // a session for each connection; empty: plain
  std::function<void(const Served&)> on_served;  // from any of the threads
};

// Now, and since the start.
struct ServerNumbers {
  std::size_t open_connections = 0, working = 0, waiting = 0;
  std::uint64_t accepted = 0;             // connections
  std::uint64_t refused_connections = 0;  // closed unheard: as many as may be were open
  std::uint64_t overloaded = 0;           // requests answered 503 since too many waited
};

class Server final : public httplib::Server {
 public:
  explicit Server(ServerOptions options);
  ~Server() override;

  // Binds and listens; port 0 takes a free one. Returns the port, or -1 with errno set.
  int bind(const std::string& host, int port);

  // Begins to serve; false with errno set.
  bool start();

  // Ends idle connections at once, answers the requests at hand, and returns when all are over.
  void stop_serving();

  ServerNumbers numbers() const;

 private:
  struct Watched {
    std::unique_ptr<Connection> connection;
    bool taken = true;   // a thread has it; otherwise epoll
    bool added = false;  // to the epoll set
  };

  void run();
  void accept_waiting();
  bool make_room();
  Connection* take(std::uint64_t id);
  void watch(Connection& connection, std::uint32_t events);
  void forget(Connection& connection);
  void sweep();
  void end_threads();
  void go_on(Connection& connection, Connection::Step step);
  void admit(Connection& connection);
  void work(Connection& connection);

  ServerOptions options_;
  int epoll_ = -1, clock_ = -1, end_ = -1;
  std::vector<std::thread> threads_;
  std::atomic<bool> stopping_{false};
  std::atomic<std::size_t> held_{0};  // body bytes of all connections

  mutable std::mutex watched_mutex_;
  std::unordered_map<std::uint64_t, Watched> watched_;
  std::uint64_t next_id_;
  std::uint64_t accepted_ = 0, refused_ = 0;

  mutable std::mutex work_mutex_;
  std::size_t working_ = 0;
  std::deque<Connection*> waiting_;
  std::uint64_t overloaded_ = 0;
};

}  // namespace faultodds_http
