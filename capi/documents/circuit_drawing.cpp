#include "capi/documents/circuit_drawing.h"
namespace faultodds::documents {
std::string circuit_drawing(std::string_view, std::string_view) { return "<svg/>"; }
}
