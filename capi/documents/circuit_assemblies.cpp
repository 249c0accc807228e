#include "capi/documents/circuit_assemblies.h"

#include <algorithm>
#include <deque>
#include <map>
#include <optional>
#include <unordered_map>
#include <unordered_set>
#include <vector>

#include "capi/documents/circuit_merge.h"
#include "capi/documents/document.h"
#include "capi/documents/fields.h"
#include "capi/documents/shapes.h"
#include "core/circuit/names.h"
#include "core/stop.h"

namespace faultodds::documents {
namespace {

using circuit::expected;

[[noreturn]] void refuse_at(const std::string& pointer, const std::string& message,
                            Code code = Code::invalid_document) {
  throw Error(code, message, pointer);
}

const Json* member(const Json& object, const char* key) {
  const auto found = object.find(key);
  return found == object.end() ? nullptr : &*found;
}

std::string text_at(const Json& object, const char* key, const Parameters* parameters,
                    const std::string& pointer) {
  const Json* found = member(object, key);
  const std::string at = pointer + "/" + key;
  if (found == nullptr) refuse_at(pointer, "the key " + in_backticks(key) + " is missing");
  if (!found->is_string()) {
    refuse_at(at, in_backticks(key) + " is " + shown(*found) + "; expected a text");
  }
  return filled(found->get_ref<const std::string&>(), parameters, at);
}

// A title in the document's language and in others.
struct Title {
  std::string text;
  std::map<std::string, std::string> in;
};

// Of one use of an assembly, and of the document itself, whose prefix is empty.
struct Scope {
  const Json* of = nullptr;
  std::string pointer;  // of the assembly
  std::string id;       // full
  Parameters parameters;
  Title title;
  // Own port -> full `part.port`; empty where the part was taken out.
  std::unordered_map<std::string, std::string> ports;

  bool is_document() const { return id.empty(); }
  const Parameters* own() const { return is_document() ? nullptr : &parameters; }
  std::string full(const std::string& name) const { return is_document() ? name : id + "." + name; }
};

// What `parts` says of one part.
struct Change {
  Layer layer;
  bool used = false;
};

class Assemblies {
 public:
  Assemblies(const Json& circuit, Origins* origins)
      : circuit_(circuit), fields_(circuit, place_, shape("circuit")), out_(origins) {}

  std::string write() {
    read_definitions();
    out_.text().begin_object();
    Scope& document = scopes_.emplace_back();
    document.of = &circuit_;
    read_titles();
    for (const auto& [key, value] : circuit_.get_ref<const Json::object_t&>()) {
      if (key == "assemblies" || key == "connections" || key == "fittings" || key == "functions" ||
          key == "titles") {
        continue;
      }
      out_.text().key(key);
      if (key == "components") {
        out_.text().begin_list();
        write_components(document, 0);
        out_.text().end_list();
      } else {
        out_.write({{&value, "/" + key}}, "/" + key);
      }
    }
    write_connections();
    write_fittings();
    write_functions();
    write_titles();
    out_.text().end_object();
    return out_.text().take();
  }

 private:
  // ---- what there is ---------------------------------------------------------------------------

  void read_definitions() {
    const Place list = fields_.at("assemblies");
    for (const auto& [name, definition] :
         object_of(fields_.need("assemblies"), list, "assemblies by name")) {
      check_stop();
      const Place here = list.key(name);
      check_id(name, here);
      const Fields fields(definition, here, shape("assembly"));
      list_of(fields.need("components"), fields.at("components"), "components");
      const Json* types = member(circuit_, "types");
      if (types != nullptr && types->is_object() && types->contains(name)) {
        refuse(here, in_backticks(name) + " is a type of this circuit too; expected another name");
      }
      if (const Json* parameters = fields.find("parameters")) {
        const Place at = fields.at("parameters");
        for (const auto& [parameter, value] : object_of(*parameters, at, "values by parameter")) {
          const Place one = at.key(parameter);
          if (!circuit::is_plain_name(parameter) || parameter.find('-') != std::string::npos) {
            refuse(one,
                   "a parameter is called " + in_backticks(parameter) + "; expected A-Z a-z 0-9 _");
          }
          if (value.is_structured()) {
            refuse(one, one.name() + " is " + shown(value) +
                            "; expected a text, a number, true or false, or null where each use "
                            "gives it");
          }
        }
      }
      definitions_.emplace(name, &definition);
    }
  }
  const Json* definition_of(const std::string& type) const {
    const auto found = definitions_.find(type);
    return found == definitions_.end() ? nullptr : found->second;
  }
  std::string definition_pointer(const std::string& name) const {
    return "/assemblies/" + escape_pointer(name);
  }

