// Bytes over one accepted socket, plain or under TLS. Nothing here waits: what cannot be done now
// says which event to wait for. It knows no HTTP and no deadlines.
#pragma once

#include <openssl/ssl.h>

#include <cstddef>
#include <memory>

namespace faultodds_http {

struct FreeSession {
  void operator()(SSL* session) const { SSL_free(session); }
};
using TlsSession = std::unique_ptr<SSL, FreeSession>;

class Transport {
 public:
  // Owns the socket, which does not block. Without a session it is plain.
  explicit Transport(int socket, TlsSession session = nullptr);
  ~Transport();
  Transport(const Transport&) = delete;
  Transport& operator=(const Transport&) = delete;

  int socket() const { return socket_; }

  enum class Now {
    moved,        // some bytes, at least one; or the handshake is over
    read_later,   // call again when the socket can be read
    write_later,  // call again when it can be written
    ended         // the other side sends no more, or the connection failed
  };
  struct Result {
    Now now = Now::ended;
    std::size_t bytes = 0;
  };

  bool encrypted() const { return session_ != nullptr; }
  Result handshake();
  Result receive(char* data, std::size_t size);
  // `more` follows at once, so that both go in one packet.
  Result send(const char* data, std::size_t size, bool more = false);

  // Whether something has arrived that receive() has not given out.
  bool has_unread() const;

  // Tells the other side that nothing more will be sent.
  void finish();

 private:
  Result outcome(int returned) const;

  int socket_;
  TlsSession session_;
};

}  // namespace faultodds_http
