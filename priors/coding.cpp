#include "priors/coding.h"

#include <algorithm>
#include <cmath>
#include <set>

#include "core/error.h"
#include "core/quoted_text.h"

namespace faultodds::priors {
namespace {

using wording::Concept;
using wording::Line;
using wording::Mention;

// Weights before anybody answered, in natural logarithms of odds: working judgement. What names the
// component outweighs everything but a medium that is not ours.
constexpr double kComponentRare = -4;  // most orders are not ours
constexpr double kNamed = 11;
constexpr double kNamedVaguely = 6.7;
constexpr double kForeign = 10;  // it carries grease, coolant, fuel: not ours
constexpr double kForeignElsewhere = 5;
constexpr double kOtherBefore = 5;  // an engine's hose: perhaps
constexpr double kOtherElsewhere = 1.5;
constexpr double kFanBefore = 5;  // driven by oil, by a belt or by electricity
constexpr double kOurs = 4;       // it says hydraulic
constexpr double kHeadOther = 8;
constexpr double kHeadUnclear = 7;
constexpr double kHeadVague = 2.5;  // the person who knows the machine can tell
constexpr double kNothingNamed = 3;
constexpr double kOilOnly = 7;
constexpr double kPlaceOnly = 5;
constexpr double kNearOnly = 7;  // "near the pump" does not say that it is the pump
constexpr double kSymptom = 8;
constexpr double kVaguePlaced = 2;        // a boom's valve is ours sooner than a valve
constexpr std::size_t kShortestTail = 3;  // letters
constexpr double kTail = 6;               // a word nobody knows stands behind what is named
constexpr double kCode = 8;
constexpr double kTitle = 3;
constexpr double kPart = 15;
constexpr double kSealed = 6;
constexpr double kSaidNothing = 3;
constexpr double kNoFault = 3;  // not even that it leaks
constexpr double kSaidSound = 8;
constexpr double kWordSpread = 4, kLineSpread = 0.5;  // of what answers may move a weight by

const std::set<std::string>& near_words() {
  static const std::set<std::string> words = {"near", "under", "underneath", "behind", "beside"};
  return words;
}

bool is_noun(const std::string& kind) {
  static const std::set<std::string> kinds = {"component", "part", "foreign",
                                              "other",     "fan",  "unclear"};
  return kinds.contains(kind);
}

// The text of a title up to the first comma: "rotary motor, case drained to tank".
std::string before_comma(const std::string& title) { return title.substr(0, title.find(',')); }

// Types of no concept get their own: what a circuit brings besides the catalogue.
CodingWords with_own_types(CodingWords words,
                           const std::vector<circuit::ComponentType>& catalogue) {
  std::set<std::string> named, phrases;
  for (const auto& [id, types] : words.types) named.insert(types.begin(), types.end());
  for (const Concept& c : words.concepts) {
    for (const std::string& phrase : c.phrases) {
      phrases.insert(wording::key_of(wording::tokens_of(phrase)));
    }
  }
  for (const circuit::ComponentType& type : catalogue) {
    if (type.failure_modes.empty() || named.contains(type.name)) continue;
    Concept own{type.name, "component", {}};
    for (const std::string& phrase : {type.name, before_comma(type.title)}) {
      const std::string key = wording::key_of(wording::tokens_of(phrase));
      if (!key.empty() && phrases.insert(key).second) own.phrases.push_back(phrase);
    }
    if (own.phrases.empty()) continue;
    words.types[own.id] = {type.name};
    words.concepts.push_back(std::move(own));
  }
  return words;
}

}  // namespace

struct Coder::Features {
  wording::Shown component, finding;
  std::map<std::string, std::string> said;  // feature -> words of the text

