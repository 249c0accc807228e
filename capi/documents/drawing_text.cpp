#include "capi/documents/drawing_text.h"

#include <algorithm>

#include "capi/documents/html_text.h"
#include "core/reading/units.h"

namespace faultodds::documents {

std::string drawing_number(double value) { return reading::format_number(value, 6); }

std::string text_at(double x, double y, const std::string& text, double character,
                    const char* kind) {
  if (text.empty()) return "";
  std::size_t characters = 0;
  for (const char c : text) characters += (static_cast<unsigned char>(c) & 0xC0) != 0x80;
  const double width = character * static_cast<double>(characters);
  return "<text class=\"" + std::string(kind) + "\" x=\"" + drawing_number(x) + "\" y=\"" +
         drawing_number(y) + "\" text-anchor=\"start\" textLength=\"" + drawing_number(width) +
         "\" lengthAdjust=\"spacingAndGlyphs\">" + escape_html(text) + "</text>\n";
}

namespace {

// Where a word ends, or as much of it as a line takes: between two characters.
std::size_t end_of_word(const std::string& text, std::size_t at, std::size_t most) {
  const std::size_t end = std::min(text.find(' ', at), text.size());
  if (end - at <= most) return end;
  std::size_t cut = at + most;
  while (cut > at && (static_cast<unsigned char>(text[cut]) & 0xC0) == 0x80) --cut;
  return cut > at ? cut : end;
}

}  // namespace

std::vector<std::string> wrapped(const std::string& text, std::size_t most, std::size_t lines) {
  std::vector<std::string> out;
  std::string line;
  std::size_t at = 0;
  while (at < text.size() && out.size() <= lines) {
    const std::size_t end = end_of_word(text, at, most);
    const std::string word = text.substr(at, end - at);
    at = end < text.size() && text[end] == ' ' ? end + 1 : end;
    if (!line.empty() && line.size() + 1 + word.size() > most) {
      out.push_back(line);
      line.clear();
    }
    line += (line.empty() ? "" : " ") + word;
  }
  if (!line.empty()) out.push_back(line);
  if (out.size() > lines) {
    out.resize(lines);
    out.back() += " ...";
  }
  return out;
}

std::string drawing_style() {
  return "<style>\n"
         ".circuit{background:#fff;font-family:sans-serif}\n"
         ".circuit path,.circuit circle,.circuit rect{fill:none;stroke:#111;stroke-width:1.1}\n"
         ".circuit .line{stroke:#123}\n.circuit .joint,.circuit .filled{fill:#111}\n"
         ".circuit .dashed{stroke-dasharray:3 2}\n.circuit .part{stroke:none}\n"
         ".circuit .suspect{fill:#d33;stroke:none}\n"
         ".circuit .leak{stroke:#c30;stroke-width:3.2;stroke-opacity:.55}\n"
         ".circuit .oil{fill:#c30;stroke:none}\n.circuit .mark{stroke:#05c;stroke-width:2.4}\n"
         ".circuit text{font-size:10px;fill:#111}\n"
         ".circuit .port{font-size:8px;fill:#555}\n"
         ".circuit .heading{font-size:13px;font-weight:bold}\n"
         ".circuit .caution{font-weight:bold;fill:#a00}\n"
         "</style>\n";
}

}  // namespace faultodds::documents
