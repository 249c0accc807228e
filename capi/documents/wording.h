// The one place in the library where words are put to what it says: how parts, tests, steps,
// cautions and outcomes of a circuit are called in one language, and what messages
// (core/message.h) say. The words are those of message_catalogue.h and of the circuit's document,
// whose `titles` come before all. What it gives is for technicians; errors are no part of it.
#pragma once

#include <cstdint>
#include <map>
#include <string>
#include <string_view>
#include <vector>

#include "capi/documents/json_text.h"
#include "capi/documents/message_catalogue.h"
#include "capi/documents/titles.h"
#include "core/circuit/analysis.h"
#include "core/diagnosis/model.h"
#include "core/message.h"

namespace faultodds::documents {

class Words {
 public:
  // In English, by the titles that the circuit's document has itself. Keeps a reference.
  Words(const diagnosis::Model& model);      // NOLINT(google-explicit-constructor)
  Words(const circuit::Analysis& analysis);  // NOLINT(google-explicit-constructor)
  // Throws Error(invalid_case) where there are no messages in the language.
  Words(const diagnosis::Model& model, const Titles& titles, std::string_view language);

  const diagnosis::Model& model() const { return *model_; }  // of which it was made
  const circuit::Analysis& analysis() const { return analysis_; }
  const std::string& language() const { return messages_.language(); }
  bool right_to_left() const { return messages_.right_to_left(); }

  std::string say(std::string_view id, std::initializer_list<MessageWord> words = {}) const {
    return messages_.say(id, words);
  }
  std::string say(const Message& message) const;
  std::string say(const Messages& sentences) const;  // with spaces between

  const std::string& circuit() const;
  // By id also what a repair has made another of: "valve@0" is the valve that was in before.
  const std::string& part(const circuit::Component& component) const;
  std::string part(std::uint32_t component) const { return part(analysis().components[component]); }
  std::string part(std::string_view id) const;
  std::string parts(const std::vector<std::uint32_t>& components) const;
  std::string place(std::string_view volume) const;  // `component.port`, or a component
  std::string mode(const circuit::FailureMode& mode) const;
  std::string fault(std::uint32_t mode) const;  // "Port relief A: seat leaks"
  std::string fault(std::string_view mode) const;
  std::string observation(const circuit::Observation& observation) const;
  std::string observation(std::uint32_t o) const { return observation(analysis().observations[o]); }
  std::string observation(std::string_view id) const;
  std::string outcome(const std::string& id) const;
  std::string caution(const std::string& caution) const;  // an id of cautions.h, or a text
  std::vector<std::string> cautions(const std::vector<std::string>& list) const;
  std::string step(const circuit::SetupStep& step) const;
  std::string step(const circuit::TestStep& step) const;
  std::string fitting(const std::string& what) const;
  // Why no higher, and why not at all or without a figure.
  std::string limit(const circuit::TestPressureLimit& limit) const;
  std::string reason(const circuit::NotProposed& refused) const;

  std::string all(const std::vector<std::string>& items) const;  // "a, b and c"
  std::string number(double value, int decimals) const { return messages_.number(value, decimals); }
  std::string percent(double share) const;  // never 0 or all but where it is
  std::string minutes(double value) const;
  std::string money(double amount, const std::string& currency) const;
  std::string pressure(double pascal) const;

 private:
  const std::string* titled(std::string_view id) const;
  std::string port(std::string_view name) const;
  std::string line(const std::string& id) const;
  std::string by_id(const circuit::Observation& observation) const;
  MessageWord word(const std::string& name, const MessageValue& value) const;

  const circuit::Analysis& analysis_;
  const diagnosis::Model* model_ = nullptr;  // finds ids faster
  const MessageCatalogue& messages_;
  const std::map<std::string, std::string>* titles_ = nullptr;  // of the language
};

// The texts of a list of messages, and what they are made of: "because": "...", and
// "because_said": [{"id", "values"}]. Where `text` is false the latter alone.
void write_said(JsonText& out, std::string_view name, const Messages& messages, const Words& words);
void write_messages(JsonText& out, std::string_view name, const Messages& messages);

// Ids of the cautions that the circuit's document brings, `own/1` onwards.
class OwnCautions {
 public:
  explicit OwnCautions(const circuit::Analysis& analysis);
  std::string id_of(const std::string& caution) const;

 private:
  std::map<std::string, std::string> ids_;
};

bool is_shipped_caution(const std::string& caution);
bool is_general_caution(std::string_view id);

}  // namespace faultodds::documents
