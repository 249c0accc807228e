#include "capi/documents/bif_reader.h"

#include <algorithm>
#include <charconv>
#include <string>
#include <unordered_map>
#include <vector>

#include "core/error.h"

namespace faultodds::documents {
namespace {

using network::Network;
using network::Var;

constexpr std::size_t kMaxTableNumbers = std::size_t{1} << 26;

struct Token {
  enum class Kind { end, word, symbol } kind = Kind::end;
  std::string_view text;
  std::size_t line = 1;
};

class Reader {
 public:
  explicit Reader(std::string_view text) : text_(text) { advance(); }

  Network read() {
    while (token_.kind != Token::Kind::end) {
      const std::string_view word = token_.text;
      advance();
      if (word == "network") {
        skip_block();
      } else if (word == "variable") {
        read_variable();
      } else if (word == "probability") {
        read_probability();
      } else {
        fail("'" + std::string(word) + "'; expected 'network', 'variable' or 'probability'");
      }
    }
    for (Var v = 0; v < network_.size(); ++v) {
      if (network_.table(v).scope.empty()) {
        fail("variable '" + network_.name(v) + "' has no 'probability' block");
      }
    }
    return std::move(network_);
  }

 private:
  [[noreturn]] void fail(const std::string& what) const {
    throw Error(Code::invalid_document, "line " + std::to_string(token_.line) + ": " + what);
  }

  void skip_space() {
    while (at_ < text_.size()) {
      const char c = text_[at_];
      if (c == '\n') {
        ++line_;
        ++at_;
      } else if (c == ' ' || c == '\t' || c == '\r') {
        ++at_;
      } else if (text_.substr(at_, 2) == "//") {
        at_ = std::min(text_.find('\n', at_), text_.size());
      } else if (text_.substr(at_, 2) == "/*") {
        const std::size_t end = text_.find("*/", at_ + 2);
        if (end == std::string_view::npos) fail("a comment that is not closed");
        line_ += static_cast<std::size_t>(
            std::count(text_.begin() + static_cast<std::ptrdiff_t>(at_),
                       text_.begin() + static_cast<std::ptrdiff_t>(end), '\n'));
        at_ = end + 2;
      } else {
        return;
      }
    }
  }

  void advance() {
    skip_space();
    token_.line = line_;
    if (at_ == text_.size()) {
      token_ = {Token::Kind::end, "end of text", line_};
      return;
    }
    const char c = text_[at_];
    if (c == '"') {
      const std::size_t end = text_.find('"', at_ + 1);
      if (end == std::string_view::npos) fail("a quoted name that is not closed");
      token_ = {Token::Kind::word, text_.substr(at_ + 1, end - at_ - 1), line_};
      at_ = end + 1;
      return;
    }
    constexpr std::string_view symbols = "{}()[]|,;=";
    if (symbols.find(c) != std::string_view::npos) {
      token_ = {Token::Kind::symbol, text_.substr(at_, 1), line_};
      ++at_;
      return;
    }
    const std::size_t end = std::min(text_.find_first_of(" \t\r\n{}()[]|,;=\"", at_), text_.size());
    token_ = {Token::Kind::word, text_.substr(at_, end - at_), line_};
    at_ = end;
  }

  bool is(char symbol) const {
    return token_.kind == Token::Kind::symbol && token_.text[0] == symbol;
  }
  void expect(char symbol) {
    if (!is(symbol)) fail("'" + std::string(token_.text) + "'; expected '" + symbol + "'");
    advance();
  }
  std::string word() {
    if (token_.kind != Token::Kind::word)
      fail("'" + std::string(token_.text) + "'; expected a name");
    std::string text(token_.text);
    advance();
    return text;
  }
  double number() {
    double value = 0;
    const auto [end, error] =
        std::from_chars(token_.text.data(), token_.text.data() + token_.text.size(), value);
    if (token_.kind != Token::Kind::word || error != std::errc() ||
        end != token_.text.data() + token_.text.size()) {
      fail("'" + std::string(token_.text) + "'; expected a number");
    }
    advance();
    return value;
  }

  void skip_statement() {
    while (!is(';')) {
      if (token_.kind == Token::Kind::end) fail("a property that does not end with ';'");
      advance();
    }
    advance();
  }

  void skip_block() {
    while (!is('{')) {
      if (token_.kind == Token::Kind::end) fail("end of text; expected '{'");
      advance();
    }
    for (int depth = 0;;) {
      if (is('{')) ++depth;
      if (is('}')) --depth;
      if (token_.kind == Token::Kind::end) fail("end of text; expected '}'");
      advance();
      if (depth == 0) return;
    }
  }

