// Models whose failure modes have states finer than grades and whose sets have links of their own,
// made at random and enumerated here: every combination of conditions and states, and of what each
// set then shows.
#include <catch2/catch.hpp>
#include <cmath>
#include <map>
#include <optional>
#include <random>

#include "core/circuit/analysis.h"
#include "core/diagnosis/assessment.h"
#include "core/diagnosis/cause.h"
#include "core/diagnosis/evidence.h"
#include "core/diagnosis/model.h"

namespace {

using namespace faultodds;
using circuit::Analysis;
using diagnosis::CauseMethod;

class Random {
 public:
  explicit Random(std::uint64_t seed) : engine_(seed) {}
  double real() { return std::uniform_real_distribution<double>(0, 1)(engine_); }
  int whole(int low, int high) { return std::uniform_int_distribution<int>(low, high)(engine_); }
  bool chance(double p) { return real() < p; }
  std::vector<double> distribution(int n) {
    std::vector<double> p;
    double total = 0;
    for (int i = 0; i < n; ++i) total += p.emplace_back(0.05 + real());
    for (double& x : p) x /= total;
    return p;
  }

 private:
  std::mt19937_64 engine_;
};

// P(seen size above a limit) of a state: often certain.
double exceeding(Random& random) {
  const double u = random.real();
  return u < 0.35 ? 0 : u < 0.65 ? 1 : random.real();
}

circuit::SetLink random_link(Random& random, const Analysis& analysis,
                             const std::vector<std::uint32_t>& modes) {
  circuit::SetLink link;
  const int levels = random.chance(0.3) ? random.whole(2, 3) : 1;
  link.weight = random.distribution(levels);
  for (std::uint32_t m : modes) {
    const std::size_t n = analysis.modes[m].states.size();
    std::vector<double>& exceeds = link.exceeds.emplace_back();
    for (int l = 0; l < levels; ++l) {
      std::vector<double> first;
      for (std::size_t k = 0; k < n; ++k) first.push_back(exceeding(random));
      exceeds.insert(exceeds.end(), first.begin(), first.end());
      for (std::size_t k = 0; k < n; ++k) exceeds.push_back(first[k] * exceeding(random));
    }
  }
  return link;
}

Analysis random_analysis(Random& random) {
  Analysis analysis;
  const int modes = random.whole(2, 4);
  for (int m = 0; m < modes; ++m) {
    circuit::FailureMode mode;
    mode.id = "c" + std::to_string(m) + ".m";
    mode.type_mode = "t.m" + std::to_string(m);
    mode.component = "c" + std::to_string(m);
    mode.component_index = static_cast<std::size_t>(m);
    const auto prior = random.distribution(3);
    mode.prior = {prior[0], prior[1], prior[2]};
    if (random.chance(0.8)) {
      for (std::uint8_t g = 0; g < 3; ++g) {
        for (double share : random.distribution(random.whole(1, 3))) {
          mode.states.push_back({g, share, 1, 2});
        }
      }
    }
    analysis.modes.push_back(mode);
    circuit::Component component;
    component.id = mode.component;
    analysis.components.push_back(component);
  }
  const int observations = random.whole(2, 4);
  for (int o = 0; o < observations; ++o) {
    circuit::Observation one;
    one.id = "o" + std::to_string(o);
    one.kind = circuit::ObservationKind::drift;
    one.symptom = random.chance(0.6);
    one.outcomes = {"none", "slow", "fast"};
    for (int g = 0; g < 3; ++g) one.matrix.push_back(random.distribution(3));
    if (random.chance(0.7)) {
      const auto background = random.distribution(3);
      one.background = {background[0], background[1], background[2]};
    }
    one.perform_minutes = 5;
    std::map<std::vector<std::uint32_t>, bool> known;
    for (int s = random.whole(1, 4); s > 0; --s) {
      circuit::ModeSet set;
      for (std::uint32_t m = 0; m < analysis.modes.size(); ++m) {
        if (random.chance(0.45)) set.modes.push_back(m);
      }
      if (set.modes.empty() || set.modes.size() > 3 || !known.emplace(set.modes, true).second) {
        continue;
      }
      bool sized = true;
      for (std::uint32_t m : set.modes) sized &= !analysis.modes[m].states.empty();
      if (sized) {
        set.link = random_link(random, analysis, set.modes);
      } else if (random.chance(0.3)) {
        set.probability = 0.7;
      }
      one.sets.push_back(set);
    }
    analysis.observations.push_back(one);
  }
  for (int c = random.whole(0, 2); c > 0; --c) {
    circuit::ConditionEffect condition;
    condition.id = "k" + std::to_string(c);
    condition.probability = 0.1 + 0.5 * random.real();
    for (std::uint32_t m = 0; m < analysis.modes.size(); ++m) {
      if (random.chance(0.6)) condition.raises.emplace_back(m, 1 + 6 * random.real());
    }
    analysis.conditions.push_back(condition);
  }
  return analysis;
}

// What is enumerated: P(e, value of the cause) and P(e, value, outcome of each observation); the
// values are sets of components, then `by design`, `elsewhere`, `nothing`.
struct Enumerated {
  using Value = std::vector<std::uint32_t>;
  static inline const Value kByDesign{1'000}, kElsewhere{1'001}, kNothing{1'002};
  std::map<Value, double> cause;
  std::vector<std::map<std::pair<Value, std::size_t>, double>> joint;  // by observation
  std::vector<std::array<double, 3>> grades;                           // P(e, grade) of modes
  double total = 0;
};

class Enumerator {
 public:
  Enumerator(const Analysis& analysis, const std::map<std::uint32_t, std::size_t>& seen,
             std::uint32_t focus)
      : analysis_(analysis), seen_(seen), focus_(focus) {
    result_.joint.resize(analysis.observations.size());
    result_.grades.assign(analysis.modes.size(), {0, 0, 0});
    states_.resize(analysis.modes.size());
    for (std::size_t c = 0; c < std::size_t{1} << analysis.conditions.size(); ++c) {
      conditions_ = c;
      double p = 1;
      for (std::size_t i = 0; i < analysis.conditions.size(); ++i) {
        const double holds = analysis.conditions[i].probability;
        p *= c >> i & 1 ? holds : 1 - holds;
      }
      each_state(0, p);
    }
  }
  const Enumerated& result() const { return result_; }

