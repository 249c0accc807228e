#include "capi/documents/circuit_symbols.h"

#include <algorithm>

#include "core/circuit/type_check.h"

namespace faultodds::documents {
namespace {

using circuit::ComponentType;
using circuit::Element;
using circuit::ElementKind;

std::string path(const std::string& d, const char* kind = nullptr) {
  return "<path" + (kind == nullptr ? std::string() : " class=\"" + std::string(kind) + "\"") +
         " d=\"" + d + "\"/>\n";
}

// An arrow head at (x, y): up, down, left or right.
std::string head(int x, int y, char towards) {
  const auto at = [&](int dx, int dy) {
    return std::to_string(x + dx) + " " + std::to_string(y + dy);
  };
  std::string d = "M" + at(0, 0);
  switch (towards) {
    case 'u':
      d += "L" + at(-3, 6) + "L" + at(3, 6);
      break;
    case 'd':
      d += "L" + at(-3, -6) + "L" + at(3, -6);
      break;
    case 'l':
      d += "L" + at(6, -3) + "L" + at(6, 3);
      break;
    default:
      d += "L" + at(-6, -3) + "L" + at(-6, 3);
      break;
  }
  return path(d + "Z", "filled");
}

// Cores stand between (36, 40), where the first port's oil comes in, and (36, 16).
std::string check_core(int x = 36) {
  const std::string at = std::to_string(x);
  return path("M" + at + " 40V33M" + std::to_string(x - 8) + " 24L" + at + " 33L" +
              std::to_string(x + 8) + " 24M" + at + " 18V16") +
         "<circle cx=\"" + at + "\" cy=\"24\" r=\"5.5\"/>\n";
}

std::string square_with_spring() {
  return path("M24 16H48V40H24Z") + path("M24 28L21 24L18 32L15 24L12 32L9 28");
}

std::string relief_core() {
  return square_with_spring() + path("M43 37V22") + head(43, 19, 'u') +
         path("M36 46H53V30H48", "dashed");
}

std::string reducing_core() {
  return square_with_spring() + path("M36 40V22") + head(36, 16, 'u') +
         path("M36 10H53V26H48", "dashed");
}

std::string passage_core(const std::string& type) {
  if (type.find("filter") != std::string::npos || type.find("strainer") != std::string::npos) {
    return path("M36 16L50 28L36 40L22 28Z") + path("M22 28H50", "dashed");
  }
  if (type == "hose") return path("M36 40C22 34 50 22 36 16") + path("M31 40H41M31 16H41");
  if (type.find("restrictor") != std::string::npos) {
    return path("M36 40V16M28 18Q34 28 28 38M44 18Q38 28 44 38");
  }
  if (type.find("cooler") != std::string::npos) {
    return path("M36 16L50 28L36 40L22 28ZM30 28H14M42 28H58") + head(12, 28, 'l') +
           head(60, 28, 'r');
  }
  if (type.find("compensator") != std::string::npos) return reducing_core();
  if (type == "isolation_valve") return path("M28 16H44L28 40H44Z");
  return path("M36 40V16");
}

// Of two positions, shut at rest: the spring holds the one that blocks, the coil brings the other.
std::string shut_at_rest() {
  return path("M2 16H48V40H2ZM24 16V40M36 40V34M31 34H41M36 16V22M31 22H41") + path("M13 37V22") +
         head(13, 19, 'u') + path("M48 28L51 24L54 32L57 24L60 32L63 28");
}

bool has(const ComponentType& type, ElementKind kind) {
  return std::any_of(type.elements.begin(), type.elements.end(),
                     [kind](const Element& one) { return one.kind == kind; });
}

std::string core_of(const ComponentType& type) {
  if (type.flow_test) {
    std::string core =
        "<circle cx=\"36\" cy=\"28\" r=\"12\"/>\n" + path("M36 16L31 24H41Z", "filled");
    if (type.name.find("variable") != std::string::npos) {
      core += path("M24 40L50 14") + path("M52 12L45 14L50 19Z", "filled");
    }
    return core;
  }
  if (!type.reduces.empty()) return reducing_core();
  const bool filter = has(type, ElementKind::passage);
  if (has(type, ElementKind::relief) && !filter) return relief_core();
  if (has(type, ElementKind::check)) return check_core();
  if (!filter && circuit::positions_of(type).size() > 1) return shut_at_rest();
  return passage_core(type.name);
}

// A part of two ports, the first below and the second above unless what they are joined with lies
// otherwise.
Symbol two_ports(const ComponentType& type, const std::vector<PortUse>& ports,
                 bool first_is_inlet) {
  Symbol out;
  out.columns = 3;
  std::string core = core_of(type);
  const bool both = has(type, ElementKind::relief) && has(type, ElementKind::check);
  int aside = 2;
  if (both) {  // a relief with a check beside it, against it
    out.columns = 5;
    aside = 4;
    core = relief_core() + "<g transform=\"translate(144 56) rotate(180)\">\n" + check_core(72) +
           "</g>\n" + path("M36 48H72V40M72 16V8H36");
  }
  const std::size_t in = first_is_inlet ? 0 : 1, on = 1 - in;
  bool in_top = ports[in].upwards && !ports[in].at_tank;
  bool on_top = !ports[on].at_tank && (ports[on].upwards || !in_top);
  if (!ports[on].upwards && !ports[on].at_tank && ports[in].at_tank) on_top = true;
  out.pins.resize(2);
  out.pins[in] = {in_top, 1};
  out.pins[on] = {on_top, in_top == on_top ? aside : 1};
  std::string drawing = core + path("M36 56V40M36 16V8");
  if (in_top == on_top) {
    const std::string x = std::to_string(aside * 24 + 12);
    drawing += path("M36 8V4H" + x + "V56");
  } else {
    drawing += path("M36 8V0");
  }
  out.drawing =
      in_top ? "<g transform=\"translate(0 56) scale(1 -1)\">\n" + drawing + "</g>\n" : drawing;
  return out;
}

SymbolPin pin_of(const std::string& name,
                 const std::vector<std::pair<const char*, SymbolPin>>& pins) {
  for (const auto& [known, pin] : pins) {
    if (name == known) return pin;
  }
  return {};
}

Symbol fixed(int columns, const std::vector<PortUse>& ports,
             const std::vector<std::pair<const char*, SymbolPin>>& pins, std::string drawing) {
  Symbol out;
  out.columns = columns;
  for (const PortUse& port : ports) out.pins.push_back(pin_of(port.name, pins));
  out.drawing = std::move(drawing);
  return out;
}

Symbol section(const ComponentType& type, const std::vector<PortUse>& ports, bool gallery) {
  bool drained = false;
  for (const Element& element : type.elements) {
    const bool neutral = std::find(element.open_in.begin(), element.open_in.end(), "neutral") !=
                         element.open_in.end();
    drained = drained || (neutral && element.to == "t");
  }
  std::string d = path("M12 17H36V39H12ZM36 17H60V39H36ZM60 17H84V39H60Z") +
                  path("M36 0V8H42V17M60 0V8H54V17M36 56V46H42V39M60 56V46H54V39");
  d += path("M18 39V24M30 17V32") + head(18, 19, 'u') + head(30, 37, 'd');
  d += path("M66 39L77 20M66 17L77 36") + head(78, 19, 'u') + head(78, 37, 'd');
  if (drained) {
    d += path("M42 17V22H54V17M54 22V39M39 36H45M42 39V36");
  } else {
    d += path("M39 20H45M42 17V20M51 20H57M54 17V20M39 36H45M42 39V36M51 36H57M54 39V36");
  }
  d += path("M12 28L10 24L8 32L6 24L4 32L2 28M84 28L86 24L88 32L90 24L92 32L94 28");
  if (gallery) d += path("M12 56V50M84 56V50") + path("M12 50H84", "dashed");
  const bool senses = ports.size() == 5;
  if (senses) d += path("M84 56V46H72V39", "dashed");
  return fixed(4, ports,
               {{"a", {true, 1}},
                {"b", {true, 2}},
                {"p", {false, 1}},
                {"t", {false, 2}},
                {"in", {false, 0}},
                {senses ? "ls" : "out", {false, 3}}},
               std::move(d));
}

// Two positions of three ports: at rest a is drained.
Symbol three_two(const std::vector<PortUse>& ports) {
  return fixed(3, ports, {{"a", {true, 1}}, {"p", {false, 1}}, {"t", {false, 2}}},
               path("M12 17H60V39H12ZM36 17V39M36 0V8H42V17M36 56V46H42V39M60 56V46H54V39") +
                   path("M24 39V22") + head(24, 19, 'u') + path("M42 17L53 37M42 39V35M39 35H45") +
                   head(54, 39, 'd') + path("M60 28L62 24L64 32L66 24L68 32L70 28") +
                   path("M2 22H12V34H2ZM2 34L12 22"));
}

// In below, the side that is served first on the left.
Symbol priority(const std::vector<PortUse>& ports) {
  return fixed(3, ports, {{"in", {false, 1}}, {"priority", {true, 0}}, {"bypass", {true, 2}}},
               path("M14 16H58V40H14ZM36 56V31M12 0V8H24V16M60 0V8H48V16") +
                   path("M36 31H24V22M36 31H48V22") + head(24, 19, 'u') + head(48, 19, 'u') +
                   path("M58 28L60 24L62 32L64 24L66 32L68 28"));
}

// A pump that senses the load, or whose control has a port.
Symbol sensing_pump(const std::vector<PortUse>& ports) {
  return fixed(3, ports, {{"in", {false, 1}}, {"out", {true, 1}}, {"ls", {true, 2}}},
               "<circle cx=\"36\" cy=\"28\" r=\"12\"/>\n" + path("M36 16L31 24H41Z", "filled") +
                   path("M36 56V40M36 16V0M24 40L50 14") + path("M52 12L45 14L50 19Z", "filled") +
                   path("M60 0V28H48", "dashed"));
}

// A pump over centre: a triangle each way, the charge from below.
Symbol loop_pump(const std::vector<PortUse>& ports) {
  return fixed(3, ports, {{"a", {true, 0}}, {"b", {true, 2}}, {"charge", {false, 1}}},
               "<circle cx=\"36\" cy=\"30\" r=\"13\"/>\n" +
                   path("M23 30L31 25V35ZM49 30L41 25V35Z", "filled") +
                   path("M12 0V30H23M60 0V30H49M23 44L49 15") +
                   path("M51 13L44 15L49 20Z", "filled") + path("M36 56V43", "dashed"));
}

// What steers: a spool about a metering motor.
Symbol steering(const std::vector<PortUse>& ports) {
  return fixed(4, ports, {{"l", {true, 1}}, {"r", {true, 2}}, {"p", {false, 1}}, {"t", {false, 2}}},
               path("M20 14H76V42H20ZM36 14V0M60 14V0M36 56V42M60 56V42M48 20V36M40 28H56") +
                   "<circle cx=\"48\" cy=\"28\" r=\"8\"/>\n" + path("M20 28H8M8 20V36"));
}

Symbol actuator(const ComponentType& type, const std::vector<PortUse>& ports) {
  const std::string motor = "<circle cx=\"36\" cy=\"26\" r=\"13\"/>\n" +
                            path("M12 56V26H23M60 56V26H49") +
                            path("M23 26L31 21V31ZM49 26L41 21V31Z", "filled");
  if (ports.size() == 3 && type.flow_test) {  // with a brake
    return fixed(4, ports, {{"a", {false, 0}}, {"b", {false, 2}}, {"release", {false, 3}}},
                 motor + path("M36 13V6H78V12M66 12H90V30H66ZM66 18H90M72 12V6M84 12V6") +
                     path("M84 56V30", "dashed"));
  }
  if (ports.size() == 1) {  // a plunger
    Symbol out = fixed(4, ports, {}, path("M8 14H60V36H8ZM24 19H92V31H24ZM12 56V36"));
    out.pins = {{false, 0}};
    return out;
  }
  if (ports.size() == 2 && type.flow_test) {
    return fixed(3, ports, {{"a", {false, 0}}, {"b", {false, 2}}}, motor);
  }
  if (ports.size() == 2 && type.name.find("double_rod") != std::string::npos) {
    return fixed(4, ports, {{"left", {false, 1}}, {"right", {false, 2}}},
                 path("M22 14H74V36H22ZM46 14V36M50 14V36M4 25H46M50 25H92M36 56V36M60 56V36"));
  }
  if (ports.size() == 2) {
    Symbol out = fixed(4, ports, {},
                       path("M8 14H68V36H8ZM34 14V36M38 14V36M38 23H92M38 27H92M92 23V27") +
                           path("M12 56V36M60 56V36"));
    out.pins = {{false, 0}, {false, 2}};
    return out;
  }
  return {};
}

Symbol box(const std::vector<PortUse>& ports) {
  Symbol out;
  int above = 0, below = 0;
  for (const PortUse& port : ports) {
    const bool top = port.upwards && !port.at_tank;
    out.pins.push_back({top, top ? above++ : below++});
  }
  out.columns = std::max({2, above, below});
  std::string d = "M4 14H" + std::to_string(out.columns * 24 - 4) + "V42H4Z";
  for (const SymbolPin& pin : out.pins) {
    const std::string x = std::to_string(pin.column * 24 + 12);
    d += "M" + x + (pin.top ? " 0V14" : " 56V42");
  }
  out.drawing = path(d);
  return out;
}

// What a pilot opens: the load above, valve and pilot below.
Symbol load_holding(const ComponentType& type, const std::vector<PortUse>& ports) {
  std::string d = has(type, ElementKind::relief)
                      ? "<g transform=\"translate(72 56) rotate(180)\">\n" + square_with_spring() +
                            path("M43 37V22") + head(43, 19, 'u') + "</g>\n"
                      : check_core();
  d += path("M36 56V40M36 16V0") +
       path("M60 56V30H" + std::string(has(type, ElementKind::relief) ? "48" : "42"), "dashed");
  if (has(type, ElementKind::relief))
    d += path("M36 48H12V34M12 18V8H36") + path("M4 25L12 34L20 25") +
         "<circle cx=\"12\" cy=\"23\" r=\"4.5\"/>\n";
  return fixed(3, ports, {{"valve", {false, 1}}, {"load", {true, 1}}, {"pilot", {false, 2}}},
               std::move(d));
}

Symbol store(const std::vector<PortUse>& ports) {
  Symbol out = fixed(2, ports, {},
                     "<rect x=\"3\" y=\"6\" width=\"18\" height=\"36\" rx=\"9\"/>\n" +
                         path("M3 24H21M12 56V42") + path("M12 22L8 14H16Z"));
  out.pins = {{false, 0}};
  return out;
}

Symbol swivel(const std::vector<PortUse>& ports) {
  return fixed(
      3, ports,
      {{"in_1", {false, 0}}, {"out_1", {true, 0}}, {"in_2", {false, 2}}, {"out_2", {true, 2}}},
      path("M4 18H68M4 38H68M12 56V0M60 56V0") + "<circle cx=\"36\" cy=\"28\" r=\"7\"/>\n");
}

bool is_actuator_drawn(const ComponentType& type, const std::vector<PortUse>& ports) {
  if (!circuit::is_actuator(type)) return false;
  return ports.size() <= 2 || (ports.size() == 3 && type.flow_test && ports[2].name == "release");
}

// What its three ports are called says what it is.
Symbol three_ports(const ComponentType& type, const std::vector<PortUse>& ports) {
  const auto are = [&](const std::vector<std::string>& names) {
    return std::all_of(names.begin(), names.end(), [&](const std::string& name) {
      return std::any_of(ports.begin(), ports.end(),
                         [&](const PortUse& one) { return one.name == name; });
    });
  };
  if (are({"valve", "load", "pilot"})) return load_holding(type, ports);
  if (are({"p", "a", "t"})) return three_two(ports);
  if (are({"in", "priority", "bypass"})) return priority(ports);
  if (type.flow_test && are({"in", "out", "ls"})) return sensing_pump(ports);
  if (type.flow_test && are({"a", "b", "charge"})) return loop_pump(ports);
  if (type.name == "shuttle") {
    return fixed(3, ports, {{"a", {false, 0}}, {"b", {false, 2}}, {"out", {true, 1}}},
                 path("M18 20H54V36H18ZM12 56V28H24M60 56V28H48M36 20V0") +
                     "<circle cx=\"30\" cy=\"28\" r=\"6\"/>\n");
  }
  return box(ports);
}

}  // namespace

Symbol symbol_of(const ComponentType& type, const std::vector<PortUse>& ports) {
  const auto port = [&](const char* name) {
    return std::any_of(ports.begin(), ports.end(),
                       [name](const PortUse& one) { return one.name == name; });
  };
  if (is_actuator_drawn(type, ports)) return actuator(type, ports);
  if (type.stores_gas && ports.size() == 1) return store(ports);
  if (type.name == "tank" && ports.size() == 2) {
    return fixed(3, ports, {{"suction", {false, 0}}, {"return", {false, 2}}},
                 path("M4 12V46H68V12M4 20H68M12 56V26M60 56V40"));
  }
  if (ports.size() == 2 && !type.elements.empty()) {
    // Which of the two the oil comes in by, as the first element that passes one way says.
    bool first_is_inlet = true;
    for (const Element& element : type.elements) {
      if (element.kind == ElementKind::check || element.kind == ElementKind::relief) {
        first_is_inlet = element.from == ports[0].name;
        break;
      }
    }
    return two_ports(type, ports, first_is_inlet);
  }
  if (port("p") && port("t") && port("a") && port("b") &&
      (ports.size() == 4 || (ports.size() == 5 && port("ls")) ||
       (ports.size() == 6 && port("in") && port("out")))) {
    return section(type, ports, ports.size() == 6);
  }
  if (ports.size() == 4 && port("in_1") && port("out_1")) return swivel(ports);
  if (ports.size() == 4 && port("p") && port("t") && port("l") && port("r")) return steering(ports);
  return ports.size() == 3 ? three_ports(type, ports) : box(ports);
}

}  // namespace faultodds::documents
