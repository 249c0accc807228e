// What a connection takes from the bytes that come, however they are cut into pieces.
#include "bindings/http/connection.h"

#include <fcntl.h>
#include <sys/socket.h>
#include <unistd.h>

#include <catch2/catch.hpp>
#include <random>
#include <string>
#include <vector>

using namespace faultodds_http;

namespace {

const std::string kGet = "GET /livez HTTP/1.1\r\nHost: x\r\n\r\n";

std::string post(const std::string& body) {
  return "POST /v1/assess HTTP/1.1\r\nHost: x\r\nContent-Length: " + std::to_string(body.size()) +
         "\r\n\r\n" + body;
}

HttpAnswer small_answer() {
  return {200, "answer: 1\r\n", std::make_shared<const std::string>("body"), false, {}};
}

// A connection and the client's end of it.
class Wire {
 public:
  explicit Wire(ConnectionLimits limits = {}) : limits_(std::move(limits)) {
    int ends[2];
    REQUIRE(::socketpair(AF_UNIX, SOCK_STREAM, 0, ends) == 0);
    for (const int end : ends) ::fcntl(end, F_SETFL, O_NONBLOCK);
    client_ = ends[0];
    connection_ = std::make_unique<Connection>(7, ends[1], nullptr, limits_, held_);
  }
  ~Wire() { ::close(client_); }

  Connection& connection() { return *connection_; }
  std::size_t held() const { return held_.received; }
  std::size_t unsent() const { return held_.answers; }

  void send(std::string_view bytes) const {
    REQUIRE(::send(client_, bytes.data(), bytes.size(), MSG_NOSIGNAL) ==
            static_cast<ssize_t>(bytes.size()));
  }

  std::string received() const {
    std::string out(1 << 16, '\0');
    const ssize_t n = ::recv(client_, out.data(), out.size(), 0);
    out.resize(n > 0 ? static_cast<std::size_t>(n) : 0);
    return out;
  }

 private:
  ConnectionLimits limits_;
  Held held_;
  int client_ = -1;
  std::unique_ptr<Connection> connection_;
};

}  // namespace

TEST_CASE("A request is handed out whole and once, however its bytes are cut into pieces") {
  std::mt19937 random(1);
  for (int trial = 0; trial < 300; ++trial) {
    Wire wire;
    // The bodies look like requests.
    std::vector<std::string> bodies = {kGet, "", post(kGet) + kGet, std::string(5000, '\n'), kGet};
    for (const std::string& body : bodies) {
      std::string bytes = post(body);
      while (!bytes.empty()) {
        const std::size_t n = std::uniform_int_distribution<std::size_t>(
            1, trial % 2 == 0 ? 7 : bytes.size())(random);
        wire.send(std::string_view(bytes).substr(0, n));
        bytes.erase(0, std::min(n, bytes.size()));
        const auto step = wire.connection().go_on();
        REQUIRE(step == (bytes.empty() ? Connection::Step::request : Connection::Step::read));
      }
      const HttpRequest request = wire.connection().take_request();
      CHECK(request.body == body);
      CHECK(request.head.target == "/v1/assess");
      CHECK_FALSE(request.last);
      CHECK_FALSE(wire.connection().has_unread());
      wire.connection().answer(small_answer(), false);
      CHECK(wire.held() == 0);
      REQUIRE(wire.connection().go_on() == Connection::Step::read);
      CHECK(wire.connection().idle());
      CHECK(wire.received() == "answer: 1\r\nKeep-Alive: timeout=5\r\n\r\nbody");
    }
  }
}

TEST_CASE("Bytes beyond a request end its connection and are never handed out") {
  std::mt19937 random(2);
  const std::string first = post("{}");
  for (int trial = 0; trial < 300; ++trial) {
    Wire wire;
    const std::string bytes = first + kGet;
    // The second piece holds the end of the first request and something more.
    const auto cut = std::uniform_int_distribution<std::size_t>(0, first.size() - 1)(random);
    wire.send(std::string_view(bytes).substr(0, cut));
    if (cut > 0) REQUIRE(wire.connection().go_on() == Connection::Step::read);
    wire.send(std::string_view(bytes).substr(cut));
    REQUIRE(wire.connection().go_on() == Connection::Step::request);
    const HttpRequest request = wire.connection().take_request();
    CHECK(request.body == "{}");
    // Either it was read and noticed, or it is still there to be noticed.
    const bool last = request.last || wire.connection().has_unread();
    CHECK(last);
    wire.connection().answer(small_answer(), last);
    CHECK(wire.connection().go_on() == Connection::Step::read);  // it only reads away
    wire.send(kGet);
    CHECK(wire.connection().go_on() == Connection::Step::read);
    CHECK(wire.received() == "answer: 1\r\nConnection: close\r\n\r\nbody");
  }
}

