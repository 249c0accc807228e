#include "bindings/http/metrics.h"

#include <algorithm>
#include <cstdio>

#include "bindings/http/route_table.h"

namespace faultodds_http {
namespace {

constexpr std::array<std::string_view, 6> method_names = {"GET", "HEAD",   "POST",
                                                          "PUT", "DELETE", "other"};

std::string number(double value) {
  std::array<char, 32> text{};
  std::snprintf(text.data(), text.size(), "%.9g", value);
  return text.data();
}

std::string introduced(std::string_view name, std::string_view help, std::string_view type) {
  std::string out = "# HELP ";
  out += name;
  out += ' ';
  out += help;
  out += "\n# TYPE ";
  out += name;
  out += ' ';
  out += type;
  out += '\n';
  return out;
}

std::string_view shown(std::string_view route) { return route.empty() ? "none" : route; }

}  // namespace

std::string_view method_label(std::string_view method) {
  return std::ranges::find(method_names, method) == method_names.end() ? method_names.back()
                                                                       : method;
}

Metrics::Metrics() {
  routes_[""];
  for (const Route& route : all_routes()) routes_[route.path];
}

void Metrics::count(std::string_view route, std::string_view method, int status,
                    std::chrono::duration<double> took) {
  auto found = routes_.find(route);
  if (found == routes_.end()) found = routes_.find("");
  PerRoute& here = found->second;
  const auto name = std::ranges::find(method_names, method);
  const auto by_method =
      std::min(static_cast<std::size_t>(name - method_names.begin()), methods - 1);
  const auto by_class = static_cast<std::size_t>(std::clamp(status / 100, 1, 5) - 1);
  ++here.requests[by_method][by_class];
  const auto bound = std::ranges::lower_bound(bounds, took.count());
  ++here.within[static_cast<std::size_t>(bound - bounds.begin())];
  here.nanoseconds += static_cast<std::uint64_t>(std::max(0.0, took.count() * 1e9));
}

std::string Metrics::text() const {
  std::string requests =
      introduced("faultodds_http_requests_total", "Requests answered.", "counter");
  std::string durations = introduced("faultodds_http_request_duration_seconds",
                                     "From the last byte of a request to its answer.", "histogram");
  const std::string duration = "faultodds_http_request_duration_seconds";
  for (const auto& [route, here] : routes_) {
    const std::string label = "{route=\"" + std::string(shown(route)) + "\"";
    for (std::size_t m = 0; m < methods; ++m) {
      for (std::size_t c = 0; c < classes; ++c) {
        const std::uint64_t count = here.requests[m][c];
        if (count == 0) continue;
        requests += "faultodds_http_requests_total" + label + ",method=\"" +
                    std::string(method_names[m]) + "\",status=\"" + std::to_string(c + 1) +
                    "xx\"} " + std::to_string(count) + '\n';
      }
    }
    std::uint64_t sum = 0;
    for (const auto& count : here.within) sum += count;
    if (sum == 0) continue;
    std::uint64_t so_far = 0;
    for (std::size_t i = 0; i < bounds.size(); ++i) {
      so_far += here.within[i];
      durations += duration + "_bucket" + label + ",le=\"" + number(bounds[i]) + "\"} " +
                   std::to_string(so_far) + '\n';
    }
    so_far += here.within[bounds.size()];
    durations += duration + "_bucket" + label + ",le=\"+Inf\"} " + std::to_string(so_far) + '\n';
    durations += duration + "_sum" + label + "} " +
                 number(static_cast<double>(here.nanoseconds.load()) * 1e-9) + '\n';
    durations += duration + "_count" + label + "} " + std::to_string(so_far) + '\n';
  }
  return requests + durations;
}

std::string gauge(std::string_view name, std::string_view help, double value) {
  return introduced(name, help, "gauge") + std::string(name) + ' ' + number(value) + '\n';
}

std::string counter(std::string_view name, std::string_view help, std::uint64_t value) {
  return introduced(name, help, "counter") + std::string(name) + ' ' + std::to_string(value) + '\n';
}

}  // namespace faultodds_http
