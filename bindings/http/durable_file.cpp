#include "bindings/http/durable_file.h"

#include <fcntl.h>
#include <sys/stat.h>
#include <unistd.h>

#include <cerrno>
#include <cstring>

#include "bindings/files/output_file.h"

namespace faultodds_http {
namespace {

namespace fs = std::filesystem;

Problem store_failed(const std::string& what) {
  const std::string reason = std::strerror(errno);
  return {500, "store_failed", what + ": " + reason, ""};
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
  try {
    faultodds_files::OutputFile file(target);
    file.write(text);
    file.put_in_place();
    return std::nullopt;
  } catch (const faultodds_files::WriteFailed& failed) {
    return Problem{500, "store_failed", what + " could not be written: " + failed.reason, ""};
  }
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
