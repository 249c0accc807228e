// Threads and time of the server, over real sockets of loopback: what it does while work hangs,
// when clients leave, and when there is not enough for all. The routes are of these tests.
#include "bindings/http/server.h"

#include <arpa/inet.h>
#include <netinet/in.h>
#include <sys/socket.h>
#include <unistd.h>

#include <catch2/catch.hpp>
#include <functional>
#include <memory>
#include <string>
#include <thread>
#include <vector>

using namespace faultodds_http;
using std::chrono::milliseconds;

namespace {

class Client {
 public:
  explicit Client(int port, const char* from = "127.0.0.1") {
    file_ = ::socket(AF_INET, SOCK_STREAM, 0);
    const timeval patience{20, 0};
    ::setsockopt(file_, SOL_SOCKET, SO_RCVTIMEO, &patience, sizeof(patience));
    sockaddr_in address{};
    address.sin_family = AF_INET;
    ::inet_pton(AF_INET, from, &address.sin_addr);
    REQUIRE(::bind(file_, reinterpret_cast<const sockaddr*>(&address), sizeof(address)) == 0);
    ::inet_pton(AF_INET, "127.0.0.1", &address.sin_addr);
    address.sin_port = htons(static_cast<std::uint16_t>(port));
    REQUIRE(::connect(file_, reinterpret_cast<const sockaddr*>(&address), sizeof(address)) == 0);
  }
  ~Client() { leave(); }
  Client(const Client&) = delete;
  Client& operator=(const Client&) = delete;

  void send(const std::string& text) const {
    REQUIRE(::send(file_, text.data(), text.size(), MSG_NOSIGNAL) ==
            static_cast<ssize_t>(text.size()));
  }
  void get(const std::string& path) const { send("GET " + path + " HTTP/1.1\r\nHost: x\r\n\r\n"); }

  // What comes first; empty when the connection ends.
  std::string received() const {
    std::string out(4096, '\0');
    const ssize_t n = ::recv(file_, out.data(), out.size(), 0);
    out.resize(n > 0 ? static_cast<std::size_t>(n) : 0);
    return out;
  }
  std::string status() const { return received().substr(0, 12); }
  void half_close() const { ::shutdown(file_, SHUT_WR); }
  void leave() {
    if (file_ >= 0) ::close(file_);
    file_ = -1;
  }

 private:
  int file_ = -1;
};

// A server of which /v1/circuits hangs until it is let go, whatever its limit says.
class Hanging {
 public:
  explicit Hanging(ServerOptions options) {
    router_.add("GET", "/v1/circuits", [this](const Request& request, Response& response) {
      ++hanging_;
      while (!let_go_) {
        if (request.limit.passed()) ended_ = true;
        std::this_thread::sleep_for(milliseconds(1));
      }
      --hanging_;
      answer(response, 200, "late");
    });
    for (const char* path : {"/livez", "/metrics", "/readyz", "/v1/priors"}) {
      router_.add("GET", path,
                  [](const Request&, Response& response) { answer(response, 200, "here"); });
    }
    server_ = std::make_unique<Server>(std::move(options), router_);
    port_ = server_->bind("127.0.0.1", 0);
    REQUIRE(port_ > 0);
    REQUIRE(server_->start());
  }
  ~Hanging() {
    let_go();
    server_->stop_serving();
  }
  Hanging(const Hanging&) = delete;
  Hanging& operator=(const Hanging&) = delete;

  int port() const { return port_; }
  ServerNumbers numbers() const { return server_->numbers(); }
  int hanging() const { return hanging_; }
  bool limit_passed() const { return ended_; }
  void let_go() { let_go_ = true; }

