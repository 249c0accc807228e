#include "capi/documents/titles.h"

#include <algorithm>
#include <set>
#include <vector>

#include "capi/documents/fields.h"
#include "capi/documents/wording.h"
#include "core/circuit/kinds.h"
#include "core/circuit/names.h"
#include "core/quoted_text.h"

namespace faultodds::documents {
namespace {

std::set<std::string> known_ids(const circuit::Analysis& analysis) {
  std::set<std::string> known{analysis.id};
  for (const auto& component : analysis.components) known.insert(component.id);
  for (const auto& mode : analysis.modes) known.insert(mode.id);
  for (const auto& observation : analysis.observations) known.insert(observation.id);
  for (const auto& step : analysis.setup_steps) known.insert(step.id);
  for (const auto& observation : analysis.observations) {
    for (const std::string& caution : observation.cautions) {
      if (!is_shipped_caution(caution)) known.insert(caution);
    }
  }
  return known;
}

// By grades nothing that operators report is derived: the same document titles it all the same.
bool reported_when_solved(const std::string& id, const circuit::Description& description) {
  if (!description.by_grades || !circuit::names_reported(id)) return false;
  const std::string of = id.substr(id.find('/') + 1);
  const std::string subject = of.substr(0, of.find('/'));
  const auto is_it = [&](const auto& one) { return one.id == subject; };
  return std::any_of(description.functions.begin(), description.functions.end(), is_it) ||
         std::any_of(description.components.begin(), description.components.end(), is_it);
}

}  // namespace

Titles read_titles(const Json& circuit, const circuit::Description& description,
                   const circuit::Analysis& analysis) {
  Titles titles;
  const auto given = circuit.find("titles");
  if (given == circuit.end()) return titles;
  const std::set<std::string> known = known_ids(analysis);
  const Place root;
  const Place place = root.key("titles");
  for (const auto& [language, list] : object_of(*given, place, "titles by language")) {
    const Place here = place.key(language);
    for (const auto& [id, title] : object_of(list, here, "titles by id")) {
      const Place at = here.key(id);
      if (known.count(id) == 0 && !reported_when_solved(id, description)) {
        refuse(at, "a title is given for " + in_backticks(id) + ", which this circuit has not" +
                       circuit::expected(id, {known.begin(), known.end()},
                                         "components, failure modes, observations and steps"));
      }
      titles[language][id] = text_of(title, at);
    }
  }
  return titles;
}

void write_titles(JsonText& out, const Titles& titles) {
  if (titles.empty()) return;
  out.key("titles").begin_object();
  for (const auto& [language, list] : titles) {
    out.key(language).begin_object();
    for (const auto& [id, title] : list) out.member(id, title);
    out.end_object();
  }
  out.end_object();
}

}  // namespace faultodds::documents
