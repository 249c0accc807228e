#include "capi/documents/bif_reader.h"

#include <algorithm>
#include <string>
#include <utility>
#include <vector>

#include "core/error.h"
#include "core/stop.h"

namespace faultodds::documents {
namespace {

using network::Network;
using network::Var;

struct Token {
  enum class Kind { end, word, quoted, symbol } kind = Kind::end;
  std::string_view text;
  std::size_t line = 1;
};

class Reader {
 public:
  Reader(std::string_view text, const NetworkLimits& limits) : text_(text), draft_(limits) {
    if (text.size() > limits.bytes) {
      throw Error(Code::limit_exceeded, "the network has " + std::to_string(text.size()) +
                                            " bytes; the limit is " + std::to_string(limits.bytes));
    }
    if (text_.starts_with("\xEF\xBB\xBF")) text_.remove_prefix(3);  // byte order mark
    advance();
  }

  Network read() {
    while (token_.kind != Token::Kind::end) {
      if (is_word("network")) {
        advance();
        skip_block();
      } else if (is_word("variable")) {
        advance();
        read_variable();
      } else if (is_word("probability")) {
        advance();
        read_probability();
      } else {
        fail_at_token("`network`, `variable` or `probability`");
      }
    }
    return at_line(token_.line, [&] { return draft_.finish(); });
  }

 private:
  [[noreturn]] void fail_at_token(const std::string& expected) const {
    refuse_line(token_.line, (token_.kind == Token::Kind::end ? "the end of the text"
                                                              : in_backticks(token_.text)) +
                                 "; expected " + expected);
  }

  void count_lines(std::size_t from, std::size_t to) {
    line_ +=
        static_cast<std::size_t>(std::count(text_.begin() + static_cast<std::ptrdiff_t>(from),
                                            text_.begin() + static_cast<std::ptrdiff_t>(to), '\n'));
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
        if (end == std::string_view::npos) refuse_line(line_, "a comment that is not closed");
        count_lines(at_, end);
        at_ = end + 2;
      } else {
        return;
      }
    }
  }

  void advance() {
    if (++tokens_ % kTokensBetweenStops == 0) check_stop();
    skip_space();
    if (at_ == text_.size()) {
      token_ = {Token::Kind::end, {}, line_};
      return;
    }
    const char c = text_[at_];
    if (c == '"') {
      const std::size_t end = text_.find('"', at_ + 1);
      if (end == std::string_view::npos) refuse_line(line_, "a quoted name that is not closed");
      token_ = {Token::Kind::quoted, text_.substr(at_ + 1, end - at_ - 1), line_};
      count_lines(at_, end);
      at_ = end + 1;
      return;
    }
    constexpr std::string_view symbols = "{}()[]|,;";
    if (symbols.find(c) != std::string_view::npos) {
      token_ = {Token::Kind::symbol, text_.substr(at_, 1), line_};
      ++at_;
      return;
    }
    const std::size_t end = std::min(text_.find_first_of(" \t\r\n{}()[]|,;\"", at_), text_.size());
    token_ = {Token::Kind::word, text_.substr(at_, end - at_), line_};
    at_ = end;
  }

  bool is(char symbol) const {
    return token_.kind == Token::Kind::symbol && token_.text[0] == symbol;
  }
  bool is_word(std::string_view text) const {
    return token_.kind == Token::Kind::word && token_.text == text;
  }
  void expect(char symbol) {
    if (!is(symbol)) fail_at_token(std::string("`") + symbol + "`");
    advance();
  }
  std::string name(const std::string& of_what) {
    if (token_.kind != Token::Kind::word && token_.kind != Token::Kind::quoted) {
      fail_at_token(of_what);
    }
    std::string text(token_.text);
    advance();
    return text;
  }
  double number() {
    const auto value =
        token_.kind == Token::Kind::word ? probability_of(token_.text) : std::nullopt;
    if (!value) fail_at_token("a number from 0 to 1");
    advance();
    return *value;
  }

  void skip_statement() {
    const std::size_t line = token_.line;
    while (!is(';')) {
      if (token_.kind == Token::Kind::end)
        refuse_line(line, "a statement that does not end with `;`");
      advance();
    }
    advance();
  }

  void skip_block() {
    const std::size_t line = token_.line;
    while (!is('{')) {
      if (token_.kind == Token::Kind::end) fail_at_token("`{`");
      advance();
    }
    for (int depth = 0;;) {
      if (is('{')) ++depth;
      if (is('}')) --depth;
      if (token_.kind == Token::Kind::end) refuse_line(line, "a block that is not closed with `}`");
      advance();
      if (depth == 0) return;
    }
  }

