// What an order's free text says was found: a component of the catalogue, its failure mode and
// grade, or that the order is none of the catalogue's business. Proposed by a small model whose
// weights before anybody answered come from the catalogue's own words (types, failure modes, ISO
// 14224 codes) and what workshops write for them, and which learns from what an engineer confirms.
// What is not sure enough is for review and never counted. Words are found by core/wording; files
// are read and written elsewhere.
#pragma once

#include <cstdint>
#include <map>
#include <optional>
#include <set>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

#include "core/circuit/description.h"
#include "core/wording/choice.h"
#include "core/wording/lexicon.h"

namespace faultodds::priors {

// Words documents, all languages together. Kinds of concepts: `component` (of types), `part` (a
// seal: what it belongs to is meant), `foreign` (grease, coolant, fuel: what carries it is not
// ours), `other` (not of the catalogue), `unclear`, `place`, `oil`, `ours`, `fault` (with ISO 14224
// codes), `breakdown` (says that it failed, not how), `sound`, `action`, `position`.
struct CodingWords {
  std::vector<wording::Concept> concepts;
  std::vector<wording::Language> languages;
  std::map<std::string, std::vector<std::string>> types;  // concept -> types, the usual one first
  std::map<std::string, std::vector<std::string>> codes;  // concept -> ISO 14224 failure-mode codes
  std::map<std::string, int> grades;                      // concept -> 1 worn, 2 failed
  std::set<std::string>
      ends;  // components that end a compound: what follows a hose is another thing
  std::set<std::string> of_anything;  // faults that structure has too: cracked, worn
  std::set<std::string> sealing;      // say that something was sealed, not what
  std::set<std::string> vague;  // components that others than the catalogue have as well: a fitting
  std::map<std::string, std::string> part_of;  // concept -> concept of its component
};

// Other values of `component` and `finding` than the catalogue's names.
inline constexpr const char* kNotOurs = "none";     // component: none of the catalogue's business
inline constexpr const char* kUnclear = "unclear";  // component: one cannot tell
inline constexpr const char* kSound = "none";       // finding: nothing, it was found sound
inline constexpr const char* kNotStated =
    "not_stated";  // finding: replaced or repaired, no word on why
inline constexpr const char* kNoSuchMode =
    "not_in_catalogue";  // finding: stated, but no mode of it

struct Coded {
  std::string
      component;  // a type; or a family of them, which the mapping decides; or one of the above
  std::string finding;  // a mode, an ISO 14224 code that several modes have, or one of the above
  std::optional<int> grade;
  bool operator==(const Coded&) const = default;
};

struct Proposal {
  Coded coded;
  double certainty = 0;  // 1: confirmed, of this very text
  bool confirmed = false;
  std::vector<std::string> because;  // words of the text that decided, weightiest first
};

struct ConfirmedText {
  std::string text;
  Coded coded;
};

class Coder {
 public:
  Coder(const CodingWords& words, const std::vector<circuit::ComponentType>& catalogue);

  // Throws Error(invalid_argument) naming the answer that has no such component or finding. Forgets
  // what was learned before.
  void learn(const std::vector<ConfirmedText>& answers);

  Proposal propose(std::string_view text) const;

  // Which of `texts` to ask about next: the least certain first, weighed by how often each occurs,
  // none like one that is asked already. Indices; no more than `most`.
  std::vector<std::size_t> ask(const std::vector<std::string>& texts,
                               const std::vector<std::size_t>& times, std::size_t most) const;

  // Every component with the findings that an answer may name.
  std::vector<std::pair<std::string, std::vector<std::string>>> choices() const;
  // Component names that stand for several types, the usual one first.
  std::map<std::string, std::vector<std::string>> families() const;

 private:
  struct Family {
    std::string name;
    std::vector<std::string> types;
    std::vector<std::string> findings;  // modes, codes, and the values above
    wording::Choice choice{0};
  };
  struct Features;
  struct Group;   // of words of a line
  struct Reader;  // of a line
  struct Spoken;  // what it speaks of

  Features features_of(const wording::Line& line, std::string_view text) const;
  void add_of_finding(const Reader& reader, Features& f) const;
  Spoken spoken_of(const Reader& reader) const;
  void add_of_head(const Reader& reader, const Spoken& spoken, Features& f) const;
  void add_without_head(const Reader& reader, Features& f) const;
  void add_family(const std::string& concept_id, const std::vector<std::string>& types,
                  const std::vector<circuit::ComponentType>& catalogue);
  void expect_findings(Family& family, const circuit::ComponentType& type);
  void expect_components();
  bool is_other(const wording::Concept& c) const;
  std::optional<int> grade_of(const wording::Line& line) const;
  std::uint32_t component_option(const std::string& name) const;

  CodingWords words_;
  wording::Lexicon lexicon_;
  std::vector<Family> families_;
  std::map<std::string, std::uint32_t> family_of_;  // concept -> family
  wording::Choice component_{0};                    // families, then kNotOurs and kUnclear
  std::map<std::string, Coded> confirmed_;          // by key of the text
};

}  // namespace faultodds::priors
