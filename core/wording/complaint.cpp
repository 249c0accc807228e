#include "core/wording/complaint.h"

#include <algorithm>
#include <array>
#include <set>
#include <utility>

namespace faultodds::wording {
namespace {

using Ids = std::vector<std::string>;

constexpr std::size_t kMost = 3;         // proposals
constexpr std::size_t kShortestOwn = 4;  // letters of a title's word that no language knows
constexpr std::size_t kStateReach = 4;   // words after "stays" in which its direction stands
// What speaks for a symptom; working judgement, tried on tests/wording.
constexpr double kPart = 3, kEvent = 2.5, kDirection = 2, kAlike = 1.5, kOnlyDirection = 1.5,
                 kUnlikely = 0.5, kWholeMachine = 1, kSide = 1;
constexpr double kOpposite = -3, kUnrelated = -0.5, kOtherPart = -1, kOtherEvent = -1;
constexpr double kAll = kPart + kEvent + kDirection;
constexpr double kLeast = 3, kShareOfBest = 0.4;

constexpr std::array<std::pair<const char*, const char*>, 5> kOpposites = {
    {{"up", "down"}, {"open", "close"}, {"forward", "back"}, {"left", "right"}, {"out", "in"}}};
const std::set<std::string, std::less<>> kEvents = {
    "drift", "slow", "weak",  "stalled", "hot",         "warm",  "noise", "leak",   "cycles",
    "loses", "fast", "often", "drips",   "no_pressure", "jerky", "dip",   "uneven", "powered"};
const std::set<std::string, std::less<>> kDegrees = {"fast", "often", "warm"};

std::string opposite(std::string_view direction) {
  for (const auto& [one, other] : kOpposites) {
    if (direction == one) return other;
    if (direction == other) return one;
  }
  return {};
}

// In a circuit that knows no such direction of a part: a flap that opens goes up.
std::string alike(std::string_view direction) {
  constexpr std::array<std::pair<const char*, const char*>, 6> pairs = {{{"open", "up"},
                                                                         {"close", "down"},
                                                                         {"out", "forward"},
                                                                         {"in", "back"},
                                                                         {"forward", "out"},
                                                                         {"back", "in"}}};
  for (const auto& [one, other] : pairs) {
    if (direction == one) return other;
  }
  return {};
}

bool has(const Ids& ids, std::string_view id) {
  return std::find(ids.begin(), ids.end(), id) != ids.end();
}

void add(Ids& ids, const std::string& id) {
  if (!has(ids, id)) ids.push_back(id);
}

enum class Class { part, event, direction, other };

Class class_of(const std::string& id, const std::string& kind) {
  if (kEvents.count(id) > 0) return Class::event;
  if (!opposite(id).empty()) return Class::direction;
  return kind == "part" || kind == "own" ? Class::part : Class::other;
}

// A concept, and what it means besides.
Ids with_meanings(const ComplaintWords& words, const std::string& id) {
  Ids ids = {id};
  const auto found = words.means.find(id);
  if (found != words.means.end()) ids.insert(ids.end(), found->second.begin(), found->second.end());
  return ids;
}

// What a title names. A slip is none in a title: the other language's words are read there too.
struct Named {
  Ids parts, events, directions;
};

void add_named(const ComplaintWords& words, const Lexicon& lexicon, const std::string& title,
               Named& named) {
  for (const Mention& mention : lexicon.read(title).mentions) {
    if (mention.corrected || mention.denied) continue;
    const Concept& found = lexicon.concepts()[mention.concept_index];
    if (found.kind == "state" || found.kind == "foreign") continue;
    for (const std::string& id : with_meanings(words, found.id)) {
      switch (class_of(id, id == found.id ? found.kind : "part")) {
        case Class::part:
          add(named.parts, id);
          break;
        case Class::event:
          add(named.events, id);
          break;
        case Class::direction:
          add(named.directions, id);
          break;
        case Class::other:
          break;
      }
    }
  }
}

// l'huile, d’un are two words; as many bytes as before.
std::string without_elisions(const Language& language, std::string_view text) {
  std::string out(text);
  for (const std::string_view mark : {"'", "\xE2\x80\x99"}) {
    for (std::size_t at = out.find(mark); at != std::string::npos; at = out.find(mark, at + 1)) {
      std::size_t from = at;
      while (from > 0 && out[from - 1] != ' ' && out[from - 1] != '\'') --from;
      const std::string before = fold(std::string_view(out).substr(from, at - from));
      if (has(language.elisions, before)) out.replace(at, mark.size(), mark.size(), ' ');
    }
  }
  return out;
}

ComplaintWords without_elisions(ComplaintWords words) {
  for (Concept& one : words.concepts) {
    for (std::string& phrase : one.phrases) phrase = without_elisions(words.language, phrase);
  }
  return words;
}

// Words of the circuit's titles that no language knows: they stand for themselves.
std::vector<Concept> own_concepts(const Lexicon& titles, const Lexicon& spoken,
                                  const std::vector<Symptom>& symptoms) {
  std::set<std::string> words;
  for (const Symptom& symptom : symptoms) {
    if (symptom.kind == SymptomKind::look || symptom.kind == SymptomKind::temperature) continue;
    std::vector<std::string> texts = symptom.parts;
    texts.insert(texts.end(), symptom.moved.begin(), symptom.moved.end());
    for (const std::string& text : texts) {
      std::set<std::string> known;
      for (const Lexicon* lexicon : {&titles, &spoken}) {
        for (const Word& word : lexicon->read(text).words) {
          if (word.mentioned || word.ignored) known.insert(word.token.word);
        }
      }
      for (const Token& token : tokens_of(text)) {
        if (token.word.size() >= kShortestOwn && known.count(token.word) == 0 &&
            token.word[0] > '9') {
          words.insert(token.word);
        }
      }
    }
  }
  std::vector<Concept> concepts;
  for (const std::string& word : words) concepts.push_back({"own/" + word, "own", {word}});
  return concepts;
}

std::vector<Concept> joined(std::vector<Concept> one, const std::vector<Concept>& other) {
  one.insert(one.end(), other.begin(), other.end());
  return one;
}

Ids events_of(SymptomKind kind, const Named& named) {
  switch (kind) {
    case SymptomKind::drift:
      return {"drift", "loses"};
    case SymptomKind::delivery:
      return {"slow", "weak", "stalled", "no_pressure"};
    case SymptomKind::look:
      return {"leak", "drips"};
    case SymptomKind::temperature:
      return {"hot", "warm"};
    case SymptomKind::no_pressure:
      return {"no_pressure", "weak", "stalled"};
    case SymptomKind::hot:
      return {"hot", "warm"};
    case SymptomKind::noisy:
      return {"noise"};
    case SymptomKind::jerky:
      return {"jerky"};
    case SymptomKind::moves:
      return {"drift", "powered"};
    case SymptomKind::dip:
      return {"dip"};
    case SymptomKind::uneven:
      return {"uneven"};
    case SymptomKind::written:
      break;
  }
  Ids events;
  for (const std::string& id : named.events) {
    if (id != "often" && id != "fast") events.push_back(id);
  }
  return events;
}

// What is said of the machine, not of a part of it.
bool of_all(SymptomKind kind) {
  return kind == SymptomKind::no_pressure || kind == SymptomKind::hot || kind == SymptomKind::noisy;
}

// What has a direction.
bool directed(SymptomKind kind) {
  return kind == SymptomKind::drift || kind == SymptomKind::delivery ||
         kind == SymptomKind::moves || kind == SymptomKind::dip || kind == SymptomKind::uneven;
}

}  // namespace

struct Complaints::Said {
  Ids parts, events, directions;
  Ids falls;                                      // directions in which it sinks
  std::map<std::string, Ids, std::less<>> words;  // by id
  bool foreign = false;                           // of a part that is none of the circuit's
  bool unknown = false;                           // a word that no list has

