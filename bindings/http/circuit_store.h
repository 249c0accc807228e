// The circuits the adapter knows: each one's document, its ETag and its compiled model, which is
// immutable and shared by all requests. With a directory, a circuit is the file <id>.json there and
// survives a restart; without, memory only. Adapters of one machine may share a directory: each
// write is made under its lock and judged by what is on the disk. Safe from any number of threads.
// It knows no HTTP.
#pragma once

#include <faultodds.h>

#include <chrono>
#include <cstddef>
#include <cstdint>
#include <filesystem>
#include <list>
#include <map>
#include <memory>
#include <mutex>
#include <optional>
#include <set>
#include <shared_mutex>
#include <string>
#include <string_view>
#include <utility>
#include <variant>
#include <vector>

#include "bindings/http/circuit_bases.h"
#include "bindings/http/durable_file.h"
#include "bindings/http/pack_history.h"
#include "bindings/http/precondition.h"
#include "bindings/http/problem.h"
#include "bindings/http/time_limit.h"

namespace faultodds_http {

struct FreeModel {
  void operator()(faultodds_model* model) const { faultodds_model_free(model); }
};
using ModelHandle = std::unique_ptr<faultodds_model, FreeModel>;

// What every model of this program is compiled with.
struct ModelSettings {
  std::shared_ptr<const std::string> priors;  // a prior pack document; null: the shipped pack
  // The asset classes that pack distinguishes; null: none.
  std::shared_ptr<const std::set<std::string>> classes;
  std::uint64_t memory_budget = 0;  // bytes; 0: the library's default
};

// Compiles a circuit document. `priors` empty: those of the settings. A problem's pointer is into
// the document at fault; `in_priors`, when given, says whether that is `priors`.
std::variant<ModelHandle, Problem> compile(std::string_view circuit, std::string_view priors,
                                           std::string_view asset_class,
                                           const ModelSettings& settings, const TimeLimit& limit,
                                           bool* in_priors = nullptr);

// Immutable but for the models compiled for asset classes of the pack.
class StoredCircuit {
 public:
  StoredCircuit(std::string id, std::string title, std::string text, CircuitBases whole,
                ModelSettings settings, ModelHandle model);

  const std::string& id() const { return id_; }
  const std::string& title() const { return title_; }
  const std::string& text() const { return text_; }  // the document, byte for byte
  // The same with the documents that it extends in their places, and their names.
  const std::string& whole() const { return whole_.text; }
  const std::set<std::string>& bases() const { return whole_.names; }
  const std::string& etag() const { return etag_; }  // with its quotes
  const faultodds_model* model() const { return model_.get(); }
  // Of this object alone, as long as the program runs.
  std::uint64_t generation() const { return generation_; }

  // Whether the class of an asset can make a difference.
  bool distinguishes_classes() const { return settings_.classes && !settings_.classes->empty(); }
  // The model with the prior pack's entries for an asset class. Classes of which the pack says
  // nothing, and which may be made up by requests, share the model without one.
  std::variant<std::shared_ptr<const faultodds_model>, Problem> model_for(
      const std::string& asset_class, const TimeLimit& limit) const;

 private:
  std::string id_, title_, text_, etag_;
  CircuitBases whole_;
  std::uint64_t generation_;
  ModelSettings settings_;
  std::shared_ptr<const faultodds_model> model_;
  mutable std::mutex mutex_;
  using ByClass = std::list<std::pair<std::string, std::shared_ptr<const faultodds_model>>>;
  mutable ByClass by_class_;  // used last first
};

// [A-Za-z0-9_.-]+, at most 128, not "." and not "..": safe as a file name.
bool is_circuit_id(std::string_view id);

class CircuitStore {
 public:
  // An empty directory keeps circuits in memory only.
  CircuitStore(std::filesystem::path directory, ModelSettings settings, std::size_t capacity);

  // Reads every *.json of the directory. The first that cannot be used ends it with a message that
  // names the file.
  std::optional<std::string> load();

