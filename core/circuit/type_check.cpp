#include "core/circuit/type_check.h"

#include <algorithm>
#include <set>
#include <string_view>
#include <unordered_set>

#include "core/circuit/names.h"
#include "core/error.h"
#include "core/reading/units.h"
#include "core/stop.h"

namespace faultodds::circuit {
namespace {

// Failure-mode codes of ISO 14224 (annex on failure modes), those that the classes of equipment
// with hydraulic parts use. Listed from memory of the standard.
const std::vector<std::string>& failure_mode_codes() {
  static const std::vector<std::string> codes = {
      "AIR", "BRD", "CSF", "DOP", "ELF", "ELP", "ELU", "ERO", "FCO", "FRO", "FTC", "FTD",
      "FTF", "FTI", "FTL", "FTO", "FTR", "FTS", "HIO", "IHT", "INL", "LBP", "LCP", "LOA",
      "LOO", "NOI", "NOO", "OHE", "OTH", "PDE", "PLU", "POW", "PTF", "SBU", "SER", "SHH",
      "SLL", "SLP", "SPO", "STD", "STP", "UNK", "UST", "VIB", "VLO", "OWD"};
  return codes;
}

const std::vector<std::string>& parameter_names() {
  static const std::vector<std::string> names = {"bore",  "rod",          "areas",      "setting",
                                                 "ratio", "displacement", "rated_flow", "volume"};
  return names;
}

using NameSet = std::unordered_set<std::string_view>;

bool is_reservoir(const std::string& name) { return name == "tank" || name == "outside"; }

void check_names(const std::vector<std::string>& names, const std::string& what,
                 const std::string& pointer, std::set<std::string>* taken) {
  for (std::size_t i = 0; i < names.size(); ++i) {
    check_length(names[i], what, at(pointer, i));
    if (!is_plain_name(names[i])) {
      refuse(what + " " + quoted(names[i]) +
                 ": a name of one or more letters, digits, `_` or `-` was expected",
             at(pointer, i));
    }
    if (is_reservoir(names[i])) {
      refuse(what + " " + quoted(names[i]) +
                 ": that name belongs to a reservoir; any other name was expected",
             at(pointer, i));
    }
    if (!taken->insert(names[i]).second) {
      refuse(what + " " + quoted(names[i]) + " occurs twice in this type; names must differ",
             at(pointer, i));
    }
  }
}

void check_elements(const ComponentType& type, const std::string& pointer, const Limits& limits) {
  const std::vector<std::string> volumes = volumes_of(type);
  std::vector<std::string> known = volumes;
  known.insert(known.end(), {"tank", "outside"});
  const NameSet is_known(known.begin(), known.end());
  std::set<std::string> names;
  for (const Element& element : type.elements) {
    check_stop();
    const std::string here = at(at(pointer, "elements"), element.name);
    check_length(element.name, "element", here);
    if (!is_plain_name(element.name)) {
      refuse("element " + quoted(element.name) +
                 ": a name of one or more letters, digits, `_` or `-` was expected",
             here);
    }
    if (!names.insert(element.name).second) {
      refuse("element " + quoted(element.name) + " occurs twice in this type; names must differ",
             here);
    }
    for (const bool at_from : {true, false}) {
      const std::string& volume = at_from ? element.from : element.to;
      const char* field = at_from ? "from" : "to";
      if (is_known.count(volume) == 0) {
        refuse(std::string(field) + " " + quoted(volume) + " of element " + quoted(element.name) +
                   " is no volume of type " + quoted(type.name) +
                   expected(volume, known, "volumes"),
               at(here, field));
      }
    }
    if (element.from == element.to) {
      refuse("element " + quoted(element.name) + " joins " + quoted(element.from) +
                 " with itself; two different volumes were expected",
             at(here, "to"));
    }
    if (!element.open_in.empty() && element.kind != ElementKind::seal) {
      refuse("open_in of element " + quoted(element.name) +
                 ": only an element of kind `seal` opens with a valve's position",
             at(here, "open_in"));
    }
    if (element.open_in.size() > limits.positions) {
      throw Error(Code::limit_exceeded,
                  "open_in of element " + quoted(element.name) + " lists " +
                      std::to_string(element.open_in.size()) + " positions; at most " +
                      std::to_string(limits.positions) + " are taken",
                  at(here, "open_in"));
    }
    if (!element.pilot.empty()) {
      if (find_name(volumes, element.pilot) == volumes.size()) {
        refuse("pilot " + quoted(element.pilot) + " of element " + quoted(element.name) +
                   " is no volume of type " + quoted(type.name) +
                   expected(element.pilot, volumes, "volumes"),
               at(here, "pilot"));
      }
      if (element.kind == ElementKind::passage) {
        refuse("pilot of element " + quoted(element.name) +
                   ": only an element of kind `seal`, `relief` or `check` has a pilot",
               at(here, "pilot"));
      }
    }
    std::set<std::string> positions;
    for (std::size_t i = 0; i < element.open_in.size(); ++i) {
      check_length(element.open_in[i], "open_in", at(at(here, "open_in"), i));
      if (!is_plain_name(element.open_in[i])) {
        refuse("open_in " + quoted(element.open_in[i]) +
                   ": a position name of letters, digits, `_` or `-` was expected",
               at(at(here, "open_in"), i));
      }
      if (!positions.insert(element.open_in[i]).second) {
        refuse("open_in of element " + quoted(element.name) + " lists " +
                   quoted(element.open_in[i]) + " twice",
               at(at(here, "open_in"), i));
      }
    }
  }
}

void check_failure_modes(const ComponentType& type, const std::string& pointer) {
  std::vector<std::string> elements;
  for (const Element& element : type.elements) elements.push_back(element.name);
  const NameSet is_element(elements.begin(), elements.end());
  std::set<std::string> names;
  for (const FailureModeType& mode : type.failure_modes) {
    check_stop();
    const std::string here = at(at(pointer, "failure_modes"), mode.name);
    check_length(mode.name, "failure mode", here);
    if (!is_plain_name(mode.name)) {
      refuse("failure mode " + quoted(mode.name) +
                 ": a name of one or more letters, digits, `_` or `-` was expected",
             here);
    }
    if (!names.insert(mode.name).second) {
      refuse("failure mode " + quoted(mode.name) + " occurs twice in this type; names must differ",
             here);
    }
    if (find_name(failure_mode_codes(), mode.code) == failure_mode_codes().size()) {
      refuse("code " + quoted(mode.code) + " of failure mode " + quoted(mode.name) +
                 " is no ISO 14224 failure-mode code" +
                 expected(mode.code, failure_mode_codes(), "codes"),
             at(here, "code"));
    }
    for (const bool leaks : {true, false}) {
      const char* field = leaks ? "leaks" : "restricts";
      for (const std::string& element : leaks ? mode.leaks : mode.restricts) {
        if (is_element.count(element) == 0) {
          refuse(std::string(field) + " " + quoted(element) + " of failure mode " +
                     quoted(mode.name) + " is no element of type " + quoted(type.name) +
                     expected(element, elements, "elements"),
                 at(here, field));
        }
      }
    }
    for (const std::string& port : mode.weakens) {
      if (find_name(type.ports, port) == type.ports.size()) {
        refuse("weakens " + quoted(port) + " of failure mode " + quoted(mode.name) +
                   " is no port of type " + quoted(type.name) + expected(port, type.ports, "ports"),
               at(here, "weakens"));
      }
    }
    if (mode.size) check_size(*mode.size, "failure mode " + quoted(mode.name), at(here, "sizes"));
  }
}

void check_actuator(const ComponentType& type, const std::string& pointer) {
  const std::vector<std::string> volumes = volumes_of(type);
  const std::string actuator = at(pointer, "actuator");
  std::set<std::string> names;
  for (const ComponentType::Direction& direction : type.directions) {
    const std::string here = at(at(actuator, "directions"), direction.name);
    check_length(direction.name, "direction", here);
    if (!is_plain_name(direction.name)) {
      refuse("direction " + quoted(direction.name) +
                 ": a name of one or more letters, digits, `_` or `-` was expected",
             here);
    }
    if (!names.insert(direction.name).second) {
      refuse("direction " + quoted(direction.name) + " occurs twice in this type", here);
    }
    for (const bool contracting : {true, false}) {
      const std::string& volume = contracting ? direction.contracting : direction.expanding;
      if (find_name(volumes, volume) == volumes.size()) {
        refuse(std::string(contracting ? "contracting" : "expanding") + " volume " +
                   quoted(volume) + " of direction " + quoted(direction.name) +
                   " is no volume of type " + quoted(type.name) +
                   expected(volume, volumes, "volumes"),
               at(here, std::size_t{contracting ? 0U : 1U}));
      }
    }
    if (direction.contracting == direction.expanding) {
      refuse("direction " + quoted(direction.name) + " names " + quoted(direction.expanding) +
                 " as contracting and expanding; two different volumes were expected",
             at(here, std::size_t{1}));
    }
  }
  for (const auto& [volume, rule] : type.areas) {
    if (find_name(volumes, volume) == volumes.size()) {
      refuse("areas names " + quoted(volume) + ", which is no volume of type " + quoted(type.name) +
                 expected(volume, volumes, "volumes"),
             at(at(actuator, "areas"), volume));
    }
  }
}

}  // namespace

void check_size(const ModeSize& size, const std::string& what, const std::string& pointer) {
  const char* const grades[] = {"sound", "worn", "failed"};
  const bool loss = size.law == SizeLaw::loss;
  const auto text = [&](double median) {
    return reading::format_number(median) + (loss ? " %" : " mL/min");
  };
  for (std::size_t grade = 0; grade < 3; ++grade) {
    const ModeSize::OfGrade& of = size.of_grade[grade];
    const std::string here = at(pointer, grades[grade]);
    const std::string name = std::string("the median of `") + grades[grade] + "` of " + what;
    if (loss && of.median > 100) {
      refuse(name + " is " + text(of.median) + "; at most 100 % was expected", here);
    }
    if (grade > 0 && of.median <= size.of_grade[grade - 1].median) {
      refuse(name + " is " + text(of.median) + "; more than that of `" + grades[grade - 1] + "`, " +
                 text(size.of_grade[grade - 1].median) + ", was expected",
             here);
    }
  }
}

void check_rated(const std::map<std::string, double>& rated, const ComponentType& type,
                 const std::string& pointer) {
  const std::vector<std::string> volumes = volumes_of(type);
  for (const auto& [volume, pressure] : rated) {
    if (find_name(volumes, volume) == volumes.size()) {
      refuse("rated names " + quoted(volume) + ", which is no volume of type " + quoted(type.name) +
                 expected(volume, volumes, "volumes"),
             at(at(pointer, "rated"), volume));
    }
  }
}

std::size_t find_name(const std::vector<std::string>& names, const std::string& name) {
  return static_cast<std::size_t>(std::find(names.begin(), names.end(), name) - names.begin());
}

std::vector<std::string> volumes_of(const ComponentType& type) {
  std::vector<std::string> volumes = type.ports;
  volumes.insert(volumes.end(), type.volumes.begin(), type.volumes.end());
  return volumes;
}

std::vector<std::string> positions_of(const ComponentType& type) {
  std::vector<std::string> positions = {"neutral"};
  NameSet listed = {"neutral"};
  for (const Element& element : type.elements) {
    for (const std::string& position : element.open_in) {
      if (listed.insert(position).second) positions.push_back(position);
    }
  }
  return positions;
}

bool is_actuator(const ComponentType& type) { return !type.directions.empty(); }

void check_type(const ComponentType& type, const std::string& pointer, const Limits& limits) {
  check_length(type.name, "type", pointer);
  if (type.ports.size() + type.volumes.size() > limits.type_volumes) {
    throw Error(Code::limit_exceeded,
                "type " + quoted(type.name) + " has " +
                    std::to_string(type.ports.size() + type.volumes.size()) +
                    " ports and inner volumes; at most " + std::to_string(limits.type_volumes) +
                    " are taken",
                at(pointer, "ports"));
  }
  std::set<std::string> taken;
  check_names(type.ports, "port", at(pointer, "ports"), &taken);
  check_names(type.volumes, "volume", at(pointer, "volumes"), &taken);
  check_elements(type, pointer, limits);
  if (const std::size_t positions = positions_of(type).size(); positions > limits.positions) {
    throw Error(Code::limit_exceeded,
                "the elements of type " + quoted(type.name) + " name " + std::to_string(positions) +
                    " valve positions, `neutral` among them; at most " +
                    std::to_string(limits.positions) + " are taken",
                at(pointer, "elements"));
  }
  check_failure_modes(type, pointer);
  check_actuator(type, pointer);
  check_rated(type.rated, type, pointer);
  for (std::size_t i = 0; i < type.reduces.size(); ++i) {
    const std::vector<std::string> volumes = volumes_of(type);
    if (find_name(volumes, type.reduces[i]) == volumes.size()) {
      refuse("reduces names " + quoted(type.reduces[i]) + ", which is no volume of type " +
                 quoted(type.name) + expected(type.reduces[i], volumes, "volumes"),
             at(at(pointer, "reduces"), i));
    }
  }
  for (std::size_t i = 0; i < type.parameters.size(); ++i) {
    if (find_name(parameter_names(), type.parameters[i]) == parameter_names().size()) {
      refuse("parameter " + quoted(type.parameters[i]) + " of type " + quoted(type.name) +
                 " is not known" + expected(type.parameters[i], parameter_names(), "parameters"),
             at(at(pointer, "parameters"), i));
    }
  }
}

}  // namespace faultodds::circuit
