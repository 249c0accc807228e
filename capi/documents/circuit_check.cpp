#include "capi/documents/circuit_check.h"

#include <algorithm>
#include <map>
#include <optional>
#include <set>

#include "capi/documents/circuit_document.h"
#include "capi/documents/circuit_reader.h"
#include "capi/documents/document.h"
#include "capi/documents/embedded.h"
#include "capi/documents/json_text.h"
#include "capi/documents/place.h"
#include "core/authoring/joints.h"
#include "core/authoring/relations.h"
#include "core/authoring/shown.h"
#include "core/authoring/usual_values.h"
#include "core/circuit/analysis.h"
#include "core/circuit/structure.h"
#include "core/error.h"
#include "core/stop.h"

namespace faultodds::documents {
namespace {

using authoring::Finding;
using authoring::Findings;
using authoring::Severity;
using authoring::Written;

constexpr std::size_t kMostErrors = 200;

std::vector<std::string> tokens_of(const std::string& pointer) {
  std::vector<std::string> tokens;
  for (std::size_t at = 0; at < pointer.size();) {
    const std::size_t end = std::min(pointer.find('/', at + 1), pointer.size());
    std::string token;
    for (std::size_t i = at + 1; i < end; ++i) {
      if (pointer[i] == '~' && i + 1 < end) {
        token += pointer[++i] == '1' ? '/' : '~';
      } else {
        token += pointer[i];
      }
    }
    tokens.push_back(std::move(token));
    at = end;
  }
  return tokens;
}

// Every string and number by its pointer. Documents are at most 64 levels deep.
void flatten(const Json& value, const std::string& pointer, Written* written) {
  if (value.is_object()) {
    for (const auto& [key, member] : value.items()) {
      flatten(member, pointer + "/" + escape_pointer(key), written);
    }
  } else if (value.is_array()) {
    for (std::size_t i = 0; i < value.size(); ++i) {
      flatten(value[i], pointer + "/" + std::to_string(i), written);
    }
  } else if (value.is_string()) {
    written->emplace(pointer, value.get_ref<const std::string&>());
  } else if (value.is_number()) {
    written->emplace(pointer, value.dump());
  }
}

std::string between(const std::string& text, const std::string& begin, const std::string& end) {
  const std::size_t from = text.find(begin);
  if (from == std::string::npos) return "";
  const std::size_t to = text.find(end, from + begin.size());
  return text.substr(from + begin.size(), to == std::string::npos ? to : to - from - begin.size());
}

std::string expected_of(const std::string& message) {
  for (const char* begin : {"; expected ", "; did you mean ", "; "}) {
    const std::size_t at = message.find(begin);
    if (at != std::string::npos) return message.substr(at + 2);
  }
  return "";
}

// What its author has probably done, by what the reader says.
std::string cause_of(const Error& error) {
  const std::string message = error.what();
  const auto says = [&](const char* words) { return message.find(words) != std::string::npos; };
  if (says("did you mean")) {
    return "misspelt: " + between(message, "did you mean ", "?") + " is near";
  }
  if (says("unknown key")) return "misspelt, or a key of another object";
  if (says("twice") || says("ids must differ")) return "a copy whose name was not changed";
  if (says("is missing")) return "it was left out";
  if (says("rod is")) return "rod and bore are exchanged, or one has another unit";
  if (says("sum")) return "the numbers were changed one by one, or are percentages";
  if (says("unit")) return "the unit is left out, misspelt, or that of another quantity";
  if (says("parameter of type"))
    return "it belongs to another part, or the part is of another type";
  if (says("itself")) return "one end was not changed";
  if (says("is not known") || says("is no ") || says("none of")) {
    return "the name of another thing, or of one that was renamed or taken out";
  }
  return "a value of another kind or of another field";
}

class Check {
 public:
  // Parsed, not copied: a copy that memory ends in the middle cannot be taken apart.
  explicit Check(std::string_view text)
      : catalogue_(shipped_catalogue()), mended_(parse_json(text)) {}
  ~Check() { take_apart(mended_); }

