// Bearer tokens (RFC 6750) and what each may do. A file has one a line: scope, token or the SHA-256
// of it, and optionally a label for the access log. Only hashes are kept. Safe from any number of
// threads.
//
//   # from  echo -n TOKEN | sha256sum
//   read  sha256:9f86d081884c7d659a2feaa0c55ad015a3bf4f1b2b0b822cd15d6c15b0f00a08  work-orders
//   write 6f1c0d2e8b7a4f5d  circuits
#pragma once

#include <memory>
#include <mutex>
#include <optional>
#include <string>
#include <string_view>

#include "bindings/http/route_table.h"

namespace faultodds_http {

struct Bearer {
  Scope scope = Scope::read;  // write includes read
  std::string label;
};

class Tokens {
 public:
  // Replaces all. A message when the file cannot be used; then the tokens before stay.
  std::optional<std::string> load(const std::string& file);

  // Whose token an Authorization field holds. Takes as long whichever it is.
  std::optional<Bearer> find(std::string_view authorization) const;

 private:
  struct Known;
  std::shared_ptr<const Known> known() const;

  mutable std::mutex mutex_;
  std::shared_ptr<const Known> known_;
};

}  // namespace faultodds_http