 private:
  struct State {
    std::size_t index = 0;
    std::uint8_t grade = 0;
  };

  void each_state(std::size_t m, double p) {
    if (m == analysis_.modes.size()) return weigh(p);
    const auto& mode = analysis_.modes[m];
    double odds = 1;
    for (std::size_t i = 0; i < analysis_.conditions.size(); ++i) {
      if (!(conditions_ >> i & 1)) continue;
      for (const auto& [raised, factor] : analysis_.conditions[i].raises) {
        if (raised == m) odds *= factor;
      }
    }
    const double total = mode.prior[0] + odds * (mode.prior[1] + mode.prior[2]);
    const auto of_grade = [&](std::size_t g) { return mode.prior[g] * (g > 0 ? odds : 1) / total; };
    const std::size_t n = mode.states.empty() ? 3 : mode.states.size();
    for (std::size_t k = 0; k < n; ++k) {
      const std::uint8_t grade =
          mode.states.empty() ? static_cast<std::uint8_t>(k) : mode.states[k].grade;
      states_[m] = {k, grade};
      each_state(m + 1, p * of_grade(grade) * (mode.states.empty() ? 1 : mode.states[k].share));
    }
  }

  // P(a set shows class 0, 1, 2 | states).
  std::array<double, 3> shown(const circuit::ModeSet& set) const {
    if (set.link.weight.empty()) {
      std::size_t least = 2;
      for (std::uint32_t m : set.modes) least = std::min<std::size_t>(least, states_[m].grade);
      std::array<double, 3> p{};
      p[0] = 1 - set.probability;
      p[least] += set.probability;
      return p;
    }
    double above[2] = {0, 0};
    for (std::size_t l = 0; l < set.link.weight.size(); ++l) {
      for (std::size_t t = 0; t < 2; ++t) {
        double product = set.link.weight[l];
        for (std::size_t i = 0; i < set.modes.size(); ++i) {
          const std::size_t n = analysis_.modes[set.modes[i]].states.size();
          product *= set.link.exceeds[i][(2 * l + t) * n + states_[set.modes[i]].index];
        }
        above[t] += product;
      }
    }
    return {1 - above[0], above[0] - above[1], above[1]};
  }

