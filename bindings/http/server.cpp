#include "bindings/http/server.h"

#include <fcntl.h>
#include <netinet/in.h>
#include <netinet/tcp.h>
#include <sys/epoll.h>
#include <sys/eventfd.h>
#include <sys/socket.h>
#include <sys/timerfd.h>
#include <unistd.h>

#include <algorithm>
#include <cerrno>
#include <utility>

#include "bindings/http/request_stream.h"

namespace faultodds_http {
namespace {

// What epoll tells apart; connections have the numbers after these.
enum : std::uint64_t { listener_id, clock_id, end_id, first_connection_id };

constexpr long sweep_nanoseconds = 100'000'000;  // between looks at the deadlines

bool watch_file(int epoll, int operation, int file, std::uint32_t events, std::uint64_t id) {
  epoll_event event{};
  event.events = events;
  event.data.u64 = id;
  return ::epoll_ctl(epoll, operation, file, &event) == 0;
}

}  // namespace

Server::Server(ServerOptions options)
    : options_(std::move(options)), next_id_(first_connection_id) {
  set_payload_max_length(options_.limits.head.body);
  // The default sets SO_REUSEPORT, with which two servers share a port without knowing.
  set_socket_options([](socket_t socket) {
    const int yes = 1;
    ::setsockopt(socket, SOL_SOCKET, SO_REUSEADDR, &yes, sizeof(yes));
  });
  const auto idle = std::chrono::duration_cast<std::chrono::seconds>(options_.limits.idle).count();
  set_post_routing_handler([idle](const httplib::Request& request, httplib::Response& response) {
    if (response.has_header("Keep-Alive")) {
      response.headers.erase("Keep-Alive");
      if (idle > 0) response.set_header("Keep-Alive", "timeout=" + std::to_string(idle));
    }
    if (request.has_header("traceparent")) {
      response.set_header("traceparent", request.get_header_value("traceparent"));
    }
  });
}

Server::~Server() {
  stop_serving();
  for (const int file : {epoll_, clock_, end_}) {
    if (file >= 0) ::close(file);
  }
}

int Server::bind(const std::string& host, int port) {
  errno = 0;
  if (port == 0) {
    port = bind_to_any_port(host);
  } else if (!bind_to_port(host, port)) {
    port = -1;
  }
  // The library listens with a backlog of 5; listening again on Linux only changes that number.
  if (port > 0) {
    ::listen(svr_sock_, 1024);
    ::fcntl(svr_sock_, F_SETFL, O_NONBLOCK);
  }
  return port > 0 ? port : -1;
}

bool Server::start() {
  epoll_ = ::epoll_create1(EPOLL_CLOEXEC);
  clock_ = ::timerfd_create(CLOCK_MONOTONIC, TFD_NONBLOCK | TFD_CLOEXEC);
  end_ = ::eventfd(0, EFD_NONBLOCK | EFD_CLOEXEC);
  const itimerspec period{{0, sweep_nanoseconds}, {0, sweep_nanoseconds}};
  const bool ready =
      epoll_ >= 0 && clock_ >= 0 && end_ >= 0 &&
      ::timerfd_settime(clock_, 0, &period, nullptr) == 0 &&
      watch_file(epoll_, EPOLL_CTL_ADD, svr_sock_, EPOLLIN | EPOLLONESHOT, listener_id) &&
      watch_file(epoll_, EPOLL_CTL_ADD, clock_, EPOLLIN | EPOLLONESHOT, clock_id) &&
      watch_file(epoll_, EPOLL_CTL_ADD, end_, EPOLLIN, end_id);
  if (!ready) return false;
  // One more than work at once: so there is always one at the door, which reads what arrives, turns
  // away what is too much and looks at the deadlines.
  for (std::size_t i = 0; i < options_.threads + 1; ++i) {
    threads_.emplace_back([this] { run(); });
  }
  return true;
}

void Server::stop_serving() {
  if (threads_.empty()) return;
  stopping_ = true;
  {
    const std::lock_guard lock(watched_mutex_);
    ::epoll_ctl(epoll_, EPOLL_CTL_DEL, svr_sock_, nullptr);
    ::close(svr_sock_.exchange(INVALID_SOCKET));
  }
  sweep();
  for (std::thread& thread : threads_) thread.join();
  threads_.clear();
}

ServerNumbers Server::numbers() const {
  ServerNumbers out;
  {
    const std::lock_guard lock(watched_mutex_);
    out.open_connections = watched_.size();
    out.accepted = accepted_;
    out.refused_connections = refused_;
  }
  const std::lock_guard lock(work_mutex_);
  out.working = working_;
  out.waiting = waiting_.size();
  out.overloaded = overloaded_;
  return out;
}

void Server::run() {
  while (true) {
    epoll_event event{};
    if (::epoll_wait(epoll_, &event, 1, -1) != 1) continue;
    try {
      switch (event.data.u64) {
        case end_id:
          return;
        case listener_id:
          accept_waiting();
          break;
        case clock_id: {
          std::uint64_t ticks = 0;
          if (::read(clock_, &ticks, sizeof(ticks)) < 0 && errno != EAGAIN) break;
          sweep();
          watch_file(epoll_, EPOLL_CTL_MOD, clock_, EPOLLIN | EPOLLONESHOT, clock_id);
          break;
        }
        default:
          if (Connection* connection = take(event.data.u64)) {
            try {
              go_on(*connection, connection->go_on());
            } catch (...) {
              forget(*connection);  // out of memory before there was an answer
            }
          }
      }
    } catch (...) {
      // Out of memory: what it was about is tried again at the next event.
    }
  }
}

// ---- connections -------------------------------------------------------------------------------

void Server::accept_waiting() {
  bool more = true;
  for (int taken = 0; more && !stopping_ && taken < 64; ++taken) {
    const int socket = ::accept4(svr_sock_, nullptr, nullptr, SOCK_NONBLOCK | SOCK_CLOEXEC);
    if (socket < 0) {
      // Without a free descriptor the listener would report without end: the clock watches it
      // again.
      if (errno == EMFILE || errno == ENFILE || errno == ENOBUFS || errno == ENOMEM) {
        if (!make_room()) return;
        continue;
      }
      more = errno == ECONNABORTED || errno == EINTR;
      continue;
    }
    const int yes = 1;
    ::setsockopt(socket, IPPROTO_TCP, TCP_NODELAY, &yes, sizeof(yes));
    const bool full = numbers().open_connections >= options_.connections && !make_room();
    TlsSession session = options_.tls && !full ? options_.tls() : nullptr;
    const bool refused = full || (options_.tls && !session);
    Connection* connection = nullptr;
    {
      const std::lock_guard lock(watched_mutex_);
      ++accepted_;
      if (refused) {
        ++refused_;
        ::close(socket);
        continue;
      }
      auto made = std::make_unique<Connection>(next_id_, socket, std::move(session),
                                               options_.limits, held_);
      connection = made.get();
      watched_.emplace(next_id_++, Watched{std::move(made)});
    }
    go_on(*connection, connection->go_on());
  }
  const std::lock_guard lock(watched_mutex_);
  if (!stopping_) {
    watch_file(epoll_, EPOLL_CTL_MOD, svr_sock_, EPOLLIN | EPOLLONESHOT, listener_id);
  }
}

// Ends the connection that has been idle longest; false when none is.
bool Server::make_room() {
  const std::lock_guard lock(watched_mutex_);
  auto oldest = watched_.end();
  for (auto it = watched_.begin(); it != watched_.end(); ++it) {
    if (it->second.taken || !it->second.connection->idle()) continue;
    if (oldest == watched_.end() ||
        it->second.connection->deadline() < oldest->second.connection->deadline()) {
      oldest = it;
    }
  }
  if (oldest == watched_.end()) return false;
  watched_.erase(oldest);
  return true;
}

Connection* Server::take(std::uint64_t id) {
  const std::lock_guard lock(watched_mutex_);
  const auto found = watched_.find(id);
  if (found == watched_.end() || found->second.taken) return nullptr;
  found->second.taken = true;
  return found->second.connection.get();
}

void Server::watch(Connection& connection, std::uint32_t events) {
  if (stopping_ && connection.idle()) return forget(connection);
  bool failed = false;
  {
    const std::lock_guard lock(watched_mutex_);
    Watched& entry = watched_.at(connection.id());
    entry.taken = false;
    failed = !watch_file(epoll_, entry.added ? EPOLL_CTL_MOD : EPOLL_CTL_ADD, connection.socket(),
                         events | EPOLLONESHOT, connection.id());
    entry.taken = failed;
    entry.added = true;
  }
  if (failed) forget(connection);
}

void Server::forget(Connection& connection) {
  const std::lock_guard lock(watched_mutex_);
  watched_.erase(connection.id());
  if (stopping_ && watched_.empty()) end_threads();
}

void Server::end_threads() {
  const std::uint64_t one = 1;
  while (::write(end_, &one, sizeof(one)) < 0 && errno == EINTR) {
  }
}

void Server::sweep() {
  std::vector<Connection*> expired;
  {
    const std::lock_guard lock(watched_mutex_);
    const auto now = Clock::now();
    for (auto& [id, entry] : watched_) {
      if (entry.taken) continue;
      const Connection& connection = *entry.connection;
      if (connection.deadline() > now && !(stopping_ && connection.idle())) continue;
      expired.push_back(entry.connection.get());
      entry.taken = true;
    }
    if (stopping_ && watched_.empty()) end_threads();
    // Where accepting had to stop for want of descriptors.
    if (!stopping_) {
      watch_file(epoll_, EPOLL_CTL_MOD, svr_sock_, EPOLLIN | EPOLLONESHOT, listener_id);
    }
  }
  for (Connection* connection : expired) go_on(*connection, connection->expire());
}

// ---- requests ----------------------------------------------------------------------------------

void Server::go_on(Connection& connection, Connection::Step step) {
  if (const auto refused = connection.take_refused(); refused && options_.on_served) {
    options_.on_served({nullptr, refused->status, refused->bytes, {}});
  }
  switch (step) {
    case Connection::Step::read:
      return watch(connection, EPOLLIN);
    case Connection::Step::write:
      return watch(connection, EPOLLOUT);
    case Connection::Step::request:
      return admit(connection);
    case Connection::Step::over:
      return forget(connection);
  }
}

// Works on it on this thread, or lets it wait for one that works now, or turns it away.
void Server::admit(Connection& connection) {
  bool too_many = false;
  {
    const std::lock_guard lock(work_mutex_);
    if (working_ < options_.threads) {
      ++working_;
    } else if (waiting_.size() < options_.queue) {
      waiting_.push_back(&connection);
      return;
    } else {
      ++overloaded_;
      too_many = true;
    }
  }
  if (too_many) {
    const HttpRequest& request = connection.request();
    std::string text = refusal_text({503, "overloaded", "too many requests at once; try again", ""},
                                    request.head.method == "HEAD", request.last);
    if (options_.on_served) options_.on_served({&request.head, 503, text.size(), {}});
    connection.answer(std::move(text), request.last);
    return go_on(connection, connection.go_on());
  }
  for (Connection* next = &connection; next != nullptr;) {
    work(*next);
    const std::lock_guard lock(work_mutex_);
    if (waiting_.empty()) {
      --working_;
      next = nullptr;
    } else {
      next = waiting_.front();
      waiting_.pop_front();
    }
  }
}

void Server::work(Connection& connection) {
  try {
    const HttpRequest& request = connection.request();
    const auto begin = Clock::now();
    RequestStream stream(request.head.forwarded, request.body);
    bool last = request.last || stopping_;
    bool closed = false;
    process_request(stream, last, closed, nullptr);
    std::string text = stream.take_answer();
    last = last || stopping_ || connection.has_unread();
    if (last && !request.last) say_close(text);
    if (options_.on_served) {
      options_.on_served({&request.head, status_of(text), text.size(), Clock::now() - begin});
    }
    connection.answer(std::move(text), last);
    go_on(connection, connection.go_on());
  } catch (...) {
    forget(connection);  // out of memory before there was an answer
  }
}

}  // namespace faultodds_http
