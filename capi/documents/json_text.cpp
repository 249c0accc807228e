#include "capi/documents/json_text.h"

#include <cmath>

#include "core/quoted_text.h"
#include "core/number_text.h"

namespace faultodds::documents {

void JsonText::separate() {
  if (!first_) text_ += ',';
  first_ = false;
}

JsonText& JsonText::begin_object() {
  separate();
  text_ += '{';
  first_ = true;
  return *this;
}

JsonText& JsonText::end_object() {
  text_ += '}';
  first_ = false;
  return *this;
}

JsonText& JsonText::begin_list() {
  separate();
  text_ += '[';
  first_ = true;
  return *this;
}

JsonText& JsonText::end_list() {
  text_ += ']';
  first_ = false;
  return *this;
}

JsonText& JsonText::key(std::string_view name) {
  separate();
  quote(name);
  text_ += ':';
  first_ = true;
  return *this;
}

JsonText& JsonText::value(std::string_view text) {
  separate();
  quote(text);
  return *this;
}

JsonText& JsonText::value(double number) {
  if (!std::isfinite(number)) return null();
  separate();
  if (number == 0) number = 0;  // no negative zero
  char buffer[32];
  const auto end = write_number(buffer, buffer + sizeof buffer, number).ptr;
  text_.append(buffer, end);
  return *this;
}

JsonText& JsonText::value(std::uint64_t number) {
  separate();
  text_ += std::to_string(number);
  return *this;
}

JsonText& JsonText::value(bool flag) {
  separate();
  text_ += flag ? "true" : "false";
  return *this;
}

JsonText& JsonText::null() {
  separate();
  text_ += "null";
  return *this;
}

JsonText& JsonText::raw(std::string_view json) {
  separate();
  text_ += json;
  return *this;
}

void JsonText::quote(std::string_view text) {
  const auto plain = [](char c) {
    return static_cast<unsigned char>(c) >= 0x20 && static_cast<unsigned char>(c) < 0x7F &&
           c != '"' && c != '\\';
  };
  text_ += '"';
  // Bytes and no early way out, so that compilers look at many at once.
  unsigned char special = 0, high = 0;
  for (const char c : text) {
    const auto byte = static_cast<unsigned char>(c);
    special |= static_cast<unsigned char>(plain(c) ? 0 : 1);
    high |= byte;
  }
  const bool ascii = high < 0x80;
  if (special == 0) {
    text_ += text;
    text_ += '"';
    return;
  }
  // Text from a document is valid UTF-8 already; text from elsewhere is made so.
  const std::string valid = ascii ? std::string() : valid_utf8(text);
  for (const char c : ascii ? text : std::string_view(valid)) {
    if (plain(c) || static_cast<unsigned char>(c) >= 0x80) {
      text_ += c;
      continue;
    }
    switch (c) {
      case '"':
        text_ += "\\\"";
        break;
      case '\\':
        text_ += "\\\\";
        break;
      case '\n':
        text_ += "\\n";
        break;
      case '\t':
        text_ += "\\t";
        break;
      case '\r':
        text_ += "\\r";
        break;
      default: {
        constexpr const char* kHex = "0123456789abcdef";
        const auto byte = static_cast<unsigned char>(c);
        text_ += "\\u00";
        text_ += kHex[byte >> 4];
        text_ += kHex[byte & 15];
      }
    }
  }
  text_ += '"';
}

}  // namespace faultodds::documents