  void add(wording::Shown& to, const std::string& feature, std::string_view words) {
    if (std::find(to.begin(), to.end(), feature) == to.end()) to.push_back(feature);
    said.emplace(feature, std::string(words));
  }
};

Coder::Coder(const CodingWords& words, const std::vector<circuit::ComponentType>& catalogue)
    : words_(with_own_types(words, catalogue)), lexicon_(words_.concepts, words_.languages) {
  for (const Concept& c : words_.concepts) {
    const auto types = words_.types.find(c.id);
    if (types != words_.types.end()) add_family(c.id, types->second, catalogue);
  }
  for (const auto& [part, of] : words_.part_of) {
    const auto family = family_of_.find(of);
    if (family != family_of_.end()) family_of_[part] = family->second;
  }
  expect_components();
}

void Coder::add_family(const std::string& concept_id, const std::vector<std::string>& types,
                       const std::vector<circuit::ComponentType>& catalogue) {
  std::vector<std::string> known;
  const circuit::ComponentType* usual = nullptr;
  for (const std::string& name : types) {
    for (const circuit::ComponentType& type : catalogue) {
      if (type.name != name || type.failure_modes.empty()) continue;
      known.push_back(name);
      if (usual == nullptr) usual = &type;
    }
  }
  if (usual == nullptr) return;  // not in this catalogue
  const std::string name = known.size() == 1 ? known[0] : concept_id;
  for (std::size_t i = 0; i < families_.size(); ++i) {
    if (families_[i].name != name && families_[i].types != known) continue;
    family_of_[concept_id] = static_cast<std::uint32_t>(i);
    return;
  }
  family_of_[concept_id] = static_cast<std::uint32_t>(families_.size());
  Family family{name, known, {}, wording::Choice(0)};
  expect_findings(family, *usual);
  families_.push_back(std::move(family));
}

void Coder::expect_findings(Family& family, const circuit::ComponentType& type) {
  std::map<std::string, std::vector<std::uint32_t>> by_code;
  for (const circuit::FailureModeType& mode : type.failure_modes) {
    by_code[mode.code].push_back(static_cast<std::uint32_t>(family.findings.size()));
    family.findings.push_back(mode.name);
  }
  std::map<std::string, std::uint32_t> option_of_code;
  for (const auto& [code, modes] : by_code) {
    if (modes.size() == 1) {
      option_of_code[code] = modes[0];
    } else {
      option_of_code[code] = static_cast<std::uint32_t>(family.findings.size());
      family.findings.push_back(code);
    }
  }
  const auto not_stated = static_cast<std::uint32_t>(family.findings.size());
  family.findings.insert(family.findings.end(), {kNotStated, kNoSuchMode, kSound});
  family.choice = wording::Choice(family.findings.size());
  wording::Choice& choice = family.choice;
  choice.expect("always", not_stated, kSaidNothing);
  choice.expect("no_fault", not_stated, kNoFault);

  std::size_t seals = 0;  // modes whose title speaks of a seal: which one is meant has to be said
  std::map<std::string, std::map<std::uint32_t, double>> titles;
  for (std::uint32_t m = 0; m < type.failure_modes.size(); ++m) {
    const std::string& title = type.failure_modes[m].title;
    bool sealed = false;
    for (const Mention& mention : lexicon_.read(title).mentions) {
      const Concept& c = words_.concepts[mention.concept_index];
      if (c.kind == "part") {
        titles["part:" + c.id][m] = kPart;
        sealed = true;
      }
      // "Seat leaks" is no leak to the outside: the code says which.
      const std::vector<std::string>& codes = words_.codes[c.id];
      if (std::find(codes.begin(), codes.end(), type.failure_modes[m].code) != codes.end()) {
        titles["fault:" + c.id][m] = kTitle;
      }
    }
    if (sealed) ++seals;
  }
  for (const Concept& c : words_.concepts) {
    if (c.kind == "sound") choice.expect("sound:" + c.id, not_stated + 2, kSaidSound);
    if (c.kind != "fault") continue;
    std::set<std::uint32_t> options;
    for (const std::string& code : words_.codes[c.id]) {
      const auto found = option_of_code.find(code);
      if (found != option_of_code.end()) options.insert(found->second);
    }
    for (std::uint32_t option : options) choice.expect("fault:" + c.id, option, kCode);
    const auto of_title = titles.find("fault:" + c.id);
    if (of_title != titles.end()) {
      for (const auto& [option, weight] : of_title->second) {
        choice.expect("fault:" + c.id, option, weight + (options.contains(option) ? kCode : 0));
      }
    } else if (options.empty()) {
      choice.expect("fault:" + c.id, not_stated + 1, kCode);
    }
    choice.expect("not:" + c.id, not_stated + 2, kSaidSound);
  }
  for (const auto& [feature, weights] : titles) {
    if (!feature.starts_with("part:")) continue;
    if (weights.size() > 1) continue;  // does not tell which
    for (const auto& [option, weight] : weights) choice.expect(feature, option, weight);
  }
  const auto outside = option_of_code.find("ELU");
  const std::uint32_t leaks = outside == option_of_code.end() ? not_stated + 1 : outside->second;
  choice.expect("sealed", seals > 1 ? not_stated : leaks, kSealed);
}

// Not of the catalogue; nor is a component whose types this catalogue has not.
bool Coder::is_other(const Concept& c) const {
  return c.kind == "other" || (c.kind == "component" && !family_of_.contains(c.id));
}

void Coder::expect_components() {
  const auto none = static_cast<std::uint32_t>(families_.size()), unclear = none + 1;
  component_ = wording::Choice(families_.size() + 2);
  for (std::uint32_t f = 0; f < families_.size(); ++f) {
    component_.expect("always", f, kComponentRare);
  }
  for (const Concept& c : words_.concepts) {
    const auto family = family_of_.find(c.id);
    if (family != family_of_.end()) {
      component_.expect("head:" + c.id, family->second,
                        words_.vague.contains(c.id) ? kNamedVaguely : kNamed);
      continue;
    }
    if (c.kind == "foreign") {
      component_.expect("head:" + c.id, none, kForeign);
      component_.expect("with:" + c.id, none, kForeign);
      component_.expect("also:" + c.id, none, kForeignElsewhere);
    } else if (is_other(c)) {
      component_.expect("head:" + c.id, none, kHeadOther);
      component_.expect("with:" + c.id, none, kOtherBefore);
      component_.expect("also:" + c.id, none, kOtherElsewhere);
    } else if (c.kind == "fan") {
      component_.expect("head:" + c.id, none, kNothingNamed);
      component_.expect("with:" + c.id, none, kFanBefore);
      component_.expect("with:" + c.id, unclear, kFanBefore);
    } else if (c.kind == "unclear") {
      component_.expect("head:" + c.id, unclear,
                        words_.vague.contains(c.id) ? kHeadVague : kHeadUnclear);
    } else if (c.kind == "part") {
      component_.expect("head:" + c.id, unclear, kHeadUnclear);
    } else if (c.kind == "symptom") {
      component_.expect("says:" + c.id, unclear, kSymptom);
    } else if (c.kind == "ours") {
      component_.expect("says:" + c.id, none, -kOurs);
    }
  }
  component_.expect("nothing", none, kNothingNamed);
  component_.expect("oil", unclear, kOilOnly);
  component_.expect("leak", unclear, kOilOnly);
  component_.expect("place", none, kPlaceOnly);
  component_.expect("near", unclear, kNearOnly);
  component_.expect("tail:*", unclear, kTail);
  component_.expect("placed", none, -kVaguePlaced);
  component_.expect("placed", unclear, -kVaguePlaced);
}

// Words that stand together: "RH BUCKET CYLINDER GREASE LINE". The last noun is what it is, the
// others say which.
struct Coder::Group {
  std::vector<const Mention*> nouns;  // in order
  bool place = false, oil = false;
  std::string broken_by;
  std::size_t last = 0;  // word after which the group may still go on
};

struct Coder::Reader {
  const CodingWords& words;
  const Line& line;
  std::string_view text;

