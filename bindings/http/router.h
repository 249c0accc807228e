// Finds the route of a request, asks the guard whether it may be taken, and writes the answer's
// head. It knows no sockets and nothing of what the routes do.
#pragma once

#include <functional>
#include <map>
#include <memory>
#include <string>
#include <string_view>
#include <utility>

#include "bindings/http/exchange.h"

namespace faultodds_http {

// What goes over the wire, but for the fields that say whether the connection goes on.
struct HttpAnswer {
  int status = 0;
  std::string head;                         // up to the last field's line end
  std::shared_ptr<const std::string> body;  // null: none is sent
  bool shared = false;                      // the body is in memory whether or not it is sent
  std::string token_label;

  std::size_t bytes() const { return head.size() + (body ? body->size() : 0); }
  std::size_t own_bytes() const { return shared ? head.size() : bytes(); }
};

// A refusal made before there was a request for a route.
HttpAnswer refusal(const Problem& problem, bool head_only);

class Router {
 public:
  using Handler = std::function<void(const Request&, Response&)>;

  // `path` is one of the route table's. A GET answers HEAD too.
  void add(std::string_view method, std::string_view path, Handler handler);

  // Asked first of all; true when it has filled in the response.
  void set_guard(std::function<bool(const Request&, Response&)> guard) {
    guard_ = std::move(guard);
  }

  // From any thread, once all is added.
  HttpAnswer answer_to(const RequestHead& head, std::string_view body,
                       const TimeLimit& limit) const;

 private:
  void respond(Request& request, Response& response) const;

  std::map<std::pair<std::string_view, std::string_view>, Handler> handlers_;  // by path, method
  std::function<bool(const Request&, Response&)> guard_;
};

}  // namespace faultodds_http
