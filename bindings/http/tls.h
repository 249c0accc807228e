// The server's certificate and key, and a TLS session (1.2 or 1.3) for each connection. Safe from
// any number of threads; a new certificate holds for connections made after it was read.
#pragma once

#include <openssl/ssl.h>

#include <memory>
#include <mutex>
#include <optional>
#include <string>

#include "bindings/http/transport.h"

namespace faultodds_http {

class TlsCertificate {
 public:
  // PEM files: the certificate with its chain, and the key. A message when they cannot be used;
  // then those before stay.
  std::optional<std::string> load(const std::string& certificate, const std::string& key);

  // Null for want of memory or before load().
  TlsSession session() const;

 private:
  mutable std::mutex mutex_;
  std::shared_ptr<SSL_CTX> context_;
};

}  // namespace faultodds_http
