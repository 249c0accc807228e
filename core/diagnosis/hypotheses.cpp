#include "core/diagnosis/hypotheses.h"

#include <algorithm>
#include <cmath>
#include <map>
#include <numeric>
#include <random>
#include <set>
#include <string>

#include "core/diagnosis/mode_states.h"
#include "core/diagnosis/program.h"
#include "core/error.h"
#include "core/stop.h"

namespace faultodds::diagnosis {
namespace {

constexpr double kMostComplete = 20'000;  // joint states that are all looked at
constexpr std::size_t kMostLevels = 10;   // changes from the first
constexpr std::size_t kMostSeen = 400'000;
constexpr double kLeastWeight = 1e-8;   // of the heaviest, that is kept
constexpr double kEnough = 1e-5;        // of all, that a level must add
constexpr double kImpossible = 1e-12;   // a likelihood of 0, for the way there
constexpr double kUnseen = 3;           // what is left out, over what the search reckons
constexpr double kWorthASample = 1e-3;  // of what the search reckons
constexpr std::size_t kChains = 10, kForgotten = 8;  // sweeps at the start of each
constexpr std::size_t kMostEntries = 1 << 16;
constexpr std::size_t kOverhead = 96;   // bytes of one hypothesis besides what it holds
constexpr std::size_t kSeenBytes = 32;  // of one that is only known to have been seen

std::uint64_t mixed(std::uint64_t x) {  // the finaliser of splitmix64 (Steele, Lea & Flood 2014)
  x += 0x9e3779b97f4a7c15u;
  x = (x ^ (x >> 30)) * 0xbf58476d1ce4e5b9u;
  x = (x ^ (x >> 27)) * 0x94d049bb133111ebu;
  return x ^ (x >> 31);
}

std::uint64_t key_of(std::size_t variable, std::uint8_t value) {
  return mixed((static_cast<std::uint64_t>(variable) << 8) | value);
}

// Keys that were seen, which are mixed already: open addressing with linear probing, half full at
// most.
class SeenKeys {
 public:
  // Whether it was not among them.
  bool insert(std::uint64_t key) {
    if (key == kFree) key = ~kFree;
    if (2 * (size_ + 1) > slots_.size()) grow();
    const bool is_new = put(key);
    size_ += is_new;
    return is_new;
  }
  std::size_t size() const { return size_; }

 private:
  static constexpr std::uint64_t kFree = 0;
  bool put(std::uint64_t key) {
    const std::size_t mask = slots_.size() - 1;
    std::size_t at = static_cast<std::size_t>(key) & mask;
    for (; slots_[at] != kFree; at = (at + 1) & mask) {
      if (slots_[at] == key) return false;
    }
    slots_[at] = key;
    return true;
  }
  void grow() {
    std::vector<std::uint64_t> before(std::max<std::size_t>(4096, 2 * slots_.size()), kFree);
    before.swap(slots_);
    for (const std::uint64_t key : before) {
      if (key != kFree) put(key);
    }
  }

  std::vector<std::uint64_t> slots_;
  std::size_t size_ = 0;
};

// P(state) of a mode by combination of the conditions on it, the first in the highest bit.
std::vector<std::vector<double>> state_rows(const Model& model, const CaseNumbers& numbers,
                                            std::uint32_t mode) {
  const circuit::FailureMode& of = model.analysis().modes[mode];
  const circuit::GradeDistribution prior = prior_in(model, numbers, mode);
  const ModeConditions& by = model.program().mode_conditions()[mode];
  std::vector<std::vector<double>> rows;
  for (std::size_t i = 0; i < std::size_t{1} << by.factors.size(); ++i) {
    const Grades grades = conditioned(prior, by, i);
    auto& row = rows.emplace_back();
    for (const circuit::ModeState& state : states_of(of)) {
      row.push_back(grades[state.grade] * state.share);
    }
  }
  return rows;
}

}  // namespace

struct Hypotheses::Variable {
  std::size_t count = 2;
  // Of a mode: its conditions, as variables, the first in the highest bit; P(class) by combination.
  std::vector<std::uint32_t> conditions;
  std::vector<std::vector<double>> rows;
  // Of a condition: P(it holds), and the modes that it raises, as variables.
  double holds = 0;
  std::vector<std::uint32_t> raises;
  bool is_condition = false;
  std::vector<std::uint32_t> evidence;  // observations with evidence that it is seen in
};

// Looks for the probable ones.
struct Hypotheses::Search {
  struct Seen {
    std::uint32_t observation = 0;
    Grades likelihood{};
  };
  struct One {
    std::vector<std::uint8_t> classes;
    double prior = 0;
    std::vector<double> likelihood;  // of each that was seen
    std::uint64_t key = 0;
    double rank = 0, weight = 0;
  };

