#include "bindings/http/pack_history.h"

#include <algorithm>
#include <charconv>
#include <nlohmann/json.hpp>
#include <system_error>
#include <utility>
#include <variant>

#include "bindings/files/output_file.h"
#include "bindings/http/durable_file.h"
#include "bindings/http/fingerprint.h"

namespace faultodds_http {
namespace {

namespace fs = std::filesystem;

PackVersion version(std::uint64_t number, std::string text) {
  std::string etag = "\"" + fingerprint(text) + "\"";
  auto classes = classes_of(text);
  return {number, std::make_shared<const std::string>(std::move(text)), std::move(etag),
          std::move(classes)};
}

}  // namespace

std::shared_ptr<const std::set<std::string>> classes_of(std::string_view priors) {
  const auto pack = nlohmann::json::parse(priors, nullptr, false);
  std::set<std::string> classes;
  const auto note = [&](const nlohmann::json& object) {
    if (!object.is_object()) return;
    const auto found = object.find("asset_class");
    if (found == object.end() || !found->is_string()) return;
    if (std::string name = found->get<std::string>(); !name.empty()) classes.insert(name);
  };
  note(pack);
  if (pack.is_object() && pack.contains("modes")) {
    for (const nlohmann::json& mode : pack["modes"]) note(mode);
  }
  return std::make_shared<const std::set<std::string>>(std::move(classes));
}

PackHistory::PackHistory(fs::path directory) : directory_(std::move(directory)) {}

fs::path PackHistory::file_of(std::uint64_t number) const {
  return directory_ / (std::to_string(number) + ".json");
}

std::optional<std::string> PackHistory::load() {
  faultodds_files::remove_unfinished(directory_);
  std::error_code problem;
  for (fs::directory_iterator entry(directory_, problem), end; !problem && entry != end;
       entry.increment(problem)) {
    const fs::path& file = entry->path();
    if (file.extension() != ".json") continue;
    const std::string name = file.stem().string();
    std::uint64_t number = 0;
    const auto [stop, error] = std::from_chars(name.data(), name.data() + name.size(), number);
    if (error != std::errc() || stop != name.data() + name.size()) {
      return file.string() + ": the file's name is not a number";
    }
    auto read = read_file(file, "");
    auto* text = std::get_if<std::optional<std::string>>(&read);
    if (text == nullptr || !*text) return file.string() + ": could not be read";
    versions_.push_back(version(number, std::move(**text)));
  }
  if (problem) return directory_.string() + ": " + problem.message();
  std::ranges::sort(versions_, {}, &PackVersion::number);
  return std::nullopt;
}

const PackVersion* PackHistory::before() const {
  return versions_.size() < 2 ? nullptr : &versions_[versions_.size() - 2];
}

std::optional<Problem> PackHistory::add(std::string_view text) {
  PackVersion next = version(versions_.empty() ? 1 : current().number + 1, std::string(text));
  versions_.reserve(versions_.size() + 1);  // nothing fails once the file is there
  if (!directory_.empty()) {
    if (auto problem = make_directory(directory_)) return problem;
    if (auto problem = replace_file(file_of(next.number), text, "the prior pack's file")) {
      return problem;
    }
  }
  versions_.push_back(std::move(next));
  while (versions_.size() > kept) {
    // One that stays is only read and dropped again at the next start.
    if (!directory_.empty()) remove_file(file_of(versions_.front().number), "");
    versions_.erase(versions_.begin());
  }
  return std::nullopt;
}

std::optional<Problem> PackHistory::drop_current() {
  if (!directory_.empty()) {
    if (auto problem = remove_file(file_of(current().number), "the prior pack's file")) {
      return problem;
    }
  }
  versions_.pop_back();
  return std::nullopt;
}

}  // namespace faultodds_http
