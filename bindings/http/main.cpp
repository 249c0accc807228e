// faultodds-http: the library over HTTP. Wires options, store, routes and server, and waits for a
// signal. Exit codes: 0 stopped by a signal, 1 could not start or serve, 2 wrong command line.
#include <faultodds.h>
#include <pthread.h>
#include <sys/resource.h>
#include <unistd.h>

#include <algorithm>
#include <cerrno>
#include <chrono>
#include <csignal>
#include <cstdio>
#include <cstring>
#include <exception>
#include <filesystem>
#include <fstream>
#include <iterator>
#include <memory>
#include <optional>
#include <string>
#include <string_view>
#include <system_error>
#include <utility>
#include <variant>
#include <vector>

#include "bindings/files/output_file.h"
#include "bindings/http/access_log.h"
#include "bindings/http/answer_cache.h"
#include "bindings/http/case_store.h"
#include "bindings/http/circuit_store.h"
#include "bindings/http/exchange.h"
#include "bindings/http/metrics.h"
#include "bindings/http/options.h"
#include "bindings/http/route_table.h"
#include "bindings/http/router.h"
#include "bindings/http/routes.h"
#include "bindings/http/server.h"
#include "bindings/http/tls.h"
#include "bindings/http/tokens.h"

namespace {

using namespace faultodds_http;

int fail(const std::string& message) {
  std::fprintf(stderr, "faultodds-http: %s\n", message.c_str());
  return 1;
}

bool read_text(const std::string& path, std::string& text) {
  std::ifstream in(path, std::ios::binary);
  text.assign(std::istreambuf_iterator<char>(in), {});
  return !in.bad() && !text.empty();
}

std::chrono::milliseconds milliseconds(double seconds) {
  return std::chrono::milliseconds(static_cast<long>(seconds * 1000));
}

// As many as the system lets this program have, up to `count`.
void allow_descriptors(std::size_t count) {
  rlimit limit{};
  if (::getrlimit(RLIMIT_NOFILE, &limit) != 0 || limit.rlim_cur >= count) return;
  limit.rlim_cur = std::min<rlim_t>(limit.rlim_max, count);
  ::setrlimit(RLIMIT_NOFILE, &limit);
}

// What SIGHUP reads again.
struct Reread {
  Tokens tokens;
  TlsCertificate certificate;
  AccessLog log;

