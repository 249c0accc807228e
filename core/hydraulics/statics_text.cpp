#include "core/hydraulics/statics.h"
#include "core/reading/units.h"

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

std::string reason_text(const Refusal& refusal) {
  const std::string& at = refusal.volume;
  switch (refusal.reason) {
    case Reason::none:
      break;
    case Reason::pump_or_motor:
      return "The pressure stands on a pump or motor at " + at +
             "; its maker has to allow a hold into it.";
    case Reason::accumulator:
      return "The pressure goes into an accumulator at " + at +
             ", which is not shut off and discharged.";
    case Reason::no_line:
      return at + " has no line or plug that can be taken off.";
    case Reason::brake:
      return "The pressure goes into a brake line at " + at +
             ", and the circuit does not allow this hold by name.";
    case Reason::steering:
      return "The pressure goes into a steering line at " + at +
             ", and the circuit does not allow this hold by name.";
    case Reason::may_stand_open:
      return refusal.part +
             " may stand open towards tank: its pilot is pressurised too, or its "
             "pilot or ratio is not known. A hold at " +
             at + " would show nothing.";
    case Reason::grows:
      return "The pressure at " + at + " would grow from piston to piston.";
    case Reason::below_gauge:
      return "What is allowed at " + at + " is less than a gauge shows.";
    case Reason::not_rated:
      return "No rating and no relief setting is known for " + at +
             ": take the pressure from the maker's documents.";
    case Reason::no_setting:
      return "The setting of " + refusal.part + " at " + at +
             " is not known: take the pressure from the maker's documents.";
    case Reason::no_areas:
      return "The areas of the piston at " + at +
             " are not known, nor what pressure it makes: take the pressure from the maker's "
             "documents.";
    case Reason::low_pressure_port:
      return at +
             " drains to tank in service and nothing says what it stands: take the pressure "
             "from the maker's documents.";
  }
  return "";
}

namespace {

std::string limit_sentence(const PressureLimit& limit) {
  const std::string pressure = reading::format_pressure(limit.stands);
  switch (limit.by) {
    case LimitBy::fitting:
      return "the port is rated for " + pressure;
    case LimitBy::cavity:
      return "the cavity of " + limit.part + " is rated for " + pressure;
    case LimitBy::component:
      return limit.part + " is rated for " + pressure;
    case LimitBy::type:
      return limit.part + " is of a kind that stands " + pressure + " there";
    case LimitBy::line:
      return "line " + limit.part + " is rated for " + pressure;
    case LimitBy::reduced:
      return limit.part + " reduces the pressure there to " + pressure;
    case LimitBy::relief:
      return "80 % of the setting of " + limit.part + ", " + pressure;
    case LimitBy::in_service:
      return "in service it sees no more than " + limit.part + " allows; 80 % of " + pressure;
    case LimitBy::working:
      break;
  }
  return "function " + limit.part + " works at " + pressure;
}

}  // namespace

std::string limit_text(const PressureLimit& limit) {
  std::string text = limit_sentence(limit);
  if (limit.factor > 1 + 1e-9 || limit.factor < 1 - 1e-9) {
    text +=
        "; " + reading::format_number(limit.factor, 4) + " times the test pressure stands there";
  }
  if (limit.suspect == "clearance") {
    text += "; reached through the clearance of a pump or motor";
  } else if (!limit.suspect.empty()) {
    text += "; reached if " + limit.suspect + " is present";
  }
  return text;
}

}  // namespace faultodds::hydraulics
