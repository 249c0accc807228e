// Reads a Bayesian network in the XML Interchange Format for Bayesian Networks (XMLBIF 0.3, Cozman
// 1998) from text. Properties are skipped. The document type may be declared inside the text; no
// entity may, and nothing outside the text is ever read.
#pragma once

#include <string_view>

#include "capi/documents/network_text.h"
#include "core/network/network.h"

namespace faultodds::documents {

// Throws Error(invalid_document or limit_exceeded, "line 12: ..."). Variables keep the text's
// order. Rows that sum to 1 within 1e-6 are rescaled to sum to 1.
network::Network read_xmlbif(std::string_view text, const NetworkLimits& limits = {});

}  // namespace faultodds::documents
