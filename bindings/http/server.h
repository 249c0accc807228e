// Sockets, threads and time. One thread, the door, has all connections in one epoll set: it accepts
// them, reads requests, sends answers, looks at the deadlines, closes what is too slow when there
// is not enough for all, and answers /livez, /healthz and /metrics itself, so that nothing that is
// worked on delays them. Whole requests go to the workers and come back as answers. /readyz, which
// asks disk and database, has a thread of its own. What a request is, is connection.h's affair;
// what is answered, the router's.
#pragma once

#include <array>
#include <atomic>
#include <chrono>
#include <condition_variable>
#include <cstddef>
#include <cstdint>
#include <deque>
#include <functional>
#include <map>
#include <memory>
#include <mutex>
#include <optional>
#include <string>
#include <thread>
#include <unordered_map>
#include <vector>

#include "bindings/http/connection.h"
#include "bindings/http/router.h"

namespace faultodds_http {

// One request that was answered, for metrics and the access log.
struct Served {
  const RequestHead* head = nullptr;  // null: it was refused before it was a request
  int status = 0;
  std::size_t bytes = 0;   // of the answer, its head included
  Clock::duration took{};  // from the last byte of the request to the answer being ready
  std::string token_label;
};

struct ServerOptions {
  std::size_t threads = 4;
  std::size_t queue = 64;  // requests that wait for a thread; more get 503
  std::size_t connections = 4096;
  std::size_t connections_of_one = 1024;               // of one address
  std::size_t received_bytes = std::size_t{64} << 20;  // of heads and bodies of all connections
  std::size_t answer_bytes = std::size_t{64} << 20;    // of answers that wait to be read, of all
  ConnectionLimits limits;
  std::function<TlsSession()> tls;               // a session for each connection; empty: plain
  std::function<void(const Served&)> on_served;  // from the door
};

// Now, and since the start.
struct ServerNumbers {
  std::size_t open_connections = 0, working = 0, waiting = 0;
  std::size_t received_bytes = 0, answer_bytes = 0;
  std::uint64_t accepted = 0;             // connections
  std::uint64_t refused_connections = 0;  // closed unheard: none could make room
  std::uint64_t given_up = 0;             // connections closed to make room, the slowest first
  std::uint64_t abandoned = 0;            // requests whose client was gone before the answer
  std::uint64_t overdue = 0;              // answered 503 while the work went on
  std::uint64_t overloaded = 0;           // requests answered 503 since too many waited
};

class Server {
 public:
  // `router` outlives it.
  Server(ServerOptions options, const Router& router);
  ~Server();
  Server(const Server&) = delete;
  Server& operator=(const Server&) = delete;

  // Binds and listens; port 0 takes a free one. Returns the port, or -1 with errno set.
  int bind(const std::string& host, int port);

  // Begins to serve; false with errno set.
  bool start();

  // Ends idle connections at once, answers the requests at hand, and returns when all are over.
  void stop_serving();

  ServerNumbers numbers() const;

 private:
  // IPv4 address, or the first half of an IPv6 one: what one client has.
  using Address = std::array<unsigned char, 16>;

  // A request on its way through a worker.
  struct Work {
    std::uint64_t connection = 0;
    Address address;
    HttpRequest request;
    TimeLimit limit;
    Clock::time_point admitted = Clock::now();
    HttpAnswer answer;
    bool lost = false;  // guarded by work_mutex_: nobody waits for it, and its worker was replaced

    Work(std::uint64_t id, const Address& from, HttpRequest its, std::chrono::milliseconds patience)
        : connection(id), address(from), request(std::move(its)), limit(patience) {}
  };

  struct Entry {
    std::unique_ptr<Connection> connection;
    Address address{};
    std::uint32_t events = 0;    // watched for now
    std::shared_ptr<Work> work;  // null: none
    std::optional<Clock::time_point> half_closed;
  };
  using Queue = std::deque<std::shared_ptr<Work>>;
  using Entries = std::unordered_map<std::uint64_t, Entry>;

  // The door's.
  void run();
  void turn(std::uint64_t id, std::uint32_t events);
  void accept_waiting();
  bool accept_one(int socket, const Address& address);
  bool make_room(const Address* address);
  void watch(Entry& entry, std::uint32_t events);
  void forget(std::uint64_t id);
  void sweep();
  void go_on(std::uint64_t id, Connection::Step step);
  void admit(Entry& entry);
  static std::shared_ptr<Work> take_from_greediest(Queue& queue);
  void send_answer(Entry& entry, const Work& work, HttpAnswer answer);
  void take_answers();
  void shed();
  void hung_up(Entry& entry, std::uint32_t events);
  void give_up_work(Entry& entry);
  void wake() const;

  // The workers'.
  void work_on(Queue& queue, std::condition_variable& added, std::size_t& at_work);
  void start_worker();
  void join_finished();

  ServerOptions options_;
  const Router& router_;
  int listener_ = -1, epoll_ = -1, wake_ = -1;
  bool accepting_ = true;
  std::thread door_;
  std::atomic<bool> stopping_{false};
  Held held_;

  Entries entries_;
  std::map<Address, std::size_t> of_one_;
  std::uint64_t next_id_;
  std::atomic<std::size_t> open_{0};
  std::atomic<std::uint64_t> accepted_{0}, refused_{0}, given_up_{0}, abandoned_{0}, overdue_{0},
      overloaded_{0};

  mutable std::mutex work_mutex_;
  std::condition_variable work_added_, readiness_asked_, answer_taken_;
  Queue waiting_, readiness_, answered_;
  std::size_t working_ = 0, asking_ = 0;
  std::size_t lost_ = 0;  // workers at work nobody waits for
  bool ended_ = false;
  std::vector<std::thread> threads_;
  std::vector<std::thread::id> finished_;
};

}  // namespace faultodds_http
