#include "core/authoring/shown.h"

#include <algorithm>
#include <map>
#include <set>
#include <unordered_map>

#include "core/circuit/names.h"
#include "core/stop.h"

namespace faultodds::authoring {
namespace {

using circuit::Absent;
using circuit::at;
using circuit::ElementKind;
using circuit::Observation;
using circuit::ObservationKind;
using circuit::quoted;

constexpr std::size_t kMostCompared = 100;  // names that are not there with those that are

class Shown {
 public:
  Shown(const circuit::Description& description, const circuit::Analysis& analysis,
        const std::vector<circuit::ComponentType>& catalogue, Findings* findings)
      : description_(description), analysis_(analysis), findings_(findings) {
    for (std::size_t c = 0; c < description.components.size(); ++c) {
      component_.emplace(description.components[c].id, c);
    }
    for (std::size_t f = 0; f < description.functions.size(); ++f) {
      function_.emplace(description.functions[f].id, f);
    }
    for (const auto* types : {&description.types, &catalogue}) {
      for (const circuit::ComponentType& type : *types) type_.emplace(type.name, &type);
    }
  }

  void run() {
    for (const Absent& absent : analysis_.absent) {
      check_stop();
      say_absent(absent);
    }
    say_not_proposed();
    say_modes_unseen();
    say_allowed_unknown();
  }

 private:
  Finding& add(Severity severity, const char* rule, std::string where, std::string message,
               std::string expected, std::string cause) {
    return authoring::add(*findings_, severity, rule, std::move(where), {}, std::move(message),
                          std::move(expected), std::move(cause), "core/circuit/README.md");
  }

  // Where the document speaks of `component.something`, or of a function.
  std::string place_of(const std::string& id) const {
    const std::size_t slash = id.find('/');
    const std::string kind = id.substr(0, slash);
    std::string rest = slash == std::string::npos ? id : id.substr(slash + 1);
    if (kind == "delivery") {
      const auto function = function_.find(rest);
      if (function != function_.end()) return at("/functions", function->second);
    }
    rest = rest.substr(0, rest.find('/'));
    auto found = component_.find(rest);
    if (found == component_.end()) found = component_.find(rest.substr(0, rest.rfind('.')));
    return found == component_.end() ? "" : at("/components", found->second);
  }

  const circuit::Element* element_of(const std::string& whole) const {
    const std::size_t dot = whole.rfind('.');
    const auto component = component_.find(whole.substr(0, dot));
    if (component == component_.end()) return nullptr;
    const auto type = type_.find(description_.components[component->second].type);
    if (type == type_.end()) return nullptr;
    for (const circuit::Element& element : type->second->elements) {
      if (element.name == whole.substr(dot + 1)) return &element;
    }
    return nullptr;
  }

  void say_absent(const Absent& absent) {
    const std::string where = place_of(absent.id);
    const std::string begin = "there is no " + quoted(absent.id) + ": ";
    switch (absent.why) {
      case Absent::Why::load_other_way:
        add(Severity::note, "absent", where, begin + "its load drives the other way",
            "`load` without `direction`, if it drives both ways", "by its load");
        return;
      case Absent::Why::nothing_shows:
        add(absent.kind == ObservationKind::delivery ? Severity::warning : Severity::note,
            absent.kind == ObservationKind::delivery ? "unexplained_function" : "absent", where,
            begin + (absent.kind == ObservationKind::delivery
                         ? "no failure mode explains that it is slow"
                         : "no failure mode shows there"),
            "a part on its way that can fail", "parts on the way are missing");
        return;
      case Absent::Why::open:
        break;
    }
    std::string way;
    bool by_valve = false;
    for (const std::string& element : absent.way) {
      way += (way.empty() ? "" : ", ") + quoted(element);
      const circuit::Element* one = element_of(element);
      by_valve = by_valve || (one != nullptr && one->kind == ElementKind::seal);
    }
    // A function whose pressure goes to the tank with its valves in its positions cannot work.
    const bool expected = absent.kind != ObservationKind::delivery &&
                          (by_valve || absent.kind == ObservationKind::static_hold);
    add(expected ? Severity::note : Severity::warning, "absent", where,
        begin + "oil flows there with nothing leaking" + (way.empty() ? "" : ", through " + way),
        by_valve ? "a valve that is open in neutral, if that is meant"
                 : "something that blocks on the way",
        by_valve ? "the valve is open as it stands"
                 : "a check or relief the wrong way round, or a connection to the wrong port");
  }

