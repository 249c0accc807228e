#include "bindings/http/server.h"

#include <netdb.h>
#include <netinet/in.h>
#include <netinet/tcp.h>
#include <sys/epoll.h>
#include <sys/eventfd.h>
#include <sys/socket.h>
#include <unistd.h>

#include <algorithm>
#include <cerrno>
#include <cstring>
#include <iterator>
#include <string_view>
#include <utility>

namespace faultodds_http {
namespace {

// What epoll tells apart; connections have the numbers after these.
enum : std::uint64_t { listener_id, wake_id, first_connection_id };

constexpr std::chrono::milliseconds between_sweeps{100};
// A client that has only closed its sending side may still read; after this it is taken for gone.
constexpr std::chrono::milliseconds half_closed_patience{1000};
// How long after its limit work is waited for; the library looks at the limit now and then.
constexpr std::chrono::milliseconds overdue_patience{1000};
// Bytes of an answer that the kernel takes beyond what the client's window has room for; without
// it, megabytes for each client that does not read.
constexpr int unsent_in_kernel = 128 * 1024;
// One connection may have the memory of all answers divided by this.
constexpr std::size_t shares_of_answers = 4;

// What an open connection is watched for, and still when its request is being worked on.
constexpr std::uint32_t reading = EPOLLIN | EPOLLRDHUP;

std::string_view path_of(const RequestHead& head) {
  return std::string_view(head.target).substr(0, head.target.find('?'));
}

bool answered_at_the_door(const RequestHead& head) {
  const std::string_view path = path_of(head);
  return path == "/livez" || path == "/healthz" || path == "/metrics";
}

struct FreeAddresses {
  void operator()(addrinfo* list) const { ::freeaddrinfo(list); }
};

int listening_socket(const addrinfo& address) {
  const int made = ::socket(address.ai_family, SOCK_STREAM | SOCK_NONBLOCK | SOCK_CLOEXEC, 0);
  if (made < 0) return -1;
  const int yes = 1, no = 0;
  ::setsockopt(made, SOL_SOCKET, SO_REUSEADDR, &yes, sizeof(yes));
  // The sockets accepted have these two as well (Linux copies them).
  ::setsockopt(made, IPPROTO_TCP, TCP_NODELAY, &yes, sizeof(yes));
  ::setsockopt(made, IPPROTO_TCP, TCP_NOTSENT_LOWAT, &unsent_in_kernel, sizeof(unsent_in_kernel));
  if (address.ai_family == AF_INET6) {
    ::setsockopt(made, IPPROTO_IPV6, IPV6_V6ONLY, &no, sizeof(no));
  }
  if (::bind(made, address.ai_addr, address.ai_addrlen) == 0 && ::listen(made, 4096) == 0) {
    return made;
  }
  const int why = errno;
  ::close(made);
  errno = why;
  return -1;
}

int port_of(int socket) {
  sockaddr_storage name{};
  socklen_t size = sizeof(name);
  if (::getsockname(socket, reinterpret_cast<sockaddr*>(&name), &size) != 0) return -1;
  return name.ss_family == AF_INET6 ? ntohs(reinterpret_cast<const sockaddr_in6&>(name).sin6_port)
                                    : ntohs(reinterpret_cast<const sockaddr_in&>(name).sin_port);
}

std::array<unsigned char, 16> address_of(const sockaddr_storage& from) {
  std::array<unsigned char, 16> out{};
  if (from.ss_family == AF_INET) {
    std::memcpy(out.data() + 12, &reinterpret_cast<const sockaddr_in&>(from).sin_addr, 4);
  } else if (from.ss_family == AF_INET6) {
    const in6_addr& full = reinterpret_cast<const sockaddr_in6&>(from).sin6_addr;
    if (IN6_IS_ADDR_V4MAPPED(&full)) {
      std::memcpy(out.data() + 12, full.s6_addr + 12, 4);
    } else {
      std::memcpy(out.data(), full.s6_addr, 8);
    }
  }
  return out;
}

HttpAnswer refusal_of(const HttpRequest& request, const Problem& problem) {
  return refusal(problem, request.head.method == "HEAD");
}

}  // namespace

Server::Server(ServerOptions options, const Router& router)
    : options_(std::move(options)), router_(router), next_id_(first_connection_id) {}

Server::~Server() {
  stop_serving();
  for (const int file : {listener_, epoll_, wake_}) {
    if (file >= 0) ::close(file);
  }
}

int Server::bind(const std::string& host, int port) {
  errno = 0;
  addrinfo hints{};
  hints.ai_socktype = SOCK_STREAM;
  hints.ai_flags = AI_PASSIVE | AI_NUMERICSERV;
  addrinfo* found = nullptr;
  if (::getaddrinfo(host.c_str(), std::to_string(port).c_str(), &hints, &found) != 0) return -1;
  const std::unique_ptr<addrinfo, FreeAddresses> owner(found);
  for (const addrinfo* one = found; one != nullptr && listener_ < 0; one = one->ai_next) {
    listener_ = listening_socket(*one);
  }
  return listener_ < 0 ? -1 : port_of(listener_);
}

bool Server::start() {
  epoll_ = ::epoll_create1(EPOLL_CLOEXEC);
  wake_ = ::eventfd(0, EFD_NONBLOCK | EFD_CLOEXEC);
  if (epoll_ < 0 || wake_ < 0) return false;
  for (const auto& [file, id] : {std::pair(listener_, listener_id), std::pair(wake_, wake_id)}) {
    epoll_event event{};
    event.events = EPOLLIN;
    event.data.u64 = id;
    if (::epoll_ctl(epoll_, EPOLL_CTL_ADD, file, &event) != 0) return false;
  }
  const std::lock_guard lock(work_mutex_);
  for (std::size_t i = 0; i < options_.threads; ++i) start_worker();
  threads_.emplace_back([this] { work_on(readiness_, readiness_asked_, asking_); });
  door_ = std::thread([this] { run(); });
  return true;
}

void Server::stop_serving() {
  if (!door_.joinable()) return;
  stopping_ = true;
  wake();
  door_.join();
  std::vector<std::thread> threads;
  {
    const std::lock_guard lock(work_mutex_);
    ended_ = true;
    threads.swap(threads_);
  }
  for (auto* condition : {&work_added_, &readiness_asked_, &answer_taken_}) condition->notify_all();
  for (std::thread& thread : threads) thread.join();
}

ServerNumbers Server::numbers() const {
  ServerNumbers out;
  out.open_connections = open_;
  out.received_bytes = held_.received;
  out.answer_bytes = held_.answers;
  out.accepted = accepted_;
  out.refused_connections = refused_;
  out.given_up = given_up_;
  out.abandoned = abandoned_;
  out.overdue = overdue_;
  out.overloaded = overloaded_;
  const std::lock_guard lock(work_mutex_);
  out.working = working_;
  out.waiting = waiting_.size();
  return out;
}

// ---- the door ----------------------------------------------------------------------------------

void Server::run() {
  std::array<epoll_event, 64> events{};
  auto next_sweep = Clock::now() + between_sweeps;
  while (true) {
    const int count = ::epoll_wait(epoll_, events.data(), static_cast<int>(events.size()),
                                   static_cast<int>(between_sweeps.count()));
    try {
      for (int i = 0; i < count; ++i) {
        turn(events[static_cast<std::size_t>(i)].data.u64,
             events[static_cast<std::size_t>(i)].events);
      }
      if (Clock::now() >= next_sweep || stopping_) {
        sweep();
        next_sweep = Clock::now() + between_sweeps;
      }
    } catch (...) {
      // Out of memory: what it was about is tried again at the next event.
    }
    if (stopping_ && entries_.empty()) return;
  }
}

void Server::turn(std::uint64_t id, std::uint32_t events) {
  if (id == listener_id) return accept_waiting();
  if (id == wake_id) {
    std::uint64_t count = 0;
    if (::read(wake_, &count, sizeof(count)) < 0 && errno != EAGAIN) return;
    return take_answers();
  }
  const auto found = entries_.find(id);
  if (found == entries_.end()) return;
  Entry& entry = found->second;
  if (entry.connection->working()) return hung_up(entry, events);
  try {
    go_on(id, entry.connection->go_on());
  } catch (...) {
    forget(id);  // out of memory before there was an answer
  }
  shed();
}

void Server::wake() const {
  const std::uint64_t one = 1;
  while (::write(wake_, &one, sizeof(one)) < 0 && errno == EINTR) {
  }
}

void Server::accept_waiting() {
  for (int taken = 0; !stopping_ && taken < 64; ++taken) {
    sockaddr_storage from{};
    socklen_t size = sizeof(from);
    const int socket = ::accept4(listener_, reinterpret_cast<sockaddr*>(&from), &size,
                                 SOCK_NONBLOCK | SOCK_CLOEXEC);
    if (socket >= 0) {
      if (!accept_one(socket, address_of(from))) ++refused_;
      continue;
    }
    if (errno == ECONNABORTED || errno == EINTR) continue;
    if (errno != EMFILE && errno != ENFILE && errno != ENOBUFS && errno != ENOMEM) return;
    if (make_room(nullptr)) continue;
    // Without a free descriptor the listener would report without end: the sweep watches it again.
    epoll_event event{};
    event.data.u64 = listener_id;
    ::epoll_ctl(epoll_, EPOLL_CTL_MOD, listener_, &event);
    accepting_ = false;
    return;
  }
}

// False when there is no room for it.
bool Server::accept_one(int socket, const Address& address) {
  ++accepted_;
  const auto of_this = of_one_.find(address);
  const bool many = of_this != of_one_.end() && of_this->second >= options_.connections_of_one;
  const bool full =
      many ? !make_room(&address) : entries_.size() >= options_.connections && !make_room(nullptr);
  TlsSession session = options_.tls && !full ? options_.tls() : nullptr;
  if (full || (options_.tls && !session)) {
    ::close(socket);
    return false;
  }
  const std::uint64_t id = next_id_++;
  Entry entry;
  entry.connection =
      std::make_unique<Connection>(id, socket, std::move(session), options_.limits, held_);
  entry.address = address;
  entries_.emplace(id, std::move(entry));
  ++of_one_[address];
  open_ = entries_.size();
  go_on(id, entries_.at(id).connection->go_on());
  return true;
}

// Closes the connections of lowest standing, of one address or of all: some at once, so that a
// flood does not cost a look at all of them for each. False when every one is being worked for.
bool Server::make_room(const Address* address) {
  std::vector<std::pair<Clock::time_point, std::uint64_t>> candidates;
  candidates.reserve(entries_.size());
  for (const auto& [id, entry] : entries_) {
    if (entry.connection->working() || (address != nullptr && entry.address != *address)) continue;
    candidates.emplace_back(entry.connection->standing(), id);
  }
  if (candidates.empty()) return false;
  const std::size_t limit = address != nullptr ? options_.connections_of_one : options_.connections;
  const std::size_t some = std::clamp<std::size_t>(limit / 256, 1, candidates.size());
  std::nth_element(candidates.begin(), candidates.begin() + static_cast<std::ptrdiff_t>(some - 1),
                   candidates.end());
  for (std::size_t i = 0; i < some; ++i) forget(candidates[i].second);
  given_up_ += some;
  return true;
}

void Server::watch(Entry& entry, std::uint32_t events) {
  if (stopping_ && entry.connection->idle()) return forget(entry.connection->id());
  if (entry.events == events) return;
  epoll_event event{};
  event.events = events;
  event.data.u64 = entry.connection->id();
  const int operation = entry.events == 0 ? EPOLL_CTL_ADD : EPOLL_CTL_MOD;
  if (::epoll_ctl(epoll_, operation, entry.connection->socket(), &event) != 0) {
    return forget(entry.connection->id());
  }
  entry.events = events;
}

void Server::forget(std::uint64_t id) {
  const auto found = entries_.find(id);
  if (found == entries_.end()) return;
  give_up_work(found->second);
  const auto of_this = of_one_.find(found->second.address);
  if (--of_this->second == 0) of_one_.erase(of_this);
  entries_.erase(found);
  open_ = entries_.size();
}

void Server::sweep() {
  const auto now = Clock::now();
  std::vector<std::uint64_t> expired;
  for (auto& [id, entry] : entries_) {
    const Connection& connection = *entry.connection;
    if (connection.working()) {
      const bool gone = entry.half_closed && now > *entry.half_closed + half_closed_patience;
      if (gone || now > entry.work->limit.end() + overdue_patience) expired.push_back(id);
    } else if (connection.deadline() <= now || (stopping_ && connection.idle())) {
      expired.push_back(id);
    }
  }
  for (const std::uint64_t id : expired) {
    Entry& entry = entries_.at(id);
    if (!entry.connection->working()) {
      go_on(id, entry.connection->expire());
    } else if (entry.half_closed) {
      ++abandoned_;
      forget(id);
    } else {
      ++overdue_;
      const std::shared_ptr<Work> work = entry.work;
      give_up_work(entry);
      send_answer(
          entry, *work,
          refusal_of(work->request,
                     {503, "cancelled",
                      "this takes longer than one request may; --timeout says how long", ""}));
    }
  }
  shed();
  join_finished();
  if (!accepting_) {
    epoll_event event{};
    event.events = EPOLLIN;
    event.data.u64 = listener_id;
    accepting_ = ::epoll_ctl(epoll_, EPOLL_CTL_MOD, listener_, &event) == 0;
  }
  if (stopping_ && listener_ >= 0) {
    ::close(listener_);
    listener_ = -1;
  }
}

// Where clients have more in memory than they may have together, the slowest lose theirs.
void Server::shed() {
  const auto lowest = [&](std::size_t (Connection::*bytes)() const) {
    auto out = entries_.end();
    for (auto it = entries_.begin(); it != entries_.end(); ++it) {
      const Connection& one = *it->second.connection;
      if (one.working() || ((one).*bytes)() == 0) continue;
      if (out == entries_.end() || one.standing() < out->second.connection->standing()) out = it;
    }
    return out;
  };
  while (held_.received > options_.received_bytes) {
    const auto slowest = lowest(&Connection::received);
    if (slowest == entries_.end()) break;
    go_on(slowest->first,
          slowest->second.connection->turn_away(
              {503, "overloaded", "too many large requests at once; try again", ""}));
  }
  while (held_.answers > options_.answer_bytes) {
    const auto slowest = lowest(&Connection::unsent);
    if (slowest == entries_.end()) break;
    ++given_up_;
    forget(slowest->first);
  }
}

void Server::go_on(std::uint64_t id, Connection::Step step) {
  Entry& entry = entries_.at(id);
  if (const auto refused = entry.connection->take_refused(); refused && options_.on_served) {
    options_.on_served({nullptr, refused->status, refused->bytes, {}, {}});
  }
  switch (step) {
    case Connection::Step::read:
      return watch(entry, reading);
    case Connection::Step::write:
      return watch(entry, EPOLLOUT);
    case Connection::Step::request:
      return admit(entry);
    case Connection::Step::over:
      return forget(id);
  }
}

// ---- requests ----------------------------------------------------------------------------------

// Answers it here, or gives it to the workers, or turns it away.
void Server::admit(Entry& entry) {
  auto work = std::make_shared<Work>(entry.connection->id(), entry.address,
                                     entry.connection->take_request(), options_.limits.timeout);
  if (answered_at_the_door(work->request.head)) {
    return send_answer(entry, *work,
                       router_.answer_to(work->request.head, work->request.body, work->limit));
  }
  const bool readiness = path_of(work->request.head) == "/readyz";
  Queue& queue = readiness ? readiness_ : waiting_;
  entry.work = work;
  entry.half_closed.reset();
  std::shared_ptr<Work> too_many;
  {
    const std::lock_guard lock(work_mutex_);
    queue.push_back(std::move(work));
    // Those that a free worker is about to take do not wait.
    const std::size_t at_work = std::min(options_.threads, working_ - lost_);
    const std::size_t free = readiness ? 0 : options_.threads - at_work;
    if (queue.size() > options_.queue + free) too_many = take_from_greediest(queue);
  }
  (readiness ? readiness_asked_ : work_added_).notify_one();
  if (too_many != entry.work) watch(entry, reading);
  if (!too_many) return;
  ++overloaded_;
  const auto turned_away = entries_.find(too_many->connection);
  if (turned_away == entries_.end()) return;
  turned_away->second.work.reset();
  send_answer(turned_away->second, *too_many,
              refusal_of(too_many->request,
                         {503, "overloaded", "too many requests at once; try again", ""}));
}

// The last request of the address that has most of them waiting, and of several the last to come.
std::shared_ptr<Server::Work> Server::take_from_greediest(Queue& queue) {
  std::map<Address, std::size_t> waiting;
  for (const auto& work : queue) ++waiting[work->address];
  auto greediest = queue.end();
  for (auto at = queue.begin(); at != queue.end(); ++at) {
    if (greediest == queue.end() || waiting[(*at)->address] >= waiting[(*greediest)->address]) {
      greediest = at;
    }
  }
  std::shared_ptr<Work> out = std::move(*greediest);
  queue.erase(greediest);
  return out;
}

void Server::send_answer(Entry& entry, const Work& work, HttpAnswer answer) {
  Connection& connection = *entry.connection;
  if (answer.head.empty()) return forget(connection.id());  // out of memory before there was one
  if (answer.own_bytes() > options_.answer_bytes / shares_of_answers) {
    answer = refusal_of(
        work.request,
        {507, "limit_exceeded", "the answer is larger than a quarter of --answer-memory", ""});
  }
  const bool last = work.request.last || stopping_ || connection.has_unread();
  if (options_.on_served) {
    options_.on_served({&work.request.head, answer.status, answer.bytes(),
                        Clock::now() - work.admitted, std::move(answer.token_label)});
  }
  connection.answer(std::move(answer), last);
  go_on(connection.id(), connection.go_on());
}

// What the workers have done.
void Server::take_answers() {
  Queue answered;
  {
    const std::lock_guard lock(work_mutex_);
    answered.swap(answered_);
  }
  answer_taken_.notify_all();
  for (const auto& work : answered) {
    const auto found = entries_.find(work->connection);
    if (found == entries_.end() || found->second.work != work) continue;  // it was given up
    found->second.work.reset();
    try {
      send_answer(found->second, *work, std::move(work->answer));
    } catch (...) {
      forget(work->connection);
    }
    shed();
  }
}

// While a request is worked on: whether its client is gone.
void Server::hung_up(Entry& entry, std::uint32_t events) {
  if ((events & (EPOLLHUP | EPOLLERR)) != 0) {
    ++abandoned_;
    return forget(entry.connection->id());
  }
  if ((events & EPOLLRDHUP) != 0 && !entry.half_closed) {
    entry.half_closed = Clock::now();
    watch(entry, EPOLLONESHOT);  // only for its full end
  } else {
    watch(entry, EPOLLRDHUP);  // it sends ahead, which is not read now
  }
}

// Nobody waits for the request of this connection any more. A worker that does not end then, as the
// library looks at the limit only now and then, is replaced; as many as there are threads.
void Server::give_up_work(Entry& entry) {
  if (!entry.work) return;
  const std::shared_ptr<Work> work = std::exchange(entry.work, nullptr);
  work->limit.end_now();
  const std::lock_guard lock(work_mutex_);
  for (Queue* queue : {&waiting_, &readiness_, &answered_}) {
    const auto at = std::find(queue->begin(), queue->end(), work);
    if (at == queue->end()) continue;
    queue->erase(at);
    return;
  }
  const bool readiness = path_of(work->request.head) == "/readyz";
  if (readiness || lost_ >= options_.threads || stopping_) return;
  work->lost = true;
  ++lost_;
  start_worker();
}

// ---- workers -----------------------------------------------------------------------------------

// With work_mutex_ held.
void Server::start_worker() {
  threads_.emplace_back([this] { work_on(waiting_, work_added_, working_); });
}

void Server::join_finished() {
  std::vector<std::thread> finished;
  {
    const std::lock_guard lock(work_mutex_);
    for (const std::thread::id id : finished_) {
      const auto found = std::find_if(threads_.begin(), threads_.end(),
                                      [&](const std::thread& one) { return one.get_id() == id; });
      finished.push_back(std::move(*found));
      threads_.erase(found);
    }
    finished_.clear();
  }
  for (std::thread& thread : finished) thread.join();
}

void Server::work_on(Queue& queue, std::condition_variable& added, std::size_t& at_work) {
  std::unique_lock lock(work_mutex_);
  while (true) {
    added.wait(lock, [&] { return ended_ || !queue.empty(); });
    if (ended_) return;
    const std::shared_ptr<Work> work = std::move(queue.front());
    queue.pop_front();
    ++at_work;
    lock.unlock();
    try {
      work->answer = router_.answer_to(work->request.head, work->request.body, work->limit);
    } catch (...) {
      work->answer = {};  // out of memory even for the refusal
    }
    lock.lock();
    --at_work;
    if (work->lost) {
      --lost_;
      finished_.push_back(std::this_thread::get_id());
      return;  // another has its place
    }
    // Answers that the door has not taken are in memory too.
    answer_taken_.wait(lock, [&] { return ended_ || answered_.size() < options_.threads; });
    const bool first = answered_.empty();
    answered_.push_back(work);
    if (first) wake();
  }
}

}  // namespace faultodds_http
