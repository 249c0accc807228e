// Which values such parts usually have: one table of ranges, each with its source, and what the
// author has probably done where a value lies outside (another unit, a point in the wrong place).
// It refuses nothing: the readers say what is not possible. Values that only make sense beside
// others (a rod and its bore) are in relations.h.
#pragma once

#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "core/authoring/finding.h"
#include "core/circuit/description.h"
#include "core/reading/units.h"

namespace faultodds::authoring {

struct UsualRange {
  const char* place;                            // "components/*/bore"; `*` is any one token
  const char* type;                             // a component type, or `*`
  std::optional<reading::Dimension> dimension;  // nothing: a plain number
  const char* least;                            // as documents write it
  const char* most;
  const char* source;
};

// Its rows, the first that fits a place decides.
const std::vector<UsualRange>& usual_ranges();

// The row for the field at `pointer` of a component of `type` (empty where there is none).
const UsualRange* usual_range(std::string_view pointer, std::string_view type);

// The number as written in SI, a plain number as it stands; nothing if it is not of the dimension.
std::optional<double> value_of(const std::string& text,
                               const std::optional<reading::Dimension>& dimension);

// What explains that `text` is not within [least, most] (SI): the unit that would, or the digits.
std::string likely_slip(const std::string& text, const std::optional<reading::Dimension>& dimension,
                        double least, double most);

// Every value of the document outside its usual range.
void check_usual_values(const circuit::Description& description, const Written& written,
                        Findings* findings);

}  // namespace faultodds::authoring