  CheckedCircuit run() {
    if (mended_.is_object() && mended_.contains("id") && mended_["id"].is_string()) {
      out_.id = mended_["id"].get<std::string>();
    }
    if (!write_out()) return done();
    bool structure_judged = false;
    for (std::size_t round = 0; round < kMostErrors; ++round) {
      check_stop();
      try {
        const circuit::Description description = read_circuit(mended_, catalogue_);
        const circuit::Structure structure = circuit::resolve(description, catalogue_, {});
        const circuit::HydraulicGraph graph(structure);
        if (!structure_judged) judge_structure(description, graph);
        structure_judged = true;
        try {
          const circuit::Analysis analysis = circuit::analyse(description, catalogue_);
          Findings found;
          authoring::check_shown(description, analysis, catalogue_, &found);
          take(std::move(found));
          return done();
        } catch (const Error& error) {
          const std::vector<std::string> tokens = tokens_of(error.pointer());
          std::string cause;
          if (tokens.size() == 3 && tokens[0] == "functions" && tokens[2] == "positions") {
            cause = authoring::why_not_reached(graph, std::stoul(tokens[1]));
          }
          if (!refused(error, cause)) return done();
        }
      } catch (const Error& error) {
        if (!refused(error, "")) return done();
      }
    }
    return done();
  }

 private:
  using TakenOut = std::map<std::string, std::set<std::size_t>>;  // indices by list

  // Variants and assemblies; from here on the document is what they stand for. False where that
  // cannot be said.
  bool write_out() {
    for (std::size_t round = 0; round < kMostErrors; ++round) {
      check_stop();
      try {
        written_.emplace(mended_);
        if (!written_->json()) return true;
        judge_assemblies();
        take_apart(mended_);
        mended_ = written_->json()->release();
        written_at_ = out_.findings.size();
        taken_out_of_author_ = std::move(taken_out_);
        taken_out_.clear();
        left_out_.clear();
        mended_at_.clear();
        return true;
      } catch (const Error& error) {
        if (!refused(error, "")) return false;
      }
    }
    return false;
  }

  // Assemblies that nothing is made of.
  void judge_assemblies() {
    if (!mended_.contains("assemblies") || mended_.contains("extends")) return;
    std::set<std::string> used;
    const auto note = [&](const Json& of) {
      if (!of.contains("components") || !of["components"].is_array()) return;
      for (const Json& part : of["components"]) {
        const auto type = part.find("type");
        if (type != part.end() && type->is_string()) used.insert(type->get<std::string>());
      }
    };
    note(mended_);
    for (const auto& [name, assembly] : mended_["assemblies"].items()) note(assembly);
    for (const auto& [name, assembly] : mended_["assemblies"].items()) {
      if (used.count(name) != 0) continue;
      Finding one;
      one.severity = Severity::warning;
      one.rule = "unused_assembly";
      one.pointer = original("/assemblies/" + escape_pointer(name));
      one.message = "no part is of the assembly `" + name + "`";
      one.expected = "a component whose `type` it is";
      one.cause = "a part is missing, or its type is another";
      one.source = "working judgement";
      out_.findings.push_back(std::move(one));
    }
  }

  // What was found in what the document stands for, said of the document: once for every place.
  void say_of_author() {
    if (!written_ || written_at_ == kNotWritten) return;
    std::set<std::pair<std::string, std::string>> said;
    Findings kept;
    for (std::size_t i = 0; i < out_.findings.size(); ++i) {
      check_stop();
      Finding& one = out_.findings[i];
      if (i >= written_at_) {
        const Origin from = written_->origin(one.pointer);
        one.pointer = original(from.pointer, taken_out_of_author_);
        for (std::string& also : one.also) {
          also = original(written_->origin(also).pointer, taken_out_of_author_);
        }
        one.message = with_part(std::move(one.message), from.part);
        if (!from.part.empty() && !said.emplace(one.rule, one.pointer).second) continue;
      }
      kept.push_back(std::move(one));
    }
    out_.findings = std::move(kept);
  }

