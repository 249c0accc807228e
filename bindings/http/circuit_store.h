// The circuits the adapter knows: each one's document, its ETag and its compiled model, which is
// immutable and shared by all requests. With a directory, a circuit is the file <id>.json there and
// survives a restart; without, memory only. Safe from any number of threads. It knows no HTTP.
#pragma once

#include <faultodds.h>

#include <cstddef>
#include <cstdint>
#include <filesystem>
#include <map>
#include <memory>
#include <mutex>
#include <optional>
#include <shared_mutex>
#include <string>
#include <string_view>
#include <variant>
#include <vector>

#include "bindings/http/problem.h"

namespace faultodds_http {

struct FreeModel {
  void operator()(faultodds_model* model) const { faultodds_model_free(model); }
};
using ModelHandle = std::unique_ptr<faultodds_model, FreeModel>;

// What every model of this program is compiled with.
struct ModelSettings {
  std::string priors;               // a prior pack document; empty: the shipped pack
  std::uint64_t memory_budget = 0;  // bytes; 0: the library's default
};

// Compiles a circuit document. `priors` empty: those of the settings. A problem's pointer is into
// the document at fault; `in_priors`, when given, says whether that is `priors`.
std::variant<ModelHandle, Problem> compile(std::string_view circuit, std::string_view priors,
                                           std::string_view asset_class,
                                           const ModelSettings& settings,
                                           bool* in_priors = nullptr);

// Immutable but for a small memory of models compiled for asset classes.
class StoredCircuit {
 public:
  StoredCircuit(std::string id, std::string title, std::string text, ModelSettings settings,
                ModelHandle model);

  const std::string& id() const { return id_; }
  const std::string& title() const { return title_; }
  const std::string& text() const { return text_; }  // the document, byte for byte
  const std::string& etag() const { return etag_; }  // with its quotes
  const faultodds_model* model() const { return model_.get(); }
  // Of this object alone, as long as the program runs.
  std::uint64_t generation() const { return generation_; }

  // The model with the prior pack's entries for an asset class. A few classes are remembered, since
  // their names come from requests; the rest are compiled each time.
  std::variant<std::shared_ptr<const faultodds_model>, Problem> model_for(
      const std::string& asset_class) const;

 private:
  std::string id_, title_, text_, etag_;
  std::uint64_t generation_;
  ModelSettings settings_;
  std::shared_ptr<const faultodds_model> model_;
  mutable std::mutex mutex_;
  mutable std::map<std::string, std::shared_ptr<const faultodds_model>> by_class_;
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
  std::vector<std::shared_ptr<const StoredCircuit>> list() const;  // by id

  // What must hold for a write (RFC 9110 section 13).
  struct Precondition {
    std::optional<std::string> if_match;  // an ETag or *
    bool if_none_match_any = false;       // If-None-Match: *
  };
  struct Written {
    std::shared_ptr<const StoredCircuit> circuit;
    bool created = false;
  };
  // Compiles, writes the file so that a crash leaves the old or the new one, then replaces.
  std::variant<Written, Problem> put(const std::string& id, std::string_view text,
                                     const Precondition& precondition);

  // Whether a put could reach the disk now; always true without a directory.
  bool writable() const;

 private:
  std::variant<std::shared_ptr<const StoredCircuit>, Problem> make(const std::string& id,
                                                                   std::string_view text) const;

  std::filesystem::path directory_;
  ModelSettings settings_;
  std::size_t capacity_;
  std::mutex writing_;  // one put at a time, file and map together
  mutable std::shared_mutex mutex_;
  std::map<std::string, std::shared_ptr<const StoredCircuit>> circuits_;
};

}  // namespace faultodds_http
