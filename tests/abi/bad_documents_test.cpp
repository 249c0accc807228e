// Every entry of tests/vectors/bad_documents.json through the one call: the status, the place and
// the words of the error.
#include <catch2/catch.hpp>
#include <cstdlib>
#include <fstream>
#include <nlohmann/json.hpp>
#include <random>
#include <string>
#include <utility>

#include "faultodds.h"

using nlohmann::json;

namespace {

const json& table() {
  static const json documents = [] {
    std::ifstream file(VECTORS "/bad_documents.json");
    return json::parse(file);
  }();
  return documents;
}

// The text of one document, as the entry changes it.
std::string text_of(const json& entry, const std::string& document) {
  json base = table().at(document);
  if (entry.at("document") != document) return base.dump();
  if (entry.contains("text")) return entry.at("text");
  if (entry.contains("hex")) {
    const std::string digits = entry.at("hex");
    std::string bytes;
    for (std::size_t i = 0; i < digits.size(); i += 2) {
      bytes += static_cast<char>(std::stoi(digits.substr(i, 2), nullptr, 16));
    }
    return bytes;
  }
  if (entry.contains("repeat")) {
    const std::string piece = entry.at("repeat");
    std::string text = entry.value("prefix", "");
    for (std::size_t i = 0; i < entry.at("times").get<std::size_t>(); ++i) text += piece;
    return text + entry.value("suffix", "");
  }
  for (const json& pointer : entry.value("remove", json::array())) {
    const json::json_pointer path(pointer.get<std::string>());
    base.at(path.parent_pointer()).erase(path.back());
  }
  const json changes = entry.value("set", json::object());
  for (const auto& [pointer, value] : changes.items()) base[json::json_pointer(pointer)] = value;
  return base.dump();
}

struct Result {
  faultodds_status status = FAULTODDS_OK;
  json answer, error;
};

Result assess(const json& entry) {
  const std::string circuit = text_of(entry, "circuit");
  const std::string the_case = text_of(entry, "case");
  const std::string priors = text_of(entry, "priors");
  char* answer = nullptr;
  char* error = nullptr;
  Result result;
  result.status =
      faultodds_assess_json(circuit.data(), circuit.size(), the_case.data(), the_case.size(),
                            priors.data(), priors.size(), nullptr, &answer, &error);
  if (answer != nullptr) result.answer = json::parse(answer);
  if (error != nullptr) result.error = json::parse(error);
  faultodds_free(answer);
  faultodds_free(error);
  return result;
}

}  // namespace

TEST_CASE("the documents that the table changes are good as they stand") {
  const Result result = assess({{"document", "none"}});
  INFO(result.error.dump());
  REQUIRE(result.status == FAULTODDS_OK);
  CHECK(result.error.is_null());
  CHECK(result.answer.at("format") == "faultodds-assessment/1");
  CHECK(result.answer.at("circuit") == "baler-ram");
  CHECK(result.answer.at("asset").at("id") == "baler-2");
  CHECK(result.answer.at("complaint") == json::array({"drift/ram/retract"}));
  CHECK(result.answer.at("faults").size() == 4);
  CHECK_FALSE(result.answer.at("tests").empty());
}

TEST_CASE("each bad document gives a clear error that says where and what was expected") {
  REQUIRE(table().at("entries").size() >= 60);
  for (const json& entry : table().at("entries")) {
    const std::string name = entry.at("name");
    SECTION(name) {
      const Result result = assess(entry);
      INFO(result.error.dump());
      CHECK(result.answer.is_null());
      REQUIRE(result.error.is_object());
      CHECK(result.error.at("code") == entry.at("code"));
      CHECK(faultodds_status_name(result.status) == entry.at("code").get<std::string>());
      if (entry.contains("pointer")) CHECK(result.error.at("pointer") == entry.at("pointer"));
      for (const json& words : entry.at("message")) {
        CHECK_THAT(result.error.at("message").get<std::string>(),
                   Catch::Contains(words.get<std::string>()));
      }
      // A message is for a person: it never echoes a document.
      CHECK(result.error.at("message").get<std::string>().size() < 1200);
    }
  }
}

TEST_CASE("documents with random damage are refused or answered, and never a defect") {
  const std::string good[] = {table().at("circuit").dump(), table().at("case").dump(),
                              table().at("priors").dump()};
  const std::string pieces[] = {"{",    "}",    "[",    "]",       ",",       ":",
                                "\"",   "0",    "-",    "1e9",     "null",    "\\u0000",
                                "true", "\xff", "tank", "ram.cap", "lockout", "neutral"};
  std::mt19937 random(20240229);  // the same damage each run
  const auto below = [&random](std::size_t bound) { return random() % bound; };
  int answered = 0;
  for (int round = 0; round < 1500; ++round) {
    std::string texts[] = {good[0], good[1], good[2]};
    std::string& text = texts[below(3)];
    for (std::size_t damage = 1 + below(3); damage > 0; --damage) {
      const std::size_t at = below(text.size());
      switch (below(4)) {
        case 0:
          text.erase(at, 1 + below(6));
          break;
        case 1:
          text.insert(at, pieces[below(std::size(pieces))]);
          break;
        case 2:  // one value in the place of another
          text.replace(at, 1, 1, "0123456789.abt"[below(14)]);
          break;
        default:
          text.insert(at, text.substr(below(text.size()), below(40)));
      }
    }
    char* answer = nullptr;
    char* error = nullptr;
    const faultodds_status status =
        faultodds_assess_json(texts[0].data(), texts[0].size(), texts[1].data(), texts[1].size(),
                              texts[2].data(), texts[2].size(), nullptr, &answer, &error);
    INFO(text << "\n" << (error == nullptr ? "" : error));
    CHECK((answer == nullptr) == (status != FAULTODDS_OK));
    CHECK((error == nullptr) == (status == FAULTODDS_OK));
    CHECK(status != FAULTODDS_INTERNAL);
    CHECK(status != FAULTODDS_OUT_OF_MEMORY);
    if (status == FAULTODDS_OK) {
      ++answered;
    } else {
      const json read = json::parse(error);  // throws on what is not UTF-8
      CHECK_FALSE(read.at("message").get<std::string>().empty());
    }
    faultodds_free(answer);
    faultodds_free(error);
  }
  CHECK(answered > 10);  // some damage is to notes and numbers
}