  // Calls `with(p, classes)` for every combination of what the sets of an observation show.
  template <class With>
  void each_shown(const circuit::Observation& observation, const With& with) const {
    std::vector<std::array<double, 3>> p;
    for (const auto& set : observation.sets) p.push_back(shown(set));
    std::vector<std::size_t> classes(p.size(), 0);
    for (;;) {
      double product = 1;
      for (std::size_t j = 0; j < p.size(); ++j) product *= p[j][classes[j]];
      if (product > 0) with(product, classes);
      std::size_t j = 0;
      while (j < p.size() && ++classes[j] == 3) classes[j++] = 0;
      if (j == p.size()) break;
    }
  }

  std::vector<double> outcomes(std::uint32_t o) const {
    const auto& observation = analysis_.observations[o];
    std::vector<double> p(3, 0);
    each_shown(observation, [&](double weight, const std::vector<std::size_t>& classes) {
      std::size_t s = 0;
      for (std::size_t c : classes) s = std::max(s, c);
      for (std::size_t b = 0; b < 3; ++b) {
        for (std::size_t i = 0; i < 3; ++i) {
          p[i] += weight * observation.background[b] * observation.matrix[std::max(s, b)][i];
        }
      }
    });
    return p;
  }

  void weigh(double p) {
    for (const auto& [o, outcome] : seen_) {
      if (o != focus_) p *= outcomes(o)[outcome];
    }
    if (p == 0) return;
    const auto& focus = analysis_.observations[focus_];
    std::map<Enumerated::Value, double> cause;
    each_shown(focus, [&](double weight, const std::vector<std::size_t>& classes) {
      for (std::size_t b = 0; b < 3; ++b) {
        std::size_t largest = b;
        for (std::size_t c : classes) largest = std::max(largest, c);
        const double q = weight * focus.background[b] * focus.matrix[largest][seen_.at(focus_)];
        if (largest == 0) {
          cause[Enumerated::kNothing] += q;
          continue;
        }
        double ties = b == largest ? 1 : 0;
        for (std::size_t c : classes) ties += c == largest ? 1 : 0;
        if (b == largest) cause[Enumerated::kElsewhere] += q / ties;
        for (std::size_t j = 0; j < classes.size(); ++j) {
          if (classes[j] == largest) cause[value_of(focus.sets[j])] += q / ties;
        }
      }
    });
    double all = 0;
    for (const auto& [value, q] : cause) {
      result_.cause[value] += p * q;
      all += p * q;
    }
    result_.total += all;
    for (std::size_t m = 0; m < states_.size(); ++m) result_.grades[m][states_[m].grade] += all;
    for (std::uint32_t o = 0; o < analysis_.observations.size(); ++o) {
      if (seen_.count(o) > 0) continue;
      const auto shows = outcomes(o);
      for (const auto& [value, q] : cause) {
        for (std::size_t i = 0; i < 3; ++i) result_.joint[o][{value, i}] += p * q * shows[i];
      }
    }
  }

  Enumerated::Value value_of(const circuit::ModeSet& set) const {
    bool sound = true;
    Enumerated::Value components;
    for (std::uint32_t m : set.modes) {
      sound &= states_[m].grade == 0;
      components.push_back(m);
    }
    // By grades nothing shows of what is sound.
    return sound ? Enumerated::kByDesign : components;
  }

