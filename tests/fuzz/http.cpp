// Fuzz target: what a client sends, from the bytes of its connection to the answers of the routes.
// Two NUL bytes are where it waits for an answer. The event loop, TLS and the databases are not in
// it: the connection's other end is here, and cases are kept in a map. No token is asked for.
#include <fcntl.h>
#include <sys/socket.h>
#include <unistd.h>

#include <map>
#include <memory>
#include <optional>

#include "bindings/http/case_store.h"
#include "bindings/http/connection.h"
#include "bindings/http/router.h"
#include "bindings/http/routes.h"
#include "tests/fuzz/input.h"

namespace {

using namespace faultodds_http;

// A short limit of the clock would refuse what is only late on a busy machine. What an input may
// take is fuzz::ProcessorTimeLimit's to say.
constexpr std::chrono::minutes kPatience(30);

class MapOfCases final : public CaseStore {
 public:
  std::variant<std::optional<StoredCase>, Problem> find(const std::string& id) override {
    const auto found = cases_.find(id);
    return found == cases_.end() ? std::nullopt : std::optional(found->second);
  }
  std::variant<std::vector<CaseEntry>, Problem> list(const std::string& after,
                                                     std::size_t limit) override {
    std::vector<CaseEntry> out;
    for (auto at = cases_.upper_bound(after); at != cases_.end() && out.size() < limit; ++at) {
      out.push_back(at->second.entry);
    }
    return out;
  }
  std::variant<std::optional<KeyedAnswer>, Problem> remembered(const std::string& key) override {
    const auto found = answers_.find(key);
    return found == answers_.end() ? std::nullopt : std::optional(found->second);
  }
  WriteResult write(const CaseWrite& write) override {
    if (write.answer) {
      const auto known = answers_.find(write.answer->key);
      if (known != answers_.end()) return known->second;
    }
    const auto found = cases_.find(write.entry.id);
    const bool fits = write.before
                          ? found != cases_.end() && found->second.entry.revision == *write.before
                          : found == cases_.end();
    if (!fits) return Conflict{};
    if (write.erase) {
      cases_.erase(found);
    } else {
      cases_[write.entry.id] = {write.entry, std::string(write.text)};
    }
    if (write.answer) answers_.emplace(write.answer->key, *write.answer);
    return Written{};
  }
  std::optional<Problem> unavailable() override { return std::nullopt; }

 private:
  std::map<std::string, StoredCase> cases_;
  std::map<std::string, KeyedAnswer> answers_;
};

// An adapter with one circuit and no sockets.
class Adapter {
 public:
  Adapter() : store_(std::filesystem::path(), ModelSettings{nullptr, nullptr, 4 << 20}, 4) {
    const fuzz::Text& circuit = fuzz::documents().circuit;
    const TimeLimit limit(kPatience);
    const auto put = store_.put("baler-ram", {circuit.data(), circuit.size()}, {}, limit);
    fuzz::demand(std::holds_alternative<CircuitStore::Written>(put), "the small circuit is kept");
    RouteOptions options;
    options.max_body = 16 << 10;
    options.cases = &cases_;
    options.metrics = [] { return std::string("up 1\n"); };
    add_routes(router_, store_, options);
  }

  HttpAnswer answer_to(const HttpRequest& request) const {
    return router_.answer_to(request.head, request.body, TimeLimit(kPatience));
  }

 private:
  CircuitStore store_;
  MapOfCases cases_;
  Router router_;
};

void demand_answer(const HttpAnswer& answer) {
  const int status = answer.status;
  fuzz::demand(answer.head.starts_with("HTTP/1.1 "), "an answer begins as one");
  fuzz::demand(status >= 200 && status < 600, "an answer has a status");
  fuzz::demand(status != 500, "no request is a defect of the adapter");
}

// The two ends of a connection.
class Ends {
 public:
  Ends() {
    fuzz::demand(::socketpair(AF_UNIX, SOCK_STREAM, 0, both_) == 0, "a pair of sockets");
    for (const int end : both_) {
      const int bytes = 1 << 20;
      ::setsockopt(end, SOL_SOCKET, SO_SNDBUF, &bytes, sizeof bytes);
      ::fcntl(end, F_SETFL, O_NONBLOCK);
    }
  }
  ~Ends() { ::close(both_[0]); }  // the other is the connection's
  Ends(const Ends&) = delete;
  Ends& operator=(const Ends&) = delete;

  int adapters() const { return both_[1]; }
  void send(std::string_view bytes) const {
    // What a connection that has ended no longer takes is lost.
    while (!bytes.empty()) {
      const ssize_t n = ::send(both_[0], bytes.data(), bytes.size(), MSG_NOSIGNAL);
      if (n <= 0) return;
      bytes.remove_prefix(static_cast<std::size_t>(n));
    }
  }
  void read_away() const {
    static char waste[1 << 16];
    while (::recv(both_[0], waste, sizeof waste, 0) > 0) {
    }
  }

 private:
  int both_[2] = {-1, -1};
};

}  // namespace

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  const fuzz::ProcessorTimeLimit limit;
  std::string_view bytes(reinterpret_cast<const char*>(data), size);
  // What an input puts is gone before the next; most put nothing.
  static std::unique_ptr<Adapter> adapter;
  static bool changed = true;
  if (changed) adapter = std::make_unique<Adapter>();
  changed = false;
  for (const std::string_view write : {"PUT ", "POST /v1/c", "DELETE ", "rollback"}) {
    changed = changed || bytes.find(write) != std::string_view::npos;
  }

  ConnectionLimits limits;
  limits.head.body = 16 << 10;
  Held held;
  const Ends ends;
  {
    Connection connection(1, ends.adapters(), nullptr, limits, held);
    while (!bytes.empty()) {
      const std::size_t pause = bytes.find(std::string_view("\0\0", 2));
      ends.send(bytes.substr(0, pause));
      bytes.remove_prefix(pause == std::string_view::npos ? bytes.size() : pause + 2);
      Connection::Step step = connection.go_on();
      while (step == Connection::Step::request || step == Connection::Step::write) {
        if (step == Connection::Step::request) {
          const HttpRequest request = connection.take_request();
          HttpAnswer answer = adapter->answer_to(request);
          demand_answer(answer);
          const bool last = request.last || connection.has_unread();
          connection.answer(std::move(answer), last);
        }
        ends.read_away();
        step = connection.go_on();
      }
      if (const auto refused = connection.take_refused()) {
        fuzz::demand(refused->status >= 400 && refused->status < 600, "a refusal is one");
      }
      ends.read_away();
      if (step == Connection::Step::over) return 0;
    }
  }
  fuzz::demand(held.received == 0 && held.answers == 0, "a connection that is gone holds nothing");
  return 0;
}
