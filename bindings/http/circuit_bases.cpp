#include "bindings/http/circuit_bases.h"

#include "bindings/http/members.h"

namespace faultodds_http {
namespace {

constexpr std::size_t kMostBases = 16;  // as the library takes

// The member `extends` as written; empty where there is none.
std::string_view extends_of(std::string_view circuit) {
  try {
    for (const Member& member : members_of(circuit)) {
      if (member.name == "extends") return member.text;
    }
  } catch (const NotAnObject&) {
  }
  return {};
}

}  // namespace

std::optional<std::string> base_named(std::string_view circuit) {
  // Most circuits have none, and are not cut into their members for it.
  if (circuit.find("\"extends\"") == std::string_view::npos) return std::nullopt;
  const std::string_view written = extends_of(circuit);
  if (!written.starts_with('"')) return std::nullopt;
  try {
    return string_value(written);
  } catch (const NotAnObject&) {
    return std::nullopt;
  }
}

CircuitBases with_bases(
    std::string_view circuit,
    const std::function<std::optional<std::string>(const std::string& name)>& find) {
  CircuitBases out;
  out.text = circuit;
  // Where the innermost document begins, whose base is named.
  std::size_t begin = 0, length = circuit.size();
  while (const auto name = base_named(std::string_view(out.text).substr(begin, length))) {
    out.pointer += "/extends";
    if (!out.names.insert(*name).second || out.names.size() > kMostBases) {
      out.problem = "circuits extend one another in a circle or more than " +
                    std::to_string(kMostBases) + " deep, at " + quoted(*name);
      return out;
    }
    const auto base = find(*name);
    if (!base) {
      out.problem = "there is no circuit " + quoted(*name) + " to extend";
      return out;
    }
    const std::string_view written = extends_of(std::string_view(out.text).substr(begin, length));
    const auto at = static_cast<std::size_t>(written.data() - out.text.data());
    out.text.replace(at, written.size(), *base);
    begin = at;
    length = base->size();
  }
  return out;
}

}  // namespace faultodds_http
