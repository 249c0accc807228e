#include "core/circuit/written.h"

#include <algorithm>
#include <set>
#include <unordered_map>

#include "core/circuit/cautions.h"
#include "core/circuit/names.h"
#include "core/circuit/type_check.h"
#include "core/error.h"
#include "core/number_text.h"
#include "core/stop.h"

namespace faultodds::circuit {
namespace {

constexpr std::size_t kMostOutcomes = 64;

void add_new_cautions(const std::vector<std::string>& texts, Observation* observation) {
  std::vector<std::string>& all = observation->cautions;
  std::set<std::string> listed(all.begin(), all.end());
  for (const std::string& text : texts) {
    if (listed.insert(text).second) all.push_back(text);
  }
}

// Replaces what the entry gives and checks that outcomes, matrix and background fit together.
void apply_model(const OutcomeModel& model, const std::string& here, Observation* one) {
  if (!model.outcomes.empty()) {
    std::set<std::string> names;
    for (std::size_t i = 0; i < model.outcomes.size(); ++i) {
      if (!names.insert(model.outcomes[i]).second) {
        refuse("outcome " + quoted(model.outcomes[i]) + " is listed twice; names must differ",
               at(at(here, "outcomes"), i));
      }
    }
    if (model.outcomes.size() > kMostOutcomes) {
      refuse("outcomes lists " + std::to_string(model.outcomes.size()) + "; at most " +
                 std::to_string(kMostOutcomes) + " were expected",
             at(here, "outcomes"));
    }
    one->outcomes = model.outcomes;
  }
  if (one->outcomes.empty()) {
    refuse("outcomes: an observation of kind " + quoted(kind_name(one->kind)) +
               " must list its outcomes, the normal one first",
           at(here, "outcomes"));
  }
  if (!model.matrix.empty()) {
    one->matrix = model.matrix;
    one->matrix_is_own = true;
  }
  one->statistics_are_own = !model.matrix.empty() || model.background.has_value();
  const std::string matrix = at(here, "matrix");
  if (one->matrix.empty()) {
    refuse("matrix: an observation of kind " + quoted(kind_name(one->kind)) +
               " must give it, one row of outcome probabilities per grade",
           matrix);
  }
  for (std::size_t grade = 0; grade < 3; ++grade) {
    const std::vector<double>& row = one->matrix[grade];
    if (row.size() != one->outcomes.size()) {
      refuse("matrix row " + std::to_string(grade) + " has " + std::to_string(row.size()) +
                 " entries; one per outcome was expected, " + std::to_string(one->outcomes.size()) +
                 (model.matrix.empty() ? " (outcomes are overridden, so matrix must be too)" : ""),
             model.matrix.empty() ? matrix : at(matrix, grade));
    }
  }
  if (model.background) one->background = *model.background;
  for (std::size_t grade = 0; grade < 3; ++grade) {
    if (model.leak_median) one->leak_median[grade] = (*model.leak_median)[grade];
    if (model.leak_sigma) one->leak_sigma[grade] = (*model.leak_sigma)[grade];
  }
}

void apply_reference_pressure(const WrittenObservation& entry, const std::string& here,
                              Observation* one) {
  if (!entry.reference_pressure) return;
  const double pressure = *entry.reference_pressure;
  const std::string pointer = at(here, "reference_pressure");
  if (one->pressure_ceiling && pressure > *one->pressure_ceiling * (1 + 1e-12)) {
    refuse("reference_pressure is " + fixed_text(pressure) + " Pa; at most " +
               fixed_text(*one->pressure_ceiling) + " Pa was expected" +
               (one->pressure_limit
                    ? ", at " + one->pressure_limit->volume + " (" + one->pressure_limit->by +
                          (one->pressure_limit->part.empty() ? "" : " of ") +
                          one->pressure_limit->part + ")"
                    : ""),
           pointer);
  }
  one->reference_pressure = pressure;
  // An author's figure does not make a hold safe that is withheld.
  if (!one->withheld) one->test_pressure = pressure;
}

// What an override may not touch follows from the circuit.
void apply_override(const WrittenObservation& entry, const std::string& here, Observation* one) {
  if (entry.kind && *entry.kind != one->kind) {
    refuse("kind " + quoted(kind_name(*entry.kind)) + ": " + quoted(one->id) +
               " is derived from the circuit and of kind " + quoted(kind_name(one->kind)),
           at(here, "kind"));
  }
  if (entry.energised && *entry.energised != one->energised) {
    refuse("energised: whether " + quoted(one->id) +
               " needs power follows from the circuit and cannot be overridden",
           at(here, "energised"));
  }
  const bool opens = one->kind == ObservationKind::static_hold;
  if (entry.opens_line && *entry.opens_line != opens) {
    refuse("opens_line: whether " + quoted(one->id) +
               " opens a line follows from the circuit and cannot be overridden",
           at(here, "opens_line"));
  }
  if (!entry.setup.empty()) {
    refuse("setup: the steps of " + quoted(one->id) +
               " follow from the circuit and cannot be overridden",
           at(here, "setup"));
  }
  if (!entry.title.empty()) one->title = entry.title;
  apply_model(entry.model, here, one);
  if (entry.minutes) one->perform_minutes = *entry.minutes;
  if (entry.people) one->people = *entry.people;
  apply_reference_pressure(entry, here, one);
  add_new_cautions(entry.cautions, one);
}

class Writer {
 public:
  Writer(const Structure& structure, const Times& times, const std::vector<SetupStep>& steps,
         const Limits& limits, std::vector<Observation>* observations)
      : structure_(structure),
        times_(times),
        steps_(steps),
        limits_(limits),
        observations_(*observations),
        derived_count_(observations->size()) {
    for (std::size_t i = 0; i < observations_.size(); ++i) by_id_[observations_[i].id] = i;
    for (std::size_t i = 0; i < steps_.size(); ++i) step_index_.emplace(steps_[i].id, i);
    for (std::size_t m = 0; m < structure_.modes.size(); ++m) {
      mode_index_[structure_.modes[m].id] = static_cast<Index>(m);
    }
  }