  const Analysis& analysis_;
  const std::map<std::uint32_t, std::size_t>& seen_;
  std::uint32_t focus_;
  std::size_t conditions_ = 0;
  std::vector<State> states_;
  Enumerated result_;
};

double bits(const std::map<std::pair<Enumerated::Value, std::size_t>, double>& joint,
            double total) {
  std::map<Enumerated::Value, double> value;
  std::map<std::size_t, double> outcome;
  for (const auto& [at, p] : joint) {
    value[at.first] += p / total;
    outcome[at.second] += p / total;
  }
  double sum = 0;
  for (const auto& [at, p] : joint) {
    if (p > 0) sum += p / total * std::log2(p / total / value[at.first] / outcome[at.second]);
  }
  return sum;
}

struct Compared {
  int by_design = 0, cases = 0;
};

void compare(std::uint64_t seed, Compared& counts) {
  Random random(seed);
  const Analysis analysis = random_analysis(random);
  const auto model = diagnosis::Model::compile(
      analysis, std::vector<std::optional<diagnosis::WearOut>>(analysis.modes.size()),
      std::vector<std::optional<circuit::GradeDistribution>>(analysis.modes.size()));
  diagnosis::Case the_case;
  std::map<std::uint32_t, std::size_t> seen;
  for (std::uint32_t o = 0; o < analysis.observations.size(); ++o) {
    if (o > 0 && random.chance(0.5)) continue;
    diagnosis::Evidence entry;
    entry.observation = o;
    entry.outcome = static_cast<std::uint32_t>(random.whole(o == 0 ? 1 : 0, 2));
    seen[o] = *entry.outcome;
    the_case.evidence.push_back(entry);
  }
  the_case.focus = diagnosis::Focus::observation;
  the_case.focus_observation = 0;
  INFO("seed " << seed);
  const Enumerator enumerator(analysis, seen, 0);
  const Enumerated& expected = enumerator.result();
  const auto assessment = diagnosis::assess(model, the_case);
  REQUIRE(assessment.method == "exact");
  CHECK(std::exp(assessment.log_evidence) == Approx(expected.total).epsilon(1e-9));
  const auto share = [&](const Enumerated::Value& value) {
    const auto at = expected.cause.find(value);
    return at == expected.cause.end() ? 0.0 : at->second / expected.total;
  };
  REQUIRE(assessment.causes.size() >= 1);
  const auto& causes = assessment.causes.front();
  CHECK(causes.by_design == Approx(share(Enumerated::kByDesign)).margin(1e-9));
  CHECK(causes.elsewhere == Approx(share(Enumerated::kElsewhere)).margin(1e-9));
  CHECK(causes.nothing == Approx(share(Enumerated::kNothing)).margin(1e-9));
  for (const auto& cause : causes.causes) {
    CHECK(cause.probability == Approx(share(cause.components)).margin(1e-9));
  }
  for (const auto& fault : assessment.faults) {
    for (std::size_t g = 0; g < 3; ++g) {
      CHECK(fault.grades[g] ==
            Approx(expected.grades[fault.mode][g] / expected.total).margin(1e-9));
    }
  }
  for (const auto& test : assessment.tests) {
    for (std::size_t i = 0; i < 3; ++i) {
      double p = 0;
      for (const auto& [at, q] : expected.joint[test.observation]) {
        if (at.second == i) p += q / expected.total;
      }
      CHECK(test.probability[i] == Approx(p).margin(1e-9));
    }
    CHECK(test.cause_bits ==
          Approx(bits(expected.joint[test.observation], expected.total)).margin(1e-9));
  }

  // Each of the methods.
  const auto numbers = diagnosis::read_case(model, the_case);
  const diagnosis::CausePlan plan(model, numbers, 0, diagnosis::CauseTests::everything);
  for (const auto method :
       {CauseMethod::products, CauseMethod::careful_products, CauseMethod::junction_tree}) {
    const auto answer = plan.answer_by(method, model, numbers);
    const auto values = diagnosis::cause_values(analysis, 0);
    CHECK(answer.share(values.by_design()) == Approx(share(Enumerated::kByDesign)).margin(1e-9));
    for (std::size_t v = 0; v < values.components.size(); ++v) {
      CHECK(answer.share(v) == Approx(share(values.components[v])).margin(1e-9));
    }
    for (std::uint32_t m = 0; m < analysis.modes.size(); ++m) {
      const auto grades =
          answer.mode_grades(static_cast<std::uint32_t>(analysis.observations.size()) + m);
      for (std::size_t g = 0; g < 3; ++g) {
        CHECK(grades[g] == Approx(expected.grades[m][g] / expected.total).margin(1e-9));
      }
    }
  }
  ++counts.cases;
  if (causes.by_design > 1e-6) ++counts.by_design;
}

}  // namespace

TEST_CASE("with sizes the engine says what enumeration of states and links says, to 1e-9") {
  Compared counts;
  for (std::uint64_t seed = 1; seed <= 200; ++seed) compare(seed, counts);
  CHECK(counts.by_design > 20);
}

TEST_CASE("with sizes 5,000 random models agree with enumeration", "[.long]") {
  Compared counts;
  for (std::uint64_t seed = 1'001; seed <= 6'000; ++seed) compare(seed, counts);
}
