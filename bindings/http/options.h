// The command line of faultodds-http.
#pragma once

#include <cstddef>
#include <cstdint>
#include <optional>
#include <string>

namespace faultodds_http {

struct Options {
  std::string listen = "127.0.0.1";
  int port = 8642;
  std::string circuits;         // directory; empty: memory only
  std::string priors;           // file; empty: the shipped pack
  std::string cases;            // URL of the case store; empty: none
  std::string site;             // directory of files served under /site/; empty: none
  std::string tokens;           // file of tokens and scopes; empty: none is asked for
  std::string tls_certificate;  // PEM; empty: plain HTTP
  std::string tls_key;
  std::string access_log;  // file or "-"; empty: none
  std::size_t threads = 4;
  std::size_t queue = 64;
  std::size_t max_body = 1024 * 1024;
  std::size_t max_circuits = 1000;
  std::int64_t max_cases = 1'000'000;
  std::int64_t keep_keys = 24 * 3600;  // s
  std::size_t model_memory = 256;      // MiB
  double timeout = 10;                 // s
  std::size_t answer_cache = 16;       // MiB
  double idle = 5;                     // s
  std::size_t slowest = 1000;          // bytes a second
  std::size_t connections = 4096;
  std::size_t address_connections = 1024;
  std::size_t request_memory = 64, answer_memory = 64;  // MiB
  std::size_t connection_requests = 1000;
};

// What --help, --version or a wrong option ends the program with.
struct Exit {
  int code = 0;
};

// Prints what is asked for or wrong. Nothing means: go on with `options`.
std::optional<Exit> parse_command_line(int argc, char** argv, Options& options);

}  // namespace faultodds_http
