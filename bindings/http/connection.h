// One client's connection as a machine that never waits: it reads a request to its last byte and
// not beyond, hands it out, and sends the answer. Whoever drives it waits for the events it names,
// and for its deadline. It knows no threads, no event loop and no routes.
//
// A connection carries another request only when this one was read whole, nothing of it was
// refused, and nothing beyond it had arrived before its answer was ready. So the bytes of a request
// are never taken for those of another, whatever was announced: what could be read in two ways ends
// the connection.
#pragma once

#include <atomic>
#include <chrono>
#include <cstddef>
#include <cstdint>
#include <functional>
#include <optional>
#include <utility>

#include "bindings/http/problem.h"
#include "bindings/http/request_head.h"
#include "bindings/http/router.h"
#include "bindings/http/transport.h"

namespace faultodds_http {

using Clock = std::chrono::steady_clock;

struct ConnectionLimits {
  HeadLimits head;
  std::size_t head_bytes = 16 * 1024;         // more is 431
  std::size_t requests = 1000;                // on one connection
  std::chrono::milliseconds timeout{10'000};  // for the head, for the body, and for the answer
  // Bytes a second. A head or body that lags half of `timeout` behind it is refused; 0: none is.
  std::size_t slowest = 1000;
  std::chrono::milliseconds idle{5'000};  // between requests
  // Whether the body of this request is worth reading; if not, the request is handed out without it
  // and the connection ends. Empty: always.
  std::function<bool(const RequestHead&)> wanted;
};

struct HttpRequest {
  RequestHead head;
  std::string body;
  bool last = true;  // the connection ends with its answer
};

// What the connections have in memory of what their clients sent and are to read.
struct Held {
  std::atomic<std::size_t> received{0};  // heads, bodies
  std::atomic<std::size_t> answers{0};   // not yet read
};

class Connection {
 public:
  // `held` counts for all connections. Both outlive it.
  Connection(std::uint64_t id, int socket, TlsSession session, const ConnectionLimits& limits,
             Held& held);
  ~Connection();
  Connection(const Connection&) = delete;
  Connection& operator=(const Connection&) = delete;

  enum class Step {
    read,     // go on when the socket can be read
    write,    // go on when it can be written
    request,  // a request is here: see request(), then answer()
    over      // destroy it
  };
  // As far as it goes without waiting.
  Step go_on();

  // To be called when the deadline has passed.
  Step expire();

  // Between requests, or before the first byte of the first.
  bool idle() const { return phase_ == Phase::head && input_.empty(); }
  // A request of it is being worked on.
  bool working() const { return phase_ == Phase::working; }
  Clock::time_point deadline() const { return deadline_; }

  // Which connection to give up when there is not enough for all: the least. When what it waits for
  // began, and later for what its client has sent or read since.
  Clock::time_point standing() const;
  std::size_t received() const { return held_; }  // bytes in memory
  std::size_t unsent() const { return unsent_; }

  // Refuses the request that is being read.
  Step turn_away(const Problem& problem) { return refuse(problem); }

  std::uint64_t id() const { return id_; }
  int socket() const { return transport_.socket(); }

  // What go_on() has read; given away once. Asked when the answer is ready: whether more has
  // arrived.
  HttpRequest take_request() { return std::move(request_); }
  bool has_unread() const { return transport_.has_unread(); }

  // `last` ends the connection with it. Bodies may be shared by answers.
  void answer(HttpAnswer answer, bool last);

  // What was refused here, without a request() being handed out; told once.
  struct Refused {
    int status = 0;
    std::size_t bytes = 0;
  };
  std::optional<Refused> take_refused();

 private:
  enum class Phase { handshake, head, body, working, answer, linger };

  Step read_head();
  Step read_body();
  Step have_request();
  Step send_answer();
  Step linger();
  Step refuse(const Problem& problem, bool head_only = false);
  void hold(std::size_t bytes);
  void begin_wait(std::chrono::milliseconds patience);
  void set_deadline(std::size_t received);

  std::uint64_t id_;
  Transport transport_;
  const ConnectionLimits& limits_;
  Held& held_by_all_;
  Phase phase_;
  Clock::time_point since_;  // the phase, or its first byte
  Clock::time_point deadline_;
  std::string input_;  // of the head; then of the body
  std::size_t held_ = 0;
  std::size_t requests_ = 0;
  HttpRequest request_;
  HttpAnswer output_;
  std::size_t sent_ = 0;    // of head and body
  std::size_t unsent_ = 0;  // what it has in memory of an answer
  bool last_ = false;       // close when output_ is sent
  bool unread_ = false;     // something may still come that nobody wants
  std::optional<Refused> refused_;
};

}  // namespace faultodds_http
