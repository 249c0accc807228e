#include "capi/documents/xmlbif_reader.h"

#include <expat.h>

#include <algorithm>
#include <array>
#include <exception>
#include <memory>
#include <new>
#include <string>
#include <utility>
#include <vector>

#include "core/error.h"
#include "core/stop.h"

namespace faultodds::documents {
namespace {

using network::Network;
using network::Var;

constexpr std::string_view kSpace = " \t\r\n";
// Of one tag, comment or declaration. What Expat does with the attributes of a tag takes more than
// their number, and it starts again at the tag when it is given more of it.
constexpr std::size_t kMostInTag = std::size_t{64} << 10;

enum class Tag {
  none,
  bif,
  network,
  name,
  property,
  variable,
  outcome,
  definition,
  for_,
  given,
  table
};

constexpr unsigned bit(Tag tag) { return 1u << static_cast<unsigned>(tag); }

struct XmlElement {
  Tag tag;
  std::string_view name;
  unsigned parents;  // bits of the elements it may be in
  bool holds_text;
};

constexpr std::array<XmlElement, 10> kElements{{
    {Tag::bif, "BIF", bit(Tag::none), false},
    {Tag::network, "NETWORK", bit(Tag::bif), false},
    {Tag::name, "NAME", bit(Tag::network) | bit(Tag::variable), true},
    {Tag::property, "PROPERTY", bit(Tag::network) | bit(Tag::variable) | bit(Tag::definition),
     true},
    {Tag::variable, "VARIABLE", bit(Tag::network), false},
    {Tag::outcome, "OUTCOME", bit(Tag::variable), true},
    {Tag::definition, "DEFINITION", bit(Tag::network), false},
    {Tag::for_, "FOR", bit(Tag::definition), true},
    {Tag::given, "GIVEN", bit(Tag::definition), true},
    {Tag::table, "TABLE", bit(Tag::definition), true},
}};

std::string in_angles(std::string_view name) { return '<' + printable(name) + '>'; }

std::string_view without_space(std::string_view text) {
  const std::size_t first = text.find_first_not_of(kSpace);
  if (first == std::string_view::npos) return {};
  return text.substr(first, text.find_last_not_of(kSpace) - first + 1);
}

struct Name {
  std::string text;
  std::size_t line = 0;
};

// A definition as written; the variables it names may be declared after it.
struct Definition {
  std::size_t line = 0;
  std::vector<Name> of, given;
  bool has_table = false;
  std::size_t table_line = 0;
  std::vector<double> table;
};

class XmlbifReader {
 public:
  XmlbifReader(std::string_view text, const NetworkLimits& limits) : text_(text), draft_(limits) {
    if (text.size() > limits.bytes) {
      throw Error(Code::limit_exceeded, "the network has " + std::to_string(text.size()) +
                                            " bytes; the limit is " + std::to_string(limits.bytes));
    }
  }

  Network read() {
    parser_.reset(XML_ParserCreate(nullptr));
    if (!parser_) throw std::bad_alloc();
    XML_SetUserData(parser_.get(), this);
    XML_SetElementHandler(
        parser_.get(),
        [](void* self, const char* name, const char** attributes) {
          static_cast<XmlbifReader*>(self)->safely(
              [&](XmlbifReader& r) { r.open(name, attributes); });
        },
        [](void* self, const char*) {
          static_cast<XmlbifReader*>(self)->safely([](XmlbifReader& r) { r.close(); });
        });
    XML_SetCharacterDataHandler(parser_.get(), [](void* self, const char* text, int length) {
      static_cast<XmlbifReader*>(self)->safely([&](XmlbifReader& r) {
        r.characters({text, static_cast<std::size_t>(length)});
      });
    });
    XML_SetStartDoctypeDeclHandler(
        parser_.get(), [](void* self, const char*, const char* system, const char* public_id, int) {
          static_cast<XmlbifReader*>(self)->safely([&](XmlbifReader& r) {
            if (system != nullptr || public_id != nullptr) {
              refuse_line(r.line(), "an external document type " +
                                        in_backticks(system != nullptr ? system : public_id) +
                                        "; expected none, or one declared inside the text");
            }
          });
        });
    XML_SetEntityDeclHandler(parser_.get(), [](void* self, const char* name, int, const char*, int,
                                               const char*, const char*, const char*, const char*) {
      static_cast<XmlbifReader*>(self)->safely([&](XmlbifReader& r) {
        refuse_line(r.line(), "a declaration of the entity " + in_backticks(name) +
                                  "; expected none: entities are refused");
      });
    });

    std::size_t at = 0;
    do {
      check_stop();
      const std::size_t length = std::min(kMostInTag, text_.size() - at);
      const bool last = at + length == text_.size();
      const XML_Status status =
          XML_Parse(parser_.get(), text_.data() + at, static_cast<int>(length), last);
      if (failure_) std::rethrow_exception(failure_);
      if (status != XML_STATUS_OK) {
        const XML_Error code = XML_GetErrorCode(parser_.get());
        if (code == XML_ERROR_NO_MEMORY) throw std::bad_alloc();
        refuse_line(line(), std::string("not well-formed XML: ") + XML_ErrorString(code));
      }
      at += length;
      const auto begun = XML_GetCurrentByteIndex(parser_.get());  // what is not yet ended
      if (!last && begun >= 0) check_length(at - static_cast<std::size_t>(begun));
    } while (at < text_.size());
    return finish();
  }

