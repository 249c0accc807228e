#include "capi/documents/html_text.h"

namespace faultodds::documents {
namespace {

// U+FFFE and U+FFFF, in UTF-8.
bool is_no_character(std::string_view three) {
  return three.size() == 3 && three[0] == '\xEF' && three[1] == '\xBF' &&
         (three[2] == '\xBE' || three[2] == '\xBF');
}

}  // namespace

std::string escape_html(std::string_view text) {
  std::string escaped;
  for (std::size_t i = 0; i < text.size(); ++i) {
    const char c = text[i];
    const auto byte = static_cast<unsigned char>(c);
    if ((byte < ' ' && c != '\n' && c != '\t') || byte == 0x7F) {
      escaped += ' ';
      continue;
    }
    if (is_no_character(text.substr(i, 3))) {
      escaped += ' ';
      i += 2;
      continue;
    }
    switch (c) {
      case '&':
        escaped += "&amp;";
        break;
      case '<':
        escaped += "&lt;";
        break;
      case '>':
        escaped += "&gt;";
        break;
      case '"':
        escaped += "&quot;";
        break;
      case '\'':
        escaped += "&#39;";
        break;
      default:
        escaped += c;
    }
  }
  return escaped;
}

}  // namespace faultodds::documents
