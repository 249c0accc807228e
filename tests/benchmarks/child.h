// A piece of work in a process of its own, which is ended when it has taken too much: what it did
// by then is known all the same. Its first work finds the memory of this process as it is now.
#pragma once

#include <functional>
#include <vector>

namespace faultodds::benchmark {

struct Record {
  double seconds = 0;   // of processor time
  double wall = 0;      // of the clock
  double grown = 0;     // bytes that the process has ever held beyond what it began with
  int status = 0;       // faultodds_status, or what the work says
  int approximate = 0;  // `method` is not exact
  int with_advice = 0;
};

enum class Ended { by_itself, by_limit, by_signal };

struct Work {
  std::vector<Record> records;  // in the order told
  Ended ended = Ended::by_itself;
  double peak = 0;  // bytes it ever held, what it began with included; 0 where the system is silent
};

using Tell = std::function<void(const Record&)>;

// Runs `work` in a forked process, which is ended when it has told nothing for so many seconds of
// processor time. An exception ends it by a signal. The limit is kept by this process and not by
// the kernel, since that may count the time of a process with a limit in steps of 4 ms.
Work in_child(double seconds, const std::function<void(const Tell&)>& work);

double processor_seconds();  // of this process, all its threads
double wall_seconds();

// The largest memory this process ever held, and what it holds now, in bytes.
double peak_memory();
double resident_memory();

}  // namespace faultodds::benchmark
