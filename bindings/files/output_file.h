// A file that a program writes: beside its place under a name of its own, and moved there once all
// of it is on the disk. A full disk, an interruption or a crash leaves what was there before. What
// is no file (a pipe, a terminal, standard output) is written into as it is. And what may be
// written at all: no input, and no file twice. The C library opens no file; this is for the
// programs beside it.
#pragma once

#include <sys/types.h>

#include <cstddef>
#include <filesystem>
#include <optional>
#include <stdexcept>
#include <string>
#include <string_view>
#include <vector>

namespace faultodds_files {

// "file X cannot be written: No space left on device"; `reason` is what comes after the colon.
struct WriteFailed : std::runtime_error {
  WriteFailed(const std::string& path, int error);
  int error;  // of the system
  std::string reason;
};

class OutputFile {
 public:
  // Links are followed. Throws WriteFailed, as the others do.
  explicit OutputFile(const std::filesystem::path& path);
  ~OutputFile();  // what was not put in place is removed
  OutputFile(const OutputFile&) = delete;
  OutputFile& operator=(const OutputFile&) = delete;

  void write(std::string_view text);
  // All of it is on the disk now, and the old file is still in its place. Where a program writes
  // several files it finishes all of them before it puts any in place.
  void finish();
  // With the permissions of the file that it replaces.
  void put_in_place();

  bool is_standard_output() const { return standard_output_; }

 private:
  [[noreturn]] void fail(int error) const;
  void open_beside(bool replaces);
  void flush();

  std::string named_;             // as the caller did
  std::filesystem::path target_;  // without links
  std::filesystem::path beside_;  // empty: written into as it is, or put in place
  std::string buffer_;
  int file_ = -1;
  std::size_t slot_;
  bool regular_ = false, standard_output_ = false;
};

// A path and what the user calls it: "--out".
struct Named {
  std::string name, path;  // an empty path was not given
};

// Why the outputs cannot be written: one is an input, or two are one file, by whatever name or
// link.
std::optional<std::string> one_file_twice(const std::vector<Named>& outputs,
                                          const std::vector<Named>& inputs);

// A file stands there, which a pipe or a device is not.
bool is_file(const std::filesystem::path& path);

// From now on a signal that ends the program (interrupt, termination, hangup, a reader that went
// away) removes what is being written beside first; a file that grows beyond a limit is an error
// and no end.
void remove_unfinished_on_signals();

// What a crash left beside the files of a directory that nobody else writes to.
void remove_unfinished(const std::filesystem::path& directory);

}  // namespace faultodds_files
