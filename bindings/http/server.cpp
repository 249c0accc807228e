#include "bindings/http/server.h"

#include <netinet/in.h>
#include <netinet/tcp.h>
#include <sys/socket.h>
#include <unistd.h>

#include <algorithm>
#include <array>
#include <cerrno>
#include <memory>
#include <utility>

#include "bindings/http/stream.h"
#include "bindings/http/work_queue.h"

namespace faultodds_http {
namespace {

// Sends a refusal without the library, which has not seen the request.
void send_problem(int socket, const Problem& problem, bool head_only, Clock::duration timeout) {
  const std::string body = to_json(problem);
  std::string answer = "HTTP/1.1 " + std::to_string(problem.status) + ' ' +
                       reason_phrase(problem.status) + "\r\nContent-Type: " + problem_media_type +
                       "\r\nContent-Length: " + std::to_string(body.size()) +
                       "\r\nCache-Control: no-store\r\nConnection: close\r\n";
  if (problem.status == 503) answer += "Retry-After: 1\r\n";
  answer += "\r\n";
  if (!head_only) answer += body;
  transmit(socket, answer.data(), answer.size(), Clock::now() + timeout);
}

// Closing with bytes unread makes the kernel reset the connection, and the reset can destroy the
// answer on its way. So: say that no more is coming, and read away what the client still sends.
void linger(int socket, Clock::duration patience) {
  ::shutdown(socket, SHUT_WR);
  const auto deadline = Clock::now() + patience;
  std::array<char, 16 * 1024> waste;
  while (receive(socket, waste.data(), waste.size(), deadline) > 0) {
  }
}

bool has_unread_bytes(int socket) {
  char byte = 0;
  return ::recv(socket, &byte, 1, MSG_PEEK | MSG_DONTWAIT) > 0;
}

}  // namespace

Server::Server(const ServerOptions& options) : options_(options) {
  set_tcp_nodelay(true);
  set_payload_max_length(options.head.body);
  // The default sets SO_REUSEPORT, with which two servers share a port without knowing.
  set_socket_options([](socket_t socket) {
    const int yes = 1;
    ::setsockopt(socket, SOL_SOCKET, SO_REUSEADDR, &yes, sizeof(yes));
  });
  new_task_queue = [this]() -> httplib::TaskQueue* {
    return new WorkQueue(options_.threads, options_.queue);
  };
}

int Server::bind(const std::string& host, int port) {
  errno = 0;
  if (port == 0) {
    port = bind_to_any_port(host);
  } else if (!bind_to_port(host, port)) {
    port = -1;
  }
  // The library listens with a backlog of 5; listening again on Linux only changes that number.
  if (port > 0) ::listen(svr_sock_, 128);
  return port > 0 ? port : -1;
}

bool Server::serve() { return listen_after_bind(); }

void Server::stop_serving() {
  stopping_ = true;
  stop();
}

bool Server::process_and_close_socket(socket_t socket) {
  try {
    switch (current_admission()) {
      case Admission::serve:
        serve_connection(socket);
        break;
      case Admission::refuse:
        send_problem(socket, {503, "overloaded", "too many requests at once; try again", ""}, false,
                     std::chrono::milliseconds(200));
        linger(socket, std::chrono::milliseconds(200));
        break;
      case Admission::drop:
        break;
    }
  } catch (...) {
    // Out of memory before there was an answer: the connection is closed without one.
  }
  ::close(socket);
  return true;
}

void Server::serve_connection(int socket) {
  const int yes = 1;
  ::setsockopt(socket, IPPROTO_TCP, TCP_NODELAY, &yes, sizeof(yes));
  const auto refuse = [&](const Problem& problem, bool head_only) {
    send_problem(socket, problem, head_only, options_.timeout);
    linger(socket, std::chrono::seconds(2));
  };

  std::string bytes;
  std::size_t head_size = 0;
  const auto deadline = Clock::now() + options_.timeout;
  while (head_size == 0) {
    std::array<char, 4096> chunk;
    // In slices, so that a connection that says nothing does not delay a stop.
    const auto slice = std::min(deadline, Clock::now() + std::chrono::milliseconds(100));
    const ssize_t got = receive(socket, chunk.data(), chunk.size(), slice);
    if (got == 0) return;
    if (got < 0) {
      if (bytes.empty() && stopping_) return;
      if (Clock::now() < slice) return;  // not the deadline: the connection failed
      if (slice < deadline) continue;
      if (!bytes.empty()) {
        refuse({408, "request_timeout", "the head of the request did not arrive in time", ""},
               false);
      }
      return;
    }
    // The end may straddle what came before.
    const std::size_t from = bytes.size() < 3 ? 0 : bytes.size() - 3;
    bytes.append(chunk.data(), static_cast<std::size_t>(got));
    const std::size_t end = bytes.find("\r\n\r\n", from);
    if (end != std::string::npos) head_size = end + 4;
    if (head_size > options_.head_bytes || (head_size == 0 && bytes.size() > options_.head_bytes)) {
      refuse({431, "bad_request",
              "the head of the request is longer than " + std::to_string(options_.head_bytes) +
                  " bytes",
              ""},
             false);
      return;
    }
  }

  auto judged = judge(std::string_view(bytes).substr(0, head_size), options_.head);
  if (const auto* problem = std::get_if<Problem>(&judged)) {
    refuse(*problem, bytes.starts_with("HEAD "));
    return;
  }
  RequestHead& head = std::get<RequestHead>(judged);
  const std::size_t arrived = std::min(bytes.size() - head_size, head.content_length);
  const bool excess = bytes.size() - head_size > head.content_length;
  RequestStream stream(socket, std::move(head.forwarded) + bytes.substr(head_size, arrived),
                       head.content_length - arrived, options_.timeout);
  bytes.clear();
  bool closed = false;
  process_request(stream, true, closed, nullptr);
  if (excess || !stream.drained() || has_unread_bytes(socket)) {
    linger(socket, std::chrono::seconds(2));
  } else {
    ::shutdown(socket, SHUT_WR);
  }
}

}  // namespace faultodds_http
