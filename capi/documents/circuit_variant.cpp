#include "capi/documents/circuit_variant.h"

#include <algorithm>
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

constexpr const char* kFormat = "faultodds-circuit/1";

// How the entries of a list are named by who changes them.
std::string name_of(const std::string& list, const Json& entry) {
  const auto text = [&](const char* key) -> std::string {
    if (!entry.is_object()) return "";
    const auto found = entry.find(key);
    return found != entry.end() && found->is_string() ? found->get<std::string>() : std::string();
  };
  if (list != "connections") return text("id");
  const std::string line = text("line");
  return line.empty() ? text("from") + " " + text("to") : line;
}

class Variant {
 public:
  Variant(const Json& variant, const Json& base, Origins* origins)
      : fields_(variant, place_, shape("circuit")),
        base_place_(place_.key("extends")),
        base_(base, base_place_, shape("circuit")),
        out_(origins) {
    fields_.check_format(kFormat);
    base_.check_format(kFormat);
    if (const Json* overrides = fields_.find("overrides")) {
      overrides_place_.emplace(fields_.at("overrides"));
      overrides_.emplace(*overrides, *overrides_place_, shape("overrides"));
    }
  }

  std::string write() {
    find_removed();
    out_.text().begin_object();
    for (const std::string& key : shape("circuit").keys) {
      if (key == "extends" || key == "overrides") continue;
      check_stop();
      if (is_one_of(key, {"components", "connections", "functions", "observations", "conditions",
                          "allow_hold"})) {
        write_list(key);
      } else if (is_one_of(key, {"types", "assemblies", "fittings", "times"})) {
        write_entries(key);
      } else if (key == "titles") {
        write_titles();
      } else if (fields_.has(key)) {
        write_own(key);
      } else if (base_.has(key) && key != "id") {
        out_.text().key(key);
        out_.origins().add("/" + key, "/extends/" + key);
        out_.write({{base_.find(key), "/extends/" + key}}, "/" + key);
      }
    }
    out_.text().end_object();
    return out_.text().take();
  }

 private:
  static bool is_one_of(const std::string& key, std::initializer_list<const char*> keys) {
    return std::find(keys.begin(), keys.end(), key) != keys.end();
  }

  void write_own(const std::string& key) {
    out_.text().key(key);
    out_.write({{fields_.find(key), "/" + key}}, "/" + key);
  }

  // The changes to a list or object of the base; null where there are none.
  const Json::object_t* changes(const std::string& key) const {
    const Json* found = overrides_ && is_overridden(key) ? overrides_->find(key) : nullptr;
    if (found == nullptr) return nullptr;
    return &object_of(*found, overrides_->at(key), "changes by name");
  }
  static bool is_overridden(const std::string& key) {
    const std::vector<std::string>& keys = shape("overrides").keys;
    return std::find(keys.begin(), keys.end(), key) != keys.end();
  }
  static std::string change_pointer(const std::string& key, const std::string& name) {
    return "/overrides/" + key + "/" + escape_pointer(name);
  }

  // What is taken out, and with it every joint and fitting of it.
  void find_removed() {
    for (const char* key : {"components", "functions", "connections"}) {
      const auto* all = changes(key);
      if (all == nullptr) continue;
      for (const auto& [name, change] : *all) {
        if (!change.is_null()) continue;
        if (key == std::string_view("components")) removed_.insert(name);
        if (key == std::string_view("functions")) removed_titles_.insert("delivery/" + name);
        if (key == std::string_view("connections")) removed_titles_.insert("line/" + name);
      }
    }
  }
  // Whether it is of a part taken out: `component`, `component.port`, `static/component.port`, ...
  bool names_removed(const std::string& id) const {
    if (removed_.empty() || id.size() > 4 * circuit::kMostInName) return false;
    for (std::size_t begin = 0; begin <= id.size();) {
      const std::size_t end = std::min(id.find('/', begin), id.size());
      for (std::size_t to = end; to != std::string::npos && to > begin;
           to = id.rfind('.', to - 1)) {
        if (removed_.count(id.substr(begin, to - begin)) != 0) return true;
        if (to <= begin) break;
      }
      begin = end + 1;
    }
    return false;
  }
  bool ends_at_removed(const std::string& list, const Json& entry) const {
    if (list != "connections" || !entry.is_object() || removed_.empty()) return false;
    for (const char* end : {"from", "to"}) {
      const auto found = entry.find(end);
      if (found != entry.end() && found->is_string() &&
          names_removed(found->get_ref<const std::string&>())) {
        return true;
      }
    }
    return false;
  }

