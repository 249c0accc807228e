#include "capi/documents/json.h"

#include <algorithm>
#include <cstdint>
#include <cstring>
#include <iterator>
#include <set>
#include <system_error>
#include <utility>
#include <vector>

#include "capi/documents/document.h"
#include "capi/documents/place.h"
#include "core/number_text.h"
#include "core/plain_locale.h"
#include "core/quoted_text.h"
#include "core/stop.h"

namespace faultodds::documents {
namespace {

// A pointer into the text that also tells its owner how far the parser has read.
class CountingIterator {
 public:
  using iterator_category = std::input_iterator_tag;
  using value_type = char;
  using difference_type = std::ptrdiff_t;
  using pointer = const char*;
  using reference = const char&;

  CountingIterator(const char* at, const char** furthest) : at_(at), furthest_(furthest) {}
  reference operator*() const { return *at_; }
  CountingIterator& operator++() {
    *furthest_ = ++at_;
    return *this;
  }
  CountingIterator operator++(int) {
    const CountingIterator before = *this;
    ++*this;
    return before;
  }
  bool operator==(const CountingIterator& other) const { return at_ == other.at_; }
  bool operator!=(const CountingIterator& other) const { return at_ != other.at_; }

 private:
  const char* at_;
  const char** furthest_;
};

// Receives the parser's events and builds the value. Children are gathered in the frame of their
// container and moved into it when it closes.
class Builder {
 public:
  Builder(std::string_view text, const JsonLimits& limits)
      : text_(text), limits_(limits), read_(text.data()) {}

  Builder(const Builder&) = delete;
  Builder& operator=(const Builder&) = delete;
  ~Builder() { take_apart(root_); }

  const char** furthest() { return &read_; }
  Json take() { return std::move(root_); }

  bool null() { return add(Json(nullptr)); }
  bool boolean(bool value) { return add(Json(value)); }
  bool number_integer(std::int64_t value) {
    if (value < -kExact) fail("the integer " + std::to_string(value) + kTooManyDigits);
    return add(Json(value));
  }
  bool number_unsigned(std::uint64_t value) {
    if (value > static_cast<std::uint64_t>(kExact)) {
      fail("the integer " + std::to_string(value) + kTooManyDigits);
    }
    return add(Json(value));
  }
  // The number is read again from its digits: the library's own reading is the C library's, in
  // whatever locale that is, and has the locale's mark in place of the point.
  bool number_float(double, const std::string& as_read) {
    std::string written = as_read;
    for (char& c : written) {
      if (std::string_view("+-0123456789eE").find(c) == std::string_view::npos) c = '.';
    }
    const bool integer = written.find_first_of(".eE") == std::string::npos;
    if (integer) fail("the integer " + printable(written) + kTooManyDigits);
    double value = 0;
    const char* const end = written.data() + written.size();
    if (read_number(written.data(), end, value).ec != std::errc()) {  // also for an underflow
      out_of_range(written);
    }
    return add(Json(value));
  }
  bool string(std::string& value) {
    check_string(value);
    return add(Json(std::move(value)));
  }
  bool binary(Json::binary_t&) { return false; }  // not reachable from JSON text

  bool start_object(std::size_t) { return open(true); }
  bool start_array(std::size_t) { return open(false); }

  bool key(std::string& name) {
    check_string(name);
    Frame& frame = frames_.back();
    frame.key = std::move(name);
    if (is_repeated(frame)) {
      fail("the key " + in_backticks(frame.key) + " appears twice in one object; keys are unique");
    }
    return true;
  }

  bool end_object() {
    Frame frame = std::move(frames_.back());
    frames_.pop_back();
    Held object(Json::object());
    auto& members = object.value.get_ref<Json::object_t&>();
    members.reserve(frame.members.size());
    for (auto& [name, value] : frame.members)
      members.emplace_back(std::move(name), std::move(value));
    place(std::move(object.value));
    return true;
  }

  bool end_array() {
    Frame frame = std::move(frames_.back());
    frames_.pop_back();
    Held array(Json::array());
    array.value.get_ref<Json::array_t&>() = std::move(frame.items);
    place(std::move(array.value));
    return true;
  }

  bool parse_error(std::size_t position, const std::string& last_token,
                   const nlohmann::detail::exception& problem) {
    read_ = text_.data() + std::min(position, text_.size());
    if (problem.id == 406) out_of_range(last_token);
    // what() is "[json.exception...] parse error at line 1, column 2: syntax error while ..."; the
    // position is stated by fail().
    std::string_view why = problem.what();
    if (const auto colon = why.find(": "); colon != std::string_view::npos) {
      why.remove_prefix(colon + 2);
    }
    std::string message = printable(why);
    // The last token is as much of the text as could belong to a literal or a number.
    const std::string_view token =
        std::string_view(last_token).substr(last_token.find_last_of(" \t\r\n,:[{") + 1);
    if (token == "N" || token == "I" || token == "na" || token == "i" || token == "-N" ||
        token == "-I" || token == "-n" || token == "-i") {
      message += " (JSON has no NaN and no Infinity)";
    }
    fail(message);
  }