  void read_variable() {
    const std::size_t line = token_.line;
    const std::string variable = name("the name of a variable");
    std::vector<std::string> states;
    bool typed = false;
    expect('{');
    while (!is('}')) {
      if (!is_word("type")) {
        if (token_.kind == Token::Kind::end) fail_at_token("`}`");
        skip_statement();
        continue;
      }
      const std::size_t type_line = token_.line;
      if (typed) refuse_line(type_line, "a second type of variable " + in_backticks(variable));
      typed = true;
      advance();
      if (!is_word("discrete")) fail_at_token("`discrete`, the only type there is");
      advance();
      expect('[');
      const std::string count = name("the number of states");
      expect(']');
      expect('{');
      while (!is('}')) {
        states.push_back(name("the name of a state"));
        if (is(',')) advance();
      }
      advance();
      expect(';');
      if (std::to_string(states.size()) != count) {
        refuse_line(type_line, "variable " + in_backticks(variable) + " lists " +
                                   std::to_string(states.size()) + " states; its type says " +
                                   printable(count));
      }
    }
    advance();
    at_line(line, [&] { return draft_.add(variable, std::move(states)); });
  }

  Var variable() {
    const std::size_t line = token_.line;
    const std::string of = name("the name of a variable");
    return at_line(line, [&] { return draft_.variable(of); });
  }

  std::size_t state(Var v) {
    const std::size_t line = token_.line;
    if (token_.kind != Token::Kind::word && token_.kind != Token::Kind::quoted) {
      fail_at_token("a state of " + in_backticks(draft_.network().name(v)));
    }
    const std::string of = name("a state");
    return at_line(line, [&] { return draft_.state(v, of); });
  }

  void read_probability() {
    const std::size_t line = token_.line;
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
    const std::size_t width = draft_.network().states(child);
    const std::size_t rows = at_line(line, [&] { return draft_.rows_of(child, parents); });
    const std::string of_child = "the table of " + in_backticks(draft_.network().name(child));
    std::vector<double> table(rows * width, 0.0);
    std::vector<bool> given(rows, false);
    std::vector<double> otherwise;
    expect('{');
    while (!is('}')) {
      const std::size_t row_line = token_.line;
      if (is('(')) {
        advance();
        std::size_t row = 0;
        for (std::size_t i = 0; i < parents.size(); ++i) {
          row = row * draft_.network().states(parents[i]) + state(parents[i]);
          if (is(',')) advance();
        }
        if (!is(')')) {
          fail_at_token("`)` after " + std::to_string(parents.size()) + " states of the parents");
        }
        advance();
        if (given[row]) refuse_line(row_line, "a row of " + of_child + " is given twice");
        given[row] = true;
        read_numbers(table.data() + row * width, width);
      } else if (is_word("table")) {
        advance();
        if (std::find(given.begin(), given.end(), true) != given.end()) {
          refuse_line(row_line, of_child + " is given twice");
        }
        // The whole table, the child varying slowest (BIF 0.15: the first variable is slowest).
        std::vector<double> all(rows * width);
        read_numbers(all.data(), all.size());
        for (std::size_t s = 0; s < width; ++s) {
          for (std::size_t r = 0; r < rows; ++r) table[r * width + s] = all[s * rows + r];
        }
        given.assign(rows, true);
      } else if (is_word("default")) {
        advance();
        if (!otherwise.empty()) refuse_line(row_line, "a second default of " + of_child);
        otherwise.resize(width);
        read_numbers(otherwise.data(), width);
      } else if (token_.kind == Token::Kind::end) {
        fail_at_token("`}`");
      } else {
        skip_statement();
      }
    }
    for (std::size_t r = 0; r < rows; ++r) {
      if (given[r]) continue;
      if (otherwise.empty())
        refuse_line(line, "a row of " + of_child + " is missing: " + row(parents, r));
      std::copy(otherwise.begin(), otherwise.end(),
                table.begin() + static_cast<std::ptrdiff_t>(r * width));
    }
    at_line(line, [&] { draft_.set_table(child, parents, std::move(table)); });
    advance();
  }

  // How the text names a row.
  std::string row(const std::vector<Var>& parents, std::size_t r) const {
    std::string states;
    for (std::size_t i = parents.size(); i-- > 0;) {
      const auto& names = draft_.network().state_names(parents[i]);
      states = printable(names[r % names.size()]) + (states.empty() ? "" : ", ") + states;
      r /= names.size();
    }
    return parents.empty() ? "`table`" : printable("(" + states + ")");
  }

  void read_numbers(double* out, std::size_t count) {
    for (std::size_t i = 0; i < count; ++i) {
      if (is(';')) {
        fail_at_token(std::to_string(count) + " numbers, not " + std::to_string(i));
      }
      out[i] = number();
      if (is(',')) advance();
    }
    if (!is(';')) fail_at_token("`;` after " + std::to_string(count) + " numbers");
    advance();
  }

  std::string_view text_;
  static constexpr std::size_t kTokensBetweenStops = 1024;
  std::size_t at_ = 0, line_ = 1, tokens_ = 0;
  Token token_;
  NetworkDraft draft_;
};

}  // namespace

Network read_bif(std::string_view text, const NetworkLimits& limits) {
  return Reader(text, limits).read();
}

}  // namespace faultodds::documents