  void judge_structure(const circuit::Description& description,
                       const circuit::HydraulicGraph& graph) {
    Written written;
    flatten(mended_, "", &written);
    Findings found;
    authoring::check_usual_values(description, written, &found);
    std::string not_judged;
    try {
      authoring::check_relations(graph, written, &found);
      if (parts_left_out_) {
        not_judged = "parts or connections do not read";
      } else {
        authoring::check_joints(graph, written, &found);
      }
    } catch (const Error& error) {
      if (error.code() != Code::limit_exceeded) throw;
      not_judged = error.what();
    }
    if (!not_judged.empty()) {
      Finding one;
      one.severity = Severity::note;
      one.rule = "not_judged";
      one.message = "how the parts are joined was not judged, or not all of it: " + not_judged;
      one.expected = "parts and connections that read, of a circuit within the limits";
      found.push_back(std::move(one));
    }
    take(std::move(found));
  }

  void take(Findings found) {
    for (Finding& one : found) {
      check_stop();
      one.pointer = original(one.pointer);
      for (std::string& also : one.also) also = original(also);
      if (one.rule == "missing_value" && left_out_within(one.pointer)) continue;
      out_.findings.push_back(std::move(one));
    }
  }
  bool left_out_within(const std::string& pointer) const {
    return std::any_of(left_out_.begin(), left_out_.end(),
                       [&](const std::string& one) { return one.starts_with(pointer + "/"); });
  }

  CheckedCircuit done() {
    say_of_author();
    std::stable_sort(out_.findings.begin(), out_.findings.end(),
                     [](const Finding& a, const Finding& b) { return a.severity < b.severity; });
    return std::move(out_);
  }

  // Takes note of an error and mends the document so that reading can go on; false if it cannot.
  bool refused(const Error& error, const std::string& cause) {
    switch (error.code()) {
      case Code::invalid_document:
      case Code::invalid_circuit:
      case Code::invalid_argument:
        break;
      case Code::limit_exceeded: {
        Finding one;
        one.severity = Severity::error;
        one.rule = "limit";
        one.pointer = original(error.pointer());
        one.message = error.what();
        one.expected = "a circuit within the limits";
        one.cause =
            "far more is joined with far more than in a machine: a connection is wrong, or "
            "the circuit is to be divided";
        one.source = "README.md, limits";
        out_.findings.push_back(std::move(one));
        return false;
      }
      default:
        throw error;
    }
    const std::string pointer = error.pointer();
    const std::string where = original(pointer);
    // What is needed and was left out before: its object goes, without a word.
    const std::string missing = between(error.what(), "the key `", "` is missing");
    const bool needed =
        !missing.empty() && left_out_.count(where + "/" + escape_pointer(missing)) != 0;
    const bool again = needed || left_out_.count(where) != 0;
    std::string value;
    if (!again) {
      const Json* at = find(pointer);
      if (at != nullptr && (at->is_string() || at->is_number())) {
        value = at->is_string() ? at->get<std::string>() : at->dump();
      }
      if (!follows(pointer, value, cause)) {
        Finding one;
        one.severity = Severity::error;
        one.rule = "refused";
        one.pointer = where;
        one.value = value;
        one.message = error.what();
        one.expected = expected_of(one.message);
        one.cause = cause.empty() ? cause_of(error) : cause;
        one.source = "the readers of the document";
        out_.findings.push_back(std::move(one));
      }
    }
    if (!again && mend(pointer, between(error.what(), "did you mean `", "`?"))) return true;
    return leave_out(pointer, again && !needed);
  }

  // Whether an error only follows from what was left out before.
  bool follows(const std::string& pointer, const std::string& value, const std::string& cause) {
    if (parts_left_out_ && !cause.empty()) return true;
    const std::vector<std::string> tokens = tokens_of(pointer);
    std::string of;  // an observation of what was left out
    if (tokens.size() > 1 && tokens[0] == "observations") {
      const Json* id = find("/observations/" + tokens[1] + "/id");
      if (id != nullptr && id->is_string()) of = id->get<std::string>();
    }
    for (const std::string& name : gone_) {
      for (const std::string& text : {value, tokens.empty() ? std::string() : tokens.back(), of}) {
        if (text == name || text.starts_with(name + ".") || text.ends_with("/" + name) ||
            text.find("/" + name + ".") != std::string::npos ||
            text.find("/" + name + "/") != std::string::npos) {
          return true;
        }
      }
    }
    return false;
  }

