// Reading one JSON value or the members of one JSON object into plain C++ values, with an error
// that names the field, the value found and what was expected. It knows no document: the readers
// say which keys there are and what they mean.
#pragma once

#include <array>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "capi/documents/json.h"
#include "capi/documents/place.h"
#include "core/quoted_text.h"
#include "core/reading/units.h"

namespace faultodds::documents {

struct Shape;  // shapes.h

// Throws Error(code) at `place`.
[[noreturn]] void refuse(const Place& place, const std::string& message,
                         Code code = Code::invalid_document);

// `value` as a message quotes it: scalars as written, containers by kind and size.
std::string shown(const Json& value);

// Each throws Error(invalid_document) unless the value is what its name says.
std::string text_of(const Json& value, const Place& place);
// The one of `all` that a text names; refuses what names none of them.
template <typename All, typename NameOf>
auto one_named(const Json& value, const Place& place, const All& all, NameOf name_of) {
  const std::string text = text_of(value, place);
  std::string names;
  for (const auto& one : all) {
    if (text == name_of(one)) return one;
    names += (names.empty() ? "" : ", ") + name_of(one);
  }
  refuse(place, place.name() + " is " + shown(value) + "; expected one of " + names);
}
bool flag_of(const Json& value, const Place& place);
double number_of(const Json& value, const Place& place, double least, double most);
// An identifier: [A-Za-z0-9_.-]+, with `also` allowed besides.
std::string id_of(const Json& value, const Place& place, std::string_view also = {});
void check_id(std::string_view id, const Place& place, std::string_view also = {});
std::vector<std::string> texts_of(const Json& value, const Place& place);
// One string or a list of strings.
std::vector<std::string> one_or_more_of(const Json& value, const Place& place);
// Numbers from `least` to `most`, exactly `count` of them (0: any number).
std::vector<double> numbers_of(const Json& value, const Place& place, std::size_t count,
                               double least, double most);
// Probabilities that sum to 1 within 1e-9.
std::vector<double> distribution_of(const Json& value, const Place& place, std::size_t count);
std::array<double, 3> grades_of(const Json& value, const Place& place);
// A string with a unit, to SI. `sign`: whether 0 or a negative value makes sense there.
enum class Sign { positive, not_negative, any };
double quantity_of(const Json& value, const Place& place, reading::Dimension dimension,
                   Sign sign = Sign::positive);
// Minutes: a plain number of minutes, or a quantity of time ("12 min", "0.5 h").
double minutes_of(const Json& value, const Place& place);
// Hours: a quantity of time ("12000 h").
double hours_of(const Json& value, const Place& place);
const Json::array_t& list_of(const Json& value, const Place& place, std::string_view of_what);
const Json::object_t& object_of(const Json& value, const Place& place, std::string_view of_what);

// The members of one object whose keys are known beforehand.
class Fields {
 public:
  // Throws if `value` is no object or has a key that is not among `known`; `what` ("a component")
  // is for the message. `value` and `place` must outlive this.
  Fields(const Json& value, const Place& place, std::string_view what,
         std::initializer_list<std::string_view> known);
  Fields(const Json&, Place&&, std::string_view, std::initializer_list<std::string_view>) = delete;
  // The same with what and which keys there are from the schema of the object.
  Fields(const Json& value, const Place& place, const Shape& shape);
  Fields(const Json&, Place&&, const Shape&) = delete;

  bool has(std::string_view key) const { return find(key) != nullptr; }
  const Json* find(std::string_view key) const;
  const Json& need(std::string_view key) const;  // throws when there is none
  Place at(std::string_view key) const { return place_.key(key); }

  // The member read by one of the functions above; required, or with a default when absent.
  std::string text(std::string_view key) const { return text_of(need(key), at(key)); }
  std::string text(std::string_view key, std::string_view otherwise) const;
  std::string id(std::string_view key, std::string_view also = {}) const {
    return id_of(need(key), at(key), also);
  }
  bool flag(std::string_view key, bool otherwise) const;
  std::optional<bool> flag(std::string_view key) const;
  std::vector<std::string> texts(std::string_view key) const;  // empty when absent
  std::optional<double> quantity(std::string_view key, reading::Dimension dimension,
                                 Sign sign = Sign::positive) const;
  std::optional<double> minutes(std::string_view key) const;
  std::optional<double> number(std::string_view key, double least, double most) const;
  // 1 or 2.
  std::optional<int> people(std::string_view key) const;
  // `format` must be there and equal `expected`.
  void check_format(std::string_view expected) const;

 private:
  template <typename Names>
  void take(const Json& value, const Names& known);

  const Json::object_t* object_ = nullptr;
  const Place& place_;
  std::string_view what_;
};

}  // namespace faultodds::documents
