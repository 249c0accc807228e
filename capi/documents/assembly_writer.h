// The inside of circuit_assemblies.h: one class, in three files by what it writes. Components and
// what assemblies are used for are in circuit_assemblies.cpp, what joins them in
// assembly_joints.cpp, titles in assembly_titles.cpp. Nothing else includes this.
#pragma once

#include <deque>
#include <map>
#include <optional>
#include <string>
#include <unordered_map>
#include <unordered_set>
#include <vector>

#include "capi/documents/circuit_merge.h"
#include "capi/documents/fields.h"
#include "capi/documents/shapes.h"
#include "core/circuit/names.h"
#include "core/error.h"

namespace faultodds::documents {

[[noreturn]] inline void refuse_at(const std::string& pointer, const std::string& message,
                                   Code code = Code::invalid_document) {
  throw Error(code, message, pointer);
}

inline const Json* member(const Json& object, const char* key) {
  const auto found = object.find(key);
  return found == object.end() ? nullptr : &*found;
}

// The text `key` of an object, with parameters put in.
std::string text_at(const Json& object, const char* key, const Parameters* parameters,
                    const std::string& pointer);

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

  std::string write();

 private:
  void read_definitions();
  const Json* definition_of(const std::string& type) const;
  std::string definition_pointer(const std::string& name) const;
  void spend(const std::string& pointer);
  static long count_of(const Json& value, const Parameters* parameters, const std::string& pointer);
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
    if (first > last) spend(pointer);  // looked at all the same
    for (long i = first; i <= last; ++i) {
      spend(pointer);
      value = {std::to_string(i), std::to_string(i), here};
      visit(&counting);
    }
  }

  // `level`: assemblies around it.
  void write_components(const Scope& scope, int level);
  void write_component(const Scope& scope, int level, const Layer& entry);
  [[noreturn]] static void refuse_again(const std::string& id, const std::string& pointer);
  std::vector<std::string> definition_names() const;
  static std::string text_of_layers(const std::vector<Layer>& layers, const char* key);
  // Adds what `parts` of the assemblies around it say, the outermost last. True where it is taken
  // out.
  bool changed(const std::string& id, std::vector<Layer>* layers);
  void use(int level, const std::vector<Layer>& layers, const std::string& id,
           const Json& definition, const std::string& name, Title title);
  std::vector<std::string> part_names(const std::string& id) const;
  void give_parameters(const std::vector<Layer>& layers, const std::string& name, Scope* scope);
  void give(const std::string& parameter, ParameterValue value, const std::string& pointer,
            Scope* scope);
  // Notes what `parts` says; the ids of what it speaks of.
  std::vector<std::string> take_changes(const std::vector<Layer>& layers, const Scope& scope);
  void place_ports(Scope* scope);

  // `part.port`, or a part, as the whole circuit calls it. None where the part was taken out.
  std::optional<std::string> resolved(const Scope& scope, const std::string& text,
                                      const std::string& pointer) const;
  bool is_removed(const std::string& full) const;
  template <typename Write>
  void write_list(const char* key, Write write);
  void write_connections();
  void write_fittings();
  void write_functions();

  void read_titles();
  // Refuses titles of an assembly that name none of its parts.
  void check_titled(const Scope& scope, const Json& list) const;
  Title title_of(const Scope& scope, const Layer& entry, const std::vector<Layer>& layers,
                 const std::string& id, bool within);
  void keep_titles(const std::string& id, const Title& title);
  void write_titles();

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

}  // namespace faultodds::documents
