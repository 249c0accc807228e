#include "bindings/files/output_file.h"

#include <fcntl.h>
#include <sys/stat.h>
#include <sys/xattr.h>
#include <unistd.h>

#include <array>
#include <atomic>
#include <cerrno>
#include <climits>
#include <csignal>
#include <cstdio>
#include <cstring>
#include <random>
#include <system_error>

namespace faultodds_files {
namespace {

namespace fs = std::filesystem;

constexpr std::size_t buffer_bytes = std::size_t{1} << 16;
constexpr int most_links = 40;  // as Linux follows
constexpr std::string_view beside_end = ".new";
constexpr std::size_t own_digits = 16;

// Where a name leads in the end.
struct Place {
  fs::path path;
  std::optional<int> descriptor;  // one of this program's own: /dev/stdout, /dev/fd/3
  bool lost = false;              // links in a circle
};

fs::path folder_of(const fs::path& path) {
  return path.has_parent_path() ? path.parent_path() : fs::path(".");
}

std::optional<int> own_descriptor(const fs::path& path) {
  std::error_code problem;
  const fs::path folder = fs::canonical(folder_of(path), problem);
  if (problem || folder != fs::canonical("/proc/self/fd", problem) || problem) return std::nullopt;
  const std::string name = path.filename().string();
  if (name.empty() || name.size() > 9 ||
      name.find_first_not_of("0123456789") != std::string::npos) {
    return std::nullopt;
  }
  return std::stoi(name);
}

Place place_of(fs::path path) {
  for (int links = 0; links < most_links; ++links) {
    if (const auto descriptor = own_descriptor(path)) return {path, descriptor};
    std::error_code problem;
    const fs::path next = fs::read_symlink(path, problem);
    if (problem) return {path, std::nullopt};
    path = next.is_absolute() ? next : folder_of(path) / next;
  }
  return {path, std::nullopt, true};
}

// Files that are being written beside, for the handler of signals: a fixed place for each, since a
// handler may not allocate. A path that is too long for it, or one file too many, is not removed.
struct Unfinished {
  std::atomic<bool> used = false, shown = false;
  std::array<char, PATH_MAX> path{};
};
constexpr std::size_t most_unfinished = 8;
std::array<Unfinished, most_unfinished> unfinished;

std::size_t remember(const std::string& path) {
  for (std::size_t i = 0; i < most_unfinished; ++i) {
    Unfinished& slot = unfinished[i];
    if (path.size() >= slot.path.size() || slot.used.exchange(true)) continue;
    std::memcpy(slot.path.data(), path.c_str(), path.size() + 1);
    slot.shown = true;
    return i;
  }
  return most_unfinished;
}

void drop(std::size_t& slot) {
  if (slot < most_unfinished) {
    unfinished[slot].shown = false;
    unfinished[slot].used = false;
  }
  slot = most_unfinished;
}

extern "C" void remove_and_end(int signal) {
  for (const Unfinished& slot : unfinished) {
    if (slot.shown) ::unlink(slot.path.data());
  }
  std::signal(signal, SIG_DFL);
  ::raise(signal);  // taken when this returns
}

// ".pack.json.0123456789abcdef.new"; a long name is cut.
fs::path own_name_beside(const fs::path& target) {
  static std::random_device random;
  std::array<char, own_digits + 1> own{};
  std::snprintf(own.data(), own.size(), "%08x%08x", random(), random());
  const std::string name = target.filename().string().substr(0, NAME_MAX - own_digits - 6);
  return folder_of(target) / ("." + name + "." + own.data() + std::string(beside_end));
}

// Owner, permissions and access list of the file that is replaced. Who may not give a file away
// keeps it.
bool give_permissions(int file, const fs::path& replaced) {
  struct stat old {};
  if (::stat(replaced.c_str(), &old) != 0) return errno == ENOENT;
  if (::fchown(file, old.st_uid, old.st_gid) != 0 &&
      ::fchown(file, static_cast<uid_t>(-1), old.st_gid) != 0 && errno != EPERM) {
    return false;
  }
  if (::fchmod(file, old.st_mode & 07777) != 0) return false;
  static constexpr const char* access_list = "system.posix_acl_access";
  std::array<char, 1 << 12> list{};
  const ssize_t size = ::getxattr(replaced.c_str(), access_list, list.data(), list.size());
  return size <= 0 ||
         ::fsetxattr(file, access_list, list.data(), static_cast<std::size_t>(size), 0) == 0;
}

void flush_folder(const fs::path& path) {
  const int folder = ::open(folder_of(path).c_str(), O_RDONLY | O_DIRECTORY | O_CLOEXEC);
  if (folder < 0) return;
  ::fsync(folder);
  ::close(folder);
}

// What tells files apart: device and number of one that is there; of one that is not, those of its
// folder, and its name.
struct Identity {
  dev_t device = 0;
  ino_t number = 0;
  std::string name;
  bool operator==(const Identity&) const = default;
};

std::optional<Identity> identity_of(const std::string& path) {
  struct stat found {};
  if (::stat(path.c_str(), &found) == 0) {
    if (!S_ISREG(found.st_mode) && !S_ISBLK(found.st_mode)) return std::nullopt;
    return Identity{found.st_dev, found.st_ino, ""};
  }
  const Place place = place_of(path);
  if (place.lost || ::stat(folder_of(place.path).c_str(), &found) != 0) return std::nullopt;
  return Identity{found.st_dev, found.st_ino, place.path.filename().string()};
}

}  // namespace

WriteFailed::WriteFailed(const std::string& path, int number)
    : std::runtime_error("file " + path + " cannot be written: " + std::strerror(number)),
      error(number),
      reason(std::strerror(number)) {}

void OutputFile::fail(int error) const { throw WriteFailed(named_, error); }

OutputFile::OutputFile(const fs::path& path) : named_(path.string()), slot_(most_unfinished) {
  const Place place = place_of(path);
  if (place.lost) fail(ELOOP);
  target_ = place.path;
  struct stat found {};
  const bool there = ::stat(place.path.c_str(), &found) == 0;
  if (!there && errno != ENOENT) fail(errno);
  if (there && S_ISDIR(found.st_mode)) fail(EISDIR);
  if (place.descriptor) {
    file_ = ::fcntl(*place.descriptor, F_DUPFD_CLOEXEC, 3);
    standard_output_ = *place.descriptor == STDOUT_FILENO;
  } else if (there && !S_ISREG(found.st_mode)) {
    file_ = ::open(target_.c_str(), O_WRONLY | O_CLOEXEC | O_NOCTTY);
  } else {
    open_beside(there);
  }
  if (file_ < 0) fail(errno);
  buffer_.reserve(buffer_bytes);
}

void OutputFile::open_beside(bool replaces) {
  if (!target_.has_filename()) fail(ENOENT);
  // Whoever may write in the folder could replace a file that is not to be written; that is not
  // meant.
  if (replaces && ::faccessat(AT_FDCWD, target_.c_str(), W_OK, AT_EACCESS) != 0) fail(errno);
  const mode_t mode = replaces ? 0600 : 0666;  // widened when all of it is there
  do {
    beside_ = own_name_beside(target_);
    file_ = ::open(beside_.c_str(), O_WRONLY | O_CREAT | O_EXCL | O_CLOEXEC, mode);
  } while (file_ < 0 && errno == EEXIST);
  if (file_ < 0) {
    const int error = errno;
    beside_.clear();
    fail(error);
  }
  slot_ = remember(beside_.string());
  regular_ = true;
}

OutputFile::~OutputFile() {
  if (file_ >= 0) ::close(file_);
  if (!beside_.empty()) ::unlink(beside_.c_str());
  drop(slot_);
}

void OutputFile::write(std::string_view text) {
  buffer_ += text;
  if (buffer_.size() >= buffer_bytes) flush();
}

void OutputFile::flush() {
  std::string_view left = buffer_;
  while (!left.empty()) {
    const ssize_t n = ::write(file_, left.data(), left.size());
    if (n < 0 && errno == EINTR) continue;
    if (n < 0) fail(errno);
    left.remove_prefix(static_cast<std::size_t>(n));
  }
  buffer_.clear();
}

void OutputFile::finish() {
  if (file_ < 0) return;
  flush();
  if (regular_ && (!give_permissions(file_, target_) || ::fsync(file_) != 0)) fail(errno);
  const int closed = ::close(file_);
  file_ = -1;
  if (closed != 0 && errno != EINTR) fail(errno);
}

void OutputFile::put_in_place() {
  finish();
  if (beside_.empty()) return;
  if (::rename(beside_.c_str(), target_.c_str()) != 0) fail(errno);
  beside_.clear();
  drop(slot_);
  flush_folder(target_);
}

std::optional<std::string> one_file_twice(const std::vector<Named>& outputs,
                                          const std::vector<Named>& inputs) {
  const auto meets = [](const Named& output, const Named& other) {
    if (output.path.empty() || other.path.empty()) return false;
    const auto first = identity_of(output.path), second = identity_of(other.path);
    return first && second && *first == *second;
  };
  const auto sentence = [](const Named& output, const Named& other) {
    return output.name + " is " + output.path + ", the same file as " + other.name + " (" +
           other.path + "); expected a file of its own. Nothing was written";
  };
  for (std::size_t i = 0; i < outputs.size(); ++i) {
    for (const Named& input : inputs) {
      if (meets(outputs[i], input)) return sentence(outputs[i], input);
    }
    for (std::size_t j = 0; j < i; ++j) {
      if (meets(outputs[i], outputs[j])) return sentence(outputs[i], outputs[j]);
    }
  }
  return std::nullopt;
}

bool is_file(const fs::path& path) {
  struct stat found {};
  return ::stat(path.c_str(), &found) == 0 && S_ISREG(found.st_mode);
}

void remove_unfinished_on_signals() {
  struct sigaction action {};
  action.sa_handler = remove_and_end;
  ::sigemptyset(&action.sa_mask);
  for (const int signal : {SIGINT, SIGTERM, SIGHUP, SIGPIPE}) {
    struct sigaction before {};
    ::sigaction(signal, nullptr, &before);
    if (before.sa_handler != SIG_IGN) ::sigaction(signal, &action, nullptr);  // nohup ignores
  }
  std::signal(SIGXFSZ, SIG_IGN);
}

void remove_unfinished(const fs::path& directory) {
  std::error_code problem;
  std::vector<fs::path> left;
  for (fs::directory_iterator entry(directory, problem), end; !problem && entry != end;
       entry.increment(problem)) {
    const std::string name = entry->path().filename().string();
    const std::size_t tail = own_digits + beside_end.size();
    if (name.size() < tail + 3 || name[0] != '.' || !name.ends_with(beside_end)) continue;
    const std::string own = name.substr(name.size() - tail, own_digits);
    if (name[name.size() - tail - 1] == '.' &&
        own.find_first_not_of("0123456789abcdef") == std::string::npos) {
      left.push_back(entry->path());
    }
  }
  for (const fs::path& path : left) ::unlink(path.c_str());
}

}  // namespace faultodds_files
