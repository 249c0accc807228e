// Files that survive a crash as what they were or what they should be, never as a part of either,
// and a lock that all programs of this machine that write in one directory take.
#pragma once

#include <filesystem>
#include <optional>
#include <string>
#include <string_view>
#include <variant>

#include "bindings/http/problem.h"
#include "bindings/http/time_limit.h"

namespace faultodds_http {

// Written beside under a name that nobody else has, flushed, and renamed into place. `what` is
// named when that fails: disk_full or store_failed.
std::optional<Problem> replace_file(const std::filesystem::path& target, std::string_view text,
                                    const std::string& what);

std::optional<Problem> remove_file(const std::filesystem::path& target, const std::string& what);

// With the directories above it; no error if it is there.
std::optional<Problem> make_directory(const std::filesystem::path& directory);

// The whole file; nothing when it is not there. Anything else that keeps it from being read is a
// problem.
std::variant<std::optional<std::string>, Problem> read_file(const std::filesystem::path& file,
                                                            const std::string& what);

// The right to write in a directory, held until it goes. Every adapter on it waits for it; the
// system takes it from one that dies. A network file system must have flock(2).
class DirectoryLock {
 public:
  static std::variant<DirectoryLock, Problem> take(const std::filesystem::path& directory,
                                                   const TimeLimit& limit);
  DirectoryLock(DirectoryLock&& other) noexcept;
  DirectoryLock& operator=(DirectoryLock&&) = delete;
  ~DirectoryLock();

 private:
  explicit DirectoryLock(int file) : file_(file) {}
  int file_;
};

}  // namespace faultodds_http
