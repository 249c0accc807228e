// The OpenAPI 3.1 description of the adapter, compiled in from openapi.json.
#pragma once

namespace faultodds_http {

extern const char* const openapi_document;

}  // namespace faultodds_http