  [[noreturn]] void fail(const std::string& message) const {
    const std::size_t offset = static_cast<std::size_t>(read_ - text_.data());
    const std::string_view before = text_.substr(0, offset);
    const auto lines = std::count(before.begin(), before.end(), '\n');
    const std::size_t line_start = lines == 0 ? 0 : before.rfind('\n') + 1;
    const std::size_t column = std::max<std::size_t>(offset - line_start, 1);
    throw Error(
        Code::invalid_json,
        "line " + std::to_string(lines + 1) + ", column " + std::to_string(column) + ": " + message,
        pointer());
  }

 private:
  static constexpr std::size_t kValuesBetweenStops = 1024;
  static constexpr std::int64_t kExact = std::int64_t{1} << 53;
  static constexpr const char* kTooManyDigits =
      " is beyond 2^53, where integers stop being exact; expected a smaller one";

  struct Frame {
    bool object = false;
    std::string key;  // of the member being read
    std::vector<std::pair<std::string, Json>> members;
    std::vector<Json> items;
    std::set<std::string> seen;  // used only once an object has many members

    Frame() = default;
    Frame(Frame&&) = default;
    ~Frame() {
      for (auto& member : members) take_apart(member.second);
      for (Json& item : items) take_apart(item);
    }
  };
  // What is taken apart at the end of a block, unless it was moved on.
  struct Held {
    Json value;
    explicit Held(Json&& held) noexcept : value(std::move(held)) {}
    Held(const Held&) = delete;
    Held& operator=(const Held&) = delete;
    ~Held() { take_apart(value); }
  };

  [[noreturn]] void out_of_range(const std::string& written) const {
    fail("the number " + printable(written) + " is out of range; expected one a double can hold");
  }

  void check_string(const std::string& value) const {
    if (value.size() > limits_.string_bytes) {
      fail("a string of " + std::to_string(value.size()) + " bytes; expected at most " +
           std::to_string(limits_.string_bytes));
    }
  }

  static bool is_repeated(Frame& frame) {
    constexpr std::size_t kFew = 16;
    if (frame.members.size() < kFew) {
      return std::any_of(frame.members.begin(), frame.members.end(),
                         [&](const auto& member) { return member.first == frame.key; });
    }
    if (frame.seen.empty()) {
      for (const auto& member : frame.members) frame.seen.insert(member.first);
    }
    return !frame.seen.insert(frame.key).second;
  }

  void count() {
    if (values_ % kValuesBetweenStops == 0) check_stop();
    if (++values_ > limits_.values) {
      fail("more than " + std::to_string(limits_.values) + " values; expected a smaller document");
    }
  }

  bool open(bool object) {
    count();
    if (frames_.size() >= limits_.depth) {
      fail("nested deeper than " + std::to_string(limits_.depth) + " levels");
    }
    frames_.emplace_back();
    frames_.back().object = object;
    return true;
  }

  bool add(Json&& value) {
    count();
    place(std::move(value));
    return true;
  }

  // `value` stays the caller's where there is no memory to place it.
  void place(Json&& value) {
    if (frames_.empty()) {
      root_ = std::move(value);
      return;
    }
    Frame& frame = frames_.back();
    if (frame.object) {
      frame.members.emplace_back(std::move(frame.key), std::move(value));
      frame.key.clear();
    } else {
      frame.items.push_back(std::move(value));
    }
  }

  // Where the parser stands: the member or item being read in every open container.
  std::string pointer() const {
    std::string path;
    for (const Frame& frame : frames_) {
      if (frame.object && frame.key.empty() && &frame == &frames_.back()) break;
      path += '/';
      path += frame.object ? escape_pointer(frame.key) : std::to_string(frame.items.size());
    }
    return path;
  }

  std::string_view text_;
  const JsonLimits& limits_;
  const char* read_;
  std::vector<Frame> frames_;
  Json root_;
  std::size_t values_ = 0;
};

}  // namespace

void take_apart(Json& value) noexcept {
  if (!value.is_structured()) return;
  for (Json& child : value) take_apart(child);
  value.clear();
}

Json parse_json(std::string_view text, const JsonLimits& limits) {
  if (text.size() > limits.bytes) {
    throw Error(Code::invalid_json, "the document has " + std::to_string(text.size()) +
                                        " bytes; expected at most " + std::to_string(limits.bytes));
  }
  if (text.empty()) {
    throw Error(Code::invalid_json, "the document is empty; expected a JSON object");
  }
  Builder builder(text, limits);
  // The parser takes a NUL for the end of the text; whatever followed it would go unread.
  if (const void* nul = std::memchr(text.data(), '\0', text.size())) {
    *builder.furthest() = static_cast<const char*>(nul) + 1;
    builder.fail("a NUL byte; expected UTF-8 text");
  }
  const CountingIterator first(text.data(), builder.furthest());
  const CountingIterator last(text.data() + text.size(), builder.furthest());
  const PlainLocale plain;
  Json::sax_parse(first, last, &builder, nlohmann::detail::input_format_t::json, true);
  return builder.take();
}

std::string text_in(const Json& object, const char* key) {
  const auto at = object.find(key);
  return at != object.end() && at->is_string() ? at->get<std::string>() : std::string();
}

}  // namespace faultodds::documents
