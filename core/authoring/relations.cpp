#include "core/authoring/relations.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <map>
#include <numbers>
#include <unordered_set>

#include "core/authoring/usual_values.h"
#include "core/authoring/ways.h"
#include "core/circuit/names.h"
#include "core/circuit/type_check.h"
#include "core/reading/units.h"
#include "core/stop.h"

namespace faultodds::authoring {
namespace {

using circuit::at;
using circuit::Component;
using circuit::ComponentType;
using circuit::Element;
using circuit::ElementKind;
using circuit::find_name;
using circuit::kOutside;
using circuit::PlacedElement;
using circuit::quoted;
using circuit::Structure;
using reading::Dimension;
using reading::format_number;

// How far one value may be from the middle of the others of its kind; working judgement.
constexpr double kSettings = 5, kBores = 6, kMinutes = 12, kCosts = 30, kLeaks = 100;

double median(std::vector<double> values) {
  std::sort(values.begin(), values.end());
  return values[values.size() / 2];
}

std::string pressure(double pascal) { return reading::format_pressure(pascal); }
std::string millimetres(double metres) { return format_number(metres * 1e3) + " mm"; }

class Relations {
 public:
  Relations(const circuit::HydraulicGraph& graph, const Written& written, Findings* findings)
      : structure_(graph.structure()), written_(written), findings_(findings), ways_(graph) {}

  void run() {
    place_reliefs();
    check_settings();
    for (Index c = 0; c < structure_.type.size(); ++c) {
      check_stop();
      check_parameters(c);
      check_rod(c);
      check_speed(c);
      check_load(c);
      check_stroke(c);
      check_sizes(c);
      check_priors(c);
    }
    check_ratings();
    check_functions();
    check_alike(
        "bore", kBores, [](const Component& one) { return one.bore; }, false);
    check_alike(
        "minutes", kMinutes, [](const Component& one) { return one.minutes; }, true);
    check_alike(
        "part_cost", kCosts, [](const Component& one) { return one.part_cost; }, true);
    check_titles();
    check_fittings();
    check_written();
  }

 private:
  const Component& component(Index c) const { return structure_.description->components[c]; }
  std::string pointer(Index c, const char* field) const {
    return at(structure_.component_pointer(c), field);
  }

  Finding& add(const char* rule, std::string where, std::string message, std::string expected,
               std::string cause, const char* source = kPractice) {
    std::string value = written_at(written_, where);
    return authoring::add(*findings_, Severity::warning, rule, std::move(where), std::move(value),
                          std::move(message), std::move(expected), std::move(cause), source);
  }
  bool found_already(const std::string& where) const {
    for (; looked_at_ < findings_->size(); ++looked_at_)
      found_.insert((*findings_)[looked_at_].pointer);
    return found_.count(where) != 0;
  }
  std::string slip(const std::string& where, Dimension dimension, double least, double most) const {
    const std::string text = written_at(written_, where);
    return text.empty() ? "" : likely_slip(text, dimension, least, most);
  }

  // Reliefs that limit a working pressure: no bypasses of filters, nothing in a return line.
  struct WorkRelief {
    Index component, vertex;
    double setting;
  };
  bool bypass(const PlacedElement& relief) const {
    for (Index e = structure_.first_element[relief.component];
         e < structure_.first_element[relief.component + 1]; ++e) {
      const PlacedElement& other = structure_.elements[e];
      if (&other != &relief && other.element->kind == ElementKind::passage &&
          other.from == relief.from && other.to == relief.to) {
        return true;
      }
    }
    return false;
  }
  void place_reliefs() {
    for (const PlacedElement& one : structure_.elements) {
      if (one.element->kind != ElementKind::relief || bypass(one)) continue;
      const std::optional<double>& setting = component(one.component).setting;
      if (!setting) continue;
      const Index vertex = structure_.gallery[one.from];
      if (ways_.joins(vertex, structure_.tank(), one.component)) continue;
      reliefs_.push_back({one.component, vertex, *setting});
    }
    std::vector<double> settings;
    for (const WorkRelief& one : reliefs_) settings.push_back(one.setting);
    if (!settings.empty()) usual_setting_ = median(settings);
  }