  enum class Way { as_said, other, none };  // of directions: "stays up" says nothing of them
  void note(Ids& ids, const std::string& id, const std::string& as_written) {
    add(ids, id);
    add(words[id], as_written);
  }
  void take(const Concept& found, const Ids& ids, bool denied, const std::string& as_written,
            Way way);
};

// What a concept says, denied or not.
void Complaints::Said::take(const Concept& found, const Ids& ids, bool denied,
                            const std::string& as_written, Way way) {
  static const std::map<std::string, std::string> denied_means = {
      {"hold", "drift"}, {"force", "weak"}, {"move", "stalled"}};
  const auto turned = denied_means.find(found.kind);
  if (turned != denied_means.end()) {
    if (denied) note(events, turned->second, as_written);
    return;
  }
  if (found.kind == "foreign") foreign = true;
  if (found.kind == "foreign" || (found.kind == "event" && denied)) return;
  for (const std::string& id : ids) {
    const Class what = class_of(id, id == found.id ? found.kind : "part");
    if (what == Class::part) note(parts, id, as_written);
    if (what == Class::event) note(events, id, as_written);
    if (what != Class::direction || way == Way::none) continue;
    if (has(ids, "drift")) add(falls, id);
    note(directions, way == Way::other ? opposite(id) : id, as_written);
    if (denied && way == Way::as_said) note(events, "stalled", as_written);
  }
}

Complaints::Complaints(const ComplaintWords& titles, const ComplaintWords& spoken,
                       const std::vector<Symptom>& symptoms)
    : spoken_(without_elisions(spoken)), lexicon_({}, {}) {
  const Lexicon first(titles.concepts, {titles.language}),
      second(spoken_.concepts, {spoken_.language});
  const std::vector<Concept> own = own_concepts(first, second, symptoms);
  const Lexicon in_titles(joined(titles.concepts, own), {titles.language});
  lexicon_ = Lexicon(joined(spoken_.concepts, own), {spoken_.language});
  for (const Symptom& symptom : symptoms) {
    Known known{symptom, {}, {}, {}, {}, {}};
    // A title is in the language that knows more of its words: `lever` is one thing in English and
    // another in French.
    const auto name = [&](const std::string& given, Named& named) {
      const std::string text = without_elisions(spoken_.language, given);
      if (lexicon_.read(text).mentions.size() > in_titles.read(given).mentions.size()) {
        add_named(spoken_, lexicon_, text, named);
      } else {
        add_named(titles, in_titles, given, named);
      }
    };
    Named at, how, moved;
    for (const std::string& text : symptom.parts) name(text, at);
    for (const std::string& text : symptom.moved) name(text, moved);
    for (const std::string& text : symptom.directions) name(text, how);
    known.parts = at.parts;
    for (const std::string& id : moved.parts) add(known.parts, id);
    for (const std::string& id : how.parts) add(known.parts, id);
    known.directions = how.directions;
    if (of_all(symptom.kind)) add(known.parts, "oil");
    // Of what is named after a way it goes, that is what tells it from others: the lift cylinder.
    const bool unnamed = std::all_of(at.parts.begin(), at.parts.end(),
                                     [](const std::string& id) { return id == "cylinder"; });
    for (const std::string& id : at.directions) {
      if (unnamed || id == "left" || id == "right") add(known.sides, id);
    }
    // The lift cylinder that lowers goes down.
    const Ids all = known.directions;
    std::erase_if(known.directions, [&](const std::string& id) {
      return has(known.sides, id) && has(all, opposite(id));
    });
    if (!directed(symptom.kind)) {
      known.directions.clear();
    } else if (known.directions.empty()) {
      static const std::map<std::string, std::string> by_actuator = {
          {"extend", "out"},   {"retract", "in"}, {"forward", "forward"},
          {"reverse", "back"}, {"left", "left"},  {"right", "right"}};
      const auto found = by_actuator.find(symptom.direction);
      if (found != by_actuator.end()) known.directions.push_back(found->second);
    }
    known.events = events_of(symptom.kind, how);
    for (const std::string& outcome : symptom.outcomes) {
      Named named;
      name(outcome, named);
      known.outcomes.push_back(named.events);
    }
    if (symptom.kind == SymptomKind::no_pressure && symptom.outcomes.size() == 3) {
      known.outcomes = {{}, {"weak"}, {"no_pressure", "stalled"}};
    }
    for (const std::string& part : known.parts) add(circuit_parts_, part);
    known_.push_back(std::move(known));
  }
}

Complaints::Said Complaints::said_in(std::string_view text) const {
  Said said;
  const Line line = lexicon_.read(without_elisions(spoken_.language, text));
  for (const Word& word : line.words) {
    const bool number = word.token.word[0] >= '0' && word.token.word[0] <= '9';
    if (!word.mentioned && !word.ignored && !number) said.unknown = true;
  }
  std::size_t state_ends = 0;  // words before it stand in "stays open"
  bool reversed = false;       // "does not stay open"
  for (const Mention& mention : line.mentions) {
    const Concept& found = lexicon_.concepts()[mention.concept_index];
    const std::size_t from = line.words[mention.first].token.from;
    const std::string as_written(text.substr(from, line.words[mention.last].token.to - from));
    if (found.kind == "hold") {
      reversed = mention.denied;
      state_ends = mention.last + 1 + kStateReach;
      for (std::size_t k = mention.last + 1; k < state_ends && k < line.words.size(); ++k) {
        if (line.words[k].token.after_stop) state_ends = k;
      }
    }
    const bool as_it_stays = mention.first < state_ends && found.kind == "direction";
    said.take(found, with_meanings(spoken_, found.id), mention.denied, as_written,
              as_it_stays ? (reversed ? Said::Way::other : Said::Way::none) : Said::Way::as_said);
  }
  // What sinks as it begins to lift is not asked to sink, but to lift.
  if (has(said.events, "dip")) {
    std::erase(said.events, "drift");
    std::erase_if(said.directions,
                  [&](const std::string& id) { return id == "down" || has(said.falls, id); });
    if (said.directions.empty()) said.directions.push_back("up");
  }
  // Who loses oil leaks.
  if (has(said.events, "loses") && has(said.parts, "oil")) {
    std::replace(said.events.begin(), said.events.end(), std::string("loses"), std::string("leak"));
    said.words["leak"] = said.words["loses"];
  }
  for (const std::string& part : said.parts) {
    if (!has(circuit_parts_, part) && part != "oil" && part != "cylinder") said.foreign = true;
  }
  return said;
}

struct Complaints::Judgement {
  const Known& known;
  const Said& said;
  Ids because;

