#include "core/wording/spelling.h"

#include <algorithm>

namespace faultodds::wording {
namespace {

constexpr std::size_t kLongest = 64;  // letters of a word; longer ones are not corrected

std::size_t letters(std::string_view word) {
  return static_cast<std::size_t>(std::count_if(word.begin(), word.end(), [](char c) {
    return (static_cast<unsigned char>(c) & 0xC0u) != 0x80u;
  }));
}

}  // namespace

std::size_t slips(std::string_view a, std::string_view b, std::size_t limit) {
  const std::size_t longer = std::max(a.size(), b.size()), shorter = std::min(a.size(), b.size());
  if (longer - shorter > limit || longer > kLongest) return limit + 1;
  std::vector<std::size_t> before(b.size() + 1), last(b.size() + 1), now(b.size() + 1);
  for (std::size_t j = 0; j <= b.size(); ++j) last[j] = j;
  for (std::size_t i = 1; i <= a.size(); ++i) {
    now[0] = i;
    std::size_t least = i;
    for (std::size_t j = 1; j <= b.size(); ++j) {
      const bool same = a[i - 1] == b[j - 1];
      now[j] = std::min({last[j] + 1, now[j - 1] + 1, last[j - 1] + (same ? 0u : 1u)});
      if (i > 1 && j > 1 && a[i - 1] == b[j - 2] && a[i - 2] == b[j - 1]) {
        now[j] = std::min(now[j], before[j - 2] + 1);
      }
      least = std::min(least, now[j]);
    }
    if (least > limit) return limit + 1;
    std::swap(before, last);
    std::swap(last, now);
  }
  return std::min(last[b.size()], limit + 1);
}

std::ptrdiff_t meant(std::string_view word, const std::vector<std::string>& words) {
  if (letters(word) < 5) return -1;
  const std::size_t limit = letters(word) >= 8 ? 2 : 1;
  std::size_t nearest = limit + 1;
  std::ptrdiff_t found = -1;
  const auto first = std::lower_bound(words.begin(), words.end(), word.substr(0, 1));
  for (auto at = first; at != words.end() && at->front() == word.front(); ++at) {
    if (letters(*at) < 4) continue;
    const std::size_t apart = slips(word, *at, std::min(limit, nearest));
    if (apart < nearest) {
      nearest = apart;
      found = at - words.begin();
    } else if (apart == nearest && apart <= limit) {
      found = -1;  // as near as another
    }
  }
  return found;
}

}  // namespace faultodds::wording