  void check_settings() {
    if (reliefs_.size() < 2) return;
    for (const WorkRelief& one : reliefs_) {
      double others = *usual_setting_;
      if (reliefs_.size() == 2) others = reliefs_[&one == &reliefs_[0] ? 1 : 0].setting;
      const double least = others / kSettings, most = others * kSettings;
      const std::string where = pointer(one.component, "setting");
      if ((one.setting >= least && one.setting <= most) || found_already(where)) continue;
      if (reliefs_.size() == 2) {  // the one further from 200 bar is the odd one
        const auto off = [](double p) { return std::abs(std::log(p / 2e7)); };
        if (off(one.setting) < off(others)) continue;
      }
      add("odd_one_out", where,
          "the setting of " + structure_.component_title(one.component) + ", " +
              pressure(one.setting) + ", is far from those of the other reliefs",
          "about " + pressure(others) + ", " + pressure(least) + " to " + pressure(most),
          slip(where, Dimension::pressure, least, most), "working judgement");
    }
    double highest = 0;
    for (const WorkRelief& one : reliefs_) highest = std::max(highest, one.setting);
    for (Index c = 0; c < structure_.type.size(); ++c) {
      if (structure_.type[c]->reduces.empty() || !component(c).setting) continue;
      if (*component(c).setting < highest) continue;
      add("never_reduces", pointer(c, "setting"),
          structure_.component_title(c) + " is set above every relief: it never reduces",
          "less than " + pressure(highest), "the setting of another valve, or another unit");
    }
  }

  // Parameters that a part needs, and those that do nothing.
  void check_parameters(Index c) {
    const ComponentType& type = *structure_.type[c];
    const Component& one = component(c);
    bool opens = false, piloted = false;
    for (Index e = structure_.first_element[c]; e < structure_.first_element[c + 1]; ++e) {
      const PlacedElement& element = structure_.elements[e];
      opens = opens || (element.element->kind == ElementKind::relief && !bypass(element));
      piloted = piloted || !element.element->pilot.empty();
    }
    const bool relief = opens || std::any_of(type.elements.begin(), type.elements.end(),
                                             [](const Element& element) {
                                               return element.kind == ElementKind::relief;
                                             });
    const bool actuator = circuit::is_actuator(type);
    bool turns = false;
    for (const auto& [volume, rule] : type.areas) {
      turns = turns || rule == circuit::AreaRule::displacement;
    }
    const auto need = [&](bool needed, bool given, const char* field, const char* without) {
      if (!needed || given) return;
      add("missing_value", structure_.component_pointer(c),
          structure_.component_title(c) + " has no " + quoted(field) + ": " + without,
          std::string(field) + " as on its plate or in its documents", "it was left out")
          .value = "";
    };
    need(opens || !type.reduces.empty(), one.setting.has_value(), "setting",
         "no pressure follows from it, and holds there go without a figure");
    const bool takes_ratio = find_name(type.parameters, "ratio") < type.parameters.size();
    need(piloted && takes_ratio, one.ratio.has_value(), "ratio",
         "nobody knows when its pilot opens it, and holds on its load side are not proposed");
    if (actuator && !turns && one.areas.empty()) {
      need(true, one.bore.has_value(), "bore", "its pressures are not known");
      need(one.bore.has_value(), one.rod.has_value(), "rod", "its pressures are not known");
    }
    const auto idle = [&](bool used, bool given, const char* field) {
      if (used || !given) return;
      add("no_effect", pointer(c, field), quoted(field) + " means nothing for a " + type.name,
          "a " + std::string(field) + " where the type has a use for it",
          "it belongs to another part, or the part is of another type");
    };
    idle(relief || !type.reduces.empty() || !type.parameters.empty(), one.setting.has_value(),
         "setting");
    idle(piloted || !type.parameters.empty(), one.ratio.has_value(), "ratio");
    idle(actuator, one.bore.has_value(), "bore");
    idle(actuator, one.rod.has_value(), "rod");
    idle(actuator || type.flow_test, one.displacement.has_value(), "displacement");
    idle(actuator || type.flow_test, one.rated_flow.has_value(), "rated_flow");
  }