 private:
  std::atomic<int> hanging_{0};
  std::atomic<bool> let_go_{false}, ended_{false};
  Router router_;
  std::unique_ptr<Server> server_;
  int port_ = -1;
};

bool comes_true(const std::function<bool()>& what) {
  for (const auto end = Clock::now() + std::chrono::seconds(20); Clock::now() < end;) {
    if (what()) return true;
    std::this_thread::sleep_for(milliseconds(2));
  }
  return false;
}

ServerOptions small() {
  ServerOptions options;
  options.threads = 2;
  options.queue = 2;
  options.limits.timeout = milliseconds(60'000);
  options.limits.idle = milliseconds(60'000);
  return options;
}

}  // namespace

TEST_CASE("Health and metrics are answered while every worker hangs and the queue is full") {
  Hanging server(small());
  std::vector<std::unique_ptr<Client>> stuck;
  for (int i = 0; i < 4; ++i) {
    stuck.push_back(std::make_unique<Client>(server.port()));
    stuck.back()->get("/v1/circuits");
  }
  REQUIRE(comes_true([&] { return server.hanging() == 2 && server.numbers().waiting == 2; }));
  for (const char* path : {"/livez", "/metrics", "/readyz"}) {
    const Client client(server.port());
    client.get(path);
    CHECK(client.status() == "HTTP/1.1 200");
  }
  const Client more(server.port());
  more.get("/v1/priors");
  CHECK(more.status() == "HTTP/1.1 503");
}

TEST_CASE("Work past its time is answered 503 though it goes on, and others take its place") {
  ServerOptions options = small();
  options.threads = 1;
  options.limits.timeout = milliseconds(200);
  Hanging server(std::move(options));
  const Client slow(server.port());
  slow.get("/v1/circuits");
  CHECK(slow.status() == "HTTP/1.1 503");
  CHECK(server.hanging() == 1);
  CHECK(server.limit_passed());
  const Client next(server.port());
  next.get("/v1/priors");
  CHECK(next.status() == "HTTP/1.1 200");
  CHECK(server.numbers().overdue == 1);
}

TEST_CASE("Work is ended when its client is gone") {
  Hanging server(small());
  Client client(server.port());
  client.get("/v1/circuits");
  REQUIRE(comes_true([&] { return server.hanging() == 1; }));
  client.leave();
  CHECK(comes_true([&] { return server.limit_passed(); }));
  CHECK(server.numbers().abandoned == 1);
}

TEST_CASE("A waiting request whose client is gone is not begun") {
  ServerOptions options = small();
  options.threads = 1;
  Hanging server(std::move(options));
  const Client first(server.port());
  first.get("/v1/circuits");
  REQUIRE(comes_true([&] { return server.hanging() == 1; }));
  Client second(server.port());
  second.get("/v1/circuits");
  REQUIRE(comes_true([&] { return server.numbers().waiting == 1; }));
  second.leave();
  CHECK(comes_true([&] { return server.numbers().waiting == 0; }));
  CHECK(server.hanging() == 1);
}

TEST_CASE("Who has closed only its sending side gets its answer") {
  Hanging server(small());
  const Client client(server.port());
  client.get("/v1/priors");
  client.half_close();
  CHECK(client.status() == "HTTP/1.1 200");
}

TEST_CASE("When the queue is full, the address with most requests in it is turned away") {
  ServerOptions options = small();
  options.threads = 1;
  Hanging server(std::move(options));
  std::vector<std::unique_ptr<Client>> many;
  for (std::size_t i = 0; i < 3; ++i) {
    many.push_back(std::make_unique<Client>(server.port(), "127.0.0.2"));
    many.back()->get("/v1/circuits");
    REQUIRE(comes_true([&] { return server.hanging() == 1 && server.numbers().waiting == i; }));
  }
  const Client one(server.port(), "127.0.0.3");
  one.get("/v1/priors");
  CHECK(many[2]->status() == "HTTP/1.1 503");
  server.let_go();
  CHECK(one.status() == "HTTP/1.1 200");
}

TEST_CASE("When connections are scarce the slowest is closed, and what is worked on is not") {
  ServerOptions options = small();
  options.connections = 3;
  Hanging server(std::move(options));
  const Client working(server.port()), slowest(server.port());
  working.get("/v1/circuits");
  slowest.send("G");
  REQUIRE(comes_true([&] { return server.hanging() == 1; }));
  const Client quicker(server.port());
  quicker.send("GET /v1/priors HTTP/1.1\r\n" + std::string(8000, 'a'));
  REQUIRE(comes_true([&] { return server.numbers().received_bytes > 8000; }));
  const Client next(server.port());
  next.get("/v1/priors");
  CHECK(next.status() == "HTTP/1.1 200");
  CHECK(slowest.received().empty());
  quicker.send(": x\r\nHost: x\r\n\r\n");
  CHECK(quicker.status() == "HTTP/1.1 200");
  server.let_go();
  CHECK(working.status() == "HTTP/1.1 200");
}

TEST_CASE("An address beyond its connections loses its own slowest and nobody else's") {
  ServerOptions options = small();
  options.connections_of_one = 2;
  Hanging server(std::move(options));
  const Client other(server.port(), "127.0.0.3");
  other.send("G");
  const Client first(server.port(), "127.0.0.2"), second(server.port(), "127.0.0.2");
  REQUIRE(comes_true([&] { return server.numbers().open_connections == 3; }));
  const Client third(server.port(), "127.0.0.2");
  third.get("/v1/priors");
  CHECK(third.status() == "HTTP/1.1 200");
  CHECK(first.received().empty());
  CHECK(server.numbers().open_connections == 3);
  other.send("ET /v1/priors HTTP/1.1\r\nHost: x\r\n\r\n");
  CHECK(other.status() == "HTTP/1.1 200");
}
