// Words of a line, slips of the keyboard, denial, and a choice that answers move. No trade in it:
// the lexicon is the test's own.
#include <catch2/catch.hpp>
#include <cmath>
#include <string>
#include <vector>

#include "core/error.h"
#include "core/wording/choice.h"
#include "core/wording/lexicon.h"
#include "core/wording/spelling.h"

using namespace faultodds::wording;

namespace {

std::string key(const std::string& text) { return key_of(tokens_of(text)); }

Language english() {
  Language language;
  language.endings = {"s", "es"};
  language.denials = {"no", "not", "without"};
  language.denial_ends = {"but"};
  language.breaks = {"on", "at"};
  language.ignored = {"the", "is"};
  return language;
}

Language german() {
  Language language;
  language.endings = {"e", "en", "n", "s"};
  language.links = {"s", "n"};
  language.denials = {"kein", "keine", "nicht"};
  language.denials_after = {"nicht"};
  language.breaks = {"am", "an"};
  return language;
}

Lexicon lexicon() {
  return Lexicon({{"hose", "thing", {"hose", "Schlauch"}},
                  {"oil", "thing", {"hydraulic", "Hydraulik"}},
                  {"ring", "thing", {"o ring", "oring"}},
                  {"valve", "thing", {"valve", "control valve", "Ventil"}},
                  {"leak", "fault", {"leak", "leaking", "undicht", "leckt"}},
                  {"broken", "fault", {"us", "broken"}}},
                 {english(), german()});
}

// "hose leak!" with ! where it is denied.
std::string mentions(const std::string& text) {
  static const Lexicon words = lexicon();
  std::string found;
  for (const Mention& mention : words.read(text).mentions) {
    found += (found.empty() ? "" : " ") + words.concepts()[mention.concept_index].id;
    if (mention.denied) found += "!";
  }
  return found;
}

}  // namespace

TEST_CASE("words are small letters without accents, abbreviations one word", "[wording]") {
  CHECK(key("L/H BUCKET, R.H. side") == "lh bucket rh side");
  CHECK(key("WON'T open U/S") == "wont open us");
  CHECK(key("Zylinder \xC3\xBC"
            "bergelaufen, Gr\xC3\xB6\xC3\x9F"
            "e") == "zylinder uebergelaufen groesse");
  CHECK(key("v\xC3\xA9rin") == "verin");
  CHECK(key("#3pump") == "3 pump");
  CHECK(key("") == "");
  CHECK(key("...---") == "");
}

TEST_CASE("Arabic letters are words, without vowel signs and with one alef", "[wording]") {
  CHECK(key("\u0623\u064E\u0628\u060C \u0625\u0628\u0640\u0629") ==
        "\u0627\u0628 \u0627\u0628\u0647");
  CHECK(key("\u0661\u0662") == "12");
  CHECK(tokens_of("\u0627\u0628\u060C \u062C\u062F")[1].after_stop);
}

TEST_CASE("what is written together with a word is taken off where that leaves one", "[wording]") {
  Language arabic;
  arabic.beginnings = {"\u0627\u0644", "\u0648\u0627\u0644"};
  const Lexicon words({{"pump", "thing", {"\u0645\u0636\u062E\u0629"}}}, {arabic});
  for (const char* text : {"\u0645\u0636\u062E\u0629", "\u0627\u0644\u0645\u0636\u062E\u0629",
                           "\u0648\u0627\u0644\u0645\u0636\u062E\u0629"}) {
    CHECK(words.read(text).mentions.size() == 1);
  }
  CHECK(words.read("\u0627\u0644\u0645\u0636\u062E").mentions.empty());
}

TEST_CASE("a word knows where it stands in the text", "[wording]") {
  const std::string text = "L/H  hose";
  const std::vector<Token> tokens = tokens_of(text);
  REQUIRE(tokens.size() == 2);
  CHECK(text.substr(tokens[0].from, tokens[0].to - tokens[0].from) == "L/H");
  CHECK(text.substr(tokens[1].from, tokens[1].to - tokens[1].from) == "hose");
}

TEST_CASE("punctuation parts clauses, an abbreviation's point does not", "[wording]") {
  CHECK(tokens_of("leaking, hose")[1].after_stop);
  CHECK_FALSE(tokens_of("cyl. hose")[1].after_stop);
  CHECK(tokens_of("cylinder. hose")[1].after_stop);
  CHECK_FALSE(tokens_of("o-ring")[1].after_stop);
  CHECK(tokens_of("leak - hose")[1].after_stop);
}

TEST_CASE("bytes that are no text are read without harm", "[wording]") {
  for (int byte = 1; byte < 256; ++byte) {
    const std::string text = std::string("a") + static_cast<char>(byte) + "b";
    const std::vector<Token> tokens = tokens_of(text);
    CHECK_FALSE(tokens.empty());
    for (const Token& token : tokens) {
      CHECK(token.from < token.to);
      CHECK(token.to <= text.size());
    }
  }
}