  void check_rod(Index c) {
    const Component& one = component(c);
    if (!one.bore || !one.rod) return;
    const double share = *one.rod / *one.bore;
    if (share >= 0.22 && share <= 0.95) return;
    const double bore_least = *one.rod / 0.95, bore_most = *one.rod / 0.22;
    const std::string rod = pointer(c, "rod"), bore = pointer(c, "bore");
    const bool bore_odd = odd_bore(*one.bore) && !found_already(rod);
    const std::string where = bore_odd || found_already(bore) ? bore : rod;
    if (found_already(where)) return;
    add("rod_and_bore", where,
        "rod " + millimetres(*one.rod) + " and bore " + millimetres(*one.bore) + " of " +
            structure_.component_title(c) + " do not go together",
        "a rod of 0.22 to 0.95 of the bore",
        where == bore ? slip(bore, Dimension::length, bore_least, bore_most)
                      : slip(rod, Dimension::length, 0.22 * *one.bore, 0.95 * *one.bore),
        "area ratios of 1.06 to 5, ISO 7181 (from memory), and some more")
        .also = {where == bore ? rod : bore};
  }
  // A bore that is further from the others of the machine, or the usual, than a rod may be.
  bool odd_bore(double bore) const {
    std::vector<double> bores;
    for (Index c = 0; c < structure_.type.size(); ++c) {
      if (component(c).bore) bores.push_back(*component(c).bore);
    }
    const double middle = bores.size() > 2 ? median(bores) : 0.08;
    return bore > 4 * middle || bore < middle / 4;
  }

  void check_speed(Index c) {
    const Component& one = component(c);
    if (!one.displacement || !one.rated_flow) return;
    const bool motor = circuit::is_actuator(*structure_.type[c]);
    const double speed = *one.rated_flow / *one.displacement * 60;  // rev/min
    const double least = motor ? 2 : 300, most = motor ? 8000 : 5000;
    if (speed >= least && speed <= most) return;
    const std::string flow = pointer(c, "rated_flow"), volume = pointer(c, "displacement");
    const std::string where = found_already(volume) ? volume : flow;
    if (found_already(where)) return;
    const double low = *one.displacement * least / 60, high = *one.displacement * most / 60;
    add("flow_and_displacement", where,
        "rated flow and displacement of " + structure_.component_title(c) + " make " +
            format_number(speed) + " revolutions a minute",
        format_number(least) + " to " + format_number(most) + " a minute",
        slip(flow, Dimension::flow, low, high) + "; or the same of the displacement")
        .also = {volume};
  }

  // Of each region's reliefs, which never drain to the tank, those at the outside among them.
  std::optional<double> lowest_relief(Index vertex) const {
    std::optional<double> lowest;
    const auto take = [&](double setting) { lowest = std::min(lowest.value_or(setting), setting); };
    const Index region = ways_.region(vertex);
    if (region == kNone) {
      const auto [known, is_new] = lowest_at_.try_emplace(vertex);
      if (!is_new) return known->second;
      for (const WorkRelief& one : reliefs_) {
        if (ways_.joins(vertex, one.vertex)) take(one.setting);
      }
      return known->second = lowest;
    }
    if (lowest_in_.empty()) {
      for (const WorkRelief& one : reliefs_) {
        double& least = lowest_in_.try_emplace(ways_.region(one.vertex), one.setting).first->second;
        least = std::min(least, one.setting);
      }
    }
    for (const Index at : {region, kNone}) {
      if (at == kNone && !ways_.joins(vertex, structure_.outside())) continue;
      if (const auto found = lowest_in_.find(at); found != lowest_in_.end()) take(found->second);
    }
    return lowest;
  }

  void check_load(Index c) {
    const Component& one = component(c);
    if (!one.load) return;
    const ComponentType& type = *structure_.type[c];
    for (const ComponentType::Direction& direction : type.directions) {
      if (!one.load->direction.empty() && one.load->direction != direction.name) continue;
      const Index volume = circuit::volume_of(structure_, c, direction.contracting);
      const std::optional<double> area = circuit::area_of(structure_, c, direction.contracting);
      std::optional<double> load = one.load->pressure;
      if (one.load->force && area) load = *one.load->force / *area;
      if (!load) continue;
      const std::optional<double> relief = lowest_relief(structure_.gallery[volume]);
      const double most = relief.value_or(usual_setting_.value_or(4e7) * 1.2), least = 3e5;
      if (*load <= most && *load >= least) return;
      const bool force = one.load->force.has_value();
      const std::string where = at(pointer(c, "load"), force ? "force" : "pressure");
      if (found_already(where)) return;
      add("load", where,
          "the load of " + structure_.component_title(c) + " makes " + pressure(*load) +
              " at its " + quoted(direction.contracting),
          pressure(least) + " to " + pressure(most) +
              (relief ? ", where the relief there opens" : ""),
          slip(where, force ? Dimension::force : Dimension::pressure, force ? least * *area : least,
               force ? most * *area : most));
      return;
    }
  }

