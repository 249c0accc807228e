#include "capi/documents/circuit_merge.h"

#include <algorithm>
#include <unordered_map>

#include "capi/documents/place.h"
#include "core/circuit/names.h"
#include "core/error.h"
#include "core/number_text.h"
#include "core/quoted_text.h"
#include "core/stop.h"

namespace faultodds::documents {
namespace {

constexpr std::size_t kMostBytes = JsonLimits{}.bytes;
constexpr std::size_t kMostKept = 64 << 20;  // bytes
constexpr std::size_t kMostParameters = 32;  // in one text
constexpr std::size_t kFewMembers = 8;

[[noreturn]] void refuse_entry(const std::string& pointer, const std::string& message,
                               Code code = Code::invalid_document) {
  throw Error(code, message, pointer);
}

// Members by name, without looking at each of many.
class Members {
 public:
  explicit Members(const Json& object) : object_(object.get_ref<const Json::object_t&>()) {
    if (object_.size() <= kFewMembers) return;
    for (std::size_t i = 0; i < object_.size(); ++i)
      by_name_.emplace((object_.begin() + static_cast<std::ptrdiff_t>(i))->first, i);
  }
  const Json* find(std::string_view name) const {
    if (by_name_.empty()) {
      for (const auto& [key, value] : object_) {
        if (key == name) return &value;
      }
      return nullptr;
    }
    const auto found = by_name_.find(name);
    return found == by_name_.end()
               ? nullptr
               : &(object_.begin() + static_cast<std::ptrdiff_t>(found->second))->second;
  }

