#include "bindings/http/route_table.h"

#include <algorithm>

namespace faultodds_http {
namespace {

constexpr std::string_view site = "/site/", cases = "/v1/cases";

bool matches(std::string_view pattern, std::string_view path) {
  while (!pattern.empty() && !path.empty()) {
    if (pattern.starts_with("{id}")) {
      const std::size_t end = std::min(path.find('/'), path.size());
      if (end == 0) return false;
      pattern.remove_prefix(4);
      path.remove_prefix(end);
    } else if (pattern.front() == path.front()) {
      pattern.remove_prefix(1);
      path.remove_prefix(1);
    } else {
      return false;
    }
  }
  return pattern.empty() && path.empty();
}

}  // namespace

const std::vector<Route>& all_routes() {
  using enum Scope;
  static const std::vector<Route> routes = {
      {"/v1/assess", "POST", read},
      {"/v1/note", "POST", read},
      {"/v1/plan", "POST", read},
      {"/v1/propose", "POST", read},
      {"/v1/check", "POST", read},
      {"/v1/explain", "POST", read},
      {"/v1/diff", "POST", read},
      {"/v1/new", "POST", read},
      {"/v1/expand", "POST", read},
      {"/v1/draw", "POST", read},
      {"/v1/drawing", "POST", read},
      {"/v1/close", "POST", read},
      {"/v1/schemas/{id}", "GET", read},
      {"/v1/circuits", "GET", read},
      {"/v1/circuits/{id}", "GET", read},
      {"/v1/circuits/{id}", "PUT", write},
      {"/v1/circuits/{id}/model", "GET", read},
      {"/v1/priors", "GET", read},
      {"/v1/priors/{id}", "GET", read},
      {"/v1/priors/{id}", "PUT", write},
      {"/v1/priors/{id}/rollback", "POST", write},
      {"/v1/priors/{id}/learn", "POST", read},
      {"/v1/priors/{id}/compare", "POST", read},
      {"/v1/cases", "GET", read},
      {"/v1/cases", "POST", write},
      {"/v1/cases/{id}", "DELETE", write},
      {"/v1/cases/{id}", "GET", read},
      {"/v1/cases/{id}", "PUT", write},
      {"/v1/cases/{id}/observations", "POST", write},
      {"/v1/cases/{id}/assessment", "GET", read},
      {"/v1/cases/{id}/note", "GET", read},
      {"/v1/cases/{id}/plan", "GET", read},
      {"/v1/cases/{id}/close", "POST", write},
      {"/v1/cases/{id}/record", "GET", read},
      {"/v1/records", "GET", read},
      {"/livez", "GET", open},
      {"/healthz", "GET", open},
      {"/readyz", "GET", open},
      {"/metrics", "GET", read},
      {"/openapi.json", "GET", read},
      // A browser cannot send a token with a page's address; the pages hold nothing of the
      // circuits.
      {site, "GET", open},
  };
  return routes;
}

bool needs_cases(std::string_view route) {
  return route.starts_with(cases) || route == "/v1/records" || route == "/v1/priors/{id}/learn" ||
         route == "/v1/priors/{id}/compare";
}

std::string_view route_of(std::string_view path) {
  if (path.starts_with(site)) return site;
  for (const Route& route : all_routes()) {
    if (matches(route.path, path)) return route.path;
  }
  return {};
}

std::string_view id_in(std::string_view route, std::string_view path) {
  const std::size_t begin = route.find("{id}");
  if (begin == std::string_view::npos) return {};
  path.remove_prefix(std::min(begin, path.size()));
  return path.substr(0, path.find('/'));
}

std::vector<std::string_view> methods_of(std::string_view path, const Offered& offered) {
  const std::string_view pattern = route_of(path);
  std::vector<std::string_view> out;
  if ((pattern == site && !offered.site) || (needs_cases(pattern) && !offered.cases)) return out;
  for (const Route& route : all_routes()) {
    if (route.path != pattern) continue;
    out.push_back(route.method);
    if (route.method == "GET") out.push_back("HEAD");
  }
  std::ranges::sort(out);
  return out;
}

Scope scope_of(std::string_view method, std::string_view path) {
  const std::string_view pattern = route_of(path);
  if (method == "HEAD") method = "GET";
  Scope scope = Scope::read;
  for (const Route& route : all_routes()) {
    if (route.path != pattern) continue;
    // A method that is not offered here is refused to anyone who may use the path.
    scope = route.scope;
    if (route.method == method) return scope;
  }
  return pattern.empty() || scope != Scope::open ? Scope::read : Scope::open;
}

}  // namespace faultodds_http