  // A trapped volume makes a length of the bore.
  void check_stroke(Index c) {
    const Component& one = component(c);
    if (!one.volume || !one.bore) return;
    const double area = std::numbers::pi / 4 * *one.bore * *one.bore;
    const double least = 0.01 * area, most = 15 * area;
    const std::string where = pointer(c, "volume");
    if ((*one.volume >= least && *one.volume <= most) || found_already(where)) return;
    add("volume_and_bore", where,
        "the volume of " + structure_.component_title(c) + " is a stroke of " +
            millimetres(*one.volume / area),
        "10 mm to 15 m of stroke", slip(where, Dimension::volume, least, most));
  }

  // A component's own sizes against those of its type.
  void check_sizes(Index c) {
    static const std::array<const char*, 3> grades = {"sound", "worn", "failed"};
    for (const auto& [name, own] : component(c).sizes) {
      for (const circuit::FailureModeType& mode : structure_.type[c]->failure_modes) {
        if (mode.name != name || !mode.size || mode.size->law != own.law) continue;
        const bool loss = own.law == circuit::SizeLaw::loss;
        for (std::size_t g = 0; g < 3; ++g) {
          const double usual = mode.size->of_grade[g].median, here = own.of_grade[g].median;
          const double factor = loss ? 6 : kLeaks;
          if (usual <= 0 || here <= 0) continue;
          if (here >= usual / factor && here <= usual * factor) continue;
          const std::string where = at(at(at(pointer(c, "sizes"), name), grades[g]), "median");
          const double unit = loss ? 0.01 : 1e-6 / 60;
          const char* const shown = loss ? " %" : " mL/min";
          add("size", where,
              "a " + std::string(grades[g]) + " " + quoted(name) + " of " + format_number(here) +
                  shown + " is far from what its type has",
              format_number(usual / factor) + " to " + format_number(usual * factor) + shown,
              slip(where, loss ? Dimension::share : Dimension::flow, usual / factor * unit,
                   usual * factor * unit),
              "sizes of the type, a hundred times either way: working judgement");
        }
      }
    }
  }

  void check_priors(Index c) {
    for (const auto& [mode, prior] : component(c).priors) {
      const std::string where = at(pointer(c, "priors"), mode);
      if (found_already(at(where, "0"))) continue;
      if (prior[0] >= 0.5) continue;
      add("prior", where,
          "fewer than half of " + quoted(component(c).id + "." + mode) + " are sound",
          "[sound, worn, failed]", "the order was probably turned round", "working judgement");
    }
  }

  // What a rating must at least be: where the relief there opens.
  void check_rating(const std::string& where, double rating, Index vertex,
                    const std::string& what) {
    if (found_already(where)) return;
    std::optional<double> needed = lowest_relief(vertex);
    const bool relief = needed.has_value();
    if (!relief) {
      if (ways_.joins(vertex, structure_.tank()) || !usual_setting_) return;
      needed = *usual_setting_ / 4;
    }
    if (rating >= *needed) return;
    add("rating", where,
        what + " stands " + pressure(rating) + ", and " +
            (relief ? "the relief there opens at " : "the reliefs of the machine are set at ") +
            pressure(relief ? *needed : *usual_setting_),
        "at least " + pressure(*needed),
        slip(where, Dimension::pressure, *needed, std::max(*needed, 1.05e8)));
  }

  void check_ratings() {
    for (const circuit::Fitting& fitting : structure_.description->fittings) {
      if (!fitting.rating) continue;
      const auto whole = structure_.component_index.find(fitting.port);
      const std::string where = at(at("/fittings", fitting.port), "rating");
      if (whole != structure_.component_index.end()) {
        for (Index v = structure_.first_volume[whole->second];
             v < structure_.first_volume[whole->second + 1]; ++v) {
          check_rating(where, *fitting.rating, structure_.gallery[v], "the cavity");
        }
        continue;
      }
      const std::size_t dot = fitting.port.rfind('.');
      const auto owner = structure_.component_index.find(fitting.port.substr(0, dot));
      if (owner == structure_.component_index.end()) continue;
      const Index volume =
          circuit::volume_of(structure_, owner->second, fitting.port.substr(dot + 1));
      check_rating(where, *fitting.rating, structure_.gallery[volume], "the fitting");
    }
    const auto& connections = structure_.description->connections;
    for (std::size_t i = 0; i < connections.size(); ++i) {
      if (!connections[i].rating) continue;
      const auto line = structure_.line_index.find(connections[i].line);
      if (line == structure_.line_index.end()) continue;
      const Index volume = structure_.lines[line->second].ends[0].volume;
      check_rating(at(at("/connections", i), "rating"), *connections[i].rating,
                   structure_.gallery[volume], "the line");
    }
    for (Index c = 0; c < structure_.type.size(); ++c) {
      const Component& one = component(c);
      if (one.rating) {
        for (Index v = structure_.first_volume[c]; v < structure_.first_volume[c + 1]; ++v) {
          check_rating(pointer(c, "rating"), *one.rating, structure_.gallery[v],
                       structure_.component_title(c));
        }
        if (one.setting && *one.rating < *one.setting && !found_already(pointer(c, "rating"))) {
          add("rating", pointer(c, "rating"),
              structure_.component_title(c) + " opens above what it stands",
              "at least " + pressure(*one.setting), "rating and setting are exchanged");
        }
      }
      for (const auto& [volume, rated] : one.rated) {
        check_rating(at(pointer(c, "rated"), volume), rated,
                     structure_.gallery[circuit::volume_of(structure_, c, volume)],
                     quoted(one.id + "." + volume));
      }
    }
  }

