#include "priors/record_codes.h"

#include <algorithm>

#include "core/error.h"
#include "core/quoted_text.h"
#include "priors/record_cells.h"

namespace faultodds::priors {
namespace {

constexpr std::size_t longest_class = 200;
constexpr std::size_t most_cached_findings = 1 << 16;

[[noreturn]] void refuse_codes(const std::string& message) {
  throw Error(Code::invalid_argument, message);
}

}  // namespace

Codes::Codes(const Mapping& mapping, const Vocabulary& vocabulary)
    : mapping_(mapping), vocabulary_(vocabulary) {
  TextMap<std::uint32_t> types;
  for (std::size_t i = 0; i < vocabulary.types.size(); ++i) {
    types.emplace(vocabulary.types[i].name, static_cast<std::uint32_t>(i));
  }
  types_ = types;
  for (const auto& [theirs, ours] : mapping.types) {
    const auto found = types.find(ours);
    if (found == types.end()) {
      refuse_codes("mapping of component " + in_quotes(theirs) + " names the type " +
                   in_quotes(ours) + ", which is not in the catalogue");
    }
    types_[theirs] = found->second;
  }
  for (const auto& [theirs, modes] : mapping.findings) {
    for (const std::string& mode : modes) {
      if (mode != "*" && !known_anywhere(mode)) {
        refuse_codes("mapping of finding " + in_quotes(theirs) + " names the failure mode " +
                     in_quotes(mode) + ", which no type of the catalogue has");
      }
    }
  }
  for (const auto& [theirs, grade] : mapping.grades) {
    if (grade < 0 || grade > 2) {
      refuse_codes("mapping of grade " + in_quotes(theirs) + " is " + std::to_string(grade) +
                   "; expected 0, 1 or 2");
    }
  }
}

std::uint32_t Codes::type(std::string_view code) const {
  const auto found = types_.find(code);
  if (found == types_.end()) {
    throw Unusable{Reason::unknown_component,
                   "component is " + in_quotes(code) +
                       "; expected a code of the mapping or a type of the catalogue"};
  }
  return found->second;
}

std::span<const std::uint32_t> Codes::modes(std::string_view component, std::uint32_t type,
                                            std::string_view finding) {
  key_.assign(component);
  key_ += '|';
  key_ += finding;
  const auto cached = findings_.find(std::string_view(key_));
  if (cached != findings_.end()) return cached->second;
  std::vector<std::uint32_t> modes = resolve(key_, type, finding);
  if (findings_.size() < most_cached_findings) return findings_[key_] = std::move(modes);
  uncached_ = std::move(modes);
  return uncached_;
}

std::optional<int> Codes::grade(std::string_view word) const {
  if (word.empty()) return std::nullopt;
  const auto mapped = mapping_.grades.find(std::string(word));
  if (mapped != mapping_.grades.end()) return mapped->second;
  if (word == "sound") return 0;
  if (word == "worn") return 1;
  if (word == "failed") return 2;
  throw Unusable{
      Reason::unknown_grade,
      "grade is " + in_quotes(word) + "; expected sound, worn, failed or a word of the mapping"};
}

std::string_view Codes::asset_class(std::string_view theirs) {
  const auto known = classes_.find(theirs);
  if (known != classes_.end()) return known->second;
  if (theirs.size() > longest_class) {
    throw Unusable{Reason::text_too_long,
                   "asset class " + in_quotes(theirs) + " has " + std::to_string(theirs.size()) +
                       " bytes; expected no more than " + std::to_string(longest_class)};
  }
  if (classes_.size() >= mapping_.most_classes) {
    throw Unusable{Reason::too_many_classes,
                   "asset class " + in_quotes(theirs) + " is one more than the " +
                       std::to_string(mapping_.most_classes) + " allowed"};
  }
  const auto mapped = mapping_.classes.find(std::string(theirs));
  return classes_
      .emplace(theirs, mapped == mapping_.classes.end() ? std::string(theirs) : mapped->second)
      .first->second;
}

bool Codes::known_anywhere(std::string_view mode) const {
  for (const Vocabulary::Type& type : vocabulary_.types) {
    for (const Vocabulary::Mode& m : type.modes) {
      if (m.name == mode) return true;
    }
  }
  return false;
}

std::vector<std::uint32_t> Codes::resolve(const std::string& key, std::uint32_t type,
                                          std::string_view finding) const {
  const std::vector<Vocabulary::Mode>& all = vocabulary_.types[type].modes;
  std::vector<std::uint32_t> found;
  const auto add_if = [&](const auto& matches) {
    for (std::size_t i = 0; i < all.size(); ++i) {
      if (matches(all[i])) found.push_back(static_cast<std::uint32_t>(i));
    }
  };
  auto mapped = mapping_.findings.find(key);
  if (mapped == mapping_.findings.end()) mapped = mapping_.findings.find(std::string(finding));
  if (mapped != mapping_.findings.end()) {
    if (mapped->second.empty()) return found;
    for (const std::string& name : mapped->second) {
      add_if([&](const Vocabulary::Mode& m) { return name == "*" || m.name == name; });
    }
  } else if (finding == "none") {
    return found;
  } else if (finding.empty() || finding == "UNK" || finding == "OTH") {
    add_if([](const Vocabulary::Mode&) { return true; });
  } else {
    add_if([&](const Vocabulary::Mode& m) { return m.name == finding; });
    if (found.empty()) add_if([&](const Vocabulary::Mode& m) { return m.code == finding; });
  }
  std::sort(found.begin(), found.end());
  found.erase(std::unique(found.begin(), found.end()), found.end());
  if (found.empty()) {
    throw Unusable{Reason::unknown_finding, "finding is " + in_quotes(finding) +
                                                "; expected a code of the mapping, a failure " +
                                                "mode of " + vocabulary_.types[type].name +
                                                " or its ISO 14224 code"};
  }
  return found;
}

}  // namespace faultodds::priors