  void spend(const std::string& pointer) {
    if (written_ % 64 == 0) check_stop();
    if (++written_ > kMostWritten) {
      refuse_at(pointer,
                "the assemblies are made of more than " + std::to_string(kMostWritten) +
                    " parts, connections, fittings and functions together; expected fewer",
                Code::limit_exceeded);
    }
    out_.check_size(pointer);
  }

  // ---- each -------------------------------------------------------------------------------------

  static long count_of(const Json& value, const Parameters* parameters,
                       const std::string& pointer) {
    const std::string text =
        value.is_structured() ? std::string() : value_of(value, parameters, pointer).text;
    const bool whole = !text.empty() && text.size() < 8 &&
                       text.find_first_not_of("0123456789") == std::string::npos;
    if (!whole) {
      refuse_at(pointer, "the count is " + (text.empty() ? shown(value) : in_backticks(text)) +
                             "; expected a whole number");
    }
    return std::stol(text);
  }

  // Calls `visit(parameters)` once, or as often as `each` of the entry says.
  template <typename Visit>
  void for_each(const Scope& scope, const Json& entry, const std::string& pointer, Visit visit) {
    if (!entry.is_object())
      refuse_at(pointer, "an entry is " + shown(entry) + "; expected an object");
    const Json* each = member(entry, "each");
    if (each != nullptr && scope.is_document()) {
      refuse_at(pointer + "/each", "`each` stands outside of an assembly; expected it within one");
    }
    if (each == nullptr) {
      spend(pointer);
      return visit(scope.own());
    }
    const std::string at = pointer + "/each";
    if (!each->is_object() || each->size() != 1) {
      refuse_at(at, "`each` is " + shown(*each) + "; expected one name and its count, {\"i\": 4}");
    }
    const auto& [name, range] = *each->get_ref<const Json::object_t&>().begin();
    const std::string here = at + "/" + escape_pointer(name);
    if (!circuit::is_plain_name(name) || name.find('-') != std::string::npos ||
        scope.parameters.find(name) != nullptr) {
      refuse_at(here, in_backticks(name) +
                          " counts; expected a name of A-Z a-z 0-9 _ that is no "
                          "parameter");
    }
    long first = 1, last = 0;
    if (range.is_array()) {
      if (range.size() != 2)
        refuse_at(here, "the range is " + shown(range) + "; expected [first, last]");
      first = count_of(range[0], scope.own(), here + "/0");
      last = count_of(range[1], scope.own(), here + "/1");
    } else {
      last = count_of(range, scope.own(), here);
    }
    Parameters counting;
    counting.around = scope.own();
    ParameterValue& value = counting.values[name];
    for (long i = first; i <= last; ++i) {
      spend(pointer);
      value = {std::to_string(i), std::to_string(i), here};
      visit(&counting);
    }
  }

  // ---- components -------------------------------------------------------------------------------

  // `level`: assemblies around it.
  void write_components(const Scope& scope, int level) {
    const Json* list = member(*scope.of, "components");
    if (list == nullptr) return;
    const std::string pointer = scope.pointer + "/components";
    if (!list->is_array())
      refuse_at(pointer, "`components` is " + shown(*list) + "; expected a list of components");
    check_titled(scope, *list);
    std::size_t i = 0;
    for (const Json& entry : list->get_ref<const Json::array_t&>()) {
      const std::string here = pointer + "/" + std::to_string(i++);
      for_each(scope, entry, here, [&](const Parameters* parameters) {
        write_component(scope, level, {&entry, here, parameters});
      });
    }
  }