 private:
  const Json::object_t& object_;
  std::unordered_map<std::string_view, std::size_t> by_name_;
};

bool is_whole_number(const std::string& text) {
  return !text.empty() && text.size() < 10 &&
         std::all_of(text.begin(), text.end(), [](char c) { return c >= '0' && c <= '9'; });
}

// What `{within}` stands for.
std::string standing_for(std::string_view within, const Parameters& parameters,
                         const std::string& pointer) {
  std::string_view name = within;
  long step = 0;
  const std::size_t sign = within.find_first_of("+-");
  if (sign != std::string_view::npos) {
    const std::string digits(within.substr(sign + 1));
    if (!is_whole_number(digits)) {
      refuse_entry(pointer, in_backticks("{" + std::string(within) + "}") +
                                " is no parameter; expected `{name}`, `{name+1}` or `{name-1}`");
    }
    name = within.substr(0, sign);
    step = std::stol(digits) * (within[sign] == '-' ? -1 : 1);
  }
  const ParameterValue* value = parameters.find(name);
  if (value == nullptr) {
    refuse_entry(pointer, in_backticks("{" + std::string(within) + "}") + " names no parameter" +
                              circuit::expected(name, parameters.names(), "parameters"));
  }
  if (sign == std::string_view::npos) return value->text;
  if (!is_whole_number(value->text)) {
    refuse_entry(pointer, in_backticks("{" + std::string(within) + "}") + " counts from " +
                              in_backticks(value->text) + "; expected a whole number there");
  }
  return std::to_string(std::stol(value->text) + step);
}

// The name in a text that is one `{name}` and nothing else; empty where it is not.
std::string_view whole_name(std::string_view text) {
  if (text.size() < 3 || text.front() != '{' || text.back() != '}') return {};
  const std::string_view name = text.substr(1, text.size() - 2);
  return name.find_first_of("{}+-") == std::string_view::npos ? name : std::string_view();
}

std::string written(const Json& scalar) {
  JsonText text;
  if (scalar.is_string()) text.value(std::string_view(scalar.get_ref<const std::string&>()));
  if (scalar.is_number()) text.value(scalar.get<double>());
  if (scalar.is_boolean()) text.value(scalar.get<bool>());
  if (scalar.is_null()) text.null();
  return text.take();
}

}  // namespace

const ParameterValue* Parameters::find(std::string_view name) const {
  for (const Parameters* in = this; in != nullptr; in = in->around) {
    const auto found = in->values.find(name);
    if (found != in->values.end()) return &found->second;
  }
  return nullptr;
}

std::vector<std::string> Parameters::names() const {
  std::vector<std::string> out;
  for (const Parameters* in = this; in != nullptr; in = in->around) {
    for (const auto& [name, value] : in->values) out.push_back(name);
  }
  return out;
}

std::string filled(std::string_view text, const Parameters* parameters,
                   const std::string& pointer) {
  if (parameters == nullptr) return std::string(text);
  std::string out;
  std::size_t put_in = 0;
  for (std::size_t at = 0; at < text.size();) {
    const std::size_t open = std::min(text.find('{', at), text.size());
    out += text.substr(at, open - at);
    if (open == text.size()) break;
    if (++put_in > kMostParameters) {
      refuse_entry(
          pointer,
          "a text in which more than " + std::to_string(kMostParameters) + " parameters are put",
          Code::limit_exceeded);
    }
    const std::size_t close = text.find('}', open);
    if (close == std::string_view::npos) {
      refuse_entry(pointer, in_backticks(text) + " opens `{` and does not close it");
    }
    out += standing_for(text.substr(open + 1, close - open - 1), *parameters, pointer);
    if (out.size() > JsonLimits{}.string_bytes) {
      refuse_entry(
          pointer,
          "a text that becomes longer than " + std::to_string(JsonLimits{}.string_bytes) + " bytes",
          Code::limit_exceeded);
    }
    at = close + 1;
  }
  return out;
}

ParameterValue value_of(const Json& scalar, const Parameters* parameters,
                        const std::string& pointer) {
  ParameterValue out;
  out.origin = pointer;
  if (scalar.is_string()) {
    const std::string& text = scalar.get_ref<const std::string&>();
    const std::string_view name = parameters == nullptr ? std::string_view() : whole_name(text);
    if (const ParameterValue* same = name.empty() ? nullptr : parameters->find(name)) return *same;
    out.text = filled(text, parameters, pointer);
    out.json = written(Json(out.text));
  } else {
    out.json = out.text = written(scalar);
  }
  return out;
}

void Merge::check_size(const std::string& pointer) const {
  if (kept_ + origins_.bytes() > kMostKept) {
    refuse_entry(pointer,
                 "the names, titles, values and places of the parts of assemblies take more than " +
                     std::to_string(kMostKept) + " bytes; expected fewer or shorter ones",
                 Code::limit_exceeded);
  }
  if (text_.size() <= kMostBytes) return;
  refuse_entry(pointer,
               "the circuit has more than " + std::to_string(kMostBytes) +
                   " bytes when its assemblies are written out; expected fewer or smaller "
                   "parts",
               Code::limit_exceeded);
}

void Merge::write_alone(const Layer& layer, const std::string& at) {
  const Json& value = *layer.value;
  if (value.is_object()) {
    text_.begin_object();
    for (const auto& [key, member] : value.get_ref<const Json::object_t&>()) {
      const std::string token = "/" + escape_pointer(key);
      text_.key(filled(key, layer.parameters, layer.pointer + token));
      write_alone({&member, layer.pointer + token, layer.parameters}, at + token);
    }
    text_.end_object();
  } else if (value.is_array()) {
    text_.begin_list();
    std::size_t i = 0;
    for (const Json& item : value.get_ref<const Json::array_t&>()) {
      const std::string token = "/" + std::to_string(i++);
      write_alone({&item, layer.pointer + token, layer.parameters}, at + token);
    }
    text_.end_list();
  } else if (layer.parameters == nullptr || !value.is_string()) {
    text_.raw(written(value));
  } else {
    check_size(layer.pointer);
    const ParameterValue put = value_of(value, layer.parameters, layer.pointer);
    if (put.origin != layer.pointer) origins_.add(at, put.origin);
    text_.raw(put.json);
  }
}

void Merge::write(const std::vector<Layer>& layers, const std::string& at) {
  // What lies below the topmost value that is no object does not show.
  std::size_t lowest = layers.size() - 1;
  if (layers[lowest].value->is_object()) {
    while (lowest > 0 && layers[lowest - 1].value->is_object()) --lowest;
  }
  if (lowest != 0) origins_.add(at, layers[lowest].pointer);
  if (lowest == 0 && layers.size() == 1) return write_alone(layers[0], at);
  if (!layers[lowest].value->is_object()) return write_alone(layers[lowest], at);
  text_.begin_object();
  write_members({layers.begin() + static_cast<std::ptrdiff_t>(lowest), layers.end()}, at, {});
  text_.end_object();
}

void Merge::write_members(const std::vector<Layer>& layers, const std::string& at,
                          const std::unordered_set<std::string_view>& without) {
  std::vector<Members> members;
  for (const Layer& layer : layers) members.emplace_back(*layer.value);
  for (std::size_t first = 0; first < layers.size(); ++first) {
    for (const auto& [key, value] : layers[first].value->get_ref<const Json::object_t&>()) {
      check_stop();
      if (without.count(key) != 0) continue;
      bool before = false;  // written already
      for (std::size_t below = 0; below < first; ++below) {
        before = before || members[below].find(key) != nullptr;
      }
      if (before) continue;
      const std::string token = "/" + escape_pointer(key);
      std::vector<Layer> of_key;
      for (std::size_t l = first; l < layers.size(); ++l) {
        const Json* one = members[l].find(key);
        if (one == nullptr) continue;
        if (one->is_null() && l > 0) {
          of_key.clear();
        } else {
          of_key.push_back({one, layers[l].pointer + token, layers[l].parameters});
        }
      }
      if (of_key.empty()) continue;
      const std::string there =
          at + "/" + escape_pointer(filled(key, of_key[0].parameters, of_key[0].pointer));
      text_.key(filled(key, of_key[0].parameters, of_key[0].pointer));
      if (of_key[0].pointer != layers[0].pointer + token) origins_.add(there, of_key[0].pointer);
      write(of_key, there);
    }
  }
}

}  // namespace faultodds::documents