  Hypotheses& into;
  std::vector<Variable> variables;
  std::vector<Seen> seen;

  double prior_of(std::uint32_t v, const std::vector<std::uint8_t>& classes) const {
    const Variable& of = variables[v];
    if (of.is_condition) return classes[v] != 0 ? of.holds : 1 - of.holds;
    std::size_t combination = 0;
    for (const std::uint32_t c : of.conditions) combination = combination * 2 + classes[c];
    return of.rows[combination][classes[v]];
  }

  double likelihood_of(const Seen& one, const std::uint8_t* classes) const {
    double most[2] = {1, 1};
    const std::size_t first = into.first_set_[one.observation];
    for (std::size_t k = first; k < first + into.sets_[one.observation]; ++k) {
      const SetTable& table = into.tables_[k];
      const double* at = table.at_most.data() + 2 * into.entry(table, classes);
      most[0] *= at[0];
      most[1] *= at[1];
    }
    return weighed(one.likelihood, most[0], most[1]);
  }

  void weigh(One& one) const {
    one.weight = one.rank = one.prior;
    for (const double l : one.likelihood) {
      one.weight *= l;
      one.rank *= std::max(l, kImpossible);
    }
  }

  One whole(std::vector<std::uint8_t> classes) const {
    One one;
    one.classes = std::move(classes);
    one.prior = 1;
    for (std::uint32_t v = 0; v < variables.size(); ++v) {
      one.prior *= prior_of(v, one.classes);
      one.key ^= key_of(v, one.classes[v]);
    }
    for (const Seen& s : seen) one.likelihood.push_back(likelihood_of(s, one.classes.data()));
    weigh(one);
    return one;
  }

  // Makes of `one`, which is `from`, the same with one variable changed; changed_back() undoes it.
  void change(const One& from, std::uint32_t v, std::uint8_t value, std::uint64_t key,
              One& one) const {
    one.key = key;
    one.prior = from.prior;
    one.classes[v] = value;
    const Variable& of = variables[v];
    const auto replace = [&](std::uint32_t w) {
      const double before = prior_of(w, from.classes);
      one.prior = before > 0 ? one.prior / before * prior_of(w, one.classes) : 0;
    };
    replace(v);
    for (const std::uint32_t m : of.raises) replace(m);
    for (const std::uint32_t s : of.evidence) {
      one.likelihood[s] = likelihood_of(seen[s], one.classes.data());
    }
    weigh(one);
  }
  void changed_back(const One& from, std::uint32_t v, One& one) const {
    one.classes[v] = from.classes[v];
    for (const std::uint32_t s : variables[v].evidence) one.likelihood[s] = from.likelihood[s];
  }

  std::vector<One> all() const {
    std::vector<One> out;
    std::vector<std::uint8_t> classes(variables.size(), 0);
    for (;;) {
      if (out.size() % 1024 == 0) check_stop();
      One one = whole(classes);
      if (one.weight > 0) out.push_back(std::move(one));
      std::size_t v = 0;
      for (; v < classes.size(); ++v) {
        if (++classes[v] < variables[v].count) break;
        classes[v] = 0;
      }
      if (v == classes.size()) return out;
    }
  }

  // Each variable where it is most probable a priori.
  std::vector<std::uint8_t> most_probable() const {
    std::vector<std::uint8_t> classes(variables.size(), 0);
    for (std::uint32_t v = 0; v < variables.size(); ++v) {
      double best = -1;
      for (std::uint8_t k = 0; k < variables[v].count; ++k) {
        std::vector<std::uint8_t> other = classes;
        other[v] = k;
        const double p = prior_of(v, other);
        if (p > best) {
          best = p;
          classes[v] = k;
        }
      }
    }
    return classes;
  }

