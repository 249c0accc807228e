#include "core/reading/reading.h"

#include <algorithm>
#include <cmath>
#include <numbers>
#include <string_view>

#include "core/error.h"
#include "core/reading/units.h"

namespace faultodds::reading {
namespace {

constexpr double ml_per_min = 60e6;  // one m3/s in mL/min

// Effective bulk modulus of oil in hoses with a little air, when the reading gives none.
constexpr double default_bulk_modulus = 1.0e9;  // Pa; common practice, no source

// Pressure of trapped oil per kelvin: thermal expansion 7e-4/K times a stiff 1.4 GPa. A common
// rule, from memory; good enough to tell a cooling machine from a leaking one.
constexpr double pressure_per_kelvin = 1.0e6;  // Pa/K

// How well that is known (air and hoses change it by a third), and a temperature change of oil in a
// closed volume, taken from outside. Working judgement.
constexpr double pressure_per_kelvin_error = 0.3;  // of the correction
constexpr double temperature_error = 0.5;          // K

// A flow test that reads its rated flow or more: the loss is below what a shop meter resolves.
// Working judgement.
constexpr double meter_resolution = 0.01;  // of rated flow

[[noreturn]] void refuse(std::string_view field, const std::string& message) {
  throw Error(Code::invalid_case, message, field.empty() ? "" : "/" + std::string(field));
}

std::string ticked(std::string_view field) {
  std::string out = "`";
  out += field;
  return out += '`';
}

// A companion value that must be there, finite and more than zero.
double positive(const std::optional<double>& value, std::string_view field, std::string_view unit,
                const std::string& needed_for) {
  if (!value) {
    refuse(field, ticked(field) + " is missing; " + needed_for + " needs it");
  }
  if (!std::isfinite(*value) || *value <= 0) {
    refuse(field, ticked(field) + " is " + format_number(*value) + " " + std::string(unit) +
                      "; expected more than 0");
  }
  return *value;
}

// The quantity read itself. Nothing seen is not a reading of zero.
double measured(double value, std::string_view field, std::string_view unit) {
  if (!std::isfinite(value) || value < 0) {
    refuse(field, ticked(field) + " is " + format_number(value) + " " + std::string(unit) +
                      "; expected more than 0");
  }
  if (value == 0) {
    refuse(field, ticked(field) +
                      " is 0; no instrument reads exactly nothing: give `below` with the smallest "
                      "leak rate that would have been noticed");
  }
  return value;
}

struct Companion {
  std::string_view field;
  const std::optional<double>& value;
  bool used;
};

void refuse_unused(std::initializer_list<Companion> companions, std::string_view form) {
  for (const Companion& companion : companions) {
    if (companion.value && !companion.used) {
      refuse(companion.field,
             ticked(companion.field) + " has no meaning beside `" + std::string(form) + "`");
    }
  }
}

// The one form given; throws when there is none or more than one.
std::string_view form_of(const Reading& r) {
  const std::pair<std::string_view, bool> forms[] = {{"leak_rate", r.leak_rate.has_value()},
                                                     {"pressure_drop", r.pressure_drop.has_value()},
                                                     {"supply_flow", r.supply_flow.has_value()},
                                                     {"distance", r.distance.has_value()},
                                                     {"speed", r.speed.has_value()},
                                                     {"flow", r.flow.has_value()},
                                                     {"below", r.below.has_value()}};
  std::string_view form;
  for (const auto& [name, given] : forms) {
    if (!given) continue;
    if (!form.empty()) {
      refuse("", "a reading has one form; `" + std::string(form) + "` and `" + std::string(name) +
                     "` are both given");
    }
    form = name;
  }
  if (form.empty()) {
    refuse("",
           "a reading needs one of `leak_rate`, `pressure_drop`, `supply_flow`, `distance`, "
           "`speed`, `flow`, `below`; none is given");
  }
  return form;
}

// q = (V/K) dP/dt, the drop first corrected for temperature.
LeakRate pressure_decay(const Reading& r, const Setting& setting) {
  const std::string needed_for = "a pressure drop";
  const double time = positive(r.time, "time", "s", needed_for);
  const double volume =
      positive(r.volume ? r.volume : setting.volume, "volume", "m3",
               needed_for + " where the circuit does not give the trapped volume");
  const double modulus = r.bulk_modulus ? positive(r.bulk_modulus, "bulk_modulus", "Pa", needed_for)
                                        : default_bulk_modulus;
  const auto rate = [&](double drop) { return volume / modulus * drop / time * ml_per_min; };

  double drop = *r.pressure_drop;
  if (!r.temperature_change) {
    return {rate(measured(drop, "pressure_drop", "Pa")), false,
            "No oil temperatures were given: trapped oil that cools loses about 10 bar per kelvin, "
            "which looks like a leak."};
  }
  const double change = *r.temperature_change;
  if (!std::isfinite(change)) refuse("temperature_end", "the temperatures are not finite numbers");
  const double corrected = drop + pressure_per_kelvin * change;
  const double error =
      rate(pressure_per_kelvin * std::hypot(pressure_per_kelvin_error * change, temperature_error));
  if (corrected > 0) {
    return {rate(corrected), false,
            "The pressure drop was corrected from " + format_pressure(drop) + " to " +
                format_pressure(corrected) + " for an oil temperature change of " +
                format_number(change) + " K, at about 10 bar per kelvin (a common rule).",
            error};
  }
  return {rate(measured(drop, "pressure_drop", "Pa")), true,
          "Cooling of the oil by " + format_number(-change) +
              " K alone explains the pressure drop (about 10 bar per kelvin, a common rule): the "
              "leak is only known to be smaller than the drop suggests. Repeat the hold once the "
              "temperature is steady.",
          error};
}

// Lost share of the rated flow.
LeakRate flow_loss(const Reading& r, double rated) {
  const double flow = *r.flow;
  if (!std::isfinite(flow) || flow < 0) {
    refuse("flow", "`flow` is " + format_number(flow) + " m3/s; expected 0 or more");
  }
  const double loss = (rated - flow) / rated;
  if (loss > 0) return {loss, false, {}};
  return {meter_resolution, true,
          "The measured flow is not less than the rated flow: the loss is taken as below 1 % of "
          "the rated flow."};
}

void append(std::string& warning, const std::string& sentence) {
  if (!warning.empty()) warning += ' ';
  warning += sentence;
}

// ln Phi(z), to full precision from z = -1e150 to infinity.
double log_normal_cdf(double z) {
  if (z > 0) return std::log1p(-0.5 * std::erfc(z / std::numbers::sqrt2));
  if (z > -30) return std::log(0.5 * std::erfc(-z / std::numbers::sqrt2));
  // Asymptotic series of the tail; the next term is below 1e-13 here.
  const double s = 1 / (z * z);
  return -0.5 * z * z - std::log(-z) - 0.5 * std::log(2 * std::numbers::pi) +
         std::log1p(-s * (1 - 3 * s * (1 - 5 * s * (1 - 7 * s * (1 - 9 * s)))));
}

}  // namespace

LeakRate leak_rate(const Reading& reading, const Setting& setting) {
  const Reading& r = reading;
  const std::string_view form = form_of(r);
  const bool decay = form == "pressure_drop";
  const bool drift = form == "distance" || form == "speed";

  if (decay && (setting.drift || setting.flow_test)) {
    refuse(form,
           "`pressure_drop` is a reading of a locked-out hold; a drift needs `distance` or "
           "`speed`, a flow test `flow`");
  }
  if (form == "supply_flow" && (setting.drift || setting.flow_test)) {
    refuse(form,
           "`supply_flow` is a reading of a hold that would not build; a drift needs "
           "`distance` or `speed`, a flow test `flow`");
  }
  if (drift && !setting.drift) {
    refuse(form, ticked(form) + " is a reading of a drift; this observation is none");
  }
  if (form == "flow" && !setting.flow_test) {
    refuse(form, "`flow` is a reading of a flow test; this observation is none");
  }
  refuse_unused({{"time", r.time, decay || form == "distance"},
                 {"volume", r.volume, decay},
                 {"bulk_modulus", r.bulk_modulus, decay},
                 {"rated_flow", r.rated_flow, setting.flow_test}},
                form);

  // What a leak rate is divided by to become the quantity the medians are stated in.
  double rated = 0;
  if (setting.flow_test) {
    rated = positive(r.rated_flow ? r.rated_flow : setting.rated_flow, "rated_flow", "m3/s",
                     "a flow test where the circuit does not give it");
  }
  const auto in_scale = [&](double flow) {
    return setting.flow_test ? flow / rated : flow * ml_per_min;
  };

  LeakRate result;
  if (form == "leak_rate") {
    result.value = in_scale(measured(*r.leak_rate, form, "m3/s"));
  } else if (decay) {
    result = pressure_decay(r, setting);
  } else if (form == "supply_flow") {
    positive(r.pressure, "pressure", "Pa", "a hold that would not build");
    result.value = in_scale(measured(*r.supply_flow, form, "m3/s"));
  } else if (drift) {
    const double speed = form == "speed" ? measured(*r.speed, form, "m/s")
                                         : measured(*r.distance, form, "m") /
                                               positive(r.time, "time", "s", "a drift distance");
    if (!setting.contracting_area) {
      refuse(form, "the circuit gives no `bore`, `rod` or `areas` for this actuator, so `" +
                       std::string(form) + "` cannot become a leak rate: give `leak_rate`");
    }
    result.value = *setting.contracting_area * speed * ml_per_min;
  } else if (form == "flow") {
    result = flow_loss(r, rated);
  } else {
    result.value = in_scale(positive(r.below, form, "m3/s", "a detection limit"));
    result.censored = true;
  }
  if (r.temperature_change && !decay) {
    append(result.warning,
           "The oil temperatures were not used: only a pressure drop is corrected for them.");
  }

  double exponent = 1;
  if (r.exponent) {
    if (!(*r.exponent >= 0.1 && *r.exponent <= 1)) {
      refuse("exponent", "`exponent` is " + format_number(*r.exponent) +
                             "; expected 0.1 to 1 (1 clearance, 0.5 orifice)");
    }
    exponent = *r.exponent;
  }
  if (r.pressure) {
    const double pressure = positive(r.pressure, "pressure", "Pa", "normalising");
    if (setting.reference_pressure) {
      result.value *= std::pow(*setting.reference_pressure / pressure, exponent);
    } else {
      append(result.warning,
             "The circuit gives no reference pressure for this observation: the leak rate was "
             "taken as read, whatever the pressure.");
    }
  }
  if (!std::isfinite(result.value) || result.value <= 0) {
    refuse(form, "the values of this reading give a leak rate of " + format_number(result.value) +
                     ", which is out of the range of numbers");
  }
  return result;
}

std::array<double, 3> likelihood(const LeakRate& rate, const Setting& setting, double* log_scale) {
  std::array<double, 3> logs{};
  for (std::size_t grade = 0; grade < 3; ++grade) {
    const double sigma = setting.sigma[grade];
    const double z = (std::log(rate.value) - std::log(setting.median[grade])) / sigma;
    logs[grade] = rate.censored
                      ? log_normal_cdf(z)
                      : -0.5 * z * z - std::log(sigma) - 0.5 * std::log(2 * std::numbers::pi);
  }
  const double largest = *std::max_element(logs.begin(), logs.end());
  std::array<double, 3> out{};
  std::transform(logs.begin(), logs.end(), out.begin(),
                 [&](double l) { return std::exp(l - largest); });
  if (log_scale != nullptr) *log_scale = largest;
  return out;
}

}  // namespace faultodds::reading