  // All that can be read is; the first that cannot be is told, and stays as it was.
  std::optional<std::string> read(const Options& options) {
    std::optional<std::string> first;
    const auto note = [&](std::optional<std::string> problem) {
      if (!first) first = std::move(problem);
    };
    if (!options.tokens.empty()) note(tokens.load(options.tokens));
    if (!options.tls_certificate.empty()) {
      note(certificate.load(options.tls_certificate, options.tls_key));
    }
    if (!options.access_log.empty()) note(log.open(options.access_log));
    return first;
  }
};

std::string_view path_of(const RequestHead& head) {
  return std::string_view(head.target).substr(0, head.target.find('?'));
}

std::string numbers_text(const ServerNumbers& server, const AnswerCache::Numbers& answers) {
  const auto real = [](auto value) { return static_cast<double>(value); };
  return gauge("faultodds_http_connections", "Open connections.", real(server.open_connections)) +
         gauge("faultodds_http_requests_in_flight", "Requests being worked on.",
               real(server.working)) +
         gauge("faultodds_http_requests_waiting", "Requests that wait for a thread.",
               real(server.waiting)) +
         counter("faultodds_http_connections_total", "Connections accepted.", server.accepted) +
         counter("faultodds_http_connections_refused_total",
                 "Connections closed unheard as none could make room.",
                 server.refused_connections) +
         gauge("faultodds_http_received_bytes", "Heads and bodies of requests in memory.",
               real(server.received_bytes)) +
         gauge("faultodds_http_answer_bytes", "Answers in memory that wait to be read.",
               real(server.answer_bytes)) +
         counter("faultodds_http_connections_given_up_total",
                 "Connections closed to make room, the slowest first.", server.given_up) +
         counter("faultodds_http_abandoned_total",
                 "Requests whose client was gone before the answer.", server.abandoned) +
         counter("faultodds_http_overdue_total", "Requests answered 503 while the work went on.",
                 server.overdue) +
         counter("faultodds_http_overloaded_total", "Requests answered 503 as too many waited.",
                 server.overloaded) +
         counter("faultodds_http_answer_cache_hits_total", "Answers given again.", answers.hits) +
         counter("faultodds_http_answer_cache_misses_total", "Answers computed.", answers.misses) +
         gauge("faultodds_http_answer_cache_bytes", "Memory of the answers kept.",
               real(answers.bytes)) +
         counter("faultodds_http_store_errors_total",
                 "Refusals since the disk or the database failed.", store_failures());
}

// What the program writes must not be what it reads: an access log grows at the end of any file.
std::optional<std::string> one_file_twice(const Options& options) {
  constexpr std::string_view sqlite = "sqlite:";
  std::vector<faultodds_files::Named> inputs = {{"--priors", options.priors},
                                                {"--tokens", options.tokens},
                                                {"--tls-certificate", options.tls_certificate},
                                                {"--tls-key", options.tls_key}};
  std::error_code problem;
  for (std::filesystem::directory_iterator entry(options.circuits, problem), end;
       !problem && entry != end; entry.increment(problem)) {
    if (entry->path().extension() != ".json") continue;
    inputs.push_back({"a circuit of --circuits", entry->path().string()});
  }
  std::vector<faultodds_files::Named> outputs = {{"--access-log", options.access_log}};
  if (options.cases.starts_with(sqlite)) {
    outputs.push_back({"--cases", options.cases.substr(sqlite.size())});
  }
  return faultodds_files::one_file_twice(outputs, inputs);
}

int run(const Options& options) {
  if (const auto problem = one_file_twice(options)) return fail(*problem);
  ModelSettings model;
  model.memory_budget = std::uint64_t{options.model_memory} << 20;
  if (!options.priors.empty()) {
    std::string text;
    if (!read_text(options.priors, text)) {
      return fail(options.priors + ": could not be read or is empty");
    }
    model.priors = std::make_shared<const std::string>(std::move(text));
  }
  AnswerCache answers(options.answer_cache << 20);
  RouteOptions routes;
  routes.max_body = options.max_body;
  routes.site = options.site;
  routes.answers = &answers;
  Reread reread;
  if (const auto problem = reread.read(options)) return fail(*problem);
  if (!options.tokens.empty()) routes.tokens = &reread.tokens;
  CircuitStore store(options.circuits, model, options.max_circuits);
  if (const auto problem = store.load()) return fail(*problem);

  std::unique_ptr<CaseStore> cases;
  if (!options.cases.empty()) {
    CaseStoreSettings settings;
    settings.capacity = options.max_cases;
    settings.keep_keys = std::chrono::seconds(options.keep_keys);
    settings.connections = std::min(options.threads, settings.connections);
    auto opened = open_case_store(options.cases, settings);
    if (const auto* problem = std::get_if<std::string>(&opened)) {
      return fail("--cases: " + *problem);
    }
    cases = std::get<0>(std::move(opened));
    routes.cases = cases.get();
  }
  std::signal(SIGXFSZ, SIG_IGN);  // a limit on the size of files is an error, not the end

  // Blocked here and so in every thread made below; this thread waits for them.
  sigset_t signals;
  sigemptyset(&signals);
  for (const int one : {SIGTERM, SIGINT, SIGHUP}) sigaddset(&signals, one);
  pthread_sigmask(SIG_BLOCK, &signals, nullptr);

  ServerOptions server_options;
  server_options.threads = options.threads;
  server_options.queue = options.queue;
  server_options.connections = options.connections;
  ConnectionLimits& limits = server_options.limits;
  limits.head.body = options.max_body;
  limits.slowest = options.slowest;
  server_options.connections_of_one = options.address_connections;
  server_options.received_bytes = std::max(options.request_memory << 20, 4 * options.max_body);
  server_options.answer_bytes = options.answer_memory << 20;
  limits.requests = options.connection_requests;
  limits.timeout = milliseconds(options.timeout);
  limits.idle = milliseconds(options.idle);
  if (routes.tokens != nullptr) {
    limits.wanted = [&tokens = reread.tokens](const RequestHead& head) {
      return wants_body(head, tokens);
    };
  }
  if (!options.tls_certificate.empty()) {
    server_options.tls = [&certificate = reread.certificate] { return certificate.session(); };
  }
  Metrics metrics;
  server_options.on_served = [&](const Served& served) {
    const std::string_view route =
        served.head == nullptr ? std::string_view() : route_of(path_of(*served.head));
    const std::string_view method =
        served.head == nullptr ? std::string_view() : method_label(served.head->method);
    metrics.count(route, method, served.status, served.took);
    if (options.access_log.empty()) return;
    reread.log.write({method, route, served.status, served.bytes,
                      std::chrono::duration<double, std::milli>(served.took).count(),
                      served.head == nullptr ? std::string_view() : served.head->traceparent,
                      served.token_label});
  };
  allow_descriptors(options.connections + 64);
  Router router;
  Server server(std::move(server_options), router);
  routes.metrics = [&] {
    return metrics.text() + numbers_text(server.numbers(), answers.numbers());
  };
  add_routes(router, store, routes);
  const int port = server.bind(options.listen, options.port);
  if (port < 0) {
    const std::string reason = errno != 0 ? std::strerror(errno) : "no such address";
    return fail("cannot listen on " + options.listen + " port " + std::to_string(options.port) +
                ": " + reason);
  }

  if (!server.start()) return fail(std::string("cannot serve: ") + std::strerror(errno));
  const bool v6 = options.listen.find(':') != std::string::npos;
  std::printf("faultodds-http %s listening on http%s://%s%s%s:%d\n", faultodds_version(),
              options.tls_certificate.empty() ? "" : "s", v6 ? "[" : "", options.listen.c_str(),
              v6 ? "]" : "", port);
  std::fflush(stdout);

  for (int signal = SIGHUP; signal == SIGHUP;) {
    if (sigwait(&signals, &signal) != 0 || signal != SIGHUP) continue;
    if (const auto problem = reread.read(options)) fail(*problem);  // and goes on as before
  }
  server.stop_serving();
  return 0;
}

}  // namespace

int main(int argc, char** argv) {
  Options options;
  if (const auto exit = parse_command_line(argc, argv, options)) return exit->code;
  try {
    return run(options);
  } catch (const std::exception& error) {
    return fail(error.what());
  }
}