  std::string_view said(const Mention& m) const {
    const std::size_t from = line.words[m.first].token.from, to = line.words[m.last].token.to;
    return text.substr(from, to - from);
  }
  const Concept& of(const Mention& mention) const { return words.concepts[mention.concept_index]; }

  std::vector<Group> groups() const {
    std::vector<Group> all(1);
    std::size_t next = 0;
    for (std::size_t w = 0; w < line.words.size(); ++w) {
      const wording::Word& word = line.words[w];
      if (word.starts_group && !(all.size() == 1 && w == 0)) {
        all.emplace_back();
        all.back().broken_by = word.broken_by;
      }
      if (next >= line.mentions.size() || line.mentions[next].first != w) continue;
      const Mention& mention = line.mentions[next++];
      const std::string& kind = of(mention).kind;
      Group& group = all.back();
      const bool parts = kind == "fault" || kind == "breakdown" || kind == "action" ||
                         kind == "sound" || kind == "side";
      const bool ended =
          !group.nouns.empty() && words.ends.contains(of(*group.nouns.back()).id) &&
          (kind == "place" || (kind == "component" && !words.vague.contains(of(mention).id)));
      const bool sealed = group.nouns.size() > 1 && of(*group.nouns.back()).kind == "part" &&
                          words.ends.contains(of(*group.nouns[group.nouns.size() - 2]).id) &&
                          (kind == "place" || kind == "component");
      if ((parts && (!group.nouns.empty() || group.place)) || ended || sealed) all.emplace_back();
      if (is_noun(kind)) all.back().nouns.push_back(&mention);
      if (kind == "place") all.back().place = true;
      if (kind == "oil" || kind == "ours") all.back().oil = true;
    }
    return all;
  }
};

// What a line speaks of, in the group that names it.
struct Coder::Spoken {
  const Mention* head = nullptr;
  const Mention* part = nullptr;  // of it: a seal, a hose
  Group group;
  bool near = false;  // beside something else

