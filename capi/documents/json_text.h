// Writing JSON text, member by member, with the same bytes for the same calls everywhere: no white
// space, keys in the order written, numbers in the shortest form that reads back to the same
// double, infinite numbers and NaN as null. It does not check that the calls make a well-formed
// document.
#pragma once

#include <cstddef>
#include <cstdint>
#include <string>
#include <string_view>

namespace faultodds::documents {

class JsonText {
 public:
  JsonText& begin_object();
  JsonText& end_object();
  JsonText& begin_list();
  JsonText& end_list();
  JsonText& key(std::string_view name);
  JsonText& value(std::string_view text);
  JsonText& value(const char* text) { return value(std::string_view(text)); }
  JsonText& value(double number);
  JsonText& value(std::uint64_t number);
  JsonText& value(bool flag);
  JsonText& null();
  JsonText& raw(std::string_view json);  // a value that is written already

  // `"name": value` in one call.
  template <typename Value>
  JsonText& member(std::string_view name, const Value& of) {
    key(name);
    return value(of);
  }
  template <typename Values>
  JsonText& list(std::string_view name, const Values& values) {
    key(name).begin_list();
    for (const auto& item : values) value(item);
    return end_list();
  }

  std::size_t size() const { return text_.size(); }
  std::string take() { return std::move(text_); }

 private:
  void separate();
  void quote(std::string_view text);

  std::string text_;
  bool first_ = true;  // nothing yet in the innermost container, or a key was just written
};

}  // namespace faultodds::documents
