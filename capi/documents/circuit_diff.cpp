#include "capi/documents/circuit_diff.h"

#include <map>
#include <set>
#include <vector>

#include "capi/documents/circuit_check.h"
#include "capi/documents/circuit_reader.h"
#include "capi/documents/document.h"
#include "capi/documents/json_text.h"
#include "core/circuit/analysis.h"
#include "core/circuit/order.h"
#include "core/error.h"
#include "core/reading/units.h"

namespace faultodds::documents {
namespace {

using circuit::Analysis;
using circuit::Observation;

Analysis analysis_of(std::string_view text, const char* which) {
  const auto catalogue = shipped_catalogue();
  try {
    const CircuitDocument document(text);
    const circuit::Description description = read_circuit(document, catalogue);
    return document.said_of_author(
        [&] { return circuit::analyse_in_order(description, catalogue); });
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
std::vector<std::string> only_in(const Map& here, const Map& there) {
  std::vector<std::string> names;
  for (const auto& [name, value] : here) {
    if (there.count(name) == 0) names.push_back(name);
  }
  return names;
}

using Sets = std::map<std::string, bool>;  // by the names of their modes

Sets set_names(const Analysis& analysis, const Observation& observation) {
  Sets names;
  for (const circuit::ModeSet& set : observation.sets) {
    std::set<std::string> ids;
    for (const std::uint32_t mode : set.modes) ids.insert(analysis.modes[mode].id);
    std::string name;
    for (const std::string& id : ids) name += (name.empty() ? "" : " + ") + id;
    names[name] = true;
  }
  return names;
}

// `"name": {"before": ..., "after": ...}`
void write_change(JsonText* out, const char* name, const std::string& before,
                  const std::string& after) {
  out->key(name).begin_object().member("before", before).member("after", after).end_object();
}

template <typename Values>
void write_changed_list(JsonText* out, const char* name, const Values& before,
                        const Values& after) {
  out->key(name).begin_object().list("before", before).list("after", after).end_object();
}

std::string pressure_text(const Observation& one) {
  if (one.withheld) return "withheld: " + one.withheld->reason + " at " + one.withheld->volume;
  if (one.no_figure) return "no figure: " + one.no_figure->reason + " at " + one.no_figure->volume;
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

void write_changed(JsonText* out, const Analysis& before, const Analysis& after,
                   const Observation& old, const Observation& now) {
  const Sets sets = set_names(before, old), new_sets = set_names(after, now);
  const std::vector<std::string> more = only_in(new_sets, sets), fewer = only_in(sets, new_sets);
  const bool pressure = pressure_text(old) != pressure_text(now);
  const bool title = old.title != now.title, outcomes = old.outcomes != now.outcomes;
  if (more.empty() && fewer.empty() && !pressure && !title && !outcomes) return;
  out->begin_object().member("observation", old.id);
  if (!more.empty()) out->list("sets_added", more);
  if (!fewer.empty()) out->list("sets_removed", fewer);
  if (pressure) write_change(out, "test_pressure", pressure_text(old), pressure_text(now));
  if (title) write_change(out, "title", old.title, now.title);
  if (outcomes) write_changed_list(out, "outcomes", old.outcomes, now.outcomes);
  out->end_object();
}

void write_observations(JsonText* out, const Analysis& before, const Analysis& after) {
  const auto id = [](const Observation& one) { return one.id; };
  const auto old = by_name(before.observations, id), now = by_name(after.observations, id);
  out->key("observations").begin_object().list("added", only_in(now, old));
  out->key("removed").begin_list();
  for (const std::string& name : only_in(old, now)) {
    out->begin_object()
        .member("observation", name)
        .member("why", absent_text(after, name))
        .end_object();
  }
  out->end_list().key("changed").begin_list();
  for (const auto& [name, one] : old) {
    const auto found = now.find(name);
    if (found != now.end()) write_changed(out, before, after, *one, *found->second);
  }
  out->end_list().end_object();
}

void write_modes(JsonText* out, const Analysis& before, const Analysis& after) {
  const auto id = [](const circuit::FailureMode& one) { return one.id; };
  const auto old = by_name(before.modes, id), now = by_name(after.modes, id);
  out->key("modes")
      .begin_object()
      .list("added", only_in(now, old))
      .list("removed", only_in(old, now));
  out->key("changed").begin_list();
  for (const auto& [name, one] : old) {
    const auto found = now.find(name);
    if (found == now.end()) continue;
    const bool prior = one->prior != found->second->prior;
    const bool size = !(one->size == found->second->size);
    if (!prior && !size) continue;
    out->begin_object().member("mode", name);
    if (prior) write_changed_list(out, "prior", one->prior, found->second->prior);
    if (size) out->member("size", true);
    out->end_object();
  }
  out->end_list().end_object();
}

// Of an answer: the causes of the complaint, and the test that comes first.
void write_answer(JsonText* out, const char* when, std::string_view text) {
  const Document document = read_document(text);
  const Json& answer = document;
  out->key(when).begin_object().key("shares").begin_object();
  if (answer.contains("causes") && !answer["causes"].empty()) {
    for (const Json& share : answer["causes"][0]["shares"]) {
      std::string names;
      for (const Json& name : share["components"]) {
        names += (names.empty() ? "" : " + ") + name.get<std::string>();
      }
      out->member(names, share["probability"].get<double>());
    }
  }
  out->end_object().key("first_test");
  if (answer.contains("tests") && !answer["tests"].empty()) {
    const Json& first = answer["tests"][0];
    out->begin_object().key("cautions").begin_list();
    for (const Json& caution : first["cautions"]) out->value(caution.get<std::string>());
    out->end_list().member("observation", first["observation"].get<std::string>()).end_object();
  } else {
    out->null();
  }
  out->end_object();
}

}  // namespace

std::string circuit_difference(std::string_view before, std::string_view after,
                               std::string_view answer_before, std::string_view answer_after) {
  const Analysis old = analysis_of(before, "before"), now = analysis_of(after, "after");
  const auto id = [](const circuit::Component& one) { return one.id; };
  const auto had = by_name(old.components, id), has = by_name(now.components, id);
  JsonText out;
  out.begin_object()
      .member("format", "faultodds-circuit-diff/1")
      .member("before", old.id)
      .member("after", now.id);
  out.key("components")
      .begin_object()
      .list("added", only_in(has, had))
      .list("removed", only_in(had, has))
      .end_object();
  write_modes(&out, old, now);
  write_observations(&out, old, now);
  if (!answer_before.empty() && !answer_after.empty()) {
    out.key("answer").begin_object();
    write_answer(&out, "before", answer_before);
    write_answer(&out, "after", answer_after);
    out.end_object();
  }
  out.end_object();
  return out.take();
}

}  // namespace faultodds::documents
