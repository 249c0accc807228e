// What the opaque handles of faultodds.h are. Seen by the C layer only; what they hold is in
// engine/.
#pragma once

#include "capi/engine/loaded_model.h"
#include "capi/engine/open_case.h"

struct faultodds_model {
  faultodds::engine::SharedModel loaded;
};

struct faultodds_case {
  faultodds::engine::OpenCase open;
};
