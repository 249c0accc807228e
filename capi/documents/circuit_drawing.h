// A circuit as a drawing: symbols after ISO 1219-1, laid out in layers. With an assessment its
// suspects are shaded, the leak path of the first is drawn and the port of the next test marked.
#pragma once

#include <map>
#include <string>
#include <string_view>

#include "capi/documents/drawing_overlay.h"
#include "core/circuit/analysis.h"
#include "core/circuit/description.h"

namespace faultodds::documents {

// SVG of a document, without a case. Throws Error.
std::string circuit_drawing(std::string_view circuit);

struct DrawingView {
  double width = 0;  // that it shall fit in, at 96 to the inch: rows are divided; 0: any
  // Only what the case concerns, and no text but that of the parts: the cautions of the test that
  // it marks are for whoever shows it, before it.
  bool concerned = false;
  const std::map<std::string, std::string>* titles = nullptr;  // of parts, before their own
};

// Of a circuit that is loaded, `analysis` being of `description`. Empty where the case concerns no
// part and `view` wants those only.
std::string case_drawing(const circuit::Description& description, const circuit::Analysis& analysis,
                         Overlay overlay, const DrawingView& view);

}  // namespace faultodds::documents
