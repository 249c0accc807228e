#include "core/authoring/usual_values.h"

#include <algorithm>
#include <charconv>
#include <cmath>
#include <cstdlib>

#include "core/circuit/names.h"
#include "core/error.h"
#include "core/number_text.h"
#include "core/stop.h"

namespace faultodds::authoring {
namespace {

using reading::Dimension;

constexpr const char* kSteps = "defaults of the engine, eight times either way: working judgement";

std::vector<std::string_view> tokens_of(std::string_view pointer) {
  std::vector<std::string_view> tokens;
  while (!pointer.empty()) {
    if (pointer.front() == '/') pointer.remove_prefix(1);
    const std::size_t end = std::min(pointer.find('/'), pointer.size());
    tokens.push_back(pointer.substr(0, end));
    pointer.remove_prefix(end);
  }
  return tokens;
}

bool fits(std::string_view place, const std::vector<std::string_view>& tokens) {
  const std::vector<std::string_view> wanted = tokens_of(place);
  if (wanted.size() != tokens.size()) return false;
  for (std::size_t i = 0; i < wanted.size(); ++i) {
    if (wanted[i] != "*" && wanted[i] != tokens[i]) return false;
  }
  return true;
}

struct Split {
  double number = 0;
  std::string unit;
};

std::optional<Split> split(const std::string& text) {
  Split out;
  const char* const first = text.data();
  const char* const last = first + text.size();
  const auto [end, problem] = read_number(first, last, out.number);
  if (problem != std::errc{}) return std::nullopt;
  out.unit.assign(end, last);
  out.unit.erase(0, out.unit.find_first_not_of(' '));
  return out;
}

std::vector<std::string> units_of(Dimension dimension) {
  std::vector<std::string> units;
  const std::string text = reading::accepted_units(dimension);
  for (std::size_t at = 0; at < text.size();) {
    const std::size_t end = std::min(text.find(", ", at), text.size());
    units.push_back(text.substr(at, end - at));
    at = end + 2;
  }
  return units;
}

bool within(double value, double least, double most) { return value >= least && value <= most; }

}  // namespace

const std::vector<UsualRange>& usual_ranges() {
  constexpr auto pressure = Dimension::pressure;
  constexpr auto length = Dimension::length;
  constexpr auto flow = Dimension::flow;
  constexpr auto displacement = Dimension::displacement;
  static const char* const iso3320 =
      "ISO 3320 lists bores of 8 to 500 mm and rods of 4 to 450 mm (from memory); cylinders of "
      "machines from 20 mm, presses up to 1,000 mm: common practice, no source";
  static const std::vector<UsualRange> rows = {
      {"components/*/setting", "return_filter", pressure, "0.5 bar", "7 bar", kPractice},
      {"components/*/setting", "main_relief", pressure, "30 bar", "420 bar", kPractice},
      {"components/*/setting", "charge_relief", pressure, "8 bar", "60 bar", kPractice},
      {"components/*/setting", "flushing_valve", pressure, "6 bar", "50 bar", kPractice},
      {"components/*/setting", "port_relief", pressure, "25 bar", "500 bar", kPractice},
      {"components/*/setting", "relief_makeup", pressure, "25 bar", "500 bar", kPractice},
      {"components/*/setting", "counterbalance_valve", pressure, "25 bar", "500 bar", kPractice},
      {"components/*/setting", "reducing_valve", pressure, "10 bar", "350 bar", kPractice},
      {"components/*/setting", "sequence_valve", pressure, "10 bar", "420 bar", kPractice},
      {"components/*/setting", "unloading_valve", pressure, "10 bar", "420 bar", kPractice},
      {"components/*/setting", "*", pressure, "0.2 bar", "500 bar", kPractice},
      {"components/*/ratio", "*", std::nullopt, "0.5", "20",
       "pilot ratios of 1.5:1 to 10:1 are sold: common practice, no source"},
      {"components/*/rating", "*", pressure, "3 bar", "1050 bar",
       "tools at 700 bar are the highest of the trade: common practice, no source"},
      {"components/*/rated/*", "*", pressure, "0.3 bar", "1050 bar", kPractice},
      {"components/*/bore", "*", length, "20 mm", "1000 mm", iso3320},
      {"components/*/rod", "*", length, "8 mm", "800 mm", iso3320},
      {"components/*/areas/*", "*", Dimension::area, "0.5 cm2", "8000 cm2",
       "bores of 8 to 1,000 mm, and what a motor displaces by radian: working judgement"},
      {"components/*/displacement", "fixed_pump", displacement, "0.5 cm3/rev", "400 cm3/rev",
       kPractice},
      {"components/*/displacement", "variable_pump", displacement, "8 cm3/rev", "1000 cm3/rev",
       kPractice},
      {"components/*/displacement", "*", displacement, "1 cm3/rev", "20000 cm3/rev", kPractice},
      {"components/*/rated_flow", "*", flow, "1 L/min", "2000 L/min", kPractice},
      {"components/*/volume", "accumulator", Dimension::volume, "0.05 L", "400 L", kPractice},
      {"components/*/volume", "*", Dimension::volume, "1 mL", "400 L", "working judgement"},
      {"components/*/minutes", "*", Dimension::time, "2 min", "30 h", kPractice},
      {"components/*/part_cost", "*", std::nullopt, "0.5", "200000", "working judgement"},
      {"components/*/lead_days", "*", std::nullopt, "0", "365", kPractice},
      {"components/*/load/force", "*", Dimension::force, "200 N", "50000 kN", kPractice},
      {"components/*/load/pressure", "*", pressure, "2 bar", "450 bar", kPractice},
      {"components/*/load/spread", "*", std::nullopt, "0.01", "2", "working judgement"},
      {"components/*/priors/*/0", "*", std::nullopt, "0.5", "1",
       "of parts in service most are sound: common practice, no source"},
      {"components/*/sizes/*/*/diameter", "*", length, "3 mm", "80 mm", kPractice},
      {"components/*/sizes/*/*/clearance", "*", length, "0.5 um", "80 um",
       "radial clearances of spools are 3 to 13 um (trade press)"},
      {"components/*/sizes/*/*/overlap", "*", length, "0.1 mm", "40 mm", kPractice},
      {"components/*/sizes/*/*/spread", "*", std::nullopt, "0.05", "3", "working judgement"},
      {"types/*/rated/*", "*", pressure, "0.3 bar", "1050 bar", kPractice},
      {"types/*/failure_modes/*/prior/0", "*", std::nullopt, "0.5", "1",
       "of parts in service most are sound: common practice, no source"},
      {"types/*/failure_modes/*/sizes/*/spread", "*", std::nullopt, "0.05", "3",
       "working judgement"},
      {"types/*/failure_modes/*/sizes/*/diameter", "*", length, "3 mm", "80 mm", kPractice},
      {"types/*/failure_modes/*/sizes/*/clearance", "*", length, "0.5 um", "80 um",
       "radial clearances of spools are 3 to 13 um (trade press)"},
      {"types/*/failure_modes/*/sizes/*/overlap", "*", length, "0.1 mm", "40 mm", kPractice},
      {"connections/*/rating", "*", pressure, "3 bar", "1050 bar",
       "tools at 700 bar are the highest of the trade: common practice, no source"},
      {"fittings/*/rating", "*", pressure, "6 bar", "1050 bar",
       "tools at 700 bar are the highest of the trade: common practice, no source"},
      {"functions/*/working_pressure", "*", pressure, "5 bar", "420 bar", kPractice},
      {"observations/*/minutes", "*", Dimension::time, "0.5 min", "8 h", kPractice},
      {"observations/*/reference_pressure", "*", pressure, "3 bar", "500 bar", kPractice},
      {"observations/*/leak_rates/median/*", "*", flow, "0.01 mL/min", "200 L/min",
       "working judgement"},
      {"observations/*/leak_rates/sigma/*", "*", std::nullopt, "0.05", "4", "working judgement"},
      {"observations/*/background/0", "*", std::nullopt, "0.5", "1", "working judgement"},
      {"observations/*/shows/*/probability", "*", std::nullopt, "0.02", "1", "working judgement"},
      {"conditions/*/probability", "*", std::nullopt, "0.0005", "0.6",
       "a shared cause holds on a few machines of a hundred: working judgement"},
      {"conditions/*/raises/*", "*", std::nullopt, "1", "200",
       "a condition raises odds; a factor below 1 would lower them: working judgement"},
      {"times/lockout", "*", Dimension::time, "1.25 min", "80 min", kSteps},
      {"times/open_line", "*", Dimension::time, "0.6 min", "40 min", kSteps},
      {"times/remove_cartridge", "*", Dimension::time, "1 min", "64 min", kSteps},
      {"times/install_meter", "*", Dimension::time, "2.5 min", "160 min", kSteps},
      {"times/static_test", "*", Dimension::time, "0.4 min", "24 min", kSteps},
      {"times/drift_test", "*", Dimension::time, "0.75 min", "48 min", kSteps},
      {"times/delivery_test", "*", Dimension::time, "0.6 min", "40 min", kSteps},
      {"times/flow_test", "*", Dimension::time, "1.25 min", "80 min", kSteps},
      {"times/look_test", "*", Dimension::time, "0.4 min", "24 min", kSteps},
      {"times/temperature_test", "*", Dimension::time, "1 min", "64 min", kSteps},
      {"times/written_test", "*", Dimension::time, "0.6 min", "40 min", kSteps},
      {"drift_limit", "*", Dimension::speed, "0.2 mm/min", "60 mm/min",
       "makers publish 3 to 6 mm/min"},
  };
  return rows;
}

const UsualRange* usual_range(std::string_view pointer, std::string_view type) {
  const std::vector<std::string_view> tokens = tokens_of(pointer);
  for (const UsualRange& row : usual_ranges()) {
    const std::string_view of = row.type;
    if ((of == "*" || of == type) && fits(row.place, tokens)) return &row;
  }
  return nullptr;
}

std::optional<double> value_of(const std::string& text, const std::optional<Dimension>& dimension) {
  const std::optional<Split> parts = split(text);
  if (!parts) return std::nullopt;
  if (!dimension) {
    if (!parts->unit.empty()) return std::nullopt;
    return parts->number;
  }
  if (parts->unit.empty()) {  // minutes are the only plain numbers that are quantities
    if (*dimension != Dimension::time) return std::nullopt;
    return parts->number * 60;
  }
  try {
    return reading::parse_quantity(text, *dimension);
  } catch (const Error&) {
    return std::nullopt;
  }
}

std::string likely_slip(const std::string& text, const std::optional<Dimension>& dimension,
                        double least, double most) {
  const std::optional<Split> parts = split(text);
  const std::optional<double> value = value_of(text, dimension);
  if (!parts || !value) return "";
  std::string cause;
  if (dimension) {
    for (const std::string& unit : units_of(*dimension)) {
      if (unit == parts->unit) continue;
      const std::string number = text.substr(0, text.size() - parts->unit.size());
      const std::optional<double> other = value_of(number + " " + unit, dimension);
      if (!other || !within(*other, least, most)) continue;
      cause += (cause.empty() ? "probably the unit: the number would fit in " : ", ") + unit;
    }
  }
  for (const double factor : {10.0, 100.0, 1000.0, 0.1, 0.01, 0.001}) {
    if (!within(*value * factor, least, most)) continue;
    cause += cause.empty() ? "probably" : "; or";
    return cause + " the point or a zero is in the wrong place: " +
           reading::format_number(parts->number * factor) +
           (parts->unit.empty() ? "" : " " + parts->unit) + " would fit";
  }
  if (!cause.empty()) return cause;
  return *value < least ? "the number is far too small, or it is another quantity's"
                        : "the number is far too large, or it is another quantity's";
}

void check_usual_values(const circuit::Description& description, const Written& written,
                        Findings* findings) {
  for (const auto& [pointer, text] : written) {
    check_stop();
    std::string type;
    if (pointer.starts_with("/components/")) {
      const auto index = static_cast<std::size_t>(std::strtoul(pointer.c_str() + 12, nullptr, 10));
      if (index < description.components.size()) type = description.components[index].type;
    }
    const UsualRange* row = usual_range(pointer, type);
    if (row == nullptr) continue;
    const std::optional<double> value = value_of(text, row->dimension);
    const std::optional<double> least = value_of(row->least, row->dimension);
    const std::optional<double> most = value_of(row->most, row->dimension);
    if (!value || !least || !most || within(*value, *least, *most)) continue;
    const std::size_t name = pointer.rfind('/') + 1;
    const std::string field = pointer.substr(name);
    Finding one;
    one.rule = "usual_value";
    one.pointer = pointer;
    one.value = text;
    one.message = circuit::quoted(field) + " is " + text + (type.empty() ? "" : " of a " + type) +
                  ", " + (*value < *least ? "less" : "more") + " than such parts have";
    one.expected = std::string(row->least) + " to " + row->most;
    one.cause = likely_slip(text, row->dimension, *least, *most);
    one.source = row->source;
    findings->push_back(std::move(one));
  }
}

}  // namespace faultodds::authoring
