// What is said to people, as an id of the message catalogues (capi/words) and the values that
// its words take. Words are put to it by who shows it (capi/documents/wording.h, the web element's
// words.ts), in the reader's language. Here is no sentence in any.
#pragma once

#include <string>
#include <string_view>
#include <utility>
#include <vector>

namespace faultodds {

struct MessageValue {
  enum class Kind {
    text,         // names[0], as it is
    number,       // number, as it is read
    count,        // number, whole: chooses a plural
    share,        // number, 0 to 1
    minutes,      // number
    money,        // number, and names[0]: ISO 4217
    decibans,     // number
    components,   // names
    modes,        // names, with `shares` of each; `number` more that are not named
    observation,  // names[0]
  };
  Kind kind = Kind::text;
  std::vector<std::string> names{};
  double number = 0;
  std::vector<double> shares{};

  static MessageValue text(std::string words) { return {Kind::text, {std::move(words)}}; }
  static MessageValue of(Kind kind, double number) { return {kind, {}, number}; }
  static MessageValue money(double amount, std::string currency) {
    return {Kind::money, {std::move(currency)}, amount};
  }
  static MessageValue components(std::vector<std::string> ids) {
    return {Kind::components, std::move(ids)};
  }
  static MessageValue observation(std::string id) { return {Kind::observation, {std::move(id)}}; }
};

struct Message {
  std::string id;  // "reason.test"
  std::vector<std::pair<std::string, MessageValue>> values{};

  Message& with(std::string name, MessageValue value) {
    values.emplace_back(std::move(name), std::move(value));
    return *this;
  }
  Message& with(std::string name, MessageValue::Kind kind, double number) {
    return with(std::move(name), MessageValue::of(kind, number));
  }
};

// Sentences, one after the other.
using Messages = std::vector<Message>;

}  // namespace faultodds
