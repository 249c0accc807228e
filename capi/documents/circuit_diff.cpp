#include "capi/documents/circuit_diff.h"

#include <map>
#include <set>

#include "capi/documents/circuit_check.h"
#include "capi/documents/circuit_reader.h"
#include "capi/documents/document.h"
#include "core/circuit/analysis.h"
#include "core/error.h"
#include "core/reading/units.h"

namespace faultodds::documents {
namespace {

using circuit::Analysis;
using circuit::Observation;

Analysis analysis_of(std::string_view text, const char* which) {
  const auto catalogue = shipped_catalogue();
  try {
    return circuit::analyse(read_circuit(read_document(text), catalogue), catalogue);
  } catch (const Error& error) {
    throw Error(error.code(), std::string("in the circuit ") + which + ": " + error.what(),
                error.pointer());
  }
}

template <typename Items, typename Name>
auto by_name(const Items& items, Name name) {
  std::map<std::string, const typename Items::value_type*> out;
  for (const auto& item : items) out.emplace(name(item), &item);
  return out;
}

// Names in one map and not in the other.
template <typename Map>
Json only_in(const Map& here, const Map& there) {
  Json names = Json::array();
  for (const auto& [name, value] : here) {
    if (there.count(name) == 0) names.push_back(name);
  }
  return names;
}

std::set<std::string> set_names(const Analysis& analysis, const Observation& observation) {
  std::set<std::string> names;
  for (const circuit::ModeSet& set : observation.sets) {
    std::set<std::string> ids;
    for (const std::uint32_t mode : set.modes) ids.insert(analysis.modes[mode].id);
    std::string name;
    for (const std::string& id : ids) name += (name.empty() ? "" : " + ") + id;
    names.insert(name);
  }
  return names;
}

Json less(const std::set<std::string>& one, const std::set<std::string>& other) {
  Json names = Json::array();
  for (const std::string& name : one) {
    if (other.count(name) == 0) names.push_back(name);
  }
  return names;
}

std::string pressure_text(const Observation& one) {
  if (one.withheld) return "withheld: " + one.withheld->why;
  if (one.no_figure) return "no figure: " + one.no_figure->why;
  return one.test_pressure ? reading::format_pressure(*one.test_pressure) : "";
}

std::string absent_text(const Analysis& analysis, const std::string& id) {
  for (const circuit::Absent& absent : analysis.absent) {
    if (absent.id != id) continue;
    switch (absent.why) {
      case circuit::Absent::Why::open:
        return "open: oil flows with nothing leaking";
      case circuit::Absent::Why::nothing_shows:
        return "no failure mode shows there";
      case circuit::Absent::Why::load_other_way:
        return "the load drives the other way";
    }
  }
  return "";
}

Json observations(const Analysis& before, const Analysis& after) {
  const auto id = [](const Observation& one) { return one.id; };
  const auto old = by_name(before.observations, id), now = by_name(after.observations, id);
  Json lost = Json::array(), changed = Json::array();
  for (const Json& name : only_in(old, now)) {
    lost.push_back({{"observation", name}, {"why", absent_text(after, name.get<std::string>())}});
  }
  for (const auto& [name, one] : old) {
    const auto found = now.find(name);
    if (found == now.end()) continue;
    const std::set<std::string> sets = set_names(before, *one);
    const std::set<std::string> new_sets = set_names(after, *found->second);
    Json entry = {{"observation", name}};
    if (const Json more = less(new_sets, sets); !more.empty()) entry["sets_added"] = more;
    if (const Json fewer = less(sets, new_sets); !fewer.empty()) entry["sets_removed"] = fewer;
    if (pressure_text(*one) != pressure_text(*found->second)) {
      entry["test_pressure"] = {{"before", pressure_text(*one)},
                                {"after", pressure_text(*found->second)}};
    }
    if (one->title != found->second->title) {
      entry["title"] = {{"before", one->title}, {"after", found->second->title}};
    }
    if (one->outcomes != found->second->outcomes) {
      entry["outcomes"] = {{"before", one->outcomes}, {"after", found->second->outcomes}};
    }
    if (entry.size() > 1) changed.push_back(std::move(entry));
  }
  return {{"added", only_in(now, old)}, {"removed", lost}, {"changed", changed}};
}

Json modes(const Analysis& before, const Analysis& after) {
  const auto id = [](const circuit::FailureMode& one) { return one.id; };
  const auto old = by_name(before.modes, id), now = by_name(after.modes, id);
  Json changed = Json::array();
  for (const auto& [name, one] : old) {
    const auto found = now.find(name);
    if (found == now.end()) continue;
    Json entry = {{"mode", name}};
    if (one->prior != found->second->prior) {
      entry["prior"] = {{"before", one->prior}, {"after", found->second->prior}};
    }
    if (!(one->size == found->second->size)) entry["size"] = true;
    if (entry.size() > 1) changed.push_back(std::move(entry));
  }
  return {{"added", only_in(now, old)}, {"removed", only_in(old, now)}, {"changed", changed}};
}

// Of an answer: the causes of the complaint, and the test that comes first.
Json answer_part(std::string_view text) {
  const Document document = read_document(text);
  const Json& answer = document;
  Json shares = Json::object();
  if (answer.contains("causes") && !answer["causes"].empty()) {
    for (const Json& share : answer["causes"][0]["shares"]) {
      std::string names;
      for (const Json& name : share["components"]) {
        names += (names.empty() ? "" : " + ") + name.get<std::string>();
      }
      shares[names] = share["probability"];
    }
  }
  Json test = nullptr;
  if (answer.contains("tests") && !answer["tests"].empty()) {
    const Json& first = answer["tests"][0];
    test = {{"cautions", first["cautions"]}, {"observation", first["observation"]}};
  }
  return {{"shares", shares}, {"first_test", test}};
}

}  // namespace

std::string circuit_difference(std::string_view before, std::string_view after,
                               std::string_view answer_before, std::string_view answer_after) {
  const Analysis old = analysis_of(before, "before"), now = analysis_of(after, "after");
  const auto id = [](const circuit::Component& one) { return one.id; };
  const auto had = by_name(old.components, id), has = by_name(now.components, id);
  Json out = {{"format", "faultodds-circuit-diff/1"},
              {"before", old.id},
              {"after", now.id},
              {"components", {{"added", only_in(has, had)}, {"removed", only_in(had, has)}}},
              {"modes", modes(old, now)},
              {"observations", observations(old, now)}};
  if (!answer_before.empty() && !answer_after.empty()) {
    out["answer"] = {{"before", answer_part(answer_before)}, {"after", answer_part(answer_after)}};
  }
  return out.dump();
}

}  // namespace faultodds::documents
