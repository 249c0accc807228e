#include "capi/documents/assembly_writer.h"

#include <algorithm>

#include "capi/documents/circuit_assemblies.h"
#include "core/stop.h"

namespace faultodds::documents {

using circuit::expected;

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

std::string Assemblies::write() {
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

void Assemblies::read_definitions() {
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

const Json* Assemblies::definition_of(const std::string& type) const {
  const auto found = definitions_.find(type);
  return found == definitions_.end() ? nullptr : found->second;
}

std::string Assemblies::definition_pointer(const std::string& name) const {
  return "/assemblies/" + escape_pointer(name);
}

void Assemblies::spend(const std::string& pointer) {
  if (written_ % 64 == 0) check_stop();
  if (++written_ > kMostWritten) {
    refuse_at(pointer,
              "the assemblies are made of more than " + std::to_string(kMostWritten) +
                  " parts, connections, fittings, functions, titles and values of parameters "
                  "together; expected fewer",
              Code::limit_exceeded);
  }
  out_.check_size(pointer);
}

long Assemblies::count_of(const Json& value, const Parameters* parameters,
                          const std::string& pointer) {
  const std::string text =
      value.is_structured() ? std::string() : value_of(value, parameters, pointer).text;
  const bool whole =
      !text.empty() && text.size() < 8 && text.find_first_not_of("0123456789") == std::string::npos;
  if (!whole) {
    refuse_at(pointer, "the count is " + (text.empty() ? shown(value) : in_backticks(text)) +
                           "; expected a whole number");
  }
  return std::stol(text);
}

void Assemblies::write_components(const Scope& scope, int level) {
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

void Assemblies::write_component(const Scope& scope, int level, const Layer& entry) {
  const std::string id = scope.full(text_at(*entry.value, "id", entry.parameters, entry.pointer));
  out_.keep(id.size());
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
        refuse_at(layer.pointer + "/" + key, in_backticks(key) + " is given for a part of type " +
                                                 in_backticks(type) +
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

void Assemblies::refuse_again(const std::string& id, const std::string& pointer) {
  refuse_at(pointer + "/id", "two parts have the id " + in_backticks(id) + "; ids must differ");
}

std::vector<std::string> Assemblies::definition_names() const {
  std::vector<std::string> names;
  for (const auto& [name, definition] : definitions_) names.push_back(name);
  return names;
}

std::string Assemblies::text_of_layers(const std::vector<Layer>& layers, const char* key) {
  for (std::size_t l = layers.size(); l-- > 0;) {
    if (l == 0 || layers[l].value->contains(key)) {
      return text_at(*layers[l].value, key, layers[l].parameters, layers[l].pointer);
    }
  }
  return "";
}

bool Assemblies::changed(const std::string& id, std::vector<Layer>* layers) {
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

void Assemblies::use(int level, const std::vector<Layer>& layers, const std::string& id,
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
      if (key == "id" || key == "type" || key == "title" || key == "parameters" || key == "parts" ||
          key == "each") {
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

std::vector<std::string> Assemblies::part_names(const std::string& id) const {
  std::vector<std::string> names;
  for (const std::string& one : components_) {
    if (one.starts_with(id + ".")) names.push_back(one.substr(id.size() + 1));
  }
  std::sort(names.begin(), names.end());
  return names;
}

void Assemblies::give_parameters(const std::vector<Layer>& layers, const std::string& name,
                                 Scope* scope) {
  const std::string& pointer = layers[0].pointer;
  const Json* declared = member(*scope->of, "parameters");
  std::unordered_set<std::string_view> known;
  if (declared != nullptr) {
    for (const auto& [parameter, value] : declared->get_ref<const Json::object_t&>()) {
      known.insert(parameter);
      const std::string at = scope->pointer + "/parameters/" + escape_pointer(parameter);
      spend(at);
      if (!value.is_null()) give(parameter, value_of(value, nullptr, at), at, scope);
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
      spend(here);
      if (known.count(parameter) == 0) {
        std::vector<std::string> names;
        for (const std::string_view one : known) names.emplace_back(one);
        std::sort(names.begin(), names.end());
        refuse_at(here, "the assembly " + in_backticks(name) + " has no parameter " +
                            in_backticks(parameter) + expected(parameter, names, "parameters"));
      }
      if (value.is_structured() || value.is_null()) {
        refuse_at(here, in_backticks(parameter) + " is " + shown(value) +
                            "; expected a text, a number, true or false");
      }
      give(parameter, value_of(value, layer.parameters, here), here, scope);
    }
  }
  if (declared == nullptr) return;
  for (const auto& [parameter, value] : declared->get_ref<const Json::object_t&>()) {
    if (scope->parameters.find(parameter) == nullptr) {
      refuse_at(pointer, "the parameter " + in_backticks(parameter) + " of the assembly " +
                             in_backticks(name) + " is missing; expected it in `parameters`");
    }
  }
}

void Assemblies::give(const std::string& parameter, ParameterValue value,
                      const std::string& pointer, Scope* scope) {
  out_.keep(parameter.size() + value.json.size() + value.text.size() + value.origin.size());
  out_.check_size(pointer);
  scope->parameters.values[parameter] = std::move(value);
}

std::vector<std::string> Assemblies::take_changes(const std::vector<Layer>& layers,
                                                  const Scope& scope) {
  std::vector<std::string> ids;
  // Those of the outermost come last in a part's layers, and so first here.
  for (std::size_t l = layers.size(); l-- > 0;) {
    const Json* parts = member(*layers[l].value, "parts");
    if (parts == nullptr) continue;
    const std::string at = layers[l].pointer + "/parts";
    if (!parts->is_object())
      refuse_at(at, "`parts` is " + shown(*parts) + "; expected changes by part");
    std::unordered_set<std::string> here_changed;
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
      out_.keep(3 * id.size() + here.size());
      if (!here_changed.insert(id).second) {
        refuse_at(here, in_backticks(id) + " is changed twice; expected one change of a part");
      }
      changes_[id].push_back({{&change, here, layers[l].parameters}, false});
      ids.push_back(id);
    }
  }
  return ids;
}

void Assemblies::place_ports(Scope* scope) {
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
      out_.keep(id.size() + (inner ? inner->size() : 0));
      if (!scope->ports.emplace(id, inner.value_or("")).second) {
        refuse_at(here + "/id", "two ports are called " + in_backticks(id) + "; ids must differ");
      }
    });
  }
}

std::string write_assemblies(const Json& circuit, Origins* origins) {
  return Assemblies(circuit, origins).write();
}

}  // namespace faultodds::documents
