#include "bindings/http/durable_file.h"

#include <fcntl.h>
#include <sys/file.h>
#include <sys/stat.h>
#include <unistd.h>

#include <cerrno>
#include <chrono>
#include <cstdlib>
#include <cstring>
#include <system_error>
#include <thread>
#include <utility>
#include <vector>

#include "bindings/files/output_file.h"

namespace faultodds_http {
namespace {

namespace fs = std::filesystem;

Problem store_failed(const std::string& what) {
  const std::string reason = std::strerror(errno);
  // EFBIG is a limit on the size of files.
  if (errno == ENOSPC || errno == EDQUOT || errno == EFBIG) {
    return {507, "disk_full", what + ": " + reason + "; what was stored before is unchanged", ""};
  }
  return {500, "store_failed", what + ": " + reason, ""};
}

bool flush_directory(const fs::path& directory) {
  const int folder = ::open(directory.c_str(), O_RDONLY | O_DIRECTORY | O_CLOEXEC);
  if (folder < 0) return false;
  const bool flushed = ::fsync(folder) == 0;
  ::close(folder);
  return flushed;
}

}  // namespace

std::optional<Problem> replace_file(const fs::path& target, std::string_view text,
                                    const std::string& what) {
  try {
    faultodds_files::OutputFile file(target);
    file.write(text);
    file.put_in_place();
  } catch (const faultodds_files::WriteFailed& failed) {
    errno = failed.error;
    return store_failed(what + " could not be written");
  }
  if (!flush_directory(target.parent_path())) {
    return Problem{500, "store_failed",
                   what +
                       " was written, but its directory could not be flushed: a crash of the "
                       "machine may bring back what was there before",
                   ""};
  }
  return std::nullopt;
}

std::optional<Problem> remove_file(const fs::path& target, const std::string& what) {
  if (::unlink(target.c_str()) != 0 && errno != ENOENT) {
    return store_failed(what + " could not be removed");
  }
  if (!flush_directory(target.parent_path())) {
    return store_failed(what + " was removed, but its directory could not be flushed");
  }
  return std::nullopt;
}

std::optional<Problem> make_directory(const fs::path& directory) {
  if (::mkdir(directory.c_str(), 0755) == 0) {
    flush_directory(directory.parent_path());
    return std::nullopt;
  }
  if (errno == EEXIST) return std::nullopt;
  if (errno != ENOENT) return store_failed("a directory could not be made");
  if (auto problem = make_directory(directory.parent_path())) return problem;
  if (::mkdir(directory.c_str(), 0755) != 0) return store_failed("a directory could not be made");
  flush_directory(directory.parent_path());
  return std::nullopt;
}

std::variant<std::optional<std::string>, Problem> read_file(const fs::path& file,
                                                            const std::string& what) {
  const int open = ::open(file.c_str(), O_RDONLY | O_CLOEXEC);
  if (open < 0) {
    if (errno == ENOENT) return std::nullopt;
    return store_failed(what + " could not be opened");
  }
  std::string text;
  struct stat status {};
  if (::fstat(open, &status) == 0 && status.st_size > 0) {
    text.resize(static_cast<std::size_t>(status.st_size));
  }
  std::size_t have = 0;
  while (have < text.size()) {
    const ssize_t n = ::read(open, text.data() + have, text.size() - have);
    if (n < 0 && errno == EINTR) continue;
    if (n <= 0) break;
    have += static_cast<std::size_t>(n);
  }
  const bool whole = have == text.size() && S_ISREG(status.st_mode);
  ::close(open);
  if (!whole) return Problem{500, "store_failed", what + " could not be read", ""};
  return std::optional(std::move(text));
}

std::variant<DirectoryLock, Problem> DirectoryLock::take(const fs::path& directory,
                                                         const TimeLimit& limit) {
  const int file = ::open(directory.c_str(), O_RDONLY | O_DIRECTORY | O_CLOEXEC);
  if (file < 0) return store_failed("the directory could not be opened");
  DirectoryLock lock(file);
  // Not flock's own waiting, which nothing ends.
  while (::flock(file, LOCK_EX | LOCK_NB) != 0) {
    if (errno != EWOULDBLOCK && errno != EINTR) {
      return store_failed("the directory could not be locked");
    }
    if (limit.passed()) {
      return Problem{503, "store_unavailable",
                     "another program writes in the directory of circuits; nothing was changed",
                     ""};
    }
    std::this_thread::sleep_for(std::chrono::milliseconds(2));
  }
  return lock;
}

DirectoryLock::DirectoryLock(DirectoryLock&& other) noexcept
    : file_(std::exchange(other.file_, -1)) {}

DirectoryLock::~DirectoryLock() {
  if (file_ >= 0) ::close(file_);
}

}  // namespace faultodds_http