  // `all`: the sum of all weights seen; `last`: of those seen last.
  std::vector<One> probable(const Effort& effort, double& all, double& last) const {
    const std::size_t width = effort.beam;
    std::vector<One> out{whole(most_probable())}, beam = out;
    SeenKeys known;
    known.insert(out.front().key);
    double total = out.front().weight, heaviest = total, least_weight = 0;
    for (std::size_t level = 0; level < kMostLevels && known.size() < kMostSeen; ++level) {
      std::vector<One> next;
      double added = 0, least_rank = 0;
      for (const One& from : beam) {
        check_stop();
        One one = from;
        for (std::uint32_t v = 0; v < variables.size(); ++v) {
          for (std::size_t k = 0; k < variables[v].count; ++k) {
            const auto value = static_cast<std::uint8_t>(k);
            if (value == from.classes[v]) continue;
            const std::uint64_t key = from.key ^ key_of(v, from.classes[v]) ^ key_of(v, value);
            if (!known.insert(key)) continue;
            change(from, v, value, key, one);
            if (one.prior > 0) {
              added += one.weight;
              heaviest = std::max(heaviest, one.weight);
              // What is behind those that were kept would not be kept either.
              if (one.weight > kLeastWeight * heaviest && one.weight >= least_weight) {
                out.push_back(one);
                if (out.size() == 4 * effort.kept) {
                  least_weight = keep_heaviest(out, 2 * effort.kept);
                }
              }
              if (one.rank >= least_rank) next.push_back(one);
              if (next.size() == 8 * width) least_rank = keep_first(next, 4 * width);
            }
            changed_back(from, v, one);
          }
        }
      }
      total += added;
      all = total;
      last = added;
      if (next.empty() || (level >= 3 && added < kEnough * total)) break;
      keep_first(next, width);
      std::sort(next.begin(), next.end(), before);
      beam = std::move(next);
    }
    return out;
  }

  static bool before(const One& a, const One& b) {
    return a.rank != b.rank ? a.rank > b.rank : a.classes < b.classes;
  }
  // The `most` of largest weight, in no order. The least of them.
  static double keep_heaviest(std::vector<One>& list, std::size_t most) {
    const auto last = list.begin() + static_cast<std::ptrdiff_t>(most) - 1;
    std::nth_element(list.begin(), last, list.end(), [](const One& a, const One& b) {
      return a.weight != b.weight ? a.weight > b.weight : a.classes < b.classes;
    });
    list.resize(most);
    return list.back().weight;
  }
  // The `most` of highest rank, in no order. The lowest of them.
  static double keep_first(std::vector<One>& list, std::size_t most) {
    if (list.size() <= most) return 0;
    const auto last = list.begin() + static_cast<std::ptrdiff_t>(most) - 1;
    std::nth_element(list.begin(), last, list.end(), before);
    list.resize(most);
    return list.back().rank;
  }
};

// Gibbs sampling of joint states: each variable in its turn is drawn given all others and what was
// seen.
class Hypotheses::Chain {
 public:
  Chain(const Search& search, const std::vector<std::uint8_t>& start, std::uint64_t seed)
      : search_(search), classes_(start), random_(seed) {
    touched_.resize(search.variables.size());
    for (std::size_t s = 0; s < search.seen.size(); ++s) {
      const std::size_t first = search.into.first_set_[search.seen[s].observation];
      auto& sets = shown_.emplace_back();
      for (std::size_t j = 0; j < search.into.sets_[search.seen[s].observation]; ++j) {
        const SetTable& table = search.into.tables_[first + j];
        sets.push_back(at(table));
        for (const std::uint32_t v : table.variables) {
          auto& of = touched_[v];
          if (of.empty() || of.back().seen != s) of.push_back({s, {}});
          of.back().sets.push_back(j);
        }
      }
    }
  }

