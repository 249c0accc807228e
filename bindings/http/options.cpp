#include "bindings/http/options.h"

#include <faultodds.h>

#include <CLI/CLI.hpp>
#include <string>

namespace faultodds_http {
namespace {

// CLI::Range would let "nan" pass.
std::string in_time_range(const std::string& text) {
  double seconds = 0;
  if (CLI::detail::lexical_cast(text, seconds) && seconds >= 0.1 && seconds <= 600) return {};
  return text + " is not a time of 0.1 to 600 seconds";
}

}  // namespace

std::optional<Exit> parse_command_line(int argc, char** argv, Options& options) {
  CLI::App app{
      "Ranks hydraulic suspects and next tests over HTTP.\n"
      "Meant for loopback or behind a reverse proxy; GET /openapi.json describes it.\n"
      "SIGTERM and SIGINT stop it once the requests at hand are answered; SIGHUP reads tokens and\n"
      "certificate again and opens the access log again; SIGPIPE is ignored.",
      "faultodds-http"};
  app.set_version_flag("--version", std::string("faultodds-http ") + faultodds_version());
  app.add_option("--listen", options.listen, "address to listen on")->capture_default_str();
  app.add_option("--port", options.port, "port; 0 takes a free one and prints it")
      ->check(CLI::Range(0, 65535))
      ->capture_default_str();
  app.add_option("--circuits", options.circuits,
                 "directory of circuits, <id>.json each; PUT writes there (default: memory only)")
      ->check(CLI::ExistingDirectory);
  app.add_option("--priors", options.priors, "prior pack to use (default: the shipped one)")
      ->check(CLI::ExistingFile);
  app.add_option("--cases", options.cases,
                 "store of cases, sqlite:FILE or postgresql://...; adds the routes /v1/cases "
                 "(default: none). Give a password by PGPASSFILE, not here");
  app.add_option(
         "--site", options.site,
         "directory of pages, served under /site/ to anyone who can connect, links followed")
      ->check(CLI::ExistingDirectory);
  app.add_option("--tokens", options.tokens,
                 "file of bearer tokens, one a line: read or write, the token or sha256: and its "
                 "hash, a label; every request but health checks and pages needs one")
      ->check(CLI::ExistingFile);
  auto* certificate = app.add_option("--tls-certificate", options.tls_certificate,
                                     "certificate and chain in PEM; speaks TLS 1.2 and 1.3")
                          ->check(CLI::ExistingFile);
  auto* key =
      app.add_option("--tls-key", options.tls_key, "private key in PEM")->check(CLI::ExistingFile);
  certificate->needs(key);
  key->needs(certificate);
  app.add_option("--access-log", options.access_log,
                 "file, or - for standard output: a line of JSON for each request");
  app.add_option("--answer-cache", options.answer_cache,
                 "MiB of answers kept for who asks the same again; 0 keeps none")
      ->check(CLI::Range(0, 1024 * 1024))
      ->capture_default_str();
  app.add_option("--threads", options.threads, "requests worked on at once")
      ->check(CLI::Range(1, 256))
      ->capture_default_str();
  app.add_option("--queue", options.queue, "requests that may wait; more are answered 503")
      ->check(CLI::Range(1, 65536))
      ->capture_default_str();
  app.add_option("--max-body", options.max_body, "largest request body in bytes")
      ->check(CLI::Range(1024, 64 * 1024 * 1024))
      ->capture_default_str();
  app.add_option("--max-circuits", options.max_circuits, "circuits stored at most")
      ->check(CLI::Range(1, 1'000'000))
      ->capture_default_str();
  app.add_option("--max-cases", options.max_cases, "cases stored at most")
      ->check(CLI::Range(std::int64_t{1}, std::int64_t{1'000'000'000}))
      ->capture_default_str();
  app.add_option("--keep-keys", options.keep_keys, "seconds an Idempotency-Key is remembered")
      ->check(CLI::Range(std::int64_t{1}, std::int64_t{31 * 24 * 3600}))
      ->capture_default_str();
  app.add_option("--model-memory", options.model_memory,
                 "MiB of inference tables one circuit may need")
      ->check(CLI::Range(1, 1024 * 1024))
      ->capture_default_str();
  app.add_option(
         "--timeout", options.timeout,
         "seconds for a request's head, for its body, for the work and for sending the answer")
      ->check(CLI::Validator(in_time_range, "[0.1 - 600]"))
      ->capture_default_str();
  app.add_option("--idle", options.idle, "seconds a connection is kept between requests")
      ->check(CLI::Validator(in_time_range, "[0.1 - 600]"))
      ->capture_default_str();
  app.add_option("--max-connections", options.connections,
                 "connections at once; for more, the slowest and longest idle are closed")
      ->check(CLI::Range(1, 1'000'000))
      ->capture_default_str();
  app.add_option("--address-connections", options.address_connections,
                 "of these from one address (IPv6: one /64); for more, its own slowest are closed")
      ->check(CLI::Range(1, 1'000'000))
      ->capture_default_str();
  app.add_option(
         "--min-rate", options.slowest,
         "bytes a second; a head or body half of --timeout behind it is refused; 0: none is")
      ->check(CLI::Range(0, 1'000'000'000))
      ->capture_default_str();
  app.add_option("--request-memory", options.request_memory,
                 "MiB of heads and bodies of all requests; for more, the slowest are refused")
      ->check(CLI::Range(1, 1024 * 1024))
      ->capture_default_str();
  app.add_option("--answer-memory", options.answer_memory,
                 "MiB of answers that wait to be read, a quarter of it for one; for more, the "
                 "slowest are closed")
      ->check(CLI::Range(1, 1024 * 1024))
      ->capture_default_str();
  app.add_option("--connection-requests", options.connection_requests,
                 "requests on one connection; 1 closes each after its answer")
      ->check(CLI::Range(1, 1'000'000'000))
      ->capture_default_str();
  try {
    app.parse(argc, argv);
  } catch (const CLI::ParseError& error) {
    return Exit{app.exit(error) == 0 ? 0 : 2};
  }
  return std::nullopt;
}

}  // namespace faultodds_http
