#include "capi/documents/fields.h"

#include <algorithm>
#include <cmath>
#include <limits>

#include "capi/documents/shapes.h"
#include "core/number_text.h"

namespace faultodds::documents {
namespace {

std::string number_text(double value) {
  char buffer[32];
  const auto end = write_number(buffer, buffer + sizeof buffer, value).ptr;
  return std::string(buffer, end);
}

const char* example(reading::Dimension dimension) {
  switch (dimension) {
    case reading::Dimension::pressure:
      return "`175 bar`";
    case reading::Dimension::flow:
      return "`30 mL/min`";
    case reading::Dimension::length:
      return "`80 mm`";
    case reading::Dimension::area:
      return "`50 cm2`";
    case reading::Dimension::volume:
      return "`0.4 L`";
    case reading::Dimension::displacement:
      return "`45 cm3/rev`";
    case reading::Dimension::time:
      return "`60 s`";
    case reading::Dimension::speed:
      return "`3 mm/min`";
    case reading::Dimension::temperature:
      return "`42 degC`";
    case reading::Dimension::force:
      return "`120 kN`";
    case reading::Dimension::share:
      return "`12 %`";
  }
  return "`1 unit`";
}

}  // namespace

void refuse(const Place& place, const std::string& message, Code code) {
  throw Error(code, message, place.pointer());
}

std::string shown(const Json& value) {
  switch (value.type()) {
    case Json::value_t::null:
      return "null";
    case Json::value_t::boolean:
      return value.get<bool>() ? "true" : "false";
    case Json::value_t::string:
      return in_backticks(value.get_ref<const std::string&>());
    case Json::value_t::array:
      return "a list of " + std::to_string(value.size());
    case Json::value_t::object:
      return "an object";
    default:
      return "the number " + number_text(value.get<double>());
  }
}

std::string text_of(const Json& value, const Place& place) {
  if (!value.is_string()) {
    refuse(place, place.name() + " is " + shown(value) + "; expected a string");
  }
  return value.get_ref<const std::string&>();
}

bool flag_of(const Json& value, const Place& place) {
  if (!value.is_boolean()) {
    refuse(place, place.name() + " is " + shown(value) + "; expected true or false");
  }
  return value.get<bool>();
}

double number_of(const Json& value, const Place& place, double least, double most) {
  const double number = value.is_number() ? value.get<double>() : 0;
  if (!value.is_number() || !(number >= least && number <= most)) {
    std::string range = "a number";
    if (std::isfinite(least)) range += " from " + number_text(least);
    if (std::isfinite(most)) range += " to " + number_text(most);
    refuse(place, place.name() + " is " + shown(value) + "; expected " + range);
  }
  return number;
}

void check_id(std::string_view id, const Place& place, std::string_view also) {
  const bool good = !id.empty() && std::all_of(id.begin(), id.end(), [&](char c) {
    return (c >= 'A' && c <= 'Z') || (c >= 'a' && c <= 'z') || (c >= '0' && c <= '9') || c == '_' ||
           c == '.' || c == '-' || also.find(c) != std::string_view::npos;
  });
  if (!good) {
    std::string signs = "_ . -";
    for (const char c : also) signs += std::string(" ") + c;
    refuse(place, place.name() + " is " + in_backticks(id) +
                      "; expected an identifier of letters, digits and " + signs);
  }
}

std::string id_of(const Json& value, const Place& place, std::string_view also) {
  std::string id = text_of(value, place);
  check_id(id, place, also);
  return id;
}

std::vector<std::string> texts_of(const Json& value, const Place& place) {
  std::vector<std::string> texts;
  std::size_t index = 0;
  for (const Json& item : list_of(value, place, "strings")) {
    texts.push_back(text_of(item, place.item(index++)));
  }
  return texts;
}

std::vector<std::string> one_or_more_of(const Json& value, const Place& place) {
  if (value.is_string()) return {text_of(value, place)};
  if (!value.is_array()) {
    refuse(place,
           place.name() + " is " + shown(value) + "; expected a string or a list of strings");
  }
  return texts_of(value, place);
}

std::vector<double> numbers_of(const Json& value, const Place& place, std::size_t count,
                               double least, double most) {
  const auto& list = list_of(value, place, "numbers");
  if (count != 0 && list.size() != count) {
    refuse(place, place.name() + " is " + shown(value) + "; expected a list of " +
                      std::to_string(count) + " numbers");
  }
  std::vector<double> numbers;
  numbers.reserve(list.size());
  for (std::size_t i = 0; i < list.size(); ++i) {
    numbers.push_back(number_of(list[i], place.item(i), least, most));
  }
  return numbers;
}

std::vector<double> distribution_of(const Json& value, const Place& place, std::size_t count) {
  std::vector<double> shares = numbers_of(value, place, count, 0, 1);
  double sum = 0;
  for (const double share : shares) sum += share;
  if (!(std::abs(sum - 1) <= 1e-9)) {
    std::string list;
    for (std::size_t i = 0; i < std::min<std::size_t>(shares.size(), 8); ++i) {
      list += (i == 0 ? "" : ", ") + number_text(shares[i]);
    }
    if (shares.size() > 8) list += ", ...";
    refuse(place, place.name() + " is [" + list + "], which sums to " +
                      reading::format_number(sum, 9) + "; expected probabilities that sum to 1");
  }
  return shares;
}

std::array<double, 3> grades_of(const Json& value, const Place& place) {
  const std::vector<double> shares = distribution_of(value, place, 3);
  return {shares[0], shares[1], shares[2]};
}

double quantity_of(const Json& value, const Place& place, reading::Dimension dimension, Sign sign) {
  if (!value.is_string()) {
    refuse(place, place.name() + " is " + shown(value) +
                      "; expected a string with a unit, for example " + example(dimension));
  }
  double quantity = 0;
  try {
    quantity = reading::parse_quantity(value.get_ref<const std::string&>(), dimension);
  } catch (const Error& error) {
    refuse(place, place.name() + ": " + error.what());
  }
  if ((sign == Sign::positive && !(quantity > 0)) ||
      (sign == Sign::not_negative && !(quantity >= 0))) {
    refuse(place, place.name() + " is " + shown(value) + "; expected " +
                      (sign == Sign::positive ? "more than 0" : "0 or more"));
  }
  return quantity;
}

double minutes_of(const Json& value, const Place& place) {
  if (value.is_number()) return number_of(value, place, 0, 1e6);
  if (!value.is_string()) {
    refuse(place, place.name() + " is " + shown(value) +
                      "; expected minutes: a number, or a string such as `12 min`");
  }
  const double minutes =
      quantity_of(value, place, reading::Dimension::time, Sign::not_negative) / 60;
  if (!(minutes <= 1e6)) {
    refuse(place, place.name() + " is " + shown(value) + "; expected at most 1000000 minutes");
  }
  return minutes;
}

double hours_of(const Json& value, const Place& place) {
  return quantity_of(value, place, reading::Dimension::time, Sign::not_negative) / 3600;
}

const Json::array_t& list_of(const Json& value, const Place& place, std::string_view of_what) {
  if (!value.is_array()) {
    refuse(place,
           place.name() + " is " + shown(value) + "; expected a list of " + std::string(of_what));
  }
  return value.get_ref<const Json::array_t&>();
}

const Json::object_t& object_of(const Json& value, const Place& place, std::string_view of_what) {
  if (!value.is_object()) {
    refuse(place,
           place.name() + " is " + shown(value) + "; expected an object: " + std::string(of_what));
  }
  return value.get_ref<const Json::object_t&>();
}

template <typename Names>
void Fields::take(const Json& value, const Names& known) {
  object_ = &object_of(value, place_, what_);
  for (const auto& [key, member] : *object_) {
    if (std::find(known.begin(), known.end(), key) != known.end()) continue;
    std::string list;
    for (const auto& name : known) {
      if (!list.empty()) list += ", ";
      list += name;
    }
    refuse(place_.key(key), "unknown key " + in_backticks(key) + " in " + std::string(what_) +
                                "; expected one of " + list);
  }
}

Fields::Fields(const Json& value, const Place& place, std::string_view what,
               std::initializer_list<std::string_view> known)
    : place_(place), what_(what) {
  take(value, known);
}

Fields::Fields(const Json& value, const Place& place, const Shape& shape)
    : place_(place), what_(shape.what) {
  take(value, shape.keys);
}

const Json* Fields::find(std::string_view key) const {
  for (const auto& [name, member] : *object_) {
    if (name == key) return &member;
  }
  return nullptr;
}

const Json& Fields::need(std::string_view key) const {
  const Json* member = find(key);
  if (member == nullptr) {
    refuse(place_,
           "the key `" + std::string(key) + "` is missing; expected in " + std::string(what_));
  }
  return *member;
}

std::string Fields::text(std::string_view key, std::string_view otherwise) const {
  const Json* member = find(key);
  return member == nullptr ? std::string(otherwise) : text_of(*member, at(key));
}

bool Fields::flag(std::string_view key, bool otherwise) const {
  const Json* member = find(key);
  return member == nullptr ? otherwise : flag_of(*member, at(key));
}

std::optional<bool> Fields::flag(std::string_view key) const {
  const Json* member = find(key);
  if (member == nullptr) return std::nullopt;
  return flag_of(*member, at(key));
}

std::vector<std::string> Fields::texts(std::string_view key) const {
  const Json* member = find(key);
  return member == nullptr ? std::vector<std::string>{} : texts_of(*member, at(key));
}

std::optional<double> Fields::quantity(std::string_view key, reading::Dimension dimension,
                                       Sign sign) const {
  const Json* member = find(key);
  if (member == nullptr) return std::nullopt;
  return quantity_of(*member, at(key), dimension, sign);
}

std::optional<double> Fields::minutes(std::string_view key) const {
  const Json* member = find(key);
  if (member == nullptr) return std::nullopt;
  return minutes_of(*member, at(key));
}

std::optional<int> Fields::people(std::string_view key) const {
  const Json* value = find(key);
  if (value == nullptr) return std::nullopt;
  if (value->is_number() && (*value == 1 || *value == 2)) return *value == 1 ? 1 : 2;
  const Place here = at(key);
  refuse(here, here.name() + " is " + shown(*value) + "; expected 1 or 2");
}

std::optional<double> Fields::number(std::string_view key, double least, double most) const {
  const Json* member = find(key);
  if (member == nullptr) return std::nullopt;
  return number_of(*member, at(key), least, most);
}

void Fields::check_format(std::string_view expected) const {
  if (!has("format")) {
    refuse(place_, "the key `format` is missing; expected `" + std::string(expected) + "`");
  }
  const Json& format = need("format");
  if (!format.is_string() || format.get_ref<const std::string&>() != expected) {
    refuse(at("format"),
           "`format` is " + shown(format) + "; expected `" + std::string(expected) + "`");
  }
}

}  // namespace faultodds::documents
