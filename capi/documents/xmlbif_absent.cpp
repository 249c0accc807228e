// Stands in for xmlbif_reader.cpp where the library is built without Expat (FAULTODDS_XMLBIF=OFF).
#include "capi/documents/xmlbif_reader.h"
#include "core/error.h"

namespace faultodds::documents {

network::Network read_xmlbif(std::string_view, const NetworkLimits&) {
  throw Error(Code::invalid_argument,
              "format is FAULTODDS_XMLBIF (2), which this build of the library cannot read; "
              "expected FAULTODDS_BIF (1)");
}

}  // namespace faultodds::documents
