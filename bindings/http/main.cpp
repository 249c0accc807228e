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
#include <fstream>
#include <iterator>
#include <memory>
#include <string>
#include <utility>
#include <variant>

#include "bindings/http/case_store.h"
#include "bindings/http/circuit_store.h"
#include "bindings/http/options.h"
#include "bindings/http/routes.h"
#include "bindings/http/server.h"

namespace {

using namespace faultodds_http;

int fail(const std::string& message) {
  std::fprintf(stderr, "faultodds-http: %s\n", message.c_str());
  return 1;
}

bool read_file(const std::string& path, std::string& text) {
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

int run(const Options& options) {
  ModelSettings model;
  model.memory_budget = std::uint64_t{options.model_memory} << 20;
  if (!options.priors.empty() && !read_file(options.priors, model.priors)) {
    return fail(options.priors + ": could not be read or is empty");
  }
  RouteOptions routes{options.max_body, {}, options.site, nullptr, model};
  if (!options.token_file.empty()) {
    if (!read_file(options.token_file, routes.token)) {
      return fail(options.token_file + ": could not be read or is empty");
    }
    while (!routes.token.empty() && (routes.token.back() == '\n' || routes.token.back() == '\r')) {
      routes.token.pop_back();
    }
    if (routes.token.size() < 16) {
      return fail(options.token_file + ": expected a token of 16 characters or more");
    }
  }
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
    std::signal(SIGXFSZ, SIG_IGN);  // a limit on the file's size is an error, not the end
  }

  // Blocked here and so in every thread made below; this thread waits for them.
  sigset_t stop_signals;
  sigemptyset(&stop_signals);
  sigaddset(&stop_signals, SIGTERM);
  sigaddset(&stop_signals, SIGINT);
  pthread_sigmask(SIG_BLOCK, &stop_signals, nullptr);

  ServerOptions server_options;
  server_options.threads = options.threads;
  server_options.queue = options.queue;
  server_options.connections = options.connections;
  ConnectionLimits& limits = server_options.limits;
  limits.head.body = options.max_body;
  limits.bodies = std::max(limits.bodies, 4 * options.max_body);
  limits.requests = options.connection_requests;
  limits.timeout = milliseconds(options.timeout);
  limits.idle = milliseconds(options.idle);
  allow_descriptors(options.connections + 64);
  Server server(std::move(server_options));
  add_routes(server, store, routes);
  const int port = server.bind(options.listen, options.port);
  if (port < 0) {
    const std::string reason = errno != 0 ? std::strerror(errno) : "no such address";
    return fail("cannot listen on " + options.listen + " port " + std::to_string(options.port) +
                ": " + reason);
  }

  if (!server.start()) return fail(std::string("cannot serve: ") + std::strerror(errno));
  const bool v6 = options.listen.find(':') != std::string::npos;
  std::printf("faultodds-http %s listening on http://%s%s%s:%d\n", faultodds_version(),
              v6 ? "[" : "", options.listen.c_str(), v6 ? "]" : "", port);
  std::fflush(stdout);

  int signal = 0;
  sigwait(&stop_signals, &signal);
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
