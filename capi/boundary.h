// What every function of the C ABI does at its edge: checks arguments, lets no exception out, and
// copies what it gives away. The functions are in faultodds.cpp, networks.cpp and priors.cpp; what
// they promise is written in faultodds.h.
#pragma once

#include <cstddef>
#include <cstdint>
#include <cstring>
#include <exception>
#include <new>
#include <string>
#include <string_view>

#include "capi/faultodds.h"
#include "core/error.h"
#include "core/stop.h"

struct faultodds_cancel {
  faultodds::StopSignal signal;
};

namespace faultodds::boundary {

// A malloc'ed copy that ends with NUL. Throws std::bad_alloc.
char* copy_text(std::string_view text);

// Never NULL: without memory it is an object that says so.
faultodds_error* new_error(Code code, std::string_view message, std::string_view pointer) noexcept;
void free_error(faultodds_error* error) noexcept;

// Calls `give(code, message, pointer)` for the exception being handled and returns its status.
template <typename Give>
faultodds_status explain(Give give) noexcept {
  try {
    throw;
  } catch (const Error& error) {
    give(error.code(), error.what(), error.pointer());
    return static_cast<faultodds_status>(error.code());
  } catch (const std::bad_alloc&) {
    give(Code::out_of_memory, "out of memory", "");
    return FAULTODDS_OUT_OF_MEMORY;
  } catch (const std::exception& exception) {
    give(Code::internal, exception.what(), "");
    return FAULTODDS_INTERNAL;
  } catch (...) {
    give(Code::internal, "an unknown exception", "");
    return FAULTODDS_INTERNAL;
  }
}

// What may end the call; NULL: nothing.
inline const StopSignal* signal_of(const faultodds_cancel* cancel) {
  return cancel == nullptr ? nullptr : &cancel->signal;
}

// These throw Error(invalid_argument).
[[noreturn]] void refuse(const std::string& message);
void need(const void* argument, const char* name);
std::string_view text_argument(const char* text, std::size_t length, const char* name);
// Structs grow at their end: one from a later header is as good as its part that is known here; a
// size below that is refused.
void check_struct_size(std::size_t size, std::size_t known, const char* name);
// A caller's struct, without what only a later version knows; all 0 where there is none.
template <typename Struct>
Struct known_part(const Struct* given, const char* name) {
  Struct known{};
  if (given == nullptr) return known;
  check_struct_size(given->struct_size, sizeof(Struct), name);
  std::memcpy(&known, given, sizeof(Struct));
  return known;
}
// Makes a caller's struct ready to be filled: all 0 but its size.
template <typename Struct>
void clear_struct(Struct* out, const char* name) {
  check_struct_size(out->struct_size, sizeof(Struct), name);
  const std::size_t size = out->struct_size;
  std::memset(static_cast<void*>(out), 0, size);
  out->struct_size = size;
}

// Runs `body`, which the `cancel` of `options` may end; an exception becomes a status and, if
// wanted, an error object.
template <typename Body>
faultodds_status guarded(const faultodds_call_options* options, faultodds_error** error,
                         Body body) noexcept {
  if (error != nullptr) *error = nullptr;
  try {
    const StopScope scope(signal_of(known_part(options, "options").cancel));
    check_stop();
    body();
    return FAULTODDS_OK;
  } catch (...) {
    return explain([error](Code code, std::string_view message, std::string_view pointer) {
      if (error != nullptr) *error = new_error(code, message, pointer);
    });
  }
}

template <typename Body>
faultodds_status guarded(faultodds_error** error, Body body) noexcept {
  return guarded(nullptr, error, body);
}

template <typename Value>
void clear(Value* out, Value nothing = {}) {
  if (out != nullptr) *out = nothing;
}

// A budget in bytes as this machine counts them; invalid_argument where it cannot.
std::size_t budget_argument(std::uint64_t bytes, const char* name);

}  // namespace faultodds::boundary
