// What an operator's words may mean on a model: its symptoms with their names, for core/wording to
// match.
#include <algorithm>
#include <map>
#include <string>
#include <utility>
#include <vector>

#include "capi/documents/json_text.h"
#include "capi/documents/wording.h"
#include "capi/documents/words_reader.h"
#include "capi/engine/questions.h"
#include "core/circuit/kinds.h"
#include "core/wording/complaint.h"

namespace faultodds::engine {
namespace {

// The kind of a symptom; `family` is what its id begins with.
wording::SymptomKind symptom_kind(const circuit::Observation& observation,
                                  const std::string& family) {
  if (circuit::is_reported(observation)) {
    using wording::SymptomKind;
    static const std::map<std::string, SymptomKind> kinds = {
        {"no_pressure", SymptomKind::no_pressure},
        {"hot", SymptomKind::hot},
        {"noisy", SymptomKind::noisy},
        {"jerky", SymptomKind::jerky},
        {"moves", SymptomKind::moves},
        {"dip", SymptomKind::dip},
        {"uneven", SymptomKind::uneven}};
    return kinds.at(family);
  }
  switch (observation.kind) {
    case circuit::ObservationKind::drift:
      return wording::SymptomKind::drift;
    case circuit::ObservationKind::delivery:
      return wording::SymptomKind::delivery;
    case circuit::ObservationKind::look:
      return wording::SymptomKind::look;
    case circuit::ObservationKind::temperature:
      return wording::SymptomKind::temperature;
    default:
      return wording::SymptomKind::written;
  }
}

// An id's words.
std::string spaced(std::string id) {
  std::replace_if(
      id.begin(), id.end(), [](char c) { return c == '_' || c == '/' || c == '.'; }, ' ');
  return id;
}

// What an operator can have seen: the symptoms, oil outside and hot valves.
std::vector<wording::Symptom> symptoms_of(const LoadedModel& loaded, const std::string& language) {
  const circuit::Analysis& analysis = loaded.model.analysis();
  const documents::Words words(loaded.model);
  const auto titles = loaded.titles.find(language);
  const auto titles_of = [&](const std::string& id, std::string title) {
    std::vector<std::string> all = {std::move(title)};
    if (titles == loaded.titles.end()) return all;
    const auto found = titles->second.find(id);
    if (found != titles->second.end()) all.push_back(found->second);
    return all;
  };
  const auto append = [](std::vector<std::string>& to, const std::vector<std::string>& more) {
    to.insert(to.end(), more.begin(), more.end());
  };
  std::vector<wording::Symptom> symptoms;
  // What is derived of reports comes last: where the circuit has words of its own for the same,
  // they come before it.
  std::vector<const circuit::Observation*> in_order;
  for (const bool reported : {false, true}) {
    for (const circuit::Observation& observation : analysis.observations) {
      if (circuit::is_reported(observation) == reported) in_order.push_back(&observation);
    }
  }
  for (const circuit::Observation* one : in_order) {
    const circuit::Observation& observation = *one;
    const std::size_t slash = observation.id.find('/'), last = observation.id.rfind('/');
    const auto kind = symptom_kind(observation, observation.id.substr(0, slash));
    const bool outside =
        kind == wording::SymptomKind::look || kind == wording::SymptomKind::temperature;
    if (!observation.symptom && !outside) continue;
    wording::Symptom symptom;
    symptom.id = observation.id;
    symptom.kind = kind;
    symptom.directions = titles_of(observation.id, words.observation(observation));
    for (const std::string& outcome : observation.outcomes) {
      symptom.outcomes.push_back(outcome);
    }
    // drift/<actuator>/<direction>, delivery/<function>, look/<component>
    std::string at, direction;
    if (observation.written || slash == std::string::npos) {
      symptom.kind = wording::SymptomKind::written;
      symptom.parts = symptom.directions;
      symptom.parts.push_back(spaced(observation.id));
      symptom.directions.push_back(spaced(observation.id));
      symptoms.push_back(std::move(symptom));
      continue;
    }
    if (kind == wording::SymptomKind::delivery || kind == wording::SymptomKind::dip ||
        kind == wording::SymptomKind::uneven) {
      for (const circuit::Function& function : loaded.description.functions) {
        if (function.id != observation.id.substr(slash + 1)) continue;
        at = function.actuator;
        direction = function.direction;
      }
    } else {
      at = observation.id.substr(slash + 1, last > slash ? last - slash - 1 : std::string::npos);
      if (last > slash) direction = observation.id.substr(last + 1);
    }
    symptom.direction = direction;
    for (const circuit::Component& component : analysis.components) {
      if (component.id != at) continue;
      append(symptom.parts, titles_of(component.id, component.title));
      symptom.parts.push_back(spaced(component.id));
    }
    for (const circuit::Function& function : loaded.description.functions) {
      if (function.actuator != at) continue;
      symptom.moved.push_back(function.title);
      if (outside || function.direction != direction) continue;
      symptom.directions.push_back(function.title);
      symptom.directions.push_back(spaced(function.id));
    }
    if (outside) symptom.directions.clear();
    symptoms.push_back(std::move(symptom));
  }
  return symptoms;
}

}  // namespace

std::string propose(const LoadedModel& model, std::string_view text, std::string_view language) {
  const std::string spoken(language.empty() ? std::string_view("en") : language);
  const wording::ComplaintWords words = documents::complaint_words(spoken);
  const wording::Complaints complaints(documents::complaint_words("en"), words,
                                       symptoms_of(model, spoken));
  documents::JsonText out;
  out.begin_object().member("format", "faultodds-proposals/1").member("language", spoken);
  out.key("proposals").begin_list();
  for (const wording::SymptomProposal& one : complaints.propose(text)) {
    out.begin_object().member("observation", one.observation).member("outcome", one.outcome);
    out.member("score", one.score).list("because", one.because).end_object();
  }
  out.end_list().end_object();
  return out.take();
}

}  // namespace faultodds::engine
