#include "capi/documents/assembly_writer.h"

#include <algorithm>

namespace faultodds::documents {

using circuit::expected;

std::optional<std::string> Assemblies::resolved(const Scope& scope, const std::string& text,
                                                const std::string& pointer) const {
  if (text == "tank" || text == "outside") return text;
  const std::string full = scope.full(text);
  if (is_removed(full)) return std::nullopt;
  if (components_.count(full) != 0 && ports_of_.count(full) == 0) return full;
  const std::size_t dot = full.rfind('.');
  const std::string part = dot == std::string::npos ? full : full.substr(0, dot);
  const std::string port = dot == std::string::npos ? std::string() : full.substr(dot + 1);
  const auto assembly = ports_of_.find(part);
  if (assembly != ports_of_.end() && dot != std::string::npos) {
    const auto found = assembly->second->ports.find(port);
    if (found != assembly->second->ports.end()) {
      if (found->second.empty()) return std::nullopt;
      return found->second;
    }
    std::vector<std::string> known;
    for (const auto& [name, inner] : assembly->second->ports) known.push_back(name);
    std::sort(known.begin(), known.end());
    refuse_at(pointer, "the assembly " + in_backticks(part) + " has no port " + in_backticks(port) +
                           expected(port, known, "ports"));
  }
  if (!scope.is_document() && components_.count(part) == 0) {
    refuse_at(pointer, in_backticks(text) + " names no part of this assembly" +
                           expected(text, part_names(scope.id), "parts"));
  }
  return full;
}

bool Assemblies::is_removed(const std::string& full) const {
  if (removed_.empty() || full.size() > 4 * circuit::kMostInName) return false;
  for (std::size_t to = full.size(); to != std::string::npos && to > 0;
       to = full.rfind('.', to - 1)) {
    if (removed_.count(full.substr(0, to)) != 0) return true;
  }
  return false;
}

template <typename Write>
void Assemblies::write_list(const char* key, Write write) {
  bool any = false;
  for (const Scope& scope : scopes_) any = any || scope.of->contains(key);
  if (!any) return;
  out_.text().key(key).begin_list();
  std::size_t placed = 0;
  for (const Scope& scope : scopes_) {
    const Json* list = member(*scope.of, key);
    if (list == nullptr) continue;
    const std::string pointer = scope.pointer + "/" + key;
    if (!list->is_array())
      refuse_at(pointer, in_backticks(key) + " is " + shown(*list) + "; expected a list");
    std::size_t i = 0;
    for (const Json& entry : list->get_ref<const Json::array_t&>()) {
      const std::string here = pointer + "/" + std::to_string(i++);
      for_each(scope, entry, here, [&](const Parameters* parameters) {
        const std::string at = "/" + std::string(key) + "/" + std::to_string(placed);
        if (!write(scope, Layer{&entry, here, parameters}, at)) return;
        out_.origins().add(at, here, scope.id);
        ++placed;
      });
    }
  }
  out_.text().end_list();
}

void Assemblies::write_connections() {
  write_list("connections", [&](const Scope& scope, const Layer& entry, const std::string& at) {
    std::optional<std::string> ends[2];
    const char* keys[2] = {"from", "to"};
    for (int e = 0; e < 2; ++e) {
      ends[e] = resolved(scope, text_at(*entry.value, keys[e], entry.parameters, entry.pointer),
                         entry.pointer + "/" + keys[e]);
    }
    if (!ends[0] || !ends[1]) return false;
    out_.text().begin_object().member("from", *ends[0]).member("to", *ends[1]);
    if (entry.value->contains("line")) {
      out_.text().member(
          "line", scope.full(text_at(*entry.value, "line", entry.parameters, entry.pointer)));
    }
    out_.write_members({entry}, at, {"from", "to", "line", "each"});
    out_.text().end_object();
    return true;
  });
}

void Assemblies::write_fittings() {
  bool any = false;
  for (const Scope& scope : scopes_) any = any || scope.of->contains("fittings");
  if (!any) return;
  out_.text().key("fittings").begin_object();
  std::unordered_set<std::string> known;
  for (const Scope& scope : scopes_) {
    const Json* list = member(*scope.of, "fittings");
    if (list == nullptr) continue;
    const std::string pointer = scope.pointer + "/fittings";
    if (!list->is_object())
      refuse_at(pointer, "`fittings` is " + shown(*list) + "; expected a fitting for each port");
    for (const auto& [key, fitting] : list->get_ref<const Json::object_t&>()) {
      const std::string here = pointer + "/" + escape_pointer(key);
      const std::string& name = key;
      const Json& entry = fitting;
      for_each(scope, entry, here, [&](const Parameters* parameters) {
        const auto port = resolved(scope, filled(name, parameters, here), here);
        if (!port) return;
        if (!known.insert(*port).second) {
          refuse_at(here, in_backticks(*port) + " has two fittings; expected one");
        }
        const std::string at = "/fittings/" + escape_pointer(*port);
        out_.origins().add(at, here, scope.id);
        out_.text().key(*port).begin_object();
        out_.write_members({{&entry, here, parameters}}, at, {"each"});
        out_.text().end_object();
      });
    }
  }
  out_.text().end_object();
}

void Assemblies::write_functions() {
  write_list("functions", [&](const Scope& scope, const Layer& entry, const std::string& at) {
    if (scope.is_document()) {
      out_.text().begin_object();
      std::unordered_set<std::string_view> without;
      if (const Json* source = member(*entry.value, "source");
          source != nullptr && source->is_string()) {
        const auto from =
            resolved(scope, source->get_ref<const std::string&>(), entry.pointer + "/source");
        if (from) {
          out_.text().member("source", *from);
          without.insert("source");
        }
      }
      out_.write_members({entry}, at, without);
      out_.text().end_object();
      return true;
    }
    const auto text = [&](const char* key) {
      return text_at(*entry.value, key, entry.parameters, entry.pointer);
    };
    const auto actuator = resolved(scope, text("actuator"), entry.pointer + "/actuator");
    const auto source = resolved(scope, text("source"), entry.pointer + "/source");
    if (!actuator || !source) return false;
    const std::string id = text("id");
    const std::string title = entry.value->contains("title") ? text("title") : id;
    out_.text()
        .begin_object()
        .member("id", scope.full(id))
        .member("title", scope.title.text + ", " + title);
    out_.text().member("actuator", *actuator).member("source", *source);
    if (const Json* positions = member(*entry.value, "positions")) {
      const std::string pointer = entry.pointer + "/positions";
      if (!positions->is_object()) {
        refuse_at(pointer,
                  "`positions` is " + shown(*positions) + "; expected a position for each valve");
      }
      out_.text().key("positions").begin_object();
      for (const auto& [valve, position] : positions->get_ref<const Json::object_t&>()) {
        const std::string here = pointer + "/" + escape_pointer(valve);
        const auto part = resolved(scope, filled(valve, entry.parameters, here), here);
        if (!part) continue;
        out_.text().key(*part);
        const std::string there = at + "/positions/" + escape_pointer(*part);
        out_.origins().add(there, here, scope.id);
        out_.write({{&position, here, entry.parameters}}, there);
      }
      out_.text().end_object();
    }
    out_.write_members({entry}, at, {"id", "title", "actuator", "source", "positions", "each"});
    out_.text().end_object();
    return true;
  });
}

}  // namespace faultodds::documents
