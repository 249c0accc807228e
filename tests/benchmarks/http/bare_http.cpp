// An HTTP library by itself, cpp-httplib, to measure the adapter against: every POST /v1/assess is answered
// with the bytes of one file. Prints its port.   bare_http FILE THREADS
#include <httplib.h>

#include <cstdio>
#include <cstdlib>
#include <fstream>
#include <iterator>
#include <string>

int main(int argc, char** argv) {
  if (argc != 3) return 2;
  std::ifstream in(argv[1], std::ios::binary);
  const std::string body{std::istreambuf_iterator<char>(in), {}};
  const auto threads = static_cast<std::size_t>(std::atoi(argv[2]));
  httplib::Server server;
  server.set_tcp_nodelay(true);
  server.set_keep_alive_max_count(1'000'000'000);
  server.new_task_queue = [threads] { return new httplib::ThreadPool(threads); };
  server.Post("/v1/assess", [&](const httplib::Request&, httplib::Response& response,
                                const httplib::ContentReader& reader) {
    std::string question;
    reader([&](const char* data, std::size_t size) {
      question.append(data, size);
      return true;
    });
    response.set_content(body, "application/json");
  });
  const int port = server.bind_to_any_port("127.0.0.1");
  std::printf("%d\n", port);
  std::fflush(stdout);
  return server.listen_after_bind() ? 0 : 1;
}
