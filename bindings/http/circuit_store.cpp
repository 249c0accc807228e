#include "bindings/http/circuit_store.h"

#include <unistd.h>

#include <algorithm>
#include <atomic>
#include <cerrno>
#include <fstream>
#include <iterator>
#include <nlohmann/json.hpp>
#include <utility>

#include "bindings/files/output_file.h"
#include "bindings/http/durable_file.h"
#include "bindings/http/fingerprint.h"

namespace faultodds_http {
namespace {

namespace fs = std::filesystem;

constexpr std::size_t remembered_classes = 32;  // models kept per circuit, of the pack's classes
constexpr std::uintmax_t largest_circuit = 64u << 20;  // bytes; the library has limits of its own

// Whether a write of what is now `etag`, or is not there (null), must not be made.
std::optional<Problem> refused_by(const Precondition& precondition, const std::string* etag,
                                  const std::string& what) {
  if (precondition.if_none_match_any && etag != nullptr) {
    return Problem{412, "precondition_failed", what + " exists already", ""};
  }
  if (precondition.if_match) {
    if (etag == nullptr || (*precondition.if_match != "*" && *precondition.if_match != *etag)) {
      return Problem{412, "precondition_failed",
                     what + (etag != nullptr ? " is now " + *etag : " does not exist"), ""};
    }
  } else if (etag != nullptr) {
    return Problem{428, "precondition_required",
                   what + " exists; send If-Match with the ETag it was read with", ""};
  }
  return std::nullopt;
}

// The library reads the pack to compare it with the shipped one.
std::optional<Problem> unreadable_pack(std::string_view text) {
  char* difference = nullptr;
  faultodds_error* error = nullptr;
  const faultodds_status status = faultodds_priors_diff_json(nullptr, 0, text.data(), text.size(),
                                                             nullptr, &difference, &error);
  const std::unique_ptr<char, decltype(&faultodds_free)> text_owner(difference, &faultodds_free);
  const std::unique_ptr<faultodds_error, decltype(&faultodds_error_free)> error_owner(
      error, &faultodds_error_free);
  if (status == FAULTODDS_OK) return std::nullopt;
  return from_error(error, "");
}

Problem out_of_time() {
  return {503, "cancelled", "this takes longer than one request may; nothing was changed", ""};
}

std::uint64_t next_generation() {
  static std::atomic<std::uint64_t> last{0};
  return ++last;
}

}  // namespace

std::variant<ModelHandle, Problem> compile(std::string_view circuit, std::string_view priors,
                                           std::string_view asset_class,
                                           const ModelSettings& settings, const TimeLimit& limit,
                                           bool* in_priors) {
  const std::string_view pack = !priors.empty()   ? priors
                                : settings.priors ? std::string_view(*settings.priors)
                                                  : std::string_view();
  faultodds_model_options options{};
  options.struct_size = sizeof(options);
  options.memory_budget = settings.memory_budget;
  options.asset_class = asset_class.empty() ? nullptr : asset_class.data();
  options.asset_class_len = asset_class.size();
  options.cancel = limit.cancel();
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
                             CircuitBases whole, ModelSettings settings, ModelHandle model)
    : id_(std::move(id)),
      title_(std::move(title)),
      text_(std::move(text)),
      etag_("\"" + fingerprint(text_) + "\""),
      whole_(std::move(whole)),
      generation_(next_generation()),
      settings_(std::move(settings)),
      model_(model.release(), FreeModel()) {}

std::variant<std::shared_ptr<const faultodds_model>, Problem> StoredCircuit::model_for(
    const std::string& asset_class, const TimeLimit& limit) const {
  if (asset_class.empty() || !settings_.classes || settings_.classes->count(asset_class) == 0) {
    return model_;
  }
  const auto remembered = [&]() -> std::shared_ptr<const faultodds_model> {
    for (auto entry = by_class_.begin(); entry != by_class_.end(); ++entry) {
      if (entry->first != asset_class) continue;
      by_class_.splice(by_class_.begin(), by_class_, entry);
      return entry->second;
    }
    return nullptr;
  };
  {
    const std::lock_guard lock(mutex_);
    if (auto model = remembered()) return model;
  }
  auto compiled = compile(whole(), {}, asset_class, settings_, limit);
  if (auto* problem = std::get_if<Problem>(&compiled)) return std::move(*problem);
  std::shared_ptr<const faultodds_model> model(std::get<ModelHandle>(compiled).release(),
                                               FreeModel());
  const std::lock_guard lock(mutex_);
  if (auto another = remembered()) return another;  // compiled meanwhile
  by_class_.emplace_front(asset_class, model);
  if (by_class_.size() > remembered_classes) by_class_.pop_back();
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
    : directory_(std::move(directory)), settings_(std::move(settings)), capacity_(capacity) {
  if (settings_.priors) settings_.classes = classes_of(*settings_.priors);
}

std::optional<std::string> CircuitStore::load() {
  if (directory_.empty()) return std::nullopt;
  const TimeLimit without_end(std::chrono::milliseconds(0));
  {
    // A directory that cannot be written can be read all the same.
    const auto held = lock(without_end);
    if (!std::holds_alternative<Problem>(held)) faultodds_files::remove_unfinished(directory_);
  }
  if (auto problem = load_packs()) return problem;
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
    if (problem || size > largest_circuit) return file.string() + ": not a readable circuit file";
    std::ifstream in(file, std::ios::binary);
    const std::string text{std::istreambuf_iterator<char>(in), {}};
    if (!in.good() && !in.eof()) return file.string() + ": could not be read";
    auto made = make(id, text, settings_for(id), without_end);
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

std::variant<CircuitBases, Problem> CircuitStore::with_bases(std::string_view circuit) const {
  return with_bases(circuit, {});
}

std::variant<CircuitBases, Problem> CircuitStore::with_bases(std::string_view circuit,
                                                             const Instead& instead) const {
  std::optional<Problem> unreadable;
  auto bases = faultodds_http::with_bases(
      circuit, [&](const std::string& name) -> std::optional<std::string> {
        if (!instead.id.empty() && name == instead.id) return instead.text;
        if (const auto known = find(name)) return known->text();
        if (directory_.empty() || !is_circuit_id(name)) return std::nullopt;
        // Not read yet, or written by another adapter.
        auto read = read_file(directory_ / (name + ".json"), "the circuit's file");
        if (auto* problem = std::get_if<Problem>(&read)) {
          unreadable = std::move(*problem);
          return std::nullopt;
        }
        return std::get<0>(std::move(read));
      });
  if (unreadable) return std::move(*unreadable);
  if (!bases.problem.empty()) {
    return Problem{422, "invalid_circuit", bases.problem + "; expected the id of a stored circuit",
                   bases.pointer};
  }
  return bases;
}

std::variant<std::shared_ptr<const StoredCircuit>, Problem> CircuitStore::make(
    const std::string& id, std::string_view text, const ModelSettings& settings,
    const TimeLimit& limit, bool* in_priors, const Instead& instead) const {
  auto found = with_bases(text, instead);
  if (auto* problem = std::get_if<Problem>(&found)) return std::move(*problem);
  CircuitBases whole = std::get<CircuitBases>(std::move(found));
  if (whole.names.count(id) != 0) {
    return Problem{422, "invalid_circuit",
                   "circuit \"" + id + "\" extends itself; expected another", "/extends"};
  }
  auto compiled = compile(whole.text, {}, {}, settings, limit, in_priors);
  if (auto* problem = std::get_if<Problem>(&compiled)) return std::move(*problem);
  // The library has accepted the document, so it is an object of bounded depth with these members.
  const auto document = nlohmann::json::parse(whole.text);
  const std::string own_id = document.value("id", "");
  if (own_id != id) {
    return Problem{
        422, "invalid_circuit",
        "`id` is \"" + own_id + "\"; expected \"" + id + "\", the name it is stored under", "/id"};
  }
  const nlohmann::json* titled = &document;
  while (!titled->contains("title") && titled->contains("extends")) titled = &(*titled)["extends"];
  return std::make_shared<const StoredCircuit>(id, titled->value("title", ""), std::string(text),
                                               std::move(whole), settings,
                                               std::get<ModelHandle>(std::move(compiled)));
}

std::variant<CircuitStore::Circuits, Problem> CircuitStore::extending(
    const Instead& instead, const TimeLimit& limit) const {
  Circuits out;
  for (const auto& circuit : list()) {
    if (circuit->bases().count(instead.id) == 0 || circuit->id() == instead.id) continue;
    limit.begin_again();  // each has the time
    auto made =
        make(circuit->id(), circuit->text(), settings_for(circuit->id()), limit, nullptr, instead);
    if (auto* problem = std::get_if<Problem>(&made)) {
      problem->pointer.clear();  // it leads into a circuit that was not sent
      problem->detail =
          "with circuit \"" + circuit->id() + "\", which extends it: " + problem->detail;
      return std::move(*problem);
    }
    out.push_back(std::get<0>(std::move(made)));
  }
  return out;
}

std::variant<std::optional<DirectoryLock>, Problem> CircuitStore::lock(
    const TimeLimit& limit) const {
  if (directory_.empty()) return std::nullopt;
  auto taken = DirectoryLock::take(directory_, limit);
  if (auto* problem = std::get_if<Problem>(&taken)) return std::move(*problem);
  return std::optional(std::get<DirectoryLock>(std::move(taken)));
}

// What another adapter has put in the place of the circuit that is known here.
std::optional<Problem> CircuitStore::reread(const std::string& id, const TimeLimit& limit) {
  if (const auto known = find(id)) {
    for (const std::string& base : known->bases()) {
      if (auto problem = reread_one(base, limit)) return problem;
    }
  }
  return reread_one(id, limit);
}

std::optional<Problem> CircuitStore::reread_one(const std::string& id, const TimeLimit& limit) {
  if (directory_.empty()) return std::nullopt;
  auto read = read_file(directory_ / (id + ".json"), "the circuit's file");
  if (auto* problem = std::get_if<Problem>(&read)) return std::move(*problem);
  const auto& text = std::get<0>(read);
  const auto known = find(id);
  if (!text || (known && known->text() == *text)) return std::nullopt;
  const auto unusable = [](const Problem& problem) {
    return Problem{500, "store_failed",
                   "the circuit's file cannot be used any more: " + problem.detail, ""};
  };
  auto made = make(id, *text, settings_for(id), limit);
  if (auto* problem = std::get_if<Problem>(&made)) return unusable(*problem);
  auto others = extending({id, *text}, limit);
  if (auto* problem = std::get_if<Problem>(&others)) return unusable(*problem);
  const std::unique_lock lock(mutex_);
  circuits_[id] = std::get<0>(std::move(made));
  for (auto& one : std::get<Circuits>(others)) circuits_[one->id()] = std::move(one);
  return std::nullopt;
}

std::variant<std::shared_ptr<const StoredCircuit>, Problem> CircuitStore::find_on_disk(
    const std::string& id, const TimeLimit& limit) {
  if (!is_circuit_id(id)) return nullptr;
  // While something is written here, what is known here is what there was before it.
  if (const std::unique_lock writing(writing_, std::try_to_lock); writing) {
    if (auto problem = reread(id, limit)) return std::move(*problem);
  }
  return find(id);
}

std::variant<CircuitStore::Written, Problem> CircuitStore::put(const std::string& id,
                                                               std::string_view text,
                                                               const Precondition& precondition,
                                                               const TimeLimit& limit) {
  ModelSettings settings = settings_for(id);
  auto made = make(id, text, settings, limit);
  if (auto* problem = std::get_if<Problem>(&made)) return std::move(*problem);

  const std::lock_guard writing(writing_);
  auto held = lock(limit);
  if (auto* problem = std::get_if<Problem>(&held)) return std::move(*problem);
  if (auto problem = reread(id, limit)) return std::move(*problem);
  const auto before = find(id);
  if (auto problem =
          refused_by(precondition, before ? &before->etag() : nullptr, "circuit \"" + id + "\"")) {
    return std::move(*problem);
  }
  if (!before && list().size() >= capacity_) {
    return Problem{507, "store_full", "there are " + std::to_string(capacity_) + " circuits", ""};
  }
  if (const ModelSettings now = settings_for(id); now.priors != settings.priors) {
    made = make(id, text, now, limit);  // another pack came into force meanwhile
    if (auto* problem = std::get_if<Problem>(&made)) return std::move(*problem);
  }
  auto others = extending({id, std::string(text)}, limit);
  if (auto* problem = std::get_if<Problem>(&others)) return std::move(*problem);
  auto circuit = std::get<0>(std::move(made));
  if (limit.passed()) return out_of_time();  // its client has been told so
  if (!directory_.empty()) {
    if (auto problem = replace_file(directory_ / (id + ".json"), text, "the circuit's file")) {
      return std::move(*problem);
    }
  }
  const std::unique_lock lock(mutex_);
  circuits_[id] = circuit;
  for (auto& one : std::get<Circuits>(others)) circuits_[one->id()] = std::move(one);
  return Written{std::move(circuit), before == nullptr};
}

// ---- prior packs -------------------------------------------------------------------------------

std::optional<std::string> CircuitStore::load_packs() {
  const fs::path all = directory_ / "priors";
  std::error_code problem;
  if (!fs::exists(all, problem)) return std::nullopt;
  for (fs::directory_iterator entry(all, problem), end; !problem && entry != end;
       entry.increment(problem)) {
    const std::string id = entry->path().filename().string();
    if (!is_circuit_id(id)) return entry->path().string() + ": the name is not an id";
    PackHistory history(entry->path());
    if (auto message = history.load()) return message;
    if (!history.empty()) packs_.emplace(id, std::move(history));
  }
  if (problem) return all.string() + ": " + problem.message();
  return std::nullopt;
}

// What another adapter has made of a pack; what is in force here stays until it is put again.
std::optional<Problem> CircuitStore::reread_pack(const std::string& id) {
  if (directory_.empty()) return std::nullopt;
  PackHistory history(directory_ / "priors" / id);
  std::error_code problem;
  if (fs::exists(directory_ / "priors" / id, problem)) {
    if (history.load()) {
      return Problem{500, "store_failed", "the prior pack's files could not be read", ""};
    }
  }
  const std::unique_lock lock(mutex_);
  if (history.empty()) {
    packs_.erase(id);
  } else {
    packs_.insert_or_assign(id, std::move(history));
  }
  return std::nullopt;
}

ModelSettings CircuitStore::settings_with(std::shared_ptr<const std::string> priors) const {
  ModelSettings settings = settings_;
  if (priors == settings.priors) return settings;
  settings.classes = priors ? classes_of(*priors) : nullptr;
  settings.priors = std::move(priors);
  return settings;
}

ModelSettings CircuitStore::settings_for(const std::string& id) const {
  const std::shared_lock lock(mutex_);
  ModelSettings settings = settings_;
  auto found = packs_.find(id);
  if (found == packs_.end()) found = packs_.find(default_pack);
  if (found != packs_.end()) {
    settings.priors = found->second.current().text;
    settings.classes = found->second.current().classes;
  }
  return settings;
}

ModelSettings CircuitStore::settings() const { return settings_for(default_pack); }

std::optional<CircuitStore::PackSummary> CircuitStore::pack(const std::string& id) const {
  const std::shared_lock lock(mutex_);
  const auto found = packs_.find(id);
  if (found == packs_.end()) return std::nullopt;
  return PackSummary{id, found->second.versions()};
}

std::vector<CircuitStore::PackSummary> CircuitStore::packs() const {
  const std::shared_lock lock(mutex_);
  std::vector<PackSummary> out;
  for (const auto& [id, history] : packs_) out.push_back({id, history.versions()});
  return out;
}

std::variant<CircuitStore::Circuits, Problem> CircuitStore::compiled_with(
    const std::string& pack_id, std::shared_ptr<const std::string> priors,
    const TimeLimit& limit) const {
  const ModelSettings settings = settings_with(std::move(priors));
  Circuits out;
  for (const auto& circuit : list()) {
    const bool own = pack(circuit->id()).has_value();
    if (circuit->id() != pack_id && (pack_id != default_pack || own)) continue;
    limit.begin_again();  // each has the time
    bool in_priors = false;
    auto made = make(circuit->id(), circuit->text(), settings, limit, &in_priors);
    if (auto* problem = std::get_if<Problem>(&made)) {
      if (!in_priors) problem->pointer.clear();  // it leads into the circuit, which was not sent
      problem->detail = "with circuit \"" + circuit->id() + "\": " + problem->detail;
      return std::move(*problem);
    }
    out.push_back(std::get<0>(std::move(made)));
  }
  return out;
}

void CircuitStore::put_in_force(const std::string& pack_id, PackHistory history,
                                Circuits circuits) {
  const std::unique_lock lock(mutex_);
  if (history.empty()) {
    packs_.erase(pack_id);
  } else {
    packs_.insert_or_assign(pack_id, std::move(history));
  }
  for (auto& circuit : circuits) circuits_[circuit->id()] = std::move(circuit);
}

std::variant<CircuitStore::PackWritten, Problem> CircuitStore::put_pack(
    const std::string& id, std::string_view text, const Precondition& precondition,
    const TimeLimit& limit) {
  const std::lock_guard writing(writing_);
  if (!is_circuit_id(id)) return Problem{404, "unknown_circuit", "there is no such circuit", ""};
  auto held = lock(limit);
  if (auto* problem = std::get_if<Problem>(&held)) return std::move(*problem);
  if (auto problem = reread_pack(id)) return std::move(*problem);
  const auto before = pack(id);
  if (id != default_pack && !find(id)) {
    return Problem{404, "unknown_circuit", "there is no circuit \"" + id + "\"", ""};
  }
  if (auto problem = refused_by(precondition, before ? &before->versions.back().etag : nullptr,
                                "the prior pack \"" + id + "\"")) {
    return std::move(*problem);
  }
  // A pack that no circuit is compiled with is read all the same.
  if (auto problem = unreadable_pack(text)) return std::move(*problem);
  auto compiled = compiled_with(id, std::make_shared<const std::string>(text), limit);
  if (auto* problem = std::get_if<Problem>(&compiled)) return std::move(*problem);
  PackHistory history =
      before ? packs_.at(id)
             : PackHistory(directory_.empty() ? fs::path() : directory_ / "priors" / id);
  if (limit.passed()) return out_of_time();
  if (auto problem = history.add(text)) return std::move(*problem);
  put_in_force(id, std::move(history), std::get<Circuits>(std::move(compiled)));
  return PackWritten{pack(id), !before};
}

std::variant<CircuitStore::PackWritten, Problem> CircuitStore::roll_back_pack(
    const std::string& id, const Precondition& precondition, const TimeLimit& limit) {
  const std::lock_guard writing(writing_);
  auto held = lock(limit);
  if (auto* problem = std::get_if<Problem>(&held)) return std::move(*problem);
  if (is_circuit_id(id)) {
    if (auto problem = reread_pack(id)) return std::move(*problem);
  }
  const auto before = pack(id);
  if (!before) {
    return Problem{404, "unknown_priors", "there is no prior pack \"" + id + "\"", ""};
  }
  if (auto problem = refused_by(precondition, &before->versions.back().etag,
                                "the prior pack \"" + id + "\"")) {
    return std::move(*problem);
  }
  PackHistory history = packs_.at(id);
  auto priors = history.before() != nullptr ? history.before()->text
                : id == default_pack        ? settings_.priors
                                            : settings().priors;
  auto compiled = compiled_with(id, std::move(priors), limit);
  if (auto* problem = std::get_if<Problem>(&compiled)) return std::move(*problem);
  if (limit.passed()) return out_of_time();
  if (auto problem = history.drop_current()) return std::move(*problem);
  put_in_force(id, std::move(history), std::get<Circuits>(std::move(compiled)));
  return PackWritten{pack(id), false};
}

bool CircuitStore::writable() const {
  return directory_.empty() || ::access(directory_.c_str(), R_OK | W_OK | X_OK) == 0;
}

}  // namespace faultodds_http