  void refuse_unused(const std::string& key, const std::unordered_set<std::string>& known) const {
    const auto* all = changes(key);
    if (all == nullptr) return;
    const Place list = overrides_->at(key);
    for (const auto& [name, change] : *all) {
      const Place here = list.key(name);
      if (known.count(name) == 0) {
        refuse(here, in_backticks(name) + " is changed, which the base has not" +
                         circuit::expected(name, {known.begin(), known.end()}, key));
      }
      if (!change.is_null() && !change.is_object()) {
        refuse(here, here.name() + " is " + shown(change) +
                         "; expected what changes, or null to take it out");
      }
      if (change.is_object() && key != "connections" && change.contains("id")) {
        const Place id = here.key("id");
        refuse(id, "`id` of " + in_backticks(name) + " is changed; expected a part of its own in " +
                       in_backticks(key) + ", and null here");
      }
    }
  }

  void write_list(const std::string& key) {
    if (!fields_.has(key) && !base_.has(key)) return;
    const auto* all = changes(key);
    std::unordered_map<std::string_view, const Json*> change_of;
    if (all != nullptr) {
      for (const auto& [name, change] : *all) change_of.emplace(name, &change);
    }
    out_.text().key(key).begin_list();
    std::unordered_set<std::string> known, taken_out;
    std::size_t written = 0;
    if (const Json* of_base = base_.find(key)) {
      std::size_t i = 0;
      for (const Json& entry : list_of(*of_base, base_.at(key), key)) {
        check_stop();
        const std::string from = "/extends/" + key + "/" + std::to_string(i++);
        const std::string name = name_of(key, entry);
        known.insert(name);
        const auto change = change_of.find(name);
        const bool changed = change != change_of.end();
        if (changed && change->second->is_null()) {
          taken_out.insert(name);
          continue;
        }
        if (!changed && ends_at_removed(key, entry)) continue;
        const std::string at = "/" + key + "/" + std::to_string(written++);
        out_.origins().add(at, from);
        std::vector<Layer> layers = {{&entry, from}};
        if (changed) layers.push_back({change->second, change_pointer(key, name)});
        out_.write(layers, at);
      }
    }
    refuse_unused(key, known);
    if (const Json* own = fields_.find(key)) {
      const Place list = fields_.at(key);
      std::size_t i = 0;
      for (const Json& entry : list_of(*own, list, key)) {
        check_stop();
        const std::size_t index = i++;
        const std::string name = name_of(key, entry);
        if (is_one_of(key, {"components", "functions", "observations", "conditions"}) &&
            known.count(name) != 0 && taken_out.count(name) == 0) {
          const Place here = list.item(index);
          const Place id = here.key("id");
          refuse(id, "`id` is " + in_backticks(name) +
                         ", which the base has; expected what changes of it in `overrides`");
        }
        const std::string from = "/" + key + "/" + std::to_string(index);
        const std::string at = "/" + key + "/" + std::to_string(written++);
        if (at != from) out_.origins().add(at, from);
        out_.write({{&entry, from}}, at);
      }
    }
    out_.text().end_list();
  }

