// Text that goes into an HTML page. It knows no pages (case_note.h, the report of the command).
#pragma once

#include <string>
#include <string_view>

namespace faultodds::documents {

// With `&`, `<`, `>` and both quotes as character references.
std::string escape_html(std::string_view text);

}  // namespace faultodds::documents