  // Every variable once.
  void sweep() {
    for (std::uint32_t v = 0; v < classes_.size(); ++v) draw(v);
  }
  const std::vector<std::uint8_t>& classes() const { return classes_; }

 private:
  struct Most {
    double of[2];
  };
  struct Touched {
    std::size_t seen;
    std::vector<std::size_t> sets;  // of it that the variable is in
  };

  Most at(const SetTable& table) const {
    const double* most = table.at_most.data() + 2 * search_.into.entry(table, classes_.data());
    return {{most[0], most[1]}};
  }
  const SetTable& table(std::size_t s, std::size_t j) const {
    return search_.into.tables_[search_.into.first_set_[search_.seen[s].observation] + j];
  }
  double prior(std::uint32_t v) const {
    double p = search_.prior_of(v, classes_);
    for (const std::uint32_t m : search_.variables[v].raises) p *= search_.prior_of(m, classes_);
    return p;
  }

  void draw(std::uint32_t v) {
    // What the sets without it show at most.
    others_.clear();
    for (const Touched& of : touched_[v]) {
      Most most{{1, 1}};
      std::size_t next = 0;
      for (std::size_t j = 0; j < shown_[of.seen].size(); ++j) {
        if (next < of.sets.size() && of.sets[next] == j) {
          ++next;
          continue;
        }
        for (std::size_t t = 0; t < 2; ++t) most.of[t] *= shown_[of.seen][j].of[t];
      }
      others_.push_back(most);
    }
    weight_.assign(search_.variables[v].count, 0);
    const std::uint8_t before = classes_[v];
    double total = 0;
    for (std::size_t k = 0; k < weight_.size(); ++k) {
      classes_[v] = static_cast<std::uint8_t>(k);
      weight_[k] = prior(v);
      for (std::size_t i = 0; i < touched_[v].size() && weight_[k] > 0; ++i) {
        const Touched& of = touched_[v][i];
        Most most = others_[i];
        for (const std::size_t j : of.sets) {
          const Most shown = at(table(of.seen, j));
          for (std::size_t t = 0; t < 2; ++t) most.of[t] *= shown.of[t];
        }
        weight_[k] *= weighed(search_.seen[of.seen].likelihood, most.of[0], most.of[1]);
      }
      total += weight_[k];
    }
    classes_[v] = before;
    if (!(total > 0)) return;
    double left = std::ldexp(static_cast<double>(random_() >> 11), -53) * total;
    std::size_t k = 0;
    while (k + 1 < weight_.size() && (left -= weight_[k]) >= 0) ++k;
    while (!(weight_[k] > 0)) --k;  // rounding
    if (k == before) return;
    classes_[v] = static_cast<std::uint8_t>(k);
    for (const Touched& of : touched_[v]) {
      for (const std::size_t j : of.sets) shown_[of.seen][j] = at(table(of.seen, j));
    }
  }

  const Search& search_;
  std::vector<std::uint8_t> classes_;
  std::mt19937_64 random_;
  std::vector<std::vector<Most>> shown_;       // by what was seen, set
  std::vector<std::vector<Touched>> touched_;  // by variable
  std::vector<Most> others_;
  std::vector<double> weight_;
};

class Hypotheses::Reserved {
 public:
  explicit Reserved(const Program& program) : program_(program) {}
  ~Reserved() {
    if (for_now_) {
      program_.give_back_from_now(bytes_);
    } else {
      program_.account().give_back(bytes_);
    }
  }
  Reserved(const Reserved&) = delete;
  Reserved& operator=(const Reserved&) = delete;
  void take_for_now(std::size_t bytes) {
    if (!program_.take_for_now(bytes)) {
      throw Error(Code::limit_exceeded, "the model's memory budget of " +
                                            std::to_string(program_.account().budget()) +
                                            " bytes does not suffice for the hypotheses");
    }
    bytes_ = bytes;
    for_now_ = true;
  }
  // Of what was taken.
  void keep(std::size_t bytes) {
    program_.give_back_from_now(bytes_ - bytes);
    bytes_ = bytes;
    for_now_ = false;
  }