TEST_CASE("slips are letters left out, put in, exchanged or swapped", "[wording]") {
  CHECK(slips("hydraulic", "hydraulic", 2) == 0);
  CHECK(slips("hydralic", "hydraulic", 2) == 1);
  CHECK(slips("cylidner", "cylinder", 2) == 1);
  CHECK(slips("releif", "relief", 2) == 1);
  CHECK(slips("bucket", "hydraulic", 2) == 3);
  CHECK(slips("", "ab", 2) == 2);
}

TEST_CASE("what was meant is the nearest word, and none where two are as near", "[wording]") {
  const std::vector<std::string> words = {"cylinder", "hydraulic", "lever", "level"};
  CHECK(meant("cilynder", words) == 0);
  CHECK(meant("hydralic", words) == 1);
  CHECK(meant("leves", words) == -1);
  CHECK(meant("ram", words) == -1);
  CHECK(meant("banana", words) == -1);
}

TEST_CASE("phrases are found with endings, slips and the longest first", "[wording]") {
  CHECK(mentions("Leaking hoses") == "leak hose");
  CHECK(mentions("O-RING on the controll valve") == "ring valve");
  CHECK(mentions("valves") == "valve");
  CHECK(mentions("hydralic hose U/S") == "oil hose broken");
}

TEST_CASE("compounds are their parts", "[wording]") {
  CHECK(mentions("Hydraulikschlauch undicht") == "oil hose leak");
  CHECK(mentions("hydraulichose") == "oil hose");
}

TEST_CASE("what a denial reaches is denied, up to a new group", "[wording]") {
  CHECK(mentions("no leak") == "leak!");
  CHECK(mentions("hose not leaking") == "hose leak!");
  CHECK(mentions("no leak but broken") == "leak! broken");
  CHECK(mentions("not broken, leaking") == "broken! leak");
  CHECK(mentions("keine Ventile undicht") == "valve! leak!");
  CHECK(mentions("Schlauch leckt nicht") == "hose leak!");
  CHECK(mentions("valve No 3 leaking") == "valve leak");
}

TEST_CASE("a phrase that stands for two concepts is refused by name", "[wording]") {
  try {
    Lexicon({{"a", "x", {"pump"}}, {"b", "x", {"Pump"}}}, {});
    FAIL("not refused");
  } catch (const faultodds::Error& error) {
    CHECK_THAT(error.what(), Catch::Contains("Pump") && Catch::Contains("expected one concept"));
  }
}

TEST_CASE("two lines are as alike as the words they share", "[wording]") {
  const Lexicon words = lexicon();
  CHECK(likeness(words.read("hose leaking"), words.read("leaking hose 3")) == 1);
  CHECK(likeness(words.read("hose"), words.read("valve")) == 0);
  CHECK(likeness(words.read("hose leaking"), words.read("valve leaking")) == Approx(1.0 / 3));
}

TEST_CASE("before anybody answered, the weights expected decide", "[wording]") {
  Choice choice(2);
  choice.expect("word:hose", 0, 2);
  CHECK(choice.probabilities({"word:hose"})[0] == Approx(1 / (1 + std::exp(-2.0))));
  CHECK(choice.probabilities({"word:unknown"})[0] == Approx(0.5));
  CHECK(choice.deciding({"word:hose", "word:unknown"}, 0).front().feature == "word:hose");
}

TEST_CASE("what is not known of a word is what its kind says", "[wording]") {
  Choice choice(2);
  choice.expect("tail:*", 1, 3);
  CHECK(choice.probabilities({"tail:gizmo"})[1] == Approx(1 / (1 + std::exp(-3.0))));
  choice.learn({{{"tail:gizmo"}, 0, 5}}, 3, 0.5);
  CHECK(choice.probabilities({"tail:gizmo"})[0] > 0.5);
  CHECK(choice.probabilities({"tail:other"})[1] == Approx(1 / (1 + std::exp(-3.0))));
}

TEST_CASE("answers find the most probable weights, the same each time", "[wording]") {
  const std::vector<Answer> answers = {{{"always", "word:a"}, 0, 1}, {{"always", "word:b"}, 1, 2}};
  Choice choice(2);
  choice.learn(answers, 3, 0.5);
  const double once = choice.probabilities({"always", "word:a"})[0];
  CHECK(once > 0.7);
  choice.learn(answers, 3, 0.5);
  CHECK(choice.probabilities({"always", "word:a"})[0] == once);
  choice.learn({}, 3, 0.5);
  CHECK(choice.probabilities({"always", "word:a"})[0] == 0.5);
}

TEST_CASE("the weights of one feature solve the equation of their posterior", "[wording]") {
  // One feature, two options, n answers for the first: w = -v by symmetry, and
  // w / s^2 = n (1 - p), p = 1 / (1 + exp(-2 w)); solved by bisection.
  const double spread = 2, n = 3;
  double low = 0, high = 20;
  for (int i = 0; i < 200; ++i) {
    const double w = (low + high) / 2, p = 1 / (1 + std::exp(-2 * w));
    (w / (spread * spread) < n * (1 - p) ? low : high) = w;
  }
  Choice choice(2);
  choice.learn({{{"word:a"}, 0, n}}, spread, 0.5);
  CHECK(choice.probabilities({"word:a"})[0] == Approx(1 / (1 + std::exp(-2 * low))).epsilon(1e-4));
}
