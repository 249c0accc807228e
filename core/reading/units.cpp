#include "core/reading/units.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <span>
#include <system_error>

#include "core/error.h"
#include "core/number_text.h"
#include "core/quoted_text.h"

namespace faultodds::reading {
namespace {

struct Unit {
  std::string_view name;
  double factor = 1;   // SI = (number + offset) * factor
  double offset = 0;   // temperatures only
  bool alias = false;  // accepted, not listed in messages
};

// Exact by definition: inch 25.4 mm, pound-force 4.4482216152605 N, US gallon 231 in3.
constexpr double inch = 0.0254;
constexpr double pound_force = 4.4482216152605;
constexpr double psi = pound_force / (inch * inch);
constexpr double gallon = 231 * inch * inch * inch;
constexpr double drop = 0.05e-6;  // 20 drops to the millilitre
// In the unit of the SI: products and quotients of a few are numbers then.
constexpr double kLeast = 1e-18, kMost = 1e18;

constexpr Unit pressures[] = {{"bar", 1e5}, {"mbar", 1e2}, {"psi", psi}, {"kPa", 1e3},
                              {"MPa", 1e6}, {"GPa", 1e9},  {"Pa", 1}};
constexpr Unit flows[] = {{"mL/min", 1e-6 / 60},
                          {"L/min", 1e-3 / 60},
                          {"cm3/min", 1e-6 / 60},
                          {"cc/min", 1e-6 / 60},
                          {"gpm", gallon / 60},
                          {"L/h", 1e-3 / 3600},
                          {"drops/min", drop / 60},
                          {"m3/s", 1},
                          {"ml/min", 1e-6 / 60, 0, true},
                          {"l/min", 1e-3 / 60, 0, true},
                          {"l/h", 1e-3 / 3600, 0, true},
                          {"cm³/min", 1e-6 / 60, 0, true},
                          {"m³/s", 1, 0, true}};
constexpr Unit lengths[] = {{"mm", 1e-3},         {"cm", 1e-2},      {"m", 1},
                            {"in", inch},         {"ft", 12 * inch}, {"um", 1e-6},
                            {"µm", 1e-6, 0, true}};
constexpr Unit areas[] = {{"mm2", 1e-6},       {"cm2", 1e-4},          {"m2", 1},
                          {"in2", inch* inch}, {"mm²", 1e-6, 0, true}, {"cm²", 1e-4, 0, true},
                          {"m²", 1, 0, true}};
constexpr Unit volumes[] = {{"mL", 1e-6},
                            {"L", 1e-3},
                            {"cm3", 1e-6},
                            {"cc", 1e-6},
                            {"m3", 1},
                            {"gal", gallon},
                            {"in3", inch* inch* inch},
                            {"ml", 1e-6, 0, true},
                            {"l", 1e-3, 0, true},
                            {"cm³", 1e-6, 0, true},
                            {"m³", 1, 0, true}};
constexpr Unit displacements[] = {{"cm3/rev", 1e-6},
                                  {"cc/rev", 1e-6},
                                  {"mL/rev", 1e-6},
                                  {"L/rev", 1e-3},
                                  {"in3/rev", inch* inch* inch},
                                  {"cm3", 1e-6},
                                  {"cc", 1e-6},
                                  {"mL", 1e-6},
                                  {"L", 1e-3},
                                  {"in3", inch* inch* inch},
                                  {"m3", 1, 0, true},
                                  {"m3/rev", 1, 0, true},
                                  {"cm³/rev", 1e-6, 0, true},
                                  {"cm³", 1e-6, 0, true}};
constexpr Unit times[] = {{"s", 1}, {"min", 60}, {"h", 3600}, {"d", 86400}};
constexpr Unit speeds[] = {
    {"mm/s", 1e-3}, {"mm/min", 1e-3 / 60}, {"m/s", 1}, {"in/min", inch / 60}};
constexpr Unit temperatures[] = {{"degC", 1, 273.15},
                                 {"degF", 5.0 / 9, 459.67},
                                 {"K", 1},
                                 {"°C", 1, 273.15, true},
                                 {"°F", 5.0 / 9, 459.67, true}};

constexpr Unit forces[] = {{"N", 1}, {"kN", 1e3}, {"lbf", pound_force}};
constexpr Unit shares[] = {{"%", 1e-2}};

struct Family {
  std::string_view article, name, example;
  std::span<const Unit> units;
};

constexpr std::array<Dimension, 11> all_dimensions = {
    Dimension::pressure,     Dimension::flow,  Dimension::length, Dimension::area,
    Dimension::volume,       Dimension::time,  Dimension::speed,  Dimension::temperature,
    Dimension::displacement, Dimension::force, Dimension::share};

Family family(Dimension dimension) {
  switch (dimension) {
    case Dimension::pressure:
      return {"a", "pressure", "175 bar", pressures};
    case Dimension::flow:
      return {"a", "flow", "30 mL/min", flows};
    case Dimension::length:
      return {"a", "length", "80 mm", lengths};
    case Dimension::area:
      return {"an", "area", "50 cm2", areas};
    case Dimension::volume:
      return {"a", "volume", "0.4 L", volumes};
    case Dimension::displacement:
      return {"a", "displacement", "45 cm3/rev", displacements};
    case Dimension::time:
      return {"a", "time", "60 s", times};
    case Dimension::speed:
      return {"a", "speed", "3 mm/min", speeds};
    case Dimension::temperature:
      return {"a", "temperature", "42 degC", temperatures};
    case Dimension::force:
      return {"a", "force", "120 kN", forces};
    case Dimension::share:
      return {"a", "share", "12 %", shares};
  }
  throw Error(Code::internal, "unknown dimension");
}

const Unit* find_unit(std::span<const Unit> units, std::string_view name) {
  for (const Unit& unit : units) {
    if (unit.name == name) return &unit;
  }
  return nullptr;
}

char lower(char c) { return c >= 'A' && c <= 'Z' ? static_cast<char>(c - 'A' + 'a') : c; }

bool same_but_for_case(std::string_view a, std::string_view b) {
  return std::equal(a.begin(), a.end(), b.begin(), b.end(),
                    [](char x, char y) { return lower(x) == lower(y); });
}

std::string_view trimmed(std::string_view text) {
  while (!text.empty() && text.front() == ' ') text.remove_prefix(1);
  while (!text.empty() && text.back() == ' ') text.remove_suffix(1);
  return text;
}

// Why `unit` is not one of `wanted`, as the middle of a sentence.
std::string why_not(std::string_view unit, const Family& wanted) {
  if (unit.empty()) return "has no unit";
  if (unit.front() == ',' || unit.front() == '.') {
    return "is not a number with a unit (the decimal mark is a point, nothing groups digits)";
  }
  for (const Unit& candidate : wanted.units) {
    if (same_but_for_case(unit, candidate.name)) {
      return "has the unknown unit " + in_quotes(unit) + " (did you mean \"" +
             std::string(candidate.name) + "\"?)";
    }
  }
  for (const Dimension other : all_dimensions) {
    const Family candidate = family(other);
    if (find_unit(candidate.units, unit) != nullptr) {
      return "is " + std::string(candidate.article) + ' ' + std::string(candidate.name);
    }
  }
  return "has the unknown unit " + in_quotes(unit);
}

[[noreturn]] void refuse(std::string_view text, const std::string& why, Dimension dimension) {
  const Family wanted = family(dimension);
  throw Error(Code::invalid_document,
              in_quotes(text) + ' ' + why + "; expected " + std::string(wanted.article) + ' ' +
                  std::string(wanted.name) + " such as \"" + std::string(wanted.example) +
                  "\" (units: " + accepted_units(dimension) + ")");
}

}  // namespace

std::string accepted_units(Dimension dimension) {
  std::string out;
  for (const Unit& unit : family(dimension).units) {
    if (unit.alias) continue;
    if (!out.empty()) out += ", ";
    out += unit.name;
  }
  return out;
}

std::vector<std::string> unit_names(Dimension dimension) {
  std::vector<std::string> names;
  for (const Unit& unit : family(dimension).units) names.emplace_back(unit.name);
  return names;
}

double parse_quantity(std::string_view text, Dimension dimension) {
  const std::string_view body = trimmed(text);
  const std::string_view digits = body.starts_with('-') ? body.substr(1) : body;
  const bool starts_as_number =
      !digits.empty() && ((digits[0] >= '0' && digits[0] <= '9') || digits[0] == '.');
  if (!starts_as_number) refuse(text, "is not a number with a unit", dimension);

  double number = 0;
  const auto [end, problem] = read_number(body.data(), body.data() + body.size(), number);
  if (problem == std::errc::result_out_of_range) {
    refuse(text, "is out of the range of numbers", dimension);
  }
  if (problem != std::errc()) refuse(text, "is not a number with a unit", dimension);

  const std::string_view name = trimmed(body.substr(static_cast<std::size_t>(end - body.data())));
  const Family wanted = family(dimension);
  const Unit* unit = find_unit(wanted.units, name);
  if (unit == nullptr) refuse(text, why_not(name, wanted), dimension);

  const double value = (number + unit->offset) * unit->factor;
  if (value != 0 && !(std::fabs(value) >= kLeast && std::fabs(value) <= kMost)) {
    refuse(text, "is out of the range of quantities (1e-18 to 1e18 in the unit of the SI)",
           dimension);
  }
  if (dimension == Dimension::temperature && value < 0) {
    refuse(text, "is below absolute zero", dimension);
  }
  return value;
}

std::string format_number(double value, int digits) {
  if (!std::isfinite(value)) return value != value ? "nan" : value > 0 ? "inf" : "-inf";
  int decimals = 0;
  if (value != 0) {
    const int before_point = static_cast<int>(std::floor(std::log10(std::fabs(value)))) + 1;
    decimals = std::clamp(digits - before_point, 0, 30);
  }
  std::array<char, 400> buffer{};
  const auto result = write_number(buffer.data(), buffer.data() + buffer.size(), value, decimals);
  std::string out(buffer.data(), result.ptr);
  if (out.find('.') != std::string::npos) {
    out.erase(out.find_last_not_of('0') + 1);
    if (out.back() == '.') out.pop_back();
  }
  return out == "-0" ? "0" : out;
}

std::string format_leak_rate(double cubic_metres_per_second) {
  return format_number(cubic_metres_per_second / (1e-6 / 60)) + " mL/min";
}

std::string format_pressure(double pascal) { return format_number(pascal / 1e5) + " bar"; }

}  // namespace faultodds::reading