  // Entries by name: those of the base with what changes, and the variant's own in place of them.
  void write_entries(const std::string& key) {
    if (!fields_.has(key) && !base_.has(key)) return;
    const auto* all = changes(key);
    std::unordered_map<std::string_view, const Json*> change_of, own;
    if (all != nullptr) {
      for (const auto& [name, change] : *all) change_of.emplace(name, &change);
    }
    if (const Json* given = fields_.find(key)) {
      for (const auto& [name, entry] : object_of(*given, fields_.at(key), key))
        own.emplace(name, &entry);
    }
    out_.text().key(key).begin_object();
    std::unordered_set<std::string> known;
    if (const Json* of_base = base_.find(key)) {
      for (const auto& [name, entry] : object_of(*of_base, base_.at(key), key)) {
        check_stop();
        known.insert(name);
        if (own.count(name) != 0 || (key == "fittings" && names_removed(name))) continue;
        const auto change = change_of.find(name);
        const bool changed = change != change_of.end();
        if (changed && change->second->is_null()) continue;
        const std::string at = "/" + key + "/" + escape_pointer(name), from = "/extends" + at;
        out_.origins().add(at, from);
        std::vector<Layer> layers = {{&entry, from}};
        if (changed) layers.push_back({change->second, change_pointer(key, name)});
        out_.text().key(name);
        out_.write(layers, at);
      }
    }
    refuse_unused(key, known);
    if (const Json* given = fields_.find(key)) {
      out_.write_members({{given, "/" + key}}, "/" + key, {});
    }
    out_.text().end_object();
  }

  void write_titles() {
    if (!fields_.has("titles") && !base_.has("titles")) return;
    std::vector<std::string> languages;
    std::unordered_map<std::string, std::vector<std::pair<const Json*, std::string>>> by_language;
    const auto take = [&](const Fields& from, const std::string& pointer) {
      const Json* titles = from.find("titles");
      if (titles == nullptr) return;
      for (const auto& [language, list] :
           object_of(*titles, from.at("titles"), "titles by language")) {
        auto& both = by_language[language];
        if (both.empty()) languages.push_back(language);
        both.emplace_back(&list, pointer + "/titles/" + escape_pointer(language));
      }
    };
    take(base_, "/extends");
    take(fields_, "");
    out_.text().key("titles").begin_object();
    for (const std::string& language : languages) {
      const std::string at = "/titles/" + escape_pointer(language);
      out_.text().key(language).begin_object();
      std::vector<Layer> layers;
      for (const auto& [list, pointer] : by_language[language]) {
        const Place titles = place_.key("titles");
        const Place here = titles.key(language);
        object_of(*list, here, "titles by id");
        layers.push_back({list, pointer});
      }
      if (layers[0].pointer != at) out_.origins().add(at, layers[0].pointer);
      std::unordered_set<std::string_view> without;
      for (const Layer& layer : layers) {
        if (layer.pointer == at) continue;
        for (const auto& [id, title] : layer.value->get_ref<const Json::object_t&>()) {
          if (removed_titles_.count(id) != 0 || names_removed(id)) without.insert(id);
        }
      }
      out_.write_members(layers, at, without);
      out_.text().end_object();
    }
    out_.text().end_object();
  }

  const Place place_;
  const Fields fields_;
  const Place base_place_;
  const Fields base_;
  std::optional<Place> overrides_place_;
  std::optional<Fields> overrides_;
  std::unordered_set<std::string> removed_;         // components
  std::unordered_set<std::string> removed_titles_;  // of functions and lines
  Merge out_;
};

std::string variant_text(const Json& variant, Origins* origins, int bases) {
  const Place place;
  const Place here = place.key("extends");
  const Json& base = variant["extends"];
  if (base.is_string()) {
    refuse(here, "`extends` is " + shown(base) +
                     ", the name of a circuit; expected the document itself in its place: the "
                     "library reads no files");
  }
  if (!base.is_object()) {
    refuse(here, "`extends` is " + shown(base) + "; expected a circuit document");
  }
  if (bases >= kMostBases) {
    refuse(here, "more than " + std::to_string(kMostBases) + " circuits extend one another",
           Code::limit_exceeded);
  }
  if (!base.contains("extends")) return Variant(variant, base, origins).write();
  Origins of_base;
  std::string text;
  try {
    text = variant_text(base, &of_base, bases + 1);
  } catch (const Error& error) {
    throw Error(error.code(), error.what(), "/extends" + error.pointer());
  }
  origins->set_base(std::move(of_base));
  const Document written = read_document(text);
  return Variant(variant, written, origins).write();
}

}  // namespace

std::string write_variant(const Json& variant, Origins* origins) {
  return variant_text(variant, origins, 0);
}

}  // namespace faultodds::documents