 private:
  const Program& program_;
  std::size_t bytes_ = 0;
  bool for_now_ = false;
};

Hypotheses::~Hypotheses() = default;
Hypotheses::Hypotheses(Hypotheses&&) noexcept = default;

// What is told apart, and by which variables: the first three steps of making hypotheses.
struct Hypotheses::Layout {
  Hypotheses& into;
  const Model& model;
  const CaseNumbers& numbers;
  Search& search;
  const circuit::Analysis& analysis = model.analysis();
  std::vector<bool> needed{}, told{};    // observations: by the evidence and the complaint; by any
  std::vector<StateClasses> classes{};   // by mode
  std::vector<std::int32_t> variable{};  // of a condition; -1: none
  // By mode, state: P(it | its class), of a mode without a variable P(it).
  std::vector<std::vector<double>> within{};

  void find_needed(std::span<const std::uint32_t> complaint, std::span<const std::uint32_t> asked) {
    needed.assign(analysis.observations.size(), false);
    told = needed;
    for (const ObservedGrade& s : numbers.observed) needed[s.observation] = true;
    for (const std::uint32_t o : complaint) needed[o] = true;
    for (const std::uint32_t o : asked) told[o] = true;
    for (std::size_t o = 0; o < told.size(); ++o) told[o] = told[o] || needed[o];
  }

  // Which states are told apart: by all that is told where that is few enough joint states, else
  // by what is needed.
  void choose_variables() {
    const std::size_t modes = analysis.modes.size();
    std::vector<bool> core(modes, false), met(modes, false);
    std::vector<StatesAlike> by_told, by_needed;
    for (const auto& mode : analysis.modes) {
      by_needed.emplace_back(states_of(mode).size());
      std::vector<std::uint8_t> faulty;
      for (const auto& state : states_of(mode)) faulty.push_back(state.grade > 0);
      by_needed.back().add(faulty);
    }
    by_told = by_needed;
    for (std::uint32_t o = 0; o < told.size(); ++o) {
      if (!told[o]) continue;
      for (const circuit::ModeSet& set : analysis.observations[o].sets) {
        const circuit::SetLink link = link_of(analysis, set);
        for (std::size_t i = 0; i < set.modes.size(); ++i) {
          const std::uint32_t m = set.modes[i];
          by_told[m].add(link, i);
          met[m] = true;
          if (!needed[o]) continue;
          by_needed[m].add(link, i);
          core[m] = true;
        }
      }
    }
    into.complete_ = set_variables(met, by_told) <= kMostComplete;
    if (!into.complete_) set_variables(core, by_needed);
    into.variables_ = search.variables.size();
  }

  // Of these modes and the conditions on them. How many joint states they have.
  double set_variables(const std::vector<bool>& of, const std::vector<StatesAlike>& alike) {
    classes.clear();
    for (const StatesAlike& one : alike) classes.push_back(one.classes());
    search.variables.clear();
    variable.assign(analysis.conditions.size(), -1);
    into.variable_of_mode_.assign(analysis.modes.size(), -1);
    double states = 1;
    for (std::uint32_t m = 0; m < of.size(); ++m) {
      if (!of[m]) continue;
      for (const std::uint32_t c : model.program().mode_conditions()[m].conditions) {
        if (variable[c] >= 0) continue;
        variable[c] = static_cast<std::int32_t>(search.variables.size());
        Variable one;
        one.is_condition = true;
        one.holds = analysis.conditions[c].probability;
        search.variables.push_back(std::move(one));
        states *= 2;
      }
    }
    for (std::uint32_t m = 0; m < of.size(); ++m) {
      if (!of[m]) continue;
      into.variable_of_mode_[m] = static_cast<std::int32_t>(search.variables.size());
      states *= static_cast<double>(classes[m].count);
      search.variables.emplace_back().count = classes[m].count;
    }
    return states;
  }

  void weigh_modes() {
    into.grades_.assign(into.variables_, {});
    into.free_.assign(analysis.modes.size(), {});
    within.assign(analysis.modes.size(), {});
    for (std::uint32_t m = 0; m < analysis.modes.size(); ++m) {
      const std::vector<std::vector<double>> rows = state_rows(model, numbers, m);
      if (into.variable_of_mode_[m] < 0) {
        weigh_free(m, rows);
      } else {
        weigh_variable(m, rows);
      }
    }
  }