  void write_component(const Scope& scope, int level, const Layer& entry) {
    const std::string id = scope.full(text_at(*entry.value, "id", entry.parameters, entry.pointer));
    std::vector<Layer> layers = {entry};
    if (changed(id, &layers)) return;
    const std::string type = text_of_layers(layers, "type");
    const Json* definition = definition_of(type);
    const bool within = !scope.is_document();
    Title title = title_of(scope, entry, layers, id, within);
    if (definition != nullptr) {
      use(level, layers, id, *definition, type, std::move(title));
      return;
    }
    for (const Layer& layer : layers) {
      for (const char* key : {"parameters", "parts"}) {
        if (layer.value->contains(key)) {
          refuse_at(layer.pointer + "/" + key,
                    in_backticks(key) + " is given for a part of type " + in_backticks(type) +
                        expected(type, definition_names(), "assemblies"));
        }
      }
    }
    if (!components_.insert(id).second && within) refuse_again(id, entry.pointer);
    const std::string at = "/components/" + std::to_string(placed_++);
    out_.origins().add(at, entry.pointer, within ? id : std::string());
    out_.text().begin_object().member("id", id);
    if (within) out_.text().member("title", title.text);
    std::unordered_set<std::string_view> without = {"id", "each"};
    if (within) without.insert("title");
    out_.write_members(layers, at, without);
    out_.text().end_object();
    keep_titles(id, title);
  }
  [[noreturn]] static void refuse_again(const std::string& id, const std::string& pointer) {
    refuse_at(pointer + "/id", "two parts have the id " + in_backticks(id) + "; ids must differ");
  }
  std::vector<std::string> definition_names() const {
    std::vector<std::string> names;
    for (const auto& [name, definition] : definitions_) names.push_back(name);
    return names;
  }

  static std::string text_of_layers(const std::vector<Layer>& layers, const char* key) {
    for (std::size_t l = layers.size(); l-- > 0;) {
      if (l == 0 || layers[l].value->contains(key)) {
        return text_at(*layers[l].value, key, layers[l].parameters, layers[l].pointer);
      }
    }
    return "";
  }

  // Adds what `parts` of the assemblies around it say, the outermost last. True where it is taken
  // out.
  bool changed(const std::string& id, std::vector<Layer>* layers) {
    const auto found = changes_.find(id);
    if (found == changes_.end()) return false;
    for (std::size_t c = found->second.size(); c-- > 0;) {
      Change& change = found->second[c];
      change.used = true;
      if (change.layer.value->is_null()) {
        removed_.insert(id);
        return true;
      }
      layers->push_back(change.layer);
    }
    return false;
  }

  // ---- uses of assemblies -----------------------------------------------------------------------

  void use(int level, const std::vector<Layer>& layers, const std::string& id,
           const Json& definition, const std::string& name, Title title) {
    const std::string& pointer = layers[0].pointer;
    if (level >= kMostLevels) {
      refuse_at(pointer,
                in_backticks(id) + " is an assembly within " + std::to_string(kMostLevels) +
                    " others; expected at most " + std::to_string(kMostLevels) + " levels",
                Code::limit_exceeded);
    }
    for (const std::string& outer : open_) {
      if (outer == name) {
        refuse_at(pointer + "/type", "the assembly " + in_backticks(name) +
                                         " is made of itself, as " + in_backticks(id));
      }
    }
    if (!components_.insert(id).second) refuse_again(id, pointer);
    for (const Layer& layer : layers) {
      for (const auto& [key, value] : layer.value->get_ref<const Json::object_t&>()) {
        if (key == "id" || key == "type" || key == "title" || key == "parameters" ||
            key == "parts" || key == "each") {
          continue;
        }
        refuse_at(layer.pointer + "/" + escape_pointer(key),
                  in_backticks(key) + " is given for the assembly " + in_backticks(name) +
                      "; expected its `parameters`, or `parts` with what differs in one of them");
      }
    }
    open_.push_back(name);
    Scope& scope = scopes_.emplace_back();
    scope.of = &definition;
    scope.pointer = definition_pointer(name);
    scope.id = id;
    scope.title = std::move(title);
    give_parameters(layers, name, &scope);
    const std::vector<std::string> changes = take_changes(layers, scope);
    write_components(scope, level + 1);
    for (const std::string& part : changes) {
      for (const Change& change : changes_[part]) {
        if (change.used) continue;
        const std::string part_name = part.substr(id.size() + 1);
        refuse_at(change.layer.pointer, in_backticks(part_name) + " is changed, which " +
                                            in_backticks(id) + " has not" +
                                            expected(part_name, part_names(id), "parts"));
      }
    }
    for (const std::string& part : changes) changes_.erase(part);
    place_ports(&scope);
    open_.pop_back();
  }

