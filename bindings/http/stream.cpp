#include "bindings/http/stream.h"

#include <netdb.h>
#include <poll.h>
#include <sys/socket.h>

#include <algorithm>
#include <cerrno>
#include <cstdlib>
#include <cstring>
#include <utility>

namespace faultodds_http {
namespace {

bool wait_for(int socket, short events, Clock::time_point deadline) {
  while (true) {
    const auto left =
        std::chrono::duration_cast<std::chrono::milliseconds>(deadline - Clock::now()).count();
    if (left < 0) return false;
    pollfd entry{socket, events, 0};
    const int ready = ::poll(&entry, 1, static_cast<int>(std::min<long long>(left + 1, 60'000)));
    if (ready > 0) return true;
    if (ready < 0 && errno != EINTR) return false;
  }
}

void name_of(const sockaddr_storage& address, socklen_t length, std::string& ip, int& port) {
  char host[NI_MAXHOST], service[NI_MAXSERV];
  if (::getnameinfo(reinterpret_cast<const sockaddr*>(&address), length, host, sizeof(host),
                    service, sizeof(service), NI_NUMERICHOST | NI_NUMERICSERV) != 0) {
    return;
  }
  ip = host;
  port = std::atoi(service);
}

}  // namespace

ssize_t receive(int socket, char* data, std::size_t size, Clock::time_point deadline) {
  while (wait_for(socket, POLLIN, deadline)) {
    const ssize_t got = ::recv(socket, data, size, MSG_DONTWAIT);
    if (got >= 0) return got;
    if (errno != EINTR && errno != EAGAIN && errno != EWOULDBLOCK) return -1;
  }
  return -1;
}

ssize_t transmit(int socket, const char* data, std::size_t size, Clock::time_point deadline) {
  std::size_t sent = 0;
  while (sent < size && wait_for(socket, POLLOUT, deadline)) {
    const ssize_t n = ::send(socket, data + sent, size - sent, MSG_DONTWAIT | MSG_NOSIGNAL);
    if (n > 0) {
      sent += static_cast<std::size_t>(n);
    } else if (n < 0 && errno != EINTR && errno != EAGAIN && errno != EWOULDBLOCK) {
      return -1;
    }
  }
  return sent == size ? static_cast<ssize_t>(sent) : -1;
}

RequestStream::RequestStream(int socket, std::string buffered, std::size_t to_come,
                             Clock::duration timeout)
    : socket_(socket),
      buffered_(std::move(buffered)),
      to_come_(to_come),
      timeout_(timeout),
      read_deadline_(Clock::now() + timeout) {}

bool RequestStream::is_readable() const {
  return read_ < buffered_.size() || (to_come_ > 0 && wait_for(socket_, POLLIN, read_deadline_));
}

bool RequestStream::is_writable() const {
  return wait_for(socket_, POLLOUT, write_deadline_.value_or(Clock::now() + timeout_));
}

ssize_t RequestStream::read(char* data, std::size_t size) {
  if (read_ < buffered_.size()) {
    const std::size_t n = std::min(size, buffered_.size() - read_);
    std::memcpy(data, buffered_.data() + read_, n);
    read_ += n;
    return static_cast<ssize_t>(n);
  }
  if (to_come_ == 0) return 0;
  const ssize_t got = receive(socket_, data, std::min(size, to_come_), read_deadline_);
  if (got > 0) to_come_ -= static_cast<std::size_t>(got);
  return got;
}

ssize_t RequestStream::write(const char* data, std::size_t size) {
  if (!write_deadline_) write_deadline_ = Clock::now() + timeout_;
  return transmit(socket_, data, size, *write_deadline_);
}

void RequestStream::get_remote_ip_and_port(std::string& ip, int& port) const {
  sockaddr_storage address{};
  socklen_t length = sizeof(address);
  if (::getpeername(socket_, reinterpret_cast<sockaddr*>(&address), &length) == 0) {
    name_of(address, length, ip, port);
  }
}

void RequestStream::get_local_ip_and_port(std::string& ip, int& port) const {
  sockaddr_storage address{};
  socklen_t length = sizeof(address);
  if (::getsockname(socket_, reinterpret_cast<sockaddr*>(&address), &length) == 0) {
    name_of(address, length, ip, port);
  }
}

socket_t RequestStream::socket() const { return socket_; }

bool RequestStream::drained() const { return read_ == buffered_.size() && to_come_ == 0; }

}  // namespace faultodds_http