  // The grades of a mode without a variable, other conditions than those of variables averaged.
  void weigh_free(std::uint32_t m, const std::vector<std::vector<double>>& rows) {
    const auto states = states_of(analysis.modes[m]);
    const ModeConditions& by = model.program().mode_conditions()[m];
    const Grades prior = model.program().prior(m, prior_in(model, numbers, m));
    for (const circuit::ModeState& state : states) {
      within[m].push_back(prior[state.grade] * state.share);
    }
    Free& free = into.free_[m];
    for (const std::uint32_t c : by.conditions) {
      if (variable[c] >= 0) free.conditions.push_back(static_cast<std::uint32_t>(variable[c]));
    }
    free.grades.assign(std::size_t{1} << free.conditions.size(), Grades{});
    for (std::size_t i = 0; i < rows.size(); ++i) {
      double p = 1;
      std::size_t combination = 0;
      for (std::size_t k = 0; k < by.conditions.size(); ++k) {
        const bool holds = (i >> (by.conditions.size() - 1 - k) & 1) != 0;
        if (variable[by.conditions[k]] >= 0) {
          combination = combination * 2 + (holds ? 1 : 0);
        } else {
          const double q = analysis.conditions[by.conditions[k]].probability;
          p *= holds ? q : 1 - q;
        }
      }
      for (std::size_t k = 0; k < states.size(); ++k) {
        free.grades[combination][states[k].grade] += p * rows[i][k];
      }
    }
  }

  void weigh_variable(std::uint32_t m, const std::vector<std::vector<double>>& rows) {
    const auto states = states_of(analysis.modes[m]);
    const auto v = static_cast<std::uint32_t>(into.variable_of_mode_[m]);
    Variable& of = search.variables[v];
    for (const std::uint32_t c : model.program().mode_conditions()[m].conditions) {
      of.conditions.push_back(static_cast<std::uint32_t>(variable[c]));
      search.variables[static_cast<std::size_t>(variable[c])].raises.push_back(v);
    }
    for (const std::vector<double>& row : rows) {
      auto& lumped = of.rows.emplace_back(of.count, 0.0);
      for (std::size_t k = 0; k < row.size(); ++k) lumped[classes[m].of[k]] += row[k];
    }
    // Conditions act on both grades that are not sound alike.
    std::vector<Grades>& grades = into.grades_[v];
    grades.assign(of.count, Grades{});
    std::vector<double> total(of.count, 0);
    for (std::size_t k = 0; k < states.size(); ++k) {
      grades[classes[m].of[k]][states[k].grade] += rows.front()[k];
      total[classes[m].of[k]] += rows.front()[k];
    }
    for (std::size_t k = 0; k < states.size(); ++k) {
      const std::size_t c = classes[m].of[k];
      within[m].push_back(total[c] > 0 ? rows.front()[k] / total[c] : 0);
    }
    for (std::size_t k = 0; k < of.count; ++k) {
      for (double& p : grades[k]) p = total[k] > 0 ? p / total[k] : 0;
    }
  }

  void make_tables() {
    into.first_set_.assign(told.size(), kUnknown);
    into.sets_.assign(told.size(), 0);
    for (std::uint32_t o = 0; o < told.size(); ++o) {
      if (!told[o]) continue;
      check_stop();
      const circuit::Observation& observation = analysis.observations[o];
      into.first_set_[o] = into.tables_.size();
      into.sets_[o] = observation.sets.size();
      for (const circuit::ModeSet& set : observation.sets) {
        into.tables_.push_back(table_of(set, observation));
      }
    }
    for (const ObservedGrade& s : numbers.observed) {
      const auto k = static_cast<std::uint32_t>(search.seen.size());
      search.seen.push_back({s.observation, s.likelihood});
      for (std::size_t j = 0; j < into.sets_[s.observation]; ++j) {
        for (const std::uint32_t v : into.tables_[into.first_set_[s.observation] + j].variables) {
          auto& list = search.variables[v].evidence;
          if (list.empty() || list.back() != k) list.push_back(k);
        }
      }
    }
  }

