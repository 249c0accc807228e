// From a complaint as an operator writes it to the symptoms of a circuit that it may mean, the
// likeliest first, with the words that decided. Words of the trade and of each language are data
// (complaints.en.json and its neighbours); part words are those of the circuit's own titles, or
// concepts that those name. It decides nothing: a person confirms one of the proposals.
#pragma once

#include <map>
#include <string>
#include <string_view>
#include <vector>

#include "core/wording/lexicon.h"

namespace faultodds::wording {

// Concepts by kind: `part` (what a circuit moves, or has: arm, pump, oil), `event` (what happens),
// `direction`, `move` (goes, runs), `hold` (stays), `force`, `state` (in which it was: says
// nothing), `foreign` (of no hydraulic circuit). Ids are the same in all languages. The ids that
// the matching knows are in complaint.cpp.
struct ComplaintWords {
  std::vector<Concept> concepts;
  Language language;
  std::map<std::string, std::vector<std::string>> means;  // concept -> further ones: sinks -> down
};

// From no_pressure on: what circuit/reported.h derives.
enum class SymptomKind {
  drift,
  delivery,
  look,
  temperature,
  written,
  no_pressure,
  hot,
  noisy,
  jerky,
  moves,
  dip,
  uneven
};

// A symptom with all the texts that say what it is.
struct Symptom {
  std::string id;
  SymptomKind kind = SymptomKind::written;
  std::vector<std::string> parts;       // titles and ids of what it is seen at
  std::vector<std::string> directions;  // titles of it and of the functions that move the same way
  std::string direction;                // of the actuator: `retract`; for want of other words
  std::vector<std::string> outcomes;    // the first is the normal one
  std::vector<std::string> moved{};     // titles of what the part moves: the platform, the arms
};

struct SymptomProposal {
  std::string observation, outcome;
  double score = 0;                  // 0 to 1: of what words can say for a symptom
  std::vector<std::string> because;  // words of the text, as they were written
};

class Complaints {
 public:
  // `titles` are the words of the language in which the circuit is written, `spoken` those of the
  // complaint's.
  Complaints(const ComplaintWords& titles, const ComplaintWords& spoken,
             const std::vector<Symptom>& symptoms);

  // At most three, best first; none where nothing fits.
  std::vector<SymptomProposal> propose(std::string_view text) const;

 private:
  struct Known {
    Symptom symptom;
    std::vector<std::string> parts, events, directions;  // ids, in order
    std::vector<std::string> sides;                      // what tells it from its like: left, up
    std::vector<std::vector<std::string>> outcomes;      // events that each outcome names
  };
  struct Said;
  struct Judgement;
  Said said_in(std::string_view text) const;
  SymptomProposal judged(const Known& known, const Said& said) const;

  ComplaintWords spoken_;
  Lexicon lexicon_;
  std::vector<Known> known_;
  std::vector<std::string> circuit_parts_;  // in order
};

}  // namespace faultodds::wording
