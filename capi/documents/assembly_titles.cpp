#include "capi/documents/assembly_writer.h"

#include <algorithm>

#include "core/stop.h"

namespace faultodds::documents {

using circuit::expected;

void Assemblies::read_titles() {
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

void Assemblies::check_titled(const Scope& scope, const Json& list) const {
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
                known.count(id) != 0
                    ? "a title is " + shown(title) + "; expected a text"
                    : "a title is given for " + in_backticks(id) + ", which this assembly has not" +
                          expected(id, {known.begin(), known.end()}, "parts"));
    }
  }
}

Title Assemblies::title_of(const Scope& scope, const Layer& entry, const std::vector<Layer>& layers,
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
  if (within) {
    out_.keep(out.text.size());
    for (const auto& [language, title] : out.in) {
      out_.keep(title.size());
      spend(entry.pointer);
    }
  }
  return out;
}

void Assemblies::keep_titles(const std::string& id, const Title& title) {
  const auto given = given_titles_.find(id);
  for (const auto& [language, text] : title.in) {
    if (given != given_titles_.end() && given->second.count(language) != 0) continue;
    made_titles_[language].emplace_back(id, text);
  }
}

void Assemblies::write_titles() {
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

}  // namespace faultodds::documents