  Json* find(const std::string& pointer) {
    Json* at = &mended_;
    for (const std::string& token : tokens_of(pointer)) {
      if (at->is_object()) {
        const auto member = at->find(token);
        if (member == at->end()) return nullptr;
        at = &*member;
      } else if (at->is_array()) {
        const std::size_t i = std::stoul(token);
        if (i >= at->size()) return nullptr;
        at = &(*at)[i];
      } else {
        return nullptr;
      }
    }
    return at;
  }

  // Puts the name that the reader thinks was meant, once.
  bool mend(const std::string& pointer, const std::string& meant) {
    if (meant.empty() || !mended_at_.insert(pointer).second) return false;
    const std::vector<std::string> tokens = tokens_of(pointer);
    // There the key is what was misspelt.
    if (tokens.size() > 1 && tokens[tokens.size() - 2] == "parameters") return false;
    Json* at = find(pointer);
    if (at != nullptr && at->is_string()) {
      // `component.port` may be known by either half.
      const std::string was = at->get<std::string>();
      const std::size_t dot = was.rfind('.');
      const bool half = dot != std::string::npos && meant.find('.') == std::string::npos;
      if (half && was.substr(0, dot) != meant) {
        const std::string port = was.substr(0, dot + 1) + meant;
        const std::string part = meant + was.substr(dot);
        const bool known = components().count(meant) != 0;
        *at = known ? part : port;
      } else {
        *at = meant;
      }
      return true;
    }
    const std::size_t slash = pointer.rfind('/');
    if (slash == std::string::npos) return false;
    Json* object = find(pointer.substr(0, slash));
    const std::string key = tokens_of(pointer).back();
    if (object == nullptr || !object->is_object() || !object->contains(key)) return false;
    std::string name = meant;
    const std::size_t dot = key.rfind('.');
    if (dot != std::string::npos && meant.find('.') == std::string::npos) {
      name =
          components().count(meant) != 0 ? meant + key.substr(dot) : key.substr(0, dot + 1) + meant;
    }
    if (object->contains(name)) return false;
    Json value = std::move((*object)[key]);
    object->erase(key);
    (*object)[name] = std::move(value);
    return true;
  }

  std::set<std::string> components() const {
    std::set<std::string> ids;
    if (!mended_.contains("components") || !mended_["components"].is_array()) return ids;
    for (const Json& one : mended_["components"]) {
      if (one.is_object() && one.contains("id") && one["id"].is_string()) {
        ids.insert(one["id"].get<std::string>());
      }
    }
    return ids;
  }

  // Takes out the member or item, or where that was done before or there is none, what it is in.
  bool leave_out(std::string pointer, bool needed) {
    if (pointer == "/format" || pointer == "/id") {
      mended_[pointer.substr(1)] = pointer == "/id" ? "unnamed" : "faultodds-circuit/1";
      return left_out_.insert(original(pointer)).second;
    }
    left_out_.insert(original(pointer));
    if (needed || find(pointer) == nullptr) {
      const std::size_t slash = pointer.rfind('/');
      if (slash == std::string::npos || slash == 0) return false;
      pointer.resize(slash);
      left_out_.insert(original(pointer));
    }
    const std::size_t slash = pointer.rfind('/');
    if (slash == std::string::npos) return false;
    Json* parent = find(pointer.substr(0, slash));
    Json* at = find(pointer);
    if (parent == nullptr || at == nullptr) return false;
    const std::vector<std::string> tokens = tokens_of(pointer);
    if (at->is_object()) {
      for (const char* key : {"id", "line"}) {
        if (at->contains(key) && (*at)[key].is_string())
          gone_.insert((*at)[key].get<std::string>());
      }
    }
    parts_left_out_ =
        parts_left_out_ ||
        (tokens.size() == 2 && (tokens[0] == "components" || tokens[0] == "connections"));
    if (parent->is_object()) {
      take_apart((*parent)[tokens.back()]);
      parent->erase(tokens.back());
    } else {
      const std::string list = original(pointer.substr(0, slash));
      const std::string whole = original(pointer);
      taken_out_[list].insert(std::stoul(whole.substr(whole.rfind('/') + 1)));
      const auto i = static_cast<std::ptrdiff_t>(std::stoul(tokens.back()));
      take_apart((*parent)[static_cast<std::size_t>(i)]);
      parent->erase(parent->begin() + i);
    }
    return true;
  }

