#include "core/reading/reading.h"

#include <algorithm>
#include <cmath>
#include <numbers>
#include <string_view>

#include "core/error.h"
#include "core/reading/units.h"

namespace faultodds::reading {
namespace {

constexpr MessageValue::Kind kNumber = MessageValue::Kind::number;

constexpr double ml_per_min = 60e6;  // one m3/s in mL/min

// Effective bulk modulus of oil in hoses with a little air, when the reading gives none.
constexpr double default_bulk_modulus = 1.0e9;  // Pa; common practice, no source
// Of the oil by itself, where the stiffness of its lines is given. Common figure, from memory.
constexpr double stiff_oil = 1.4e9;  // Pa

// How well the growth of oil with temperature is known, and a temperature change of oil in a closed
// volume, taken from outside. Working judgement.
constexpr double growth_error = 0.3;       // of the correction
constexpr double temperature_error = 0.5;  // K

// From which an accumulator's pressure fell where nothing says it.
constexpr double usual_pressure = 1e7;  // Pa

// Oil in a warm machine, at which a pump's rated flow counts, and what is believed of a correction
// to it. Working judgement.
constexpr double warm = 333.15;  // K
constexpr double least_thickening = 0.5, most_thickening = 8;

// A gauge's course that in its second half falls this many times as slowly as in its first is not
// only a leak's: the hose gives, gas dissolves, the oil settles. Working judgement.
constexpr double settling = 2;

// A flow test that reads its rated flow or more: the loss is below what a shop meter resolves.
// Working judgement.
constexpr double meter_resolution = 0.01;  // of rated flow
constexpr double meter_error = 0.03;       // of rated flow, as kShareError of effect.h
constexpr double most_over_rated = 1.2;

[[noreturn]] void refuse(std::string_view field, const std::string& message) {
  throw Error(Code::invalid_case, message, field.empty() ? "" : "/" + std::string(field));
}

std::string ticked(std::string_view field) {
  std::string out = "`";
  out += field;
  return out += '`';
}

// A companion value that must be there. That it is more than zero, who read it has seen to.
double needed(const std::optional<double>& value, std::string_view field,
              const std::string& needed_for) {
  if (!value) refuse(field, ticked(field) + " is missing; " + needed_for + " needs it");
  return *value;
}

// The quantity read itself. Nothing seen is not a reading of zero.
double measured(double value, std::string_view field) {
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
  const std::pair<std::string_view, bool> forms[] = {
      {"leak_rate", r.leak_rate.has_value()},
      {"pressure_drop", r.pressure_drop.has_value()},
      {"pressures", !r.pressures.empty()},
      {"supply_flow", r.supply_flow.has_value()},
      {"strokes_per_minute", r.strokes_per_minute.has_value()},
      {"distance", r.distance.has_value()},
      {"distances", !r.distances.empty()},
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
    refuse(
        "",
        "a reading needs one of `leak_rate`, `pressure_drop`, `pressures`, `supply_flow`, "
        "`strokes_per_minute`, `distance`, `distances`, `speed`, `flow`, `below`; none is given");
  }
  return form;
}

// `start`: the pressure from which it fell.
TrappedOil trapped_oil(const Reading& r, const Setting& setting, double start,
                       const std::string& needed_for) {
  TrappedOil oil;
  oil.volume = needed(r.volume ? r.volume : setting.volume, "volume",
                      needed_for + " where the circuit does not give the trapped volume");
  oil.bulk_modulus = r.line_stiffness ? stiff_oil : default_bulk_modulus;
  if (r.bulk_modulus) oil.bulk_modulus = needed(r.bulk_modulus, "bulk_modulus", needed_for);
  if (r.line_stiffness) {
    const double line = needed(r.line_stiffness, "line_stiffness", needed_for);
    oil.bulk_modulus = stiffness_in_line(oil.bulk_modulus, line);
  }
  if (r.gas_pressure && !r.gas_volume) {
    refuse("gas_pressure", "`gas_pressure` has no meaning without `gas_volume`");
  }
  if (r.gas_volume) {
    oil.gas_volume = needed(r.gas_volume, "gas_volume", needed_for);
    oil.gas_pressure = r.gas_pressure.value_or(0);
  } else if (setting.gas_volume > 0) {
    oil.gas_volume = setting.gas_volume;
    oil.gas_pressure = kChargeShare * start;
  }
  return oil;
}

// What was lost, less what the oil shrank by: as a flow of a leak. `lost` and `time` in m3 and s.
LeakRate lost_to_leak(const Reading& r, const TrappedOil& oil, double lost, double time) {
  const auto rate = [&](double volume) { return volume / time * ml_per_min; };
  if (!r.temperature_change) {
    Message warning{"warning.no_temperatures"};
    warning.with("bar", kNumber, std::round(kExpansion * oil.bulk_modulus / 1e5));
    return {rate(lost), false, {std::move(warning)}};
  }
  const double change = *r.temperature_change;
  const double error =
      std::abs(rate(grown(oil, std::hypot(growth_error * change, temperature_error))));
  const double corrected = lost + grown(oil, change);
  if (corrected > 0) {
    Message warning{"warning.temperature_changed"};
    warning.with("change", kNumber, change).with("grown", kNumber, rate(grown(oil, change)));
    warning.with("leak", kNumber, rate(corrected)).with("read", kNumber, rate(lost));
    return {rate(corrected), false, {std::move(warning)}, error};
  }
  Message warning{"warning.cooled"};
  warning.with("change", kNumber, -change);
  return {rate(lost), true, {std::move(warning)}, error};
}

void warn_of_gas(const Reading& r, const Setting& setting, LeakRate& rate) {
  if (r.gas_volume || setting.gas_volume == 0) return;
  rate.warnings.push_back({"warning.gas"});
}

// q = (V/K) dP/dt, and what gas takes more room.
LeakRate pressure_decay(const Reading& r, const Setting& setting) {
  const std::string needed_for = "a pressure drop";
  const double time = needed(r.time, "time", needed_for);
  const double drop = *r.pressure_drop;
  const bool gas = r.gas_volume.has_value() || setting.gas_volume > 0;
  double start = drop;
  if (r.gas_volume || (gas && r.pressure)) {
    start = needed(r.pressure, "pressure", "gas in the volume");
  } else if (gas) {
    start = std::max(drop, setting.reference_pressure.value_or(usual_pressure));
  }
  if (drop > start) {
    refuse("pressure_drop", "`pressure_drop` is " + format_pressure(drop) +
                                "; expected at most `pressure`, from which it fell, " +
                                format_pressure(start));
  }
  const TrappedOil oil = trapped_oil(r, setting, start, needed_for);
  const double grew = grown(oil, r.temperature_change.value_or(0));
  if (oil.volume / oil.bulk_modulus * drop + grew <= 0 || !r.temperature_change) {
    measured(drop, "pressure_drop");
  }
  LeakRate rate = lost_to_leak(r, oil, given_up(oil, start, start - drop), time);
  warn_of_gas(r, setting, rate);
  return rate;
}

// The back pressure, below everything read.
double back_pressure(const Reading& r, double lowest) {
  if (!r.back_pressure) return 0;
  if (!(*r.back_pressure >= 0 && *r.back_pressure < lowest)) {
    refuse("back_pressure", "`back_pressure` is " + format_pressure(*r.back_pressure) +
                                "; expected below the pressure before the leak, " +
                                format_pressure(lowest));
  }
  return *r.back_pressure;
}

void check_course(const std::vector<double>& times, std::string_view form) {
  for (std::size_t i = 0; i < times.size(); ++i) {
    if (i > 0 && times[i] <= times[i - 1]) {
      refuse(std::string(form) + "/" + std::to_string(i) + "/time",
             "`time` is " + format_number(times[i]) +
                 " s; expected later than that of the point before");
    }
  }
}

void warn_of_settling(const LeakFlow& course, const char* id, LeakRate& rate) {
  if (course.early > settling * std::max(course.late, 0.0)) rate.warnings.push_back({id});
}

// At the pressure of the first point.
LeakRate pressure_course(const Reading& r, const Setting& setting, double exponent) {
  const std::string needed_for = "a course of pressures";
  const TrappedOil oil = trapped_oil(r, setting, r.pressures.front().pressure, needed_for);
  std::vector<double> times;
  double lowest = r.pressures.front().pressure;
  for (const PressurePoint& point : r.pressures) {
    times.push_back(point.time);
    lowest = std::min(lowest, point.pressure);
  }
  check_course(times, "pressures");
  if (r.pressures.front().pressure == 0) {
    refuse("pressures/0/pressure", "the first pressure is 0; expected more than 0 to fall from");
  }
  const LeakFlow course =
      leak_flow(oil, r.pressures, back_pressure(r, r.pressures.front().pressure), exponent);
  const double time = times.back() - times.front();
  if (course.flow <= 0) {
    // Steady or rising: not more than a needle's width, of a hundredth of the gauge, was lost.
    const double needle = 0.01 * r.pressures.front().pressure;
    LeakRate rate;
    rate.value = given_up(oil, lowest + needle, lowest) / time * ml_per_min;
    rate.censored = true;
    rate.warnings.push_back({"warning.did_not_fall"});
    return rate;
  }
  LeakRate rate = lost_to_leak(r, oil, course.flow * time, time);
  rate.error = std::hypot(rate.error, course.error * ml_per_min);
  warn_of_settling(course, "warning.pressure_settles", rate);
  warn_of_gas(r, setting, rate);
  return rate;
}

double drift_speed(const Reading& r, std::string_view form, LeakRate& rate, double* error) {
  if (form == "speed") return measured(*r.speed, form);
  if (form == "distance") {
    return measured(*r.distance, form) / needed(r.time, "time", "a drift distance");
  }
  std::vector<double> times, distances;
  for (const auto& point : r.distances) {
    times.push_back(point.time);
    distances.push_back(point.distance);
  }
  check_course(times, form);
  const LeakFlow course = slope(times, distances);
  *error = course.error;
  warn_of_settling(course, "warning.drift_settles", rate);
  if (course.flow < 0) refuse(form, "the distances shrink; expected that they grow with time");
  return measured(course.flow, form);
}

// What a flow test should give, m3/s.
double expected_flow(const Reading& r, const Setting& setting) {
  if (!r.revolutions_per_minute) {
    return needed(r.rated_flow ? r.rated_flow : setting.rated_flow, "rated_flow",
                  "a flow test where the circuit does not give it");
  }
  if (r.rated_flow) {
    refuse("rated_flow",
           "`rated_flow` has no meaning beside `revolutions_per_minute`: what is expected is "
           "`displacement` times the speed");
  }
  return needed(r.revolutions_per_minute, "revolutions_per_minute", "a flow test") *
         needed(r.displacement ? r.displacement : setting.displacement, "displacement",
                "a flow test at a given speed where the circuit does not give it") /
         60;
}

// Lost share of the rated flow.
LeakRate flow_loss(const Reading& r, double rated) {
  const double flow = *r.flow;
  LeakRate rate;
  rate.value = (rated - flow) / rated;
  double thickening = 1;
  if (r.oil_temperature) {
    thickening = std::clamp(viscosity(*r.oil_temperature) / viscosity(warm), least_thickening,
                            most_thickening);
    rate.warnings.push_back({"warning.oil_thickness"});
    rate.warnings.back().with("times", kNumber, 1 / thickening);
  }
  if (rate.value > 0) {
    rate.value = std::min(rate.value * thickening, 1.0);
    rate.error = meter_error * std::sqrt(std::max(0.0, thickening * thickening - 1));
    return rate;
  }
  rate.value = meter_resolution * std::max(1.0, thickening);
  rate.censored = true;
  rate.warnings.push_back({"warning.not_below_rated"});
  if (flow > most_over_rated * rated) {
    rate.warnings.push_back({"warning.above_rated"});
    rate.warnings.back().with("times", kNumber, flow / rated);
  }
  return rate;
}

// ln Phi(z), to full precision from z = -1e150 to infinity.
double full_log_normal_cdf(double z) {
  if (z > 0) return std::log1p(-0.5 * std::erfc(z / std::numbers::sqrt2));
  if (z > -30) return std::log(0.5 * std::erfc(-z / std::numbers::sqrt2));
  // Asymptotic series of the tail; the next term is below 1e-13 here.
  const double s = 1 / (z * z);
  return -0.5 * z * z - std::log(-z) - 0.5 * std::log(2 * std::numbers::pi) +
         std::log1p(-s * (1 - 3 * s * (1 - 5 * s * (1 - 7 * s * (1 - 9 * s)))));
}

// What the form of a reading is of.
struct Form {
  std::string_view name;
  bool course = name == "pressures", decay = name == "pressure_drop" || course;
  bool strokes = name == "strokes_per_minute", supply = name == "supply_flow" || strokes;
  bool drift = name == "distance" || name == "distances" || name == "speed";
};

void refuse_unfit(const Reading& r, const Form& form, const Setting& setting) {
  if (form.decay && (setting.drift || setting.flow_test)) {
    refuse(form.name, ticked(form.name) +
                          " is a reading of a locked-out hold; a drift needs `distance` or "
                          "`speed`, a flow test `flow`");
  }
  if (form.supply && (setting.drift || setting.flow_test)) {
    refuse(form.name, ticked(form.name) +
                          " is a reading of a hold that would not build; a drift needs "
                          "`distance` or `speed`, a flow test `flow`");
  }
  if (form.drift && !setting.drift) {
    refuse(form.name, ticked(form.name) + " is a reading of a drift; this observation is none");
  }
  if (form.name == "flow" && !setting.flow_test) {
    refuse(form.name, "`flow` is a reading of a flow test; this observation is none");
  }
  refuse_unused({{"time", r.time, form.name == "pressure_drop" || form.name == "distance"},
                 {"volume", r.volume, form.decay},
                 {"bulk_modulus", r.bulk_modulus, form.decay},
                 {"line_stiffness", r.line_stiffness, form.decay},
                 {"gas_volume", r.gas_volume, form.decay},
                 {"gas_pressure", r.gas_pressure, form.decay},
                 {"stroke_volume", r.stroke_volume, form.strokes},
                 {"pressure", r.pressure, !form.course},
                 {"back_pressure", r.back_pressure, form.course || r.pressure},
                 {"rated_flow", r.rated_flow, setting.flow_test},
                 {"revolutions_per_minute", r.revolutions_per_minute, setting.flow_test},
                 {"displacement", r.displacement, r.revolutions_per_minute.has_value()},
                 {"oil_temperature", r.oil_temperature, form.name == "flow"}},
                form.name);
}

// As it would be at the pressure that the circuit states rates at.
void to_reference_pressure(const Reading& r, const Form& form, const Setting& setting,
                           double exponent, LeakRate& result) {
  if (!r.pressure && !form.course) return;
  const double pressure =
      form.course ? r.pressures.front().pressure : needed(r.pressure, "pressure", "normalising");
  const double drive = pressure - back_pressure(r, pressure);
  if (setting.reference_pressure) {
    const double factor = std::pow(*setting.reference_pressure / drive, exponent);
    result.value *= factor;
    result.error *= factor;
  } else {
    result.warnings.push_back({"warning.no_reference_pressure"});
  }
}

}  // namespace

LeakRate leak_rate(const Reading& reading, const Setting& setting) {
  const Reading& r = reading;
  const Form form{form_of(r)};
  refuse_unfit(r, form, setting);

  // What a leak rate is divided by to become the quantity the medians are stated in.
  double rated = 0;
  if (setting.flow_test) {
    rated = expected_flow(r, setting);
  }
  const auto in_scale = [&](double flow) {
    return setting.flow_test ? flow / rated : flow * ml_per_min;
  };

  const double exponent = r.exponent.value_or(1);
  LeakRate result;
  if (form.name == "leak_rate") {
    result.value = in_scale(measured(*r.leak_rate, form.name));
  } else if (form.course) {
    result = pressure_course(r, setting, exponent);
  } else if (form.decay) {
    result = pressure_decay(r, setting);
  } else if (form.supply) {
    needed(r.pressure, "pressure", "a hold that would not build");
    result.value =
        in_scale(form.strokes ? measured(*r.strokes_per_minute, form.name) / 60 *
                                    needed(r.stroke_volume, "stroke_volume", "a count of strokes")
                              : measured(*r.supply_flow, form.name));
  } else if (form.drift) {
    double error = 0;
    const double speed = drift_speed(r, form.name, result, &error);
    if (!setting.contracting_area) {
      refuse(form.name, "the circuit gives no `bore`, `rod` or `areas` for this actuator, so `" +
                            std::string(form.name) +
                            "` cannot become a leak rate: give `leak_rate`");
    }
    result.value = *setting.contracting_area * speed * ml_per_min;
    result.error = *setting.contracting_area * error * ml_per_min;
  } else if (form.name == "flow") {
    result = flow_loss(r, rated);
  } else {
    result.value = in_scale(needed(r.below, form.name, "a detection limit"));
    result.censored = true;
  }
  if (r.temperature_change && !form.decay) {
    result.warnings.push_back({"warning.temperatures_unused"});
  }

  to_reference_pressure(r, form, setting, exponent, result);
  if (!std::isfinite(result.value) || result.value <= 0) {
    refuse(form.name, "the values of this reading give a leak rate of " +
                          format_number(result.value) + ", which is out of the range of numbers");
  }
  return result;
}

std::array<double, 3> likelihood(const LeakRate& rate, const Setting& setting, double* log_scale) {
  std::array<double, 3> logs{};
  for (std::size_t grade = 0; grade < 3; ++grade) {
    const double sigma = setting.sigma[grade];
    const double z = (std::log(rate.value) - std::log(setting.median[grade])) / sigma;
    logs[grade] = rate.censored
                      ? full_log_normal_cdf(z)
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