  bool outside() const {
    return known.symptom.kind == SymptomKind::look ||
           known.symptom.kind == SymptomKind::temperature;
  }
  bool moves() const {
    return known.symptom.kind == SymptomKind::drift || known.symptom.kind == SymptomKind::delivery;
  }
  double side(double parts);
  double parts_and_side(const Ids& of_circuit, double& others);
  void give(const std::string& id) {
    const auto found = said.words.find(id);
    if (found == said.words.end()) return;
    for (const std::string& word : found->second) add(because, word);
  }
  double parts(const Ids& of_circuit, double& others);
  double direction();
  std::string outcome();
};

// `others`: what other parts of the circuit take off.
double Complaints::Judgement::parts(const Ids& of_circuit, double& others) {
  double score = 0;
  for (const std::string& part : said.parts) {
    if (part == "cylinder") continue;
    if (has(known.parts, part)) {
      if (part != "oil" || !moves()) score = kPart;
      give(part);
    } else if (has(of_circuit, part) && part != "oil") {
      others += kOtherPart;
    }
  }
  return score;
}

// `parts`: what the parts named give. What is told from its like by a side is no other side's.
double Complaints::Judgement::side(double parts) {
  double score = 0;
  for (const std::string& id : known.sides) {
    if (has(said.directions, id)) {
      score = parts > 0 || directed(known.symptom.kind) ? kSide : kPart;
      give(id);
    } else if (has(said.directions, opposite(id)) && !directed(known.symptom.kind)) {
      return kOpposite;
    }
  }
  return score;
}

// What is said of no part at all may be said of the machine.
double Complaints::Judgement::parts_and_side(const Ids& of_circuit, double& others) {
  double score = parts(of_circuit, others);
  if (!moves()) score += side(score);
  const bool nothing_else = others == 0 && !said.unknown;
  const bool of_machine = of_all(known.symptom.kind) || known.symptom.kind == SymptomKind::uneven;
  return score == 0 && nothing_else && of_machine ? kWholeMachine : score;
}

double Complaints::Judgement::direction() {
  if (!directed(known.symptom.kind)) return 0;
  double sum = 0;
  for (const std::string& id : said.directions) {
    double one = kUnrelated;
    if (has(known.directions, id)) {
      one = kDirection;
    } else if (has(known.directions, opposite(id))) {
      one = kOpposite;
    } else if (has(known.directions, alike(id))) {
      one = kAlike;
    } else if (has(known.directions, opposite(alike(id)))) {
      one = kOpposite;
    }
    if (one > 0) give(id);
    sum += one;
  }
  return std::clamp(sum, kOpposite, kDirection);
}

// The last one that the words name, else the mildest that is not normal.
std::string Complaints::Judgement::outcome() {
  const auto& outcomes = known.symptom.outcomes;
  std::string chosen = outcomes.size() > 1 ? outcomes[1] : std::string();
  for (std::size_t o = 1; o < outcomes.size(); ++o) {
    for (const std::string& id : known.outcomes[o]) {
      if (!has(said.events, id)) continue;
      chosen = outcomes[o];
      give(id);
    }
  }
  return chosen;
}

SymptomProposal Complaints::judged(const Known& known, const Said& said) const {
  SymptomProposal out{known.symptom.id, {}, 0, {}};
  Judgement judgement{known, said, {}};
  const bool moves = judgement.moves();
  double others = 0;
  const double parts = judgement.parts_and_side(circuit_parts_, others);
  if (said.foreign && !moves) return out;
  if (parts == 0 && (said.foreign || said.unknown || others < 0 || judgement.outside())) return out;
  double events = 0;
  const bool drift =
      known.symptom.kind == SymptomKind::drift || known.symptom.kind == SymptomKind::moves;
  for (const std::string& id : said.events) {
    // How fast it creeps is no other event; that it creeps is.
    const bool degree = kDegrees.count(id) > 0 || (id == "slow" && drift) || id == "drips";
    if (has(known.events, id)) {
      events = kEvent;
      judgement.give(id);
    } else if (!degree) {
      others += kOtherEvent;
    }
  }
  if (events == 0) {
    // What moves and was not asked to: nobody reports what he did himself. Or, if less often, that
    // he asked for it and got it badly.
    const bool only_degrees =
        std::all_of(said.events.begin(), said.events.end(),
                    [](const std::string& id) { return kDegrees.count(id) > 0; });
    const bool only_slow = said.events == Ids{"slow"};
    if (!moves || said.directions.empty() || (!only_degrees && !only_slow)) return out;
    events = only_slow || !drift ? kUnlikely : kOnlyDirection;
  }
  const double direction = judgement.direction();
  if (parts == 0 && directed(known.symptom.kind) && direction <= 0) return out;
  const double score = parts + events + direction + others;
  if (score < kLeast) return out;
  out.score = std::min(score / kAll, 1.0);
  out.outcome = judgement.outcome();
  out.because = std::move(judgement.because);
  return out;
}

std::vector<SymptomProposal> Complaints::propose(std::string_view text) const {
  const Said said = said_in(text);
  std::vector<SymptomProposal> proposals;
  for (const Known& known : known_) {
    SymptomProposal one = judged(known, said);
    if (one.score > 0) proposals.push_back(std::move(one));
  }
  std::stable_sort(proposals.begin(), proposals.end(),
                   [](const auto& a, const auto& b) { return a.score > b.score; });
  while (proposals.size() > kMost ||
         (!proposals.empty() && proposals.back().score < kShareOfBest * proposals[0].score)) {
    proposals.pop_back();
  }
  return proposals;
}

}  // namespace faultodds::wording
