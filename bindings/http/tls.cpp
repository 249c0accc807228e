#include "bindings/http/tls.h"

#include <openssl/err.h>

#include <array>
#include <utility>

namespace faultodds_http {
namespace {

std::string reason() {
  const unsigned long code = ERR_get_error();
  std::array<char, 256> text{};
  ERR_error_string_n(code, text.data(), text.size());
  ERR_clear_error();
  return text.data();
}

}  // namespace

std::optional<std::string> TlsCertificate::load(const std::string& certificate,
                                                const std::string& key) {
  ERR_clear_error();
  std::shared_ptr<SSL_CTX> context(SSL_CTX_new(TLS_server_method()), SSL_CTX_free);
  if (!context) return "no TLS context: " + reason();
  SSL_CTX_set_min_proto_version(context.get(), TLS1_2_VERSION);
  SSL_CTX_set_options(context.get(), SSL_OP_NO_RENEGOTIATION | SSL_OP_CIPHER_SERVER_PREFERENCE);
  SSL_CTX_set_mode(context.get(), SSL_MODE_ENABLE_PARTIAL_WRITE |
                                      SSL_MODE_ACCEPT_MOVING_WRITE_BUFFER |
                                      SSL_MODE_RELEASE_BUFFERS);
  if (SSL_CTX_use_certificate_chain_file(context.get(), certificate.c_str()) != 1) {
    return certificate + ": no certificate in PEM: " + reason();
  }
  if (SSL_CTX_use_PrivateKey_file(context.get(), key.c_str(), SSL_FILETYPE_PEM) != 1) {
    return key + ": no private key in PEM for this certificate: " + reason();
  }
  const std::lock_guard lock(mutex_);
  context_ = std::move(context);
  return std::nullopt;
}

TlsSession TlsCertificate::session() const {
  std::shared_ptr<SSL_CTX> context;
  {
    const std::lock_guard lock(mutex_);
    context = context_;
  }
  return TlsSession(context ? SSL_new(context.get()) : nullptr);
}

}  // namespace faultodds_http
