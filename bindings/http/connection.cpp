#include "bindings/http/connection.h"

#include <algorithm>
#include <array>
#include <utility>

namespace faultodds_http {
namespace {

// How long to read away what a client sends that nobody wants. Closing at once would make the
// kernel reset the connection, and the reset can destroy the answer on its way.
constexpr std::chrono::seconds lingering{2};

}  // namespace

Connection::Connection(std::uint64_t id, int socket, TlsSession session,
                       const ConnectionLimits& limits, Held& held)
    : id_(id),
      transport_(socket, std::move(session)),
      limits_(limits),
      held_by_all_(held),
      phase_(transport_.encrypted() ? Phase::handshake : Phase::head) {
  begin_wait(limits.timeout);
}

Connection::~Connection() {
  held_by_all_.received -= held_;
  held_by_all_.answers -= unsent_;
}

void Connection::hold(std::size_t bytes) {
  held_by_all_.received += bytes;
  held_by_all_.received -= held_;
  held_ = bytes;
}

void Connection::begin_wait(std::chrono::milliseconds patience) {
  since_ = Clock::now();
  deadline_ = since_ + patience;
}

// After so many bytes of a head or a body.
void Connection::set_deadline(std::size_t received) {
  if (limits_.slowest == 0) return;
  const auto credit = std::chrono::milliseconds(1000 * received / limits_.slowest);
  deadline_ = std::min(since_ + limits_.timeout, since_ + limits_.timeout / 2 + credit);
}

Clock::time_point Connection::standing() const {
  const bool reading = phase_ == Phase::head || phase_ == Phase::body;
  const std::size_t moved = reading ? input_.size() : phase_ == Phase::answer ? sent_ : 0;
  return since_ +
         std::chrono::milliseconds(1000 * moved / std::max<std::size_t>(1000, limits_.slowest));
}

Connection::Step Connection::go_on() {
  switch (phase_) {
    case Phase::handshake: {
      const Transport::Result result = transport_.handshake();
      if (result.now == Transport::Now::read_later) return Step::read;
      if (result.now == Transport::Now::write_later) return Step::write;
      if (result.now == Transport::Now::ended) return Step::over;
      phase_ = Phase::head;
      begin_wait(limits_.timeout);
      return read_head();
    }
    case Phase::head:
      return read_head();
    case Phase::body:
      return read_body();
    case Phase::answer:
      return send_answer();
    case Phase::linger:
      return linger();
    case Phase::working:
      break;
  }
  return Step::over;
}

Connection::Step Connection::expire() {
  if (phase_ == Phase::head && !input_.empty()) {
    return refuse({408, "request_timeout", "the head of the request did not arrive in time", ""});
  }
  if (phase_ == Phase::body) {
    return refuse({408, "request_timeout", "the body of the request did not arrive in time", ""});
  }
  return Step::over;
}

Connection::Step Connection::read_head() {
  std::array<char, 16 * 1024> chunk;
  std::size_t head_size = 0;
  while (head_size == 0) {
    const Transport::Result got = transport_.receive(chunk.data(), chunk.size());
    if (got.now == Transport::Now::read_later) return Step::read;
    if (got.now == Transport::Now::write_later) return Step::write;
    if (got.now == Transport::Now::ended) return Step::over;
    if (input_.empty()) begin_wait(limits_.timeout);
    // The end may straddle what came before.
    const std::size_t from = input_.size() < 3 ? 0 : input_.size() - 3;
    input_.append(chunk.data(), got.bytes);
    hold(input_.capacity());
    set_deadline(input_.size());
    const std::size_t end = input_.find("\r\n\r\n", from);
    if (end != std::string::npos) head_size = end + 4;
    if (head_size > limits_.head_bytes || (head_size == 0 && input_.size() > limits_.head_bytes)) {
      return refuse({431, "bad_request",
                     "the head of the request is longer than " +
                         std::to_string(limits_.head_bytes) + " bytes",
                     ""});
    }
  }

  auto judged = judge(std::string_view(input_).substr(0, head_size), limits_.head);
  if (const auto* problem = std::get_if<Problem>(&judged)) {
    return refuse(*problem, input_.starts_with("HEAD "));
  }
  request_.head = std::get<RequestHead>(std::move(judged));
  input_.erase(0, head_size);
  phase_ = Phase::body;
  begin_wait(limits_.timeout);
  set_deadline(input_.size());
  if (input_.size() >= request_.head.content_length) return have_request();
  if (limits_.wanted && !limits_.wanted(request_.head)) {
    request_.body.clear();
    request_.last = true;
    input_ = {};
    unread_ = true;
    phase_ = Phase::working;
    return Step::request;
  }
  if (request_.head.expects_continue && input_.empty()) {
    // Nothing of this connection is waiting to be sent, so these few bytes find room.
    constexpr std::string_view go_ahead = "HTTP/1.1 100 Continue\r\n\r\n";
    if (transport_.send(go_ahead.data(), go_ahead.size()).bytes != go_ahead.size()) {
      return Step::over;
    }
  }
  return read_body();
}

Connection::Step Connection::read_body() {
  const std::size_t length = request_.head.content_length;
  std::array<char, 64 * 1024> chunk;
  while (input_.size() < length) {
    const Transport::Result got =
        transport_.receive(chunk.data(), std::min(chunk.size(), length - input_.size()));
    if (got.now == Transport::Now::read_later) return Step::read;
    if (got.now == Transport::Now::write_later) return Step::write;
    if (got.now == Transport::Now::ended) {
      return refuse({400, "bad_request", "the body ended before its Content-Length", ""});
    }
    if (input_.capacity() < input_.size() + got.bytes) {
      input_.reserve(std::min(length, 2 * (input_.size() + got.bytes)));
    }
    input_.append(chunk.data(), got.bytes);
    hold(input_.capacity());
    set_deadline(input_.size());
  }
  return have_request();
}

Connection::Step Connection::have_request() {
  unread_ = input_.size() > request_.head.content_length;
  input_.resize(request_.head.content_length);
  request_.body = std::exchange(input_, {});
  request_.last = unread_ || !request_.head.keep_alive || ++requests_ >= limits_.requests;
  phase_ = Phase::working;
  return Step::request;
}

void Connection::answer(HttpAnswer answer, bool last) {
  request_ = {};
  hold(0);
  output_ = std::move(answer);
  if (last) {
    output_.head += "Connection: close\r\n";
  } else {
    const auto idle = std::chrono::duration_cast<std::chrono::seconds>(limits_.idle).count();
    if (idle > 0) output_.head += "Keep-Alive: timeout=" + std::to_string(idle) + "\r\n";
  }
  output_.head += "\r\n";
  sent_ = 0;
  unsent_ = output_.own_bytes();
  held_by_all_.answers += unsent_;
  last_ = last;
  phase_ = Phase::answer;
  begin_wait(limits_.timeout);
}

Connection::Step Connection::refuse(const Problem& problem, bool head_only) {
  HttpAnswer text = refusal(problem, head_only);
  refused_ = Refused{problem.status, text.bytes()};
  input_ = {};
  unread_ = true;
  answer(std::move(text), true);
  return send_answer();
}

Connection::Step Connection::send_answer() {
  const std::size_t size = output_.bytes();
  while (sent_ < size) {
    const bool in_head = sent_ < output_.head.size();
    const std::string_view rest =
        in_head ? std::string_view(output_.head).substr(sent_)
                : std::string_view(*output_.body).substr(sent_ - output_.head.size());
    const Transport::Result done =
        transport_.send(rest.data(), rest.size(), in_head && output_.body);
    if (done.now == Transport::Now::read_later) return Step::read;
    if (done.now == Transport::Now::write_later) return Step::write;
    if (done.now == Transport::Now::ended) return Step::over;
    sent_ += done.bytes;
  }
  output_ = {};
  held_by_all_.answers -= unsent_;
  unsent_ = 0;
  if (!last_) {
    phase_ = Phase::head;
    begin_wait(limits_.idle);
    return Step::read;
  }
  const bool unread = unread_ || transport_.has_unread();
  transport_.finish();
  if (!unread) return Step::over;
  phase_ = Phase::linger;
  begin_wait(lingering);
  return linger();
}

Connection::Step Connection::linger() {
  // In portions, so that one who sends without end does not keep a thread.
  std::array<char, 64 * 1024> waste;
  for (int portion = 0; portion < 16; ++portion) {
    const Transport::Result got = transport_.receive(waste.data(), waste.size());
    if (got.now != Transport::Now::moved) {
      return got.now == Transport::Now::ended ? Step::over : Step::read;
    }
  }
  return Step::read;
}

std::optional<Connection::Refused> Connection::take_refused() {
  return std::exchange(refused_, std::nullopt);
}

}  // namespace faultodds_http