  void add(const WrittenObservation& entry, const std::string& here) {
    check_stop();
    if (!given_.insert(entry.id).second) {
      refuse("observation id " + quoted(entry.id) + " is used twice; ids must differ",
             at(here, "id"));
    }
    const auto same = by_id_.find(entry.id);
    if (same != by_id_.end() && entry.shows.empty()) {
      apply_override(entry, here, &observations_[same->second]);
      return;
    }
    if (same != by_id_.end()) {
      refuse("observation id " + quoted(entry.id) +
                 " is that of a derived observation: leave out `shows` to override its statistics, "
                 "or choose another id",
             at(here, "id"));
    }
    if (entry.shows.empty()) {
      std::vector<std::string> derived;
      for (std::size_t i = 0; i < derived_count_; ++i) derived.push_back(observations_[i].id);
      refuse("shows is missing and no observation " + quoted(entry.id) +
                 " is derived from the circuit" +
                 expected(entry.id, derived, "derived observations"),
             at(here, "shows"));
    }
    write(entry, here);
  }

 private:
  void write(const WrittenObservation& entry, const std::string& here) {
    if (!entry.kind) {
      refuse("kind of observation " + quoted(entry.id) +
                 " is missing; one of `static`, `drift`, `delivery`, `flow`, `symptom`, `test` was "
                 "expected",
             at(here, "kind"));
    }
    check_length(entry.id, "observation id", at(here, "id"));
    Observation one;
    set_defaults(*entry.kind, &one);
    one.id = entry.id;
    one.title = entry.title.empty() ? entry.id : entry.title;
    one.written = true;
    one.perform_minutes = times_.of("written_test");
    apply_model(entry.model, here, &one);
    if (entry.minutes) one.perform_minutes = *entry.minutes;
    if (entry.people) one.people = *entry.people;
    apply_reference_pressure(entry, here, &one);
    for (std::size_t i = 0; i < entry.shows.size(); ++i) {
      one.sets.push_back(read_set(entry.shows[i], at(at(here, "shows"), i)));
    }
    if (one.sets.size() > limits_.sets_per_observation) {
      throw Error(Code::limit_exceeded,
                  "shows lists " + std::to_string(one.sets.size()) + " sets; at most " +
                      std::to_string(limits_.sets_per_observation) + " are taken",
                  at(here, "shows"));
    }
    prepare(entry, here, &one);
    by_id_[one.id] = observations_.size();
    if (observations_.size() >= limits_.observations) {
      throw Error(Code::limit_exceeded,
                  "more than " + std::to_string(limits_.observations) + " observations", here);
    }
    observations_.push_back(std::move(one));
  }