  // Where in its author's document stands what is at `pointer` of the mended one.
  std::string original(const std::string& pointer) const { return original(pointer, taken_out_); }
  static std::string original(const std::string& pointer, const TakenOut& taken_out) {
    std::string out;
    for (const std::string& token : tokens_of(pointer)) {
      const auto list = taken_out.find(out);
      if (list == taken_out.end() || token.find_first_not_of("0123456789") != std::string::npos) {
        out += "/" + escape_pointer(token);
        continue;
      }
      std::size_t index = std::stoul(token);
      for (const std::size_t taken : list->second) index += taken <= index ? 1 : 0;
      out += "/" + std::to_string(index);
    }
    return out;
  }

  const std::vector<circuit::ComponentType> catalogue_;
  Json mended_;  // behind all that may fail to be made: only a whole Check takes it apart
  CheckedCircuit out_;
  static constexpr std::size_t kNotWritten = ~std::size_t{0};
  std::optional<WrittenCircuit> written_;
  std::size_t written_at_ = kNotWritten;  // findings from here on are of what was written out
  TakenOut taken_out_of_author_;
  TakenOut taken_out_;  // of the lists of the document that is read
  std::set<std::string> left_out_, gone_, mended_at_;
  bool parts_left_out_ = false;
};

const char* severity_name(Severity severity) {
  switch (severity) {
    case Severity::error:
      return "error";
    case Severity::warning:
      return "warning";
    case Severity::note:
      return "note";
  }
  return "note";
}

}  // namespace

std::vector<circuit::ComponentType> shipped_catalogue() {
  return read_catalogue(read_document(kCatalogue));
}

CheckedCircuit check_circuit(std::string_view text) {
  try {
    return Check(text).run();
  } catch (const Error& error) {
    if (error.code() != Code::invalid_json) throw;
    CheckedCircuit out;
    Finding one;
    one.severity = Severity::error;
    one.rule = "refused";
    one.pointer = error.pointer();
    one.message = error.what();
    one.expected = "a JSON document, each key once";
    one.cause = "a comma, quote or bracket too many or too few, or a key said twice";
    one.source = "RFC 8259";
    out.findings.push_back(std::move(one));
    return out;
  }
}

std::string write_check(const CheckedCircuit& checked) {
  std::map<Severity, std::uint64_t> count;
  for (const Finding& one : checked.findings) ++count[one.severity];
  JsonText out;
  out.begin_object()
      .member("format", "faultodds-check/1")
      .member("circuit", checked.id)
      .member("errors", count[Severity::error])
      .member("warnings", count[Severity::warning])
      .member("notes", count[Severity::note]);
  out.key("findings").begin_list();
  for (const Finding& one : checked.findings) {
    check_stop();
    out.begin_object()
        .member("severity", severity_name(one.severity))
        .member("rule", one.rule)
        .member("pointer", one.pointer);
    if (!one.value.empty()) out.member("value", one.value);
    out.member("message", one.message);
    if (!one.expected.empty()) out.member("expected", one.expected);
    if (!one.cause.empty()) out.member("cause", one.cause);
    if (!one.source.empty()) out.member("source", one.source);
    if (!one.also.empty()) out.list("also", one.also);
    out.end_object();
  }
  out.end_list().end_object();
  return out.take();
}

}  // namespace faultodds::documents
