#include "capi/boundary.h"

#include <algorithm>
#include <chrono>
#include <cstdint>
#include <cstdlib>
#include <cstring>

using faultodds::Code;

static_assert(FAULTODDS_OK == static_cast<int>(Code::ok));
static_assert(FAULTODDS_INVALID_ARGUMENT == static_cast<int>(Code::invalid_argument));
static_assert(FAULTODDS_INVALID_JSON == static_cast<int>(Code::invalid_json));
static_assert(FAULTODDS_INVALID_DOCUMENT == static_cast<int>(Code::invalid_document));
static_assert(FAULTODDS_INVALID_CIRCUIT == static_cast<int>(Code::invalid_circuit));
static_assert(FAULTODDS_INVALID_CASE == static_cast<int>(Code::invalid_case));
static_assert(FAULTODDS_INVALID_PRIORS == static_cast<int>(Code::invalid_priors));
static_assert(FAULTODDS_CONFLICTING_EVIDENCE == static_cast<int>(Code::conflicting_evidence));
static_assert(FAULTODDS_LIMIT_EXCEEDED == static_cast<int>(Code::limit_exceeded));
static_assert(FAULTODDS_OUT_OF_MEMORY == static_cast<int>(Code::out_of_memory));
static_assert(FAULTODDS_CANCELLED == static_cast<int>(Code::cancelled));
static_assert(FAULTODDS_INTERNAL == static_cast<int>(Code::internal));

// One block of memory: the struct, then both strings.
struct faultodds_error {
  faultodds_status code;
  const char* message;
  const char* pointer;
};

namespace faultodds::boundary {
namespace {

// Given out when there is no memory left for an error object; never freed.
constinit faultodds_error g_no_memory = {FAULTODDS_OUT_OF_MEMORY, "out of memory", ""};

}  // namespace

char* copy_text(std::string_view text) {
  char* copy = static_cast<char*>(std::malloc(text.size() + 1));
  if (copy == nullptr) throw std::bad_alloc();
  std::memcpy(copy, text.data(), text.size());
  copy[text.size()] = '\0';
  return copy;
}

faultodds_error* new_error(Code code, std::string_view message, std::string_view pointer) noexcept {
  const std::size_t size = sizeof(faultodds_error) + message.size() + 1 + pointer.size() + 1;
  void* block = std::malloc(size);
  if (block == nullptr) return &g_no_memory;
  char* text = static_cast<char*>(block) + sizeof(faultodds_error);
  const auto append = [&text](std::string_view from) {
    const char* const start = text;
    for (const char c : from) *text++ = c == '\0' ? ' ' : c;
    *text++ = '\0';
    return start;
  };
  const char* const message_copy = append(message);
  const char* const pointer_copy = append(pointer);
  return new (block)
      faultodds_error{static_cast<faultodds_status>(code), message_copy, pointer_copy};
}

void free_error(faultodds_error* error) noexcept {
  if (error != &g_no_memory) std::free(error);
}

void refuse(const std::string& message) { throw Error(Code::invalid_argument, message); }

void need(const void* argument, const char* name) {
  if (argument == nullptr) refuse(std::string(name) + " is NULL; expected a pointer");
}

std::string_view text_argument(const char* text, std::size_t length, const char* name) {
  if (text == nullptr && length != 0) {
    refuse(std::string(name) + " is NULL with length " + std::to_string(length) +
           "; expected a pointer, or length 0");
  }
  if (length > static_cast<std::size_t>(PTRDIFF_MAX)) {
    refuse(std::string(name) + " has length " + std::to_string(length) +
           "; expected the number of bytes");
  }
  return text == nullptr ? std::string_view() : std::string_view(text, length);
}

void check_struct_size(std::size_t size, std::size_t known, const char* name) {
  constexpr std::size_t kMost = 4096;
  if (size < known || size > kMost) {
    refuse(std::string(name) + "->struct_size is " + std::to_string(size) + "; expected " +
           std::to_string(known) + " (sizeof) or that of a later version");
  }
}

std::size_t budget_argument(std::uint64_t bytes, const char* name) {
  if (bytes > SIZE_MAX) {
    refuse(std::string(name) + " is " + std::to_string(bytes) + "; expected at most " +
           std::to_string(SIZE_MAX));
  }
  return static_cast<std::size_t>(bytes);
}

}  // namespace faultodds::boundary

extern "C" {

faultodds_status faultodds_error_code(const faultodds_error* error) {
  return error == nullptr ? FAULTODDS_OK : error->code;
}

const char* faultodds_error_message(const faultodds_error* error) {
  return error == nullptr ? "" : error->message;
}

const char* faultodds_error_pointer(const faultodds_error* error) {
  return error == nullptr ? "" : error->pointer;
}

void faultodds_error_free(faultodds_error* error) { faultodds::boundary::free_error(error); }

faultodds_status faultodds_cancel_new(faultodds_cancel** cancel, faultodds_error** error) {
  faultodds::boundary::clear(cancel);
  return faultodds::boundary::guarded(error, [&] {
    faultodds::boundary::need(cancel, "cancel");
    *cancel = new faultodds_cancel;
  });
}

void faultodds_cancel_free(faultodds_cancel* cancel) { delete cancel; }

void faultodds_cancel_now(faultodds_cancel* cancel) {
  if (cancel != nullptr) cancel->signal.stop();
}

void faultodds_cancel_after_ms(faultodds_cancel* cancel, uint64_t milliseconds) {
  if (cancel == nullptr) return;
  // A century is never.
  constexpr uint64_t kMost = uint64_t{1000} * 60 * 60 * 24 * 36525;
  cancel->signal.stop_at(
      faultodds::StopSignal::Clock::now() +
      std::chrono::milliseconds(static_cast<int64_t>(std::min(milliseconds, kMost))));
}

void faultodds_cancel_reset(faultodds_cancel* cancel) {
  if (cancel != nullptr) cancel->signal.reset();
}

}  // extern "C"
