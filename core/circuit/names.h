// How the circuit loader speaks of names: JSON pointers, lists of known names and the one way to
// refuse a document. It is not a validator; the checks themselves stand beside what they check.
#pragma once

#include <string>
#include <string_view>
#include <vector>

namespace faultodds::circuit {

// Throws Error(invalid_circuit).
[[noreturn]] void refuse(const std::string& message, const std::string& pointer);

// `base` followed by one RFC 6901 reference token (`~` and `/` escaped) or array index.
std::string at(const std::string& base, std::string_view token);
std::string at(const std::string& base, std::size_t index);

// As every message does (core/quoted_text.h).
std::string quoted(std::string_view text);

// What was expected: "; did you mean `cap`? Known ports: `cap`, `rod`" (nearest first, at most 12
// names). `what` is the plural noun.
std::string expected(std::string_view given, const std::vector<std::string>& known,
                     std::string_view what);

// [A-Za-z0-9_.-]+, and the same without the dot for names that follow a dot in an id.
bool is_id(std::string_view text);
bool is_plain_name(std::string_view text);

// Ids are made of others (`static/valve.a/plugged/relief`), so that without a limit a document
// could spell many times its own size. Throws Error(limit_exceeded).
inline constexpr std::size_t kMostInName = 200;
void check_length(std::string_view name, const std::string& what, const std::string& pointer);

// `*` stands for any run of characters, also none. Adds to `steps` how much it looked at.
bool matches(std::string_view pattern, std::string_view text, std::size_t* steps);

}  // namespace faultodds::circuit
