// The versions of one prior pack, oldest first; the last is in force. With a directory, version n
// is the file n.json there, so what is in force after a crash is the highest number. It compiles
// nothing and does not lock.
#pragma once

#include <cstddef>
#include <cstdint>
#include <filesystem>
#include <memory>
#include <optional>
#include <set>
#include <string>
#include <string_view>
#include <vector>

#include "bindings/http/problem.h"

namespace faultodds_http {

struct PackVersion {
  std::uint64_t number = 0;
  std::shared_ptr<const std::string> text;  // the document, byte for byte
  std::string etag;                         // with its quotes
  // The asset classes it distinguishes.
  std::shared_ptr<const std::set<std::string>> classes;
};

// The asset classes a prior pack has entries for. What is no pack has none.
std::shared_ptr<const std::set<std::string>> classes_of(std::string_view priors);

class PackHistory {
 public:
  static constexpr std::size_t kept = 10;  // versions; older ones are removed

  // An empty directory keeps them in memory.
  explicit PackHistory(std::filesystem::path directory = {});

  // Reads the directory. A message that names the file when one cannot be used.
  std::optional<std::string> load();

  bool empty() const { return versions_.empty(); }
  const std::vector<PackVersion>& versions() const { return versions_; }
  const PackVersion& current() const { return versions_.back(); }
  // The version that rolling back brings into force; null: none.
  const PackVersion* before() const;

  std::optional<Problem> add(std::string_view text);
  std::optional<Problem> drop_current();

 private:
  std::filesystem::path file_of(std::uint64_t number) const;

  std::filesystem::path directory_;
  std::vector<PackVersion> versions_;
};

}  // namespace faultodds_http
