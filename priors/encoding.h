// Encodings of text files: which one a file has, as far as its beginning tells, and the file in
// UTF-8. It knows nothing of rows and cells.
#pragma once

#include <cstddef>
#include <string>
#include <string_view>

#include "priors/csv.h"

namespace faultodds::priors {

enum class Encoding { utf_8, utf_16_le, utf_16_be, windows_1252 };
inline constexpr const char* kEncodings[] = {"utf-8", "utf-16-le", "utf-16-be", "windows-1252"};

// What has been read of `source` comes first.
ByteSource after(std::string already_read, ByteSource source);
// As much as there is, up to `most` bytes.
std::string beginning_of(ByteSource& source, std::size_t most);

Encoding encoding_of(std::string_view beginning);
ByteSource as_utf_8(ByteSource source, Encoding encoding);

}  // namespace faultodds::priors
