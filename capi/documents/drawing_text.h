// Texts of a drawing: as wide as they are said to be, whatever font there is, and in lines.
#pragma once

#include <cstddef>
#include <string>
#include <vector>

namespace faultodds::documents {

std::string drawing_number(double value);

// The look of all that has the class `circuit`, as an SVG element.
std::string drawing_style();

// An SVG element of the class `kind` whose text is `character` wide for each of its characters.
std::string text_at(double x, double y, const std::string& text, double character,
                    const char* kind);

// Lines of at most `most` bytes, longer words divided, `lines` of them (npos: all); what is cut
// ends in " ...".
std::vector<std::string> wrapped(const std::string& text, std::size_t most, std::size_t lines);

}  // namespace faultodds::documents