  std::vector<std::string> part_names(const std::string& id) const {
    std::vector<std::string> names;
    for (const std::string& one : components_) {
      if (one.starts_with(id + ".")) names.push_back(one.substr(id.size() + 1));
    }
    std::sort(names.begin(), names.end());
    return names;
  }

  void give_parameters(const std::vector<Layer>& layers, const std::string& name, Scope* scope) {
    const std::string& pointer = layers[0].pointer;
    const Json* declared = member(*scope->of, "parameters");
    std::vector<std::string> known;
    if (declared != nullptr) {
      for (const auto& [parameter, value] : declared->get_ref<const Json::object_t&>()) {
        known.push_back(parameter);
        const std::string at = scope->pointer + "/parameters/" + escape_pointer(parameter);
        if (!value.is_null()) scope->parameters.values[parameter] = value_of(value, nullptr, at);
      }
    }
    for (const Layer& layer : layers) {
      const Json* given = member(*layer.value, "parameters");
      if (given == nullptr) continue;
      const std::string at = layer.pointer + "/parameters";
      if (!given->is_object())
        refuse_at(at, "`parameters` is " + shown(*given) + "; expected values by parameter");
      for (const auto& [parameter, value] : given->get_ref<const Json::object_t&>()) {
        const std::string here = at + "/" + escape_pointer(parameter);
        if (std::find(known.begin(), known.end(), parameter) == known.end()) {
          refuse_at(here, "the assembly " + in_backticks(name) + " has no parameter " +
                              in_backticks(parameter) + expected(parameter, known, "parameters"));
        }
        if (value.is_structured() || value.is_null()) {
          refuse_at(here, in_backticks(parameter) + " is " + shown(value) +
                              "; expected a text, a number, true or false");
        }
        scope->parameters.values[parameter] = value_of(value, layer.parameters, here);
      }
    }
    for (const std::string& parameter : known) {
      if (scope->parameters.find(parameter) == nullptr) {
        refuse_at(pointer, "the parameter " + in_backticks(parameter) + " of the assembly " +
                               in_backticks(name) + " is missing; expected it in `parameters`");
      }
    }
  }

  // Notes what `parts` says; the ids of what it speaks of.
  std::vector<std::string> take_changes(const std::vector<Layer>& layers, const Scope& scope) {
    std::vector<std::string> ids;
    // Those of the outermost come last in a part's layers, and so first here.
    for (std::size_t l = layers.size(); l-- > 0;) {
      const Json* parts = member(*layers[l].value, "parts");
      if (parts == nullptr) continue;
      const std::string at = layers[l].pointer + "/parts";
      if (!parts->is_object())
        refuse_at(at, "`parts` is " + shown(*parts) + "; expected changes by part");
      for (const auto& [part, change] : parts->get_ref<const Json::object_t&>()) {
        spend(at);
        const std::string here = at + "/" + escape_pointer(part);
        if (!change.is_null() && !change.is_object()) {
          refuse_at(here, in_backticks(part) + " is " + shown(change) +
                              "; expected what changes, or null to take it out");
        }
        for (const char* key : {"id", "each"}) {
          if (change.is_object() && change.contains(key)) {
            refuse_at(here + "/" + key,
                      in_backticks(key) + " of a part cannot change; expected other keys");
          }
        }
        const std::string id = scope.full(filled(part, layers[l].parameters, here));
        changes_[id].push_back({{&change, here, layers[l].parameters}, false});
        ids.push_back(id);
      }
    }
    return ids;
  }