 private:
  std::size_t line() const {
    return static_cast<std::size_t>(XML_GetCurrentLineNumber(parser_.get()));
  }

  void check_length(std::size_t bytes) const {
    if (bytes <= kMostInTag) return;
    throw Error(Code::limit_exceeded, "line " + std::to_string(line()) +
                                          ": a tag, comment or declaration of more than " +
                                          std::to_string(kMostInTag) + " bytes");
  }

  // Runs a handler; nothing may be thrown through the parser, which is C.
  template <typename Body>
  void safely(Body body) noexcept {
    if (failure_) return;
    try {
      body(*this);
    } catch (...) {
      failure_ = std::current_exception();
      XML_StopParser(parser_.get(), XML_FALSE);
    }
  }

  Tag inside() const { return open_.empty() ? Tag::none : open_.back()->tag; }

  void open(std::string_view name, const char** attributes) {
    check_stop();
    check_length(static_cast<std::size_t>(XML_GetCurrentByteCount(parser_.get())));
    const auto found = std::find_if(kElements.begin(), kElements.end(),
                                    [&](const XmlElement& e) { return e.name == name; });
    if (found == kElements.end() || (found->parents & bit(inside())) == 0) {
      std::string expected;
      for (const XmlElement& e : kElements) {
        if ((e.parents & bit(inside())) == 0) continue;
        expected += (expected.empty() ? "" : ", ") + in_angles(e.name);
      }
      refuse_line(line(), in_angles(name) +
                              (open_.empty() ? "" : " in " + in_angles(open_.back()->name)) +
                              "; expected " + (expected.empty() ? "text only" : expected));
    }
    const auto attribute = [&](std::string_view key) -> const char* {
      for (const char** a = attributes; *a != nullptr; a += 2) {
        if (key == a[0]) return a[1];
      }
      return nullptr;
    };
    open_.push_back(&*found);
    text_of_element_.clear();
    marks_.clear();
    element_line_ = line();
    switch (found->tag) {
      case Tag::bif:
        if (const char* version = attribute("VERSION");
            version != nullptr && std::string_view(version) != "0.3") {
          refuse_line(line(), "VERSION " + in_backticks(version) + "; expected `0.3`");
        }
        break;
      case Tag::network:
        if (has_network_) refuse_line(line(), "a second <NETWORK>; expected one");
        has_network_ = true;
        break;
      case Tag::variable:
        if (const char* type = attribute("TYPE");
            type != nullptr && std::string_view(type) != "nature") {
          refuse_line(line(), "TYPE " + in_backticks(type) +
                                  "; expected `nature`: only variables of " +
                                  "chance are supported");
        }
        variable_line_ = line();
        variable_name_.clear();
        states_.clear();
        break;
      case Tag::definition:
        definitions_.push_back({});
        definitions_.back().line = line();
        break;
      default:
        break;
    }
  }

  void characters(std::string_view text) {
    if (open_.empty()) return;
    if (open_.back()->tag == Tag::property) return;
    if (!open_.back()->holds_text) {
      if (!without_space(text).empty()) {
        refuse_line(line(), "text " + in_backticks(without_space(text)) + " in " +
                                in_angles(open_.back()->name) + "; expected elements");
      }
      return;
    }
    marks_.push_back({text_of_element_.size(), line()});
    text_of_element_ += text;
  }