  ModeSet read_set(const Shows& shows, const std::string& here) const {
    ModeSet set;
    if (shows.modes.empty()) {
      refuse("modes is empty; at least one `component.mode` was expected", at(here, "modes"));
    }
    for (std::size_t i = 0; i < shows.modes.size(); ++i) {
      const auto mode = mode_index_.find(shows.modes[i]);
      if (mode == mode_index_.end()) {
        std::vector<std::string> known;
        for (const FailureMode& one : structure_.modes) known.push_back(one.id);
        refuse("mode " + quoted(shows.modes[i]) + " is not known" +
                   expected(shows.modes[i], known, "failure modes"),
               at(at(here, "modes"), i));
      }
      set.modes.push_back(mode->second);
    }
    std::sort(set.modes.begin(), set.modes.end());
    set.modes.erase(std::unique(set.modes.begin(), set.modes.end()), set.modes.end());
    set.probability = shows.probability;
    return set;
  }

  // Setup in the order lockout, lines, cartridges, meters. A line or cavity is opened under lockout
  // only, and never on a machine under power.
  void prepare(const WrittenObservation& entry, const std::string& here, Observation* one) const {
    const std::string pointer = at(here, "setup");
    bool opens = entry.opens_line.value_or(false);
    const char* opened_by = "opens_line";
    std::set<std::size_t> wanted;  // steps, in the order done
    for (std::size_t i = 0; i < entry.setup.size(); ++i) {
      const std::string& id = entry.setup[i];
      const auto step = step_index_.find(id);
      if (step == step_index_.end()) {
        std::vector<std::string> ids;
        for (const SetupStep& known : steps_) ids.push_back(known.id);
        refuse("setup step " + quoted(id) + " is not known" + expected(id, ids, "steps"),
               at(pointer, i));
      }
      if (!wanted.insert(step->second).second) {
        refuse("setup step " + quoted(id) + " is listed twice", at(pointer, i));
      }
      if (id.starts_with("line/") || id.starts_with("cartridge/")) {
        if (!opens) opened_by = "setup";
        opens = true;
      }
    }
    // Where the entry does not say, a test that opens the circuit is a locked-out one.
    one->energised = entry.energised.value_or(
        opens && entry.kind != ObservationKind::flow && !one->symptom ? false : one->energised);
    if (one->energised && opens) {
      refuse("observation " + quoted(entry.id) + " is energised and opens a line or cavity (" +
                 opened_by +
                 "): nothing is opened or tested to atmosphere under power; make it a locked-out "
                 "test or leave the circuit closed",
             at(here, opened_by));
    }
    if (opens || !wanted.empty()) wanted.insert(step_index_.at("lockout"));
    for (const std::size_t step : wanted) one->setup.push_back(steps_[step].id);

    add_new_cautions(general_cautions(), one);
    if (one->energised) add_new_cautions(power_on_cautions(), one);
    if (const auto more = defaults_of(one->kind).cautions) add_new_cautions(more(), one);
    add_new_cautions(entry.cautions, one);
  }

  const Structure& structure_;
  const Times& times_;
  const std::vector<SetupStep>& steps_;
  const Limits& limits_;
  std::vector<Observation>& observations_;
  std::size_t derived_count_;
  std::unordered_map<std::string, std::size_t> by_id_;
  std::unordered_map<std::string, Index> mode_index_;
  std::unordered_map<std::string, std::size_t> step_index_;
  std::set<std::string> given_;
};

}  // namespace

void add_written_observations(const Structure& structure, const Times& times,
                              const std::vector<SetupStep>& steps, const Limits& limits,
                              std::vector<Observation>* observations) {
  const std::vector<WrittenObservation>& entries = structure.description->observations;
  if (entries.empty()) return;
  Writer writer(structure, times, steps, limits, observations);
  for (std::size_t i = 0; i < entries.size(); ++i) writer.add(entries[i], at("/observations", i));
}

}  // namespace faultodds::circuit
