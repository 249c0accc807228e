// Every path the adapter offers: its methods, and what a token must allow for each. The guard, the
// metrics and the access log read it, so that none of them sees an id. It serves nothing.
#pragma once

#include <cstddef>
#include <string_view>
#include <vector>

namespace faultodds_http {

enum class Scope { open, read, write };  // open: needs no token

struct Offered {
  bool site = false;   // files below /site/
  bool cases = false;  // routes that need stored cases
};

struct Route {
  std::string_view path;  // {id} stands for one segment that is not empty
  std::string_view method;
  Scope scope;
};

// One row for each path and method; HEAD goes with GET.
const std::vector<Route>& all_routes();

// Whether a path of the table is offered only where cases are stored.
bool needs_cases(std::string_view route);

// The path of the table that `path` (decoded, without query) is one of; empty when there is none.
std::string_view route_of(std::string_view path);

// The segment of `path` that stands for {id} in its route; empty when the route has none.
std::string_view id_in(std::string_view route, std::string_view path);

// Sorted, HEAD included; empty when there is no such path.
std::vector<std::string_view> methods_of(std::string_view path, const Offered& offered);

// What a request needs; read for what is not in the table, so that nothing is told without a token.
Scope scope_of(std::string_view method, std::string_view path);

}  // namespace faultodds_http
