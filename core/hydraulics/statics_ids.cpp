#include "core/hydraulics/statics.h"

namespace faultodds::hydraulics {

const char* reason_id(Reason reason) {
  switch (reason) {
    case Reason::none:
      break;
    case Reason::pump_or_motor:
      return "pump_or_motor";
    case Reason::accumulator:
      return "accumulator";
    case Reason::no_line:
      return "no_line";
    case Reason::brake:
      return "brake";
    case Reason::steering:
      return "steering";
    case Reason::may_stand_open:
      return "may_stand_open";
    case Reason::grows:
      return "grows";
    case Reason::below_gauge:
      return "below_gauge";
    case Reason::not_rated:
      return "not_rated";
    case Reason::no_setting:
      return "no_setting";
    case Reason::no_areas:
      return "no_areas";
    case Reason::low_pressure_port:
      return "low_pressure_port";
  }
  return "none";
}

const char* limit_id(LimitBy by) {
  switch (by) {
    case LimitBy::fitting:
      return "fitting";
    case LimitBy::cavity:
      return "cavity";
    case LimitBy::component:
      return "component";
    case LimitBy::type:
      return "type";
    case LimitBy::line:
      return "line";
    case LimitBy::reduced:
      return "reduced";
    case LimitBy::relief:
      return "relief";
    case LimitBy::in_service:
      return "in_service";
    case LimitBy::working:
      break;
  }
  return "working_pressure";
}

}  // namespace faultodds::hydraulics