  bool names(const Mention* m) const {
    return m == head || m == part ||
           std::find(group.nouns.begin(), group.nouns.end(), m) != group.nouns.end();
  }
};

Coder::Features Coder::features_of(const Line& line, std::string_view text) const {
  Features f;
  const Reader reader{words_, line, text};
  f.add(f.component, "always", "");
  f.add(f.finding, "always", "");
  add_of_finding(reader, f);
  const Spoken spoken = spoken_of(reader);
  if (spoken.head != nullptr) {
    add_of_head(reader, spoken, f);
  } else {
    add_without_head(reader, f);
  }
  // Of an engine that runs hot it tells nothing that concerns us.
  const bool others = spoken.head != nullptr && (is_other(reader.of(*spoken.head)) ||
                                                 reader.of(*spoken.head).kind == "foreign");
  for (const Mention& m : line.mentions) {
    const Concept& c = reader.of(m);
    if (c.kind == "symptom" && !others) f.add(f.component, "says:" + c.id, reader.said(m));
    if (!is_noun(c.kind) || spoken.names(&m)) continue;
    f.add(f.component, "also:" + c.id, reader.said(m));
  }
  for (const wording::Word& word : line.words) {
    const std::string& w = word.token.word;
    if (word.mentioned || word.ignored || w.size() < 2 || (w[0] >= '0' && w[0] <= '9')) continue;
    f.add(f.component, "word:" + w, w);
    f.add(f.finding, "word:" + w, w);
  }
  // Learned only: places and functions say nothing beforehand.
  for (const Mention& m : line.mentions) {
    const Concept& c = reader.of(m);
    if (c.kind == "place" || c.kind == "fault" || c.kind == "action") {
      f.add(f.component, "says:" + c.id, reader.said(m));
    }
  }
  return f;
}

// Faults, actions, parts and seals; and what says of itself that it is ours.
void Coder::add_of_finding(const Reader& reader, Features& f) const {
  for (const Mention& m : reader.line.mentions) {
    const Concept& c = reader.of(m);
    const bool fault = c.kind == "fault";
    if (fault && m.denied) {
      f.add(f.finding, "not:" + c.id, reader.said(m));
    } else if (fault || c.kind == "breakdown" || c.kind == "action" || c.kind == "sound") {
      f.add(f.finding, c.kind + ":" + c.id, reader.said(m));
    }
    if (c.kind == "part") f.add(f.finding, "part:" + c.id, reader.said(m));
    if (words_.sealing.contains(c.id)) f.add(f.finding, "sealed", reader.said(m));
    if (c.kind == "ours") f.add(f.component, "says:" + c.id, reader.said(m));
  }
  if (std::none_of(f.finding.begin(), f.finding.end(), [](const std::string& feature) {
        return feature.starts_with("fault:") || feature.starts_with("not:") ||
               feature.starts_with("part:") || feature.starts_with("sound:") || feature == "sealed";
      })) {
    f.add(f.finding, "no_fault", "");
  }
}

// The last noun of the first group that has one; of a seal, what it belongs to.
Coder::Spoken Coder::spoken_of(const Reader& reader) const {
  Spoken spoken;
  const std::vector<Mention>& mentions = reader.line.mentions;
  spoken.near = std::any_of(mentions.begin(), mentions.end(),
                            [&](const Mention& m) { return reader.of(m).kind == "area"; });
  std::vector<Group> groups = reader.groups();
  std::size_t at = 0;
  for (std::size_t g = 0; g < groups.size() && spoken.head == nullptr; ++g) {
    const Group& group = groups[g];
    if (g > 0 && near_words().contains(group.broken_by)) spoken.near = true;
    for (std::size_t n = group.nouns.size(); n-- > 0;) {
      const Concept& c = reader.of(*group.nouns[n]);
      if (c.kind == "part" && !family_of_.contains(c.id)) {
        if (spoken.part == nullptr) spoken.part = group.nouns[n];
        continue;  // before it, or in the next group
      }
      spoken.head = group.nouns[n];
      at = g;
      break;
    }
  }
  if (spoken.head == nullptr) spoken.head = spoken.part;
  if (spoken.head != nullptr) spoken.group = std::move(groups[at]);
  return spoken;
}

void Coder::add_of_head(const Reader& reader, const Spoken& spoken, Features& f) const {
  const Mention* const head = spoken.head;
  const std::vector<const Mention*>& nouns = spoken.group.nouns;
  const std::vector<wording::Word>& words = reader.line.words;
  f.add(f.component, "head:" + reader.of(*head).id, reader.said(*head));
  if (spoken.near) f.add(f.component, "near", "");
  for (std::size_t n = 0; n < nouns.size(); ++n) {
    const Mention* m = nouns[n];
    if (m == head || m == spoken.part) continue;
    // An engine's fan's pump: the engine says which fan.
    const bool of_fan = n + 1 < nouns.size() && reader.of(*nouns[n + 1]).kind == "fan";
    if (of_fan && reader.of(*m).kind == "other") continue;
    f.add(f.component, "with:" + reader.of(*m).id, reader.said(*m));
    f.add(f.component, "pair:" + reader.of(*m).id + " " + reader.of(*head).id, "");
  }
  if (spoken.group.place && words_.vague.contains(reader.of(*head).id)) {
    f.add(f.component, "placed", "");
  }
  // What stands behind may be what it really is: "filter magnet".
  const std::size_t after = head->last + 1;
  if (family_of_.contains(reader.of(*head).id) && after < words.size() &&
      !words[after].starts_group && !words[after].mentioned && !words[after].ignored &&
      words[after].token.word.size() >= kShortestTail &&
      (words[after].token.word[0] < '0' || words[after].token.word[0] > '9')) {
    f.add(f.component, "tail:" + words[after].token.word, "");
  }
}

void Coder::add_without_head(const Reader& reader, Features& f) const {
  bool oil = false, place = false, leak = false;
  for (const Mention& m : reader.line.mentions) {
    const Concept& c = reader.of(m);
    // Of a boom without more, a leak and a drift are the hydraulics', a crack and wear its own.
    const auto codes = words_.codes.find(c.id);
    leak = leak || (c.kind == "fault" && codes != words_.codes.end() &&
                    !words_.of_anything.contains(c.id) &&
                    (codes->second[0] == "ELU" || codes->second[0] == "INL"));
    oil = oil || c.kind == "oil" || c.kind == "ours";
    place = place || c.kind == "place";
  }
  if (oil) f.add(f.component, "oil", "");
  if (leak) f.add(f.component, "leak", "");
  if (place && !oil && !leak) f.add(f.component, "place", "");
  f.add(f.component, "nothing", "");
}

// The highest that is said and not denied.
std::optional<int> Coder::grade_of(const Line& line) const {
  std::optional<int> grade;
  for (const Mention& m : line.mentions) {
    const auto found = words_.grades.find(words_.concepts[m.concept_index].id);
    if (found == words_.grades.end() || m.denied) continue;
    grade = std::max(grade.value_or(0), found->second);
  }
  return grade;
}

std::uint32_t Coder::component_option(const std::string& name) const {
  if (name == kNotOurs) return static_cast<std::uint32_t>(families_.size());
  if (name == kUnclear) return static_cast<std::uint32_t>(families_.size() + 1);
  for (std::uint32_t f = 0; f < families_.size(); ++f) {
    if (families_[f].name == name) return f;
  }
  for (std::uint32_t f = 0; f < families_.size(); ++f) {  // a type, where the text has the family
    const std::vector<std::string>& types = families_[f].types;
    if (std::find(types.begin(), types.end(), name) != types.end()) return f;
  }
  std::string known;
  for (const Family& family : families_) known += family.name + ", ";
  throw Error(Code::invalid_argument, "component of an answer is " + in_quotes(name) +
                                          "; expected " + known + kNotOurs + " or " + kUnclear);
}

void Coder::learn(const std::vector<ConfirmedText>& answers) {
  std::vector<wording::Answer> components;
  std::vector<std::vector<wording::Answer>> findings(families_.size());
  confirmed_.clear();
  for (const ConfirmedText& answer : answers) {
    const Line line = lexicon_.read(answer.text);
    const Features f = features_of(line, answer.text);
    const std::uint32_t option = component_option(answer.coded.component);
    components.push_back({f.component, option, 1});
    if (option < families_.size()) {
      const std::vector<std::string>& known = families_[option].findings;
      const auto found = std::find(known.begin(), known.end(), answer.coded.finding);
      if (found == known.end()) {
        std::string names;
        for (const std::string& name : known) names += (names.empty() ? "" : ", ") + name;
        throw Error(Code::invalid_argument, "finding of the answer to " + in_quotes(answer.text) +
                                                " is " + in_quotes(answer.coded.finding) +
                                                "; expected of " + families_[option].name +
                                                " one of " + names);
      }
      findings[option].push_back({f.finding, static_cast<std::uint32_t>(found - known.begin()), 1});
    }
    confirmed_[wording::key_of(wording::tokens_of(answer.text))] = answer.coded;
  }
  component_.learn(components, kWordSpread, kLineSpread);
  for (std::size_t k = 0; k < families_.size(); ++k) {
    families_[k].choice.learn(findings[k], kWordSpread, kLineSpread);
  }
}

Proposal Coder::propose(std::string_view text) const {
  const std::string key = wording::key_of(wording::tokens_of(text));
  const auto confirmed = confirmed_.find(key);
  if (confirmed != confirmed_.end()) return {confirmed->second, 1, true, {}};
  const Line line = lexicon_.read(text);
  const Features f = features_of(line, text);
  const std::vector<double> p = component_.probabilities(f.component);
  const auto best = static_cast<std::uint32_t>(std::max_element(p.begin(), p.end()) - p.begin());
  Proposal proposal;
  proposal.certainty = p[best];
  std::vector<wording::Deciding> deciding = component_.deciding(f.component, best);
  if (best < families_.size()) {
    const Family& family = families_[best];
    const std::vector<double> q = family.choice.probabilities(f.finding);
    const auto found = static_cast<std::uint32_t>(std::max_element(q.begin(), q.end()) - q.begin());
    proposal.coded.component = family.name;
    proposal.coded.finding = family.findings[found];
    proposal.certainty *= q[found];
    const std::string& finding = proposal.coded.finding;
    if (finding != kSound && finding != kNotStated) proposal.coded.grade = grade_of(line);
    for (wording::Deciding& d : family.choice.deciding(f.finding, found)) {
      deciding.push_back(std::move(d));
    }
  } else {
    proposal.coded.component = best == families_.size() ? kNotOurs : kUnclear;
  }
  for (const wording::Deciding& d : deciding) {
    const auto words = f.said.find(d.feature);
    if (words == f.said.end() || words->second.empty() || proposal.because.size() >= 5) continue;
    if (std::find(proposal.because.begin(), proposal.because.end(), words->second) ==
        proposal.because.end()) {
      proposal.because.push_back(words->second);
    }
  }
  return proposal;
}

std::vector<std::size_t> Coder::ask(const std::vector<std::string>& texts,
                                    const std::vector<std::size_t>& times, std::size_t most) const {
  constexpr double kSame = 0.5;          // as alike as this: the answer to one helps the other
  constexpr std::size_t kLookedAt = 20;  // for each that is asked
  std::vector<std::pair<double, std::size_t>> doubtful;
  for (std::size_t i = 0; i < texts.size(); ++i) {
    const Proposal proposal = propose(texts[i]);
    if (proposal.confirmed) continue;
    doubtful.push_back({(1 - proposal.certainty) * std::sqrt(static_cast<double>(times[i])), i});
  }
  std::sort(doubtful.begin(), doubtful.end(), [](const auto& a, const auto& b) {
    return a.first != b.first ? a.first > b.first : a.second < b.second;
  });
  if (doubtful.size() > kLookedAt * most) doubtful.resize(kLookedAt * most);
  std::vector<std::size_t> asked;
  std::vector<Line> lines;
  for (const auto& [doubt, i] : doubtful) {
    if (asked.size() >= most) break;
    Line line = lexicon_.read(texts[i]);
    if (std::any_of(lines.begin(), lines.end(),
                    [&](const Line& other) { return wording::likeness(line, other) > kSame; })) {
      continue;
    }
    asked.push_back(i);
    lines.push_back(std::move(line));
  }
  return asked;
}

std::vector<std::pair<std::string, std::vector<std::string>>> Coder::choices() const {
  std::vector<std::pair<std::string, std::vector<std::string>>> result;
  for (const Family& family : families_) result.emplace_back(family.name, family.findings);
  return result;
}

std::map<std::string, std::vector<std::string>> Coder::families() const {
  std::map<std::string, std::vector<std::string>> result;
  for (const Family& family : families_) {
    if (family.types.size() > 1) result[family.name] = family.types;
  }
  return result;
}

}  // namespace faultodds::priors
