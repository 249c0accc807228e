#include "capi/documents/wording.h"

#include <algorithm>
#include <cmath>
#include <optional>

#include "core/circuit/kinds.h"
#include "core/diagnosis/economics.h"
#include "core/reading/units.h"

namespace faultodds::documents {
namespace {

using circuit::Observation;
using circuit::ObservationKind;
using Kind = MessageValue::Kind;

const Titles kNoTitles;

std::string spaced(std::string_view id) {
  std::string text(id);
  std::replace(text.begin(), text.end(), '_', ' ');
  return text;
}

// "static/valve.a/plugged/relief" in its parts.
std::vector<std::string_view> parted(std::string_view id) {
  std::vector<std::string_view> parts;
  while (true) {
    const std::size_t slash = id.find('/');
    parts.push_back(id.substr(0, slash));
    if (slash == std::string_view::npos) return parts;
    id.remove_prefix(slash + 1);
  }
}

template <typename List>
std::optional<std::uint32_t> search(const List& list, std::string_view id) {
  const auto at =
      std::find_if(list.begin(), list.end(), [&](const auto& one) { return one.id == id; });
  if (at == list.end()) return std::nullopt;
  return static_cast<std::uint32_t>(at - list.begin());
}

// Before the `@` that a repair puts behind an id, and what is behind it.
struct Generation {
  std::string_view id, number;
};
Generation generation_of(std::string_view id) {
  const std::size_t at = id.rfind('@');
  if (at == std::string_view::npos) return {id, {}};
  return {id.substr(0, at), id.substr(at + 1)};
}

}  // namespace

Words::Words(const diagnosis::Model& model) : Words(model, kNoTitles, "en") {}

Words::Words(const circuit::Analysis& analysis)
    : analysis_(analysis), messages_(MessageCatalogue::in("en")) {}

Words::Words(const diagnosis::Model& model, const Titles& titles, std::string_view language)
    : analysis_(model.analysis()), model_(&model), messages_(MessageCatalogue::in(language)) {
  const auto found = titles.find(messages_.language());
  if (found != titles.end()) titles_ = &found->second;
}

const std::string* Words::titled(std::string_view id) const {
  if (titles_ == nullptr) return nullptr;
  const auto found = titles_->find(std::string(id));
  return found == titles_->end() ? nullptr : &found->second;
}

// ---- names

const std::string& Words::circuit() const {
  const std::string* title = titled(analysis_.id);
  return title != nullptr ? *title : analysis_.title;
}

const std::string& Words::part(const circuit::Component& component) const {
  const std::string* title = titled(component.id);
  return title != nullptr ? *title : component.display_title();
}

std::string Words::part(std::string_view id) const {
  const auto [plain, generation] = generation_of(id);
  const auto found =
      model_ != nullptr ? model_->find_component(plain) : search(analysis_.components, plain);
  const std::string name = found ? part(analysis().components[*found]) : std::string(plain);
  if (generation.empty()) return name;
  return say(generation == "0" ? "title.part_before" : "title.part_since", {{"part", name}});
}

std::string Words::parts(const std::vector<std::uint32_t>& components) const {
  std::vector<std::string> names;
  for (const std::uint32_t c : components) names.push_back(part(c));
  return all(names);
}

std::string Words::mode(const circuit::FailureMode& mode) const {
  const std::string_view id = generation_of(mode.id).id;
  if (const std::string* title = titled(id)) return *title;
  const std::string known = "mode." + std::string(id.substr(id.rfind('.') + 1));
  return language() != "en" && messages_.has(known) ? say(known) : mode.title;
}

std::string Words::fault(std::uint32_t m) const {
  const circuit::FailureMode& of = analysis().modes[m];
  return part(analysis().components[of.component_index]) + ": " + mode(of);
}

std::string Words::fault(std::string_view id) const {
  const auto [plain, generation] = generation_of(id);
  const auto found = model_ != nullptr ? model_->find_mode(plain) : search(analysis_.modes, plain);
  if (!found) return std::string(id);
  const circuit::FailureMode& of = analysis().modes[*found];
  const std::string behind = generation.empty() ? "" : "@" + std::string(generation);
  return part(of.component + behind) + ": " + mode(of);
}

std::string Words::port(std::string_view name) const {
  if (name.size() == 1 && name[0] >= 'a' && name[0] <= 'z') {
    return {static_cast<char>(name[0] - 'a' + 'A')};
  }
  const std::string known = "port." + std::string(name);
  return messages_.has(known) ? say(known) : spaced(name);
}

std::string Words::place(std::string_view volume) const {
  const std::size_t point = volume.find('.');
  const std::string name = part(volume.substr(0, point));
  return point == std::string_view::npos ? name : name + " " + port(volume.substr(point + 1));
}

std::string Words::line(const std::string& id) const {
  const std::string* title = titled("line/" + id);
  return title != nullptr ? *title : spaced(id);
}

std::string Words::by_id(const Observation& observation) const {
  const std::vector<std::string_view> id = parted(observation.id);
  const std::string_view at = id.size() > 1 ? id[1] : id[0];
  const std::size_t point = at.find('.');
  const std::string name = part(at.substr(0, point));
  switch (observation.kind) {
    case ObservationKind::static_hold: {
      const std::string of = port(point == std::string_view::npos ? "" : at.substr(point + 1));
      if (id.size() < 4) return say("title.hold", {{"port", of}, {"part", name}});
      return say("title.hold_plugged", {{"port", of}, {"part", name}, {"cartridge", part(id[3])}});
    }
    case ObservationKind::drift: {
      const std::string direction = id.size() > 2 ? std::string(id[2]) : "";
      const std::string known = "way." + direction;
      return say(
          "title.drift",
          {{"part", name}, {"direction", messages_.has(known) ? say(known) : spaced(direction)}});
    }
    case ObservationKind::delivery:
      return say("title.delivery", {{"part", observation.subject}});
    case ObservationKind::symptom: {  // as people report it
      const std::string known = "title." + std::string(id[0]);
      if (!messages_.has(known)) break;
      return say(known, {{"part", observation.subject.empty() ? name : observation.subject}});
    }
    default: {
      const std::string known = "title." + circuit::kind_name(observation.kind);
      if (messages_.has(known)) return say(known, {{"part", name}});
    }
  }
  return observation.id;
}

std::string Words::observation(const Observation& observation) const {
  if (const std::string* title = titled(observation.id)) return *title;
  return observation.title.empty() ? by_id(observation) : observation.title;
}

std::string Words::observation(std::string_view id) const {
  const auto [plain, generation] = generation_of(id);
  const auto found =
      model_ != nullptr ? model_->find_observation(plain) : search(analysis_.observations, plain);
  const std::string name = found ? observation(*found) : std::string(plain);
  return generation.empty() ? name : say("title.before_repair", {{"title", name}});
}

std::string Words::outcome(const std::string& id) const {
  const std::string known = "outcome." + id;
  return messages_.has(known) ? say(known) : spaced(id);
}

std::string Words::caution(const std::string& caution) const {
  if (is_shipped_caution(caution)) return say("caution." + caution);
  const std::string* title = titled(caution);
  return title != nullptr ? *title : caution;
}

std::vector<std::string> Words::cautions(const std::vector<std::string>& list) const {
  std::vector<std::string> texts;
  for (const std::string& one : list) texts.push_back(caution(one));
  return texts;
}

std::string Words::step(const circuit::SetupStep& step) const {
  const std::vector<std::string_view> id = parted(step.id);
  const std::string known = "step." + std::string(id[0]);
  if (id.size() == 1) return say(known);
  if (id[0] != "line") return say(known, {{"part", part(id[1])}});
  const std::string name = line(std::string(id[1]));
  if (step.ends.size() != 2) return say(known, {{"line", name}});
  return say("step.line_between",
             {{"line", name}, {"from", place(step.ends[0])}, {"to", place(step.ends[1])}});
}

std::string Words::step(const circuit::TestStep& step) const {
  const std::vector<std::string_view> id = parted(step.id);
  if (step.id == "release") return say("step.release_pump");
  if (id[0] == "verify_zero") {
    std::vector<std::string> places;
    for (const std::string& volume : step.at) places.push_back(place(volume));
    for (const std::string& volume : step.past_leak) {
      places.push_back(say("step.past_leak", {{"place", place(volume)}}));
    }
    return say("step.verify_zero_at", {{"places", all(places)}});
  }
  const std::string known = "step." + std::string(id[0]);
  if (id.size() == 1) return say(known);
  const std::string direction = id.size() > 2 ? std::string(id[2]) : "";
  const std::string named = "direction." + direction;
  return say(known, {{"part", part(id[1])},
                     {"direction", messages_.has(named) ? say(named) : spaced(direction)}});
}

std::string Words::fitting(const std::string& what) const {
  std::string known = "what." + what;
  std::replace(known.begin(), known.end(), ' ', '_');
  return messages_.has(known) ? say(known) : what;
}

std::string Words::limit(const circuit::TestPressureLimit& limit) const {
  const std::string name = limit.by == "line"               ? line(limit.part)
                           : limit.by == "working_pressure" ? spaced(limit.part)
                                                            : part(limit.part);
  std::string text =
      say(limit.by == "line" ? "limit.hose" : "limit." + limit.by,
          {{"part", name}, {"at", place(limit.volume)}, {"pressure", pressure(limit.stands)}});
  if (std::abs(limit.factor - 1) > 1e-9) {
    const std::string factor = reading::format_number(limit.factor, 3);
    text += "; " + say("limit.factor", {{"factor", messages_.with_its_point(factor)}});
  }
  if (limit.suspect == "clearance") {
    text += "; " + say("limit.clearance");
  } else if (!limit.suspect.empty()) {
    text += "; " + say("limit.suspect", {{"fault", fault(limit.suspect)}});
  }
  return text;
}

std::string Words::reason(const circuit::NotProposed& refused) const {
  return say("refused." + refused.reason,
             {{"at", place(refused.volume)},
              {"part", refused.part.empty() ? std::string() : part(refused.part)}});
}

// ---- values

std::string Words::all(const std::vector<std::string>& items) const {
  std::string text;
  for (std::size_t i = 0; i < items.size(); ++i) {
    if (i == 0) {
      text = items[0];
    } else if (i + 1 == items.size()) {
      text = say("ui.and", {{"a", text}, {"b", items[i]}});
    } else {
      text = say("list.more", {{"a", text}, {"b", items[i]}});
    }
  }
  return text;
}

std::string Words::percent(double share) const {
  if (share > 0 && share < 0.005) return say("share.under");
  if (share < 1 && share > 0.995) return say("share.over");
  return number(100 * share, 0) + " %";
}

std::string Words::minutes(double value) const {
  return say("ui.minutes", {{"minutes", number(value, 0)}});
}

std::string Words::money(double amount, const std::string& currency) const {
  const std::string text = number(amount, 0);
  return currency == diagnosis::Economics{}.currency ? text : text + " " + currency;
}

std::string Words::pressure(double pascal) const {
  return messages_.with_its_point(reading::format_pressure(pascal));
}

MessageWord Words::word(const std::string& name, const MessageValue& value) const {
  const std::string first = value.names.empty() ? std::string() : value.names[0];
  switch (value.kind) {
    case Kind::text:
      return {name, first};
    case Kind::number:
      return {name, messages_.with_its_point(reading::format_number(value.number, 3))};
    case Kind::count:
      return {name, std::lround(value.number)};
    case Kind::share:
      return {name, percent(value.number)};
    case Kind::minutes:
      return {name, minutes(value.number)};
    case Kind::money:
      return {name, money(value.number, first)};
    case Kind::decibans:
      return {name, (std::signbit(value.number) ? "" : "+") + number(value.number, 1) + " db"};
    case Kind::observation:
      return {name, observation(first)};
    case Kind::components:
    case Kind::modes:
      break;
  }
  std::vector<std::string> names;
  for (std::size_t i = 0; i < value.names.size(); ++i) {
    names.push_back(value.kind == Kind::modes ? fault(value.names[i]) : part(value.names[i]));
    if (i < value.shares.size()) names.back() += " (" + percent(value.shares[i]) + ")";
  }
  if (value.number > 0) {
    names.push_back(say("list.others", {{"count", std::lround(value.number)}}));
  }
  return {name, all(names)};
}

std::string Words::say(const Message& message) const {
  std::vector<MessageWord> words;
  for (const auto& [name, value] : message.values) words.push_back(word(name, value));
  return messages_.say(message.id, words);
}

std::string Words::say(const Messages& sentences) const {
  std::string text;
  for (const Message& one : sentences) text += (text.empty() ? "" : " ") + say(one);
  return text;
}

// ---- as documents

namespace {

// What people read needs no more than three figures.
double to_three_figures(double value) {
  if (value == 0 || !std::isfinite(value)) return value;
  const double scale = std::pow(10, 2 - std::floor(std::log10(std::abs(value))));
  return std::round(value * scale) / scale;
}

void write_value(JsonText& out, const MessageValue& value) {
  const std::string first = value.names.empty() ? std::string() : value.names[0];
  switch (value.kind) {
    case Kind::text:
      out.value(first);
      return;
    case Kind::number:
      out.value(to_three_figures(value.number));
      return;
    case Kind::count:
      out.value(value.number);
      return;
    case Kind::share:
      out.begin_object().member("share", to_three_figures(value.number)).end_object();
      return;
    case Kind::minutes:
      out.begin_object().member("minutes", to_three_figures(value.number)).end_object();
      return;
    case Kind::money:
      out.begin_object()
          .member("money", to_three_figures(value.number))
          .member("currency", first)
          .end_object();
      return;
    case Kind::decibans:
      out.begin_object().member("decibans", to_three_figures(value.number)).end_object();
      return;
    case Kind::observation:
      out.begin_object().member("observation", first).end_object();
      return;
    case Kind::components:
      out.begin_object().list("components", value.names).end_object();
      return;
    case Kind::modes:
      break;
  }
  out.begin_object().list("modes", value.names);
  if (!value.shares.empty()) {
    out.key("shares").begin_list();
    for (const double share : value.shares) out.value(to_three_figures(share));
    out.end_list();
  }
  if (value.number > 0) out.member("more", value.number);
  out.end_object();
}

}  // namespace

void write_messages(JsonText& out, std::string_view name, const Messages& messages) {
  out.key(name).begin_list();
  for (const Message& message : messages) {
    out.begin_object().member("id", message.id);
    if (!message.values.empty()) {
      out.key("values").begin_object();
      for (const auto& [of, value] : message.values) {
        out.key(of);
        write_value(out, value);
      }
      out.end_object();
    }
    out.end_object();
  }
  out.end_list();
}

void write_said(JsonText& out, std::string_view name, const Messages& messages,
                const Words& words) {
  out.member(name, words.say(messages));
  write_messages(out, std::string(name) + "_said", messages);
}

// ---- cautions

bool is_shipped_caution(const std::string& caution) {
  return MessageCatalogue::in("en").has("caution." + caution);
}

bool is_general_caution(std::string_view id) { return id.substr(0, 8) == "general/"; }

OwnCautions::OwnCautions(const circuit::Analysis& analysis) {
  for (const Observation& observation : analysis.observations) {
    for (const std::string& text : observation.cautions) {
      if (!is_shipped_caution(text)) {
        ids_.emplace(text, "own/" + std::to_string(ids_.size() + 1));
      }
    }
  }
}

std::string OwnCautions::id_of(const std::string& caution) const {
  const auto found = ids_.find(caution);
  return found == ids_.end() ? caution : found->second;
}

}  // namespace faultodds::documents
