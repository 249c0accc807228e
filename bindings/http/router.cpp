#include "bindings/http/router.h"

#include "bindings/http/members.h"

#include <algorithm>
#include <new>

#include "bindings/http/route_table.h"

namespace faultodds_http {
namespace {

bool has_control_or_tab(std::string_view text) {
  return std::ranges::any_of(
      text, [](char c) { return static_cast<unsigned char>(c) < 0x20 || c == 0x7f; });
}

HttpAnswer written(Response response, bool head_only) {
  HttpAnswer out;
  out.status = response.status;
  out.shared = response.shared;
  out.token_label = std::move(response.token_label);
  out.head.reserve(512);
  out.head =
      "HTTP/1.1 " + std::to_string(response.status) + ' ' + reason_phrase(response.status) + "\r\n";
  for (const auto& [name, value] : response.fields) out.head.append(name + ": " + value + "\r\n");
  const bool bodiless = response.status == 204 || response.status == 304;
  if (!bodiless) {
    const std::size_t length = response.body ? response.body->size() : 0;
    out.head += "Content-Length: " + std::to_string(length) + "\r\n";
    if (!head_only) out.body = std::move(response.body);
  }
  return out;
}

}  // namespace

HttpAnswer refusal(const Problem& problem, bool head_only) {
  Response response;
  refuse(response, problem);
  return written(std::move(response), head_only);
}

void Router::add(std::string_view method, std::string_view path, Handler handler) {
  handlers_[{path, method}] = std::move(handler);
}

void Router::respond(Request& request, Response& response) const {
  try {
    if (has_control_or_tab(request.path)) {
      return refuse(response, {404, "not_found", "there is nothing at this path", ""});
    }
    if (guard_ && guard_(request, response)) return;
    const std::string_view route = route_of(request.path);
    std::string_view method = request.head.method;
    if (method == "HEAD") method = "GET";
    const auto found = handlers_.find({route, method});
    if (found == handlers_.end()) {
      return refuse(response, {404, "not_found",
                               "there is nothing at " + faultodds_http::quoted(request.path), ""});
    }
    request.id = id_in(route, request.path);
    found->second(request, response);
  } catch (const std::bad_alloc&) {
    response = {};
    refuse(response, {503, "out_of_memory", "not enough memory for this request", ""});
  } catch (...) {
    // The text of an exception may hold anything: it stays here.
    response = {};
    refuse(response, {500, "internal", "a defect of this program; please report it", ""});
  }
}

HttpAnswer Router::answer_to(const RequestHead& head, std::string_view body,
                             const TimeLimit& limit) const {
  auto request = read_request(head, body, limit);
  const bool head_only = head.method == "HEAD";
  if (!request) {
    return refusal(
        {404, "not_found", "there is nothing at " + faultodds_http::quoted(head.target), ""},
        head_only);
  }
  Response response;
  respond(*request, response);
  if (!head.traceparent.empty()) response.set_field("traceparent", head.traceparent);
  return written(std::move(response), head_only);
}

}  // namespace faultodds_http
