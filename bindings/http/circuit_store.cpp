#include "bindings/http/circuit_store.h"

#include <fcntl.h>
#include <unistd.h>

#include <algorithm>
#include <atomic>
#include <cerrno>
#include <cstring>
#include <fstream>
#include <iterator>
#include <nlohmann/json.hpp>
#include <utility>

#include "bindings/http/fingerprint.h"

namespace faultodds_http {
namespace {

namespace fs = std::filesystem;

constexpr std::size_t remembered_classes = 8;       // models kept per circuit
constexpr std::uintmax_t largest_file = 64u << 20;  // bytes; the library has limits of its own

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

// Temporary file, fsync, rename, fsync of the directory.
std::optional<Problem> replace_file(const fs::path& directory, const std::string& id,
                                    std::string_view text) {
  const std::string target = directory / (id + ".json");
  const std::string temporary = directory / ("." + id + ".new");
  ::unlink(temporary.c_str());  // left by a crash
  const int file = ::open(temporary.c_str(), O_WRONLY | O_CREAT | O_EXCL | O_CLOEXEC, 0644);
  if (file < 0) return store_failed("the circuit's file could not be made");
  bool written = write_all(file, text) && ::fsync(file) == 0;
  written = ::close(file) == 0 && written;
  if (!written || ::rename(temporary.c_str(), target.c_str()) != 0) {
    const Problem problem = store_failed("the circuit's file could not be written");
    ::unlink(temporary.c_str());
    return problem;
  }
  const int folder = ::open(directory.c_str(), O_RDONLY | O_DIRECTORY | O_CLOEXEC);
  if (folder >= 0) {
    ::fsync(folder);
    ::close(folder);
  }
  return std::nullopt;
}

std::uint64_t next_generation() {
  static std::atomic<std::uint64_t> last{0};
  return ++last;
}

}  // namespace

std::variant<ModelHandle, Problem> compile(std::string_view circuit, std::string_view priors,
                                           std::string_view asset_class,
                                           const ModelSettings& settings, bool* in_priors) {
  const std::string_view pack = priors.empty() ? std::string_view(settings.priors) : priors;
  faultodds_model_options options{};
  options.struct_size = sizeof(options);
  options.memory_budget = settings.memory_budget;
  options.asset_class = asset_class.empty() ? nullptr : asset_class.data();
  options.asset_class_len = asset_class.size();
  faultodds_model* model = nullptr;
  faultodds_error* error = nullptr;
  const faultodds_status status =
      faultodds_model_load(circuit.data(), circuit.size(), pack.empty() ? nullptr : pack.data(),
                           pack.size(), &options, &model, &error);
  if (status == FAULTODDS_OK) return ModelHandle(model);
  const std::unique_ptr<faultodds_error, decltype(&faultodds_error_free)> owner(
      error, &faultodds_error_free);
  Problem problem = from_error(error, "");
  if (in_priors != nullptr) {
    // The library says so in words when a pack is not even a pack document.
    *in_priors =
        status == FAULTODDS_INVALID_PRIORS || problem.detail.starts_with("in the prior pack: ");
  }
  return problem;
}

StoredCircuit::StoredCircuit(std::string id, std::string title, std::string text,
                             ModelSettings settings, ModelHandle model)
    : id_(std::move(id)),
      title_(std::move(title)),
      text_(std::move(text)),
      etag_("\"" + fingerprint(text_) + "\""),
      generation_(next_generation()),
      settings_(std::move(settings)),
      model_(model.release(), FreeModel()) {}

std::variant<std::shared_ptr<const faultodds_model>, Problem> StoredCircuit::model_for(
    const std::string& asset_class) const {
  if (asset_class.empty()) return model_;
  {
    const std::lock_guard lock(mutex_);
    const auto found = by_class_.find(asset_class);
    if (found != by_class_.end()) return found->second;
  }
  auto compiled = compile(text_, {}, asset_class, settings_);
  if (auto* problem = std::get_if<Problem>(&compiled)) return std::move(*problem);
  std::shared_ptr<const faultodds_model> model(std::get<ModelHandle>(compiled).release(),
                                               FreeModel());
  const std::lock_guard lock(mutex_);
  if (by_class_.size() < remembered_classes) by_class_.emplace(asset_class, model);
  return model;
}

bool is_circuit_id(std::string_view id) {
  return !id.empty() && id.size() <= 128 && id != "." && id != ".." &&
         std::ranges::all_of(id, [](char c) {
           return (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z') || (c >= '0' && c <= '9') ||
                  c == '_' || c == '.' || c == '-';
         });
}

CircuitStore::CircuitStore(fs::path directory, ModelSettings settings, std::size_t capacity)
    : directory_(std::move(directory)), settings_(std::move(settings)), capacity_(capacity) {}

std::optional<std::string> CircuitStore::load() {
  if (directory_.empty()) return std::nullopt;
  std::error_code problem;
  std::vector<fs::path> files;
  for (fs::directory_iterator entry(directory_, problem), end; !problem && entry != end;
       entry.increment(problem)) {
    if (entry->path().extension() == ".json") files.push_back(entry->path());
  }
  if (problem) return directory_.string() + ": " + problem.message();
  std::ranges::sort(files);
  for (const fs::path& file : files) {
    const std::string id = file.stem().string();
    if (!is_circuit_id(id)) return file.string() + ": the file's name is not a circuit id";
    if (circuits_.size() >= capacity_) {
      return directory_.string() + ": more than " + std::to_string(capacity_) + " circuits";
    }
    const std::uintmax_t size = fs::file_size(file, problem);
    if (problem || size > largest_file) return file.string() + ": not a readable circuit file";
    std::ifstream in(file, std::ios::binary);
    const std::string text{std::istreambuf_iterator<char>(in), {}};
    if (!in.good() && !in.eof()) return file.string() + ": could not be read";
    auto made = make(id, text);
    if (const auto* refused = std::get_if<Problem>(&made)) {
      return file.string() + ": " + refused->detail +
             (refused->pointer.empty() ? "" : " (at " + refused->pointer + ")");
    }
    circuits_[id] = std::get<0>(std::move(made));
  }
  return std::nullopt;
}

std::shared_ptr<const StoredCircuit> CircuitStore::find(const std::string& id) const {
  const std::shared_lock lock(mutex_);
  const auto found = circuits_.find(id);
  return found == circuits_.end() ? nullptr : found->second;
}

std::vector<std::shared_ptr<const StoredCircuit>> CircuitStore::list() const {
  const std::shared_lock lock(mutex_);
  std::vector<std::shared_ptr<const StoredCircuit>> out;
  for (const auto& [id, circuit] : circuits_) out.push_back(circuit);
  return out;
}

std::variant<std::shared_ptr<const StoredCircuit>, Problem> CircuitStore::make(
    const std::string& id, std::string_view text) const {
  auto compiled = compile(text, {}, {}, settings_);
  if (auto* problem = std::get_if<Problem>(&compiled)) return std::move(*problem);
  // The library has accepted the document, so it is an object of bounded depth with these members.
  const auto document = nlohmann::json::parse(text);
  const std::string own_id = document.value("id", "");
  if (own_id != id) {
    return Problem{
        422, "invalid_circuit",
        "`id` is \"" + own_id + "\"; expected \"" + id + "\", the name it is stored under", "/id"};
  }
  return std::make_shared<const StoredCircuit>(id, document.value("title", ""), std::string(text),
                                               settings_,
                                               std::get<ModelHandle>(std::move(compiled)));
}

std::variant<CircuitStore::Written, Problem> CircuitStore::put(const std::string& id,
                                                               std::string_view text,
                                                               const Precondition& precondition) {
  const std::lock_guard writing(writing_);
  const auto before = find(id);
  if (precondition.if_none_match_any && before) {
    return Problem{412, "precondition_failed", "circuit \"" + id + "\" exists already", ""};
  }
  if (precondition.if_match) {
    if (!before || (*precondition.if_match != "*" && *precondition.if_match != before->etag())) {
      return Problem{412, "precondition_failed",
                     before ? "circuit \"" + id + "\" is now " + before->etag()
                            : "circuit \"" + id + "\" does not exist",
                     ""};
    }
  } else if (before) {
    return Problem{428, "precondition_required",
                   "circuit \"" + id + "\" exists; send If-Match with the ETag it was read with",
                   ""};
  }
  if (!before && list().size() >= capacity_) {
    return Problem{507, "store_full", "there are " + std::to_string(capacity_) + " circuits", ""};
  }
  auto made = make(id, text);
  if (auto* problem = std::get_if<Problem>(&made)) return std::move(*problem);
  auto circuit = std::get<0>(std::move(made));
  if (!directory_.empty()) {
    if (auto problem = replace_file(directory_, id, text)) return std::move(*problem);
  }
  const std::unique_lock lock(mutex_);
  circuits_[id] = circuit;
  return Written{std::move(circuit), before == nullptr};
}

bool CircuitStore::writable() const {
  return directory_.empty() || ::access(directory_.c_str(), R_OK | W_OK | X_OK) == 0;
}

}  // namespace faultodds_http