  void place_ports(Scope* scope) {
    ports_of_.emplace(scope->id, scope);
    const Json* ports = member(*scope->of, "ports");
    if (ports == nullptr) return;
    const std::string pointer = scope->pointer + "/ports";
    if (!ports->is_array())
      refuse_at(pointer, "`ports` is " + shown(*ports) + "; expected a list of {id, at}");
    std::size_t i = 0;
    for (const Json& port : ports->get_ref<const Json::array_t&>()) {
      const std::string here = pointer + "/" + std::to_string(i++);
      for_each(*scope, port, here, [&](const Parameters* parameters) {
        const std::string id = text_at(port, "id", parameters, here);
        if (!circuit::is_plain_name(id)) {
          refuse_at(here + "/id", "`id` is " + in_backticks(id) + "; expected A-Z a-z 0-9 _ -");
        }
        const std::string at = text_at(port, "at", parameters, here);
        for (const auto& [key, value] : port.get_ref<const Json::object_t&>()) {
          if (key != "id" && key != "at" && key != "each") {
            refuse_at(here + "/" + escape_pointer(key),
                      "unknown key " + in_backticks(key) + " of a port; expected id, at, each");
          }
        }
        const std::optional<std::string> inner = resolved(*scope, at, here + "/at");
        if (!scope->ports.emplace(id, inner.value_or("")).second) {
          refuse_at(here + "/id", "two ports are called " + in_backticks(id) + "; ids must differ");
        }
      });
    }
  }

  // ---- names ------------------------------------------------------------------------------------

  // `part.port`, or a part, as the whole circuit calls it. None where the part was taken out.
  std::optional<std::string> resolved(const Scope& scope, const std::string& text,
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
      refuse_at(pointer, "the assembly " + in_backticks(part) + " has no port " +
                             in_backticks(port) + expected(port, known, "ports"));
    }
    if (!scope.is_document() && components_.count(part) == 0) {
      refuse_at(pointer, in_backticks(text) + " names no part of this assembly" +
                             expected(text, part_names(scope.id), "parts"));
    }
    return full;
  }
  bool is_removed(const std::string& full) const {
    if (removed_.empty() || full.size() > 4 * circuit::kMostInName) return false;
    for (std::size_t to = full.size(); to != std::string::npos && to > 0;
         to = full.rfind('.', to - 1)) {
      if (removed_.count(full.substr(0, to)) != 0) return true;
    }
    return false;
  }

  // ---- what joins the parts ---------------------------------------------------------------------

