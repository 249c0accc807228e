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

std::string refusal_text(const Problem& problem, bool head_only, bool last) {
  const std::string body = to_json(problem);
  std::string answer = "HTTP/1.1 " + std::to_string(problem.status) + ' ' +
                       reason_phrase(problem.status) + "\r\nContent-Type: " + problem_media_type +
                       "\r\nContent-Length: " + std::to_string(body.size()) +
                       "\r\nCache-Control: no-store\r\n";
  if (last) answer += "Connection: close\r\n";
  if (problem.status == 503) answer += "Retry-After: 1\r\n";
  answer += "\r\n";
  if (!head_only) answer += body;
  return answer;
}

Connection::Connection(std::uint64_t id, int socket, TlsSession session,
                       const ConnectionLimits& limits, std::atomic<std::size_t>& held)
    : id_(id),
      transport_(socket, std::move(session)),
      limits_(limits),
      held_by_all_(held),
      phase_(transport_.encrypted() ? Phase::handshake : Phase::head),
      deadline_(Clock::now() + limits.timeout) {}

Connection::~Connection() { held_by_all_ -= held_; }

void Connection::hold(std::size_t bytes) {
  held_by_all_ += bytes;
  held_by_all_ -= held_;
  held_ = bytes;
}

Connection::Step Connection::go_on() {
  switch (phase_) {
    case Phase::handshake: {
      const Transport::Result result = transport_.handshake();
      if (result.now == Transport::Now::read_later) return Step::read;
      if (result.now == Transport::Now::write_later) return Step::write;
      if (result.now == Transport::Now::ended) return Step::over;
      phase_ = Phase::head;
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
    if (input_.empty()) deadline_ = Clock::now() + limits_.timeout;
    // The end may straddle what came before.
    const std::size_t from = input_.size() < 3 ? 0 : input_.size() - 3;
    input_.append(chunk.data(), got.bytes);
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
  deadline_ = Clock::now() + limits_.timeout;
  hold(input_.size());
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
    if (held_by_all_ > limits_.bodies) {
      return refuse({503, "overloaded", "too many large requests at once; try again", ""});
    }
    const Transport::Result got =
        transport_.receive(chunk.data(), std::min(chunk.size(), length - input_.size()));
    if (got.now == Transport::Now::read_later) return Step::read;
    if (got.now == Transport::Now::write_later) return Step::write;
    if (got.now == Transport::Now::ended) {
      return refuse({400, "bad_request", "the body ended before its Content-Length", ""});
    }
    input_.append(chunk.data(), got.bytes);
    hold(input_.size());
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

void Connection::answer(std::string text, bool last) {
  request_.body = {};
  hold(0);
  output_ = std::move(text);
  sent_ = 0;
  last_ = last;
  phase_ = Phase::answer;
  deadline_ = Clock::now() + limits_.timeout;
}

Connection::Step Connection::refuse(const Problem& problem, bool head_only) {
  std::string text = refusal_text(problem, head_only, true);
  refused_ = Refused{problem.status, text.size()};
  input_ = {};
  unread_ = true;
  answer(std::move(text), true);
  return send_answer();
}

Connection::Step Connection::send_answer() {
  while (sent_ < output_.size()) {
    const Transport::Result done = transport_.send(output_.data() + sent_, output_.size() - sent_);
    if (done.now == Transport::Now::read_later) return Step::read;
    if (done.now == Transport::Now::write_later) return Step::write;
    if (done.now == Transport::Now::ended) return Step::over;
    sent_ += done.bytes;
  }
  output_ = {};
  if (!last_) {
    phase_ = Phase::head;
    deadline_ = Clock::now() + limits_.idle;
    return Step::read;
  }
  const bool unread = unread_ || transport_.has_unread();
  transport_.finish();
  if (!unread) return Step::over;
  phase_ = Phase::linger;
  deadline_ = Clock::now() + lingering;
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
