// Reads a Bayesian network in the Interchange Format for Bayesian Networks (BIF 0.15, Cozman 1998)
// from text. Properties are skipped. It reads no files and no other format (xmlbif_reader.h).
#pragma once

#include <string_view>

#include "core/network/network.h"

namespace faultodds::documents {

// Throws Error(invalid_document, "line 12: ..."). Variables keep the file's order.
network::Network read_bif(std::string_view text);

}  // namespace faultodds::documents