  template <typename Write>
  void write_list(const char* key, Write write) {
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

  void write_connections() {
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

  void write_fittings() {
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

  void write_functions() {
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

  // ---- titles -----------------------------------------------------------------------------------

  void read_titles() {
    const Json* titles = fields_.find("titles");
    if (titles == nullptr) return;
    const Place place = fields_.at("titles");
    for (const auto& [language, list] : object_of(*titles, place, "titles by language")) {
      const Place here = place.key(language);
      for (const auto& [id, title] : object_of(list, here, "titles by id")) {
        check_stop();
        const Place at = here.key(id);
        given_titles_[id].emplace(language, text_of(title, at));
      }
    }
  }

  // Refuses titles of an assembly that name none of its parts.
  void check_titled(const Scope& scope, const Json& list) const {
    const Json* titles = scope.is_document() ? nullptr : member(*scope.of, "titles");
    if (titles == nullptr) return;
    std::unordered_set<std::string> known;
    for (const Json& entry : list.get_ref<const Json::array_t&>()) {
      if (!entry.is_object()) continue;
      const Json* id = member(entry, "id");
      if (id != nullptr && id->is_string()) known.insert(id->get_ref<const std::string&>());
    }
    const std::string pointer = scope.pointer + "/titles";
    if (!titles->is_object())
      refuse_at(pointer, "`titles` is " + shown(*titles) + "; expected titles by language");
    for (const auto& [language, of] : titles->get_ref<const Json::object_t&>()) {
      const std::string here = pointer + "/" + escape_pointer(language);
      if (!of.is_object())
        refuse_at(here, in_backticks(language) + " is " + shown(of) + "; expected titles by part");
      for (const auto& [id, title] : of.get_ref<const Json::object_t&>()) {
        if (known.count(id) != 0 && title.is_string()) continue;
        refuse_at(here + "/" + escape_pointer(id),
                  known.count(id) != 0 ? "a title is " + shown(title) + "; expected a text"
                                       : "a title is given for " + in_backticks(id) +
                                             ", which this assembly has not" +
                                             expected(id, {known.begin(), known.end()}, "parts"));
      }
    }
  }

  Title title_of(const Scope& scope, const Layer& entry, const std::vector<Layer>& layers,
                 const std::string& id, bool within) {
    Title out;
    std::string own;
    for (const Layer& layer : layers) {
      if (layer.value->contains("title"))
        own = text_at(*layer.value, "title", layer.parameters, layer.pointer);
    }
    const std::string plain = text_at(*entry.value, "id", entry.parameters, entry.pointer);
    if (own.empty()) own = plain;
    out.text = within ? scope.title.text + ", " + own : own;
    if (within) {
      const Json* titles = member(*scope.of, "titles");
      const std::string& name = (*entry.value)["id"].get_ref<const std::string&>();
      std::map<std::string, std::string> inner;
      if (titles != nullptr) {
        for (const auto& [language, of] : titles->get_ref<const Json::object_t&>()) {
          if (const Json* title = member(of, name.c_str())) {
            inner[language] = filled(
                title->get_ref<const std::string&>(), entry.parameters,
                scope.pointer + "/titles/" + escape_pointer(language) + "/" + escape_pointer(name));
          }
        }
      }
      for (const auto& [language, title] : scope.title.in) inner.emplace(language, own);
      for (const auto& [language, title] : inner) {
        const auto above = scope.title.in.find(language);
        out.in[language] =
            (above == scope.title.in.end() ? scope.title.text : above->second) + ", " + title;
      }
    }
    if (const auto given = given_titles_.find(id); given != given_titles_.end()) {
      for (const auto& [language, title] : given->second) out.in[language] = title;
    }
    for (std::size_t l = 0; within && l < out.in.size(); ++l) spend(entry.pointer);
    return out;
  }
  void keep_titles(const std::string& id, const Title& title) {
    const auto given = given_titles_.find(id);
    for (const auto& [language, text] : title.in) {
      if (given != given_titles_.end() && given->second.count(language) != 0) continue;
      made_titles_[language].emplace_back(id, text);
    }
  }

  void write_titles() {
    if (made_titles_.empty() && !fields_.has("titles")) return;
    const Json* titles = fields_.find("titles");
    out_.text().key("titles").begin_object();
    const auto made = [&](const std::string& language) {
      const auto found = made_titles_.find(language);
      if (found == made_titles_.end()) return;
      for (const auto& [id, text] : found->second) {
        out_.text().member(id, text);
        out_.check_size("/assemblies");
      }
      made_titles_.erase(found);
    };
    if (titles != nullptr) {
      for (const auto& [language, list] : titles->get_ref<const Json::object_t&>()) {
        out_.text().key(language).begin_object();
        for (const auto& [id, title] : list.get_ref<const Json::object_t&>()) {
          check_stop();
          if (ports_of_.count(id) != 0) continue;  // its title is in those of its parts
          out_.text().member(id, title.get_ref<const std::string&>());
        }
        made(language);
        out_.text().end_object();
      }
    }
    while (!made_titles_.empty()) {
      const std::string language = made_titles_.begin()->first;
      out_.text().key(language).begin_object();
      made(language);
      out_.text().end_object();
    }
    out_.text().end_object();
  }

  const Json& circuit_;
  const Place place_;
  const Fields fields_;
  Merge out_;
  std::map<std::string, const Json*> definitions_;
  std::deque<Scope> scopes_;
  std::vector<std::string> open_;  // assemblies that are being written out, outermost first
  std::unordered_map<std::string, std::vector<Change>> changes_;
  std::unordered_set<std::string> components_;  // full ids, of assemblies too
  std::unordered_set<std::string> removed_;
  std::unordered_map<std::string, const Scope*> ports_of_;
  // Id, language -> title of the document's own `titles`.
  std::unordered_map<std::string, std::map<std::string, std::string>> given_titles_;
  std::map<std::string, std::vector<std::pair<std::string, std::string>>> made_titles_;
  std::size_t placed_ = 0, written_ = 0;
};

}  // namespace

std::string write_assemblies(const Json& circuit, Origins* origins) {
  return Assemblies(circuit, origins).write();
}

}  // namespace faultodds::documents
