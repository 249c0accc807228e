#include "bindings/http/durable_file.h"

#include <fcntl.h>
#include <sys/stat.h>
#include <unistd.h>

#include <cerrno>
#include <cstring>

namespace faultodds_http {
namespace {

namespace fs = std::filesystem;

Problem store_failed(const std::string& what) {
  const std::string reason = std::strerror(errno);
  return {500, "store_failed", what + ": " + reason, ""};
}

bool write_all(int file, std::string_view text) {
  while (!text.empty()) {
    const ssize_t n = ::write(file, text.data(), text.size());
    if (n < 0 && errno == EINTR) continue;
    if (n <= 0) return false;
    text.remove_prefix(static_cast<std::size_t>(n));
  }
  return true;
}

void flush_directory(const fs::path& directory) {
  const int folder = ::open(directory.c_str(), O_RDONLY | O_DIRECTORY | O_CLOEXEC);
  if (folder < 0) return;
  ::fsync(folder);
  ::close(folder);
}

}  // namespace

std::optional<Problem> replace_file(const fs::path& target, std::string_view text,
                                    const std::string& what) {
  const fs::path temporary = target.parent_path() / ("." + target.stem().string() + ".new");
  ::unlink(temporary.c_str());  // left by a crash
  const int file = ::open(temporary.c_str(), O_WRONLY | O_CREAT | O_EXCL | O_CLOEXEC, 0644);
  if (file < 0) return store_failed(what + " could not be made");
  bool written = write_all(file, text) && ::fsync(file) == 0;
  written = ::close(file) == 0 && written;
  if (!written || ::rename(temporary.c_str(), target.c_str()) != 0) {
    const Problem problem = store_failed(what + " could not be written");
    ::unlink(temporary.c_str());
    return problem;
  }
  flush_directory(target.parent_path());
  return std::nullopt;
}

std::optional<Problem> remove_file(const fs::path& target, const std::string& what) {
  if (::unlink(target.c_str()) != 0 && errno != ENOENT) {
    return store_failed(what + " could not be removed");
  }
  flush_directory(target.parent_path());
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

}  // namespace faultodds_http
