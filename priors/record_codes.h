// The owner's codes of a row, components, findings, grades and asset classes, to ours: by the
// mapping and the vocabulary. Nothing outside of record*.cpp includes it.
#pragma once

#include <cstddef>
#include <cstdint>
#include <functional>
#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <unordered_map>
#include <vector>

#include "priors/records.h"
#include "priors/seen_ids.h"

namespace faultodds::priors {

struct TextHash {
  using is_transparent = void;
  std::size_t operator()(std::string_view text) const {
    return static_cast<std::size_t>(hash_bytes(text));
  }
};
template <typename Value>
using TextMap = std::unordered_map<std::string, Value, TextHash, std::equal_to<>>;

// Each is looked up once. What cannot be known is thrown as Unusable (record_cells.h).
class Codes {
 public:
  Codes(const Mapping& mapping, const Vocabulary& vocabulary);

  std::uint32_t type(std::string_view code) const;

  std::span<const std::uint32_t> modes(std::string_view component, std::uint32_t type,
                                       std::string_view finding);

  std::optional<int> grade(std::string_view word) const;

  // The class as we call it, counted against the limit on classes.
  std::string_view asset_class(std::string_view theirs);

 private:
  bool known_anywhere(std::string_view mode) const;

  std::vector<std::uint32_t> resolve(const std::string& key, std::uint32_t type,
                                     std::string_view finding) const;

  const Mapping& mapping_;
  const Vocabulary& vocabulary_;
  TextMap<std::uint32_t> types_;
  TextMap<std::vector<std::uint32_t>> findings_;
  TextMap<std::string> classes_;
  std::vector<std::uint32_t> uncached_;
  std::string key_;
};

}  // namespace faultodds::priors