  std::shared_ptr<const StoredCircuit> find(const std::string& id) const;
  // As another adapter on the directory may have written it meanwhile.
  std::variant<std::shared_ptr<const StoredCircuit>, Problem> find_on_disk(const std::string& id,
                                                                           const TimeLimit& limit);
  std::vector<std::shared_ptr<const StoredCircuit>> list() const;  // by id

  struct Written {
    std::shared_ptr<const StoredCircuit> circuit;
    bool created = false;
  };
  // Compiles it and every circuit that extends it; when one refuses, nothing changes. Writes the
  // file so that a crash leaves the old or the new one, then replaces all of them at once.
  std::variant<Written, Problem> put(const std::string& id, std::string_view text,
                                     const Precondition& precondition, const TimeLimit& limit);

  // A circuit document that came with a request, with the stored circuits that it extends.
  std::variant<CircuitBases, Problem> with_bases(std::string_view circuit) const;

  // Prior packs. The pack `default` is in force for every circuit that has none of its own; a pack
  // with the id of a circuit is in force for that one. Without either it is that of the settings.
  static constexpr const char* default_pack = "default";
  struct PackSummary {
    std::string id;
    std::vector<PackVersion> versions;  // oldest first; the last is in force
  };
  std::optional<PackSummary> pack(const std::string& id) const;
  std::vector<PackSummary> packs() const;  // by id

  struct PackWritten {
    std::optional<PackSummary> pack;  // nothing: the one rolled back was the first
    bool created = false;
  };
  // Compiles every circuit the pack would be in force for; when one refuses, nothing changes.
  // Otherwise it is written, and then in force for all of them at once.
  std::variant<PackWritten, Problem> put_pack(const std::string& id, std::string_view text,
                                              const Precondition& precondition,
                                              const TimeLimit& limit);
  // Back to the version before; after the first, there is none. Needs If-Match.
  std::variant<PackWritten, Problem> roll_back_pack(const std::string& id,
                                                    const Precondition& precondition,
                                                    const TimeLimit& limit);

  // What a circuit that comes with a request is compiled with.
  ModelSettings settings() const;

  // Whether a put could reach the disk now; always true without a directory.
  bool writable() const;

 private:
  using Circuits = std::vector<std::shared_ptr<const StoredCircuit>>;

  std::optional<std::string> load_packs();
  // A document that is to be in the place of the stored one.
  struct Instead {
    std::string id, text;
  };
  std::variant<CircuitBases, Problem> with_bases(std::string_view circuit,
                                                 const Instead& instead) const;
  std::variant<std::shared_ptr<const StoredCircuit>, Problem> make(
      const std::string& id, std::string_view text, const ModelSettings& settings,
      const TimeLimit& limit, bool* in_priors = nullptr, const Instead& instead = {}) const;
  // Those that extend a circuit, compiled with its new text.
  std::variant<Circuits, Problem> extending(const Instead& instead, const TimeLimit& limit) const;
  ModelSettings settings_for(const std::string& id) const;
  // The settings with another pack in force.
  ModelSettings settings_with(std::shared_ptr<const std::string> priors) const;
  // The circuits a pack is in force for, compiled with `priors`.
  std::variant<Circuits, Problem> compiled_with(const std::string& pack_id,
                                                std::shared_ptr<const std::string> priors,
                                                const TimeLimit& limit) const;
  // The directory's lock; nothing without a directory.
  std::variant<std::optional<DirectoryLock>, Problem> lock(const TimeLimit& limit) const;
  std::optional<Problem> reread(const std::string& id, const TimeLimit& limit);
  std::optional<Problem> reread_one(const std::string& id, const TimeLimit& limit);
  std::optional<Problem> reread_pack(const std::string& id);
  void put_in_force(const std::string& pack_id, PackHistory history, Circuits circuits);

  std::filesystem::path directory_;
  ModelSettings settings_;
  std::size_t capacity_;
  std::mutex writing_;  // one write at a time, file and map together; before the directory's lock
  mutable std::shared_mutex mutex_;
  std::map<std::string, std::shared_ptr<const StoredCircuit>> circuits_;
  std::map<std::string, PackHistory> packs_;  // none is empty
};

}  // namespace faultodds_http