  void say_not_proposed() {
    struct Kept {
      std::vector<std::string> ids;
      const circuit::NotProposed* why;
    };
    std::map<std::pair<bool, std::string>, Kept> reasons;
    for (const Observation& one : analysis_.observations) {
      check_stop();
      const bool withheld = one.withheld.has_value();
      const auto& refused = withheld ? one.withheld : one.no_figure;
      if (!refused) continue;
      Kept& kept = reasons[{withheld, refused->reason + refused->volume}];
      kept.why = &*refused;
      kept.ids.push_back(one.id);
    }
    for (const auto& [key, kept] : reasons) {
      std::string ids;
      for (std::size_t i = 0; i < std::min<std::size_t>(kept.ids.size(), 4); ++i) {
        ids += (i == 0 ? "" : ", ") + quoted(kept.ids[i]);
      }
      if (kept.ids.size() > 4) ids += " and " + std::to_string(kept.ids.size() - 4) + " more";
      Finding& one = add(Severity::note, key.first ? "hold_withheld" : "hold_without_figure",
                         place_of("static/" + kept.why->volume),
                         ids + (key.first ? " may not be made: " : " has no test pressure: ") +
                             kept.why->reason + " at " + kept.why->volume +
                             (kept.why->part.empty() ? "" : ", " + kept.why->part),
                         "what the circuit does not say, if it is known", kept.why->reason);
      one.source = "core/hydraulics/statics.h";
      one.value = kept.why->volume;
    }
  }

  void say_modes_unseen() {
    std::vector<bool> seen(analysis_.modes.size(), false);
    for (const Observation& one : analysis_.observations) {
      check_stop();
      for (const circuit::ModeSet& set : one.sets) {
        for (const std::uint32_t mode : set.modes) seen[mode] = true;
      }
    }
    for (std::size_t m = 0; m < seen.size(); ++m) {
      check_stop();
      if (seen[m]) continue;
      const circuit::FailureMode& mode = analysis_.modes[m];
      add(Severity::note, "mode_unseen", at("/components", mode.component_index),
          "no observation shows " + quoted(mode.id) + " (" + mode.title + ")",
          "an observation of the circuit's own that shows it, if it matters",
          "nothing derived shows it: its part is joined to nothing that is observed, or no line "
          "can be taken off there")
          .value = mode.id;
    }
  }

  void say_allowed_unknown() {
    std::vector<std::string> holds;
    std::set<std::string> known;
    std::size_t unknown = 0;
    for (const Observation& one : analysis_.observations) {
      if (one.kind == ObservationKind::static_hold) holds.push_back(one.id);
    }
    known.insert(holds.begin(), holds.end());
    for (std::size_t i = 0; i < description_.allow_hold.size(); ++i) {
      const std::string& id = description_.allow_hold[i];
      check_stop();
      if (known.count(id) != 0) continue;
      // Each is compared with every hold.
      const bool compared = ++unknown <= kMostCompared;
      add(Severity::warning, "unknown_name", at("/allow_hold", i),
          quoted(id) + " is no hold of this circuit" +
              (compared ? circuit::expected(id, holds, "holds") : ""),
          "the id of a hold", "misspelt, or the hold is not there")
          .value = id;
    }
  }

  const circuit::Description& description_;
  const circuit::Analysis& analysis_;
  Findings* findings_;
  std::unordered_map<std::string, std::size_t> component_, function_;
  std::unordered_map<std::string, const circuit::ComponentType*> type_;
};

}  // namespace

void check_shown(const circuit::Description& description, const circuit::Analysis& analysis,
                 const std::vector<circuit::ComponentType>& catalogue, Findings* findings) {
  Shown(description, analysis, catalogue, findings).run();
}

}  // namespace faultodds::authoring
