#include "bindings/http/transport.h"

#include <openssl/err.h>
#include <sys/socket.h>
#include <unistd.h>

#include <algorithm>
#include <cerrno>
#include <climits>
#include <utility>

namespace faultodds_http {
namespace {

Transport::Result plain(ssize_t moved, Transport::Now later) {
  if (moved > 0) return {Transport::Now::moved, static_cast<std::size_t>(moved)};
  if (moved < 0 && (errno == EAGAIN || errno == EWOULDBLOCK || errno == EINTR)) return {later, 0};
  return {Transport::Now::ended, 0};
}

int as_int(std::size_t size) { return static_cast<int>(std::min<std::size_t>(size, INT_MAX)); }

}  // namespace

Transport::Transport(int socket, TlsSession session)
    : socket_(socket), session_(std::move(session)) {
  if (session_) SSL_set_fd(session_.get(), socket_);
}

Transport::~Transport() {
  session_.reset();
  ::close(socket_);
}

Transport::Result Transport::outcome(int returned) const {
  if (returned > 0) return {Now::moved, static_cast<std::size_t>(returned)};
  switch (SSL_get_error(session_.get(), returned)) {
    case SSL_ERROR_WANT_READ:
      return {Now::read_later, 0};
    case SSL_ERROR_WANT_WRITE:
      return {Now::write_later, 0};
    default:
      return {Now::ended, 0};
  }
}

Transport::Result Transport::handshake() {
  ERR_clear_error();  // of another connection on this thread
  return outcome(SSL_accept(session_.get()));
}

Transport::Result Transport::receive(char* data, std::size_t size) {
  if (!session_) return plain(::recv(socket_, data, size, 0), Now::read_later);
  ERR_clear_error();
  return outcome(SSL_read(session_.get(), data, as_int(size)));
}

Transport::Result Transport::send(const char* data, std::size_t size, bool more) {
  if (!session_) {
    const int flags = MSG_NOSIGNAL | (more ? MSG_MORE : 0);
    return plain(::send(socket_, data, size, flags), Now::write_later);
  }
  ERR_clear_error();
  return outcome(SSL_write(session_.get(), data, as_int(size)));
}

bool Transport::has_unread() const {
  if (session_ && SSL_has_pending(session_.get()) == 1) return true;
  char byte = 0;
  return ::recv(socket_, &byte, 1, MSG_PEEK | MSG_DONTWAIT) > 0;
}

void Transport::finish() {
  if (session_ && SSL_is_init_finished(session_.get()) == 1) {
    ERR_clear_error();
    SSL_shutdown(session_.get());
  }
  ::shutdown(socket_, SHUT_WR);
}

}  // namespace faultodds_http
