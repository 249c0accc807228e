// Counts requests by route, method and class of status, and their durations by route, and writes
// them as Prometheus text. Its labels are bounded: routes are those of the table, whatever was
// asked. Safe from any number of threads.
#pragma once

#include <array>
#include <atomic>
#include <chrono>
#include <cstddef>
#include <cstdint>
#include <map>
#include <string>
#include <string_view>

namespace faultodds_http {

// The method, or "other" for one that no route offers: what a client makes up is no label.
std::string_view method_label(std::string_view method);

class Metrics {
 public:
  Metrics();

  // `route` is a path of the table, or empty for what is none.
  void count(std::string_view route, std::string_view method, int status,
             std::chrono::duration<double> took);

  // Prometheus text 0.0.4.
  std::string text() const;

 private:
  static constexpr std::size_t methods = 6, classes = 5;
  static constexpr std::array<double, 14> bounds = {
      0.0001, 0.00025, 0.0005, 0.001, 0.0025, 0.005, 0.01, 0.025, 0.05, 0.1, 0.25, 0.5, 1, 5};  // s
  struct PerRoute {
    std::array<std::array<std::atomic<std::uint64_t>, classes>, methods> requests{};
    std::array<std::atomic<std::uint64_t>, bounds.size() + 1> within{};  // the last: longer
    std::atomic<std::uint64_t> nanoseconds{0};
  };
  std::map<std::string_view, PerRoute> routes_;  // made once; the counters change
};

// One number of its own, with its `# HELP` and `# TYPE`; for text beside that of Metrics.
std::string gauge(std::string_view name, std::string_view help, double value);
std::string counter(std::string_view name, std::string_view help, std::uint64_t value);

}  // namespace faultodds_http