  Name name_here() const {
    const std::string_view name = without_space(text_of_element_);
    if (name.empty()) {
      refuse_line(element_line_, in_angles(open_.back()->name) + " is empty; expected a name");
    }
    return {std::string(name), element_line_};
  }

  void close() {
    const Tag tag = inside();
    const Tag parent = open_.size() < 2 ? Tag::none : open_[open_.size() - 2]->tag;
    switch (tag) {
      case Tag::name:
        if (parent == Tag::variable) {
          if (!variable_name_.empty())
            refuse_line(element_line_, "a second <NAME> of one variable");
          variable_name_ = name_here().text;
        }
        break;
      case Tag::outcome:
        states_.push_back(name_here().text);
        break;
      case Tag::for_:
        definitions_.back().of.push_back(name_here());
        break;
      case Tag::given:
        definitions_.back().given.push_back(name_here());
        break;
      case Tag::table:
        close_table();
        break;
      case Tag::variable:
        at_line(variable_line_, [&] { return draft_.add(variable_name_, std::move(states_)); });
        break;
      default:
        break;
    }
    open_.pop_back();
  }

  void close_table() {
    Definition& definition = definitions_.back();
    if (definition.has_table) refuse_line(element_line_, "a second <TABLE> of one definition");
    definition.has_table = true;
    definition.table_line = element_line_;
    const std::string_view text = text_of_element_;
    auto mark = marks_.begin();
    for (std::size_t at = 0;;) {
      at = text.find_first_not_of(kSpace, at);
      if (at == std::string_view::npos) break;
      const std::size_t end = std::min(text.find_first_of(kSpace, at), text.size());
      while (mark + 1 != marks_.end() && (mark + 1)->first <= at) ++mark;
      if (definition.table.size() % kNumbersBetweenStops == 0) check_stop();
      const auto value = probability_of(text.substr(at, end - at));
      if (!value) {
        refuse_line(mark->second,
                    in_backticks(text.substr(at, end - at)) + "; expected a number from 0 to 1");
      }
      definition.table.push_back(*value);
      at = end;
    }
  }

  Network finish() {
    if (!has_network_) refuse_line(line(), "no <NETWORK>; expected one");
    for (Definition& definition : definitions_) {
      if (definition.of.size() != 1) {
        refuse_line(definition.line, "a definition with " + std::to_string(definition.of.size()) +
                                         " <FOR>; expected one");
      }
      const auto variable = [&](const Name& name) {
        return at_line(name.line, [&] { return draft_.variable(name.text); });
      };
      const Var child = variable(definition.of.front());
      std::vector<Var> parents;
      for (const Name& name : definition.given) parents.push_back(variable(name));
      const std::size_t rows =
          at_line(definition.line, [&] { return draft_.rows_of(child, parents); });
      const std::string of_child = in_backticks(draft_.network().name(child));
      if (!definition.has_table) {
        refuse_line(definition.line, "the definition of " + of_child + " has no <TABLE>");
      }
      const std::size_t expected = rows * draft_.network().states(child);
      if (definition.table.size() != expected) {
        refuse_line(definition.table_line, "the table of " + of_child + " has " +
                                               std::to_string(definition.table.size()) +
                                               " numbers; expected " + std::to_string(expected));
      }
      // XMLBIF lists the table as Network keeps it: the <GIVEN>s in order, the <FOR> fastest.
      at_line(definition.table_line,
              [&] { draft_.set_table(child, parents, std::move(definition.table)); });
    }
    return at_line(line(), [&] { return draft_.finish(); });
  }

  struct FreeParser {
    void operator()(XML_Parser parser) const { XML_ParserFree(parser); }
  };

  static constexpr std::size_t kNumbersBetweenStops = 4096;
  std::string_view text_;
  NetworkDraft draft_;
  std::unique_ptr<XML_ParserStruct, FreeParser> parser_;
  std::exception_ptr failure_;

  std::vector<const XmlElement*> open_;
  std::string text_of_element_;
  std::vector<std::pair<std::size_t, std::size_t>> marks_;  // where in it, and on which line
  std::size_t element_line_ = 0;
  bool has_network_ = false;

  std::size_t variable_line_ = 0;
  std::string variable_name_;
  std::vector<std::string> states_;
  std::vector<Definition> definitions_;
};

}  // namespace

Network read_xmlbif(std::string_view text, const NetworkLimits& limits) {
  return XmlbifReader(text, limits).read();
}

}  // namespace faultodds::documents
