// The files of --site, below /site/. It reads a file for each request and keeps none.
#pragma once

#include <string>
#include <string_view>

#include "bindings/http/exchange.h"

namespace faultodds_http {

// `path` is what follows /site/, decoded. A directory, with its slash, is its index.html; links are
// followed; no segment may be empty, or . or ..
void answer_page(const std::string& site, std::string_view path, Response& response);

}  // namespace faultodds_http
