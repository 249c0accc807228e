// Files that survive a crash as what they were or what they should be, never as a part of either.
#pragma once

#include <filesystem>
#include <optional>
#include <string>
#include <string_view>

#include "bindings/http/problem.h"

namespace faultodds_http {

// Written beside, flushed, and renamed into place. `what` is named when that fails.
std::optional<Problem> replace_file(const std::filesystem::path& target, std::string_view text,
                                    const std::string& what);

std::optional<Problem> remove_file(const std::filesystem::path& target, const std::string& what);

// With the directories above it; no error if it is there.
std::optional<Problem> make_directory(const std::filesystem::path& directory);

}  // namespace faultodds_http