  void read_variable() {
    const std::string name = word();
    if (variables_.count(name)) fail("variable '" + name + "' is declared twice");
    std::vector<std::string> states;
    expect('{');
    while (!is('}')) {
      const std::string key = word();
      if (key != "type") {
        skip_statement();
        continue;
      }
      if (const std::string kind = word(); kind != "discrete") {
        fail("type '" + kind + "' of '" + name + "'; only 'discrete' is supported");
      }
      expect('[');
      const double count = number();
      expect(']');
      expect('{');
      while (!is('}')) {
        states.push_back(word());
        if (is(',')) advance();
      }
      advance();
      expect(';');
      if (static_cast<double>(states.size()) != count) {
        fail("variable '" + name + "' lists " + std::to_string(states.size()) +
             " states; its type says " + std::to_string(count));
      }
    }
    advance();
    const std::size_t n = states.size();
    variables_[name] = network_.add(name, n, std::move(states));
  }

  Var variable() {
    const std::string name = word();
    const auto at = variables_.find(name);
    if (at == variables_.end()) fail("variable '" + name + "' is not declared");
    return at->second;
  }

  std::size_t state(Var v) {
    const std::string name = word();
    const auto& names = network_.state_names(v);
    const auto at = std::find(names.begin(), names.end(), name);
    if (at == names.end()) fail("'" + name + "' is not a state of '" + network_.name(v) + "'");
    return static_cast<std::size_t>(at - names.begin());
  }

  void read_probability() {
    expect('(');
    const Var child = variable();
    std::vector<Var> parents;
    if (is('|')) {
      advance();
      while (!is(')')) {
        parents.push_back(variable());
        if (is(',')) advance();
      }
    }
    expect(')');
    const std::size_t width = network_.states(child);
    std::size_t rows = 1;
    for (Var p : parents) {
      rows *= network_.states(p);
      if (rows * width > kMaxTableNumbers) {
        throw Error(Code::limit_exceeded,
                    "the table of '" + network_.name(child) + "' has more than 67,108,864 numbers");
      }
    }
    std::vector<double> table(rows * width, 0.0);
    std::vector<bool> given(rows, false);
    std::vector<double> otherwise;
    expect('{');
    while (!is('}')) {
      if (is('(')) {
        advance();
        std::size_t row = 0;
        for (std::size_t i = 0; i < parents.size(); ++i) {
          row = row * network_.states(parents[i]) + state(parents[i]);
          if (is(',')) advance();
        }
        expect(')');
        if (given[row]) fail("a row of '" + network_.name(child) + "' is given twice");
        given[row] = true;
        read_numbers(table.data() + row * width, width);
        continue;
      }
      const std::string key = word();
      if (key == "table") {
        // The whole table, the child varying slowest (BIF 0.15: first variable slowest).
        std::vector<double> all(rows * width);
        read_numbers(all.data(), all.size());
        for (std::size_t s = 0; s < width; ++s) {
          for (std::size_t r = 0; r < rows; ++r) table[r * width + s] = all[s * rows + r];
        }
        given.assign(rows, true);
      } else if (key == "default") {
        otherwise.resize(width);
        read_numbers(otherwise.data(), width);
      } else {
        skip_statement();
      }
    }
    for (std::size_t r = 0; r < rows; ++r) {
      if (given[r]) continue;
      if (otherwise.empty())
        fail("a row of the table of '" + network_.name(child) + "' is missing");
      std::copy(otherwise.begin(), otherwise.end(),
                table.begin() + static_cast<std::ptrdiff_t>(r * width));
    }
    try {
      network_.set_table(child, parents, std::move(table));
    } catch (const Error& error) {
      fail(error.what());
    }
    advance();
  }

  void read_numbers(double* out, std::size_t count) {
    for (std::size_t i = 0; i < count; ++i) {
      out[i] = number();
      if (is(',')) advance();
    }
    if (!is(';'))
      fail("'" + std::string(token_.text) + "'; expected ';' after " + std::to_string(count) +
           " numbers");
    advance();
  }

  std::string_view text_;
  std::size_t at_ = 0, line_ = 1;
  Token token_;
  Network network_;
  std::unordered_map<std::string, Var> variables_;
};

}  // namespace

Network read_bif(std::string_view text) { return Reader(text).read(); }

}  // namespace faultodds::documents
