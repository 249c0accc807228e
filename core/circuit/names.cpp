#include "core/circuit/names.h"

#include <algorithm>
#include <cstddef>
#include <numeric>
#include <utility>

#include "core/error.h"
#include "core/quoted_text.h"
#include "core/stop.h"

namespace faultodds::circuit {
namespace {

// Edit distance in which swapping two neighbouring letters counts once, for finding the name meant.
std::size_t distance(std::string_view a, std::string_view b) {
  const std::size_t width = b.size() + 1;
  std::vector<std::size_t> row(width);
  std::iota(row.begin(), row.end(), std::size_t{0});
  std::vector<std::size_t> before = row;
  std::vector<std::size_t> next(width);
  for (std::size_t i = 1; i <= a.size(); ++i) {
    next[0] = i;
    for (std::size_t j = 1; j <= b.size(); ++j) {
      const std::size_t substitute = row[j - 1] + (a[i - 1] == b[j - 1] ? 0 : 1);
      next[j] = std::min({substitute, row[j] + 1, next[j - 1] + 1});
      if (i > 1 && j > 1 && a[i - 1] == b[j - 2] && a[i - 2] == b[j - 1]) {
        next[j] = std::min(next[j], before[j - 2] + 1);
      }
    }
    before = row;
    row = next;
  }
  return row[b.size()];
}

bool is_name_of(std::string_view text, bool with_dot) {
  if (text.empty()) return false;
  return std::all_of(text.begin(), text.end(), [with_dot](char c) {
    return (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z') || (c >= '0' && c <= '9') || c == '_' ||
           c == '-' || (with_dot && c == '.');
  });
}

constexpr std::size_t kNamesShown = 12;
constexpr std::size_t kLongestCompared = 80;  // longer names are not worth the comparison
constexpr std::size_t kMostCompared = 5000;   // of a long list only the first are compared
constexpr std::size_t kComparedBetweenStops = 256;

}  // namespace

void refuse(const std::string& message, const std::string& pointer) {
  throw Error(Code::invalid_circuit, message, pointer);
}

std::string at(const std::string& base, std::string_view token) {
  std::string out = base;
  out += '/';
  for (const char c : token) {
    if (c == '~') {
      out += "~0";
    } else if (c == '/') {
      out += "~1";
    } else {
      out += c;
    }
  }
  return out;
}

std::string at(const std::string& base, std::size_t index) {
  return base + "/" + std::to_string(index);
}

std::string quoted(std::string_view text) { return in_backticks(text); }

std::string expected(std::string_view given, const std::vector<std::string>& known,
                     std::string_view what) {
  if (known.empty()) return "; there are no " + std::string(what);
  std::vector<std::pair<std::size_t, std::size_t>> nearest;  // distance, index
  const std::string_view compared = given.substr(0, kLongestCompared);
  const std::size_t count = std::min(known.size(), kMostCompared);
  for (std::size_t i = 0; i < count; ++i) {
    if (i % kComparedBetweenStops == 0) check_stop();
    const std::string_view name(known[i]);
    nearest.emplace_back(distance(compared, name.substr(0, kLongestCompared)), i);
  }
  std::stable_sort(nearest.begin(), nearest.end(),
                   [](const auto& a, const auto& b) { return a.first < b.first; });
  std::string out;
  const std::size_t near_enough = std::max<std::size_t>(1, given.size() / 3);
  if (nearest.front().first <= near_enough) {
    out += "; did you mean " + quoted(known[nearest.front().second]) + "?";
  } else {
    out += ";";
  }
  out += " Known " + std::string(what) + ": ";
  for (std::size_t i = 0; i < std::min(kNamesShown, nearest.size()); ++i) {
    if (i > 0) out += ", ";
    out += quoted(known[nearest[i].second]);
  }
  if (known.size() > kNamesShown) {
    out += " and " + std::to_string(known.size() - kNamesShown) + " more";
  }
  return out;
}

bool is_id(std::string_view text) { return is_name_of(text, true); }
bool is_plain_name(std::string_view text) { return is_name_of(text, false); }

void check_length(std::string_view name, const std::string& what, const std::string& pointer) {
  if (name.size() <= kMostInName) return;
  throw Error(Code::limit_exceeded,
              what + " " + quoted(name) + ": at most " + std::to_string(kMostInName) +
                  " characters are taken",
              pointer);
}

// What stands between two stars is taken where it first occurs: no later place leaves more.
bool matches(std::string_view pattern, std::string_view text, std::size_t* steps) {
  const std::size_t star = pattern.find('*');
  *steps += 1;
  if (star == std::string_view::npos) return pattern == text;
  if (!text.starts_with(pattern.substr(0, star))) return false;
  text.remove_prefix(star);
  pattern.remove_prefix(star + 1);
  while (true) {
    const std::size_t next = pattern.find('*');
    if (next == std::string_view::npos) break;
    const std::string_view piece = pattern.substr(0, next);
    *steps += 1 + text.size() * (1 + piece.size()) / 16;
    const std::size_t found = text.find(piece);
    if (found == std::string_view::npos) return false;
    text.remove_prefix(found + piece.size());
    pattern.remove_prefix(next + 1);
  }
  return text.ends_with(pattern);
}

}  // namespace faultodds::circuit
