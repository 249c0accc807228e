#include "tests/benchmarks/child.h"

#include <poll.h>
#include <sys/resource.h>
#include <sys/wait.h>
#include <unistd.h>

#include <array>
#include <csignal>
#include <cstdio>
#include <cstdlib>
#include <ctime>
#include <exception>
#include <stdexcept>

namespace faultodds::benchmark {
namespace {

double seconds_of(clockid_t clock) {
  timespec now{};
  clock_gettime(clock, &now);
  return static_cast<double>(now.tv_sec) + 1e-9 * static_cast<double>(now.tv_nsec);
}

double of_status(const char* format) {
  double kilobytes = 0;
  if (std::FILE* status = std::fopen("/proc/self/status", "r")) {
    std::array<char, 256> line{};
    while (std::fgets(line.data(), static_cast<int>(line.size()), status)) {
      if (std::sscanf(line.data(), format, &kilobytes) == 1) break;
    }
    std::fclose(status);
  }
  return kilobytes * 1024;
}

}  // namespace

double processor_seconds() { return seconds_of(CLOCK_PROCESS_CPUTIME_ID); }
double wall_seconds() { return seconds_of(CLOCK_MONOTONIC); }
double peak_memory() { return of_status("VmHWM: %lf kB"); }
double resident_memory() { return of_status("VmRSS: %lf kB"); }

namespace {

[[noreturn]] void run(int pipe, const std::function<void(const Tell&)>& work) {
  const rlimit no_core{0, 0};
  setrlimit(RLIMIT_CORE, &no_core);
  try {
    work([pipe](const Record& record) {
      if (write(pipe, &record, sizeof record) != sizeof record) std::abort();
    });
  } catch (const std::exception& error) {
    std::fprintf(stderr, "%s\n", error.what());
    std::abort();
  }
  _exit(0);
}

}  // namespace

Work in_child(double seconds, const std::function<void(const Tell&)>& work) {
  std::array<int, 2> ends{};
  std::fflush(nullptr);
  if (pipe(ends.data()) != 0) throw std::runtime_error("no pipe for a child process");
  const pid_t child = fork();
  if (child < 0) throw std::runtime_error("no child process");
  if (child == 0) {
    close(ends[0]);
    run(ends[1], work);
  }
  close(ends[1]);
  clockid_t clock{};
  if (clock_getcpuclockid(child, &clock) != 0) throw std::runtime_error("no clock of a child");
  Work result;
  Record record;
  double told = 0;
  while (true) {
    pollfd ready{ends[0], POLLIN, 0};
    if (poll(&ready, 1, 10) > 0) {
      if (read(ends[0], &record, sizeof record) != sizeof record) break;
      result.records.push_back(record);
      told = seconds_of(clock);
    } else if (seconds_of(clock) - told > seconds) {
      result.ended = Ended::by_limit;
      kill(child, SIGKILL);
      break;
    }
  }
  close(ends[0]);
  int status = 0;
  rusage used{};
  wait4(child, &status, 0, &used);
  result.peak = static_cast<double>(used.ru_maxrss) * 1024;
  if (WIFSIGNALED(status) && result.ended == Ended::by_itself) result.ended = Ended::by_signal;
  return result;
}

}  // namespace faultodds::benchmark
