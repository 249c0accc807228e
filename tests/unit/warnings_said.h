// What the warnings of a reading say in English.
#pragma once

#include <string>

#include "capi/documents/wording.h"
#include "core/reading/reading.h"

inline std::string said(const faultodds::reading::LeakRate& rate) {
  static const faultodds::circuit::Analysis none;
  return faultodds::documents::Words(none).say(rate.warnings);
}
