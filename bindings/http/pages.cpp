#include "bindings/http/pages.h"

#include "bindings/http/members.h"

#include <array>
#include <filesystem>
#include <fstream>
#include <iterator>
#include <system_error>
#include <utility>

namespace faultodds_http {
namespace {

namespace fs = std::filesystem;

constexpr std::uintmax_t largest_file = 64u << 20;  // bytes

// The types that pages are made of; RFC 9239 for the script's.
const char* media_type_of(std::string_view path) {
  constexpr std::array<std::pair<std::string_view, const char*>, 15> types = {{
      {".css", "text/css"},
      {".gif", "image/gif"},
      {".html", "text/html"},
      {".ico", "image/x-icon"},
      {".jpg", "image/jpeg"},
      {".js", "text/javascript"},
      {".json", "application/json"},
      {".mjs", "text/javascript"},
      {".pdf", "application/pdf"},
      {".png", "image/png"},
      {".svg", "image/svg+xml"},
      {".txt", "text/plain"},
      {".wasm", "application/wasm"},
      {".webp", "image/webp"},
      {".woff2", "font/woff2"},
  }};
  for (const auto& [extension, type] : types) {
    if (path.ends_with(extension)) return type;
  }
  return "application/octet-stream";
}

bool stays_inside(std::string_view path) {
  while (true) {
    const std::size_t end = path.find('/');
    const std::string_view segment = path.substr(0, end);
    if (segment.empty() || segment == "." || segment == "..") return false;
    if (end == std::string_view::npos) return true;
    path.remove_prefix(end + 1);
  }
}

bool read_page(const fs::path& file, std::string& text) {
  std::error_code problem;
  if (!fs::is_regular_file(file, problem) || fs::file_size(file, problem) > largest_file ||
      problem) {
    return false;
  }
  std::ifstream in(file, std::ios::binary);
  if (!in) return false;
  text.assign(std::istreambuf_iterator<char>(in), {});
  return !in.bad();
}

}  // namespace

void answer_page(const std::string& site, std::string_view path, Response& response) {
  std::string name(path);
  if (name.empty() || name.back() == '/') name += "index.html";
  std::string text;
  if (!stays_inside(name) || !read_page(fs::path(site) / name, text)) {
    return refuse(response,
                  {404, "not_found", "there is nothing at " + quoted("/site/" + name), ""});
  }
  response.set_body(std::move(text), media_type_of(name));
  response.set_field("Cache-Control", "no-cache");
  response.set_field("Content-Security-Policy",
                     "default-src 'self'; script-src 'self' 'wasm-unsafe-eval'; object-src 'none'; "
                     "base-uri 'none'");
  response.set_field("X-Content-Type-Options", "nosniff");
}

}  // namespace faultodds_http