  void check_functions() {
    double highest = 0;
    for (const WorkRelief& one : reliefs_) highest = std::max(highest, one.setting);
    const auto& functions = structure_.description->functions;
    for (std::size_t f = 0; f < functions.size(); ++f) {
      if (!functions[f].working_pressure || highest == 0) continue;
      const std::string where = at(at("/functions", f), "working_pressure");
      const double here = *functions[f].working_pressure;
      if ((here <= highest && here >= highest / 8) || found_already(where)) continue;
      add("working_pressure", where,
          "a working pressure of " + pressure(here) + " does not go with reliefs set at " +
              pressure(highest) + " and below",
          pressure(highest / 8) + " to " + pressure(highest),
          slip(where, Dimension::pressure, highest / 8, highest), "working judgement");
    }
  }

  // One component's value against those of the others, of its type or of all.
  template <typename Get>
  void check_alike(const char* field, double factor, Get get, bool of_type) {
    std::map<std::string, std::vector<Index>> groups;
    for (Index c = 0; c < structure_.type.size(); ++c) {
      if (get(component(c)).value_or(0) > 0) {
        groups[of_type ? structure_.type[c]->name : ""].push_back(c);
      }
    }
    for (const auto& [name, members] : groups) {
      if (members.size() < 3) continue;
      std::vector<double> values;
      for (const Index c : members) values.push_back(*get(component(c)));
      const double middle = median(values);
      for (const Index c : members) {
        const double here = *get(component(c));
        const std::string where = pointer(c, field);
        if ((here <= middle * factor && here >= middle / factor) || found_already(where)) continue;
        add("odd_one_out", where,
            quoted(field) + " of " + structure_.component_title(c) + " is " +
                format_number(here / middle) + " times what " +
                (of_type ? "other parts of its type" : "other actuators") + " have",
            "within " + format_number(factor) + " times of the others",
            "another unit, or the point or a zero in the wrong place", "working judgement");
      }
    }
  }

  void check_titles() {
    std::map<std::string, Index> seen;
    for (Index c = 0; c < structure_.type.size(); ++c) {
      const auto [first, is_new] = seen.try_emplace(structure_.component_title(c), c);
      if (is_new) continue;
      add("title", pointer(c, "title"),
          quoted(component(c).id) + " and " + quoted(component(first->second).id) +
              " have the same title: a technician cannot tell them apart",
          "titles that differ", "a copy whose title was not changed", "working judgement")
          .also = {pointer(first->second, "title")};
    }
    std::map<std::string, std::size_t> functions;
    const auto& list = structure_.description->functions;
    for (std::size_t f = 0; f < list.size(); ++f) {
      const auto [first, is_new] = functions.try_emplace(list[f].title, f);
      if (is_new || list[f].title.empty()) continue;
      add("title", at(at("/functions", f), "title"),
          "functions " + quoted(list[first->second].id) + " and " + quoted(list[f].id) +
              " have the same title",
          "titles that differ", "a copy whose title was not changed", "working judgement");
    }
  }