  SetTable table_of(const circuit::ModeSet& set, const circuit::Observation& observation) const {
    const circuit::SetLink link = link_of(analysis, set);
    SetTable table;
    std::size_t entries = 1, combinations = 1;
    for (const std::uint32_t m : set.modes) {
      if (into.variable_of_mode_[m] >= 0) {
        table.variables.push_back(static_cast<std::uint32_t>(into.variable_of_mode_[m]));
        table.stride.push_back(static_cast<std::uint32_t>(entries));
        entries *= classes[m].count;
      }
      combinations *= within[m].size();
      if (combinations > kMostEntries) {
        throw Error(Code::limit_exceeded, "a minimal set of '" + observation.id +
                                              "' has too many failure modes to advise on");
      }
    }
    table.at_most.assign(2 * entries, 0);
    std::vector<std::size_t> states(set.modes.size());
    for (std::size_t c = 0; c < combinations; ++c) {
      std::size_t rest = c, entry = 0, variables = 0;
      double p = 1;
      for (std::size_t i = 0; i < set.modes.size(); ++i) {
        const std::uint32_t m = set.modes[i];
        states[i] = rest % within[m].size();
        rest /= within[m].size();
        p *= within[m][states[i]];
        if (into.variable_of_mode_[m] >= 0) {
          entry += table.stride[variables++] * classes[m].of[states[i]];
        }
      }
      if (p == 0) continue;
      for (std::size_t t = 0; t < 2; ++t) {
        table.at_most[2 * entry + t] += p * diagnosis::at_most(link, t, states);
      }
    }
    return table;
  }
};

Hypotheses::Hypotheses(const Model& model, const CaseNumbers& numbers,
                       std::span<const std::uint32_t> complaint,
                       std::span<const std::uint32_t> asked, const Effort& effort) {
  Search search{*this, {}, {}};
  Layout layout{*this, model, numbers, search};
  layout.find_needed(complaint, asked);
  layout.choose_variables();
  layout.weigh_modes();
  layout.make_tables();
  reserved_ = std::make_unique<Reserved>(model.program());
  look(search, effort);
}

void Hypotheses::look(const Search& search, const Effort& effort) {
  // While it looks: what it has seen, what it keeps twice over, two beams, and the states of the
  // sample.
  const std::size_t one =
      sizeof(Search::One) + variables_ + search.seen.size() * sizeof(double) + kOverhead;
  const auto most = static_cast<std::size_t>(kMostComplete);
  const std::size_t looking =
      complete_ ? most * one
                : kMostSeen * kSeenBytes + (4 * effort.kept + 9 * effort.beam) * one +
                      (effort.kept + effort.sampled) * (variables_ + kOverhead);
  reserved_->take_for_now(looking);
  double all = 0, last = 0;
  std::vector<Search::One> found = complete_ ? search.all() : search.probable(effort, all, last);
  std::sort(found.begin(), found.end(), [](const Search::One& a, const Search::One& b) {
    return a.weight != b.weight ? a.weight > b.weight : a.classes < b.classes;
  });
  if (!complete_) {
    std::size_t kept = 0;
    while (kept < found.size() && kept < effort.kept &&
           found[kept].weight > kLeastWeight * found.front().weight) {
      ++kept;
    }
    found.resize(kept);
  }
  double total = 0;
  for (const Search::One& h : found) total += h.weight;
  if (!(total > 0)) {
    throw Error(Code::conflicting_evidence, "what was observed is impossible in this circuit");
  }
  log_evidence_ = std::log(total);
  for (const Search::One& h : found) {
    weight_.push_back(h.weight / total);
    classes_.insert(classes_.end(), h.classes.begin(), h.classes.end());
  }
  if (!complete_) {
    error_ = std::clamp(kUnseen * (all - total + last) / (all + last), 0.0, 1.0);
    log_evidence_error_ = -std::log1p(-std::min(error_, 1 - 1e-9));
    if (error_ > kWorthASample && effort.sampled > 0) sample(search, effort.sampled);
  }
  reserved_->keep(std::min(looking, weight_.size() * (sizeof(double) + variables_)));
}

// What is not among the hypotheses yet, by as many states drawn; chains start where the hypotheses
// say that it is probable.
void Hypotheses::sample(const Search& search, std::size_t states) {
  const std::size_t kept = size(), sweeps = (states + kChains - 1) / kChains;
  std::set<std::string> known;
  for (std::size_t h = 0; h < kept; ++h) known.emplace(classes(h), classes(h) + variables_);
  std::map<std::string, double> rest;     // the state's bytes; how often it was drawn
  std::vector<double> share(kChains, 0);  // of the rest, by chain
  double below = 0;
  for (std::size_t chain = 0, h = 0; chain < kChains; ++chain) {
    check_stop();
    const double place = (static_cast<double>(chain) + 0.5) / kChains;
    while (h + 1 < kept && below + weight_[h] < place) below += weight_[h++];
    Chain states_of(search, {classes(h), classes(h) + variables_}, mixed(chain));
    for (std::size_t i = 0; i < kForgotten; ++i) states_of.sweep();
    for (std::size_t i = 0; i < sweeps; ++i) {
      if (i % 64 == 0) check_stop();
      states_of.sweep();
      std::string state(states_of.classes().begin(), states_of.classes().end());
      if (known.count(state) > 0) continue;
      rest[std::move(state)] += 1;
      share[chain] += 1 / static_cast<double>(sweeps);
    }
  }
  double all = 0, spread = 0;
  for (const double one : share) all += one / kChains;
  for (const double one : share) spread += (one - all) * (one - all) / (kChains - 1);
  // How many sweeps say as much as one state drawn independently.
  const double alone = all * (1 - all) / static_cast<double>(sweeps);
  const double each = alone > 0 ? std::max(1.0, spread / alone) : 1;
  const double drawn = all * static_cast<double>(sweeps * kChains);
  // Chains that found nothing of the rest may have missed up to three in as many sweeps.
  const double within =
      drawn > 0 ? all * 0.5 * std::sqrt(each / drawn) : 3 / static_cast<double>(sweeps * kChains);
  const double of_share = std::sqrt(std::max(spread, alone) / kChains);
  error_ = std::min(1.0, 2 * std::hypot(of_share, within));
  for (double& w : weight_) w *= 1 - all;
  const double known_share = std::max(1 - all, 1e-9);
  log_evidence_ -= std::log(known_share);
  log_evidence_error_ = std::log1p(2 * of_share / known_share);
  for (const auto& [state, times] : rest) {
    weight_.push_back(all * times / drawn);
    for (const char k : state) classes_.push_back(static_cast<std::uint8_t>(k));
  }
}

std::size_t Hypotheses::entry(const SetTable& table, const std::uint8_t* classes) const {
  std::size_t at = 0;
  for (std::size_t i = 0; i < table.variables.size(); ++i) {
    at += table.stride[i] * classes[table.variables[i]];
  }
  return at;
}

double Hypotheses::at_most(std::size_t h, std::uint32_t o, std::size_t j, std::size_t t) const {
  const SetTable& table = tables_[first_set_[o] + j];
  return table.at_most[2 * entry(table, classes(h)) + t];
}

double Hypotheses::at_most(std::size_t h, std::uint32_t o, std::size_t t) const {
  double most = 1;
  for (std::size_t j = 0; j < sets_[o]; ++j) most *= at_most(h, o, j, t);
  return most;
}

const Grades& Hypotheses::free_grades(std::size_t h, std::uint32_t mode) const {
  const Free& of = free_[mode];
  std::size_t combination = 0;
  for (const std::uint32_t c : of.conditions) combination = combination * 2 + classes(h)[c];
  return of.grades[combination];
}

double Hypotheses::not_sound(std::size_t h, std::uint32_t mode) const {
  const Grades of = grades(h, mode);
  return of[1] + of[2];
}

Grades Hypotheses::grades(std::size_t h, std::uint32_t mode) const {
  const std::int32_t v = variable_of_mode_[mode];
  return v < 0 ? free_grades(h, mode) : grades_[static_cast<std::size_t>(v)][classes(h)[v]];
}

}  // namespace faultodds::diagnosis
