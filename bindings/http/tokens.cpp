#include "bindings/http/tokens.h"

#include <openssl/crypto.h>
#include <openssl/evp.h>

#include <algorithm>
#include <array>
#include <fstream>
#include <sstream>
#include <utility>
#include <vector>

namespace faultodds_http {
namespace {

using Hash = std::array<unsigned char, 32>;

constexpr std::size_t shortest_token = 16;
constexpr std::string_view hashed = "sha256:";

std::optional<Hash> sha256(std::string_view text) {
  Hash hash{};
  unsigned length = 0;
  if (EVP_Digest(text.data(), text.size(), hash.data(), &length, EVP_sha256(), nullptr) != 1) {
    return std::nullopt;
  }
  return hash;
}

std::optional<Hash> from_hexadecimal(std::string_view digits) {
  Hash hash{};
  if (digits.size() != 2 * hash.size()) return std::nullopt;
  for (std::size_t i = 0; i < digits.size(); ++i) {
    const std::size_t value = std::string_view("0123456789abcdef").find(digits[i]);
    if (value == std::string_view::npos) return std::nullopt;
    hash[i / 2] = static_cast<unsigned char>(std::size_t{hash[i / 2]} << 4 | value);
  }
  return hash;
}

// The credentials of RFC 6750, section 2.1.
bool is_bearer_token(std::string_view text) {
  while (text.ends_with('=')) text.remove_suffix(1);
  return !text.empty() && std::ranges::all_of(text, [](char c) {
    return (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z') || (c >= '0' && c <= '9') ||
           std::string_view("-._~+/").find(c) != std::string_view::npos;
  });
}

}  // namespace

struct Tokens::Known {
  struct Entry {
    Hash hash;
    Bearer bearer;
  };
  std::vector<Entry> entries;
};

std::optional<std::string> Tokens::load(const std::string& file) {
  std::ifstream in(file);
  if (!in) return file + ": could not be read";
  auto read = std::make_shared<Known>();
  std::string line;
  for (int number = 1; std::getline(in, line); ++number) {
    const std::string place = file + ", line " + std::to_string(number) + ": ";
    std::istringstream words(line);
    std::string scope, token, label, more;
    if (!(words >> scope) || scope.starts_with('#')) continue;
    words >> token >> label >> more;
    if ((scope != "read" && scope != "write") || token.empty() || !more.empty()) {
      return place + "expected `read` or `write`, a token, and optionally a label";
    }
    std::optional<Hash> hash;
    if (token.starts_with(hashed)) {
      hash = from_hexadecimal(std::string_view(token).substr(hashed.size()));
      if (!hash) return place + "expected 64 digits 0-9 a-f after sha256:";
    } else {
      if (token.size() < shortest_token || !is_bearer_token(token)) {
        return place + "expected a token of 16 characters or more, of A-Z a-z 0-9 - . _ ~ + /";
      }
      hash = sha256(token);
      if (!hash) return place + "the token could not be hashed";
    }
    if (label.empty()) label = scope + "-" + std::to_string(number);
    read->entries.push_back({*hash, {scope == "write" ? Scope::write : Scope::read, label}});
  }
  if (in.bad()) return file + ": could not be read";
  if (read->entries.empty()) return file + ": holds no token";
  const std::lock_guard lock(mutex_);
  known_ = std::move(read);
  return std::nullopt;
}

std::shared_ptr<const Tokens::Known> Tokens::known() const {
  const std::lock_guard lock(mutex_);
  return known_;
}

std::optional<Bearer> Tokens::find(std::string_view authorization) const {
  const auto all = known();
  constexpr std::string_view scheme = "bearer ";
  if (!all || authorization.size() <= scheme.size() ||
      !std::equal(scheme.begin(), scheme.end(), authorization.begin(), [](char a, char b) {
        return a == b || (b >= 'A' && b <= 'Z' && b - 'A' + 'a' == a);
      })) {
    return std::nullopt;
  }
  const auto hash = sha256(authorization.substr(scheme.size()));
  if (!hash) return std::nullopt;
  const Known::Entry* found = nullptr;
  for (const Known::Entry& entry : all->entries) {
    if (CRYPTO_memcmp(entry.hash.data(), hash->data(), hash->size()) == 0) found = &entry;
  }
  if (found == nullptr) return std::nullopt;
  return found->bearer;
}

}  // namespace faultodds_http