  // Which threads or sizes the named standards have.
  void check_fittings() {
    struct Standard {
      const char* name;
      std::vector<const char*> begins;
    };
    static const std::vector<Standard> standards = {
        {"ISO 6149-1", {"M"}},
        {"ISO 9974-1", {"M"}},
        {"ISO 1179-1", {"G"}},
        {"ISO 11926-1", {"7", "9", "3", "1", "5"}},
        {"ISO 8434-1", {"M", "L", "S", "DN"}},
        {"ISO 8434-2", {"M", "7", "9", "3", "1", "5", "2"}},
        {"ISO 8434-3", {"M", "9", "1", "5", "7", "3", "2"}},
        {"ISO 6162-1", {"DN", "M", "1", "2", "3", "5"}},
        {"ISO 6162-2", {"DN", "M", "1", "2", "3", "5"}},
        {"ISO 6164", {"DN", "M"}},
        {"ISO 7789", {"M", "DN"}},
        {"ISO 7368", {"DN", "NG", "1", "2", "3", "4", "5", "6", "8"}},
        {"ISO 4401", {"0", "DN", "NG"}},
        {"ISO 16028", {"DN", "1", "2", "3", "5", "6"}},
        {"ISO 15171-1", {"DN", "M", "G", "1"}},
    };
    std::vector<std::string> names;
    for (const Standard& one : standards) names.emplace_back(one.name);
    for (const circuit::Fitting& fitting : structure_.description->fittings) {
      const std::string here = at("/fittings", fitting.port);
      if (fitting.standard.empty() || !fitting.standard.starts_with("ISO")) continue;
      const std::size_t found = find_name(names, fitting.standard);
      if (found == names.size()) {
        const std::string near = circuit::expected(fitting.standard, names, "standards");
        if (near.find("did you mean") == std::string::npos) continue;
        add("standard", at(here, "standard"),
            quoted(fitting.standard) + " is not among the standards known here" + near,
            "one that names the fitting", "a slip of the pen",
            "the titles of the standards, from memory");
        continue;
      }
      if (fitting.size.empty()) continue;
      const auto& begins = standards[found].begins;
      const std::string size = fitting.size.substr(fitting.size.starts_with("size ") ? 5 : 0);
      if (std::any_of(begins.begin(), begins.end(),
                      [&](const char* begin) { return size.starts_with(begin); })) {
        continue;
      }
      add("standard", at(here, "size"), quoted(fitting.size) + " is no size of " + fitting.standard,
          "a size of the standard", "the size or the standard of another fitting",
          "the standards, from memory")
          .also = {at(here, "standard")};
    }
  }

  // Outcome statistics and conditions that say the opposite of what they should.
  void check_written() {
    const auto& observations = structure_.description->observations;
    for (std::size_t i = 0; i < observations.size(); ++i) {
      const auto& matrix = observations[i].model.matrix;
      if (matrix.size() != 3) continue;
      const std::string where = at(at("/observations", i), "matrix");
      const auto& [sound, worn, failed] = std::array{matrix[0][0], matrix[1][0], matrix[2][0]};
      // A part that passes oil even when sound may make the normal outcome rare, but not rarer yet.
      if (sound >= worn - 1e-9 && worn >= failed - 1e-9 && sound > failed) continue;
      add("matrix", where,
          "the first outcome is not the normal one: its probabilities are " + format_number(sound) +
              " sound, " + format_number(worn) + " worn, " + format_number(failed) + " failed",
          "the normal outcome first, rarer from grade to grade",
          "rows or outcomes are in another order", "README.md, documents");
    }
    const auto& conditions = structure_.description->conditions;
    for (std::size_t i = 0; i < conditions.size(); ++i) {
      const std::string here = at("/conditions", i);
      if (conditions[i].raises.empty()) {
        add("raises", here, "condition " + quoted(conditions[i].id) + " raises nothing",
            "`raises` with a pattern and a factor", "it was left out", "README.md, documents");
      }
      for (const circuit::Condition::Raise& raise : conditions[i].raises) {
        if (raise.pattern != "*" && raise.pattern != "*.*") continue;
        add("raises", at(at(here, "raises"), raise.pattern),
            "the pattern matches every failure mode of the circuit", "the modes it raises",
            "it is too wide", "working judgement");
      }
    }
  }

  const Structure& structure_;
  const Written& written_;
  Findings* findings_;
  mutable std::unordered_set<std::string> found_;  // pointers of the first `looked_at_`
  mutable std::size_t looked_at_ = 0;
  mutable std::map<Index, std::optional<double>> lowest_at_;  // of a reservoir
  mutable std::map<Index, double> lowest_in_;                 // of reliefs, by region
  Ways ways_;
  std::vector<WorkRelief> reliefs_;
  std::optional<double> usual_setting_;  // Pa
};

}  // namespace

void check_relations(const circuit::HydraulicGraph& graph, const Written& written,
                     Findings* findings) {
  Relations(graph, written, findings).run();
}

}  // namespace faultodds::authoring