TEST_CASE("After a refusal nothing more is handed out") {
  const std::vector<std::string> refused_heads = {
      "nonsense\r\n\r\n", "GET /livez HTTP/1.1\r\n\r\n",
      "POST /v1/assess HTTP/1.1\r\nHost: x\r\nTransfer-Encoding: chunked\r\n\r\n",
      "POST /v1/assess HTTP/1.1\r\nHost: x\r\nContent-Length: 2\r\nContent-Length: 3\r\n\r\n{}"};
  for (const std::string& bad : refused_heads) {
    Wire wire;
    wire.send(bad + kGet);
    CHECK(wire.connection().go_on() == Connection::Step::read);
    wire.send(kGet);
    CHECK(wire.connection().go_on() == Connection::Step::read);
    const auto refused = wire.connection().take_refused();
    REQUIRE(refused);
    CHECK(refused->status / 100 == 4);
    CHECK_FALSE(wire.connection().take_refused());
    CHECK(wire.received().starts_with("HTTP/1.1 4"));
  }
}

TEST_CASE("A body that is not wanted is not read") {
  ConnectionLimits limits;
  limits.wanted = [](const RequestHead& head) { return !head.authorization.empty(); };
  Wire wire(limits);
  wire.send("POST /v1/assess HTTP/1.1\r\nHost: x\r\nContent-Length: 1000000\r\n\r\n{");
  REQUIRE(wire.connection().go_on() == Connection::Step::request);
  const HttpRequest request = wire.connection().take_request();
  CHECK(request.last);
  CHECK(request.body.empty());
}

TEST_CASE("What is read of requests is counted, and no longer once the answer is there") {
  Wire wire;
  wire.send("POST /v1/assess HTTP/1.1\r\nHost: x\r\nContent-Length: 5000\r\n\r\n");
  wire.send(std::string(2000, ' '));
  REQUIRE(wire.connection().go_on() == Connection::Step::read);
  CHECK(wire.held() >= 2000);
  CHECK(wire.held() <= 10000);
  wire.send(std::string(3000, ' '));
  REQUIRE(wire.connection().go_on() == Connection::Step::request);
  CHECK(wire.held() >= 5000);
  wire.connection().answer(small_answer(), false);
  CHECK(wire.held() == 0);
}

TEST_CASE("An answer is counted until it is sent, or its connection gone") {
  HttpAnswer large = small_answer();
  large.body = std::make_shared<const std::string>(10'000'000, ' ');
  {
    Wire wire;
    wire.send(kGet);
    REQUIRE(wire.connection().go_on() == Connection::Step::request);
    wire.connection().answer(small_answer(), false);
    CHECK(wire.unsent() > 0);
    CHECK(wire.connection().go_on() == Connection::Step::read);
    CHECK(wire.unsent() == 0);
  }
  Held held;
  int ends[2];
  REQUIRE(::socketpair(AF_UNIX, SOCK_STREAM | SOCK_NONBLOCK, 0, ends) == 0);
  {
    const ConnectionLimits limits;
    Connection connection(1, ends[1], nullptr, limits, held);
    REQUIRE(::send(ends[0], kGet.data(), kGet.size(), 0) == static_cast<ssize_t>(kGet.size()));
    REQUIRE(connection.go_on() == Connection::Step::request);
    connection.answer(large, false);
    CHECK(connection.go_on() == Connection::Step::write);
    CHECK(held.answers > 10'000'000);
  }
  CHECK(held.answers == 0);
  ::close(ends[0]);
}

TEST_CASE("Who has sent more in the same time stands higher, and who began later too") {
  Wire first, second, third;
  for (const Wire* wire : {&first, &second}) wire->send("GET /li");
  CHECK(first.connection().go_on() == Connection::Step::read);
  CHECK(second.connection().go_on() == Connection::Step::read);
  CHECK(first.connection().standing() < second.connection().standing());
  first.send(std::string(5000, 'a'));
  CHECK(first.connection().go_on() == Connection::Step::read);
  CHECK(first.connection().standing() > second.connection().standing());
  third.send("GET /li");
  CHECK(third.connection().go_on() == Connection::Step::read);
  CHECK(second.connection().standing() < third.connection().standing());
}

TEST_CASE(
    "A request may lag half of the timeout behind the slowest rate and gets all of it above") {
  using std::chrono::seconds;
  ConnectionLimits limits;
  limits.timeout = seconds(10);
  limits.slowest = 1000;
  Wire slow(limits), quick(limits);
  const auto begin = Clock::now();
  slow.send("G");
  quick.send("GET /" + std::string(9000, 'a'));
  CHECK(slow.connection().go_on() == Connection::Step::read);
  CHECK(quick.connection().go_on() == Connection::Step::read);
  CHECK(slow.connection().deadline() < begin + seconds(8));
  CHECK(quick.connection().deadline() > begin + seconds(9));
}

TEST_CASE(
    "A deadline that has passed answers 408 to who began a request, and nothing to who did not") {
  Wire begun, body, silent;
  begun.send("GET /li");
  CHECK(begun.connection().go_on() == Connection::Step::read);
  CHECK(begun.connection().expire() == Connection::Step::read);
  CHECK(begun.received().starts_with("HTTP/1.1 408 "));
  body.send("POST /v1/assess HTTP/1.1\r\nHost: x\r\nContent-Length: 5\r\n\r\n{");
  CHECK(body.connection().go_on() == Connection::Step::read);
  CHECK(body.connection().expire() == Connection::Step::read);
  CHECK(body.received().starts_with("HTTP/1.1 408 "));
  CHECK(silent.connection().go_on() == Connection::Step::read);
  CHECK(silent.connection().expire() == Connection::Step::over);
}
